//! The one state machine. Its diagram is on [`State`].

use crate::input::StopSource;
use crate::output::{State, Why};

/// What can change the state.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Event {
    /// A stop was asked for.
    Stop(StopSource),
    /// The stop was released.
    Released,
    /// A link was lost, or a pad, or trust in either: motion is withheld.
    Lost(Why),
    /// What was missing came back; or nothing was, and this changes nothing.
    Found,
    /// At least one control is armed, or an inching was asked for.
    Armed,
    /// `still` was switched on.
    StillOn,
    /// `still` was switched off.
    StillOff,
    /// The daemon is to end.
    End,
}

/// What is there to drive with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Present {
    /// Every rig was met.
    pub link: bool,
    /// A pad holds a group of axes.
    pub pad: bool,
    /// `still` is on.
    pub still: bool,
}

impl Present {
    fn withheld(self, why: Why) -> State {
        match (self.link, self.pad, self.still) {
            (false, _, _) => State::NoLink(why),
            (true, false, _) => State::NoPad(why),
            (true, true, true) => State::Still,
            (true, true, false) => State::Withheld(why),
        }
    }
}

/// The state after `event`, given what is present after it.
pub fn next(state: State, event: Event, present: Present) -> State {
    match (state, event) {
        (
            State::Ending,
            Event::Stop(_)
            | Event::Released
            | Event::Lost(_)
            | Event::Found
            | Event::Armed
            | Event::StillOn
            | Event::StillOff
            | Event::End,
        ) => State::Ending,
        (
            State::NoLink(_)
            | State::NoPad(_)
            | State::Withheld(_)
            | State::Driving
            | State::Still
            | State::Stopped(_),
            Event::End,
        ) => State::Ending,
        (
            State::NoLink(_) | State::NoPad(_) | State::Withheld(_) | State::Driving | State::Still,
            Event::Stop(by),
        ) => State::Stopped(by),
        // The first one who stopped is the one named.
        (
            State::Stopped(by),
            Event::Stop(_)
            | Event::Lost(_)
            | Event::Found
            | Event::Armed
            | Event::StillOn
            | Event::StillOff,
        ) => State::Stopped(by),
        (State::Stopped(_), Event::Released) => present.withheld(Why::StopReleased),
        (
            State::NoLink(_) | State::NoPad(_) | State::Withheld(_) | State::Driving | State::Still,
            Event::Released,
        ) => state,
        (
            State::NoLink(_) | State::NoPad(_) | State::Withheld(_) | State::Driving | State::Still,
            Event::Lost(why),
        ) => present.withheld(why),
        (State::NoLink(why) | State::NoPad(why) | State::Withheld(why), Event::Found) => {
            present.withheld(why)
        }
        (State::Driving, Event::Found | Event::Armed | Event::StillOff) => State::Driving,
        (State::Withheld(_), Event::Armed) => State::Driving,
        (State::NoLink(_) | State::NoPad(_) | State::Still, Event::Armed) => state,
        (State::Still, Event::Found | Event::StillOn) => State::Still,
        (State::Still, Event::StillOff) => present.withheld(Why::StillEnded),
        (State::Withheld(_) | State::Driving, Event::StillOn) => State::Still,
        (State::NoLink(_) | State::NoPad(_), Event::StillOn | Event::StillOff) => state,
        (State::Withheld(_), Event::StillOff) => state,
    }
}

#[cfg(test)]
mod tests;
