//! Groups of axes on several pads: what passes, what is lost, and what goes on meanwhile.

use super::bench::*;
use crate::bindings::{Action, Press};
use crate::engine::{Engine, EngineError};
use crate::input::{Button, Control, PadBus, PadEvent, PadId};
use crate::operator::{Groups, Inch, Operator};
use crate::output::{Mover, Notice, State, Why};
use crate::time::Span;
use crate::units::Speed;
use std::string::String;
use std::vec;

const HEAD: u8 = 0;
const SLIDE: u8 = 1;
const ASK: Button = Button::Select;

#[test]
fn a_hand_drives_an_axis_and_a_group_there_is_and_no_axis_twice() {
    let rigs = [rig("one")];
    let of = |change: fn(&mut Operator)| {
        let mut profile = operator(1);
        change(&mut profile);
        Engine::new(&rigs, &profile, Span::from_millis(4)).map(|_| ())
    };
    assert_eq!(of(|_| {}), Ok(()));
    let bad = Err(EngineError::Hand(1));
    assert_eq!(of(|profile| profile.hands[1].group = 1), bad);
    assert_eq!(of(|profile| profile.hands[1].rig = 1), bad);
    assert_eq!(of(|profile| profile.hands[1].axis = 99), bad);
    let twice = |profile: &mut Operator| profile.hands[1].axis = profile.hands[0].axis;
    assert_eq!(of(twice), Err(EngineError::AxisTwice(1)));
}

/// Rig one is the first group, by the right stick; rig two the second, by the left one.
fn profile() -> Operator {
    let names = ["head", "slide"].map(String::from);
    let mut profile = operator(2);
    profile.groups = Groups::new(names.to_vec()).expect("two");
    for hand in &mut profile.hands {
        hand.group = hand.rig;
    }
    let inch = Action::Inch {
        hand: 2,
        plus: true,
    };
    profile.bindings = bound(&[
        (Press::Held(ASK), Action::Control { group: SLIDE }),
        (Press::Tap(Button::DpadRight), inch),
    ]);
    profile
}

fn rigs() -> [crate::rig::Rig; 2] {
    [rig("one"), rig("two")]
}

/// The other pad is there too, its sticks let go; the driver holds all.
fn two_pads(profile: &Operator, bus: PadBus) -> Bench {
    let mut bench = Bench::ready(&rigs(), profile);
    bench.plug_as(OTHER, bus, true);
    for control in [Control::Lx, Control::Ly] {
        bench.pad(OTHER, PadEvent::Moved(control, 0.0));
    }
    bench.run(220);
    bench
}

/// The other pad asked for the second group and has got it.
fn shared(profile: &Operator, bus: PadBus) -> Bench {
    let mut bench = two_pads(profile, bus);
    bench.hold(OTHER, ASK);
    bench.hold(DRIVER, ASK);
    assert_eq!(holder(&bench, SLIDE), Some(OTHER));
    bench.run(220);
    bench
}

/// Both groups at full speed, each by its pad.
fn both_moving(bus: PadBus) -> Bench {
    let mut bench = shared(&profile(), bus);
    bench.push(Control::Rx, 1.0);
    bench.pad(OTHER, PadEvent::Moved(Control::Lx, 1.0));
    bench.run(1_000);
    assert_eq!(speeds(&bench), (FULL, FULL));
    bench.heard.clear();
    bench
}

fn holder(bench: &Bench, group: u8) -> Option<PadId> {
    bench.status().groups[usize::from(group)].pad
}

fn speeds(bench: &Bench) -> (f64, f64) {
    (bench.axis_of(0, PAN).speed, bench.axis_of(1, PAN).speed)
}

