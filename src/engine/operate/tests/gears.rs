//! Gears: edges within a tick, whose they are, and axes with fewer.

use super::bench::*;
use crate::input::{Button, Control};
use crate::operator::Gears;
use crate::units::Speed;

fn tap(bench: &mut Bench, pad: crate::input::PadId, button: Button) {
    bench.press(pad, button);
    bench.lift(pad, button);
}

#[test]
fn every_press_within_a_tick_counts() {
    let mut bench = Bench::driving();
    assert_eq!(bench.gear(), 1);
    tap(&mut bench, DRIVER, Button::Tl);
    tap(&mut bench, DRIVER, Button::Tr);
    tap(&mut bench, DRIVER, Button::Tr);
    bench.tick();
    assert_eq!(bench.gear(), 2);
    for _ in 0..5 {
        tap(&mut bench, DRIVER, Button::Tl);
    }
    bench.tick();
    assert_eq!(bench.gear(), 0);
}

#[test]
fn a_pad_that_is_not_in_control_shifts_nothing() {
    let mut bench = Bench::driving();
    bench.plug(OTHER);
    tap(&mut bench, OTHER, Button::Tr);
    bench.tick();
    assert_eq!(bench.gear(), 1);
}

#[test]
fn an_axis_with_fewer_gears_stays_in_its_fastest() {
    let mut profile = operator(1);
    profile.hands[TILT].gears = Gears::new(&[Speed(1.0), Speed(4.0)]).expect("rising");
    let mut bench = Bench::with(&[rig("one")], &profile);
    bench.meet(0);
    bench.plug(DRIVER);
    bench.let_go();
    tap(&mut bench, DRIVER, Button::Tr);
    bench.push(Control::Rx, 1.0);
    bench.push(Control::Ry, 1.0);
    bench.run(2_000);
    assert_eq!(
        (bench.gear(), bench.speed(PAN), bench.speed(TILT)),
        (2, 30.0, 4.0)
    );
    assert_eq!(bench.axis(TILT).full_stick, 4.0);
    tap(&mut bench, DRIVER, Button::Tl);
    tap(&mut bench, DRIVER, Button::Tl);
    bench.run(2_000);
    assert_eq!(
        (bench.gear(), bench.speed(PAN), bench.speed(TILT)),
        (0, 2.0, 1.0)
    );
}

/// A first gear beyond the last one is the last one.
#[test]
fn a_first_gear_there_is_not_is_the_fastest() {
    let mut profile = operator(1);
    profile.first_gear = 9;
    let mut bench = Bench::with(&[rig("one")], &profile);
    bench.tick();
    assert_eq!(bench.gear(), 2);
}
