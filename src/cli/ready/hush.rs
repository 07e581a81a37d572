//! Step watchdog: while an axis moves, frames are left out, and the rig has to stop by itself.

use super::super::job::Desk;
use super::super::slow::{self, Move};
use super::mover::{self, Became, Mover};
use super::record::Item;
use super::{Step, Tools, judge};
use crate::link::session::Standing;
use crate::profile::enable_name;
use crate::shell::probe::Turn;
use stillhand_engine::errand::{ErrandNews, press_for};
use stillhand_engine::motion::stopping::stop;
use stillhand_engine::output::State;
use stillhand_engine::rig::Rig;
use stillhand_engine::time::{Span, Time};
use stillhand_wire::messages::held;

/// Half of what the others go at: nobody commands the rig meanwhile.
const SHARE: f64 = 0.5;
/// An axis goes so long at the most, and is steady for so long before frames are left out.
const MOST_S: f64 = 6.0;
const STEADY: Span = Span::from_millis(450);
/// Beyond watchdog and stop, frames are left out for so long: whether it rests is told in it.
const BEYOND_S: f64 = 0.3;
/// A rig that is not met again after this long is not waited for.
const PATIENCE: Span = Span::from_millis(15_000);

#[derive(Clone, Copy, Debug)]
enum Phase {
    Offers,
    Moves {
        from: Time,
        wanted: Move,
    },
    /// Frames are left out from some turn after `from` on.
    Hushed {
        from: Time,
        wanted: Move,
    },
}

pub(super) struct Watchdog {
    axes: Vec<usize>,
    phase: Phase,
    mover: Mover,
}

impl Watchdog {
    pub(super) fn new(axes: &[usize]) -> Watchdog {
        Watchdog {
            axes: axes.to_vec(),
            phase: Phase::Offers,
            mover: Mover::default(),
        }
    }

    /// Offers the move of the first axis that can be moved. Whether the step is over.
    fn offers(&mut self, desk: &mut Desk<'_>, tools: &mut Tools) -> Result<bool, String> {
        let free = self
            .axes
            .iter()
            .find(|axis| mover::unmoved(desk, **axis).is_none());
        let Some(place) = free.copied() else {
            let says = "no axis can be moved for it";
            let mend = "see what stands of the axes above";
            tools.found(Item::not_shown("watchdog", says, mend));
            return Ok(true);
        };
        if !self.mover.may(desk)? {
            return Ok(false);
        }
        let (axis, status) = (&desk.rig.axes[place], &desk.snapshot.axes[place]);
        let plus = slow::room(axis, status).is_none_or(|[below, above]| above >= below);
        let speed = match mover::speed(axis, status, plus, MOST_S / 2.0) {
            Ok(speed) => speed * SHARE,
            Err(says) => {
                let item = Item::not_shown("watchdog", says, "then check again");
                tools.found(item);
                return Ok(true);
            }
        };
        let press = press_for(desk.operator).ok_or_else(|| slow::no_press(desk.operator))?;
        let (name, unit) = (axis.name.clone(), axis.unit.symbol());
        desk.warn(format!(
            "{name} will go {} at {speed:.1} {unit}/s; then frames are left out, and the rig must stop by itself: keep \
             clear, and keep {} held until it stops",
            mover::way(plus),
            enable_name(press)
        ));
        let wanted = Move {
            axis: place,
            plus,
            speed,
            drives_s: mover::lasts(axis, status, plus, speed, MOST_S),
        };
        self.mover.offer(desk, wanted)?;
        let from = desk.now;
        self.phase = Phase::Moves { from, wanted };
        Ok(false)
    }

    fn moves(&mut self, desk: &mut Desk<'_>, tools: &mut Tools, from: Time, wanted: Move) -> bool {
        let name = desk.rig.axes[wanted.axis].name.clone();
        match self.mover.over() {
            None => {}
            Some(Became::LetGo) => {
                self.phase = Phase::Offers;
                return false;
            }
            Some(Became::Withheld) => {
                let says = mover::withheld(desk.snapshot.status.state);
                tools.found(Item::fail(name, says, "mend that, then check again"));
                return true;
            }
            Some(Became::Refused(why)) => {
                tools.found(Item::not_shown(name, why, "mend that, then check again"));
                return true;
            }
            Some(Became::Done | Became::AtEnd) => {
                let says = "it was never steady enough to be measured";
                tools.found(Item::not_shown(name, says, "check again"));
                return true;
            }
        }
        if tools.trace.steady(wanted.axis, wanted.speed, STEADY) {
            desk.offering.hush(silence(desk.rig, wanted));
            self.phase = Phase::Hushed { from, wanted };
        }
        false
    }

