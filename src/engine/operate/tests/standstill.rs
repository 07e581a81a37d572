//! Motors that hold with less current in `still`: nothing moves before the rig told that all have their full one.

use super::bench::*;
use crate::bindings::{Action, Press};
use crate::current::Current;
use crate::input::{Button, Control, Input, LinkEvent, LinkLoss, Order};
use crate::operate::modes::Mode;
use crate::output::{State, Why};
use crate::rig::{Axes, Axis, Rig};
use std::vec::Vec;

const STILL: Button = Button::Select;

/// A rig whose pan may hold with less current.
fn eased() -> Rig {
    let mut rig = rig("one");
    let mut axes: Vec<Axis> = rig.axes.iter().cloned().collect();
    axes[PAN].may_lower_current = true;
    rig.axes = Axes::new(axes).expect("as many as before");
    rig
}

fn bench_with(rig: Rig) -> Bench {
    let operator = crate::operator::Operator {
        bindings: bound(&[(Press::Tap(STILL), Action::Still)]),
        ..operator(1)
    };
    Bench::ready(&[rig], &operator)
}

fn current(bench: &Bench) -> Current {
    bench.engine.outputs().rigs[0].current
}

fn order(bench: &mut Bench, on: bool) {
    let order = Order::Mode(Mode::Still, on);
    bench.pending.push(Input::Order(order));
    bench.tick();
}

/// In `still`, at rest, the motors weak for a second.
fn weak() -> Bench {
    let mut bench = bench_with(eased());
    order(&mut bench, true);
    assert_eq!(
        (bench.state(), current(&bench)),
        (State::Still, Current::MayBeLow)
    );
    bench.run(1_000);
    assert_eq!(current(&bench), Current::MayBeLow);
    bench
}

fn full(bench: &mut Bench) {
    bench.link(0, LinkEvent::FullCurrent);
    bench.tick();
}

/// Lets time pass with sticks that are let go and then pushed, and asserts that nothing moves.
fn nothing_moves(bench: &mut Bench) {
    for value in [0.0, 1.0] {
        bench.push(Control::Rx, value);
        for _ in 0..200 {
            let outputs = bench.tick();
            let frame = outputs.rigs[0].frame;
            assert!(frame.is_none_or(|frame| frame.velocity == [0; crate::MAX_AXES]));
            assert_ne!(bench.state(), State::Driving);
        }
    }
}

#[test]
fn nothing_moves_after_still_before_the_rig_told_of_the_full_current() {
    let mut bench = weak();
    order(&mut bench, false);
    assert!(!bench.status().modes.still.on());
    assert_eq!(
        (bench.state(), current(&bench)),
        (State::Still, Current::Awaited)
    );
    nothing_moves(&mut bench);
    // What was pushed meanwhile moves nothing: it has to be let go first.
    full(&mut bench);
    assert_eq!(bench.state(), State::Withheld(Why::StillEnded));
    assert_eq!(current(&bench), Current::Full);
    bench.run(1_000);
    assert!(bench.at_rest());
    bench.let_go();
    assert_eq!(bench.state(), State::Driving);
    bench.push(Control::Rx, 1.0);
    bench.run(1_000);
    assert_eq!(bench.speed(PAN), FULL);
}

#[test]
fn only_what_is_at_rest_may_be_weak() {
    let mut bench = bench_with(eased());
    bench.push(Control::Ry, 1.0);
    bench.run(1_000);
    order(&mut bench, true);
    let mut turns = 0;
    while !bench.at_rest() {
        assert_eq!(current(&bench), Current::Full);
        bench.tick();
        turns += 1;
    }
    assert!(turns > 10, "it takes its time to come to rest");
    bench.tick();
    assert_eq!(current(&bench), Current::MayBeLow);
}

/// Without a word in the rig file, and in everything but `still`, motors keep their full current.
#[test]
fn nothing_is_weak_without_the_file_or_without_still() {
    let mut bench = bench_with(rig("one"));
    order(&mut bench, true);
    bench.run(100);
    assert_eq!(
        (bench.state(), current(&bench)),
        (State::Still, Current::Full)
    );
    order(&mut bench, false);
    assert_eq!(bench.state(), State::Withheld(Why::StillEnded));

    let mut bench = bench_with(eased());
    bench.run(1_000);
    assert_eq!(current(&bench), Current::Full);
    bench.stop = Some(crate::input::StopSource::Command);
    bench.run(1_000);
    assert_eq!(current(&bench), Current::Full);
    bench.lose(0, LinkLoss::Silent);
    order(&mut bench, true);
    assert_eq!(current(&bench), Current::Full, "there is nobody to ask");
}

/// A stop, its release, a pad that goes and comes, the end: whatever happens meanwhile, the way to motion leads
/// past the telling.
#[test]
fn no_way_leads_round_the_telling() {
    type Does<'a> = &'a dyn Fn(&mut Bench);
    let stop: Does<'_> = &|bench| {
        bench.stop = Some(crate::input::StopSource::Command);
        bench.tick();
        bench.let_go();
        bench.hold(DRIVER, Button::Start);
    };
    let pad: Does<'_> = &|bench| {
        bench.pad(DRIVER, crate::input::PadEvent::Unplugged);
        bench.run(100);
        bench.plug(DRIVER);
        bench.let_go();
    };
    for (what, happens) in [("stop", stop), ("pad", pad)] {
        for first in [true, false] {
            let mut bench = weak();
            if first {
                happens(&mut bench);
                order(&mut bench, false);
            } else {
                order(&mut bench, false);
                happens(&mut bench);
            }
            assert_eq!(bench.state(), State::Still, "{what}");
            assert_eq!(current(&bench), Current::Awaited, "{what}");
            nothing_moves(&mut bench);
            full(&mut bench);
            assert_eq!(bench.state(), State::Withheld(Why::StillEnded), "{what}");
        }
    }
}

/// A pad that falls asleep in room tone makes no motor heard; a stop does.
#[test]
fn a_pad_that_goes_leaves_them_weak_and_a_stop_does_not() {
    let mut bench = weak();
    bench.pad(DRIVER, crate::input::PadEvent::Unplugged);
    bench.run(1_000);
    assert!(matches!(bench.state(), State::NoPad(_)));
    assert_eq!(current(&bench), Current::MayBeLow);
    bench.stop = Some(crate::input::StopSource::Command);
    bench.tick();
    assert_eq!(current(&bench), Current::Awaited);
}

#[test]
fn still_again_lets_them_be_weak_again_and_a_late_telling_means_nothing() {
    let mut bench = weak();
    order(&mut bench, false);
    order(&mut bench, true);
    assert_eq!(current(&bench), Current::MayBeLow);
    full(&mut bench);
    assert_eq!(
        (bench.state(), current(&bench)),
        (State::Still, Current::MayBeLow)
    );
}

/// A rig that is met anew has its full current: it takes no setup on less.
#[test]
fn a_lost_link_begins_anew() {
    let mut bench = weak();
    bench.lose(0, LinkLoss::Unplugged);
    bench.tick();
    assert_eq!(current(&bench), Current::Full);
    order(&mut bench, false);
    bench.meet(0);
    bench.tick();
    assert!(matches!(bench.state(), State::Withheld(_)));
    assert_eq!(current(&bench), Current::Full);
}
