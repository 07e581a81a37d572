//! Consent: a control moves an axis only after it was seen centred since motion was last withheld.
//!
//! Consent belongs to the pair of a control and an axis. A control nobody has heard of is taken to
//! be at rest: it drives nothing and blocks nobody. A first value outside the deadband is withheld.

use crate::time::{Span, Time};

/// How long a control must be seen centred.
pub const CENTRED_FOR: Span = Span::from_millis(200);

/// The consent of one control for one axis.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Consent {
    centred_since: Option<Time>,
    armed: bool,
}

impl Consent {
    /// Not armed, nothing seen.
    pub const NONE: Consent = Consent {
        centred_since: None,
        armed: false,
    };

    /// Whether the control may move the axis.
    pub const fn armed(&self) -> bool {
        self.armed
    }

    /// Looks at the control: `centred` is `None` as long as it is unknown.
    pub fn look(&mut self, now: Time, centred: Option<bool>) {
        if centred != Some(true) {
            self.centred_since = None;
            return;
        }
        let since = *self.centred_since.get_or_insert(now);
        self.armed |= now.since(since) >= CENTRED_FOR;
    }
}

#[cfg(test)]
mod tests;
