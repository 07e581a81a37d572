//! Steps and creep as the pads ask for them, on a rig that counts.

use super::bench::*;
use crate::bindings::{Action, Press};
use crate::input::{Button, Control, LinkEvent};
use crate::operator::{Inch, Operator};
use crate::output::{Ceiling, Mover, State, Why};
use crate::rig::Axes;
use crate::time::Span;
use crate::units::Speed;
use std::vec::Vec;

const COUNT: f64 = 0.01;
const RIGHT: Button = Button::DpadRight;
const LEFT: Button = Button::DpadLeft;
const QUIET: Button = Button::North;
const CREEP: f64 = 0.5;

fn inch(plus: bool) -> Action {
    let hand = PAN as u8;
    Action::Inch { hand, plus }
}

fn inching_by(step: f64) -> Operator {
    let mut profile = operator(1);
    profile.hands[PAN].inch = Some(Inch {
        step,
        creep: Speed(CREEP),
    });
    profile.bindings = bound(&[
        (Press::Tap(RIGHT), inch(true)),
        (Press::Tap(LEFT), inch(false)),
        (Press::Held(Button::DpadUp), inch(true)),
        (Press::Tap(QUIET), Action::Quiet),
    ]);
    profile
}

fn bench(step: f64) -> Bench {
    Bench::ready(&[rig("one")], &inching_by(step))
}

fn position(bench: &Bench) -> f64 {
    bench.axis(PAN).position
}

/// Ticks of 3 to 7 ms, in an order that does not repeat with the steps.
#[test]
fn a_hundred_steps_end_within_a_count_in_uneven_ticks() {
    let mut bench = bench(0.1);
    let mut random: u32 = 7;
    for step in 1..=100 {
        bench.tap(DRIVER, RIGHT);
        for _ in 0..150 {
            // Numerical Recipes' "quick and dirty" generator, from memory.
            random = random.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            bench.tick_after(Span::from_micros(3_000 + u64::from(random >> 20)));
        }
        assert!(bench.at_rest(), "step {step} is over");
        let off = position(&bench) - 0.1 * f64::from(step);
        assert!(off.abs() < COUNT, "{off} deg after {step}");
    }
}

/// The way the rig goes while no frame leaves is not part of a step; the next one makes up for it.
#[test]
fn a_step_goes_on_behind_a_gap_in_the_frames() {
    let mut bench = bench(0.1);
    let mut twin = self::bench(0.1);
    for one in [&mut bench, &mut twin] {
        one.tap(DRIVER, RIGHT);
        one.run(60);
    }
    assert!(bench.speed(PAN) > 0.0, "it is on its way");
    for _ in 0..15 {
        bench.tick();
        let seq = bench.frame(0).expect("one each tick").seq;
        bench.link(0, LinkEvent::Unsent(seq));
    }
    while !twin.at_rest() {
        bench.tick();
        twin.tick();
        assert_eq!(bench.speed(PAN), twin.speed(PAN));
    }
    bench.run(40);
    let further = position(&bench) - position(&twin);
    assert!(further > COUNT, "{further}");
    bench.tap(DRIVER, RIGHT);
    bench.run(3_000);
    let off = position(&bench) - 0.2;
    assert!(off.abs() < COUNT, "{off}");
}

#[test]
fn presses_within_a_tick_are_as_many_steps() {
    let mut bench = bench(0.1);
    for _ in 0..3 {
        bench.press(DRIVER, RIGHT);
        bench.lift(DRIVER, RIGHT);
    }
    bench.run(3_000);
    assert!(
        (position(&bench) - 0.1).abs() < 1e-3,
        "the first ones had not begun"
    );
}

#[test]
fn presses_one_after_the_other_are_as_many_steps() {
    let mut bench = bench(0.1);
    for _ in 0..5 {
        bench.tap(DRIVER, RIGHT);
    }
    bench.run(3_000);
    assert!((position(&bench) - 0.5).abs() < COUNT);
    bench.tap(DRIVER, LEFT);
    bench.run(1_000);
    assert!((position(&bench) - 0.4).abs() < COUNT);
}

#[test]
fn kept_down_it_creeps_until_let_go() {
    let mut bench = bench(0.1);
    bench.press(DRIVER, LEFT);
    bench.run(600);
    assert!(
        (position(&bench) + 0.1).abs() < COUNT,
        "one step, then a wait"
    );
    bench.run(2_000);
    let axis = bench.axis(PAN);
    assert_eq!(axis.mover, Mover::Inching);
    assert!((axis.speed + CREEP).abs() < 1e-9, "{}", axis.speed);
    bench.lift(DRIVER, LEFT);
    bench.run(1_000);
    assert!(bench.at_rest());
    assert_eq!(bench.axis(PAN).mover, Mover::Sticks);
}

