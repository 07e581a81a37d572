//! Stops: from any pad, in every state, in the same tick, and what releases them.

use super::bench::*;
use crate::bindings::{Action, Press};
use crate::input::{Button, Control, Input, LinkLoss, PadBus, PadEvent, PadId, StopSource};
use crate::output::{State, Why};
use std::vec::Vec;

/// A bench in each state, with a second pad that may only stop.
fn in_every_state() -> Vec<(Bench, State)> {
    let no_link = Bench::new();
    let mut no_pad = Bench::new();
    no_pad.meet(0);
    let mut withheld = Bench::new();
    withheld.meet(0);
    withheld.plug(DRIVER);
    let mut still = Bench::with_presses(&[(Press::Tap(Button::North), Action::Still)]);
    still.press(DRIVER, Button::North);
    let mut stopped = Bench::driving();
    stopped.stop = Some(StopSource::Command);
    let mut ending = Bench::moving();
    ending.pending.push(Input::End);
    [
        (no_link, State::NoLink(Why::Start)),
        (no_pad, State::NoPad(Why::Start)),
        (withheld, State::Withheld(Why::Start)),
        (Bench::moving(), State::Driving),
        (still, State::Still),
        (stopped, State::Stopped(StopSource::Command)),
        (ending, State::Ending),
    ]
    .into_iter()
    .map(|(mut bench, state)| {
        bench.plug_as(OTHER, PadBus::Bluetooth, false);
        bench.tick();
        assert_eq!(bench.state(), state);
        (bench, state)
    })
    .collect()
}

/// A press and its release within one tick, on a pad that may not even drive.
#[test]
fn a_tap_of_any_pad_stops_in_every_state_within_the_tick() {
    for (mut bench, before) in in_every_state() {
        let speed = bench.speed(PAN);
        bench.press(OTHER, Button::East);
        bench.lift(OTHER, Button::East);
        bench.tick();
        let after = match before {
            State::Stopped(by) => State::Stopped(by),
            State::Ending => State::Ending,
            State::NoLink(_)
            | State::NoPad(_)
            | State::Withheld(_)
            | State::Driving
            | State::Still => State::Stopped(StopSource::Pad(OTHER)),
        };
        assert_eq!(bench.state(), after);
        assert!(speed == 0.0 || bench.speed(PAN) < speed, "from {before:?}");
        bench.push(Control::Rx, 1.0);
        bench.run(1_000);
        assert!(bench.at_rest(), "from {before:?}");
        assert_eq!(bench.state(), after);
    }
}

/// The stop set and nothing softer: 10 deg/s at 2400 deg/s^3 take 2 sqrt(v/j) = 0.129 s.
#[test]
fn a_stop_takes_the_time_of_the_stop_set() {
    let mut bench = Bench::moving();
    bench.stop = Some(StopSource::Command);
    let mut ms = 0;
    while !bench.at_rest() {
        bench.tick();
        ms += 4;
    }
    let closed = 2_000.0 * libm::sqrt(FULL / STOP.jerk.0);
    assert!(
        (f64::from(ms) - closed).abs() <= 12.0,
        "{ms} ms, closed form {closed:.0}"
    );
}

/// The slot is obeyed before everything else of its tick, whatever that says.
#[test]
fn the_stop_slot_comes_before_the_other_inputs_of_its_tick() {
    let mut bench = Bench::moving();
    bench.stop = Some(StopSource::Pad(PadId(7)));
    bench.press(OTHER, Button::East);
    bench.lose(0, LinkLoss::Fault);
    bench.pad(DRIVER, PadEvent::Unplugged);
    bench.tick();
    assert_eq!(bench.state(), State::Stopped(StopSource::Pad(PadId(7))));
    let entered = bench.entered();
    assert_eq!(entered.last().expect("some"), "Stopped(Pad(PadId(7)))");
}

/// A stop button pressed a second time names nobody else, and neither loss nor coming back undoes it.
#[test]
fn a_stop_outlives_pads_and_links_and_names_the_first_who_stopped() {
    let mut bench = Bench::moving();
    bench.plug(OTHER);
    bench.press(DRIVER, Button::East);
    bench.tick();
    let stopped = State::Stopped(StopSource::Pad(DRIVER));
    bench.press(OTHER, Button::East);
    bench.pad(DRIVER, PadEvent::Unplugged);
    bench.tick();
    bench.lose(0, LinkLoss::Unplugged);
    bench.tick();
    bench.meet(0);
    bench.plug(DRIVER);
    bench.let_go();
    assert_eq!(bench.state(), stopped);
}

fn release(bench: &mut Bench, pad: PadId, ms: u64) {
    bench.press(pad, Button::Start);
    bench.run(ms);
    bench.lift(pad, Button::Start);
    bench.tick();
}

#[test]
fn a_release_takes_600_ms_on_the_pad_in_control_with_its_known_sticks_centred() {
    let stopped = || {
        let mut bench = Bench::driving();
        bench.plug(OTHER);
        bench.stop = Some(StopSource::Command);
        bench.tick();
        bench
    };
    let still = State::Stopped(StopSource::Command);

    let mut early = stopped();
    // The press is seen in the first tick of these: 596 ms before the last.
    release(&mut early, DRIVER, 600);
    assert_eq!(early.state(), still, "let go too early");
    release(&mut early, DRIVER, 604);
    assert_eq!(early.state(), State::Withheld(Why::StopReleased));

    let mut other = stopped();
    release(&mut other, OTHER, 2_000);
    assert_eq!(other.state(), still, "not the pad in control");

    let mut over = stopped();
    over.push(Control::Ry, 0.2);
    release(&mut over, DRIVER, 2_000);
    assert_eq!(over.state(), still, "a stick is held over");
    over.push(Control::Ry, 0.0);
    over.run(40);
    assert_eq!(over.state(), still, "start is up");

    let mut unknown = stopped();
    unknown.plug(DRIVER);
    release(&mut unknown, DRIVER, 604);
    assert_eq!(
        unknown.state(),
        State::Withheld(Why::StopReleased),
        "sticks never heard of"
    );
}

/// One press of start releases one stop.
#[test]
fn a_release_kept_down_does_not_release_the_next_stop() {
    let mut bench = Bench::driving();
    bench.stop = Some(StopSource::Command);
    bench.press(DRIVER, Button::Start);
    bench.run(700);
    assert!(!matches!(bench.state(), State::Stopped(_)));
    bench.stop = Some(StopSource::Command);
    bench.run(2_000);
    assert_eq!(bench.state(), State::Stopped(StopSource::Command));
}
