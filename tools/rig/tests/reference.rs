//! A reference set from the line: taken at rest only, once, and everything that was before has ended with it.

mod common;

use common::{Bench, COUNT, SESSION, axis, limits, ready, wide_open};
use stillhand_laws::Event;
use stillhand_rig::Inputs;
use stillhand_wire::messages::{FromRig, NotReferenced, Reference};
use stillhand_wire::{ToRig, encode};

/// An axis that does not know where it stands beside one that does, travel -1000 to 1000 and none.
fn lost() -> Bench {
    let mut turn = axis("turn", 1667, 0);
    turn.referenced = false;
    let mut pan = axis("pan", 1667, 0);
    pan.referenced = false;
    let setup = [
        limits(Some((-1_000, 1_000)), 3333, 8333),
        limits(None, 3333, 8333),
    ];
    Bench::ready(&[pan, turn], &setup)
}

fn reference(bench: &Bench, number: u32, axis: u8, position: i32) -> Reference {
    Reference {
        session: bench.session,
        number,
        deadline_us: bench.now_us.wrapping_add(100_000),
        axis,
        position,
        again: false,
    }
}

/// What is answered: `None` for nothing at all.
fn answer(bench: &mut Bench, asked: Reference) -> Option<Option<NotReferenced>> {
    bench.said.clear();
    bench.send(&ToRig::Reference(asked));
    match bench.said.pop() {
        None => None,
        Some(FromRig::Referenced {
            session,
            number,
            refused,
        }) => {
            assert_eq!((session, number), (asked.session, asked.number));
            assert!(bench.said.is_empty());
            Some(refused)
        }
        Some(other) => panic!("{other:?}"),
    }
}

#[test]
fn one_that_is_taken_is_so_and_ends_the_session() {
    let mut bench = lost();
    bench.drive(&[0, 0]);
    let asked = reference(&bench, 1, 0, -640);
    assert_eq!(answer(&mut bench, asked), Some(None));
    let told = bench.state();
    assert_eq!((told.session, told.referenced), (0, 0b01));
    assert_eq!((told.axes[0].position, told.axes[1].position), (-640, 0));
    assert_eq!(bench.rig.take_reference(), Some((0, -640)));
    assert_eq!(bench.rig.take_reference(), None, "once");
    // Of the session that has ended nothing is taken any more, not even the same again.
    assert!(!bench.drive(&[COUNT, 0]));
    assert_eq!(answer(&mut bench, asked), None);
    bench.handshake(SESSION + 1, &wide_open());
    assert_eq!(bench.position(0), -640);
    assert!(bench.drive(&[COUNT, 0]));
}

/// From then on the rig keeps the axis inside of its travel by the new position.
#[test]
fn its_travel_is_enforced_from_there() {
    let mut bench = lost();
    let asked = reference(&bench, 1, 0, 900);
    assert_eq!(answer(&mut bench, asked), Some(None));
    bench.handshake(
        SESSION + 1,
        &[
            limits(Some((-1_000, 1_000)), 3333, 8333),
            limits(None, 3333, 8333),
        ],
    );
    for _ in 0..500 {
        bench.drive(&[100 * COUNT, 0]);
        bench.ticks(4);
    }
    assert!(
        (998..=1_000).contains(&bench.position(0)),
        "{}",
        bench.position(0)
    );
}

#[test]
fn each_rule_has_its_answer_and_changes_nothing() {
    let mut bench = lost();
    let refused = |bench: &mut Bench, asked: Reference, why: NotReferenced| {
        let before = bench.state();
        assert_eq!(answer(bench, asked), Some(Some(why)), "{asked:?}");
        assert_eq!(bench.state(), before);
        assert_eq!(bench.rig.take_reference(), None);
    };
    let asked = reference(&bench, 1, 2, 0);
    refused(&mut bench, asked, NotReferenced::NoAxis);
    for (number, position) in [(2, -1_001), (3, 1_001), (4, i32::MIN)] {
        let asked = reference(&bench, number, 0, position);
        refused(&mut bench, asked, NotReferenced::OutsideTravel);
    }
    // Another axis moves, or comes to rest, or is only told to move.
    bench.drive(&[0, 500 * COUNT]);
    let asked = reference(&bench, 5, 0, 0);
    refused(&mut bench, asked, NotReferenced::NotAtRest);
    bench.tick();
    let asked = reference(&bench, 6, 0, 0);
    refused(&mut bench, asked, NotReferenced::NotAtRest);
    bench.rig.set_inputs(Inputs {
        stop_input: true,
        ..Inputs::default()
    });
    bench.tick();
    let asked = reference(&bench, 7, 0, 0);
    refused(&mut bench, asked, NotReferenced::NotAtRest);
}

