//! What is looked at in every tick: silence, releases, presses that are held, control that passes,
//! modes that wait, and consent.

use super::Engine;
use super::press::Manner;
use crate::input::PadId;
use crate::operate::life::silence_bound;
use crate::operate::modes::{Mode, Switch};
use crate::operate::pads::Pad;
use crate::operate::state::Event;
use crate::operator::{Hand, MAX_GROUPS, Source, Sticks};
use crate::output::{Notice, State, Why};
use crate::time::{Span, Time};
use crate::{MAX_PADS, output::Place};

impl Engine {
    pub(super) fn watch(&mut self, now: Time) {
        for pad in (0..MAX_PADS as u8).map(PadId) {
            self.watch_silence(now, pad);
            self.watch_held(now, pad);
        }
        self.watch_release(now);
        self.watch_control(now);
        for mode in [Mode::Quiet, Mode::Reduced] {
            if self.modes.get(mode) == Switch::Leaving && self.all_centred() {
                self.off(mode);
            }
        }
        self.watch_places();
    }

    /// The silence after which the present motion behind a pad is stopped: the shortest over its
    /// moving axes.
    pub(super) fn silence_bound(&self, pad: PadId) -> Option<Span> {
        let bus = self.pads.get(pad)?.bus;
        let moving = self.operator.hands.iter().filter_map(|hand| {
            let own = self.holders.holder(hand.group) == Some(pad);
            let v = self.axis(hand).motion.motion().v;
            (own && v != 0.0).then(|| silence_bound(bus, self.axis(hand).unit, v))
        });
        moving.flatten().min()
    }

    fn watch_silence(&mut self, now: Time, id: PadId) {
        // One that went mute has been dealt with; its axes may still be stopping.
        let mute = self.pads.get(id).is_none_or(Pad::is_mute);
        if !self.holders.holds_any(id) || mute {
            return;
        }
        let silent = self.pads.silent_for(id, now);
        let bound = self.silence_bound(id);
        let near = bound.is_some_and(|bound| silent.0 * 2 >= bound.0);
        let over = bound.is_some_and(|bound| silent >= bound);
        if self.state != State::Driving {
            // What comes to rest by itself, as after `still`, does so with the stop set from here on, and what its
            // pad said last counts no more.
            if over {
                self.stop_groups_of(id);
            }
            return;
        }
        let Some(pad) = self.pads.get_mut(id) else {
            return;
        };
        let told = core::mem::replace(&mut pad.silence_told, near && !over);
        if over {
            self.lose_groups_of(id, Why::PadSilent);
            if let Some(pad) = self.pads.get_mut(id) {
                pad.goes_mute();
            }
        } else if let Some(bound) = bound.filter(|_| near && !told) {
            let left = Span(bound.0 - silent.0);
            self.outputs
                .notices
                .push(Notice::SilenceNear { pad: id, left });
        }
    }

    fn stop_groups_of(&mut self, pad: PadId) {
        for place in 0..self.hands.len() {
            let hand = &self.operator.hands[place];
            let (rig, axis) = (usize::from(hand.rig), usize::from(hand.axis));
            if self.holders.holder(hand.group) == Some(pad) {
                self.withhold_hand(place);
                self.rigs[rig].stop_axis(axis);
            }
        }
    }

    /// Presses whose time has come.
    fn watch_held(&mut self, now: Time, id: PadId) {
        loop {
            let Some(pad) = self.pads.get_mut(id) else {
                return;
            };
            let Some((button, action)) = pad.due(now, &self.operator.bindings) else {
                return;
            };
            self.act(now, id, Some(button), action, Manner::Meant);
        }
    }

    /// A stop is released on a pad that holds something, with its known sticks centred.
    fn watch_release(&mut self, now: Time) {
        if !matches!(self.state, State::Stopped(_)) {
            return;
        }
        let press = self.operator.bindings.release();
        for id in (0..MAX_PADS as u8).map(PadId) {
            let pressing = |pad: &Pad| pad.pressing(now, press);
            if self.holders.holds_any(id) && self.pads.get(id).is_some_and(pressing) {
                self.release(id);
            }
        }
    }

