//! The discrete Fourier transform of real samples.
//!
//! Our own, and short: the crates that do it turn std's arithmetic on in crates the engine may come to
//! compute with, which would give it other bits on another machine.

use std::f64::consts::{PI, TAU};

/// A transform of one length, with its tables and its room to work in.
pub struct Fourier {
    /// cos and -sin of each angle of the half length.
    turns: Vec<(f64, f64)>,
    /// Half the length: even and odd samples are one complex number.
    work: Vec<(f64, f64)>,
}

impl Fourier {
    /// For `length` samples: a power of two, at least 4; any other is taken as the next one above.
    pub fn new(length: usize) -> Fourier {
        let half = length.next_power_of_two().max(4) / 2;
        let turn = |n: usize| {
            let (sin, cos) = (TAU * n as f64 / half as f64).sin_cos();
            (cos, -sin)
        };
        Fourier {
            turns: (0..half / 2).map(turn).collect(),
            work: vec![(0.0, 0.0); half],
        }
    }

    /// |X|^2 of the lines from 0 to half the sample rate, one more than half as many as samples.
    pub fn powers(&mut self, samples: &[f64]) -> impl Iterator<Item = f64> {
        let half = self.work.len();
        let shift = usize::BITS - half.trailing_zeros();
        for (n, pair) in samples.chunks_exact(2).take(half).enumerate() {
            // The transform takes its input in the order of the reversed bits.
            self.work[n.reverse_bits() >> shift] = (pair[0], pair[1]);
        }
        self.transform();
        let work = &self.work;
        (0..=half).map(move |k| {
            // The complex line of the even samples and of the odd ones, put together again.
            let (ar, ai) = work[k % half];
            let (br, bi) = work[(half - k) % half];
            let (even, odd) = (
                ((ar + br) / 2.0, (ai - bi) / 2.0),
                ((ai + bi) / 2.0, (br - ar) / 2.0),
            );
            let (sin, cos) = (PI * k as f64 / half as f64).sin_cos();
            let real = even.0 + odd.0 * cos + odd.1 * sin;
            let imaginary = even.1 + odd.1 * cos - odd.0 * sin;
            real * real + imaginary * imaginary
        })
    }

    /// Radix two, in place.
    fn transform(&mut self) {
        let half = self.work.len();
        let mut length = 2;
        while length <= half {
            let step = half / length;
            for block in self.work.chunks_exact_mut(length) {
                let (low, high) = block.split_at_mut(length / 2);
                for ((a, b), (cos, sin)) in low
                    .iter_mut()
                    .zip(high)
                    .zip(self.turns.iter().step_by(step))
                {
                    let turned = (b.0 * cos - b.1 * sin, b.0 * sin + b.1 * cos);
                    *b = (a.0 - turned.0, a.1 - turned.1);
                    *a = (a.0 + turned.0, a.1 + turned.1);
                }
            }
            length *= 2;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_is_the_sum_it_stands_for() {
        let samples: Vec<f64> = (0..64u32).map(|n| f64::from(n * n % 37) - 11.0).collect();
        let mut fourier = Fourier::new(64);
        let powers: Vec<f64> = fourier.powers(&samples).collect();
        assert_eq!(powers.len(), 33);
        for (k, power) in powers.iter().enumerate() {
            let (mut re, mut im) = (0.0, 0.0);
            for (n, x) in samples.iter().enumerate() {
                let (sin, cos) = (TAU * (k * n) as f64 / 64.0).sin_cos();
                re += x * cos;
                im -= x * sin;
            }
            let wanted = re * re + im * im;
            assert!(
                (power - wanted).abs() < 1e-8 * (1.0 + wanted),
                "{k}: {power}, {wanted}"
            );
        }
    }
}
