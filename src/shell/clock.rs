//! The one place that reads the clock.

use rustix::time::{ClockId, clock_gettime};
use stillhand_engine::time::{NANOS_PER_SEC, Time};

/// Monotonic time since this clock was made. Copies share their origin, so that times from
/// several threads compare.
#[derive(Clone, Copy, Debug)]
pub struct Clock {
    origin: u64,
}

impl Clock {
    /// A clock whose zero is now.
    pub fn new() -> Clock {
        Clock {
            origin: monotonic_nanos(),
        }
    }

    /// The time since the origin. It never goes back and does not follow changes of the date.
    pub fn now(&self) -> Time {
        Time(monotonic_nanos().saturating_sub(self.origin))
    }
}

impl Default for Clock {
    fn default() -> Clock {
        Clock::new()
    }
}

fn monotonic_nanos() -> u64 {
    let now = clock_gettime(ClockId::Monotonic);
    // CLOCK_MONOTONIC counts up from boot: neither part is ever negative.
    now.tv_sec.unsigned_abs() * NANOS_PER_SEC + now.tv_nsec.unsigned_abs()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn starts_at_zero_and_never_goes_back() {
        let clock = Clock::new();
        let twin = clock;
        let mut last = clock.now();
        assert!(last.0 < NANOS_PER_SEC, "a new clock reads {last:?}");
        for _ in 0..10_000 {
            let next = twin.now();
            assert!(next >= last);
            last = next;
        }
        assert!(last > Time(0), "the clock stands still");
    }
}
