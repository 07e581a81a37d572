//! A deliberate silence of the line: nothing is written for a while, so that the rig has to stop by its own
//! watchdog. To the engine it is a lost link: it stops, withholds, and the rig is met anew afterwards.

use super::session::{Session, Standing};
use stillhand_engine::input::{LinkEvent, LinkLoss};
use stillhand_engine::time::{Span, Time};

/// The longest hush: the longest watchdog a rig accepts (1 s), the stop behind it, and time to tell of it.
pub const LONGEST: Span = Span::from_millis(3_000);

/// Whether the line is hushed, and until when.
#[derive(Clone, Copy, Debug, Default)]
pub struct Hush {
    until: Option<Time>,
}

impl Hush {
    /// Hushes the line from now on, for `span` and [`LONGEST`] at the most. `false` without a rig that is met.
    pub fn begin(&mut self, now: Time, span: Span, session: &mut Session) -> bool {
        if self.until.is_some() || *session.standing() != Standing::Ready {
            return false;
        }
        // The same to a session: nothing can be written.
        session.stalled(now);
        self.until = Some(now + span.shorter(LONGEST));
        true
    }

    /// Lets time pass: whether nothing may be written now.
    pub fn holds(&mut self, now: Time) -> bool {
        self.until = self.until.filter(|until| now < *until);
        self.until.is_some()
    }

    /// An event of the session by its true name: while the line is hushed, a port that takes nothing is our doing.
    pub fn named(&self, event: LinkEvent) -> LinkEvent {
        match event {
            LinkEvent::Lost(LinkLoss::Stalled) if self.until.is_some() => {
                LinkEvent::Lost(LinkLoss::Hushed)
            }
            other => other,
        }
    }
}
