//! Laws `same` and `whole`: runs against runs.

mod common;

use common::*;
use stillhand_laws::*;

/// Two axes; the profile (gear) of each changes at 2 s to the ceilings given.
fn run(pan: f64, tilt: f64) -> World {
    let mut w = World::ready(2, 250.0);
    w.ceiling(0, 20.0);
    w.ceiling(1, 20.0);
    w.stick(0, 0.8);
    w.stick(1, -0.6);
    w.run(1.5);
    w.ceiling(0, pan);
    w.ceiling(1, tilt);
    w.run(2.0);
    w.stick(0, -0.4);
    w.stick(1, 0.3);
    w.run(2.0);
    w
}

fn from_start(c: f64) -> World {
    let mut w = World::ready(2, 250.0);
    w.ceiling(0, c);
    w.ceiling(1, c);
    w.stick(0, 0.8);
    w.stick(1, -0.6);
    w.run(3.5);
    w.stick(0, -0.4);
    w.stick(1, 0.3);
    w.run(2.0);
    w
}

/// The same frames with one speed put through `f`.
fn doctored(trace: &Trace, n: usize, axis: usize, f: impl Fn(f64) -> f64) -> Trace {
    let mut out = Trace::new(2);
    for i in 0..trace.len() {
        let (t, speeds) = trace.get(i).expect("within the trace");
        let mut speeds = speeds.to_vec();
        if i == n {
            speeds[axis] = f(speeds[axis]);
        }
        out.push(t, &speeds);
    }
    out
}

#[test]
fn same_to_the_bit() {
    let w = run(10.0, 10.0);
    let (a, axes) = (w.trace(), &w.facts.axes);
    assert_eq!(compare_same(&a, &run(10.0, 10.0).trace(), axes), Ok(()));
    let bit = doctored(&a, 700, 1, |v| f64::from_bits(v.to_bits() ^ 1));
    let breach = compare_same(&a, &bit, axes).expect_err("one bit differs");
    assert_eq!(
        (breach.law, breach.axis.as_deref()),
        (Law::Same, Some("tilt"))
    );
    // Zeros of either sign are not the same bits.
    let (mut plus, mut minus) = (Trace::new(1), Trace::new(1));
    plus.push(Nanos::ZERO, &[0.0]);
    minus.push(Nanos::ZERO, &[-0.0]);
    assert_eq!(
        compare_same(&plus, &minus, axes)
            .expect_err("signed zeros")
            .law,
        Law::Same
    );
}

#[test]
fn same_times_and_length() {
    let w = run(10.0, 10.0);
    let (a, axes) = (w.trace(), &w.facts.axes);
    let (mut short, mut shifted) = (Trace::new(2), Trace::new(2));
    for i in 0..a.len() {
        let (t, speeds) = a.get(i).expect("within the trace");
        shifted.push(Nanos(t.0 + i64::from(i == 500)), speeds);
        if i + 1 < a.len() {
            short.push(t, speeds);
        }
    }
    assert_eq!(
        compare_same(&short, &a, axes)
            .expect_err("a frame less")
            .law,
        Law::Same
    );
    assert_eq!(
        compare_same(&a, &shifted, axes)
            .expect_err("a nanosecond")
            .at,
        a.get(500).expect("frame").0
    );
}

/// A broken file must change nothing.
#[test]
fn whole_broken_file() {
    let (a, axes) = (run(20.0, 20.0), run(20.0, 20.0).facts.axes);
    assert_eq!(
        compare_unchanged(&a.trace(), &from_start(20.0).trace(), &axes),
        Ok(())
    );
    let half = run(20.0, 10.0);
    let breach = compare_unchanged(&half.trace(), &a.trace(), &axes).expect_err("tilt took it");
    assert_eq!(
        (breach.law, breach.axis.as_deref()),
        (Law::Whole, Some("tilt"))
    );
    let bit = doctored(&a.trace(), 900, 0, |v| f64::from_bits(v.to_bits() ^ 1));
    assert_eq!(
        compare_unchanged(&bit, &a.trace(), &axes)
            .expect_err("a bit")
            .law,
        Law::Whole
    );
}

#[test]
fn whole_or_half_applied() {
    let (old, new, axes) = (
        from_start(20.0).trace(),
        from_start(10.0).trace(),
        facts(2, 250.0).axes,
    );
    let at = Nanos::millis(2000);
    let judge = |changed: &Trace| {
        compare_whole(
            &ProfileChange {
                changed,
                old: &old,
                new: &new,
                at,
                settle: Nanos::millis(800),
            },
            &axes,
        )
    };
    // Taken whole; not taken at all (it waits).
    assert_eq!(judge(&run(10.0, 10.0).trace()), Ok(()));
    assert_eq!(judge(&run(20.0, 20.0).trace()), Ok(()));
    // Two quanta off are two roundings, three are not.
    let whole = run(10.0, 10.0).trace();
    assert_eq!(judge(&doctored(&whole, 900, 1, |v| v + 2.0 * Q)), Ok(()));
    for (changed, axis) in [
        (run(10.0, 20.0).trace(), "tilt"),
        (run(20.0, 10.0).trace(), "pan"),
        (run(10.0, 15.0).trace(), "tilt"),
        (doctored(&whole, 900, 1, |v| v + 3.0 * Q), "tilt"),
        // Before the change, a single bit.
        (
            doctored(&whole, 300, 0, |v| f64::from_bits(v.to_bits() ^ 1)),
            "pan",
        ),
    ] {
        let breach = judge(&changed).expect_err("half applied");
        assert_eq!(
            (breach.law, breach.axis.as_deref()),
            (Law::Whole, Some(axis)),
            "{breach}"
        );
    }
}

/// By the new profile, and later by the old one again.
#[test]
fn whole_and_back_again() {
    let (old, new, axes) = (
        from_start(20.0).trace(),
        from_start(10.0).trace(),
        facts(2, 250.0).axes,
    );
    let mut back = Trace::new(2);
    let whole = run(10.0, 10.0).trace();
    for i in 0..whole.len() {
        let from = if i < 1200 { &whole } else { &old };
        let (t, speeds) = from.get(i).expect("within the trace");
        back.push(t, speeds);
    }
    let change = ProfileChange {
        changed: &back,
        old: &old,
        new: &new,
        at: Nanos::millis(2000),
        settle: Nanos::millis(800),
    };
    assert_eq!(
        compare_whole(&change, &axes).expect_err("went back").law,
        Law::Whole
    );
}
