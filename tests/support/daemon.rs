//! The unmodified daemon as a process of its own, its log read along.

#![allow(dead_code)] // Each test uses its own part of it.

use std::ffi::OsStr;
use std::io::{BufRead, BufReader, Read};
use std::os::unix::process::{CommandExt, ExitStatusExt};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, Condvar, Mutex};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use super::fakepad::FakePad;
use super::line::PATIENCE;

/// The program under test.
pub const PROGRAM: &str = env!("CARGO_BIN_EXE_stillhand");
/// A user without rights (`nobody` on every Linux).
pub const NOBODY: u32 = 65534;

#[derive(Default)]
struct Log {
    lines: Mutex<Vec<(Instant, String)>>,
    changed: Condvar,
}

/// How to start it.
pub struct Start {
    command: Command,
}

/// A process of the program, running.
pub struct Daemon {
    child: Child,
    log: Arc<Log>,
    readers: Vec<JoinHandle<()>>,
    /// How many lines were looked at.
    seen: usize,
}

impl Start {
    /// `stillhand` with these arguments.
    pub fn new<S: AsRef<OsStr>>(arguments: impl IntoIterator<Item = S>) -> Start {
        Start::program(Path::new(PROGRAM), arguments)
    }

    /// A copy of the program somewhere else.
    pub fn program<S: AsRef<OsStr>>(
        program: &Path,
        arguments: impl IntoIterator<Item = S>,
    ) -> Start {
        let mut command = Command::new(program);
        command
            .args(arguments)
            .env_remove("RUST_LOG")
            // Nobody's own trims: these are pads of no model there is.
            .env("XDG_CONFIG_HOME", "/nowhere")
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        Start { command }
    }

    /// In the world of these pads.
    pub fn seeing(mut self, pads: &FakePad) -> Start {
        self.command.envs(pads.env());
        self
    }

    /// With this in its environment.
    pub fn with(mut self, name: &str, value: &str) -> Start {
        self.command.env(name, value);
        self
    }

    /// As an ordinary user.
    pub fn by_nobody(mut self) -> Start {
        self.command.uid(NOBODY).gid(NOBODY).current_dir("/");
        self
    }

    /// With real-time scheduling for all of it, as far as this user may.
    pub fn punctual(mut self) -> Start {
        // SAFETY: one system call, which is all that may be done between fork and exec.
        unsafe {
            self.command.pre_exec(|| {
                super::line::be_punctual();
                Ok(())
            });
        }
        self
    }

    /// On a disk that takes so many bytes of each file and then fails, as a full one does.
    pub fn short_of_disk(mut self, bytes: u64) -> Start {
        let limit = libc::rlimit {
            rlim_cur: bytes,
            rlim_max: bytes,
        };
        // SAFETY: two system calls, which may be made between fork and exec. Without the second the first
        // write beyond the limit ends the process instead of failing.
        unsafe {
            self.command.pre_exec(move || {
                libc::setrlimit(libc::RLIMIT_FSIZE, &raw const limit);
                libc::signal(libc::SIGXFSZ, libc::SIG_IGN);
                Ok(())
            });
        }
        self
    }

    pub fn go(mut self) -> Daemon {
        let mut child = self.command.spawn().expect("the program starts");
        let log = Arc::new(Log::default());
        let out = child.stdout.take().expect("piped");
        let err = child.stderr.take().expect("piped");
        let readers = vec![
            follow(Arc::clone(&log), "out: ", out),
            follow(Arc::clone(&log), "", err),
        ];
        Daemon {
            child,
            log,
            readers,
            seen: 0,
        }
    }
}

fn follow(log: Arc<Log>, mark: &'static str, from: impl Read + Send + 'static) -> JoinHandle<()> {
    std::thread::spawn(move || {
        for line in BufReader::new(from).lines().map_while(Result::ok) {
            let entry = (Instant::now(), format!("{mark}{line}"));
            log.lines.lock().expect("sound").push(entry);
            log.changed.notify_all();
        }
    })
}

impl Daemon {
    pub fn pid(&self) -> u32 {
        self.child.id()
    }

    /// Waits for a line with `text` in it, after those looked at before; when it was read.
    pub fn want(&mut self, text: &str) -> Instant {
        self.want_line(text).0
    }

    /// The same, with the whole line.
    pub fn want_line(&mut self, text: &str) -> (Instant, String) {
        let end = Instant::now() + PATIENCE;
        let mut lines = self.log.lines.lock().expect("sound");
        loop {
            if let Some(place) = lines[self.seen..]
                .iter()
                .position(|(_, line)| line.contains(text))
            {
                self.seen += place + 1;
                return lines[self.seen - 1].clone();
            }
            let Some(left) = end.checked_duration_since(Instant::now()) else {
                drop(lines);
                panic!("{text:?} was not said;\n{}", self.all());
            };
            lines = self.log.changed.wait_timeout(lines, left).expect("sound").0;
        }
    }

    /// How many lines so far have `text` in them.
    pub fn count(&self, text: &str) -> usize {
        let lines = self.log.lines.lock().expect("sound");
        lines.iter().filter(|(_, line)| line.contains(text)).count()
    }

    /// Everything said so far, for messages.
    pub fn all(&self) -> String {
        let lines = self.log.lines.lock().expect("sound");
        let texts = lines.iter().map(|(_, line)| format!("    {line}\n"));
        format!("said so far:\n{}", texts.collect::<String>())
    }

    pub fn signal(&self, signal: i32) {
        // SAFETY: our own child, not yet waited for, so the number is still its.
        let sent = unsafe { libc::kill(self.child.id() as i32, signal) };
        assert_eq!(sent, 0, "the process is gone;\n{}", self.all());
    }

    /// Waits for its end: the exit code, or minus the signal that ended it.
    pub fn end(&mut self) -> i32 {
        self.end_within(PATIENCE)
    }

    pub fn end_within(&mut self, time: Duration) -> i32 {
        let end = Instant::now() + time;
        loop {
            if let Some(status) = self.child.try_wait().expect("our child") {
                for reader in self.readers.drain(..) {
                    reader.join().expect("the log's reader");
                }
                return status
                    .code()
                    .unwrap_or_else(|| -status.signal().unwrap_or(0));
            }
            assert!(Instant::now() < end, "it did not end;\n{}", self.all());
            std::thread::sleep(Duration::from_millis(2));
        }
    }
}

impl Drop for Daemon {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
        if std::thread::panicking() {
            eprintln!("the program {}", self.all());
        }
    }
}
