//! Whether a pad's reports come all the time: seen, not believed.
//!
//! A pad that reports what changes also reports often, while a stick moves; held still it says nothing, and must
//! not be taken for one that is gone. So reports count here as long as nothing changes.

use stillhand_engine::operate::life::STREAMING_BOUND;
use stillhand_engine::time::{Span, Time};

/// Reports have to come for so long while nothing changes.
const SEEN_FOR: Span = Span::from_millis(2_000);
/// So many a second at least.
const RATE: u64 = 20;
/// With no gap as long as this, half of the silence that would mean loss.
const GAP: Span = Span(STREAMING_BOUND.0 / 2);
/// Silent for so long it streams no more. By then the engine has stopped what moved.
const ENDED: Span = Span(STREAMING_BOUND.0 * 2);
/// Each time it ends, it has to be seen for twice as long; up to so many times.
const MOST_ENDS: u32 = 5;

/// One pad's reports in time.
#[derive(Clone, Debug, Default)]
pub(super) struct Streams {
    /// Since when reports have come without a gap or a change, and how many.
    still: Option<(Time, u64)>,
    last: Time,
    streams: bool,
    /// How often it ended.
    ends: u32,
}

impl Streams {
    /// Takes in the reports since the last look, and when anything of the pad last changed. Whether it streams.
    pub(super) fn look(&mut self, now: Time, reports: u32, changed: Time) -> bool {
        let silent = now.since(self.last);
        if silent >= GAP {
            self.still = None;
        }
        // A late look has seen no silence if there is something to read.
        if self.streams && reports == 0 && silent >= ENDED {
            self.streams = false;
            self.ends = (self.ends + 1).min(MOST_ENDS);
        }
        if reports > 0 {
            self.last = now;
            let (since, count) = match self.still {
                Some((since, count)) if since > changed => (since, count + u64::from(reports)),
                // The first one may be as old as the last look.
                Some(_) | None => (now, 0),
            };
            self.still = Some((since, count));
            let seen = now.since(since);
            self.streams |=
                seen >= Span(SEEN_FOR.0 << self.ends) && count * 1_000_000_000 >= RATE * seen.0;
        }
        self.streams
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ms(ms: u64) -> Time {
        Time::default() + Span::from_millis(ms)
    }

    /// Looks every 20 ms, as the thread does; `reports` says how many came since the last look. The first
    /// moment at which it streams, in ms.
    fn first(
        streams: &mut Streams,
        looks: std::ops::Range<u64>,
        reports: impl Fn(u64) -> u32,
        changed: impl Fn(u64) -> u64,
    ) -> Option<u64> {
        let mut looks = looks.step_by(20);
        looks.find(|at| streams.look(ms(*at), reports(*at), ms(changed(*at))))
    }

    #[test]
    fn reports_while_nothing_changes_are_a_stream() {
        for (reports, expected) in [
            (5, Some(3_000)),
            (1, Some(3_000)),
            // Every 40 ms, 25 a second.
            (25, Some(3_000)),
            // Every 60 ms, which is too slow.
            (16, None),
        ] {
            let each = |at: u64| match reports {
                25 => u32::from(at.is_multiple_of(40)),
                16 => u32::from(at.is_multiple_of(60)),
                more => more,
            };
            let found = first(&mut Streams::default(), 1_000..9_000, each, |_| 0);
            assert_eq!(found, expected, "{reports}");
        }
    }

    #[test]
    fn reports_of_changes_are_none() {
        // A stick that is moved for a minute, never still for two seconds; each change is a report.
        let found = first(&mut Streams::default(), 1_000..61_000, |_| 5, |at| at);
        assert_eq!(found, None);
        let now_and_then = |at: u64| at - at % 1_980;
        let found = first(&mut Streams::default(), 1_000..61_000, |_| 5, now_and_then);
        assert_eq!(found, None);
        // Held still from the fourth second on.
        let found = first(
            &mut Streams::default(),
            1_000..61_000,
            |_| 5,
            |at| at.min(4_000),
        );
        assert_eq!(found, Some(6_020));
        // Held still, and reports end with it.
        let held = |at| u32::from(at < 4_000);
        let found = first(&mut Streams::default(), 1_000..61_000, held, |at| {
            at.min(4_000)
        });
        assert_eq!(found, None);
    }

    #[test]
    fn gaps_begin_anew() {
        let gaps = |at: u64| u32::from(at % 1_500 >= 160);
        let found = first(&mut Streams::default(), 1_000..61_000, gaps, |_| 0);
        assert_eq!(found, None);
        let short = |at: u64| u32::from(at % 1_500 >= 120);
        let found = first(&mut Streams::default(), 1_500..61_000, short, |_| 0);
        assert!(found.is_some_and(|at| at < 4_000), "{found:?}");
    }

    /// Once seen it streams whatever changes, until it has been silent for longer than the engine lets it;
    /// then it has to be seen for longer than before.
    #[test]
    fn a_stream_that_ends_is_believed_less() {
        let mut streams = Streams::default();
        assert_eq!(first(&mut streams, 1_000..9_000, |_| 5, |_| 0), Some(3_000));
        assert!(streams.look(ms(3_100), 5, ms(3_090)));
        assert!(
            streams.look(ms(3_699), 0, ms(3_090)),
            "the engine's to judge"
        );
        assert!(!streams.look(ms(3_700), 0, ms(3_090)));
        assert_eq!(
            first(&mut streams, 4_000..20_000, |_| 5, |_| 0),
            Some(8_000)
        );
        assert!(!streams.look(ms(9_000), 0, ms(0)));
        assert_eq!(
            first(&mut streams, 10_000..60_000, |_| 5, |_| 0),
            Some(18_000)
        );
    }

    /// A thread that was held up has not seen a silence of the pad if there is something to read.
    #[test]
    fn a_late_look_ends_a_stream_only_with_nothing_to_read() {
        for (reports, goes_on) in [(0, false), (64, true)] {
            let mut streams = Streams::default();
            assert_eq!(first(&mut streams, 1_000..9_000, |_| 5, |_| 0), Some(3_000));
            assert_eq!(streams.look(ms(5_000), reports, ms(0)), goes_on);
        }
    }
}
