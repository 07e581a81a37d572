//! Taking over another profile: what applies at once, and what waits for what.

use super::{Engine, check_hands, gears_of};
use crate::motion::rig::RigMotion;
use crate::operate::consent::Consent;
use crate::operate::state::Event;
use crate::operator::{Hand, Operator};
use crate::output::{Notice, Wait, Why};
use alloc::boxed::Box;

/// A change that raises a full stick's speed by more than this waits until the stick is centred.
const RAISED: f64 = 1.25;

impl Engine {
    /// A profile that is out of use, once. Whoever may free memory takes it; nobody has to.
    pub fn retired(&mut self) -> Option<Box<Operator>> {
        self.retired.take()
    }

    /// Takes a new profile in; a newer one replaces one that still waits.
    pub(super) fn offer(&mut self, operator: Box<Operator>) {
        let axes = |rig: usize| self.rigs.get(rig).map(|r| r.axes().len());
        if check_hands(&operator, axes).is_err() {
            self.outputs.notices.push(Notice::ProfileRefused);
            self.retired = Some(operator);
            return;
        }
        let wait = wait_for(&self.operator, &operator, self.gear);
        self.retired = self.waiting.replace(operator);
        if !self.moment_for(wait) {
            self.outputs.notices.push(Notice::ProfileWaits(wait));
        }
    }

    /// Takes the waiting profile over when its moment has come, whole.
    pub(super) fn watch_profile(&mut self) {
        let Some(waiting) = &self.waiting else { return };
        let wait = wait_for(&self.operator, waiting, self.gear);
        if !self.moment_for(wait) {
            return;
        }
        let Some(operator) = self.waiting.take() else {
            return;
        };
        let another = operator.name != self.operator.name;
        self.retired = Some(core::mem::replace(&mut self.operator, operator));
        self.gears = gears_of(&self.operator);
        let gear = if another {
            self.operator.first_gear
        } else {
            self.gear
        };
        self.gear = gear.min(self.gears - 1);
        self.consents
            .resize(self.operator.hands.len(), Consent::default());
        self.outputs.notices.push(Notice::ProfileApplied);
        if wait == Wait::RestAndCentred {
            self.happen(Event::Lost(Why::ProfileChanged));
        }
    }

    /// Whether what a change waits for is so.
    fn moment_for(&self, wait: Wait) -> bool {
        match wait {
            Wait::Nothing => true,
            Wait::Centred => {
                let Some(waiting) = &self.waiting else {
                    return true;
                };
                let raised = |hand: &&Hand| raises(hand, waiting, self.gear);
                self.operator
                    .hands
                    .iter()
                    .filter(raised)
                    .all(|hand| self.is_centred(hand))
            }
            Wait::RestAndCentred => {
                self.rigs.iter().all(RigMotion::at_rest)
                    && self.operator.hands.iter().all(|hand| self.is_centred(hand))
            }
        }
    }

    /// Whether a hand's control is centred, as far as is known.
    pub(super) fn is_centred(&self, hand: &Hand) -> bool {
        let value = self.pads.driver().and_then(|pad| pad.value(hand.control));
        value.is_none_or(|x| hand.throw.centred(x))
    }
}

/// What the change from `old` to `new` has to wait for, in gear `gear`.
///
/// At once: lower ceilings, deadband, saturation, curve, times, wedge, gears that are at most 1.25
/// times as fast. With the stick centred: a full stick that becomes faster than that. At rest and
/// with every stick centred: another operator, other bindings, another sense of plus.
pub fn wait_for(old: &Operator, new: &Operator, gear: u8) -> Wait {
    let bound = |hand: &Hand| (hand.rig, hand.axis, hand.control, hand.invert);
    let same_hands = old.hands.len() == new.hands.len()
        && old
            .hands
            .iter()
            .zip(&new.hands)
            .all(|(a, b)| bound(a) == bound(b));
    if !same_hands || old.buttons != new.buttons || old.name != new.name {
        return Wait::RestAndCentred;
    }
    if old.hands.iter().any(|hand| raises(hand, new, gear)) {
        return Wait::Centred;
    }
    Wait::Nothing
}

/// Whether the full stick of `hand` becomes more than [`RAISED`] times as fast under `new`.
fn raises(hand: &Hand, new: &Operator, gear: u8) -> bool {
    let full = |hand: &Hand| {
        let gear = hand.gears.speed(gear);
        hand.ceiling.map_or(gear, |own| own.lower(gear)).0
    };
    let same = |other: &&Hand| (other.rig, other.axis) == (hand.rig, hand.axis);
    new.hands
        .iter()
        .find(same)
        .is_some_and(|other| full(other) > RAISED * full(hand))
}
