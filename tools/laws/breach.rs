//! What is reported: the law, the moment, what was found and what is allowed.

use crate::facts::AxisFacts;
use crate::units::Nanos;
use std::fmt;

/// The ten laws.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[expect(missing_docs, reason = "the crate's table says what each one measures")]
pub enum Law {
    Ceiling,
    Smooth,
    Travel,
    Consent,
    Loss,
    Quiet,
    Whole,
    Same,
    Intact,
    Sense,
}

impl Law {
    /// All of them, in the order of the table.
    pub const ALL: [Law; 10] = [
        Law::Ceiling,
        Law::Smooth,
        Law::Travel,
        Law::Consent,
        Law::Loss,
        Law::Quiet,
        Law::Whole,
        Law::Same,
        Law::Intact,
        Law::Sense,
    ];

    /// The name used in failures.
    pub fn name(self) -> &'static str {
        match self {
            Law::Ceiling => "ceiling",
            Law::Smooth => "smooth",
            Law::Travel => "travel",
            Law::Consent => "consent",
            Law::Loss => "loss",
            Law::Quiet => "quiet",
            Law::Whole => "whole",
            Law::Same => "same",
            Law::Intact => "intact",
            Law::Sense => "sense",
        }
    }
}

impl fmt::Display for Law {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// One breach of a law.
#[derive(Clone, Debug, PartialEq)]
pub struct Breach {
    /// Which law.
    pub law: Law,
    /// When.
    pub at: Nanos,
    /// The axis, if it concerns one.
    pub axis: Option<String>,
    /// The figure found, in the unit the text names.
    pub found: f64,
    /// The nearest figure allowed, in the same unit.
    pub allowed: f64,
    /// The rest of the sentence.
    pub text: String,
}

impl fmt::Display for Breach {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "law {} broken at {:.3} s", self.law, self.at.secs())?;
        if let Some(axis) = &self.axis {
            write!(f, ", axis {axis}")?;
        }
        write!(f, ": {}", self.text)
    }
}

/// The first breaches in full, all of them counted.
#[derive(Clone, Debug, Default)]
pub(crate) struct Log {
    kept: Vec<Breach>,
    counts: [u64; 10],
}

/// Breaches kept in full: enough to see how a failure began, small enough for a soak.
pub const BREACHES_KEPT: usize = 64;

impl Log {
    /// Adds a breach; the text is made only when there is room for it.
    pub fn add(
        &mut self,
        law: Law,
        at: Nanos,
        axis: Option<&AxisFacts>,
        (found, allowed): (f64, f64),
        text: impl FnOnce() -> String,
    ) {
        self.counts[law as usize] += 1;
        if self.kept.len() < BREACHES_KEPT {
            let axis = axis.map(|a| a.name.clone());
            self.kept.push(Breach {
                law,
                at,
                axis,
                found,
                allowed,
                text: text(),
            });
        }
    }

    pub fn kept(&self) -> &[Breach] {
        &self.kept
    }

    pub fn count(&self, law: Law) -> u64 {
        self.counts[law as usize]
    }
}

/// Decimals that show a count of the axis: 2 for 0.036.
pub(crate) fn decimals(axis: &AxisFacts) -> usize {
    let digits = -axis.count.abs().log10();
    if digits.is_finite() {
        digits.ceil().clamp(0.0, 6.0) as usize
    } else {
        2
    }
}
