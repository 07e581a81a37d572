//! A rig file, resolved: hardware truth, valid by construction.

use crate::MAX_AXES;
use crate::time::Span;
use crate::units::{Accel, Jerk, Pos, Speed, Unit};
use alloc::string::String;
use alloc::vec::Vec;

/// One rig: its axes and what is known of the link to it.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Rig {
    /// The identity the rig must report before it may move.
    pub id: String,
    /// The axes in wire order, 1 to [`MAX_AXES`].
    pub axes: Axes,
    /// The delay from a frame's departure to the motor following it, as declared for this rig.
    pub delay: Span,
    /// The time between two velocity frames; never shorter than the engine's own period.
    pub frame_period: Span,
    /// How long the rig goes on without a frame before it stops by itself.
    pub watchdog: Span,
}

/// One to [`MAX_AXES`] axes.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Axes(Vec<Axis>);

impl Axes {
    /// Takes 1 to [`MAX_AXES`] axes; `None` for any other number.
    pub fn new(axes: Vec<Axis>) -> Option<Axes> {
        (1..=MAX_AXES).contains(&axes.len()).then_some(Axes(axes))
    }
}

impl core::ops::Deref for Axes {
    type Target = [Axis];
    fn deref(&self) -> &[Axis] {
        &self.0
    }
}

/// One driven degree of freedom.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Axis {
    /// The name the files and screens use.
    pub name: String,
    /// Degrees or millimetres.
    pub unit: Unit,
    /// Counts of the rig per unit, above 0.
    pub counts_per_unit: f64,
    /// Which way the rig counts when the picture goes plus (mount and wiring together).
    pub sense: Sense,
    /// Where it may go.
    pub travel: Travel,
    /// The fastest the rig's maker or builder allows.
    pub speed: Speed,
    /// Normal and stop sets.
    pub limits: Limits,
    /// How far the farthest part that it turns is from its axis, in mm: what a person could be hit
    /// by. Without meaning for an axis in mm.
    pub reach_mm: f64,
    /// Whether it moves only while the operator's enable control is held.
    pub needs_enable: bool,
    /// Whether its motor may hold with less than its full current: nothing pulls at it.
    // A scene written before there was this means an axis without it.
    #[cfg_attr(feature = "serde", serde(default))]
    pub may_lower_current: bool,
}

impl Axis {
    /// The speed in mm/s of its farthest part for each unit/s of its own.
    pub fn tip_per_unit(&self) -> f64 {
        match self.unit {
            Unit::Deg => self.reach_mm * core::f64::consts::PI / 180.0,
            Unit::Mm => 1.0,
        }
    }
}

/// Which way the rig counts when the picture goes plus.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Sense {
    /// Counts rise.
    Same,
    /// Counts fall.
    Opposite,
}

impl Sense {
    /// +1 or -1.
    pub const fn sign(self) -> f64 {
        match self {
            Sense::Same => 1.0,
            Sense::Opposite => -1.0,
        }
    }

    /// The sense of two turns after each other.
    pub const fn then(self, other: Sense) -> Sense {
        match (self, other) {
            (Sense::Same, Sense::Same) | (Sense::Opposite, Sense::Opposite) => Sense::Same,
            (Sense::Same, Sense::Opposite) | (Sense::Opposite, Sense::Same) => Sense::Opposite,
        }
    }
}

/// How the head is mounted: it turns what plus means, for every operator alike.
///
/// A head hung upside down turns pan and tilt round. A head laid on its side, turned a quarter
/// clockwise as seen from behind the camera, swaps its two motors: the axis that now tilts the
/// picture is named `tilt` in the rig file and runs the other way round, the one that now pans it
/// keeps its way. Slides, rolls and lens motors are not turned.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Mount {
    /// As built.
    #[default]
    Upright,
    /// Hung upside down.
    Underslung,
    /// Laid on its side, a quarter turn clockwise seen from behind the camera.
    Side,
}

