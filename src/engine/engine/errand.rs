//! Errands: taken, begun by a press that is held, driven leg by leg, and ended by almost anything.
//!
//! ```text
//!   offer ──▶ Offered ──press held, sticks let go──▶ Running ──▶ done
//!               ▲ │                                    │
//!               └─┘ anything withheld: press anew      └──▶ ended by a stick, stop, loss, still, rolling,
//!                                                           a ceiling, an end, its press let go
//! ```

use super::Engine;
use super::moving::Plan;
use crate::errand::{Errand, ErrandEnd, ErrandNews, Leg, Purpose, Refusal};
use crate::input::PadId;
use crate::motion::rig::RigMotion;
use crate::motion::sets::Sets;
use crate::operate::presses::HELD_FOR;
use crate::operate::state::Event;
use crate::operator::{Enable, Hand};
use crate::output::{Enabled, Mover, Notice, Place, State};
use crate::time::{Span, Time};
use crate::units::Speed;
use alloc::boxed::Box;

/// A leg that lands on an end of the travel is over below this share of its speed: the last counts take long.
const LANDED: f64 = 0.02;

/// An errand that is there.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Underway {
    errand: Box<Errand>,
    doing: Doing,
}

#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
enum Doing {
    /// It waits for its press.
    Offered {
        at: Time,
        /// The press was seen let go since it was offered or motion was withheld.
        let_go: bool,
        /// Since when it is held with all sticks let go.
        since: Option<Time>,
    },
    Running {
        /// Held by this pad.
        pad: PadId,
        /// From when its times count.
        begun: Time,
        /// The place of the leg.
        leg: u16,
        phase: Phase,
    },
    /// It is over, and what this leg moved comes to rest under its sets.
    Ended { leg: u16 },
}

/// What a leg is at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
enum Phase {
    /// Its time has not come.
    Waits,
    /// Its speed is asked for, since then.
    Drives(Time),
    /// It comes to rest.
    Lands,
}

impl Underway {
    /// Whether its legs can be and its place is among them.
    pub(super) fn is_sound(&self) -> bool {
        let leg = match self.doing {
            Doing::Offered { .. } => 0,
            Doing::Running { leg, .. } | Doing::Ended { leg } => usize::from(leg),
        };
        self.errand.is_sound() && leg < self.errand.legs().len()
    }
}

impl Engine {
    /// An errand that is over or was refused, once; a turn may bring two. Whoever may free memory takes it;
    /// nobody has to.
    pub fn retired_errand(&mut self) -> Option<Box<Errand>> {
        self.retired_errands.pop()
    }

    /// Takes an errand in, to wait for its press.
    pub(super) fn offer_errand(&mut self, now: Time, errand: Box<Errand>) {
        let refusal = match self.errand {
            Some(_) => Some(Refusal::Busy),
            None => self.unfit(&errand),
        };
        if let Some(refusal) = refusal {
            self.tell_errand(errand.purpose(), ErrandNews::Refused(refusal));
            self.retired_errands.push(errand);
            return;
        }
        let news = ErrandNews::Offered {
            press: errand.press(),
            keep: errand.keep(),
        };
        self.tell_errand(errand.purpose(), news);
        self.errand = Some(Underway {
            errand,
            doing: Doing::Offered {
                at: now,
                let_go: false,
                since: None,
            },
        });
    }

    /// Why this operator can't begin an errand, whatever the moment.
    fn unfit(&self, errand: &Errand) -> Option<Refusal> {
        let hands = |leg: &Leg| self.hand_of(leg).is_some();
        if !errand.legs().iter().all(hands) {
            return Some(Refusal::NoHand);
        }
        let Enable::Button(button) = errand.press() else {
            return None;
        };
        let bound = self.operator.bindings.touch(button);
        bound.then_some(Refusal::Bound)
    }

