//! From the rename of an edited profile to the first frame with the new feel, at the far end of a line.
//! Prints one line of JSON.
//!
//! `bench-edit DAEMON SECONDS`: the daemon's executable, and how long to measure. A pad script holds
//! pan over; each edit makes its full stick faster or slower by less than a quarter, which applies at
//! once, and the next one waits until the speed is steady.

#[path = "line.rs"]
#[expect(dead_code, reason = "bench-latency uses the rest of it")]
mod line;

use line::{BenchRig, FarEnd, Fault, end, pass, readable, taken};
use serde_json::json;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};
use stillhand_wire::{ToRig, ToRigDeframer};

/// Full-stick speeds of pan, in deg/s: a minute of them stays far inside the bench rig's travel.
const SPEEDS: [f64; 2] = [1.0, 1.2];
/// Frames at one speed until it counts as steady: 0.1 s.
const STEADY: u32 = 25;
/// Two wire steps: a constant speed alternates between two neighbours of 1/1024 count/s.
const STEP: i32 = 2;
/// How long the daemon may take to start, and an edit to arrive.
const PATIENCE: Duration = Duration::from_secs(20);
/// The wait before an edit is drawn out by up to this, so that edits fall anywhere in a period.
const PERIOD_US: u64 = 4_000;

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let seconds = words.get(1).and_then(|word| word.parse().ok());
    let (Some(seconds), [daemon, _]) = (seconds, words.as_slice()) else {
        eprintln!("bench-edit DAEMON SECONDS");
        std::process::exit(2);
    };
    match measure(Path::new(daemon), seconds) {
        Ok(mut times) => {
            times.sort_unstable();
            let at = |share: f64| {
                let place = (times.len() as f64 * share).ceil() as usize;
                let time = times.get(place.max(1) - 1);
                time.map(|time| time.as_secs_f64() * 1e3)
            };
            println!(
                "{}",
                json!({ "edits": times.len(), "p50": at(0.5), "p99": at(0.99), "max": at(1.0) })
            );
        }
        Err(error) => {
            eprintln!("bench-edit: {error}");
            std::process::exit(1);
        }
    }
}

/// A folder of our own, gone at the end.
struct Folder(PathBuf);

impl Drop for Folder {
    fn drop(&mut self) {
        // What can't be removed is in the folder for such things and hurts nobody.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn profile(speed: f64) -> String {
    format!(
        "[operator]\nname = \"bench\"\n\n[axis.pan]\ncontrol = \"rx\"\ngears = [\"{speed} deg/s\"]\n\
         gain = \"0.05 s\"\nlose = \"0.05 s\"\n"
    )
}

/// Let go once, then held over; both values are a full stick, and the wiggle keeps it alive.
fn script(seconds: f64) -> String {
    let mut text = "0 ABS_RX 0\n".to_owned();
    for second in 1..(seconds as u32 + 60) {
        let value = if second % 2 == 0 { 1.0 } else { 0.99 };
        // Writing to a String can't fail.
        let _ = writeln!(text, "{second} ABS_RX {value}");
    }
    text
}

fn measure(daemon: &Path, seconds: f64) -> Result<Vec<Duration>, Fault> {
    let folder = Folder(std::env::temp_dir().join(format!("bench-edit-{}", std::process::id())));
    std::fs::create_dir(&folder.0)?;
    let file = folder.0.join("bench.toml");
    let hands = folder.0.join("hands.pad");
    std::fs::write(&file, profile(SPEEDS[0]))?;
    std::fs::write(&hands, script(seconds))?;
    let far = FarEnd::new()?;
    let rig = BenchRig::start(daemon)?;
    let mut process = Command::new(daemon)
        .args(["run", "--socket", "off", "--operator"])
        .arg(&file)
        .arg("--pad")
        .arg(format!("script:{}", hands.display()))
        .arg("--port")
        .arg(&far.path)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()?;
    let mut driven = Driven {
        far,
        rig,
        deframer: ToRigDeframer::new(),
        last: 0,
        same: 0,
    };
    let times = driven.edits(&file, Duration::from_secs_f64(seconds));
    end(&mut process);
    times
}

/// The daemon driving the bench rig through a line that is listened to.
struct Driven {
    far: FarEnd,
    rig: BenchRig,
    deframer: ToRigDeframer,
    /// Pan's speed in the last frame of a steady stretch, and how many frames that one has.
    last: i32,
    same: u32,
}

impl Driven {
    fn edits(&mut self, file: &Path, time: Duration) -> Result<Vec<Duration>, Fault> {
        let mut times = Vec::with_capacity(1_000);
        self.steady(0)
            .map_err(|e| format!("the daemon did not start: {e}"))?;
        let over = Instant::now() + time;
        let mut before = 0;
        while Instant::now() < over {
            self.steady(before)?;
            before = self.last;
            self.listen(
                Instant::now() + Duration::from_micros(odd_micros(times.len())),
                |_, _| false,
            )?;
            let new = file.with_extension("new");
            std::fs::write(&new, profile(SPEEDS[(times.len() + 1) % 2]))?;
            let renamed = Instant::now();
            std::fs::rename(&new, file)?;
            let arrived = self
                .listen(renamed + PATIENCE, |pan, _| (pan - before).abs() > STEP)?
                .ok_or("an edit never took effect")?;
            times.push(arrived - renamed);
        }
        Ok(times)
    }

    /// Waits until pan goes steadily, at another speed than `before`.
    fn steady(&mut self, before: i32) -> Result<(), Fault> {
        self.listen(Instant::now() + PATIENCE, |pan, same| {
            (pan - before).abs() > STEP && same >= STEADY
        })?
        .ok_or("it did not go steadily")?;
        Ok(())
    }

    /// Passes bytes to and fro until a frame satisfies `enough`, which is told pan's speed and for how
    /// many frames it has been that; says when those bytes were read. `None` at `until`.
    fn listen(
        &mut self,
        until: Instant,
        enough: impl Fn(i32, u32) -> bool,
    ) -> Result<Option<Instant>, Fault> {
        let mut buffer = [0; 4096];
        while Instant::now() < until {
            let [daemon, rig] = readable(&[&self.far.line, &self.rig.line], until)?;
            if daemon && let Some(bytes) = taken(&mut self.far.line, &mut buffer)? {
                let read = Instant::now();
                let (mut last, mut same, mut found) = (self.last, self.same, false);
                self.deframer.feed(bytes, |message: ToRig| {
                    if let ToRig::Velocity { velocity, .. } = message {
                        let pan = velocity.first().copied().unwrap_or(0);
                        same = if (pan - last).abs() > STEP {
                            0
                        } else {
                            same + 1
                        };
                        last = pan;
                        found |= enough(pan, same);
                    }
                });
                (self.last, self.same) = (last, same);
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
