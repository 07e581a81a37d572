//! Noise, and what is known of it.

use super::Noise;
use crate::weighting::a_energy;
use std::f64::consts::TAU;

/// Random numbers that are the same everywhere (xorshift64*, Vigna, ACM TOMS 42 (2016) 30).
#[derive(Clone, Debug)]
pub(super) struct Dice(u64);

impl Dice {
    pub(super) fn new(seed: u64) -> Dice {
        // The state must not be 0, and neighbouring seeds must not give neighbouring numbers.
        let mut dice = Dice(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1);
        for _ in 0..8 {
            dice.next();
        }
        dice
    }

    fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_f491_4f6c_dd1d)
    }

    /// Evenly from 0 to 1.
    pub(super) fn even(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.even()
    }

    /// Of mean 0 and mean square 1, near enough to a bell: the sum of four even ones.
    fn bell(&mut self) -> f64 {
        let x = self.next();
        let part = |n: u32| f64::from((x >> (16 * n)) as u16) / 65_536.0;
        (part(0) + part(1) + part(2) + part(3) - 2.0 + 2.0 / 65_536.0) * 3f64.sqrt()
    }
}

/// White noise through one section that lets low frequencies pass; an A-weighted level of 0 dB.
#[derive(Clone, Debug)]
pub(super) struct Source {
    dice: Dice,
    share: f64,
    last: f64,
    scale: f64,
}

impl Source {
    pub(super) fn new(corner_hz: f64, rate_hz: f64, dice: Dice) -> Source {
        let share = share(corner_hz, rate_hz);
        Source {
            dice,
            share,
            last: 0.0,
            scale: 1.0 / weighted_energy(corner_hz, rate_hz).sqrt(),
        }
    }

    pub(super) fn next(&mut self) -> f64 {
        self.last += self.share * (self.dice.bell() - self.last);
        self.last * self.scale
    }
}

fn share(corner_hz: f64, rate_hz: f64) -> f64 {
    1.0 - (-TAU * corner_hz / rate_hz).exp()
}

/// |H|^2 of the section at a frequency in Hz.
fn passed(hz: f64, corner_hz: f64, rate_hz: f64) -> f64 {
    let a = share(corner_hz, rate_hz);
    let b = 1.0 - a;
    a * a / (1.0 + b * b - 2.0 * b * (TAU * hz / rate_hz).cos())
}

/// The A-weighted mean square of white noise of mean square 1 after the section.
fn weighted_energy(corner_hz: f64, rate_hz: f64) -> f64 {
    let steps = 20_000;
    let width = rate_hz / 2.0 / f64::from(steps);
    let sum: f64 = (0..steps)
        .map(|n| (f64::from(n) + 0.5) * width)
        .map(|hz| passed(hz, corner_hz, rate_hz) * a_energy(hz))
        .sum();
    sum / f64::from(steps)
}

impl Noise {
    /// The A-weighted energy it has in each Hz at a frequency in Hz.
    pub(super) fn density(&self, hz: f64, rate_hz: f64) -> f64 {
        let white = 1.0 / (rate_hz / 2.0);
        let weighted = passed(hz, self.corner_hz, rate_hz) * a_energy(hz) * white;
        10f64.powf(self.db / 10.0) * weighted / weighted_energy(self.corner_hz, rate_hz)
    }
}
