//! The way of a motion by its closed form, and its limits.

use super::*;
use crate::rig::LimitSet;
use crate::units::{Accel, Jerk};
use approx::assert_relative_eq;
use std::vec::Vec;

fn set(accel: f64, jerk: f64) -> LimitSet {
    LimitSet {
        accel: Accel(accel),
        jerk: Jerk(jerk),
    }
}

fn sets(accel: f64, jerk: f64) -> Sets {
    Sets {
        gain: set(accel, jerk),
        lose: set(accel, jerk),
    }
}

/// Every motion at steps of `dt` until it is over.
fn run(mut bump: Bump, dt: f64) -> Vec<Motion> {
    core::iter::from_fn(|| bump.advance(dt)).collect()
}

/// Way, the sets' acceleration and jerk, highest speed, and which of the three binds.
const CASES: [(f64, f64, f64, f64, Binds); 6] = [
    (0.01, 120.0, 600.0, 10.0, Binds::Jerk),
    (-0.05, 120.0, 600.0, 10.0, Binds::Jerk),
    (2.0, 5.0, 600.0, 100.0, Binds::Accel),
    (-2.0, 5.0, 600.0, 100.0, Binds::Accel),
    (1.0, 120.0, 600.0, 0.5, Binds::Speed),
    (-30.0, 120.0, 600.0, 10.0, Binds::Speed),
];

#[derive(Clone, Copy, Debug, PartialEq)]
enum Binds {
    Jerk,
    Accel,
    Speed,
}

/// With the time T and the way s: j = 32 s/T^3, a = j T/4, v = j T^2/16. The one that binds is met, the
/// other two are kept.
#[test]
fn the_way_is_exact_and_the_limit_that_binds_is_met() {
    for (way, accel, jerk, full, binds) in CASES {
        let s = way.abs();
        let time = match binds {
            Binds::Jerk => (32.0 * s / jerk).cbrt(),
            Binds::Accel => (8.0 * s / accel).sqrt(),
            Binds::Speed => 2.0 * s / full,
        };
        let steps = 40_000;
        let dt = time / f64::from(steps);
        let motions = run(Bump::over(way, &sets(accel, jerk), full), dt);
        let off = motions.len().abs_diff(steps as usize);
        assert!(off <= 1, "{way} takes {} of {steps}", motions.len());
        let covered: f64 = motions.iter().map(|m| m.v * dt).sum();
        assert_relative_eq!(covered, way, max_relative = 1e-6);
        let top = |of: fn(&Motion) -> f64| motions.iter().map(of).fold(0.0, f64::max);
        let (v, a) = (top(|m| m.v.abs()), top(|m| m.a.abs()));
        let j = motions
            .windows(2)
            .map(|m| (m[1].a - m[0].a).abs() / dt)
            .fold(0.0, f64::max);
        let limits = [(j, jerk), (a, accel), (v, full)];
        for (found, limit) in limits {
            assert!(
                found <= limit * (1.0 + 1e-6),
                "{found} over {limit} of {way}"
            );
        }
        let (found, limit) = limits[binds as usize];
        assert_relative_eq!(found, limit, max_relative = 1e-3);
        assert!(motions.iter().all(|m| m.v * way >= 0.0), "never back");
    }
}

/// The softer of what gains and what loses speed holds for the whole of it.
#[test]
fn the_softer_set_holds() {
    let mixed = Sets {
        gain: set(120.0, 50.0),
        lose: set(3.0, 600.0),
    };
    assert_eq!(
        Bump::over(1.0, &mixed, 10.0),
        Bump::over(1.0, &sets(3.0, 50.0), 10.0)
    );
}

/// Ticks of any length add up to the way within a small part of a count of 0.01.
#[test]
fn ticks_of_any_length_cover_the_way() {
    for dt in [0.001, 0.004, 0.0047, 0.02] {
        let motions = run(Bump::over(0.5, &sets(120.0, 600.0), 10.0), dt);
        let covered: f64 = motions.iter().map(|m| m.v * dt).sum();
        assert!((covered - 0.5).abs() < 0.002, "{covered} at {dt} s");
    }
}

#[test]
fn no_way_and_no_speed_take_no_time() {
    let limits = sets(120.0, 600.0);
    for mut bump in [
        Bump::none(),
        Bump::over(0.0, &limits, 10.0),
        Bump::over(1.0, &limits, 0.0),
        Bump::over(1.0, &limits, -1.0),
    ] {
        assert_eq!(bump.advance(0.0), None);
    }
}
