//! Asking, agreeing, passing, forgetting, going.

use super::*;

const A: PadId = PadId(0);
const B: PadId = PadId(1);
const C: PadId = PadId(2);

fn at(ms: u64) -> Time {
    Time(0) + Span::from_millis(ms)
}

/// Two groups, both held by the first pad.
fn held() -> Holders {
    let mut holders = Holders::of(2);
    assert!(holders.fill(A));
    holders
}

#[test]
fn the_first_pad_holds_all_and_the_next_one_nothing() {
    let mut holders = held();
    assert_eq!((holders.holder(0), holders.holder(1)), (Some(A), Some(A)));
    assert_eq!(holders.holder(2), None, "there are only two");
    assert_eq!(holders.holder(200), None);
    assert!(!holders.fill(B), "nothing is left");
    assert!(holders.holds_any(A) && !holders.holds_any(B));
    assert_eq!((holders.first(), holders.count()), (Some(A), 2));
}

#[test]
fn a_group_passes_when_the_holder_agreed_and_all_is_ready() {
    let mut holders = held();
    assert_eq!(holders.ask(at(0), B, 1), Answer::Asked);
    assert_eq!((holders.asking(0), holders.asking(1)), (None, Some(B)));
    assert_eq!(holders.passing(|_, _| true), None, "nobody agreed");
    assert_eq!(holders.ask(at(1), A, 0), Answer::Nothing, "not asked for");
    assert_eq!(holders.ask(at(2), A, 1), Answer::Agreed(B));
    assert_eq!(holders.passing(|_, _| false), None, "it moves");
    assert_eq!(holders.holder(1), Some(A), "until then it is A's");
    let asked = core::cell::Cell::new(None);
    let passing = holders.passing(|group, to| {
        asked.set(Some((group, to)));
        true
    });
    assert_eq!(
        asked.get(),
        Some((1, B)),
        "the one that receives is looked at"
    );
    assert_eq!(passing, Some((1, B)));
    holders.pass(1, B);
    assert_eq!((holders.holder(0), holders.holder(1)), (Some(A), Some(B)));
    assert_eq!(holders.asking(1), None);
    assert_eq!(holders.passing(|_, _| true), None);
    assert_eq!(holders.ask(at(3), B, 1), Answer::Nothing, "it is its own");
}

#[test]
fn a_later_request_takes_the_place_of_an_earlier_one_and_needs_its_own_consent() {
    let mut holders = held();
    holders.ask(at(0), B, 0);
    holders.ask(at(1), A, 0);
    assert_eq!(holders.ask(at(2), C, 0), Answer::Asked);
    assert_eq!(holders.asking(0), Some(C));
    assert_eq!(holders.passing(|_, _| true), None, "A agreed to B");
}

#[test]
fn a_request_is_forgotten_after_15_s_agreed_or_not() {
    for agreed in [false, true] {
        let mut holders = held();
        holders.ask(at(100), B, 1);
        if agreed {
            holders.ask(at(5_000), A, 1);
        }
        assert_eq!(holders.forget(at(15_099)), None);
        assert_eq!(holders.forget(at(15_100)), Some(1));
        assert_eq!(holders.forget(at(15_100)), None, "told once");
        assert_eq!(holders.asking(1), None);
        assert_eq!(holders.ask(at(16_000), A, 1), Answer::Nothing);
    }
    let mut again = held();
    again.ask(at(0), B, 1);
    again.ask(at(10_000), B, 1);
    assert_eq!(again.forget(at(20_000)), None, "asked anew at 10 s");
}

#[test]
fn a_pad_that_is_gone_holds_and_asks_for_nothing() {
    let mut holders = held();
    holders.ask(at(0), B, 0);
    holders.pass(1, C);
    holders.gone(B);
    assert_eq!(holders.asking(0), None);
    holders.gone(A);
    assert_eq!((holders.holder(0), holders.holder(1)), (None, Some(C)));
    assert_eq!(holders.first(), Some(C), "the first that is held");
    assert!(holders.fill(B));
    assert_eq!((holders.holder(0), holders.holder(1)), (Some(B), Some(C)));
}

#[test]
fn a_group_nobody_holds_has_nobody_to_agree() {
    let mut holders = held();
    holders.gone(A);
    assert_eq!(holders.ask(at(0), B, 1), Answer::Asked);
    assert_eq!(holders.passing(|_, _| false), None, "rest is waited for");
    assert_eq!(holders.passing(|_, _| true), Some((1, B)));
}

/// A pad that takes a free group over must be asked, even if the group was free when B asked.
#[test]
fn a_request_for_a_free_group_needs_consent_once_somebody_holds_it() {
    let mut holders = held();
    holders.gone(A);
    holders.ask(at(0), B, 0);
    holders.fill(C);
    assert_eq!(holders.asking(0), Some(B));
    assert_eq!(holders.passing(|_, _| true), None, "C has not agreed");
    assert_eq!(holders.ask(at(1), C, 0), Answer::Agreed(B));
    assert_eq!(holders.passing(|_, _| true), Some((0, B)));
}

#[test]
fn a_group_there_is_not_is_no_group() {
    let mut holders = held();
    assert_eq!(holders.ask(at(0), B, 4), Answer::Nothing);
    holders.pass(255, B);
    assert!(!holders.holds_any(B));
    // One beyond those of this operator is never held, nor passes.
    holders.ask(at(0), B, 3);
    assert_eq!(holders.passing(|_, _| true), None);
    assert_eq!(Holders::of(99).count(), MAX_GROUPS);
}

#[test]
fn asking_again_does_not_take_back_what_was_agreed_to() {
    let mut holders = held();
    holders.ask(at(0), B, 1);
    holders.ask(at(1), A, 1);
    assert_eq!(holders.ask(at(2), B, 1), Answer::Asked);
    assert_eq!(holders.passing(|_, _| true), Some((1, B)));
}
