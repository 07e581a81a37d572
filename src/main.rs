//! Have a panic end it, parse, dispatch, print the error, choose the exit code.

use clap::Parser;
use std::process::ExitCode;
use stillhand::cli::Cli;
use stillhand::shell::panic;

fn main() -> ExitCode {
    panic::ends_the_process();
    let outcome = Cli::parse().run();
    if let Some(words) = &outcome.words {
        eprintln!("{words}");
    }
    ExitCode::from(outcome.code)
}
