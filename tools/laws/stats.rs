//! Figures of a run: how much of it moved, and how hard.

use crate::facts::higher;
use crate::motion::Motion;

/// Highest figures of one axis, from the frames.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Peaks {
    /// Axis units/s.
    pub speed: f64,
    /// Axis units/s^2.
    pub accel: f64,
    /// Axis units/s^3.
    pub jerk: f64,
}

/// Figures of a run.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Stats {
    /// Frames judged.
    pub frames: u64,
    /// Frames offered while no link was ready: not judged.
    pub frames_unlinked: u64,
    /// Plant records judged.
    pub plants: u64,
    /// Frames times axes.
    pub axis_steps: u64,
    /// Those of them with a speed other than 0.
    pub axis_steps_moving: u64,
    /// Per axis.
    pub peaks: Vec<Peaks>,
}

impl Stats {
    /// Share of axis steps that moved, 0..1.
    pub fn share_moving(&self) -> f64 {
        if self.axis_steps == 0 {
            0.0
        } else {
            self.axis_steps_moving as f64 / self.axis_steps as f64
        }
    }

    pub(crate) fn step(&mut self, axis: usize, motion: &Motion) {
        self.axis_steps += 1;
        self.axis_steps_moving += u64::from(motion.v[0] != 0.0);
        if let Some(peaks) = self.peaks.get_mut(axis) {
            peaks.speed = higher(peaks.speed, motion.v[0].abs());
            peaks.accel = higher(peaks.accel, motion.a[0].abs());
            peaks.jerk = higher(peaks.jerk, motion.j.abs());
        }
    }
}
