//! What may be heard and what not: each rung against the room, and what follows for the axes.
//!
//! Two tests, and a rung passes if it passes both:
//!
//! - **level**: what the rung adds to the standstill, A-weighted and by energy, is at least a margin
//!   below the room tone. It is taken as high as it may be by the chance of the measurement. A whine of the
//!   standstill that is not there while it moves is not taken out.
//! - **tone**: no tone of it that was not there at standstill is audible in its critical band.
//!
//! By how much a rung fails the worse of them, in dB, is its excess; it passes at 0 or below.

use super::hear::{Heard, Sound, Thumps};
use super::levels::{Mean, db, energy};
use super::plan::{Does, Plan};
use super::spectrum::{HANN_BANDWIDTH, Spectrum};
use super::tones::{Tone, critical_band_ends_hz, together, tones};
use super::wander;
use stillhand_engine::units::Unit;

/// How many standard deviations a level is taken higher than it was measured: one in forty is higher.
const DOUBT: f64 = 2.0;
/// How much a tone's audibility is taken higher, in dB: the method's own uncertainty is of this size.
const TONE_DOUBT_DB: f64 = 1.0;
/// A tone that the standstill has as well, less than this lower in dB, is not the rung's.
const SAME_TONE_DB: f64 = 3.0;
/// A whine goes up and down by this share of its frequency as a drive warms up, and is still the same.
const WHINE_DRIFT: f64 = 0.003;
/// A whine that has lost more than this share of its energy stops while the axis moves; less is chance.
const WHINE_GONE: f64 = 0.3;
/// The rig sings at a speed if a faster one is quieter by this, in dB.
const SINGS_DB: f64 = 6.0;
/// Standstill is audible by its level only if that is surely not chance, in standard deviations.
const SURE: f64 = 4.0;

/// Why a rung was not judged.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LeftOut {
    /// Too little of it was without other sounds; when that was, in s of the recording.
    Spoilt(f64),
    /// It was clipped, at this second of the recording.
    Clipped(f64),
    /// The recording has too little of it.
    Missing,
}

/// A rung of speed or acceleration as it was heard.
#[derive(Clone, Debug, PartialEq)]
pub struct Rung {
    /// Counted from 1.
    pub rung: usize,
    /// The speed in unit/s, or the acceleration in unit/s^2.
    pub value: f64,
    /// For acceleration, the jerk that goes with it, in unit/s^3.
    pub jerk: f64,
    /// Its level with the room, in dB.
    pub level_db: f64,
    /// What it adds to the standstill, in dB; `None` if nothing that could be measured.
    pub own_db: Option<f64>,
    /// As much as that may be, in dB.
    pub own_at_most_db: f64,
    /// Its most audible tone.
    pub tone: Option<Tone>,
    /// By how much it fails, in dB; 0 or below it passes. `None` if it was not judged.
    pub excess_db: Option<f64>,
    /// Why it was not judged.
    pub left_out: Option<LeftOut>,
    /// When something else was heard, which was left out, in s of the recording.
    pub spoilt: Vec<(f64, f64)>,
}

impl Rung {
    /// Whether it passes; `None` if it was not judged.
    pub fn passes(&self) -> Option<bool> {
        self.excess_db.map(|excess| excess <= 0.0)
    }
}

/// What was found of an axis.
#[derive(Clone, Debug, PartialEq)]
pub struct AxisFinding {
    /// Its name.
    pub name: String,
    /// Degrees or millimetres.
    pub unit: Unit,
    /// Rungs of speed, the slowest first.
    pub speeds: Vec<Rung>,
    /// Rungs of acceleration, the gentlest first.
    pub ramps: Vec<Rung>,
    /// The fastest speed that passes with every slower one, unit/s.
    pub speed: Option<f64>,
    /// The hardest acceleration that passes with every gentler one, unit/s^2, and its jerk, unit/s^3.
    pub ramp: Option<(f64, f64)>,
    /// A whine of the standstill stops while it moves.
    pub whine_stops: bool,
    /// Where it sings: from the last speed below to the first above that does not, unit/s ([`bands`]).
    pub bands: Vec<(f64, f64)>,
}

/// What was found of standstill with motor power on.
#[derive(Clone, Debug, PartialEq)]
pub struct StillFinding {
    /// What it adds to the room tone, in dB; `None` if nothing that could be measured.
    pub own_db: Option<f64>,
    /// Its audible tones, the most audible first.
    pub tones: Vec<Tone>,
    /// Whether it is heard by its level.
    pub by_level: bool,
}

impl StillFinding {
    /// Whether the rig is heard while nothing moves.
    pub fn audible(&self) -> bool {
        self.by_level || !self.tones.is_empty()
    }
}

