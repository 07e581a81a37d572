//! Audible tones in a narrow-band spectrum.
//!
//! The method is the engineering method of ISO 1996-2:2017, which is ISO/PAS 20065:2016 (now ISO/TS
//! 20065:2022, before that DIN 45681): a line that stands 6 dB above the noise of its critical band is a
//! tone, and its audibility is by how much it exceeds the level at which the noise in that band masks
//! it. Formulas and clauses are taken from two public descriptions that agree, the MoSQITo package's
//! source and a manual of a sound level meter; the standard itself was not read.
//!
//! Limits. Tones below 50 Hz are outside of the method and are not looked for, so the mains' hum in a
//! 50 Hz country just is. It answers for steady tones and people of normal hearing who are half of them
//! just able to hear it; it knows no threshold of hearing, so a tone that is too faint for any ear may
//! count as audible: that errs to the quiet side. Its test of distinctness is left out, which does the
//! same. The mean spectrum of the whole time is judged, not spectra of three seconds.

use super::levels::{db, energy};
use super::spectrum::{HANN_BANDWIDTH, Spectrum};

/// The lowest tone the method is for, in Hz (ISO/TS 20065, clause 1).
pub const LOWEST_HZ: f64 = 50.0;
/// The highest that is looked for, in Hz: most people hear nothing above.
pub const HIGHEST_HZ: f64 = 16_000.0;
/// A tone stands out of the noise by this, in dB (5.3.3).
const STANDS_OUT_DB: f64 = 6.0;
/// Lines that belong to a tone are at most this below its highest, in dB (5.3.3).
const BELONGS_DB: f64 = 10.0;
/// The noise level is found when it changes by no more than this, in dB (5.3.2).
const SETTLED_DB: f64 = 0.005;
/// On either side of the tone at least so many lines must be left for the noise (5.3.2).
const LEAST_LINES: usize = 5;

/// One tone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tone {
    /// Its highest line, in Hz.
    pub hz: f64,
    /// Its level, in dB.
    pub db: f64,
    /// The level at which the noise in its critical band would just mask it, in dB.
    pub masked_below_db: f64,
    /// First and last line of it.
    pub lines: (usize, usize),
}

impl Tone {
    /// By how much it is above what would be masked, in dB; audible above 0.
    pub fn audibility_db(&self) -> f64 {
        self.db - self.masked_below_db
    }
}

/// The width of the critical band about a frequency, both in Hz (5.2, equation 2; Zwicker and Terhardt,
/// J. Acoust. Soc. Am. 68 (1980) 1523).
pub fn critical_band_hz(hz: f64) -> f64 {
    25.0 + 75.0 * (1.0 + 1.4 * (hz / 1000.0).powi(2)).powf(0.69)
}

/// The ends of the critical band about a frequency in Hz: their geometric mean is that frequency (5.2,
/// equations 4 and 5).
pub fn critical_band_ends_hz(hz: f64) -> (f64, f64) {
    let width = critical_band_hz(hz);
    let low = (width * width + 4.0 * hz * hz).sqrt() / 2.0 - width / 2.0;
    (low, low + width)
}

/// By how much a tone of this frequency in Hz is above the noise of its critical band when it is just
/// audible, in dB; below 0 (5.3.6, equation 13).
pub fn masking_index_db(hz: f64) -> f64 {
    -2.0 - (1.0 + (hz / 502.0).powf(2.5)).log10()
}

