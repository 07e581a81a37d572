//! What sessions saw, to be sure that they saw something.

use stillhand_engine::errand::ErrandNews;
use stillhand_engine::output::{AxisStatus, Ceiling, Mover, Notice, Outputs, State};

/// How many ticks and events of each kind.
#[derive(Clone, Debug, Default)]
pub struct Seen {
    /// Turns of the loop.
    pub ticks: usize,
    /// Turns in which an axis moved.
    pub moving: usize,
    /// Times the state became stopped.
    pub stops: usize,
    /// Times a pad or the link was lost.
    pub losses: usize,
    /// Turns with quiet on.
    pub quiet: usize,
    /// Times the state became still.
    pub still: usize,
    /// Turns with reduced speed on.
    pub reduced: usize,
    /// Turns in which an end of travel bound an axis.
    pub guard: usize,
    /// Turns in which an axis inched.
    pub inching: usize,
    /// Turns in which an axis was sustained.
    pub sustain: usize,
    /// Times control was passed on.
    pub passed: usize,
    /// Profiles that took effect.
    pub changed: usize,
    /// Deliberate acts that were judged.
    pub meant: usize,
    /// Tips of steps that were judged.
    pub tips: usize,
    /// Errands that were offered.
    pub errands: usize,
    /// Turns in which one moved an axis.
    pub by_errand: usize,
    /// Errands that came to their end.
    pub errands_done: usize,
}

impl Seen {
    /// Adds what another session saw.
    pub fn add(&mut self, other: &Seen) {
        let pairs = [
            (&mut self.ticks, other.ticks),
            (&mut self.moving, other.moving),
            (&mut self.stops, other.stops),
            (&mut self.losses, other.losses),
            (&mut self.quiet, other.quiet),
            (&mut self.still, other.still),
            (&mut self.reduced, other.reduced),
            (&mut self.guard, other.guard),
            (&mut self.inching, other.inching),
            (&mut self.sustain, other.sustain),
            (&mut self.passed, other.passed),
            (&mut self.changed, other.changed),
            (&mut self.meant, other.meant),
            (&mut self.tips, other.tips),
            (&mut self.errands, other.errands),
            (&mut self.by_errand, other.by_errand),
            (&mut self.errands_done, other.errands_done),
        ];
        for (sum, more) in pairs {
            *sum += more;
        }
    }

    /// Looks at what a tick produced.
    pub fn look(&mut self, outputs: &Outputs) {
        self.ticks += 1;
        let axes = &outputs.rigs[0].axes;
        self.moving += usize::from(axes.iter().any(|a| a.speed != 0.0));
        self.guard += usize::from(axes.iter().any(|a| a.binding == Some(Ceiling::Travel)));
        self.inching += usize::from(axes.iter().any(|a| a.mover == Mover::Inching));
        self.sustain += usize::from(axes.iter().any(|a| a.mover == Mover::Sustain));
        let moved = |a: &AxisStatus| a.mover == Mover::Errand && a.speed != 0.0;
        self.by_errand += usize::from(axes.iter().any(moved));
        self.quiet += usize::from(outputs.status.modes.quiet.on());
        self.reduced += usize::from(outputs.status.modes.reduced.on());
        for notice in outputs.notices.iter() {
            match notice {
                Notice::Entered(State::Stopped(_)) => self.stops += 1,
                Notice::Entered(State::NoLink(_) | State::NoPad(_)) => self.losses += 1,
                Notice::Entered(State::Still) => self.still += 1,
                Notice::Agreed { .. } => self.passed += 1,
                Notice::ProfileApplied => self.changed += 1,
                Notice::Errand(_, ErrandNews::Done) => self.errands_done += 1,
                _ => {}
            }
        }
    }
}