/// All that was found.
#[derive(Clone, Debug, PartialEq)]
pub struct Findings {
    /// The margin that was asked for, in dB.
    pub margin_db: f64,
    /// Level of the room tone, in dB.
    pub room: Mean,
    /// Level of the standstill, in dB.
    pub standstill: Mean,
    /// A rung that adds nothing can be shown to be so far below the room tone, in dB.
    pub resolves_db: f64,
    /// The tones of the room, for the plot: hum and the like.
    pub room_tones: Vec<Tone>,
    /// Standstill.
    pub still: StillFinding,
    /// The axes, in the order of the plan.
    pub axes: Vec<AxisFinding>,
}

/// Spectra of the parts of [`Heard`].
#[derive(Clone, Debug)]
pub struct Lines {
    /// Of the room.
    pub room: Spectrum,
    /// Of the standstill.
    pub still: Spectrum,
    /// Of each rung of speed, in the order of [`Heard::rungs`].
    pub rungs: Vec<Spectrum>,
}

/// Judges all rungs; `margin_db` is by how much they have to be below the room tone.
pub fn judge(plan: &Plan, heard: &Heard, lines: &Lines, margin_db: f64) -> Findings {
    let judge = Judge {
        heard,
        lines,
        allowed: heard.room.mean.energy * energy(-margin_db),
        whines: whines(lines),
    };
    let axes = (0..plan.axes.len()).map(|axis| judge.axis(plan, axis));
    Findings {
        margin_db,
        resolves_db: judge.resolves_db(),
        room: heard.room.mean,
        standstill: heard.still.mean,
        room_tones: tones(&lines.room),
        still: judge.still(),
        axes: axes.collect(),
    }
}

struct Judge<'a> {
    heard: &'a Heard,
    lines: &'a Lines,
    /// The energy a rung may add.
    allowed: f64,
    /// The standstill's own tones.
    whines: Vec<Whine>,
}

