//! The reference model of consent, loss and withheld: small enough to be read and believed, and run beside
//! the engine in every random session.
//!
//! It is written from the laws. It sees what goes in (pads, link, stop, time) and of what comes out only
//! notices and status; after every tick it says
//!
//! - which state the engine is in (not which reason it names),
//! - which pad holds which group,
//! - which axes have a control that counts: seen centred, |x| < 0.8 of its deadband, for 200 ms since
//!   motion was last withheld from it. All others count as zero, and an axis at rest stays at rest.
//!
//! Both look at sticks once a tick, so they have to agree **in the very tick**; there is no tolerance. What the
//! model cannot know is taken from the engine, and judged as far as it can be:
//!
//! | taken from the engine | judged here |
//! |---|---|
//! | that a group passes | at rest, and centred on a pad there is that may drive |
//! | that another profile is in force | what must wait for rest and centred sticks did; then all is withheld |
//! | that quiet or reduced speed goes off | all sticks were centred |
//! | that `still` is switched, another rig file is in force | all is withheld |
//! | that a rig is asked to take a reference, and has answered | at rest and let go when it was asked; until it is met again all is withheld |
//! | that a rig is not where it was sent | all is withheld |
//! | that inching began or goes on | a press of its own came on the pad that holds the group, or it was seen to go on |
//! | that an errand begins | its press was held 0.6 s on the pad that holds its axes, at rest and let go |
//! | that a stick ended an errand | it must be let go |
//! | that sustain ended by its stick, which then must be let go | it was sustained before |

use stillhand_engine::bindings::{Action, Press};
use stillhand_engine::input::{Button, Input, LinkEvent, PadEvent, PadId, StopSource};
use stillhand_engine::operate::modes::Mode;
use stillhand_engine::operator::{Hand, MAX_GROUPS, Operator, Source};
use stillhand_engine::output::{AxisStatus, Notice, Outputs, State, Why};
use stillhand_engine::rig::Rig;
use stillhand_engine::time::{Span, Time};
use stillhand_engine::{MAX_AXES, MAX_PADS};

mod agree;
mod errands;
mod holding;
mod pads;

use pads::Pad;

/// A tick that comes later than this after the one before withholds.
const LATE: Span = Span::from_millis(80);
/// A control has to be centred for so long.
const CENTRED_FOR: Span = Span::from_millis(200);
/// Centred is less than this share of the deadband.
const CENTRED_SHARE: f64 = 0.8;

/// What one tick was about.
#[derive(Clone, Copy)]
pub(super) struct Turn<'a> {
    pub now: Time,
    pub stop: Option<StopSource>,
    pub inputs: &'a [Input],
    pub rig: &'a Rig,
    /// The profile offered last, if it is not in force yet or came into force in this tick.
    pub offered: Option<&'a Operator>,
    pub outputs: &'a Outputs,
}

/// One control's consent for one axis.
#[derive(Clone, Copy, Debug, Default)]
struct Consent {
    centred_since: Option<Time>,
    counts: bool,
}

/// What one hand has: its coarse and its fine control.
type Consents = [Consent; 2];

/// The model.
#[derive(Clone, Debug)]
pub(super) struct Model {
    operator: Operator,
    pads: [Option<Pad>; MAX_PADS],
    holders: [Option<PadId>; MAX_GROUPS],
    consents: Vec<Consents>,
    linked: bool,
    /// The link was met or lost in this tick, so the rig is at rest.
    met_or_lost: bool,
    stopped: bool,
    still: bool,
    /// Motors may have less than their full current: `still` is not over.
    weak: bool,
    ending: bool,
    /// Something counted, or was inched, since all was last withheld.
    driving: bool,
    /// Every known stick was centred at some moment of this tick.
    let_go: bool,
    /// Per axis, that a press asked for inching in this tick.
    inched: [bool; MAX_AXES],
    referenced: [bool; MAX_AXES],
    errands: errands::Errands,
    last: Option<Time>,
    /// The axes as the last tick left them.
    before: [AxisStatus; MAX_AXES],
}

impl Model {
    /// Before the first tick: no link, no pads, nothing centred.
    pub fn new(operator: &Operator) -> Model {
        Model {
            operator: operator.clone(),
            pads: [const { None }; MAX_PADS],
            holders: [None; MAX_GROUPS],
            consents: vec![Consents::default(); operator.hands.len()],
            linked: false,
            met_or_lost: false,
            stopped: false,
            still: false,
            weak: false,
            ending: false,
            driving: false,
            let_go: true,
            inched: [false; MAX_AXES],
            referenced: [false; MAX_AXES],
            errands: errands::Errands::default(),
            last: None,
            before: [AxisStatus::default(); MAX_AXES],
        }
    }

