//! The rig's clock as seen from here.
//!
//! Each telling carries the rig's clock. The one that arrived with the least delay is the closest to
//! the truth, so the estimate is the smallest difference seen in the last five to ten seconds: long
//! enough to meet an undelayed telling, short enough that 100 ppm of drift stays under a millisecond.

use stillhand_engine::time::{Span, Time};

/// Length of one of the two windows over which the smallest difference is kept.
const WINDOW: Span = Span::from_millis(5_000);

/// An estimate of a rig's wrapping microsecond clock.
#[derive(Clone, Copy, Debug, Default)]
pub struct RigClock {
    last_us: Option<u32>,
    /// The rig's clock without the wrap, from the first telling on.
    unwrapped_us: i64,
    window_began: Time,
    /// Smallest (here - rig) in microseconds in this window and the one before.
    least: Option<i64>,
    least_before: Option<i64>,
}

impl RigClock {
    /// Takes the clock of a telling that arrived at `now`.
    pub fn told(&mut self, now: Time, clock_us: u32) {
        let here_us = (now.0 / 1_000) as i64;
        match self.last_us {
            None => self.unwrapped_us = i64::from(clock_us),
            Some(last) => {
                // Signed, so that a telling out of order steps back instead of round.
                self.unwrapped_us += i64::from(clock_us.wrapping_sub(last).cast_signed());
            }
        }
        self.last_us = Some(clock_us);
        if now.since(self.window_began) >= WINDOW {
            self.window_began = now;
            self.least_before = self.least.take();
        }
        let difference = here_us - self.unwrapped_us;
        self.least = Some(self.least.map_or(difference, |least| least.min(difference)));
    }

    /// What the rig's clock reads at `now`, a little behind rather than ahead; `None` before the
    /// first telling.
    pub fn at(&self, now: Time) -> Option<u32> {
        let least = match (self.least, self.least_before) {
            (Some(a), Some(b)) => a.min(b),
            (Some(one), None) | (None, Some(one)) => one,
            (None, None) => return None,
        };
        // Truncation is the wrap.
        Some(((now.0 / 1_000) as i64 - least) as u32)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_least_delayed_telling_counts_and_wraps_do_no_harm() {
        let mut clock = RigClock::default();
        let start = u32::MAX - 1_000_000;
        for i in 0..200_u64 {
            let sent_us = 20_000 * i;
            let delay_us = [9_000, 300, 4_000, 70_000][i as usize % 4];
            let now = Time((sent_us + delay_us) * 1_000);
            clock.told(now, start.wrapping_add(sent_us as u32));
        }
        let now_us = 20_000 * 200_u64;
        let read = clock.at(Time(now_us * 1_000));
        assert_eq!(
            read,
            Some(start.wrapping_add(now_us as u32).wrapping_sub(300))
        );
    }

    #[test]
    fn a_drifting_clock_is_followed() {
        let mut clock = RigClock::default();
        for i in 0..3_000_u64 {
            let here_us = 20_000 * i;
            // 100 ppm slow.
            clock.told(Time(here_us * 1_000), (here_us - here_us / 10_000) as u32);
        }
        let here_us = 60_000_000_u64;
        let read = i64::from(clock.at(Time(here_us * 1_000)).unwrap_or(0));
        let truth = (here_us - here_us / 10_000) as i64;
        assert!((truth - read).abs() <= 1_000, "{read} against {truth}");
    }
}
