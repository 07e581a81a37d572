//! The motion of one axis: its speed and acceleration, the sets in force, its guard.

use super::guard::{self, Approach, Guard, Phase};
use super::in_force::{InForce, Moment};
use super::sets::Sets;
use super::slew::{Bounds, LANDING_MARGIN, Motion, braking_jerk, towards, will_pass};
use super::stopping::{BrakeCurve, Stop, stop};
use crate::rig::{Ends, Limits};
use crate::units::{higher, lower};

/// What one axis is to do in this tick.
#[derive(Clone, Copy, Debug)]
pub struct Order {
    /// The speed asked for, in units/s, already under every ceiling that can be told beforehand.
    pub target: f64,
    /// The lowest of those ceilings, in units/s: never below |target|.
    pub ceiling: f64,
    /// What no gain may pass, in units/s: the ceiling, or less of it where axes share what there is.
    pub most: f64,
    /// Exactly the motion the tick is to end with, for a planned way; the guard may still brake it.
    pub exactly: Option<Motion>,
    /// The sets the operator, gear and rig would have now.
    pub sets: Sets,
    /// Seconds this tick may change the speed for.
    pub dt: f64,
    /// Where the axis is.
    pub position: f64,
}

/// What does not change from tick to tick.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct AxisFacts {
    /// The rig's normal and stop sets, as far as the rig agrees.
    pub limits: Limits,
    /// The ends to stay between; `None` for continuous travel.
    pub ends: Option<Ends>,
    /// One count in units.
    pub count: f64,
    /// How long any state may last longer than planned, in seconds.
    pub hold_s: f64,
}

/// The motion of one axis.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct AxisMotion {
    /// Speed and acceleration now.
    motion: Motion,
    /// Those of the last frame that left.
    sent: Motion,
    guard: Guard,
    /// The sets in force; none before the first order.
    sets: Option<InForce>,
    /// The highest speed since the acceleration was last zero, units/s.
    peak: f64,
    /// Whether a stop is under way; it lasts until rest.
    stopping: bool,
    /// The speed the last order asked for, units/s.
    aim: f64,
    /// The sets it offered, and its ceiling, units/s.
    offered: Option<(Sets, f64)>,
    /// The most it was last under, units/s: what speed it still gains ends there, though that fell.
    under: f64,
}

/// What changed for the axis in a tick, for whoever is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Change {
    /// It began to brake for an end.
    Braking,
    /// It found its plan too late.
    Late,
}

impl AxisMotion {
    /// An axis at rest.
    pub const fn at_rest() -> AxisMotion {
        let motion = Motion { v: 0.0, a: 0.0 };
        AxisMotion {
            motion,
            sent: motion,
            guard: Guard::Free,
            sets: None,
            peak: 0.0,
            stopping: false,
            aim: 0.0,
            offered: None,
            under: 0.0,
        }
    }

    /// Speed and acceleration now.
    pub const fn motion(&self) -> Motion {
        self.motion
    }

    /// The speed it was last asked for, in units/s.
    pub const fn aim(&self) -> f64 {
        self.aim
    }

    /// The highest speed since the acceleration was last zero, from which a losing of speed counts.
    pub const fn peak(&self) -> f64 {
        self.peak
    }

    /// The speed it still comes to when its acceleration is taken off at once by the set that made it, units/s. A
    /// harder one to lose speed may be gone before that is over.
    pub fn committed(&self) -> f64 {
        let now = self.motion.along(sign_of(self.motion.v));
        let jerk = self.sets.map_or(0.0, |sets| sets.live.gain.jerk.0);
        if now.a <= 0.0 || jerk <= 0.0 {
            return now.v;
        }
        now.v + now.a * now.a / (2.0 * jerk)
    }

    /// The speed at which it stays when its acceleration, of either kind, is taken off from now on in
    /// ticks of `dt` seconds, units/s.
    pub fn staying(&self, dt: f64) -> f64 {
        let now = self.motion.along(sign_of(self.motion.v));
        let jerk = self.sets.map_or(0.0, |sets| match now.a > 0.0 {
            true => higher(sets.live.gain.jerk.0, sets.live.lose.jerk.0),
            false => sets.live.lose.jerk.0,
        });
        // The last tick takes off whatever is left.
        let change = if now.a.abs() <= jerk * dt {
            now.a * dt / 2.0
        } else {
            now.a * now.a.abs() / (2.0 * jerk)
        };
        higher(0.0, now.v + change)
    }

