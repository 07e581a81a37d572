//! Where the rig is: by what really left, when it left, and what the rig told.

use super::bench::*;
use crate::input::{Control, LinkEvent};
use crate::output::{State, Why};
use crate::time::Span;

fn position(bench: &Bench) -> f64 {
    bench.axis(PAN).position
}

/// A frame that did not leave moves nothing: the rig goes on under the one before.
#[test]
fn frames_that_did_not_leave_are_not_counted() {
    let mut bench = Bench::driving();
    bench.push(Control::Rx, 1.0);
    for _ in 0..20 {
        bench.tick();
        let seq = bench.frame(0).expect("one each tick").seq;
        bench.link(0, LinkEvent::Unsent(seq));
    }
    // The last of them is known to be unsent only in the tick after it.
    bench.tick();
    assert!(bench.speed(PAN) > 0.0, "it has asked for motion");
    assert_eq!(position(&bench), 0.0, "nothing of it left");
    let before = position(&bench);
    bench.run(40);
    assert!(position(&bench) > before, "what left since counts");
}

/// Time in which no frame leaves changes no speed: what comes next goes on from the last that left.
#[test]
fn a_gap_in_the_frames_is_followed_by_no_jump() {
    let mut bench = Bench::driving();
    let mut twin = Bench::driving();
    for one in [&mut bench, &mut twin] {
        one.push(Control::Rx, 1.0);
        one.run(100);
    }
    for _ in 0..15 {
        bench.tick();
        let seq = bench.frame(0).expect("one each tick").seq;
        bench.link(0, LinkEvent::Unsent(seq));
    }
    for tick in 0..100 {
        bench.tick();
        twin.tick();
        assert_eq!(bench.speed(PAN), twin.speed(PAN), "{tick} ticks later");
    }
}

/// No frame left for longer than the rig's watchdog waits, though one was made each tick: the rig has begun to
/// stop, and what speed was still to be gained was not.
#[test]
fn a_gap_longer_than_the_watchdog_ends_a_gain() {
    let mut bench = Bench::driving();
    bench.push(Control::Rx, 1.0);
    bench.run(96);
    let before = bench.speed(PAN);
    bench.tick();
    let step = bench.speed(PAN) - before;
    let last = bench.speed(PAN);
    for _ in 0..40 {
        bench.tick();
        let seq = bench.frame(0).expect("one each tick").seq;
        bench.link(0, LinkEvent::Unsent(seq));
    }
    bench.tick();
    let gained = bench.speed(PAN) - last;
    assert!(gained < 0.2 * step, "{gained}, {step}");
}

/// Where one of them left late, the rig goes by that one from then on, should the next not leave either.
#[test]
fn a_late_frame_is_what_the_next_gap_goes_on_from() {
    let mut bench = Bench::driving();
    bench.push(Control::Rx, 1.0);
    bench.run(100);
    let before = bench.speed(PAN);
    bench.tick();
    let first = bench.frame(0).expect("one each tick").seq;
    let late = bench.speed(PAN);
    assert!(late > before, "it gains");
    bench.link(0, LinkEvent::Unsent(first));
    bench.link(0, LinkEvent::SentLate(first, bench.now));
    bench.tick();
    let next = bench.frame(0).expect("one each tick").seq;
    assert_eq!(bench.speed(PAN), late, "the same step again");
    bench.link(0, LinkEvent::Unsent(next));
    bench.tick();
    let step = late - before;
    let gained = bench.speed(PAN) - late;
    assert!(
        gained > 0.9 * step && gained < 1.1 * step,
        "{gained}, {step}"
    );
}

