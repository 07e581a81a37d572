//! Which ceiling binds.

use crate::output::Ceiling;
use crate::units::Speed;

/// The ceilings of one axis that scale: a full stick asks for the lowest of them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scaling {
    /// The lower of what the rig's file and the rig itself allow.
    pub rig: Speed,
    /// The operator's own, if there is one.
    pub operator: Option<Speed>,
    /// The selected gear's, if an operator drives the axis.
    pub gear: Option<Speed>,
}

impl Scaling {
    /// The lowest, and which it is; of equal ones the first of [`Ceiling::ALL`].
    pub fn lowest(&self) -> (Speed, Ceiling) {
        let mut lowest = (self.rig, Ceiling::Rig);
        let others = [
            (self.operator, Ceiling::Operator),
            (self.gear, Ceiling::Gear),
        ];
        for (speed, ceiling) in others {
            if let Some(speed) = speed.filter(|s| *s < lowest.0) {
                lowest = (speed, ceiling);
            }
        }
        lowest
    }
}

/// The highest velocity a frame can carry: an i32 of 1/1024 count/s ends at 2,097,151 counts/s.
const HIGHEST_WIRE_COUNTS_PER_S: f64 = 2_097_151.0;

/// The speed above which the link clips, for an axis of so many counts per unit.
pub fn link_ceiling(counts_per_unit: f64) -> Speed {
    Speed(HIGHEST_WIRE_COUNTS_PER_S / counts_per_unit)
}
