//! The pads that are plugged in, what their controls say, and which one is in control.

use crate::MAX_PADS;
use crate::feel::wedged;
use crate::input::{Button, Control, PadBus, PadEvent, PadId};
use crate::operator::Wedge;
use crate::time::{Span, Time};

/// What is known of one pad.
#[derive(Clone, Copy, Debug)]
pub struct Pad {
    /// How it is connected.
    pub bus: PadBus,
    /// Whether it may drive.
    pub drives: bool,
    /// When it last spoke.
    pub heard: Time,
    /// It was silent for too long and has not spoken since: what it said before counts no more.
    mute: bool,
    values: [Option<f64>; Control::ALL.len()],
    held_since: [Option<Time>; Button::ALL.len()],
}

impl Pad {
    /// What a control says, -1..=1; `None` as long as it has not spoken, or the pad has gone mute.
    pub fn value(&self, control: Control) -> Option<f64> {
        self.values[control as usize].filter(|_| !self.mute)
    }

    /// What a control says with its stick's wedge taken out. A direction that has not spoken is at
    /// rest as far as the other one is concerned.
    pub fn shaped(&self, control: Control, wedge: Wedge) -> Option<f64> {
        let value = self.value(control)?;
        let (other, tan) = match control {
            Control::Lx => (Control::Ly, wedge.left_tan),
            Control::Ly => (Control::Lx, wedge.left_tan),
            Control::Rx => (Control::Ry, wedge.right_tan),
            Control::Ry => (Control::Rx, wedge.right_tan),
            Control::Lt | Control::Rt => return Some(value),
        };
        Some(wedged(value, self.value(other).unwrap_or(0.0), tan).0)
    }

    /// Since when a button is down.
    pub fn held_since(&self, button: Button) -> Option<Time> {
        self.held_since[button as usize]
    }

    /// It was silent for too long.
    pub fn goes_mute(&mut self) {
        self.mute = true;
    }

    fn speaks(&mut self, now: Time) {
        self.heard = now;
        self.mute = false;
    }

    /// The next question of [`Pad::held_since`] answers no until the button is pressed anew.
    pub fn consume(&mut self, button: Button) {
        self.held_since[button as usize] = None;
    }
}

/// What a pad event means for who is in control.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PadChange {
    /// Nothing.
    None,
    /// The pad in control vanished.
    Lost,
    /// A pad came into control where there was none.
    Found,
    /// More pads than there are places for.
    TooMany,
    /// A button went down on this pad.
    Pressed(PadId, Button),
}

/// All pads.
#[derive(Clone, Debug)]
pub struct Pads {
    pads: [Option<Pad>; MAX_PADS],
    in_control: Option<PadId>,
}

impl Pads {
    /// None plugged in.
    pub const fn none() -> Pads {
        Pads {
            pads: [None; MAX_PADS],
            in_control: None,
        }
    }

    /// The pad in control.
    pub const fn in_control(&self) -> Option<PadId> {
        self.in_control
    }

    /// The pad in control and what is known of it.
    pub fn driver(&self) -> Option<&Pad> {
        self.pads[usize::from(self.in_control?.0)].as_ref()
    }

    /// The same, to change it.
    pub fn driver_mut(&mut self) -> Option<&mut Pad> {
        self.pads[usize::from(self.in_control?.0)].as_mut()
    }

    /// How long the pad in control has been silent.
    pub fn silent_for(&self, now: Time) -> Span {
        self.driver().map_or(Span::ZERO, |pad| now.since(pad.heard))
    }

    /// Takes what happened on a pad.
    pub fn take(&mut self, now: Time, id: PadId, event: PadEvent) -> PadChange {
        let Some(place) = self.pads.get_mut(usize::from(id.0)) else {
            return PadChange::TooMany;
        };
        match event {
            PadEvent::Plugged { bus, drives } => {
                let values = [None; Control::ALL.len()];
                let held_since = [None; Button::ALL.len()];
                let lost = self.in_control == Some(id);
                *place = Some(Pad {
                    bus,
                    drives,
                    heard: now,
                    mute: false,
                    values,
                    held_since,
                });
                if lost {
                    // The unplug before it was missed; what it said before counts no more. One that
                    // may not drive can't stay in control.
                    if !drives {
                        self.in_control = None;
                        self.fill_control();
                    }
                    return PadChange::Lost;
                }
                self.fill_control()
            }
            PadEvent::Unplugged => {
                *place = None;
                if self.in_control == Some(id) {
                    self.in_control = None;
                    self.fill_control();
                    PadChange::Lost
                } else {
                    PadChange::None
                }
            }
            PadEvent::Moved(control, value) => {
                if let Some(pad) = place.as_mut().filter(|_| value.is_finite()) {
                    pad.speaks(now);
                    pad.values[control as usize] = Some(value.clamp(-1.0, 1.0));
                }
                PadChange::None
            }
            PadEvent::Pressed(button, down) => {
                let Some(pad) = place.as_mut() else {
                    return PadChange::None;
                };
                pad.speaks(now);
                let held = &mut pad.held_since[button as usize];
                if !down {
                    *held = None;
                    return PadChange::None;
                }
                *held = Some(now);
                PadChange::Pressed(id, button)
            }
            PadEvent::Alive => {
                if let Some(pad) = place.as_mut() {
                    pad.speaks(now);
                }
                PadChange::None
            }
        }
    }

    /// Puts the first pad that may drive in control if none is.
    fn fill_control(&mut self) -> PadChange {
        if self.in_control.is_some() {
            return PadChange::None;
        }
        let first = self
            .pads
            .iter()
            .position(|pad| pad.is_some_and(|p| p.drives));
        self.in_control = first.map(|place| PadId(place as u8));
        if self.in_control.is_some() {
            PadChange::Found
        } else {
            PadChange::None
        }
    }
}
