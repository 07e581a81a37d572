//! The travel guard: no axis leaves its travel, and it lands on the end rather than before it.
//!
//! Before each step the guard asks how far the axis would still go from where the step ends
//! ([`BrakeCurve::reach`]). If that is beyond the end it brakes, the first braking step chosen so
//! that it just fits, and once braking it keeps braking until the stick asks for less or inward:
//! deciding anew at each tick makes the axis chatter.

use super::slew::Motion;
use super::stopping::BrakeCurve;
use crate::units::{held, higher, lower};
use libm::sqrt;

/// What the guard of one axis is doing.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Guard {
    /// Everything fits.
    Free,
    /// Braking for the end in the direction of this sign, along this curve.
    Braking(f64, BrakeCurve, Phase),
    /// The plan no longer fitted: stopping with the stop set.
    Late,
}

/// How far a braking has got.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Phase {
    /// Full jerk until the curve is met.
    Entering,
    /// Along the curve.
    Following,
}

/// Counts of room that set an axis at rest before an end free again, should the end turn out to be
/// further away (a telling, a new travel): more than any rounding, less than anyone sees.
const FREE_AGAIN_COUNTS: f64 = 3.0;

/// Halvings of the first braking step: a 4000th of the step.
const FIRST_STEP_HALVINGS: u32 = 12;

/// What the guard needs to know of one tick.
#[derive(Clone, Copy, Debug)]
pub struct Approach {
    /// Seconds this tick may change the speed for.
    pub dt: f64,
    /// Units to the end in the direction of motion; negative beyond it.
    pub room: f64,
    /// One count in units.
    pub count: f64,
}

/// The acceleration with which to begin braking: the one closest to `wanted` whose end state can
/// still come to rest within the room, or the hardest there is. `now` is along the motion.
pub fn first_step(now: Motion, wanted: f64, curve: &BrakeCurve, at: &Approach) -> f64 {
    let hardest = higher(now.a - curve.jerk_at(now.a) * at.dt, -curve.hardest());
    let mut hard = higher(lower(hardest, wanted), still(now, at.dt));
    let mut soft = wanted;
    for _ in 0..FIRST_STEP_HALVINGS {
        let middle = (hard + soft) / 2.0;
        if fits(now.after(middle, at.dt), curve, at) {
            hard = middle;
        } else {
            soft = middle;
        }
    }
    hard
}

/// The acceleration of a further braking step along the curve. `now` is along the motion, `release`
/// the jerk with which a brake may come off now, `hardest` the highest with which it ever may.
pub fn braking_step(
    now: Motion,
    curve: &BrakeCurve,
    phase: Phase,
    at: &Approach,
    (release, hardest): (f64, f64),
) -> (f64, Phase) {
    let step = curve.jerk_at(now.a) * at.dt;
    let v = higher(0.0, now.v + now.a * at.dt);
    let curve_a = -curve.deceleration(v);
    if phase == Phase::Entering && now.a - step > curve_a {
        return (now.a - step, Phase::Entering);
    }
    // Held in proportion to the room left, so that rounding and late ticks do not add up: with less
    // room than the curve needs it brakes harder, with more it brakes softer.
    let room = higher(at.room, at.count / 16.0);
    let wanted = curve_a * held(curve.way(v) / room, 0.25, 4.0);
    // No harder than can be taken off again in time: with that room does not suffice, it is late.
    let most = lower(curve.hardest(), landable(now, hardest, at.dt));
    let a = held(
        held(wanted, -most, 0.0),
        now.a - step,
        now.a + higher(step, release * at.dt),
    );
    (higher(a, still(now, at.dt)), Phase::Following)
}

/// Whether the state can come to rest within the room. One that goes no further always fits, also
/// beyond the end.
pub fn fits(after: Motion, curve: &BrakeCurve, at: &Approach) -> bool {
    let reach = curve.reach(after.v, after.a);
    reach <= 0.0 || reach <= at.room
}

/// Whether even the quickest stop of the braking set no longer fits. Half a count is rounding.
pub fn too_late(now: Motion, curve: &BrakeCurve, at: &Approach) -> bool {
    now.v > 0.0 && now.v * at.dt + curve.least_way(now.v, now.a) > at.room + at.count / 2.0
}

/// Whether an axis at rest before an end has room to move again.
pub fn has_room(at: &Approach) -> bool {
    at.room > FREE_AGAIN_COUNTS * at.count
}

/// The hardest brake after the tick from which `jerk` still takes it off before rest: p^2 = 2 j v',
/// where v' is the speed after a tick that ends with it.
fn landable(now: Motion, jerk: f64, dt: f64) -> f64 {
    let v = higher(0.0, now.v + now.a * dt / 2.0);
    let step = jerk * dt;
    sqrt(step * step / 4.0 + 2.0 * jerk * v) - step / 2.0
}

/// The acceleration that ends the tick at rest and not beyond.
fn still(now: Motion, dt: f64) -> f64 {
    -2.0 * now.v / dt - now.a
}
