//! `stillhand trim`: measure a pad, and keep what was measured for `run`.

mod live;
mod plot;
mod tell;

use super::Outcome;
use super::survey::whole;
use crate::profile::{TrimFile, trim::Trim};
use crate::shell::clock::Clock;
use crate::shell::pad::player::Player;
use crate::shell::pad::script::Script;
use crate::shell::pad::trim::file::{self as trims, Shelf};
use crate::shell::pad::trim::fresh::Fresh;
use crate::shell::pad::trim::measure::Course;
use crate::shell::pad::trim::measure::judge::{Found, judge};
use crate::shell::pad::{Inbox, PadChoice, PadReader, PresentPad, ReaderOptions};
use crate::shell::socket::place;
use live::Guide;
use std::io::ErrorKind;
use std::os::unix::net::UnixStream;
use std::path::{Path, PathBuf};
use std::time::Duration;
use stillhand_engine::time::{Span, Time};

/// How often a pad's events are taken and its guide looked at: smooth for an eye.
const LOOK: Duration = Duration::from_millis(20);
/// For how long pads may turn up before one is chosen: listing them takes some hundredths of a second.
const SETTLES: Span = Span::from_millis(500);
/// A step of the time of a script.
const STEP: Span = Span::from_millis(5);

/// What `trim` can be told.
#[derive(Debug, clap::Args)]
pub struct TrimArgs {
    /// Which pad: any, an ID that `stillhand pads` prints, or script:FILE, which is measured at once and
    /// kept only with --to
    #[arg(long, value_name = "any|ID|script:FILE", default_value = "any")]
    pad: PadChoice,
    /// The folder to keep the trim in; that of this user's configuration if not given
    #[arg(long, value_name = "DIR", conflicts_with = "dry_run")]
    to: Option<PathBuf>,
    /// Measure and tell, and keep nothing
    #[arg(long)]
    dry_run: bool,
    /// Draw what was measured, and what the trim makes of it
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
    /// Answer in JSON
    #[arg(long)]
    json: bool,
}

/// The trims that `run` was told to use: `auto`, a folder, or `off`.
///
/// # Errors
/// The outcome to end with, where the folder can't be read.
pub(super) fn pick(asked: &str) -> Result<Shelf, Outcome> {
    let Some(folder) = folder(asked) else {
        return Ok(Shelf::default());
    };
    match Shelf::read(&folder) {
        Ok(shelf) => Ok(shelf),
        // Nobody has a folder of their own before the first pad was measured; it may come meanwhile.
        Err(error) if asked == AUTO && error.kind() == ErrorKind::NotFound => Ok(Shelf::default()),
        Err(error) => {
            let folder = folder.display();
            Err(Outcome::bad_file(format!(
                "{folder}: the folder of trims can't be read: {error}; name another with --trims, or say \
                 off and drive untrimmed"
            )))
        }
    }
}

/// The folder of this user's, as `--trims` has it.
const AUTO: &str = "auto";

/// The folder that was asked for, whether it is there or not; `None` for none.
pub(super) fn folder(asked: &str) -> Option<PathBuf> {
    match asked {
        "off" => None,
        AUTO => trims::folder(),
        folder => Some(PathBuf::from(folder)),
    }
}

/// A pad that was led through the course.
struct Measured {
    id: String,
    model: String,
    course: Course,
    /// Whether a trim of it is of use to anyone by itself.
    real: bool,
}

/// Measures a pad.
pub fn trim(args: &TrimArgs) -> Outcome {
    let measured = match &args.pad {
        PadChoice::Script(path) => of_script(path),
        PadChoice::Any | PadChoice::Id(_) => of_pad(&args.pad),
    };
    measured
        .and_then(|measured| finish(args, &measured))
        .unwrap_or_else(|outcome| outcome)
}

/// Judges, keeps, draws and tells.
fn finish(args: &TrimArgs, measured: &Measured) -> Result<Outcome, Outcome> {
    let (id, model) = (&measured.id, &measured.model);
    let found = match judge(&measured.course) {
        Ok(found) => found,
        Err(doubts) => {
            let doubts: Vec<String> = doubts.iter().map(ToString::to_string).collect();
            if args.json {
                println!("{}", tell::json_of_doubts(id, model, &doubts));
            }
            return Ok(Outcome::fault(format!(
                "nothing is kept, what was measured can't be trusted:\n  {}",
                doubts.join("\n  ")
            )));
        }
    };
    let folder = match (&args.to, args.dry_run || !measured.real) {
        (Some(folder), _) => Some(folder.clone()),
        (None, true) => None,
        (None, false) => Some(trims::folder().ok_or_else(|| {
            Outcome::fault(
                "neither XDG_CONFIG_HOME nor HOME says where to keep it: name a folder with --to",
            )
        })?),
    };
    let kept = folder
        .map(|folder| keep(&folder, measured, &found))
        .transpose()?;
    if let Some(path) = &args.svg {
        whole::write(path, plot::svg(&found, id, model).as_bytes())?;
    }
    let text = match args.json {
        true => tell::json(id, model, &found, kept.as_deref()),
        false => tell::text(id, model, &found, kept.as_deref()),
    };
    println!("{}", text.trim_end());
    Ok(Outcome::good())
}

