//! What hands do: mostly drive, sometimes anything else.

use super::act::Act;
use super::play::{PADS, Session, Up};
use crate::soak::temper::Hands;
use stillhand_engine::input::{Button, Control, Order, PadBus, PadEvent, PadId};
use stillhand_engine::operate::modes::Mode;
use stillhand_engine::operator::{Enable, Source};
use stillhand_engine::output::{Ceiling, Enabled, State};
use stillhand_engine::reference::Reference;
use stillhand_engine::rig::Travel;
use stillhand_engine::time::Span;

const BUSES: [PadBus; 3] = [PadBus::Wired, PadBus::Usb, PadBus::Bluetooth];

/// A control has to be seen centred so long, and a little longer for the ticks.
const CENTRED: Span = Span::from_millis(260);

/// What is mended takes so long: a release is held 0.6 s.
const MENDING: Span = Span::from_millis(800);

impl Session {
    /// How long until the next turn of the loop: now and then it is late, as if the machine had slept
    /// for a moment even by seconds.
    pub(super) fn pause(&mut self) -> Span {
        if !self.random.chance(0.06 * self.period.secs()) {
            return self.period;
        }
        let most = match self.random.chance(0.1) {
            true => 5e6,
            false => self.random.pick(&[20e3, 60e3, 80e3, 200e3]),
        };
        Span::from_micros(self.random.between(5e3, most) as u64).max(self.period)
    }

    /// How many things happen in a second.
    pub(super) fn rate(&self) -> f64 {
        let own = match self.hands {
            Some(Hands::Nervous) => 15.0,
            Some(Hands::Lazy) => 1.5,
            Some(Hands::Hostile) => 9.0,
            None => 6.0,
        };
        match self.moves() && self.stage.outputs().status.state == State::Driving {
            true => own,
            false => own.max(8.0),
        }
    }

    fn moves(&self) -> bool {
        let axes = &self.stage.outputs().rigs[0].axes;
        axes.iter().any(|axis| axis.speed != 0.0)
    }

    pub(super) fn something(&mut self) {
        let now = self.stage.now();
        if self.silent_until.is_some_and(|until| now < until) {
            return;
        }
        // Most hands wait until what they mend is mended.
        if self.mending_until.is_some_and(|until| now < until) && self.random.chance(0.97) {
            return;
        }
        let mends = self.random.chance(0.97);
        match self.stage.outputs().status.state {
            // Sometimes somebody stops again while another one releases.
            State::Stopped(_) if self.random.chance(0.03) => return self.act(Act::Stop),
            State::Stopped(_) if mends => return self.mend(Button::Start),
            State::Still if mends => return self.mend(Button::North),
            // Let go and at rest is when a reference is taken.
            State::Withheld(_) if mends && self.random.chance(0.05) => {
                let asked = self.reference();
                return self.act(Act::Order(Order::Reference(asked)));
            }
            State::Withheld(_) if mends => return self.wait_centred(),
            State::NoLink(_) if mends => return,
            State::NoPad(_) if mends => return self.come(),
            State::Driving if !self.moves() && self.random.chance(0.04) => return self.errand(),
            State::Driving if !self.moves() && self.random.chance(0.7) => return self.push(),
            _ => {}
        }
        self.whatever();
    }

    fn whatever(&mut self) {
        match self.random.below(1000) {
            0..510 => self.push(),
            510..590 => self.stick(),
            590..620 => self.let_go(),
            620..913 => self.press(),
            913..923 => self.hand_over(),
            923..931 => self.come_or_go(),
            931..946 => self.edit(),
            946..947 => self.hush(),
            947..950 => self.edit_rig(),
            950..970 => self.order(),
            970..981 => self.trouble(),
            981..986 => self.errand(),
            986..992 => self.act(Act::Stop),
            992..994 => self.fall_silent(),
            994 => self.turn_out(),
            _ => self.wait_centred(),
        }
    }

    /// Holds a button, and leaves it alone for as long as that takes.
    fn mend(&mut self, button: Button) {
        self.mending_until = Some(self.stage.now() + MENDING);
        self.hold(button);
    }

    /// A terminal asks for something, mostly for the end of what is on.
    fn order(&mut self) {
        let modes = self.stage.outputs().status.modes;
        let on = [
            (Mode::Quiet, modes.quiet.on()),
            (Mode::Reduced, modes.reduced.on()),
            (Mode::Rolling, modes.rolling.on()),
        ];
        let off = on.into_iter().find(|(_, on)| *on).map(|(mode, _)| mode);
        let order = match off {
            Some(mode) if self.random.chance(0.7) => Order::Mode(mode, false),
            _ if self.random.chance(0.3) => Order::Gear {
                group: self.random.below(2) as u8,
                gear: self.random.below(4) as u8,
            },
            _ if self.random.chance(0.2) => Order::Reference(self.reference()),
            _ => {
                let modes = [
                    Mode::Quiet,
                    Mode::Quiet,
                    Mode::Reduced,
                    Mode::Still,
                    Mode::Rolling,
                ];
                Order::Mode(self.random.pick(&modes), self.random.chance(0.8))
            }
        };
        self.act(Act::Order(order));
    }

