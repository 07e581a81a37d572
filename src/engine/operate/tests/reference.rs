//! References set by hand: what is refused, what is withheld until the rig has answered, and what then counts.

use super::bench::*;
use crate::bindings::{Action, Press};
use crate::input::{Button, Control, Input, LinkEvent, LinkLoss, Order};
use crate::operate::modes::Mode;
use crate::operator::Inch;
use crate::output::{Notice, Place, State, Why};
use crate::reference::{NotReferenced, Reference, Stands};
use crate::rig::{Axes, Rig, Travel};
use crate::time::Span;
use crate::units::Speed;
use std::vec;
use std::vec::Vec;

/// Pan does not know where it stands, its sticks are let go.
fn bench() -> Bench {
    unknown(&[rig("one")])
}

fn unknown(rigs: &[Rig]) -> Bench {
    let mut bench = Bench::with(rigs, &operator(1));
    bench.meet_at(0, 3.0, false);
    bench.plug(DRIVER);
    bench.let_go();
    bench
}

fn asked(at: f64) -> Reference {
    Reference {
        rig: 0,
        axis: PAN as u8,
        at,
        again: false,
    }
}

fn ask(bench: &mut Bench, asked: Reference) -> Vec<Stands> {
    bench.pending.push(Input::Order(Order::Reference(asked)));
    tick(bench)
}

fn hear(bench: &mut Bench, event: LinkEvent) -> Vec<Stands> {
    bench.link(0, event);
    tick(bench)
}

fn met(bench: &mut Bench, position: f64, referenced: bool) -> Vec<Stands> {
    bench.meet_at(0, position, referenced);
    tick(bench)
}

/// What a tick tells of references.
fn tick(bench: &mut Bench) -> Vec<Stands> {
    let stands = |notice| match notice {
        Notice::Reference { stands, .. } => Some(stands),
        _ => None,
    };
    bench.tick().notices.iter().filter_map(stands).collect()
}

#[test]
fn all_is_withheld_until_the_rig_stands_there() {
    let mut bench = bench();
    assert_eq!(bench.state(), State::Driving);
    assert_eq!(ask(&mut bench, asked(20.0)), [Stands::Asked]);
    assert_eq!(bench.state(), State::Withheld(Why::ReferenceAsked));
    // Centred for as long as one likes.
    bench.run(500);
    bench.push(Control::Ry, 1.0);
    bench.run(100);
    assert_eq!(bench.state(), State::Withheld(Why::ReferenceAsked));
    assert!(bench.engine.outputs().rigs[0].axes.iter().all(|a| !a.armed));
    bench.push(Control::Ry, 0.0);
    assert!(hear(&mut bench, LinkEvent::Lost(LinkLoss::Reference)).is_empty());
    assert!(bench.status().reference.is_pending());
    assert_eq!(met(&mut bench, 20.0, true), [Stands::Taken]);
    let axis = bench.axis(PAN);
    assert!(axis.referenced && axis.position == 20.0 && !axis.armed);
    bench.run(300);
    assert_eq!(bench.state(), State::Driving);
    assert_eq!(bench.axis(PAN).place, Place::Inside);
}

#[test]
fn a_rig_that_is_met_elsewhere_did_not_take_it() {
    for (position, referenced) in [(20.1, true), (20.0, false)] {
        let mut bench = bench();
        ask(&mut bench, asked(20.0));
        hear(&mut bench, LinkEvent::Lost(LinkLoss::Restarted));
        assert_eq!(
            met(&mut bench, position, referenced),
            [Stands::Refused(NotReferenced::NotTaken)]
        );
    }
    // Two counts are rounding; and an answer that was lost is one that is seen.
    let mut bench = bench();
    ask(&mut bench, asked(20.0));
    hear(&mut bench, LinkEvent::Lost(LinkLoss::Restarted));
    assert_eq!(met(&mut bench, 20.02, true), [Stands::Taken]);
}

#[test]
fn what_the_rig_refuses_is_over_and_the_sticks_count_again() {
    let mut bench = bench();
    ask(&mut bench, asked(20.0));
    assert_eq!(
        hear(
            &mut bench,
            LinkEvent::NotReferenced(NotReferenced::NoAnswer)
        ),
        [Stands::Refused(NotReferenced::NoAnswer)]
    );
    bench.run(300);
    assert_eq!(bench.state(), State::Driving);
    // Late, of one that is over.
    let late = LinkEvent::NotReferenced(NotReferenced::Moving);
    assert!(hear(&mut bench, late).is_empty());
    assert_eq!(bench.state(), State::Driving);
}

#[test]
fn a_link_that_is_lost_otherwise_ends_it() {
    let mut bench = bench();
    ask(&mut bench, asked(20.0));
    let lost = LinkEvent::Lost(LinkLoss::Unplugged);
    assert_eq!(
        hear(&mut bench, lost),
        [Stands::Refused(NotReferenced::LinkLost)]
    );
    assert!(met(&mut bench, 3.0, false).is_empty());
}

