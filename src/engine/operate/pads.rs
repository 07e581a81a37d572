//! The pads that are plugged in and what their controls say.

use crate::MAX_PADS;
use crate::bindings::{Action, Bindings, Press};
use crate::feel::wedged;
use crate::input::{Button, Control, PadBus, PadEvent, PadId};
use crate::operate::presses::{HELD_FOR, Pressed, Presses};
use crate::operator::{Enable, Source, StickShape, Sticks};
use crate::time::{Span, Time};
use crate::units::{held, higher};
use libm::sqrt;

/// What is known of one pad.
#[derive(Clone, Copy, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Pad {
    /// How it is connected, as far as its silence is concerned.
    pub bus: PadBus,
    /// Whether it may drive.
    pub drives: bool,
    /// When it last spoke.
    pub heard: Time,
    /// Whether the operator was told that it is silent.
    pub silence_told: bool,
    /// It was silent for too long and has not spoken since: what it said before counts no more.
    mute: bool,
    values: [Option<f64>; Control::ALL.len()],
    presses: Presses,
}

impl Pad {
    const fn new(now: Time, bus: PadBus, drives: bool) -> Pad {
        Pad {
            bus,
            drives,
            heard: now,
            silence_told: false,
            mute: false,
            values: [None; Control::ALL.len()],
            presses: Presses::none(),
        }
    }

    /// What a control says, -1..=1; `None` as long as it has not spoken, or the pad has gone mute.
    pub fn value(&self, control: Control) -> Option<f64> {
        self.values[control as usize].filter(|_| !self.mute)
    }

    /// How far a source is pushed and which way, -1..=1, before deadband and curve. Wedge and
    /// radial shape are in it: of a radial stick this is the direction's part of how far the stick
    /// is pushed, with `depth` the whole of it.
    pub fn reading(&self, source: Source, sticks: &Sticks) -> Option<Reading> {
        match source {
            Source::Stick(control) => self.stick(control, sticks),
            Source::Pair { plus, minus } => {
                // As long as one of them has not spoken, neither counts: its first value may be far out.
                let (up, down) = (self.value(plus)?, self.value(minus)?);
                // Both at once ask for the difference. Only two triggers let go are centred: pulled
                // alike they ask for nothing, but are not.
                Some(Reading {
                    raw: higher(up, down),
                    ..Reading::axial(held(up - down, -1.0, 1.0))
                })
            }
        }
    }

    fn stick(&self, control: Control, sticks: &Sticks) -> Option<Reading> {
        let x = self.value(control)?;
        let Some(other) = control.other_direction() else {
            return Some(Reading::axial(x));
        };
        // A direction that has not spoken is at rest as far as the other one is concerned.
        let y = self.value(other).unwrap_or(0.0);
        match sticks.shape(control)? {
            StickShape::Axial { wedge_tan } => Some(Reading {
                raw: x,
                depth: wedged(x, y, wedge_tan).0.abs(),
                part: if x < 0.0 { -1.0 } else { 1.0 },
            }),
            StickShape::Radial { .. } => {
                let magnitude = sqrt(x * x + y * y);
                let part = if magnitude > 0.0 { x / magnitude } else { 0.0 };
                Some(Reading {
                    raw: magnitude,
                    depth: held(magnitude, 0.0, 1.0),
                    part,
                })
            }
        }
    }

    /// Since when a button is down, unless its press has already done something.
    pub fn held_since(&self, button: Button) -> Option<Time> {
        self.presses.held_since(button)
    }

    /// Whether a button is down.
    pub fn is_down(&self, button: Button) -> bool {
        self.presses.is_down(button)
    }

    /// Whether what enables an axis is held.
    pub fn enables(&self, enable: Enable) -> bool {
        match enable {
            Enable::Button(button) => !self.mute && self.is_down(button),
            Enable::Trigger(control) => self.value(control).is_some_and(|x| x >= ENABLED_FROM),
        }
    }

    /// Whether a held press, which has done nothing yet, is under way long enough.
    pub fn pressing(&self, now: Time, press: Press) -> bool {
        match press {
            Press::Held(button) => self
                .held_since(button)
                .is_some_and(|since| now.since(since) >= HELD_FOR),
            // Both act as the button goes down, and then no longer.
            Press::Tap(_) | Press::With { .. } => false,
        }
    }

    /// The next held press that is due, and its button.
    pub fn due(&mut self, now: Time, bindings: &Bindings) -> Option<(Button, Action)> {
        self.presses.due(now, bindings)
    }

