//! A recording held against its plan, from the first sample to the findings.

use super::envelope::Envelope;
use super::hear::{Heard, Span, hear};
use super::judge::{Findings, Lines, judge};
use super::levels::db;
use super::locate::{Lost, Place, likeness, locate};
use super::plan::Plan;
use super::spectra::Spectra;

/// Longest recording, in s: what is kept of each frame then has 3 MB.
pub const LONGEST_S: f64 = 4.0 * 3600.0;
/// A peak below this is a recorder that heard nothing, in dB against full scale.
const SILENT_DB: f64 = -90.0;
/// Room tone below this is no room tone but a gate or a noise reduction, in dB against full scale, A-weighted: it
/// is less than the rounding of 24 bits.
const GATED_DB: f64 = -135.0;

/// All that came out of a recording.
#[derive(Clone, Debug)]
pub struct Study {
    /// Where the plan lies in it.
    pub place: Place,
    /// Where it was found, if somebody had said where it lies.
    pub found: Option<Place>,
    /// How long it is, in s.
    pub seconds: f64,
    /// Its highest sample, in dB against full scale.
    pub peak_db: f64,
    /// When it was clipped, in s.
    pub clipped: Vec<f64>,
    /// Levels.
    pub heard: Heard,
    /// Spectra.
    pub lines: Lines,
    /// What follows.
    pub findings: Findings,
}

/// Why nothing came out of it.
#[derive(Clone, Debug, PartialEq)]
pub enum NoStudy<E> {
    /// The recording could not be read.
    Source(E),
    /// A sample rate the weighting is not meant for, in Hz.
    Rate(u32),
    /// Longer than [`LONGEST_S`]; in s.
    TooLong(f64),
    /// Nothing is in it; its peak in dB against full scale.
    Silent(f64),
    /// The plan is not found.
    Lost(Lost),
    /// Room tone or standstill can't be used: which, and why.
    NoGround(&'static str, Ground),
}

/// Why room tone or standstill can't be used.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Ground {
    /// The recording has too little of it that nothing else was heard in.
    TooShort,
    /// It was clipped, at this second.
    Clipped(f64),
    /// It is digital silence.
    Gated,
}

/// How to read a recording.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// Its sample rate in Hz.
    pub rate_hz: u32,
    /// By how much rungs have to be below the room tone, in dB.
    pub margin_db: f64,
    /// When the plan begins in it, in s, where that is known; it is looked for otherwise.
    pub begins_s: Option<f64>,
}

/// Reads a recording twice. `samples` goes through all of it each time it is called.
///
/// # Errors
///
/// Why nothing can be found in it.
pub fn study<E>(
    plan: &Plan,
    reading: &Reading,
    mut samples: impl FnMut(&mut dyn FnMut(&[f64])) -> Result<(), E>,
) -> Result<Study, NoStudy<E>> {
    let rate_hz = reading.rate_hz;
    let mut envelope = Envelope::new(rate_hz).ok_or(NoStudy::Rate(rate_hz))?;
    let mut seconds = 0.0;
    samples(&mut |piece| {
        seconds += piece.len() as f64 / f64::from(rate_hz);
        if seconds <= LONGEST_S {
            envelope.add(piece);
        }
    })
    .map_err(NoStudy::Source)?;
    if seconds > LONGEST_S {
        return Err(NoStudy::TooLong(seconds));
    }
    let peak_db = 20.0 * envelope.peak.log10();
    if peak_db < SILENT_DB {
        return Err(NoStudy::Silent(peak_db));
    }
    let place = match reading.begins_s {
        Some(offset_s) => Place {
            offset_s,
            drift_ppm: 0.0,
            matched: likeness(plan, &envelope, offset_s),
        },
        None => locate(plan, &envelope).map_err(NoStudy::Lost)?,
    };
    let found = reading.begins_s.and(locate(plan, &envelope).ok());
    let heard = hear(plan, &place, &envelope);
    ground(&heard)?;
    let mut parts: Vec<Vec<Span>> = vec![heard.room.clean.clone(), heard.still.clean.clone()];
    parts.extend(heard.rungs.iter().map(|(_, _, sound)| sound.clean.clone()));
    let mut spectra = Spectra::new(rate_hz, &parts).ok_or(NoStudy::Rate(rate_hz))?;
    samples(&mut |piece| spectra.add(piece)).map_err(NoStudy::Source)?;
    let mut all = spectra.finish().into_iter();
    let (Some(room), Some(still)) = (all.next(), all.next()) else {
        return Err(NoStudy::NoGround("room tone", Ground::TooShort));
    };
    let lines = Lines {
        room,
        still,
        rungs: all.collect(),
    };
    Ok(Study {
        findings: judge(plan, &heard, &lines, reading.margin_db),
        place,
        found,
        seconds,
        peak_db,
        clipped: envelope.clipped,
        heard,
        lines,
    })
}

/// What everything is held against must be there.
fn ground<E>(heard: &Heard) -> Result<(), NoStudy<E>> {
    for (name, sound) in [("room tone", &heard.room), ("standstill", &heard.still)] {
        if let Some(at) = sound.clipped {
            return Err(NoStudy::NoGround(name, Ground::Clipped(at)));
        }
        if !sound.usable() {
            return Err(NoStudy::NoGround(name, Ground::TooShort));
        }
        if db(sound.mean.energy) < GATED_DB {
            return Err(NoStudy::NoGround(name, Ground::Gated));
        }
    }
    Ok(())
}