    /// Whether an end of the travel bounds the speed.
    pub fn at_end(&self) -> bool {
        matches!(self.guard, Guard::Braking(..) | Guard::Late)
    }

    /// Stop with the stop set, until rest.
    pub fn stop(&mut self) {
        self.stopping = !self.motion.at_rest();
    }

    /// The frame with this motion left.
    pub fn left(&mut self) {
        self.sent = self.motion;
    }

    /// The frame with this motion could not leave when it was made. Time in which none leaves changes no speed:
    /// what comes next goes on from the last that left in time, or the rig would be asked for a jump.
    /// `late` is the speed of one that left since.
    pub fn stays(&mut self, late: Option<f64>) {
        self.motion = self.sent;
        if let Some(v) = late {
            self.sent.v = v;
        }
    }

    /// No frame has come for so long that the rig has begun to stop by itself: what speed was still
    /// to be gained was not.
    pub fn interrupted(&mut self) {
        if self.motion.a * self.motion.v > 0.0 {
            self.motion.a = 0.0;
        }
    }

    /// The stop from here with the stop set.
    pub fn stop_from_here(&self, facts: &AxisFacts) -> Stop {
        let along = self.motion.along(self.motion.v);
        stop(along.v, along.a, facts.limits.stop(self.motion.v))
    }

    /// One tick.
    pub fn step(&mut self, facts: &AxisFacts, order: &Order) -> Option<Change> {
        if self.motion.v.abs() <= order.most {
            self.under = order.most;
        }
        let sets = self.take_sets(facts, order);
        self.aim = order.target;
        let mut change = None;
        let next = if self.stopping || self.guard == Guard::Late {
            self.guard = if self.stopping {
                Guard::Free
            } else {
                Guard::Late
            };
            self.stop_step(facts, order.dt)
        } else {
            let proposed = order
                .exactly
                .unwrap_or_else(|| self.slew_step(facts, &sets, order));
            self.guarded(facts, &sets.plan, order, proposed, &mut change)
        };
        let wants_rest = self.stopping
            || self.guard != Guard::Free
            || order.exactly.is_none() && order.target == 0.0
            || order.target * self.motion.v < 0.0;
        self.settle(next, facts, order.dt, wants_rest);
        change
    }

    fn take_sets(&mut self, facts: &AxisFacts, order: &Order) -> InForce {
        let sign = sign_of(self.motion.v);
        // A start too slow yet for the wire to tell begins anew under the new set.
        let started = self.motion.v.abs() <= facts.count / WIRE_STEPS_PER_COUNT / 2.0;
        let mut sets = self.sets.unwrap_or(InForce::of(order.sets));
        if started && sets.live != order.sets {
            self.motion = Motion::default();
        }
        // What came under its ceiling in time for sets that waited takes them over, though the ceiling falls on.
        let ceiling = match self.offered {
            Some((sets, before)) if sets == order.sets => higher(order.ceiling, before),
            Some(_) | None => order.ceiling,
        };
        sets.offer(
            order.sets,
            &Moment {
                now: self.motion.along(sign),
                target: order.target * sign,
                ceiling,
                planned: order.exactly.is_some(),
                stopping: self.stopping,
                way: approach(facts, order, sign),
                dt: order.dt,
                hold_s: facts.hold_s,
            },
        );
        self.sets = Some(sets);
        self.offered = Some((order.sets, order.ceiling));
        sets
    }

