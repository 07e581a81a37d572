//! Law `travel`.

use crate::breach::{Law, Log, decimals};
use crate::facts::{AxisFacts, Travel};
use crate::units::Nanos;

/// The true position of one axis against its ends, one count of tolerance.
///
/// An axis found outside (at the start, after its travel was edited or it was moved by hand) may
/// only come inward: its excess may never exceed the smallest seen by more than a count.
#[derive(Clone, Debug)]
pub(crate) struct TravelLaw {
    /// Excess allowed beyond an end: 0 once inside; none before the first look.
    excess: Option<f64>,
    /// It was set anew, and nobody has driven it since.
    anew: bool,
}

impl TravelLaw {
    pub fn new() -> TravelLaw {
        TravelLaw {
            excess: None,
            anew: false,
        }
    }

    /// The position or the ends were set anew: look again. While no link is ready, again and again: a rig that
    /// still stops by itself knows nothing of the new ends.
    pub fn look_again(&mut self) {
        self.excess = None;
        self.anew = true;
    }

    /// Whether a link is ready.
    pub fn linked(&mut self, linked: bool) {
        self.anew &= !linked;
        if self.anew {
            self.excess = None;
        }
    }

    pub fn plant(&mut self, t: Nanos, axis: &AxisFacts, position: f64, log: &mut Log) {
        let Travel::Ends { low, high } = axis.travel else {
            return;
        };
        let excess = beyond(position, low, high);
        let allowed = match self.excess {
            Some(allowed) => allowed,
            None => excess,
        };
        self.excess = Some(if excess < allowed { excess } else { allowed });
        // A position that is no number is outside.
        if excess <= allowed + axis.count * (1.0 + 1e-9) {
            return;
        }
        let found = position;
        let nearest = if position < low {
            low - allowed
        } else {
            high + allowed
        };
        log.add(Law::Travel, t, Some(axis), (found, nearest), || {
            let (n, unit) = (decimals(axis), axis.unit.name());
            let only = if allowed > 0.0 { ", inward only" } else { "" };
            let (low, high) = if allowed > 0.0 { (low - allowed, high + allowed) } else { (low, high) };
            let m = n + 1;
            let count = axis.count;
            format!("position {found:.n$} {unit}, allowed {low:.n$}..{high:.n$} {unit}{only} (one count {count:.m$} {unit})")
        });
    }
}

/// How far beyond the nearer end; 0 inside.
fn beyond(position: f64, low: f64, high: f64) -> f64 {
    if position > high {
        position - high
    } else if position < low {
        low - position
    } else if position.is_nan() {
        f64::NAN
    } else {
        0.0
    }
}