    /// An axis is said to stand somewhere inside of its travel, whether it is known to or not.
    fn reference(&mut self) -> Reference {
        let axis = self.random.below(self.stage.rig().axes.len());
        let (low, high) = match self.stage.rig().axes[axis].travel {
            Travel::Continuous => (-720.0, 720.0),
            Travel::Finite(ends) => (ends.low().0, ends.high().0),
        };
        Reference {
            rig: 0,
            axis: axis as u8,
            at: self.random.between(low, high),
            again: self.random.chance(0.7),
        }
    }

    /// Every pad says nothing for a while, whatever its sticks were doing.
    fn fall_silent(&mut self) {
        let seconds = self.random.between(1.5, 15.0);
        self.silent_until = Some(self.stage.now() + Span::from_secs_f64(seconds));
    }

    /// Lets go of all sticks and leaves them alone until they are seen centred.
    pub(super) fn wait_centred(&mut self) {
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
        let axis = self.stage.outputs().rigs[0].axes[usize::from(hand.axis)];
        let control = match hand.control {
            Some(Source::Stick(control)) => control,
            Some(Source::Pair { plus, minus }) => match self.random.chance(0.5) {
                true => plus,
                false => minus,
            },
            None => return,
        };
        let inverted = hand.invert;
        let pad = self.holder(hand.group);
        if axis.enabled == Enabled::Wanted && self.random.chance(0.8) {
            self.enable(pad);
        }
        let value = match self.hands {
            Some(hands) => hands.stick(&mut self.random),
            None if self.random.chance(0.2) => 0.0,
            None => self.random.between(0.3, 1.0) * self.random.pick(&[-1.0, 1.0]),
        };
        let at_end = axis.binding == Some(Ceiling::Travel) && axis.speed == 0.0;
        let value = match control {
            Control::Lt | Control::Rt => value.abs(),
            // Who has come to an end goes back, but for the stubborn.
            _ if at_end && self.random.chance(0.7) => {
                let back = if inverted { axis.demand } else { -axis.demand };
                value.abs().copysign(back)
            }
            _ => value,
        };
        self.pad(pad, PadEvent::Moved(control, value));
    }

    /// Holds what enables axes.
    fn enable(&mut self, pad: PadId) {
        match self.stage.operator().enable {
            Some(Enable::Trigger(control)) => self.pad(pad, PadEvent::Moved(control, 1.0)),
            Some(Enable::Button(button)) => {
                let seconds = self.random.between(1.0, 6.0);
                self.press_for(pad, button, seconds);
            }
            None => {}
        }
    }

    pub(super) fn holder(&mut self, group: u8) -> PadId {
        let held = self.stage.outputs().status.groups[usize::from(group)].pad;
        held.unwrap_or_else(|| self.driver())
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
        let down = match self.random.chance(0.5) {
            true => self.random.between(0.01, 0.3),
            false => self.random.between(0.4, 1.5),
        };
        self.press_for(pad, button, down);
    }

    fn press_for(&mut self, pad: PadId, button: Button, seconds: f64) {
        self.pad(pad, PadEvent::Pressed(button, true));
        let at = self.stage.now() + Span::from_secs_f64(seconds);
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
        if self.silent_until.is_some_and(|until| now < until) {
            return;
        }
        let ups = std::mem::take(&mut self.ups);
        for up in ups {
            match up.at <= now {
                true => self.pad(up.pad, PadEvent::Pressed(up.button, false)),
                false => self.ups.push(up),
            }
        }
    }

    pub(super) fn plug(&mut self, pad: PadId) {
        let bus = self.random.pick(&BUSES);
        let drives = pad == PadId(0) || self.random.chance(0.8);
        self.pad(pad, PadEvent::Plugged { bus, drives });
        let place = usize::from(pad.0);
        (self.streams[place], self.plugged[place]) = (false, true);
        if self.random.chance(0.15) {
            self.turns_out(place);
        }
    }

    /// A pad that may drive comes, or any.
    fn come(&mut self) {
        match self.plugged[0] {
            false => self.plug(PadId(0)),
            true => self.come_or_go(),
        }
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
}
