//! A reference that is asked for: refused, or put to the rig with everything withheld until it was met anew.
//!
//! ```text
//!   asked ──at rest, let go──▶ pending ──link lost: taken, restarted──▶ met anew ──▶ taken, or not
//!     └── refused                 └── refused by the rig, no answer, link lost otherwise
//! ```

use super::Engine;
use crate::input::{LinkLoss, RigReport};
use crate::motion::rig::RigMotion;
use crate::operate::state::Event;
use crate::output::{Notice, State, Why};
use crate::reference::{NotReferenced, Reference, ReferenceStatus, Stands};
use crate::rig::Travel;

/// The most counts from 0 a reference may be: far inside of what a rig counts, so that no travel wraps.
const MOST_COUNTS: f64 = 1_073_741_824.0;
/// Counts between what was asked for and what the rig says of itself: its own rounding, and ours.
const ROUNDING_COUNTS: f64 = 2.0;

impl Engine {
    /// Takes a reference in: what it means is the rig's to know, so the rig is asked.
    pub(super) fn ask_reference(&mut self, asked: Reference) {
        if self.reference.is_pending() {
            return self.tell_reference(asked, Stands::Refused(NotReferenced::Busy));
        }
        let Some(refusal) = self.unfit_reference(&asked) else {
            return;
        };
        let stands = refusal.map_or(Stands::Asked, Stands::Refused);
        self.reference = ReferenceStatus {
            number: self.reference.number.wrapping_add(1).max(1),
            asked,
            stands,
        };
        self.tell_reference(asked, stands);
        if stands == Stands::Asked {
            self.happen(Event::Lost(Why::ReferenceAsked));
        }
    }

    /// Why it is refused, if it is; `None` if there is no such axis at all.
    fn unfit_reference(&self, asked: &Reference) -> Option<Option<NotReferenced>> {
        let rig = self.rigs.get(usize::from(asked.rig))?;
        let driven = rig.axes().get(usize::from(asked.axis))?;
        let file = &rig.file().axes[usize::from(asked.axis)];
        let idle = self
            .hands
            .iter()
            .all(|hand| hand.sustain.is_none() && !hand.inching.active());
        let at_rest = idle && !self.errand_runs() && self.rigs.iter().all(RigMotion::at_rest);
        let counts = asked.at * file.counts_per_unit;
        let inside = match file.travel {
            Travel::Continuous => true,
            Travel::Finite(ends) => ends.low().0 <= asked.at && asked.at <= ends.high().0,
        };
        Some(if !rig.ready() || self.state == State::Ending {
            Some(NotReferenced::NoLink)
        } else if self.modes.rolling.on() {
            Some(NotReferenced::Rolling)
        } else if !at_rest {
            Some(NotReferenced::Moving)
        } else if !self.all_centred() {
            Some(NotReferenced::Stick)
        } else if driven.referenced && !asked.again {
            Some(NotReferenced::Already)
        } else if !inside || counts.is_nan() || counts.abs() > MOST_COUNTS {
            Some(NotReferenced::Outside)
        } else {
            None
        })
    }

    /// The rig refused it, or gave no answer.
    pub(super) fn reference_refused(&mut self, rig: u8, why: NotReferenced) {
        if self.reference.is_pending() && self.reference.asked.rig == rig {
            self.settle_reference(Stands::Refused(why));
        }
    }

    /// The link was lost: that of a rig which took it, or whose answer was lost, is met anew.
    pub(super) fn reference_without_link(&mut self, rig: u8, loss: LinkLoss) {
        match loss {
            LinkLoss::Reference | LinkLoss::Restarted => {}
            LinkLoss::Unplugged
            | LinkLoss::Stalled
            | LinkLoss::Silent
            | LinkLoss::RigStopped
            | LinkLoss::Hushed
            | LinkLoss::Fault
            | LinkLoss::StopInput
            | LinkLoss::PowerOff
            | LinkLoss::Disagrees => self.reference_refused(rig, NotReferenced::LinkLost),
        }
    }

    /// The rig was met: whether it stands where it was told, it says itself.
    pub(super) fn reference_met(&mut self, rig: u8, report: &RigReport) {
        let ReferenceStatus { asked, .. } = self.reference;
        if !self.reference.is_pending() || asked.rig != rig {
            return;
        }
        let axis = usize::from(asked.axis);
        let count = self.rigs[usize::from(rig)].axes()[axis].facts.count;
        let told = &report.axes[axis];
        let there = (told.position - asked.at).abs() <= ROUNDING_COUNTS * count;
        self.settle_reference(match told.referenced && there {
            true => Stands::Taken,
            false => Stands::Refused(NotReferenced::NotTaken),
        });
    }

    fn settle_reference(&mut self, stands: Stands) {
        self.reference.stands = stands;
        self.tell_reference(self.reference.asked, stands);
    }

    fn tell_reference(&mut self, asked: Reference, stands: Stands) {
        let notice = Notice::Reference { asked, stands };
        self.outputs.notices.push(notice);
    }
}
