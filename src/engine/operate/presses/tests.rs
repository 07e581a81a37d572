//! Tap, held, and with another button, to the millisecond.

use super::*;
use crate::bindings::{Binding, Press};

const TL: Button = Button::Tl;
const NORTH: Button = Button::North;

/// The stop by east, its release by start held, and these.
fn bound(more: &[(Press, Action)]) -> Bindings {
    let own = [
        (Press::Tap(Button::East), Action::Stop),
        (Press::Held(Button::Start), Action::Release),
    ];
    let all = own.iter().chain(more);
    let list = all.map(|&(press, action)| Binding { press, action });
    Bindings::new(list.collect(), 1).expect("they go together")
}

fn at(ms: u64) -> Time {
    Time(0) + Span::from_millis(ms)
}

#[test]
fn a_tap_that_nothing_else_could_become_acts_as_the_button_goes_down() {
    let bindings = bound(&[(Press::Tap(NORTH), Action::GearUp)]);
    let mut presses = Presses::none();
    assert_eq!(
        presses.down(at(0), NORTH, &bindings),
        Some(Pressed::Tap(Action::GearUp))
    );
    assert_eq!(presses.due(at(5_000), &bindings), None);
    assert_eq!(presses.up(NORTH, &bindings), None, "and only then");
    let stop = presses.down(at(5_001), Button::East, &bindings);
    assert_eq!(stop, Some(Pressed::Tap(Action::Stop)));
    assert_eq!(presses.down(at(5_002), TL, &bindings), None, "not bound");
    assert_eq!(presses.up(TL, &bindings), None);
}

#[test]
fn a_tap_whose_button_may_be_held_acts_as_it_comes_up() {
    let bindings = bound(&[
        (Press::Tap(NORTH), Action::GearUp),
        (Press::Held(NORTH), Action::Sustain),
    ]);
    let mut presses = Presses::none();
    assert_eq!(presses.down(at(0), NORTH, &bindings), None);
    assert_eq!(presses.due(at(599), &bindings), None);
    assert_eq!(presses.up(NORTH, &bindings), Some(Action::GearUp));

    assert_eq!(presses.down(at(1_000), NORTH, &bindings), None);
    assert_eq!(presses.due(at(1_599), &bindings), None);
    assert_eq!(
        presses.due(at(1_600), &bindings),
        Some((NORTH, Action::Sustain))
    );
    assert_eq!(presses.due(at(1_600), &bindings), None, "once");
    assert_eq!(presses.due(at(9_000), &bindings), None, "once");
    assert_eq!(presses.up(NORTH, &bindings), None, "it was no tap");
}

#[test]
fn a_tap_whose_button_goes_with_another_acts_as_it_comes_up() {
    let bindings = bound(&[
        (Press::Tap(TL), Action::GearDown),
        (
            Press::With {
                with: TL,
                button: NORTH,
            },
            Action::Reduced,
        ),
    ]);
    let mut presses = Presses::none();
    assert_eq!(presses.down(at(0), TL, &bindings), None);
    assert_eq!(presses.up(TL, &bindings), Some(Action::GearDown));

    // As a company it is used up: it is no tap when it comes up.
    assert_eq!(presses.down(at(10), TL, &bindings), None);
    let both = Some(Pressed::With(Action::Reduced));
    assert_eq!(presses.down(at(20), NORTH, &bindings), both);
    assert_eq!(presses.up(NORTH, &bindings), None);
    assert_eq!(
        presses.down(at(30), NORTH, &bindings),
        both,
        "as often as wanted"
    );
    assert_eq!(presses.up(TL, &bindings), None);
    assert_eq!(presses.up(NORTH, &bindings), None);
}

