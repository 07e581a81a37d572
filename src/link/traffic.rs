//! What went over the line, and what of it was lost.
//!
//! A velocity frame is **lost** if it left here whole, a later one of its session was taken by the
//! rig, and it itself was not. The rig tells the number it took last and how many it took; here is
//! known which numbers left at all. A number that never left (a frame waiting for the port that a newer
//! one replaced, or one made while there was no session) is a gap of our own and not a loss.
//! What left after the last number taken is on its way and not judged.

/// Departures that are remembered: half a second of silence (after which the link counts as lost) at the
/// highest rate of 1000 frames/s, twice over.
const REMEMBERED: usize = 1_024;

/// What went over the line.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, serde::Serialize)]
pub struct Traffic {
    /// Velocity frames that left whole.
    pub sent: u64,
    /// Velocity frames that left and were overtaken by one the rig took, without being taken.
    pub lost: u64,
    /// Runs of bytes that were no message of the rig.
    pub damaged: u64,
}

/// A number that left, and how many had left in its session with it.
#[derive(Clone, Copy, Debug, Default)]
struct Departure {
    seq: u32,
    count: u32,
}

/// Counts [`Traffic`].
#[derive(Debug)]
pub struct Ledger {
    departures: Box<[Departure; REMEMBERED]>,
    /// Frames that left in this session.
    left: u32,
    /// Frames lost in this session so far.
    lost: u64,
    /// In all.
    traffic: Traffic,
}

impl Default for Ledger {
    fn default() -> Ledger {
        Ledger {
            departures: Box::new([Departure::default(); REMEMBERED]),
            left: 0,
            lost: 0,
            traffic: Traffic::default(),
        }
    }
}

impl Ledger {
    /// The figures so far, over all sessions.
    pub fn traffic(&self) -> Traffic {
        self.traffic
    }

    /// A new session: numbers begin again.
    pub fn begin(&mut self) {
        *self.departures = [Departure::default(); REMEMBERED];
        self.left = 0;
        self.lost = 0;
    }

    /// Velocity frame `seq` (never 0) left whole. `ours` unless it belongs to a session that has ended.
    pub fn left(&mut self, seq: u32, ours: bool) {
        self.traffic.sent += 1;
        if ours {
            self.left = self.left.wrapping_add(1);
            let count = self.left;
            self.departures[seq as usize % REMEMBERED] = Departure { seq, count };
        }
    }

    /// The rig took `applied` last, and `accepted` in all. A rig that tells what can't be, a number that never
    /// left or more than left, is not counted.
    pub fn told(&mut self, applied: u32, accepted: u32) {
        let departure = self.departures[applied as usize % REMEMBERED];
        if applied == 0 || departure.seq != applied {
            return;
        }
        let lost = u64::from(departure.count.saturating_sub(accepted));
        if let Some(more) = lost.checked_sub(self.lost) {
            self.traffic.lost += more;
            self.lost = lost;
        }
    }

    /// A run of bytes was no message.
    pub fn damaged(&mut self) {
        self.traffic.damaged += 1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn figures(ledger: &Ledger) -> (u64, u64) {
        (ledger.traffic().sent, ledger.traffic().lost)
    }

    #[test]
    fn a_gap_of_our_own_is_no_loss() {
        let mut ledger = Ledger::default();
        ledger.begin();
        // 3 and 4 were replaced while they waited; 6 was lost on the way.
        for seq in [1, 2, 5, 6, 7] {
            ledger.left(seq, true);
        }
        ledger.told(2, 2);
        assert_eq!(figures(&ledger), (5, 0));
        ledger.told(5, 3);
        assert_eq!(figures(&ledger), (5, 0), "6 and 7 are on their way");
        ledger.told(7, 4);
        assert_eq!(figures(&ledger), (5, 1));
        ledger.told(7, 4);
        assert_eq!(figures(&ledger), (5, 1), "told again");
    }

    #[test]
    fn sessions_add_up_and_an_old_frame_belongs_to_none() {
        let mut ledger = Ledger::default();
        ledger.begin();
        ledger.left(1, true);
        ledger.left(2, true);
        ledger.told(2, 1);
        ledger.begin();
        ledger.left(3, false);
        ledger.told(2, 1);
        assert_eq!(figures(&ledger), (3, 1), "2 was of the session before");
        ledger.left(1, true);
        ledger.left(2, true);
        ledger.left(3, true);
        ledger.told(3, 1);
        assert_eq!(figures(&ledger), (6, 3));
    }

    #[test]
    fn impossible_tellings_are_survived() {
        let mut ledger = Ledger::default();
        ledger.begin();
        ledger.left(1, true);
        for (applied, accepted) in [(0, 0), (9, 0), (1, u32::MAX), (1025, 0), (u32::MAX, 5)] {
            ledger.told(applied, accepted);
        }
        assert_eq!(figures(&ledger), (1, 0));
    }

    #[test]
    fn long_sessions_are_exact() {
        let mut ledger = Ledger::default();
        ledger.begin();
        let (mut accepted, mut lost) = (0, 0);
        for seq in 1..=100_000_u32 {
            // Every 7th is never sent, every 11th of the others is lost; tellings come 500 frames late.
            let sent = seq % 7 != 0;
            if sent {
                ledger.left(seq, true);
            }
            let due = seq.saturating_sub(500);
            if due > 0 && due % 7 != 0 {
                if due % 11 == 0 {
                    lost += 1;
                } else {
                    accepted += 1;
                    ledger.told(due, accepted);
                    assert_eq!(ledger.traffic().lost, lost, "at {due}");
                }
            }
        }
        assert!(lost > 7_000);
    }
}
