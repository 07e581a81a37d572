//! What a press does.

use super::Engine;
use crate::bindings::Action;
use crate::errand::ErrandEnd;
use crate::input::{Button, Order, PadId, StopSource};
use crate::operate::holders::Answer;
use crate::operate::inching::Press;
use crate::operate::modes::{Mode, Switch};
use crate::operate::state::Event;
use crate::operate::sustain::Sustain;
use crate::output::{Notice, State};
use crate::time::Time;

/// How sure it is that a press was meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Manner {
    /// A bare tap.
    Bare,
    /// Held, or with a second control.
    Meant,
}

impl Engine {
    /// Does what a press on a pad asks for. `button` is the one that is still down for it.
    pub(super) fn act(
        &mut self,
        now: Time,
        pad: PadId,
        button: Option<Button>,
        action: Action,
        manner: Manner,
    ) {
        match action {
            Action::Stop => self.stop(StopSource::Pad(pad)),
            Action::Control { group } => self.ask(now, pad, group),
            // Everything else is for pads that hold something.
            _ if !self.holders.holds_any(pad) => {}
            // One that is held is watched: see `watch_release`.
            Action::Release => self.release(pad),
            Action::GearUp => self.shift(pad, action),
            Action::GearDown => self.shift(pad, action),
            Action::Quiet | Action::Still | Action::Reduced | Action::Rolling => {
                if let Some(mode) = Mode::of(action) {
                    self.switch(pad, button, mode, manner);
                }
            }
            Action::NextOperator => self.next_operator(pad),
            Action::Sustain => self.sustain(pad),
            Action::EndHere { hand } => self.end_here(pad, hand),
            Action::Inch { hand, plus } => {
                if let Some(button) = button {
                    self.inch(now, pad, button, hand, plus);
                }
            }
        }
    }

    /// Does what was asked for without a pad: as a press that was meant does.
    pub(super) fn order(&mut self, order: Order) {
        match order {
            Order::Mode(mode, on) => match (self.modes.get(mode), on) {
                (Switch::Off, true) => self.switch_on(mode),
                (Switch::Leaving, true) => self.modes.set(mode, Switch::On),
                (Switch::On, false) => self.switch_off(mode),
                (Switch::On, true) | (Switch::Off | Switch::Leaving, false) => {}
            },
            Order::Gear { group, gear } if usize::from(group) < self.holders.count() => {
                self.shift_to(group, gear);
            }
            Order::Gear { .. } => {}
            Order::CallOff => self.end_errand(ErrandEnd::CalledOff),
            Order::Reference(asked) => self.ask_reference(asked),
        }
    }

    fn shift(&mut self, pad: PadId, action: Action) {
        for group in 0..self.holders.count() as u8 {
            if self.holders.holder(group) != Some(pad) {
                continue;
            }
            let gear = self.gears[usize::from(group)];
            self.shift_to(
                group,
                match action {
                    Action::GearUp => gear + 1,
                    _ => gear.saturating_sub(1),
                },
            );
        }
    }

    fn shift_to(&mut self, group: u8, gear: u8) {
        let now = self.gears[usize::from(group)];
        let to = gear.min(self.operator.gears_of(group) - 1);
        if to == now {
            return;
        }
        if self.modes.rolling.on() && !self.group_centred(group) {
            let locked = if to > now {
                Action::GearUp
            } else {
                Action::GearDown
            };
            self.outputs.notices.push(Notice::Locked(locked));
            return;
        }
        self.gears[usize::from(group)] = to;
        self.outputs.notices.push(Notice::Gear { group, gear: to });
    }

    /// Switches a mode. A bare tap switches on only; the same button kept down, or a press that
    /// was meant, also switches off.
    fn switch(&mut self, pad: PadId, button: Option<Button>, mode: Mode, manner: Manner) {
        if let (Some(pad), Some(button)) = (self.pads.get_mut(pad), button)
            && !self.modes.get(mode).on()
        {
            // What switched it on must not, kept down, switch it off again.
            pad.consume(button);
        }
        match (self.modes.get(mode), manner) {
            (Switch::Off, _) => self.switch_on(mode),
            (Switch::Leaving, _) => self.modes.set(mode, Switch::On),
            (Switch::On, Manner::Bare) => {}
            (Switch::On, Manner::Meant) => self.switch_off(mode),
        }
    }

    fn switch_on(&mut self, mode: Mode) {
        self.modes.set(mode, Switch::On);
        self.outputs.notices.push(Notice::Mode(mode, true));
        match mode {
            Mode::Still => self.happen(Event::StillOn),
            // Nor may it go off in the take because its moment comes only then.
            Mode::Rolling if self.modes.quiet == Switch::Leaving => {
                self.modes.quiet = Switch::On;
                self.outputs.notices.push(Notice::Locked(Action::Quiet));
            }
            Mode::Quiet | Mode::Reduced | Mode::Rolling => {}
        }
    }

