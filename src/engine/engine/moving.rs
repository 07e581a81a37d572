//! From what the hands ask for to the motion of each axis.
//!
//! Two rounds over the axes: first what each one is asked for, then, because reduced speed holds
//! for all of them together, what each one does.

use super::Engine;
use super::driven::Full;
use super::share::Share;
use crate::motion::axis::Change;
use crate::motion::bands::{Asked, Band, Bands};
use crate::motion::rig::{DrivenAxis, Pace, Wish};
use crate::motion::sets::Sets;
use crate::motion::slew::Motion;
use crate::operate::inching::{Moment, Way};
use crate::operate::sustain::Trim;
use crate::operator::Hand;
use crate::output::{AxisStatus, Ceiling, Enabled, Mover, Notice, Place, State};
use crate::rig::LimitSet;
use crate::time::{Span, Time};
use crate::units::{Accel, Jerk, Speed, higher, lower};

/// What one axis is to do in a tick.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Plan {
    /// The place of the hand that drives it.
    hand: Option<usize>,
    /// What the sticks ask for, -1..=1.
    demand: f64,
    /// The speed wanted, in units/s, under the ceilings that scale.
    wanted: f64,
    /// The speed it asks of what all share, in units/s: the highest still to come.
    pub(super) asks: f64,
    /// Exactly the motion wanted.
    pub(super) exactly: Option<Motion>,
    full: Full,
    /// Whether reduced speed holds for it.
    reduced: bool,
    sets: Sets,
    mover: Mover,
    enabled: Enabled,
}

impl Plan {
    /// Another mover asks for a speed, under these sets.
    pub(super) fn ask(&mut self, mover: Mover, speed: f64, sets: Sets) {
        (self.mover, self.wanted, self.sets) = (mover, speed, sets);
    }

    /// Whether it is for one of so many hands, or for none.
    pub(super) fn is_for(&self, hands: usize) -> bool {
        self.hand.is_none_or(|hand| hand < hands)
    }
}

impl Default for Plan {
    fn default() -> Plan {
        let set = LimitSet {
            accel: Accel(0.0),
            jerk: Jerk(0.0),
        };
        Plan {
            hand: None,
            demand: 0.0,
            wanted: 0.0,
            asks: 0.0,
            exactly: None,
            full: Full {
                speed: Speed(0.0),
                ceiling: Speed(0.0),
                band: None,
                binding: Ceiling::Rig,
                trigger: 1.0,
            },
            reduced: false,
            sets: Sets {
                gain: set,
                lose: set,
            },
            mover: Mover::Sticks,
            enabled: Enabled::NotNeeded,
        }
    }
}

impl Engine {
    pub(super) fn move_rigs(&mut self, now: Time, dt: Span) {
        // A late tick is not made up for in one jump, and what is made up for goes in steps no longer
        // than the plans were made for: a longer one would carry an acceleration past its target.
        let dt = dt.shorter(Span(2 * self.period.0));
        let steps = if dt.0 * 4 > self.period.0 * 5 { 2 } else { 1 };
        let dt = dt.secs();
        let pace = Pace {
            dt: dt / f64::from(steps),
            steps,
        };
        for rig in 0..self.rigs.len() {
            for axis in 0..self.rigs[rig].axes().len() {
                self.plans[rig][axis] = self.plan(now, rig, axis, dt);
            }
        }
        let shared = self.shared_while_reduced();
        for rig in 0..self.rigs.len() {
            for axis in 0..self.rigs[rig].axes().len() {
                let status = self.move_axis(rig, axis, shared, pace);
                self.outputs.rigs[rig].axes[axis] = status;
            }
            self.outputs.rigs[rig].frame = self.rigs[rig].frame(now);
            self.outputs.rigs[rig].current = self.rigs[rig].current();
        }
    }

