//! The motors' current at standstill on its way through the session: lowered where file and rig let it, and full
//! again before the engine hears so.

mod support;

use stillhand::link::session::Standing;
use stillhand_engine::current::Current;
use stillhand_engine::input::LinkEvent;
use stillhand_engine::time::Span;
use stillhand_rig::Inputs;
use stillhand_wire::ToRig;
use stillhand_wire::messages::{self, FromRig};

use support::desk::Desk;
use support::hall;

/// A desk with a rig whose file lets pan hold with less current, met.
fn met() -> Desk {
    let file = hall::RIG.replacen("[axis.pan]\n", "[axis.pan]\nlower_current = true\n", 1);
    let mut desk = Desk::with(&file, hall::config(), 0);
    desk.meet();
    desk.said.clear();
    desk
}

/// Lets time pass with the engine saying this, as a loop does.
fn hold(desk: &mut Desk, may: Current, ms: u64) {
    for _ in 0..ms {
        desk.session.ease(desk.now, may);
        desk.pass(1);
    }
}

fn said(desk: &mut Desk) -> Vec<messages::Standstill> {
    let said = std::mem::take(&mut desk.said).into_iter();
    said.filter_map(|said| match said {
        ToRig::Standstill(word) => Some(word),
        _ => None,
    })
    .collect()
}

/// After how many milliseconds the engine is told that all motors have their full current, with it waiting for
/// that.
fn full_after(desk: &mut Desk, most: u64) -> Option<u64> {
    desk.events.clear();
    for ms in 1..=most {
        hold(desk, Current::Awaited, 1);
        if desk.events.contains(&LinkEvent::FullCurrent) {
            desk.session.ease(desk.now, Current::Full);
            return Some(ms);
        }
    }
    None
}

fn low(desk: &Desk) -> Vec<bool> {
    let axes = (0..).map_while(|axis| desk.rig.output(axis));
    axes.map(|axis| axis.lowered).collect()
}

#[test]
fn only_what_the_file_lets_is_lowered_and_asked_for_once() {
    let mut desk = met();
    hold(&mut desk, Current::Full, 1_000);
    assert!(said(&mut desk).is_empty());
    hold(&mut desk, Current::MayBeLow, 500);
    let [once] = said(&mut desk)[..] else {
        panic!("said once");
    };
    assert_eq!((once.number, once.lower), (1, 0b001));
    assert_eq!(low(&desk), [true, false, false]);
    assert_eq!(desk.session.lowered(), 0b001);
    // As long as it lasts it is looked at, nothing is asked anew.
    hold(&mut desk, Current::MayBeLow, 5_000);
    let again = said(&mut desk);
    assert!((4..=6).contains(&again.len()), "{again:?}");
    assert!(again.iter().all(|word| word.number == 1));
    assert!(!desk.events.contains(&LinkEvent::FullCurrent));
}

/// The rig's motors take 30 ms (`hall::config`) and the line a turn each way.
#[test]
fn the_engine_hears_of_the_full_current_once_the_rig_has_it() {
    let mut desk = met();
    hold(&mut desk, Current::MayBeLow, 100);
    let after = full_after(&mut desk, 1_000).expect("it is given back");
    assert!((31..=36).contains(&after), "{after} ms");
    assert_eq!(low(&desk), [false; 3]);
    desk.velocity[0] = 1024;
    let refused = desk.rig.telemetry(0).frames_refused;
    desk.pass(100);
    assert_eq!(desk.rig.telemetry(0).frames_refused, refused);
    assert_eq!(desk.rig.output(0).expect("pan").velocity, 1024);
}

#[test]
fn a_change_of_mind_on_the_way_is_followed() {
    let mut desk = met();
    hold(&mut desk, Current::MayBeLow, 1);
    hold(&mut desk, Current::Awaited, 5);
    hold(&mut desk, Current::MayBeLow, 100);
    assert_eq!(low(&desk), [true, false, false]);
    assert!(!desk.events.contains(&LinkEvent::FullCurrent));
    assert!(full_after(&mut desk, 100).is_some());
}

