//! Letting others breathe: in real time, a thread that never sleeps takes a core for itself.

use stillhand_engine::time::{Span, Time};

/// A wait of this long was a sleep and not just a look: pads that report 8000 times a second, the
/// most that USB's microframes allow (USB 2.0, 9.6.6: one each 125 us), leave more between two reports.
const SLEEP: Span = Span::from_micros(50);
/// The longest time without a sleep: a twentieth of what the kernel lets a real-time thread have
/// ([`crate::shell::realtime`]) before it ends the process.
const LONGEST: Span = Span::from_millis(10);

/// How long the thread has been at work without a sleep.
#[derive(Debug)]
pub(super) struct Breath {
    slept: Time,
}

impl Breath {
    pub(super) fn new(now: Time) -> Breath {
        Breath { slept: now }
    }

    /// Takes a wait that began at `asked` and ends `now`. `true` when the thread is due for a sleep.
    pub(super) fn is_due(&mut self, asked: Time, now: Time) -> bool {
        if now.since(asked) >= SLEEP {
            self.slept = now;
        }
        let due = now.since(self.slept) >= LONGEST;
        if due {
            self.slept = now;
        }
        due
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn us(us: u64) -> Time {
        Time::default() + Span::from_micros(us)
    }

    #[test]
    fn a_flood_is_paused_and_a_fast_pad_is_not() {
        let mut breath = Breath::new(us(0));
        // An event each 10 us, without end.
        let due = (1..=3_000).filter(|n| breath.is_due(us(10 * n - 1), us(10 * n)));
        assert_eq!(due.collect::<Vec<_>>(), [1_000, 2_000, 3_000]);
        // Four events each 125 us, and a wait between.
        let mut breath = Breath::new(us(0));
        for report in 0..8_000_u64 {
            let at = 125 * report;
            assert!(!breath.is_due(us(at.saturating_sub(80)), us(at)) || report == 0);
            assert!((1..4).all(|n| !breath.is_due(us(at + 9 * n), us(at + 10 * n))));
        }
    }
}
