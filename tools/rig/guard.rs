//! Travel: one end of one axis. All speeds are counted towards that end.
//!
//! At every tick there is a stop that begins from the present motion and ends inside: `way_out`. A command is let through if after one tick of it there
//! is such a stop again. If not, the axis brakes along a way out, and goes on braking until the command asks for less.
//! So whatever is commanded, the next tick has a way out too.

use crate::counter::PHASE_PER_COUNT;
use crate::stop::{Stop, TICK};
use stillhand_wire::messages::Ramp;

/// The phase may stand this far beyond the last count, for positions are rounded to the nearest: a command that itself ends exactly on the
/// last count is not disturbed by rounding. Half a count would be the next count.
const SLACK: i64 = PHASE_PER_COUNT * 45 / 100;

#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Guard {
    way_out: Stop,
    /// How much of `way_out` is behind us.
    t: i64,
    braking: bool,
}

/// What the axis is about to do, counted towards the end.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Motion {
    pub(crate) speed: i64,
    pub(crate) accel: i64,
    pub(crate) max_speed: i64,
}

impl Guard {
    /// The speed to command for the next tick, at most `motion.speed`. `room` is the phase left up to the end.
    pub(crate) fn limit(&mut self, motion: Motion, room: i64, ramp: Ramp) -> i64 {
        let next = self.way_out.speed_at(self.t + TICK);
        let room = room + SLACK;
        if (!self.braking || motion.speed <= next)
            && let Some(way_out) = fitting(motion, room, ramp)
        {
            *self = Self {
                way_out,
                t: 0,
                braking: false,
            };
            return motion.speed;
        }
        if !self.braking
            && motion.speed > next
            && let Some((speed, way_out)) = fastest(next, motion, room, ramp)
        {
            *self = Self {
                way_out,
                t: 0,
                braking: true,
            };
            return speed;
        }
        self.braking = true;
        self.t += TICK;
        motion.speed.min(next)
    }
}

/// The stop after one tick of `motion`, if it ends inside.
fn fitting(motion: Motion, room: i64, ramp: Ramp) -> Option<Stop> {
    let way_out = if motion.speed > 0 {
        Stop::new(motion.speed, motion.accel, ramp, motion.max_speed)
    } else {
        Stop::default()
    };
    (way_out.reach().saturating_add(motion.speed * TICK) <= room).then_some(way_out)
}

/// The highest speed between `next` and the command that still fits: the first braking tick is bisected, so that the axis ends at the end and not short of it.
fn fastest(next: i64, motion: Motion, room: i64, ramp: Ramp) -> Option<(i64, Stop)> {
    let (mut low, mut high) = (next, motion.speed);
    let mut found = None;
    while high - low > 1 {
        let speed = low + (high - low) / 2;
        match fitting(Motion { speed, ..motion }, room, ramp) {
            Some(way_out) => {
                low = speed;
                found = Some((speed, way_out));
            }
            None => high = speed,
        }
    }
    found
}
