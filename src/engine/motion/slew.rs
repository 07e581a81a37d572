//! The jerk-limited change of a speed, one tick at a time.

use crate::rig::LimitSet;
use crate::units::{held, higher};
use libm::{ceil, sqrt};

/// A speed and its acceleration, in units/s and units/s^2, plus by the picture.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Motion {
    /// Speed.
    pub v: f64,
    /// Acceleration.
    pub a: f64,
}

impl Motion {
    /// Seen from the other direction.
    pub fn mirrored(self) -> Motion {
        Motion {
            v: -self.v,
            a: -self.a,
        }
    }

    /// As seen in the direction of `sign` (1 or -1).
    pub fn along(self, sign: f64) -> Motion {
        if sign < 0.0 { self.mirrored() } else { self }
    }

    /// After `dt` seconds in which the acceleration goes evenly to `a`.
    pub fn after(self, a: f64, dt: f64) -> Motion {
        Motion {
            v: self.v + (self.a + a) / 2.0 * dt,
            a,
        }
    }

    /// Whether nothing moves.
    pub fn at_rest(self) -> bool {
        self.v == 0.0 && self.a == 0.0
    }
}

/// What bounds the change of a speed during one tick, in the direction of the motion.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounds {
    /// Highest acceleration that adds speed.
    pub faster: f64,
    /// Highest deceleration.
    pub slower: f64,
    /// The jerk with which the acceleration will be taken off at the target.
    pub jerk: f64,
    /// How much the acceleration may rise in this tick.
    pub rise: f64,
    /// How much it may fall.
    pub fall: f64,
}

impl Bounds {
    /// The bounds of one limit set for a tick of `dt` seconds.
    pub fn of(set: LimitSet, dt: f64) -> Bounds {
        let step = set.jerk.0 * dt;
        Bounds {
            faster: set.accel.0,
            slower: set.accel.0,
            jerk: set.jerk.0,
            rise: step,
            fall: step,
        }
    }
}

/// The motion after the next `dt` seconds, which takes `now` to speed `target` as quickly as
/// `bounds` allow without passing it. `now.v` and `target` are along the motion.
///
/// After the tick the acceleration a' must still come back to zero. In n whole ticks of a jerk step
/// s each that takes dt (a' (n - 1/2) - s n (n-1) / 2) of speed, where (n-1) s < a' <= n s. The
/// largest a' that leaves just this much is linear in the gap for each n: it meets the target with
/// zero acceleration after whole ticks and never dithers about it.
pub fn towards(now: Motion, target: f64, bounds: Bounds, dt: f64) -> Motion {
    let wanted = wanted_acceleration(now, target, bounds.jerk, dt);
    let allowed = held(wanted, -bounds.slower, bounds.faster);
    let next = now.after(held(allowed, now.a - bounds.fall, now.a + bounds.rise), dt);
    let missed = (next.v - target).abs();
    if missed <= ARRIVED * target && next.a.abs() <= ARRIVED * bounds.jerk * dt {
        return Motion { v: target, a: 0.0 };
    }
    next
}

/// Share of the target, and of a jerk step, by which sums of whole ticks miss them.
const ARRIVED: f64 = 1e-9;

/// Whether no acceleration within reach keeps `now` from passing `target`: it came down, or the
/// jerk did. Rounding in whole ticks is a hundredth of a step.
pub fn will_pass(now: Motion, target: f64, jerk: f64, dt: f64) -> bool {
    wanted_acceleration(now, target, jerk, dt) < now.a - 1.01 * jerk * dt
}

/// The largest acceleration after the tick from which the target can still be met.
fn wanted_acceleration(now: Motion, target: f64, jerk: f64, dt: f64) -> f64 {
    let step = jerk * dt;
    let gap = target - now.v - now.a * dt / 2.0;
    let size = gap.abs();
    let ticks = higher(
        1.0,
        ceil((sqrt(1.0 + 8.0 * size / (step * dt)) - 1.0) / 2.0),
    );
    let most = (size / dt + step * ticks * (ticks - 1.0) / 2.0) / ticks;
    if gap < 0.0 { -most } else { most }
}

/// The jerk in force while acceleration `a` opposes speed `v`.
///
/// Braking with a hard set and handing back to a soft jerk would carry the axis through zero and
/// throw it back; the jerk that just ends at rest is a^2 / (2 |v|), and 5 % more leaves room for
/// whole ticks. Never below the normal jerk, never above the stop set's.
pub fn braking_jerk(v: f64, a: f64, normal: f64, stop: f64) -> f64 {
    if v == 0.0 {
        return stop;
    }
    held(LANDING_MARGIN * a * a / (2.0 * v.abs()), normal, stop)
}

/// How much more jerk than just ends at rest is in force, to leave room for whole ticks.
pub const LANDING_MARGIN: f64 = 1.05;
