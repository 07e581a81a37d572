//! One pad as the model sees it: what it said last, and which buttons are down.

use stillhand_engine::bindings::{Bindings, Press};
use stillhand_engine::input::{Button, Control, PadBus};
use stillhand_engine::operator::{Enable, Source, StickShape, Sticks};
use stillhand_engine::time::{Span, Time};
use stillhand_engine::units::Unit;

/// A trigger enables from half its way on.
const ENABLED_FROM: f64 = 0.5;
/// A press counts as held from then on.
const HELD: Span = Span::from_millis(600);

/// What is known of a pad.
#[derive(Clone, Debug)]
pub(super) struct Pad {
    pub bus: PadBus,
    pub drives: bool,
    heard: Time,
    /// Silent for too long and not heard since.
    mute: bool,
    values: [Option<f64>; Control::ALL.len()],
    /// Since when each button is down, and whether its press has already done something.
    down: [Option<(Time, bool)>; Button::ALL.len()],
}

impl Pad {
    pub fn new(now: Time, bus: PadBus, drives: bool) -> Pad {
        Pad {
            bus,
            drives,
            heard: now,
            mute: false,
            values: [None; Control::ALL.len()],
            down: [None; Button::ALL.len()],
        }
    }

    pub fn speaks(&mut self, now: Time) {
        self.heard = now;
        self.mute = false;
    }

    pub fn moved(&mut self, control: Control, value: f64) {
        self.values[control as usize] = Some(value.clamp(-1.0, 1.0));
    }

    /// A button goes down; whether it was up before. With another one bound to it down, both have done
    /// their work.
    pub fn pressed(&mut self, now: Time, button: Button, bindings: &Bindings) -> bool {
        if self.is_down(button) {
            return false;
        }
        self.down[button as usize] = Some((now, false));
        if let Some((with, _)) = bindings.with(button, |other| self.is_down(other)) {
            self.use_up(button);
            self.use_up(with);
        }
        true
    }

    pub fn released(&mut self, button: Button) {
        self.down[button as usize] = None;
    }

    /// The press of a button that is down does nothing more.
    pub fn use_up(&mut self, button: Button) {
        if let Some((_, used)) = &mut self.down[button as usize] {
            *used = true;
        }
    }

    pub fn is_down(&self, button: Button) -> bool {
        self.down[button as usize].is_some()
    }

    /// Whether a held press has lasted long enough and done nothing yet.
    pub fn holds(&self, now: Time, press: Press) -> bool {
        let Press::Held(button) = press else {
            return false;
        };
        self.down[button as usize].is_some_and(|(since, used)| !used && now.since(since) >= HELD)
    }

    /// It was silent for too long: until it speaks again nothing it said counts, and no press of before
    /// ever.
    pub fn goes_mute(&mut self) {
        self.mute = true;
        self.down = [None; Button::ALL.len()];
    }

    /// Whether it has been silent for longer than an axis in `unit` may move at `speed` behind it: 30
    /// degrees or 300 mm of way, within bounds that depend on how it is connected. One that streams is
    /// missed whatever the way.
    pub fn is_too_silent(&self, now: Time, unit: Unit, speed: f64) -> bool {
        let (least, most) = match self.bus {
            PadBus::Wired => return false,
            PadBus::Usb => (10.0, 60.0),
            PadBus::Bluetooth => (2.0, 60.0),
            PadBus::Streaming => (0.3, 0.3),
        };
        let way = match unit {
            Unit::Deg => 30.0,
            Unit::Mm => 300.0,
        };
        let bound = Span::from_secs_f64((way / speed.abs()).clamp(least, most));
        !self.mute && now.since(self.heard) >= bound
    }

    fn value(&self, control: Control) -> Option<f64> {
        self.values[control as usize].filter(|_| !self.mute)
    }

    /// How far a source is out, 0..=1; `None` as long as it is unknown. A radial stick is out as a whole;
    /// of two triggers the farther one counts, once both have spoken.
    pub fn out(&self, source: Source, sticks: &Sticks) -> Option<f64> {
        match source {
            Source::Stick(control) => {
                let own = self.value(control)?;
                match (sticks.shape(control), control.other_direction()) {
                    (Some(StickShape::Radial { .. }), Some(other)) => {
                        let across = self.value(other).unwrap_or(0.0);
                        Some((own * own + across * across).sqrt())
                    }
                    _ => Some(own.abs()),
                }
            }
            Source::Pair { plus, minus } => {
                let (plus, minus) = (self.value(plus)?, self.value(minus)?);
                Some(plus.abs().max(minus.abs()))
            }
        }
    }

    /// Whether the enable control is held on it.
    pub fn enables(&self, enable: Enable) -> bool {
        match enable {
            Enable::Button(button) => !self.mute && self.is_down(button),
            Enable::Trigger(control) => self.value(control).is_some_and(|x| x >= ENABLED_FROM),
        }
    }
}
