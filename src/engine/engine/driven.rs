//! What a hand asks of its axis, and under which ceilings.

use super::Engine;
use super::steadying::steadied;
use crate::feel;
use crate::motion::bands::Band;
use crate::motion::ceiling::{Scaling, Switched};
use crate::motion::rig::DrivenAxis;
use crate::motion::sets::Sets;
use crate::operate::pads::Reading;
use crate::operator::Hand;
use crate::output::{Ceiling, Enabled, Place};
use crate::units::{Speed, held};

/// What the controls of a hand say.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Asked {
    /// What the armed ones ask for together, -1..=1.
    pub demand: f64,
    /// How far the coarse one is pushed, 0..=1.
    pub depth: f64,
    /// Whether both are centred, as far as they have spoken.
    pub centred: bool,
}

/// The highest speed of a full stick, and why.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Full {
    /// With the speed trigger in it.
    pub speed: Speed,
    /// Without it: what no axis may be aimed above.
    pub ceiling: Speed,
    /// The ceiling that makes it so.
    pub binding: Ceiling,
    /// The band that has this ceiling inside.
    pub band: Option<Band>,
    /// The share that the speed trigger leaves.
    pub trigger: f64,
}

impl Engine {
    /// What the controls of a hand ask for.
    pub(super) fn asked(&self, place: usize) -> Asked {
        let (hand, state) = (&self.operator.hands[place], &self.hands[place]);
        let coarse = self.reading(hand, hand.control);
        let fine = self.reading(hand, hand.fine.map(|fine| fine.source));
        let mut demand = 0.0;
        if let Some(reading) = coarse.filter(|_| state.coarse.armed()) {
            demand += shaped(hand, steadied(reading, &state.steady_coarse));
        }
        if let (Some(reading), Some(fine)) = (fine.filter(|_| state.fine.armed()), hand.fine) {
            demand += fine.share * shaped(hand, steadied(reading, &state.steady_fine));
        }
        let demand = held(demand, -1.0, 1.0);
        let let_go = |r: Option<Reading>| r.is_none_or(|r| hand.throw.centred(r.raw));
        Asked {
            demand: if hand.invert { -demand } else { demand },
            depth: coarse.map_or(0.0, |reading| reading.depth),
            centred: let_go(coarse) && let_go(fine),
        }
    }

    /// Whether any control of a hand is outside its deadband.
    pub(super) fn pushed(&self, place: usize) -> bool {
        let hand = &self.operator.hands[place];
        let sources = [hand.control, hand.fine.map(|fine| fine.source)];
        sources.into_iter().flatten().any(|source| {
            self.reading(hand, Some(source))
                .is_some_and(|reading| hand.throw.outside(reading.raw))
        })
    }

    /// The highest speed of a full stick on an axis, and why.
    pub(super) fn full(&self, rig: usize, axis: usize, place: Option<usize>) -> Full {
        let hand = place.map(|place| &self.operator.hands[place]);
        let fellow = hand.and_then(|hand| self.common_with(hand));
        let fellow = fellow.map(|other| {
            self.scaling(usize::from(other.rig), usize::from(other.axis), Some(other))
        });
        let lowest = self.scaling(rig, axis, hand).binding(fellow.as_ref());
        let trigger = hand.map_or(1.0, |hand| {
            let trigger = self.operator.speed_trigger;
            trigger.map_or(1.0, |trigger| {
                let value = self.pad_of(hand).and_then(|pad| pad.value(trigger.control));
                trigger.share(value)
            })
        });
        Full {
            speed: Speed(lowest.speed.0 * trigger),
            ceiling: lowest.speed,
            binding: lowest.by,
            band: lowest.band,
            trigger,
        }
    }

    /// The hand that has a common speed with this one, if both axes are measured alike.
    fn common_with(&self, hand: &Hand) -> Option<&Hand> {
        let fellow = self.operator.fellow(hand)?;
        (self.axis(fellow).unit == self.axis(hand).unit).then_some(fellow)
    }

    fn scaling<'a>(&self, rig: usize, axis: usize, hand: Option<&'a Hand>) -> Scaling<'a> {
        let driven = &self.rigs[rig].axes()[axis];
        let trusted = self.places[rig][axis] == Place::Inside;
        let on = Switched {
            gear: hand.map_or(0, |hand| self.gears[usize::from(hand.group)]),
            quiet: self.modes.quiet.on(),
            reduced: self.modes.reduced.on() || !trusted,
        };
        Scaling::of(driven.speed, driven.reduced, hand, on)
    }

    /// Whether the axis has what enables it.
    pub(super) fn enabled(&self, rig: usize, axis: usize, hand: Option<&Hand>) -> Enabled {
        let needed = self.rigs[rig].axes()[axis].needs_enable
            || self.places[rig][axis] == Place::Unreferenced;
        match (needed, self.operator.enable) {
            (false, _) => Enabled::NotNeeded,
            (true, None) => Enabled::Unbound,
            (true, Some(enable)) => {
                let pad = hand.and_then(|hand| self.pad_of(hand));
                match pad.is_some_and(|pad| pad.enables(enable)) {
                    true => Enabled::Held,
                    false => Enabled::Wanted,
                }
            }
        }
    }

    /// The sets the operator, the gear and quiet would have now, under the rig's normal set.
    pub(super) fn sets_of(&self, driven: &DrivenAxis, hand: Option<&Hand>) -> Sets {
        let normal = driven.facts.limits.normal();
        let Some(hand) = hand else {
            return Sets {
                gain: normal,
                lose: normal,
            };
        };
        let gear = self.gears[usize::from(hand.group)];
        let (peak, quiet) = (driven.motion.peak(), self.modes.quiet.on());
        Sets::of(hand, gear, peak, quiet, normal)
    }

    pub(super) fn axis(&self, hand: &Hand) -> &DrivenAxis {
        &self.rigs[usize::from(hand.rig)].axes()[usize::from(hand.axis)]
    }
}

/// Deadband and curve over what a control says.
fn shaped(hand: &Hand, reading: Reading) -> f64 {
    feel::demand(reading.depth, hand.throw, hand.curve) * reading.part
}
