//! A pad that is a text file: one event a line, so that a pass over the controls can be written,
//! kept and played again.
//!
//! ```text
//! # SECONDS CONTROL VALUE
//! 0.500 ABS_RX 0.75      # right stick to the right; up and right are positive
//! 2.000 BTN_SOUTH 1
//! 2.100 BTN_SOUTH 0
//! 3.000 ABS_HAT0Y 1      # d-pad up
//! 9.000 UNPLUG
//! 9.500 PLUG
//! ```
//!
//! Controls carry their Linux names. Sticks (`ABS_X ABS_Y ABS_RX ABS_RY`) are -1..1, triggers
//! (`ABS_Z ABS_RZ`, or `ABS_HAT2Y ABS_HAT2X`) 0..1, hats (`ABS_HAT0X ABS_HAT0Y`) -1, 0 or 1,
//! buttons (`BTN_...`) 0 or 1. **Right and up are positive**; evdev itself counts down as positive.
//! Time zero is when the rig is ready to be driven; times must not go backwards. The pad is plugged
//! in at time zero unless the first event is a `PLUG`.

use std::path::Path;

use crate::shell::lines::{self, Times, Word};
use stillhand_engine::input::{Button, Control};
use stillhand_engine::time::Span;

mod words;

pub use crate::shell::lines::{MAX_BYTES, MAX_SECONDS, ScriptProblem, ScriptProblems};
use words::Target;

/// What a text is called that came without a file.
const NAME: &str = "pad script";

/// A script that makes sense from its first line to its last.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Script {
    events: Vec<(Span, Action)>,
    starts_plugged: bool,
}

/// What a script's pad does at one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Action {
    /// A stick or trigger gets this value.
    Move(Control, f64),
    /// A button goes down or up. A hat that jumps from end to end is two of these.
    Press(Button, bool),
    /// The pad is plugged in.
    Plug,
    /// The pad is pulled, whatever is held over.
    Unplug,
}

impl Script {
    /// Reads a script's text.
    ///
    /// # Errors
    /// Every problem in it, up to a hundred, in the order of their lines.
    pub fn parse(text: &str) -> Result<Script, ScriptProblems> {
        Script::named(NAME, text)
    }

    fn named(name: &str, text: &str) -> Result<Script, ScriptProblems> {
        let mut reading = Reading::default();
        let mut problems = Vec::new();
        lines::each_line(text, &mut problems, |words, problems| {
            reading.line(words);
            problems.append(&mut reading.problems);
        });
        reading.problems = problems;
        reading
            .finish()
            .map_err(|problems| ScriptProblems::new(name, problems))
    }

    /// Reads a script file.
    ///
    /// # Errors
    /// As [`Script::parse`]; a file that can't be read or is no text is a problem of its own.
    pub fn load(path: &Path) -> Result<Script, ScriptProblems> {
        let text = lines::load(path, "SECONDS CONTROL VALUE")?;
        Script::named(&path.display().to_string(), &text)
    }

    /// Its events, each with its time since time zero, in order.
    pub fn events(&self) -> &[(Span, Action)] {
        &self.events
    }

    /// Whether the pad is there from time zero on.
    pub fn starts_plugged(&self) -> bool {
        self.starts_plugged
    }

    /// The time of its last event.
    pub fn length(&self) -> Span {
        self.events.last().map_or(Span::ZERO, |(at, _)| *at)
    }
}

/// What has been read so far.
#[derive(Default)]
struct Reading {
    events: Vec<(Span, Action)>,
    problems: Vec<ScriptProblem>,
    times: Times,
    /// Whether the pad is plugged in here; unknown before the first event.
    plugged: Option<bool>,
    starts_plugged: Option<bool>,
    /// Where the hats are, across and up.
    hats: [i8; 2],
}

