//! Shakes: what a pad tells the hand that holds it, for eyes that are on the picture.
//!
//! Few, short and unlike each other; the most urgent stands first. `strong` is the motor one hears, `weak`
//! the fine one; figures are the share of its strength and the time.
//!
//! | shake | pattern | who feels it |
//! |---|---|---|
//! | `stopped` | strong 100 % 400 ms | every pad |
//! | `silence near` | weak 100 % 100 ms, 100 ms nothing, weak 100 % 100 ms, 100 ms nothing, weak 100 % 100 ms | the pad that is silent |
//! | `withheld` | strong 70 % 150 ms, 100 ms nothing, strong 70 % 150 ms | the pads that hold what is withheld |
//! | `end near` | weak 60 % 120 ms | the pad that holds the axis |
//! | `refused` | weak 60 % 80 ms, 80 ms nothing, strong 70 % 250 ms | every pad that holds something |
//! | `arrived` | weak 60 % 200 ms, 100 ms nothing, weak 60 % 60 ms | every pad that holds something |
//! | `waits` | weak 60 % 60 ms, 200 ms nothing, weak 60 % 60 ms | every pad that holds something |
//! | `applied` | weak 60 % 250 ms | every pad that holds something |

use stillhand_engine::errand::{ErrandEnd, ErrandNews, Purpose};
use stillhand_engine::input::PadId;
use stillhand_engine::operator::{Operator, Shakes};
use stillhand_engine::output::{Notice, State, Status, Why};

/// What a pad shakes for, the most urgent first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Shake {
    /// A stop is latched.
    Stopped,
    /// The pad has been silent for half of what it may.
    SilenceNear,
    /// Motion is withheld, or the rig is gone.
    Withheld,
    /// An axis brakes for an end of its travel.
    EndNear,
    /// A changed file, another operator or a press is not taken; moves that were begun by a press can't go on.
    Refused,
    /// Moves that were begun by a press came to their end, and all is at rest.
    Arrived,
    /// A changed file or another operator waits for its moment.
    Waits,
    /// A changed file or another operator is in force.
    Applied,
}

/// One push of a pad's motors and the pause after it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pulse {
    /// The motor one hears, 0 to 100 %.
    pub strong: u8,
    /// The fine one, 0 to 100 %.
    pub weak: u8,
    /// For so long.
    pub ms: u16,
    /// And then nothing for so long.
    pub pause_ms: u16,
}

const fn strong(strong: u8, ms: u16, pause_ms: u16) -> Pulse {
    Pulse {
        strong,
        weak: 0,
        ms,
        pause_ms,
    }
}

const fn weak(weak: u8, ms: u16, pause_ms: u16) -> Pulse {
    Pulse {
        strong: 0,
        weak,
        ms,
        pause_ms,
    }
}

impl Shake {
    /// All of them, the most urgent first.
    pub const ALL: [Shake; 8] = [
        Shake::Stopped,
        Shake::SilenceNear,
        Shake::Withheld,
        Shake::EndNear,
        Shake::Refused,
        Shake::Arrived,
        Shake::Waits,
        Shake::Applied,
    ];

    /// The name pages use.
    pub const fn name(self) -> &'static str {
        match self {
            Shake::Stopped => "stopped",
            Shake::SilenceNear => "silence near",
            Shake::Withheld => "withheld",
            Shake::EndNear => "end near",
            Shake::Refused => "refused",
            Shake::Arrived => "arrived",
            Shake::Waits => "waits",
            Shake::Applied => "applied",
        }
    }

    /// What the motors do.
    pub const fn pattern(self) -> &'static [Pulse] {
        match self {
            Shake::Stopped => &const { [strong(100, 400, 0)] },
            Shake::SilenceNear => {
                &const { [weak(100, 100, 100), weak(100, 100, 100), weak(100, 100, 0)] }
            }
            Shake::Withheld => &const { [strong(70, 150, 100), strong(70, 150, 0)] },
            Shake::EndNear => &const { [weak(60, 120, 0)] },
            Shake::Refused => &const { [weak(60, 80, 80), strong(70, 250, 0)] },
            Shake::Arrived => &const { [weak(60, 200, 100), weak(60, 60, 0)] },
            Shake::Waits => &const { [weak(60, 60, 200), weak(60, 60, 0)] },
            Shake::Applied => &const { [weak(60, 250, 0)] },
        }
    }

    /// The pattern in words, as pages have it.
    pub fn text(self) -> String {
        let pulse = |pulse: &Pulse| {
            let motor = match pulse.strong {
                0 => format!("weak {} %", pulse.weak),
                strong => format!("strong {strong} %"),
            };
            match pulse.pause_ms {
                0 => format!("{motor} {} ms", pulse.ms),
                pause => format!("{motor} {} ms, {pause} ms nothing", pulse.ms),
            }
        };
        let pulses: Vec<String> = self.pattern().iter().map(pulse).collect();
        pulses.join(", ")
    }
}

