//! Errands as pads begin and end them.

use super::bench::*;
use crate::errand::{
    Errand, ErrandEnd, ErrandError, ErrandNews, LONGEST, Leg, MOST_LEGS, Purpose, Refusal,
};
use crate::input::{Button, Control, Input, Order, PadBus, PadEvent};
use crate::operate::modes::Mode;
use crate::operator::Enable;
use crate::output::{Mover, Notice, State, Why};
use crate::rig::LimitSet;
use crate::time::Span;
use crate::units::{Accel, Jerk, Speed};
use std::vec;
use std::vec::Vec;

const UP: Button = Button::DpadUp;
const SET: LimitSet = LimitSet {
    accel: Accel(60.0),
    jerk: Jerk(300.0),
};

fn leg(axis: usize, at_ms: u64, speed: f64) -> Leg {
    Leg {
        rig: 0,
        axis: axis as u8,
        at: Span::from_millis(at_ms),
        drives: Span::from_millis(1_000),
        speed: Speed(speed.abs()),
        plus: speed > 0.0,
        set: SET,
    }
}

fn errand(keep: bool, legs: Vec<Leg>) -> Errand {
    Errand::new(Purpose::Check, Enable::Button(UP), keep, legs).expect("it can be")
}

fn news(news: ErrandNews) -> Notice {
    Notice::Errand(Purpose::Check, news)
}

/// One is offered and its press held long enough.
fn begun(errand: Errand) -> Bench {
    let mut bench = Bench::with_presses(&[]);
    bench.push(Control::Rx, 0.0);
    bench.run(300);
    bench.errand = Some(errand);
    bench.run(100);
    bench.press(DRIVER, UP);
    bench.run(612);
    assert_eq!(bench.told_times(news(ErrandNews::Begun)), 1);
    bench
}

#[test]
fn legs_begin_at_their_times_and_end_at_rest() {
    let mut bench = begun(errand(
        false,
        vec![leg(PAN, 0, 4.0), leg(TILT, 2_000, -3.0)],
    ));
    let from = bench.now;
    let (mut began, mut pan, mut tilt) = (Vec::new(), 0.0, 0.0);
    while bench.told_times(news(ErrandNews::Done)) == 0 {
        let told = bench.heard.len();
        bench.tick();
        pan += bench.speed(PAN) * 0.004;
        tilt += bench.speed(TILT) * 0.004;
        assert!(bench.axis(PAN).accel.abs() <= SET.accel.0 * (1.0 + 1e-9));
        for heard in &bench.heard[told..] {
            if let Notice::Errand(_, ErrandNews::Leg(place)) = heard {
                began.push((*place, bench.now.since(from).0 / 1_000_000));
            }
        }
        assert!(
            bench.now.since(from) < Span::from_millis(5_000),
            "never done"
        );
    }
    assert!(bench.at_rest());
    // The first one began before the loop looked; the second one at its time, to a turn.
    assert!(
        matches!(began[..], [(1, at)] if (1_980..=2_004).contains(&at)),
        "{began:?}"
    );
    // As much is lost while the speed is gained as is added while it is lost; a tick either way.
    assert!(
        (pan - 4.0).abs() < 0.02 && (tilt + 3.0).abs() < 0.02,
        "{pan} {tilt}"
    );
    assert!(
        bench.engine.retired_errand().is_some(),
        "its box comes back"
    );
}

#[test]
fn silence_is_bounded_and_a_wiggle_renews_it() {
    let long = Leg {
        drives: Span::from_millis(30_000),
        ..leg(PAN, 0, 4.0)
    };
    let mut bench = Bench::with_presses(&[]);
    bench.pad(DRIVER, PadEvent::Unplugged);
    let (bus, drives) = (PadBus::Bluetooth, true);
    bench.pad(DRIVER, PadEvent::Plugged { bus, drives });
    bench.push(Control::Rx, 0.0);
    bench.run(300);
    bench.errand = Some(errand(false, vec![long]));
    bench.run(100);
    bench.press(DRIVER, UP);
    bench.run(612);
    bench.lift(DRIVER, UP);
    bench.run(6_000);
    assert_eq!(bench.speed(PAN), 4.0);
    bench.pad(DRIVER, PadEvent::Alive);
    // 30 degrees at 4 deg/s are 7.5 s.
    bench.run(7_000);
    assert_eq!(bench.speed(PAN), 4.0);
    bench.run(1_500);
    assert!(bench.at_rest(), "it went on with nobody there");
    assert_eq!(
        bench.told_times(news(ErrandNews::Ended(ErrandEnd::Withheld))),
        1
    );
}