    /// Why an errand can't begin now.
    fn refused_now(&self, errand: &Errand) -> Option<Refusal> {
        if let Some(refusal) = self.unfit(errand) {
            return Some(refusal);
        }
        if self.modes.rolling.on() {
            return Some(Refusal::Rolling);
        }
        let holder = |leg: &Leg| {
            let hand = self.hand_of(leg)?;
            self.holders.holder(self.operator.hands[hand].group)
        };
        let first = errand.legs().first().and_then(holder);
        if errand.legs().iter().any(|leg| holder(leg) != first) {
            return Some(Refusal::Groups);
        }
        let place = |leg: &Leg| self.places[usize::from(leg.rig)][usize::from(leg.axis)];
        let stands = |wanted: Place| errand.legs().iter().any(|leg| place(leg) == wanted);
        if stands(Place::Outside) {
            Some(Refusal::Outside)
        } else if errand.purpose() == Purpose::Survey && stands(Place::Unreferenced) {
            Some(Refusal::Unreferenced)
        } else {
            None
        }
    }

    /// The place of the hand that drives a leg's axis.
    fn hand_of(&self, leg: &Leg) -> Option<usize> {
        let on = |hand: &Hand| (hand.rig, hand.axis) == (leg.rig, leg.axis);
        self.operator.hands.iter().position(on)
    }

    /// Looks after the errand, if there is one.
    pub(super) fn watch_errand(&mut self, now: Time) {
        match self.errand.as_ref().map(|underway| underway.doing) {
            None => {}
            Some(Doing::Offered { at, let_go, since }) => {
                self.watch_offer(now, at, (let_go, since))
            }
            Some(Doing::Running { .. }) => {
                if let Some(why) = self.ends_errand() {
                    self.end_errand(why);
                } else {
                    self.drive_errand(now);
                }
            }
            Some(Doing::Ended { .. }) if self.rigs.iter().all(RigMotion::at_rest) => {
                self.retire_errand();
            }
            Some(Doing::Ended { .. }) => {}
        }
    }

    /// Its press must be seen let go, and then held with all sticks let go and everything at rest.
    fn watch_offer(&mut self, now: Time, at: Time, (let_go, since): (bool, Option<Time>)) {
        let Some(Underway { errand, .. }) = &self.errand else {
            return;
        };
        let late = |leg: &Leg| errand.from_offer() && now.since(at) > leg.at;
        if errand.legs().first().is_some_and(late) {
            return self.refuse_errand(Refusal::TooLate);
        }
        let Some(first) = errand.legs().first().and_then(|leg| self.hand_of(leg)) else {
            // Another profile drives it no more.
            return self.refuse_errand(Refusal::NoHand);
        };
        let pad = self.holders.holder(self.operator.hands[first].group);
        let known = pad.and_then(|pad| self.pads.get(pad));
        let down = known.is_some_and(|pad| pad.enables(errand.press()));
        // A pad that is silent, or gone, has let nothing go.
        let up = !down && known.is_some_and(|pad| !pad.is_mute());
        let idle = |hand: &crate::operate::hand::HandState| {
            hand.sustain.is_none() && !hand.inching.active()
        };
        let may = matches!(self.state, State::Driving | State::Withheld(_))
            && self.at_rest_and_centred()
            && self.hands.iter().all(idle);
        let since = (down && let_go && may).then(|| since.unwrap_or(now));
        let let_go = let_go || up;
        if since.is_some_and(|since| now.since(since) >= HELD_FOR) {
            if let Some(refusal) = self.refused_now(errand) {
                return self.refuse_errand(refusal);
            }
            let begun = if errand.from_offer() { at } else { now };
            let purpose = errand.purpose();
            self.happen(Event::Armed);
            self.tell_errand(purpose, ErrandNews::Begun);
            self.errand_does(Doing::Running {
                pad: pad.unwrap_or(PadId(0)),
                begun,
                leg: 0,
                phase: Phase::Waits,
            });
        } else {
            self.errand_does(Doing::Offered { at, let_go, since });
        }
    }

