//! Everything a daemon put on the line, with its times, read by the Python decoder: it was written
//! from the protocol's page alone and shares no code with the daemon.

#![allow(dead_code)] // Each test uses its own part of it.

use std::io::Write;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use serde_json::Value;

const CODEC: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/protocol/codec.py");

/// Bytes as they arrived.
#[derive(Clone, Debug, Default)]
pub struct Tape {
    bytes: Vec<u8>,
    /// Up to which byte, and when.
    arrived: Vec<(usize, Instant)>,
}

/// A velocity frame.
#[derive(Clone, Debug)]
pub struct Speeds {
    pub at: Instant,
    pub session: u64,
    pub seq: u64,
    pub deadline_us: u64,
    /// Counts per second.
    pub axes: Vec<f64>,
}

impl Speeds {
    pub fn still(&self) -> bool {
        self.axes.iter().all(|v| *v == 0.0)
    }
}

impl Tape {
    pub fn take(&mut self, at: Instant, bytes: &[u8]) {
        self.bytes.extend_from_slice(bytes);
        self.arrived.push((self.bytes.len(), at));
    }

    /// What arrived from `from` on, without what is left of a run that began before.
    pub fn since(&self, from: Instant) -> Tape {
        let place = self.arrived.partition_point(|(_, at)| *at < from);
        let cut = place.checked_sub(1).map_or(0, |last| self.arrived[last].0);
        let whole = match cut {
            0 => 0,
            _ => match self.bytes[cut - 1..].iter().position(|byte| *byte == 0) {
                Some(left) => cut + left,
                None => self.bytes.len(),
            },
        };
        let later = self.arrived.iter().filter(|(upto, _)| *upto > whole);
        Tape {
            bytes: self.bytes[whole..].to_vec(),
            arrived: later.map(|(upto, at)| (upto - whole, *at)).collect(),
        }
    }

    pub fn is_empty(&self) -> bool {
        self.bytes.is_empty()
    }

    /// Every message with its time; a damaged run is a failure, because a pty damages nothing.
    pub fn messages(&self) -> Vec<(Instant, Value)> {
        let ends = self.run_ends();
        let reports = decode(&self.bytes);
        assert_eq!(reports.len(), ends.len(), "one report for each run");
        let arrived = |end: usize| {
            let place = self.arrived.partition_point(|(upto, _)| *upto < end);
            self.arrived[place].1
        };
        ends.into_iter()
            .zip(reports)
            .map(|(end, report)| {
                let message = report["ok"]["to_rig"].clone();
                assert!(message.is_object(), "not a frame to the rig: {report}");
                (arrived(end), message)
            })
            .collect()
    }

    /// The velocity frames, judged by the laws as far as the line alone tells.
    pub fn speeds(&self) -> Vec<Speeds> {
        let speeds = self.frames();
        super::judge::judge(&speeds);
        speeds
    }

    /// The velocity frames, of a tape that need not begin at rest.
    pub fn frames(&self) -> Vec<Speeds> {
        let messages = self.messages();
        let velocities = messages.iter().filter_map(|(at, message)| {
            let fields = message.get("Velocity")?;
            let number = |name: &str| fields[name].as_u64().expect("a number");
            let axes = fields["velocity"].as_array().expect("a list");
            Some(Speeds {
                at: *at,
                session: number("session"),
                seq: number("seq"),
                deadline_us: number("deadline_us"),
                axes: axes
                    .iter()
                    .map(|v| v.as_f64().expect("a number") / 1024.0)
                    .collect(),
            })
        });
        velocities.collect()
    }

    /// Where each run that is not empty has its 0x00, counted from 1.
    fn run_ends(&self) -> Vec<usize> {
        let mut ends = Vec::new();
        let mut began = 0;
        for (place, byte) in self.bytes.iter().enumerate() {
            if *byte == 0 {
                if place > began {
                    ends.push(place + 1);
                }
                began = place + 1;
            }
        }
        ends
    }
}

fn decode(bytes: &[u8]) -> Vec<Value> {
    let mut child = Command::new("python3")
        .args([CODEC, "decode"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("python3 is installed");
    let mut stdin = child.stdin.take().expect("piped");
    let bytes = bytes.to_vec();
    // A thread writes, so that neither pipe can fill up and block.
    let writer = std::thread::spawn(move || stdin.write_all(&bytes).expect("the decoder reads"));
    let output = child.wait_with_output().expect("the decoder ends");
    writer.join().expect("the writer");
    assert!(output.status.success(), "the decoder: {:?}", output.status);
    let text = String::from_utf8(output.stdout).expect("text");
    text.lines()
        .map(|line| serde_json::from_str(line).expect(line))
        .collect()
}

/// The frames that arrived from `from` on, up to `to`.
pub fn between(speeds: &[Speeds], from: Instant, to: Instant) -> Vec<Speeds> {
    let inside = |one: &&Speeds| one.at >= from && one.at <= to;
    speeds.iter().filter(inside).cloned().collect()
}

/// Asserts that there were frames all the time from `from` to `to`, and all of them zeros.
pub fn assert_still(speeds: &[Speeds], from: Instant, to: Instant, when: &str) {
    let some = between(speeds, from, to);
    assert!(!some.is_empty(), "{when}: no frames at all");
    let moving = some.iter().find(|one| !one.still());
    assert!(moving.is_none(), "{when}: it moved: {moving:?}");
}

/// How axis `axis` came down to zero after `from`.
#[derive(Clone, Copy, Debug)]
pub struct Descent {
    /// Counts/s before.
    pub speed: f64,
    /// The first frame below that.
    pub began: Instant,
    /// The first frame of zero.
    pub ended: Instant,
}

impl Descent {
    pub fn took(&self) -> Duration {
        self.ended - self.began
    }
}

/// Finds the descent of `axis` from its speed at `from`, in counts/s either way; its speed must not
/// rise in between.
pub fn descent(speeds: &[Speeds], axis: usize, from: Instant) -> Descent {
    let speed = |one: &Speeds| one.axes[axis].abs();
    let before = speeds.iter().rfind(|one| one.at <= from);
    let before = speed(before.expect("a frame before"));
    let after = || speeds.iter().filter(|one| one.at > from);
    // Whole wire steps: a constant speed alternates between two neighbours.
    let began = after().find(|one| speed(one) < before - 1.0);
    let began = began.unwrap_or_else(|| panic!("never slower than {before} counts/s"));
    let mut last = f64::INFINITY;
    for one in speeds.iter().filter(|one| one.at >= began.at) {
        assert!(speed(one) <= last + 2.0 / 1024.0, "it sped up: {one:?}");
        last = speed(one);
        if last == 0.0 {
            return Descent {
                speed: before,
                began: began.at,
                ended: one.at,
            };
        }
    }
    panic!("it never came to rest, {last} counts/s at the end")
}
