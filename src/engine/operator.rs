//! An operator profile, resolved against a rig: hands and bindings, valid by construction.

use crate::bindings::Bindings;
use crate::feel::steady::Steady;
use crate::feel::{Curve, Throw};
use crate::input::Control;
use crate::motion::bands::Bands;
use crate::rig::LimitSet;
use crate::time::Span;
use crate::units::Speed;
use alloc::string::String;
use alloc::vec::Vec;

/// What one operator's hands like.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Operator {
    /// The name the files and screens use.
    pub name: String,
    /// One entry for each axis this operator drives, each axis at most once.
    pub hands: Vec<Hand>,
    /// How the two directions of each stick go together.
    pub sticks: Sticks,
    /// The groups of axes that pads can hold, by name; a single one where the file names none.
    pub groups: Groups,
    /// A trigger that scales every speed.
    pub speed_trigger: Option<SpeedTrigger>,
    /// What is held down while an axis moves that asks for it.
    pub enable: Option<Enable>,
    /// What the buttons do.
    pub bindings: Bindings,
    /// The gear a start or an operator change begins in, 0 the slowest.
    pub first_gear: u8,
    /// Whether a start or an operator change begins in quiet.
    pub starts_quiet: bool,
    /// When pads may shake.
    #[cfg_attr(feature = "serde", serde(default))]
    pub shakes: Shakes,
}

impl Operator {
    /// How many gears the best equipped axis of a group has; 1 where it has none.
    pub fn gears_of(&self, group: u8) -> u8 {
        let own = self.hands.iter().filter(|hand| hand.group == group);
        own.map(|hand| hand.gears.count()).max().unwrap_or(1)
    }

    /// The hand on the other direction of a stick whose full push has one speed for both.
    pub fn fellow(&self, hand: &Hand) -> Option<&Hand> {
        let Some(Source::Stick(control)) = hand.control else {
            return None;
        };
        let StickShape::Radial { common: true } = self.sticks.shape(control)? else {
            return None;
        };
        let other = Some(Source::Stick(control.other_direction()?));
        self.hands.iter().find(|hand| hand.control == other)
    }
}

/// How an operator drives one axis.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Hand {
    /// Which of the rigs, by its place in the slice given to the engine.
    pub rig: u8,
    /// Which of that rig's axes, by its place in the rig file.
    pub axis: u8,
    /// Which of the operator's groups it belongs to.
    pub group: u8,
    /// What drives it; `None` for an axis that is only inched.
    pub control: Option<Source>,
    /// A second control whose demand is added, for fine work.
    pub fine: Option<Fine>,
    /// Taste: the stick's plus drives the axis minus.
    pub invert: bool,
    /// Deadband and saturation.
    pub throw: Throw,
    /// Speed against deflection.
    pub curve: Curve,
    /// Takes the trembling out of its controls; none leaves them as they are.
    pub steady: Option<Steady>,
    /// Full-stick speeds.
    pub gears: Gears,
    /// The fastest this operator ever wants this axis.
    pub ceiling: Option<Speed>,
    /// The fastest the picture bears, if it is to be a ceiling.
    pub framing: Option<Speed>,
    /// The ceilings of quiet.
    pub quiet: Quiet,
    /// What a press of inching does.
    pub inch: Option<Inch>,
    /// Time from rest to the gear's full speed.
    pub gain: Span,
    /// Time from the gear's full speed, or the present speed if that is higher, to rest.
    pub lose: Span,
}

/// What gives a demand of -1..=1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Source {
    /// A direction of a stick.
    Stick(Control),
    /// Two triggers, one for each way.
    Pair {
        /// Drives plus.
        plus: Control,
        /// Drives minus.
        minus: Control,
    },
}

/// A control whose demand is added to that of the coarse one; both together never ask for more
/// than a full stick.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Fine {
    /// What drives it.
    pub source: Source,
    /// Its full deflection as a share of the full stick's speed, above 0 and at most 1.
    pub share: f64,
}

/// What a press of inching does.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Inch {
    /// The way of one press, in the axis's unit, above 0.
    pub step: f64,
    /// The speed while the button is kept down.
    pub creep: Speed,
}

/// The ceilings of quiet for one axis.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[expect(
    clippy::large_enum_variant,
    reason = "one a hand, in a profile that is allocated whole; a box would make each reading of it a hop"
)]
pub enum Quiet {
    /// Nobody has measured: [`QUIET_SHARE`] of the operator's speed and of the rig's normal set.
    NotMeasured,
    /// What a survey found, or its file says.
    Measured {
        /// Highest speed.
        speed: Speed,
        /// Highest acceleration and jerk.
        set: LimitSet,
        /// Speeds to avoid.
        #[cfg_attr(feature = "serde", serde(default))]
        bands: Bands,
    },
}

