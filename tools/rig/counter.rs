//! Step generation: an exact phase accumulator.

use crate::stop::TICK;
use stillhand_wire::messages::VELOCITY_SCALE;

/// Phase units per count. A velocity unit (1/1024 count/s) held for a time unit (1/16 ms) is one phase unit, so nothing is ever rounded.
pub(crate) const PHASE_PER_COUNT: i64 = VELOCITY_SCALE as i64 * crate::stop::TIME_UNITS_PER_S;

/// Counts what is commanded: the nearest whole count, and the rest in `-PHASE_PER_COUNT/2 .. PHASE_PER_COUNT/2`.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Counter {
    count: i32,
    phase: i64,
}

impl Counter {
    pub(crate) fn at(count: i32) -> Self {
        Self { count, phase: 0 }
    }

    pub(crate) fn count(self) -> i32 {
        self.count
    }

    /// Moves at `velocity` (1/1024 count/s) for one tick. The count wraps.
    pub(crate) fn advance(&mut self, velocity: i64) {
        let phase = self.phase + velocity * TICK;
        let half = PHASE_PER_COUNT / 2;
        let steps = (phase + half).div_euclid(PHASE_PER_COUNT);
        self.phase = phase - steps * PHASE_PER_COUNT;
        // At most 2^31 / 1024 / 1000 counts per tick, so the conversion keeps the value.
        self.count = self.count.wrapping_add(steps as i32);
    }

    /// Moves by whole counts at once. The count wraps.
    pub(crate) fn shift(&mut self, counts: i32) {
        self.count = self.count.wrapping_add(counts);
    }

    /// Phase units from here up to the count `end`, negative if it lies below.
    pub(crate) fn up_to(self, end: i32) -> i64 {
        (i64::from(end) - i64::from(self.count)) * PHASE_PER_COUNT - self.phase
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 0.01 deg/s at 27.7778 counts/deg is 284 units of 1/1024 count/s; whole counts per second would be 0.
    #[test]
    fn a_slow_creep_keeps_every_count() {
        for sign in [1, -1] {
            let mut counter = Counter::at(0);
            for ms in 1..=60_000_i64 {
                counter.advance(284 * sign);
                let exact = (284 * ms * 2 + 1_024_000).div_euclid(2 * 1_024_000);
                if sign > 0 {
                    assert_eq!(i64::from(counter.count()), exact, "after {ms} ms");
                }
            }
            assert_eq!(
                i64::from(counter.count()),
                17 * sign,
                "0.6 deg are 16.67 counts"
            );
        }
    }

    #[test]
    fn there_and_back_is_exactly_home_and_counts_wrap() {
        let mut counter = Counter::at(i32::MAX - 3);
        let mut highest_seen = false;
        for _ in 0..5000 {
            counter.advance(i64::from(i32::MAX));
            highest_seen |= counter.count() < 0;
        }
        assert!(highest_seen, "it went over the edge of the number range");
        for _ in 0..5000 {
            counter.advance(-i64::from(i32::MAX));
        }
        assert_eq!((counter.count(), counter.phase), (i32::MAX - 3, 0));
    }
}
