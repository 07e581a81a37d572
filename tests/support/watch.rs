//! The program under test where only the pad matters: runs the reader as the daemon does and says
//! what comes out of the mailbox, one line each.

#![allow(dead_code)] // Each test uses its own part of it.

use std::io::{BufRead, BufReader, Write};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

use stillhand::shell::clock::Clock;
use stillhand::shell::pad::trim::file::Shelf;
use stillhand::shell::pad::trim::fresh::Fresh;
use stillhand::shell::pad::{PadReader, ReaderOptions};
use stillhand_engine::input::PadEvent;

use super::fakepad::FakePad;

/// Tells the child process what it is; holds its `--pad` choices, separated by commas.
const WATCH: &str = "PAD_WATCH";
/// IDs declared wired, separated by commas.
const WIRED: &str = "PAD_WIRED";
/// Places kept for scripts.
const SCRIPTS: &str = "PAD_SCRIPTS";
/// Whether the user's mappings are obeyed.
const MAPPINGS: &str = "PAD_MAPPINGS";
const MARK: &str = "watch> ";
/// Longest wait for something that must come, on a loaded machine too.
const PATIENCE: Duration = Duration::from_secs(15);

/// The child process; an empty test otherwise.
#[test]
fn watch_child() {
    if std::env::var_os(WATCH).is_some() {
        child();
    }
}

fn child() {
    let list = |name: &str| -> Vec<String> {
        let value = std::env::var(name).unwrap_or_default();
        let words = value.split(',').filter(|word| !word.is_empty());
        words.map(String::from).collect()
    };
    let options = ReaderOptions {
        choices: list(WATCH)
            .iter()
            .map(|text| text.parse().expect("a choice"))
            .collect(),
        wired: list(WIRED),
        scripts: list(SCRIPTS)
            .first()
            .map_or(0, |n| n.parse().expect("a number")),
        trims: Some(Shelf::default()),
        fresh: Fresh::default(),
        reports: true,
        env_mappings: std::env::var_os(MAPPINGS).is_some(),
    };
    let clock = Clock::new();
    let (reader, mut inbox) =
        PadReader::start(options, move || clock.now()).expect("the reader starts");
    let (stalled, ended) = (
        Arc::new(AtomicBool::new(false)),
        Arc::new(AtomicBool::new(false)),
    );
    let (hold, end) = (Arc::clone(&stalled), Arc::clone(&ended));
    std::thread::spawn(move || {
        for line in std::io::stdin().lock().lines().map_while(Result::ok) {
            hold.store(line == "stall", Ordering::Relaxed);
        }
        end.store(true, Ordering::Relaxed);
    });
    say("ready");
    let mut present = Vec::new();
    while !ended.load(Ordering::Relaxed) {
        std::thread::sleep(Duration::from_millis(2));
        for notice in reader.take_notices() {
            say(&format!("notice {notice}"));
        }
        let now = reader.present();
        if now != present {
            let ids: Vec<String> = now
                .iter()
                .map(|p| format!("{}={}", p.pad.0, p.id))
                .collect();
            say(&format!("present {}", ids.join(" ")));
            present = now;
        }
        if let Some(pad) = inbox.take_stop() {
            say(&format!("stop {}", pad.0));
        }
        if stalled.load(Ordering::Relaxed) {
            continue;
        }
        for pad in inbox.take_alive() {
            say(&format!("{} lives @{} dropped=0", pad.0, clock.now().0));
        }
        while let Some(input) = inbox.pop() {
            say(&format!(
                "{} {} @{} dropped={}",
                input.pad.0,
                words(input.event),
                input.at.0,
                inbox.dropped()
            ));
        }
    }
}

/// An event in words, such as `moved rx 0.5000` or `pressed east`.
pub fn words(event: PadEvent) -> String {
    match event {
        PadEvent::Plugged { bus, drives } => {
            format!("plugged {bus:?}{}", if drives { " drives" } else { "" })
        }
        PadEvent::Unplugged => "unplugged".into(),
        PadEvent::Moved(control, value) => format!("moved {} {value:.4}", control.name()),
        PadEvent::Pressed(button, true) => format!("pressed {}", button.name()),
        PadEvent::Pressed(button, false) => format!("released {}", button.name()),
        PadEvent::Alive => "alive".into(),
        PadEvent::Bus(bus) => format!("bus {bus:?}"),
    }
}

fn say(text: &str) {
    println!("\n{MARK}{text}");
    std::io::stdout().flush().expect("the test listens");
}

/// A running reader.
pub struct Watch {
    child: Child,
    to: ChildStdin,
    lines: Receiver<String>,
}

/// One input as it came out of the mailbox.
#[derive(Clone, Debug, PartialEq)]
pub struct Seen {
    /// The line without its time: pad and event in words.
    pub text: String,
    /// The reader's own stamp in nanoseconds; 0 for lines that are no input.
    pub at: u64,
    /// What had been dropped by then.
    pub dropped: u64,
}