impl Quiet {
    /// The speeds to avoid while quiet is `on`; none as long as nobody has measured.
    pub fn bands(&self, on: bool) -> &Bands {
        match self {
            Quiet::Measured { bands, .. } if on => bands,
            Quiet::Measured { .. } | Quiet::NotMeasured => &Bands::NONE,
        }
    }

    /// Whether its bands are as they may be.
    pub fn is_sound(&self) -> bool {
        self.bands(true).is_sound()
    }
}

/// Share of speed, acceleration and jerk that quiet leaves where nobody has measured: a motor's
/// noise falls with both, and a quarter is slow enough to be heard as slow.
pub const QUIET_SHARE: f64 = 0.25;

/// A trigger that scales every speed of the pad it is on.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct SpeedTrigger {
    /// Which.
    pub control: Control,
    /// The share of the speed with the trigger let go, 0..=1.
    pub let_go: f64,
    /// The share of the speed with the trigger pulled, 0..=1.
    pub pulled: f64,
}

impl SpeedTrigger {
    /// The share left with the trigger at `value`; the lower one as long as it has not spoken.
    pub fn share(&self, value: Option<f64>) -> f64 {
        let Some(value) = value else {
            return crate::units::lower(self.let_go, self.pulled);
        };
        let pull = crate::units::held(value, 0.0, 1.0);
        self.let_go + (self.pulled - self.let_go) * pull
    }
}

/// When pads may shake: their motors are heard.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Shakes {
    /// Never.
    Never,
    /// Unless quiet or still is on.
    #[default]
    NotInQuiet,
    /// Whenever there is something to tell.
    Always,
}

/// What is held down while an axis moves that asks for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Enable {
    /// A button.
    Button(crate::input::Button),
    /// A trigger, pulled at least half way.
    Trigger(Control),
}

/// How the two directions of each stick go together.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Sticks {
    /// Of the left stick.
    pub left: StickShape,
    /// Of the right stick.
    pub right: StickShape,
}

impl Sticks {
    /// The shape of the stick a control belongs to; `None` for a trigger.
    pub const fn shape(&self, control: Control) -> Option<StickShape> {
        match control {
            Control::Lx | Control::Ly => Some(self.left),
            Control::Rx | Control::Ry => Some(self.right),
            Control::Lt | Control::Rt => None,
        }
    }
}

/// How the two directions of one stick go together.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum StickShape {
    /// Each direction by itself.
    Axial {
        /// The tangent of half the wedge that keeps a nearly pure push pure, 0 for none.
        wedge_tan: f64,
    },
    /// Deadband and curve apply to how far the stick is pushed, whichever way.
    Radial {
        /// Whether a full push has the lower of both axes' speeds, so that the picture goes the
        /// way the thumb goes.
        common: bool,
    },
}

/// Most groups an operator can have.
pub const MAX_GROUPS: usize = 4;

/// One to [`MAX_GROUPS`] names of groups.
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Groups(Vec<String>);

impl Groups {
    /// Takes 1 to [`MAX_GROUPS`] names; `None` for any other number.
    pub fn new(names: Vec<String>) -> Option<Groups> {
        (1..=MAX_GROUPS)
            .contains(&names.len())
            .then_some(Groups(names))
    }

    /// The one group of an operator who names none.
    pub fn single() -> Groups {
        Groups(alloc::vec![String::from("all axes")])
    }
}

impl core::ops::Deref for Groups {
    type Target = [String];
    fn deref(&self) -> &[String] {
        &self.0
    }
}

/// Most gears an axis can have.
pub const MAX_GEARS: usize = 8;

/// One to [`MAX_GEARS`] full-stick speeds, slowest first.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Gears {
    speeds: [Speed; MAX_GEARS],
    count: u8,
}

impl Gears {
    /// Takes 1 to [`MAX_GEARS`] finite speeds above 0 in rising order; `None` otherwise.
    pub fn new(speeds: &[Speed]) -> Option<Gears> {
        let rising = speeds.windows(2).all(|pair| pair[0] < pair[1]);
        let valid = speeds.iter().all(|s| s.0.is_finite() && s.0 > 0.0);
        if !rising || !valid || speeds.is_empty() || speeds.len() > MAX_GEARS {
            return None;
        }
        let mut all = [Speed(0.0); MAX_GEARS];
        all[..speeds.len()].copy_from_slice(speeds);
        Some(Gears {
            speeds: all,
            count: speeds.len() as u8,
        })
    }

    /// Whether there is one, and no more than there may be.
    pub fn is_sound(&self) -> bool {
        (1..=MAX_GEARS).contains(&usize::from(self.count))
    }

    /// How many there are.
    pub const fn count(&self) -> u8 {
        self.count
    }

    /// The full-stick speed of gear `index`; an axis with fewer gears stays in its fastest.
    pub fn speed(&self, index: u8) -> Speed {
        self.speeds[usize::from(index.min(self.count - 1))]
    }
}
