//! The one entry: a tick and its inputs in, frames, notices and status out.

use crate::input::{
    Button, Input, Inputs, LATENESS_BOUND, LinkEvent, LinkLoss, PadEvent, PadId, StopSource, Tick,
};
use crate::motion::rig::{RigChange, RigMotion};
use crate::operate::consent::Consent;
use crate::operate::life::silence_bound;
use crate::operate::pads::{PadChange, Pads};
use crate::operate::state::{Event, Present, next};
use crate::operator::{Hand, Operator};
use crate::output::{AxisStatus, Notice, Notices, Outputs, RigOutput, State, Status, Why};
use crate::rig::Rig;
use crate::time::{Span, Time};
use crate::{MAX_AXES, MAX_RIGS};
use alloc::boxed::Box;
use alloc::vec::Vec;

mod change;
mod moving;

pub use change::wait_for;

/// Why an engine could not be made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EngineError {
    /// There is no rig, or more than [`MAX_RIGS`].
    Rigs(usize),
    /// The operator's hand at this place names a rig or axis there is not.
    Hand(usize),
    /// The operator's hand at this place drives an axis that another one drives.
    AxisTwice(usize),
    /// The engine's period is not between 1 and 20 ms.
    Period(Span),
}

impl core::fmt::Display for EngineError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            EngineError::Rigs(n) => write!(f, "{n} rigs given, 1 to {MAX_RIGS} are possible"),
            EngineError::Hand(n) => write!(f, "hand {n} of the operator names an axis no rig has"),
            EngineError::AxisTwice(n) => {
                write!(f, "hand {n} of the operator drives an axis already driven")
            }
            EngineError::Period(p) => {
                write!(f, "a period of {} s, 0.001 to 0.02 s is possible", p.secs())
            }
        }
    }
}

impl core::error::Error for EngineError {}

/// How long a stop's release must be held.
pub const RELEASE_HELD_FOR: Span = Span::from_millis(600);

/// The core of stillhand. See the crate's documentation.
#[derive(Clone, Debug)]
pub struct Engine {
    rigs: Vec<RigMotion>,
    operator: Box<Operator>,
    /// A profile that waits for its moment.
    waiting: Option<Box<Operator>>,
    /// A profile that is out of use, for whoever may free memory.
    retired: Option<Box<Operator>>,
    consents: Vec<Consent>,
    pads: Pads,
    state: State,
    gear: u8,
    gears: u8,
    silence_noticed: bool,
    period: Span,
    last: Option<Time>,
    outputs: Outputs,
}

impl Engine {
    /// An engine for `rigs`, driven by `operator`, stepped every `period`. Everything it will ever
    /// need is allocated here.
    ///
    /// # Errors
    /// [`EngineError`] if the operator does not fit the rigs or a number is out of range.
    pub fn new(rigs: &[Rig], operator: &Operator, period: Span) -> Result<Engine, EngineError> {
        if !(1..=MAX_RIGS).contains(&rigs.len()) {
            return Err(EngineError::Rigs(rigs.len()));
        }
        if !(Span::from_millis(1)..=Span::from_millis(20)).contains(&period) {
            return Err(EngineError::Period(period));
        }
        check_hands(operator, |rig| rigs.get(rig).map(|r| r.axes.len()))?;
        let gears = gears_of(operator);
        // Room for any profile that may come, so that taking one over allocates nothing.
        let mut consents = Vec::with_capacity(MAX_HANDS);
        consents.resize(operator.hands.len(), Consent::default());
        let idle = RigOutput {
            frame: None,
            axes: [AxisStatus::default(); MAX_AXES],
        };
        let state = State::NoLink(Why::Start);
        Ok(Engine {
            rigs: rigs.iter().map(|rig| RigMotion::new(rig, period)).collect(),
            consents,
            operator: Box::new(operator.clone()),
            waiting: None,
            retired: None,
            pads: Pads::none(),
            state,
            gear: operator.first_gear.min(gears - 1),
            gears,
            silence_noticed: false,
            period,
            last: None,
            outputs: Outputs {
                rigs: rigs.iter().map(|_| idle).collect(),
                notices: Notices::default(),
                status: Status::at_start(state),
                ended: false,
            },
        })
    }

