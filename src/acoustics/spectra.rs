//! The second hearing: narrow-band spectra of parts of a recording.

use super::hear::Span;
use super::spectrum::{Analyser, Spectrum};
use super::weighting::AFilter;

/// Collects a spectrum for each of several parts while a recording goes by.
pub struct Spectra {
    filter: AFilter,
    analyser: Analyser,
    /// Spans in samples with the part they belong to, by their beginning.
    spans: Vec<(u64, u64, usize)>,
    parts: Vec<Spectrum>,
    /// The last weighted samples, as many as a window has and a piece more.
    held: Vec<f64>,
    /// The sample the held ones begin with.
    held_from: u64,
    /// Where the next window of each open span begins.
    open: Vec<(u64, u64, usize)>,
    next: usize,
}

impl Spectra {
    /// For a sample rate in Hz and the spans of each part, in s of the recording; `None` for a rate the
    /// weighting is not meant for.
    pub fn new(rate_hz: u32, parts: &[Vec<Span>]) -> Option<Spectra> {
        let analyser = Analyser::new(rate_hz);
        let sample = |s: f64| (s.max(0.0) * f64::from(rate_hz)) as u64;
        let mut spans: Vec<(u64, u64, usize)> = parts
            .iter()
            .enumerate()
            .flat_map(|(part, spans)| {
                spans
                    .iter()
                    .map(move |(a, b)| (sample(*a), sample(*b), part))
            })
            .collect();
        spans.sort_unstable();
        Some(Spectra {
            filter: AFilter::new(rate_hz)?,
            parts: vec![analyser.empty(); parts.len()],
            analyser,
            spans,
            held: Vec::new(),
            held_from: 0,
            open: Vec::new(),
            next: 0,
        })
    }

    /// Takes the next samples.
    pub fn add(&mut self, samples: &[f64]) {
        self.held
            .extend(samples.iter().map(|sample| self.filter.step(*sample)));
        let end = self.held_from + self.held.len() as u64;
        while let Some(span) = self.spans.get(self.next).filter(|span| span.0 < end) {
            self.open.push(*span);
            self.next += 1;
        }
        let length = self.analyser.length() as u64;
        for span in &mut self.open {
            // Windows overlap by half, where a Hann window leaves little that is counted twice.
            while span.0 + length <= span.1.min(end) {
                let from = (span.0 - self.held_from) as usize;
                let window = &self.held[from..from + length as usize];
                self.analyser.add(window, &mut self.parts[span.2]);
                span.0 += length / 2;
            }
        }
        self.open.retain(|span| span.0 + length <= span.1);
        let needed = self.open.iter().map(|span| span.0).min().unwrap_or(end);
        let gone = (needed.min(end) - self.held_from) as usize;
        self.held.drain(..gone);
        self.held_from += gone as u64;
    }

    /// The spectrum of each part.
    pub fn finish(self) -> Vec<Spectrum> {
        self.parts
    }
}
