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

/// The states, by the names of the table, each at the place of its number.
pub const STATES: [&str; 7] = [
    "NoLink", "NoPad", "Withheld", "Driving", "Still", "Stopped", "Ending",
];

/// The events, by the names of the table, each at the place of its number.
pub const EVENTS: [&str; 8] = [
    "Stop", "Released", "Lost", "Found", "Armed", "StillOn", "StillOff", "End",
];

/// The number of a state.
pub const fn number(state: State) -> usize {
    match state {
        State::NoLink(_) => 0,
        State::NoPad(_) => 1,
        State::Withheld(_) => 2,
        State::Driving => 3,
        State::Still => 4,
        State::Stopped(_) => 5,
        State::Ending => 6,
    }
}

impl Event {
    /// Its number.
    pub const fn number(self) -> usize {
        match self {
            Event::Stop(_) => 0,
            Event::Released => 1,
            Event::Lost(_) => 2,
            Event::Found => 3,
            Event::Armed => 4,
            Event::StillOn => 5,
            Event::StillOff => 6,
            Event::End => 7,
        }
    }
}

/// The rows of the table that a tick went through: at the number of the state before, a bit for each
/// pair of event and state after. For whoever wants to know which rows were ever taken.
pub type Turns = [u64; STATES.len()];

/// Adds a row.
pub const fn note(turns: &mut Turns, before: State, event: Event, after: State) {
    turns[number(before)] |= 1 << (event.number() * STATES.len() + number(after));
}

/// The rows: state before, event, state after, by their numbers.
pub fn rows(turns: &Turns) -> impl Iterator<Item = [usize; 3]> {
    turns.iter().enumerate().flat_map(|(before, &bits)| {
        let pairs = (0..EVENTS.len()).flat_map(|e| (0..STATES.len()).map(move |s| [e, s]));
        pairs
            .filter(move |[e, s]| bits & (1 << (e * STATES.len() + s)) != 0)
            .map(move |[event, after]| [before, event, after])
    })
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
