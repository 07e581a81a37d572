//! What hands do: mostly drive, sometimes anything else.

use super::act::Act;
use super::operators;
use super::play::{PADS, Session, Up};
use crate::link::mischief;
use stillhand_engine::input::{Button, Control, PadBus, PadEvent, PadId};
use stillhand_engine::operator::Source;
use stillhand_engine::output::State;
use stillhand_engine::time::Span;

const BUSES: [PadBus; 3] = [PadBus::Wired, PadBus::Usb, PadBus::Bluetooth];

/// A control has to be seen centred so long, and a little longer for the ticks.
const CENTRED: Span = Span::from_millis(260);

impl Session {
    /// How long until the next turn of the loop: now and then it is late.
    pub(super) fn pause(&mut self) -> Span {
        if !self.random.chance(0.06 * self.period.secs()) {
            return self.period;
        }
        let most = self.random.pick(&[20e3, 60e3, 80e3, 200e3]);
        Span::from_micros(self.random.between(5e3, most) as u64).max(self.period)
    }

    pub(super) fn something(&mut self) {
        let mends = self.random.chance(0.85);
        match self.stage.outputs().status.state {
            // Sometimes somebody stops again while another one releases.
            State::Stopped(_) if self.random.chance(0.1) => return self.command_stop(),
            State::Stopped(_) if mends => return self.hold(Button::Start),
            State::Still if mends => return self.hold(Button::North),
            State::Withheld(_) if mends => return self.wait_centred(),
            State::NoLink(_) if mends => return,
            State::NoPad(_) if mends => return self.come_or_go(),
            _ => {}
        }
        match self.random.below(1000) {
            0..480 => self.push(),
            480..560 => self.stick(),
            560..600 => self.let_go(),
            600..950 => self.press(),
            950..960 => self.hand_over(),
            960..970 => self.come_or_go(),
            970..985 => self.edit(),
            985..993 => self.rig_event(),
            993..996 => self.command_stop(),
            _ => self.wait_centred(),
        }
    }

    fn command_stop(&mut self) {
        self.act(Act::Stop);
    }

    /// Lets go of all sticks and leaves them alone until they are seen centred.
    fn wait_centred(&mut self) {
        let now = self.stage.now();
        if self.let_go_at.is_none_or(|at| now.since(at) > CENTRED) {
            self.let_go_at = Some(now);
            let pad = self.driver();
            self.centre(pad);
        }
    }

    /// Another pad asks for a group by a held press, and the pad that holds it agrees by the same.
    fn hand_over(&mut self) {
        let from = self.driver();
        let others = (0..PADS).map(PadId).filter(|pad| *pad != from);
        let plugged: Vec<PadId> = others
            .filter(|pad| self.plugged[usize::from(pad.0)])
            .collect();
        if plugged.is_empty() {
            let missing = PadId((from.0 + 1) % PADS);
            return self.plug(missing);
        }
        let to = self.random.pick(&plugged);
        let button = self.random.pick(&[Button::Select, Button::Mode]);
        self.hold_on(to, button);
        self.hold_on(from, button);
    }

    /// Pushes something that drives an axis, on the pad that holds it.
    fn push(&mut self) {
        let place = self.random.below(self.stage.operator().hands.len());
        let hand = &self.stage.operator().hands[place];
        let control = match hand.control {
            Some(Source::Stick(control)) => control,
            Some(Source::Pair { plus, minus }) => match self.random.chance(0.5) {
                true => plus,
                false => minus,
            },
            None => return,
        };
        let pad = self.driver();
        let far = self.random.between(0.3, 1.0);
        let value = match control {
            Control::Lt | Control::Rt => far,
            _ if self.random.chance(0.5) => -far,
            _ => far,
        };
        if self.random.chance(0.25) {
            self.pad(pad, PadEvent::Moved(control, 0.0));
        } else {
            self.pad(pad, PadEvent::Moved(control, value));
        }
    }

    /// A pad that holds something, if there is one.
    fn driver(&mut self) -> PadId {
        let groups = &self.stage.outputs().status.groups;
        let holders: Vec<PadId> = groups.iter().filter_map(|group| group.pad).collect();
        match holders.is_empty() {
            true => PadId(0),
            false => self.random.pick(&holders),
        }
    }

    fn some_pad(&mut self) -> PadId {
        match self.random.chance(0.7) {
            true => self.driver(),
            false => PadId(self.random.below(usize::from(PADS)) as u8),
        }
    }

