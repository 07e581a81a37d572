//! The motion of one rig: its axes, its position estimate, and the frames it is sent.

use super::axis::{AxisFacts, AxisMotion, Change, Order, WIRE_STEPS_PER_COUNT};
use super::ceiling::{link_ceiling, reduced};
use super::estimate::Estimate;
use super::sets::Sets;
use super::slew::Motion;
use crate::MAX_AXES;
use crate::current::Current;
use crate::input::{LATENESS_BOUND, LinkEvent, LinkLoss, RigReport, Telemetry};
use crate::output::{Frame, Place};
use crate::rig::{Axis, Ends, LimitSet, Limits, Rig, Travel};
use crate::time::{Span, Time};
use crate::units::{Accel, Jerk, Speed, Unit, held};
use alloc::vec::Vec;
use libm::rint;

/// How many frames' velocities are remembered for one that leaves late: at most one is ever waiting.
const RECENT: usize = 4;

/// Counts beyond an end that make an axis count as outside: landing and reading are off by less.
const OUTSIDE_COUNTS: f64 = 3.0;

/// One axis as the engine moves it.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct DrivenAxis {
    /// Degrees or millimetres.
    pub unit: Unit,
    /// What is known of it.
    pub facts: AxisFacts,
    /// The lower of the speed its file and the rig allow.
    pub speed: Speed,
    /// What the link can carry.
    pub link: Speed,
    /// Reduced speed, for this axis alone.
    pub reduced: Speed,
    /// The speed in mm/s of its farthest part for each unit/s of its own.
    pub tip: f64,
    /// Whether it moves only while the enable control is held.
    pub needs_enable: bool,
    /// Its travel by the file, kept only while the position is to be believed.
    ends: Option<Ends>,
    /// Whether its position is to be believed.
    pub referenced: bool,
    /// How it moves.
    pub motion: AxisMotion,
    /// The part of the last velocities that whole wire steps could not carry, in wire steps.
    carried: f64,
}

/// How much time a tick may change speeds for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pace {
    /// Seconds of one step.
    pub dt: f64,
    /// How many steps.
    pub steps: u32,
}

/// What an axis is asked for in a tick.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wish {
    /// The speed asked for, in units/s.
    pub target: f64,
    /// The lowest ceiling, in units/s: never below |target|.
    pub ceiling: f64,
    /// What no gain may pass, in units/s: that, or less of it where axes share what there is.
    pub most: f64,
    /// Exactly the motion the tick is to end with.
    pub exactly: Option<Motion>,
    /// The sets of live motion.
    pub sets: Sets,
}

/// What the rig motion has to tell the state machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RigChange {
    /// The rig was met.
    Ready,
    /// The link is gone.
    Lost(LinkLoss),
    /// This axis is not where it was sent.
    Residual(u8),
    /// An axis found its reference, or lost it.
    Reference,
    /// All motors have their full current again.
    FullCurrent,
}

/// The motion of one rig.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct RigMotion {
    rig: Rig,
    axes: Vec<DrivenAxis>,
    estimate: Estimate,
    ready: bool,
    /// With which current its motors hold.
    current: Current,
    seq: u32,
    next_frame: Time,
    /// When the last frame was offered.
    last_frame: Time,
    /// When the last frame left that did: from then the rig's watchdog counts.
    last_left: Time,
    /// The frame of the last tick, of which it is not yet known that it left.
    offered: Option<u32>,
    /// The velocities of the last frames, each at the place of its number.
    recent: [(u32, [f64; MAX_AXES]); RECENT],
}

impl RigMotion {
    /// A rig nobody has met yet; `period` is the engine's.
    pub fn new(rig: &Rig, period: Span) -> RigMotion {
        let axes = rig
            .axes
            .iter()
            .map(|axis| DrivenAxis::new(axis, rig, period))
            .collect();
        RigMotion {
            rig: rig.clone(),
            axes,
            estimate: Estimate::at([0.0; MAX_AXES]),
            ready: false,
            current: Current::Full,
            seq: 0,
            next_frame: Time(0),
            last_frame: Time(0),
            last_left: Time(0),
            offered: None,
            recent: [(0, [0.0; MAX_AXES]); RECENT],
        }
    }

