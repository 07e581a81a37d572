//! A command that moves a bench rig by a scripted pad, watched by the laws checker: the frames on the line, and the
//! true motion of the mechanics.
//!
//! Judged are `ceiling` and `smooth` on the line, `ceiling`, `travel` and, where the line fell silent, `loss` of the
//! mechanics; and of `consent` what can be told from outside: nothing moves but while the press is held. Times of a
//! script are those from the first frame on.

#![allow(dead_code)] // Each test uses its own part of it.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::RecvTimeoutError;
use std::time::{Duration, Instant};

use stillhand::profile::{Source, load_rig};
use stillhand_engine::rig::{Axis, Rig, Travel};
use stillhand_engine::units::Unit;
use tempfile::TempDir;

use super::daemon::{Daemon, PROGRAM, Start};
use super::judge::judge_as;
use super::line::PATIENCE;
use super::mechanics::{self, Known};
use super::relay::Relay;
use super::tape::Speeds;

/// An axis whose press is let go comes to rest within 0.5 s at reduced speed; a loaded machine adds to it.
const AFTERWARDS: Duration = Duration::from_millis(900);
/// The rig's own clock and the script's begin within so much of each other.
const BEFORE: Duration = Duration::from_millis(100);

/// No run takes longer; a whole check of two axes takes one.
const LONGEST: Duration = Duration::from_secs(150);

/// The bench rig of a file in a folder of its own, and the line to it.
pub struct Watched {
    // In this order, so that the line goes before the rig.
    relay: Relay,
    _bench: Daemon,
    state: PathBuf,
    pub rig: Rig,
    folder: TempDir,
}

impl Watched {
    /// Files go by name into its folder; the rig is that of `hall.toml`.
    pub fn start(files: &[(&str, &str)], bench: &[&str]) -> Watched {
        let folder = tempfile::tempdir().expect("a folder");
        for (name, text) in files {
            std::fs::write(folder.path().join(name), text).expect("writable");
        }
        let path = folder.path().join("hall.toml");
        let text = std::fs::read_to_string(&path).expect("there is one");
        let file = load_rig(&Source::new("hall.toml", text)).expect("good");
        let state = folder.path().join("state.csv");
        let own = [
            "bench-rig",
            "--rig",
            path.to_str().expect("text"),
            "--state",
        ];
        let own = own.iter().copied().chain([state.to_str().expect("text")]);
        let mut bench = Start::new(own.chain(bench.iter().copied())).punctual().go();
        let port = bench.want_line("out: /dev/pts/").1.split_off("out: ".len());
        Watched {
            relay: Relay::start(Path::new(&port)),
            _bench: bench,
            state,
            rig: file.rig,
            folder,
        }
    }

    /// The port that leads to it.
    pub fn port(&self) -> String {
        self.relay.path().display().to_string()
    }

    /// A file of its folder.
    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn read(&self, name: &str) -> String {
        std::fs::read_to_string(self.path(name)).unwrap_or_else(|e| panic!("{name}: {e}"))
    }

    /// The program with these arguments on this line, in its folder, what is typed at its hand.
    pub fn begin(&self, arguments: &[&str], typed: &str) -> Child {
        let mut child = self.start_program(arguments, Stdio::piped());
        let mut hand = child.stdin.take().expect("piped");
        hand.write_all(typed.as_bytes()).expect("it listens");
        // The end of what is typed comes at once: lines before it still count.
        child
    }

    /// The same, with somebody at the terminal to the end who types nothing.
    pub fn run_untyped(&self, arguments: &[&str]) -> Said {
        let (ours, theirs) = std::io::pipe().expect("a pipe");
        let said = Said::of(self.start_program(arguments, ours.into()));
        drop(theirs);
        said
    }

    fn start_program(&self, arguments: &[&str], stdin: Stdio) -> Child {
        Command::new(PROGRAM)
            .args(arguments)
            .args(["--port", &self.port()])
            .args(["--socket", "off", "--no-watch"])
            .env_remove("RUST_LOG")
            .env("XDG_CONFIG_HOME", "/nowhere")
            .current_dir(self.folder.path())
            .stdin(stdin)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("it runs")
    }

    /// The same, until it ends: its exit code, and what it said on stdout and on stderr.
    pub fn run(&self, arguments: &[&str], typed: &str) -> Said {
        Said::of(self.begin(arguments, typed))
    }

    /// Whether a journal of its folder comes out the same when it is run again.
    pub fn replays(&self, journal: &str) -> bool {
        let path = self.path(journal);
        let again = Command::new(PROGRAM).arg("replay").arg(path).output();
        again.expect("it runs").status.success()
    }

