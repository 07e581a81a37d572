//! The checker: events, frames and plant records in, breaches out.

use crate::axis::AxisState;
use crate::breach::{Breach, Law, Log};
use crate::event::{Arrival, Bus, Frame, PadId, Plant};
use crate::facts::{Facts, higher, lower};
use crate::intact::Intact;
use crate::loss::Cause;
use crate::pads::Pad;
use crate::stats::{Peaks, Stats};
use crate::units::{Axes, Nanos};

/// Watches one world. Calls come in the order of their times; at equal times events come before
/// the frame they lead to, and the frame before the plant.
#[derive(Clone, Debug)]
pub struct Checker {
    pub(crate) facts: Facts,
    pub(crate) axes: Vec<AxisState>,
    /// Per axis, its last withholding event.
    pub(crate) withheld: Vec<Nanos>,
    pub(crate) pads: Vec<Pad>,
    pub(crate) step: f64,
    pub(crate) stopped: bool,
    pub(crate) linked: bool,
    pub(crate) powered: bool,
    pub(crate) last_tick: Option<Nanos>,
    /// Seconds since the last frame by which ticks were late: more than two periods.
    pub(crate) late: f64,
    /// Ceilings are shared out among the axes that move.
    pub(crate) shared: bool,
    pub(crate) intact: Intact,
    pub(crate) log: Log,
    pub(crate) last_frame: Option<Nanos>,
    stats: Stats,
}

impl Checker {
    /// A checker for a world that has not begun: no pad, no link, power on, withheld.
    pub fn new(facts: Facts) -> Checker {
        let axes: Vec<AxisState> = facts
            .axes
            .iter()
            .enumerate()
            .map(|(n, a)| AxisState::new(n, &facts, a))
            .collect();
        let stats = Stats {
            peaks: vec![Peaks::default(); axes.len()],
            ..Stats::default()
        };
        Checker {
            withheld: vec![Nanos::NEVER; axes.len()],
            axes,
            pads: Vec::new(),
            step: facts.step_s(),
            facts,
            stopped: false,
            linked: false,
            powered: true,
            last_tick: None,
            late: 0.0,
            shared: false,
            intact: Intact::default(),
            log: Log::default(),
            last_frame: None,
            stats,
        }
    }

    /// A velocity frame was sent at `t`: the time of its tick, from which the engine integrates.
    /// While no link is ready a frame reaches nothing and is only counted.
    pub fn frame(&mut self, t: Nanos, frame: &Frame) {
        if !self.linked {
            self.stats.frames_unlinked += 1;
            return;
        }
        self.try_release(t);
        self.stats.frames += 1;
        self.last_frame = Some(t);
        let late = std::mem::take(&mut self.late);
        for (state, (axis, &speed)) in self
            .axes
            .iter_mut()
            .zip(self.facts.axes.iter().zip(frame.speeds))
        {
            state.motion.push(t, speed, late, &self.facts, axis);
        }
        self.hear_silence(t);
        for index in 0..self.axes.len() {
            let stands = self.stands(index, t);
            let (Some(state), Some(axis)) = (self.axes.get_mut(index), self.facts.axes.get(index))
            else {
                continue;
            };
            if stands {
                state.consent.stands(t);
            }
            state.frame(t, axis, self.step, &mut self.log);
            self.stats.step(index, &state.motion);
        }
        if frame.speeds.len() != self.axes.len() {
            let figures = (frame.speeds.len() as f64, self.axes.len() as f64);
            self.log.add(Law::Intact, t, None, figures, || {
                format!("a frame of {} axes, allowed {} axes", figures.0, figures.1)
            });
        }
    }