    /// What an axis is asked for.
    fn plan(&mut self, now: Time, rig: usize, axis: usize, dt: f64) -> Plan {
        let on = |h: &Hand| (usize::from(h.rig), usize::from(h.axis)) == (rig, axis);
        let place = self.operator.hands.iter().position(on);
        let hand = place.map(|place| &self.operator.hands[place]);
        let mut plan = Plan {
            hand: place,
            full: self.full(rig, axis, place),
            sets: self.sets_of(&self.rigs[rig].axes()[axis], hand),
            enabled: self.enabled(rig, axis, hand),
            ..Plan::default()
        };
        plan.reduced = self.is_reduced(rig, axis);
        let Some(place) = place else { return plan };
        match plan.enabled {
            Enabled::NotNeeded | Enabled::Held => {}
            Enabled::Wanted | Enabled::Unbound => {
                // A stick held over must not begin to drive when the enable control is pressed.
                if self.pushed(place) || self.hands[place].sustain.is_some() {
                    self.withhold_hand(place);
                }
                self.hands[place].inching.end();
                self.ask_errand(rig, axis, &mut plan);
                return plan;
            }
        }
        let asked = self.ask_errand(rig, axis, &mut plan);
        if self.state == State::Driving && !asked {
            self.ask_hand(now, place, &mut plan, dt);
        }
        plan.asks = higher(plan.asks, plan.wanted.abs());
        plan
    }

    /// Whether reduced speed holds for an axis.
    pub(super) fn is_reduced(&self, rig: usize, axis: usize) -> bool {
        self.modes.reduced.on() || self.places[rig][axis] != Place::Inside
    }

    /// Sticks, sustain and inching of a hand that may move its axis.
    fn ask_hand(&mut self, now: Time, place: usize, plan: &mut Plan, dt: f64) {
        let asked = self.asked(place);
        let full = plan.full.speed.0;
        plan.demand = asked.demand;
        plan.wanted = asked.demand * full;
        if let Some(sustain) = self.hands[place].sustain {
            let kept = sustain.trimmed(&Trim {
                demand: asked.demand,
                depth: asked.depth,
                centred: asked.centred,
                full,
                dt,
            });
            self.hands[place].sustain = kept;
            match kept {
                Some(kept) => {
                    plan.mover = Mover::Sustain;
                    plan.wanted = kept.speed(full);
                }
                None => {
                    // Ended by the opposite stick, which must be let go before it drives.
                    let group = self.operator.hands[place].group;
                    self.outputs
                        .notices
                        .push_once(Notice::Sustain { group, on: false });
                    self.hands[place].withhold();
                    (plan.demand, plan.wanted) = (0.0, 0.0);
                }
            }
            return;
        }
        self.inch_hand(now, place, plan, dt);
    }

    fn inch_hand(&mut self, now: Time, place: usize, plan: &mut Plan, dt: f64) {
        let hand = &self.operator.hands[place];
        let (rig, axis) = (usize::from(hand.rig), usize::from(hand.axis));
        let driven = &self.rigs[rig].axes()[axis];
        let motion = driven.motion.motion();
        // A step is exact: nothing clips it afterwards.
        let full = plan.full.speed.lower(driven.link);
        // Nor does it cross a band: near its highest speed it would take its time there.
        let edge = hand.quiet.bands(self.modes.quiet.on()).first_edge();
        let most = edge.map_or(full, |edge| full.lower(edge)).0;
        let full = full.0;
        let Some(press) = self.hands[place].inching.press() else {
            if !motion.at_rest() {
                self.hands[place].inching.moved_otherwise();
            }
            return;
        };
        let inch = hand.inch.filter(|_| plan.demand == 0.0);
        let Some(inch) = inch else {
            // A stick that is pushed takes over.
            self.hands[place].inching.end();
            return;
        };
        let pad = self.pads.get(press.pad);
        let mut moment = Moment {
            now,
            dt,
            position: self.rigs[rig].position(axis),
            at_rest: motion.at_rest(),
            step: inch.step,
            creep: inch.creep,
            full: most,
            sets: plan.sets,
            down: pad.is_some_and(|pad| pad.is_down(press.button)),
        };
        if plan.reduced
            && let Some(top) = self.hands[place].inching.starts(&moment)
        {
            match self.room_for_step(rig, axis, top) {
                Some(room) => moment.full = room,
                None => {
                    // It waits until the others have made room.
                    (plan.mover, plan.asks) = (Mover::Inching, top);
                    return;
                }
            }
        }
        match self.hands[place].inching.way(&moment) {
            Way::None => {}
            Way::Towards(speed) => {
                plan.mover = Mover::Inching;
                let magnitude = lower(speed.abs(), full);
                plan.wanted = if speed < 0.0 { -magnitude } else { magnitude };
            }
            Way::Exactly(motion) if motion.v.abs() > most => {
                // A ceiling came down during the step: it is cut short.
                self.hands[place].inching.end();
            }
            Way::Exactly(motion) => {
                plan.mover = Mover::Inching;
                plan.wanted = motion.v;
                plan.asks = self.hands[place].inching.top();
                plan.exactly = Some(motion);
            }
        }
    }

