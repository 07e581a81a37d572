//! Curves and deadbands against tables from outside.

use approx::assert_abs_diff_eq;
use stillhand_engine::feel::{Curve, Throw, demand, wedge, wedged};

/// Common practice: at half stick a linear response gives half of the speed, an exponential one
/// about a fifth.
#[test]
fn half_stick_gives_what_common_practice_expects() {
    assert_abs_diff_eq!(Curve::linear().at(0.5), 0.5, epsilon = 1e-12);
    let exponential = Curve::exponential(0.2).expect("in range");
    assert_abs_diff_eq!(exponential.at(0.5), 0.2, epsilon = 1e-12);
    let cubic = Curve::cubic(0.2).expect("in range");
    assert_abs_diff_eq!(cubic.at(0.5), 0.2, epsilon = 1e-12);
}

/// y = (e^(k x) - 1) / (e^k - 1), computed with numpy 2.4.6: for k = 2 and 3, at x = 0.1, 0.25, 0.5,
/// 0.75, 0.9 (k = 3: 0.5).
#[test]
fn the_exponential_is_the_published_formula() {
    // half = 1 / (1 + e^(k/2))
    let of = |k: f64| Curve::exponential(1.0 / (1.0 + libm::exp(k / 2.0))).expect("in range");
    let rows = [
        (0.1, 0.034653),
        (0.25, 0.101536),
        (0.5, 0.268941),
        (0.75, 0.544946),
        (0.9, 0.790359),
    ];
    for (x, y) in rows {
        assert_abs_diff_eq!(of(2.0).at(x), y, epsilon = 1e-6);
    }
    assert_abs_diff_eq!(of(3.0).at(0.5), 0.182426, epsilon = 1e-6);
    assert_abs_diff_eq!(of(4.0).at(0.5), 0.119203, epsilon = 1e-6);
}

/// f(x, e) = (1 - e) x + e x^3: cubic expo as in the INAV documentation, "Stick Input"; exact rows.
#[test]
fn the_cubic_is_the_published_formula() {
    // half = (1 - e) / 2 + e / 8
    let of = |e: f64| Curve::cubic((1.0 - e) / 2.0 + e / 8.0).expect("in range");
    let soft = [
        (0.1, 0.0703),
        (0.25, 0.179_687_5),
        (0.5, 0.3875),
        (0.75, 0.651_562_5),
        (0.9, 0.8487),
    ];
    for (x, y) in soft {
        assert_abs_diff_eq!(of(0.3).at(x), y, epsilon = 1e-12);
    }
    let hard = [
        (0.1, 0.0505),
        (0.25, 0.132_812_5),
        (0.5, 0.3125),
        (0.75, 0.585_937_5),
        (0.9, 0.8145),
    ];
    for (x, y) in hard {
        assert_abs_diff_eq!(of(0.5).at(x), y, epsilon = 1e-12);
    }
    assert_abs_diff_eq!(of(1.0).at(0.7), 0.343, epsilon = 1e-12);
}

/// Scaled axial deadband, (|x| - d) / (1 - d): Sutphin, "Doing Thumbstick Dead Zones Right"; d = 0.25.
#[test]
fn the_deadband_is_the_scaled_axial_one() {
    let throw = Throw::new(0.25, 1.0).expect("apart");
    for (x, y) in [
        (0.0, 0.0),
        (0.25, 0.0),
        (0.5, 1.0 / 3.0),
        (1.0, 1.0),
        (-0.5, -1.0 / 3.0),
    ] {
        assert_abs_diff_eq!(demand(x, throw, Curve::linear()), y, epsilon = 1e-12);
    }
}

/// No step anywhere: over a fine grid no curve is steeper than its own bound, and all are odd, rise,
/// and end at 0 and 1.
#[test]
fn demand_has_no_step_and_a_bounded_slope() {
    let throw = Throw::new(0.1, 0.95).expect("apart");
    let curves = [
        // The slope at the end: k e^k / (e^k - 1), 1 + 2 c.
        (Curve::linear(), 1.0),
        (
            Curve::exponential(0.2).expect("in range"),
            2.772_589 * 16.0 / 15.0,
        ),
        (Curve::exponential(0.02).expect("in range"), 7.784 * 1.001),
        (Curve::cubic(0.125).expect("in range"), 3.0),
    ];
    for (curve, steepest) in curves {
        let bound = steepest / (throw.saturation() - throw.deadband()) * 1.001;
        let steps = 20_000;
        let at = |n: i32| demand(f64::from(n) / f64::from(steps), throw, curve);
        for n in -steps..steps {
            let slope = (at(n + 1) - at(n)) * f64::from(steps);
            assert!(
                slope >= 0.0 && slope <= bound,
                "slope {slope} at {n}, bound {bound}"
            );
            assert_eq!(at(n), -at(-n), "odd at {n}");
        }
        assert_eq!(at(0), 0.0);
        assert_eq!(at(steps), 1.0);
    }
}

/// The wedge: a push within 8 degrees of an axis is pure, the diagonal is untouched, and nowhere
/// does a small move of the stick become a large one (Lipschitz bound (1 + t) / (1 - t)).
#[test]
fn the_wedge_keeps_a_pan_pure_and_has_a_bounded_slope() {
    let t = (8.0_f64).to_radians().tan();
    assert_eq!(wedged(1.0, 0.14, t), (1.0, 0.0), "8 degrees are 0.1405");
    assert!(wedged(1.0, 0.15, t).1 > 0.0);
    let diagonal = wedged(0.7, 0.7, t);
    assert_abs_diff_eq!(diagonal.0, 0.7, epsilon = 1e-12);
    assert_abs_diff_eq!(diagonal.1, 0.7, epsilon = 1e-12);
    assert_abs_diff_eq!(wedge(-0.5, 0.5, t), -0.5, epsilon = 1e-12);
    let bound = (1.0 + t) / (1.0 - t) * 1.001;
    let steps = 200;
    let step = 1.0 / f64::from(steps);
    for i in -steps..steps {
        for k in -steps..steps {
            let (x, y) = (f64::from(i) * step, f64::from(k) * step);
            let (a, b) = wedged(x, y, t);
            for (c, d) in [wedged(x + step, y, t), wedged(x, y + step, t)] {
                let moved = (c - a).abs().max((d - b).abs());
                assert!(moved <= bound * step, "{moved} at {x}, {y}");
            }
        }
    }
}

#[test]
fn what_makes_no_sense_is_refused() {
    for (deadband, saturation) in [(-0.1, 0.95), (0.1, 1.1), (0.7, 0.95), (f64::NAN, 0.95)] {
        assert!(
            Throw::new(deadband, saturation).is_none(),
            "{deadband}, {saturation}"
        );
    }
    for half in [0.0, 0.01, 0.6, f64::NAN, f64::INFINITY] {
        assert!(
            Curve::exponential(half).is_none() && Curve::cubic(half).is_none(),
            "{half}"
        );
    }
    let throw = Throw::new(0.1, 0.95).expect("apart");
    assert!(
        throw.centred(0.079) && !throw.centred(0.081),
        "0.8 of the deadband"
    );
    assert!(throw.outside(0.11) && !throw.outside(0.09));
}
