//! What a rig does during a survey, step by step: the ladder.
//!
//! Time counts in seconds from the beginning of the plan. Nothing moves between the steps.

mod ladder;
mod read;
mod rungs;
mod write;

pub use ladder::{Asked, Ladder, MOST_RUNGS, ladder};
pub use read::{PlanError, read};
pub use rungs::Rung;
pub use write::write;

use stillhand_engine::units::Unit;

/// Longest plan, in s: beyond that an evening is over.
pub const LONGEST_S: f64 = 4.0 * 3600.0;
/// Most steps of a plan, several times what eight axes need.
pub const MOST_STEPS: usize = 4000;

/// A plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// The id of the rig it is for.
    pub rig: String,
    /// The axes it moves.
    pub axes: Vec<PlanAxis>,
    /// In the order of time, none overlapping another.
    pub steps: Vec<Step>,
}

/// An axis of a plan.
#[derive(Clone, Debug, PartialEq)]
pub struct PlanAxis {
    /// Its name.
    pub name: String,
    /// Degrees or millimetres.
    pub unit: Unit,
    /// Where it must stand at the beginning, in its unit.
    pub start: f64,
}

/// A part of a plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// When it begins, in s.
    pub at: f64,
    /// How long it lasts, in s.
    pub lasts: f64,
    /// What happens.
    pub does: Does,
    /// When to listen: from and to, in s of the plan.
    pub listen: Vec<(f64, f64)>,
}

/// What happens in a step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Does {
    /// Motor power is off, everybody is silent: room tone.
    Room,
    /// Motor power is on and nothing moves.
    Still,
    /// A move of the pattern by which the ladder is found.
    Mark(Move),
    /// A rung of speed of the axis, counted from 1, the slowest.
    Speed(usize, Move),
    /// A move of a rung of acceleration of the axis, counted from 1, the gentlest. All moves of a rung
    /// are judged together; each is listened to twice, as it starts and as it stops.
    Ramp(usize, Move),
    /// A move that only brings the axis where the next one begins.
    Go(Move),
}

/// A move from rest to rest that takes the whole of its step: up to speed, on, and down again.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Move {
    /// Which axis of the plan.
    pub axis: usize,
    /// Its speed, above 0, unit/s.
    pub speed: f64,
    /// Highest acceleration on the way to it, above 0, unit/s^2.
    pub accel: f64,
    /// Highest jerk, above 0, unit/s^3.
    pub jerk: f64,
    /// Whether the position grows.
    pub plus: bool,
}

impl Move {
    /// How long it takes from rest to its speed, in s.
    pub fn ramp_s(&self) -> f64 {
        ramp_s(self.speed, self.accel, self.jerk)
    }

    /// The share of its speed, 0 to 1, that it has `t` seconds after a start of a move that lasts
    /// `lasts` seconds.
    pub fn share(&self, t: f64, lasts: f64) -> f64 {
        let t = t.min(lasts - t);
        if t <= 0.0 {
            return 0.0;
        }
        let ramp = self.ramp_s();
        if t >= ramp {
            return 1.0;
        }
        // The first half of an S is the second one turned round.
        let half = |t: f64| {
            let building = (self.accel / self.jerk).min((self.speed / self.jerk).sqrt());
            let peak = self.jerk * building;
            match t <= building {
                true => self.jerk * t * t / 2.0,
                false => peak * (t - building / 2.0),
            }
        };
        let speed = match t <= ramp / 2.0 {
            true => half(t),
            false => self.speed - half(ramp - t),
        };
        (speed / self.speed).clamp(0.0, 1.0)
    }
}

/// How long a change from rest to `speed` takes with these limits, in s.
pub(crate) fn ramp_s(speed: f64, accel: f64, jerk: f64) -> f64 {
    match speed >= accel * accel / jerk {
        true => speed / accel + accel / jerk,
        false => 2.0 * (speed / jerk).sqrt(),
    }
}

impl Step {
    /// When it ends, in s.
    pub fn ends(&self) -> f64 {
        self.at + self.lasts
    }
}

impl Does {
    /// The move, if it is one.
    pub fn moving(&self) -> Option<&Move> {
        match self {
            Does::Room | Does::Still => None,
            Does::Mark(m) | Does::Speed(_, m) | Does::Ramp(_, m) | Does::Go(m) => Some(m),
        }
    }
}

impl Plan {
    /// How long it takes, in s: to the end of the last step or of what is listened to.
    pub fn lasts(&self) -> f64 {
        let listened = self
            .steps
            .iter()
            .flat_map(|step| step.listen.iter().map(|l| l.1));
        let ends = self.steps.iter().map(Step::ends);
        ends.chain(listened).fold(0.0, f64::max)
    }

    /// The pauses between moves of at least `shortest` seconds, where motor power is on and nothing
    /// moves: from and to, in s.
    pub fn pauses(&self, shortest: f64) -> Vec<(f64, f64)> {
        let pairs = self.steps.windows(2).filter_map(|pair| match pair {
            [a, b] if a.does != Does::Room => Some((a.ends(), b.at)),
            _ => None,
        });
        pairs.filter(|(from, to)| to - from >= shortest).collect()
    }
}
