//! `stillhand survey read`: a recording held against its plan.

use super::super::Outcome;
use super::super::date::file_date;
use super::wav::{self, Header, WavError};
use super::{plot, quiet, read_plan, tell, whole};
use std::path::PathBuf;
use stillhand_acoustics::locate::Lost;
use stillhand_acoustics::plan::Plan;
use stillhand_acoustics::study::{Ground, NoStudy, Reading, Study, study};
use stillhand_acoustics::weighting::{HIGHEST_RATE_HZ, LOWEST_RATE_HZ};

/// What to read.
#[derive(Debug, clap::Args)]
pub struct ReadArgs {
    /// The recording: WAV or BWF
    #[arg(value_name = "RECORDING")]
    recording: PathBuf,
    /// The plan it was made along
    #[arg(long, value_name = "FILE")]
    plan: PathBuf,
    /// Which channel, counted from 1
    #[arg(long, value_name = "N", default_value_t = 1)]
    channel: u16,
    /// By how much the rig must be below the room tone, in dB
    #[arg(long, value_name = "10dB", default_value = "10dB", value_parser = decibels)]
    margin: f64,
    /// The sound pressure level of full scale, in dB: makes levels absolute, changes no result
    #[arg(long, value_name = "120dB", value_parser = decibels, allow_hyphen_values = true)]
    calibration: Option<f64>,
    /// When the plan begins in the recording, in seconds, where it is not found by itself
    #[arg(long, value_name = "SECONDS", allow_hyphen_values = true)]
    begins: Option<f64>,
    /// Leave an axis out of what is written
    #[arg(long, value_name = "NAME")]
    without: Vec<String>,
    /// Write the quiet file, whole or not at all
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Write a plot of level against speed
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
    /// Answer in JSON
    #[arg(long)]
    json: bool,
}

/// What was read, with where it came from.
#[derive(Debug)]
pub struct Read {
    /// The plan.
    pub plan: Plan,
    /// What came out.
    pub study: Study,
    /// The name of the recording, without its folder.
    pub name: String,
    /// What the recording says of itself.
    pub header: Header,
    /// Its date, as `2026-11-25`: the recorder's own, or that of the file.
    pub date: Option<String>,
    /// Which channel.
    pub channel: u16,
    /// To add to all levels, and what they are then: dB against full scale, or dB re 20 uPa.
    pub calibration: Option<f64>,
    /// Axes that are left out.
    pub without: Vec<String>,
}

impl Read {
    /// A level as it is shown.
    pub fn shown(&self, db: f64) -> f64 {
        db + self.calibration.unwrap_or(0.0)
    }

    /// What levels are in.
    pub fn unit(&self) -> &'static str {
        match self.calibration {
            Some(_) => "dB re 20 uPa, A-weighted",
            None => {
                "dB against full scale, A-weighted; uncalibrated, so only differences mean anything"
            }
        }
    }
}

/// Reads a recording.
///
/// # Errors
///
/// A bad plan or recording; that no quiet file follows, if one was asked for.
pub fn read(args: &ReadArgs) -> Result<Outcome, Outcome> {
    let plan = read_plan(&args.plan)?;
    for name in &args.without {
        if !plan.axes.iter().any(|axis| axis.name == *name) {
            return Err(Outcome::bad_file(format!(
                "--without {name}: the plan has no such axis"
            )));
        }
    }
    let read = hear(args, plan)?;
    let text = quiet::text(&read);
    match args.json {
        true => println!(
            "{}",
            tell::json(&read, text.as_ref().err().map(String::as_str))
        ),
        false => print!("{}", tell::text(&read)),
    }
    if let Some(path) = &args.svg {
        whole::write(path, plot::svg(&read).as_bytes())?;
    }
    if let Some(path) = &args.out {
        let text =
            text.map_err(|why| Outcome::fault(format!("{}: not written: {why}", path.display())))?;
        whole::write(path, text.as_bytes())?;
    }
    Ok(Outcome::good())
}

