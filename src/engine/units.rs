//! Quantities of an axis, each in the axis's own unit (degrees or millimetres).
//!
//! The unit itself is a property of the axis ([`Unit`]); the newtypes keep positions, speeds,
//! accelerations and jerks apart, which is where mix-ups hurt.

/// What an axis is measured in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Unit {
    /// Degrees, for an axis that turns.
    Deg,
    /// Millimetres, for an axis that travels.
    Mm,
}

impl Unit {
    /// `deg` or `mm`, as files and screens write it.
    pub const fn symbol(self) -> &'static str {
        match self {
            Unit::Deg => "deg",
            Unit::Mm => "mm",
        }
    }
}

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
        #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
        pub struct $name(pub f64);

        impl $name {
            /// The lower of two.
            pub fn lower(self, other: $name) -> $name {
                if other.0 < self.0 { other } else { self }
            }

            /// The higher of two.
            pub fn higher(self, other: $name) -> $name {
                if other.0 > self.0 { other } else { self }
            }
        }
    };
}

quantity!(
    /// A position, in deg or mm; plus is by the picture (right, up).
    Pos
);
quantity!(
    /// A speed, in deg/s or mm/s.
    Speed
);
quantity!(
    /// An acceleration, in deg/s^2 or mm/s^2.
    Accel
);
quantity!(
    /// A jerk, in deg/s^3 or mm/s^3.
    Jerk
);

/// The share of something, 0..=1 unless the field says otherwise.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Share(pub f64);

/// The lower of two numbers; unlike `f64::min` it never has to choose between signed zeros.
pub(crate) fn lower(a: f64, b: f64) -> f64 {
    if b < a { b } else { a }
}

/// The higher of two numbers.
pub(crate) fn higher(a: f64, b: f64) -> f64 {
    if b > a { b } else { a }
}

/// `x` held between `low` and `high`.
pub(crate) fn held(x: f64, low: f64, high: f64) -> f64 {
    higher(low, lower(high, x))
}