    /// Waits until a frame has moved an axis.
    pub fn want_moving(&self) {
        let end = Instant::now() + PATIENCE;
        while self.relay.tape().speeds().iter().all(Speeds::still) {
            assert!(Instant::now() < end, "nothing moves");
            std::thread::sleep(Duration::from_millis(200));
        }
    }

    /// Panics if what moved broke a law, or moved while the press was not held. `ceiling` is that of each axis;
    /// `presses` are seconds of the script. Gives the frames.
    pub fn judge(&self, ceiling: impl Fn(&Axis) -> f64, presses: &[(f64, f64)]) -> Vec<Speeds> {
        let speeds = self.relay.tape().speeds();
        judge_as(&speeds, &self.rig, &ceiling);
        if let Some(first) = speeds.first() {
            only_while_held(&speeds, first.at, presses);
        }
        let known: Vec<Known> = self
            .rig
            .axes
            .iter()
            .map(|axis| known(axis, &ceiling))
            .collect();
        assert!(mechanics::judge(&self.state, &known, self.fell_silent(&speeds)) > 100);
        speeds
    }

    /// When the last frame of a session left that ended in mid move, by the clock of the state file.
    fn fell_silent(&self, speeds: &[Speeds]) -> Option<i64> {
        let mut sessions = speeds.chunk_by(|a, b| a.session == b.session);
        let ended = sessions.find(|session| session.last().is_some_and(|last| !last.still()));
        Some(self.relay.by_state(ended?.last()?.at))
    }
}

fn only_while_held(speeds: &[Speeds], zero: Instant, presses: &[(f64, f64)]) {
    let at = |seconds: f64| zero + Duration::from_secs_f64(seconds);
    for one in speeds.iter().filter(|one| !one.still()) {
        let held = |(from, to): &(f64, f64)| {
            one.at + BEFORE >= at(*from + 0.6) && one.at <= at(*to) + AFTERWARDS
        };
        let since = one.at.duration_since(zero);
        assert!(
            presses.iter().any(held),
            "{since:?}: nobody held the press: {one:?}"
        );
    }
}

fn known(axis: &Axis, ceiling: impl Fn(&Axis) -> f64) -> Known {
    let counts = axis.counts_per_unit;
    let (plus, minus) = (axis.limits.stop(1.0), axis.limits.stop(-1.0));
    // The softer of the two: what a rig's stop takes at the most.
    let softer = plus.softer(minus);
    let travel = match axis.travel {
        Travel::Continuous => None,
        Travel::Finite(ends) => {
            let ends = [ends.low().0, ends.high().0].map(|end| end * counts * axis.sense.sign());
            Some((ends[0].min(ends[1]), ends[0].max(ends[1])))
        }
    };
    Known {
        speed: ceiling(axis) * counts,
        accel: softer.accel.0 * counts,
        jerk: softer.jerk.0 * counts,
        travel,
    }
}

/// The speed for an axis near which people may be: 250 mm/s of its farthest part, 10 deg/s, 50 mm/s.
pub fn reduced(axis: &Axis) -> f64 {
    match axis.unit {
        Unit::Deg => (250.0 / axis.reach_mm).to_degrees().min(10.0),
        Unit::Mm => 50.0,
    }
}

/// What a program said until it ended.
#[derive(Debug)]
pub struct Said {
    pub code: Option<i32>,
    pub out: String,
    pub err: String,
}

impl Said {
    pub fn of(child: Child) -> Said {
        let (pid, (over, waits)) = (child.id(), std::sync::mpsc::channel::<()>());
        let watch = std::thread::spawn(move || {
            let late = waits.recv_timeout(LONGEST) == Err(RecvTimeoutError::Timeout);
            if late {
                // SAFETY: our own child, not waited for before the other end of the channel is gone.
                unsafe { libc::kill(pid as i32, libc::SIGKILL) };
            }
            late
        });
        let ended = child.wait_with_output().expect("it ends");
        drop(over);
        assert!(
            !watch.join().expect("it only waits"),
            "it did not end: {ended:?}"
        );
        let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
        Said {
            code: ended.status.code(),
            out: text(&ended.stdout),
            err: text(&ended.stderr),
        }
    }

    /// Panics unless all of it was said, wherever its lines are broken.
    pub fn want(&self, words: &[&str]) {
        let flat = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
        let (out, err) = (flat(&self.out), flat(&self.err));
        for words in words {
            let there = out.contains(words) || err.contains(words);
            assert!(there, "no \"{words}\":\n{}\n{}", self.err, self.out);
        }
    }
}
