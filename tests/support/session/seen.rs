//! What sessions saw, to be sure that they saw something.

use stillhand_engine::output::{Ceiling, Mover, Notice, Outputs, State};

/// How many ticks and events of each kind.
#[derive(Default)]
pub struct Seen {
    pub ticks: usize,
    pub moving: usize,
    pub stops: usize,
    pub losses: usize,
    pub quiet: usize,
    pub still: usize,
    pub reduced: usize,
    pub guard: usize,
    pub inching: usize,
    pub sustain: usize,
    pub passed: usize,
    pub changed: usize,
    pub meant: usize,
    pub tips: usize,
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
        self.quiet += usize::from(outputs.status.modes.quiet.on());
        self.reduced += usize::from(outputs.status.modes.reduced.on());
        for notice in outputs.notices.iter() {
            match notice {
                Notice::Entered(State::Stopped(_)) => self.stops += 1,
                Notice::Entered(State::NoLink(_) | State::NoPad(_)) => self.losses += 1,
                Notice::Entered(State::Still) => self.still += 1,
                Notice::Agreed { .. } => self.passed += 1,
                Notice::ProfileApplied => self.changed += 1,
                _ => {}
            }
        }
    }
}
