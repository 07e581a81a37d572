//! The words of a pad script.

use stillhand_engine::input::{Button, Control};

use super::problem::ScriptProblem;

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
    let text = text.to_ascii_uppercase();
    NAMES
        .iter()
        .map(|(name, _)| (changes(&text, name), *name))
        .filter(|(changes, _)| *changes <= 2)
        .min()
        .map(|(_, name)| name)
}

/// How many letters must be added, removed or replaced (Levenshtein's distance); more than a
/// dozen letters apart in length are not counted out.
fn changes(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    if a.len() > b.len() + 12 {
        return a.len();
    }
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.chars().enumerate() {
        let mut corner = row[0];
        row[0] = i + 1;
        for (j, y) in b.iter().enumerate() {
            let best = (corner + usize::from(x != *y)).min(row[j] + 1);
            corner = row[j + 1];
            row[j + 1] = best.min(corner + 1);
        }
    }
    row[b.len()]
}

/// One word of a line and where it stands.
#[derive(Clone, Copy, Debug)]
pub(super) struct Word<'a> {
    pub(super) text: &'a str,
    pub(super) line: usize,
    /// In characters, from 1.
    column: usize,
    source: &'a str,
}

impl<'a> Word<'a> {
    /// The words of a line up to its remark.
    pub(super) fn split(line: usize, source: &'a str) -> Vec<Word<'a>> {
        let said = source.split('#').next().unwrap_or_default();
        let mut words = Vec::new();
        let mut start = None;
        for (index, letter) in said.char_indices().chain([(said.len(), ' ')]) {
            match (letter.is_whitespace(), start) {
                (false, None) => start = Some(index),
                (true, Some(from)) => {
                    words.push(Word {
                        text: &said[from..index],
                        column: said[..from].chars().count() + 1,
                        line,
                        source,
                    });
                    start = None;
                }
                _ => {}
            }
        }
        words
    }

    /// This word as a value of `target`.
    pub(super) fn value(&self, target: Target) -> Result<f64, Box<ScriptProblem>> {
        match self.text.parse::<f64>() {
            // Adding 0 turns -0 into 0: no sign without a value.
            Ok(value) if target.takes(value) => Ok(value + 0.0),
            Ok(value) if value.is_finite() => Err(Box::new(self.problem(
                "the value is out of bounds",
                target.allowed(),
                "take a value within them",
            ))),
            _ => Err(Box::new(self.problem(
                "the value is no number",
                target.allowed(),
                "write a number, with a point",
            ))),
        }
    }

    pub(super) fn problem(&self, message: &str, allowed: &str, mend: &str) -> ScriptProblem {
        ScriptProblem {
            line: self.line,
            column: self.column,
            width: self.text.chars().count(),
            source: self.source.to_string(),
            message: message.to_string(),
            found: self.text.to_string(),
            allowed: allowed.to_string(),
            mend: mend.to_string(),
        }
    }
}