/// An axis that knows where it is has to be asked twice, and its travel still counts.
#[test]
fn a_known_position_is_replaced_only_if_that_is_said() {
    let mut bench = ready();
    let asked = reference(&bench, 1, 0, 50);
    assert_eq!(
        answer(&mut bench, asked),
        Some(Some(NotReferenced::Already))
    );
    let again = |bench: &Bench, number, position| Reference {
        again: true,
        ..reference(bench, number, 0, position)
    };
    let asked = again(&bench, 2, 1_000_001);
    assert_eq!(
        answer(&mut bench, asked),
        Some(Some(NotReferenced::OutsideTravel))
    );
    let asked = again(&bench, 3, 50);
    assert_eq!(answer(&mut bench, asked), Some(None));
    assert_eq!(bench.position(0), 50);
}

/// What was refused stays refused when the line says it again, though it would be taken by now.
#[test]
fn one_that_is_said_again_gets_the_same_answer() {
    let mut bench = lost();
    bench.drive(&[0, 500 * COUNT]);
    bench.tick();
    let asked = reference(&bench, 4, 0, 0);
    assert_eq!(
        answer(&mut bench, asked),
        Some(Some(NotReferenced::NotAtRest))
    );
    bench.drive(&[0, 0]);
    bench.ticks(10);
    assert!(bench.rig.at_rest());
    assert_eq!(
        answer(&mut bench, asked),
        Some(Some(NotReferenced::NotAtRest))
    );
    // One that was overtaken by a newer one is outdated.
    for number in [3, 0, 4 + (1 << 31)] {
        let asked = reference(&bench, number, 0, 0);
        assert_eq!(answer(&mut bench, asked), None, "{number}");
    }
    let asked = reference(&bench, 5, 0, 0);
    assert_eq!(answer(&mut bench, asked), Some(None));
}

#[test]
fn outdated_foreign_and_early_ones_are_counted_and_not_answered() {
    let mut bench = lost();
    let good = reference(&bench, 1, 0, 10);
    let but_for = |change: &dyn Fn(&mut Reference)| {
        let mut asked = good;
        change(&mut asked);
        asked
    };
    let bad = [
        but_for(&|asked| asked.session += 1),
        but_for(&|asked| asked.session = 0),
        but_for(&|asked| asked.number = 0),
        but_for(&|asked| asked.deadline_us = asked.deadline_us.wrapping_sub(100_001)),
        but_for(&|asked| asked.deadline_us = asked.deadline_us.wrapping_add(1_000_000)),
    ];
    for (place, asked) in bad.into_iter().enumerate() {
        let before = bench.state().frames_refused;
        assert_eq!(answer(&mut bench, asked), None, "{asked:?}");
        assert_eq!(bench.state().frames_refused, before + 1, "{place}");
    }
    let mut damaged = encode(&ToRig::Reference(good)).expect("fits");
    for at in 0..damaged.len() - 1 {
        for bit in 0..8 {
            damaged[at] ^= 1 << bit;
            bench.bytes(&damaged);
            bench.bytes(&[0]);
            damaged[at] ^= 1 << bit;
        }
    }
    assert_eq!(bench.state().referenced, 0);
    assert!(bench.said.is_empty());
    // Without an acknowledged setup it has no travel to be held against.
    bench.send(&common::hello(SESSION + 1));
    let asked = Reference {
        session: SESSION + 1,
        ..good
    };
    assert_eq!(answer(&mut bench, asked), None);
    assert_eq!(bench.state().referenced, 0);
}

/// Power that goes takes the reference with it, set by hand or not.
#[test]
fn power_off_forgets_it() {
    let mut bench = lost();
    let asked = reference(&bench, 1, 1, 70_000);
    assert_eq!(answer(&mut bench, asked), Some(None));
    bench.rig.set_inputs(Inputs {
        power: false,
        ..Inputs::default()
    });
    assert_eq!(bench.state().referenced, 0);
}

/// The judge looks anew: the position jumps by telling, no motor moves.
#[test]
fn no_motor_is_told_to_move_by_it() {
    let mut bench = ready();
    let asked = Reference {
        again: true,
        ..reference(&bench, 1, 0, 999)
    };
    assert_eq!(answer(&mut bench, asked), Some(None));
    bench.tell(&Event::Moved(0));
    for _ in 0..100 {
        bench.tick();
        assert_eq!((bench.velocity(0), bench.velocity(1)), (0, 0));
        assert_eq!(bench.position(0), 999);
    }
}
