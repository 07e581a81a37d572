//! What the laws checker is told, and when: only what could be seen from outside.

use super::facts::{bus_of, button, facts, nanos};
use crate::link::mischief;
use stillhand_engine::input::{Input, LinkEvent, PadBus, PadEvent, PadId};
use stillhand_engine::operator::Operator;
use stillhand_engine::output::{Notice, Notices, State, Why};
use stillhand_engine::rig::Rig;
use stillhand_engine::time::{Span, Time};
use stillhand_engine::{MAX_AXES, MAX_PADS};
use stillhand_laws::{self as laws, Checker, Event};

mod motion;

/// A position that jumped is found out by the tellings of this time; a residual later than that has
/// no cause the checker would accept.
const FOUND_OUT: Span = Span::from_millis(500);

/// The checker and what is needed to tell it what it has to know.
#[derive(Debug)]
pub(super) struct Judge {
    checker: Checker,
    rig: Rig,
    operator: Operator,
    period: Span,
    /// The last profile offered, until the engine tells that it is in force.
    expected: Option<Operator>,
    gear: u8,
    /// Which pads are plugged in, and whether each may drive.
    pads: [Option<bool>; MAX_PADS],
    in_control: Option<PadId>,
    /// The last frame's speeds, picture's sense, units/s.
    speeds: Vec<f64>,
    /// The speeds for which the checker was last told the sets.
    told_speed: [f64; MAX_AXES],
    /// When an axis was last pushed.
    slipped: Option<Time>,
    /// The link is ready.
    linked: bool,
    /// The rig has forgotten where it is, and the daemon can't know yet.
    forgotten: bool,
}

impl Judge {
    /// A judge who knows the files, and whether the axes know where they are.
    pub fn new(rig: &Rig, operator: &Operator, period: Span, referenced: bool) -> Judge {
        let mut known = facts(rig, operator, period);
        for axis in &mut known.axes {
            axis.referenced = referenced;
        }
        let mut judge = Judge {
            checker: Checker::new(known),
            rig: rig.clone(),
            operator: operator.clone(),
            period,
            expected: None,
            gear: operator.first_gear,
            pads: [None; MAX_PADS],
            in_control: None,
            speeds: vec![0.0; rig.axes.len()],
            told_speed: [0.0; MAX_AXES],
            slipped: None,
            linked: false,
            forgotten: false,
        };
        judge.tell_sets(Time(0));
        judge
    }

    pub fn checker(&self) -> &Checker {
        &self.checker
    }

    /// The speeds of the last frame, picture's sense, units/s.
    pub fn speeds(&self) -> &[f64] {
        &self.speeds
    }

    /// A profile that will be in force when the engine says so.
    pub fn expect(&mut self, operator: &Operator) {
        self.expected = Some(operator.clone());
    }

    pub fn tell(&mut self, at: Time, event: &Event) {
        self.checker.event(moment(at), event);
    }

    /// Tells of what is about to go into the engine.
    pub fn input(&mut self, at: Time, input: &Input, session: u32) {
        match input {
            Input::Pad(pad, event) => self.pad(at, *pad, *event),
            Input::Link(_, LinkEvent::Ready(_)) => {
                self.linked = true;
                self.tell(at, &Event::LinkReady { session });
            }
            Input::Link(_, LinkEvent::Lost(_)) => {
                self.linked = false;
                self.tell(at, &Event::LinkLost);
                self.frames_over();
                if std::mem::take(&mut self.forgotten) {
                    self.each_axis(at, Event::Unreferenced);
                }
            }
            Input::Link(_, LinkEvent::Told(_) | LinkEvent::Unsent(_) | LinkEvent::SentLate(..)) => {
            }
            Input::End => self.tell(at, &Event::End),
        }
    }

    fn pad(&mut self, at: Time, pad: PadId, event: PadEvent) {
        let id = laws::PadId(u16::from(pad.0));
        let told = match event {
            PadEvent::Plugged { bus, drives } => return self.plugged(at, pad, bus, drives),
            PadEvent::Unplugged => return self.unplugged(at, pad),
            PadEvent::Moved(control, value) => Event::Stick {
                pad: id,
                control: laws::ControlId(control as u16),
                value,
            },
            PadEvent::Pressed(pressed, true) => {
                self.shift(at, pad, pressed);
                Event::ButtonDown(id, button(pressed))
            }
            PadEvent::Pressed(released, false) => Event::ButtonUp(id, button(released)),
            PadEvent::Alive => Event::PadAlive(id),
        };
        self.tell(at, &told);
    }

