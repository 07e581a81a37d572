//! Time as the engine knows it: integer nanoseconds handed in by the caller.

use core::ops::{Add, Sub};

/// Nanoseconds in a second.
pub const NANOS_PER_SEC: u64 = 1_000_000_000;

/// A moment, in nanoseconds since an origin of the caller's choosing (the daemon uses its start).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Time(pub u64);

/// A length of time in nanoseconds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Span(pub u64);

impl Time {
    /// The time since `earlier`, or zero if `earlier` is later.
    pub const fn since(self, earlier: Time) -> Span {
        Span(self.0.saturating_sub(earlier.0))
    }
}

impl Span {
    /// No time at all.
    pub const ZERO: Span = Span(0);

    /// A span of whole milliseconds.
    pub const fn from_millis(ms: u64) -> Span {
        Span(ms * 1_000_000)
    }

    /// A span of whole microseconds.
    pub const fn from_micros(us: u64) -> Span {
        Span(us * 1_000)
    }

    /// The span nearest to `seconds`; negative and not-a-number become zero, too long saturates.
    pub fn from_secs_f64(seconds: f64) -> Span {
        Span((seconds * NANOS_PER_SEC as f64) as u64)
    }

    /// The span in seconds.
    pub fn secs(self) -> f64 {
        self.0 as f64 / NANOS_PER_SEC as f64
    }

    /// The shorter of two spans.
    pub fn shorter(self, other: Span) -> Span {
        if other < self { other } else { self }
    }
}

impl Add<Span> for Time {
    type Output = Time;
    fn add(self, span: Span) -> Time {
        Time(self.0.saturating_add(span.0))
    }
}

impl Sub<Span> for Time {
    type Output = Time;
    fn sub(self, span: Span) -> Time {
        Time(self.0.saturating_sub(span.0))
    }
}
