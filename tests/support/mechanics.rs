//! The true motion of a bench rig's mechanics, from its state file, before the laws checker.
//!
//! Judged are `ceiling` and `travel`, and, where the test says from when on nobody spoke to the rig, `loss`:
//! the watchdog's wait and the stop set's time and distance, from the speed the mechanics had then.
//! Not judged is `smooth`: between two processes frames come when the machine lets them, and what is
//! uneven by that is not the daemon's motion (the frames themselves are judged in `judge.rs`, sharply in
//! virtual time). `consent`, `quiet` and `sense` would need each push of a stick to the millisecond.

#![allow(dead_code)] // Each test uses its own part of it.

use std::path::Path;
use stillhand_laws::{
    Asked, AxisFacts, Checker, Event, Facts, Frame, Law, Nanos, Plant, PlantAxis, Set, Travel, Unit,
};

/// The rig's watchdog in all these tests.
const WATCHDOG: Nanos = Nanos::millis(120);
/// The mechanics follow a command after 10 ms, and the state file has a row every 2 ms.
const DELAY: Nanos = Nanos::millis(12);
/// What a loaded machine may add: a process that is not given its turn.
const LOADED: Nanos = Nanos::millis(30);
/// The state file's speeds have three digits behind the point.
const ROUNDED: f64 = 1e-3;

/// What is known of one axis, in counts.
pub struct Known {
    pub speed: f64,
    pub accel: f64,
    pub jerk: f64,
    /// `None` where it goes round and round, or was told no ends.
    pub travel: Option<(f64, f64)>,
}

/// One moment: the system's monotonic clock in microseconds, and each axis in counts and counts/s.
struct Row {
    us: i64,
    axes: Vec<PlantAxis>,
}

/// The whole rows of a state file.
fn rows(state: &Path) -> Vec<Row> {
    let text = std::fs::read_to_string(state).unwrap_or_default();
    let whole = text.rsplit_once('\n').map_or("", |(whole, _)| whole);
    let row = |line: &str| {
        let mut fields = line.split(',');
        let us = fields.next()?.parse().ok()?;
        let numbers: Option<Vec<f64>> = fields.map(|field| field.parse().ok()).collect();
        let pairs = numbers?;
        let axes = pairs.chunks(2).map(|pair| PlantAxis {
            position: pair[0],
            speed: pair[1],
        });
        Some(Row {
            us,
            axes: axes.collect(),
        })
    };
    let lines = whole.lines().skip(1);
    lines.map(|line| row(line).expect(line)).collect()
}

/// Fails the test if what the mechanics did breaks a law. `lost_us` is when the rig was last spoken to.
/// Axes that nothing is known of are not judged. Gives the number of rows.
pub fn judge(state: &Path, known: &[Known], lost_us: Option<i64>) -> usize {
    let rows = rows(state);
    let axes = known.iter().enumerate().map(|(place, known)| AxisFacts {
        name: format!("axis {}", place + 1),
        unit: Unit::Mm,
        count: 1.0,
        travel: match known.travel {
            Some((low, high)) => Travel::Ends { low, high },
            None => Travel::Continuous,
        },
        referenced: true,
        normal: Set::new(known.accel, known.jerk),
        stop_plus: Set::new(known.accel, known.jerk),
        stop_minus: Set::new(known.accel, known.jerk),
        delay: DELAY + LOADED,
        speed_ceiling: known.speed,
        needs_enable: false,
        plant_speed_error: ROUNDED,
    });
    let mut facts = Facts::new(axes.collect(), Vec::new(), Nanos::millis(4));
    facts.watchdog = WATCHDOG;
    let mut checker = Checker::new(facts);
    checker.event(Nanos::ZERO, &Event::LinkReady { session: 1 });
    for axis in 0..known.len() {
        checker.event(Nanos::ZERO, &Event::Ask(axis, Asked::Repeat));
    }
    let began = rows.first().map_or(0, |row| row.us);
    let mut spoken_to = true;
    let mut last = Nanos::ZERO;
    for row in &rows {
        last = Nanos((row.us - began) * 1_000);
        let axes = &row.axes[..known.len()];
        // The frames are known by what they led to.
        if spoken_to {
            let speeds: Vec<f64> = axes.iter().map(|axis| axis.speed).collect();
            checker.frame(last, &Frame { speeds: &speeds });
        }
        checker.plant(last, &Plant { axes });
        if spoken_to && lost_us.is_some_and(|lost| row.us >= lost) {
            spoken_to = false;
            checker.event(last, &Event::LinkLost);
        }
    }
    checker.end(last);
    let laws = [Law::Ceiling, Law::Travel, Law::Loss];
    let counts = laws.map(|law| (law.name(), checker.count(law)));
    // The log keeps the first breaches only, those of laws that are not judged among them.
    let kept = checker.breaches().iter().filter(|b| laws.contains(&b.law));
    let told: Vec<String> = kept.map(ToString::to_string).collect();
    let broken = counts.iter().any(|(_, count)| *count > 0);
    assert!(!broken, "the mechanics: {counts:?}\n{}", told.join("\n"));
    rows.len()
}

/// The system's monotonic clock, which the state file is written by.
pub fn monotonic_us() -> i64 {
    let mut time = libc::timespec {
        tv_sec: 0,
        tv_nsec: 0,
    };
    // SAFETY: `time` lives through the call.
    unsafe { libc::clock_gettime(libc::CLOCK_MONOTONIC, &raw mut time) };
    time.tv_sec * 1_000_000 + time.tv_nsec / 1_000
}