    fn move_axis(&mut self, rig: usize, axis: usize, by: Share, pace: Pace) -> AxisStatus {
        let plan = self.plans[rig][axis];
        let driven = &self.rigs[rig].axes()[axis];
        let link = driven.link;
        let shared = match plan.reduced && plan.exactly.is_none() {
            true => by.share,
            false => 1.0,
        };
        let held_back = plan.reduced && !by.may_gain;
        let exactly = plan.exactly.filter(|_| !plan.reduced || by.may_step);
        let mut wanted = Speed(plan.wanted.abs() * shared);
        if held_back {
            // Where its acceleration, once taken off, leaves it: its speed alone would be a target that moves.
            wanted = wanted.lower(Speed(driven.motion.staying(pace.dt)));
        }
        let clipped = wanted.lower(link);
        let (target, held) = self.aim(&plan, driven, clipped);
        // The speed trigger asks for less and is no ceiling: a set that waits to be under one does not wait for it.
        let ceiling = higher(plan.full.ceiling.lower(link).0, target.abs());
        let wish = Wish {
            target,
            ceiling,
            most: if shared < 1.0 { target.abs() } else { ceiling },
            exactly,
            sets: plan.sets,
        };
        let change = self.rigs[rig].step_axis(axis, &wish, pace);
        self.tell_change(rig as u8, axis as u8, change);
        let driven = &self.rigs[rig].axes()[axis];
        let motion = driven.motion.motion();
        if let Some(place) = plan.hand.filter(|_| plan.exactly.is_some())
            && Some(motion) != plan.exactly
        {
            // The guard or a stop took over: the step is cut short.
            self.hands[place].inching.end();
        }
        let stop = driven.motion.stop_from_here(&driven.facts);
        let binding = if driven.motion.at_end() {
            Ceiling::Travel
        } else if clipped < wanted {
            Ceiling::Link
        } else if shared < 1.0 {
            Ceiling::Reduced
        } else {
            plan.full.binding
        };
        let state = plan.hand.map(|place| &self.hands[place]);
        AxisStatus {
            position: self.rigs[rig].position(axis),
            referenced: driven.referenced,
            speed: motion.v,
            accel: motion.a,
            demand: plan.demand,
            full_stick: plan.full.speed.lower(link).0,
            binding: Some(binding),
            band: held.or(plan.full.band),
            trigger: plan.full.trigger,
            shared,
            mover: plan.mover,
            place: self.places[rig][axis],
            enabled: plan.enabled,
            armed: state.is_some_and(|state| state.armed()),
            stop_time: stop.time,
            stop_distance: stop.distance,
        }
    }

    /// The speed to aim at, out of the bands to avoid, and the band that makes it another one than asked for.
    fn aim(&self, plan: &Plan, driven: &DrivenAxis, asked: Speed) -> (f64, Option<Band>) {
        let hand = plan.hand.map(|place| &self.operator.hands[place]);
        let bands = hand.map_or(&Bands::NONE, |h| h.quiet.bands(self.modes.quiet.on()));
        bands.aim(&Asked {
            speed: match plan.wanted < 0.0 {
                true => -asked.0,
                false => asked.0,
            },
            before: driven.motion.aim(),
            now: driven.motion.motion().v,
            // What all axes share leaves nothing beyond what is asked for.
            most: match plan.reduced {
                true => asked.0,
                false => plan.full.ceiling.lower(driven.link).0,
            },
        })
    }

    fn tell_change(&mut self, rig: u8, axis: u8, change: Option<Change>) {
        let notice = match change {
            Some(Change::Braking) => Notice::TravelEnd { rig, axis },
            Some(Change::Late) => Notice::GuardLate { rig, axis },
            None => return,
        };
        self.outputs.notices.push(notice);
    }
}
