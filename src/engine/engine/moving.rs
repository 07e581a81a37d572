//! From what the sticks ask for to the motion of each axis.

use super::Engine;
use crate::feel;
use crate::motion::axis::Change;
use crate::motion::ceiling::Scaling;
use crate::motion::rig::{DrivenAxis, Pace};
use crate::motion::sets::{Sets, timed};
use crate::operator::Hand;
use crate::output::{AxisStatus, Ceiling, Notice, State};
use crate::time::{Span, Time};
use crate::units::Speed;

impl Engine {
    pub(super) fn move_rigs(&mut self, now: Time, dt: Span) {
        // A late tick is not made up for in one jump, and what is made up for goes in steps no longer
        // than the plans were made for: a longer one would carry an acceleration past its target.
        let dt = dt.shorter(Span(2 * self.period.0));
        let steps = if dt.0 * 4 > self.period.0 * 5 { 2 } else { 1 };
        let pace = Pace {
            dt: dt.secs() / f64::from(steps),
            steps,
        };
        for rig in 0..self.rigs.len() {
            for axis in 0..self.rigs[rig].axes().len() {
                let status = self.move_axis(rig, axis, pace);
                self.outputs.rigs[rig].axes[axis] = status;
            }
            self.outputs.rigs[rig].frame = self.rigs[rig].frame(now);
        }
    }

    fn move_axis(&mut self, rig: usize, axis: usize, pace: Pace) -> AxisStatus {
        let place = self
            .operator
            .hands
            .iter()
            .position(|h| (usize::from(h.rig), usize::from(h.axis)) == (rig, axis));
        let driven = &self.rigs[rig].axes()[axis];
        let hand = place.map(|p| &self.operator.hands[p]);
        let armed = place.is_some_and(|p| self.consents[p].armed());
        let asked = hand.map_or(0.0, |hand| self.asked(hand));
        let may = self.state == State::Driving && armed && driven.referenced;
        let demand = if may { asked } else { 0.0 };
        let (full_stick, scaling) = self.scaling(driven, hand).lowest();
        let wanted = Speed(demand.abs() * full_stick.0);
        let clipped = wanted.lower(driven.link);
        let target = if demand < 0.0 { -clipped.0 } else { clipped.0 };
        let ceiling = full_stick.lower(driven.link).0;
        let sets = sets_of(driven, hand, self.gear);
        let change = self.rigs[rig].step_axis(axis, (target, ceiling), sets, pace);
        let place = (rig as u8, axis as u8);
        match change {
            Some(Change::Braking) => {
                self.outputs.notices.push(Notice::TravelEnd {
                    rig: place.0,
                    axis: place.1,
                });
            }
            Some(Change::Late) => {
                self.outputs.notices.push(Notice::GuardLate {
                    rig: place.0,
                    axis: place.1,
                });
            }
            None => {}
        }
        let driven = &self.rigs[rig].axes()[axis];
        let motion = driven.motion.motion();
        let stop = driven.motion.stop_from_here(&driven.facts);
        let binding = if driven.motion.at_end() {
            Ceiling::Travel
        } else if clipped < wanted {
            Ceiling::Link
        } else {
            scaling
        };
        AxisStatus {
            position: self.rigs[rig].position(axis),
            referenced: driven.referenced,
            speed: motion.v,
            accel: motion.a,
            demand,
            full_stick: ceiling,
            binding: Some(binding),
            armed,
            stop_time: stop.time,
            stop_distance: stop.distance,
        }
    }

    /// What a hand's control asks for, -1..=1, whether or not it may.
    fn asked(&self, hand: &Hand) -> f64 {
        let Some(value) = self
            .pads
            .driver()
            .and_then(|pad| pad.shaped(hand.control, self.operator.wedge))
        else {
            return 0.0;
        };
        let demand = feel::demand(value, hand.throw, hand.curve);
        if hand.invert { -demand } else { demand }
    }

    fn scaling(&self, driven: &DrivenAxis, hand: Option<&Hand>) -> Scaling {
        Scaling {
            rig: driven.speed,
            operator: hand.and_then(|h| h.ceiling),
            gear: hand.map(|h| h.gears.speed(self.gear)),
        }
    }

    pub(super) fn axis(&self, hand: &Hand) -> &DrivenAxis {
        &self.rigs[usize::from(hand.rig)].axes()[usize::from(hand.axis)]
    }
}

/// The sets the operator and the gear would have now, under the rig's normal set.
fn sets_of(driven: &DrivenAxis, hand: Option<&Hand>, gear: u8) -> Sets {
    let normal = driven.facts.limits.normal();
    let Some(hand) = hand else {
        return Sets {
            gain: normal,
            lose: normal,
        };
    };
    let full = hand.gears.speed(gear);
    let from = full.higher(Speed(driven.motion.peak()));
    Sets {
        gain: timed(full, hand.gain, normal),
        lose: timed(from, hand.lose, normal),
    }
}