#[test]
fn control_passes_asked_for_and_agreed_at_rest_with_the_receiving_stick_let_go() {
    let mut bench = two_pads(&profile(), PadBus::Wired);
    bench.push(Control::Rx, 1.0);
    bench.push(Control::Lx, 1.0);
    bench.pad(OTHER, PadEvent::Moved(Control::Lx, 0.5));
    bench.run(1_000);
    bench.hold(OTHER, ASK);
    let (group, pad) = (SLIDE, OTHER);
    assert_eq!(bench.told_times(Notice::Asks { group, pad }), 1);
    assert_eq!(bench.status().groups[1].asked, Some(OTHER));
    bench.hold(DRIVER, ASK);
    assert_eq!(bench.told_times(Notice::Agreed { group, pad }), 1);
    assert_eq!(holder(&bench, SLIDE), Some(DRIVER), "it moves");
    bench.push(Control::Lx, 0.0);
    bench.run(1_000);
    assert_eq!(speeds(&bench), (FULL, 0.0));
    assert_eq!(
        holder(&bench, SLIDE),
        Some(DRIVER),
        "the other's stick is over"
    );
    bench.pad(OTHER, PadEvent::Moved(Control::Lx, 0.0));
    bench.tick();
    assert_eq!(holder(&bench, SLIDE), Some(OTHER));
    assert_eq!(holder(&bench, HEAD), Some(DRIVER));
    let why = Why::ControlPassed;
    assert_eq!(bench.told_times(Notice::GroupWithheld { group, why }), 1);
    // The first group went on all the while.
    assert_eq!(
        (bench.state(), speeds(&bench)),
        (State::Driving, (FULL, 0.0))
    );
    bench.run(220);
    bench.push(Control::Lx, -1.0);
    bench.pad(OTHER, PadEvent::Moved(Control::Lx, 1.0));
    bench.pad(OTHER, PadEvent::Moved(Control::Rx, -1.0));
    bench.run(1_000);
    assert_eq!(speeds(&bench), (FULL, FULL), "each pad drives its own");
}

#[test]
fn a_request_nobody_answers_is_forgotten() {
    let mut bench = two_pads(&profile(), PadBus::Wired);
    bench.hold(OTHER, ASK);
    bench.run(14_900);
    assert_eq!(bench.told_times(Notice::AskForgotten(SLIDE)), 0);
    bench.run(200);
    assert_eq!(bench.told_times(Notice::AskForgotten(SLIDE)), 1);
    bench.hold(DRIVER, ASK);
    assert_eq!(holder(&bench, SLIDE), Some(DRIVER));
}

#[test]
fn a_pad_that_may_not_drive_asks_in_vain() {
    let mut bench = Bench::ready(&rigs(), &profile());
    bench.plug_as(OTHER, PadBus::Wired, false);
    bench.hold(OTHER, ASK);
    bench.hold(DRIVER, ASK);
    bench.run(400);
    assert_eq!(bench.status().groups[1].asked, None);
    assert_eq!(holder(&bench, SLIDE), Some(DRIVER));
}

#[test]
fn one_pad_lost_leaves_the_other_group_driving() {
    for (lost, group) in [(OTHER, SLIDE), (DRIVER, HEAD)] {
        let mut bench = both_moving(PadBus::Wired);
        bench.pad(lost, PadEvent::Unplugged);
        let mut ms = 0;
        let own = |bench: &Bench| match group {
            HEAD => speeds(bench),
            _ => (speeds(bench).1, speeds(bench).0),
        };
        while own(&bench).0 != 0.0 {
            bench.tick();
            ms += 4;
            assert_eq!(own(&bench).1, FULL, "the other goes on");
        }
        assert!((100..=140).contains(&ms), "the stop set takes 129 ms: {ms}");
        let why = Why::PadLost;
        assert_eq!(bench.told_times(Notice::GroupWithheld { group, why }), 1);
        assert_eq!(
            (bench.state(), holder(&bench, group)),
            (State::Driving, None)
        );
        bench.run(1_000);
        assert_eq!(own(&bench), (0.0, FULL));
        // Whoever is plugged in gets what is free, and drives it after consent.
        bench.plug(PadId(5));
        bench.run(1_000);
        assert_eq!(holder(&bench, group), Some(PadId(5)));
        assert_eq!(own(&bench), (0.0, FULL));
    }
}