    /// What ends an errand that runs, if anything does.
    fn ends_errand(&self) -> Option<ErrandEnd> {
        let Underway { errand, doing } = self.errand.as_ref()?;
        let Doing::Running {
            pad, leg, phase, ..
        } = *doing
        else {
            return None;
        };
        if (0..self.hands.len()).any(|place| self.pushed(place)) {
            return Some(ErrandEnd::Stick);
        }
        if self.modes.rolling.on() {
            return Some(ErrandEnd::Rolling);
        }
        let held = || {
            let pad = self.pads.get(pad);
            pad.is_some_and(|pad| pad.enables(errand.press()))
        };
        if errand.keep() && !held() {
            return Some(ErrandEnd::LetGo);
        }
        let leg = errand.legs().get(usize::from(leg))?;
        let (rig, axis) = (usize::from(leg.rig), usize::from(leg.axis));
        let hand = self.hand_of(leg)?;
        match self.enabled(rig, axis, Some(&self.operator.hands[hand])) {
            Enabled::NotNeeded | Enabled::Held => {}
            Enabled::Wanted | Enabled::Unbound => return Some(ErrandEnd::LetGo),
        }
        let driven = &self.rigs[rig].axes()[axis];
        let full = self.full(rig, axis, Some(hand)).speed.lower(driven.link);
        if matches!(phase, Phase::Waits | Phase::Drives(_)) && leg.speed.0 > full.0 {
            return Some(ErrandEnd::Ceiling);
        }
        let measures = errand.purpose() == Purpose::Survey;
        if measures && phase != Phase::Lands && self.leg_speed(leg, hand) != leg.speed {
            return Some(ErrandEnd::Band);
        }
        let outside = self.places[rig][axis] == Place::Outside;
        // The guard lands it on the end first.
        let at_end = matches!(phase, Phase::Drives(_))
            && driven.motion.at_end()
            && driven.motion.motion().v.abs() < LANDED * leg.speed.0;
        (outside || at_end).then_some(ErrandEnd::Travel)
    }

    /// From phase to phase and from leg to leg.
    fn drive_errand(&mut self, now: Time) {
        let Some(Underway { errand, doing }) = &self.errand else {
            return;
        };
        let Doing::Running {
            pad,
            begun,
            leg: place,
            phase,
        } = *doing
        else {
            return;
        };
        let (purpose, count) = (errand.purpose(), errand.legs().len());
        let Some(leg) = errand.legs().get(usize::from(place)).copied() else {
            return;
        };
        let runs = |leg: u16, phase: Phase| Doing::Running {
            pad,
            begun,
            leg,
            phase,
        };
        let at_rest = self.rigs.iter().all(RigMotion::at_rest);
        match phase {
            Phase::Waits if now.since(begun) >= leg.at && at_rest => {
                self.tell_errand(purpose, ErrandNews::Leg(place));
                self.errand_does(runs(place, Phase::Drives(now)));
            }
            Phase::Drives(since) if now.since(since) >= self.leg_lasts(&leg) => {
                self.errand_does(runs(place, Phase::Lands));
            }
            Phase::Lands if at_rest && usize::from(place) + 1 == count => {
                self.tell_errand(purpose, ErrandNews::Done);
                self.retire_errand();
            }
            Phase::Lands if at_rest => self.errand_does(runs(place + 1, Phase::Waits)),
            Phase::Waits | Phase::Drives(_) | Phase::Lands => {}
        }
    }

    /// The speed of a leg, out of the bands its axis avoids now.
    fn leg_speed(&self, leg: &Leg, hand: usize) -> Speed {
        let bands = self.operator.hands[hand].quiet;
        bands.bands(self.modes.quiet.on()).under(leg.speed)
    }

