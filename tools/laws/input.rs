//! What each event means to the laws.

use crate::axis::{AxisState, controls_of};
use crate::checker::Checker;
use crate::event::{Asked, Bus, Change, Event, PadId, QuietAxis};
use crate::facts::{Button, ControlId, Facts, Normal, higher};
use crate::loss::Cause;
use crate::pads::Pad;
use crate::units::{Axes, Nanos};

impl Checker {
    /// An input, or a consequence of one, at `t`.
    pub fn event(&mut self, t: Nanos, event: &Event) {
        match event {
            Event::Tick => self.tick(t),
            Event::Stick {
                pad,
                control,
                value,
            } => self.stick(t, *pad, *control, *value),
            Event::ButtonDown(pad, button) => self.button(t, *pad, *button, true),
            Event::ButtonUp(pad, button) => self.button(t, *pad, *button, false),
            Event::PadPlugged {
                pad,
                bus,
                may_drive,
            } => self.plugged(t, *pad, *bus, *may_drive),
            Event::PadUnplugged(pad) => self.unplugged(t, *pad),
            Event::PadAlive(pad) => {
                // A pad that is not plugged in has no life to renew.
                self.heard_from(t, *pad);
            }
            Event::PadBus(pad, bus) => self.judge_silence_by(*pad, *bus),
            Event::TakesControl { pad, axes } => {
                self.withhold(t, *axes);
                self.drive(*pad, |index, _| axes.has(index));
            }
            Event::LinkReady { session } => self.link_ready(t, *session),
            Event::LinkLost => self.link_lost(t),
            Event::PowerLost => self.power_lost(t),
            Event::PowerBack => self.power_back(t),
            Event::Referenced(axis) => self.knows_where(t, *axis, true),
            Event::Unreferenced(axis) => self.knows_where(t, *axis, false),
            Event::Moved(axis) => self.on_axis(*axis, |s| {
                // Pushed nearer to an end than it was, no plan for braking fits any more.
                s.sets.allow_stop();
                s.travel.look_again();
                s.sense.leave_end();
                s.loss.forget_plant();
                s.quiet.dwell.push();
            }),
            Event::Changed(change, facts) => self.change(t, *change, facts.as_deref()),
            Event::Ceiling { axis, speed } => self.ceiling(t, *axis, *speed),
            Event::NormalSet { axis, set } => self.normal_set(t, *axis, *set),
            Event::Quiet(limits) => self.quiet(t, limits.as_deref()),
            Event::PutOff => self.everything_changed(),
            Event::NearerEnd(axis) => self.on_axis(*axis, AxisState::plan_may_not_fit),
            Event::RigStops => self.rig_stops(t),
            Event::Unsent => self.unsent(t),
            Event::Shared(shared) => self.shared = *shared,
            Event::Ask(axis, asked) => self.ask(t, *axis, *asked, true),
            Event::AskEnded(axis, asked) => self.ask(t, *axis, *asked, false),
            Event::Enable { axis, held } => {
                self.note_consents(t, Axes::one(*axis));
                self.on_axis(*axis, |s| {
                    s.enabled = *held;
                    s.sense.changed();
                });
            }
            Event::Residual(axis) => self.lose(Cause::Residual, t, Axes::one(*axis), 0.0),
            Event::FramesLost { late } => self.frames_lost(t, *late),
            Event::Stop | Event::End => self.stop(t),
            Event::StopReleased => {
                self.stopped = false;
                self.withhold(t, Axes::ALL);
            }
        }
    }

    /// An axis knows where it is from now on, or no longer does.
    fn knows_where(&mut self, t: Nanos, axis: usize, known: bool) {
        self.note_consents(t, Axes::one(axis));
        self.on_axis(axis, |s| {
            s.referenced = known;
            s.travel.look_again();
            s.sense.changed();
            s.sense.leave_end();
        });
    }

    fn on_axis(&mut self, axis: usize, then: impl FnOnce(&mut AxisState)) {
        if let Some(state) = self.axes.get_mut(axis) {
            then(state);
        }
    }

    fn ceiling(&mut self, t: Nanos, index: usize, speed: f64) {
        let (Some(state), Some(axis)) = (self.axes.get_mut(index), self.facts.axes.get(index))
        else {
            return;
        };
        let before = state.ceiling.current();
        if !state.ceiling.set(speed) {
            return;
        }
        state.sense.changed();
        if speed < before {
            state.ceiling_falls(t, axis, self.step, before);
        }
    }

    fn rig_stops(&mut self, t: Nanos) {
        for (state, axis) in self.axes.iter_mut().zip(&self.facts.axes) {
            if state.motion.v[0] != 0.0 {
                state.rig_stops(t, axis, self.step);
            }
        }
    }

