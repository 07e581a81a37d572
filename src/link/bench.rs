//! The bench rig: a simulated rig behind a real pseudo-terminal, a process of its own.
//!
//! It runs the same code as a rig's firmware (`tools/rig`) with the mechanics of [`super::plant`]
//! behind it, and outlives the daemon, so that its watchdog can be seen to stop it. On request it
//! differs from its rig file, or does wrong in time with a script ([`super::mischief`]).

use super::mischief::Mischief;
use super::plant::EVENED_MS;
use crate::shell::clock::Clock;
use rustix::fd::{AsFd, OwnedFd};
use rustix::fs::{Mode, OFlags};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use stillhand_engine::rig::Rig as RigFacts;
use stillhand_engine::time::{Span, Time};

pub(crate) mod build;
mod lie;
pub(crate) mod machine;
mod trouble;

use machine::Machine;

/// A millisecond: the rate of the firmware and of the mechanics.
const STEP: Span = Span::from_millis(1);
/// Without a word from a daemon for this long, at rest, the bench rig of a daemon ends.
const ALONE: Span = Span::from_millis(5_000);
/// Without a word for this long a daemon may have been killed with the port locked; the lock is
/// taken off so that the next one can open it.
const UNLOCK: Span = Span::from_millis(250);

/// The state file's times compare with those of whoever watches.
const CLOCK: Clock = Clock::system();

/// How to run a bench rig.
#[derive(Clone, Debug, Default)]
pub struct BenchOptions {
    /// The axes boot without a reference and never find one.
    pub unreferenced: bool,
    /// It calls itself this instead of the file's id.
    pub id: Option<String>,
    /// It has this many axes: the file's first ones, or copies of the last named `extra4` and so on.
    pub axes: Option<usize>,
    /// Its counts per unit are the file's times this.
    pub scale: Option<f64>,
    /// It tells limits, at this share of the file's speed and stop set; without, only its speed.
    pub limits: Option<f64>,
    /// All axes are switched on at this count.
    pub position: Option<i32>,
    /// Its motors always hold with their full current.
    pub full_current: bool,
    /// Its clock begins here, microseconds.
    pub clock_start_us: u32,
    /// What it does wrong, and when.
    pub mischief: Mischief,
    /// A CSV file for the true state of the mechanics, a row every 2 ms.
    pub state: Option<PathBuf>,
    /// End by itself 5 s after rest without a daemon.
    pub leave: bool,
}

/// A bench rig with its port open.
#[derive(Debug)]
pub struct Bench {
    machine: Machine,
    master: OwnedFd,
    /// Kept open so that the port survives a daemon's leaving, and to take its lock off.
    port: OwnedFd,
    path: PathBuf,
    state: Option<BufWriter<File>>,
    leave: bool,
    began: Time,
}

impl Bench {
    /// Opens a pseudo-terminal and puts the rig behind it.
    ///
    /// # Errors
    /// In words: no pseudo-terminal to be had, or the state file can't be written.
    pub fn open(facts: &RigFacts, options: &BenchOptions) -> Result<Bench, String> {
        let facts = build::built(facts, options)?;
        let failed =
            |what: &str, error: &dyn std::fmt::Display| format!("bench rig: {what}: {error}");
        let flags = OpenptFlags::RDWR | OpenptFlags::NOCTTY;
        let master = openpt(flags).map_err(|e| failed("no pseudo-terminal", &e))?;
        grantpt(&master)
            .and_then(|()| unlockpt(&master))
            .map_err(|e| failed("pseudo-terminal", &e))?;
        let name = ptsname(&master, Vec::new()).map_err(|e| failed("pseudo-terminal", &e))?;
        let open = OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC;
        let port =
            rustix::fs::open(&name, open, Mode::empty()).map_err(|e| failed("its port", &e))?;
        make_raw(&port).map_err(|e| failed("its port", &e))?;
        let flags = rustix::fs::fcntl_getfl(&master).map_err(|e| failed("its port", &e))?;
        rustix::fs::fcntl_setfl(&master, flags | OFlags::NONBLOCK)
            .map_err(|e| failed("its port", &e))?;
        let state = match &options.state {
            None => None,
            Some(path) => Some(build::state_file(path, &facts)?),
        };
        let boot_id = std::process::id() ^ (CLOCK.now().0 as u32);
        let began = CLOCK.now();
        Ok(Bench {
            machine: Machine::new(&facts, options, boot_id, EVENED_MS, began)?,
            master,
            port,
            path: PathBuf::from(name.to_string_lossy().into_owned()),
            state,
            leave: options.leave,
            began,
        })
    }

    /// The port a daemon opens.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Runs until there is nobody left to run for, or for ever.
    ///
    /// # Errors
    /// In words, if the state file can't be written any more.
    pub fn serve(&mut self) -> Result<(), String> {
        let mut due = self.began;
        let mut heard = self.began;
        let mut steps: u64 = 0;
        loop {
            due = due + STEP;
            CLOCK.sleep_until(due);
            let at = CLOCK.now();
            // A deaf rig can't tell that nobody speaks to it.
            if self.machine.is_deaf() || self.read(at) {
                heard = at;
            }
            self.machine.misbehave(at);
            // Every millisecond is lived through, late or not: mechanics do not skip.
            let master = self.master.as_fd();
            self.machine.step(at, &mut |frame| say(master, frame));
            steps += 1;
            if steps.is_multiple_of(2) {
                self.record(due)
                    .map_err(|e| format!("bench rig: state file: {e}"))?;
            }
            let silent = at.since(heard);
            if silent >= UNLOCK && steps.is_multiple_of(100) {
                self.unlock();
            }
            if self.leave && self.machine.at_rest() && silent >= ALONE {
                return self
                    .state
                    .as_mut()
                    .map_or(Ok(()), Write::flush)
                    .map_err(|e| e.to_string());
            }
        }
    }

    fn read(&mut self, at: Time) -> bool {
        let mut buffer = [0; 4096];
        let mut any = false;
        // Bounded, so that a flood can't keep the mechanics from moving.
        for _ in 0..4 {
            let Ok(count @ 1..) = rustix::io::read(&self.master, &mut buffer) else {
                break;
            };
            any = true;
            let master = self.master.as_fd();
            self.machine
                .hear(&buffer[..count], at, &mut |frame| say(master, frame));
        }
        any
    }

    fn record(&mut self, at: Time) -> std::io::Result<()> {
        let Some(file) = &mut self.state else {
            return Ok(());
        };
        write!(file, "{}", at.0 / 1_000)?;
        for plant in self.machine.plants() {
            write!(file, ",{},{:.3}", plant.counts(), plant.speed())?;
        }
        writeln!(file)?;
        // Whoever watches may read along.
        file.flush()
    }

    /// Takes the lock of a killed daemon off the port.
    fn unlock(&self) {
        // Can fail only if the port is gone, and then nobody needs it.
        let _ = rustix::termios::ioctl_tiocnxcl(&self.port);
    }
}

/// Writes what fits: a rig does not wait for a daemon that does not read.
fn say(master: rustix::fd::BorrowedFd<'_>, frame: &[u8]) {
    let _ = rustix::io::write(master, frame);
}

fn make_raw(port: &OwnedFd) -> rustix::io::Result<()> {
    let mut termios = tcgetattr(port)?;
    termios.make_raw();
    tcsetattr(port, OptionalActions::Now, &termios)
}