/// One that left late counts from the moment it left.
#[test]
fn a_frame_that_left_late_counts_from_then_on() {
    let mut bench = Bench::driving();
    bench.push(Control::Rx, 1.0);
    bench.run(100);
    let seq = bench.frame(0).expect("one each tick").seq;
    let (v, from) = (bench.speed(PAN), position(&bench));
    let old = (position(&bench) - {
        let mut twin = Bench::driving();
        twin.push(Control::Rx, 1.0);
        twin.run(96);
        position(&twin)
    }) / 0.004;
    bench.link(0, LinkEvent::Unsent(seq));
    // It leaves 1 ms after the tick in which it was made: 3 ms of the next tick are its.
    let left = bench.now + Span::from_millis(1);
    bench.link(0, LinkEvent::SentLate(seq, left));
    bench.tick();
    let way = position(&bench) - from;
    assert!(v > old, "{v} is faster than {old}");
    // The wire's quantum is 1/1024 count/s: 1e-5 deg/s, over 4 ms.
    let expected = old * 0.001 + v * 0.003;
    // `old` is the mean of a tick, off by less than a tick's gain of speed.
    let gained = v - old;
    assert!(
        (way - expected).abs() <= gained * 0.001 + 1e-7,
        "{way}, not {expected}"
    );
    assert!(
        way < v * 0.004 - gained * 0.0005,
        "it did not count for the whole tick"
    );
}

/// A frame so old that nobody remembers it changes nothing.
#[test]
fn a_late_frame_that_is_not_remembered_changes_nothing() {
    for seq in [0, 1, u32::MAX] {
        let mut bench = Bench::moving();
        let mut twin = Bench::moving();
        let late = bench.now + Span::from_millis(1);
        bench.link(0, LinkEvent::SentLate(seq, late));
        bench.link(0, LinkEvent::Unsent(seq.wrapping_sub(7)));
        bench.tick();
        twin.tick();
        assert_eq!(position(&bench), position(&twin), "frame {seq}");
    }
}

/// What a telling of this difference, in degrees, does to a rig that has not moved.
fn told_off_by(off: f64) -> (State, f64) {
    let mut bench = Bench::driving();
    let seq = bench.frame(0).expect("one each tick").seq;
    bench.tick();
    bench.told(seq, off);
    bench.tick();
    (bench.state(), position(&bench))
}

/// A residual over 1 degree at rest withholds; less than that is taken over bit by bit.
#[test]
fn a_residual_over_tolerance_withholds_and_a_small_one_is_taken_over() {
    let count = 0.01;
    assert_eq!(
        told_off_by(count),
        (State::Driving, 0.0),
        "a count is no difference"
    );
    let (state, at) = told_off_by(0.5);
    assert_eq!(state, State::Driving);
    // A quarter of what is beyond a count.
    assert!((at - 0.25 * (0.5 - count)).abs() < 1e-9, "{at}");
    let (state, _) = told_off_by(0.999);
    assert_eq!(state, State::Driving);
    let (state, _) = told_off_by(-1.001);
    assert_eq!(state, State::Withheld(Why::Residual { rig: 0, axis: 0 }));
}

/// Tellings of frames that were never sent, are long forgotten, or of none at all.
#[test]
fn a_telling_of_an_unknown_frame_says_nothing() {
    for applied in [0, 1, 2_000_000, u32::MAX] {
        let mut bench = Bench::driving();
        bench.run(2_000);
        bench.told(applied, 90.0);
        bench.tick();
        assert_eq!(
            (bench.state(), position(&bench)),
            (State::Driving, 0.0),
            "frame {applied}"
        );
    }
}

/// While the axis moves, a frame may be as early or late as it stays valid: 0.1 s of its speed.
#[test]
fn a_moving_axis_may_be_off_by_a_tenth_of_a_second_more() {
    for (off, state) in [
        (1.9, State::Driving),
        (2.1, State::Withheld(Why::Residual { rig: 0, axis: 0 })),
    ] {
        let mut bench = Bench::driving();
        bench.push(Control::Rx, 1.0);
        bench.push(Control::Ry, 1.0);
        bench.run(1_000);
        let (seq, at) = (bench.frame(0).expect("one each tick").seq, position(&bench));
        bench.tick();
        bench.told(seq, at + off);
        bench.tick();
        assert_eq!(bench.state(), state, "{off} deg off at {FULL} deg/s");
    }
}
