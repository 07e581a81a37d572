//! A reference on its way to the rig: said until it is answered or the rig can be taken not to know it.

use super::{ASK_AGAIN, FRAME_LIFE_US, Session, Standing};
use crate::link::convert::Scale;
use stillhand_engine::input::{LinkEvent, LinkLoss};
use stillhand_engine::reference::{NotReferenced, ReferenceStatus};
use stillhand_engine::time::{Span, Time};
use stillhand_wire::messages::{self, Reference};
use stillhand_wire::{ToRig, encode};

/// A rig answers at once; one that has not after this long does not know the message, or does not hear.
const PATIENCE: Span = Span::from_millis(1_000);

/// The reference the rig is being asked to take.
#[derive(Clone, Copy, Debug)]
pub(super) struct Asking {
    /// Its deadline is that of each time it is said.
    message: Reference,
    since: Time,
    said: Time,
}

impl Session {
    /// To be told after each step of the engine: a reference that is pending there is said to the rig.
    pub fn refer(&mut self, now: Time, status: &ReferenceStatus) {
        let known = |asking: &Asking| asking.message.number == status.number;
        let begun = self.asking.as_ref().is_some_and(known);
        if !status.is_pending() || begun || self.standing != Standing::Ready {
            return;
        }
        let place = usize::from(status.asked.axis);
        let (Some(file), Some(setup)) = (self.rig.axes.get(place), &self.sent_setup) else {
            return;
        };
        let counts = Scale::of(file).counts(status.asked.at);
        // An end in units may lie between two counts: the rig knows the one inside.
        let travel = setup.axes.get(place).and_then(|axis| axis.travel);
        let position = travel.map_or(counts, |(low, high)| counts.clamp(low, high));
        let message = Reference {
            session: self.session,
            number: status.number,
            deadline_us: 0,
            axis: status.asked.axis,
            position,
            again: status.asked.again,
        };
        self.say_reference(now, message, now);
    }

    /// Says it again, or gives up.
    pub(super) fn press_reference(&mut self, now: Time) {
        let Some(asking) = self.asking else { return };
        if now.since(asking.since) >= PATIENCE {
            self.asking = None;
            self.push_event(LinkEvent::NotReferenced(NotReferenced::NoAnswer));
        } else if now.since(asking.said) >= ASK_AGAIN {
            self.say_reference(now, asking.message, asking.since);
        }
    }

    fn say_reference(&mut self, now: Time, message: Reference, since: Time) {
        self.asking = Some(Asking {
            message,
            since,
            said: now,
        });
        // Ready, the clock is known; unsaid it is said again.
        let deadline_us = self.clock.at(now).map(|us| us.wrapping_add(FRAME_LIFE_US));
        let dated = |deadline_us| Reference {
            deadline_us,
            ..message
        };
        if let Some(message) = deadline_us.map(dated)
            && let Ok(bytes) = encode(&ToRig::Reference(message))
        {
            self.push_write(bytes);
        }
    }

    /// The rig answered.
    pub(super) fn on_referenced(
        &mut self,
        now: Time,
        number: u32,
        refused: Option<messages::NotReferenced>,
    ) {
        let known = |asking: &Asking| asking.message.number == number;
        if self.standing != Standing::Ready || !self.asking.as_ref().is_some_and(known) {
            return;
        }
        self.asking = None;
        let Some(why) = refused else {
            // Its session has ended with it.
            self.lose(LinkLoss::Reference);
            self.greet(now);
            return;
        };
        let why = match why {
            messages::NotReferenced::NotAtRest => NotReferenced::Moving,
            messages::NotReferenced::Already => NotReferenced::Already,
            messages::NotReferenced::OutsideTravel => NotReferenced::Outside,
            // Another rig than the one that was met.
            messages::NotReferenced::NoAxis => NotReferenced::NotTaken,
        };
        self.push_event(LinkEvent::NotReferenced(why));
    }
}
