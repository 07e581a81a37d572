//! The jerk-limited change of a speed, one tick at a time.

use crate::units::held;
use libm::sqrt;

/// A speed and its acceleration, in units/s and units/s^2, plus by the picture.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
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
    /// Highest jerk.
    pub jerk: f64,
}

/// The acceleration at the end of the next `dt` seconds that takes `now` to speed `target` as
/// quickly as `bounds` allow without passing it. `now.v` and `target` are along the motion.
///
/// After the tick the acceleration a' must still come back to zero, which at jerk j takes up to
/// a'^2/(2j) + a' dt/2 of speed in whole ticks. The largest a' that leaves just this much solves a
/// quadratic; it meets the target with zero acceleration and never dithers about it.
pub fn next_acceleration(now: Motion, target: f64, bounds: Bounds, dt: f64) -> f64 {
    let step = bounds.jerk * dt;
    let gap = target - now.v - now.a * dt / 2.0;
    let size = sqrt(step * step + 2.0 * bounds.jerk * gap.abs()) - step;
    let wanted = if gap < 0.0 { -size } else { size };
    let allowed = held(wanted, -bounds.slower, bounds.faster);
    held(allowed, now.a - step, now.a + step)
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
    held(1.05 * a * a / (2.0 * v.abs()), normal, stop)
}
