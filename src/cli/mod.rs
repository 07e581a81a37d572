//! The commands, one file each.

pub mod ask;
pub mod bench_rig;
mod block;

pub mod check;
mod date;
pub mod directions;
pub mod feel;
pub mod figures;
pub mod files;
pub mod init;
mod job;
mod live;
mod padhands;
pub mod pads;
mod page;
mod pick;
pub mod ready;
mod recording;
pub mod reference;
pub mod replay;
pub mod run;
pub mod screen;
mod slow;
pub mod soak;
pub mod summary;
pub mod survey;
pub mod svg;
pub mod travel;
pub mod trim;
pub mod wall;
mod watch;
pub mod words;

use ask::Switched;
use clap::{Parser, Subcommand};
use std::io::IsTerminal;
use std::path::PathBuf;

/// How a command ended.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Outcome {
    /// The exit code: 0 as asked, 1 a fault, 2 a bad file or bad use.
    pub code: u8,
    /// What to tell on stderr, if anything is left to tell.
    pub words: Option<String>,
}

impl Outcome {
    /// All went as asked.
    pub fn good() -> Outcome {
        Outcome::default()
    }

    /// A fault.
    pub fn fault(words: impl std::fmt::Display) -> Outcome {
        Outcome {
            code: 1,
            words: Some(words.to_string()),
        }
    }

    /// A bad file or bad use.
    pub fn bad_file(words: impl std::fmt::Display) -> Outcome {
        Outcome {
            code: 2,
            words: Some(words.to_string()),
        }
    }
}

/// Drives a motorised camera rig live from a game controller over a serial line.
#[derive(Debug, Parser)]
#[command(name = "stillhand", version, arg_required_else_help = true)]
#[command(
    after_help = "Exit codes: 0 as asked, 1 a fault, 2 a bad file or bad use.\n\
    A stop in software can fail with the computer, the radio or the cable: fit a hardware switch \
    that removes motor power, keep people clear, and test the stop every day."
)]
pub struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Drive a rig: pad in, shaped speeds out, until Ctrl-C
    Run(run::RunArgs),
    /// Check rig files, operator profiles, quiet files and trims: every problem, with its place and how to mend it
    Check(CheckArgs),
    /// What a stick does: speed against stick, gears, gain and lose, as a table and a drawing
    Feel(feel::FeelArgs),
    /// Begin a rig file from what the rig says of itself, or a profile from a few flags
    #[command(subcommand)]
    Init(init::InitArgs),
    /// List the pads that are plugged in, with the ID that --pad takes
    Pads(PadsArgs),
    /// Measure a pad: where its sticks rest and how far they reach; `run` takes it out from then on
    Trim(trim::TrimArgs),
    /// How a running daemon stands; with --watch again and again
    Status(ask::StatusArgs),
    /// Stop the rig: always works, latched until a pad releases it
    Stop(ask::StopArgs),
    /// Switch quiet: every motion under what the microphone does not hear
    Quiet(ask::SwitchArgs),
    /// Switch still: nothing moves
    Still(ask::SwitchArgs),
    /// Switch reduced: slow enough for someone to be near
    Reduced(ask::SwitchArgs),
    /// Switch rolling: accidental changes are locked
    Rolling(ask::SwitchArgs),
    /// Select a gear
    Gear(ask::GearArgs),
    /// Hand over to another operator, at rest and with the sticks let go; without a name, list them
    Use(ask::UseArgs),
    /// Measure how loud each speed of each axis is at the microphone
    #[command(subcommand)]
    Survey(survey::SurveyArgs),
    /// Tell the rig where an axis stands, if it does not know
    Reference(reference::ReferenceArgs),
    /// Set an end of an axis's travel in the rig file, where it stands or at a value
    Travel(travel::TravelArgs),
    /// Find out which way each axis goes: it moves a little, somebody says which way the picture went
    Directions(directions::DirectionsArgs),
    /// The daily check: stop, directions, travel ends, watchdog, pad; a dated record, and no READY that is not shown
    Ready(ready::ReadyArgs),
    /// Run a journal again: every output must come out the same; as a table and as a drawing
    Replay(replay::ReplayArgs),
    /// The simulated rig by itself; prints its port
    BenchRig(bench_rig::BenchArgs),
    /// Random sessions in virtual time, every step held against the laws
    Soak(soak::SoakArgs),
}

#[derive(Debug, clap::Args)]
struct CheckArgs {
    /// Rig files, profiles, quiet files, trims; with exactly one rig the others are checked against it
    #[arg(required_unless_present = "schema", value_name = "FILE")]
    files: Vec<PathBuf>,
    /// Print the JSON Schema of one kind of file instead, for editors that complete
    #[arg(long, value_name = "KIND", conflicts_with = "files", value_parser = ["rig", "operator", "quiet", "trim"])]
    schema: Option<String>,
    /// Answer in JSON
    #[arg(long)]
    json: bool,
}

#[derive(Debug, clap::Args)]
struct PadsArgs {
    /// Answer in JSON
    #[arg(long)]
    json: bool,
}

fn check_files(args: &CheckArgs) -> Outcome {
    let asked = args.schema.as_deref();
    if let Some(kind) = asked.and_then(crate::profile::Kind::from_name) {
        println!("{:#}", crate::profile::schema(kind));
        return Outcome::good();
    }
    let form = match (args.json, std::io::stdout().is_terminal()) {
        (true, _) => check::Form::Json,
        (false, true) => check::Form::Colour,
        (false, false) => check::Form::Plain,
    };
    let checked = check::check(&args.files, form);
    print!("{}", checked.text);
    Outcome {
        code: checked.exit,
        words: None,
    }
}

impl Cli {
    /// Does what was asked.
    pub fn run(self) -> Outcome {
        match self.command {
            Command::Run(args) => run::run(&args),
            Command::Check(args) => check_files(&args),
            Command::Feel(args) => feel::feel(&args),
            Command::Init(args) => init::init(&args),
            Command::Pads(args) => match pads::pads(&[], args.json, &mut std::io::stdout()) {
                Ok(code) => Outcome { code, words: None },
                Err(error) => Outcome::fault(error),
            },
            Command::Trim(args) => trim::trim(&args),
            Command::Status(args) => ask::status(&args),
            Command::Stop(args) => ask::stop(&args),
            Command::Quiet(args) => ask::switch(Switched::Quiet, &args),
            Command::Still(args) => ask::switch(Switched::Still, &args),
            Command::Reduced(args) => ask::switch(Switched::Reduced, &args),
            Command::Rolling(args) => ask::switch(Switched::Rolling, &args),
            Command::Gear(args) => ask::gear(&args),
            Command::Use(args) => ask::hand_over(&args),
            Command::Survey(args) => survey::survey(&args),
            Command::Reference(args) => reference::reference(&args),
            Command::Travel(args) => travel::travel(&args),
            Command::Directions(args) => directions::directions(&args),
            Command::Ready(args) => ready::ready(&args),
            Command::Replay(args) => replay::run(&args),
            Command::BenchRig(args) => bench_rig::run(&args),
            Command::Soak(args) => soak::run(&args),
        }
    }
}
