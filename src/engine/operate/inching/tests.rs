//! Steps that wait, the other way, kept down: what is asked of the axis.

use super::*;
use crate::rig::LimitSet;
use crate::time::Span;
use crate::units::{Accel, Jerk};
use approx::assert_abs_diff_eq;
use std::vec::Vec;

const STEP: f64 = 0.5;
const CREEP: f64 = 0.3;
const TICK: Span = Span::from_millis(4);

/// An axis that follows exactly.
struct Follows {
    inching: Inching,
    now: Time,
    position: f64,
    v: f64,
    down: bool,
    full: f64,
}

impl Follows {
    fn at_rest() -> Follows {
        Follows {
            inching: Inching::NONE,
            now: Time(0),
            position: 0.0,
            v: 0.0,
            down: false,
            full: 10.0,
        }
    }

    fn press(&mut self, plus: bool) {
        self.inching.pressed(Press {
            pad: PadId(0),
            button: Button::DpadRight,
            at: self.now,
            plus,
        });
    }

    fn tick(&mut self) -> Way {
        self.now = self.now + TICK;
        let set = LimitSet {
            accel: Accel(120.0),
            jerk: Jerk(600.0),
        };
        let way = self.inching.way(&Moment {
            now: self.now,
            dt: TICK.secs(),
            position: self.position,
            at_rest: self.v == 0.0,
            step: STEP,
            creep: Speed(CREEP),
            full: self.full,
            sets: Sets {
                gain: set,
                lose: set,
            },
            down: self.down,
        });
        self.v = match way {
            Way::None => 0.0,
            Way::Exactly(motion) => motion.v,
            Way::Towards(v) => v,
        };
        self.position += self.v * TICK.secs();
        way
    }

    /// Until nothing is under way; every way asked for.
    fn run(&mut self) -> Vec<Way> {
        let mut ways = Vec::new();
        while self.inching.active() {
            ways.push(self.tick());
            assert!(ways.len() < 10_000, "it never ends");
        }
        ways
    }
}

#[test]
fn nothing_asked_for_is_nothing_done() {
    let mut axis = Follows::at_rest();
    assert_eq!(axis.tick(), Way::None);
    assert!(!axis.inching.active() && axis.inching.press().is_none());
}

#[test]
fn a_press_is_one_step_each_way() {
    for plus in [true, false] {
        let mut axis = Follows::at_rest();
        axis.press(plus);
        let ways = axis.run();
        assert!(ways.iter().all(|way| matches!(way, Way::Exactly(_))));
        assert_abs_diff_eq!(axis.position, signed(STEP, plus), epsilon = 1e-3);
    }
}

/// One under way and those that wait, no more than [`MOST_WAITING`].
#[test]
fn presses_of_one_way_wait_their_turn_up_to_a_number() {
    for (presses, steps) in [(1, 1.0), (2, 2.0), (9, 9.0), (10, 9.0), (300, 9.0)] {
        let mut axis = Follows::at_rest();
        axis.press(true);
        axis.tick();
        for _ in 1..presses {
            axis.press(true);
        }
        axis.run();
        assert_abs_diff_eq!(axis.position, steps * STEP, epsilon = 1e-3);
    }
}

#[test]
fn the_other_way_drops_those_that_wait_and_comes_next() {
    let mut axis = Follows::at_rest();
    axis.press(true);
    axis.tick();
    for _ in 0..5 {
        axis.press(true);
    }
    axis.press(false);
    let mut highest: f64 = 0.0;
    while axis.inching.active() {
        axis.tick();
        highest = highest.max(axis.position);
    }
    assert_abs_diff_eq!(highest, STEP, epsilon = 1e-3);
    assert_abs_diff_eq!(axis.position, 0.0, epsilon = 1e-3);
}

/// Steps add up from where the first one began: what one misses the next one makes up for.
#[test]
fn steps_do_not_add_up_their_rounding() {
    let mut axis = Follows::at_rest();
    for step in 1..=200 {
        axis.press(true);
        axis.run();
        let off = axis.position - f64::from(step) * STEP;
        assert!(off.abs() < 1e-3, "{off} after {step}");
        // Each lands a little too far.
        axis.position += 0.002;
    }
    // Pushed off by hand or driven by a stick, it counts from where it is.
    axis.inching.moved_otherwise();
    axis.position = 7.003;
    axis.press(true);
    axis.run();
    assert_abs_diff_eq!(axis.position, 7.503, epsilon = 1e-3);
}

#[test]
fn kept_down_it_becomes_a_creep_and_ends_with_the_button() {
    let mut axis = Follows::at_rest();
    axis.down = true;
    axis.press(true);
    while axis.now.since(Time(0)) < HELD_FOR {
        assert!(!matches!(axis.tick(), Way::Towards(_)), "not before 600 ms");
    }
    // The step was over long ago, and only one was made.
    assert_abs_diff_eq!(axis.position, STEP, epsilon = 1e-3);
    axis.tick();
    for _ in 0..1_000 {
        assert_eq!(axis.tick(), Way::Towards(CREEP));
    }
    axis.down = false;
    assert_eq!(axis.tick(), Way::None);
    assert!(!axis.inching.active());

    let mut back = Follows::at_rest();
    back.down = true;
    back.press(false);
    for _ in 0..200 {
        back.tick();
    }
    assert_eq!(back.tick(), Way::Towards(-CREEP));
}

#[test]
fn an_axis_that_still_moves_comes_to_rest_first() {
    let mut axis = Follows::at_rest();
    axis.press(true);
    axis.v = 3.0;
    assert_eq!(axis.tick(), Way::Towards(0.0));
    assert!(matches!(axis.tick(), Way::Exactly(_)), "then the step");
}

#[test]
fn an_end_is_an_end() {
    let mut axis = Follows::at_rest();
    axis.press(true);
    axis.press(true);
    axis.tick();
    axis.inching.end();
    assert_eq!(axis.tick(), Way::None);
}
