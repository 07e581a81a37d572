//! Everything the checker keeps about one axis.

use crate::breach::Log;
use crate::ceiling::Ceiling;
use crate::consent::Consent;
use crate::event::{Asked, PadId, PlantAxis};
use crate::facts::{AxisFacts, ControlId, Facts};
use crate::judge::Now;
use crate::loss::{Cause, Loss};
use crate::motion::Motion;
use crate::quiet::Quiet;
use crate::sense::Sense;
use crate::sets::Sets;
use crate::smooth;
use crate::travel::TravelLaw;
use crate::units::Nanos;

#[derive(Clone, Debug)]
pub(crate) struct AxisState {
    pub motion: Motion,
    pub sets: Sets,
    pub ceiling: Ceiling,
    pub travel: TravelLaw,
    pub consent: Consent,
    pub loss: Loss,
    pub quiet: Quiet,
    pub sense: Sense,
    /// The pad that drives it.
    pub driver: Option<PadId>,
    /// The controls that drive it.
    pub controls: Vec<ControlId>,
    /// Bits of [`Asked`].
    pub asked: u8,
    pub enabled: bool,
    pub referenced: bool,
}

impl AxisState {
    pub fn new(index: usize, facts: &Facts, axis: &AxisFacts) -> AxisState {
        AxisState {
            motion: Motion::new(),
            sets: Sets::new(axis.normal),
            ceiling: Ceiling::new(axis),
            travel: TravelLaw::new(),
            consent: Consent::new(),
            loss: Loss::default(),
            quiet: Quiet::default(),
            sense: Sense::default(),
            driver: None,
            controls: controls_of(index, facts),
            asked: 0,
            enabled: false,
            referenced: axis.referenced,
        }
    }

    pub fn now<'a>(&'a self, t: Nanos, axis: &'a AxisFacts, step: f64) -> Now<'a> {
        Now {
            t,
            axis,
            motion: &self.motion,
            sets: &self.sets,
            step,
        }
    }

    /// Whether something other than a stick has been asked for that this axis may do.
    pub fn asked_for(&self) -> bool {
        let needs_reference = Asked::Recall.bit() | Asked::Repeat.bit() | Asked::Survey.bit();
        let may = if self.referenced {
            self.asked
        } else {
            self.asked & !needs_reference
        };
        may != 0
    }

    /// A loss or stop event: the stop set until rest, and a stop that is timed.
    pub fn must_stop(&mut self, cause: Cause, t: Nanos, axis: &AxisFacts, step: f64, extra: f64) {
        let ceiling = self.ceiling.delayed();
        let now = Now {
            t,
            axis,
            motion: &self.motion,
            sets: &self.sets,
            step,
        };
        self.loss.start(cause, &now, ceiling, extra);
        if cause.is_the_rigs() && now.motion.v[0] != 0.0 {
            self.ceiling.rig_stops(&now);
        }
        self.sets.allow_stop();
        self.sense.changed();
    }

    /// The rig begins a stop of its own at `t`.
    pub fn rig_stops(&mut self, t: Nanos, axis: &AxisFacts, step: f64) {
        let now = Now {
            t,
            axis,
            motion: &self.motion,
            sets: &self.sets,
            step,
        };
        self.ceiling.rig_stops(&now);
    }

    /// The ceiling falls, from `before`.
    pub fn ceiling_falls(&mut self, t: Nanos, axis: &AxisFacts, step: f64, before: f64) {
        let now = Now {
            t,
            axis,
            motion: &self.motion,
            sets: &self.sets,
            step,
        };
        self.quiet.ceiling_falls(&now, before);
    }

    /// More time passed than the guard's plan was made for.
    pub fn plan_may_not_fit(&mut self) {
        if self.motion.v[0] != 0.0 {
            self.sets.allow_stop();
        }
        self.sense.changed();
    }

    /// Judges the frame that `motion` has just taken in.
    pub fn frame(&mut self, t: Nanos, axis: &AxisFacts, step: f64, log: &mut Log) {
        let scripted = self.asked & Asked::SCRIPTED != 0;
        let now = Now {
            t,
            axis,
            motion: &self.motion,
            sets: &self.sets,
            step,
        };
        self.ceiling.frame(&now, log);
        smooth::frame(&now, log);
        self.consent.frame(&now, log);
        self.loss.frame(&now, log);
        self.quiet.frame(&now, self.loss.position(), log);
        if let Some(band) = self.quiet.band(&now) {
            self.sense.crosses(band);
        }
        self.sense.frame(&now, scripted, log);
        self.settle(axis);
    }

    /// Lets sets take over that fit.
    pub fn settle(&mut self, axis: &AxisFacts) {
        // A speed on the wire is off by up to a quantum.
        let ceiling = self.ceiling.delayed() + axis.quantum();
        self.sets.settle(&self.motion, ceiling);
    }

    /// Judges the true state, while motors hold it, after `late` seconds that no tick told of yet.
    pub fn plant(
        &mut self,
        t: Nanos,
        axis: &AxisFacts,
        step: f64,
        (plant, late): (PlantAxis, f64),
        outward_or_none: impl Fn(f64) -> bool,
        log: &mut Log,
    ) {
        let now = Now {
            t,
            axis,
            motion: &self.motion,
            sets: &self.sets,
            step,
        };
        if self.referenced {
            self.travel.plant(t, axis, plant.position, log);
            self.sense.plant(&now, plant.position, outward_or_none, log);
        }
        self.ceiling.plant(&now, plant.speed, log);
        self.consent.plant(&now, plant.speed, log);
        self.loss
            .plant(&now, (plant.position, plant.speed), late, log);
    }
}

/// The controls that drive an axis.
pub(crate) fn controls_of(axis: usize, facts: &Facts) -> Vec<ControlId> {
    let drives = |n: usize| {
        facts
            .controls
            .get(n)
            .is_some_and(|c| c.drives.iter().any(|d| d.axis == axis))
    };
    (0..facts.controls.len())
        .filter(|&n| drives(n))
        .filter_map(|n| u16::try_from(n).ok())
        .map(ControlId)
        .collect()
}
