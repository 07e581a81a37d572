//! A reference on its way through the session: said until it is answered, acted upon once, given up after a second.

mod support;

use stillhand::link::session::Standing;
use stillhand_engine::input::{LinkEvent, LinkLoss};
use stillhand_engine::reference::{NotReferenced, Reference, ReferenceStatus, Stands};
use stillhand_wire::ToRig;
use stillhand_wire::messages::{self, FromRig};

use support::desk::Desk;

/// Pan is said to stand there, whatever it knows.
fn asked(number: u32, at: f64) -> ReferenceStatus {
    ReferenceStatus {
        number,
        asked: Reference {
            rig: 0,
            axis: 0,
            at,
            again: true,
        },
        stands: Stands::Asked,
    }
}

fn said(desk: &Desk) -> Vec<messages::Reference> {
    let said = desk.said.iter().filter_map(|said| match said {
        ToRig::Reference(reference) => Some(*reference),
        _ => None,
    });
    said.collect()
}

fn answers(desk: &Desk) -> Vec<NotReferenced> {
    let answers = desk.events.iter().filter_map(|event| match event {
        LinkEvent::NotReferenced(why) => Some(*why),
        _ => None,
    });
    answers.collect()
}

/// As a loop does: told after each step, as long as the engine holds it for pending.
fn ask(desk: &mut Desk, asked: ReferenceStatus, ms: u64) {
    for _ in 0..ms {
        let over = !answers(desk).is_empty() || !desk.losses().is_empty();
        let status = ReferenceStatus {
            stands: if over { Stands::Taken } else { asked.stands },
            ..asked
        };
        desk.session.refer(desk.now, &status);
        desk.pass(1);
    }
}

#[test]
fn one_that_is_taken_is_said_once_and_the_rig_is_met_anew_there() {
    let mut desk = Desk::new();
    desk.meet();
    desk.said.clear();
    ask(&mut desk, asked(3, 45.0), 300);
    let [once] = said(&desk)[..] else {
        panic!("{:?}", said(&desk));
    };
    assert_eq!((once.number, once.axis, once.again), (3, 0, true));
    assert_eq!(desk.losses(), [LinkLoss::Reference]);
    let ready = desk.events.iter().filter_map(|event| match event {
        LinkEvent::Ready(report) => Some(report.axes[0]),
        _ => None,
    });
    let ready: Vec<_> = ready.collect();
    assert_eq!(ready.len(), 1);
    assert!(
        ready[0].referenced && (ready[0].position - 45.0).abs() < 0.1,
        "{ready:?}"
    );
    assert_eq!(*desk.session.standing(), Standing::Ready);
}

/// What lies between two counts at an end of the travel is the count inside.
#[test]
fn an_end_of_the_travel_is_a_place_there_is() {
    let mut desk = Desk::new();
    desk.meet();
    let setup = desk.said.iter().rev().find_map(|said| match said {
        ToRig::Setup(setup) => setup.axes[0].travel,
        _ => None,
    });
    let (low, high) = setup.expect("pan has ends");
    let scale = |counts: i32| f64::from(counts) / (250.0 / 9.0);
    for (number, at, counts) in [(1, scale(high) + 0.03, high), (2, scale(low) - 0.03, low)] {
        desk.said.clear();
        desk.events.clear();
        ask(&mut desk, asked(number, at), 300);
        assert_eq!(said(&desk)[0].position, counts, "{at}");
        assert_eq!(desk.losses(), [LinkLoss::Reference]);
    }
}

#[test]
fn what_the_rig_refuses_is_told_once_and_the_session_goes_on() {
    let mut desk = Desk::new();
    desk.run(1_000);
    ask(&mut desk, asked(1, 45.0), 100);
    assert_eq!(answers(&desk), [NotReferenced::Moving]);
    assert!(desk.losses().is_empty());
    assert_eq!(*desk.session.standing(), Standing::Ready);
    desk.inject(&FromRig::Referenced {
        session: desk.number(),
        number: 1,
        refused: None,
    });
    assert!(desk.losses().is_empty(), "an answer to what is over");
}

/// A rig of before there were references drops what it has no message for.
#[test]
fn a_rig_that_never_answers_is_asked_four_times_in_a_second() {
    let mut desk = Desk::new();
    desk.meet();
    desk.said.clear();
    // It refuses, since pan knows where it is; nobody hears of it.
    desk.twist(|message| (!matches!(message, FromRig::Referenced { .. })).then_some(message));
    let nowhere = ReferenceStatus {
        asked: Reference {
            again: false,
            ..asked(7, 45.0).asked
        },
        ..asked(7, 45.0)
    };
    ask(&mut desk, nowhere, 980);
    assert!(answers(&desk).is_empty());
    ask(&mut desk, nowhere, 40);
    assert_eq!(answers(&desk), [NotReferenced::NoAnswer]);
    let said = said(&desk);
    assert_eq!(said.len(), 4);
    for (before, after) in said.iter().zip(&said[1..]) {
        assert_eq!(
            (after.number, after.session),
            (before.number, before.session)
        );
        let later_us = after.deadline_us.wrapping_sub(before.deadline_us);
        assert!((245_000..=255_000).contains(&later_us), "{later_us}");
    }
    assert!(desk.losses().is_empty());
    desk.pass(1_000);
    assert_eq!(answers(&desk).len(), 1, "told once");
}

/// The answer is lost: what the rig tells of a session 0 says as much, and the rig is met where it stands.
#[test]
fn an_answer_that_is_lost_is_a_restart() {
    let mut desk = Desk::new();
    desk.meet();
    desk.twist(|message| (!matches!(message, FromRig::Referenced { .. })).then_some(message));
    ask(&mut desk, asked(1, 45.0), 2_000);
    assert_eq!(desk.losses(), [LinkLoss::Restarted]);
    assert!(answers(&desk).is_empty());
    assert_eq!(desk.met(), 1);
}

#[test]
fn answers_of_other_numbers_and_sessions_are_not_believed() {
    let mut desk = Desk::new();
    desk.meet();
    desk.twist(|message| (!matches!(message, FromRig::Referenced { .. })).then_some(message));
    // Refused there, so that the session goes on.
    let status = ReferenceStatus {
        asked: Reference {
            again: false,
            ..asked(5, 45.0).asked
        },
        ..asked(5, 45.0)
    };
    ask(&mut desk, status, 10);
    let ours = desk.number();
    for (session, number) in [(ours, 4), (ours, 6), (ours - 1, 5), (ours + 1, 5), (0, 5)] {
        desk.inject(&FromRig::Referenced {
            session,
            number,
            refused: None,
        });
    }
    assert!(desk.losses().is_empty() && answers(&desk).is_empty());
    desk.inject(&FromRig::Referenced {
        session: ours,
        number: 5,
        refused: None,
    });
    assert_eq!(desk.losses(), [LinkLoss::Reference]);
}
