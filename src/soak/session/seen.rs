//! What a session came through, so that it is known what was shown.

use std::collections::BTreeMap;
use stillhand_engine::current::Current;
use stillhand_engine::errand::ErrandNews;
use stillhand_engine::operate::life::STREAMING_BOUND;
use stillhand_engine::operate::modes::Mode;
use stillhand_engine::output::{Ceiling, GroupStatus, Mover, Notice, Outputs, State, Why};
use stillhand_engine::reference::Stands;

/// How often each name came up.
pub type Counts = BTreeMap<&'static str, usize>;

/// Counts over all turns of a session.
#[derive(Clone, Debug, Default)]
pub struct Seen {
    /// Turns of the loop.
    pub ticks: usize,
    /// Turns in which an axis was commanded to move.
    pub moving: usize,
    /// Turns with quiet on.
    pub quiet: usize,
    /// Turns with reduced speed on.
    pub reduced: usize,
    /// Turns in which a band to avoid made an axis go another speed than asked for.
    pub bands: usize,
    /// Turns in which motors may have held with less current.
    pub eased: usize,
    /// Turns in which an end of travel bound an axis.
    pub guard: usize,
    /// Turns in which an axis inched.
    pub inching: usize,
    /// Turns in which an axis was sustained.
    pub sustain: usize,
    /// Turns in which an axis moved behind a pad that streams.
    pub streaming: usize,
    /// Deliberate acts that were judged.
    pub meant: usize,
    /// Tips of steps that were judged.
    pub tips: usize,
    /// How often something began, by its name.
    pub entered: Counts,
    /// What went wrong on purpose, by its name.
    pub faults: Counts,
}

impl Seen {
    /// Adds what another session saw.
    pub fn add(&mut self, other: &Seen) {
        let pairs = [
            (&mut self.ticks, other.ticks),
            (&mut self.moving, other.moving),
            (&mut self.quiet, other.quiet),
            (&mut self.reduced, other.reduced),
            (&mut self.bands, other.bands),
            (&mut self.eased, other.eased),
            (&mut self.guard, other.guard),
            (&mut self.inching, other.inching),
            (&mut self.sustain, other.sustain),
            (&mut self.streaming, other.streaming),
            (&mut self.meant, other.meant),
            (&mut self.tips, other.tips),
        ];
        for (sum, more) in pairs {
            *sum += more;
        }
        for (sum, more) in [
            (&mut self.entered, &other.entered),
            (&mut self.faults, &other.faults),
        ] {
            for (name, count) in more {
                *sum.entry(name).or_default() += count;
            }
        }
    }

    /// How often this began.
    pub fn entered(&self, name: &str) -> usize {
        self.entered.get(name).copied().unwrap_or(0)
    }

    /// The share of all turns in which something was commanded to move, 0 to 1.
    pub fn moving_share(&self) -> f64 {
        self.moving as f64 / self.ticks.max(1) as f64
    }

    /// Something goes wrong on purpose, so often.
    pub fn faults(&mut self, name: &'static str, count: usize) {
        *self.faults.entry(name).or_default() += count;
    }

    /// Looks at what a turn produced.
    pub fn look(&mut self, outputs: &Outputs) {
        self.ticks += 1;
        let axes = &outputs.rigs[0].axes;
        self.moving += usize::from(axes.iter().any(|a| a.speed != 0.0));
        self.guard += usize::from(axes.iter().any(|a| a.binding == Some(Ceiling::Travel)));
        self.bands += usize::from(axes.iter().any(|a| a.band.is_some()));
        self.eased += usize::from(outputs.rigs[0].current != Current::Full);
        self.inching += usize::from(axes.iter().any(|a| a.mover == Mover::Inching));
        self.sustain += usize::from(axes.iter().any(|a| a.mover == Mover::Sustain));
        let streams = |group: &GroupStatus| group.silence_bound == Some(STREAMING_BOUND);
        self.streaming += usize::from(outputs.status.groups.iter().any(streams));
        self.quiet += usize::from(outputs.status.modes.quiet.on());
        self.reduced += usize::from(outputs.status.modes.reduced.on());
        for name in outputs.notices.iter().filter_map(began) {
            *self.entered.entry(name).or_default() += 1;
        }
    }
}

/// What a notice says has begun, by the name that `soak` counts it under.
fn began(notice: Notice) -> Option<&'static str> {
    match notice {
        Notice::Entered(State::Stopped(_)) => Some("stop"),
        Notice::Entered(State::NoLink(_)) => Some("loss"),
        Notice::Entered(State::NoPad(_)) => Some("loss"),
        Notice::Entered(State::Withheld(Why::PadLost)) => Some("loss"),
        Notice::Entered(State::Withheld(Why::PadSilent)) => Some("silence"),
        Notice::Entered(State::Withheld(Why::Residual { .. })) | Notice::Apart { .. } => {
            Some("residual")
        }
        Notice::Entered(State::Still) => Some("still"),
        Notice::GroupWithheld {
            why: Why::PadLost, ..
        } => Some("loss"),
        Notice::GroupWithheld {
            why: Why::PadSilent,
            ..
        } => Some("silence"),
        Notice::TravelEnd { .. } => Some("guard"),
        Notice::GuardLate { .. } => Some("guard_late"),
        Notice::Late(_) => Some("late"),
        Notice::Agreed { .. } => Some("passed"),
        Notice::Gear { .. } => Some("gear"),
        Notice::Sustain { on: true, .. } => Some("sustain"),
        Notice::Errand(_, ErrandNews::Begun) => Some("errand"),
        Notice::ProfileApplied => Some("profile"),
        Notice::RigApplied(_) => Some("rig_file"),
        Notice::Reference {
            stands: Stands::Taken,
            ..
        } => Some("reference"),
        Notice::Mode(Mode::Quiet, true) => Some("quiet"),
        Notice::Mode(Mode::Reduced, true) => Some("reduced"),
        Notice::Mode(Mode::Rolling, true) => Some("rolling"),
        _ => None,
    }
}
