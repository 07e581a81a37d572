//! Levels and energies: sums, means, and what is left when the background is taken out.

/// The reference sound pressure in air, 20 uPa, in Pa (IEC 61672-1:2013, 3.2).
pub const REFERENCE_PA: f64 = 20e-6;

/// The level of an energy (a mean square), in dB; minus infinity for none.
pub fn db(energy: f64) -> f64 {
    10.0 * energy.log10()
}

/// The energy of a level in dB.
pub fn energy(db: f64) -> f64 {
    10f64.powf(db / 10.0)
}

/// The level in dB of sounds that are heard together, from their levels in dB.
pub fn sum(levels: &[f64]) -> f64 {
    db(levels.iter().map(|level| energy(*level)).sum())
}

/// The equivalent level in dB of parts that follow each other: `(level in dB, length)`.
pub fn equivalent(parts: &[(f64, f64)]) -> f64 {
    let total: f64 = parts.iter().map(|(_, length)| length).sum();
    let sum: f64 = parts.iter().map(|(l, length)| energy(*l) * length).sum();
    db(sum / total)
}

/// What a level of `with` dB has left when a background of `without` dB is taken out by energy; `None`
/// if nothing is left.
pub fn without_background(with: f64, without: f64) -> Option<f64> {
    let left = energy(with) - energy(without);
    (left > 0.0).then(|| db(left))
}

/// A mean energy with how well it is known.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Mean {
    /// The mean square.
    pub energy: f64,
    /// The standard deviation of that mean.
    pub sigma: f64,
    /// How long was listened, in s.
    pub seconds: f64,
}

impl Mean {
    /// From the mean squares of blocks of the same length, in s. The spread of the blocks tells how
    /// well their mean is known; neighbours are taken as independent of each other.
    pub fn of(blocks: &[f64], block_s: f64) -> Mean {
        let count = blocks.len() as f64;
        if blocks.is_empty() {
            return Mean::default();
        }
        let energy = blocks.iter().sum::<f64>() / count;
        let spread: f64 = blocks.iter().map(|block| (block - energy).powi(2)).sum();
        // Of a single block nothing is known of its spread: as unsure as it is high.
        let sigma = match blocks.len() {
            1 => energy,
            _ => (spread / (count - 1.0) / count).sqrt(),
        };
        Mean {
            energy,
            sigma,
            seconds: count * block_s,
        }
    }

    /// The level, in dB.
    pub fn db(&self) -> f64 {
        db(self.energy)
    }

    /// This with a background taken out: the energy left, which may be below 0 by chance, and its
    /// standard deviation.
    pub fn without(&self, background: &Mean) -> (f64, f64) {
        let left = self.energy - background.energy;
        (left, self.sigma.hypot(background.sigma))
    }
}
