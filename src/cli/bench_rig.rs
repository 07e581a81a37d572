//! `stillhand bench-rig`: the simulated rig, by itself.

use super::Outcome;
use super::run::{PickedRig, pick_rig};
use crate::link::bench::{Bench, BenchOptions};
use std::io::{BufRead, BufReader, Write};
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

/// What `bench-rig` can be told.
#[derive(Debug, clap::Args)]
pub struct BenchArgs {
    /// The rig file to simulate; the built-in bench rig if not given
    #[arg(long, value_name = "FILE")]
    rig: Option<PathBuf>,
    /// Boot without references: positions are not to be believed
    #[arg(long)]
    unreferenced: bool,
    /// Write the true state of the mechanics to this CSV file, a row every 2 ms
    #[arg(long, value_name = "FILE")]
    state: Option<PathBuf>,
    /// End 5 s after rest without a daemon
    #[arg(long)]
    leave: bool,
}

/// Runs it; the first line on stdout is its port.
pub fn run(args: &BenchArgs) -> Outcome {
    let PickedRig { file, .. } = match pick_rig(args.rig.as_deref()) {
        Ok(picked) => picked,
        Err(outcome) => return outcome,
    };
    let options = BenchOptions {
        unreferenced: args.unreferenced,
        state: args.state.clone(),
        leave: args.leave,
    };
    let served = Bench::open(&file.rig, &options).and_then(|mut bench| {
        let mut out = std::io::stdout();
        writeln!(out, "{}", bench.path().display())
            .and_then(|()| out.flush())
            .map_err(|e| format!("bench rig: can't tell its port: {e}"))?;
        bench.serve()
    });
    served.map_or_else(Outcome::fault, |()| Outcome::good())
}

/// Starts a bench rig as a process of its own, in a group of its own so that a Ctrl-C meant for the
/// daemon does not take the rig away under it. Returns it and its port.
///
/// # Errors
/// In words.
pub fn start(rig: Option<&Path>) -> Result<(Child, PathBuf), String> {
    let failed = |e: &dyn std::fmt::Display| format!("the bench rig did not start: {e}");
    let own = std::env::current_exe().map_err(|e| failed(&e))?;
    let mut command = Command::new(own);
    command.arg("bench-rig").arg("--leave");
    if let Some(rig) = rig {
        command.arg("--rig").arg(rig);
    }
    let mut child = command
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .process_group(0)
        .spawn()
        .map_err(|e| failed(&e))?;
    let mut port = String::new();
    if let Some(out) = child.stdout.take() {
        BufReader::new(out)
            .read_line(&mut port)
            .map_err(|e| failed(&e))?;
    }
    if port.trim().is_empty() {
        return Err(failed(&"it ended without telling its port"));
    }
    Ok((child, PathBuf::from(port.trim())))
}
