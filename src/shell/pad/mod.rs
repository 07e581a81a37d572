//! The pad: real game controllers and pad scripts, in one stream of [`PadInput`].
//!
//! ```text
//! kernel ──▶ gilrs ──▶ translate ──▶ outbox ═══ring═══▶ inbox ──▶ control loop
//!             ▲                        │  full: backlog       ▲
//!   device ───┘ "is it really there?"  ├── stop slot ─────────┤
//! hidraw ──▶ reports ──────────────────┴── signs of life ─────┘
//! ```
//!
//! | module | what lives there |
//! |---|---|
//! | [`reader`] | the thread that owns gilrs, hotplug, and the second look for what it missed |
//! | [`board`] | which pads are there, for screens, and notices |
//! | [`device`] | what the kernel says of a pad: its ID, its bus, what it can do |
//! | [`translate`] | gilrs' events to the engine's, one pad's state |
//! | [`trim`] | what is taken out of its readings, and how it wears |
//! | reports | its raw reports as signs of life |
//! | [`mailbox`] | the ring to the control loop and what happens when it is full |
//! | [`script`], [`player`] | a pad that is a text file |
//! | [`shake`], [`shaker`] | what a pad tells the hand, and the thread that does it |
//!
//! Names follow the Linux Gamepad Specification (Documentation/input/gamepad.rst); codes are those
//! of linux/input-event-codes.h, indices those of the W3C Gamepad recommendation's standard
//! gamepad. Sticks are right and up positive here; evdev and W3C count down as positive.
//!
//! | our name | Linux code | W3C index |
//! |---|---|---|
//! | `lx` | `ABS_X` 0x00 | axis 0 |
//! | `ly` | `ABS_Y` 0x01, sign turned | axis 1, sign turned |
//! | `rx` | `ABS_RX` 0x03 | axis 2 |
//! | `ry` | `ABS_RY` 0x04, sign turned | axis 3, sign turned |
//! | `lt` | `ABS_HAT2Y` 0x15, in practice `ABS_Z` 0x02; without either `BTN_TL2` 0x138 | button 6 |
//! | `rt` | `ABS_HAT2X` 0x14, in practice `ABS_RZ` 0x05; without either `BTN_TR2` 0x139 | button 7 |
//! | `south` | `BTN_SOUTH` 0x130 | button 0 |
//! | `east` | `BTN_EAST` 0x131 | button 1 |
//! | `west` | `BTN_WEST` 0x134 | button 2 |
//! | `north` | `BTN_NORTH` 0x133 | button 3 |
//! | `tl` | `BTN_TL` 0x136, or `ABS_HAT1Y` 0x13 | button 4 |
//! | `tr` | `BTN_TR` 0x137, or `ABS_HAT1X` 0x12 | button 5 |
//! | `select` | `BTN_SELECT` 0x13a | button 8 |
//! | `start` | `BTN_START` 0x13b | button 9 |
//! | `thumbl` | `BTN_THUMBL` 0x13d | button 10 |
//! | `thumbr` | `BTN_THUMBR` 0x13e | button 11 |
//! | `dpad-up` | `BTN_DPAD_UP` 0x220, or `ABS_HAT0Y` 0x11 below 0 | button 12 |
//! | `dpad-down` | `BTN_DPAD_DOWN` 0x221, or `ABS_HAT0Y` 0x11 above 0 | button 13 |
//! | `dpad-left` | `BTN_DPAD_LEFT` 0x222, or `ABS_HAT0X` 0x10 below 0 | button 14 |
//! | `dpad-right` | `BTN_DPAD_RIGHT` 0x223, or `ABS_HAT0X` 0x10 above 0 | button 15 |
//! | `mode` | `BTN_MODE` 0x13c | button 16 |
//!
//! The kernel's header gives `BTN_NORTH` and `BTN_WEST` the second names `BTN_X` and `BTN_Y`: a pad
//! lettered X on the left and Y on top may report the two swapped. gilrs' mappings know many of
//! them.

pub mod board;
mod breath;
pub mod device;
pub mod mailbox;
pub mod player;
pub mod reader;
pub mod script;
pub mod shake;
pub mod shaker;
pub mod translate;
pub mod trim;

mod backlog;
mod lookout;
mod places;
mod reports;

use std::path::PathBuf;
use std::str::FromStr;

use stillhand_engine::input::{PadEvent, PadId};
use stillhand_engine::time::Time;

pub use board::{PadNotice, PresentPad};
pub use mailbox::Inbox;
pub use reader::{PadReader, ReaderOptions};

/// One thing that happened on a pad, and when we heard of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PadInput {
    /// Our own monotonic stamp: the kernel's times are wall clock and vanish in a resync.
    pub at: Time,
    /// Which pad.
    pub pad: PadId,
    /// What happened.
    pub event: PadEvent,
}

/// Which pads may drive, as `--pad` names them. All pads are heard; one that may not drive still
/// stops everything.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PadChoice {
    /// `any`: every real pad.
    Any,
    /// The very unit with this ID, as `stillhand pads` prints it.
    Id(String),
    /// `script:FILE`: a pad that is a text file.
    Script(PathBuf),
}

impl PadChoice {
    /// Whether these choices let the real pad with this ID drive. No choice at all is `any`.
    pub fn lets_drive(choices: &[PadChoice], id: &str) -> bool {
        choices.is_empty()
            || choices.iter().any(|choice| match choice {
                PadChoice::Any => true,
                PadChoice::Id(wanted) => wanted == id,
                PadChoice::Script(_) => false,
            })
    }
}

/// What is wrong with a `--pad` value.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BadPadChoice(String);

impl std::fmt::Display for BadPadChoice {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "`{}` names no pad: say `any`, an ID that `stillhand pads` prints, or `script:FILE`",
            self.0
        )
    }
}

impl std::error::Error for BadPadChoice {}

impl FromStr for PadChoice {
    type Err = BadPadChoice;

    fn from_str(text: &str) -> Result<PadChoice, BadPadChoice> {
        match text.strip_prefix("script:") {
            Some("") => Err(BadPadChoice(text.to_string())),
            Some(file) => Ok(PadChoice::Script(PathBuf::from(file))),
            None if text == "any" => Ok(PadChoice::Any),
            None if text.trim().is_empty() => Err(BadPadChoice(text.to_string())),
            None => Ok(PadChoice::Id(text.to_string())),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn choices_are_read_and_obeyed() {
        let parse = |text: &str| text.parse::<PadChoice>();
        assert_eq!(parse("any"), Ok(PadChoice::Any));
        assert_eq!(
            parse("script:a.pad"),
            Ok(PadChoice::Script(PathBuf::from("a.pad")))
        );
        let left = parse("usb-0000:00:14.0-2");
        assert_eq!(left, Ok(PadChoice::Id("usb-0000:00:14.0-2".into())));
        assert!(parse("script:").is_err() && parse(" ").is_err());

        let only = [PadChoice::Id("a".into()), PadChoice::Script("s".into())];
        assert!(PadChoice::lets_drive(&only, "a"));
        assert!(!PadChoice::lets_drive(&only, "b"));
        assert!(PadChoice::lets_drive(&[], "b"));
        assert!(PadChoice::lets_drive(&[PadChoice::Any], "b"));
        assert!(!PadChoice::lets_drive(&only[1..], "a"));
    }
}