    /// One tick of both: what went in, and whether the engine came to the same.
    ///
    /// # Errors
    /// Where they disagree.
    pub fn step(&mut self, turn: &Turn<'_>) -> Result<(), String> {
        let now = turn.now;
        let gap = self.last.map_or(Span::ZERO, |last| now.since(last));
        self.last = Some(now);
        self.inched = [false; MAX_AXES];
        self.met_or_lost = false;
        if turn.stop.is_some() {
            self.stop();
        }
        self.hear_modes(turn.outputs);
        self.let_go = self.all_centred();
        for input in turn.inputs {
            self.take(now, input);
        }
        self.let_go |= self.all_centred();
        self.kept_down();
        if gap > LATE {
            self.withhold_all();
        }
        self.look_for_silence(now, turn.rig);
        self.look_for_release(now);
        self.passes(turn)?;
        self.let_go |= self.all_centred();
        self.files(turn)?;
        if !turn.outputs.status.reference.is_pending() {
            self.look_at_controls(now);
        }
        self.look_at_errand(now);
        self.hear_of_errand(turn, gap)?;
        let agreed = self.agree(turn);
        self.before = turn.outputs.rigs[0].axes;
        agreed
    }

    /// Everything must be seen centred anew.
    fn withhold_all(&mut self) {
        self.consents.fill(Consents::default());
        self.driving = false;
    }

    fn stop(&mut self) {
        self.stopped = true;
        self.withhold_all();
        self.forget_release();
    }

    /// A release that is held now was not meant for what comes.
    fn forget_release(&mut self) {
        let button = self.operator.bindings.release().button();
        for pad in self.pads.iter_mut().flatten() {
            pad.use_up(button);
        }
    }

    /// `still`, and a rig that is not where it was sent: only the engine knows.
    fn hear_modes(&mut self, outputs: &Outputs) {
        for notice in outputs.notices.iter() {
            match notice {
                Notice::Mode(Mode::Still, _)
                | Notice::Entered(
                    State::Withheld(Why::Residual { .. })
                    | State::NoPad(Why::Residual { .. })
                    | State::NoLink(Why::Residual { .. }),
                )
                | Notice::Apart { .. } => self.withhold_all(),
                _ => {}
            }
        }
        self.still = outputs.status.modes.still.on();
    }

    fn take(&mut self, now: Time, input: &Input) {
        match input {
            Input::Pad(id, event) if usize::from(id.0) < MAX_PADS => self.pad(now, *id, *event),
            Input::Link(0, LinkEvent::Ready(report)) => {
                self.linked = true;
                self.weak = false;
                self.met_or_lost = true;
                self.referenced = report.axes.map(|axis| axis.referenced);
                self.withhold_all();
            }
            // The end of `still`, if that was switched off meanwhile.
            Input::Link(0, LinkEvent::FullCurrent) => {
                if std::mem::take(&mut self.weak) {
                    self.withhold_all();
                }
            }
            Input::Link(0, LinkEvent::Lost(_)) => {
                self.linked = false;
                self.weak = false;
                self.met_or_lost = true;
                self.withhold_all();
            }
            // Found its reference, or lost it.
            Input::Link(0, LinkEvent::Told(told)) => {
                if self.linked && self.referenced != told.referenced {
                    self.referenced = told.referenced;
                    self.withhold_all();
                }
            }
            Input::End => {
                self.ending = true;
                self.withhold_all();
            }
            // What comes of an order is told by notices.
            Input::Pad(..) | Input::Link(..) | Input::Order(_) => {}
        }
    }

    fn pad(&mut self, now: Time, id: PadId, event: PadEvent) {
        let place = usize::from(id.0);
        if let PadEvent::Plugged { bus, drives } = event {
            let missed_unplug = self.pads[place]
                .replace(Pad::new(now, bus, drives))
                .is_some();
            return match (missed_unplug && self.holds_any(id), drives) {
                (true, true) => self.lose(self.held_by(id)),
                (true, false) => self.gone(id),
                (false, true) => self.fill(id),
                (false, false) => {}
            };
        }
        let Some(pad) = &mut self.pads[place] else {
            return;
        };
        match event {
            PadEvent::Plugged { .. } => {}
            PadEvent::Unplugged => {
                self.pads[place] = None;
                self.gone(id);
            }
            PadEvent::Moved(control, value) if value.is_finite() => {
                pad.speaks(now);
                pad.moved(control, value);
            }
            PadEvent::Moved(..) => {}
            PadEvent::Pressed(button, true) => {
                pad.speaks(now);
                if pad.pressed(now, button, &self.operator.bindings) {
                    self.edge(id, button);
                    self.goes_down(id, button);
                }
            }
            PadEvent::Pressed(button, false) => {
                pad.speaks(now);
                pad.released(button);
                self.edge(id, button);
            }
            PadEvent::Alive => pad.speaks(now),
            PadEvent::Bus(bus) => pad.bus = bus,
        }
    }

