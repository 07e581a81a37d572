//! Where an axis comes to rest: the closed-form stop, and the curve along which the guard brakes.
//!
//! All functions take a speed in the direction of interest (`v` >= 0 means towards it), in units/s,
//! and an acceleration in the same direction, in units/s^2.

use crate::motion::sets::Sets;
use crate::rig::LimitSet;
use crate::units::{Accel, Jerk, higher, lower};
use libm::sqrt;

/// Time and way of a stop.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Stop {
    /// Seconds until rest.
    pub time: f64,
    /// Units still covered.
    pub distance: f64,
}

/// The quickest stop from speed `v` >= 0 and acceleration `a` inside `set`.
///
/// Three phases: the acceleration goes down to -p at full jerk, stays there if p is the limit, and
/// comes back to 0 with the speed. A state that already brakes too hard for the set's jerk to end at
/// rest is ended with the jerk it takes, as the slew does.
pub fn stop(v: f64, a: f64, set: LimitSet) -> Stop {
    let (limit, j) = (set.accel.0, set.jerk.0);
    if v <= 0.0 && a <= 0.0 {
        return Stop::default();
    }
    if a < 0.0 && v <= a * a / (2.0 * j) {
        // The speed falls as (1 - t/T)^2: T = 2 v / |a|, distance v T / 3.
        let time = 2.0 * v / -a;
        return Stop {
            time,
            distance: v * time / 3.0,
        };
    }
    let peak = lower(limit, sqrt(j * v + a * a / 2.0));
    // An acceleration beyond the limit (left over from a harder set) is brought back by the jerk.
    let down = higher(0.0, (a + peak) / j);
    let v_down = v + a * down - j * down * down / 2.0;
    let up = peak / j;
    let hold = higher(0.0, (v_down - peak * up / 2.0) / peak);
    let distance = v * down + a * down * down / 2.0 - j * down * down * down / 6.0
        + v_down * hold
        - peak * hold * hold / 2.0
        // Back from -p to 0: from rest at the end this is j t^3 / 6.
        + j * up * up * up / 6.0;
    Stop {
        time: down + hold + up,
        distance,
    }
}

/// The curve along which the guard brakes for an end.
///
/// A stop that assumes that any state may last `hold` seconds longer than planned needs
/// `hold * v` more room than a plain stop. Keeping that room all the way down makes the
/// deceleration v / (hold + v/d), where d is the plain stop's deceleration at that speed: the axis
/// lands on the end, the last bit in proportion to the way left. The blend is nowhere harder than
/// the set (its jerk is j x^2(2+x)/(1+x)^3 with x = sqrt(v/2j)/hold, below j for every x).
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct BrakeCurve {
    accel: f64,
    jerk: f64,
    /// The jerk that takes off an acceleration which still adds speed; at least `jerk`.
    release: f64,
    hold: f64,
    /// Below this speed the plain stop is already easing off: a^2 / (2 j).
    easing: f64,
}

impl BrakeCurve {
    /// The curve of the set that loses speed, with every state lasting up to `hold_s` seconds
    /// longer than planned. An acceleration that still adds speed is taken off at the jerk it was
    /// built with if that is higher.
    pub fn new(sets: &Sets, hold_s: f64) -> BrakeCurve {
        let (accel, jerk) = (sets.lose.accel.0, sets.lose.jerk.0);
        let release = higher(jerk, sets.gain.jerk.0);
        BrakeCurve {
            accel,
            jerk,
            release,
            hold: hold_s,
            easing: accel * accel / (2.0 * jerk),
        }
    }

    /// The jerk a braking axis with acceleration `a` may use.
    pub fn jerk_at(&self, a: f64) -> f64 {
        if a > 0.0 { self.release } else { self.jerk }
    }

    /// The highest deceleration.
    pub fn hardest(&self) -> f64 {
        self.accel
    }

    /// The way of the quickest stop inside the set, with no state lasting longer than planned.
    pub fn least_way(&self, v: f64, a: f64) -> f64 {
        let (before, v, a) = self.released(v, a);
        before
            + stop(
                v,
                a,
                LimitSet {
                    accel: Accel(self.accel),
                    jerk: Jerk(self.jerk),
                },
            )
            .distance
    }

    /// Takes an acceleration that adds speed off: the way, and the state thereafter.
    fn released(&self, v: f64, a: f64) -> (f64, f64, f64) {
        if a <= 0.0 {
            return (0.0, v, a);
        }
        let t = a / self.release;
        (v * t + a * t * t / 3.0, v + a * t / 2.0, 0.0)
    }

    /// v / d(v) of the plain stop, in seconds.
    fn plain_time(&self, v: f64) -> f64 {
        if v < self.easing {
            sqrt(v / (2.0 * self.jerk))
        } else {
            v / self.accel
        }
    }

    /// The deceleration on the curve at speed `v` >= 0, in units/s^2.
    pub fn deceleration(&self, v: f64) -> f64 {
        v / (self.hold + self.plain_time(v))
    }

    /// The way left on the curve at speed `v` >= 0, in units.
    pub fn way(&self, v: f64) -> f64 {
        let eased = lower(v, self.easing);
        let easing = 2.0 / 3.0 * eased * sqrt(eased / (2.0 * self.jerk));
        let steady = (v * v - eased * eased) / (2.0 * self.accel);
        self.hold * v + easing + steady
    }

    /// The way left from any state: full jerk until the curve is met, then along it. Never less
    /// than what it really takes. A state that moves away and stays so needs none.
    pub fn reach(&self, v: f64, a: f64) -> f64 {
        let (v, a) = if v >= 0.0 {
            (v, a)
        } else {
            // Still moving away: it matters only if the speed will turn round.
            let turning = a * a + 2.0 * self.release * v;
            if a <= 0.0 || turning <= 0.0 {
                return 0.0;
            }
            (0.0, sqrt(turning))
        };
        let (before, v, a) = self.released(v, a);
        if a <= -self.deceleration(v) {
            return before + self.way(v);
        }
        // With jerk -j the state runs along v = top - j t^2 / 2, a = -j t, counted from the top.
        let top = v + a * a / (2.0 * self.jerk);
        let start = -a / self.jerk;
        let meet = self.meeting(top, start);
        let v_meet = higher(0.0, top - self.jerk * meet * meet / 2.0);
        let cubes = meet * meet * meet - start * start * start;
        before + top * (meet - start) - self.jerk * cubes / 6.0 + self.way(v_meet)
    }

    /// The time after the top at which full jerk meets the curve; false position (Illinois), which
    /// keeps the root bracketed. The way depends on the time only in second order.
    fn meeting(&self, top: f64, earliest: f64) -> f64 {
        let miss = |t: f64| {
            let v = higher(0.0, top - self.jerk * t * t / 2.0);
            self.jerk * t - self.deceleration(v)
        };
        let mut low = earliest;
        let mut high = higher(
            low,
            lower(sqrt(2.0 * top / self.jerk), self.accel / self.jerk),
        );
        let (mut f_low, mut f_high) = (miss(low), miss(high));
        for _ in 0..MEETING_STEPS {
            if f_low >= 0.0 || f_high <= 0.0 {
                break;
            }
            let t = low - f_low * (high - low) / (f_high - f_low);
            let f = miss(t);
            if f < 0.0 {
                (low, f_low) = (t, f);
                f_high /= 2.0;
            } else {
                (high, f_high) = (t, f);
                f_low /= 2.0;
            }
        }
        // The later side: more way, never less.
        if f_low >= 0.0 { low } else { high }
    }
}

/// Steps of the false position: the error in the way is below 1e-6 of it after six.
const MEETING_STEPS: u32 = 7;
