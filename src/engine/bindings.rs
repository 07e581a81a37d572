//! Which presses do what, and the rules that no profile can break.

use crate::input::Button;
use crate::operator::MAX_GROUPS;
use alloc::vec::Vec;

/// How something is pressed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Press {
    /// A bare tap.
    Tap(Button),
    /// Kept down for 0.6 s.
    Held(Button),
    /// A tap on `button` while `with` is down.
    With {
        /// Is down before.
        with: Button,
        /// Is tapped.
        button: Button,
    },
}

impl Press {
    /// The button whose edge counts.
    pub const fn button(self) -> Button {
        match self {
            Press::Tap(button) | Press::Held(button) | Press::With { button, .. } => button,
        }
    }

    /// Whether an unmeant touch of one button is enough.
    pub const fn is_bare_tap(self) -> bool {
        matches!(self, Press::Tap(_))
    }
}

/// What a press does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Action {
    /// Stops everything, from any connected pad. Always a bare tap.
    Stop,
    /// Releases a stop, with the known sticks centred. Never a bare tap.
    Release,
    /// The next faster gear of the groups this pad holds.
    GearUp,
    /// The next slower gear of the groups this pad holds.
    GearDown,
    /// Quiet on; off never by a bare tap.
    Quiet,
    /// No motion at all; off never by a bare tap.
    Still,
    /// Reduced speed; off never by a bare tap.
    Reduced,
    /// The camera is rolling: accidental changes are locked; off never by a bare tap.
    Rolling,
    /// Asks for the next operator of those that are at hand. Never a bare tap; it comes into force at
    /// rest, with every stick centred.
    NextOperator,
    /// Keeps the present speed after the thumb lets go. Never engaged by a bare tap; a press of its
    /// button ends it.
    Sustain,
    /// Asks for a group, or passes it to the pad that asked. Never a bare tap.
    Control {
        /// The group's place in the operator's groups.
        group: u8,
    },
    /// One exact step of an axis; kept down, a creep.
    Inch {
        /// The hand's place in the operator's hands.
        hand: u8,
        /// Which way.
        plus: bool,
    },
    /// Asks that the end of an axis's travel which is nearest be where it stands. Never a bare tap;
    /// the file is written outside of the engine.
    EndHere {
        /// The hand's place in the operator's hands.
        hand: u8,
    },
}

impl Action {
    /// Whether switching it is one press on and another press off.
    pub const fn is_mode(self) -> bool {
        matches!(
            self,
            Action::Quiet | Action::Still | Action::Reduced | Action::Rolling
        )
    }

    /// Whether an unmeant touch of one button may never do it.
    pub const fn never_a_bare_tap(self) -> bool {
        matches!(
            self,
            Action::Release
                | Action::NextOperator
                | Action::Sustain
                | Action::Control { .. }
                | Action::EndHere { .. }
        )
    }
}

/// One press and what it does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Binding {
    /// How it is pressed.
    pub press: Press,
    /// What it does.
    pub action: Action,
}

/// Why some bindings can't be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BindingError {
    /// Nothing stops the rig.
    NoStop,
    /// Nothing releases a stop.
    NoRelease,
    /// The stop at this place is not a bare tap, or is one of several.
    StopNotATap(usize),
    /// What is at this place may never be a bare tap.
    BareTap(usize),
    /// The press at the second place can't be told from that at the first.
    Clash(usize, usize),
    /// A group or hand there is not, or more bindings than [`MAX_BINDINGS`].
    OutOfRange(usize),
}

/// Most bindings a profile can have: more than a pad has buttons and pairs anyone remembers.
pub const MAX_BINDINGS: usize = 40;

/// All bindings of a profile. A stop is among them as a bare tap of a button that does nothing
/// else, and so is its release.
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Bindings {
    list: Vec<Binding>,
    stop: Button,
    release: Press,
}

