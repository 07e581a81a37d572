//! From a stick event to the first frame it changes, at the far end of a line. Prints one line of
//! JSON: the daemon's times and those of the least program possible, taken in the same way.
//!
//! `bench-latency DAEMON FLOOR PASSTHRU SECONDS`: executables of both, the preloaded library that
//! takes umockdev's detour out of reads and writes, and how long to measure each.
//!
//! The daemon is the shipped one with the real pad library; umockdev makes up the pad's device
//! around it, and the events are written into the made-up node from here.

#[path = "../../../tests/support/fakepad/mod.rs"]
mod fakepad;
#[path = "line.rs"]
mod line;

use fakepad::{FakePad, code};
use line::{BenchRig, FarEnd, Fault, end, pass, readable, taken};
use serde_json::{Value, json};
use std::fs::{File, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};
use stillhand_wire::{ToRig, ToRigDeframer};

/// Half a stick of +-32768.
const PUSH: i32 = 16_384;
/// Frames of rest between two pushes.
const RESTING: u32 = 12;
/// How long a program may take to start, and a push to arrive.
const PATIENCE: Duration = Duration::from_secs(20);
/// The rest before a push is drawn out by up to one period, so that pushes fall anywhere in it.
const PERIOD_US: u64 = 4_000;

fn main() {
    // This program is also the helper that owns the made-up devices.
    if std::env::var_os("FAKEPAD_HOST").is_some() {
        fakepad::host::run();
    }
    let words: Vec<String> = std::env::args().skip(1).collect();
    let seconds = words.get(3).and_then(|word| word.parse().ok());
    let (Some(seconds), [daemon, floor, passthru, _]) = (seconds, words.as_slice()) else {
        eprintln!("bench-latency DAEMON FLOOR PASSTHRU SECONDS");
        std::process::exit(2);
    };
    let bench = Bench {
        daemon: PathBuf::from(daemon),
        floor: PathBuf::from(floor),
        passthru: passthru.clone(),
        time: Duration::from_secs_f64(seconds),
    };
    let fifo = punctual();
    match bench.daemon().and_then(|d| Ok((d, bench.floor()?))) {
        Ok((daemon, floor)) => println!(
            "{}",
            json!({ "daemon": row(daemon), "floor": row(floor), "watched_in_real_time": fifo })
        ),
        Err(error) => {
            eprintln!("bench-latency: {error}");
            std::process::exit(1);
        }
    }
}

/// Whoever measures should not be late itself: real-time scheduling, where it is to be had.
fn punctual() -> bool {
    let parameters = libc::sched_param { sched_priority: 20 };
    // SAFETY: 0 is the calling thread, and `parameters` lives through the call.
    unsafe {
        libc::sched_setscheduler(
            0,
            libc::SCHED_FIFO | libc::SCHED_RESET_ON_FORK,
            &raw const parameters,
        ) == 0
    }
}

struct Bench {
    daemon: PathBuf,
    floor: PathBuf,
    passthru: String,
    time: Duration,
}

impl Bench {
    fn spawn(&self, program: &Path, args: &[&str], pad: &FakePad) -> Result<Child, Fault> {
        let preload = format!("{}:{}", self.passthru, fakepad::PRELOAD);
        let child = Command::new(program)
            .args(args)
            .envs(pad.env())
            .env("LD_PRELOAD", preload)
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()?;
        Ok(child)
    }

    fn daemon(&self) -> Result<Vec<Duration>, Fault> {
        let mut pad = FakePad::new();
        pad.plug(0);
        let far = FarEnd::new()?;
        let rig = BenchRig::start(&self.daemon)?;
        let port = far.path.display().to_string();
        let args = ["run", "--pad", "any", "--port", &port];
        let mut process = self.spawn(&self.daemon, &args, &pad)?;
        let times = Driven::new(far, rig, node(&pad)?).measure(self.time);
        end(&mut process);
        times
    }

    fn floor(&self) -> Result<Vec<Duration>, Fault> {
        let mut pad = FakePad::new();
        pad.plug(0);
        let mut far = FarEnd::new()?;
        let mut events = node(&pad)?;
        let port = far.path.display().to_string();
        let mut process = self.spawn(&self.floor, &["/dev/input/event0", &port], &pad)?;
        let times = floor_times(&mut far, &mut events, self.time);
        end(&mut process);
        times
    }
}

fn floor_times(
    far: &mut FarEnd,
    events: &mut File,
    time: Duration,
) -> Result<Vec<Duration>, Fault> {
    let mut buffer = [0; 4096];
    let mut times = Vec::with_capacity(100_000);
    far.take(&mut buffer, Instant::now() + PATIENCE)?
        .ok_or("the floor program did not start")?;
    let over = Instant::now() + time;
    while Instant::now() < over {
        // As long as the daemon's pushes are apart, so that both find the machine as idle.
        let pause = Duration::from_micros(u64::from(RESTING) * PERIOD_US + odd_micros(times.len()));
        if far.take(&mut buffer, Instant::now() + pause)?.is_some() {
            continue;
        }
        let pushed = Instant::now();
        push(events, PUSH)?;
        far.take(&mut buffer, pushed + PATIENCE)?
            .ok_or("a push never arrived")?;
        times.push(pushed.elapsed());
        push(events, 0)?;
    }
    Ok(times)
}

