//! Why an engine could not be made, or can't take a profile.

use crate::MAX_RIGS;
use crate::operator::{Hand, Operator};
use crate::time::Span;

/// Why an engine could not be made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EngineError {
    /// There is no rig, or more than [`MAX_RIGS`].
    Rigs(usize),
    /// The operator's hand at this place names a rig, axis or group there is not.
    Hand(usize),
    /// The operator's hand at this place drives an axis that another one drives.
    AxisTwice(usize),
    /// The engine's period is not between 1 and 20 ms.
    Period(Span),
}

impl core::fmt::Display for EngineError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            EngineError::Rigs(n) => write!(f, "{n} rigs given, 1 to {MAX_RIGS} are possible"),
            EngineError::Hand(n) => {
                write!(
                    f,
                    "hand {n} of the operator names an axis or group there is not"
                )
            }
            EngineError::AxisTwice(n) => {
                write!(f, "hand {n} of the operator drives an axis already driven")
            }
            EngineError::Period(p) => {
                write!(f, "a period of {} s, 0.001 to 0.02 s is possible", p.secs())
            }
        }
    }
}

impl core::error::Error for EngineError {}

/// Whether every hand drives an axis there is, and none twice. `axes` tells how many a rig has.
pub(super) fn check_hands(
    operator: &Operator,
    axes: impl Fn(usize) -> Option<usize>,
) -> Result<(), EngineError> {
    for (place, hand) in operator.hands.iter().enumerate() {
        let group = usize::from(hand.group) < operator.groups.len();
        if !group || axes(usize::from(hand.rig)).is_none_or(|n| usize::from(hand.axis) >= n) {
            return Err(EngineError::Hand(place));
        }
        let same = |other: &Hand| (other.rig, other.axis) == (hand.rig, hand.axis);
        if operator.hands[..place].iter().any(same) {
            return Err(EngineError::AxisTwice(place));
        }
    }
    Ok(())
}
