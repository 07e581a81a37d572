//! Which of a rig's tellings are news, and which only come again or late: a relay, a queue or a radio on the
//! way may double them, reorder them, or let go of some of a session that has ended.
//!
//! A telling of a session that never was ours is news: somebody else has taken the rig. So is one of
//! session 0: it has started again. After 36 minutes on the way a telling looks newer than the latest;
//! the rig's clock can't tell the two apart.

use stillhand_wire::messages::Telemetry;
use stillhand_wire::rules::is_newer;

/// The latest that is known of a rig that may be moved.
#[derive(Clone, Copy, Debug)]
pub struct News {
    /// The number of the first session.
    first: u32,
    /// The rig's clock at the latest telling of this session.
    latest_us: Option<u32>,
}

impl News {
    /// None yet; sessions are numbered from `first` on.
    pub fn new(first: u32) -> News {
        News {
            first,
            latest_us: None,
        }
    }

    /// The rig of a new session may be moved.
    pub fn begin(&mut self) {
        self.latest_us = None;
    }

    /// Whether this telling is news in session `ours`. To be asked once for each that came.
    pub fn is(&mut self, told: &Telemetry, ours: u32) -> bool {
        if told.session != ours {
            return told.session == 0 || !self.has_ended(told.session, ours);
        }
        let newer = self
            .latest_us
            .is_none_or(|latest| is_newer(told.clock_us, latest));
        if newer {
            self.latest_us = Some(told.clock_us);
        }
        newer
    }

    /// Whether it is one of those before ours. Numbers go up by one and wrap.
    fn has_ended(&self, session: u32, ours: u32) -> bool {
        session.wrapping_sub(self.first) < ours.wrapping_sub(self.first)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use stillhand_wire::messages::PerAxis;

    fn told(session: u32, clock_us: u32) -> Telemetry {
        Telemetry {
            session,
            clock_us,
            applied: 0,
            accepted: 0,
            axes: PerAxis::new(),
            power: true,
            stop_input: false,
            energised: true,
            brakes: 0,
            faults: 0,
            held: 0,
            at_end: 0,
            referenced: 0,
            supply_mv: None,
            drive_c: None,
            frames_refused: 0,
        }
    }

    #[test]
    fn a_telling_is_news_once_and_in_order_across_the_clocks_wrap() {
        let mut news = News::new(7);
        news.begin();
        let came = [
            (u32::MAX - 9, true),
            (u32::MAX - 9, false),
            (u32::MAX - 10, false),
            (4, true),
            (u32::MAX, false),
            (5, true),
        ];
        for (clock_us, is_news) in came {
            assert_eq!(news.is(&told(7, clock_us), 7), is_news, "{clock_us}");
        }
        // Another session begins at any clock: the rig may have been started again.
        news.begin();
        assert!(news.is(&told(8, 1), 8));
    }

    #[test]
    fn sessions_that_have_ended_are_no_news_and_others_are() {
        let first = u32::MAX - 1;
        let mut news = News::new(first);
        // As a session counts: 0 is left out.
        let ours = 2;
        for old in [first, u32::MAX, 1] {
            assert!(!news.is(&told(old, 9), ours), "{old}");
        }
        for other in [0, 3, first - 1, 1 << 31] {
            assert!(news.is(&told(other, 9), ours), "{other}");
        }
        assert!(news.is(&told(ours, 9), ours));
    }
}
