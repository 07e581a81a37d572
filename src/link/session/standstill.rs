//! The motors' current at standstill: lowered where rig and file let it, full before anything may move.
//!
//! ```text
//!          may be lowered               no more                    told: all full
//!   Full ─────────────────▶ Asked{some} ─────────▶ Asked{none} ──────────────────▶ Full
//!     ▲                        ▲    └─ never answered ─┐  └─────────────┐
//!     │                        └─ may be lowered again ┼────────────────┘
//!     └────────────────────────────────────────────────┘
//! ```

use super::{ASK_AGAIN, FRAME_LIFE_US, Session, Standing};
use stillhand_engine::current::Current;
use stillhand_engine::input::LinkEvent;
use stillhand_engine::time::{Span, Time};
use stillhand_wire::{ToRig, encode, messages};

/// A rig answers at once; one that has not after this long does not know the message. On a line that loses a quarter of
/// what is said either way, eight askings without an answer are one in five hundred, and one in fifty thousand if the
/// rig is to have heard none of them.
const PATIENCE: Span = Span::from_millis(2_000);
/// What is lowered is asked about this often: a rig tells of a change once, and lines lose frames. The same
/// goes for one that did not lower what it could: its motors may have come to rest since.
const LOOK_AGAIN: Span = Span::from_millis(1_000);

/// How the motors of the session's rig stand.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Easing {
    /// The number of the last word, 0 before the first.
    number: u32,
    word: Word,
    /// The rig has answered in this session.
    known: bool,
    /// It did not, and will not.
    unknown: bool,
}

#[derive(Clone, Copy, Debug, Default, PartialEq)]
enum Word {
    /// All have their full current.
    #[default]
    Full,
    /// These may be lowered, no others.
    Asked {
        lower: u8,
        since: Time,
        said: Time,
        /// Which are, as far as the rig told.
        told: Option<u8>,
    },
}

impl Session {
    /// To be told after each step of the engine how the motors may hold. From [`Current::MayBeLow`] on the
    /// engine moves nothing before [`LinkEvent::FullCurrent`].
    pub fn ease(&mut self, now: Time, may: Current) {
        if self.standing != Standing::Ready {
            return;
        }
        let lower = self.lowerable();
        match (self.easing.word, may) {
            (Word::Full, Current::MayBeLow) if self.easing.unknown => {}
            (Word::Full | Word::Asked { lower: 0, .. }, Current::MayBeLow) => {
                self.ask_current(now, lower);
            }
            (Word::Full, Current::Awaited) => self.push_event(LinkEvent::FullCurrent),
            (Word::Full, Current::Full) => {}
            (Word::Asked { said, told, .. }, Current::MayBeLow) => {
                if told == Some(0) && now.since(said) >= LOOK_AGAIN {
                    self.ask_current(now, lower);
                }
            }
            (Word::Asked { lower: 0, .. }, Current::Awaited | Current::Full) => {}
            (Word::Asked { .. }, Current::Awaited | Current::Full) => self.ask_current(now, 0),
        }
    }

    /// Which axes have less than their full current, as far as the rig told: bit i for axis i.
    pub fn lowered(&self) -> u8 {
        match self.easing.word {
            Word::Full => 0,
            Word::Asked { told, .. } => told.unwrap_or(0),
        }
    }

    /// The axes whose file lets their current be lowered.
    fn lowerable(&self) -> u8 {
        let axes = self.rig.axes.iter().rev();
        axes.fold(0, |bits, axis| bits << 1 | u8::from(axis.may_lower_current))
    }

    /// Says it again, or gives up.
    pub(super) fn press_current(&mut self, now: Time) {
        let Word::Asked {
            lower,
            since,
            said,
            told,
        } = self.easing.word
        else {
            return;
        };
        let again = match told {
            Some(_) if lower != 0 => LOOK_AGAIN,
            Some(_) | None => ASK_AGAIN,
        };
        if !self.easing.known && now.since(since) >= PATIENCE {
            self.easing.unknown = true;
            self.easing.word = Word::Full;
        } else if told != Some(0) && now.since(said) >= again {
            self.say_current(now);
        }
    }

    fn ask_current(&mut self, now: Time, lower: u8) {
        self.easing.number += 1;
        // A rig that has answered nothing may have heard what was asked before: it gets as long for this.
        self.easing.word = Word::Asked {
            lower,
            since: now,
            said: now,
            told: None,
        };
        self.say_current(now);
    }

    fn say_current(&mut self, now: Time) {
        let Word::Asked { lower, said, .. } = &mut self.easing.word else {
            return;
        };
        *said = now;
        let message = |deadline_us: u32| messages::Standstill {
            session: self.session,
            number: self.easing.number,
            deadline_us,
            lower: *lower,
        };
        // Ready, the clock is known; unsaid it is said again.
        let dated = self.clock.at(now).map(|us| us.wrapping_add(FRAME_LIFE_US));
        if let Some(message) = dated.map(message)
            && let Ok(bytes) = encode(&ToRig::Standstill(message))
        {
            self.push_write(bytes);
        }
    }

    /// The rig told.
    pub(super) fn on_standstill(&mut self, number: u32, lowered: u8) {
        if self.standing != Standing::Ready || number != self.easing.number {
            return;
        }
        self.easing.known = true;
        let Word::Asked { lower, told, .. } = &mut self.easing.word else {
            return;
        };
        // For one number it only ever becomes less: whatever says otherwise was overtaken.
        *told = Some(told.map_or(lowered, |before| before & lowered));
        if *lower == 0 && *told == Some(0) {
            self.easing.word = Word::Full;
        }
    }
}