fn hear(args: &ReadArgs, plan: Plan) -> Result<Read, Outcome> {
    let path = &args.recording;
    let shown = path.display();
    let bad = |error: &WavError| Outcome::bad_file(format!("{shown}: {error}"));
    let mut recording = wav::open(path, args.channel).map_err(|error| bad(&error))?;
    let header = recording.header().clone();
    let reading = Reading {
        rate_hz: header.rate_hz,
        margin_db: args.margin,
        begins_s: args.begins,
    };
    let mut piece = Vec::new();
    let heard = study(&plan, &reading, |take| {
        recording.rewind()?;
        loop {
            recording.next(&mut piece)?;
            if piece.is_empty() {
                return Ok(());
            }
            take(&piece);
        }
    });
    let study = heard.map_err(|why| match why {
        NoStudy::Source(error) => bad(&error),
        why => Outcome::bad_file(format!(
            "{shown}: {}",
            no_study(&why, &header, args.channel)
        )),
    })?;
    Ok(Read {
        date: header.date.clone().or_else(|| file_date(path)),
        name: path
            .file_name()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned(),
        channel: args.channel,
        calibration: args.calibration,
        without: args.without.clone(),
        plan,
        study,
        header,
    })
}

/// What to do about a recording nothing came out of.
fn no_study(why: &NoStudy<WavError>, header: &Header, channel: u16) -> String {
    match why {
        NoStudy::Source(error) => error.to_string(),
        NoStudy::Rate(rate) => format!(
            "has a sample rate of {rate} Hz; {LOWEST_RATE_HZ} to {HIGHEST_RATE_HZ} Hz are read: record \
             at 48000"
        ),
        NoStudy::TooLong(seconds) => {
            format!(
                "takes {:.0} min; four hours at most: cut out the survey",
                seconds / 60.0
            )
        }
        NoStudy::Silent(_) => format!(
            "channel {channel} of {} is silent: was that the microphone's? (--channel)",
            header.channels
        ),
        NoStudy::Lost(lost) => lost_words(lost, header),
        NoStudy::NoGround(what, ground) => {
            let why = match ground {
                Ground::TooShort => {
                    "the recording has too little of it that is free of other sounds: \
                                     start the recorder before the plan, and keep quiet"
                        .to_owned()
                }
                Ground::Clipped(at) => format!("it is clipped at {at:.1} s: turn the gain down"),
                Ground::Gated => {
                    "it is digital silence: switch off what gates or cleans the sound".to_owned()
                }
            };
            format!("the {what} can't be used: {why}")
        }
    }
}

fn lost_words(lost: &Lost, header: &Header) -> String {
    match lost {
        Lost::TooShort(heard, needed) => format!(
            "takes {heard:.1} s and the plan {needed:.1} s: it ends too soon, or it is another plan's"
        ),
        Lost::Nowhere(matched) => format!(
            "the ladder of this plan is not in it (best likeness {matched:.2} of 1): is it the plan it was \
             made along? Was the recorder running from the beginning? A rig that is not heard even at its \
             fastest can't be found; say then when the plan begins (--begins SECONDS){}",
            match header.channels {
                1 => String::new(),
                all =>
                    format!(". Another of its {all} channels may be the microphone's (--channel)"),
            }
        ),
        Lost::TwoPlaces(one, two) => format!(
            "the ladder may begin at {one:.1} s or at {two:.1} s: say which (--begins SECONDS)"
        ),
        Lost::OtherRate(stretch) => format!(
            "the ladder is in it, but everything takes {stretch:.3} times as long: its header says {} Hz and \
             the recorder ran at {:.0} Hz: mend the header, or save it anew",
            header.rate_hz,
            f64::from(header.rate_hz) * stretch
        ),
    }
}

/// `10dB`, `10 dB` or `10`.
fn decibels(text: &str) -> Result<f64, String> {
    let number = text.strip_suffix("dB").unwrap_or(text).trim();
    match number.parse::<f64>() {
        Ok(number) if (-60.0..=200.0).contains(&number) => Ok(number),
        _ => Err("a number of dB, as in 10dB".to_owned()),
    }
}
