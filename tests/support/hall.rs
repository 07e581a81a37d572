//! The invented hall's rig and hands, as the files say them and as a rig end says them.

#![allow(dead_code)] // Each test uses its own part of it.

use stillhand_rig::{AxisConfig, Config, DEFAULT_TELEMETRY_MS};
use stillhand_wire::heapless::{String as Short, Vec as Few};
use stillhand_wire::messages::Unit;

/// Counts per degree of pan and tilt, and per millimetre of the slide: the file's figures.
pub const PER_DEG: f64 = 27.777778;
pub const PER_MM: f64 = 80.0;

/// Pan's sets: normal and stop.
pub const STOP_ACCEL: f64 = 240.0;
pub const STOP_JERK: f64 = 2400.0;

/// Full stick in gear 3 of [`QUICK`].
pub const FAST: f64 = 45.0;

/// A rig file: room enough for a pan to go on for a minute.
pub const RIG: &str = r#"
[rig]
id = "hall"
port = "sim"
baud = 115200
mount = "upright"
delay = "10 ms"
watchdog = "120 ms"

[axis.pan]
turns = "pan"
scale = "27.777778 counts/deg"
travel = ["-3000 deg", "3000 deg"]
speed = "60 deg/s"
normal = { accel = "120 deg/s^2", jerk = "600 deg/s^3" }
stop = { accel = "240 deg/s^2", jerk = "2400 deg/s^3" }

[axis.tilt]
turns = "tilt"
scale = "27.777778 counts/deg"
travel = ["-60 deg", "60 deg"]
speed = "40 deg/s"
normal = { accel = "80 deg/s^2", jerk = "400 deg/s^3" }
stop = { accel = "200 deg/s^2", jerk = "2000 deg/s^3" }

[axis.slide]
scale = "80 counts/mm"
travel = ["-600 mm", "600 mm"]
speed = "200 mm/s"
normal = { accel = "300 mm/s^2", jerk = "1500 mm/s^3" }
stop = { accel = "700 mm/s^2", jerk = "7000 mm/s^3" }
"#;

/// Hands in a hurry: full stick is 45 deg/s a quarter of a second after the push.
pub const QUICK: &str = r#"
[operator]
name = "quick"
first_gear = 3
wedge = { left = "8 deg", right = "8 deg" }

[axis.pan]
control = "rx"
deadband = "10 %"
saturation = "95 %"
curve = "linear"
gears = ["5 deg/s", "20 deg/s", "45 deg/s"]
gain = "0.25 s"
lose = "0.25 s"

[axis.tilt]
control = "ry"
deadband = "12 %"
saturation = "92 %"
curve = "cubic"
half = "22 %"
gears = ["2 deg/s", "8 deg/s", "30 deg/s"]
gain = "0.25 s"
lose = "0.25 s"

[axis.slide]
control = "lx"
deadband = "15 %"
saturation = "95 %"
curve = "exponential"
half = "20 %"
gears = ["5 mm/s", "40 mm/s", "150 mm/s"]
gain = "0.25 s"
lose = "0.25 s"
"#;

/// The same hands with pan alone: the state says "driving" when the first control may move its
/// axis, and so exactly when pan may.
pub fn pan_only() -> String {
    let (pan, _) = QUICK.split_once("[axis.tilt]").expect("tilt comes next");
    pan.to_string()
}

fn short<const N: usize>(text: &str) -> Short<N> {
    Short::try_from(text).expect("a short name")
}

fn axis(name: &str, unit: Unit, counts: u32, per_units: u32, max_speed: f64) -> AxisConfig {
    AxisConfig {
        name: short(name),
        counts,
        per_units,
        unit,
        // As the file says it, in whole counts: never lower than the file.
        max_speed: (max_speed * f64::from(counts) / f64::from(per_units)).ceil() as u32,
        max_accel: 0,
        max_jerk: 0,
        referenced: true,
        position: 0,
        lowers: true,
    }
}

/// What the rig of [`RIG`] says of itself.
pub fn config() -> Config {
    let mut axes = Few::new();
    for one in [
        axis("pan", Unit::Deg, 27_777_778, 1_000_000, 60.0),
        axis("tilt", Unit::Deg, 27_777_778, 1_000_000, 40.0),
        axis("slide", Unit::Mm, 80, 1, 200.0),
    ] {
        axes.push(one).expect("three of eight");
    }
    Config {
        rig_id: short("hall"),
        boot_id: 4711,
        telemetry_ms: DEFAULT_TELEMETRY_MS,
        rise_ms: 30,
        axes,
    }
}

/// Seconds that a stop from constant speed `v` takes inside acceleration `a` and jerk `j`:
/// the closed form of the protocol page.
pub fn stop_time(v: f64, a: f64, j: f64) -> f64 {
    if v >= a * a / j {
        v / a + a / j
    } else {
        2.0 * (v / j).sqrt()
    }
}

/// The way of that stop: half the speed for all of its time.
pub fn stop_way(v: f64, a: f64, j: f64) -> f64 {
    v / 2.0 * stop_time(v, a, j)
}
