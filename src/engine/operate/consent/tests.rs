//! When a control is armed, to the millisecond.

use super::*;

fn at(ms: u64) -> Time {
    Time(0) + Span::from_millis(ms)
}

/// What a control says, and whether it is armed then: `None` unknown, `Some(true)` centred.
fn told(looks: &[(u64, Option<bool>, bool)]) {
    let mut consent = Consent::default();
    for &(ms, centred, armed) in looks {
        consent.look(at(ms), centred);
        assert_eq!(consent.armed(), armed, "at {ms} ms of {looks:?}");
    }
}

const IN: Option<bool> = Some(true);
const OUT: Option<bool> = Some(false);

#[test]
fn it_takes_200_ms_and_not_199() {
    told(&[(1000, IN, false), (1199, IN, false), (1200, IN, true)]);
}

#[test]
fn a_control_that_was_never_heard_of_is_not_armed() {
    told(&[(0, None, false), (500, None, false), (5000, None, false)]);
    told(&[
        (0, None, false),
        (500, IN, false),
        (699, IN, false),
        (700, IN, true),
    ]);
}

#[test]
fn a_first_value_outside_is_withheld() {
    told(&[
        (0, OUT, false),
        (5000, OUT, false),
        (5001, IN, false),
        (5201, IN, true),
    ]);
}

#[test]
fn a_break_begins_the_time_anew() {
    for away in [OUT, None] {
        told(&[
            (0, IN, false),
            (199, away, false),
            (200, IN, false),
            (399, IN, false),
            (400, IN, true),
        ]);
    }
}

#[test]
fn once_armed_a_push_or_silence_does_not_undo_it() {
    told(&[
        (0, IN, false),
        (200, IN, true),
        (201, OUT, true),
        (900, None, true),
    ]);
}

#[test]
fn withholding_undoes_it_and_its_time() {
    let mut consent = Consent::default();
    consent.look(at(0), IN);
    consent.look(at(300), IN);
    assert!(consent.armed());
    consent = Consent::NONE;
    assert!(!consent.armed());
    // It has been centred for 400 ms, but only 100 of them count.
    consent.look(at(300), IN);
    consent.look(at(400), IN);
    consent.look(at(499), IN);
    assert!(!consent.armed());
    consent.look(at(500), IN);
    assert!(consent.armed());
}
