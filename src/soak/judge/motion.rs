//! Frames, gears and profiles: what makes the sets and ceilings the checker judges by.

use super::{Judge, first_gears, gears_of, moment};
use crate::soak::facts::{Switched, ceiling, facts, normal_set};
use stillhand_engine::output::{Frame, Wait};
use stillhand_engine::time::Time;
use stillhand_engine::{Now, wait_for};
use stillhand_laws::{self as laws, Event};
use stillhand_wire::messages::VELOCITY_SCALE;

impl Judge {
    /// A frame leaves.
    pub fn frame(&mut self, at: Time, frame: &Frame) {
        for (place, axis) in self.rig.axes.iter().enumerate() {
            let steps = f64::from(frame.velocity[place]) * axis.sense.sign();
            let quantum = 1.0 / (f64::from(VELOCITY_SCALE) * axis.counts_per_unit);
            self.speeds[place] = steps * quantum;
            self.losing[place].frame(at, self.speeds[place], quantum);
        }
        let frame = laws::Frame {
            speeds: &self.speeds,
        };
        self.checker.frame(moment(at), &frame);
        self.tell_losing(at);
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
        if change == laws::Change::Operator || operator.groups != self.operator.groups {
            self.gears = first_gears(&operator);
        }
        if change == laws::Change::Operator {
            self.quiet |= operator.starts_quiet;
        }
        // A gear that a group no longer has becomes the fastest it has.
        for (group, gear) in self.gears.iter_mut().enumerate() {
            *gear = (*gear).min(gears_of(&operator, group) - 1);
        }
        self.operator = operator;
        let facts = facts(&self.rig, &self.operator, self.period);
        self.tell(at, &Event::Changed(change, Some(Box::new(facts))));
        if change != laws::Change::Profile {
            self.tell_holders(at);
        }
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

    /// Tells the checker what operator, gear and modes make of the normal sets and ceilings.
    pub(super) fn tell_sets(&mut self, at: Time) {
        let ceilings = self.operator.hands.iter().map(|hand| {
            let axis = usize::from(hand.axis);
            let on = self.switches(axis, hand.group);
            let speed = ceiling(&self.rig.axes[axis], hand, on);
            Event::Ceiling { axis, speed }
        });
        for event in ceilings.collect::<Vec<_>>() {
            self.tell(at, &event);
        }
        let shared = self.reduced || self.mistrusted.contains(&true);
        self.tell(at, &Event::Shared(shared));
        self.tell_losing(at);
    }

    /// Speed is lost in the operator's time from the speed at which the losing began, so another
    /// such speed is another normal set. The harder of those that may count is told first.
    fn tell_losing(&mut self, at: Time) {
        for place in 0..self.operator.hands.len() {
            let hand = &self.operator.hands[place];
            let axis = usize::from(hand.axis);
            let on = self.switches(axis, hand.group);
            let facts = &self.rig.axes[axis];
            let asked = self.set_asked(axis, hand, on);
            let news = self.losing[axis]
                .news(|from| asked.unwrap_or_else(|| normal_set(facts, hand, on, from)));
            for set in news.into_iter().flatten() {
                self.tell(at, &Event::NormalSet { axis, set });
            }
        }
    }
}