    fn everything_changed(&mut self) {
        for state in &mut self.axes {
            state.sense.changed();
        }
    }

    fn tick(&mut self, t: Nanos) {
        self.try_release(t);
        let gap = self.last_tick.map_or(0.0, |last| t.since(last));
        let before = self.last_tick.replace(t).unwrap_or(t);
        let late = higher(gap - 2.0 * self.facts.tick.secs(), 0.0);
        self.late += late;
        for state in &mut self.axes {
            state.loss.held_up(late, state.motion.v[0]);
            state.quiet.held_up(late, before);
        }
        let moving = |state: &&AxisState| state.motion.v[0] != 0.0;
        if self.shared && self.axes.iter().filter(moving).count() > 1 {
            self.everything_changed();
        }
        if gap > self.facts.lateness.secs() {
            self.lose(Cause::Late, t, Axes::ALL, 0.0);
        } else if gap > 2.0 * self.facts.tick.secs() {
            self.axes.iter_mut().for_each(AxisState::plan_may_not_fit);
        }
    }

    /// Any event of a pad renews its life; says whether the pad is known.
    fn heard_from(&mut self, t: Nanos, pad: PadId) -> bool {
        let Some(pad) = self.pads.iter_mut().find(|p| p.id == pad) else {
            return false;
        };
        pad.last_event = t;
        pad.silent = false;
        true
    }

    fn stick(&mut self, t: Nanos, id: PadId, control: ControlId, value: f64) {
        if !self.heard_from(t, id) {
            return;
        }
        let Some(pad) = self.pads.iter_mut().find(|p| p.id == id) else {
            return;
        };
        let (another, asks_anew) = pad.stick(t, control, value, &self.facts, &self.withheld);
        let Some(pad) = self.pads.iter().find(|p| p.id == id) else {
            return;
        };
        for (index, state) in self.axes.iter_mut().enumerate() {
            // A stick's other direction matters too: a wedge weighs one against the other.
            let own = state.controls.contains(&control);
            // Where axes share a ceiling any hand turns any axis.
            if own && state.driver == Some(id) || self.shared {
                state.quiet.dwell.stick(control, value);
            }
            if state.driver != Some(id) || !(asks_anew || another && !own) {
                continue;
            }
            state.sense.changed();
            let way = state.sense.end_way();
            if way.is_some_and(|way| !pad.never_against(index, &state.controls, &self.facts, way)) {
                state.sense.leave_end();
            }
        }
        self.try_release(t);
    }

    fn button(&mut self, t: Nanos, id: PadId, button: Button, down: bool) {
        let (stop, release) = (self.facts.stop_button, self.facts.release_button);
        if !self.heard_from(t, id) {
            return;
        }
        if button == release {
            // A release that came due before the button rose still counts.
            if !down {
                self.try_release(t);
            }
            if let Some(pad) = self.pads.iter_mut().find(|p| p.id == id) {
                pad.release_button(t, down);
            }
        } else if button == stop && down {
            self.stop(t);
        }
        // What other buttons ask for arrives as events of its own; they may change the demand.
        self.everything_changed();
        for state in &mut self.axes {
            state.quiet.dwell.button();
        }
    }

    fn stop(&mut self, t: Nanos) {
        self.lose(Cause::Stop, t, Axes::ALL, 0.0);
        self.stopped = true;
    }

    fn plugged(&mut self, t: Nanos, pad: PadId, bus: Bus, may_drive: bool) {
        self.pads.retain(|p| p.id != pad);
        self.pads
            .push(Pad::new(pad, bus, t, self.facts.controls.len()));
        self.drive(pad, |_, state| may_drive && state.driver.is_none());
    }

    fn judge_silence_by(&mut self, pad: PadId, bus: Bus) {
        for known in self.pads.iter_mut().filter(|known| known.id == pad) {
            known.bus = bus;
        }
    }

    /// Hands the axes that `which` picks to a pad.
    fn drive(&mut self, pad: PadId, which: impl Fn(usize, &AxisState) -> bool) {
        for (index, state) in self.axes.iter_mut().enumerate() {
            if which(index, state) {
                state.driver = Some(pad);
            }
        }
    }

    fn unplugged(&mut self, t: Nanos, pad: PadId) {
        let axes = self.driven_by(pad);
        self.lose(Cause::PadLost, t, axes, 0.0);
        self.pads.retain(|p| p.id != pad);
        for (index, state) in self.axes.iter_mut().enumerate() {
            if axes.has(index) {
                state.driver = None;
            }
        }
    }

    fn link_ready(&mut self, t: Nanos, session: u32) {
        self.linked = true;
        self.intact.session(session);
        for state in &mut self.axes {
            state.motion.restart(t);
            state.sense.changed();
        }
    }