/// 30 deg/s may be silent for 2 s by Bluetooth.
#[test]
fn a_silent_pad_stops_its_own_group_and_is_told_of_once() {
    let mut bench = shared(&profile(), PadBus::Bluetooth);
    bench.tap(OTHER, Button::Tr);
    bench.push(Control::Rx, 1.0);
    bench.pad(OTHER, PadEvent::Moved(Control::Lx, 1.0));
    bench.run(1_500);
    assert_eq!(speeds(&bench), (FULL, 30.0));
    bench.heard.clear();
    bench.run(3_000);
    assert_eq!(
        (bench.state(), speeds(&bench)),
        (State::Driving, (FULL, 0.0))
    );
    let (group, why) = (SLIDE, Why::PadSilent);
    assert_eq!(bench.told_times(Notice::GroupWithheld { group, why }), 1);
    assert_eq!(bench.heard.len(), 1, "{:?}", bench.heard);
}

/// The axes of the second group are only inched: no stick of theirs is ever armed.
#[test]
fn a_step_goes_on_while_the_pad_of_the_other_group_is_lost() {
    let mut profile = profile();
    for hand in profile.hands.iter_mut().filter(|h| h.group == SLIDE) {
        hand.control = None;
        hand.inch = Some(Inch {
            step: 4.0,
            creep: Speed(0.5),
        });
    }
    let mut bench = shared(&profile, PadBus::Wired);
    bench.tap(OTHER, Button::DpadRight);
    bench.run(400);
    assert_eq!(bench.axis_of(1, PAN).mover, Mover::Inching);
    bench.pad(DRIVER, PadEvent::Unplugged);
    let mut before = bench.axis_of(1, PAN).speed;
    bench.plug(PadId(5));
    for control in [Control::Rx, Control::Ry] {
        bench.pad(PadId(5), PadEvent::Moved(control, 0.0));
    }
    for _ in 0..1_000 {
        bench.tick();
        let speed = bench.axis_of(1, PAN).speed;
        assert!(
            (speed - before).abs() < 0.5,
            "{before} to {speed} in a tick"
        );
        before = speed;
    }
    let at = bench.axis_of(1, PAN).position;
    assert!((at - 4.0).abs() < 0.01, "{at}");
}

#[test]
fn gears_are_those_of_the_groups_a_pad_holds() {
    let mut bench = shared(&profile(), PadBus::Wired);
    bench.tap(OTHER, Button::Tl);
    bench.tap(DRIVER, Button::Tr);
    let gears = bench.status().groups.map(|group| group.gear);
    assert_eq!(gears[..2], [2, 0]);
    let expected = vec![
        Notice::Gear {
            group: SLIDE,
            gear: 0,
        },
        Notice::Gear {
            group: HEAD,
            gear: 2,
        },
    ];
    assert!(bench.heard.ends_with(&expected), "{:?}", bench.heard);
}

/// An end of the slide is asked for by the pad that holds it, and by no other.
#[test]
fn only_the_pad_that_holds_an_axis_sets_its_end() {
    let mut profile = profile();
    profile.bindings = bound(&[
        (Press::Held(ASK), Action::Control { group: SLIDE }),
        (Press::Held(Button::Thumbl), Action::EndHere { hand: 2 }),
    ]);
    let mut bench = shared(&profile, PadBus::Wired);
    let asked = Notice::EndHere { rig: 1, axis: 0 };
    bench.hold(DRIVER, Button::Thumbl);
    assert_eq!(bench.told_times(asked), 0);
    bench.hold(OTHER, Button::Thumbl);
    assert_eq!(bench.told_times(asked), 1);
}