impl Judge<'_> {
    fn still(&self) -> StillFinding {
        let heard = self.heard;
        let room = wander::beside(&heard.room.mean, &Mean::default(), heard.wanders);
        let (own, sigma) = heard.still.mean.without(&room);
        let mut tones = foreign_tones(&self.lines.still, &self.lines.room);
        tones.retain(|tone| tone.audibility_db() > 0.0);
        StillFinding {
            own_db: (own > sigma).then(|| db(own)),
            by_level: own > self.allowed && own > SURE * sigma,
            tones,
        }
    }

    fn axis(&self, plan: &Plan, axis: usize) -> AxisFinding {
        let moves = |wanted: fn(&Does) -> Option<usize>| {
            let own = plan.steps.iter().filter_map(move |step| {
                let m = step.does.moving().filter(|m| m.axis == axis)?;
                Some((wanted(&step.does)?, *m))
            });
            own.collect::<Vec<_>>()
        };
        let mut speeds: Vec<Rung> = moves(|does| match does {
            Does::Speed(rung, _) => Some(*rung),
            _ => None,
        })
        .iter()
        .map(|(rung, m)| self.speed(axis, *rung, m.speed))
        .collect();
        let gone = self.gone_on(axis);
        speeds.sort_by(|a, b| a.value.total_cmp(&b.value));
        let mut ramp_moves = moves(|does| match does {
            Does::Ramp(rung, _) => Some(*rung),
            _ => None,
        });
        ramp_moves.dedup_by_key(|(rung, _)| *rung);
        let mut ramps: Vec<Rung> = ramp_moves
            .iter()
            .map(|(rung, m)| self.ramp(axis, *rung, (m.accel, m.jerk), gone))
            .collect();
        ramps.sort_by(|a, b| a.value.total_cmp(&b.value));
        let judged: Vec<(f64, f64)> = speeds
            .iter()
            .filter_map(|rung| Some((rung.value, rung.excess_db?)))
            .collect();
        let named = plan.axes.get(axis);
        AxisFinding {
            name: named.map(|axis| axis.name.clone()).unwrap_or_default(),
            unit: named.map_or(Unit::Deg, |axis| axis.unit),
            speed: hardest(&speeds).map(|rung| rung.value),
            ramp: hardest(&ramps).map(|rung| (rung.value, rung.jerk)),
            whine_stops: gone > 0.0,
            bands: bands(&judged),
            speeds,
            ramps,
        }
    }

    fn speed(&self, axis: usize, number: usize, value: f64) -> Rung {
        let index = self
            .heard
            .rungs
            .iter()
            .position(|(a, r, _)| (*a, *r) == (axis, number));
        let missing = Sound::default();
        let sound = index.map_or(&missing, |index| &self.heard.rungs[index].2);
        let lines = index.and_then(|index| self.lines.rungs.get(index));
        let gone = lines.map_or(0.0, |lines| self.gone(lines));
        let mut rung = self.rung(number, value, (&sound.mean, &sound.beside), gone);
        rung.tone = lines.and_then(|lines| {
            let tones = foreign_tones(lines, &self.lines.still);
            tones.into_iter().next()
        });
        if let (Some(excess), Some(tone)) = (&mut rung.excess_db, rung.tone) {
            *excess = excess.max(tone.audibility_db() + TONE_DOUBT_DB);
        }
        rung.spoilt = sound.spoilt.clone();
        if !sound.usable() {
            rung.excess_db = None;
            rung.left_out = Some(match (sound.clipped, sound.spoilt.first()) {
                (Some(at), _) => LeftOut::Clipped(at),
                (None, Some((at, _))) => LeftOut::Spoilt(*at),
                (None, None) => LeftOut::Missing,
            });
        }
        rung
    }

    /// `gone` is the energy of the whine that stops while it moves.
    fn ramp(&self, axis: usize, number: usize, (value, jerk): (f64, f64), gone: f64) -> Rung {
        let found = self
            .heard
            .thumps
            .iter()
            .find(|thumps| thumps.of == (axis, number));
        let Some(thumps) = found else {
            let nothing = Mean::default();
            let rung = self.rung(number, value, (&nothing, &nothing), 0.0);
            return Rung {
                excess_db: None,
                left_out: Some(LeftOut::Missing),
                ..rung
            };
        };
        let loud = self.louder(thumps);
        let rung = self.rung(number, value, (&loud, &thumps.beside), gone);
        Rung {
            jerk,
            spoilt: thumps.spoilt.clone(),
            left_out: thumps.clipped.map(LeftOut::Clipped),
            excess_db: rung.excess_db.filter(|_| thumps.clipped.is_none()),
            ..rung
        }
    }

    /// Starts and stops together, or the louder of them where they surely differ. Their few parts don't
    /// tell how sure their mean is; the standstill does, whose noise they have.
    fn louder(&self, thumps: &Thumps) -> Mean {
        let still = &self.heard.still.mean;
        let mean = |(energy, seconds): (f64, f64)| {
            let longer = (still.seconds / seconds.max(1e-3)).sqrt();
            Mean {
                energy,
                sigma: still.sigma * longer * (energy / still.energy.max(1e-30)).sqrt(),
                seconds,
            }
        };
        let (starts, stops) = (mean(thumps.starts), mean(thumps.stops));
        let (difference, sigma) = starts.without(&stops);
        if difference.abs() > DOUBT * sigma {
            return if difference > 0.0 { starts } else { stops };
        }
        let seconds = starts.seconds + stops.seconds;
        let share = |part: &Mean| part.energy * part.seconds / seconds.max(1e-3);
        mean((share(&starts) + share(&stops), seconds))
    }

    /// The energy of the standstill's whines that is not there in a rung.
    fn gone(&self, rung: &Spectrum) -> f64 {
        let gone = self.whines.iter().map(|whine| {
            let room = line_energy(&self.lines.room, whine.lines);
            let left = (line_energy(rung, whine.lines) - room).max(0.0);
            let gone = 1.0 - (left / whine.of_lines.max(1e-30)).min(1.0);
            if gone > WHINE_GONE {
                gone * whine.whole
            } else {
                0.0
            }
        });
        gone.sum()
    }

    /// As much of them as is not there in any rung of speed of an axis: so much may be missing in its starts and
    /// stops, which are too short to tell.
    fn gone_on(&self, axis: usize) -> f64 {
        let own = self.heard.rungs.iter().zip(&self.lines.rungs);
        let own = own.filter(|((of, _, sound), _)| *of == axis && sound.usable());
        own.map(|(_, lines)| self.gone(lines)).fold(0.0, f64::max)
    }

    /// By how much less than the room tone a rung can be told from nothing, in dB: by the surest quarter of the rungs, since
    /// loud ones come and go by themselves.
    fn resolves_db(&self) -> f64 {
        let room = self.heard.room.mean.energy;
        let doubts = self.heard.rungs.iter().map(|(_, _, sound)| {
            let ground = wander::beside(&self.heard.still.mean, &sound.beside, self.heard.wanders);
            DOUBT * sound.mean.sigma.hypot(ground.sigma)
        });
        let mut doubts: Vec<f64> = doubts.collect();
        doubts.sort_by(f64::total_cmp);
        let sure = doubts.get(doubts.len() / 4);
        sure.map_or(f64::INFINITY, |doubt| db(room / doubt.max(1e-30)))
    }

    /// A rung by its level, held against the standstill as it is beside it, without the energy `gone` of a whine
    /// that stops.
    fn rung(&self, rung: usize, value: f64, (mean, beside): (&Mean, &Mean), gone: f64) -> Rung {
        let mut ground = wander::beside(&self.heard.still.mean, beside, self.heard.wanders);
        ground.energy = (ground.energy - gone).max(0.0);
        let (own, sigma) = mean.without(&ground);
        let at_most = own.max(0.0) + DOUBT * sigma;
        Rung {
            rung,
            value,
            jerk: 0.0,
            level_db: mean.db(),
            own_db: (own > sigma).then(|| db(own)),
            own_at_most_db: db(at_most),
            tone: None,
            excess_db: Some(db(at_most / self.allowed)),
            left_out: None,
            spoilt: Vec::new(),
        }
    }
}

