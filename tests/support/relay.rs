//! A pseudo-terminal between a daemon and a bench rig: passes everything on, and keeps what the daemon said.

#![allow(dead_code)] // Each test uses its own part of it.

use std::fs::{File, OpenOptions};
use std::io::{Read, Write};
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};

use super::line::{be_punctual, pty};
use super::mechanics::monotonic_us;
use super::tape::Tape;

/// The relay, running.
pub struct Relay {
    path: PathBuf,
    tape: Arc<Mutex<Tape>>,
    /// When the two clocks read the same: ours, and that of the mechanics' state file.
    tie: (Instant, i64),
    over: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Relay {
    /// Between a daemon and the bench rig at this port.
    pub fn start(port: &Path) -> Relay {
        let (master, slave, path) = pty();
        let mut termios = tcgetattr(&slave).expect("termios");
        termios.make_raw();
        tcsetattr(&slave, OptionalActions::Now, &termios).expect("termios");
        let rig = OpenOptions::new()
            .read(true)
            .write(true)
            .custom_flags(libc::O_NOCTTY | libc::O_NONBLOCK)
            .open(port)
            .expect("the bench rig's port");
        let (tape, over) = (Arc::default(), Arc::new(AtomicBool::new(false)));
        let (kept, ends) = (Arc::clone(&tape), Arc::clone(&over));
        let thread = std::thread::spawn(move || {
            be_punctual();
            // Held open so that the line stays up when the daemon leaves.
            let _slave = slave;
            serve(File::from(master), rig, &kept, &ends);
        });
        Relay {
            path,
            tape,
            tie: (Instant::now(), monotonic_us()),
            over,
            thread: Some(thread),
        }
    }

    /// The port a daemon opens.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// What the daemon said so far.
    pub fn tape(&self) -> Tape {
        self.tape.lock().expect("sound").clone()
    }

    /// A moment by the clock of the mechanics' state file.
    pub fn by_state(&self, at: Instant) -> i64 {
        let (here, there) = self.tie;
        let since = |a: Instant, b: Instant| a.duration_since(b).as_micros() as i64;
        match at >= here {
            true => there + since(at, here),
            false => there - since(here, at),
        }
    }
}

impl Drop for Relay {
    fn drop(&mut self) {
        self.over.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

fn serve(mut daemon: File, mut rig: File, tape: &Mutex<Tape>, over: &AtomicBool) {
    let mut buffer = [0; 4096];
    while !over.load(Ordering::Relaxed) {
        if let Ok(count @ 1..) = daemon.read(&mut buffer) {
            tape.lock()
                .expect("sound")
                .take(Instant::now(), &buffer[..count]);
            // A rig that does not read loses it, as on a line.
            let _ = rig.write(&buffer[..count]);
        }
        if let Ok(count @ 1..) = rig.read(&mut buffer) {
            let _ = daemon.write(&buffer[..count]);
        }
        std::thread::sleep(Duration::from_micros(500));
    }
}
