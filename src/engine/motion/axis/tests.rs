//! One axis, order by order: sets that change in the middle of a motion, and ends that come near.

use super::*;
use crate::rig::LimitSet;
use crate::units::{Accel, Jerk, Pos};
use std::vec::Vec;

const DT: f64 = 0.004;
const COUNT: f64 = 0.001;
const END: f64 = 100.0;

const fn set(accel: f64, jerk: f64) -> LimitSet {
    LimitSet {
        accel: Accel(accel),
        jerk: Jerk(jerk),
    }
}

const NORMAL: LimitSet = set(60.0, 300.0);
const QUIET: LimitSet = set(15.0, 75.0);

const fn both(set: LimitSet) -> Sets {
    Sets {
        gain: set,
        lose: set,
    }
}

/// An axis, where it is, and what it did.
struct Axis {
    facts: AxisFacts,
    motion: AxisMotion,
    order: Order,
    jerks: Vec<f64>,
    changes: Vec<Change>,
}

impl Axis {
    fn at(position: f64, stop: LimitSet) -> Axis {
        let limits = Limits::new(NORMAL, stop, stop).expect("stop at least normal");
        Axis {
            facts: AxisFacts {
                limits,
                ends: Ends::new(Pos(-END), Pos(END)),
                count: COUNT,
                hold_s: 0.088,
            },
            motion: AxisMotion::at_rest(),
            order: Order {
                target: 0.0,
                ceiling: 60.0,
                most: 60.0,
                exactly: None,
                sets: both(NORMAL),
                dt: DT,
                position,
            },
            jerks: Vec::new(),
            changes: Vec::new(),
        }
    }

    fn motion(&self) -> Motion {
        self.motion.motion()
    }

    fn ceiling(&mut self, ceiling: f64) {
        (self.order.ceiling, self.order.most) = (ceiling, ceiling);
    }

    /// A tick, after which the speed stays for `held` seconds.
    fn tick_held(&mut self, held: f64) {
        let before = self.motion();
        let change = self.motion.step(&self.facts, &self.order);
        self.changes.extend(change);
        self.jerks.push((self.motion().a - before.a) / DT);
        self.order.position += self.motion().v * held;
    }

    fn run(&mut self, seconds: f64) {
        for _ in 0..(seconds / DT) as u32 {
            self.tick_held(DT);
        }
    }

    fn until(&mut self, met: impl Fn(&Axis) -> bool) {
        for _ in 0..10_000 {
            if met(self) {
                return;
            }
            self.tick_held(DT);
        }
        panic!("never came");
    }

    /// The highest |jerk| since the last look.
    fn hardest(&mut self) -> f64 {
        let jerks = core::mem::take(&mut self.jerks);
        jerks.into_iter().fold(0.0, |most, j| higher(most, j.abs()))
    }
}

/// The end is too near for the quiet set's stop, so the guard brakes by the old one; but a stick that is
/// let go has nothing to do with the end.
#[test]
fn a_stick_let_go_while_braking_for_an_end_has_the_set_that_fits() {
    let mut axis = Axis::at(80.0, set(120.0, 900.0));
    axis.order.target = 20.0;
    axis.until(|axis| axis.changes == [Change::Braking]);
    axis.until(|axis| axis.motion().a < 0.0 && axis.motion().v < 0.2);
    axis.order.sets = both(QUIET);
    axis.tick_held(DT);
    axis.hardest();
    axis.order.target = 0.0;
    axis.run(1.0);
    assert!(axis.motion().at_rest());
    let (hardest, position) = (axis.hardest(), axis.order.position);
    assert!(hardest < 1.01 * QUIET.jerk.0, "{hardest}");
    assert!(position < END, "{position}");
}

/// An acceleration that is still to be taken off is part of the way to the end: a softer set for it makes
/// the way longer, and may not make the guard late.
#[test]
fn a_softer_set_to_gain_speed_does_not_make_the_guard_late() {
    for start in 0..60 {
        let mut axis = Axis::at(96.0 + 0.05 * f64::from(start), set(120.0, 900.0));
        axis.order.target = 30.0;
        axis.run(0.12);
        axis.order.sets = Sets {
            gain: set(60.0, 20.0),
            lose: set(60.0, 40.0),
        };
        axis.run(3.0);
        assert!(!axis.changes.contains(&Change::Late), "from {start}");
        assert!(axis.order.position < END, "{}", axis.order.position);
        assert!(axis.hardest() < 1.06 * NORMAL.jerk.0);
    }
}

