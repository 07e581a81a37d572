//! `stillhand survey plan`: what the rig does while a recorder runs.

use super::super::pick::pick_axes;
use super::super::{Outcome, files};
use super::{bad, whole};
use crate::profile::{OperatorFile, RigFile, load_operator, load_quiet, load_rig};
use std::fmt::Write;
use std::path::PathBuf;
use stillhand_acoustics::plan::{Asked, MOST_RUNGS, Plan, ladder, write};
use stillhand_engine::rig::Rig;

/// Rungs of speed unless asked otherwise: from the fastest to a forty-fifth of it.
const RUNGS: usize = 12;
/// With an old quiet file the ladder begins at so many times its ceiling.
const ABOVE_QUIET: f64 = 4.0;

/// What to plan.
#[derive(Debug, clap::Args)]
pub struct PlanArgs {
    /// The rig file
    #[arg(long, value_name = "FILE")]
    rig: PathBuf,
    /// No faster than this operator's profile goes
    #[arg(long, value_name = "FILE")]
    operator: Option<PathBuf>,
    /// About the ceilings of this quiet file: from four times its speeds downwards
    #[arg(long, value_name = "FILE")]
    quiet: Option<PathBuf>,
    /// Only these axes; all of the rig without
    #[arg(long, value_name = "NAME")]
    axis: Vec<String>,
    /// Rungs of speed for each axis, each a half faster (by the square root of 2) than the one before
    #[arg(long, value_name = "N", default_value_t = RUNGS as u8,
          value_parser = clap::value_parser!(u8).range(2..=MOST_RUNGS as i64))]
    rungs: u8,
    /// Write the plan into this file instead of stdout
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

/// Plans.
///
/// # Errors
///
/// A file with problems, or an axis the rig has not.
pub fn plan(args: &PlanArgs) -> Result<Outcome, Outcome> {
    let source = files::read(&args.rig).map_err(|problems| bad(&problems))?;
    let file = load_rig(&source).map_err(|problems| bad(&problems))?;
    let fastest = fastest(args, &file)?;
    let rig = file.rig;
    let asked: Vec<Asked> = pick_axes(&args.axis, &rig)?
        .into_iter()
        .map(|axis| Asked {
            axis,
            fastest: fastest[axis],
        })
        .collect();
    let made = ladder(&rig, &asked, usize::from(args.rungs));
    let text = write(&made.plan);
    match &args.out {
        Some(path) => whole::write(path, text.as_bytes())?,
        None => print!("{text}"),
    }
    for left_out in &made.left_out {
        eprintln!("left out: {left_out}");
    }
    eprint!("{}", told(&made.plan));
    Ok(Outcome::good())
}

/// The fastest speed worth a rung, of each axis of the rig.
fn fastest(args: &PlanArgs, file: &RigFile) -> Result<Vec<f64>, Outcome> {
    let rig = &file.rig;
    let mut fastest: Vec<f64> = rig.axes.iter().map(|axis| axis.speed.0).collect();
    if let Some(path) = &args.operator {
        let source = files::read(path).map_err(|problems| bad(&problems))?;
        let operator = load_operator(&source).map_err(|problems| bad(&problems))?;
        let lower = operators(&operator, rig)?;
        for (fastest, lower) in fastest.iter_mut().zip(lower) {
            *fastest = lower.map_or(*fastest, |lower| fastest.min(lower));
        }
    }
    if let Some(path) = &args.quiet {
        let source = files::read(path).map_err(|problems| bad(&problems))?;
        let quiet = load_quiet(&source).map_err(|problems| bad(&problems))?;
        quiet
            .fits(std::slice::from_ref(file))
            .map_err(|problems| bad(&problems))?;
        for (axis, fastest) in rig.axes.iter().zip(&mut fastest) {
            let measured = quiet.axes.iter().find(|own| own.axis == axis.name);
            if let Some(measured) = measured {
                *fastest = fastest.min(ABOVE_QUIET * measured.speed.0);
            }
        }
    }
    Ok(fastest)
}

/// The fastest gear of each axis of the rig, where the profile has one.
fn operators(operator: &OperatorFile, rig: &Rig) -> Result<Vec<Option<f64>>, Outcome> {
    let rigs = std::slice::from_ref(rig);
    let resolved = operator.resolve(rigs).map_err(|problems| bad(&problems))?;
    let mut fastest = vec![None; rig.axes.len()];
    for hand in &resolved.hands {
        let gear = hand.gears.speed(hand.gears.count().saturating_sub(1));
        if let Some(fastest) = fastest.get_mut(usize::from(hand.axis)) {
            *fastest = Some(hand.ceiling.map_or(gear, |ceiling| gear.lower(ceiling)).0);
        }
    }
    Ok(fastest)
}

/// What to know before one begins.
fn told(plan: &Plan) -> String {
    let seconds = plan.lasts();
    let (minutes, rest) = ((seconds / 60.0) as u32, seconds % 60.0);
    let mut text = format!("This takes {minutes} min {rest:.0} s.\n");
    for axis in &plan.axes {
        let (name, start, unit) = (&axis.name, axis.start, axis.unit.symbol());
        // Writing to a text can't fail.
        let _ = writeln!(text, "{name} must stand at {start} {unit} when it begins.");
    }
    text.push_str(
        "It begins with room tone, motor power off; switch it on when that is over. Start the recorder \
         first, at the place of the microphone that counts, and leave its gain alone.\n\
         The rig moves by itself: keep everybody clear of it, one hand on the switch.\n",
    );
    text
}
