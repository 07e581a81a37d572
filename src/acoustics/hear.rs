//! What is listened to: the levels of each part of a plan, without what does not belong to it.

use super::envelope::{Envelope, FRAME_S, ONE_CLIP_S};
use super::levels::{Mean, db};
use super::locate::Place;
use super::plan::{Does, Plan};
use super::wander::{BESIDE_S, wandering};

/// Frames of a block: levels of 0.1 s are looked at for coughs and doors.
const BLOCK: usize = 5;
/// Length of a block, in s.
pub const BLOCK_S: f64 = BLOCK as f64 * FRAME_S;
/// A block this much louder than the quiet ones of its part may be a cough, in dB.
const BURST_DB: f64 = 2.5;
/// Or louder by so many times what the quiet ones differ among each other.
const BURST_SPREADS: f64 = 3.0;
/// Loud blocks with at most so many others between them are one sound.
const ONE_SOUND: usize = 2;
/// Also left out: blocks before a sound that is left out, and after it, where it fades.
const FADES: (usize, usize) = (1, 3);
/// A part is left out if less of it can be used, in s.
const LEAST_S: f64 = 0.8;
/// Of starts or stops of a rung, those that are this many times the one in the middle are coughs, if they
/// are a third of them at most.
const SPOILT_RAMP: f64 = 2.0;
/// Not listened to at either end of a pause, in s: echo, and the uncertainty of where we are.
const PAUSE_GUARD_S: f64 = 0.25;

/// A shorter pause does not tell how the room wanders, in s.
const LEAST_PAUSE_S: f64 = 0.5;

/// A time of the recording, from and to, in s.
pub type Span = (f64, f64);

/// One sound that lasts: room tone, standstill, a rung of speed.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sound {
    /// Its level, of what can be used.
    pub mean: Mean,
    /// That of the pauses beside it.
    pub beside: Mean,
    /// When it can be used, in s of the recording.
    pub clean: Vec<Span>,
    /// When something else was heard, in s of the recording.
    pub spoilt: Vec<Span>,
    /// It was clipped: when, in s of the recording.
    pub clipped: Option<f64>,
}

impl Sound {
    /// Whether enough is left of it to be judged.
    pub fn usable(&self) -> bool {
        self.mean.seconds >= LEAST_S && self.clipped.is_none()
    }
}

/// The starts and stops of a rung of acceleration.
#[derive(Clone, Debug, PartialEq)]
pub struct Thumps {
    /// Axis of the plan and rung.
    pub of: (usize, usize),
    /// Mean energy and time listened to of the starts, in s; a cough is left out.
    pub starts: (f64, f64),
    /// The same of the stops.
    pub stops: (f64, f64),
    /// The level of the pauses beside them.
    pub beside: Mean,
    /// When something else was heard, in s of the recording.
    pub spoilt: Vec<Span>,
    /// It was clipped: when, in s of the recording.
    pub clipped: Option<f64>,
}

/// All that was heard.
#[derive(Clone, Debug, PartialEq)]
pub struct Heard {
    /// Motor power off.
    pub room: Sound,
    /// Motor power on.
    pub still: Sound,
    /// Axis of the plan, rung, and its sound.
    pub rungs: Vec<(usize, usize, Sound)>,
    /// Starts and stops.
    pub thumps: Vec<Thumps>,
    /// The variance of the energy from one pause to the next: 0 in a steady room.
    pub wanders: f64,
    /// The level in dB of the pauses between moves in the first and in the second half of the ladder.
    pub halves_db: Option<(f64, f64)>,
}