    /// Whether it has as many axes as its file, and a number of them that a rig may have.
    pub fn is_sound(&self) -> bool {
        self.rig.is_sound() && self.axes.len() == self.rig.axes.len()
    }

    /// Its axes.
    pub fn axes(&self) -> &[DrivenAxis] {
        &self.axes
    }

    /// Whether it was met and not lost since.
    pub fn ready(&self) -> bool {
        self.ready
    }

    /// With which current its motors hold: nothing may move but on the full one.
    pub fn current(&self) -> Current {
        self.current
    }

    /// Lets motors whose file lets them hold with less current, if nothing is to move; or waits until all have
    /// the full one.
    pub fn ease(&mut self, nothing_moves: bool) {
        let any = self.rig.axes.iter().any(|axis| axis.may_lower_current);
        let may = nothing_moves && any && self.ready && self.at_rest();
        self.current = match (may, self.current) {
            (true, _) => Current::MayBeLow,
            (false, Current::Full) => Current::Full,
            (false, Current::MayBeLow | Current::Awaited) => Current::Awaited,
        };
    }

    /// Where an axis is, in units.
    pub fn position(&self, axis: usize) -> f64 {
        self.estimate.position(axis)
    }

    /// Whether every axis is at rest.
    pub fn at_rest(&self) -> bool {
        self.axes.iter().all(|a| a.motion.motion().at_rest())
    }

    /// Stops every axis with its stop set.
    pub fn stop(&mut self) {
        for axis in &mut self.axes {
            axis.motion.stop();
        }
    }

    /// Lets `dt` pass before `now` under what was really sent. The link's events of the tick come
    /// with it, because they tell whether the last frame left, or an earlier one left late.
    /// Whether a frame left in time, or could not; `None` if there was none.
    pub fn pass(
        &mut self,
        now: Time,
        dt: Span,
        events: impl Iterator<Item = LinkEvent> + Clone,
    ) -> Option<bool> {
        let offered = self.offered.take();
        let in_time = offered.map(|seq| !events.clone().any(|e| e == LinkEvent::Unsent(seq)));
        match (offered, in_time) {
            (Some(seq), Some(true)) => {
                self.estimate
                    .sent(seq, self.recent[seq as usize % RECENT].1);
                self.axes.iter_mut().for_each(|axis| axis.motion.left());
                self.last_left = self.last_frame;
            }
            (Some(_), _) => self.stay(events.clone()),
            (None, _) => {}
        }
        // Before what left late is counted: it ended a gap, and the rig may have begun to stop in that.
        let gap = now.since(self.last_left);
        let mut left = dt;
        for event in events {
            let LinkEvent::SentLate(seq, at) = event else {
                continue;
            };
            self.last_left = at;
            let (kept, velocity) = self.recent[seq as usize % RECENT];
            if kept == seq {
                let after = now.since(at).shorter(left);
                self.estimate.pass(Span(left.0 - after.0).secs());
                self.estimate.sent(seq, velocity);
                left = after;
            }
        }
        self.estimate.pass(left.secs());
        if gap > self.rig.watchdog {
            for axis in &mut self.axes {
                axis.motion.interrupted();
            }
        }
        in_time
    }

    /// The last frame could not leave when it was made.
    fn stay(&mut self, events: impl Iterator<Item = LinkEvent>) {
        let late = events.filter_map(|event| match event {
            LinkEvent::SentLate(seq, _) => Some(seq),
            _ => None,
        });
        let late = late.last().and_then(|seq| {
            let (kept, velocity) = self.recent[seq as usize % RECENT];
            (kept == seq).then_some(velocity)
        });
        for (place, axis) in self.axes.iter_mut().enumerate() {
            axis.motion.stays(late.map(|velocity| velocity[place]));
        }
    }

