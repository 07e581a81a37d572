use super::*;
use crate::profile::{builtin, load_operator, load_rig};
use stillhand_engine::bindings::Action;
use stillhand_engine::errand::Refusal;
use stillhand_engine::input::StopSource;
use stillhand_engine::operate::modes::Switch;
use stillhand_engine::time::Span;

fn operator(shakes: Shakes) -> Operator {
    let rig = load_rig(&builtin::BENCH_RIG.source()).expect("shipped").rig;
    let talk = load_operator(&builtin::TALK.source()).expect("shipped");
    Operator {
        shakes,
        ..talk.resolve(std::slice::from_ref(&rig)).expect("it fits")
    }
}

/// The second pad holds the first group.
fn status() -> Status {
    let mut status = Status::at_start(State::Driving);
    status.groups[0].pad = Some(PadId(1));
    status
}

#[test]
fn what_happens_is_felt_by_whom_it_is_about() {
    let (operator, status) = (operator(Shakes::NotInQuiet), status());
    let holder = Pads::one(PadId(1));
    let of = |notice| felt(notice, &status, &operator);
    for (notice, shake, pads) in [
        (
            Notice::Entered(State::Stopped(StopSource::Command)),
            Shake::Stopped,
            Pads::ALL,
        ),
        (
            Notice::Entered(State::Withheld(Why::StopReleased)),
            Shake::Withheld,
            holder,
        ),
        (
            Notice::GroupWithheld {
                group: 0,
                why: Why::PadSilent,
            },
            Shake::Withheld,
            holder,
        ),
        (
            Notice::SilenceNear {
                pad: PadId(4),
                left: Span::from_millis(900),
            },
            Shake::SilenceNear,
            Pads::one(PadId(4)),
        ),
        (
            Notice::TravelEnd { rig: 0, axis: 2 },
            Shake::EndNear,
            holder,
        ),
        (Notice::Locked(Action::NextOperator), Shake::Refused, holder),
        (Notice::ProfileApplied, Shake::Applied, holder),
    ] {
        assert_eq!(of(notice), Some((shake, pads)), "{notice:?}");
    }
    // An operator change is one message and not two.
    assert_eq!(
        of(Notice::Entered(State::Withheld(Why::ProfileChanged))),
        None
    );
    // Nobody drives it, so nobody is told.
    assert_eq!(of(Notice::TravelEnd { rig: 0, axis: 7 }), None);
    assert_eq!(of(Notice::Entered(State::Driving)), None);
}

#[test]
fn pads_keep_still_in_quiet_unless_asked() {
    let mut status = status();
    let all = [Shakes::Never, Shakes::NotInQuiet, Shakes::Always];
    let may = |status: &Status| all.map(|shakes| may(status, &operator(shakes)));
    assert_eq!(may(&status), [false, true, true]);
    status.modes.quiet = Switch::On;
    assert_eq!(may(&status), [false, false, true]);
    status.modes.quiet = Switch::Leaving;
    assert_eq!(may(&status), [false, false, true]);
    status.modes.quiet = Switch::Off;
    status.modes.still = Switch::On;
    assert_eq!(may(&status), [false, false, true]);
}

/// A hand that has begun moves, and has its eyes on the picture, is told when they are over.
#[test]
fn moves_that_were_begun_are_felt_to_arrive() {
    let (operator, status) = (operator(Shakes::NotInQuiet), status());
    let of = |purpose, news| felt(Notice::Errand(purpose, news), &status, &operator);
    let holder = Pads::one(PadId(1));
    let all = [Purpose::Survey, Purpose::Directions, Purpose::Check];
    for purpose in all {
        // Nothing shakes while a survey listens.
        let arrived = (purpose != Purpose::Survey).then_some((Shake::Arrived, holder));
        assert_eq!(of(purpose, ErrandNews::Done), arrived, "{purpose:?}");
        for why in [
            ErrandEnd::Rolling,
            ErrandEnd::Ceiling,
            ErrandEnd::Travel,
            ErrandEnd::CalledOff,
        ] {
            let short = of(purpose, ErrandNews::Ended(why));
            assert_eq!(short, Some((Shake::Refused, holder)), "{why:?}");
        }
        for own in [ErrandEnd::Stick, ErrandEnd::LetGo, ErrandEnd::Withheld] {
            assert_eq!(of(purpose, ErrandNews::Ended(own)), None, "{own:?}");
        }
        let refused = of(purpose, ErrandNews::Refused(Refusal::Rolling));
        assert_eq!(refused, Some((Shake::Refused, holder)));
        for begins in [ErrandNews::Begun, ErrandNews::Leg(0)] {
            assert_eq!(of(purpose, begins), None);
        }
    }
}

/// No two feel alike, and none is longer than a second.
#[test]
fn shakes_are_short_and_told_apart() {
    for (place, one) in Shake::ALL.into_iter().enumerate() {
        let long: u16 = one.pattern().iter().map(|p| p.ms + p.pause_ms).sum();
        assert!((60..=600).contains(&long), "{one:?}: {long} ms");
        for other in &Shake::ALL[..place] {
            assert_ne!(one.pattern(), other.pattern(), "{one:?} and {other:?}");
            assert!(*other < one, "the more urgent first");
        }
    }
}

/// The table above is what the motors do.
#[test]
fn the_table_is_that_of_the_code() {
    let page = include_str!("../shake.rs");
    for shake in Shake::ALL {
        let row = format!("//! | `{}` | {} | ", shake.name(), shake.text());
        assert!(page.contains(&row), "{row}");
    }
    let rows = page.lines().filter(|line| line.starts_with("//! | `"));
    assert_eq!(rows.count(), Shake::ALL.len());
}
