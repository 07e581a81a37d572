//! The samples of an invented recording.

use super::noise::{Dice, Source};
use super::{FADE_S, SWELL_S, Voice};
use crate::plan::{Does, Plan, Step};
use std::f64::consts::TAU;

/// Speeds and loudness are looked up so often, in s.
const SLICE_S: f64 = 0.001;
/// The recorder runs on so long after the plan, in s.
const AFTER_S: f64 = 1.5;
/// A start or stop is over after so many times [`FADE_S`].
const FADED: f64 = 8.0;

/// An invented recording, sample by sample.
pub struct Sounding<'a> {
    voice: &'a Voice,
    plan: &'a Plan,
    rate_hz: f64,
    sample: u64,
    samples: u64,
    room: Source,
    cough: Source,
    motors: Vec<Source>,
    thumps: Source,
    room_high: f64,
    phases: Vec<[Phase; 3]>,
    /// The hum, and last the whine.
    hum: Vec<Steady>,
    slice: Slice,
    step: usize,
}

/// A tone that does not change.
#[derive(Clone, Debug)]
struct Steady {
    phase: Phase,
    /// What it turns by a sample.
    turn: Phase,
    high: f64,
}

/// Where a tone is in its period: the sine and the cosine of an angle. To turn it costs four products, a sine
/// of each sample ten times that. What rounding makes of its length in an hour is under a millionth.
#[derive(Clone, Copy, Debug)]
struct Phase {
    sin: f64,
    cos: f64,
}

impl Phase {
    fn at(angle: f64) -> Phase {
        let (sin, cos) = angle.sin_cos();
        Phase { sin, cos }
    }

    fn turn(&mut self, by: Phase) {
        *self = Phase {
            sin: self.sin * by.cos + self.cos * by.sin,
            cos: self.cos * by.cos - self.sin * by.sin,
        };
    }
}

/// What holds for a slice of time.
#[derive(Clone, Debug, Default)]
struct Slice {
    moving: Option<Moving>,
    /// The factor of the room tone.
    swell: f64,
    thump: f64,
    cough: f64,
    powered: bool,
}

/// An axis that moves.
#[derive(Clone, Copy, Debug)]
struct Moving {
    axis: usize,
    /// The factor of its noise.
    noise: f64,
    /// What its tones turn by a sample, and their height.
    tones: [(Phase, f64); 3],
}