    /// Towards the target under the sets in force; a reversal comes to rest first.
    fn slew_step(&self, facts: &AxisFacts, in_force: &InForce, order: &Order) -> Motion {
        let sets = &in_force.live;
        let sign = if self.motion.v == 0.0 {
            sign_of(order.target)
        } else {
            sign_of(self.motion.v)
        };
        let now = self.motion.along(sign);
        let target = higher(order.target * sign, 0.0);
        let stop_jerk = facts.limits.stop(self.motion.v).jerk.0;
        let bounds = live_bounds(now, target, sets, order.dt);
        // A brake left over from before the target rose comes off at the higher jerk of both sets: a
        // softer one to gain speed must not make it dive.
        let off = match target < now.v {
            true => bounds.jerk,
            false => higher(sets.gain.jerk.0, sets.lose.jerk.0),
        };
        if let Some(needed) = landing_jerk(now, off, stop_jerk) {
            let eased = lower(0.0, now.a + needed * order.dt);
            return now.after(eased, order.dt).along(sign);
        }
        let next = match curbing_jerk(now, target, sets, order.dt) {
            Some(jerk) => now.after(higher(0.0, now.a - jerk * order.dt), order.dt),
            None => towards(now, target, bounds, order.dt),
        };
        let hardest = higher(sets.gain.jerk.0, sets.lose.jerk.0);
        if now.v <= self.under && next.v > self.under {
            // A tick longer than the last one finds too much acceleration left, and so does a brake that is
            // softer than the gain.
            let meets = 2.0 * (self.under - now.v) / order.dt - now.a;
            let a = higher(meets, now.a - hardest * order.dt);
            return now.after(lower(next.a, a), order.dt).along(sign);
        }
        // While a softer set to gain speed waits, the acceleration is taken off until it fits.
        let waits = sets.gain != order.sets.gain && now.a > 0.0;
        let eased = higher(0.0, now.a - sets.gain.jerk.0 * order.dt);
        if waits && next.a > eased {
            return now.after(eased, order.dt).along(sign);
        }
        // Under the ceiling nothing needs a brake too hard for a softer set that waits: hands that go on
        // asking for less would keep that set waiting for ever.
        if let Some(most) = in_force
            .waits_for(order.sets)
            .filter(|_| now.v <= order.ceiling)
        {
            let eased = lower(-most, now.a + sets.lose.jerk.0 * order.dt);
            if now.a < -most && next.a < eased {
                return now.after(eased, order.dt).along(sign);
            }
        }
        next.along(sign)
    }

    fn stop_step(&self, facts: &AxisFacts, dt: f64) -> Motion {
        let sign = sign_of(self.motion.v);
        let bounds = Bounds::of(facts.limits.stop(self.motion.v), dt);
        towards(self.motion.along(sign), 0.0, bounds, dt).along(sign)
    }

    /// Holds the proposed step within the travel.
    fn guarded(
        &mut self,
        facts: &AxisFacts,
        plan: &Sets,
        order: &Order,
        proposed: Motion,
        change: &mut Option<Change>,
    ) -> Motion {
        let sign = match self.guard {
            Guard::Braking(sign, ..) => sign,
            Guard::Free | Guard::Late if proposed.v == 0.0 => sign_of(order.target),
            Guard::Free | Guard::Late => sign_of(proposed.v),
        };
        let Some(at) = approach(facts, order, sign) else {
            return proposed;
        };
        let now = self.motion.along(sign);
        let curve = match self.guard {
            Guard::Braking(_, curve, _) => curve,
            Guard::Free | Guard::Late => BrakeCurve::new(plan, facts.hold_s),
        };
        if guard::too_late(now, &curve, &at) {
            self.guard = Guard::Late;
            *change = Some(Change::Late);
            return self.stop_step(facts, order.dt);
        }
        let wanted = proposed.along(sign);
        if let Guard::Braking(_, _, phase) = self.guard {
            let target = order.target * sign;
            let less = target <= 0.0 || target < now.v;
            let released = less && guard::fits(wanted, &curve, &at);
            let moving_again = now.at_rest() && guard::has_room(&at);
            if !released && !moving_again {
                let jerk = curve.jerk_at(now.a);
                let stop_jerk = facts.limits.stop(self.motion.v).jerk.0;
                let release = landing_jerk(now, jerk, stop_jerk).unwrap_or(jerk);
                let jerks = (release, hardest_release(curve.jerk_at(0.0), stop_jerk));
                let (a, phase) = guard::braking_step(now, &curve, phase, &at, jerks);
                self.guard = Guard::Braking(sign, curve, phase);
                // A stick that asks for even less than the braking gets it.
                return now.after(lower(a, wanted.a), order.dt).along(sign);
            }
            self.guard = Guard::Free;
        }
        if guard::fits(wanted, &curve, &at) {
            return proposed;
        }
        self.guard = Guard::Braking(sign, curve, Phase::Entering);
        if now.v <= 0.0 {
            return Motion::default();
        }
        *change = Some(Change::Braking);
        now.after(guard::first_step(now, wanted.a, &curve, &at), order.dt)
            .along(sign)
    }