    /// One tick: what was drained since the last one, in order. Returns what to send and tell.
    ///
    /// `tick.now` may not go backwards; a tick that is not later than the last one passes no time.
    pub fn step(&mut self, tick: Tick, inputs: Inputs<'_>) -> &Outputs {
        self.outputs.notices = Notices::default();
        let now = tick.now;
        let dt = self.last.map_or(self.period, |last| now.since(last));
        self.last = Some(now);
        for (place, rig) in self.rigs.iter_mut().enumerate() {
            rig.pass(now, dt, link_events(inputs.edges, place));
        }
        if let Some(by) = inputs.stop {
            self.happen(Event::Stop(by));
        }
        for edge in inputs.edges {
            self.take(now, edge);
        }
        if dt > LATENESS_BOUND {
            self.outputs.notices.push(Notice::Late(dt));
            self.happen(Event::Lost(Why::Late));
        }
        self.watch_silence(now);
        self.watch_release(now);
        if let Some(operator) = inputs.operator {
            self.offer(operator);
        }
        self.watch_profile();
        self.watch_consent(now);
        self.move_rigs(now, dt);
        self.report(now);
        &self.outputs
    }

    /// What the last tick produced.
    pub fn outputs(&self) -> &Outputs {
        &self.outputs
    }

    /// Lets something happen to the state machine and does what its change asks for.
    fn happen(&mut self, event: Event) {
        let present = Present {
            link: self.rigs.iter().all(RigMotion::ready),
            pad: self.pads.in_control().is_some(),
        };
        let after = next(self.state, event, present);
        let withholds = matches!(
            event,
            Event::Lost(_) | Event::Stop(_) | Event::Released | Event::End
        );
        if withholds {
            self.consents.iter_mut().for_each(Consent::withhold);
            self.rigs.iter_mut().for_each(RigMotion::stop);
        }
        if after != self.state {
            self.state = after;
            self.outputs.notices.push(Notice::Entered(after));
        }
    }

    fn take(&mut self, now: Time, input: &Input) {
        match input {
            Input::Pad(id, event) => self.take_pad(now, *id, *event),
            Input::Link(place, event) => self.take_link(*place, event),
            Input::End => self.happen(Event::End),
        }
    }

    fn take_pad(&mut self, now: Time, id: PadId, event: PadEvent) {
        let before = self.pads.in_control();
        let change = self.pads.take(now, id, event);
        let after = self.pads.in_control();
        if before != after {
            self.outputs.notices.push(Notice::PadInControl(after));
        }
        match change {
            PadChange::None => {}
            PadChange::Lost => self.happen(Event::Lost(Why::PadLost)),
            PadChange::Found => self.happen(Event::Found),
            PadChange::TooMany => self.outputs.notices.push(Notice::TooManyPads),
            PadChange::Pressed(by, button) if button == self.operator.buttons.stop => {
                self.happen(Event::Stop(StopSource::Pad(by)));
            }
            PadChange::Pressed(by, button) if Some(by) == after => self.shift(button),
            PadChange::Pressed(..) => {}
        }
    }

    fn shift(&mut self, button: Button) {
        let buttons = self.operator.buttons;
        let gear = if buttons.gear_up == Some(button) {
            (self.gear + 1).min(self.gears - 1)
        } else if buttons.gear_down == Some(button) {
            self.gear.saturating_sub(1)
        } else {
            return;
        };
        if gear != self.gear {
            self.gear = gear;
            self.outputs.notices.push(Notice::Gear(gear));
        }
    }

    fn take_link(&mut self, place: u8, event: &LinkEvent) {
        let Some(rig) = self.rigs.get_mut(usize::from(place)) else {
            return;
        };
        let unannounced = rig.ready() && matches!(event, LinkEvent::Ready(_));
        match rig.hear(event) {
            None => {}
            // A rig met anew without having been lost has started again behind our back.
            Some(RigChange::Ready) if unannounced => {
                self.happen(Event::Lost(Why::LinkLost(LinkLoss::Restarted)));
            }
            Some(RigChange::Ready) => {
                // Sticks that were pushed or centred while there was no rig mean nothing to it.
                self.consents.iter_mut().for_each(Consent::withhold);
                self.happen(Event::Found);
            }
            Some(RigChange::Lost(loss)) => self.happen(Event::Lost(Why::LinkLost(loss))),
            Some(RigChange::Residual(axis)) => {
                self.happen(Event::Lost(Why::Residual { rig: place, axis }))
            }
        }
    }

