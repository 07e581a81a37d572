//! What a hand has under way: its consents, a sustained speed, inching.

use super::consent::Consent;
use super::inching::Inching;
use super::sustain::Sustain;
use crate::feel::steady::OneEuro;

/// What one hand has under way.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct HandState {
    /// Of the coarse control.
    pub coarse: Consent,
    /// Of the fine one.
    pub fine: Consent,
    /// A speed that is kept.
    pub sustain: Option<Sustain>,
    /// Steps and creep.
    pub inching: Inching,
    /// The coarse control with its trembling taken out.
    pub steady_coarse: OneEuro,
    /// The fine one.
    pub steady_fine: OneEuro,
}

impl HandState {
    /// Nothing under way, nothing armed.
    pub const NONE: HandState = HandState {
        coarse: Consent::NONE,
        fine: Consent::NONE,
        sustain: None,
        inching: Inching::NONE,
        steady_coarse: OneEuro::NONE,
        steady_fine: OneEuro::NONE,
    };

    /// Motion was withheld: everything ends, and both controls must be seen centred again.
    pub fn withhold(&mut self) {
        *self = HandState::NONE;
    }

    /// Whether any control may move the axis.
    pub fn armed(&self) -> bool {
        self.coarse.armed() || self.fine.armed()
    }
}
