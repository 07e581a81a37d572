//! Invented recordings of a survey: what a rig that was made up would sound like at a microphone.
//!
//! Everything in them is invented; they are for learning the loop without a microphone, and for tests.
//! What is true of such a rig is told by [`Voice::truth`], from the figures it was made of and from
//! formulas, without a look at the sound.

mod noise;
mod random;
mod sound;
mod truth;

pub use sound::Sounding;
pub use truth::{AxisTruth, Truth};

/// A noise whose spectrum falls by 6 dB an octave above a corner.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Noise {
    /// Its A-weighted level, in dB against full scale.
    pub db: f64,
    /// In Hz.
    pub corner_hz: f64,
}

/// A steady tone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hum {
    /// In Hz.
    pub hz: f64,
    /// Its level without weighting, in dB against full scale.
    pub db: f64,
}

/// What an axis sounds like. Levels are in dB against full scale.
#[derive(Clone, Debug, PartialEq)]
pub struct AxisVoice {
    /// The slowest speed of the plan, unit/s; the levels below hold for it.
    pub slowest: f64,
    /// The noise of moving, A-weighted.
    pub noise: Noise,
    /// By how much it grows when the speed doubles, in dB.
    pub noise_doubling_db: f64,
    /// Speed, width as a share of it, and dB on top: where the rig sings.
    pub resonance: Option<(f64, f64, f64)>,
    /// Frequency of the steps for each unit/s, in Hz.
    pub steps_hz: f64,
    /// Level of their tone, without weighting.
    pub tone_db: f64,
    /// By how much it grows when the speed doubles, in dB.
    pub tone_doubling_db: f64,
    /// Levels of its second and third harmonic against it, in dB.
    pub harmonics_db: [f64; 2],
    /// The gentlest acceleration of the plan, unit/s^2.
    pub gentlest: f64,
    /// How loud a start or stop begins with it, A-weighted; it fades within a tenth of a second.
    pub thump_db: f64,
    /// By how much it grows when the acceleration doubles, in dB.
    pub thump_doubling_db: f64,
}

/// A sound that has nothing to do with the rig.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cough {
    /// When, in s of the recording.
    pub at_s: f64,
    /// How long, in s.
    pub lasts_s: f64,
    /// How loud, A-weighted.
    pub db: f64,
}

/// A made-up rig in a made-up room, and how it was recorded.
#[derive(Clone, Debug, PartialEq)]
pub struct Voice {
    /// Room tone.
    pub room: Noise,
    /// It comes and goes by this share of its amplitude, every [`SWELL_S`].
    pub swells: f64,
    /// The room's hum.
    pub hum: Vec<Hum>,
    /// What the motors sing while they hold.
    pub whine: Option<Hum>,
    /// The axes, in the order of the plan.
    pub axes: Vec<AxisVoice>,
    /// Coughs and doors.
    pub coughs: Vec<Cough>,
    /// The recorder was started so much before the plan, in s.
    pub early_s: f64,
    /// The recorder's clock is so much faster, in millionths.
    pub drift_ppm: f64,
    /// For the noises.
    pub seed: u64,
}

/// How long the room takes to come and go once, in s: longer than a rung and its pauses.
pub const SWELL_S: f64 = 31.0;
/// How fast a start or stop fades, in s.
pub(crate) const FADE_S: f64 = 0.04;

impl AxisVoice {
    /// A-weighted level of the noise at a speed, in dB.
    pub fn noise_db(&self, speed: f64) -> f64 {
        let grown = self.noise_doubling_db * (speed / self.slowest).log2();
        let sings = self.resonance.map_or(0.0, |(at, width, more)| {
            more / (1.0 + ((speed / at).ln() / width).powi(2))
        });
        self.noise.db + grown + sings
    }

    /// Level of the tone of the steps at a speed, without weighting, in dB.
    pub fn tone_db(&self, speed: f64) -> f64 {
        self.tone_db + self.tone_doubling_db * (speed / self.slowest).log2()
    }

    /// How loud a start or stop begins, A-weighted, in dB.
    pub fn thump_db(&self, accel: f64) -> f64 {
        self.thump_db + self.thump_doubling_db * (accel / self.gentlest).log2()
    }

    /// Frequency in Hz and level in dB without weighting of the tone and its harmonics at a speed.
    pub(crate) fn tones(&self, speed: f64) -> [(f64, f64); 3] {
        let (hz, db) = (self.steps_hz * speed, self.tone_db(speed));
        let [two, three] = self.harmonics_db;
        [(hz, db), (2.0 * hz, db + two), (3.0 * hz, db + three)]
    }
}