/// A late tick in the middle of braking leaves less room. What it brakes harder for it must still come off
/// in time by a stop set that is hardly harder than the one in force.
#[test]
fn a_brake_for_an_end_is_never_too_hard_to_come_off() {
    let late = (10..60)
        .step_by(2)
        .flat_map(|ticks| (60..86).step_by(3).map(move |ms| (ticks, ms)));
    for ((ticks, ms), target) in late.flat_map(|late| [12.0, 14.0, 16.0].map(|v| (late, v))) {
        let mut axis = Axis::at(60.0, NORMAL);
        axis.order.sets.lose = set(60.0, 290.0);
        axis.order.target = target;
        axis.until(|axis| axis.changes == [Change::Braking]);
        axis.run(DT * f64::from(ticks));
        axis.tick_held(f64::from(ms) / 1000.0);
        axis.run(4.0);
        let hardest = axis.hardest();
        assert!(
            hardest < 1.06 * NORMAL.jerk.0,
            "{hardest}, {ms} ms after {ticks} ticks from {target}"
        );
    }
}

/// With a soft set to gain speed, a target that comes down close above the speed takes more jerk than it
/// has. It is what it takes, and nothing is gained by the hard one.
#[test]
fn a_target_that_comes_down_takes_no_more_jerk_than_it_needs() {
    let mut axis = Axis::at(0.0, set(120.0, 3000.0));
    axis.order.sets = Sets {
        gain: set(40.0, 50.0),
        lose: set(60.0, 2000.0),
    };
    axis.order.target = 30.0;
    axis.run(0.4);
    let before = axis.motion();
    axis.hardest();
    axis.order.target = before.v + 3.0;
    let needed = before.a * before.a / 6.0;
    assert!(needed > 55.0);
    let mut most = 0.0;
    axis.until(|axis| axis.motion().a == 0.0);
    axis.run(0.1);
    most = higher(most, axis.hardest());
    assert!(most < 1.1 * needed, "{most} where {needed} would do");
    assert!((axis.motion().v - axis.order.target).abs() < 1e-9);
}

/// Hands that ask for less again and again keep the brake beyond a softer set: under its ceiling it takes
/// over all the same.
#[test]
fn a_softer_losing_set_takes_over_under_its_ceiling() {
    let mut axis = Axis::at(0.0, set(120.0, 900.0));
    axis.order.target = 20.0;
    axis.run(2.0);
    axis.order.sets = both(QUIET);
    axis.ceiling(12.0);
    // The thumb goes down ahead of the speed.
    let mut brakes = Vec::new();
    while axis.motion().v > 2.0 {
        axis.order.target = higher(0.0, axis.motion().v - 10.0);
        axis.tick_held(DT);
        brakes.push((axis.motion().v, -axis.motion().a));
    }
    assert!(brakes.iter().any(|(_, a)| *a > 3.0 * QUIET.accel.0));
    // As long as easing it takes, in speed.
    let eased =
        12.0 - NORMAL.accel.0 * NORMAL.accel.0 / (2.0 * NORMAL.jerk.0) - NORMAL.accel.0 * DT;
    let after = brakes.iter().filter(|(v, _)| *v < eased);
    assert!(after.clone().count() > 10);
    for (v, a) in after {
        assert!(*a <= QUIET.accel.0 * 1.001, "{a} at {v}");
    }
}

/// In the tick in which the speed arrives at its ceiling that falls on: a softer set that waited has fitted by
/// then, and takes over.
#[test]
fn a_softer_losing_set_takes_over_though_the_ceiling_falls_on() {
    let mut axis = Axis::at(0.0, set(120.0, 900.0));
    axis.order.target = 20.0;
    axis.run(2.0);
    axis.order.sets = both(QUIET);
    axis.ceiling(12.0);
    axis.order.target = 12.0;
    axis.until(|axis| axis.motion().v == 12.0);
    axis.hardest();
    axis.ceiling(8.0);
    axis.order.target = 8.0;
    axis.until(|axis| axis.motion().v == 8.0);
    let hardest = axis.hardest();
    assert!(hardest < 1.001 * QUIET.jerk.0, "{hardest}");
}

/// A planned motion is planned inside the sets offered, so they are the ones in force when it is given up.
#[test]
fn a_planned_motion_that_is_given_up_goes_on_by_its_own_sets() {
    let mut axis = Axis::at(0.0, set(120.0, 900.0));
    axis.order.target = 0.01;
    axis.tick_held(DT);
    axis.order.sets = both(QUIET);
    let mut planned = axis.motion();
    for _ in 0..40 {
        planned = planned.after(planned.a + QUIET.jerk.0 * DT, DT);
        axis.order.exactly = Some(planned);
        axis.order.target = planned.v;
        axis.tick_held(DT);
    }
    axis.hardest();
    axis.order.exactly = None;
    axis.run(0.2);
    let hardest = axis.hardest();
    assert!(hardest < 1.001 * QUIET.jerk.0, "{hardest}");
}