    pub(super) fn centre(&mut self, pad: PadId) {
        for control in Control::ALL {
            self.pad(pad, PadEvent::Moved(control, 0.0));
        }
    }

    fn stick(&mut self) {
        let (pad, control) = (self.some_pad(), self.random.pick(&Control::ALL));
        let value = match self.random.below(4) {
            0 => 1.0,
            1 => -1.0,
            2 => self.random.between(-0.3, 0.3),
            _ => self.random.between(-1.0, 1.0),
        };
        let value = match control {
            Control::Lt | Control::Rt => value.abs(),
            _ => value,
        };
        self.pad(pad, PadEvent::Moved(control, value));
    }

    fn let_go(&mut self) {
        let pad = self.some_pad();
        self.centre(pad);
    }

    fn press(&mut self) {
        let pad = self.some_pad();
        let button = match self.random.below(10) {
            0 | 1 => Button::Tr,
            _ => self.random.pick(&Button::ALL),
        };
        if matches!(button, Button::East | Button::North) && self.random.chance(0.85) {
            return;
        }
        self.pad(pad, PadEvent::Pressed(button, true));
        let down = match self.random.chance(0.5) {
            true => self.random.between(0.01, 0.3),
            false => self.random.between(0.4, 1.5),
        };
        let at = self.stage.now() + Span::from_secs_f64(down);
        self.ups.push(Up { at, pad, button });
    }

    /// Lets go of everything on every pad and holds a button long enough.
    fn hold(&mut self, button: Button) {
        let pad = self.driver();
        self.hold_on(pad, button);
    }

    fn hold_on(&mut self, pad: PadId, button: Button) {
        let held = |up: &Up| (up.pad, up.button) == (pad, button);
        if self.ups.iter().any(held) {
            return;
        }
        self.centre(pad);
        self.pad(pad, PadEvent::Pressed(button, true));
        let at = self.stage.now() + Span::from_millis(750);
        self.ups.push(Up { at, pad, button });
    }

    pub(super) fn lift(&mut self) {
        let now = self.stage.now();
        let ups = std::mem::take(&mut self.ups);
        for up in ups {
            match up.at <= now {
                true => self.pad(up.pad, PadEvent::Pressed(up.button, false)),
                false => self.ups.push(up),
            }
        }
        if let Some((_, event)) = self.right.filter(|(at, _)| *at <= now) {
            self.act(Act::Rig(event));
            self.right = None;
        }
    }

    pub(super) fn plug(&mut self, pad: PadId) {
        let bus = self.random.pick(&BUSES);
        let drives = pad == PadId(0) || self.random.chance(0.8);
        self.pad(pad, PadEvent::Plugged { bus, drives });
        self.plugged[usize::from(pad.0)] = true;
    }

    fn come_or_go(&mut self) {
        let pad = PadId(self.random.below(usize::from(PADS)) as u8);
        if self.plugged[usize::from(pad.0)] {
            self.pad(pad, PadEvent::Unplugged);
            self.plugged[usize::from(pad.0)] = false;
        } else {
            self.plug(pad);
        }
    }

    fn edit(&mut self) {
        if self.stage.waits() {
            return;
        }
        let name = self.random.pick(&["first", "second"]);
        let edited = match self.random.chance(0.5) {
            true => operators::operator(&self.scene.rig, name, &mut self.random),
            false => {
                let mut edited = self.stage.operator().clone();
                let share = self.random.between(0.5, 1.2);
                for hand in &mut edited.hands {
                    hand.gain = Span::from_secs_f64(hand.gain.secs() * share);
                    hand.invert ^= self.random.chance(0.1);
                }
                edited
            }
        };
        self.act(Act::Profile(Box::new(edited)));
    }

    fn rig_event(&mut self) {
        if self.right.is_some() {
            return;
        }
        let at = self.stage.now() + Span::from_secs_f64(self.random.between(0.2, 2.0));
        let (wrong, right) = match self.random.below(3) {
            0 => (mischief::Event::Power(false), mischief::Event::Power(true)),
            1 => (
                mischief::Event::StopInput(true),
                mischief::Event::StopInput(false),
            ),
            _ => (mischief::Event::Fault(1), mischief::Event::Fault(0)),
        };
        self.act(Act::Rig(wrong));
        self.right = Some((at, right));
    }
}
