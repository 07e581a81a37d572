//! Whether an engine, a profile or a rig file read back from bytes holds together.
//!
//! Their types are valid by construction; what serde makes out of bytes is not constructed. Nothing
//! that is asked here can be wrong in bytes the engine itself wrote; it is asked so that no bytes make
//! a step panic.

use super::Engine;
use super::MAX_HANDS;
use super::error::check_hands;
use crate::bindings::Bindings;
use crate::operator::{MAX_GROUPS, Operator};
use crate::rig::Rig;
use crate::time::Span;
use crate::{MAX_AXES, MAX_RIGS};

impl Engine {
    /// Whether every list in it is as long as the others need it to be, and every place named in it is
    /// one there is. To be asked of an engine read back from bytes before it is stepped.
    pub fn is_sound(&self) -> bool {
        let rigs = self.rigs.len();
        let axes = |rig: usize| self.rigs.get(rig).map(|r| r.axes().len());
        let fits = |operator: &Operator| operator.is_sound() && check_hands(operator, axes).is_ok();
        let plans = self.plans.iter().flatten();
        let asked = self.reference.asked;
        let reference = axes(asked.rig.into()).is_some_and(|count| usize::from(asked.axis) < count);
        let waiting = self.waiting_rigs.iter().enumerate();
        let mut waiting = waiting.filter_map(|(place, rig)| Some((place, rig.as_ref()?)));
        (1..=MAX_RIGS).contains(&rigs)
            && [self.plans.len(), self.places.len(), self.outputs.rigs.len()] == [rigs; 3]
            && self.rigs.iter().all(|rig| rig.is_sound())
            && waiting.all(|(place, rig)| axes(place) == Some(rig.axes.len()))
            && (Span::from_millis(1)..=Span::from_millis(20)).contains(&self.period)
            && fits(&self.operator)
            && self.errand.as_ref().is_none_or(|errand| errand.is_sound())
            && self.waiting.as_deref().is_none_or(fits)
            && self.hands.len() == self.operator.hands.len()
            && reference
            && self.holders.count() == self.operator.groups.len()
            && plans.clone().all(|plan| plan.is_for(self.hands.len()))
    }
}

impl Operator {
    /// Whether its lists are as long as they may be and its bindings go together, whatever rigs it is
    /// for.
    pub fn is_sound(&self) -> bool {
        let hands = self
            .hands
            .iter()
            .all(|hand| hand.gears.is_sound() && hand.curve.is_sound() && hand.quiet.is_sound());
        let groups = (1..=MAX_GROUPS).contains(&self.groups.len());
        let bindings = Bindings::new(self.bindings.to_vec(), self.hands.len());
        let same = bindings.is_ok_and(|bindings| bindings == self.bindings);
        hands && groups && same && self.hands.len() <= MAX_HANDS
    }
}

impl Rig {
    /// Whether it has as many axes as a rig may have.
    pub fn is_sound(&self) -> bool {
        (1..=MAX_AXES).contains(&self.axes.len())
    }
}
