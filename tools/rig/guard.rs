//! Travel: one end of one axis. All speeds are counted towards that end.
//!
//! At every tick there is a stop that begins from the present motion and ends inside: `way_out`. A command is let through if after one tick of it there
//! is such a stop again. If not, the axis brakes along a way out, and goes on braking until the command asks for less.
//! So whatever is commanded, the next tick has a way out too.
//!
//! A speed comes as a step and is held for a frame, so a daemon that brakes with all of the stop set is, at the end of each frame, faster than its own
//! curve by what one frame changes; its next frame takes that back. Within one frame the rig gives it that credit: the way out may be a stop that
//! began when the frame came, entered where it is by now. If the next frame does not come, the axis drops onto that stop, by no more than
//! the stop set changes in one frame. It ends inside all the same.

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
    /// What the frames say, if the speed comes from one.
    pub(crate) frame: Option<Frame>,
}

/// The frame in force.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Frame {
    /// Acceleration when it came, by the steps of the frames.
    pub(crate) accel: i64,
    /// How long ago a stop may have begun, ticks: the time it is in force, at most one frame.
    pub(crate) credit: i64,
}

impl Guard {
    /// The speed to command for the next tick, at most `motion.speed`. `room` is the phase left up to the end.
    pub(crate) fn limit(&mut self, motion: Motion, room: i64, ramp: Ramp) -> i64 {
        let next = self.way_out.speed_at(self.t + TICK);
        let room = room + SLACK;
        if (!self.braking || motion.speed <= next)
            && let Some((way_out, t)) = fitting(motion, room, ramp)
        {
            *self = Self {
                way_out,
                t,
                braking: false,
            };
            return motion.speed;
        }
        if !self.braking
            && motion.speed > next
            && let Some((speed, way_out, t)) = fastest(next, motion, room, ramp)
        {
            *self = Self {
                way_out,
                t,
                braking: true,
            };
            return speed;
        }
        self.braking = true;
        self.t += TICK;
        motion.speed.min(next)
    }
}

/// A stop that ends inside after one tick of `motion`, and where it is entered: at its start if it can be, else as little later as will do.
fn fitting(motion: Motion, room: i64, ramp: Ramp) -> Option<(Stop, i64)> {
    let Motion {
        speed,
        accel,
        max_speed,
        frame,
    } = motion;
    let room = room - speed * TICK;
    if speed <= 0 {
        return (room >= 0).then_some((Stop::default(), 0));
    }
    let plain = Stop::new(speed, accel, ramp, max_speed);
    if plain.reach() <= room {
        return Some((plain, 0));
    }
    let Frame { accel, credit } = frame?;
    let begun = Stop::new(speed, accel.min(0), ramp, max_speed);
    (0..=credit)
        .map(|ticks| ticks * TICK)
        .find(|t| begun.reach_from(*t) <= room)
        .map(|t| (begun, t))
}

/// The highest speed between `next` and the command that still fits: the first braking tick is bisected, so that the axis ends at the end and not short of it.
fn fastest(next: i64, motion: Motion, room: i64, ramp: Ramp) -> Option<(i64, Stop, i64)> {
    let (mut low, mut high) = (next, motion.speed);
    let mut found = None;
    while high - low > 1 {
        let speed = low + (high - low) / 2;
        match fitting(Motion { speed, ..motion }, room, ramp) {
            Some((way_out, t)) => {
                low = speed;
                found = Some((speed, way_out, t));
            }
            None => high = speed,
        }
    }
    found
}
