//! The one entry: a tick and its inputs in, frames, notices and status out.

use crate::current::Current;
use crate::errand::Errand;
use crate::input::{
    Input, Inputs, LATENESS_BOUND, LinkEvent, LinkLoss, PadEvent, PadId, StopSource, Tick,
};
use crate::motion::rig::{RigChange, RigMotion};
use crate::operate::hand::HandState;
use crate::operate::holders::Holders;
use crate::operate::modes::{Mode, Modes, Switch};
use crate::operate::pads::{Pad, PadChange, Pads};
use crate::operate::presses::Pressed;
use crate::operate::state::{self, Event, Present, next};
use crate::operator::{Hand, MAX_GROUPS, Operator};
use crate::output::{
    AxisStatus, GroupStatus, Notice, Notices, Outputs, Place, RigOutput, State, Status, Why,
};
use crate::reference::ReferenceStatus;
use crate::rig::Rig;
use crate::time::{Span, Time};
use crate::{MAX_AXES, MAX_RIGS};
use alloc::boxed::Box;
use alloc::vec::Vec;

mod change;
mod driven;
mod errand;
mod error;
mod moving;
mod press;
mod reference;
mod retired;
mod rig_change;
mod share;
mod sound;
mod steadying;
mod watch;

pub use change::{Edit, Now, edits, wait_for};
use errand::Underway;
pub use error::EngineError;
use error::check_hands;
use moving::Plan;
use press::Manner;
use retired::Retired;
pub use rig_change::{RigEdit, rig_edits, rig_wait_for};