    /// The silence after which the present motion is stopped: the shortest over the moving axes.
    fn silence_bound(&self) -> Option<Span> {
        let bus = self.pads.driver()?.bus;
        let moving = self.operator.hands.iter().filter_map(|hand| {
            let v = self.axis(hand).motion.motion().v;
            (v != 0.0).then(|| silence_bound(bus, self.axis(hand).unit, v))
        });
        moving.flatten().min()
    }

    fn watch_silence(&mut self, now: Time) {
        if self.state != State::Driving {
            return;
        }
        let silent = self.pads.silent_for(now);
        let Some(bound) = self.silence_bound() else {
            return;
        };
        if silent >= bound {
            self.happen(Event::Lost(Why::PadSilent));
            if let Some(pad) = self.pads.driver_mut() {
                pad.goes_mute();
            }
        } else if silent.0 * 2 >= bound.0 {
            if !self.silence_noticed {
                self.outputs
                    .notices
                    .push(Notice::SilenceNear(Span(bound.0 - silent.0)));
            }
            self.silence_noticed = true;
            return;
        }
        self.silence_noticed = false;
    }

    fn watch_release(&mut self, now: Time) {
        if !matches!(self.state, State::Stopped(_)) {
            return;
        }
        let button = self.operator.buttons.release;
        let Some(pad) = self.pads.driver() else {
            return;
        };
        let held = pad
            .held_since(button)
            .is_some_and(|since| now.since(since) >= RELEASE_HELD_FOR);
        let centred = self.operator.hands.iter().all(|hand| {
            pad.value(hand.control)
                .is_none_or(|x| hand.throw.centred(x))
        });
        if held && centred {
            self.happen(Event::Released);
            if let Some(pad) = self.pads.driver_mut() {
                pad.consume(button);
            }
        }
    }

    fn watch_consent(&mut self, now: Time) {
        let driver = self.pads.driver();
        for (consent, hand) in self.consents.iter_mut().zip(&self.operator.hands) {
            let value = driver.and_then(|pad| pad.value(hand.control));
            consent.look(now, value.map(|x| hand.throw.centred(x)));
        }
        if self.consents.iter().any(Consent::armed) {
            self.happen(Event::Armed);
        }
    }

    fn report(&mut self, now: Time) {
        self.outputs.status = Status {
            at: now,
            state: self.state,
            pad: self.pads.in_control(),
            silent_for: self.pads.silent_for(now),
            silence_bound: self.silence_bound(),
            gear: self.gear,
        };
        let at_rest = self.rigs.iter().all(|rig| !rig.ready() || rig.at_rest());
        self.outputs.ended = self.state == State::Ending && at_rest;
    }
}

/// Most hands a profile can have: one for each axis of each rig.
const MAX_HANDS: usize = MAX_RIGS * MAX_AXES;

/// How many gears the profile's best equipped axis has.
fn gears_of(operator: &Operator) -> u8 {
    let gears = operator.hands.iter().map(|h| h.gears.count());
    gears.max().unwrap_or(1)
}

/// Whether every hand drives an axis there is, and none twice. `axes` tells how many a rig has.
fn check_hands(
    operator: &Operator,
    axes: impl Fn(usize) -> Option<usize>,
) -> Result<(), EngineError> {
    for (place, hand) in operator.hands.iter().enumerate() {
        if axes(usize::from(hand.rig)).is_none_or(|n| usize::from(hand.axis) >= n) {
            return Err(EngineError::Hand(place));
        }
        let same = |other: &Hand| (other.rig, other.axis) == (hand.rig, hand.axis);
        if operator.hands[..place].iter().any(same) {
            return Err(EngineError::AxisTwice(place));
        }
    }
    Ok(())
}

/// The events of one link, in order.
fn link_events(edges: &[Input], place: usize) -> impl Iterator<Item = LinkEvent> + Clone {
    edges.iter().filter_map(move |edge| match edge {
        Input::Link(rig, event) if usize::from(*rig) == place => Some(*event),
        Input::Link(..) | Input::Pad(..) | Input::End => None,
    })
}
