//! What a step costs, printed; and that the kept breaches stay few.

mod common;

use common::*;
use std::time::Instant;
use stillhand_laws::*;

/// Prints nanoseconds per step (tick, frame and plant of 8 axes). A soak runs it in release.
#[test]
fn nanoseconds_per_step() {
    let mut w = World::ready(8, 250.0);
    for n in 0..8 {
        w.stick(n, if n % 2 == 0 { 0.7 } else { -0.4 });
    }
    w.run(2.0);
    for n in 0..8 {
        w.stick(n, if n % 2 == 0 { -0.7 } else { 0.4 });
        w.ceiling(n, 12.0);
    }
    w.run(6.0);
    let steps = w
        .items
        .iter()
        .filter(|(_, i)| matches!(i, Item::Frame(_)))
        .count();
    let (mut best, mut checker) = (f64::INFINITY, w.check());
    for _ in 0..5 {
        let start = Instant::now();
        checker = w.check();
        best = best.min(start.elapsed().as_secs_f64() / steps as f64);
    }
    println!("{:.0} ns per step of 8 axes, {steps} steps", best * 1e9);
    assert_clean(&checker);
    assert!(checker.stats().share_moving() > 0.5);
    // Wide enough for a debug build on a busy machine: catches a cost that grows with the run.
    assert!(best < 1e-3, "{best} s per step");
}

/// A law broken at every step is counted at every step, and kept a bounded number of times.
#[test]
fn breaches_are_bounded_and_counted() {
    let mut w = World::ready(1, 250.0);
    w.ceiling(0, 10.0);
    w.cheat.ceiling_factor = 1.5;
    w.stick(0, 1.0);
    w.run(4.0);
    let checker = w.check();
    assert_eq!(checker.breaches().len(), BREACHES_KEPT);
    assert!(checker.count(Law::Ceiling) > 800);
    assert_eq!(checker.total(), checker.count(Law::Ceiling));
}

/// Nothing panics, whatever comes in.
#[test]
fn nonsense_does_not_panic() {
    let mut checker = Checker::new(facts(2, 250.0));
    let bad = [f64::NAN, f64::INFINITY, -1e308];
    checker.event(Nanos(5), &Event::LinkReady { session: 1 });
    for (n, x) in bad.into_iter().enumerate() {
        let t = Nanos(-(n as i64));
        checker.event(
            t,
            &Event::Stick {
                pad: PAD,
                control: ControlId(900),
                value: x,
            },
        );
        checker.event(
            t,
            &Event::PadPlugged {
                pad: PAD,
                bus: Bus::Bluetooth,
                may_drive: true,
            },
        );
        checker.event(
            t,
            &Event::Stick {
                pad: PAD,
                control: ControlId(0),
                value: x,
            },
        );
        checker.event(t, &Event::Ceiling { axis: 40, speed: x });
        checker.event(t, &Event::Ceiling { axis: 0, speed: x });
        checker.event(
            t,
            &Event::NormalSet {
                axis: 1,
                set: Normal::same(Set::new(x, x)),
            },
        );
        checker.event(t, &Event::Quiet(Some(Vec::new())));
        checker.frame(t, &Frame { speeds: &[x] });
        checker.frame(t, &Frame { speeds: &[x, x, x] });
        checker.plant(
            t,
            &Plant {
                axes: &[PlantAxis {
                    position: x,
                    speed: x,
                }],
            },
        );
        checker.event(Nanos(i64::MAX), &Event::Tick);
        checker.event(
            t,
            &Event::Changed(Change::Rig, Some(Box::new(facts(n, 50.0)))),
        );
    }
    checker.end(Nanos(i64::MIN));
    assert!(checker.total() > 0);
    let mut checker = World::ready(1, 250.0).check();
    checker.frame(
        Nanos::millis(504),
        &Frame {
            speeds: &[f64::NAN],
        },
    );
    checker.plant(
        Nanos::millis(504),
        &Plant {
            axes: &[PlantAxis {
                position: f64::NAN,
                speed: 0.0,
            }],
        },
    );
    assert!(
        checker.count(Law::Travel) > 0,
        "a position that is no number is not inside"
    );
    assert!(
        checker.count(Law::Ceiling) > 0,
        "a speed that is no number is not under a ceiling"
    );
}