    fn hushed(&mut self, desk: &Desk<'_>, tools: &mut Tools, from: Time, wanted: Move) -> bool {
        let place = wanted.axis;
        let axis = &desk.rig.axes[place];
        let Some((before, first)) = tools.trace.first(from, |turn: &Turn| turn.hushed) else {
            let over = self.mover.over().is_some() || desk.now.since(from) > PATIENCE;
            if over {
                let says = "the move was over before frames could be left out";
                tools.found(Item::not_shown(axis.name.clone(), says, "check again"));
            }
            return over;
        };
        // Only once the rig is met again is all of it known: how it stopped, and what holds afterwards.
        let met = desk.snapshot.standing == Standing::Ready;
        let rest = tools.trace.rest(place, before.at);
        let (Some(rest), true) = (rest, met) else {
            let late = desk.now.since(first.at) > PATIENCE;
            if late {
                let says = "the rig did not come to rest, or was not met again, within 15 s";
                let mend = "cut motor power, and look at the rig";
                tools.found(Item::fail(axis.name.clone(), says, mend));
            }
            return late;
        };
        let seen = judge::Seen {
            before: before.axes[place],
            turn_s: first.at.since(before.at).secs(),
            went: tools.trace.went(place, before.at, wanted.speed),
            rest,
        };
        tools.tolerance(judge::reason(&seen));
        tools.found(judge::by_watchdog(&axis.name, axis, desk.rig, &seen));
        let own = |held: u8| held & held::WATCHDOG != 0;
        let told = tools.trace.told_since(before.at).any(|one| own(one.held));
        tools.found(match told {
            true => Item::pass("the rig's word", "it told that its watchdog had stopped it"),
            false => Item::fail(
                "the rig's word",
                "it never told that its watchdog had stopped it",
                "mend its firmware: the bit WATCHDOG of `held`, as the protocol says",
            ),
        });
        tools.found(match desk.snapshot.status.state {
            State::Withheld(_) => Item::pass(
                "afterwards",
                "motion is withheld until the sticks were let go",
            ),
            // The sticks were let go meanwhile, so they are armed again: the loss was seen all the same.
            _ if lost(tools, first.at) => Item::pass(
                "afterwards",
                "motion was withheld until the sticks were let go",
            ),
            other => Item::fail(
                "afterwards",
                format!("motion is not withheld: {other:?}"),
                "don't drive with this build; it is a mistake of ours",
            ),
        });
        true
    }
}

/// Whether motion was withheld since.
fn lost(tools: &Tools, since: Time) -> bool {
    let withheld = |turn: &Turn| matches!(turn.state, State::NoLink(_) | State::Withheld(_));
    tools.trace.turns_since(since).any(withheld)
}

/// For how long frames are left out.
fn silence(rig: &Rig, wanted: Move) -> Span {
    let sign = if wanted.plus { 1.0 } else { -1.0 };
    let own = stop(wanted.speed, 0.0, rig.axes[wanted.axis].limits.stop(sign));
    Span::from_secs_f64(rig.watchdog.secs() + rig.delay.secs() + own.time + BEYOND_S)
}

impl Step for Watchdog {
    fn news(&mut self, news: ErrandNews) -> bool {
        self.mover.news(news)
    }

    fn look(&mut self, desk: &mut Desk<'_>, tools: &mut Tools) -> Result<bool, String> {
        match self.phase {
            Phase::Offers => self.offers(desk, tools),
            Phase::Moves { from, wanted } => Ok(self.moves(desk, tools, from, wanted)),
            Phase::Hushed { from, wanted } => Ok(self.hushed(desk, tools, from, wanted)),
        }
    }

    fn progress(&self, _: &Rig) -> String {
        match self.phase {
            Phase::Offers | Phase::Moves { .. } => "an axis moves".to_owned(),
            Phase::Hushed { .. } => "frames are left out".to_owned(),
        }
    }
}
