//! Time and small sets, the checker's own.

use std::ops::Add;

/// A moment or a span in integer nanoseconds since the start of the run.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Nanos(pub i64);

impl Nanos {
    /// The start of the run.
    pub const ZERO: Nanos = Nanos(0);
    /// Before everything: for "never yet".
    pub const NEVER: Nanos = Nanos(i64::MIN / 4);

    /// A span of whole milliseconds.
    pub const fn millis(ms: i64) -> Nanos {
        Nanos(ms * 1_000_000)
    }

    /// A span in seconds, rounded to the nanosecond; not-a-number gives zero.
    pub fn from_secs(secs: f64) -> Nanos {
        Nanos((secs * 1e9).round() as i64)
    }

    /// The same in seconds.
    pub fn secs(self) -> f64 {
        self.0 as f64 * 1e-9
    }

    /// Seconds from `earlier` to this; negative when `earlier` is later.
    pub fn since(self, earlier: Nanos) -> f64 {
        Nanos(self.0.saturating_sub(earlier.0)).secs()
    }
}

impl Add for Nanos {
    type Output = Nanos;
    fn add(self, other: Nanos) -> Nanos {
        Nanos(self.0.saturating_add(other.0))
    }
}

/// A set of axes by index, at most 32.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Axes(pub u32);

impl Axes {
    /// Every axis.
    pub const ALL: Axes = Axes(u32::MAX);
    /// No axis.
    pub const NONE: Axes = Axes(0);

    /// The set of one axis; empty for an index over 31.
    pub fn one(axis: usize) -> Axes {
        Axes(
            u32::try_from(axis)
                .ok()
                .and_then(|n| 1u32.checked_shl(n))
                .unwrap_or(0),
        )
    }

    /// Whether the axis is in the set.
    pub fn has(self, axis: usize) -> bool {
        self.0 & Axes::one(axis).0 != 0
    }

    /// Both sets together.
    pub fn with(self, other: Axes) -> Axes {
        Axes(self.0 | other.0)
    }

    /// This set less the other.
    pub fn without(self, other: Axes) -> Axes {
        Axes(self.0 & !other.0)
    }

    /// Whether the set is empty.
    pub fn is_empty(self) -> bool {
        self.0 == 0
    }
}