/// Listens to all parts of a plan.
pub fn hear(plan: &Plan, place: &Place, envelope: &Envelope) -> Heard {
    let ear = Ear { place, envelope };
    let pauses = inner_pauses(plan);
    let of = |wanted: fn(&Does) -> bool| {
        let steps = plan.steps.iter().filter(|step| wanted(&step.does));
        let spans: Vec<Span> = steps.flat_map(|step| step.listen.clone()).collect();
        ear.sound(&spans, true)
    };
    let mut heard = Heard {
        room: of(|does| matches!(does, Does::Room)),
        still: of(|does| matches!(does, Does::Still)),
        rungs: Vec::new(),
        thumps: Vec::new(),
        wanders: wandering(&ear.pauses(&pauses)),
        halves_db: ear.halves(&pauses),
    };
    let mut ramps: Vec<(usize, usize, Vec<Span>)> = Vec::new();
    for step in &plan.steps {
        match step.does {
            Does::Speed(rung, m) => {
                let beside = ear.beside(&pauses, (step.at, step.ends()));
                let sound = ear.sound(&step.listen, false);
                heard.rungs.push((m.axis, rung, Sound { beside, ..sound }));
            }
            Does::Ramp(rung, m) => match ramps.last_mut() {
                Some((axis, last, spans)) if (*axis, *last) == (m.axis, rung) => {
                    spans.extend(&step.listen);
                }
                _ => ramps.push((m.axis, rung, step.listen.clone())),
            },
            Does::Room | Does::Still | Does::Mark(_) | Does::Go(_) => {}
        }
    }
    let thumps = ramps
        .iter()
        .map(|(axis, rung, spans)| ear.thumps((*axis, *rung), spans, &pauses));
    heard.thumps = thumps.collect();
    heard
}

struct Ear<'a> {
    place: &'a Place,
    envelope: &'a Envelope,
}

impl Ear<'_> {
    /// The whole frames inside of a span of the plan.
    fn frames(&self, (from, to): Span) -> (usize, &[f32]) {
        let frame = |s: f64| (self.place.of(s) / FRAME_S).max(0.0);
        let first = frame(from).ceil() as usize;
        let last = (frame(to).floor() as usize).min(self.envelope.frames.len());
        (
            first,
            self.envelope.frames.get(first..last).unwrap_or_default(),
        )
    }

    fn clipped(&self, spans: &[Span]) -> Option<f64> {
        let inside = |at: &&f64| {
            let spans = spans
                .iter()
                .map(|(a, b)| (self.place.of(*a) - ONE_CLIP_S, self.place.of(*b)));
            spans.into_iter().any(|(a, b)| (a..=b).contains(*at))
        };
        self.envelope.clipped.iter().find(inside).copied()
    }

    /// `resting`: nothing moves, so whatever comes and goes does not belong to it. A moving rig may
    /// knock again and again; what is heard more than once is then taken to be the rig's.
    fn sound(&self, spans: &[Span], resting: bool) -> Sound {
        let mut blocks: Vec<(f64, f64)> = Vec::new();
        for span in spans {
            let (first, frames) = self.frames(*span);
            for (n, block) in frames.chunks_exact(BLOCK).enumerate() {
                let energy = block.iter().map(|e| f64::from(*e)).sum::<f64>() / BLOCK as f64;
                blocks.push(((first + n * BLOCK) as f64 * FRAME_S, energy));
            }
        }
        let energies: Vec<f64> = blocks.iter().map(|(_, energy)| *energy).collect();
        let bursts = bursts(&energies);
        let foreign = if resting || bursts.len() == 1 {
            bursts
        } else {
            Vec::new()
        };
        let out = |n: &usize| {
            let fading = |(from, to): &(usize, usize)| {
                (from.saturating_sub(FADES.0)..=to + FADES.1).contains(n)
            };
            foreign.iter().any(fading)
        };
        let kept: Vec<usize> = (0..blocks.len()).filter(|n| !out(n)).collect();
        let used: Vec<f64> = kept.iter().map(|n| energies[*n]).collect();
        let mut clean: Vec<Span> = Vec::new();
        for n in kept {
            let (at, _) = blocks[n];
            match clean.last_mut() {
                Some((_, to)) if (*to - at).abs() < FRAME_S / 2.0 => *to = at + BLOCK_S,
                _ => clean.push((at, at + BLOCK_S)),
            }
        }
        let span = |(from, to): &(usize, usize)| (blocks[*from].0, blocks[*to].0 + BLOCK_S);
        Sound {
            mean: Mean::of(&used, BLOCK_S),
            beside: Mean::default(),
            clean,
            spoilt: foreign.iter().map(span).collect(),
            clipped: self.clipped(spans),
        }
    }

    /// Spans are those of a start and a stop in turn.
    fn thumps(&self, of: (usize, usize), spans: &[Span], pauses: &[Span]) -> Thumps {
        let mut spoilt = Vec::new();
        let mut group = |which: usize| {
            let own = spans.iter().skip(which).step_by(2);
            let mut parts: Vec<(f64, f64, Span)> = own
                .map(|span| {
                    let (first, frames) = self.frames(*span);
                    let sum: f64 = frames.iter().map(|e| f64::from(*e)).sum();
                    let at = first as f64 * FRAME_S;
                    let seconds = frames.len() as f64 * FRAME_S;
                    (
                        sum / frames.len().max(1) as f64,
                        seconds,
                        (at, at + seconds),
                    )
                })
                .collect();
            parts.sort_by(|a, b| a.0.total_cmp(&b.0));
            let middle = parts.get(parts.len() / 2).map_or(0.0, |part| part.0);
            let quiet = parts.partition_point(|part| part.0 <= middle * SPOILT_RAMP);
            // More of them are the rig's.
            if parts.len() - quiet <= parts.len() / 3 {
                spoilt.extend(parts.drain(quiet..).map(|part| part.2));
            }
            let energy = parts.iter().map(|p| p.0).sum::<f64>() / parts.len().max(1) as f64;
            (energy, parts.iter().map(|p| p.1).sum())
        };
        let (starts, stops) = (group(0), group(1));
        let all = spans.first().zip(spans.last());
        let all = all.map_or((0.0, 0.0), |(first, last)| (first.0, last.1));
        Thumps {
            of,
            starts,
            stops,
            beside: self.beside(pauses, all),
            spoilt,
            clipped: self.clipped(spans),
        }
    }

    /// How loud each pause is that is long enough to tell.
    fn pauses(&self, pauses: &[Span]) -> Vec<Mean> {
        let long = pauses
            .iter()
            .filter(|(from, to)| to - from >= LEAST_PAUSE_S);
        let means = long.map(|pause| self.sound(&[*pause], true).mean);
        means.filter(|mean| mean.seconds > 0.0).collect()
    }

    /// How loud the pauses are beside a time of the plan.
    fn beside(&self, pauses: &[Span], (from, to): Span) -> Mean {
        let near = |(a, b): &&Span| *b > from - BESIDE_S && *a < to + BESIDE_S;
        let spans: Vec<Span> = pauses.iter().filter(near).copied().collect();
        self.sound(&spans, true).mean
    }

    fn halves(&self, pauses: &[Span]) -> Option<(f64, f64)> {
        let half = |pauses: &[Span]| {
            let sound = self.sound(pauses, true);
            (sound.mean.energy > 0.0).then(|| db(sound.mean.energy))
        };
        let (one, two) = pauses.split_at(pauses.len() / 2);
        Some((half(one)?, half(two)?))
    }
}

