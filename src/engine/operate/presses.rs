//! How buttons are pressed: tapped, held, or with another one.
//!
//! A press does one thing. A tap that nothing else could become acts as the button goes down; one
//! whose button may also be held, or goes with another one, acts as it comes up.

use crate::bindings::{Action, Bindings};
use crate::input::Button;
use crate::time::{Span, Time};

/// How long a held press is held: longer than any tap, short enough to wait for.
pub const HELD_FOR: Span = Span::from_millis(600);

/// What a button going down did at once.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pressed {
    /// A bare tap.
    Tap(Action),
    /// A tap with another button down.
    With(Action),
}

/// The buttons of one pad.
#[derive(Clone, Copy, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Presses {
    down: [Down; Button::ALL.len()],
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
enum Down {
    /// Up.
    No,
    /// Down since then, and it has done nothing yet.
    Since(Time),
    /// Down, and it has done its work.
    Used,
}

impl Presses {
    /// All up.
    pub const fn none() -> Presses {
        Presses {
            down: [Down::No; Button::ALL.len()],
        }
    }

    /// Whether a button is down.
    pub fn is_down(&self, button: Button) -> bool {
        self.down[button as usize] != Down::No
    }

    /// Since when a button is down, unless its press has already done something.
    pub fn held_since(&self, button: Button) -> Option<Time> {
        match self.down[button as usize] {
            Down::Since(since) => Some(since),
            Down::No | Down::Used => None,
        }
    }

    /// This press does nothing more.
    pub fn consume(&mut self, button: Button) {
        if self.is_down(button) {
            self.down[button as usize] = Down::Used;
        }
    }

    /// A button goes down. A second report that it is down changes nothing.
    pub fn down(&mut self, now: Time, button: Button, bindings: &Bindings) -> Option<Pressed> {
        if self.is_down(button) {
            return None;
        }
        self.down[button as usize] = Down::Since(now);
        if let Some((with, action)) = bindings.with(button, |other| self.is_down(other)) {
            self.down[button as usize] = Down::Used;
            self.down[with as usize] = Down::Used;
            return Some(Pressed::With(action));
        }
        let action = bindings.tapped(button)?;
        (!waits(button, action, bindings)).then_some(Pressed::Tap(action))
    }

    /// A button comes up; the tap that this completes.
    pub fn up(&mut self, button: Button, bindings: &Bindings) -> Option<Action> {
        let was = core::mem::replace(&mut self.down[button as usize], Down::No);
        let Down::Since(_) = was else { return None };
        let action = bindings.tapped(button)?;
        waits(button, action, bindings).then_some(action)
    }

    /// The next held press that is due, and its button; asked again until there is none.
    pub fn due(&mut self, now: Time, bindings: &Bindings) -> Option<(Button, Action)> {
        for button in Button::ALL {
            let Some(since) = self.held_since(button) else {
                continue;
            };
            if now.since(since) < HELD_FOR {
                continue;
            }
            if let Some(action) = bindings.held(button).filter(|a| *a != Action::Release) {
                self.down[button as usize] = Down::Used;
                return Some((button, action));
            }
        }
        None
    }
}

/// Whether a tap can be told from another press only when the button comes up. A mode's tap can be
/// told at once: it switches on what is off, and is the beginning of a held press otherwise.
fn waits(button: Button, action: Action, bindings: &Bindings) -> bool {
    let otherwise_held = bindings.held(button).is_some_and(|held| held != action);
    bindings.goes_with(button) || otherwise_held
}

#[cfg(test)]
mod tests;
