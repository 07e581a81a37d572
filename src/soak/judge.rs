//! What the laws checker is told, and when: only what could be seen from outside.

use super::facts::{facts, nanos};
use super::losing::Losing;
use crate::link::mischief;
use crate::link::plant::STRENGTH;
use stillhand_engine::input::{Button, Control, Input, LinkEvent, PadBus, PadId};
use stillhand_engine::operator::{MAX_GROUPS, Operator};
use stillhand_engine::output::{Mover, Notice, Outputs, Place, State, Why};
use stillhand_engine::rig::Rig;
use stillhand_engine::time::{Span, Time};
use stillhand_engine::{MAX_AXES, MAX_PADS};
use stillhand_laws::{self as laws, Checker, Event};

mod asked;
mod control;
mod errands;
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
    gears: [u8; MAX_GROUPS],
    /// Which pads are plugged in, and whether each may drive.
    pads: [Option<bool>; MAX_PADS],
    /// Where each pad hangs, and when it said something last.
    heard: [Option<(PadBus, Time)>; MAX_PADS],
    /// The pad that holds each group.
    holders: [Option<PadId>; MAX_GROUPS],
    quiet: bool,
    still: bool,
    reduced: bool,
    /// Axes for which reduced speed holds because of where they stand.
    mistrusted: [bool; MAX_AXES],
    /// Buttons that are down, and triggers that are pulled, on each pad.
    down: Vec<(PadId, Button)>,
    pulled: Vec<(PadId, Control)>,
    /// What moved each axis in the last tick, as far as the checker was told.
    movers: [Mover; MAX_AXES],
    /// Axes whose inching was pressed.
    inched: [bool; MAX_AXES],
    errands: errands::Errands,
    enabled: [bool; MAX_AXES],
    /// The last frame's speeds, picture's sense, units/s.
    speeds: Vec<f64>,
    /// Whether the engine had each axis moving in the last tick.
    moving: [bool; MAX_AXES],
    /// From which speed each axis loses speed, and the sets the checker was told for it.
    losing: [Losing; MAX_AXES],
    /// What motors do that are too weak for the stop set is not judged.
    pub excuses_weak_motors: bool,
    /// They are, or have been and not come to rest since.
    feeble: bool,
    /// They have less than all of their strength now.
    weak: bool,
    /// When an axis was last pushed, or a frame wronged by the line.
    put_off: Option<Time>,
    /// The link is ready.
    linked: bool,
    /// The rig has forgotten where it is, and the daemon can't know yet.
    forgotten: bool,
    /// Motor power is gone, and the daemon can't know yet.
    unpowered: bool,
    /// It is on again, and the daemon can't know that either.
    repowered: bool,
    /// The rig has found its reference since, all of it unknown to the daemon.
    found_since: bool,
    /// The checker was told that motor power is gone.
    dark: bool,
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
            gears: first_gears(operator),
            pads: [None; MAX_PADS],
            heard: [None; MAX_PADS],
            holders: [None; MAX_GROUPS],
            quiet: operator.starts_quiet,
            still: false,
            reduced: false,
            mistrusted: [!referenced; MAX_AXES],
            down: Vec::new(),
            pulled: Vec::new(),
            movers: [Mover::Sticks; MAX_AXES],
            inched: [false; MAX_AXES],
            errands: errands::Errands::default(),
            enabled: [false; MAX_AXES],
            speeds: vec![0.0; rig.axes.len()],
            moving: [false; MAX_AXES],
            losing: [Losing::REST; MAX_AXES],
            excuses_weak_motors: false,
            feeble: false,
            weak: false,
            put_off: None,
            linked: false,
            forgotten: false,
            unpowered: false,
            repowered: false,
            found_since: false,
            dark: false,
        };
        judge.tell_sets(Time(0));
        judge.tell_quiet(Time(0));
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

    /// Another file of the rig is in force. The rig is met anew, so its link is lost until then.
    pub fn rig_file(&mut self, at: Time, rig: &Rig) {
        self.link_lost(at);
        let before = std::mem::replace(&mut self.rig, rig.clone());
        // The checker starts from the file's own sets; what the hands make of them is told anew.
        self.losing = [Losing::REST; MAX_AXES];
        let facts = facts(&self.rig, &self.operator, self.period);
        self.tell(
            at,
            &Event::Changed(laws::Change::Rig, Some(Box::new(facts))),
        );
        // Where the picture's plus is another one, so is the position's.
        for (axis, (old, new)) in before.axes.iter().zip(rig.axes.iter()).enumerate() {
            if old.sense != new.sense {
                self.tell(at, &Event::Moved(axis));
            }
        }
        self.tell_sets(at);
        self.tell_quiet(at);
    }

    /// With the link goes, or comes out, what the daemon could not know yet.
    fn link_lost(&mut self, at: Time) {
        self.linked = false;
        self.tell(at, &Event::LinkLost);
        if std::mem::take(&mut self.unpowered) {
            self.power_lost(at);
        }
        if std::mem::take(&mut self.repowered) {
            self.power_back(at);
        }
        if std::mem::take(&mut self.found_since) {
            self.each_axis(at, Event::Referenced);
        }
        self.frames_over();
        if std::mem::take(&mut self.forgotten) {
            self.each_axis(at, Event::Unreferenced);
        }
    }

    fn power_lost(&mut self, at: Time) {
        self.dark = true;
        self.tell(at, &Event::PowerLost);
    }

    fn power_back(&mut self, at: Time) {
        self.dark = false;
        self.tell(at, &Event::PowerBack);
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
                self.link_lost(at);
            }
            // It puts right what was off, in a step.
            Input::Link(_, LinkEvent::Told(_)) if self.is_put_off(at) => {
                self.tell(at, &Event::PutOff);
            }
            Input::Link(
                _,
                LinkEvent::Told(_)
                | LinkEvent::Unsent(_)
                | LinkEvent::SentLate(..)
                | LinkEvent::NotReferenced(_)
                | LinkEvent::FullCurrent,
            ) => {}
            // What comes of it is told by the engine: see `outputs`.
            Input::Order(_) => {}
            Input::End => self.tell(at, &Event::End),
        }
    }

    /// What a mischief is to the laws. What the rig does about it is not told: it has to be right.
    pub fn rig_event(&mut self, at: Time, event: mischief::Event) {
        match event {
            // Until it is told of, frames go on to motors that do not follow.
            mischief::Event::Power(false) if self.linked => {
                (self.unpowered, self.repowered) = (true, false);
                self.found_since = false;
            }
            mischief::Event::Power(false) => self.power_lost(at),
            // Off and on again, and nobody knows of either yet.
            mischief::Event::Power(true) if self.unpowered => self.repowered = true,
            mischief::Event::Power(true) if self.dark => self.power_back(at),
            mischief::Event::Power(true) => {}
            // A rig that starts anew says nothing: until it is missed, frames go on to nobody.
            mischief::Event::Reboot { .. } if self.linked => self.forgotten = true,
            mischief::Event::Reboot { .. } => self.each_axis(at, Event::Unreferenced),
            mischief::Event::Slip { axis, .. } => {
                self.put_off(at);
                self.tell(at, &Event::Moved(axis));
            }
            mischief::Event::Fault(1..) | mischief::Event::StopInput(true) => {
                self.tell(at, &Event::RigStops);
            }
            mischief::Event::Ramps(share) => {
                self.weak = share < 1.0;
                if self.excuses_weak_motors && STRENGTH * share < 1.0 {
                    self.feeble = true;
                    self.each_axis(at, Event::Moved);
                }
            }
            mischief::Event::Fault(0)
            | mischief::Event::StopInput(false)
            | mischief::Event::TelemetryPeriod(_)
            | mischief::Event::TelemetryLose(_)
            | mischief::Event::TelemetryMute(_)
            | mischief::Event::Supply(_)
            | mischief::Event::Drive(_)
            | mischief::Event::Watchdog(_)
            | mischief::Event::Encoder(_)
            | mischief::Event::Deaf(_) => {}
        }
    }

    /// Whether something has lately put an axis off from where the daemon takes it to be.
    fn is_put_off(&self, at: Time) -> bool {
        self.put_off.is_some_and(|t| at.since(t) <= FOUND_OUT)
    }

    /// Something has put an axis off from where the daemon takes it to be.
    pub fn put_off(&mut self, at: Time) {
        self.put_off = Some(at);
        self.tell(at, &Event::PutOff);
    }

    /// Frames that were told as sent do not arrive, or arrive so late.
    pub fn frames_lost(&mut self, at: Time, late: Span) {
        self.put_off(at);
        let late = laws::Nanos::from_secs(late.secs());
        self.tell(at, &Event::FramesLost { late });
    }

    /// Every axis has found its reference.
    pub fn referenced(&mut self, at: Time) {
        self.forgotten = false;
        self.found_since = self.unpowered;
        self.each_axis(at, Event::Referenced);
    }

    /// An axis was told where it stands: its position jumps, its mechanics do not.
    pub fn renumbered(&mut self, at: Time, axis: usize) {
        self.tell(at, &Event::Moved(axis));
        self.tell(at, &Event::Referenced(axis));
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
        let rests = axes.iter().all(|axis| axis.speed == 0.0);
        self.feeble &= self.weak || !rests;
        if self.feeble {
            return;
        }
        self.checker.plant(moment(at), &laws::Plant { axes });
    }

    /// Looks through what the engine told for what only it knows: which moment it chose for a
    /// profile or for what waits, that a telling was too far off, or so far that braking for an end comes late.
    /// The last two count only if an axis was pushed or the line was bad.
    pub fn outputs(&mut self, at: Time, outputs: &Outputs) {
        for notice in outputs.notices.iter() {
            match notice {
                Notice::ProfileApplied => self.take_over(at),
                Notice::Gear { group, gear } => self.shifted(at, group, gear),
                Notice::Mode(mode, on) => self.switched(at, mode, on),
                Notice::Errand(purpose, news) => self.errand_news(at, purpose, news),
                Notice::Holds { group, pad } => self.passed(at, group, pad),
                Notice::Entered(State::Withheld(Why::PadSilent)) => self.went_silent(at, |_| true),
                Notice::GroupWithheld {
                    group,
                    why: Why::PadSilent,
                } => self.went_silent(at, |own| own == usize::from(group)),
                Notice::Place { axis, place, .. } => {
                    self.mistrusted[usize::from(axis)] = place != Place::Inside;
                    self.tell_sets(at);
                    // One that is found outside stops by the stop set, as if an end had come nearer.
                    if place == Place::Outside && self.is_put_off(at) {
                        self.tell(at, &Event::NearerEnd(usize::from(axis)));
                    }
                }
                Notice::Entered(
                    State::Withheld(Why::Residual { .. })
                    | State::NoPad(Why::Residual { .. })
                    | State::NoLink(Why::Residual { .. }),
                )
                | Notice::Apart { .. }
                    if self.is_put_off(at) =>
                {
                    self.each_axis(at, Event::Residual);
                }
                Notice::GuardLate { axis, .. } if self.is_put_off(at) => {
                    self.tell(at, &Event::NearerEnd(usize::from(axis)));
                }
                _ => {}
            }
        }
        if let Some(rig) = outputs.rigs.first() {
            self.moved_by(at, &rig.axes);
            self.errand_rests(at);
            self.moving = rig.axes.map(|axis| axis.speed != 0.0);
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

/// The gear each group begins in.
fn first_gears(operator: &Operator) -> [u8; MAX_GROUPS] {
    std::array::from_fn(|group| operator.first_gear.min(gears_of(operator, group) - 1))
}

/// How many gears the best equipped axis of a group has; 1 where it has none.
fn gears_of(operator: &Operator, group: usize) -> u8 {
    let hands = operator.hands.iter();
    let own = hands.filter(|hand| usize::from(hand.group) == group);
    own.map(|hand| hand.gears.count()).max().unwrap_or(1)
}
