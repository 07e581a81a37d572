//! The state of a bench rig's mischief: what is due, and what is wrong with its voice and ears.

use crate::link::mischief::{Event, Mischief};
use stillhand_engine::time::{Span, Time};

/// A rig that finds its reference by itself does so after this long at rest.
const HOMING: Span = Span::from_millis(1_000);

#[derive(Debug, Default)]
pub(super) struct Trouble {
    mischief: Mischief,
    /// How many of the timed events have happened.
    done: usize,
    /// When the first setup was accepted.
    zero: Option<Time>,
    lose_percent: u8,
    /// Hundredths of a telling that are owed to the loss.
    owed: u8,
    mute: bool,
    /// The port is not read.
    pub(super) deaf: bool,
    /// Positions are told as an encoder sees them.
    pub(super) encoder: bool,
    /// The rig will find its reference by itself.
    pub(super) homing: bool,
    /// Since when nothing has moved while it looks for it.
    still_since: Option<Time>,
}

impl Trouble {
    pub(super) fn new(mischief: Mischief) -> Trouble {
        Trouble {
            mischief,
            ..Trouble::default()
        }
    }

    /// The first setup was accepted: the script begins.
    pub(super) fn begin(&mut self, at: Time) {
        self.zero.get_or_insert(at);
    }

    /// The next event that is due.
    pub(super) fn due(&mut self, at: Time) -> Option<Event> {
        let since = at.since(self.zero?);
        let (when, event) = *self.mischief.events.get(self.done)?;
        if when > since {
            return None;
        }
        self.done += 1;
        Some(event)
    }

    /// What happens before anything else.
    pub(super) fn now(&self) -> Vec<Event> {
        self.mischief.now.clone()
    }

    pub(super) fn lose(&mut self, percent: u8) {
        self.lose_percent = percent;
        self.owed = 0;
    }

    pub(super) fn mute(&mut self, mute: bool) {
        self.mute = mute;
    }

    /// Whether this telling leaves the rig.
    pub(super) fn speaks(&mut self) -> bool {
        // Both are at most 100.
        self.owed += self.lose_percent;
        let lost = self.owed >= 100;
        if lost {
            self.owed -= 100;
        }
        !lost && !self.mute
    }

    /// Whether the reference has just been found: nothing has moved for long enough.
    pub(super) fn finds_reference(&mut self, at: Time, still: bool) -> bool {
        if !self.homing || !still {
            self.still_since = None;
            return false;
        }
        let since = *self.still_since.get_or_insert(at);
        let found = at.since(since) >= HOMING;
        if found {
            self.homing = false;
            self.still_since = None;
        }
        found
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn so_many_of_a_hundred_are_lost_evenly() {
        for percent in [0, 1, 30, 99, 100] {
            let mut trouble = Trouble::default();
            trouble.lose(percent);
            let spoken = (0..1000).filter(|_| trouble.speaks()).count();
            assert_eq!(spoken, 1000 - 10 * usize::from(percent));
        }
    }

    #[test]
    fn events_come_in_time_from_the_first_setup() {
        let text = "0 DEAF\n0.5 HEAR\n0.5 DRIVE 7";
        let mischief = Mischief::parse("mischief", text, &[]).expect("good");
        let mut trouble = Trouble::new(mischief);
        assert_eq!(trouble.due(Time(0) + Span::from_millis(900)), None);
        let zero = Time(0) + Span::from_millis(1_000);
        trouble.begin(zero);
        trouble.begin(zero + Span::from_millis(400));
        assert_eq!(trouble.due(zero), Some(Event::Deaf(true)));
        assert_eq!(trouble.due(zero + Span::from_millis(499)), None);
        let half = zero + Span::from_millis(500);
        assert_eq!(trouble.due(half), Some(Event::Deaf(false)));
        assert_eq!(trouble.due(half), Some(Event::Drive(7)));
        assert_eq!(trouble.due(half), None);
    }

    #[test]
    fn the_reference_is_found_after_a_second_of_rest() {
        let mut trouble = Trouble::default();
        let at = |ms| Time(0) + Span::from_millis(ms);
        assert!(!trouble.finds_reference(at(0), true));
        assert!(!trouble.finds_reference(at(5_000), true), "not asked to");
        trouble.homing = true;
        assert!(!trouble.finds_reference(at(6_000), true));
        assert!(!trouble.finds_reference(at(6_900), false), "it moved");
        assert!(!trouble.finds_reference(at(7_000), true));
        assert!(!trouble.finds_reference(at(7_999), true));
        assert!(trouble.finds_reference(at(8_000), true));
        assert!(!trouble.finds_reference(at(9_500), true), "once");
    }
}