/// However far round an axis goes, a rig counts to 2^31.
#[test]
fn where_a_rig_can_not_count_to_is_refused() {
    let mut endless = rig("one");
    let mut axes = endless.axes.to_vec();
    axes[PAN].travel = Travel::Continuous;
    endless.axes = Axes::new(axes).expect("as many as before");
    let most = 1_073_741_824.0 / endless.axes[PAN].counts_per_unit;
    for (at, stands) in [
        (most, Stands::Asked),
        (-most, Stands::Asked),
        (1.000_001 * most, Stands::Refused(NotReferenced::Outside)),
        (-1.000_001 * most, Stands::Refused(NotReferenced::Outside)),
    ] {
        let mut bench = unknown(&[endless.clone()]);
        assert_eq!(ask(&mut bench, asked(at)), [stands], "{at}");
    }
}

#[test]
fn each_refusal_has_its_reason_and_withholds_nothing() {
    let refused = |prepare: &dyn Fn(&mut Bench), asked: Reference, why| {
        let mut bench = bench();
        prepare(&mut bench);
        let before = bench.state();
        assert_eq!(ask(&mut bench, asked), [Stands::Refused(why)]);
        assert_eq!(bench.state(), before);
        assert!(!bench.status().reference.is_pending());
    };
    let nothing: &dyn Fn(&mut Bench) = &|_| {};
    for at in [170.1, -170.1, f64::NAN, f64::INFINITY, -1e300] {
        refused(nothing, asked(at), NotReferenced::Outside);
    }
    let known: &dyn Fn(&mut Bench) = &|bench| {
        bench.meet_at(0, 3.0, true);
        bench.let_go();
    };
    refused(known, asked(0.0), NotReferenced::Already);
    let rolling: &dyn Fn(&mut Bench) = &|bench| {
        let on = Order::Mode(Mode::Rolling, true);
        bench.pending.push(Input::Order(on));
    };
    refused(rolling, asked(0.0), NotReferenced::Rolling);
    let moving: &dyn Fn(&mut Bench) = &|bench| {
        bench.meet_at(0, 3.0, true);
        bench.let_go();
        bench.push(Control::Rx, 1.0);
        bench.run(50);
        bench.push(Control::Rx, 0.0);
        bench.tick();
    };
    refused(moving, asked(0.0), NotReferenced::Moving);
    let over: &dyn Fn(&mut Bench) = &|bench| {
        bench.push(Control::Rx, 1.0);
        bench.tick();
    };
    refused(over, asked(0.0), NotReferenced::Stick);
    let lost: &dyn Fn(&mut Bench) = &|bench| _ = hear(bench, LinkEvent::Lost(LinkLoss::Silent));
    refused(lost, asked(0.0), NotReferenced::NoLink);
}

/// A stop takes nothing from it, nor it from a stop.
#[test]
fn a_stop_stays_and_does_not_hinder_it() {
    let mut bench = bench();
    bench.tap(DRIVER, Button::East);
    let stopped = bench.state();
    assert!(matches!(stopped, State::Stopped(_)));
    assert_eq!(ask(&mut bench, asked(20.0)), [Stands::Asked]);
    assert_eq!(bench.state(), stopped);
    hear(&mut bench, LinkEvent::Lost(LinkLoss::Reference));
    assert_eq!(met(&mut bench, 20.0, true), [Stands::Taken]);
    assert_eq!(bench.state(), stopped);
}

#[test]
fn one_at_a_time_and_none_of_what_there_is_not() {
    let mut bench = bench();
    ask(&mut bench, asked(20.0));
    let number = bench.status().reference.number;
    assert_eq!(
        ask(&mut bench, asked(21.0)),
        [Stands::Refused(NotReferenced::Busy)]
    );
    let status = bench.status().reference;
    assert_eq!((status.number, status.asked.at), (number, 20.0));
    let odd = [(0, 2), (1, 0), (9, 9)].map(|(rig, axis)| Reference {
        rig,
        axis,
        ..asked(0.0)
    });
    hear(&mut bench, LinkEvent::NotReferenced(NotReferenced::Moving));
    for asked in odd {
        assert_eq!(ask(&mut bench, asked), vec![]);
    }
}

/// No press moves anything, and a rig file that changes what positions mean waits until it is over.
#[test]
fn nothing_that_needs_rest_begins_while_it_is_pending() {
    let mut operator = operator(1);
    operator.hands[PAN].inch = Some(Inch {
        step: 1.0,
        creep: Speed(1.0),
    });
    let step = Action::Inch {
        hand: PAN as u8,
        plus: true,
    };
    operator.bindings = bound(&[(Press::Tap(Button::DpadRight), step)]);
    let mut bench = Bench::with(&[rig("one")], &operator);
    bench.meet_at(0, 3.0, true);
    bench.plug(DRIVER);
    bench.let_go();
    let again = Reference {
        again: true,
        ..asked(20.0)
    };
    assert_eq!(ask(&mut bench, again), [Stands::Asked]);
    let mut file = rig("one");
    file.delay = Span::from_millis(11);
    bench.offered_rig = Some((0, file));
    for _ in 0..100 {
        bench.press(DRIVER, Button::DpadRight);
        bench.tick();
        bench.lift(DRIVER, Button::DpadRight);
        bench.tick();
        assert!(bench.at_rest(), "a press moves it");
    }
    assert_eq!(bench.told_times(Notice::RigApplied(0)), 0);
    hear(&mut bench, LinkEvent::NotReferenced(NotReferenced::Moving));
    bench.tick();
    assert_eq!(bench.told_times(Notice::RigApplied(0)), 1);
}