/// Writes the trim, whole or not at all.
fn keep(folder: &Path, measured: &Measured, found: &Found) -> Result<PathBuf, Outcome> {
    let file = TrimFile {
        pad: measured.id.clone(),
        model: measured.model.clone(),
        trim: found.trim,
    };
    std::fs::create_dir_all(folder)
        .map_err(|error| Outcome::fault(format!("{}: {error}", folder.display())))?;
    let path = folder.join(trims::name_of(&measured.id));
    let text = file.text(tell::REMARK, |control| tell::remark_of(found, control));
    whole::write(&path, text.as_bytes())?;
    Ok(path)
}

/// Plays a script, in its own time.
fn of_script(path: &Path) -> Result<Measured, Outcome> {
    let script = Script::load(path).map_err(Outcome::bad_file)?;
    let end = Time::default() + script.length() + STEP;
    let mut player = Player::new(script, true);
    let mut course = Course::new(Time::default());
    let mut now = Time::default();
    while course.phase().is_some() && !course.is_gone() && now <= end {
        while let Some((at, event)) = player.due(now.since(Time::default())) {
            course.hear(Time::default() + at, event);
        }
        course.look(now);
        now = now + STEP;
    }
    Ok(Measured {
        id: format!("script:{}", path.display()),
        model: "script".to_owned(),
        course,
        real: false,
    })
}

/// Leads a hand through the course.
fn of_pad(choice: &PadChoice) -> Result<Measured, Outcome> {
    refuse_beside_a_daemon()?;
    let clock = Clock::new();
    let options = ReaderOptions {
        choices: vec![choice.clone()],
        wired: Vec::new(),
        scripts: 0,
        // What is measured is the pad itself.
        trims: None,
        fresh: Fresh::default(),
        reports: false,
        env_mappings: true,
    };
    let started = PadReader::start(options, move || clock.now());
    let (reader, mut inbox) = started.map_err(Outcome::fault)?;
    let mut guide = Guide::new();
    let pad = choose(&reader, choice, clock, &mut guide)?;
    let course = lead(&reader, &mut inbox, &pad, clock, &mut guide);
    Ok(Measured {
        id: pad.id,
        model: pad.name,
        course,
        real: true,
    })
}

/// With a daemon beside it the sticks would move the rig while they are measured.
fn refuse_beside_a_daemon() -> Result<(), Outcome> {
    let mut sockets = place::present().into_iter();
    let live = sockets.find(|path| UnixStream::connect(path).is_ok());
    match live {
        None => Ok(()),
        Some(path) => Err(Outcome::fault(format!(
            "a daemon is running ({}): it would move the rig with the sticks that are measured. End it \
             first",
            path.display()
        ))),
    }
}

/// Waits for the one pad that is meant.
fn choose(
    reader: &PadReader,
    choice: &PadChoice,
    clock: Clock,
    guide: &mut Guide,
) -> Result<PresentPad, Outcome> {
    let settled = clock.now() + SETTLES;
    loop {
        std::thread::sleep(LOOK);
        if clock.now() < settled {
            continue;
        }
        for notice in reader.take_notices() {
            guide.say(&notice.to_string());
        }
        let mut pads = reader.present();
        pads.retain(|pad| pad.drives);
        match (pads.pop(), pads.is_empty()) {
            (Some(pad), true) => return Ok(pad),
            (Some(pad), false) => {
                pads.push(pad);
                let ids: Vec<String> = pads.into_iter().map(|pad| pad.id).collect();
                return Err(Outcome::bad_file(format!(
                    "several pads are plugged in: say which with --pad: {}",
                    ids.join(", ")
                )));
            }
            (None, _) => guide.say(&match choice {
                PadChoice::Id(id) => format!("waiting for pad {id} to be plugged in"),
                PadChoice::Any | PadChoice::Script(_) => {
                    "waiting for a pad to be plugged in".to_owned()
                }
            }),
        }
    }
}

fn lead(
    reader: &PadReader,
    inbox: &mut Inbox,
    pad: &PresentPad,
    clock: Clock,
    guide: &mut Guide,
) -> Course {
    let mut course = Course::new(clock.now());
    while course.phase().is_some() && !course.is_gone() {
        while let Some(input) = inbox.pop() {
            if input.pad == pad.pad {
                course.hear(input.at, input.event);
            }
        }
        // Events that are on their way are older than now: a look must not overtake them.
        course.look(clock.now() - Span::from_millis(30));
        for notice in reader.take_notices() {
            guide.say(&notice.to_string());
        }
        guide.show(&course, pad);
        std::thread::sleep(LOOK);
    }
    guide.clear();
    course
}

/// The words a screen has for a share.
fn percent(x: f64, digits: usize) -> String {
    format!("{:.digits$} %", 100.0 * x)
}

/// The same with its sign.
fn signed(x: f64, digits: usize) -> String {
    let text = format!("{:+.digits$} %", 100.0 * x);
    // What rounds to nothing lies on neither side.
    match text.bytes().any(|byte| matches!(byte, b'1'..=b'9')) {
        true => text,
        false => text.replace('-', "+"),
    }
}

/// Whether anything of a control was measured.
fn has(trim: &Trim, control: stillhand_engine::input::Control) -> bool {
    trim.stick(control).is_some() || trim.trigger(control).is_some()
}
