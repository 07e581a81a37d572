//! Pads: places reused, one too many, values that are none, and who is in control.

use super::bench::*;
use crate::MAX_PADS;
use crate::input::{Button, Control, Input, Order, PadBus, PadEvent, PadId};
use crate::operate::modes::Mode;
use crate::output::{Notice, State, Why};
use crate::time::Span;

#[test]
fn a_place_given_to_another_pad_remembers_nothing() {
    let mut bench = Bench::moving();
    bench.press(DRIVER, Button::Start);
    bench.pad(DRIVER, PadEvent::Unplugged);
    bench.tick();
    assert_eq!(bench.state(), State::NoPad(Why::PadLost));
    bench.plug(DRIVER);
    bench.run(2_000);
    assert!(bench.at_rest() && !bench.axis(PAN).armed);
    // The button that the first one held is not held on this one.
    bench.stop = Some(crate::input::StopSource::Command);
    bench.run(2_000);
    assert!(matches!(bench.state(), State::Stopped(_)));
}

#[test]
fn control_passes_to_the_first_pad_that_may_drive() {
    let mut bench = Bench::new();
    bench.meet(0);
    bench.plug_as(PadId(0), PadBus::Usb, false);
    bench.tick();
    assert_eq!(
        (bench.state(), bench.in_control()),
        (State::NoPad(Why::Start), None)
    );
    bench.plug(PadId(5));
    bench.plug(PadId(2));
    bench.tick();
    assert_eq!(bench.in_control(), Some(PadId(5)), "first come");
    bench.pad(PadId(5), PadEvent::Unplugged);
    bench.tick();
    assert_eq!(bench.in_control(), Some(PadId(2)));
    assert_eq!(bench.state(), State::Withheld(Why::PadLost));
    bench.pad(PadId(2), PadEvent::Unplugged);
    bench.tick();
    assert_eq!(
        (bench.state(), bench.in_control()),
        (State::NoPad(Why::PadLost), None)
    );
}

/// The unplug of the pad in control was missed, and the one that comes in its place may not drive.
#[test]
fn a_pad_that_may_not_drive_is_never_in_control() {
    let mut bench = Bench::moving();
    bench.plug_as(DRIVER, PadBus::Usb, false);
    bench.tick();
    assert_eq!(bench.in_control(), None);
    assert_eq!(bench.state(), State::NoPad(Why::PadLost));
    bench.push(Control::Rx, 0.0);
    bench.run(300);
    bench.push(Control::Rx, 1.0);
    bench.run(1_000);
    assert!(bench.at_rest());

    let mut bench = Bench::moving();
    bench.plug(OTHER);
    bench.plug_as(DRIVER, PadBus::Usb, false);
    bench.tick();
    assert_eq!(bench.in_control(), Some(OTHER), "the next one takes over");
    assert_eq!(bench.state(), State::Withheld(Why::PadLost));
}

#[test]
fn one_pad_too_many_is_told_and_not_heard() {
    let mut bench = Bench::moving();
    for pad in [MAX_PADS as u8, 200, 255] {
        let pad = PadId(pad);
        bench.heard.clear();
        bench.plug(pad);
        bench.pad(pad, PadEvent::Moved(Control::Rx, -1.0));
        bench.run(100);
        assert!(bench.heard.contains(&Notice::TooManyPads));
        assert_eq!((bench.speed(PAN), bench.in_control()), (FULL, Some(DRIVER)));
    }
    for pad in 1..MAX_PADS as u8 {
        bench.heard.clear();
        bench.plug(PadId(pad));
        bench.tick();
        assert!(!bench.heard.contains(&Notice::TooManyPads), "pad {pad}");
    }
}

#[test]
fn what_is_no_number_changes_nothing_and_is_no_sign_of_life() {
    for nonsense in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        let mut bench = Bench::moving();
        bench.push(Control::Rx, nonsense);
        bench.push(Control::Ry, nonsense);
        bench.run(400);
        assert_eq!((bench.speed(PAN), bench.speed(TILT)), (FULL, 0.0));

        let mut first = Bench::new();
        first.meet(0);
        first.plug(DRIVER);
        first.push(Control::Rx, nonsense);
        first.run(1_000);
        assert!(!first.axis(PAN).armed, "it is still unknown");
    }
}

#[test]
fn values_beyond_the_stick_are_a_full_stick() {
    let mut bench = Bench::driving();
    bench.push(Control::Rx, 1e300);
    bench.push(Control::Ry, -7.0);
    bench.run(1_000);
    assert_eq!((bench.speed(PAN), bench.speed(TILT)), (FULL, -FULL));
}

