//! gilrs' events to the engine's: one pad's state, which tells a change from a sign of life.

use gilrs::ev::Code;
use gilrs::{Axis, Button as Key, EventType};
use stillhand_engine::input::{Button, Control, PadEvent};

/// An axis that stands for a button counts as pressed from here on.
const AXIS_DOWN: f32 = 0.75;
/// ... and as released from here down. Both are gilrs' own defaults.
const AXIS_UP: f32 = 0.65;
/// A hat has three positions; half way separates them whatever its scale.
const HAT_ON: f32 = 0.5;
/// Event type of absolute axes (`EV_ABS` in linux/input-event-codes.h).
const EV_ABS: u32 = 3;

/// What gilrs said, as far as it matters here.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Spoken {
    /// An axis has this value, -1..=1.
    Axis(Axis, f32),
    /// A key went down or up.
    Key(Key, bool),
    /// A key has this value, 0..=1, and whether an axis stands behind it.
    Value(Key, f32, bool),
    /// Something we have no use for, but it shows life.
    Other,
}

impl Spoken {
    /// Reads one of gilrs' events; `None` for what says nothing new of the pad (a key's value that
    /// merely repeats its edge) or does not come from it (hotplug, force feedback).
    pub fn from_event(event: &EventType) -> Option<Spoken> {
        match *event {
            EventType::AxisChanged(axis, value, _) => Some(Spoken::Axis(axis, value)),
            EventType::ButtonPressed(key, code) => edge(key, true, code),
            EventType::ButtonReleased(key, code) => edge(key, false, code),
            EventType::ButtonChanged(key, value, code) => {
                let axis = is_axis(code);
                let trigger = trigger_of(key).is_some();
                (axis || trigger).then_some(Spoken::Value(key, value, axis))
            }
            EventType::ButtonRepeated(..) => Some(Spoken::Other),
            _ => None,
        }
    }
}

/// An edge that comes from an axis or belongs to a trigger is left to the value gilrs sends right
/// behind it.
fn edge(key: Key, down: bool, code: Code) -> Option<Spoken> {
    (!is_axis(code) && trigger_of(key).is_none()).then_some(Spoken::Key(key, down))
}

/// Whether an axis stands behind one of gilrs' codes.
pub fn is_axis(code: Code) -> bool {
    code.into_u32() >> 16 == EV_ABS
}

fn trigger_of(key: Key) -> Option<Control> {
    match key {
        Key::LeftTrigger2 => Some(Control::Lt),
        Key::RightTrigger2 => Some(Control::Rt),
        _ => None,
    }
}

/// The control a gilrs axis drives; `None` for hats and unknown ones.
pub fn control_of(axis: Axis) -> Option<Control> {
    match axis {
        Axis::LeftStickX => Some(Control::Lx),
        Axis::LeftStickY => Some(Control::Ly),
        Axis::RightStickX => Some(Control::Rx),
        Axis::RightStickY => Some(Control::Ry),
        Axis::LeftZ => Some(Control::Lt),
        Axis::RightZ => Some(Control::Rt),
        Axis::DPadX | Axis::DPadY | Axis::Unknown => None,
    }
}

/// Our name for a gilrs button; `None` for triggers and those without a place in the Linux Gamepad
/// Specification.
pub fn button_of(key: Key) -> Option<Button> {
    match key {
        Key::South => Some(Button::South),
        Key::East => Some(Button::East),
        Key::North => Some(Button::North),
        Key::West => Some(Button::West),
        Key::LeftTrigger => Some(Button::Tl),
        Key::RightTrigger => Some(Button::Tr),
        Key::Select => Some(Button::Select),
        Key::Start => Some(Button::Start),
        Key::Mode => Some(Button::Mode),
        Key::LeftThumb => Some(Button::Thumbl),
        Key::RightThumb => Some(Button::Thumbr),
        Key::DPadUp => Some(Button::DpadUp),
        Key::DPadDown => Some(Button::DpadDown),
        Key::DPadLeft => Some(Button::DpadLeft),
        Key::DPadRight => Some(Button::DpadRight),
        Key::C | Key::Z | Key::LeftTrigger2 | Key::RightTrigger2 | Key::Unknown => None,
    }
}