    /// The true state of the rig at `t`.
    pub fn plant(&mut self, t: Nanos, plant: &Plant) {
        self.stats.plants += 1;
        // Without power a load may drop: nothing the daemon does can hold it.
        if !self.powered {
            return;
        }
        self.miss_frames(t);
        let waits = self.last_tick.map_or(0.0, |last| t.since(last));
        let late = higher(waits - 2.0 * self.facts.tick.secs(), 0.0);
        // After that the rig stops by itself, from a speed it takes to be steady.
        let watchdog = self.facts.watchdog.secs();
        let alone = late >= watchdog;
        let late = lower(late, watchdog);
        let (pads, facts) = (&self.pads, &self.facts);
        for (index, (state, (axis, &truth))) in self
            .axes
            .iter_mut()
            .zip(facts.axes.iter().zip(plant.axes))
            .enumerate()
        {
            state.travel.linked(self.linked);
            // Taken out while the state is borrowed: a small copy of pointers, no allocation.
            let controls = std::mem::take(&mut state.controls);
            let (driver, asked) = (state.driver, state.asked);
            let outward_or_none = |way: f64| {
                let pad = driver.and_then(|id| pads.iter().find(|p| p.id == id));
                asked == 0 && pad.is_none_or(|p| p.never_against(index, &controls, facts, way))
            };
            state.plant(
                t,
                axis,
                self.step,
                (truth, late + if alone { axis.ramp() } else { 0.0 }),
                outward_or_none,
                &mut self.log,
            );
            state.controls = controls;
        }
    }

    /// A frame reached the rig.
    pub fn arrival(&mut self, t: Nanos, arrival: &Arrival) {
        self.intact.arrival(t, arrival, &mut self.log);
    }

    /// The run is over: stops whose time is up without having been seen to end are reported.
    pub fn end(&mut self, t: Nanos) {
        if !self.powered {
            return;
        }
        for (state, axis) in self.axes.iter_mut().zip(&self.facts.axes) {
            let now = crate::judge::Now {
                t,
                axis,
                motion: &state.motion,
                sets: &state.sets,
                step: self.step,
            };
            state.loss.end(&now, &mut self.log);
        }
    }

    /// The first breaches, in order; at most [`crate::BREACHES_KEPT`].
    pub fn breaches(&self) -> &[Breach] {
        self.log.kept()
    }

    /// How many breaches of one law there were in all.
    pub fn count(&self, law: Law) -> u64 {
        self.log.count(law)
    }

    /// How many breaches there were in all.
    pub fn total(&self) -> u64 {
        Law::ALL.iter().map(|&law| self.log.count(law)).sum()
    }

    /// Figures of the run so far.
    pub fn stats(&self) -> &Stats {
        &self.stats
    }

    /// Whether some consent stands for an axis.
    pub(crate) fn stands(&mut self, index: usize, t: Nanos) -> bool {
        let (Some(state), Some(axis)) = (self.axes.get(index), self.facts.axes.get(index)) else {
            return false;
        };
        if self.stopped || !self.linked || !self.powered {
            return false;
        }
        if (axis.needs_enable || !state.referenced) && !state.enabled {
            return false;
        }
        if state.asked_for() {
            return true;
        }
        let Some(driver) = state.driver else {
            return false;
        };
        let Some(pad) = self.pads.iter_mut().find(|p| p.id == driver) else {
            return false;
        };
        pad.asks(
            t,
            index,
            &state.controls,
            &self.facts,
            &self.withheld,
            3.0 * self.step,
        )
    }

    /// Notes which consents stand at this moment, before something takes them away.
    pub(crate) fn note_consents(&mut self, t: Nanos, axes: Axes) {
        for index in 0..self.axes.len() {
            if axes.has(index)
                && self.stands(index, t)
                && let Some(state) = self.axes.get_mut(index)
            {
                state.consent.stands(t);
            }
        }
    }

    /// A withholding event: consents fall, controls must be seen centred anew.
    pub(crate) fn withhold(&mut self, t: Nanos, axes: Axes) {
        self.note_consents(t, axes);
        for (index, (state, withheld)) in self.axes.iter_mut().zip(&mut self.withheld).enumerate() {
            if axes.has(index) {
                *withheld = t;
                state.asked = 0;
                state.sense.changed();
            }
        }
        for pad in &mut self.pads {
            pad.disarm(axes);
        }
    }