    fn plugged(&mut self, at: Time, pad: PadId, bus: PadBus, drives: bool) {
        let Some(place) = self.pads.get_mut(usize::from(pad.0)) else {
            return;
        };
        let id = laws::PadId(u16::from(pad.0));
        let missed_unplug = place.replace(drives).is_some();
        if missed_unplug {
            self.tell(at, &Event::PadUnplugged(id));
        }
        // A pad that was in control and comes back in its place drives again if it may.
        if self.in_control == Some(pad) {
            self.in_control = None;
        }
        let plugged = Event::PadPlugged {
            pad: id,
            bus: bus_of(bus),
            may_drive: drives,
        };
        self.tell(at, &plugged);
        self.fill_control(at);
    }

    fn unplugged(&mut self, at: Time, pad: PadId) {
        if let Some(place) = self.pads.get_mut(usize::from(pad.0)) {
            *place = None;
        }
        self.tell(at, &Event::PadUnplugged(laws::PadId(u16::from(pad.0))));
        if self.in_control == Some(pad) {
            self.in_control = None;
        }
        self.fill_control(at);
    }

    /// Control goes to the first pad that may drive, if none has it.
    fn fill_control(&mut self, at: Time) {
        if self.in_control.is_some() {
            return;
        }
        let first = self.pads.iter().position(|pad| *pad == Some(true));
        let Some(place) = first else { return };
        self.in_control = Some(PadId(place as u8));
        let takes = Event::TakesControl {
            pad: laws::PadId(place as u16),
            axes: laws::Axes::ALL,
        };
        self.tell(at, &takes);
    }

    /// What a mischief is to the laws. What the rig does about it is not told: it has to be right.
    pub fn rig_event(&mut self, at: Time, event: mischief::Event) {
        match event {
            mischief::Event::Power(false) => self.tell(at, &Event::PowerLost),
            mischief::Event::Power(true) => self.tell(at, &Event::PowerBack),
            // A rig that starts anew says nothing: until it is missed, frames go on to nobody.
            mischief::Event::Reboot { .. } if self.linked => self.forgotten = true,
            mischief::Event::Reboot { .. } => self.each_axis(at, Event::Unreferenced),
            mischief::Event::Slip { axis, .. } => {
                self.slipped = Some(at);
                self.tell(at, &Event::Moved(axis));
            }
            mischief::Event::Fault(_)
            | mischief::Event::StopInput(_)
            | mischief::Event::TelemetryPeriod(_)
            | mischief::Event::TelemetryLose(_)
            | mischief::Event::TelemetryMute(_)
            | mischief::Event::Ramps(_)
            | mischief::Event::Supply(_)
            | mischief::Event::Drive(_)
            | mischief::Event::Deaf(_) => {}
        }
    }

    /// Every axis has found its reference.
    pub fn referenced(&mut self, at: Time) {
        self.forgotten = false;
        self.each_axis(at, Event::Referenced);
    }

    fn each_axis(&mut self, at: Time, event: impl Fn(usize) -> Event) {
        for axis in 0..self.rig.axes.len() {
            self.tell(at, &event(axis));
        }
    }

    pub fn arrival(&mut self, at: Time, arrival: &laws::Arrival) {
        self.checker.arrival(moment(at), arrival);
    }

    pub fn plant(&mut self, at: Time, axes: &[laws::PlantAxis]) {
        self.checker.plant(moment(at), &laws::Plant { axes });
    }

    /// Looks through what the engine told for the two things only it knows: which moment it chose for
    /// a profile, and that a telling was too far off. The latter counts only if an axis was pushed.
    pub fn notices(&mut self, at: Time, notices: &Notices) {
        for notice in notices.iter() {
            match notice {
                Notice::ProfileApplied => self.take_over(at),
                Notice::Entered(
                    State::Withheld(Why::Residual { .. })
                    | State::NoPad(Why::Residual { .. })
                    | State::NoLink(Why::Residual { .. }),
                ) if self.slipped.is_some_and(|t| at.since(t) <= FOUND_OUT) => {
                    self.each_axis(at, Event::Residual);
                }
                _ => {}
            }
        }
    }

    /// Closes the books.
    ///
    /// # Errors
    /// The breaches, one a line.
    pub fn verdict(&mut self, at: Time) -> Result<(), String> {
        self.checker.end(moment(at));
        if self.checker.total() == 0 {
            return Ok(());
        }
        Err(self
            .checker
            .breaches()
            .iter()
            .map(|b| format!("{b}\n"))
            .collect())
    }
}

fn moment(at: Time) -> laws::Nanos {
    nanos(Span(at.0))
}