#[test]
fn a_press_with_another_button_beats_its_tap_and_marks_both_used() {
    let bindings = bound(&[
        (Press::Tap(NORTH), Action::GearUp),
        (Press::Held(NORTH), Action::Control { group: 0 }),
        (Press::Held(TL), Action::Sustain),
        (
            Press::With {
                with: TL,
                button: NORTH,
            },
            Action::Rolling,
        ),
    ]);
    let mut presses = Presses::none();
    assert_eq!(presses.down(at(0), TL, &bindings), None);
    let both = presses.down(at(100), NORTH, &bindings);
    assert_eq!(both, Some(Pressed::With(Action::Rolling)));
    assert!(presses.is_down(TL) && presses.is_down(NORTH));
    assert_eq!(
        (presses.held_since(TL), presses.held_since(NORTH)),
        (None, None)
    );
    assert_eq!(presses.due(at(5_000), &bindings), None, "neither is held");
    assert_eq!(presses.up(NORTH, &bindings), None, "nor tapped");
    assert_eq!(presses.up(TL, &bindings), None);

    // The other order is not that press.
    assert_eq!(presses.down(at(6_000), NORTH, &bindings), None);
    assert_eq!(presses.down(at(6_010), TL, &bindings), None);
    assert_eq!(presses.up(NORTH, &bindings), Some(Action::GearUp));
}

#[test]
fn a_second_report_that_a_button_is_down_changes_nothing() {
    let bindings = bound(&[
        (Press::Tap(NORTH), Action::GearUp),
        (Press::Held(TL), Action::Sustain),
    ]);
    let mut presses = Presses::none();
    let first = presses.down(at(0), NORTH, &bindings);
    assert_eq!(first, Some(Pressed::Tap(Action::GearUp)));
    assert_eq!(presses.down(at(1), NORTH, &bindings), None);
    presses.down(at(0), TL, &bindings);
    presses.down(at(500), TL, &bindings);
    assert_eq!(presses.held_since(TL), Some(at(0)), "it is down since then");
    assert_eq!(presses.due(at(600), &bindings), Some((TL, Action::Sustain)));
    assert_eq!(presses.down(at(700), TL, &bindings), None);
    assert_eq!(presses.due(at(2_000), &bindings), None, "it is used up");
    assert_eq!(presses.up(Button::West, &bindings), None, "never was down");
}

#[test]
fn a_mode_is_on_by_a_tap_and_asked_off_by_keeping_it_down() {
    let bindings = bound(&[(Press::Tap(NORTH), Action::Quiet)]);
    let mut presses = Presses::none();
    let down = presses.down(at(0), NORTH, &bindings);
    assert_eq!(down, Some(Pressed::Tap(Action::Quiet)), "at once");
    assert_eq!(presses.due(at(599), &bindings), None);
    assert_eq!(
        presses.due(at(600), &bindings),
        Some((NORTH, Action::Quiet))
    );
    assert_eq!(presses.up(NORTH, &bindings), None);
}

#[test]
fn what_is_held_to_release_a_stop_is_left_to_whoever_watches_it() {
    let bindings = bound(&[]);
    let mut presses = Presses::none();
    presses.down(at(0), Button::Start, &bindings);
    assert_eq!(presses.due(at(9_000), &bindings), None);
    assert_eq!(presses.held_since(Button::Start), Some(at(0)));
    presses.consume(Button::Start);
    assert_eq!(presses.held_since(Button::Start), None);
    presses.consume(Button::West);
    assert!(!presses.is_down(Button::West), "what is up can't be used");
}

#[test]
fn presses_due_in_the_same_moment_come_one_by_one() {
    let bindings = bound(&[
        (Press::Held(NORTH), Action::Control { group: 0 }),
        (Press::Held(TL), Action::Sustain),
    ]);
    let mut presses = Presses::none();
    presses.down(at(0), TL, &bindings);
    presses.down(at(0), NORTH, &bindings);
    let control = Some((NORTH, Action::Control { group: 0 }));
    assert_eq!(presses.due(at(600), &bindings), control);
    assert_eq!(presses.due(at(600), &bindings), Some((TL, Action::Sustain)));
    assert_eq!(presses.due(at(600), &bindings), None);
}
