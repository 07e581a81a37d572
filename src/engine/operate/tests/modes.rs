//! Quiet, still and rolling: on by a tap, off only by what is meant.

use super::bench::*;
use crate::bindings::{Action, Press};
use crate::input::{Button, Control};
use crate::operate::modes::{Mode, Switch};
use crate::output::{Ceiling, Notice, State, Wait, Why};

const QUIET: Button = Button::North;
const ROLLING: Button = Button::West;
const STILL: Button = Button::Select;

fn bench() -> Bench {
    Bench::with_presses(&[
        (Press::Tap(QUIET), Action::Quiet),
        (Press::Tap(ROLLING), Action::Rolling),
        (Press::Tap(STILL), Action::Still),
    ])
}

fn quiet(bench: &Bench) -> Switch {
    bench.status().modes.quiet
}

#[test]
fn quiet_is_a_quarter_and_no_bare_tap_ends_it() {
    let mut bench = bench();
    bench.push(Control::Rx, 1.0);
    bench.run(1_000);
    bench.tap(DRIVER, QUIET);
    assert_eq!(quiet(&bench), Switch::On);
    let axis = bench.axis(PAN);
    assert_eq!(
        (axis.full_stick, axis.binding),
        (FULL / 4.0, Some(Ceiling::Quiet))
    );
    bench.run(2_000);
    assert!((bench.speed(PAN) - FULL / 4.0).abs() < 1e-9);
    for _ in 0..20 {
        bench.tap(DRIVER, QUIET);
        bench.run(40);
    }
    // Kept down for less than 600 ms is a tap.
    bench.press(DRIVER, QUIET);
    bench.run(600);
    bench.lift(DRIVER, QUIET);
    bench.run(800);
    assert_eq!(quiet(&bench), Switch::On);
}

#[test]
fn quiet_kept_down_goes_off_at_once_or_when_the_sticks_are_let_go() {
    let mut bench = bench();
    bench.tap(DRIVER, QUIET);
    bench.hold(DRIVER, QUIET);
    assert_eq!(quiet(&bench), Switch::Off);

    bench.tap(DRIVER, QUIET);
    bench.push(Control::Ry, 1.0);
    bench.hold(DRIVER, QUIET);
    assert_eq!(quiet(&bench), Switch::Leaving);
    assert_eq!(bench.told_times(Notice::ModeWaits(Mode::Quiet)), 1);
    bench.run(1_000);
    assert!((bench.speed(TILT) - FULL / 4.0).abs() < 1e-9, "still quiet");
    bench.push(Control::Ry, 0.0);
    bench.tick();
    assert_eq!(quiet(&bench), Switch::Off);

    // A tap meanwhile says that it is to stay.
    bench.tap(DRIVER, QUIET);
    bench.push(Control::Ry, 1.0);
    bench.hold(DRIVER, QUIET);
    bench.tap(DRIVER, QUIET);
    bench.push(Control::Ry, 0.0);
    bench.run(400);
    assert_eq!(quiet(&bench), Switch::On);
}

#[test]
fn the_press_that_switches_on_does_not_switch_off_however_long_it_lasts() {
    let mut bench = bench();
    for button in [QUIET, ROLLING, STILL] {
        bench.press(DRIVER, button);
        bench.run(3_000);
        bench.lift(DRIVER, button);
    }
    bench.tick();
    let modes = bench.status().modes;
    assert!(modes.quiet.on() && modes.rolling.on() && modes.still.on());
    assert!(!modes.reduced.on());
}

#[test]
fn a_pad_that_holds_nothing_switches_nothing() {
    let mut bench = bench();
    bench.plug(OTHER);
    bench.tap(OTHER, QUIET);
    bench.hold(OTHER, QUIET);
    assert_eq!(quiet(&bench), Switch::Off);
}

#[test]
fn rolling_locks_gears_unless_the_sticks_are_let_go() {
    let mut bench = bench();
    bench.tap(DRIVER, ROLLING);
    bench.push(Control::Ry, 0.3);
    bench.tap(DRIVER, Button::Tr);
    bench.tap(DRIVER, Button::Tl);
    assert_eq!(bench.gear(), 1);
    assert_eq!(bench.told_times(Notice::Locked(Action::GearUp)), 1);
    assert_eq!(bench.told_times(Notice::Locked(Action::GearDown)), 1);
    bench.push(Control::Ry, 0.0);
    bench.tap(DRIVER, Button::Tr);
    assert_eq!(bench.gear(), 2);
}

