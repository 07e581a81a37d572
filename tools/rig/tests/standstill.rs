//! Motors that hold with less than their full current: at rest only, asked for, and never when something moves.

mod common;

use common::{Bench, COUNT, RISE_MS, Random, SESSION, axis, hello, limits, wide_open};
use stillhand_rig::Inputs;
use stillhand_wire::messages::{FromRig, Standstill};
use stillhand_wire::{ToRig, encode};

/// Two axes, of which the first offers it.
fn offers() -> Bench {
    let mut pan = axis("pan", 1667, 0);
    pan.lowers = true;
    let mut bench = Bench::ready(&[pan, axis("turn", 1667, 0)], &wide_open());
    rest(&mut bench, 500);
    bench
}

fn word(bench: &Bench, number: u32, lower: u8) -> ToRig {
    ToRig::Standstill(Standstill {
        session: bench.session,
        number,
        deadline_us: bench.now_us.wrapping_add(100_000),
        lower,
    })
}

/// What was told since the last call: number, can, lowered.
fn told(bench: &mut Bench) -> Vec<(u32, u8, u8)> {
    let said = std::mem::take(&mut bench.said);
    let session = bench.session;
    let told = said.into_iter().filter_map(|message| match message {
        FromRig::Standstill {
            session: of,
            number,
            can,
            lowered,
        } => {
            assert_eq!(of, session);
            Some((number, can, lowered))
        }
        _ => None,
    });
    told.collect()
}

/// What is answered.
fn ask(bench: &mut Bench, number: u32, lower: u8) -> Vec<(u32, u8, u8)> {
    told(bench);
    let asked = word(bench, number, lower);
    bench.send(&asked);
    told(bench)
}

fn low(bench: &Bench) -> [bool; 2] {
    [0, 1].map(|axis| bench.rig.output(axis).expect("axis").lowered)
}

/// Ticks with frames of zeros in time, as a daemon at rest sends them.
fn rest(bench: &mut Bench, ms: u32) {
    for _ in 0..ms {
        bench.drive(&[0, 0]);
        bench.tick();
    }
}

#[test]
fn it_is_lowered_where_it_can_be_and_given_back_before_it_says_so() {
    let mut bench = offers();
    assert_eq!(ask(&mut bench, 1, 0b11), [(1, 0b01, 0b01)], "only pan can");
    assert_eq!(low(&bench), [true, false]);
    rest(&mut bench, 1_000);
    assert!(told(&mut bench).is_empty(), "nothing has changed");
    assert_eq!(low(&bench), [true, false]);
    // Back: at once for the drives, told when they have it.
    assert_eq!(ask(&mut bench, 2, 0), [(2, 0b01, 0b01)]);
    assert_eq!(low(&bench), [false, false]);
    rest(&mut bench, u32::from(RISE_MS) - 1);
    assert!(told(&mut bench).is_empty(), "it rises");
    assert!(!bench.drive(&[COUNT, 0]), "too weak to move yet");
    rest(&mut bench, 1);
    assert_eq!(told(&mut bench), [(2, 0b01, 0)]);
    assert!(bench.drive(&[COUNT, 0]));
}

/// The rig's own part of the law: whatever a daemon does, nothing moves on less than the full current.
#[test]
fn a_frame_that_would_move_a_weak_motor_is_refused_and_strengthens_it() {
    for velocity in [[COUNT, 0], [0, -COUNT]] {
        let mut bench = offers();
        ask(&mut bench, 1, 0b01);
        let refused = bench.state().frames_refused;
        assert!(!bench.drive(&velocity));
        assert_eq!(bench.state().frames_refused, refused + 1);
        assert_eq!(low(&bench), [false, false]);
        rest(&mut bench, u32::from(RISE_MS));
        assert_eq!(told(&mut bench).last(), Some(&(1, 0b01, 0)));
        assert!(bench.drive(&velocity));
    }
}

