//! Motions that are asked for by a press instead of a stick, and modes.

use super::Judge;
use crate::soak::facts::quiet;
use stillhand_engine::bindings::{Action, Press};
use stillhand_engine::operate::modes::Mode;
use stillhand_engine::output::{AxisStatus, Mover};
use stillhand_engine::rig::Axis;
use stillhand_engine::time::Time;
use stillhand_laws::{self as laws, Asked, Event};

impl Judge {
    /// What moves each axis: the end of what was asked for, and sustain, which only the engine knows
    /// to be engaged. It counts only while its button is down.
    pub(super) fn moved_by(&mut self, at: Time, axes: &[AxisStatus]) {
        for (axis, status) in axes.iter().enumerate().take(self.rig.axes.len()) {
            let (before, now) = (self.movers[axis], status.mover);
            self.movers[axis] = now;
            if now != Mover::Inching && self.inched[axis] && !self.keeps_down(axis) {
                self.inched[axis] = false;
                self.tell(at, &Event::AskEnded(axis, Asked::Inching));
            }
            if before != Mover::Sustain && now == Mover::Sustain && self.sustain_is_pressed() {
                self.tell(at, &Event::Ask(axis, Asked::Sustain));
            }
            if before == Mover::Sustain && now != Mover::Sustain {
                self.tell(at, &Event::AskEnded(axis, Asked::Sustain));
            }
        }
    }

    /// Whether a button is down that inches this axis by being kept down: what it asks for comes later
    /// than the press.
    fn keeps_down(&self, axis: usize) -> bool {
        let mut bound = self.operator.bindings.iter();
        bound.any(|binding| {
            let pressed = |(_, button): &(_, _)| *button == binding.press.button();
            let own = match binding.action {
                Action::Inch { hand, .. } => self.operator.hands.get(usize::from(hand)),
                _ => None,
            };
            matches!(binding.press, Press::Held(_))
                && own.is_some_and(|hand| usize::from(hand.axis) == axis)
                && self.down.iter().any(pressed)
        })
    }

    fn sustain_is_pressed(&self) -> bool {
        let mut bound = self.operator.bindings.iter();
        bound.any(|binding| {
            let pressed = |(_, button): &(_, _)| *button == binding.press.button();
            binding.action == Action::Sustain && self.down.iter().any(pressed)
        })
    }

    /// A mode was switched.
    pub(super) fn switched(&mut self, at: Time, mode: Mode, on: bool) {
        self.errand_minds(mode, on);
        match mode {
            Mode::Quiet => {
                self.quiet = on;
                self.tell_sets(at);
                self.tell_quiet(at);
            }
            Mode::Reduced => {
                self.reduced = on;
                self.tell_sets(at);
            }
            Mode::Still => {
                // Withholds every control, and while it lasts no speed at all is quiet enough.
                self.still = on;
                self.tell(at, &Event::Changed(laws::Change::Bindings, None));
                self.tell_quiet(at);
            }
            Mode::Rolling => {}
        }
    }

    /// Tells the quiet ceilings, or that there are none.
    pub(super) fn tell_quiet(&mut self, at: Time) {
        if !self.quiet && !self.still {
            self.tell(at, &Event::Quiet(None));
            return;
        }
        let still = self.still;
        let nothing_heard = |axis: &Axis| laws::QuietAxis {
            speed: if still { 0.0 } else { axis.speed.0 },
            accel: f64::MAX,
            jerk: f64::MAX,
            bands: Vec::new(),
        };
        let limits = self.rig.axes.iter().enumerate().map(|(place, axis)| {
            let hands = &self.operator.hands;
            let hand = hands.iter().find(|hand| usize::from(hand.axis) == place);
            match hand {
                Some(hand) if self.quiet => {
                    let limits = quiet(axis, hand, self.switches(place, hand.group));
                    laws::QuietAxis {
                        speed: if still { 0.0 } else { limits.speed },
                        ..limits
                    }
                }
                Some(_) | None => nothing_heard(axis),
            }
        });
        let limits = limits.collect();
        self.tell(at, &Event::Quiet(Some(limits)));
    }
}