/// What is known of one pad since it was plugged in. All of it unknown or released at first.
#[derive(Clone, Debug, Default)]
pub struct PadState {
    values: [Option<f64>; Control::ALL.len()],
    /// A button may be reported twice, as a key and by an axis (a d-pad as keys and as a hat): it
    /// is down while either says so.
    by_key: [bool; Button::ALL.len()],
    by_axis: [bool; Button::ALL.len()],
    /// Triggers with an axis behind them, left and right: their keys only repeat it coarsely.
    analog: [bool; 2],
}

impl PadState {
    /// A fresh pad; `left` and `right` say which of its triggers are known to have an axis.
    pub fn new(left: bool, right: bool) -> PadState {
        PadState {
            analog: [left, right],
            ..PadState::default()
        }
    }

    /// Takes what the pad said; calls `tell` once for each change, or once with a sign of life.
    pub fn hear(&mut self, spoken: Spoken, mut tell: impl FnMut(PadEvent)) {
        let changed = match spoken {
            Spoken::Axis(Axis::DPadX, value) => {
                self.hat(Button::DpadLeft, Button::DpadRight, value, &mut tell)
            }
            Spoken::Axis(Axis::DPadY, value) => {
                self.hat(Button::DpadDown, Button::DpadUp, value, &mut tell)
            }
            Spoken::Axis(axis, value) => self.axis(axis, value, &mut tell),
            Spoken::Key(key, down) => self.key(key, down, &mut tell),
            Spoken::Value(key, value, axis) => self.value(key, value, axis, &mut tell),
            Spoken::Other => false,
        };
        if !changed {
            tell(PadEvent::Alive);
        }
    }

    fn axis(&mut self, axis: Axis, value: f32, tell: &mut impl FnMut(PadEvent)) -> bool {
        match control_of(axis) {
            Some(trigger @ (Control::Lt | Control::Rt)) => {
                self.mark_analog(trigger);
                // A trigger that gilrs takes for a plain axis rests at -1. Of an 8-bit one gilrs
                // makes (raw + 1) / 256, so that it rests at 0.004 here.
                self.moved(trigger, (f64::from(value) + 1.0) / 2.0, tell)
            }
            Some(stick) => self.moved(stick, f64::from(value), tell),
            None => false,
        }
    }

    fn key(&mut self, key: Key, down: bool, tell: &mut impl FnMut(PadEvent)) -> bool {
        let Some(button) = button_of(key) else {
            return false;
        };
        let before = self.is_down(button);
        self.by_key[button as usize] = down;
        self.edge(button, before, tell)
    }

    fn value(
        &mut self,
        key: Key,
        value: f32,
        from_axis: bool,
        tell: &mut impl FnMut(PadEvent),
    ) -> bool {
        if let Some(trigger) = trigger_of(key) {
            if from_axis {
                self.mark_analog(trigger);
            } else if self.analog[usize::from(trigger == Control::Rt)] {
                return false;
            }
            return self.moved(trigger, f64::from(value), tell);
        }
        let Some(button) = button_of(key) else {
            return false;
        };
        let before = self.is_down(button);
        if value >= AXIS_DOWN {
            self.by_axis[button as usize] = true;
        } else if value <= AXIS_UP {
            self.by_axis[button as usize] = false;
        }
        self.edge(button, before, tell)
    }

