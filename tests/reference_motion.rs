//! Speed changes and stops against ruckig and the closed forms.

use stillhand::soak::random;

use approx::assert_abs_diff_eq;
use random::Random;
use stillhand_engine::motion::sets::Sets;
use stillhand_engine::motion::slew::{Bounds, Motion, towards};
use stillhand_engine::motion::stopping::{BrakeCurve, stop};
use stillhand_engine::rig::LimitSet;
use stillhand_engine::units::{Accel, Jerk};

fn set(accel: f64, jerk: f64) -> LimitSet {
    LimitSet {
        accel: Accel(accel),
        jerk: Jerk(jerk),
    }
}

/// ruckig 0.19.4 (PyPI), velocity interface, a = 60, j = 300: speed, acceleration, time to rest and
/// distance.
const RUCKIG_STOPS: [(f64, f64, f64, f64); 4] = [
    (30.0, 0.0, 0.7, 10.5),
    (3.0, 0.0, 0.2, 0.3),
    (20.0, 60.0, 0.833_333_333_3, 13.033_333_333_3),
    (20.0, -40.0, 0.444_444_444_4, 3.644_444_444_4),
];

#[test]
fn stops_take_the_time_and_way_of_ruckig() {
    for (v, a, time, distance) in RUCKIG_STOPS {
        let found = stop(v, a, set(60.0, 300.0));
        assert_abs_diff_eq!(found.time, time, epsilon = 1e-9);
        assert_abs_diff_eq!(found.distance, distance, epsilon = 1e-9);
    }
    // Worst while still accelerating: from 54 with a = 120, j = 300 (ruckig 0.19.4).
    assert_abs_diff_eq!(
        stop(54.0, 0.0, set(120.0, 300.0)).distance,
        22.95,
        epsilon = 0.01
    );
    assert_abs_diff_eq!(
        stop(54.0, 60.0, set(120.0, 300.0)).distance,
        38.6,
        epsilon = 0.1
    );
}

/// dv >= a^2/j: T = dv/a + a/j, else 2 sqrt(dv/j); distance from no acceleration v T / 2 (closed
/// forms, equal to ruckig within 1e-6).
#[test]
fn stops_without_acceleration_follow_the_closed_forms() {
    let mut random = Random::new(1);
    for _ in 0..10_000 {
        let (v, a, j) = (
            random.scale(0.01, 200.0),
            random.scale(1.0, 2_000.0),
            random.scale(1.0, 50_000.0),
        );
        let time = if v >= a * a / j {
            v / a + a / j
        } else {
            2.0 * (v / j).sqrt()
        };
        let found = stop(v, 0.0, set(a, j));
        assert_abs_diff_eq!(found.time, time, epsilon = 1e-9 * time.max(1.0));
        assert_abs_diff_eq!(
            found.distance,
            v * time / 2.0,
            epsilon = 1e-9 * (v * time).max(1.0)
        );
    }
}

/// The slew, tick by tick: at the target no later than ruckig's time and a tick for each of its three
/// phases, never past it, and inside the limits all the way.
#[test]
fn speed_changes_take_ruckigs_time_and_a_tick_a_phase() {
    let mut random = Random::new(2);
    for case in 0..5_000 {
        let dt = random.pick(&[0.001, 0.004, 0.02]);
        let (a, j) = (random.scale(2.0, 1_000.0), random.scale(2.0, 20_000.0));
        let (from, to) = (random.between(0.0, 60.0), random.between(0.0, 60.0));
        let dv = (to - from).abs();
        let time = if dv >= a * a / j {
            dv / a + a / j
        } else {
            2.0 * (dv / j).sqrt()
        };
        let bounds = Bounds::of(set(a, j), dt);
        let mut now = Motion { v: from, a: 0.0 };
        let mut ticks = 0;
        while (now.v, now.a) != (to, 0.0) && ticks < 2_000_000 {
            let next = towards(now, to, bounds, dt);
            assert!(
                (next.a - now.a).abs() <= j * dt * (1.0 + 1e-9),
                "case {case}: jerk"
            );
            assert!(
                next.a.abs() <= a * (1.0 + 1e-9),
                "case {case}: acceleration"
            );
            let past = (next.v - to) * (to - from).signum();
            assert!(
                past <= 1e-9 * to.max(1.0),
                "case {case}: past the target by {past}"
            );
            now = next;
            ticks += 1;
        }
        let took = f64::from(ticks) * dt;
        assert!(
            took <= time + 3.0 * dt + 1e-9,
            "case {case}: {took} s, ruckig {time} s, dt {dt}"
        );
    }
}

/// The guard's curve is nowhere harder than its set, and [`BrakeCurve::reach`] is what a fine
/// simulation of entry and curve covers.
#[test]
fn the_guards_curve_stays_inside_its_set() {
    let mut random = Random::new(3);
    for case in 0..300 {
        let lose = set(random.scale(5.0, 1_000.0), random.scale(5.0, 20_000.0));
        let curve = BrakeCurve::new(&Sets { gain: lose, lose }, 0.088);
        let v = random.scale(0.1, 100.0);
        let a = random.between(-0.5, 1.0) * lose.accel.0;
        let (mut p, mut speed, mut accel) = (0.0, v, a);
        let dt = 1e-5;
        // Full jerk until the curve is met, then along it.
        while accel > -curve.deceleration(speed) && speed > 0.0 {
            let next = accel - lose.jerk.0 * dt;
            p += speed * dt + (accel + next) / 4.0 * dt * dt;
            speed += (accel + next) / 2.0 * dt;
            accel = next;
        }
        let reach = p + curve.way(speed.max(0.0));
        let said = curve.reach(v, a);
        if a > -curve.deceleration(v) {
            assert!(
                (said - reach).abs() <= 2e-3 * reach + 1e-3,
                "case {case}: {said}, {reach}"
            );
        }
        for step in 1..=1_000 {
            let v = v * f64::from(step) / 1_000.0;
            let d = curve.deceleration(v);
            assert!(d <= lose.accel.0, "case {case}: harder than the set");
            let near = curve.deceleration(v * 0.999);
            let jerk = (d - near) / (v * 0.001) * d;
            assert!(
                jerk <= lose.jerk.0 * 1.01,
                "case {case}: jerk {jerk} at {v}"
            );
        }
    }
}
