//! `stillhand survey`: how loud each speed of each axis is at the microphone.

pub mod demo;
pub mod drive;
mod legs;
pub mod plan;
pub mod plot;
pub mod quiet;
pub mod read;
pub mod tell;
pub mod wav;
pub mod whole;

use super::{Outcome, files};
use crate::profile::Problems;
use std::io::IsTerminal;
use std::path::Path;
use stillhand_acoustics::plan::{self as ladder, Plan};

/// The parts of a survey.
#[derive(Debug, clap::Subcommand)]
pub enum SurveyArgs {
    /// Write a plan: what the rig does while a recorder runs, and how long it takes
    Plan(plan::PlanArgs),
    /// Drive a plan while a recorder runs, begun by a held press of the pad
    Run(drive::DriveArgs),
    /// Read a recording made along a plan: how loud everything was, and what may move unheard
    Read(read::ReadArgs),
    /// Write a recording of a made-up rig along a plan, to try it without a microphone
    Demo(demo::DemoArgs),
}

/// Does a part of a survey.
pub fn survey(args: &SurveyArgs) -> Outcome {
    let done = match args {
        SurveyArgs::Plan(args) => plan::plan(args),
        SurveyArgs::Run(args) => drive::drive(args),
        SurveyArgs::Read(args) => read::read(args),
        SurveyArgs::Demo(args) => demo::demo(args),
    };
    done.unwrap_or_else(|outcome| outcome)
}

/// Problems of a file as an outcome.
fn bad(problems: &Problems) -> Outcome {
    Outcome::bad_file(problems.render(std::io::stderr().is_terminal()).trim_end())
}

/// Reads a plan.
fn read_plan(path: &Path) -> Result<Plan, Outcome> {
    let source = files::read(path).map_err(|problems| bad(&problems))?;
    let wrong = |error| Outcome::bad_file(format!("{}: {error}", source.name));
    ladder::read(&source.text).map_err(wrong)
}
