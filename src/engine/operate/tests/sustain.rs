//! A kept speed as the pads engage and end it.

use super::bench::*;
use crate::bindings::{Action, Press};
use crate::input::{Button, Control};
use crate::output::{Mover, Notice, State};

const KEEP: Button = Button::Thumbr;

/// The pan's full speed is kept, and its stick let go.
fn kept() -> Bench {
    let mut bench = Bench::with_presses(&[(Press::Held(KEEP), Action::Sustain)]);
    bench.push(Control::Rx, 1.0);
    bench.run(1_000);
    bench.hold(DRIVER, KEEP);
    bench.push(Control::Rx, 0.0);
    bench.run(2_000);
    let axis = bench.axis(PAN);
    assert_eq!((axis.speed, axis.mover), (FULL, Mover::Sustain));
    assert_eq!(bench.told_times(ON), 1);
    assert_eq!(bench.told_times(OFF), 0);
    bench
}

const ON: Notice = Notice::Sustain { group: 0, on: true };
const OFF: Notice = Notice::Sustain {
    group: 0,
    on: false,
};

#[test]
fn a_press_of_its_button_ends_it_and_does_nothing_else() {
    let mut bench = kept();
    bench.press(DRIVER, KEEP);
    bench.run(3_000);
    assert!(bench.at_rest(), "kept down it does not engage again");
    assert_eq!((bench.told_times(ON), bench.told_times(OFF)), (1, 1));
}

#[test]
fn the_opposite_stick_ends_it_and_drives_only_after_it_was_let_go() {
    let mut bench = kept();
    bench.push(Control::Rx, -0.7);
    bench.run(3_000);
    assert!(bench.at_rest());
    assert_eq!(bench.told_times(OFF), 1);
    bench.push(Control::Rx, 0.0);
    bench.run(220);
    bench.push(Control::Rx, -1.0);
    bench.run(1_000);
    assert_eq!(bench.speed(PAN), -FULL);
}

#[test]
fn a_lower_gear_lowers_it_for_good() {
    let mut bench = kept();
    bench.tap(DRIVER, Button::Tl);
    bench.run(1_000);
    assert!((bench.speed(PAN) - 2.0).abs() < 1e-9);
    bench.tap(DRIVER, Button::Tr);
    bench.tap(DRIVER, Button::Tr);
    bench.run(2_000);
    assert!((bench.speed(PAN) - 2.0).abs() < 1e-9);
    assert_eq!(bench.axis(PAN).mover, Mover::Sustain);
}

#[test]
fn what_withholds_ends_it() {
    let mut bench = kept();
    bench.tap(DRIVER, Button::East);
    bench.hold(DRIVER, Button::Start);
    bench.let_go();
    assert_eq!(bench.state(), State::Driving);
    bench.run(1_000);
    assert!(bench.at_rest());
    assert_eq!(bench.told_times(OFF), 1);
}

#[test]
fn the_end_of_the_travel_stops_it() {
    let mut bench = kept();
    bench.run(30_000);
    let at = bench.axis(PAN).position;
    assert!(
        bench.speed(PAN).abs() < 1e-3 && at <= 170.0 && at > 169.9,
        "{at}"
    );
}

#[test]
fn at_rest_there_is_nothing_to_keep() {
    let mut bench = Bench::with_presses(&[(Press::Held(KEEP), Action::Sustain)]);
    bench.hold(DRIVER, KEEP);
    bench.run(1_000);
    assert_eq!(bench.told_times(ON), 0);
    assert_eq!(bench.axis(PAN).mover, Mover::Sticks);
}

#[test]
fn two_axes_of_a_group_are_told_once() {
    let mut bench = Bench::with_presses(&[(Press::Held(KEEP), Action::Sustain)]);
    bench.push(Control::Rx, 1.0);
    bench.push(Control::Ry, 1.0);
    bench.run(1_000);
    bench.hold(DRIVER, KEEP);
    assert_eq!(bench.told_times(ON), 1);
    bench.press(DRIVER, KEEP);
    bench.tick();
    assert_eq!(bench.told_times(OFF), 1);
}