impl Reading {
    fn line(&mut self, words: &[Word<'_>]) {
        let Some((time, rest)) = words.split_first() else {
            return;
        };
        let Some((control, rest)) = rest.split_first() else {
            self.problems.push(time.problem(
                "nothing happens at this time",
                "SECONDS CONTROL VALUE, or SECONDS UNPLUG or PLUG",
                "say what happens, or put `#` before a remark",
            ));
            return;
        };
        let at = self.time(time);
        if let Some(at) = at
            && let Some(target) = self.target(control)
            && self.is_possible(control, target)
        {
            self.event(at, control, target, rest);
        }
    }

    fn time(&mut self, word: &Word<'_>) -> Option<Span> {
        let read = self.times.read(word);
        read.map_err(|problem| self.problems.push(*problem)).ok()
    }

    fn target(&mut self, word: &Word<'_>) -> Option<Target> {
        let target = Target::named(word.text);
        if target.is_none() {
            let like = words::nearest(word.text)
                .map_or_else(String::new, |name| format!("; did you mean {name}?"));
            self.problems.push(word.problem(
                "there is no such control",
                &words::all_names(),
                &format!("use a Linux name from the list{like}"),
            ));
        }
        target
    }

    /// A pad that is not there can do nothing but come.
    fn is_possible(&mut self, word: &Word<'_>, target: Target) -> bool {
        let first = self.plugged.is_none();
        let plugged = self.plugged.unwrap_or(target != Target::Plug);
        let (message, mend) = match (target, plugged) {
            (Target::Plug, true) if !first => ("the pad is plugged in already", "UNPLUG it first"),
            (Target::Plug, _) | (_, true) => return true,
            (_, false) => ("the pad is not plugged in here", "PLUG it first"),
        };
        self.problems
            .push(word.problem(message, if plugged { "UNPLUG" } else { "PLUG" }, mend));
        false
    }

    fn event(&mut self, at: Span, control: &Word<'_>, target: Target, rest: &[Word<'_>]) {
        let wanted = usize::from(!matches!(target, Target::Plug | Target::Unplug));
        if let Some(extra) = rest.get(wanted) {
            self.problems.push(extra.problem(
                "there is something behind the event",
                "nothing more in this line",
                "remove it, or put `#` before a remark",
            ));
            return;
        }
        let value = match rest.first() {
            Some(word) => match words::value(word, target) {
                Ok(value) => value,
                Err(problem) => return self.problems.push(*problem),
            },
            None if wanted == 0 => 0.0,
            None => {
                return self.problems.push(control.problem(
                    "it has no value",
                    target.allowed(),
                    &format!("write it behind the name, such as `{} 1`", control.text),
                ));
            }
        };
        self.starts_plugged.get_or_insert(target != Target::Plug);
        self.plugged = Some(target != Target::Unplug);
        match target {
            Target::Stick(control) | Target::Trigger(control) => {
                self.events.push((at, Action::Move(control, value)));
            }
            Target::Button(button) => self.events.push((at, Action::Press(button, value == 1.0))),
            Target::Hat(axis) => self.hat(at, axis, value as i8),
            Target::Plug => self.events.push((at, Action::Plug)),
            Target::Unplug => {
                self.hats = [0; 2];
                self.events.push((at, Action::Unplug));
            }
        }
    }

    /// Turns a hat's move into edges, the release first.
    fn hat(&mut self, at: Span, axis: usize, value: i8) {
        let [low, high] = [
            [Button::DpadLeft, Button::DpadRight],
            [Button::DpadDown, Button::DpadUp],
        ][axis];
        let button = |side: i8| if side < 0 { low } else { high };
        let before = std::mem::replace(&mut self.hats[axis], value);
        if before == value {
            // Said again: the player sees no change and passes on a sign of life.
            self.events
                .push((at, Action::Press(button(value), value != 0)));
            return;
        }
        if before != 0 {
            self.events.push((at, Action::Press(button(before), false)));
        }
        if value != 0 {
            self.events.push((at, Action::Press(button(value), true)));
        }
    }

    fn finish(self) -> Result<Script, Vec<ScriptProblem>> {
        if !self.problems.is_empty() {
            return Err(self.problems);
        }
        if self.events.is_empty() {
            let problem = ScriptProblem {
                found: "no event".into(),
                allowed: "at least one line of SECONDS CONTROL VALUE".into(),
                mend: "begin with `0.0 ABS_RX 0`".into(),
                ..ScriptProblem::of_file("the script is empty")
            };
            return Err(vec![problem]);
        }
        Ok(Script {
            events: self.events,
            starts_plugged: self.starts_plugged.unwrap_or(true),
        })
    }
}

#[cfg(test)]
mod tests;
