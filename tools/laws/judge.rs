//! What every law is handed when it judges a frame.

use crate::breach::{Law, Log};
use crate::facts::AxisFacts;
use crate::motion::Motion;
use crate::sets::Sets;
use crate::units::Nanos;

/// One axis at one frame.
pub(crate) struct Now<'a> {
    pub t: Nanos,
    pub axis: &'a AxisFacts,
    pub motion: &'a Motion,
    pub sets: &'a Sets,
    /// The longer of tick and frame period, s.
    pub step: f64,
}

impl Now<'_> {
    /// Three steps: an input, the tick that reads it, the frame that shows it.
    pub fn grace(&self) -> f64 {
        3.0 * self.step
    }

    /// Reports a breach with figures in `unit` after the axis unit (`/s`, `/s^2`, ...).
    pub fn report(
        &self,
        log: &mut Log,
        law: Law,
        what: &str,
        (found, allowed): (f64, f64),
        per: &str,
    ) {
        let unit = self.axis.unit.name();
        log.add(law, self.t, Some(self.axis), (found, allowed), || {
            format!("{what} {found:.4} {unit}{per}, allowed {allowed:.4} {unit}{per}")
        });
    }
}
