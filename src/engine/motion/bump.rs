//! A motion over an exact way, from rest to rest.
//!
//! Acceleration rises for a quarter of the time, falls through zero for a half and rises back for
//! the last quarter, always by the same jerk j. Over the time T that covers j T^3 / 32; the highest
//! acceleration is j T / 4, the highest speed j T^2 / 16. Summed up in ticks of any length the way
//! is met to a small part of a count, because speed and acceleration are zero at both ends.

use super::sets::Sets;
use super::slew::Motion;
use crate::units::{higher, lower};
use libm::{cbrt, sqrt};

/// Share of a limit by which its own plan may miss it.
const ROUNDING: f64 = 1e-9;

/// A motion over an exact way.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Bump {
    sign: f64,
    jerk: f64,
    quarter: f64,
    elapsed: f64,
    /// The same when the last frame left.
    left: f64,
}

impl Bump {
    /// Over `way` units, as quick as the softer of both sets and the speed `full` allow.
    pub fn over(way: f64, sets: &Sets, full: f64) -> Bump {
        let set = sets.gain.softer(sets.lose);
        let s = way.abs();
        if s == 0.0 || full <= 0.0 {
            return Bump::none();
        }
        let by_jerk = cbrt(32.0 * s / set.jerk.0);
        let by_accel = sqrt(8.0 * s / set.accel.0);
        let by_speed = 2.0 * s / full;
        let time = higher(by_jerk, higher(by_accel, by_speed));
        Bump {
            sign: if way < 0.0 { -1.0 } else { 1.0 },
            jerk: 32.0 * s / (time * time * time),
            quarter: time / 4.0,
            elapsed: 0.0,
            left: 0.0,
        }
    }

    /// Over no way at all, in no time.
    pub const fn none() -> Bump {
        Bump {
            sign: 1.0,
            jerk: 0.0,
            quarter: 0.0,
            elapsed: 0.0,
            left: 0.0,
        }
    }

    /// Whether it stays inside sets and a speed that may have come down since it was planned.
    pub fn fits(&self, sets: &Sets, full: f64) -> bool {
        let set = sets.gain.softer(sets.lose);
        let (t, q, j) = (self.elapsed, self.quarter, self.jerk);
        let speed = self.top();
        let slack = 1.0 + ROUNDING;
        let inside = j <= set.jerk.0 * slack && j * q <= set.accel.0 * slack;
        inside && (speed <= full * slack || t >= 3.0 * q)
    }

    /// The highest speed still to come, until the last quarter, which is slower.
    pub fn top(&self) -> f64 {
        let (t, q, j) = (self.elapsed, self.quarter, self.jerk);
        let from_peak = lower(higher(t - 2.0 * q, 0.0), q);
        j * q * q - j * from_peak * from_peak / 2.0
    }

    /// The frame with its motion left, or could not: then time has stood still since the last that did.
    pub fn passed(&mut self, left: bool) {
        if left {
            self.left = self.elapsed;
        } else {
            self.elapsed = self.left;
        }
    }

    /// The motion after another `dt` seconds; `None` once it is over.
    pub fn advance(&mut self, dt: f64) -> Option<Motion> {
        self.elapsed += dt;
        let (t, q, j) = (self.elapsed, self.quarter, self.jerk);
        if t >= 4.0 * q {
            return None;
        }
        let (v, a) = if t < q {
            (j * t * t / 2.0, j * t)
        } else if t < 3.0 * q {
            let from_peak = 2.0 * q - t;
            (j * q * q - j * from_peak * from_peak / 2.0, j * from_peak)
        } else {
            let left = lower(4.0 * q - t, q);
            (j * left * left / 2.0, -j * left)
        };
        Some(Motion {
            v: v * self.sign,
            a: a * self.sign,
        })
    }
}

#[cfg(test)]
mod tests;
