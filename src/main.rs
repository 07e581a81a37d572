//! Parse, dispatch, print the error, choose the exit code.

use clap::Parser;
use std::process::ExitCode;
use stillhand::cli::Cli;

fn main() -> ExitCode {
    let outcome = Cli::parse().run();
    if let Some(words) = &outcome.words {
        eprintln!("{words}");
    }
    ExitCode::from(outcome.code)
}