    /// Takes one event of the link.
    pub fn hear(&mut self, event: &LinkEvent) -> Option<RigChange> {
        match event {
            LinkEvent::Ready(report) => {
                self.meet(report);
                Some(RigChange::Ready)
            }
            LinkEvent::Lost(loss) => {
                self.ready = false;
                self.current = Current::Full;
                self.offered = None;
                for axis in &mut self.axes {
                    axis.motion = AxisMotion::at_rest();
                }
                Some(RigChange::Lost(*loss))
            }
            LinkEvent::Told(telemetry) => {
                if self.ready && self.take_reference(telemetry) {
                    return Some(RigChange::Reference);
                }
                let mut apart = None;
                for (place, axis) in self.rig.axes.iter().enumerate() {
                    let count = 1.0 / axis.counts_per_unit;
                    let residual = self.estimate.told(place, telemetry, count, axis.unit);
                    if residual.is_some_and(|r| r.found.abs() > r.allowed) && self.ready {
                        apart = apart.or(Some(RigChange::Residual(place as u8)));
                    }
                }
                apart
            }
            LinkEvent::FullCurrent if self.current == Current::Awaited => {
                self.current = Current::Full;
                Some(RigChange::FullCurrent)
            }
            LinkEvent::Unsent(_)
            | LinkEvent::SentLate(..)
            | LinkEvent::NotReferenced(_)
            | LinkEvent::FullCurrent => None,
        }
    }

    /// Takes over which positions are to be believed; whether that changed. What was summed up
    /// under another reference means nothing.
    fn take_reference(&mut self, told: &Telemetry) -> bool {
        let mut changed = false;
        for (place, axis) in self.axes.iter_mut().enumerate() {
            if axis.referenced != told.referenced[place] {
                axis.set_referenced(told.referenced[place]);
                self.estimate.put(place, told.position[place]);
                changed = true;
            }
        }
        changed
    }

    /// Where an axis stands with regard to its travel.
    pub fn place(&self, axis: usize) -> Place {
        let driven = &self.axes[axis];
        let Some(ends) = driven.facts.ends else {
            return match driven.referenced {
                true => Place::Inside,
                false => Place::Unreferenced,
            };
        };
        let at = self.estimate.position(axis);
        let slack = OUTSIDE_COUNTS * driven.facts.count;
        if at < ends.low().0 - slack || at > ends.high().0 + slack {
            Place::Outside
        } else {
            Place::Inside
        }
    }

    /// What the file says of it.
    pub const fn file(&self) -> &Rig {
        &self.rig
    }

    /// Another file for the same rig, at rest. The rig has to be met again before it moves: travel
    /// and stop sets are its own to keep too. `rig` becomes the old one, for whoever may free memory.
    pub fn replace(&mut self, rig: &mut Rig, period: Span) {
        for (axis, file) in self.axes.iter_mut().zip(rig.axes.iter()) {
            let referenced = axis.referenced;
            *axis = DrivenAxis::new(file, rig, period);
            axis.set_referenced(referenced);
        }
        self.ready = false;
        self.current = Current::Full;
        self.offered = None;
        core::mem::swap(&mut self.rig, rig);
    }

    fn meet(&mut self, report: &RigReport) {
        let mut position = [0.0; MAX_AXES];
        for (place, axis) in self.axes.iter_mut().enumerate() {
            let told = &report.axes[place];
            position[place] = told.position;
            axis.meet(
                &self.rig.axes[place],
                told.referenced,
                told.speed,
                told.accel,
                told.jerk,
            );
        }
        self.estimate = Estimate::at(position);
        self.ready = true;
        // It takes no setup on less.
        self.current = Current::Full;
        self.seq = 0;
        self.next_frame = Time(0);
        self.offered = None;
    }

    /// One tick of one axis towards a speed, under a ceiling it may not exceed on the way. The first
    /// change is told.
    pub fn step_axis(&mut self, place: usize, wish: &Wish, pace: Pace) -> Option<Change> {
        let position = self.estimate.position(place);
        let axis = &mut self.axes[place];
        let order = Order {
            target: wish.target,
            ceiling: wish.ceiling,
            most: wish.most,
            exactly: wish.exactly,
            sets: wish.sets,
            dt: pace.dt,
            position,
        };
        // A planned motion is given for the end of the whole tick.
        let steps = wish.exactly.map_or(pace.steps, |_| 1);
        let order = Order {
            dt: pace.dt * f64::from(pace.steps) / f64::from(steps),
            ..order
        };
        (0..steps).fold(None, |change, _| {
            let another = axis.motion.step(&axis.facts, &order);
            change.or(another)
        })
    }