/// The daemon driving the bench rig through a line that is listened to.
struct Driven {
    far: FarEnd,
    rig: BenchRig,
    events: File,
    deframer: ToRigDeframer,
}

impl Driven {
    fn new(far: FarEnd, rig: BenchRig, events: File) -> Driven {
        Driven {
            far,
            rig,
            events,
            deframer: ToRigDeframer::new(),
        }
    }

    fn measure(mut self, time: Duration) -> Result<Vec<Duration>, Fault> {
        let mut times = Vec::with_capacity(10_000);
        self.rest(100, PATIENCE)
            .map_err(|e| format!("the daemon did not start: {e}"))?;
        // A stick counts once it was seen at its centre for 0.2 s; 250 frames are a second.
        push(&mut self.events, 0)?;
        self.rest(250, PATIENCE)?;
        let over = Instant::now() + time;
        while Instant::now() < over {
            self.rest(RESTING, PATIENCE)?;
            self.listen(
                Instant::now() + Duration::from_micros(odd_micros(times.len())),
                |_| false,
            )?;
            let pushed = Instant::now();
            push(&mut self.events, PUSH)?;
            let arrived = self
                .listen(pushed + PATIENCE, |moving| moving)?
                .ok_or("a push never arrived")?;
            times.push(arrived - pushed);
            push(&mut self.events, 0)?;
        }
        Ok(times)
    }

    /// Waits for this many frames of rest without a break.
    fn rest(&mut self, frames: u32, patience: Duration) -> Result<(), Fault> {
        let mut count = 0;
        self.listen(Instant::now() + patience, |moving| {
            count = if moving { 0 } else { count + 1 };
            count >= frames
        })?
        .ok_or("it did not come to rest")?;
        Ok(())
    }

    /// Passes bytes to and fro until a frame satisfies `enough`, which is told whether it moves
    /// anything; says when those bytes were read. `None` at `until`.
    fn listen(
        &mut self,
        until: Instant,
        mut enough: impl FnMut(bool) -> bool,
    ) -> Result<Option<Instant>, Fault> {
        let mut buffer = [0; 4096];
        while Instant::now() < until {
            let [daemon, rig] = readable(&[&self.far.line, &self.rig.line], until)?;
            if daemon && let Some(bytes) = taken(&mut self.far.line, &mut buffer)? {
                let read = Instant::now();
                let mut found = false;
                self.deframer.feed(bytes, |message: ToRig| {
                    if let ToRig::Velocity { velocity, .. } = message {
                        found |= enough(velocity.iter().any(|v| *v != 0));
                    }
                });
                pass(&mut self.rig.line, bytes)?;
                if found {
                    return Ok(Some(read));
                }
            }
            if rig && let Some(bytes) = taken(&mut self.rig.line, &mut buffer)? {
                pass(&mut self.far.line, bytes)?;
            }
        }
        Ok(None)
    }
}

/// Spreads over a period without a pattern that a period could fall in step with.
fn odd_micros(count: usize) -> u64 {
    // The golden section's multiples are spread as evenly as can be.
    ((count as f64 * 0.618_033_988_75).fract() * PERIOD_US as f64) as u64
}

/// The made-up node, to write events into.
fn node(pad: &FakePad) -> Result<File, Fault> {
    let path = pad.root().join("dev/input/event0");
    Ok(OpenOptions::new().write(true).open(path)?)
}

/// Writes a stick event and the report mark behind it, as the kernel does.
fn push(events: &mut File, value: i32) -> Result<(), Fault> {
    let now = SystemTime::now().duration_since(UNIX_EPOCH)?;
    let mut bytes = Vec::with_capacity(48);
    for (kind, control, value) in [(code::EV_ABS, code::ABS_RX, value), (code::EV_SYN, 0, 0)] {
        // struct input_event of linux/input.h on a 64-bit machine.
        bytes.extend(now.as_secs().cast_signed().to_ne_bytes());
        bytes.extend(i64::from(now.subsec_micros()).to_ne_bytes());
        bytes.extend(kind.to_ne_bytes());
        bytes.extend(control.to_ne_bytes());
        bytes.extend(value.to_ne_bytes());
    }
    Ok(events.write_all(&bytes)?)
}

/// Percentiles in milliseconds.
fn row(mut times: Vec<Duration>) -> Value {
    times.sort_unstable();
    let at = |share: f64| {
        let place = (times.len() as f64 * share).ceil() as usize;
        times
            .get(place.max(1) - 1)
            .map(|time| time.as_secs_f64() * 1e3)
    };
    json!({ "pushes": times.len(), "p50": at(0.5), "p99": at(0.99), "max": at(1.0) })
}
