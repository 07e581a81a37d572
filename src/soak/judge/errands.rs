//! Errands: whether one was asked for, told from presses and sticks alone.

use super::Judge;
use crate::soak::facts::{Switched, normal_under};
use std::collections::BTreeMap;
use stillhand_engine::errand::{Errand, ErrandNews, Leg, Purpose, Refusal};
use stillhand_engine::input::{Control, PadId};
use stillhand_engine::operate::modes::Mode;
use stillhand_engine::operate::presses::HELD_FOR;
use stillhand_engine::operator::{Enable, Hand, Source, StickShape};
use stillhand_engine::output::Mover;
use stillhand_engine::time::{Span, Time};
use stillhand_laws::{self as laws, Asked, Event};

/// What is known of errands.
#[derive(Debug, Default)]
pub(super) struct Errands {
    /// The one that waits or runs.
    errand: Option<Errand>,
    /// It is the one offered last.
    fresh: bool,
    /// Its press was seen let go since it was offered.
    let_go: bool,
    /// Since when its press is held with the sticks let go.
    since: Option<Time>,
    /// It was begun, and nothing has ended it.
    runs: bool,
    /// The axis of its leg and the leg's set.
    leg: Option<(usize, laws::Set)>,
    rolling: bool,
    /// Where the controls of each pad are.
    at: BTreeMap<(u8, u8), f64>,
}

impl Errands {
    /// The set that was asked for on an axis.
    pub fn set_of(&self, axis: usize) -> Option<laws::Set> {
        self.leg.filter(|(own, _)| *own == axis).map(|(_, set)| set)
    }

    /// A control says this.
    pub fn moved(&mut self, pad: PadId, control: Control, value: f64) {
        self.at.insert((pad.0, control as u8), value);
    }

    /// A pad is gone, or came anew: nothing is known of it.
    pub fn forget(&mut self, pad: PadId) {
        self.at.retain(|(own, _), _| *own != pad.0);
    }
}

impl Judge {
    /// An errand is offered.
    pub fn offered(&mut self, errand: &Errand) {
        self.errands.fresh = self.errands.errand.is_none();
        if self.errands.fresh {
            self.errands.errand = Some(errand.clone());
            (self.errands.let_go, self.errands.since) = (false, None);
        }
    }

    /// Looks at the press and the sticks once everything of a tick went in.
    pub fn watch_errand(&mut self, at: Time) {
        let Some(errand) = &self.errands.errand else {
            return;
        };
        let held = self.presses_for(errand);
        let pushed = self.operator.hands.iter().any(|hand| self.is_pushed(hand));
        let lets = !pushed && !self.still && self.linked;
        let ends = !lets || self.errands.rolling || errand.keep() && !held;
        if self.errands.runs && ends {
            self.errand_over(at);
        }
        let errands = &mut self.errands;
        errands.let_go |= !held;
        errands.since = (held && errands.let_go && lets).then(|| errands.since.unwrap_or(at));
    }

    fn presses_for(&self, errand: &Errand) -> bool {
        let held = |leg: &Leg| {
            let hand = self
                .operator
                .hands
                .iter()
                .find(|hand| hand.axis == leg.axis);
            let pad = hand.and_then(|hand| self.holders[usize::from(hand.group)]);
            pad.is_some_and(|pad| match errand.press() {
                Enable::Button(button) => self.down.contains(&(pad, button)),
                Enable::Trigger(control) => self.pulled.contains(&(pad, control)),
            })
        };
        errand.legs().iter().all(held)
    }

    /// Whether a control of a hand is outside its deadband, on the pad that holds it.
    fn is_pushed(&self, hand: &Hand) -> bool {
        let Some(pad) = self.holders[usize::from(hand.group)] else {
            return false;
        };
        let known = |control: Control| self.errands.at.get(&(pad.0, control as u8)).copied();
        let value = |control: Control| known(control).unwrap_or(0.0);
        let far = |source: Source| match source {
            // Of two triggers neither counts as long as one has not spoken.
            Source::Pair { plus, minus } => known(plus)
                .zip(known(minus))
                .map_or(0.0, |(plus, minus)| plus.max(minus)),
            Source::Stick(control) => match self.operator.sticks.shape(control) {
                Some(StickShape::Radial { .. }) => {
                    let other = control.other_direction().map_or(0.0, value);
                    value(control).hypot(other)
                }
                Some(StickShape::Axial { .. }) | None => value(control).abs(),
            },
        };
        let sources = [hand.control, hand.fine.map(|fine| fine.source)];
        let mut sources = sources.into_iter().flatten();
        sources.any(|source| far(source) > hand.throw.deadband() + 1e-9)
    }

