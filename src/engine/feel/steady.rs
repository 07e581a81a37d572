//! The 1 Euro filter: takes the trembling out of a stick that is held, and hardly delays one that
//! is moved.
//!
//! G. Casiez, N. Roussel, D. Vogel, "1 Euro Filter: A Simple Speed-based Low-pass Filter for Noisy
//! Input in Interactive Systems", CHI 2012, doi 10.1145/2207676.2208639. A first-order low-pass
//! whose cutoff rises with the speed of the signal. As in the authors' own package, the speed is
//! that from the last *filtered* value to the present raw one.

use core::f64::consts::PI;

/// Cutoff of the speed's own low-pass, in Hz: the paper's.
const SPEED_HZ: f64 = 1.0;

/// How much a stick is steadied.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Steady {
    rest_hz: f64,
    moving_hz: f64,
}

impl Steady {
    /// `rest_hz` is the cutoff for a stick that stands, above 0; `moving_hz` is what is added to it
    /// for each full way (centre to rim) the stick moves in a second, not below 0. `None` for
    /// anything else.
    pub fn new(rest_hz: f64, moving_hz: f64) -> Option<Steady> {
        let fits = rest_hz > 0.0 && moving_hz >= 0.0;
        (fits && rest_hz.is_finite() && moving_hz.is_finite())
            .then_some(Steady { rest_hz, moving_hz })
    }

    /// The cutoff for a stick that stands, in Hz.
    pub const fn rest_hz(self) -> f64 {
        self.rest_hz
    }

    /// What is added to it for each full way a second, in Hz.
    pub const fn moving_hz(self) -> f64 {
        self.moving_hz
    }
}

/// One filtered value.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct OneEuro {
    /// The filtered value and its filtered speed, a second; none before the first value.
    state: Option<(f64, f64)>,
}

impl OneEuro {
    /// Nothing taken yet: the first value passes through.
    pub const NONE: OneEuro = OneEuro { state: None };

    /// Begins anew at `x`.
    pub fn begin(&mut self, x: f64) {
        self.state = Some((x, 0.0));
    }

    /// The filtered value, if there is one.
    pub fn value(&self) -> Option<f64> {
        self.state.map(|(value, _)| value)
    }

    /// Takes the value `x`, `dt` seconds after the last one, and gives the filtered one. No time,
    /// no change.
    pub fn take(&mut self, x: f64, dt: f64, by: Steady) -> f64 {
        let Some((value, speed)) = self.state else {
            self.begin(x);
            return x;
        };
        if dt <= 0.0 {
            return value;
        }
        let speed = low_pass(speed, (x - value) / dt, SPEED_HZ, dt);
        let value = low_pass(value, x, by.rest_hz + by.moving_hz * speed.abs(), dt);
        self.state = Some((value, speed));
        value
    }
}

/// One step of a first-order low-pass: alpha = 1 / (1 + tau / dt), tau = 1 / (2 pi cutoff).
fn low_pass(before: f64, x: f64, cutoff_hz: f64, dt: f64) -> f64 {
    let alpha = 1.0 / (1.0 + 1.0 / (2.0 * PI * cutoff_hz * dt));
    alpha * x + (1.0 - alpha) * before
}
