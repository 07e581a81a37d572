//! When to look for what gilrs missed, and when to stop believing it.
//!
//! gilrs opens its hotplug monitor in a thread that may start after it returned: a pad plugged in
//! between is lost to it. It also takes one hotplug message per wake-up, so that of two pads pulled
//! at once the second stays "connected". And between a hang-up and the kernel's remove message it
//! returns at once, again and again, with nothing. So its list is compared with the kernel's now
//! and then, and it is made anew when the two disagree for longer than a message takes.

use stillhand_engine::time::{Span, Time};

/// The first look: the monitor's thread has started by then, or the next look finds what it missed.
const FIRST: Span = Span::from_millis(250);
/// Between looks while all is well. A look costs some tens of microseconds.
const AGAIN: Span = Span::from_millis(1000);
/// Between looks while something does not fit.
const SOON: Span = Span::from_millis(50);
/// How long gilrs may disagree with the kernel: its messages take milliseconds, on a loaded
/// machine a tenth of a second.
const PATIENCE: Span = Span::from_millis(200);
/// Between two new beginnings, so that a broken device can't make them the rule.
const BETWEEN: Span = Span::from_millis(2000);
/// The longest single wait: an end of the daemon is noticed within it.
const LONGEST_WAIT: Span = Span::from_millis(100);
/// Returns without an event in a row that are usual: one after each report, when its closing mark
/// has been read.
const USUAL_RETURNS: u32 = 2;

/// What is known of gilrs' trustworthiness.
#[derive(Debug)]
pub(super) struct Lookout {
    next: Time,
    doubt: Option<Time>,
    hung: Option<Time>,
    returns: u32,
    renewed: Option<Time>,
}

impl Lookout {
    pub(super) fn new(now: Time) -> Lookout {
        Lookout {
            next: now + FIRST,
            doubt: None,
            hung: None,
            returns: 0,
            renewed: None,
        }
    }

    /// How long to wait for an event: until the next look, within bounds.
    pub(super) fn wait(&self, now: Time) -> Span {
        self.next.since(now).shorter(LONGEST_WAIT)
    }

    pub(super) fn is_due(&self, now: Time) -> bool {
        now >= self.next
    }

    /// An event came.
    pub(super) fn heard(&mut self) {
        self.returns = 0;
    }

    /// A hotplug message came: whatever else it should have told is looked for soon.
    pub(super) fn hotplug(&mut self, now: Time) {
        self.look_by(now + SOON);
    }

    /// The whole wait passed without an event: nothing has hung up.
    pub(super) fn rested(&mut self) {
        self.returns = 0;
        self.hung = None;
    }

    /// The wait ended at once without an event. `true` when that has become a habit: then the
    /// caller must pause, or it would spin.
    pub(super) fn returned_at_once(&mut self, now: Time) -> bool {
        self.returns = self.returns.saturating_add(1);
        if self.returns <= USUAL_RETURNS {
            return false;
        }
        if self.hung.is_none() {
            self.hung = Some(now);
            self.look_by(now);
        }
        true
    }

    /// Takes the outcome of a look. `true` if gilrs must be made anew.
    pub(super) fn judge(&mut self, now: Time, fits: bool) -> bool {
        if fits && self.hung.is_none() {
            self.doubt = None;
            self.next = now + AGAIN;
            return false;
        }
        self.next = now + SOON;
        let since = *self.doubt.get_or_insert(now);
        let may = self
            .renewed
            .is_none_or(|renewed| now.since(renewed) >= BETWEEN);
        may && now.since(since) >= PATIENCE
    }

    /// gilrs was made anew, or that was tried.
    pub(super) fn renewed(&mut self, now: Time) {
        *self = Lookout {
            renewed: Some(now),
            ..Lookout::new(now)
        };
    }

    fn look_by(&mut self, when: Time) {
        if when < self.next {
            self.next = when;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ms(ms: u64) -> Time {
        Time::default() + Span::from_millis(ms)
    }

    #[test]
    fn a_lasting_disagreement_is_acted_on_once() {
        let mut lookout = Lookout::new(ms(0));
        assert!(!lookout.is_due(ms(249)) && lookout.is_due(ms(250)));
        assert!(!lookout.judge(ms(250), false), "a message may be under way");
        assert!(!lookout.judge(ms(400), false));
        assert!(lookout.judge(ms(450), false));
        lookout.renewed(ms(450));
        assert!(!lookout.judge(ms(700), false));
        assert!(!lookout.judge(ms(2400), false), "not again so soon");
        assert!(lookout.judge(ms(2450), false));
    }

    #[test]
    fn a_passing_disagreement_is_not() {
        let mut lookout = Lookout::new(ms(0));
        assert!(!lookout.judge(ms(250), false));
        assert!(!lookout.judge(ms(300), true));
        assert!(!lookout.judge(ms(1300), false));
        assert!(!lookout.judge(ms(1450), false));
    }

    #[test]
    fn usual_returns_do_not_slow_anything_and_a_hang_up_does() {
        let mut lookout = Lookout::new(ms(0));
        for _ in 0..100 {
            lookout.heard();
            assert!(!lookout.returned_at_once(ms(1)));
        }
        lookout.judge(ms(250), true);
        lookout.returned_at_once(ms(300));
        assert!(lookout.returned_at_once(ms(300)));
        assert!(lookout.is_due(ms(300)), "a hang-up asks for a look");
        assert!(!lookout.judge(ms(300), true));
        assert!(lookout.judge(ms(500), true), "and for a new beginning");
        lookout.rested();
        assert!(!lookout.judge(ms(550), true));
        assert_eq!(lookout.wait(ms(550)), LONGEST_WAIT);
    }
}