#[test]
fn it_is_given_back_by_whatever_ends_the_peace() {
    let stop = Inputs {
        stop_input: true,
        ..Inputs::default()
    };
    let fault = Inputs {
        faults: 1,
        ..Inputs::default()
    };
    let dark = Inputs {
        power: false,
        ..Inputs::default()
    };
    type Does<'a> = &'a dyn Fn(&mut Bench);
    let all: [(&str, Does<'_>); 6] = [
        ("stop input", &|b| b.rig.set_inputs(stop)),
        ("fault", &|b| b.rig.set_inputs(fault)),
        ("power", &|b| b.rig.set_inputs(dark)),
        ("another session", &|b| b.send(&hello(SESSION + 1))),
        ("a reference", &|b| {
            b.rig.set_reference(0, 5).expect("at rest")
        }),
        // Nobody is left to ask for it back.
        ("no frames", &|b| b.ticks(120)),
    ];
    for (what, happens) in all {
        let mut bench = offers();
        ask(&mut bench, 1, 0b01);
        rest(&mut bench, 10);
        assert_eq!(low(&bench), [true, false], "{what}");
        happens(&mut bench);
        assert_eq!(low(&bench), [false, false], "{what}");
    }
    let mut bench = offers();
    ask(&mut bench, 1, 0b01);
    rest(&mut bench, 10);
    bench.ticks(118);
    assert_eq!(low(&bench), [true, false], "frames may be late");
}

#[test]
fn it_is_not_lowered_while_anything_moves_or_is_held() {
    let mut bench = offers();
    assert!(bench.drive(&[0, COUNT]));
    assert_eq!(ask(&mut bench, 1, 0b01), [(1, 0b01, 0)]);
    // The same again is what it was; what is asked anew is looked at anew, and the mechanics have to settle.
    bench.tick();
    rest(&mut bench, 499);
    assert_eq!(ask(&mut bench, 1, 0b01), [(1, 0b01, 0)]);
    assert_eq!(ask(&mut bench, 2, 0b01), [(2, 0b01, 0)]);
    rest(&mut bench, 1);
    assert_eq!(ask(&mut bench, 3, 0b01), [(3, 0b01, 0b01)]);
    let mut bench = offers();
    bench.rig.set_inputs(Inputs {
        stop_input: true,
        ..Inputs::default()
    });
    assert_eq!(ask(&mut bench, 1, 0b01), [(1, 0b01, 0)]);
}

/// Duplicates, latecomers and strangers have no effect and no answer.
#[test]
fn outdated_words_are_not_heard() {
    let mut bench = offers();
    let early = word(&bench, 1, 0b01);
    ask(&mut bench, 2, 0b01);
    ask(&mut bench, 3, 0);
    rest(&mut bench, 100);
    told(&mut bench);
    let refused = bench.state().frames_refused;
    let zero = word(&bench, 0, 0b01);
    let mut stranger = word(&bench, 4, 0b01);
    let mut late = stranger.clone();
    if let (ToRig::Standstill(a), ToRig::Standstill(b)) = (&mut stranger, &mut late) {
        a.session += 1;
        b.deadline_us = bench.now_us.wrapping_sub(1);
    }
    let mut damaged = encode(&word(&bench, 4, 0b01)).expect("fits");
    damaged[4] ^= 1;
    for asked in [early, zero, stranger, late] {
        bench.send(&asked);
    }
    bench.bytes(&damaged);
    assert_eq!(bench.state().frames_refused, refused + 5);
    assert!(told(&mut bench).is_empty());
    assert_eq!(low(&bench), [false, false]);
}

/// Random words, frames, inputs and pauses: an axis that moves has its full current, and so have all others.
#[test]
fn nothing_ever_moves_on_less_than_the_full_current() {
    let (mut weak, mut moved) = (0, 0);
    for seed in 0..200 {
        let mut random = Random(seed);
        let mut pan = axis("pan", 1667, 0);
        pan.lowers = true;
        let setup = [limits(None, 3333, 8333), limits(None, 3333, 8333)];
        let mut bench = Bench::ready(&[pan.clone(), pan], &setup);
        let mut number = 0;
        for _ in 0..300 {
            match random.below(9) {
                0 | 1 => {
                    number += u32::try_from(random.below(2)).expect("small");
                    let lower = random.below(4) as u8;
                    let asked = word(&bench, number, lower);
                    bench.send(&asked);
                }
                2 => {
                    let speed = [0, COUNT, -300 * COUNT][random.below(3) as usize];
                    bench.drive(&[speed, 0]);
                }
                3 if random.below(20) == 0 => bench.ticks(130),
                4 if random.below(4) == 0 => rest(&mut bench, 500),
                _ => {
                    bench.drive(&[0, 0]);
                }
            }
            bench.tick();
            let moves = [0, 1].iter().any(|axis| bench.velocity(*axis) != 0);
            weak += u32::from(low(&bench) != [false, false]);
            moved += u32::from(moves);
            assert!(!moves || low(&bench) == [false, false], "seed {seed}");
        }
    }
    assert!(weak > 1_000 && moved > 1_000, "{weak} weak, {moved} moved");
}
