//! How the speeds of one axis come: as steps, each held until the next frame.

use crate::guard::Frame;
use crate::stop::{TICK, TIME_UNITS_PER_S};
use stillhand_wire::messages::{Ramp, VELOCITY_SCALE};

/// Frames further apart than this, ms, are given no more credit than these: 50 Hz.
const LONGEST_FRAME: i64 = 20;

#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Feed {
    /// Ticks since the last frame came.
    age: i64,
    /// Ticks between the last two; 0 if there were no two.
    period: i64,
    /// Acceleration over the last period and the one before, 1/1024 count/s^2.
    accel: i64,
    before: i64,
}

impl Feed {
    /// A frame came, with this change of speed.
    pub(crate) fn step(&mut self, change: i64) {
        self.before = self.accel;
        self.period = self.age;
        self.accel = if self.period == 0 {
            0
        } else {
            change * TIME_UNITS_PER_S / (self.period * TICK)
        };
        self.age = 0;
    }

    /// A millisecond passes.
    pub(crate) fn tick(&mut self) {
        self.age = self.age.saturating_add(1);
    }

    /// The acceleration now of an axis whose speed rises by `mean` over the last while, both in direction `sign`. The
    /// mean is old, and where less is gained since, a stop that went by it would run on to a speed nobody asked for. Frames
    /// come unevenly, so they may only lower it, and never to a brake.
    pub(crate) fn latest(&self, mean: i64, sign: i64) -> i64 {
        if mean <= 0 || self.period == 0 {
            return mean;
        }
        mean.min(self.going_on(sign).max(0))
    }

    /// The acceleration with which the last frames go on, in direction `sign`: a step says what it was half a frame before.
    fn going_on(&self, sign: i64) -> i64 {
        let (accel, before) = (self.accel * sign, self.before * sign);
        accel + (accel - before) / 2
    }

    /// The frame in force, counted in direction `sign`, for an end guarded with `ramp`; `None` before there were two.
    pub(crate) fn frame(&self, sign: i64, ramp: Ramp) -> Option<Frame> {
        if self.period == 0 {
            return None;
        }
        let (accel, before) = (self.accel * sign, self.before * sign);
        // A harder brake than the stop set is a commanded step and not one to go on with.
        let hardest = -i64::from(ramp.accel) * i64::from(VELOCITY_SCALE) * 5 / 4;
        let going_on = if accel < hardest || before < hardest {
            0
        } else {
            self.going_on(sign)
        };
        Some(Frame {
            accel: going_on,
            credit: self.age.min(self.period).min(LONGEST_FRAME),
        })
    }
}
