//! Every rule that bindings can break, and what presses find.

use super::*;
use std::vec;

const STOP: Binding = of(Press::Tap(Button::East), Action::Stop);
const RELEASE: Binding = of(Press::Held(Button::Start), Action::Release);

const fn of(press: Press, action: Action) -> Binding {
    Binding { press, action }
}

const fn tap(button: Button) -> Press {
    Press::Tap(button)
}

const fn held(button: Button) -> Press {
    Press::Held(button)
}

const fn with(with: Button, button: Button) -> Press {
    Press::With { with, button }
}

const INCH: Action = Action::Inch {
    hand: 1,
    plus: true,
};

/// What is wrong with these after a stop and its release, for an operator of two hands.
fn wrong(more: &[Binding]) -> Option<BindingError> {
    let mut list = vec![STOP, RELEASE];
    list.extend_from_slice(more);
    Bindings::new(list, 2).err()
}

#[test]
fn there_is_a_stop_and_its_release() {
    assert_eq!(
        Bindings::new(vec![], 0).err(),
        Some(BindingError::NoStop),
        "the stop is missed first"
    );
    assert_eq!(
        Bindings::new(vec![RELEASE], 0).err(),
        Some(BindingError::NoStop)
    );
    assert_eq!(
        Bindings::new(vec![STOP], 0).err(),
        Some(BindingError::NoRelease)
    );
    let both = Bindings::new(vec![RELEASE, STOP], 0).expect("in any order");
    assert_eq!((both.stop(), both.release()), (Button::East, RELEASE.press));
}

#[test]
fn the_stop_is_one_bare_tap() {
    for press in [
        tap(Button::North),
        held(Button::North),
        with(Button::Tl, Button::North),
    ] {
        let second = of(press, Action::Stop);
        assert_eq!(wrong(&[second]), Some(BindingError::StopNotATap(2)));
    }
    let by_hold = vec![of(held(Button::East), Action::Stop), RELEASE];
    assert_eq!(
        Bindings::new(by_hold, 0).err(),
        Some(BindingError::StopNotATap(0))
    );
}

#[test]
fn what_must_be_meant_is_never_a_bare_tap() {
    for action in [
        Action::Release,
        Action::Sustain,
        Action::Control { group: 0 },
        Action::NextOperator,
    ] {
        let bare = of(tap(Button::North), action);
        assert_eq!(wrong(&[bare]), Some(BindingError::BareTap(2)), "{action:?}");
        for press in [held(Button::North), with(Button::Tl, Button::North)] {
            assert_eq!(wrong(&[of(press, action)]), None, "{action:?} by {press:?}");
        }
    }
    // The others may be: what they switch off they switch off otherwise.
    for action in [
        Action::GearUp,
        Action::GearDown,
        Action::Quiet,
        Action::Still,
        Action::Reduced,
        Action::Rolling,
        INCH,
    ] {
        assert_eq!(wrong(&[of(tap(Button::North), action)]), None, "{action:?}");
    }
}

#[test]
fn the_button_of_the_stop_does_nothing_else() {
    for press in [
        held(Button::East),
        with(Button::East, Button::North),
        with(Button::North, Button::East),
    ] {
        let also = of(press, Action::GearUp);
        assert_eq!(wrong(&[also]), Some(BindingError::Clash(0, 2)), "{press:?}");
        let first = Bindings::new(vec![also, RELEASE, STOP], 0);
        assert_eq!(first.err(), Some(BindingError::Clash(0, 2)), "{press:?}");
    }
    let twice = of(tap(Button::East), Action::GearUp);
    assert_eq!(wrong(&[twice]), Some(BindingError::Clash(0, 2)));
}

#[test]
fn presses_that_can_not_be_told_apart_clash() {
    let north = Button::North;
    let gear = |press| of(press, Action::GearUp);
    let pairs = [
        (gear(tap(north)), of(tap(north), Action::GearDown)),
        (gear(held(north)), of(held(north), Action::Sustain)),
        (
            gear(with(Button::Tl, north)),
            of(with(Button::Tl, north), Action::Quiet),
        ),
        // A mode's tap, kept down, switches it off.
        (of(tap(north), Action::Quiet), gear(held(north))),
        (of(tap(north), Action::Still), gear(held(north))),
        (of(tap(north), Action::Reduced), gear(held(north))),
        (of(tap(north), Action::Rolling), gear(held(north))),
        // One that inches is kept down for a creep.
        (of(tap(north), INCH), gear(held(north))),
        (of(tap(north), INCH), gear(with(north, Button::Tl))),
        // Which of the two came first?
        (gear(with(north, Button::Tl)), gear(with(Button::Tl, north))),
    ];
    for (one, two) in pairs {
        for both in [[one, two], [two, one]] {
            assert_eq!(wrong(&both), Some(BindingError::Clash(2, 3)), "{both:?}");
        }
    }
}

