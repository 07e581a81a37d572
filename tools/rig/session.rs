//! Who may command the rig: the session and what its setup must satisfy.
//!
//! ```text
//!              hello                setup, at rest
//!   None ───────────────▶ Greeted ───────────────▶ Ready
//!    ▲                     │   ▲                     │ hello with a new session: the old one ends at once
//!    │                     │   └─────────────────────┤
//!    └─────────────────────┴─────────────────────────┘ power off, or a new reference
//! ```

use stillhand_wire::messages::{
    AxisSetup, MAX_ACCEL, MAX_JERK, MAX_WATCHDOG_MS, MIN_WATCHDOG_MS, NotReferenced, Ramp, Setup,
    VERSION, Why,
};
use stillhand_wire::rules::is_newer;

/// Ended sessions that are remembered. A frame that is delayed over more than eight restarts is not to be expected.
const REMEMBERED: usize = 8;

#[derive(Debug, Clone)]
#[expect(
    clippy::large_enum_variant,
    reason = "no allocation here, and there is one of it"
)]
enum State {
    None,
    Greeted {
        session: u32,
    },
    Ready {
        setup: Setup,
        applied: u32,
        accepted: u32,
        /// The last reference that was refused; one that is taken ends the session.
        refused: Option<(u32, NotReferenced)>,
        /// The number of the last word on the standstill current, 0 if none.
        standstill: u32,
    },
}

/// What a reference of the session in force is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Asked {
    /// Asked before, with this answer.
    Before(NotReferenced),
    /// To be looked at.
    Now,
}

/// What a valid hello or setup means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum News {
    /// Said before; answer again, change nothing.
    Repeated,
    /// Act on it.
    New,
}

#[derive(Debug, Clone)]
pub(crate) struct Session {
    state: State,
    /// Session 0 is never valid, so it stands for an empty place.
    ended: [u32; REMEMBERED],
    next: usize,
}

impl Session {
    pub(crate) fn new() -> Self {
        Self {
            state: State::None,
            ended: [0; REMEMBERED],
            next: 0,
        }
    }

    /// The session in force, 0 if none.
    pub(crate) fn number(&self) -> u32 {
        match &self.state {
            State::None => 0,
            State::Greeted { session } => *session,
            State::Ready { setup, .. } => setup.session,
        }
    }

    /// The acknowledged setup, if any.
    pub(crate) fn setup(&self) -> Option<&Setup> {
        match &self.state {
            State::None | State::Greeted { .. } => None,
            State::Ready { setup, .. } => Some(setup),
        }
    }

    /// Sequence number in force, 0 if none.
    pub(crate) fn applied(&self) -> u32 {
        match &self.state {
            State::None | State::Greeted { .. } => 0,
            State::Ready { applied, .. } => *applied,
        }
    }

    /// Velocity frames taken in this session.
    pub(crate) fn accepted(&self) -> u32 {
        match &self.state {
            State::None | State::Greeted { .. } => 0,
            State::Ready { accepted, .. } => *accepted,
        }
    }

    /// Frame `seq` was taken.
    pub(crate) fn took(&mut self, seq: u32) {
        match &mut self.state {
            State::None | State::Greeted { .. } => {}
            State::Ready {
                applied, accepted, ..
            } => {
                *applied = seq;
                *accepted = accepted.wrapping_add(1);
            }
        }
    }

    /// What reference `number` of a session is; none if it is outdated or of another session.
    pub(crate) fn asked(&self, session: u32, number: u32) -> Option<Asked> {
        let State::Ready { setup, refused, .. } = &self.state else {
            return None;
        };
        match refused {
            _ if setup.session != session => None,
            Some((last, why)) if *last == number => Some(Asked::Before(*why)),
            Some((last, _)) => is_newer(number, *last).then_some(Asked::Now),
            None => is_newer(number, 0).then_some(Asked::Now),
        }
    }

    /// Reference `number` was refused.
    pub(crate) fn answered(&mut self, number: u32, why: NotReferenced) {
        match &mut self.state {
            State::None | State::Greeted { .. } => {}
            State::Ready { refused, .. } => *refused = Some((number, why)),
        }
    }

    /// The number of the last word on the standstill current, 0 if there was none in this session.
    pub(crate) fn standstill(&self) -> u32 {
        match &self.state {
            State::None | State::Greeted { .. } => 0,
            State::Ready { standstill, .. } => *standstill,
        }
    }

    /// What word `number` on the standstill current is; none if it is outdated or of another session.
    pub(crate) fn stands(&mut self, session: u32, number: u32) -> Option<News> {
        match &mut self.state {
            State::Ready {
                setup, standstill, ..
            } if setup.session == session => {
                if number == *standstill && number != 0 {
                    Some(News::Repeated)
                } else if is_newer(number, *standstill) {
                    *standstill = number;
                    Some(News::New)
                } else {
                    None
                }
            }
            State::None | State::Greeted { .. } | State::Ready { .. } => None,
        }
    }

    /// Ends the session in force; its number is not taken again.
    pub(crate) fn end(&mut self) {
        let number = self.number();
        if number != 0 {
            self.ended[self.next] = number;
            self.next = (self.next + 1) % REMEMBERED;
        }
        self.state = State::None;
    }

    pub(crate) fn hello(&mut self, version: u8, session: u32) -> Result<News, Why> {
        if version != VERSION {
            Err(Why::Version)
        } else if session == 0 {
            Err(Why::WrongSession)
        } else if session == self.number() {
            Ok(News::Repeated)
        } else if self.ended.contains(&session) {
            Err(Why::OldSession)
        } else {
            self.end();
            self.state = State::Greeted { session };
            Ok(News::New)
        }
    }

    /// Takes a setup for `axes` axes, or says which rule it breaks first.
    pub(crate) fn set_up(
        &mut self,
        setup: &Setup,
        axes: usize,
        at_rest: bool,
        power: bool,
    ) -> Result<News, Why> {
        if self.ended.contains(&setup.session) && setup.session != 0 {
            return Err(Why::OldSession);
        }
        if setup.session != self.number() || setup.session == 0 {
            return Err(Why::WrongSession);
        }
        if let Some(present) = self.setup() {
            return if present == setup {
                Ok(News::Repeated)
            } else {
                Err(Why::AlreadySet)
            };
        }
        check(setup, axes)?;
        if !power {
            return Err(Why::PowerOff);
        }
        if !at_rest {
            return Err(Why::NotAtRest);
        }
        self.state = State::Ready {
            setup: setup.clone(),
            applied: 0,
            accepted: 0,
            refused: None,
            standstill: 0,
        };
        Ok(News::New)
    }
}

fn check(setup: &Setup, axes: usize) -> Result<(), Why> {
    if setup.axes.len() != axes {
        return Err(Why::AxisCount);
    }
    if !(MIN_WATCHDOG_MS..=MAX_WATCHDOG_MS).contains(&setup.watchdog_ms) {
        return Err(Why::BadWatchdog);
    }
    for AxisSetup {
        travel,
        stop_plus,
        stop_minus,
    } in &setup.axes
    {
        if let Some((low, high)) = travel
            && (low >= high || high.checked_sub(*low).is_none())
        {
            return Err(Why::BadTravel);
        }
        if !valid(*stop_plus) || !valid(*stop_minus) {
            return Err(Why::BadRamp);
        }
    }
    Ok(())
}

fn valid(ramp: Ramp) -> bool {
    (1..=MAX_ACCEL).contains(&ramp.accel) && (1..=MAX_JERK).contains(&ramp.jerk)
}