    /// Releases a stop if the pad's known sticks are centred.
    pub(super) fn release(&mut self, id: PadId) {
        let Some(pad) = self.pads.get(id) else {
            return;
        };
        let sticks = &self.operator.sticks;
        let centred = |hand: &Hand| centred(pad, hand, sticks);
        if matches!(self.state, State::Stopped(_)) && self.operator.hands.iter().all(centred) {
            self.happen(Event::Released);
            self.forget_release();
        }
    }

    /// A release that is held now belongs to what was before: it must be pressed anew.
    pub(super) fn forget_release(&mut self) {
        let button = self.operator.bindings.release().button();
        for id in (0..MAX_PADS as u8).map(PadId) {
            if let Some(pad) = self.pads.get_mut(id) {
                pad.consume(button);
            }
        }
    }

    fn watch_control(&mut self, now: Time) {
        if let Some(group) = self.holders.forget(now) {
            self.outputs.notices.push(Notice::AskForgotten(group));
        }
        let passing = self.holders.passing(|group, to| {
            let own = |hand: &&Hand| hand.group == group;
            let mut hands = self.operator.hands.iter().filter(own);
            let Some(pad) = self.pads.get(to) else {
                return false;
            };
            hands.all(|hand| {
                self.axis(hand).motion.motion().at_rest()
                    && centred(pad, hand, &self.operator.sticks)
            })
        });
        if let Some((group, pad)) = passing {
            self.holders.pass(group, pad);
            self.outputs.notices.push(Notice::Holds {
                group,
                pad: Some(pad),
            });
            self.lose_groups(|own| own == group, Why::ControlPassed);
        }
    }

    /// Tells where axes stand, whenever that changes.
    fn watch_places(&mut self) {
        for rig in 0..self.rigs.len() {
            if !self.rigs[rig].ready() {
                continue;
            }
            for axis in 0..self.rigs[rig].axes().len() {
                let place = self.rigs[rig].place(axis);
                let before = self.places[rig][axis];
                let inward = before == Place::Outside && place == Place::Inside;
                // Back inside it stays reduced until it is let go: it must not speed up by itself.
                if place == before || inward && !self.let_go(rig, axis) {
                    continue;
                }
                self.places[rig][axis] = place;
                if place == Place::Outside {
                    // Whatever was asked for was asked for inside.
                    self.rigs[rig].stop_axis(axis);
                }
                self.outputs.notices.push(Notice::Place {
                    rig: rig as u8,
                    axis: axis as u8,
                    place,
                });
            }
        }
    }

    /// Whether nobody asks an axis for anything.
    fn let_go(&self, rig: usize, axis: usize) -> bool {
        let hands = self.operator.hands.iter().zip(&self.hands);
        hands
            .filter(|(hand, _)| (usize::from(hand.rig), usize::from(hand.axis)) == (rig, axis))
            .all(|(hand, state)| self.is_centred(hand) && !state.inching.active())
    }

    pub(super) fn watch_consent(&mut self, now: Time) {
        if self.reference.is_pending() {
            // What a number means is about to change: sticks are looked at from then on.
            return;
        }
        let sticks = &self.operator.sticks;
        for (state, hand) in self.hands.iter_mut().zip(&self.operator.hands) {
            let pad = self
                .holders
                .holder(hand.group)
                .and_then(|id| self.pads.get(id));
            let look = |source: Option<Source>| {
                let reading = pad?.reading(source?, sticks)?;
                Some(hand.throw.centred(reading.raw))
            };
            state.coarse.look(now, look(hand.control));
            state
                .fine
                .look(now, look(hand.fine.map(|fine| fine.source)));
        }
        if self.hands.iter().any(|hand| hand.armed()) {
            self.happen(Event::Armed);
        }
    }