    /// A stop from any pad; a release by two buttons from one that holds something.
    fn goes_down(&mut self, id: PadId, button: Button) {
        let bindings = &self.operator.bindings;
        if button == bindings.stop() {
            return self.stop();
        }
        let Press::With { with, button: own } = bindings.release() else {
            return;
        };
        let with_down = self.known(id).is_some_and(|pad| pad.is_down(with));
        if own == button && with_down {
            self.release(id);
        }
    }

    /// A button that inches went down or up on the pad that holds the axis.
    fn edge(&mut self, id: PadId, button: Button) {
        for binding in self.operator.bindings.iter() {
            let Action::Inch { hand, .. } = binding.action else {
                continue;
            };
            let hand = self.operator.hands.get(usize::from(hand));
            if let Some(hand) = hand.filter(|_| binding.press.button() == button) {
                self.inched[usize::from(hand.axis)] |= self.holder(hand) == Some(id);
            }
        }
    }

    /// A button that inches by being held is down: its time comes without an edge.
    fn kept_down(&mut self) {
        for binding in self.operator.bindings.iter() {
            let (Action::Inch { hand, .. }, Press::Held(button)) = (binding.action, binding.press)
            else {
                continue;
            };
            let hand = self.operator.hands.get(usize::from(hand));
            let down = |hand: &Hand| {
                let pad = self.holder(hand).and_then(|id| self.known(id));
                pad.is_some_and(|pad| pad.is_down(button))
            };
            if let Some(hand) = hand.filter(|hand| down(hand)) {
                self.inched[usize::from(hand.axis)] = true;
            }
        }
    }

    fn known(&self, id: PadId) -> Option<&Pad> {
        self.pads.get(usize::from(id.0))?.as_ref()
    }

    fn holder(&self, hand: &Hand) -> Option<PadId> {
        self.holders[usize::from(hand.group)]
    }

    fn counts(&self, place: usize) -> bool {
        self.consents[place].iter().any(|consent| consent.counts)
    }

    /// A moving axis needs a pad that speaks.
    fn look_for_silence(&mut self, now: Time, rig: &Rig) {
        for id in (0..MAX_PADS as u8).map(PadId) {
            let Some(pad) = self.known(id) else {
                continue;
            };
            let too_silent = |hand: &Hand| {
                let axis = usize::from(hand.axis);
                let (unit, speed) = (rig.axes[axis].unit, self.before[axis].speed);
                let own = self.holder(hand) == Some(id);
                own && speed != 0.0 && pad.is_too_silent(now, unit, speed)
            };
            if self.operator.hands.iter().any(too_silent) {
                let driving = self.is_driving();
                self.lose(self.held_by(id));
                // What comes to rest by itself is withheld, and the pad heard again as soon as it speaks.
                if !driving {
                    continue;
                }
                if let Some(pad) = &mut self.pads[usize::from(id.0)] {
                    pad.goes_mute();
                }
            }
        }
    }

    /// A stop is released by a held press on a pad that holds something.
    fn look_for_release(&mut self, now: Time) {
        let press = self.operator.bindings.release();
        for id in (0..MAX_PADS as u8).map(PadId) {
            if self.known(id).is_some_and(|pad| pad.holds(now, press)) {
                self.release(id);
            }
        }
    }

    /// Its known sticks must be centred.
    fn release(&mut self, id: PadId) {
        if self.stopped && self.holds_any(id) && self.is_centred(id, |_| true) {
            self.stopped = false;
            self.withhold_all();
            self.forget_release();
        }
    }

    /// Whether what is known of a pad's controls of these hands is centred.
    fn is_centred(&self, id: PadId, which: impl Fn(&Hand) -> bool) -> bool {
        let Some(pad) = self.known(id) else {
            return true;
        };
        let mut hands = self.operator.hands.iter().filter(|hand| which(hand));
        hands.all(|hand| {
            sources(hand).into_iter().flatten().all(|source| {
                let out = pad.out(source, &self.operator.sticks);
                out.is_none_or(|out| is_centred(out, hand))
            })
        })
    }

    /// Every hand's controls, on the pads that hold them.
    fn all_centred(&self) -> bool {
        let mut held = self.holders.iter().flatten();
        held.all(|id| self.is_centred(*id, |hand| self.holder(hand) == Some(*id)))
    }

    /// Whether these axes are at rest, or the rig as a whole because it was just met or lost.
    fn at_rest(&self, which: impl Fn(usize) -> bool) -> bool {
        let mut axes = self.before.iter().enumerate();
        let rests = |axis: &AxisStatus| axis.speed == 0.0 && axis.accel == 0.0;
        self.met_or_lost || axes.all(|(place, axis)| rests(axis) || !which(place))
    }
}

/// The controls of a hand, coarse and fine.
fn sources(hand: &Hand) -> [Option<Source>; 2] {
    [hand.control, hand.fine.map(|fine| fine.source)]
}

fn is_centred(out: f64, hand: &Hand) -> bool {
    out < CENTRED_SHARE * hand.throw.deadband()
}
