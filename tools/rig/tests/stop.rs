//! The integer stop against the closed forms.

mod common;

use common::Random;
use stillhand_rig::{Stop, TIME_UNITS_PER_S};
use stillhand_wire::messages::Ramp;

const PER_S: f64 = TIME_UNITS_PER_S as f64;
const MAX: i64 = i32::MAX as i64;

/// Speed in 1/1024 count/s and a ramp whose stop lasts between 2 ms and 200 s.
fn random_stop(random: &mut Random) -> (i64, Ramp) {
    loop {
        let speed = random.magnitude(30).min(MAX);
        let ramp = Ramp {
            accel: random.magnitude(23) as u32,
            jerk: random.magnitude(30) as u32,
        };
        let (time, _) = closed_form(speed, ramp);
        if (0.002..200.0).contains(&time) {
            return (speed, ramp);
        }
    }
}

/// Seconds and counts from a constant speed: T = v/a + a/j if v >= a^2/j, else 2 sqrt(v/j); d = v T / 2 by symmetry.
fn closed_form(speed: i64, ramp: Ramp) -> (f64, f64) {
    let (v, a, j) = (
        speed as f64 / 1024.0,
        f64::from(ramp.accel),
        f64::from(ramp.jerk),
    );
    let time = if v >= a * a / j {
        v / a + a / j
    } else {
        2.0 * (v / j).sqrt()
    };
    (time, v * time / 2.0)
}

/// Tolerances: time 2/16 ms (three rounded parts); distance: that time at half speed, twice what the acceleration changes in 1/16 ms and
/// 2/1024 count/s over the whole stop, 1e-6 of it.
#[test]
fn time_and_distance_are_the_closed_forms() {
    let mut random = Random(1);
    for round in 0..20_000 {
        let (speed, ramp) = random_stop(&mut random);
        let stop = Stop::new(speed, 0, ramp, MAX);
        let (time, distance) = closed_form(speed, ramp);
        let got_time = stop.duration() as f64 / PER_S;
        let got_distance = stop.distance() as f64 / PER_S / 1024.0;
        // A speed of few units has a peak deceleration of few units, rounded down: 1e-3 relative at 1 count/s^3.
        let peak_rounding =
            2.0 * time / (1024.0 * (speed as f64 / 1024.0 * f64::from(ramp.jerk)).sqrt());
        let time_tolerance = 2.0 / PER_S + peak_rounding;
        let distance_tolerance = speed as f64 / 1024.0 * time_tolerance / 2.0
            + 2.0 * f64::from(ramp.accel) * time / PER_S
            + 2.0 * time / 1024.0
            + distance * 1e-6;
        let what = format!(
            "round {round}: {speed} {ramp:?}: {got_time} s {got_distance}, not {time} s {distance}"
        );
        assert!((got_time - time).abs() <= time_tolerance, "{what}");
        assert!(
            (got_distance - distance).abs() <= distance_tolerance,
            "{what}"
        );
    }
}

/// From any acceleration: never faster than allowed, never back, within the ramp, and what was covered is what was announced.
#[test]
fn samples_keep_the_ramp_and_cover_the_announced_distance() {
    let mut random = Random(2);
    for round in 0..400 {
        let (speed, ramp) = random_stop(&mut random);
        let most = i64::from(ramp.accel) * 1024;
        let stop = Stop::new(speed, random.between(-most, most), ramp, MAX);
        if stop.duration() > 40 * TIME_UNITS_PER_S {
            continue;
        }
        let (mut sum, mut before) = (0_i128, stop.speed_at(0));
        let (mut change_before, mut peak_change) = (None, 0);
        let per_unit = most / TIME_UNITS_PER_S + 1;
        let jerk_per_unit = i64::from(ramp.jerk) * 1024 / TIME_UNITS_PER_S / TIME_UNITS_PER_S + 1;
        for t in 1..=stop.duration() {
            let now = stop.speed_at(t);
            assert!((0..=MAX).contains(&now), "round {round}: {now}");
            let change = now - before;
            // Times are rounded to one unit, so at the joints a change may be off by one unit's worth.
            assert!(
                change.abs() <= 2 * per_unit + 2,
                "round {round} at {t}: {change} > {per_unit}"
            );
            if let Some(change_before) = change_before {
                let jerk: i64 = change - change_before;
                let joint = per_unit + 2;
                assert!(
                    jerk.abs() <= jerk_per_unit + joint,
                    "round {round} at {t}: {jerk} > {jerk_per_unit}"
                );
            }
            change_before = Some(change);
            peak_change = peak_change.max(change.abs());
            sum += i128::from(before + now);
            before = now;
        }
        assert_eq!(before, 0, "round {round}");
        let sum = sum as f64 / 2.0;
        let tolerance = 2.0 * stop.duration() as f64 + 2.0 * (per_unit + speed) as f64 + sum * 1e-6;
        let distance = stop.distance() as f64;
        assert!(
            (sum - distance).abs() <= tolerance,
            "round {round}: covered {sum}, announced {distance}, {stop:?}"
        );
    }
}

#[test]
fn extremes_do_not_overflow() {
    let edges = [i64::MIN, -1, 0, 1, 1023, 1 << 20, MAX, i64::MAX];
    for speed in edges {
        for accel in edges {
            for (a, j) in [
                (0, 0),
                (1, 1),
                (u32::MAX, 1),
                (1, u32::MAX),
                (u32::MAX, u32::MAX),
            ] {
                for max in edges {
                    let stop = Stop::new(speed, accel, Ramp { accel: a, jerk: j }, max);
                    let mid = stop.duration() / 2;
                    assert!(stop.duration() >= 0 && stop.distance() >= 0);
                    assert!((0..=MAX).contains(&stop.speed_at(mid)));
                    assert_eq!(stop.speed_at(i64::MAX), 0);
                }
            }
        }
    }
}