    fn switch_off(&mut self, mode: Mode) {
        match mode {
            Mode::Quiet if self.modes.rolling.on() => {
                self.outputs.notices.push(Notice::Locked(Action::Quiet));
            }
            Mode::Quiet | Mode::Reduced if !self.all_centred() => {
                self.modes.set(mode, Switch::Leaving);
                self.outputs.notices.push(Notice::ModeWaits(mode));
            }
            Mode::Quiet | Mode::Reduced | Mode::Still | Mode::Rolling => self.off(mode),
        }
    }

    /// A mode is off.
    pub(super) fn off(&mut self, mode: Mode) {
        self.modes.set(mode, Switch::Off);
        if mode == Mode::Quiet {
            self.lower_kept_speeds();
        }
        self.outputs.notices.push(Notice::Mode(mode, false));
        if mode == Mode::Still {
            self.happen(Event::StillOff);
        }
    }

    /// Profiles are outside of here: whoever has them offers the next one, which then waits like any other.
    fn next_operator(&mut self, pad: PadId) {
        let notice = match self.modes.rolling.on() {
            true => Notice::Locked(Action::NextOperator),
            false => Notice::NextOperator(pad),
        };
        self.outputs.notices.push(notice);
    }

    /// Files are outside of here: whoever has them writes where the travel ends from now on, and offers that.
    fn end_here(&mut self, pad: PadId, place: u8) {
        let Some(hand) = self.operator.hands.get(usize::from(place)) else {
            return;
        };
        if self.holders.holder(hand.group) != Some(pad) {
            return;
        }
        let notice = match self.modes.rolling.on() {
            true => Notice::Locked(Action::EndHere { hand: place }),
            false => Notice::EndHere {
                rig: hand.rig,
                axis: hand.axis,
            },
        };
        self.outputs.notices.push(notice);
    }

    /// Keeps the present speed of every axis this pad moves.
    fn sustain(&mut self, pad: PadId) {
        if self.state != State::Driving || self.errand_runs() {
            return;
        }
        for place in 0..self.hands.len() {
            let hand = &self.operator.hands[place];
            let group = hand.group;
            let moving = self.hands[place].armed() && !self.hands[place].inching.active();
            if self.holders.holder(group) != Some(pad) || !moving {
                continue;
            }
            let speed = self.axis(hand).motion.motion().v;
            if let Some(kept) = Sustain::engage(speed) {
                self.hands[place].sustain = Some(kept);
                self.outputs
                    .notices
                    .push_once(Notice::Sustain { group, on: true });
            }
        }
    }

    /// Speeds that are kept become those aimed at: without the band that held one, it would rise by itself.
    pub(super) fn lower_kept_speeds(&mut self) {
        for (hand, state) in self.operator.hands.iter().zip(&mut self.hands) {
            let axis = &self.rigs[usize::from(hand.rig)].axes()[usize::from(hand.axis)];
            let aim = axis.motion.aim();
            state.sustain = state.sustain.map(|kept| kept.lowered(aim));
        }
    }

    /// Whether this press ends what this pad sustains, which is then all it does.
    pub(super) fn ends_sustain(&mut self, pad: PadId, button: Button) -> bool {
        let sustains = |b: &&crate::bindings::Binding| b.action == Action::Sustain;
        let bound = self.operator.bindings.iter().find(sustains);
        if bound.is_none_or(|binding| binding.press.button() != button) {
            return false;
        }
        let mut any = false;
        for place in 0..self.hands.len() {
            let group = self.operator.hands[place].group;
            if self.holders.holder(group) == Some(pad) && self.hands[place].sustain.take().is_some()
            {
                any = true;
                self.outputs
                    .notices
                    .push_once(Notice::Sustain { group, on: false });
            }
        }
        if any && let Some(pad) = self.pads.get_mut(pad) {
            pad.consume(button);
        }
        any
    }

    /// A step of inching. It needs no centred stick: the press itself asks.
    fn inch(&mut self, now: Time, pad: PadId, button: Button, place: u8, plus: bool) {
        let Some(hand) = self.operator.hands.get(usize::from(place)) else {
            return;
        };
        let holds = self.holders.holder(hand.group) == Some(pad);
        let may = matches!(self.state, State::Driving | State::Withheld(_))
            && !self.errand_runs()
            && !self.reference.is_pending();
        // A step may only begin now or never: one kept for later would come unasked.
        let sustained = self.hands[usize::from(place)].sustain.is_some();
        if hand.inch.is_none() || !holds || !may || sustained {
            return;
        }
        self.happen(Event::Armed);
        self.hands[usize::from(place)].inching.pressed(Press {
            pad,
            button,
            at: now,
            plus,
        });
    }

    fn ask(&mut self, now: Time, pad: PadId, group: u8) {
        let drives = self.pads.get(pad).is_some_and(|pad| pad.drives);
        if !drives || usize::from(group) >= self.holders.count() {
            return;
        }
        let notice = match self.holders.ask(now, pad, group) {
            Answer::Asked => Notice::Asks { group, pad },
            Answer::Agreed(to) => Notice::Agreed { group, pad: to },
            Answer::Nothing => return,
        };
        self.outputs.notices.push(notice);
    }
}
