//! Taking over another file of a rig.
//!
//! Travel and stop sets are the rig's to keep as well, so whatever changes in its file, the two
//! have to meet again: the new file comes into force at rest, with every stick centred, and the
//! link is lost until the rig has been told.

use super::Engine;
use crate::operate::state::Event;
use crate::output::{Notice, Wait, Why};
use crate::rig::{Axis, Rig};
use alloc::boxed::Box;

/// What an edit of a rig file is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RigEdit {
    /// Another rig: its identity, or the names, number, order or units of its axes. Takes a new
    /// start of the daemon.
    Identity,
    /// Which way is plus: mount or wiring.
    Sense,
    /// Counts per unit.
    Scale,
    /// Where an axis may go.
    Travel,
    /// How far its parts reach.
    Reach,
    /// The highest speed.
    Speed,
    /// Normal or stop sets.
    Sets,
    /// Whether an axis asks for an enable control.
    Enable,
    /// Whether its motor may hold with a lowered current.
    Current,
    /// Delay, frame period, watchdog.
    Link,
}

/// Every edit between two files of a rig, with the place of the axis; `None` for the whole rig.
pub fn rig_edits(old: &Rig, new: &Rig, tell: &mut impl FnMut(RigEdit, Option<usize>)) {
    let named = |axis: &Axis, other: &Axis| axis.name == other.name && axis.unit == other.unit;
    let same_axes = old.axes.len() == new.axes.len()
        && old
            .axes
            .iter()
            .zip(new.axes.iter())
            .all(|(a, b)| named(a, b));
    if old.id != new.id || !same_axes {
        tell(RigEdit::Identity, None);
        return;
    }
    let link = |rig: &Rig| (rig.delay, rig.frame_period, rig.watchdog);
    if link(old) != link(new) {
        tell(RigEdit::Link, None);
    }
    for (place, (old, new)) in old.axes.iter().zip(new.axes.iter()).enumerate() {
        let changed = [
            (RigEdit::Sense, old.sense != new.sense),
            (RigEdit::Scale, old.counts_per_unit != new.counts_per_unit),
            (RigEdit::Travel, old.travel != new.travel),
            (RigEdit::Reach, old.reach_mm != new.reach_mm),
            (RigEdit::Speed, old.speed != new.speed),
            (RigEdit::Sets, old.limits != new.limits),
            (RigEdit::Enable, old.needs_enable != new.needs_enable),
            (
                RigEdit::Current,
                old.may_lower_current != new.may_lower_current,
            ),
        ];
        for (edit, _) in changed.iter().filter(|(_, changed)| *changed) {
            tell(*edit, Some(place));
        }
    }
}

/// What the change from `old` to `new` waits for; `None` if it takes a new start.
pub fn rig_wait_for(old: &Rig, new: &Rig) -> Option<Wait> {
    let mut wait = Some(Wait::Nothing);
    rig_edits(old, new, &mut |edit, _| match edit {
        RigEdit::Identity => wait = None,
        RigEdit::Sense
        | RigEdit::Scale
        | RigEdit::Travel
        | RigEdit::Reach
        | RigEdit::Speed
        | RigEdit::Sets
        | RigEdit::Enable
        | RigEdit::Current
        | RigEdit::Link => wait = wait.map(|_| Wait::RestAndCentred),
    });
    wait
}

impl Engine {
    /// A rig file that is out of use, once; a turn may bring two. Whoever may free memory takes it;
    /// nobody has to.
    pub fn retired_rig(&mut self) -> Option<Box<Rig>> {
        self.retired_rigs.pop()
    }

    /// Whether a changed rig file waits, for rest and every stick centred.
    pub fn rig_waits(&self) -> bool {
        self.waiting_rigs.iter().any(Option::is_some)
    }

    /// Takes a new rig file in; a newer one replaces one that still waits.
    pub(super) fn offer_rig(&mut self, place: u8, rig: Box<Rig>) {
        let present = self.rigs.get(usize::from(place));
        let wait = present.and_then(|present| rig_wait_for(present.file(), &rig));
        match wait {
            None => {
                self.outputs.notices.push(Notice::RigRefused(place));
                self.retired_rigs.push(rig);
            }
            // The file in force, too: it takes back an edit that still waits.
            Some(wait) => {
                if let Some(replaced) = self.waiting_rigs[usize::from(place)].replace(rig) {
                    self.retired_rigs.push(replaced);
                }
                if wait != Wait::Nothing && !self.at_rest_and_centred() {
                    self.outputs.notices.push(Notice::RigWaits(wait));
                }
            }
        }
    }

    /// Takes a waiting rig file over when its moment has come, whole. One in a tick: only one can be
    /// handed back.
    pub(super) fn watch_rigs(&mut self) {
        let moment = self.at_rest_and_centred();
        for (place, waiting) in self.waiting_rigs.iter_mut().enumerate() {
            let Some(present) = self.rigs.get_mut(place) else {
                return;
            };
            let wait = waiting
                .as_ref()
                .and_then(|rig| rig_wait_for(present.file(), rig));
            let nothing = wait == Some(Wait::Nothing);
            if !nothing && !moment {
                continue;
            }
            let Some(mut rig) = waiting.take() else {
                continue;
            };
            if nothing {
                self.retired_rigs.push(rig);
                return;
            }
            present.replace(&mut rig, self.period);
            self.retired_rigs.push(rig);
            self.outputs.notices.push(Notice::RigApplied(place as u8));
            self.happen(Event::Lost(Why::RigChanged));
            return;
        }
    }
}