/// What is listened to of the pauses between moves, in s of the plan.
fn inner_pauses(plan: &Plan) -> Vec<Span> {
    let pauses = plan.pauses(2.0 * PAUSE_GUARD_S + BLOCK_S);
    let inner = |(from, to): &Span| (from + PAUSE_GUARD_S, to - PAUSE_GUARD_S);
    pauses.iter().map(inner).collect()
}

/// Sounds that stand out of blocks that are otherwise alike: first and last block of each.
fn bursts(energies: &[f64]) -> Vec<(usize, usize)> {
    let mut sorted: Vec<f64> = energies.iter().map(|e| db(e.max(1e-20))).collect();
    sorted.sort_by(f64::total_cmp);
    let (Some(quiet), Some(least)) = (sorted.get(sorted.len() / 4), sorted.first()) else {
        return Vec::new();
    };
    let limit = quiet + (BURST_SPREADS * (quiet - least)).max(BURST_DB);
    let mut bursts: Vec<(usize, usize)> = Vec::new();
    for (n, energy) in energies.iter().enumerate() {
        if db(energy.max(1e-20)) <= limit {
            continue;
        }
        match bursts.last_mut() {
            Some((_, last)) if n - *last <= ONE_SOUND + 1 => *last = n,
            _ => bursts.push((n, n)),
        }
    }
    bursts
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cough_stands_out_and_a_steady_sound_does_not() {
        let mut blocks: Vec<f64> = (0..40u32)
            .map(|n| 1.0 + 0.1 * f64::from(n * 7 % 5))
            .collect();
        assert_eq!(bursts(&blocks), []);
        for block in &mut blocks[20..24] {
            *block = 9.0;
        }
        assert_eq!(bursts(&blocks), [(20, 23)]);
        blocks[5] = 9.0;
        assert_eq!(bursts(&blocks), [(5, 5), (20, 23)]);
    }
}