impl<'a> Sounding<'a> {
    /// The recording of a plan at a sample rate in Hz.
    pub fn new(voice: &'a Voice, plan: &'a Plan, rate_hz: u32) -> Sounding<'a> {
        let rate = f64::from(rate_hz);
        let seconds = voice.early_s + plan.lasts() + AFTER_S;
        let dice = |n: u64| Dice::new(voice.seed.wrapping_mul(64).wrapping_add(n));
        let thump_corner = voice
            .axes
            .first()
            .map_or(1000.0, |axis| axis.noise.corner_hz);
        let motors = voice.axes.iter().enumerate();
        Sounding {
            rate_hz: rate,
            sample: 0,
            samples: (seconds * rate) as u64,
            room: Source::new(voice.room.corner_hz, rate, dice(1)),
            cough: Source::new(1500.0, rate, dice(2)),
            thumps: Source::new(thump_corner, rate, dice(3)),
            motors: motors
                .map(|(n, axis)| Source::new(axis.noise.corner_hz, rate, dice(4 + n as u64)))
                .collect(),
            phases: vec![[Phase::at(0.0); 3]; voice.axes.len()],
            room_high: amplitude(voice.room.db),
            hum: voice
                .hum
                .iter()
                .chain(voice.whine.iter())
                .map(|tone| Steady {
                    phase: Phase::at(0.0),
                    turn: Phase::at(TAU * tone.hz / rate),
                    high: amplitude(tone.db) * 2f64.sqrt(),
                })
                .collect(),
            slice: Slice::default(),
            step: 0,
            voice,
            plan,
        }
    }

    /// How many samples it has in all.
    pub fn samples(&self) -> u64 {
        self.samples
    }

    fn look(&mut self) {
        let heard_s = self.sample as f64 / self.rate_hz;
        let t = (heard_s - self.voice.early_s) / (1.0 + self.voice.drift_ppm * 1e-6);
        let steps = &self.plan.steps;
        while steps.get(self.step).is_some_and(|step| step.ends() <= t) {
            self.step += 1;
        }
        let now = steps.get(self.step).filter(|step| step.at <= t);
        let cough = self.voice.coughs.iter().map(|cough| {
            let share = (heard_s - cough.at_s) / cough.lasts_s;
            match (0.0..1.0).contains(&share) {
                true => amplitude(cough.db) * (share * TAU / 2.0).sin(),
                false => 0.0,
            }
        });
        self.slice = Slice {
            moving: now.and_then(|step| self.moving(step, t)),
            swell: 1.0 + self.voice.swells * (TAU * heard_s / SWELL_S).sin(),
            thump: self.thump(t),
            cough: cough.sum(),
            powered: self.powered(t),
        };
    }

    /// Motor power is switched on half way between the room tone and what follows.
    fn powered(&self, t: f64) -> bool {
        let steps = &self.plan.steps;
        let room = steps.iter().rposition(|step| step.does == Does::Room);
        let Some(room) = room else {
            return true;
        };
        let next = steps.get(room + 1).map_or(f64::INFINITY, |step| step.at);
        t > (steps[room].ends() + next) / 2.0
    }

    fn moving(&self, step: &Step, t: f64) -> Option<Moving> {
        let m = step.does.moving()?;
        let axis = self.voice.axes.get(m.axis)?;
        let speed = m.speed * m.share(t - step.at, step.lasts);
        if speed < axis.slowest * 1e-3 {
            return None;
        }
        let tones = axis.tones(speed).map(|(hz, db)| {
            let heard = hz < self.rate_hz * 0.45;
            let high = if heard {
                amplitude(db) * 2f64.sqrt()
            } else {
                0.0
            };
            (Phase::at(TAU * hz / self.rate_hz), high)
        });
        Some(Moving {
            axis: m.axis,
            noise: amplitude(axis.noise_db(speed)),
            tones,
        })
    }

    /// Starts and stops that have not faded yet.
    fn thump(&self, t: f64) -> f64 {
        let from = self.step.saturating_sub(2);
        let near = self.plan.steps.iter().skip(from).take(3);
        let energies = near.filter_map(|step| {
            let m = step.does.moving()?;
            let axis = self.voice.axes.get(m.axis)?;
            let loud = 10f64.powf(axis.thump_db(m.accel) / 10.0);
            let beginnings = [step.at, step.ends() - m.ramp_s()];
            let fading = beginnings.into_iter().map(|at| fade(t - at)).sum::<f64>();
            Some(loud * fading)
        });
        energies.sum::<f64>().sqrt()
    }
}

/// What is left of the energy of a start `t` seconds after it.
pub(super) fn fade(t: f64) -> f64 {
    match (0.0..FADED * FADE_S).contains(&t) {
        true => (-t / FADE_S).exp(),
        false => 0.0,
    }
}

fn amplitude(db: f64) -> f64 {
    10f64.powf(db / 20.0)
}

impl Iterator for Sounding<'_> {
    type Item = f64;

    fn next(&mut self) -> Option<f64> {
        if self.sample >= self.samples {
            return None;
        }
        let slice = (self.rate_hz * SLICE_S) as u64;
        if self.sample.is_multiple_of(slice.max(1)) {
            self.look();
        }
        let mut x = self.room.next() * self.room_high * self.slice.swell;
        let sounding = match self.slice.powered {
            true => self.hum.len(),
            false => self.voice.hum.len(),
        };
        for tone in &mut self.hum[..sounding] {
            tone.phase.turn(tone.turn);
            x += tone.high * tone.phase.sin;
        }
        if let Some(Moving { axis, noise, tones }) = self.slice.moving {
            x += self.motors[axis].next() * noise;
            for (phase, (turn, high)) in self.phases[axis].iter_mut().zip(tones) {
                phase.turn(turn);
                x += high * phase.sin;
            }
        }
        if self.slice.thump > 0.0 {
            x += self.thumps.next() * self.slice.thump;
        }
        if self.slice.cough != 0.0 {
            x += self.cough.next() * self.slice.cough;
        }
        self.sample += 1;
        Some(x)
    }
}