    /// A loss or stop event: these axes must stop, then are withheld. `extra` seconds pass before
    /// the rig hears of it.
    pub(crate) fn lose(&mut self, cause: Cause, t: Nanos, axes: Axes, extra: f64) {
        self.withhold(t, axes);
        // Without a link no turn can stop it, late or not: the rig does, and that is watched since the loss.
        let may = self.linked || cause != Cause::Late;
        for (index, (state, axis)) in self.axes.iter_mut().zip(&self.facts.axes).enumerate() {
            if may && axes.has(index) {
                state.must_stop(cause, t, axis, self.step, extra);
                if !self.linked {
                    state.loss.frames_over();
                }
            }
        }
    }

    /// Axes that a pad drives.
    pub(crate) fn driven_by(&self, pad: PadId) -> Axes {
        let driven = self
            .axes
            .iter()
            .enumerate()
            .filter(|(_, s)| s.driver == Some(pad));
        driven.fold(Axes::NONE, |all, (index, _)| all.with(Axes::one(index)))
    }

    /// Releases a stop once its button was held long enough on a pad that drives.
    pub(crate) fn try_release(&mut self, t: Nanos) {
        if !self.stopped {
            return;
        }
        let releases = self
            .pads
            .iter()
            .any(|p| p.releases(t, &self.facts) && !self.driven_by(p.id).is_empty());
        if releases {
            self.stopped = false;
            self.withhold(t, Axes::ALL);
        }
    }

    /// A moving axis must have a live pad behind it.
    ///
    /// An engine sees the same times by its tick, so it may stop up to two steps before the bound,
    /// and must within one after it.
    fn hear_silence(&mut self, t: Nanos) {
        for n in 0..self.pads.len() {
            let Some(pad) = self.pads.get(n) else {
                continue;
            };
            let silent_for = t.since(pad.last_event);
            if pad.bus == Bus::Wired || pad.silent || silent_for < 0.3 - 2.0 * self.step {
                continue;
            }
            let (mut may, mut must) = (false, false);
            for (state, axis) in self.axes.iter().zip(&self.facts.axes) {
                let [new, old, _] = state.motion.v.map(f64::abs);
                if state.driver != Some(pad.id) || (new == 0.0 && old == 0.0) {
                    continue;
                }
                let over = |v: f64, by: f64| {
                    pad.silence_bound(axis, v)
                        .is_some_and(|b| silent_for > b + by)
                };
                may |= over(higher(new, old), -2.0 * self.step);
                must |= lower(new, old) > 0.0 && over(lower(new, old), self.step);
            }
            if !may {
                continue;
            }
            let axes = self.driven_by(pad.id);
            for (index, state) in self.axes.iter_mut().enumerate() {
                if axes.has(index) && !state.sets.stop_allowed() {
                    state.sets.allow_stop();
                    state.sense.changed();
                }
            }
            if must {
                if let Some(pad) = self.pads.get_mut(n) {
                    pad.silent = true;
                }
                self.lose(Cause::PadSilent, t, axes, 0.0);
            }
        }
    }

    /// Frames have stopped coming: the rig's own watchdog must have struck.
    fn miss_frames(&mut self, t: Nanos) {
        let Some(last) = self.last_frame else { return };
        let strikes = last + self.facts.watchdog;
        if !self.linked || !self.powered || t <= strikes {
            return;
        }
        for (state, axis) in self.axes.iter_mut().zip(&self.facts.axes) {
            if state.motion.v[0] == 0.0 {
                continue;
            }
            if state.loss.watching() {
                state.rig_stops(strikes, axis, self.step);
            } else {
                state.must_stop(Cause::Watchdog, strikes, axis, self.step, 0.0);
                state.loss.frames_over();
            }
        }
    }
}
