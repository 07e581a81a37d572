//! Frames, gears and profiles: what makes the sets and ceilings the checker judges by.

use super::{Judge, first_gears, moment};
use crate::soak::facts::{Switched, ceiling, facts, normal_set};
use stillhand_engine::output::{Frame, Wait};
use stillhand_engine::time::Time;
use stillhand_engine::{MAX_AXES, Now, wait_for};
use stillhand_laws::{self as laws, Event};
use stillhand_wire::messages::VELOCITY_SCALE;

impl Judge {
    /// A frame leaves.
    pub fn frame(&mut self, at: Time, frame: &Frame) {
        let mut before = [0.0; MAX_AXES];
        before[..self.speeds.len()].copy_from_slice(&self.speeds);
        for (place, axis) in self.rig.axes.iter().enumerate() {
            let steps = f64::from(frame.velocity[place]) * axis.sense.sign();
            self.speeds[place] = steps / (f64::from(VELOCITY_SCALE) * axis.counts_per_unit);
        }
        let frame = laws::Frame {
            speeds: &self.speeds,
        };
        self.checker.frame(moment(at), &frame);
        self.tell_steady(at, &before);
    }

    /// No frame is due any more, and the rig is at rest before the next one.
    pub(super) fn frames_over(&mut self) {
        self.speeds.fill(0.0);
    }

    /// The profile offered last is in force: the checker is told before it sees a frame of it.
    pub(super) fn take_over(&mut self, at: Time) {
        let Some(operator) = self.expected.take() else {
            return;
        };
        let now = Now {
            gears: self.gears,
            quiet: self.quiet,
            rolling: false,
        };
        let change = match wait_for(&self.operator, &operator, &now) {
            Wait::Nothing | Wait::Centred => laws::Change::Profile,
            Wait::RestAndCentred | Wait::NotRolling if operator.name != self.operator.name => {
                laws::Change::Operator
            }
            Wait::RestAndCentred | Wait::NotRolling => laws::Change::Bindings,
        };
        if change == laws::Change::Operator {
            self.gears = first_gears(&operator);
            self.quiet |= operator.starts_quiet;
        }
        self.operator = operator;
        let facts = facts(&self.rig, &self.operator, self.period);
        self.tell(at, &Event::Changed(change, Some(Box::new(facts))));
        self.tell_sets(at);
        self.tell_quiet(at);
    }

    /// A gear was changed.
    pub(super) fn shifted(&mut self, at: Time, group: u8, gear: u8) {
        self.gears[usize::from(group)] = gear;
        self.tell_sets(at);
        if self.quiet {
            self.tell_quiet(at);
        }
    }

    /// What is switched on for an axis.
    pub(super) fn switches(&self, axis: usize, group: u8) -> Switched {
        Switched {
            gear: self.gears[usize::from(group)],
            quiet: self.quiet,
            reduced: self.reduced || self.mistrusted[axis],
        }
    }

    /// Tells the checker what operator, gear and present speed make of the normal sets and ceilings.
    pub(super) fn tell_sets(&mut self, at: Time) {
        let mut told = Vec::with_capacity(2 * self.operator.hands.len());
        for hand in &self.operator.hands {
            let place = usize::from(hand.axis);
            let axis = &self.rig.axes[place];
            self.told_speed[place] = self.speeds[place];
            let on = self.switches(place, hand.group);
            let set = normal_set(axis, hand, on, self.speeds[place]);
            told.push(Event::NormalSet { axis: place, set });
            let speed = ceiling(axis, hand, on);
            told.push(Event::Ceiling { axis: place, speed });
        }
        for event in &told {
            self.tell(at, event);
        }
    }

    /// Speed is lost in the operator's time from the present speed, so a steady speed is a new
    /// normal set.
    fn tell_steady(&mut self, at: Time, before: &[f64; MAX_AXES]) {
        let steady = |(place, speed): (usize, &f64)| {
            *speed == before[place] && *speed != self.told_speed[place]
        };
        if self.speeds.iter().enumerate().any(steady) {
            self.tell_sets(at);
        }
    }
}