/// The core of stillhand. See the crate's documentation.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Engine {
    rigs: Vec<RigMotion>,
    operator: Box<Operator>,
    /// A profile that waits for its moment.
    waiting: Option<Box<Operator>>,
    /// Profiles that are out of use, for whoever may free memory: no part of the state.
    #[cfg_attr(feature = "serde", serde(skip))]
    retired: Retired<Operator>,
    /// Rig files that wait for their moment, each at the place of its rig.
    waiting_rigs: [Option<Box<Rig>>; MAX_RIGS],
    /// Rig files that are out of use.
    #[cfg_attr(feature = "serde", serde(skip))]
    retired_rigs: Retired<Rig>,
    /// Motion that was asked for leg by leg, if any is.
    errand: Option<Underway>,
    /// Errands that are over.
    #[cfg_attr(feature = "serde", serde(skip))]
    retired_errands: Retired<Errand>,
    /// What each hand has under way, at the place of the hand.
    hands: Vec<HandState>,
    pads: Pads,
    holders: Holders,
    modes: Modes,
    /// The last reference that was asked for.
    reference: ReferenceStatus,
    state: State,
    gears: [u8; MAX_GROUPS],
    /// What each axis is to do in this tick.
    plans: Vec<[Plan; MAX_AXES]>,
    /// Where each axis stood in the last tick.
    places: Vec<[Place; MAX_AXES]>,
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
        // Room for any profile that may come, so that taking one over allocates nothing.
        let mut hands = Vec::with_capacity(MAX_HANDS);
        hands.resize(operator.hands.len(), HandState::NONE);
        let idle = RigOutput {
            frame: None,
            axes: [AxisStatus::default(); MAX_AXES],
            current: Current::Full,
        };
        let state = State::NoLink(Why::Start);
        let mut engine = Engine {
            rigs: rigs.iter().map(|rig| RigMotion::new(rig, period)).collect(),
            hands,
            operator: Box::new(operator.clone()),
            waiting: None,
            retired: Retired::NONE,
            waiting_rigs: [const { None }; MAX_RIGS],
            retired_rigs: Retired::NONE,
            errand: None,
            retired_errands: Retired::NONE,
            pads: Pads::none(),
            holders: Holders::of(operator.groups.len()),
            modes: Modes::NONE,
            reference: ReferenceStatus::NONE,
            state,
            gears: [0; MAX_GROUPS],
            plans: rigs.iter().map(|_| [Plan::default(); MAX_AXES]).collect(),
            places: rigs.iter().map(|_| [Place::Inside; MAX_AXES]).collect(),
            period,
            last: None,
            outputs: Outputs {
                rigs: rigs.iter().map(|_| idle).collect(),
                notices: Notices::default(),
                status: Status::at_start(state),
                turns: Default::default(),
                ended: false,
            },
        };
        engine.begin_with_operator();
        Ok(engine)
    }

    /// One tick: what was drained since the last one, in order. Returns what to send and tell.
    ///
    /// `tick.now` may not go backwards; a tick that is not later than the last one passes no time.
    pub fn step(&mut self, tick: Tick, inputs: Inputs<'_>) -> &Outputs {
        self.outputs.notices = Notices::default();
        self.outputs.turns = Default::default();
        let now = tick.now;
        let dt = self.last.map_or(self.period, |last| now.since(last));
        self.last = Some(now);
        for (place, rig) in self.rigs.iter_mut().enumerate() {
            let Some(left) = rig.pass(now, dt, link_events(inputs.edges, place)) else {
                continue;
            };
            for (state, hand) in self.hands.iter_mut().zip(&self.operator.hands) {
                if usize::from(hand.rig) == place {
                    state.inching.passed(left);
                }
            }
        }
        if let Some(by) = inputs.stop {
            self.stop(by);
        }
        for edge in inputs.edges {
            self.take(now, edge);
        }
        if dt > LATENESS_BOUND {
            self.outputs.notices.push(Notice::Late(dt));
            self.happen(Event::Lost(Why::Late));
        }
        self.watch(now);
        if let Some(operator) = inputs.operator {
            self.offer(operator);
        }
        if let Some((place, rig)) = inputs.rig {
            self.offer_rig(place, rig);
        }
        if let Some(errand) = inputs.errand {
            self.offer_errand(now, errand);
        }
        self.watch_profile();
        self.watch_rigs();
        self.watch_consent(now);
        self.watch_errand(now);
        self.ease_motors();
        self.steady_hands(dt);
        self.move_rigs(now, dt);
        self.report(now);
        &self.outputs
    }

    /// What the last tick produced.
    pub fn outputs(&self) -> &Outputs {
        &self.outputs
    }

    /// The gear of every group begins anew, as the profile says.
    fn begin_gears(&mut self) {
        for group in 0..MAX_GROUPS {
            let most = self.operator.gears_of(group as u8);
            self.gears[group] = self.operator.first_gear.min(most - 1);
        }
    }

    /// Gears begin anew, and quiet if the profile says so.
    fn begin_with_operator(&mut self) {
        self.begin_gears();
        if self.operator.starts_quiet && !self.modes.quiet.on() {
            self.modes.quiet = Switch::On;
            self.outputs.notices.push(Notice::Mode(Mode::Quiet, true));
        }
    }

    /// Stops everything.
    fn stop(&mut self, by: StopSource) {
        // A release that was under way belongs to what was before.
        self.forget_release();
        self.happen(Event::Stop(by));
    }

    /// Lets something happen to the whole rig: its effects, then the change of state.
    fn happen(&mut self, event: Event) {
        match event {
            Event::Lost(_) | Event::Stop(_) | Event::Released | Event::End => {
                self.withhold_all();
                self.rigs.iter_mut().for_each(RigMotion::stop);
            }
            // Nobody is in danger: the axes come to rest as if their sticks were let go.
            Event::StillOn | Event::StillOff => self.withhold_all(),
            Event::Found | Event::Armed => {}
        }
        self.enter(event);
    }

    /// Takes the change of state that an event means.
    fn enter(&mut self, event: Event) {
        let present = Present {
            link: self.rigs.iter().all(RigMotion::ready),
            pad: self.holders.first().is_some(),
            // Until every motor has its full current `still` is not over.
            still: self.modes.still.on()
                || self.rigs.iter().any(|rig| rig.current() != Current::Full),
        };
        let after = next(self.state, event, present);
        state::note(&mut self.outputs.turns, self.state, event, after);
        if after != self.state {
            self.state = after;
            self.outputs.notices.push(Notice::Entered(after));
        }
    }

    /// In `still` motors may hold with less current; with a pad gone as well, so that one which falls asleep does
    /// not make them heard.
    fn ease_motors(&mut self) {
        let still = self.modes.still.on() && matches!(self.state, State::Still | State::NoPad(_));
        self.rigs.iter_mut().for_each(|rig| rig.ease(still));
    }

    fn withhold_all(&mut self) {
        self.withhold_errand();
        for place in 0..self.hands.len() {
            self.withhold_hand(place);
        }
    }

    fn withhold_hand(&mut self, place: usize) {
        if self.hands[place].sustain.is_some() {
            let group = self.operator.hands[place].group;
            self.outputs
                .notices
                .push_once(Notice::Sustain { group, on: false });
        }
        self.hands[place].withhold();
    }

    fn take(&mut self, now: Time, input: &Input) {
        match input {
            Input::Pad(id, event) => self.take_pad(now, *id, *event),
            Input::Link(place, event) => self.take_link(*place, event),
            Input::Order(order) => self.order(*order),
            Input::End => self.happen(Event::End),
        }
    }

    fn take_pad(&mut self, now: Time, id: PadId, event: PadEvent) {
        match self.pads.take(now, id, event, &self.operator.bindings) {
            PadChange::None => {}
            PadChange::TooMany => self.outputs.notices.push(Notice::TooManyPads),
            PadChange::Gone(pad) => self.pad_gone(pad),
            PadChange::Come { pad, anew } => self.pad_comes(pad, anew),
            PadChange::Down(pad, button, pressed) => {
                if self.ends_sustain(pad, button) {
                    return;
                }
                match pressed {
                    Some(Pressed::Tap(action)) => {
                        self.act(now, pad, Some(button), action, Manner::Bare);
                    }
                    Some(Pressed::With(action)) => {
                        self.act(now, pad, Some(button), action, Manner::Meant);
                    }
                    None => {}
                }
            }
            PadChange::Tapped(pad, action) => {
                self.act(now, pad, None, action, Manner::Bare);
            }
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
                self.withhold_all();
                self.happen(Event::Found);
            }
            Some(RigChange::Lost(loss)) => {
                self.reference_without_link(place, loss);
                self.happen(Event::Lost(Why::LinkLost(loss)));
            }
            Some(RigChange::Residual(axis)) => {
                let before = self.state;
                self.happen(Event::Lost(Why::Residual { rig: place, axis }));
                if self.state == before {
                    let notices = &mut self.outputs.notices;
                    notices.push_once(Notice::Apart { rig: place, axis });
                }
            }
            Some(RigChange::Reference) => self.happen(Event::Lost(Why::Reference)),
            Some(RigChange::FullCurrent) => self.happen(Event::StillOff),
        }
        match event {
            LinkEvent::Ready(report) => self.reference_met(place, report),
            LinkEvent::NotReferenced(why) => self.reference_refused(place, *why),
            LinkEvent::Lost(_)
            | LinkEvent::Told(_)
            | LinkEvent::Unsent(_)
            | LinkEvent::SentLate(..)
            | LinkEvent::FullCurrent => {}
        }
    }

    /// The pad that holds a hand's group.
    fn pad_of(&self, hand: &Hand) -> Option<&Pad> {
        self.pads.get(self.holders.holder(hand.group)?)
    }

    /// Whether the speed trigger has not spoken yet on this pad.
    fn trigger_unheard(&self, pad: Option<PadId>) -> bool {
        let trigger = self.operator.speed_trigger;
        trigger.is_some_and(|trigger| {
            let pad = pad.and_then(|id| self.pads.get(id));
            pad.is_some_and(|pad| pad.value(trigger.control).is_none())
        })
    }

    fn report(&mut self, now: Time) {
        let mut groups = [GroupStatus::default(); MAX_GROUPS];
        for (place, group) in groups.iter_mut().enumerate().take(self.holders.count()) {
            let pad = self.holders.holder(place as u8);
            *group = GroupStatus {
                pad,
                asked: self.holders.asking(place as u8),
                silent_for: pad.map_or(Span::ZERO, |pad| self.pads.silent_for(pad, now)),
                silence_bound: pad.and_then(|pad| self.silence_bound(pad)),
                gear: self.gears[place],
                trigger_unheard: self.trigger_unheard(pad),
            };
        }
        self.outputs.status = Status {
            at: now,
            state: self.state,
            groups,
            modes: self.modes,
            reference: self.reference,
        };
        let at_rest = self.rigs.iter().all(|rig| !rig.ready() || rig.at_rest());
        self.outputs.ended = self.state == State::Ending && at_rest;
    }
}

/// Most hands a profile can have: one for each axis of each rig.
const MAX_HANDS: usize = MAX_RIGS * MAX_AXES;

/// The events of one link, in order.
fn link_events(edges: &[Input], place: usize) -> impl Iterator<Item = LinkEvent> + Clone {
    edges.iter().filter_map(move |edge| match edge {
        Input::Link(rig, event) if usize::from(*rig) == place => Some(*event),
        Input::Link(..) | Input::Pad(..) | Input::Order(_) | Input::End => None,
    })
}
