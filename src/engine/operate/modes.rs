//! Quiet, still, reduced and rolling: what is switched by a press and lasts.

use crate::bindings::Action;

/// What lasts until it is switched off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Mode {
    /// Every motion stays under the quiet ceilings.
    Quiet,
    /// No motion at all.
    Still,
    /// Every motion stays slow enough for someone to be near.
    Reduced,
    /// The camera is rolling: accidental changes are locked.
    Rolling,
}

impl Mode {
    /// All of them.
    pub const ALL: [Mode; 4] = [Mode::Quiet, Mode::Still, Mode::Reduced, Mode::Rolling];

    /// The mode a press switches.
    pub const fn of(action: Action) -> Option<Mode> {
        match action {
            Action::Quiet => Some(Mode::Quiet),
            Action::Still => Some(Mode::Still),
            Action::Reduced => Some(Mode::Reduced),
            Action::Rolling => Some(Mode::Rolling),
            Action::Stop
            | Action::Release
            | Action::GearUp
            | Action::GearDown
            | Action::NextOperator
            | Action::Sustain
            | Action::Control { .. }
            | Action::Inch { .. }
            | Action::EndHere { .. } => None,
        }
    }

    /// The name files and screens use.
    pub const fn name(self) -> &'static str {
        match self {
            Mode::Quiet => "quiet",
            Mode::Still => "still",
            Mode::Reduced => "reduced",
            Mode::Rolling => "rolling",
        }
    }
}

/// Whether a mode is on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Switch {
    /// Off.
    #[default]
    Off,
    /// On.
    On,
    /// On, and it goes off as soon as the sticks are centred.
    Leaving,
}

impl Switch {
    /// Whether the mode is in force.
    pub const fn on(self) -> bool {
        matches!(self, Switch::On | Switch::Leaving)
    }
}

/// All modes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Modes {
    /// Every motion stays under the quiet ceilings.
    pub quiet: Switch,
    /// No motion at all.
    pub still: Switch,
    /// Every motion stays slow enough for someone to be near.
    pub reduced: Switch,
    /// Accidental changes are locked.
    pub rolling: Switch,
}

impl Modes {
    /// All off.
    pub const NONE: Modes = Modes {
        quiet: Switch::Off,
        still: Switch::Off,
        reduced: Switch::Off,
        rolling: Switch::Off,
    };

    /// One of them.
    pub const fn get(&self, mode: Mode) -> Switch {
        match mode {
            Mode::Quiet => self.quiet,
            Mode::Still => self.still,
            Mode::Reduced => self.reduced,
            Mode::Rolling => self.rolling,
        }
    }

    /// Sets one of them.
    pub fn set(&mut self, mode: Mode, to: Switch) {
        match mode {
            Mode::Quiet => self.quiet = to,
            Mode::Still => self.still = to,
            Mode::Reduced => self.reduced = to,
            Mode::Rolling => self.rolling = to,
        }
    }
}
