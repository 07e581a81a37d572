//! `stillhand bench-rig`: the simulated rig, by itself.

use super::Outcome;
use super::pick::{PickedRig, pick_rig};
use crate::link::bench::{Bench, BenchOptions};
use crate::link::mischief::Mischief;
use crate::profile::RigFile;
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
    /// Boot without references, and never find one: positions are not to be believed
    #[arg(long)]
    unreferenced: bool,
    /// Write the true state of the mechanics to this CSV file, a row every 2 ms
    #[arg(long, value_name = "FILE")]
    state: Option<PathBuf>,
    /// End 5 s after rest without a daemon
    #[arg(long)]
    leave: bool,
    /// Do wrong in time with this script; time zero is the first setup of a daemon
    #[arg(long, value_name = "FILE")]
    mischief: Option<PathBuf>,
    /// Do this wrong from the start, such as "TELEMETRY LOSE 30"; may be given again
    #[arg(long, value_name = "EVENT")]
    mischief_now: Vec<String>,
    /// Tell limits, at this share of the file's speed and stop set
    #[arg(long, value_name = "PERCENT", value_parser = share)]
    limits: Option<f64>,
    /// Be another rig: call itself this
    #[arg(long, value_name = "NAME")]
    id: Option<String>,
    /// Have this many axes, 1 to 8: the first of the file, or copies of the last
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u8).range(1..=8))]
    axes: Option<u8>,
    /// Have this share of the file's counts per unit
    #[arg(long, value_name = "PERCENT", value_parser = share)]
    scale: Option<f64>,
    /// Switch all axes on at this count; counts wrap at 2147483647
    #[arg(long, value_name = "COUNTS", allow_negative_numbers = true)]
    position: Option<i32>,
    /// Hold with the full motor current always, in `still` too
    #[arg(long)]
    full_current: bool,
    /// Begin the clock here, microseconds; it wraps at 4294967295
    #[arg(long, value_name = "US", default_value_t = 0)]
    clock_start: u32,
}

/// `50%` or `50`, as a share of one.
fn share(text: &str) -> Result<f64, String> {
    let number = text.trim_end_matches('%').trim().parse::<f64>().ok();
    number
        .filter(|n| (1.0..=1000.0).contains(n))
        .map(|n| n / 100.0)
        .ok_or_else(|| format!("`{text}` is no share from 1% to 1000%"))
}

/// Reads a mischief script for a rig with the axes of `file`.
///
/// # Errors
/// The outcome to end with: every problem in it.
pub fn read_mischief(path: &Path, file: &RigFile) -> Result<Mischief, Outcome> {
    Mischief::load(path, &axis_names(file)).map_err(Outcome::bad_file)
}

fn axis_names(file: &RigFile) -> Vec<&str> {
    file.rig.axes.iter().map(|a| a.name.as_str()).collect()
}

fn options(args: &BenchArgs, file: &RigFile) -> Result<BenchOptions, Outcome> {
    let mut mischief = match &args.mischief {
        Some(path) => read_mischief(path, file)?,
        None => Mischief::default(),
    };
    for event in &args.mischief_now {
        mischief
            .add_now(event, &axis_names(file))
            .map_err(Outcome::bad_file)?;
    }
    Ok(BenchOptions {
        unreferenced: args.unreferenced,
        id: args.id.clone(),
        axes: args.axes.map(usize::from),
        scale: args.scale,
        limits: args.limits,
        position: args.position,
        full_current: args.full_current,
        clock_start_us: args.clock_start,
        mischief,
        state: args.state.clone(),
        leave: args.leave,
    })
}

/// Runs it; the first line on stdout is its port.
pub fn run(args: &BenchArgs) -> Outcome {
    let PickedRig { file, .. } = match pick_rig(args.rig.as_deref()) {
        Ok(picked) => picked,
        Err(outcome) => return outcome,
    };
    let options = match options(args, &file) {
        Ok(options) => options,
        Err(outcome) => return outcome,
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
/// daemon does not take the rig away under it. Returns it and its port. `mischief` is a script that
/// was read before ([`read_mischief`]).
///
/// # Errors
/// In words.
pub fn start(rig: Option<&Path>, mischief: Option<&Path>) -> Result<(Child, PathBuf), String> {
    let failed = |e: &dyn std::fmt::Display| format!("the bench rig did not start: {e}");
    let own = std::env::current_exe().map_err(|e| failed(&e))?;
    let mut command = Command::new(own);
    command.arg("bench-rig").arg("--leave");
    if let Some(rig) = rig {
        command.arg("--rig").arg(rig);
    }
    if let Some(mischief) = mischief {
        command.arg("--mischief").arg(mischief);
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