    /// The engine tells what became of it.
    pub(super) fn errand_news(&mut self, at: Time, purpose: Purpose, news: ErrandNews) {
        match news {
            ErrandNews::Offered { .. } => {}
            ErrandNews::Begun => {
                // Seen by the tick: a press may have come up to two of them after what it counts from.
                let enough = Span(HELD_FOR.0 - 2 * self.period.0);
                let since = self.errands.since;
                let held = since.is_some_and(|since| at.since(since) >= enough);
                self.errands.runs = held && !self.errands.rolling;
                if self.errands.runs {
                    self.tell_asked(at, |axis| Event::Ask(axis, asked(purpose)));
                }
            }
            ErrandNews::Leg(place) => self.leg_begins(at, usize::from(place)),
            ErrandNews::Done | ErrandNews::Ended(_) => {
                self.errand_over(at);
                self.errands.errand = None;
            }
            // That one was another, unless what the last one moved was not at rest yet.
            ErrandNews::Refused(Refusal::Busy) if !self.errands.fresh => {}
            ErrandNews::Refused(_) => self.errands.errand = None,
        }
    }

    fn leg_begins(&mut self, at: Time, place: usize) {
        let legs = self.errands.errand.as_ref().map(Errand::legs);
        let Some(leg) = legs.and_then(|legs| legs.get(place)) else {
            return;
        };
        let set = laws::Set::new(leg.set.accel.0, leg.set.jerk.0);
        self.own_set(at, Some((usize::from(leg.axis), set)));
    }

    /// What moved by an errand that is over comes to rest under the sets of its leg.
    pub(super) fn errand_rests(&mut self, at: Time) {
        let moves = |(axis, _)| self.movers[axis] == Mover::Errand;
        if self.errands.leg.is_some_and(|leg| !moves(leg)) {
            self.own_set(at, None);
        }
    }

    /// Sets of live motion are those of the leg, or the hand's own again.
    fn own_set(&mut self, at: Time, leg: Option<(usize, laws::Set)>) {
        let before = std::mem::replace(&mut self.errands.leg, leg);
        for (axis, _) in before.into_iter().chain(leg) {
            self.losing[axis].told_otherwise();
        }
        self.tell_sets(at);
    }

    fn errand_over(&mut self, at: Time) {
        if std::mem::take(&mut self.errands.runs)
            && let Some(errand) = &self.errands.errand
        {
            let purpose = errand.purpose();
            self.tell_asked(at, |axis| Event::AskEnded(axis, asked(purpose)));
        }
    }

    fn tell_asked(&mut self, at: Time, event: impl Fn(usize) -> Event) {
        let legs = self.errands.errand.iter().flat_map(Errand::legs);
        let mut axes: Vec<usize> = legs.map(|leg| usize::from(leg.axis)).collect();
        axes.sort_unstable();
        axes.dedup();
        for axis in axes {
            self.tell(at, &event(axis));
        }
    }

    /// A mode was switched that an errand minds.
    pub(super) fn errand_minds(&mut self, mode: Mode, on: bool) {
        if mode == Mode::Rolling {
            self.errands.rolling = on;
        }
    }

    /// The set of live motion of a hand's axis: the one asked for by an errand, or the hand's.
    pub(super) fn set_asked(&self, axis: usize, hand: &Hand, on: Switched) -> Option<laws::Normal> {
        let set = self.errands.set_of(axis)?;
        Some(normal_under(set, &self.rig.axes[axis], hand, on))
    }
}

fn asked(purpose: Purpose) -> Asked {
    match purpose {
        Purpose::Survey => Asked::Survey,
        Purpose::Directions => Asked::DirectionTest,
        Purpose::Check => Asked::DailyCheck,
    }
}