/// The mean level in dB of a line of the noise about `line`, without the tones in it (5.3.2); `None`
/// where too few lines are.
pub fn noise_line_db(spectrum: &Spectrum, line: usize) -> Option<f64> {
    let (low, high) = critical_band_ends_hz(spectrum.hz(line));
    let first = (low / spectrum.line_hz).ceil() as usize;
    let last =
        ((high / spectrum.line_hz).floor() as usize).min(spectrum.lines.len().checked_sub(1)?);
    let mean = |limit: f64| {
        let (mut sum, mut below, mut above) = (0.0, 0usize, 0usize);
        for n in (first..=last).filter(|n| *n != line) {
            let energy = spectrum.lines[n];
            if energy <= limit {
                sum += energy;
                below += usize::from(n < line);
                above += usize::from(n > line);
            }
        }
        let enough = below >= LEAST_LINES && above >= LEAST_LINES;
        enough.then(|| sum / (below + above) as f64)
    };
    let mut noise = mean(f64::INFINITY)?;
    // Each round leaves fewer lines, so it ends by itself; the bound is far above what was ever seen.
    for _ in 0..100 {
        let Some(next) = mean(noise / HANN_BANDWIDTH * energy(STANDS_OUT_DB)) else {
            break;
        };
        let settled = (db(noise) - db(next)).abs() <= SETTLED_DB;
        noise = next;
        if settled {
            break;
        }
    }
    // The level of a line holds the noise of 1.5 line spacings.
    (noise > 0.0).then(|| db(noise) - db(HANN_BANDWIDTH))
}

/// What noise with lines of `line_db` masks at a frequency in Hz: the level of a tone that is just
/// audible, in dB (5.3.5 and 5.3.6).
pub fn masked_below_db(line_db: f64, hz: f64, line_hz: f64) -> f64 {
    line_db + db(critical_band_hz(hz) / line_hz) + masking_index_db(hz)
}

/// The tones of a spectrum, audible or not, from the lowest on, each by itself.
pub fn tones(spectrum: &Spectrum) -> Vec<Tone> {
    let mut tones: Vec<Tone> = Vec::new();
    let lines = &spectrum.lines;
    let first = (LOWEST_HZ / spectrum.line_hz).ceil() as usize;
    let last = ((HIGHEST_HZ / spectrum.line_hz) as usize).min(lines.len().saturating_sub(2));
    for line in first.max(1)..=last {
        let peak = lines[line];
        if peak < lines[line - 1] || peak <= lines[line + 1] {
            continue;
        }
        if let Some(tone) = tone_at(spectrum, line) {
            match tones.last_mut() {
                // Two peaks of the same group of lines are one tone.
                Some(before) if before.lines.1 >= tone.lines.0 => {
                    if tone.db > before.db {
                        *before = tone;
                    }
                }
                _ => tones.push(tone),
            }
        }
    }
    tones
}

/// The tone whose highest line this is, if it stands out.
pub fn tone_at(spectrum: &Spectrum, line: usize) -> Option<Tone> {
    let lines = &spectrum.lines;
    let noise = noise_line_db(spectrum, line)?;
    let peak = *lines.get(line)?;
    let least = energy(noise + STANDS_OUT_DB);
    if peak <= least {
        return None;
    }
    let belongs = |n: usize| lines[n] > least && lines[n] > peak * energy(-BELONGS_DB);
    let below = (0..line).rev().take_while(|n| belongs(*n)).count();
    let above = (line + 1..lines.len()).take_while(|n| belongs(*n)).count();
    let group = (line - below, line + above);
    let sum: f64 = lines[group.0..=group.1].iter().sum();
    // A window spreads a tone over lines that overlap; of a single line nothing is counted twice (5.3.3).
    let spread = if below + above > 0 {
        db(HANN_BANDWIDTH)
    } else {
        0.0
    };
    let hz = spectrum.hz(line);
    Some(Tone {
        hz,
        db: db(sum) - spread,
        masked_below_db: masked_below_db(noise, hz, spectrum.line_hz),
        lines: group,
    })
}

/// The same tones, each that is audible with the level of all audible ones that share its critical band:
/// together they are heard sooner than alone (5.3.8). Noise has many faint tones by chance, which are not
/// added up.
pub fn together(tones: &[Tone]) -> Vec<Tone> {
    let audible = |tone: &&Tone| tone.audibility_db() > 0.0;
    let with_neighbours = |tone: &Tone| {
        if !audible(&tone) {
            return *tone;
        }
        let (low, high) = critical_band_ends_hz(tone.hz);
        let near = tones
            .iter()
            .filter(|other| (low..=high).contains(&other.hz));
        let sum = near.filter(audible).map(|other| energy(other.db)).sum();
        Tone {
            db: db(sum),
            ..*tone
        }
    };
    tones.iter().map(with_neighbours).collect()
}
