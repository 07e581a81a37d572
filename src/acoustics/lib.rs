//! What a microphone heard of a rig, computed: levels, tones, and how fast each axis may go unheard.
//!
//! ```text
//! rig ──▶ ladder ──▶ plan (text) ──▶ somebody moves the rig while a recorder runs
//!                      │
//! samples ──▶ weighting ──▶ envelope ──▶ locate ──▶ listening ──▶ judge ──▶ findings
//!             (A)           (20 ms)      (offset,   (levels,      (against the room,
//!                                         drift)     spectra)      rung by rung)
//! ```
//!
//! Samples go in, findings come out; no file is opened here and no clock is read. Of everything that
//! is fed in pieces, what is kept does not grow with the recording, but for the envelope: 200 bytes a
//! second.
//!
//! Levels are in dB. A recording says nothing of sound pressure unless it is calibrated, so levels are
//! taken against full scale (a full-scale sine has -3.01 dB), and only differences are judged.

pub mod envelope;
mod fourier;
pub mod hear;
pub mod judge;
pub mod levels;
pub mod locate;
pub mod plan;
pub mod spectra;
pub mod spectrum;
pub mod study;
pub mod synth;
pub mod tones;
mod wander;
pub mod weighting;
