//! The enable control: held while an axis moves that asks for it.

use super::bench::*;
use crate::bindings::{Action, Press};
use crate::input::{Button, Control};
use crate::operator::{Enable, Inch, Operator};
use crate::output::{Enabled, Mover, State};
use crate::rig::{Axes, Rig};
use crate::units::Speed;
use std::vec::Vec;

const HELD: Button = Button::Thumbl;

/// A rig whose pan asks for it.
fn guarded_pan() -> Rig {
    let mut file = rig("one");
    let mut axes: Vec<_> = file.axes.to_vec();
    axes[PAN].needs_enable = true;
    file.axes = Axes::new(axes).expect("two");
    file
}

fn bench(enable: Option<Enable>) -> Bench {
    let operator = Operator {
        enable,
        ..operator(1)
    };
    Bench::ready(&[guarded_pan()], &operator)
}

#[test]
fn without_it_the_axis_stays_and_the_others_move() {
    let mut bench = bench(Some(Enable::Button(HELD)));
    bench.push(Control::Rx, 1.0);
    bench.push(Control::Ry, 1.0);
    bench.run(1_000);
    assert_eq!((bench.speed(PAN), bench.speed(TILT)), (0.0, FULL));
    assert_eq!(bench.axis(PAN).enabled, Enabled::Wanted);
    assert_eq!(bench.axis(TILT).enabled, Enabled::NotNeeded);
}

#[test]
fn pressed_with_the_stick_over_it_moves_nothing_until_that_is_let_go() {
    let mut bench = bench(Some(Enable::Button(HELD)));
    bench.push(Control::Rx, 1.0);
    bench.run(400);
    bench.press(DRIVER, HELD);
    bench.run(3_000);
    assert_eq!(bench.axis(PAN).enabled, Enabled::Held);
    assert!(bench.at_rest(), "the stick was over before");
    bench.push(Control::Rx, 0.0);
    bench.run(220);
    bench.push(Control::Rx, 1.0);
    bench.run(1_000);
    assert_eq!(bench.speed(PAN), FULL);
    // Let go in mid move it comes to rest; pressed again the stick must be let go again.
    bench.lift(DRIVER, HELD);
    bench.run(1_000);
    assert!(bench.at_rest());
    bench.press(DRIVER, HELD);
    bench.run(1_000);
    assert!(bench.at_rest());
}

/// Held before, nothing is in the way.
#[test]
fn held_first_the_stick_drives_at_once() {
    let mut bench = bench(Some(Enable::Button(HELD)));
    bench.press(DRIVER, HELD);
    bench.tick();
    bench.push(Control::Rx, 1.0);
    bench.run(1_000);
    assert_eq!(bench.speed(PAN), FULL);
}

#[test]
fn a_trigger_enables_from_half_its_way_on() {
    let mut bench = bench(Some(Enable::Trigger(Control::Lt)));
    for (pull, enabled) in [(0.49, Enabled::Wanted), (0.5, Enabled::Held)] {
        bench.push(Control::Lt, pull);
        bench.tick();
        assert_eq!(bench.axis(PAN).enabled, enabled, "at {pull}");
    }
}

#[test]
fn it_is_held_on_the_pad_that_drives_the_axis() {
    let mut bench = bench(Some(Enable::Button(HELD)));
    bench.plug(OTHER);
    bench.press(OTHER, HELD);
    bench.push(Control::Rx, 1.0);
    bench.run(1_000);
    assert_eq!(bench.axis(PAN).enabled, Enabled::Wanted);
    assert!(bench.at_rest());
}

#[test]
fn bound_to_nothing_the_axis_never_moves() {
    let mut bench = bench(None);
    for button in Button::ALL {
        if button != Button::East {
            bench.press(DRIVER, button);
        }
    }
    bench.run(1_000);
    bench.let_go();
    bench.push(Control::Rx, 1.0);
    bench.run(1_000);
    assert_eq!(bench.state(), State::Driving);
    assert_eq!(bench.axis(PAN).enabled, Enabled::Unbound);
    assert!(bench.at_rest());
}

#[test]
fn a_step_without_it_is_forgotten_and_one_under_way_ends_with_it() {
    let mut profile = operator(1);
    profile.enable = Some(Enable::Button(HELD));
    profile.hands[PAN].inch = Some(Inch {
        step: 5.0,
        creep: Speed(0.5),
    });
    let right = Action::Inch {
        hand: PAN as u8,
        plus: true,
    };
    profile.bindings = bound(&[(Press::Tap(Button::DpadRight), right)]);
    let mut bench = Bench::ready(&[guarded_pan()], &profile);
    bench.tap(DRIVER, Button::DpadRight);
    bench.press(DRIVER, HELD);
    bench.run(2_000);
    assert_eq!(bench.axis(PAN).position, 0.0, "it was forgotten");
    bench.tap(DRIVER, Button::DpadRight);
    bench.run(300);
    assert_eq!(bench.axis(PAN).mover, Mover::Inching);
    bench.lift(DRIVER, HELD);
    bench.run(2_000);
    bench.press(DRIVER, HELD);
    bench.run(2_000);
    let at = bench.axis(PAN).position;
    assert!(bench.at_rest() && at > 0.1 && at < 4.9, "{at}");
}
