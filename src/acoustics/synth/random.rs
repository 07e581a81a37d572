//! Rigs and rooms by chance.

use super::noise::Dice;
use super::{AxisVoice, Cough, Hum, Noise, Voice};
use crate::levels::db;
use crate::plan::{Does, Plan};
use crate::tones::{critical_band_hz, masking_index_db};
use crate::weighting::a_db;

/// Sample rate for which the levels of tones are chosen, in Hz; others differ by little.
const RATE_HZ: f64 = 48_000.0;

impl Voice {
    /// A rig by chance, for a plan; recorded early, with a clock of its own, a hum and a cough.
    pub fn random(plan: &Plan, seed: u64) -> Voice {
        let mut dice = Dice::new(seed);
        let room = Noise {
            db: dice.between(-58.0, -46.0),
            corner_hz: dice.between(250.0, 900.0),
        };
        let mains = if dice.even() < 0.5 { 50.0 } else { 60.0 };
        let hum = [1.0, 2.0, 3.0].map(|n| Hum {
            hz: n * mains,
            db: masked(&room, n * mains) + dice.between(-10.0, 12.0) - a_db(n * mains),
        });
        // A whine that is there is well audible, one that is not well hidden.
        let above = match dice.even() < 0.5 {
            true => dice.between(4.0, 16.0),
            false => dice.between(-20.0, -5.0),
        };
        let hz = dice.between(2500.0, 9000.0);
        let whine = Hum {
            hz,
            db: masked(&room, hz) + above - a_db(hz),
        };
        let axes = 0..plan.axes.len();
        let axes: Vec<AxisVoice> = axes
            .map(|axis| random_axis(plan, axis, &room, &mut dice))
            .collect();
        let early_s = dice.between(0.0, 2.0);
        let coughs = (0..2).map(|_| Cough {
            at_s: dice.between(0.0, plan.lasts() + early_s),
            lasts_s: dice.between(0.25, 0.6),
            db: room.db + dice.between(12.0, 25.0),
        });
        Voice {
            coughs: coughs.collect(),
            whine: (dice.even() < 0.8).then_some(whine),
            hum: hum.to_vec(),
            room,
            swells: 0.0,
            axes,
            early_s,
            drift_ppm: dice.between(-50.0, 50.0),
            seed,
        }
    }
}

/// The A-weighted level of a tone that the room just masks.
fn masked(room: &Noise, hz: f64) -> f64 {
    db(room.density(hz, RATE_HZ) * critical_band_hz(hz)) + masking_index_db(hz)
}

fn random_axis(plan: &Plan, axis: usize, room: &Noise, dice: &mut Dice) -> AxisVoice {
    let own = plan.steps.iter().filter_map(|step| match step.does {
        Does::Speed(_, m) if m.axis == axis => Some(m.speed),
        _ => None,
    });
    let (slowest, fastest) = own.fold((f64::INFINITY, 0.0), |(a, b), s| (a.min(s), f64::max(b, s)));
    let ramps = plan.steps.iter().filter_map(|step| match step.does {
        Does::Ramp(_, m) if m.axis == axis => Some(m.accel),
        _ => None,
    });
    let gentlest = ramps.fold(f64::INFINITY, f64::min);
    let steps_hz = dice.between(1500.0, 7000.0) / fastest;
    let hz = (steps_hz * slowest).max(60.0);
    let resonance = (dice.even() < 0.6).then(|| {
        let at = slowest * (fastest / slowest).powf(dice.between(0.2, 0.8));
        (at, dice.between(0.15, 0.35), dice.between(8.0, 22.0))
    });
    // At its fastest every rig is heard; at its slowest hardly any.
    let noise_doubling_db = dice.between(4.0, 8.0);
    let whole = noise_doubling_db * (fastest / slowest).log2();
    let db = (-dice.between(13.0, 34.0)).max(dice.between(4.0, 8.0) - whole);
    AxisVoice {
        slowest,
        noise: Noise {
            db: room.db + db,
            corner_hz: dice.between(700.0, 4000.0),
        },
        noise_doubling_db,
        resonance,
        steps_hz,
        tone_db: masked(room, hz) - dice.between(6.0, 30.0) - a_db(hz),
        // The weighting makes low tones fainter than it makes what they become.
        tone_doubling_db: dice.between(-2.0, 5.0),
        harmonics_db: [dice.between(-14.0, -3.0), dice.between(-20.0, -6.0)],
        gentlest,
        thump_db: room.db - dice.between(5.0, 25.0),
        thump_doubling_db: dice.between(4.0, 8.0),
    }
}