/// Events of a pad that is not plugged in mean nothing, its stop button among them: the shell gives a
/// pad its place before anything else.
#[test]
fn a_pad_that_is_not_there_says_nothing() {
    let mut bench = Bench::moving();
    bench.pad(OTHER, PadEvent::Moved(Control::Rx, -1.0));
    bench.press(OTHER, Button::Tr);
    bench.pad(OTHER, PadEvent::Alive);
    bench.pad(OTHER, PadEvent::Unplugged);
    bench.run(400);
    assert_eq!((bench.state(), bench.speed(PAN)), (State::Driving, FULL));
}

/// A pad that turns out to stream is missed after 0.3 s however slow the motion, and what it was connected by
/// counts again once it no longer streams. Neither is a sign of life.
#[test]
fn a_pad_that_streams_is_missed_at_once() {
    let mut bench = Bench::new();
    bench.meet(0);
    bench.plug_as(DRIVER, PadBus::Usb, true);
    bench.let_go();
    bench.push(Control::Rx, 0.3);
    bench.run(1_000);
    let speed = bench.speed(PAN);
    let turns = |bench: &mut Bench, bus| {
        bench.pad(DRIVER, PadEvent::Alive);
        bench.tick();
        bench.run(96);
        bench.heard.clear();
        bench.pad(DRIVER, PadEvent::Bus(bus));
        bench.tick();
    };
    turns(&mut bench, PadBus::Streaming);
    bench.run(48);
    assert!(bench.heard.is_empty(), "{:?}", bench.heard);
    bench.tick();
    let left = Span::from_millis(148);
    let near = Notice::SilenceNear { pad: DRIVER, left };
    assert_eq!(bench.heard, [near], "half of 0.3 s after its last word");
    bench.run(144);
    assert_eq!((bench.state(), bench.speed(PAN)), (State::Driving, speed));
    bench.tick();
    assert_eq!(bench.state(), State::Withheld(Why::PadSilent));
    assert!(bench.speed(PAN) < speed);
    // It is none that streams any more, and still has to speak before anything counts.
    bench.run(1_000);
    bench.pad(DRIVER, PadEvent::Bus(PadBus::Usb));
    bench.run(1_000);
    assert_eq!(bench.state(), State::Withheld(Why::PadSilent));

    bench.let_go();
    bench.push(Control::Rx, 0.3);
    turns(&mut bench, PadBus::Streaming);
    turns(&mut bench, PadBus::Usb);
    bench.run(4_000);
    assert_eq!(bench.state(), State::Driving, "ten seconds by cable");
}

/// An axis that comes to rest after `still` is one that moves: with its pad gone it stops, and nothing else is told.
#[test]
fn a_pad_that_is_gone_while_still_brakes_is_a_loss() {
    let rest = |gone: bool| {
        let mut bench = Bench::new();
        bench.meet(0);
        bench.plug_as(DRIVER, PadBus::Streaming, true);
        let lives = |bench: &mut Bench, ms: u64| {
            for _ in 0..ms / 100 {
                bench.pad(DRIVER, PadEvent::Alive);
                bench.run(100);
            }
        };
        lives(&mut bench, 500);
        bench.push(Control::Rx, 0.0);
        lives(&mut bench, 500);
        bench.push(Control::Rx, 1.0);
        lives(&mut bench, 1_500);
        assert_eq!(bench.speed(PAN), FULL);
        if gone {
            // 280 ms since its last word: 20 to go.
            bench.run(180);
        }
        assert_eq!(bench.state(), State::Driving);
        let still = Input::Order(Order::Mode(Mode::Still, true));
        bench.pending.push(still);
        let mut ticks = 0;
        while !bench.at_rest() {
            if !gone {
                bench.pad(DRIVER, PadEvent::Alive);
            }
            bench.tick();
            ticks += 1;
        }
        assert_eq!(bench.state(), State::Still);
        ticks
    };
    let (kept, lost) = (rest(false), rest(true));
    assert!(lost * 2 < kept, "{lost} ticks against {kept}");
}

/// 10 deg/s are 3 s of silence by Bluetooth; any event counts, half of it is told once.
#[test]
fn a_silent_pad_is_told_of_at_half_its_bound_and_stopped_at_the_bound() {
    let mut bench = Bench::new();
    bench.meet(0);
    bench.plug_as(DRIVER, PadBus::Bluetooth, true);
    bench.let_go();
    bench.push(Control::Rx, 1.0);
    bench.run(1_000);
    let alive = |bench: &mut Bench| {
        bench.pad(DRIVER, PadEvent::Alive);
        bench.tick();
        bench.heard.clear();
    };
    alive(&mut bench);
    bench.run(1_496);
    assert!(bench.heard.is_empty(), "{:?}", bench.heard);
    bench.run(1_496);
    assert_eq!(bench.heard.len(), 1, "told once: {:?}", bench.heard);
    alive(&mut bench);
    bench.run(2_996);
    assert_eq!(bench.speed(PAN), FULL);
    bench.tick();
    assert_eq!(bench.state(), State::Withheld(Why::PadSilent));
    assert!(bench.speed(PAN) < FULL);
}
