//! What ends, trims and lowers a speed that is kept.

use super::*;
use approx::assert_abs_diff_eq;

const FULL: f64 = 10.0;
const DT: f64 = 0.004;

fn stick(x: f64) -> Trim {
    Trim {
        demand: x,
        depth: x.abs(),
        centred: x == 0.0,
        full: FULL,
        dt: DT,
    }
}

/// Engaged at this speed, and let go.
fn kept(speed: f64) -> Sustain {
    let engaged = Sustain::engage(speed).expect("it moves");
    engaged
        .trimmed(&stick(0.0))
        .expect("a stick let go keeps it")
}

/// After so many seconds of a stick held there.
fn after(mut sustain: Sustain, seconds: f64, x: f64) -> Option<Sustain> {
    for _ in 0..(seconds / DT).round() as usize {
        sustain = sustain.trimmed(&stick(x))?;
    }
    Some(sustain)
}

#[test]
fn at_rest_there_is_nothing_to_keep() {
    assert_eq!(Sustain::engage(0.0), None);
    assert_eq!(Sustain::engage(-0.0), None);
}

#[test]
fn a_speed_is_kept_to_the_bit_with_the_stick_let_go() {
    for speed in [3.3, -0.017, FULL] {
        let later = after(kept(speed), 60.0, 0.0).expect("nothing ends it");
        assert_eq!(later.speed(FULL), speed);
    }
}

#[test]
fn the_stick_that_set_it_trims_nothing_until_it_was_let_go() {
    let engaged = Sustain::engage(4.0).expect("it moves");
    let held_over = after(engaged, 5.0, 0.4).expect("still there");
    assert_eq!(held_over.speed(FULL), 4.0);
    let let_go = held_over.trimmed(&stick(0.0)).expect("still there");
    let trimmed = after(let_go, 1.0, 0.4).expect("still there");
    assert!(trimmed.speed(FULL) > 4.5);
}

/// A full stick trims by the full-stick speed in 4 s: 0.4 of it by 1 deg/s in 1 s.
#[test]
fn the_stick_trims_it_up_and_down() {
    for sign in [1.0, -1.0] {
        let speed = |x: f64, seconds: f64| {
            let later = after(kept(4.0 * sign), seconds, x * sign).expect("not ended");
            later.speed(FULL) * sign
        };
        assert_abs_diff_eq!(speed(0.4, 1.0), 5.0, epsilon = 1e-9);
        assert_abs_diff_eq!(speed(-0.4, 1.0), 3.0, epsilon = 1e-9);
        assert_abs_diff_eq!(speed(1.0, 9.0), FULL, epsilon = 1e-9);
    }
}

#[test]
fn trimmed_down_to_rest_it_has_ended_and_does_not_turn_round() {
    let mut sustain = kept(1.0);
    for _ in 0..249 {
        sustain = sustain.trimmed(&stick(-0.4)).expect("above rest until 1 s");
        assert!(sustain.speed(FULL) > 0.0);
    }
    assert_eq!(after(sustain, 0.02, -0.4), None);
}

#[test]
fn the_opposite_stick_ends_it_past_half_and_not_before() {
    for sign in [1.0, -1.0] {
        assert!(kept(9.0 * sign).trimmed(&stick(-0.49 * sign)).is_some());
        assert_eq!(kept(9.0 * sign).trimmed(&stick(-0.5 * sign)), None);
        assert!(
            kept(9.0 * sign).trimmed(&stick(sign)).is_some(),
            "its own way"
        );
    }
    // The curve may make little of half a stick: how far it is pushed counts.
    let soft = Trim {
        demand: -0.05,
        depth: 0.6,
        ..stick(0.0)
    };
    assert_eq!(kept(9.0).trimmed(&soft), None);
}

/// A thumb that flies from one side to the other is perhaps never seen in the middle.
#[test]
fn the_opposite_stick_ends_it_even_if_it_was_never_seen_let_go() {
    let engaged = Sustain::engage(9.0).expect("it moves");
    let engaged = engaged.trimmed(&stick(0.9)).expect("its own way");
    assert_eq!(engaged.trimmed(&stick(-0.9)), None);
}

#[test]
fn a_ceiling_lowers_it_for_good() {
    for let_go in [true, false] {
        let sustain = if let_go {
            kept(8.0)
        } else {
            Sustain::engage(8.0).expect("it moves")
        };
        let low = Trim {
            full: 3.0,
            centred: let_go,
            ..stick(0.0)
        };
        assert_eq!(sustain.speed(3.0), 3.0, "in the tick the ceiling falls");
        let lowered = sustain.trimmed(&low).expect("kept");
        let later = after(lowered, 10.0, 0.0).expect("kept");
        assert_eq!(later.speed(FULL), 3.0);
    }
    assert_eq!(kept(-8.0).speed(3.0), -3.0);
}
