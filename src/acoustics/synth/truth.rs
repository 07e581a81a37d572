//! What is true of an invented rig, by formulas alone.

use super::sound::fade;
use super::{AxisVoice, Hum, Noise, Voice};
use crate::levels::{db, energy};
use crate::plan::{Does, Plan, Step};
use crate::tones::{LOWEST_HZ, critical_band_ends_hz, critical_band_hz, masking_index_db};
use crate::weighting::a_db;

/// What is true of one axis.
#[derive(Clone, Debug, PartialEq)]
pub struct AxisTruth {
    /// Speed in unit/s, by how much it fails the level test and the tone test, in dB; slowest first.
    pub speeds: Vec<(f64, f64, f64)>,
    /// Acceleration in unit/s^2 and by how much it fails, in dB; gentlest first.
    pub ramps: Vec<(f64, f64)>,
}

/// What is true of a rig.
#[derive(Clone, Debug, PartialEq)]
pub struct Truth {
    /// The axes, in the order of the plan.
    pub axes: Vec<AxisTruth>,
    /// By how much the whine of the standstill is above what is masked, in dB; `None` without one.
    pub whine_db: Option<f64>,
}

impl Voice {
    /// What is true of it at a margin in dB, recorded at a sample rate in Hz.
    pub fn truth(&self, plan: &Plan, margin_db: f64, rate_hz: u32) -> Truth {
        let rate = f64::from(rate_hz);
        let hum = self.hum.iter().map(|hum| energy(hum.db + a_db(hum.hz)));
        let room = energy(self.room.db) + hum.sum::<f64>();
        let allowed = room * energy(-margin_db);
        let axes = self
            .axes
            .iter()
            .enumerate()
            .map(|(index, voice)| AxisTruth {
                speeds: speeds(plan, index)
                    .map(|speed| {
                        let own = voice.own_energy(speed);
                        (
                            speed,
                            db(own / allowed),
                            self.audibility(voice, speed, rate),
                        )
                    })
                    .collect(),
                ramps: ramps(plan, index, voice)
                    .map(|(accel, own)| (accel, db(own / allowed)))
                    .collect(),
            });
        Truth {
            axes: axes.collect(),
            whine_db: self
                .whine
                .map(|whine| audible(&[whine], &[self.room], rate)),
        }
    }

    /// Of the most audible tone at a speed, in dB.
    fn audibility(&self, voice: &AxisVoice, speed: f64, rate: f64) -> f64 {
        let moving = Noise {
            db: voice.noise_db(speed),
            ..voice.noise
        };
        let tones = voice.tones(speed).map(|(hz, db)| Hum { hz, db });
        let heard: Vec<Hum> = tones.into_iter().filter(|t| t.hz < rate * 0.45).collect();
        audible(&heard, &[self.room, moving], rate)
    }
}

impl AxisVoice {
    fn own_energy(&self, speed: f64) -> f64 {
        let tones = self.tones(speed).map(|(hz, db)| energy(db + a_db(hz)));
        energy(self.noise_db(speed)) + tones.iter().sum::<f64>()
    }
}

/// By how much the most audible of some tones is above what some noises mask, in dB.
fn audible(tones: &[Hum], noises: &[Noise], rate: f64) -> f64 {
    let of = |tone: &Hum| {
        let (low, high) = critical_band_ends_hz(tone.hz);
        let near = tones
            .iter()
            .filter(|other| (low..=high).contains(&other.hz));
        let level = db(near.map(|other| energy(other.db + a_db(other.hz))).sum());
        let noise: f64 = noises
            .iter()
            .map(|noise| noise.density(tone.hz, rate))
            .sum();
        level - db(noise * critical_band_hz(tone.hz)) - masking_index_db(tone.hz)
    };
    let looked_for = tones
        .iter()
        .filter(|tone| tone.hz >= LOWEST_HZ && tone.hz <= 16_000.0);
    looked_for.map(of).fold(f64::NEG_INFINITY, f64::max)
}

fn speeds(plan: &Plan, axis: usize) -> impl Iterator<Item = f64> {
    plan.steps.iter().filter_map(move |step| match step.does {
        Does::Speed(_, m) if m.axis == axis => Some(m.speed),
        _ => None,
    })
}

/// Accelerations and what their starts, the louder half, add in the mean over what is listened to.
fn ramps(plan: &Plan, axis: usize, voice: &AxisVoice) -> impl Iterator<Item = (f64, f64)> {
    let mut rungs: Vec<(f64, f64)> = Vec::new();
    for step in &plan.steps {
        if let Does::Ramp(_, m) = step.does
            && m.axis == axis
            && rungs.last().is_none_or(|last| last.0 != m.accel)
        {
            let windows = step.listen.iter().map(|window| mean(step, *window, voice));
            rungs.push((m.accel, windows.fold(0.0, f64::max)));
        }
    }
    rungs.into_iter()
}

fn mean(step: &Step, (from, to): (f64, f64), voice: &AxisVoice) -> f64 {
    let Some(m) = step.does.moving() else {
        return 0.0;
    };
    let count = 400;
    let thump = energy(voice.thump_db(m.accel));
    let parts = (0..count).map(|n| from + (to - from) * (f64::from(n) + 0.5) / f64::from(count));
    let sum: f64 = parts
        .map(|t| {
            let speed = m.speed * m.share(t - step.at, step.lasts);
            let moving = match speed > voice.slowest * 1e-3 {
                true => voice.own_energy(speed),
                false => 0.0,
            };
            let starts = [step.at, step.ends() - m.ramp_s()];
            moving + thump * starts.into_iter().map(|at| fade(t - at)).sum::<f64>()
        })
        .sum();
    sum / f64::from(count)
}