#[test]
fn a_creep_keeps_under_the_ceilings() {
    let mut profile = inching_by(0.1);
    profile.first_gear = 0;
    profile.hands[PAN].ceiling = Some(Speed(1.0));
    profile.starts_quiet = true;
    let mut bench = Bench::ready(&[rig("one")], &profile);
    bench.press(DRIVER, RIGHT);
    bench.run(3_000);
    assert!(
        (bench.speed(PAN) - 0.25).abs() < 1e-9,
        "quiet leaves a quarter"
    );
}

/// Under way at more than quiet allows: it is cut short and comes to rest.
#[test]
fn a_ceiling_that_falls_cuts_a_step_short() {
    let mut bench = bench(5.0);
    bench.tap(DRIVER, RIGHT);
    while bench.speed(PAN) < 6.0 {
        bench.tick();
    }
    let (before, at) = (bench.speed(PAN), position(&bench));
    bench.tap(DRIVER, QUIET);
    assert!(
        (bench.speed(PAN) - before).abs() < 0.5,
        "without a step in speed"
    );
    bench.run(2_000);
    assert!(bench.at_rest());
    assert!(position(&bench) > at && position(&bench) < 4.9);
    // The next one counts from where it is.
    let from = position(&bench);
    bench.tap(DRIVER, RIGHT);
    bench.run(8_000);
    assert!((position(&bench) - from - 5.0).abs() < COUNT);
}

#[test]
fn a_stick_that_is_pushed_takes_over() {
    let mut bench = bench(5.0);
    bench.tap(DRIVER, RIGHT);
    bench.tap(DRIVER, RIGHT);
    bench.run(300);
    assert_eq!(bench.axis(PAN).mover, Mover::Inching);
    let before = bench.speed(PAN);
    bench.push(Control::Rx, -1.0);
    bench.tick();
    assert_eq!(bench.axis(PAN).mover, Mover::Sticks);
    assert!(
        (bench.speed(PAN) - before).abs() < 0.5,
        "without a step in speed"
    );
    bench.run(1_000);
    assert_eq!(bench.speed(PAN), -FULL);
    bench.push(Control::Rx, 0.0);
    bench.run(2_000);
    assert!(bench.at_rest(), "what waited is forgotten");
}

#[test]
fn it_needs_no_stick_but_no_stop_and_no_rig_missing_either() {
    let mut bench = Bench::with(&[rig("one")], &inching_by(0.1));
    bench.plug(DRIVER);
    bench.tap(DRIVER, RIGHT);
    bench.meet(0);
    bench.run(1_000);
    assert_eq!(position(&bench), 0.0, "asked for without a rig");
    assert_eq!(bench.state(), State::Withheld(Why::Start));
    bench.tap(DRIVER, RIGHT);
    bench.run(1_000);
    assert!(
        (position(&bench) - 0.1).abs() < COUNT,
        "no stick was ever heard of"
    );
    bench.tap(DRIVER, Button::East);
    bench.tap(DRIVER, RIGHT);
    bench.run(1_000);
    assert!((position(&bench) - 0.1).abs() < COUNT);
}

#[test]
fn bound_to_a_held_press_it_steps_as_well() {
    let mut bench = bench(0.1);
    bench.hold(DRIVER, Button::DpadUp);
    bench.run(1_000);
    assert!(
        (position(&bench) - 0.1).abs() < COUNT,
        "{}",
        position(&bench)
    );
}

/// A fine count and a long step: the number in a frame ends at 2.097 deg/s here.
#[test]
fn a_step_is_no_faster_than_the_link_carries() {
    let mut file = rig("one");
    let mut axes: Vec<_> = file.axes.to_vec();
    axes[PAN].counts_per_unit = 1e6;
    file.axes = Axes::new(axes).expect("two");
    let mut bench = Bench::ready(&[file], &inching_by(5.0));
    bench.push(Control::Rx, 1.0);
    bench.run(1_000);
    let link = bench.speed(PAN);
    assert_eq!(bench.axis(PAN).binding, Some(Ceiling::Link));
    bench.push(Control::Rx, 0.0);
    bench.run(1_000);
    let from = position(&bench);
    bench.tap(DRIVER, RIGHT);
    for _ in 0..2_000 {
        bench.tick();
        assert!(bench.speed(PAN) <= link, "{} over {link}", bench.speed(PAN));
    }
    assert!((position(&bench) - from - 5.0).abs() < COUNT);
}