    /// Both ends of one hat axis; a jump from end to end is a release and a press.
    fn hat(
        &mut self,
        low: Button,
        high: Button,
        value: f32,
        tell: &mut impl FnMut(PadEvent),
    ) -> bool {
        let wanted = [(low, value < -HAT_ON), (high, value > HAT_ON)];
        let mut changed = false;
        for releases in [true, false] {
            for (button, down) in wanted {
                if down != releases {
                    let before = self.is_down(button);
                    self.by_axis[button as usize] = down;
                    changed |= self.edge(button, before, tell);
                }
            }
        }
        changed
    }

    fn moved(&mut self, control: Control, value: f64, tell: &mut impl FnMut(PadEvent)) -> bool {
        // An axis whose driver declares no range divides by zero in gilrs.
        if !value.is_finite() {
            return false;
        }
        let low = match control {
            Control::Lt | Control::Rt => 0.0,
            Control::Lx | Control::Ly | Control::Rx | Control::Ry => -1.0,
        };
        // Adding 0 turns -0 into 0: no sign without a value.
        let value = value.clamp(low, 1.0) + 0.0;
        let known = &mut self.values[control as usize];
        if *known == Some(value) {
            return false;
        }
        *known = Some(value);
        tell(PadEvent::Moved(control, value));
        true
    }

    fn edge(&self, button: Button, before: bool, tell: &mut impl FnMut(PadEvent)) -> bool {
        let now = self.is_down(button);
        if now != before {
            tell(PadEvent::Pressed(button, now));
        }
        now != before
    }

    fn is_down(&self, button: Button) -> bool {
        self.by_key[button as usize] || self.by_axis[button as usize]
    }

    fn mark_analog(&mut self, trigger: Control) {
        self.analog[usize::from(trigger == Control::Rt)] = true;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use PadEvent::{Alive, Moved, Pressed};

    fn hear(pad: &mut PadState, spoken: Spoken) -> Vec<PadEvent> {
        let mut told = Vec::new();
        pad.hear(spoken, |event| told.push(event));
        told
    }

    #[test]
    fn sticks_and_unmapped_triggers() {
        let mut pad = PadState::default();
        let mut axis = |axis, value| hear(&mut pad, Spoken::Axis(axis, value));
        assert_eq!(axis(Axis::LeftStickX, 1.0), [Moved(Control::Lx, 1.0)]);
        assert_eq!(axis(Axis::LeftStickY, -0.5), [Moved(Control::Ly, -0.5)]);
        assert_eq!(axis(Axis::RightStickX, 0.25), [Moved(Control::Rx, 0.25)]);
        assert_eq!(axis(Axis::RightStickY, 0.0), [Moved(Control::Ry, 0.0)]);
        assert_eq!(axis(Axis::RightStickY, 0.0), [Alive]);
        assert_eq!(axis(Axis::LeftZ, -1.0), [Moved(Control::Lt, 0.0)]);
        assert_eq!(axis(Axis::RightZ, 0.0), [Moved(Control::Rt, 0.5)]);
        assert_eq!(axis(Axis::Unknown, 0.3), [Alive]);
    }

    #[test]
    fn nonsense_is_a_sign_of_life() {
        let mut pad = PadState::default();
        for value in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY] {
            assert_eq!(
                hear(&mut pad, Spoken::Axis(Axis::LeftStickX, value)),
                [Alive]
            );
            assert_eq!(
                hear(&mut pad, Spoken::Value(Key::LeftTrigger2, value, true)),
                [Alive]
            );
        }
        let far = Spoken::Axis(Axis::LeftStickX, 7.0);
        assert_eq!(hear(&mut pad, far), [Moved(Control::Lx, 1.0)]);
        assert_eq!(hear(&mut pad, Spoken::Key(Key::Unknown, true)), [Alive]);
        assert_eq!(hear(&mut pad, Spoken::Other), [Alive]);
    }

