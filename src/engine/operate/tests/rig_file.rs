//! Another file of a rig while the daemon runs.

use super::bench::*;
use crate::input::{Button, Control};
use crate::output::{Notice, State, Wait, Why};
use crate::rig::{Axes, Ends, Rig, Travel};
use crate::units::{Pos, Speed};
use std::string::String;
use std::vec::Vec;

/// The rig with its ends and its highest speed here.
fn edited(id: &str, end: f64, speed: f64) -> Rig {
    let mut file = rig(id);
    let mut axes: Vec<_> = file.axes.to_vec();
    for axis in &mut axes {
        axis.travel = Travel::Finite(Ends::new(Pos(-end), Pos(end)).expect("low below high"));
        axis.speed = Speed(speed);
    }
    file.axes = Axes::new(axes).expect("two");
    file
}

#[test]
fn it_waits_for_rest_and_for_the_sticks_and_then_the_rig_is_met_anew() {
    let mut bench = Bench::moving();
    bench.offered_rig = Some((0, edited("one", 30.0, 5.0)));
    bench.run(1_000);
    assert_eq!(bench.told_times(Notice::RigWaits(Wait::RestAndCentred)), 1);
    assert_eq!((bench.state(), bench.speed(PAN)), (State::Driving, FULL));
    // At rest by the stop, but with the stick still over.
    bench.tap(DRIVER, Button::East);
    bench.run(1_000);
    assert!(bench.at_rest());
    assert_eq!(
        bench.told_times(Notice::RigApplied(0)),
        0,
        "the stick is over"
    );
    bench.push(Control::Rx, 0.0);
    bench.tick();
    assert_eq!(bench.told_times(Notice::RigApplied(0)), 1);
    assert!(bench.frame(0).is_none(), "the two have to meet again");
    bench.hold(DRIVER, Button::Start);
    assert!(matches!(bench.state(), State::NoLink(_)));
    bench.meet(0);
    bench.let_go();
    assert_eq!(bench.axis(PAN).full_stick, 5.0);
    bench.push(Control::Rx, 1.0);
    bench.run(20_000);
    let at = bench.axis(PAN).position;
    assert!(at <= 30.0 && at > 29.9, "the new end: {at}");
}

#[test]
fn moving_it_waits_for_rest_too() {
    let mut bench = Bench::moving();
    bench.offered_rig = Some((0, edited("one", 90.0, 60.0)));
    bench.push(Control::Rx, 0.0);
    bench.tick();
    while !bench.at_rest() {
        assert_eq!(bench.told_times(Notice::RigApplied(0)), 0);
        bench.tick();
    }
    bench.tick();
    assert_eq!(bench.told_times(Notice::RigApplied(0)), 1);
    assert_eq!(bench.state(), State::NoLink(Why::RigChanged));
}

#[test]
fn another_rig_takes_a_new_start() {
    let mut bench = Bench::driving();
    let mut other = rig("one");
    other.id = String::from("another");
    bench.offered_rig = Some((0, other));
    bench.tick();
    bench.offered_rig = Some((3, rig("one")));
    bench.tick();
    assert_eq!(bench.told_times(Notice::RigRefused(0)), 1);
    assert_eq!(bench.told_times(Notice::RigRefused(3)), 1, "no such rig");
    bench.run(400);
    assert_eq!(bench.told_times(Notice::RigApplied(0)), 0);
    assert_eq!(bench.state(), State::Driving);
}

#[test]
fn the_same_file_again_changes_nothing() {
    let mut bench = Bench::driving();
    bench.offered_rig = Some((0, rig("one")));
    bench.run(400);
    assert_eq!(bench.state(), State::Driving);
    assert!(bench.frame(0).is_some());
}

/// Taken back while it waits, an edit must not come into force after all.
#[test]
fn an_edit_taken_back_while_it_waits_is_gone() {
    let mut bench = Bench::moving();
    bench.offered_rig = Some((0, edited("one", 30.0, 5.0)));
    bench.run(100);
    bench.offered_rig = Some((0, rig("one")));
    bench.run(100);
    bench.push(Control::Rx, 0.0);
    bench.run(1_000);
    assert_eq!(bench.told_times(Notice::RigApplied(0)), 0);
    assert_eq!(bench.state(), State::Driving);
    assert_eq!(bench.axis(PAN).full_stick, FULL);
}

#[test]
fn a_newer_edit_takes_the_place_of_one_that_waits() {
    let mut bench = Bench::moving();
    for speed in [5.0, 7.0] {
        bench.offered_rig = Some((0, edited("one", 170.0, speed)));
        bench.run(100);
    }
    bench.push(Control::Rx, 0.0);
    bench.run(1_000);
    bench.meet(0);
    bench.let_go();
    assert_eq!(bench.told_times(Notice::RigApplied(0)), 1);
    assert_eq!(bench.axis(PAN).full_stick, 7.0);
}

#[test]
fn edits_of_two_rigs_wait_side_by_side() {
    let mut bench = Bench::ready(&[rig("one"), rig("two")], &operator(2));
    bench.push(Control::Rx, 1.0);
    bench.run(400);
    for (place, id) in [(0, "one"), (1, "two")] {
        bench.offered_rig = Some((place, edited(id, 90.0, 5.0)));
        bench.run(100);
    }
    bench.push(Control::Rx, 0.0);
    bench.run(1_000);
    for place in [0, 1] {
        assert_eq!(
            bench.told_times(Notice::RigApplied(place)),
            1,
            "rig {place}"
        );
        bench.meet(place);
    }
    bench.let_go();
    let full = |rig: usize| bench.axis_of(rig, PAN).full_stick;
    assert_eq!((full(0), full(1)), (5.0, 5.0));
}