/// A trigger that is pulled since before an errand was offered does not begin it, though the pad was silent
/// meanwhile.
#[test]
fn a_press_that_a_silent_pad_kept_is_no_new_one() {
    let (bus, drives) = (PadBus::Bluetooth, true);
    let by_trigger = || {
        let press = Enable::Trigger(Control::Lt);
        Errand::new(Purpose::Check, press, false, vec![leg(PAN, 0, 4.0)]).expect("it can be")
    };
    let mut bench = Bench::with_presses(&[]);
    bench.pad(DRIVER, PadEvent::Unplugged);
    bench.pad(DRIVER, PadEvent::Plugged { bus, drives });
    bench.push(Control::Rx, 0.0);
    bench.run(300);
    bench.push(Control::Lt, 1.0);
    bench.push(Control::Rx, 1.0);
    bench.run(20_000);
    let silent = Notice::Entered(State::Withheld(Why::PadSilent));
    assert_eq!(bench.told_times(silent), 1);
    bench.errand = Some(by_trigger());
    bench.run(100);
    bench.push(Control::Rx, 0.0);
    bench.run(1_500);
    let begun = |bench: &Bench| bench.told_times(news(ErrandNews::Begun));
    assert_eq!(begun(&bench), 0);
    bench.push(Control::Lt, 0.0);
    bench.run(100);
    bench.push(Control::Lt, 1.0);
    bench.run(612);
    assert_eq!(begun(&bench), 1);
}

#[test]
fn a_leg_is_no_faster_than_its_axis_may_go_and_never_slower_than_asked() {
    let mut bench = begun(errand(false, vec![leg(PAN, 0, FULL + 0.1)]));
    assert_eq!(
        bench.told_times(news(ErrandNews::Ended(ErrandEnd::Ceiling))),
        1
    );
    bench.run(1_000);
    assert!(bench.at_rest());
    let bench = begun(errand(false, vec![leg(PAN, 0, FULL)]));
    assert_eq!(bench.told_times(news(ErrandNews::Leg(0))), 1);
}

#[test]
fn nothing_else_moves_the_rig_meanwhile() {
    use crate::bindings::{Action, Press};
    let mut bench = Bench::with_presses(&[(Press::Held(Button::Thumbr), Action::Sustain)]);
    bench.push(Control::Rx, 0.0);
    bench.run(300);
    let mut long = leg(PAN, 0, 4.0);
    long.drives = Span::from_millis(3_000);
    bench.errand = Some(errand(false, vec![long]));
    bench.run(100);
    bench.press(DRIVER, UP);
    bench.run(1_000);
    bench.hold(DRIVER, Button::Thumbr);
    assert_eq!(bench.axis(PAN).mover, Mover::Errand);
    bench.run(4_000);
    assert!(bench.at_rest(), "its speed was kept");
}

#[test]
fn what_withholds_motion_asks_for_the_press_anew() {
    let mut bench = Bench::with_presses(&[]);
    bench.push(Control::Rx, 0.0);
    bench.run(300);
    bench.errand = Some(errand(false, vec![leg(PAN, 0, 4.0)]));
    bench.run(100);
    bench.press(DRIVER, UP);
    bench.run(400);
    bench
        .pending
        .push(Input::Order(Order::Mode(Mode::Still, true)));
    bench.run(100);
    bench
        .pending
        .push(Input::Order(Order::Mode(Mode::Still, false)));
    bench.run(2_000);
    assert_eq!(
        bench.told_times(news(ErrandNews::Begun)),
        0,
        "kept down all the while"
    );
    bench.lift(DRIVER, UP);
    bench.run(100);
    bench.press(DRIVER, UP);
    bench.run(612);
    assert_eq!(bench.told_times(news(ErrandNews::Begun)), 1);
}

#[test]
fn never_two_at_once() {
    let mut bench = begun(errand(false, vec![leg(PAN, 0, 4.0)]));
    bench.errand = Some(errand(false, vec![leg(TILT, 0, 4.0)]));
    bench.run(300);
    assert_eq!(
        bench.told_times(news(ErrandNews::Refused(Refusal::Busy))),
        1
    );
    assert_eq!(
        (bench.axis(PAN).mover, bench.speed(TILT)),
        (Mover::Errand, 0.0)
    );
}

#[test]
fn legs_that_can_not_be_are_no_errand() {
    let of =
        |legs: Vec<Leg>| Errand::new(Purpose::Check, Enable::Button(UP), false, legs).map(|_| ());
    let good = leg(PAN, 0, 1.0);
    assert_eq!(of(vec![]), Err(ErrandError::Legs(0)));
    let short = |n: usize| Leg {
        at: Span(n as u64),
        drives: Span(1),
        ..good
    };
    let many = |count| of((0..count).map(short).collect());
    assert_eq!(many(MOST_LEGS), Ok(()));
    assert_eq!(many(MOST_LEGS + 1), Err(ErrandError::Legs(MOST_LEGS + 1)));
    for speed in [0.0, -0.0, f64::NAN, f64::INFINITY] {
        let bad = Leg {
            speed: Speed(speed),
            ..good
        };
        assert_eq!(of(vec![good, bad]), Err(ErrandError::Number(1)), "{speed}");
    }
    assert_eq!(
        of(vec![good, leg(PAN, 999, 1.0)]),
        Err(ErrandError::Order(1))
    );
    assert_eq!(of(vec![good, leg(PAN, 1_000, 1.0)]), Ok(()));
    let late = Leg {
        at: LONGEST,
        ..good
    };
    assert_eq!(of(vec![late]), Err(ErrandError::TooLong(0)));
    let just = Leg {
        at: Span(LONGEST.0 - good.drives.0),
        ..good
    };
    assert_eq!(of(vec![just]), Ok(()));
    assert_eq!(of(vec![leg(8, 0, 1.0)]), Err(ErrandError::Axis(0)));
}