/// What an axis does to the picture, as far as a mount can turn it round.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Picture {
    /// Looks right and left.
    Pan,
    /// Looks up and down.
    Tilt,
    /// Anything a mount does not turn round.
    Other,
}

impl Mount {
    /// The sense this mount gives an axis.
    pub const fn sense(self, picture: Picture) -> Sense {
        match (self, picture) {
            (Mount::Upright, _) | (_, Picture::Other) => Sense::Same,
            (Mount::Underslung, Picture::Pan | Picture::Tilt) => Sense::Opposite,
            (Mount::Side, Picture::Pan) => Sense::Same,
            (Mount::Side, Picture::Tilt) => Sense::Opposite,
        }
    }
}

/// Where an axis may go.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Travel {
    /// Round and round: slip rings, turntables.
    Continuous,
    /// Between two ends.
    Finite(Ends),
}

/// The two ends of a finite travel, low below high.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Ends {
    low: Pos,
    high: Pos,
}

impl Ends {
    /// Takes two finite positions; `None` unless low is below high.
    pub fn new(low: Pos, high: Pos) -> Option<Ends> {
        (low.0.is_finite() && high.0.is_finite() && low < high).then_some(Ends { low, high })
    }

    /// The lower end.
    pub const fn low(self) -> Pos {
        self.low
    }

    /// The higher end.
    pub const fn high(self) -> Pos {
        self.high
    }
}

/// An acceleration and a jerk limit.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct LimitSet {
    /// Highest |acceleration|, above 0.
    pub accel: Accel,
    /// Highest |jerk|, above 0.
    pub jerk: Jerk,
}

impl LimitSet {
    /// Both numbers times `share`.
    pub fn times(self, share: f64) -> LimitSet {
        LimitSet {
            accel: Accel(self.accel.0 * share),
            jerk: Jerk(self.jerk.0 * share),
        }
    }

    /// The softer of two sets, number by number.
    pub fn softer(self, other: LimitSet) -> LimitSet {
        LimitSet {
            accel: self.accel.lower(other.accel),
            jerk: self.jerk.lower(other.jerk),
        }
    }

    /// The harder of two sets, number by number.
    pub fn harder(self, other: LimitSet) -> LimitSet {
        LimitSet {
            accel: self.accel.higher(other.accel),
            jerk: self.jerk.higher(other.jerk),
        }
    }

    /// Whether both numbers are at least those of `other`.
    pub fn at_least(self, other: LimitSet) -> bool {
        self.accel >= other.accel && self.jerk >= other.jerk
    }

    fn valid(self) -> bool {
        self.accel.0.is_finite()
            && self.jerk.0.is_finite()
            && self.accel.0 > 0.0
            && self.jerk.0 > 0.0
    }
}

/// The normal set of an axis and its stop sets, none of which is softer than the normal one.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Limits {
    normal: LimitSet,
    stop_plus: LimitSet,
    stop_minus: LimitSet,
}

impl Limits {
    /// Takes the normal set and the sets that stop a motion in the plus and in the minus direction
    /// (gravity may help one of them). `None` if a number is not above 0 or a stop set is softer
    /// than the normal one.
    pub fn new(normal: LimitSet, stop_plus: LimitSet, stop_minus: LimitSet) -> Option<Limits> {
        let valid = normal.valid() && stop_plus.valid() && stop_minus.valid();
        (valid && stop_plus.at_least(normal) && stop_minus.at_least(normal)).then_some(Limits {
            normal,
            stop_plus,
            stop_minus,
        })
    }

    /// The set for live motion and planned braking.
    pub const fn normal(&self) -> LimitSet {
        self.normal
    }

    /// The set that stops a motion in the direction of `speed`.
    pub fn stop(&self, speed: f64) -> LimitSet {
        if speed < 0.0 {
            self.stop_minus
        } else {
            self.stop_plus
        }
    }
}

#[cfg(test)]
mod tests;