/// Words and tellings are lost on the way: they are said again, and nothing is believed before it was told.
#[test]
fn what_is_lost_is_said_again() {
    let mut desk = met();
    hold(&mut desk, Current::MayBeLow, 100);
    let mut lost = 0;
    desk.twist(move |message| match message {
        FromRig::Standstill { .. } if lost < 3 => {
            lost += 1;
            None
        }
        other => Some(other),
    });
    // The answer, the change and the first answer to the same again are lost.
    let after = full_after(&mut desk, 2_000).expect("it is said again");
    assert!((490..=520).contains(&after), "{after} ms");
}

/// A rig gives the current back by itself; what was told before it was overtaken.
#[test]
fn a_telling_that_was_overtaken_says_nothing() {
    let mut desk = met();
    hold(&mut desk, Current::MayBeLow, 100);
    hold(&mut desk, Current::Awaited, 1);
    let session = desk.number();
    let telling = |number, lowered| FromRig::Standstill {
        session,
        number,
        can: 1,
        lowered,
    };
    desk.events.clear();
    // Of the word before, and of another session.
    desk.inject(&telling(1, 0));
    let mut other = telling(2, 0);
    if let FromRig::Standstill { session, .. } = &mut other {
        *session += 1;
    }
    desk.inject(&other);
    desk.session.ease(desk.now, Current::Awaited);
    desk.inject(&telling(1, 0));
    assert!(desk.events.is_empty(), "{:?}", desk.events);
    assert!(full_after(&mut desk, 100).is_some());
    hold(&mut desk, Current::MayBeLow, 100);
    assert_eq!(desk.session.lowered(), 1);
    desk.inject(&telling(3, 0));
    desk.inject(&telling(3, 1));
    assert_eq!(desk.session.lowered(), 0, "it only becomes less");
}

#[test]
fn a_rig_that_does_not_know_the_message_is_let_alone() {
    let mut desk = met();
    desk.twist(|message| match message {
        FromRig::Standstill { .. } => None,
        other => Some(other),
    });
    hold(&mut desk, Current::MayBeLow, 3_000);
    assert_eq!(said(&mut desk).len(), 8, "for two seconds");
    assert_eq!(desk.session.lowered(), 0);
    assert_eq!(
        full_after(&mut desk, 100),
        Some(1),
        "there is nothing to wait for"
    );
    hold(&mut desk, Current::MayBeLow, 3_000);
    assert!(said(&mut desk).is_empty());
    // Ended before it was given up: it may have heard the first word, and gets as long for the second.
    let mut desk = met();
    desk.twist(|message| match message {
        FromRig::Standstill { .. } => None,
        other => Some(other),
    });
    hold(&mut desk, Current::MayBeLow, 600);
    let after = full_after(&mut desk, 3_000).expect("it is given up");
    assert!((1_990..=2_010).contains(&after), "{after} ms");
}

#[test]
fn a_rig_that_gave_it_back_by_itself_is_asked_anew_while_it_may() {
    let mut desk = met();
    hold(&mut desk, Current::MayBeLow, 100);
    // A breath without frames is enough for the rig.
    let clock = desk.clock_us();
    desk.now = desk.now + Span::from_millis(130);
    let mut back = Vec::new();
    desk.rig
        .tick(clock + 130_000, &mut |frame| back.extend_from_slice(frame));
    assert_eq!(low(&desk), [false; 3]);
    hold(&mut desk, Current::MayBeLow, 1_500);
    assert_eq!(low(&desk), [true, false, false]);
    assert_eq!(*desk.session.standing(), Standing::Ready);
}

/// A new session begins with full motors on both sides, without a word.
#[test]
fn a_lost_link_ends_it() {
    let mut desk = met();
    hold(&mut desk, Current::MayBeLow, 100);
    desk.rig.set_inputs(Inputs {
        stop_input: true,
        ..Inputs::default()
    });
    hold(&mut desk, Current::MayBeLow, 100);
    assert_eq!(desk.losses().len(), 1);
    assert_eq!((low(&desk), desk.session.lowered()), (vec![false; 3], 0));
    desk.rig.set_inputs(Inputs::default());
    said(&mut desk);
    hold(&mut desk, Current::Full, 3_000);
    assert_eq!(*desk.session.standing(), Standing::Ready);
    assert!(said(&mut desk).is_empty());
}