#[test]
fn rolling_keeps_quiet_and_ends_only_by_being_kept_down() {
    let mut bench = bench();
    bench.tap(DRIVER, QUIET);
    bench.tap(DRIVER, ROLLING);
    bench.hold(DRIVER, QUIET);
    assert_eq!(quiet(&bench), Switch::On);
    assert_eq!(bench.told_times(Notice::Locked(Action::Quiet)), 1);
    for _ in 0..5 {
        bench.tap(DRIVER, ROLLING);
    }
    assert!(bench.status().modes.rolling.on());
    bench.hold(DRIVER, ROLLING);
    assert!(!bench.status().modes.rolling.on());
    bench.hold(DRIVER, QUIET);
    assert_eq!(quiet(&bench), Switch::Off);
}

/// Quiet that only waits for the sticks when the camera begins to roll must not go off in the take.
#[test]
fn quiet_that_was_about_to_go_off_stays_when_the_camera_rolls() {
    let mut bench = bench();
    bench.tap(DRIVER, QUIET);
    bench.push(Control::Rx, 1.0);
    bench.hold(DRIVER, QUIET);
    assert_eq!(quiet(&bench), Switch::Leaving);
    bench.tap(DRIVER, ROLLING);
    bench.push(Control::Rx, 0.0);
    bench.run(1_000);
    assert_eq!(quiet(&bench), Switch::On);
}

#[test]
fn another_operator_waits_until_the_camera_no_longer_rolls() {
    let mut bench = bench();
    bench.tap(DRIVER, ROLLING);
    let mut other = operator(1);
    other.name.push_str(" of another");
    bench.offered = Some(other);
    bench.run(2_000);
    assert_eq!(bench.told_times(Notice::ProfileWaits(Wait::NotRolling)), 1);
    assert_eq!(bench.told_times(Notice::ProfileApplied), 0);
    bench.hold(DRIVER, ROLLING);
    assert_eq!(bench.told_times(Notice::ProfileApplied), 1);
    assert_eq!(bench.state(), State::Withheld(Why::ProfileChanged));
}

#[test]
fn still_comes_to_rest_refuses_every_stick_and_asks_for_consent_anew() {
    let mut bench = bench();
    bench.push(Control::Rx, 1.0);
    bench.run(1_000);
    bench.tap(DRIVER, STILL);
    assert_eq!(bench.state(), State::Still);
    bench.run(1_000);
    assert!(bench.at_rest());
    bench.let_go();
    bench.push(Control::Rx, 1.0);
    for _ in 0..5 {
        bench.tap(DRIVER, STILL);
        bench.run(200);
    }
    assert_eq!(bench.state(), State::Still, "no tap ends it");
    assert!(bench.at_rest());
    bench.hold(DRIVER, STILL);
    assert_eq!(bench.state(), State::Withheld(Why::StillEnded));
    bench.run(1_000);
    assert!(bench.at_rest(), "the stick is held over");
    bench.let_go();
    bench.push(Control::Rx, 1.0);
    bench.run(1_000);
    assert_eq!(bench.speed(PAN), FULL);
}

#[test]
fn still_outlives_a_stop_and_a_lost_link() {
    let mut bench = bench();
    bench.tap(DRIVER, STILL);
    bench.tap(DRIVER, Button::East);
    assert!(matches!(bench.state(), State::Stopped(_)));
    bench.hold(DRIVER, Button::Start);
    assert_eq!(bench.state(), State::Still);
    bench.lose(0, crate::input::LinkLoss::Unplugged);
    bench.tick();
    bench.meet(0);
    bench.let_go();
    assert_eq!(bench.state(), State::Still);
}

/// A profile without a press for a mode that is on would leave no way off.
#[test]
fn a_mode_nobody_can_switch_any_more_goes_off_with_its_press() {
    let mut bench = bench();
    bench.tap(DRIVER, STILL);
    bench.tap(DRIVER, ROLLING);
    assert!(bench.status().modes.still.on() && bench.status().modes.rolling.on());
    bench.offered = Some(operator(1));
    bench.tick();
    let modes = bench.status().modes;
    assert!(!modes.still.on() && !modes.rolling.on());
    assert_eq!(bench.told_times(Notice::Mode(Mode::Still, false)), 1);
    assert_eq!(bench.state(), State::Withheld(Why::ProfileChanged));
}
