//! Pads, who holds what, and what is held down.

use super::Judge;
use crate::soak::facts::{bus_of, button};
use stillhand_engine::bindings::Action;
use stillhand_engine::input::{Button, Control, PadBus, PadEvent, PadId};
use stillhand_engine::operator::Enable;
use stillhand_engine::time::{Span, Time};
use stillhand_laws::{self as laws, Event};

/// A trigger enables from half its way on.
const ENABLED_FROM: f64 = 0.5;

impl Judge {
    pub(super) fn pad(&mut self, at: Time, pad: PadId, event: PadEvent) {
        let id = laws::PadId(u16::from(pad.0));
        self.hears(at, pad, event);
        let told = match event {
            PadEvent::Plugged { bus, drives } => return self.plugged(at, pad, bus, drives),
            PadEvent::Unplugged => return self.unplugged(at, pad),
            PadEvent::Moved(control, value) => {
                self.trigger(pad, control, value);
                self.errands.moved(pad, control, value);
                Event::Stick {
                    pad: id,
                    control: laws::ControlId(control as u16),
                    value,
                }
            }
            PadEvent::Pressed(pressed, true) => {
                self.pressed(at, pad, pressed);
                Event::ButtonDown(id, button(pressed))
            }
            PadEvent::Pressed(released, false) => {
                self.down.retain(|down| *down != (pad, released));
                Event::ButtonUp(id, button(released))
            }
            PadEvent::Alive => Event::PadAlive(id),
            PadEvent::Bus(bus) => Event::PadBus(id, bus_of(bus)),
        };
        self.tell(at, &told);
        self.tell_enabled(at);
    }

    fn trigger(&mut self, pad: PadId, control: Control, value: f64) {
        self.pulled.retain(|pulled| *pulled != (pad, control));
        if value >= ENABLED_FROM {
            self.pulled.push((pad, control));
        }
    }

    /// Inching is asked for by its press alone, whoever does something else with the button too.
    fn pressed(&mut self, at: Time, pad: PadId, pressed: Button) {
        let known = self.pads.get(usize::from(pad.0)).copied().flatten();
        if known.is_none() || self.down.contains(&(pad, pressed)) {
            return;
        }
        self.down.push((pad, pressed));
        let operator = &self.operator;
        let inched: Vec<usize> = operator
            .bindings
            .iter()
            .filter(|binding| binding.press.button() == pressed)
            .filter_map(|binding| match binding.action {
                Action::Inch { hand, .. } => operator.hands.get(usize::from(hand)),
                _ => None,
            })
            .filter(|hand| self.holders[usize::from(hand.group)] == Some(pad))
            .map(|hand| usize::from(hand.axis))
            .collect();
        for axis in inched {
            self.inched[axis] = true;
            self.tell(at, &Event::Ask(axis, laws::Asked::Inching));
        }
    }

    /// Tells which axes have their enable control held.
    fn tell_enabled(&mut self, at: Time) {
        let Some(enable) = self.operator.enable else {
            return;
        };
        let mut changed = Vec::new();
        for hand in &self.operator.hands {
            let pad = self.holders[usize::from(hand.group)];
            let held = pad.is_some_and(|pad| match enable {
                Enable::Button(button) => self.down.contains(&(pad, button)),
                Enable::Trigger(control) => self.pulled.contains(&(pad, control)),
            });
            let axis = usize::from(hand.axis);
            if held != self.enabled[axis] {
                self.enabled[axis] = held;
                changed.push(Event::Enable { axis, held });
            }
        }
        for event in &changed {
            self.tell(at, event);
        }
    }

    fn plugged(&mut self, at: Time, pad: PadId, bus: PadBus, drives: bool) {
        let Some(place) = self.pads.get_mut(usize::from(pad.0)) else {
            return;
        };
        let id = laws::PadId(u16::from(pad.0));
        let missed_unplug = place.replace(drives).is_some();
        self.forget_presses(pad);
        if missed_unplug {
            self.tell(at, &Event::PadUnplugged(id));
        }
        let plugged = Event::PadPlugged {
            pad: id,
            bus: bus_of(bus),
            may_drive: drives,
        };
        self.tell(at, &plugged);
        // A pad that held something and comes back in its place holds it again.
        if missed_unplug && self.holders.contains(&Some(pad)) {
            self.tell_taken(at, pad);
        } else if drives {
            self.fill(at, pad);
        }
        self.tell_enabled(at);
    }