    /// A pad is gone: what it held stops, and a pad that holds nothing yet gets it.
    pub(super) fn pad_gone(&mut self, gone: PadId) {
        if !self.holders.holds_any(gone) {
            self.holders.gone(gone);
            return;
        }
        let mut freed = [false; MAX_GROUPS];
        for (group, freed) in freed.iter_mut().enumerate() {
            *freed = self.holders.holder(group as u8) == Some(gone);
        }
        self.holders.gone(gone);
        let next = self
            .pads
            .all()
            .find(|(id, pad)| pad.drives && !self.holders.holds_any(*id))
            .map(|(id, _)| id);
        if let Some(pad) = next {
            self.holders.fill(pad);
        }
        for (group, _) in freed.iter().enumerate().filter(|(_, freed)| **freed) {
            self.outputs.notices.push(Notice::Holds {
                group: group as u8,
                pad: next,
            });
        }
        self.lose_groups(|group| freed[usize::from(group)], Why::PadLost);
    }

    pub(super) fn pad_comes(&mut self, pad: PadId, anew: bool) {
        let drives = self.pads.get(pad).is_some_and(|pad| pad.drives);
        if anew && self.holders.holds_any(pad) {
            // The unplug before it was missed. One that may not drive can't keep what it held.
            match drives {
                true => self.lose_groups_of(pad, Why::PadLost),
                false => self.pad_gone(pad),
            }
            return;
        }
        if !drives {
            return;
        }
        for group in 0..self.holders.count() as u8 {
            if self.holders.holder(group).is_none() {
                self.outputs.notices.push(Notice::Holds {
                    group,
                    pad: Some(pad),
                });
            }
        }
        if self.holders.fill(pad) {
            self.happen(Event::Found);
        }
    }

    fn lose_groups_of(&mut self, pad: PadId, why: Why) {
        let holders = self.holders;
        self.lose_groups(|group| holders.holder(group) == Some(pad), why);
    }

    /// Some groups stop and are withheld. Others that are armed or inch go on; with none, motion as a whole
    /// is withheld.
    fn lose_groups(&mut self, lost: impl Fn(u8) -> bool, why: Why) {
        self.withhold_errand();
        let mut others = false;
        for place in 0..self.hands.len() {
            let hand = &self.operator.hands[place];
            if !lost(hand.group) {
                let hand = &self.hands[place];
                others |= hand.armed() || hand.inching.active();
                continue;
            }
            let (rig, axis) = (usize::from(hand.rig), usize::from(hand.axis));
            self.withhold_hand(place);
            self.rigs[rig].stop_axis(axis);
        }
        if self.state != State::Driving || !others {
            self.enter(Event::Lost(why));
            return;
        }
        for group in (0..self.holders.count() as u8).filter(|group| lost(*group)) {
            self.outputs
                .notices
                .push(Notice::GroupWithheld { group, why });
        }
    }

    /// Whether every known control of a group is centred on the pad that holds it.
    pub(super) fn group_centred(&self, group: u8) -> bool {
        let own = |hand: &&Hand| hand.group == group;
        self.operator
            .hands
            .iter()
            .filter(own)
            .all(|hand| self.is_centred(hand))
    }

    /// Whether every known control is centred.
    pub(super) fn all_centred(&self) -> bool {
        self.operator.hands.iter().all(|hand| self.is_centred(hand))
    }

    /// Whether a hand's controls are centred, as far as is known.
    pub(super) fn is_centred(&self, hand: &Hand) -> bool {
        self.pad_of(hand)
            .is_none_or(|pad| centred(pad, hand, &self.operator.sticks))
    }
}

/// Whether a hand's controls are centred on a pad, as far as it has spoken.
fn centred(pad: &Pad, hand: &Hand, sticks: &Sticks) -> bool {
    let sources = [hand.control, hand.fine.map(|fine| fine.source)];
    sources.into_iter().flatten().all(|source| {
        pad.reading(source, sticks)
            .is_none_or(|reading| hand.throw.centred(reading.raw))
    })
}
