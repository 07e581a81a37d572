//! Trembling is taken out of held sticks, for hands that ask for it.
//!
//! It runs every tick on what the control says now, and never keeps an axis going: a control that
//! asks for nothing asks for nothing at once, and one pushed the other way begins anew there.

use super::Engine;
use crate::feel::Throw;
use crate::feel::steady::{OneEuro, Steady};
use crate::operate::pads::Reading;
use crate::operator::{Hand, Source};
use crate::time::Span;
use crate::units::{higher, lower};
use libm::sqrt;

impl Engine {
    /// Takes what every control of every hand says now.
    pub(super) fn steady_hands(&mut self, dt: Span) {
        for (place, hand) in self.operator.hands.iter().enumerate() {
            let coarse = self.reading(hand, hand.control);
            let fine = self.reading(hand, hand.fine.map(|fine| fine.source));
            let state = &mut self.hands[place];
            follow(&mut state.steady_coarse, coarse, hand, dt);
            follow(&mut state.steady_fine, fine, hand, dt);
        }
    }

    /// What a control of a hand says, on the pad that holds it.
    pub(super) fn reading(&self, hand: &Hand, source: Option<Source>) -> Option<Reading> {
        self.pad_of(hand)?.reading(source?, &self.operator.sticks)
    }
}

fn follow(filter: &mut OneEuro, reading: Option<Reading>, hand: &Hand, dt: Span) {
    let (Some(reading), Some(steady)) = (reading, hand.steady) else {
        *filter = OneEuro::NONE;
        return;
    };
    follow_one(filter, reading, hand.throw, steady, dt.secs());
}

fn follow_one(filter: &mut OneEuro, reading: Reading, throw: Throw, by: Steady, dt: f64) {
    let x = reading.depth * reading.part;
    let turned = filter.value().is_some_and(|value| value * x < 0.0);
    if x == 0.0 || turned || !throw.outside(reading.depth) {
        filter.begin(x);
    } else {
        filter.take(x, dt, by);
    }
}

/// A reading with the trembling of its own direction taken out; the other direction of a radial
/// stick is left to its own hand.
pub(super) fn steadied(reading: Reading, filter: &OneEuro) -> Reading {
    let Some(own) = filter.value() else {
        return reading;
    };
    let across = reading.depth * reading.depth * higher(0.0, 1.0 - reading.part * reading.part);
    let depth = sqrt(own * own + across);
    if depth <= 0.0 {
        return reading;
    }
    Reading {
        raw: reading.raw,
        depth: lower(depth, 1.0),
        part: own / depth,
    }
}

#[cfg(test)]
mod tests;