impl Watch {
    /// Starts the reader in a pad's world; any pad may drive.
    pub fn start(pad: &FakePad) -> Watch {
        Watch::start_with(pad, &[])
    }

    /// Starts it with some of the environment above, by the part after `PAD_`, or other variables.
    pub fn start_with(pad: &FakePad, env: &[(&str, &str)]) -> Watch {
        let module = module_path!();
        let path = module.split_once("::").map_or(module, |(_, path)| path);
        let mut child = Command::new(std::env::current_exe().expect("own path"))
            .args([
                "--exact",
                &format!("{path}::watch_child"),
                "--nocapture",
                "--test-threads=1",
            ])
            .env(WATCH, "any")
            .envs(pad.env())
            .envs(env.iter().copied())
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("the reader's process starts");
        let from = child.stdout.take().expect("piped");
        let (send, lines) = channel();
        std::thread::spawn(move || {
            for line in BufReader::new(from).lines().map_while(Result::ok) {
                if let Some((_, said)) = line.split_once(MARK)
                    && send.send(said.to_string()).is_err()
                {
                    break;
                }
            }
        });
        let watch = Watch {
            to: child.stdin.take().expect("piped"),
            child,
            lines,
        };
        watch.want("ready");
        watch
    }

    /// Waits for a line whose text is this, past any others; they come back too, this one last.
    pub fn want(&self, text: &str) -> Vec<Seen> {
        self.want_that(text, |seen| seen.text == text)
    }

    /// As [`Watch::want`], for a line that satisfies `right`.
    pub fn want_that(&self, what: &str, right: impl Fn(&Seen) -> bool) -> Vec<Seen> {
        let end = Instant::now() + PATIENCE;
        let mut seen = Vec::new();
        while let Some(left) = end.checked_duration_since(Instant::now()) {
            let Ok(line) = self.lines.recv_timeout(left) else {
                break;
            };
            seen.push(parse(&line));
            if seen.last().is_some_and(&right) {
                return seen;
            }
        }
        panic!("{what:?} did not come, only {:?}", texts(&seen));
    }

    /// Waits for exactly these lines about inputs, in this order and with nothing in between.
    pub fn want_exactly(&self, wanted: &[&str]) {
        let mut seen = Vec::new();
        while seen.len() < wanted.len() {
            let line = self.lines.recv_timeout(PATIENCE);
            let Ok(line) = line else {
                panic!("wanted {wanted:?}, saw {:?}", texts(&seen));
            };
            let one = parse(&line);
            if one.at > 0 {
                seen.push(one);
            }
        }
        assert_eq!(texts(&seen), wanted);
    }

    /// Everything that comes within this time.
    pub fn for_a_while(&self, time: Duration) -> Vec<Seen> {
        let end = Instant::now() + time;
        let mut seen = Vec::new();
        while let Some(left) = end.checked_duration_since(Instant::now()) {
            match self.lines.recv_timeout(left) {
                Ok(line) => seen.push(parse(&line)),
                Err(_) => break,
            }
        }
        seen
    }

    /// Stops emptying the mailbox, or goes on.
    pub fn stall(&mut self, stalled: bool) {
        writeln!(self.to, "{}", if stalled { "stall" } else { "go" }).expect("it listens");
        self.to.flush().expect("it listens");
    }

    /// Processor time the thread of this name has used, in seconds; `None` if there is none.
    pub fn cpu_seconds(&self, thread: &str) -> Option<f64> {
        let tasks = std::fs::read_dir(format!("/proc/{}/task", self.child.id())).ok()?;
        let mut used = None;
        for task in tasks.flatten() {
            let read = |file: &str| std::fs::read_to_string(task.path().join(file));
            let (Ok(name), Ok(stat)) = (read("comm"), read("stat")) else {
                continue;
            };
            if name.trim() != thread {
                continue;
            }
            // Fields 14 and 15 are user and system time (proc(5)), counted behind the name.
            let fields: Vec<&str> = stat.rsplit(')').next()?.split_whitespace().collect();
            let ticks: f64 = fields[11].parse::<f64>().ok()? + fields[12].parse::<f64>().ok()?;
            // USER_HZ is 100 on every Linux machine this runs on.
            used = Some(used.unwrap_or(0.0) + ticks / 100.0);
        }
        used
    }
}

impl Drop for Watch {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// The texts alone.
pub fn texts(seen: &[Seen]) -> Vec<&str> {
    seen.iter().map(|one| one.text.as_str()).collect()
}

fn parse(line: &str) -> Seen {
    let Some((text, rest)) = line.split_once(" @") else {
        return Seen {
            text: line.to_string(),
            at: 0,
            dropped: 0,
        };
    };
    let (at, dropped) = rest.split_once(" dropped=").expect("our own line");
    Seen {
        text: text.to_string(),
        at: at.parse().expect("our own number"),
        dropped: dropped.parse().expect("our own number"),
    }
}
