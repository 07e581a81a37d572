//! The current with which motors hold while nothing moves: they can be heard by it.
//!
//! ```text
//!            still, at rest               no more                   the rig told
//!   Full ────────────────────▶ MayBeLow ──────────▶ Awaited ─────────────────────────▶ Full
//!                                   ▲                  │ still again
//!                                   └──────────────────┘
//! ```
//!
//! It becomes other than full in `still` only, and what is not full keeps the state there (see
//! [`Present`](crate::operate::state::Present)): so nothing moves before the rig told that all of it is back.

/// With which current the motors of a rig hold.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Current {
    /// All with their full one, as far as anybody knows.
    #[default]
    Full,
    /// Nothing is to move: those whose file lets them may hold with less.
    MayBeLow,
    /// All are to have their full one, and nothing moves until the rig has told so.
    Awaited,
}
