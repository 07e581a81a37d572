//! Errands: bounded pieces of motion that are asked for by something other than a hand, and begun by one.
//!
//! A survey, a direction test and the daily check move the rig through a list of legs. The list is whole
//! before anything moves; a press that is held begins it, and a hand ends it at any moment.

use crate::MAX_AXES;
use crate::input::Button;
use crate::operator::{Enable, Operator};
use crate::rig::LimitSet;
use crate::time::Span;
use crate::units::Speed;
use alloc::vec::Vec;

/// Most legs of an errand: more than a survey of eight axes has, and so few that a record of it fits
/// into the journal's longest.
pub const MOST_LEGS: usize = 1_024;
/// An errand takes no longer than this: beyond it an evening is over.
pub const LONGEST: Span = Span::from_millis(4 * 3_600_000);

/// What an errand is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Purpose {
    /// Measuring loudness. Refused for an axis that does not know where it is.
    Survey,
    /// Finding out which way is which.
    Directions,
    /// The daily check.
    Check,
}

/// One move from rest to rest.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Leg {
    /// Which of the rigs, by its place in the slice given to the engine.
    pub rig: u8,
    /// Which of that rig's axes, by its place in the rig file.
    pub axis: u8,
    /// When it begins, from the beginning of the errand or from its offer; later if the one before is not at rest yet.
    pub at: Span,
    /// How long its speed is asked for, from its own beginning; then it comes to rest.
    pub drives: Span,
    /// The speed, above 0. It is met or the errand ends: a lower ceiling does not slow it. Inside a band to avoid
    /// it is the lower edge, for as much longer as the way needs; a survey, which would measure another speed
    /// than it says, ends.
    pub speed: Speed,
    /// Whether the position grows.
    pub plus: bool,
    /// Acceleration and jerk to gain and to lose speed, lowered to the rig's normal set and to that of
    /// quiet.
    pub set: LimitSet,
}

/// What can begin an errand on a profile's pads: its enable control, or the first button at hand that does
/// nothing at all; `None` if every button does something.
pub fn press_for(operator: &Operator) -> Option<Enable> {
    let at_hand = [
        Button::South,
        Button::West,
        Button::North,
        Button::DpadUp,
        Button::DpadRight,
        Button::DpadLeft,
        Button::DpadDown,
        Button::Tr,
        Button::Tl,
        Button::Select,
    ];
    let free = |button: &Button| !operator.bindings.touch(*button);
    let free = at_hand.into_iter().find(free).map(Enable::Button);
    operator.enable.or(free)
}

/// A list of legs, what for, and what begins it.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Errand {
    purpose: Purpose,
    press: Enable,
    keep: bool,
    /// Times count from the offer, not from the press.
    from_offer: bool,
    legs: Vec<Leg>,
}

/// Why some legs are no errand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ErrandError {
    /// None, or more than [`MOST_LEGS`].
    Legs(usize),
    /// The leg at this place has a number that is none, or is not above 0.
    Number(usize),
    /// The leg at this place begins before the one ahead of it ends.
    Order(usize),
    /// The leg at this place ends after [`LONGEST`].
    TooLong(usize),
    /// The leg at this place names an axis no rig can have.
    Axis(usize),
}

impl Errand {
    /// Takes legs in the order of their times. `press`, held for 0.6 s, begins it; with `keep` it goes on
    /// only as long as that is held.
    ///
    /// # Errors
    /// The first leg that can't be.
    pub fn new(
        purpose: Purpose,
        press: Enable,
        keep: bool,
        legs: Vec<Leg>,
    ) -> Result<Errand, ErrandError> {
        check(&legs)?;
        Ok(Errand {
            purpose,
            press,
            keep,
            from_offer: false,
            legs,
        })
    }

    /// The same with its times counted from the moment it is offered: its press must come before the first leg.
    pub fn by_the_clock_of_the_offer(mut self) -> Errand {
        self.from_offer = true;
        self
    }

    /// Whether its times count from the moment it is offered.
    pub const fn from_offer(&self) -> bool {
        self.from_offer
    }

    /// Whether its legs are such as [`Errand::new`] takes: to be asked of one read back from bytes.
    pub fn is_sound(&self) -> bool {
        check(&self.legs).is_ok()
    }

    /// What it is for.
    pub const fn purpose(&self) -> Purpose {
        self.purpose
    }

    /// What begins it.
    pub const fn press(&self) -> Enable {
        self.press
    }

    /// Whether it goes on only as long as its press is held.
    pub const fn keep(&self) -> bool {
        self.keep
    }

    /// Its legs, in the order of their times.
    pub fn legs(&self) -> &[Leg] {
        &self.legs
    }
}

fn check(legs: &[Leg]) -> Result<(), ErrandError> {
    if !(1..=MOST_LEGS).contains(&legs.len()) {
        return Err(ErrandError::Legs(legs.len()));
    }
    let mut free = Span::ZERO;
    for (place, leg) in legs.iter().enumerate() {
        let numbers = [leg.speed.0, leg.set.accel.0, leg.set.jerk.0];
        if !numbers.iter().all(|x| x.is_finite() && *x > 0.0) || leg.drives == Span::ZERO {
            return Err(ErrandError::Number(place));
        }
        if usize::from(leg.axis) >= MAX_AXES || usize::from(leg.rig) >= crate::MAX_RIGS {
            return Err(ErrandError::Axis(place));
        }
        if leg.at < free {
            return Err(ErrandError::Order(place));
        }
        free = Span(leg.at.0.saturating_add(leg.drives.0));
        if free > LONGEST {
            return Err(ErrandError::TooLong(place));
        }
    }
    Ok(())
}

/// What is told of an errand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum ErrandNews {
    /// It waits for its press.
    Offered {
        /// What begins it.
        press: Enable,
        /// Whether that has to be kept held.
        keep: bool,
    },
    /// It was begun by its press.
    Begun,
    /// The leg at this place begins.
    Leg(u16),
    /// All legs are done, and everything is at rest.
    Done,
    /// It ended early: what moved comes to rest.
    Ended(ErrandEnd),
    /// It was not taken, or not begun.
    Refused(Refusal),
}

/// Why an errand ended early.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum ErrandEnd {
    /// A stick left its deadband.
    Stick,
    /// Motion was withheld: a stop, a loss, `still`, another profile; the state says which.
    Withheld,
    /// The press that has to be kept was let go, or the enable control of an axis.
    LetGo,
    /// The camera rolls.
    Rolling,
    /// A ceiling is below the speed of its leg.
    Ceiling,
    /// The speed of a survey's leg is to be avoided in quiet.
    Band,
    /// An end of the travel came first.
    Travel,
    /// It was called off.
    CalledOff,
}

/// Why an errand was not taken, or not begun.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Refusal {
    /// Another one is there.
    Busy,
    /// Its first leg was to begin before its press came.
    TooLate,
    /// The profile drives an axis of it not at all.
    NoHand,
    /// Its press does something else.
    Bound,
    /// Its axes are held by more than one pad.
    Groups,
    /// An axis does not know where it is.
    Unreferenced,
    /// An axis is outside its travel.
    Outside,
    /// The camera rolls.
    Rolling,
}
