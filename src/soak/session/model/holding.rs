//! Which pad holds what, and what is lost with it.

use super::{Consents, Model, Turn};
use stillhand_engine::MAX_PADS;
use stillhand_engine::input::PadId;
use stillhand_engine::operator::{Hand, MAX_GROUPS};
use stillhand_engine::output::{Mover, Notice};

impl Model {
    pub(super) fn held_by(&self, id: PadId) -> [bool; MAX_GROUPS] {
        self.holders.map(|holder| holder == Some(id))
    }

    pub(super) fn holds_any(&self, id: PadId) -> bool {
        self.holders.contains(&Some(id))
    }

    /// A pad that may drive gets what nobody holds.
    pub(super) fn fill(&mut self, id: PadId) {
        let groups = self.operator.groups.len();
        for holder in self.holders.iter_mut().take(groups) {
            *holder = holder.or(Some(id));
        }
    }

    /// What a pad held is lost, and goes to the first one that may drive and holds nothing.
    pub(super) fn gone(&mut self, id: PadId) {
        if !self.holds_any(id) {
            return;
        }
        self.lose(self.held_by(id));
        self.holders = self.holders.map(|holder| holder.filter(|by| *by != id));
        let ids = (0..MAX_PADS as u8).map(PadId);
        let mut free = ids.filter(|id| self.known(*id).is_some_and(|pad| pad.drives));
        if let Some(next) = free.find(|id| !self.holds_any(*id)) {
            self.fill(next);
        }
    }

    /// Withholds these groups. Others that count, or inch, go on.
    pub(super) fn lose(&mut self, lost: [bool; MAX_GROUPS]) {
        let mut others = false;
        for (place, hand) in self.operator.hands.iter().enumerate() {
            if lost[usize::from(hand.group)] {
                self.consents[place] = Consents::default();
            } else {
                let axis = usize::from(hand.axis);
                others |= self.counts(place) || self.inched[axis];
                others |= self.before[axis].mover == Mover::Inching;
            }
        }
        self.driving &= others;
    }

    /// A group that passes does so at rest, to a pad that may drive and is let go.
    pub(super) fn passes(&mut self, turn: &Turn<'_>) -> Result<(), String> {
        let outputs = turn.outputs;
        let applied = outputs.notices.iter().any(|n| n == Notice::ProfileApplied);
        let groups = turn.offered.map(|offered| &offered.groups);
        let regroups = applied && groups != Some(&self.operator.groups);
        for notice in outputs.notices.iter() {
            let Notice::Holds {
                group,
                pad: Some(to),
            } = notice
            else {
                continue;
            };
            let place = usize::from(group);
            // Whoever held it for a part of this tick only is no matter, unless groups change after it.
            let holds = regroups || outputs.status.groups[place].pad == Some(to);
            let known_group = place < self.operator.groups.len();
            if !holds || !known_group || self.holders[place] == Some(to) {
                continue;
            }
            let own = |hand: &Hand| hand.group == group;
            let hands = &self.operator.hands;
            let of_group = |axis| hands.iter().any(|h| own(h) && usize::from(h.axis) == axis);
            let may = self.known(to).is_some_and(|pad| pad.drives);
            // With another profile everything is withheld, whoever holds it.
            let fits = applied || self.at_rest(of_group) && self.is_centred(to, own);
            if !may || !fits {
                return Err(format!(
                    "group {group} passed to {to:?} while it moves or is not let go"
                ));
            }
            self.holders[place] = Some(to);
            self.lose(std::array::from_fn(|group| group == place));
        }
        Ok(())
    }
}
