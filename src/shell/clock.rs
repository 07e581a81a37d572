//! The one place that reads the clock, and sleeps by it.

use rustix::thread::clock_nanosleep_absolute;
use rustix::time::{ClockId, Timespec, clock_gettime};
use stillhand_engine::time::{NANOS_PER_SEC, Span, Time};

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

    /// The system's monotonic clock itself: its times compare with those of other processes.
    pub const fn system() -> Clock {
        Clock { origin: 0 }
    }

    /// Sleeps until `due`, or less if a signal comes; not at all if `due` has passed.
    pub fn sleep_until(&self, due: Time) {
        let nanos = self.origin + due.0;
        let at = Timespec {
            tv_sec: (nanos / NANOS_PER_SEC).cast_signed(),
            tv_nsec: (nanos % NANOS_PER_SEC).cast_signed(),
        };
        // An interrupted sleep only brings its caller back early, and every caller looks again.
        let _ = clock_nanosleep_absolute(ClockId::Monotonic, &at);
    }

    /// The date, in seconds since 1970: for people to read, never to reckon with.
    pub fn date() -> u64 {
        // Before 1970 only on a machine that has lost its date.
        clock_gettime(ClockId::Realtime)
            .tv_sec
            .try_into()
            .unwrap_or(0)
    }

    /// The time that all cores together have spent on this process.
    pub fn spent() -> Span {
        Span(nanos(clock_gettime(ClockId::ProcessCPUTime)))
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
    nanos(clock_gettime(ClockId::Monotonic))
}

fn nanos(time: Timespec) -> u64 {
    // Both clocks that are read so count up from 0: neither part is ever negative.
    time.tv_sec.unsigned_abs() * NANOS_PER_SEC + time.tv_nsec.unsigned_abs()
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
