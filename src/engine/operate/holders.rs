//! Which pad holds which group of axes, who asks for one, and when it passes.

use crate::input::PadId;
use crate::operator::MAX_GROUPS;
use crate::time::{Span, Time};

/// A request nobody has answered is forgotten after this: whoever asked has moved on.
pub const ASK_LASTS: Span = Span::from_millis(15_000);

/// Who holds what.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Holders {
    groups: [Held; MAX_GROUPS],
    count: usize,
}

/// One group.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
struct Held {
    by: Option<PadId>,
    asked: Option<Asked>,
}

/// A request for a group.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
struct Asked {
    by: PadId,
    since: Time,
    /// Whether the pad that holds it has agreed.
    agreed: bool,
}

/// What asking led to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answer {
    /// The request stands; the holder has to agree, or nobody holds it and rest is waited for.
    Asked,
    /// The holder agreed to pass it to this pad.
    Agreed(PadId),
    /// There is nothing to ask or to agree to.
    Nothing,
}

impl Holders {
    /// Nobody holds any of `count` groups.
    pub fn of(count: usize) -> Holders {
        Holders {
            groups: [Held::default(); MAX_GROUPS],
            count: count.min(MAX_GROUPS),
        }
    }

    /// How many groups there are.
    pub const fn count(&self) -> usize {
        self.count
    }

    /// The pad that holds a group.
    pub fn holder(&self, group: u8) -> Option<PadId> {
        self.groups.get(usize::from(group))?.by
    }

    /// The pad that asks for a group.
    pub fn asking(&self, group: u8) -> Option<PadId> {
        Some(self.groups.get(usize::from(group))?.asked?.by)
    }

    /// Whether a pad holds any group.
    pub fn holds_any(&self, pad: PadId) -> bool {
        self.present().any(|(_, held)| held.by == Some(pad))
    }

    /// The pad that holds the first group that is held.
    pub fn first(&self) -> Option<PadId> {
        self.present().find_map(|(_, held)| held.by)
    }

    fn present(&self) -> impl Iterator<Item = (u8, &Held)> {
        let groups = self.groups.iter().take(self.count);
        groups.enumerate().map(|(place, held)| (place as u8, held))
    }

    /// Gives a pad every group that nobody holds; whether there was one.
    pub fn fill(&mut self, pad: PadId) -> bool {
        let mut any = false;
        for held in self.groups.iter_mut().take(self.count) {
            if held.by.is_none() {
                // A request made while it was free needs the consent of whoever holds it now.
                let asked = held.asked.filter(|asked| asked.by != pad);
                *held = Held {
                    by: Some(pad),
                    asked: asked.map(|asked| Asked {
                        agreed: false,
                        ..asked
                    }),
                };
                any = true;
            }
        }
        any
    }

    /// A pad is gone: it holds and asks for nothing more.
    pub fn gone(&mut self, pad: PadId) {
        for held in &mut self.groups {
            held.by = held.by.filter(|by| *by != pad);
            held.asked = held.asked.filter(|asked| asked.by != pad);
        }
    }

    /// A pad asks for a group, or agrees to pass it.
    pub fn ask(&mut self, now: Time, pad: PadId, group: u8) -> Answer {
        let Some(held) = self.groups.get_mut(usize::from(group)) else {
            return Answer::Nothing;
        };
        if held.by != Some(pad) {
            // Asking again does not take back what was agreed to.
            let agreed = held
                .asked
                .is_some_and(|asked| asked.by == pad && asked.agreed);
            held.asked = Some(Asked {
                by: pad,
                since: now,
                agreed: agreed || held.by.is_none(),
            });
            return Answer::Asked;
        }
        match &mut held.asked {
            Some(asked) => {
                asked.agreed = true;
                Answer::Agreed(asked.by)
            }
            None => Answer::Nothing,
        }
    }

    /// The group that may pass now, and the pad it passes to. `ready` tells whether a group is at
    /// rest and the receiving pad's sticks are centred.
    pub fn passing(&self, ready: impl Fn(u8, PadId) -> bool) -> Option<(u8, PadId)> {
        self.present().find_map(|(group, held)| {
            let asked = held.asked.filter(|asked| asked.agreed)?;
            ready(group, asked.by).then_some((group, asked.by))
        })
    }

    /// A group passes to a pad.
    pub fn pass(&mut self, group: u8, pad: PadId) {
        if let Some(held) = self.groups.get_mut(usize::from(group)) {
            *held = Held {
                by: Some(pad),
                asked: None,
            };
        }
    }

    /// Forgets a request that has become old; the group, if there was one.
    pub fn forget(&mut self, now: Time) -> Option<u8> {
        let old = |held: &Held| {
            held.asked
                .is_some_and(|asked| now.since(asked.since) >= ASK_LASTS)
        };
        let group = self
            .present()
            .find_map(|(g, held)| old(held).then_some(g))?;
        self.groups[usize::from(group)].asked = None;
        Some(group)
    }
}

#[cfg(test)]
mod tests;