    fn link_lost(&mut self, t: Nanos) {
        let watchdog = self.facts.watchdog.secs();
        self.lose(Cause::LinkLost, t, Axes::ALL, watchdog);
        self.linked = false;
        for state in &mut self.axes {
            state.loss.frames_over();
        }
    }

    fn power_lost(&mut self, t: Nanos) {
        self.lose(Cause::PowerLost, t, Axes::ALL, 0.0);
        self.powered = false;
        for state in &mut self.axes {
            state.referenced = false;
            state.loss.forget_plant();
        }
    }

    fn frames_lost(&mut self, t: Nanos, late: Nanos) {
        let wait = self.facts.watchdog.secs() + late.secs();
        for (state, axis) in self.axes.iter_mut().zip(&self.facts.axes) {
            state.consent.frames_lost(t, axis, wait);
            state.loss.frames_lost(t, wait, &state.motion, axis);
            state.ceiling.frames_lost(t, wait);
        }
    }

    fn power_back(&mut self, t: Nanos) {
        self.powered = true;
        self.withhold(t, Axes::ALL);
        for state in &mut self.axes {
            state.motion.restart(t);
            state.consent.power_back();
            state.loss.clear();
            state.travel.look_again();
            state.sense.leave_end();
        }
    }

    /// Time without a frame is like a late turn: nothing makes up for it.
    fn unsent(&mut self, t: Nanos) {
        let Some(last) = self.last_frame else { return };
        let gap = t.since(last);
        let late = higher(gap - self.late, 0.0);
        self.late += late;
        for (state, axis) in self.axes.iter_mut().zip(&self.facts.axes) {
            state.loss.held_up(late, state.motion.v[0]);
            state.quiet.held_up(late, last);
            // A set may take over in a tick whose frame nobody saw.
            state.settle(axis);
            if gap > 1.5 * self.step {
                state.plan_may_not_fit();
            }
        }
    }

    fn normal_set(&mut self, t: Nanos, index: usize, set: Normal) {
        let Some((state, axis)) = self.axes.get_mut(index).zip(self.facts.axes.get(index)) else {
            return;
        };
        state.sets.offer(set);
        state.sense.changed();
        let mut quiet = std::mem::take(&mut state.quiet);
        quiet.sets_offered(&state.now(t, axis, self.step), state.ceiling.current());
        state.quiet = quiet;
    }

    fn quiet(&mut self, t: Nanos, limits: Option<&[QuietAxis]>) {
        for (index, (state, axis)) in self.axes.iter_mut().zip(&self.facts.axes).enumerate() {
            let limits = limits.and_then(|all| all.get(index)).cloned();
            let mut quiet = std::mem::take(&mut state.quiet);
            let bounds = (state.ceiling.current(), self.facts.lateness.secs());
            quiet.set(&state.now(t, axis, self.step), limits, bounds);
            state.quiet = quiet;
            state.sense.changed();
        }
    }

    fn ask(&mut self, t: Nanos, axis: usize, asked: Asked, on: bool) {
        if !on {
            self.note_consents(t, Axes::one(axis));
        }
        self.on_axis(axis, |s| {
            s.asked = if on {
                s.asked | asked.bit()
            } else {
                s.asked & !asked.bit()
            };
            s.sense.changed();
            s.sense.leave_end();
        });
    }

    fn change(&mut self, t: Nanos, change: Change, facts: Option<&Facts>) {
        match change {
            Change::Bindings | Change::Operator => self.withhold(t, Axes::ALL),
            Change::Profile | Change::Rig => self.note_consents(t, Axes::ALL),
        }
        if let Some(facts) = facts {
            self.take_facts(t, change, facts);
        }
        self.everything_changed();
    }

    fn take_facts(&mut self, t: Nanos, change: Change, facts: &Facts) {
        if facts.axes.len() != self.facts.axes.len() {
            self.axes = facts
                .axes
                .iter()
                .enumerate()
                .map(|(n, a)| AxisState::new(n, facts, a))
                .collect();
            self.withheld = vec![t; self.axes.len()];
        }
        for (index, (state, axis)) in self.axes.iter_mut().zip(&facts.axes).enumerate() {
            state.controls = controls_of(index, facts);
            if self
                .facts
                .axes
                .get(index)
                .is_none_or(|old| old.travel != axis.travel)
            {
                state.travel.look_again();
                state.sense.leave_end();
            }
            if change == Change::Rig {
                state.sets.offer(Normal::same(axis.normal));
            }
        }
        self.facts = facts.clone();
        self.step = facts.step_s();
        for pad in &mut self.pads {
            pad.reread(t, &self.facts, &self.withheld);
        }
    }
}