/// Some pads, a bit for each place.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Pads(u8);

impl Pads {
    /// Every place.
    pub const ALL: Pads = Pads(u8::MAX);

    /// Just this one.
    pub fn one(pad: PadId) -> Pads {
        Pads(1u8.checked_shl(u32::from(pad.0)).unwrap_or(0))
    }

    /// The pads that hold something.
    pub fn holders(status: &Status) -> Pads {
        let held = status.groups.iter().filter_map(|group| group.pad);
        Pads(held.fold(0, |all, pad| all | Pads::one(pad).0))
    }

    /// Whether this one is among them.
    pub fn has(self, pad: PadId) -> bool {
        self.0 & Pads::one(pad).0 != 0
    }
}

/// What a notice is felt as, and on which pads; `None` for what is not felt.
pub fn felt(notice: Notice, status: &Status, operator: &Operator) -> Option<(Shake, Pads)> {
    let holders = Pads::holders(status);
    let of_group = |group: u8| {
        let pad = status.groups.get(usize::from(group))?.pad?;
        Some(Pads::one(pad))
    };
    let felt = match notice {
        Notice::Entered(State::Stopped(_)) => (Shake::Stopped, Pads::ALL),
        // What is in force is told by a shake of its own.
        Notice::Entered(State::Withheld(Why::ProfileChanged | Why::RigChanged)) => return None,
        Notice::Entered(State::Withheld(_) | State::NoLink(_)) => (Shake::Withheld, holders),
        Notice::GroupWithheld { group, .. } => (Shake::Withheld, of_group(group)?),
        Notice::SilenceNear { pad, .. } => (Shake::SilenceNear, Pads::one(pad)),
        Notice::TravelEnd { rig, axis } | Notice::GuardLate { rig, axis } => {
            let own =
                |hand: &&stillhand_engine::operator::Hand| (hand.rig, hand.axis) == (rig, axis);
            let hand = operator.hands.iter().find(own)?;
            (Shake::EndNear, of_group(hand.group)?)
        }
        Notice::Locked(_) | Notice::ProfileRefused | Notice::RigRefused(_) => {
            (Shake::Refused, holders)
        }
        Notice::Errand(purpose, news) => (of_moves(purpose, news)?, holders),
        Notice::ProfileWaits(_) | Notice::RigWaits(_) => (Shake::Waits, holders),
        Notice::ProfileApplied | Notice::RigApplied(_) => (Shake::Applied, holders),
        Notice::Entered(State::Driving | State::Still | State::NoPad(_) | State::Ending)
        | Notice::Holds { .. }
        | Notice::Asks { .. }
        | Notice::Agreed { .. }
        | Notice::AskForgotten(_)
        | Notice::Gear { .. }
        | Notice::Mode(..)
        | Notice::ModeWaits(_)
        | Notice::NextOperator(_)
        | Notice::EndHere { .. }
        | Notice::Reference { .. }
        | Notice::Sustain { .. }
        | Notice::Place { .. }
        | Notice::Apart { .. }
        | Notice::Late(_)
        | Notice::TooManyPads => return None,
    };
    Some(felt)
}

/// What is felt of moves that were begun by a press: that they came to their end, or can't. What the hand did
/// itself it knows, and what is withheld is told as that.
const fn of_moves(purpose: Purpose, news: ErrandNews) -> Option<Shake> {
    match (purpose, news) {
        // Its microphone is open to the last word of its plan, and may be beside the hand.
        (Purpose::Survey, ErrandNews::Done) => None,
        (Purpose::Directions | Purpose::Check, ErrandNews::Done) => Some(Shake::Arrived),
        (
            _,
            ErrandNews::Refused(_)
            | ErrandNews::Ended(
                ErrandEnd::Rolling
                | ErrandEnd::Ceiling
                | ErrandEnd::Band
                | ErrandEnd::Travel
                | ErrandEnd::CalledOff,
            ),
        ) => Some(Shake::Refused),
        (
            _,
            ErrandNews::Offered { .. }
            | ErrandNews::Begun
            | ErrandNews::Leg(_)
            | ErrandNews::Ended(ErrandEnd::Stick | ErrandEnd::Withheld | ErrandEnd::LetGo),
        ) => None,
    }
}

/// Whether pads may shake now: motors in a hand are heard by the microphones that quiet and still are for.
pub fn may(status: &Status, operator: &Operator) -> bool {
    match operator.shakes {
        Shakes::Never => false,
        Shakes::NotInQuiet => !status.modes.quiet.on() && !status.modes.still.on(),
        Shakes::Always => true,
    }
}

#[cfg(test)]
mod tests;
