//! `stillhand survey demo`: a recording of a made-up rig.

use super::super::Outcome;
use super::{read_plan, whole};
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use stillhand_acoustics::plan::Plan;
use stillhand_acoustics::synth::{Sounding, Truth, Voice};

/// What the recording says of itself.
const MARK: &[u8] = b"INVENTED: made by stillhand survey demo, not recorded anywhere";
/// Full scale of 24 bits.
const FULL: f64 = 8_388_607.0;

/// What to make.
#[derive(Debug, clap::Args)]
pub struct DemoArgs {
    /// The plan the made-up rig follows
    #[arg(long, value_name = "FILE")]
    plan: PathBuf,
    /// Which made-up rig; each number is another one
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// Sample rate in Hz
    #[arg(long, value_name = "HZ", default_value_t = 48_000,
          value_parser = clap::value_parser!(u32).range(44_100..=192_000))]
    rate: u32,
    /// Margin in dB for which --truth is told
    #[arg(long, value_name = "DB", default_value_t = 10.0)]
    margin: f64,
    /// Also write what is true of the rig, as JSON
    #[arg(long, value_name = "FILE")]
    truth: Option<PathBuf>,
    /// The recording: a WAV file of 24 bits
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
}

/// Makes a recording.
///
/// # Errors
///
/// A bad plan, or a file that can't be written.
pub fn demo(args: &DemoArgs) -> Result<Outcome, Outcome> {
    let plan = read_plan(&args.plan)?;
    let voice = Voice::random(&plan, args.seed);
    let sounding = Sounding::new(&voice, &plan, args.rate);
    let fault = |error| Outcome::fault(format!("{}: {error}", args.out.display()));
    write_wav(&args.out, args.rate, sounding.samples(), sounding).map_err(fault)?;
    if let Some(path) = &args.truth {
        let truth = voice.truth(&plan, args.margin, args.rate);
        let text = truth_json(&plan, &voice, &truth).to_string() + "\n";
        whole::write(path, text.as_bytes())?;
    }
    Ok(Outcome::good())
}

fn truth_json(plan: &Plan, voice: &Voice, truth: &Truth) -> serde_json::Value {
    let axes = plan.axes.iter().zip(&truth.axes).map(|(axis, truth)| {
        let speeds = truth.speeds.iter().map(|(speed, level, tone)| {
            serde_json::json!({ "speed": speed, "level_excess_db": level, "tone_excess_db": tone })
        });
        let ramps = truth
            .ramps
            .iter()
            .map(|(accel, excess)| serde_json::json!({ "accel": accel, "excess_db": excess }));
        serde_json::json!({
            "name": axis.name,
            "speeds": speeds.collect::<Vec<_>>(),
            "ramps": ramps.collect::<Vec<_>>(),
        })
    });
    serde_json::json!({
        "invented": true,
        "begins_s": voice.early_s,
        "drift_ppm": voice.drift_ppm,
        "whine_audibility_db": truth.whine_db,
        "axes": axes.collect::<Vec<_>>(),
    })
}

/// Writes a WAV file of 24 bits, one channel, marked as invented in its INFO list.
fn write_wav(
    path: &Path,
    rate_hz: u32,
    samples: u64,
    sound: impl Iterator<Item = f64>,
) -> std::io::Result<()> {
    let mut out = BufWriter::new(File::create(path)?);
    let data = u32::try_from(samples * 3).map_err(|_| std::io::Error::other("over 4 GiB"))?;
    let pad = data % 2;
    let mut info = b"INFOICMT".to_vec();
    info.extend((MARK.len() as u32).to_le_bytes());
    info.extend(MARK);
    info.extend(&vec![0; MARK.len() % 2]);
    let riff = 4 + 8 + 16 + 8 + info.len() as u32 + 8 + data + pad;
    out.write_all(b"RIFF")?;
    out.write_all(&riff.to_le_bytes())?;
    out.write_all(b"WAVEfmt ")?;
    out.write_all(&16u32.to_le_bytes())?;
    out.write_all(&[1, 0, 1, 0])?;
    out.write_all(&rate_hz.to_le_bytes())?;
    out.write_all(&(rate_hz * 3).to_le_bytes())?;
    out.write_all(&[3, 0, 24, 0])?;
    out.write_all(b"LIST")?;
    out.write_all(&(info.len() as u32).to_le_bytes())?;
    out.write_all(&info)?;
    out.write_all(b"data")?;
    out.write_all(&data.to_le_bytes())?;
    for sample in sound {
        let whole = (sample * FULL).round().clamp(-FULL, FULL) as i32;
        out.write_all(&whole.to_le_bytes()[..3])?;
    }
    out.write_all(&vec![0; pad as usize])?;
    out.flush()
}
