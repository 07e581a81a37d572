//! Narrow-band spectra: mean energies of lines, from overlapping windows.

use super::fourier::Fourier;
use std::f64::consts::TAU;

/// The widest line spacing in Hz that ISO/TS 20065 allows.
const WIDEST_LINE_HZ: f64 = 4.0;
/// How many line spacings wide the noise bandwidth of a Hann window is (ISO/TS 20065, 5.3.2).
pub const HANN_BANDWIDTH: f64 = 1.5;

/// The energies of lines.
#[derive(Clone, Debug, PartialEq)]
pub struct Spectrum {
    /// Distance of two lines, in Hz.
    pub line_hz: f64,
    /// The energy of each line from 0 Hz on, scaled so that a sine between two lines or on one has its
    /// mean square as the sum of its lines over [`HANN_BANDWIDTH`].
    pub lines: Vec<f64>,
    /// How many windows were averaged.
    pub windows: u32,
}

impl Spectrum {
    /// The frequency of a line, in Hz.
    pub fn hz(&self, line: usize) -> f64 {
        line as f64 * self.line_hz
    }

    /// The line nearest to a frequency in Hz, if it has one.
    pub fn line(&self, hz: f64) -> Option<usize> {
        let line = (hz / self.line_hz).round();
        (line >= 0.0 && line < self.lines.len() as f64).then_some(line as usize)
    }

    /// Adds the windows of another spectrum with the same lines.
    pub fn add(&mut self, other: &Spectrum) {
        let all = f64::from(self.windows + other.windows);
        if other.windows == 0 || self.lines.len() != other.lines.len() {
            return;
        }
        let (own, others) = (
            f64::from(self.windows) / all,
            f64::from(other.windows) / all,
        );
        for (line, more) in self.lines.iter_mut().zip(&other.lines) {
            *line = *line * own + more * others;
        }
        self.windows += other.windows;
    }
}

/// Turns pieces of sound into spectra, all with the same lines.
pub struct Analyser {
    fourier: Fourier,
    window: Vec<f64>,
    input: Vec<f64>,
    rate_hz: f64,
    scale: f64,
}

impl Analyser {
    /// For a sample rate in Hz: the longest line spacing under 4 Hz that a power of two gives.
    pub fn new(rate_hz: u32) -> Analyser {
        let rate_hz = f64::from(rate_hz.max(1));
        let mut length = 1024;
        while rate_hz / length as f64 > WIDEST_LINE_HZ {
            length *= 2;
        }
        let window: Vec<f64> = (0..length)
            .map(|n| 0.5 - 0.5 * (TAU * n as f64 / length as f64).cos())
            .collect();
        let power: f64 = window.iter().map(|w| w * w).sum();
        Analyser {
            input: vec![0.0; length],
            // Both halves of the spectrum; so scaled, the lines of any sound add up to so many times its mean square.
            scale: HANN_BANDWIDTH * 2.0 / (power * length as f64),
            fourier: Fourier::new(length),
            window,
            rate_hz,
        }
    }

    /// Samples of one window.
    pub fn length(&self) -> usize {
        self.window.len()
    }

    /// A spectrum of nothing yet.
    pub fn empty(&self) -> Spectrum {
        Spectrum {
            line_hz: self.rate_hz / self.length() as f64,
            lines: vec![0.0; self.length() / 2 + 1],
            windows: 0,
        }
    }

    /// Adds one window; `samples` has [`Analyser::length`] of them, shorter pieces are left out.
    pub fn add(&mut self, samples: &[f64], to: &mut Spectrum) {
        if samples.len() < self.length() {
            return;
        }
        for ((input, sample), window) in self.input.iter_mut().zip(samples).zip(&self.window) {
            *input = sample * window;
        }
        let windows = f64::from(to.windows);
        for (line, power) in to.lines.iter_mut().zip(self.fourier.powers(&self.input)) {
            *line = (*line * windows + power * self.scale) / (windows + 1.0);
        }
        to.windows += 1;
    }
}