#[test]
fn presses_that_can_be_told_apart_go_together() {
    let north = Button::North;
    let gear = |press| of(press, Action::GearUp);
    let pairs = [
        (gear(tap(north)), gear(held(north))),
        (gear(tap(north)), gear(with(Button::Tl, north))),
        (gear(tap(north)), gear(with(north, Button::Tl))),
        (gear(held(north)), gear(with(north, Button::Tl))),
        (of(tap(north), Action::Quiet), gear(with(north, Button::Tl))),
        (of(tap(north), INCH), gear(with(Button::Tl, north))),
        (gear(with(north, Button::Tl)), gear(with(north, Button::Tr))),
    ];
    for (one, two) in pairs {
        assert_eq!(wrong(&[one, two]), None, "{one:?} and {two:?}");
    }
}

#[test]
fn groups_hands_and_their_number_have_ends() {
    let control = |group| of(held(Button::North), Action::Control { group });
    assert_eq!(wrong(&[control(MAX_GROUPS as u8 - 1)]), None);
    assert_eq!(
        wrong(&[control(MAX_GROUPS as u8)]),
        Some(BindingError::OutOfRange(2))
    );
    let inch = |hand| of(tap(Button::North), Action::Inch { hand, plus: false });
    assert_eq!(wrong(&[inch(1)]), None);
    assert_eq!(wrong(&[inch(2)]), Some(BindingError::OutOfRange(2)));

    let mut many = vec![];
    let holders = [Button::Tl, Button::Tr, Button::Select];
    for (place, holder) in holders.into_iter().enumerate() {
        for button in Button::ALL {
            if button != Button::East && !holders[..=place].contains(&button) {
                many.push(of(with(holder, button), Action::GearUp));
            }
        }
    }
    many.push(of(tap(Button::North), Action::GearUp));
    many.push(of(tap(Button::South), Action::GearUp));
    assert_eq!(many.len() + 2, MAX_BINDINGS);
    assert_eq!(wrong(&many), None);
    many.push(of(tap(Button::West), Action::GearUp));
    assert_eq!(wrong(&many), Some(BindingError::OutOfRange(MAX_BINDINGS)));
}

#[test]
fn a_mode_on_a_tap_is_off_by_keeping_the_same_button_down() {
    let north = Button::North;
    let list = |more: &[Binding]| {
        let mut list = vec![STOP, RELEASE];
        list.extend_from_slice(more);
        Bindings::new(list, 2).expect("they go together")
    };
    for action in [
        Action::Quiet,
        Action::Still,
        Action::Reduced,
        Action::Rolling,
    ] {
        let bindings = list(&[of(tap(north), action)]);
        assert_eq!(bindings.tapped(north), Some(action));
        assert_eq!(bindings.held(north), Some(action));
    }
    let gear = list(&[of(tap(north), Action::GearUp)]);
    assert_eq!(gear.held(north), None, "a gear is no mode");
    let on_hold = list(&[of(held(north), Action::Quiet)]);
    assert_eq!(
        (on_hold.tapped(north), on_hold.held(north)),
        (None, Some(Action::Quiet))
    );
}

#[test]
fn a_press_with_another_one_is_found_only_while_that_is_down() {
    let list = vec![
        STOP,
        RELEASE,
        of(with(Button::Tl, Button::North), Action::GearUp),
        of(with(Button::Tr, Button::North), Action::GearDown),
    ];
    let bindings = Bindings::new(list, 0).expect("they go together");
    let found = |down: Option<Button>| bindings.with(Button::North, |other| Some(other) == down);
    assert_eq!(found(None), None);
    assert_eq!(found(Some(Button::Tl)), Some((Button::Tl, Action::GearUp)));
    assert_eq!(
        found(Some(Button::Tr)),
        Some((Button::Tr, Action::GearDown))
    );
    assert!(bindings.goes_with(Button::Tl) && !bindings.goes_with(Button::North));
}