    /// Takes the step over. Where rest is wanted, what the wire can't tell from rest is rest.
    fn settle(&mut self, next: Motion, facts: &AxisFacts, dt: f64, wants_rest: bool) {
        let least = facts.count / WIRE_STEPS_PER_COUNT / 2.0;
        let turned = next.v * self.motion.v < 0.0;
        let slow = next.v.abs() <= least && next.a.abs() * dt <= 2.0 * least;
        let rest = turned || wants_rest && slow;
        let before = self.motion;
        self.motion = if rest { Motion::default() } else { next };
        if rest {
            self.stopping = false;
            if self.guard == Guard::Late {
                self.guard = Guard::Free;
            }
        }
        let jerk = self
            .sets
            .map_or(0.0, |s| lower(s.live.gain.jerk.0, s.live.lose.jerk.0));
        let steady = self.motion.a.abs() <= jerk * dt;
        // A hard jerk takes the acceleration across zero between two ticks.
        let crossed = before.a * self.motion.a < 0.0;
        let since = match (steady, crossed) {
            (true, _) => 0.0,
            (false, true) => before.v.abs(),
            (false, false) => self.peak,
        };
        self.peak = higher(since, self.motion.v.abs());
    }
}

/// The bounds of live motion. Speed is gained by one set and lost by the other; an acceleration of
/// the other kind, left over from before the stick turned, is taken off at the higher jerk of the
/// two.
fn live_bounds(now: Motion, target: f64, sets: &Sets, dt: f64) -> Bounds {
    let (gain, lose) = (sets.gain.jerk.0, sets.lose.jerk.0);
    let losing = target < now.v;
    let jerk = if losing { lose } else { gain };
    let step = jerk * dt;
    // The rest of the tick after an acceleration of the other kind is gone counts for this kind.
    let left_over = |a: f64| lower(higher(gain, lose) * dt, a + step);
    Bounds {
        faster: sets.gain.accel.0,
        slower: sets.lose.accel.0,
        jerk,
        rise: if !losing && now.a < 0.0 {
            left_over(-now.a)
        } else {
            step
        },
        fall: if losing && now.a > 0.0 {
            left_over(now.a)
        } else {
            step
        },
    }
}

/// The jerk that takes off an acceleration which would carry the axis past a target that came down:
/// what it takes, up to the higher of both sets.
fn curbing_jerk(now: Motion, target: f64, sets: &Sets, dt: f64) -> Option<f64> {
    let (gain, lose) = (sets.gain.jerk.0, sets.lose.jerk.0);
    if target < now.v || now.a <= 0.0 || !will_pass(now, target, gain, dt) {
        return None;
    }
    Some(braking_jerk(
        target - now.v,
        now.a,
        gain,
        higher(gain, lose),
    ))
}

/// The jerk that takes a brake off in time, where the set's does not; up to the stop set's.
fn landing_jerk(now: Motion, jerk: f64, stop_jerk: f64) -> Option<f64> {
    if now.v <= 0.0 || now.a >= 0.0 {
        return None;
    }
    let just = now.a * now.a / (2.0 * now.v);
    (just > JERK_SLACK * jerk).then(|| braking_jerk(now.v, now.a, jerk, stop_jerk))
}

/// The highest jerk with which [`landing_jerk`] can bring a brake to its end in time, with the part of it
/// that it keeps for whole ticks.
fn hardest_release(jerk: f64, stop_jerk: f64) -> f64 {
    higher(jerk, stop_jerk / LANDING_MARGIN)
}

/// A braking may need this much more jerk than the set in force before it counts as too hard for
/// it: rounding in whole ticks.
const JERK_SLACK: f64 = 1.009;

/// The wire tells velocities in 1/1024 count/s.
pub(super) const WIRE_STEPS_PER_COUNT: f64 = 1024.0;

fn sign_of(x: f64) -> f64 {
    if x < 0.0 { -1.0 } else { 1.0 }
}

/// The way to the end in the direction of `sign`; `None` where there is none. The ends are held one
/// count off, because a position is known to a count.
fn approach(facts: &AxisFacts, order: &Order, sign: f64) -> Option<Approach> {
    let ends = facts.ends?;
    let room = if sign < 0.0 {
        order.position - ends.low().0
    } else {
        ends.high().0 - order.position
    };
    Some(Approach {
        dt: order.dt,
        room: room - facts.count,
        count: facts.count,
    })
}

#[cfg(test)]
mod tests;