/// More than one state that lasts longer than planned leaves too little room for the set in force: the
/// stop set brakes, and the axis stays inside.
#[test]
fn late_ticks_one_after_the_other_make_the_guard_late() {
    let mut axis = Axis::at(60.0, set(240.0, 3000.0));
    axis.order.target = 20.0;
    axis.until(|axis| axis.changes == [Change::Braking]);
    for _ in 0..2 {
        axis.tick_held(0.075);
    }
    // What is left of the way after such a stop is gone on with.
    axis.run(10.0);
    assert!(axis.changes.starts_with(&[Change::Braking, Change::Late]));
    assert!(axis.motion().at_rest());
    assert!(axis.order.position <= END, "{}", axis.order.position);
}

/// A tick longer than the one before finds too much acceleration left to take off before the ceiling.
#[test]
fn a_longer_tick_carries_no_speed_past_the_ceiling() {
    for (ticks, longer) in (1..140).flat_map(|n| [1.25, 1.5, 2.0].map(|times| (n, times))) {
        let mut axis = Axis::at(0.0, set(120.0, 900.0));
        axis.ceiling(20.0);
        axis.order.target = 20.0;
        axis.run(DT * f64::from(ticks));
        axis.order.dt = longer * DT;
        axis.tick_held(longer * DT);
        axis.order.dt = DT;
        for _ in 0..20 {
            let v = axis.motion().v;
            assert!(v <= 20.0 + 1e-9, "{v}, {longer} after {ticks} ticks");
            axis.tick_held(DT);
        }
    }
}

/// A ceiling falls in the very tick in which a gain arrives at it, behind a longer tick that left too much of that
/// gain: what is left is taken off as hard as if it had not fallen.
#[test]
fn a_ceiling_that_falls_as_the_speed_arrives_is_not_passed() {
    let period = 5.0 * DT;
    let hard_gain = Sets {
        gain: set(52.0, 740.0),
        lose: set(4.2, 4.9),
    };
    let soft = both(hard_gain.lose);
    for (ticks, more) in (1..12).flat_map(|n| [0, 1, 2].map(|m| (n, m))) {
        for longer in [1.05, 1.1, 1.15, 1.2, 1.3] {
            let highest = |sets, ceiling| {
                let mut axis = Axis::at(0.0, set(120.0, 900.0));
                let mut tick = |dt, sets, ceiling| {
                    axis.order.sets = sets;
                    axis.ceiling(ceiling);
                    axis.order.target = ceiling;
                    axis.order.dt = dt;
                    axis.tick_held(dt);
                    axis.motion().v
                };
                let before = (0..ticks).map(|_| period);
                let late = before.chain([longer * period]);
                for dt in late.chain((0..more).map(|_| period)) {
                    tick(dt, hard_gain, 5.0);
                }
                let after = (0..10).map(|_| tick(period, sets, ceiling));
                after.fold(0.0, higher)
            };
            let had_it_stayed = highest(hard_gain, 5.0);
            for sets in [hard_gain, soft] {
                let v = highest(sets, 3.0);
                assert!(
                    v <= had_it_stayed + 1e-9,
                    "{v} of {had_it_stayed}: {sets:?}, {ticks}, {longer}, {more}"
                );
            }
        }
    }
}

/// Where axes share what there is, what is left for one may fall a little while it gains, under a set too soft to
/// lose what it then has too much of.
#[test]
fn a_share_that_falls_while_speed_is_gained_is_not_passed() {
    let period = 5.0 * DT;
    let mut judged = 0;
    for (n, falls) in (1..12).flat_map(|n| [1.0, 0.995, 0.98, 0.95].map(|falls| (n, falls))) {
        let mut axis = Axis::at(0.0, set(120.0, 900.0));
        axis.order.sets = Sets {
            gain: set(52.0, 740.0),
            lose: set(12.0, 60.0),
        };
        axis.order.dt = period;
        let mut share = 5.0;
        for tick in 0..40 {
            if tick == n {
                share *= falls;
                // It has gained too much already.
                if axis.motion.staying(period) > share {
                    break;
                }
                judged += 1;
            }
            (axis.order.target, axis.order.most) = (share, share);
            axis.tick_held(period);
            let v = axis.motion().v;
            assert!(v <= share + 1e-9, "{v} of {share}: {n}, {falls}");
        }
    }
    assert!(judged > 20, "{judged}");
}

/// Tellings that put the position forth and back by a count or two are no reason to let go of a brake and to
/// take it up again: with the stick held it brakes on.
#[test]
fn a_brake_for_an_end_is_not_decided_anew() {
    let mut axis = Axis::at(60.0, set(120.0, 900.0));
    axis.order.target = 20.0;
    axis.until(|axis| axis.changes == [Change::Braking]);
    axis.jerks.clear();
    let mut nth = 0;
    while !axis.motion().at_rest() {
        axis.order.position += if nth % 2 == 0 {
            -2.0 * COUNT
        } else {
            2.0 * COUNT
        };
        axis.tick_held(DT);
        nth += 1;
        assert!(nth < 2_000, "it comes to rest");
    }
    let again = axis.changes.iter().filter(|c| **c == Change::Braking);
    assert_eq!(again.count(), 1);
}
