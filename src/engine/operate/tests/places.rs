//! Axes outside their travel, and axes that do not know where they are.

use super::bench::*;
use crate::input::{Button, Control};
use crate::operator::{Enable, Operator};
use crate::output::{Ceiling, Enabled, Notice, Place, State, Why};

const HELD: Button = Button::Thumbl;
const END: f64 = 170.0;

/// Met there, in the fastest gear, with something to enable.
fn bench(position: f64, referenced: bool) -> Bench {
    let operator = Operator {
        enable: Some(Enable::Button(HELD)),
        ..operator(1)
    };
    let mut bench = Bench::with(&[rig("one")], &operator);
    bench.meet_at(0, position, referenced);
    bench.plug(DRIVER);
    bench.let_go();
    bench.tap(DRIVER, Button::Tr);
    assert_eq!(bench.gear(), 2);
    bench
}

#[test]
fn outside_it_moves_inward_only() {
    for side in [1.0, -1.0] {
        let mut bench = bench(side * (END + 5.0), true);
        assert_eq!(bench.axis(PAN).place, Place::Outside);
        bench.push(Control::Rx, side);
        for _ in 0..500 {
            bench.tick();
            assert_eq!(bench.speed(PAN), 0.0, "outward");
        }
        bench.push(Control::Rx, -side);
        bench.run(200);
        assert!(bench.speed(PAN) * side < 0.0, "inward");
    }
}

/// It is slow until its stick was let go inside: nothing becomes faster by itself.
#[test]
fn outside_it_is_reduced_until_its_stick_was_let_go_inside() {
    let mut bench = bench(END + 5.0, true);
    bench.push(Control::Rx, -1.0);
    while bench.axis(PAN).position > END - 20.0 {
        bench.tick();
        let axis = bench.axis(PAN);
        assert!(axis.speed >= -10.0 && axis.full_stick == 10.0, "{axis:?}");
        assert_eq!(axis.binding, Some(Ceiling::Reduced));
    }
    bench.push(Control::Rx, 0.0);
    bench.run(20);
    assert_eq!(bench.axis(PAN).place, Place::Inside);
    bench.push(Control::Rx, -1.0);
    bench.run(1_500);
    assert_eq!(bench.speed(PAN), -30.0);
}

/// Three counts are within what landing and reading are off by.
#[test]
fn a_few_counts_beyond_the_end_are_not_outside() {
    let at = |position: f64| bench(position, true).axis(PAN).place;
    assert_eq!(at(END + 0.029), Place::Inside);
    assert_eq!(at(END + 0.031), Place::Outside);
    assert_eq!(at(-END - 0.029), Place::Inside);
    assert_eq!(at(-END - 0.031), Place::Outside);
}

#[test]
fn unreferenced_it_moves_only_while_enabled_and_only_reduced() {
    let mut bench = bench(END - 5.0, false);
    let axis = bench.axis(PAN);
    assert_eq!(
        (axis.place, axis.enabled),
        (Place::Unreferenced, Enabled::Wanted)
    );
    bench.push(Control::Rx, 1.0);
    bench.run(1_000);
    assert!(bench.at_rest(), "not enabled");
    bench.push(Control::Rx, 0.0);
    bench.press(DRIVER, HELD);
    bench.run(220);
    bench.push(Control::Rx, 1.0);
    for _ in 0..500 {
        bench.tick();
        assert!(bench.speed(PAN) <= 10.0);
    }
    assert_eq!((bench.speed(PAN), bench.axis(PAN).full_stick), (10.0, 10.0));
    // Its travel is not guarded: the number means nothing.
    assert!(bench.axis(PAN).position > END);
    bench.lift(DRIVER, HELD);
    bench.run(1_000);
    assert!(bench.at_rest());
}

#[test]
fn a_reference_that_is_found_withholds_and_guards_from_then_on() {
    let mut bench = bench(0.0, false);
    bench.press(DRIVER, HELD);
    bench.tick();
    bench.push(Control::Rx, 1.0);
    bench.run(1_000);
    bench.heard.clear();
    let seq = bench.frame(0).expect("one each tick").seq;
    bench.told(seq, 100.0);
    bench.tick();
    assert_eq!(bench.state(), State::Withheld(Why::Reference));
    bench.run(1_000);
    assert!(bench.at_rest());
    let inside = Notice::Place {
        rig: 0,
        axis: PAN as u8,
        place: Place::Inside,
    };
    bench.let_go();
    assert_eq!(bench.told_times(inside), 1);
    assert!((bench.axis(PAN).position - 100.0).abs() < 2.0);
    assert_eq!(bench.axis(PAN).enabled, Enabled::NotNeeded);
    bench.push(Control::Rx, 1.0);
    bench.run(10_000);
    let at = bench.axis(PAN).position;
    assert!(at <= END && at > END - 0.1, "{at}");
}
