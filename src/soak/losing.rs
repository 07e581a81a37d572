//! From which speed an axis loses speed: what makes its losing set, read off its frames.

use stillhand_engine::time::Time;
use stillhand_laws as laws;

/// From which speed an axis loses speed, read off its frames.
///
/// Frames tell a slow change from none only after a while: `most` holds on to what may still count,
/// `least` lets go of it as soon as it may no longer.
#[derive(Clone, Copy, Debug)]
pub struct Losing {
    /// The highest |speed| since it surely was steady or rose, units/s.
    pub most: f64,
    /// The highest |speed| since it may have been steady or risen, units/s.
    pub least: f64,
    /// The sets the checker was told last, by `most` and by `least`.
    told: Option<[laws::Normal; 2]>,
    /// The highest jerks since rest, gaining and losing, units/s^3.
    jerks: (f64, f64),
    /// When the last frame was sent, and its |speed|.
    at: Time,
    last: f64,
    /// The lowest |speed| since `most`.
    lowest: f64,
    /// A |speed| that has not been left by more than a quantum, and for how many frames.
    steady: (f64, u32),
}

/// After so many frames on the same quantum a speed is steady.
const STEADY_FRAMES: u32 = 100;

impl Losing {
    /// Of an axis at rest.
    pub const REST: Losing = Losing {
        most: 0.0,
        least: 0.0,
        told: None,
        jerks: (0.0, 0.0),
        at: Time(0),
        last: 0.0,
        lowest: 0.0,
        steady: (0.0, 0),
    };

    /// The sets to tell the checker, the harder first, if they are other than the last.
    pub fn news(&mut self, normal: impl Fn(f64) -> laws::Normal) -> Option<[laws::Normal; 2]> {
        let sets = [normal(self.most), normal(self.least)];
        for set in sets {
            self.jerks.0 = self.jerks.0.max(set.gaining.jerk);
            self.jerks.1 = self.jerks.1.max(set.losing.jerk);
        }
        (self.told.replace(sets) != Some(sets)).then_some(sets)
    }

    /// The checker was told other sets meanwhile: the next ones are news.
    pub fn told_otherwise(&mut self) {
        self.told = None;
    }

    /// Takes in the speed of the frame sent at `now`, known to `quantum`.
    pub fn frame(&mut self, now: Time, speed: f64, quantum: f64) {
        let dt = now.since(self.at).secs();
        self.at = now;
        let speed = speed.abs();
        let (at, frames) = self.steady;
        // Half a quantum is more than any rounding.
        self.steady = if (speed - at).abs() < 1.5 * quantum {
            (at, frames + 1)
        } else {
            (speed, 0)
        };
        // What the acceleration may be across in a step or two says nothing of its sign.
        let across = 2.0 * self.jerks.0.min(self.jerks.1) * dt * dt;
        // Nor what a brake loses in the step that takes it off.
        let taken_off = self
            .told
            .map_or(0.0, |[_, by_least]| by_least.losing.jerk * dt * dt / 2.0);
        let easy = across.max(taken_off) + 2.0 * quantum;
        if speed >= self.last - easy {
            self.least = speed;
        }
        let steady = self.steady.1 >= STEADY_FRAMES;
        if steady || speed > self.most || speed > self.lowest + 2.5 * quantum {
            (self.most, self.lowest) = (speed, speed);
        }
        if speed == 0.0 {
            self.jerks = (0.0, 0.0);
        }
        self.lowest = self.lowest.min(speed);
        self.last = speed;
    }
}