    /// Whether it was silent for too long and has not spoken since.
    pub const fn is_mute(&self) -> bool {
        self.mute
    }

    /// It was silent for too long.
    pub fn goes_mute(&mut self) {
        self.mute = true;
        self.presses = Presses::none();
    }

    fn speaks(&mut self, now: Time) {
        self.heard = now;
        self.mute = false;
    }

    /// This press has done its work: it does nothing more until the button is pressed anew.
    pub fn consume(&mut self, button: Button) {
        self.presses.consume(button);
    }
}

/// A trigger enables from half its way on, which nobody's resting finger reaches.
const ENABLED_FROM: f64 = 0.5;

/// What a stick direction or a pair of triggers says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// What counts for being centred: its own value, or how far a radial stick is pushed.
    pub raw: f64,
    /// How far it is pushed, 0..=1, for deadband and curve.
    pub depth: f64,
    /// The share of that which this direction has, -1..=1.
    pub part: f64,
}

impl Reading {
    fn axial(x: f64) -> Reading {
        Reading {
            raw: x,
            depth: x.abs(),
            part: if x < 0.0 { -1.0 } else { 1.0 },
        }
    }
}

/// What a pad event means.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum PadChange {
    /// Nothing.
    None,
    /// A pad vanished.
    Gone(PadId),
    /// A pad appeared. `anew`: its unplug was missed, what it said before counts no more.
    Come {
        /// Which.
        pad: PadId,
        /// Whether it was there before.
        anew: bool,
    },
    /// More pads than there are places for.
    TooMany,
    /// A button went down on this pad.
    Down(PadId, Button, Option<Pressed>),
    /// A button came up on this pad, and that completed a tap.
    Tapped(PadId, Action),
}

/// All pads.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Pads {
    pads: [Option<Pad>; MAX_PADS],
}

impl Pads {
    /// None plugged in.
    pub const fn none() -> Pads {
        Pads {
            pads: [None; MAX_PADS],
        }
    }

    /// What is known of a pad.
    pub fn get(&self, id: PadId) -> Option<&Pad> {
        self.pads.get(usize::from(id.0))?.as_ref()
    }

    /// The same, to change it.
    pub fn get_mut(&mut self, id: PadId) -> Option<&mut Pad> {
        self.pads.get_mut(usize::from(id.0))?.as_mut()
    }

    /// Every pad there is.
    pub fn all(&self) -> impl Iterator<Item = (PadId, &Pad)> {
        self.pads
            .iter()
            .enumerate()
            .filter_map(|(place, pad)| Some((PadId(place as u8), pad.as_ref()?)))
    }

    /// How long a pad has been silent.
    pub fn silent_for(&self, id: PadId, now: Time) -> Span {
        self.get(id).map_or(Span::ZERO, |pad| now.since(pad.heard))
    }

    /// Takes what happened on a pad.
    pub fn take(
        &mut self,
        now: Time,
        id: PadId,
        event: PadEvent,
        bindings: &Bindings,
    ) -> PadChange {
        let Some(place) = self.pads.get_mut(usize::from(id.0)) else {
            return PadChange::TooMany;
        };
        if let PadEvent::Plugged { bus, drives } = event {
            let anew = place.is_some();
            *place = Some(Pad::new(now, bus, drives));
            return PadChange::Come { pad: id, anew };
        }
        let Some(pad) = place.as_mut() else {
            return PadChange::None;
        };
        match event {
            PadEvent::Plugged { .. } => PadChange::None,
            PadEvent::Unplugged => {
                *place = None;
                PadChange::Gone(id)
            }
            PadEvent::Moved(control, value) => {
                if value.is_finite() {
                    pad.speaks(now);
                    pad.values[control as usize] = Some(held(value, -1.0, 1.0));
                }
                PadChange::None
            }
            PadEvent::Pressed(button, true) => {
                pad.speaks(now);
                PadChange::Down(id, button, pad.presses.down(now, button, bindings))
            }
            PadEvent::Pressed(button, false) => {
                pad.speaks(now);
                pad.presses
                    .up(button, bindings)
                    .map_or(PadChange::None, |action| PadChange::Tapped(id, action))
            }
            PadEvent::Alive => {
                pad.speaks(now);
                PadChange::None
            }
            PadEvent::Bus(bus) => {
                pad.bus = bus;
                PadChange::None
            }
        }
    }
}