    /// Stops one axis with its stop set.
    pub fn stop_axis(&mut self, place: usize) {
        self.axes[place].motion.stop();
    }

    /// The frame to send now, if one is due.
    pub fn frame(&mut self, now: Time) -> Option<Frame> {
        if !self.ready || now < self.next_frame {
            return None;
        }
        // On the grid of its own period, but never a burst after a pause.
        let on_grid = self.next_frame + self.rig.frame_period;
        self.last_frame = now;
        let due = if on_grid <= now {
            now + self.rig.frame_period
        } else {
            on_grid
        };
        self.next_frame = due;
        self.seq = self.seq.wrapping_add(1).max(1);
        let mut frame = Frame {
            seq: self.seq,
            velocity: [0; MAX_AXES],
        };
        let mut sent = [0.0; MAX_AXES];
        for (place, axis) in self.axes.iter_mut().enumerate() {
            let file = &self.rig.axes[place];
            let steps = axis.whole_steps();
            // The cast saturates; the link ceiling keeps every value inside anyway.
            frame.velocity[place] = (steps * file.sense.sign()) as i32;
            sent[place] = steps * axis.facts.count / WIRE_STEPS_PER_COUNT;
        }
        self.recent[self.seq as usize % RECENT] = (self.seq, sent);
        self.offered = Some(self.seq);
        Some(frame)
    }
}

impl DrivenAxis {
    fn new(axis: &Axis, rig: &Rig, period: Span) -> DrivenAxis {
        let count = 1.0 / axis.counts_per_unit;
        // A state may last the lateness bound, a frame's period and a tick longer than planned.
        let hold = Span(LATENESS_BOUND.0 + rig.frame_period.0 + period.0);
        let ends = match axis.travel {
            Travel::Continuous => None,
            Travel::Finite(ends) => Some(ends),
        };
        DrivenAxis {
            unit: axis.unit,
            facts: AxisFacts {
                limits: axis.limits,
                ends: None,
                count,
                hold_s: hold.secs(),
            },
            speed: axis.speed,
            link: link_ceiling(axis.counts_per_unit),
            reduced: reduced(axis),
            tip: axis.tip_per_unit(),
            needs_enable: axis.needs_enable,
            ends,
            referenced: false,
            motion: AxisMotion::at_rest(),
            carried: 0.0,
        }
    }

    fn meet(
        &mut self,
        file: &Axis,
        referenced: bool,
        speed: Option<f64>,
        accel: Option<f64>,
        jerk: Option<f64>,
    ) {
        self.speed = speed.map_or(file.speed, |own| file.speed.lower(Speed(own)));
        self.facts.limits = agreed(&file.limits, accel, jerk);
        self.set_referenced(referenced);
        self.motion = AxisMotion::at_rest();
        self.carried = 0.0;
    }

    /// A travel means nothing to a position that is not to be believed.
    fn set_referenced(&mut self, referenced: bool) {
        self.referenced = referenced;
        self.facts.ends = self.ends.filter(|_| referenced);
    }

    /// The present speed in whole wire steps, the remainder carried into the next frame.
    fn whole_steps(&mut self) -> f64 {
        let v = self.motion.motion().v;
        if v == 0.0 {
            self.carried = 0.0;
            return 0.0;
        }
        let exact = v / self.facts.count * WIRE_STEPS_PER_COUNT + self.carried;
        let whole = rint(exact);
        self.carried = held(exact - whole, -0.5, 0.5);
        whole
    }
}

/// The file's limits lowered to what the rig says of itself.
fn agreed(file: &Limits, accel: Option<f64>, jerk: Option<f64>) -> Limits {
    let lower = |set: LimitSet| LimitSet {
        accel: accel.map_or(set.accel, |own| set.accel.lower(Accel(own))),
        jerk: jerk.map_or(set.jerk, |own| set.jerk.lower(Jerk(own))),
    };
    let (plus, minus) = (lower(file.stop(1.0)), lower(file.stop(-1.0)));
    Limits::new(lower(file.normal()), plus, minus).unwrap_or(*file)
}