    fn unplugged(&mut self, at: Time, pad: PadId) {
        if let Some(place) = self.pads.get_mut(usize::from(pad.0)) {
            *place = None;
        }
        self.forget_presses(pad);
        self.tell(at, &Event::PadUnplugged(laws::PadId(u16::from(pad.0))));
        let held_some = self.holders.contains(&Some(pad));
        for holder in &mut self.holders {
            *holder = holder.filter(|holder| *holder != pad);
        }
        let free = |place: usize| !self.holders.contains(&Some(PadId(place as u8)));
        let next = self
            .pads
            .iter()
            .enumerate()
            .find(|(place, drives)| **drives == Some(true) && free(*place));
        if let Some((place, _)) = next.filter(|_| held_some) {
            self.fill(at, PadId(place as u8));
        }
        self.tell_enabled(at);
    }

    fn hears(&mut self, at: Time, pad: PadId, event: PadEvent) {
        let Some(heard) = self.heard.get_mut(usize::from(pad.0)) else {
            return;
        };
        *heard = match (event, *heard) {
            (PadEvent::Plugged { bus, .. }, _) => Some((bus, at)),
            (PadEvent::Unplugged, _) => None,
            (PadEvent::Bus(bus), before) => before.map(|(_, since)| (bus, since)),
            (_, before) => before.map(|(bus, _)| (bus, at)),
        };
    }

    /// A pad that moved one of these groups fell silent: what it presses next is pressed anew.
    pub(super) fn went_silent(&mut self, at: Time, lost: impl Fn(usize) -> bool) {
        let silent = |pad: &PadId| {
            let heard = self.heard.get(usize::from(pad.0)).copied().flatten();
            heard.is_some_and(|(bus, since)| {
                let least = match bus {
                    PadBus::Wired => return false,
                    PadBus::Usb => 10_000,
                    PadBus::Bluetooth => 2_000,
                    PadBus::Streaming => 300,
                };
                at.since(since) >= Span::from_millis(least)
            })
        };
        let moved = |group: usize| {
            let mut hands = self.operator.hands.iter();
            hands
                .any(|hand| usize::from(hand.group) == group && self.moving[usize::from(hand.axis)])
        };
        let holders = self.holders.iter().enumerate();
        let silent: Vec<PadId> = holders
            .filter(|(group, _)| lost(*group) && moved(*group))
            .filter_map(|(_, holder)| *holder)
            .filter(silent)
            .collect();
        self.down.retain(|(pad, _)| !silent.contains(pad));
        // Where its sticks are is no longer known.
        silent.iter().for_each(|pad| self.errands.forget(*pad));
    }

    fn forget_presses(&mut self, pad: PadId) {
        self.errands.forget(pad);
        self.down.retain(|(of, _)| *of != pad);
        self.pulled.retain(|(of, _)| *of != pad);
    }

    /// A pad gets every group that nobody holds.
    fn fill(&mut self, at: Time, pad: PadId) {
        let groups = self.operator.groups.len();
        let mut any = false;
        for holder in self.holders.iter_mut().take(groups) {
            if holder.is_none() {
                *holder = Some(pad);
                any = true;
            }
        }
        if any {
            self.tell_taken(at, pad);
        }
    }

    /// Groups may have other axes now: tells again who holds what.
    pub(super) fn tell_holders(&mut self, at: Time) {
        self.holders[self.operator.groups.len()..].fill(None);
        for pad in (0..self.pads.len()).map(|place| PadId(place as u8)) {
            if self.holders.contains(&Some(pad)) {
                self.tell_taken(at, pad);
            }
        }
        self.tell_enabled(at);
    }

    fn tell_taken(&mut self, at: Time, pad: PadId) {
        let own = |group: u8| self.holders[usize::from(group)] == Some(pad);
        let hands = self.operator.hands.iter().filter(|hand| own(hand.group));
        let mut axes = hands.fold(laws::Axes::NONE, |axes, hand| {
            axes.with(laws::Axes::one(usize::from(hand.axis)))
        });
        if self.operator.groups.len() == 1 {
            axes = laws::Axes::ALL;
        }
        let pad = laws::PadId(u16::from(pad.0));
        self.tell(at, &Event::TakesControl { pad, axes });
    }

    /// The engine says that a group passed; told only where that is news.
    pub(super) fn passed(&mut self, at: Time, group: u8, pad: Option<PadId>) {
        let holder = &mut self.holders[usize::from(group)];
        if *holder == pad {
            return;
        }
        *holder = pad;
        let Some(pad) = pad else { return };
        let hands = self
            .operator
            .hands
            .iter()
            .filter(|hand| hand.group == group);
        let axes = hands.fold(laws::Axes::NONE, |axes, hand| {
            axes.with(laws::Axes::one(usize::from(hand.axis)))
        });
        let pad = laws::PadId(u16::from(pad.0));
        self.tell(at, &Event::TakesControl { pad, axes });
        self.tell_enabled(at);
    }
}
