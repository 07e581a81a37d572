//! From the thumb to the wire: a stick held over gives the speed the operator's file promises.
//!
//! The daemon is the unmodified program; pad, gilrs, serial port and pseudo-terminal are real. The
//! test owns the master and plays the rig; frames are read by the Python decoder, and the speeds
//! are worked out here from the figures in the file, not by the daemon's code.

mod support;

use std::time::{Duration, Instant};

use support::fakepad::code::*;
use support::hall::{PER_DEG, PER_MM, QUICK};
use support::stage::{PAD, Plan, Stage};
use support::steady::steadily;
use support::tape::{Speeds, between};

/// What gilrs (0.11.2) makes of a raw value of -32768..=32767: a range with an even number of values
/// is widened by one, so that a value beside its middle is 0.
fn stick(raw: i32) -> f64 {
    (f64::from(raw) + 1.0) / 32768.0
}

/// Deadband d, saturation s.
fn depth(x: f64, d: f64, s: f64) -> f64 {
    ((x.abs() - d) / (s - d)).clamp(0.0, 1.0)
}

/// The exponential through `half` at half the way.
fn exponential(u: f64, half: f64) -> f64 {
    let k = 2.0 * ((1.0 - half) / half).ln();
    (k * u).exp_m1() / k.exp_m1()
}

/// The cubic through `half` at half the way.
fn cubic(u: f64, half: f64) -> f64 {
    let c = (0.5 - half) / 0.375;
    (1.0 - c) * u + c * u * u * u
}

/// Holds a stick, waits until the axis's speed no longer changes, and returns its mean over many
/// frames in counts/s, as the Python decoder reads them.
fn steady(stage: &mut Stage, code: u16, axis: usize, raw: i32, expected: f64) -> f64 {
    stage.pads.abs(PAD, code, raw);
    stage.line.want_asked("a steady speed", |v| {
        (v[axis] - expected).abs() < expected.abs() / 50.0 + 1.0
    });
    // The last hundredth of the way is a ramp too: the jerk in force needs less than the gain time
    // of a quarter second for all of it.
    let from = Instant::now() + Duration::from_millis(250);
    std::thread::sleep(Duration::from_millis(650));
    let speeds = stage.line.tape().speeds();
    let held = between(&speeds, from, Instant::now());
    // 250 frames a second: a machine that delivers a third of them is still good enough.
    assert!(held.len() > 30, "{} frames in 0.4 s", held.len());
    let of = |one: &Speeds| one.axes[axis];
    for one in &held {
        // Whole wire steps, the remainder carried: never more than one step beside the mean.
        assert!(
            (of(one) - of(&held[0])).abs() <= 1.5 / 1024.0,
            "not steady: {one:?} beside {:?}",
            held[0]
        );
        let others = (0..3).filter(|other| *other != axis);
        assert!(
            others.clone().all(|other| one.axes[other] == 0.0),
            "{one:?}"
        );
    }
    held.iter().map(of).sum::<f64>() / held.len() as f64
}

/// The mean of thirty frames or more is this close to the exact speed: a step's share, and what
/// the 24 bits of gilrs's floats lose.
fn assert_speed(found: f64, expected: f64, what: &str) {
    let allowed = 0.1 / 1024.0 + expected.abs() * 2e-7;
    assert!(
        (found - expected).abs() <= allowed,
        "{what}: {found} counts/s on the wire, {expected} by the file"
    );
}

#[test]
fn a_held_stick_gives_the_speed_of_the_file() {
    steadily(|| {
        let mut stage = Plan {
            operator: QUICK.to_string(),
            ..Plan::default()
        }
        .start();
        stage.arm();
        // (control, raw, axis, speed in counts/s by the file, what)
        let pan = |raw| 45.0 * PER_DEG * depth(stick(raw), 0.10, 0.95);
        let tilt = |raw| 30.0 * PER_DEG * cubic(depth(stick(raw), 0.12, 0.92), 0.22);
        let slide = |raw| 150.0 * PER_MM * exponential(depth(stick(raw), 0.15, 0.95), 0.20);
        let rows = [
            (ABS_RX, 20_000, 0, pan(20_000), "linear"),
            // The kernel's down is plus, ours is minus.
            (ABS_RY, 17_000, 1, -tilt(17_000), "cubic"),
            (ABS_X, -12_345, 2, -slide(-12_345), "exponential"),
            (ABS_X, 32_767, 2, 150.0 * PER_MM, "beyond saturation"),
        ];
        for (code, raw, axis, expected, what) in rows {
            assert!(expected.abs() > 10.0, "{what}: worth looking at");
            let found = steady(&mut stage, code, axis, raw, expected);
            assert_speed(found, expected, what);
            stage.pads.abs(PAD, code, 0);
            stage
                .line
                .want_asked("at rest", |v| v.iter().all(|v| *v == 0.0));
        }
    });
}

#[test]
fn gears_and_the_edge_of_the_deadband() {
    steadily(|| {
        let mut stage = Plan::default().start();
        stage.arm();
        // A hair inside the deadband of 10 %: nothing, however long it is held.
        stage.pads.abs(PAD, ABS_RX, 3_200);
        assert!(stick(3_200) < 0.10);
        let from = Instant::now();
        std::thread::sleep(Duration::from_millis(300));
        let speeds = stage.line.tape().speeds();
        support::tape::assert_still(&speeds, from, Instant::now(), "inside the deadband");
        // A hair outside it: a creep, because the speed begins at 0 there.
        let raw = 3_600;
        let gear = |full: f64, raw: i32| full * PER_DEG * depth(stick(raw), 0.10, 0.95);
        assert!(gear(45.0, raw) > 0.1 && gear(45.0, raw) < 20.0);
        let found = steady(&mut stage, ABS_RX, 0, raw, gear(45.0, raw));
        assert_speed(found, gear(45.0, raw), "the edge");
        for (button, full) in [(BTN_TL, 20.0), (BTN_TL, 5.0), (BTN_TR, 20.0)] {
            stage.pads.key(PAD, button, true);
            stage.pads.key(PAD, button, false);
            stage.daemon.want("gear ");
            let found = steady(&mut stage, ABS_RX, 0, -25_000, -gear(full, -25_000));
            assert_speed(found, -gear(full, -25_000), "a gear");
        }
    });
}