    #[test]
    fn every_button_has_its_own_edge_once() {
        let mut pad = PadState::default();
        let keys = [
            Key::South,
            Key::East,
            Key::North,
            Key::West,
            Key::LeftTrigger,
            Key::RightTrigger,
            Key::Select,
            Key::Start,
            Key::Mode,
            Key::LeftThumb,
            Key::RightThumb,
            Key::DPadUp,
            Key::DPadDown,
            Key::DPadLeft,
            Key::DPadRight,
        ];
        for (key, button) in keys.into_iter().zip(Button::ALL) {
            assert_eq!(
                hear(&mut pad, Spoken::Key(key, true)),
                [Pressed(button, true)]
            );
            assert_eq!(hear(&mut pad, Spoken::Key(key, true)), [Alive]);
            assert_eq!(
                hear(&mut pad, Spoken::Key(key, false)),
                [Pressed(button, false)]
            );
        }
    }

    #[test]
    fn a_hat_gives_all_four_edges() {
        use Button::{DpadDown, DpadLeft, DpadRight, DpadUp};
        let mut pad = PadState::default();
        let mut hat = |axis, value| hear(&mut pad, Spoken::Axis(axis, value));
        assert_eq!(hat(Axis::DPadX, 1.0), [Pressed(DpadRight, true)]);
        assert_eq!(
            hat(Axis::DPadX, -1.0),
            [Pressed(DpadRight, false), Pressed(DpadLeft, true)]
        );
        assert_eq!(hat(Axis::DPadX, 0.0), [Pressed(DpadLeft, false)]);
        assert_eq!(hat(Axis::DPadY, 1.0), [Pressed(DpadUp, true)]);
        assert_eq!(
            hat(Axis::DPadY, -1.0),
            [Pressed(DpadUp, false), Pressed(DpadDown, true)]
        );
        assert_eq!(hat(Axis::DPadY, -1.0), [Alive]);
        assert_eq!(hat(Axis::DPadY, 0.0), [Pressed(DpadDown, false)]);
    }

    #[test]
    fn a_d_pad_reported_twice_is_pressed_once() {
        let mut pad = PadState::default();
        let up = Button::DpadUp;
        assert_eq!(
            hear(&mut pad, Spoken::Key(Key::DPadUp, true)),
            [Pressed(up, true)]
        );
        assert_eq!(hear(&mut pad, Spoken::Axis(Axis::DPadY, 1.0)), [Alive]);
        assert_eq!(hear(&mut pad, Spoken::Key(Key::DPadUp, false)), [Alive]);
        assert_eq!(
            hear(&mut pad, Spoken::Axis(Axis::DPadY, 0.0)),
            [Pressed(up, false)]
        );
    }

    #[test]
    fn a_shoulder_that_is_an_axis_has_hysteresis() {
        let mut pad = PadState::default();
        let mut value = |v| hear(&mut pad, Spoken::Value(Key::LeftTrigger, v, true));
        assert_eq!(value(0.7), [Alive]);
        assert_eq!(value(0.75), [Pressed(Button::Tl, true)]);
        assert_eq!(value(0.7), [Alive]);
        assert_eq!(value(0.65), [Pressed(Button::Tl, false)]);
    }

    #[test]
    fn a_triggers_key_counts_only_without_an_axis() {
        let mut plain = PadState::default();
        let key = Spoken::Value(Key::LeftTrigger2, 1.0, false);
        assert_eq!(hear(&mut plain, key), [Moved(Control::Lt, 1.0)]);

        let mut known = PadState::new(true, false);
        assert_eq!(hear(&mut known, key), [Alive]);
        let right = Spoken::Value(Key::RightTrigger2, 1.0, false);
        assert_eq!(hear(&mut known, right), [Moved(Control::Rt, 1.0)]);

        let mut learnt = PadState::default();
        let axis = Spoken::Value(Key::LeftTrigger2, 0.25, true);
        assert_eq!(hear(&mut learnt, axis), [Moved(Control::Lt, 0.25)]);
        assert_eq!(hear(&mut learnt, key), [Alive]);
    }
}