/// The tones of a spectrum that `before` has not, the most audible first.
fn foreign_tones(spectrum: &Spectrum, before: &Spectrum) -> Vec<Tone> {
    let own: Vec<Tone> = tones(spectrum)
        .into_iter()
        .filter(|tone| {
            let there = line_energy(before, about(tone.lines));
            line_energy(spectrum, tone.lines) > there * energy(SAME_TONE_DB)
        })
        .collect();
    let mut found = together(&own);
    found.sort_by(|a, b| b.audibility_db().total_cmp(&a.audibility_db()));
    found
}

/// A tone that standstill has and the room has not.
struct Whine {
    /// Its lines.
    lines: (usize, usize),
    /// The energy of those lines above the room's.
    of_lines: f64,
    /// The energy of all of its critical band above the room's: a whine that trembles is not in its lines alone.
    whole: f64,
}

/// The whines of the standstill, the most audible of each critical band.
fn whines(lines: &Lines) -> Vec<Whine> {
    let above =
        |range| (line_energy(&lines.still, range) - line_energy(&lines.room, range)).max(0.0);
    let mut taken: Vec<(usize, usize)> = Vec::new();
    let mut whines = Vec::new();
    for tone in foreign_tones(&lines.still, &lines.room) {
        let (low, high) = critical_band_ends_hz(tone.hz);
        let line = |hz: f64| (hz / lines.still.line_hz).round() as usize;
        let band = (line(low), line(high));
        if taken
            .iter()
            .any(|other| band.0 <= other.1 && other.0 <= band.1)
        {
            continue;
        }
        taken.push(band);
        let own = about(tone.lines);
        whines.push(Whine {
            lines: own,
            of_lines: above(own),
            whole: above(band).max(above(own)),
        });
    }
    whines
}

/// The lines of a tone that drifts.
fn about((first, last): (usize, usize)) -> (usize, usize) {
    let wide = (WHINE_DRIFT * (first + last) as f64 / 2.0).round() as usize;
    (first.saturating_sub(wide), last + wide)
}

/// The energy of some lines.
fn line_energy(spectrum: &Spectrum, (first, last): (usize, usize)) -> f64 {
    let last = last.min(spectrum.lines.len().saturating_sub(1));
    let lines = spectrum.lines.get(first..=last).unwrap_or_default();
    lines.iter().sum::<f64>() / HANN_BANDWIDTH
}

/// The hardest rung that passes with every gentler one. One that was not judged is not known to pass.
fn hardest(rungs: &[Rung]) -> Option<&Rung> {
    rungs
        .iter()
        .take_while(|rung| rung.passes() == Some(true))
        .last()
}

/// Where a rig sings, of rungs as (speed, excess in dB), the slowest first: runs of rungs that fail while
/// a faster one passes, or is quieter by 6 dB. A band reaches from the last rung below it that does not
/// sing to the first above; two that share such a rung are one. One that begins with the slowest rung
/// would reach down to rest and is left out: such an axis has no quiet speed at all.
pub fn bands(judged: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let sings = |n: usize| {
        let (_, excess) = judged[n];
        let quieter = |(_, other): &(f64, f64)| *other <= 0.0 || *other <= excess - SINGS_DB;
        excess > 0.0 && judged[n + 1..].iter().any(quieter)
    };
    let mut bands: Vec<(f64, f64)> = Vec::new();
    for n in 0..judged.len() {
        if !sings(n) {
            continue;
        }
        // Above a rung that sings there is always one that does not: the quietest.
        let above = judged.get(n + 1).map_or(f64::INFINITY, |next| next.0);
        match (n.checked_sub(1), bands.last_mut()) {
            (Some(_), Some(band)) if band.1 == judged[n].0 => band.1 = above,
            // Between two bands a single rung is no speed to drive at.
            (Some(below), Some(band)) if band.1 == judged[below].0 => band.1 = above,
            (Some(below), _) if !sings(below) => bands.push((judged[below].0, above)),
            _ => {}
        }
    }
    bands
}

/// What the energies of some lines of a spectrum are together, in dB.
pub fn lines_db(spectrum: &Spectrum, first: usize, last: usize) -> f64 {
    db(line_energy(spectrum, (first, last)))
}

#[cfg(test)]
mod tests;