    /// How long that speed is asked for: until the leg's way is gone.
    fn leg_lasts(&self, leg: &Leg) -> Span {
        let speed = self.hand_of(leg).map(|hand| self.leg_speed(leg, hand));
        match speed {
            Some(speed) if speed < leg.speed => {
                Span::from_secs_f64(leg.drives.secs() * leg.speed.0 / speed.0)
            }
            Some(_) | None => leg.drives,
        }
    }

    /// Motion is withheld: an errand that runs ends, one that waits has to be pressed for anew.
    pub(super) fn withhold_errand(&mut self) {
        match self.errand.as_ref().map(|underway| underway.doing) {
            None => {}
            Some(Doing::Offered { at, .. }) => self.errand_does(Doing::Offered {
                at,
                let_go: false,
                since: None,
            }),
            Some(Doing::Running { .. }) => self.end_errand(ErrandEnd::Withheld),
            Some(Doing::Ended { .. }) => {}
        }
    }

    /// Ends it: what moves comes to rest under the sets of its leg.
    pub(super) fn end_errand(&mut self, why: ErrandEnd) {
        let Some(underway) = &self.errand else { return };
        let purpose = underway.errand.purpose();
        match underway.doing {
            Doing::Ended { .. } => return,
            Doing::Offered { .. } => self.retire_errand(),
            Doing::Running { leg, .. } => self.errand_does(Doing::Ended { leg }),
        }
        self.tell_errand(purpose, ErrandNews::Ended(why));
        // The stick that ended it must be let go before it drives.
        for place in 0..self.hands.len() {
            if why == ErrandEnd::Stick && self.pushed(place) {
                self.withhold_hand(place);
            }
        }
    }

    fn refuse_errand(&mut self, refusal: Refusal) {
        if let Some(underway) = &self.errand {
            let purpose = underway.errand.purpose();
            self.tell_errand(purpose, ErrandNews::Refused(refusal));
            self.retire_errand();
        }
    }

    /// Whether an errand runs or comes to rest: no press moves the rig then.
    pub(super) fn errand_runs(&self) -> bool {
        let doing = self.errand.as_ref().map(|underway| underway.doing);
        matches!(doing, Some(Doing::Running { .. } | Doing::Ended { .. }))
    }

    /// What the errand asks of an axis, if its present leg is about it.
    pub(super) fn ask_errand(&self, rig: usize, axis: usize, plan: &mut Plan) -> bool {
        let Some(Underway { errand, doing }) = &self.errand else {
            return false;
        };
        let (leg, phase) = match *doing {
            Doing::Offered { .. } => return false,
            Doing::Running { leg, phase, .. } => (leg, phase),
            Doing::Ended { leg } => (leg, Phase::Lands),
        };
        let Some(leg) = errand.legs().get(usize::from(leg)) else {
            return false;
        };
        if (usize::from(leg.rig), usize::from(leg.axis)) != (rig, axis) {
            return false;
        }
        let Some(hand) = self.hand_of(leg) else {
            return false;
        };
        let normal = self.rigs[rig].axes()[axis].facts.limits.normal();
        let quiet = self.modes.quiet.on();
        let sets = Sets::asked(leg.set, &self.operator.hands[hand], quiet, normal);
        let speed = self.leg_speed(leg, hand).0;
        let speed = match phase {
            Phase::Waits | Phase::Lands => 0.0,
            Phase::Drives(_) if leg.plus => speed,
            Phase::Drives(_) => -speed,
        };
        plan.ask(Mover::Errand, speed, sets);
        true
    }

    fn tell_errand(&mut self, purpose: Purpose, news: ErrandNews) {
        self.outputs.notices.push(Notice::Errand(purpose, news));
    }

    fn errand_does(&mut self, doing: Doing) {
        if let Some(underway) = &mut self.errand {
            underway.doing = doing;
        }
    }

    fn retire_errand(&mut self) {
        if let Some(underway) = self.errand.take() {
            self.retired_errands.push(underway.errand);
        }
    }
}
