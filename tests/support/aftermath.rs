//! What comes after a fault: the stop against the calculation, and what the daemon still holds.

#![allow(dead_code)] // Each test uses its own part of it.

use super::hall::{FAST, PER_DEG, STOP_ACCEL, STOP_JERK, stop_time, stop_way};
use super::line::Line;
use serde_json::json;
use std::path::Path;
use std::time::Instant;

/// What a loaded machine may add before a stop begins, s: the pace of frames and of the line's far end,
/// and threads that wait for their turn. A stop that came by anything later than was meant (silence after
/// the watchdog, a second bound after the first) is further off.
pub const SLACK: f64 = 0.060;

/// How often each fault is made.
pub fn rounds() -> u32 {
    let asked = std::env::var("FAULTS").ok().and_then(|n| n.parse().ok());
    asked.unwrap_or(1)
}

/// One stop: from the fault to rest.
pub struct Stop {
    /// Seconds from the fault until the stop should begin.
    pub after: f64,
    /// Seconds it may begin later.
    pub slack: f64,
    /// Seconds to rest.
    pub took: f64,
    /// Degrees to rest.
    pub way: f64,
}

impl Stop {
    /// What the closed form says, from the moment it should begin.
    pub fn expected(&self) -> (f64, f64) {
        let time = self.after + stop_time(FAST, STOP_ACCEL, STOP_JERK);
        let way = FAST * self.after + stop_way(FAST, STOP_ACCEL, STOP_JERK);
        (time, way)
    }

    pub fn check(&self) {
        let (time, way) = self.expected();
        // A frame and a look of the line's end earlier: what was sent last was sent before the fault.
        let early = 0.010;
        let late = self.slack;
        let told = format!(
            "{:.3} s, {:.2} deg; by the calculation {time:.3} s, {way:.2} deg",
            self.took, self.way
        );
        assert!(
            self.took >= time - early && self.took <= time + late + SLACK,
            "{told}"
        );
        assert!(
            self.way >= way - FAST * early && self.way <= way + FAST * late,
            "{told}"
        );
    }
}

/// The moment of a fault.
pub struct Moment {
    pub at: Instant,
    pub counts: i32,
}

impl Moment {
    pub fn of(line: &Line) -> Moment {
        Moment {
            counts: line.positions()[0],
            at: Instant::now(),
        }
    }

    /// Waits for rest.
    pub fn stopped(&self, line: &Line, after: f64, slack: f64) -> Stop {
        let rest = line.want_driven("the rig stops", |v| v[0] == 0.0);
        let counts = line.positions()[0] - self.counts;
        Stop {
            after,
            slack,
            took: (rest - self.at).as_secs_f64(),
            way: f64::from(counts) / PER_DEG,
        }
    }
}

/// What a process holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Holds {
    pub descriptors: usize,
    pub threads: usize,
}

pub fn holds(pid: u32) -> Holds {
    let count = |what: &str| {
        let entries = std::fs::read_dir(format!("/proc/{pid}/{what}"));
        entries.expect("our child").count()
    };
    Holds {
        descriptors: count("fd"),
        threads: count("task"),
    }
}

/// Bytes of memory a process has in use.
pub fn memory(pid: u32) -> i64 {
    let text = std::fs::read_to_string(format!("/proc/{pid}/statm")).expect("our child");
    let pages: i64 = text
        .split(' ')
        .nth(1)
        .and_then(|n| n.parse().ok())
        .expect("a number");
    pages * 4096
}

/// Adds a line about this kind of fault.
pub fn report(name: &str, stops: &[Stop], grown: Option<i64>) {
    let Some(folder) = std::env::var_os("FAULTS_TO") else {
        return;
    };
    let spread = |value: &dyn Fn(&Stop) -> f64| {
        let mut all: Vec<f64> = stops.iter().map(value).collect();
        all.sort_by(f64::total_cmp);
        let round = |x: &f64| (x * 1e3).round() / 1e3;
        json!({
            "least": all.first().map(round),
            "half": all.get(all.len() / 2).map(round),
            "most": all.last().map(round),
        })
    };
    let row = json!({
        "fault": name,
        "rounds": rounds(),
        "stops": stops.len(),
        "seconds_to_rest": spread(&|stop| stop.took),
        "seconds_by_calculation": spread(&|stop| stop.expected().0),
        "degrees_to_rest": spread(&|stop| stop.way),
        "degrees_by_calculation": spread(&|stop| stop.expected().1),
        "degrees_allowed_beyond": spread(&|stop| FAST * stop.slack),
        "bytes_grown": grown,
    });
    let path = Path::new(&folder).join(format!("{}.json", name.replace(' ', "-")));
    std::fs::write(path, format!("{row}\n")).expect("writable");
}
