//! Sustain: the present speed is kept after the thumb lets go.
//!
//! ```text
//!   engaged by a held press ──▶ Engaged ──stick let go──▶ Kept ──▶ ended by the opposite stick,
//!                                                                  a press, or anything that
//!                                                                  withholds motion
//! ```

use crate::units::held;

/// A full stick trims a sustained speed by the full-stick speed in this time: slow enough to find
/// a speed by eye.
const TRIM_S: f64 = 4.0;
/// The stick's way on the other side that ends it: further than a thumb strays.
const ENDS_AT: f64 = 0.5;

/// A sustained speed of one axis.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Sustain {
    /// In units/s.
    speed: f64,
    /// Whether the stick that set it has been let go since.
    kept: bool,
}

/// What the stick does to a sustained speed in one tick.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trim {
    /// What the stick asks for, -1..=1.
    pub demand: f64,
    /// How far it is pushed, 0..=1.
    pub depth: f64,
    /// Whether it is centred.
    pub centred: bool,
    /// The full-stick speed, in units/s.
    pub full: f64,
    /// Seconds.
    pub dt: f64,
}

impl Sustain {
    /// Keeps `speed`; `None` at rest, where there is nothing to keep.
    pub fn engage(speed: f64) -> Option<Sustain> {
        (speed != 0.0).then_some(Sustain { speed, kept: false })
    }

    /// The speed to go, under a full-stick speed of `full`.
    pub fn speed(&self, full: f64) -> f64 {
        held(self.speed, -full, full)
    }

    /// Keeps no more than `speed`, either way.
    pub fn lowered(mut self, speed: f64) -> Sustain {
        self.speed = self.speed(speed.abs());
        self
    }

    /// One tick of the stick; `None` once it has ended it.
    ///
    /// A ceiling that came down lowers it for good: it must not rise again by itself.
    pub fn trimmed(mut self, by: &Trim) -> Option<Sustain> {
        self.speed = self.speed(by.full);
        // Whether it was seen let go or not: a thumb may cross the middle between two reports.
        let against = by.demand * self.speed < 0.0;
        if against && by.depth >= ENDS_AT {
            return None;
        }
        if !self.kept {
            self.kept = by.centred;
            return Some(self);
        }
        let speed = self.speed + by.demand * by.full * by.dt / TRIM_S;
        if by.demand != 0.0 {
            if speed * self.speed <= 0.0 {
                return None;
            }
            self.speed = speed;
        }
        Some(self)
    }
}

#[cfg(test)]
mod tests;
