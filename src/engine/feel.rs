//! From a raw stick to a demand of -1..1: wedge, deadband, saturation, curve.
//!
//! Every step is continuous and of bounded slope, so that no twitch of the thumb becomes a jump.

pub mod monotone;
pub mod steady;

use crate::units::{held, higher, lower};
use libm::{exp, log};
use monotone::Monotone;

/// Which part of a stick's way counts: nothing below the deadband, everything at the saturation.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Throw {
    deadband: f64,
    saturation: f64,
}

impl Throw {
    /// The least way from deadband to saturation: with less, a thumb can't find the speeds between.
    pub const LEAST_WAY: f64 = 0.3;

    /// Takes a deadband of 0..1 and a saturation of at most 1, at least [`Throw::LEAST_WAY`] above
    /// the deadband; `None` otherwise.
    pub fn new(deadband: f64, saturation: f64) -> Option<Throw> {
        // 1e-9 forgives the rounding of decimal fractions: 0.95 - 0.65 is a hair under 0.3.
        let apart = saturation - deadband >= Throw::LEAST_WAY - 1e-9;
        (deadband >= 0.0 && saturation <= 1.0 && apart).then_some(Throw {
            deadband,
            saturation,
        })
    }

    /// The deadband as a share of the stick's way.
    pub const fn deadband(self) -> f64 {
        self.deadband
    }

    /// The share of the stick's way from which on the demand is full.
    pub const fn saturation(self) -> f64 {
        self.saturation
    }

    /// How far into the way |x| is: 0 at the deadband's edge, 1 at the saturation.
    pub fn depth(self, x: f64) -> f64 {
        held(
            (x.abs() - self.deadband) / (self.saturation - self.deadband),
            0.0,
            1.0,
        )
    }

    /// Whether a stick at `x` counts as let go. A fifth of the deadband is kept as hysteresis, so
    /// that a stick trembling at the edge is neither centred nor pushed.
    pub fn centred(self, x: f64) -> bool {
        x.abs() < 0.8 * self.deadband
    }

    /// Whether a stick at `x` asks for motion.
    pub fn outside(self, x: f64) -> bool {
        x.abs() > self.deadband
    }
}

/// Speed against deflection, both 0..=1, given by the speed at half deflection (`half`).
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Curve(Shape);

#[derive(Clone, Copy, Debug, PartialEq)]
#[expect(
    clippy::large_enum_variant,
    reason = "a profile that comes while driving must cost no allocation and free none"
)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
enum Shape {
    Linear,
    /// y = (e^(k u) - 1) / (e^k - 1); `over` is 1 / (e^k - 1).
    Exponential {
        k: f64,
        over: f64,
    },
    /// y = (1 - c) u + c u^3
    Cubic {
        c: f64,
    },
    Points(Monotone),
}

impl Curve {
    /// Lowest `half` of an exponential curve: below it the last tenth of the stick holds nearly all
    /// of the speed (k > 7.8).
    pub const LEAST_EXPONENTIAL_HALF: f64 = 0.02;
    /// Lowest `half` of a cubic curve: u^3 alone.
    pub const LEAST_CUBIC_HALF: f64 = 0.125;

    /// Speed follows deflection: half stick, half speed.
    pub const fn linear() -> Curve {
        Curve(Shape::Linear)
    }

    /// The exponential through `half` at half deflection, [`Curve::LEAST_EXPONENTIAL_HALF`]..=0.5;
    /// `None` otherwise. At 0.5 it is linear.
    pub fn exponential(half: f64) -> Option<Curve> {
        if !(Curve::LEAST_EXPONENTIAL_HALF..=0.5).contains(&half) {
            return None;
        }
        // At u = 1/2 the curve is 1 / (e^(k/2) + 1), hence k = 2 ln((1 - h) / h).
        let k = 2.0 * log((1.0 - half) / half);
        // Below 1e-6 the curve differs from a line by less than 1e-7, and the quotient loses digits.
        if k < 1e-6 {
            return Some(Curve::linear());
        }
        Some(Curve(Shape::Exponential {
            k,
            over: 1.0 / (exp(k) - 1.0),
        }))
    }

    /// The cubic through `half` at half deflection, [`Curve::LEAST_CUBIC_HALF`]..=0.5; `None`
    /// otherwise. At 0.5 it is linear.
    pub fn cubic(half: f64) -> Option<Curve> {
        if !(Curve::LEAST_CUBIC_HALF..=0.5).contains(&half) {
            return None;
        }
        // (1 - c) / 2 + c / 8 = h
        Some(Curve(Shape::Cubic {
            c: (0.5 - half) / 0.375,
        }))
    }

    /// The curve through points of depth and speed; see [`Monotone::new`].
    pub fn points(points: &[(f64, f64)]) -> Option<Curve> {
        Monotone::new(points).map(|through| Curve(Shape::Points(through)))
    }

    /// The points it goes through, if it was given by points.
    pub const fn through(&self) -> Option<&Monotone> {
        match &self.0 {
            Shape::Points(through) => Some(through),
            Shape::Linear | Shape::Exponential { .. } | Shape::Cubic { .. } => None,
        }
    }

    /// The word files use for it; a curve that is a line by its `half` is linear.
    pub const fn name(&self) -> &'static str {
        match self.0 {
            Shape::Linear => "linear",
            Shape::Exponential { .. } => "exponential",
            Shape::Cubic { .. } => "cubic",
            Shape::Points(_) => "points",
        }
    }

    /// Whether a curve read back from bytes is one.
    pub fn is_sound(&self) -> bool {
        match &self.0 {
            Shape::Linear | Shape::Exponential { .. } | Shape::Cubic { .. } => true,
            Shape::Points(points) => points.is_sound(),
        }
    }

    /// The share of full speed at depth `u`, 0..=1 to 0..=1.
    pub fn at(&self, u: f64) -> f64 {
        match &self.0 {
            Shape::Linear => u,
            Shape::Exponential { k, over } => lower((exp(k * u) - 1.0) * over, 1.0),
            Shape::Cubic { c } => (1.0 - c) * u + c * u * u * u,
            Shape::Points(through) => through.at(u),
        }
    }
}

/// Keeps a nearly pure push pure: `minor` is a stick's other direction, `tan` the wedge's tangent.
/// Returns what is left of `minor`; a push along the diagonal keeps all of it.
pub fn wedge(minor: f64, major: f64, tan: f64) -> f64 {
    let left = higher(0.0, minor.abs() - tan * major.abs()) / (1.0 - tan);
    if minor < 0.0 { -left } else { left }
}

/// The two directions of a stick with the wedge taken out of the lesser one.
pub fn wedged(x: f64, y: f64, tan: f64) -> (f64, f64) {
    if x.abs() < y.abs() {
        (wedge(x, y, tan), y)
    } else {
        (x, wedge(y, x, tan))
    }
}

/// The demand, -1..=1, of a stick direction at `x`.
pub fn demand(x: f64, throw: Throw, curve: Curve) -> f64 {
    let y = curve.at(throw.depth(x));
    if x < 0.0 { -y } else { y }
}
