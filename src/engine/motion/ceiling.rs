//! Which ceiling binds.

use super::bands::{Band, Bands};
use crate::operator::{Hand, QUIET_SHARE, Quiet};
use crate::output::Ceiling;
use crate::rig::Axis;
use crate::units::{Speed, Unit};

/// The ceilings of one axis that scale: a full stick asks for the lowest of them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scaling<'a> {
    /// The lower of what the rig's file and the rig itself allow.
    pub rig: Speed,
    /// The operator's own, if there is one.
    pub operator: Option<Speed>,
    /// The selected gear's, if an operator drives the axis.
    pub gear: Option<Speed>,
    /// Quiet's, while it is on.
    pub quiet: Option<Speed>,
    /// What the picture bears, if the operator asks for it.
    pub framing: Option<Speed>,
    /// Reduced speed's, while it is on or the axis's position is not to be trusted.
    pub reduced: Option<Speed>,
    /// Speeds to avoid.
    pub bands: &'a Bands,
}

/// What is switched on, as far as it makes ceilings.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Switched {
    /// The gear, 0 the slowest.
    pub gear: u8,
    /// Quiet is on.
    pub quiet: bool,
    /// Reduced speed holds.
    pub reduced: bool,
}

impl<'a> Scaling<'a> {
    /// The ceilings of an axis whose rig allows `rig` units/s, `reduced` of them at reduced speed,
    /// under the hand that drives it.
    pub fn of(rig: Speed, reduced: Speed, hand: Option<&'a Hand>, on: Switched) -> Scaling<'a> {
        let gear = hand.map(|hand| hand.gears.speed(on.gear));
        let operator = hand.and_then(|hand| hand.ceiling);
        let quiet = hand.filter(|_| on.quiet).map(|hand| match hand.quiet {
            Quiet::Measured { speed, .. } => speed,
            Quiet::NotMeasured => {
                let own = [operator, gear].into_iter().flatten();
                Speed(QUIET_SHARE * own.fold(rig, Speed::lower).0)
            }
        });
        Scaling {
            rig,
            operator,
            gear,
            quiet,
            framing: hand.and_then(|hand| hand.framing),
            reduced: on.reduced.then_some(reduced),
            bands: hand.map_or(&Bands::NONE, |hand| hand.quiet.bands(on.quiet)),
        }
    }

    /// The lowest, and which it is; of equal ones the first of [`Ceiling::ALL`].
    pub fn lowest(&self) -> (Speed, Ceiling) {
        let mut lowest = (self.rig, Ceiling::Rig);
        let others = [
            (self.operator, Ceiling::Operator),
            (self.gear, Ceiling::Gear),
            (self.quiet, Ceiling::Quiet),
            (self.framing, Ceiling::Framing),
            (self.reduced, Ceiling::Reduced),
        ];
        for (speed, ceiling) in others {
            if let Some(speed) = speed.filter(|s| *s < lowest.0) {
                lowest = (speed, ceiling);
            }
        }
        lowest
    }

    /// What binds an axis, alone or with the other axis of a stick whose full push has one speed for both.
    pub fn binding(&self, fellow: Option<&Scaling>) -> Binding {
        let mut lowest = self.lowest();
        if let Some(theirs) = fellow.map(Scaling::lowest).filter(|l| l.0 < lowest.0) {
            lowest = theirs;
        }
        let (mut speed, by) = lowest;
        let both = [Some(self.bands), fellow.map(|fellow| fellow.bands)];
        let around = |speed| both.into_iter().flatten().find_map(|b| b.around(speed));
        let mut band = None;
        // The edge of one axis may lie in a band of the other.
        while let Some(inside) = around(speed) {
            (speed, band) = (inside.low, Some(inside));
        }
        Binding { speed, by, band }
    }
}

/// The ceiling that binds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Binding {
    /// What it comes to.
    pub speed: Speed,
    /// Which it is.
    pub by: Ceiling,
    /// The band that has it inside, of which it is the lower edge therefore.
    pub band: Option<Band>,
}

/// Reduced speed of the farthest part, alone or of all axes together, in mm/s: the tool centre
/// point's limit of ISO 10218-1 (5.5.3, as quoted by secondary sources).
pub const REDUCED_TIP_MM_S: f64 = 250.0;
/// Reduced speed of an axis that turns, in deg/s: a hand near the head has time to leave.
pub const REDUCED_DEG_S: f64 = 10.0;
/// Reduced speed of an axis that travels, in mm/s: the same reason, with a carriage's weight.
pub const REDUCED_MM_S: f64 = 50.0;

/// The reduced speed of one axis by itself: its own limit, and 250 mm/s at the reach.
pub fn reduced(axis: &Axis) -> Speed {
    let own = match axis.unit {
        Unit::Deg => REDUCED_DEG_S,
        Unit::Mm => REDUCED_MM_S,
    };
    let tip = axis.tip_per_unit();
    if tip <= 0.0 {
        return Speed(own);
    }
    Speed(own).lower(Speed(REDUCED_TIP_MM_S / tip))
}

/// The highest velocity a frame can carry: an i32 of 1/1024 count/s ends at 2,097,151 counts/s.
const HIGHEST_WIRE_COUNTS_PER_S: f64 = 2_097_151.0;

/// The speed above which the link clips, for an axis of so many counts per unit.
pub fn link_ceiling(counts_per_unit: f64) -> Speed {
    Speed(HIGHEST_WIRE_COUNTS_PER_S / counts_per_unit)
}

#[cfg(test)]
mod tests;
