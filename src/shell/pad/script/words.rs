//! The words of a pad script.

use stillhand_engine::input::{Button, Control};

use crate::shell::lines::{self, ScriptProblem, Word};

/// What a line acts on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Target {
    Stick(Control),
    Trigger(Control),
    Button(Button),
    /// 0 across, 1 up.
    Hat(usize),
    Plug,
    Unplug,
}

/// Linux names (linux/input-event-codes.h) and what they stand for. A trigger has two: the Linux
/// Gamepad Specification's and the one drivers use.
const NAMES: [(&str, Target); 27] = [
    ("ABS_X", Target::Stick(Control::Lx)),
    ("ABS_Y", Target::Stick(Control::Ly)),
    ("ABS_RX", Target::Stick(Control::Rx)),
    ("ABS_RY", Target::Stick(Control::Ry)),
    ("ABS_Z", Target::Trigger(Control::Lt)),
    ("ABS_RZ", Target::Trigger(Control::Rt)),
    ("ABS_HAT2Y", Target::Trigger(Control::Lt)),
    ("ABS_HAT2X", Target::Trigger(Control::Rt)),
    ("ABS_HAT0X", Target::Hat(0)),
    ("ABS_HAT0Y", Target::Hat(1)),
    ("BTN_SOUTH", Target::Button(Button::South)),
    ("BTN_EAST", Target::Button(Button::East)),
    ("BTN_NORTH", Target::Button(Button::North)),
    ("BTN_WEST", Target::Button(Button::West)),
    ("BTN_TL", Target::Button(Button::Tl)),
    ("BTN_TR", Target::Button(Button::Tr)),
    ("BTN_SELECT", Target::Button(Button::Select)),
    ("BTN_START", Target::Button(Button::Start)),
    ("BTN_MODE", Target::Button(Button::Mode)),
    ("BTN_THUMBL", Target::Button(Button::Thumbl)),
    ("BTN_THUMBR", Target::Button(Button::Thumbr)),
    ("BTN_DPAD_UP", Target::Button(Button::DpadUp)),
    ("BTN_DPAD_DOWN", Target::Button(Button::DpadDown)),
    ("BTN_DPAD_LEFT", Target::Button(Button::DpadLeft)),
    ("BTN_DPAD_RIGHT", Target::Button(Button::DpadRight)),
    ("PLUG", Target::Plug),
    ("UNPLUG", Target::Unplug),
];

impl Target {
    pub(super) fn named(name: &str) -> Option<Target> {
        NAMES.iter().find(|(n, _)| *n == name).map(|(_, t)| *t)
    }

    /// What its value may be, in words.
    pub(super) fn allowed(self) -> &'static str {
        match self {
            Target::Stick(_) => "a number from -1 to 1; right and up are positive",
            Target::Trigger(_) => "a number from 0 to 1",
            Target::Button(_) => "1 (down) or 0 (up)",
            Target::Hat(0) => "-1 (left), 0 or 1 (right)",
            Target::Hat(_) => "-1 (down), 0 or 1 (up)",
            Target::Plug | Target::Unplug => "nothing",
        }
    }

    fn takes(self, value: f64) -> bool {
        match self {
            Target::Stick(_) => (-1.0..=1.0).contains(&value),
            Target::Trigger(_) => (0.0..=1.0).contains(&value),
            Target::Button(_) => value == 0.0 || value == 1.0,
            Target::Hat(_) => value == 0.0 || value == 1.0 || value == -1.0,
            Target::Plug | Target::Unplug => false,
        }
    }
}

/// All names, as a list for people.
pub(super) fn all_names() -> String {
    NAMES.map(|(name, _)| name).join(" ")
}

/// The name most like `text`, if one is near enough to be meant.
pub(super) fn nearest(text: &str) -> Option<&'static str> {
    lines::nearest(text, NAMES.iter().map(|(name, _)| *name))
}

/// This word as a value of `target`.
pub(super) fn value(word: &Word<'_>, target: Target) -> Result<f64, Box<ScriptProblem>> {
    match word.text.parse::<f64>() {
        // Adding 0 turns -0 into 0: no sign without a value.
        Ok(value) if target.takes(value) => Ok(value + 0.0),
        Ok(value) if value.is_finite() => Err(Box::new(word.problem(
            "the value is out of bounds",
            target.allowed(),
            "take a value within them",
        ))),
        _ => Err(Box::new(word.problem(
            "the value is no number",
            target.allowed(),
            "write a number, with a point",
        ))),
    }
}
