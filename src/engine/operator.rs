//! An operator profile, resolved against a rig: hands and bindings, valid by construction.

use crate::feel::{Curve, Throw};
use crate::input::{Button, Control};
use crate::time::Span;
use crate::units::Speed;
use alloc::string::String;
use alloc::vec::Vec;

/// What one operator's hands like.
#[derive(Clone, Debug, PartialEq)]
pub struct Operator {
    /// The name the files and screens use.
    pub name: String,
    /// One entry for each axis this operator drives, each axis at most once.
    pub hands: Vec<Hand>,
    /// The wedge that keeps a nearly pure pan pure, one for each stick.
    pub wedge: Wedge,
    /// What the buttons do.
    pub buttons: Buttons,
    /// The gear a start or an operator change begins in, 0 the slowest.
    pub first_gear: u8,
}

/// How one control drives one axis.
#[derive(Clone, Debug, PartialEq)]
pub struct Hand {
    /// Which of the rigs, by its place in the slice given to the engine.
    pub rig: u8,
    /// Which of that rig's axes, by its place in the rig file.
    pub axis: u8,
    /// The stick direction that drives it.
    pub control: Control,
    /// Taste: the stick's plus drives the axis minus.
    pub invert: bool,
    /// Deadband and saturation.
    pub throw: Throw,
    /// Speed against deflection.
    pub curve: Curve,
    /// Full-stick speeds.
    pub gears: Gears,
    /// The fastest this operator ever wants this axis.
    pub ceiling: Option<Speed>,
    /// Time from rest to the gear's full speed.
    pub gain: Span,
    /// Time from the gear's full speed, or the present speed if that is higher, to rest.
    pub lose: Span,
}

/// Most gears an axis can have.
pub const MAX_GEARS: usize = 8;

/// One to [`MAX_GEARS`] full-stick speeds, slowest first.
#[derive(Clone, Copy, Debug, PartialEq)]
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

    /// How many there are.
    pub const fn count(&self) -> u8 {
        self.count
    }

    /// The full-stick speed of gear `index`; an axis with fewer gears stays in its fastest.
    pub fn speed(&self, index: u8) -> Speed {
        self.speeds[usize::from(index.min(self.count - 1))]
    }
}

/// The wedge of each stick as the tangent of its half angle, 0 for none.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wedge {
    /// Of the left stick.
    pub left_tan: f64,
    /// Of the right stick.
    pub right_tan: f64,
}

/// What the buttons do. STOP and its release are always bound.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Buttons {
    /// A bare tap on any connected pad stops everything.
    pub stop: Button,
    /// Held for 0.6 s with the sticks centred, it releases the stop.
    pub release: Button,
    /// A tap selects the next faster gear.
    pub gear_up: Option<Button>,
    /// A tap selects the next slower gear.
    pub gear_down: Option<Button>,
}
