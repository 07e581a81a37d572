//! What was meant: presses told apart by the presses alone, to be held against what the engine did.

use stillhand_engine::MAX_PADS;
use stillhand_engine::bindings::{Action, Press};
use stillhand_engine::input::{Button, Order, PadEvent, PadId};
use stillhand_engine::operate::modes::Mode;
use stillhand_engine::operator::Operator;
use stillhand_engine::output::{Notice, Outputs, State, Why};
use stillhand_engine::time::{Span, Time};

/// A tick is granted on 0.6 s, since edges are seen by the tick.
const HELD: Span = Span::from_millis(600);

/// The presses of all pads, and what was meant by them.
pub struct Meant {
    plugged: [bool; MAX_PADS],
    down: Vec<(PadId, Button, Time)>,
    /// The last time each action was meant: held long enough, or with another button.
    last: Vec<(Action, Time)>,
    on_since: [Option<Time>; 4],
    stop: Option<PadId>,
    tick: Span,
    /// How often something was done that must be meant.
    pub done: usize,
}

impl Meant {
    pub fn new(tick: Span) -> Meant {
        Meant {
            plugged: [false; MAX_PADS],
            down: Vec::new(),
            last: Vec::new(),
            on_since: [None; 4],
            stop: None,
            tick,
            done: 0,
        }
    }

    /// A pad does something in the tick that ends at `now`.
    pub fn event(&mut self, now: Time, pad: PadId, event: PadEvent, operator: &Operator) {
        match event {
            PadEvent::Plugged { .. } | PadEvent::Unplugged => {
                self.down.retain(|(of, ..)| *of != pad);
                self.plugged[usize::from(pad.0)] = event != PadEvent::Unplugged;
            }
            PadEvent::Pressed(button, true) if self.plugged[usize::from(pad.0)] => {
                if button == operator.bindings.stop() {
                    self.stop = Some(pad);
                    self.stopped(operator);
                }
                for binding in operator.bindings.iter() {
                    let with = |press| {
                        matches!(press, Press::With { with, button: own }
                        if own == button && self.is_down(pad, with))
                    };
                    if with(binding.press) {
                        self.last.push((binding.action, now));
                    }
                }
                self.down.push((pad, button, now));
            }
            PadEvent::Pressed(button, false) => {
                self.down
                    .retain(|(of, own, _)| (*of, *own) != (pad, button));
            }
            PadEvent::Pressed(..) | PadEvent::Moved(..) | PadEvent::Alive | PadEvent::Bus(_) => {}
        }
    }

    /// A stop is asked for: a release that is held now was not meant for it.
    pub fn stopped(&mut self, operator: &Operator) {
        let release = operator.bindings.release().button();
        self.down.retain(|(_, button, _)| *button != release);
    }

    /// Something is asked for without a pad: that is always meant.
    pub fn ordered(&mut self, now: Time, order: Order) {
        if let Order::Mode(mode, _) = order {
            self.last.push((action_of(mode), now));
        }
    }

    fn is_down(&self, pad: PadId, button: Button) -> bool {
        let same = |(of, own, _): &(PadId, Button, Time)| (*of, *own) == (pad, button);
        self.down.iter().any(same)
    }

    /// Whether an action was meant at or after `since`, by what is held now or was done with
    /// another button.
    fn meant(&self, now: Time, action: Action, since: Time, operator: &Operator) -> bool {
        let noted = |(done, at): &(Action, Time)| *done == action && *at >= since;
        let held = |(_, button, from): &(PadId, Button, Time)| {
            let bound = |press| press == Press::Held(*button) || press == Press::Tap(*button);
            let mut bindings = operator.bindings.iter();
            let own = bindings.any(|b| b.action == action && bound(b.press));
            own && now.since(*from).0 + self.tick.0 >= HELD.0
        };
        self.last.iter().any(noted) || self.down.iter().any(held)
    }

    /// Holds what the engine did in this tick against what was meant.
    ///
    /// # Errors
    /// What it did that nobody meant, or did not do.
    pub fn judge(
        &mut self,
        now: Time,
        before: State,
        outputs: &Outputs,
        operator: &Operator,
    ) -> Result<(), String> {
        if let Some(pad) = self.stop.take() {
            let state = outputs.status.state;
            let obeyed = matches!(state, State::Stopped(_)) || state == State::Ending;
            if !obeyed {
                return Err(format!("stop by {pad:?} in {before:?}: now {state:?}"));
            }
        }
        for notice in outputs.notices.iter() {
            let (action, since) = match notice {
                Notice::Mode(mode, true) => {
                    self.on_since[mode as usize] = Some(now);
                    continue;
                }
                Notice::Mode(mode, false) => {
                    // Something else may have switched it on before the first tick: its file.
                    let since = self.on_since[mode as usize].unwrap_or(Time(0));
                    (action_of(mode), since)
                }
                Notice::ModeWaits(mode) => {
                    let since = self.on_since[mode as usize].unwrap_or(Time(0));
                    let action = action_of(mode);
                    // Meant now; it may go off long after the press.
                    if self.meant(now, action, since, operator) {
                        self.last.push((action, now));
                    }
                    continue;
                }
                Notice::NextOperator(_) => (Action::NextOperator, now),
                Notice::Sustain { on: true, .. } => (Action::Sustain, now),
                Notice::Entered(
                    State::Withheld(Why::StopReleased)
                    | State::NoPad(Why::StopReleased)
                    | State::NoLink(Why::StopReleased),
                ) if matches!(before, State::Stopped(_)) => (Action::Release, now),
                Notice::Asks { group, .. } | Notice::Agreed { group, .. } => {
                    (Action::Control { group }, now)
                }
                _ => continue,
            };
            self.done += 1;
            if !self.meant(now, action, since, operator) {
                return Err(format!("{notice:?}: nobody meant it"));
            }
        }
        Ok(())
    }
}

fn action_of(mode: Mode) -> Action {
    match mode {
        Mode::Quiet => Action::Quiet,
        Mode::Still => Action::Still,
        Mode::Reduced => Action::Reduced,
        Mode::Rolling => Action::Rolling,
    }
}
