//! How loud a recording is from frame to frame: what the ladder is found in.

use super::levels::db;
use super::weighting::AFilter;

/// Length of a frame, in s.
pub const FRAME_S: f64 = 0.02;
/// So many equal samples in a row at full scale are clipping; two can be chance.
const CLIPPED_RUN: u32 = 3;
/// What counts as full scale.
const FULL: f64 = 0.9999;
/// Clipping within this time of the one before is the same, in s.
pub const ONE_CLIP_S: f64 = 0.1;

/// The A-weighted level of each frame, and what else is seen on the way.
#[derive(Clone, Debug)]
pub struct Envelope {
    /// Mean squares of frames of [`FRAME_S`].
    pub frames: Vec<f32>,
    /// When it was clipped, in s; once for each [`ONE_CLIP_S`].
    pub clipped: Vec<f64>,
    /// The highest sample, as a share of full scale.
    pub peak: f64,
    rate_hz: f64,
    filter: AFilter,
    samples: u64,
    sum: f64,
    run: u32,
    last: f64,
}

impl Envelope {
    /// For a sample rate in Hz; `None` for one the weighting is not meant for.
    pub fn new(rate_hz: u32) -> Option<Envelope> {
        Some(Envelope {
            frames: Vec::new(),
            clipped: Vec::new(),
            peak: 0.0,
            rate_hz: f64::from(rate_hz),
            filter: AFilter::new(rate_hz)?,
            samples: 0,
            sum: 0.0,
            run: 0,
            last: 0.0,
        })
    }

    /// Takes the next samples.
    pub fn add(&mut self, samples: &[f64]) {
        for sample in samples {
            let weighted = self.filter.step(*sample);
            self.sum += weighted * weighted;
            self.peak = self.peak.max(sample.abs());
            self.look_for_clipping(*sample);
            self.samples += 1;
            let frame = self.frames.len() as f64;
            if self.samples as f64 >= (frame + 1.0) * FRAME_S * self.rate_hz {
                let length = FRAME_S * self.rate_hz;
                self.frames.push((self.sum / length) as f32);
                self.sum = 0.0;
            }
        }
    }

    fn look_for_clipping(&mut self, sample: f64) {
        let full = sample.abs() >= FULL && sample == self.last;
        self.run = if full { self.run + 1 } else { 1 };
        self.last = sample;
        let now = self.samples as f64 / self.rate_hz;
        let new = self
            .clipped
            .last()
            .is_none_or(|last| now - last >= ONE_CLIP_S);
        if full && self.run >= CLIPPED_RUN && new {
            self.clipped.push(now);
        }
    }

    /// How long it is, in s.
    pub fn seconds(&self) -> f64 {
        self.samples as f64 / self.rate_hz
    }

    /// The levels of all frames in dB; silence has -200.
    pub fn levels(&self) -> Vec<f32> {
        let level = |energy: &f32| db(f64::from(*energy).max(1e-20)) as f32;
        self.frames.iter().map(level).collect()
    }
}