impl Bindings {
    /// Takes bindings that go together.
    ///
    /// A mode bound to a tap is switched on by the tap and off by keeping the same button down; so
    /// its button has no other held press. A button that is kept down for something (inching, a
    /// creep) has none either.
    ///
    /// # Errors
    /// The first rule they break.
    pub fn new(list: Vec<Binding>, hands: usize) -> Result<Bindings, BindingError> {
        if list.len() > MAX_BINDINGS {
            return Err(BindingError::OutOfRange(MAX_BINDINGS));
        }
        let mut stop = None;
        let mut release = None;
        for (place, binding) in list.iter().enumerate() {
            match (binding.action, binding.press) {
                (Action::Stop, Press::Tap(button)) if stop.is_none() => stop = Some(button),
                (Action::Stop, _) => return Err(BindingError::StopNotATap(place)),
                (action, press) if action.never_a_bare_tap() && press.is_bare_tap() => {
                    return Err(BindingError::BareTap(place));
                }
                (Action::Release, press) => release = release.or(Some(press)),
                (Action::Control { group }, _) if usize::from(group) >= MAX_GROUPS => {
                    return Err(BindingError::OutOfRange(place));
                }
                (Action::Inch { hand, .. } | Action::EndHere { hand }, _)
                    if usize::from(hand) >= hands =>
                {
                    return Err(BindingError::OutOfRange(place));
                }
                _ => {}
            }
            let clash = list[..place]
                .iter()
                .position(|other| clash(*other, *binding));
            if let Some(other) = clash {
                return Err(BindingError::Clash(other, place));
            }
        }
        let stop = stop.ok_or(BindingError::NoStop)?;
        let release = release.ok_or(BindingError::NoRelease)?;
        Ok(Bindings {
            list,
            stop,
            release,
        })
    }

    /// The button whose bare tap stops everything.
    pub const fn stop(&self) -> Button {
        self.stop
    }

    /// The press that releases a stop.
    pub const fn release(&self) -> Press {
        self.release
    }

    /// What is done by pressing `button` while `is_down` tells of the others.
    pub fn with(
        &self,
        button: Button,
        is_down: impl Fn(Button) -> bool,
    ) -> Option<(Button, Action)> {
        self.list.iter().find_map(|binding| match binding.press {
            Press::With { with, button: own } if own == button && is_down(with) => {
                Some((with, binding.action))
            }
            Press::With { .. } | Press::Tap(_) | Press::Held(_) => None,
        })
    }

    /// What a bare tap of `button` does.
    pub fn tapped(&self, button: Button) -> Option<Action> {
        let tap = Press::Tap(button);
        self.list.iter().find(|b| b.press == tap).map(|b| b.action)
    }

    /// What keeping `button` down does: what is bound so, or the off of a mode bound to its tap.
    pub fn held(&self, button: Button) -> Option<Action> {
        let held = Press::Held(button);
        let bound = self.list.iter().find(|b| b.press == held).map(|b| b.action);
        bound.or(self.tapped(button).filter(|action| action.is_mode()))
    }

    /// Whether `button` does anything, by itself or with another one.
    pub fn touch(&self, button: Button) -> bool {
        self.list.iter().any(|b| b.press.button() == button) || self.goes_with(button)
    }

    /// Whether `button` is held for another one's press.
    pub fn goes_with(&self, button: Button) -> bool {
        self.list
            .iter()
            .any(|b| matches!(b.press, Press::With { with, .. } if with == button))
    }
}

impl core::ops::Deref for Bindings {
    type Target = [Binding];
    fn deref(&self) -> &[Binding] {
        &self.list
    }
}

/// Whether two presses can't be told apart, or one would do the other by the way.
fn clash(one: Binding, two: Binding) -> bool {
    if one.press == two.press {
        return true;
    }
    // The stop's button does nothing else, in no company.
    let stops = |b: Binding| b.action == Action::Stop;
    let touches = |b: Binding, button| {
        b.press.button() == button || matches!(b.press, Press::With { with, .. } if with == button)
    };
    if stops(one) && touches(two, one.press.button())
        || stops(two) && touches(one, two.press.button())
    {
        return true;
    }
    kept_down(one, two) || kept_down(two, one) || each_others(one.press, two.press)
}

/// Whether `one` keeps its button down or uses its being held, and `two` wants the same.
fn kept_down(one: Binding, two: Binding) -> bool {
    let Press::Tap(button) = one.press else {
        return false;
    };
    let keeps = one.action.is_mode() || matches!(one.action, Action::Inch { .. });
    let inches = matches!(one.action, Action::Inch { .. });
    let goes_with = matches!(two.press, Press::With { with, .. } if with == button);
    keeps && two.press == Press::Held(button) || inches && goes_with
}

/// A button held for another that is itself held for the first: nobody can tell which came first.
fn each_others(one: Press, two: Press) -> bool {
    match (one, two) {
        (Press::With { with: a, button: b }, Press::With { with: c, button: d }) => {
            a == d && b == c
        }
        _ => false,
    }
}

#[cfg(test)]
mod tests;
