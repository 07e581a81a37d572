//! Step STOP: each axis goes steadily, somebody presses STOP on the pad, and time and way to rest are measured.

use super::super::job::Desk;
use super::super::slow::{self, Move};
use super::mover::{self, Became, Mover};
use super::record::Item;
use super::{Step, Tools, judge};
use crate::profile::enable_name;
use crate::shell::probe::{Commanded, Turn};
use stillhand_engine::errand::{ErrandNews, press_for};
use stillhand_engine::input::{Order, StopSource};
use stillhand_engine::output::State;
use stillhand_engine::rig::Rig;
use stillhand_engine::time::{Span, Time};

/// An axis goes for so long at the most, and at least so long, in s: time to press.
const MOST_S: f64 = 12.0;
const LEAST_S: f64 = 3.0;
/// How often one that was not stopped is moved again.
const TRIES: u32 = 3;
/// A stop that takes this much longer than calculated never comes to rest.
const PATIENCE: Span = Span::from_millis(5_000);

/// An axis to stop. The way is fixed only where the stop set differs from one to the other.
#[derive(Clone, Copy, Debug)]
struct Target {
    axis: usize,
    plus: Option<bool>,
}

/// A stop that is under way.
#[derive(Clone, Copy, Debug)]
struct Stopped {
    wanted: Move,
    /// The turn that took it.
    at: Time,
    /// What the turn before it commanded, and how long before, in s.
    before: Commanded,
    turn_s: f64,
}

#[derive(Clone, Copy, Debug)]
enum Phase {
    Offers,
    Moves {
        from: Time,
        wanted: Move,
    },
    Settles(Stopped),
    /// The stop has to be released.
    Releases,
}

pub(super) struct Stops {
    targets: Vec<Target>,
    at: usize,
    phase: Phase,
    tries: u32,
    mover: Mover,
}

impl Stops {
    pub(super) fn new(rig: &Rig, axes: &[usize]) -> Stops {
        let targets = axes.iter().flat_map(|axis| {
            let limits = rig.axes[*axis].limits;
            let ways = match limits.stop(1.0) == limits.stop(-1.0) {
                true => vec![None],
                false => vec![Some(true), Some(false)],
            };
            ways.into_iter().map(|plus| Target { axis: *axis, plus })
        });
        Stops {
            targets: targets.collect(),
            at: 0,
            phase: Phase::Offers,
            tries: 0,
            mover: Mover::default(),
        }
    }

    fn offers(&mut self, desk: &mut Desk<'_>, tools: &mut Tools) -> Result<(), String> {
        let Target { axis: place, plus } = self.targets[self.at];
        if let Some((says, mend)) = mover::unmoved(desk, place) {
            let name = desk.rig.axes[place].name.clone();
            self.next(tools, Item::not_shown(name, says, mend));
            return Ok(());
        }
        if !self.mover.may(desk)? {
            return Ok(());
        }
        let (axis, status) = (&desk.rig.axes[place], &desk.snapshot.axes[place]);
        let wider = slow::room(axis, status).is_none_or(|[below, above]| above >= below);
        let plus = plus.unwrap_or(wider);
        let speed = match mover::speed(axis, status, plus, LEAST_S) {
            Ok(speed) => speed,
            Err(says) => {
                let name = self.what(desk);
                self.next(tools, Item::not_shown(name, says, "then check again"));
                return Ok(());
            }
        };
        let drives_s = mover::lasts(axis, status, plus, speed, MOST_S);
        let press = press_for(desk.operator).ok_or_else(|| slow::no_press(desk.operator))?;
        let (name, unit) = (axis.name.clone(), axis.unit.symbol());
        desk.warn(format!(
            "{name} will go {} at {speed:.1} {unit}/s for {drives_s:.0} s at the most: hold {}, and press {} (STOP) \
             once it goes steadily",
            mover::way(plus),
            enable_name(press),
            desk.operator.bindings.stop().name()
        ));
        let wanted = Move {
            axis: place,
            plus,
            speed,
            drives_s,
        };
        self.mover.offer(desk, wanted)?;
        let from = desk.now;
        self.phase = Phase::Moves { from, wanted };
        Ok(())
    }

    fn moves(&mut self, desk: &mut Desk<'_>, tools: &mut Tools, from: Time, wanted: Move) {
        let by_pad = |turn: &Turn| matches!(turn.state, State::Stopped(StopSource::Pad(_)));
        if let Some((before, stopped)) = tools.trace.first(from, by_pad) {
            if before.axes[wanted.axis].speed.abs() < wanted.speed / 2.0 {
                // Not begun, it would still wait for its press.
                desk.offering.order(Order::CallOff);
                self.again(desk, tools, "STOP was pressed before it went steadily");
                return;
            }
            self.phase = Phase::Settles(Stopped {
                wanted,
                at: stopped.at,
                before: before.axes[wanted.axis],
                turn_s: stopped.at.since(before.at).secs(),
            });
            return;
        }
        let state = desk.snapshot.status.state;
        match self.mover.over() {
            None => {}
            Some(Became::LetGo) => self.phase = Phase::Offers,
            Some(Became::Done | Became::AtEnd) => self.again(desk, tools, "STOP was not pressed"),
            Some(Became::Withheld) => match state {
                // The turn itself is seen with the next look.
                State::Stopped(StopSource::Pad(_)) => {}
                State::Stopped(StopSource::Command) => {
                    self.again(desk, tools, "the stop came by a command, not by the pad");
                }
                _ => {
                    let what = self.what(desk);
                    let says = mover::withheld(state);
                    self.next(tools, Item::fail(what, says, "mend that, then check again"));
                }
            },
            Some(Became::Refused(why)) => {
                let what = self.what(desk);
                self.next(
                    tools,
                    Item::not_shown(what, why, "mend that, then check again"),
                );
            }
        }
    }

    /// Once more, or not shown.
    fn again(&mut self, desk: &mut Desk<'_>, tools: &mut Tools, says: &str) {
        self.tries += 1;
        self.phase = Phase::Offers;
        if self.tries < TRIES {
            desk.warn(format!("{says}: once more"));
            return;
        }
        let mend = "press it on the pad while the axis moves";
        let what = self.what(desk);
        self.next(tools, Item::not_shown(what, says, mend));
    }

    fn settles(&mut self, desk: &Desk<'_>, tools: &mut Tools, stopped: Stopped) {
        let Stopped { wanted, before, .. } = stopped;
        let place = wanted.axis;
        let axis = &desk.rig.axes[place];
        let what = format!("{}, {}", axis.name, mover::way(wanted.plus));
        let Some(rest) = tools.trace.rest(place, stopped.at) else {
            let calculated = Span::from_secs_f64(before.stop_time);
            if desk.now.since(stopped.at) > Span(calculated.0 + PATIENCE.0) {
                let says = "it does not come to rest by its own telling";
                let mend = "cut motor power, and look for what moves it";
                self.next(tools, Item::fail(what, says, mend));
            }
            return;
        };
        let seen = judge::Seen {
            before,
            turn_s: stopped.turn_s,
            went: tools.trace.went(place, stopped.at, wanted.speed),
            rest,
        };
        tools.tolerance(judge::reason(&seen));
        let item = judge::stopped(&what, axis, desk.rig, &seen);
        self.next(tools, item);
    }

    fn next(&mut self, tools: &mut Tools, item: Item) {
        tools.found(item);
        self.at += 1;
        self.tries = 0;
        self.phase = match self.at < self.targets.len() {
            true => Phase::Offers,
            false => Phase::Releases,
        };
    }

    fn what(&self, desk: &Desk<'_>) -> String {
        let Target { axis, plus } = self.targets[self.at];
        let name = &desk.rig.axes[axis].name;
        plus.map_or_else(
            || name.clone(),
            |plus| format!("{name}, {}", mover::way(plus)),
        )
    }
}

impl Step for Stops {
    fn news(&mut self, news: ErrandNews) -> bool {
        self.mover.news(news)
    }

    fn look(&mut self, desk: &mut Desk<'_>, tools: &mut Tools) -> Result<bool, String> {
        match self.phase {
            Phase::Offers => self.offers(desk, tools)?,
            Phase::Moves { from, wanted } => self.moves(desk, tools, from, wanted),
            Phase::Settles(stopped) => self.settles(desk, tools, stopped),
            Phase::Releases => {
                return Ok(!matches!(desk.snapshot.status.state, State::Stopped(_)));
            }
        }
        Ok(false)
    }

    fn progress(&self, rig: &Rig) -> String {
        match self.targets.get(self.at) {
            Some(target) => format!(
                "{} of {}: {}",
                self.at + 1,
                self.targets.len(),
                rig.axes[target.axis].name
            ),
            None => "release the stop".to_owned(),
        }
    }

    fn wants_stop(&self) -> bool {
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile::{builtin, load_rig};

    #[test]
    fn an_axis_is_stopped_both_ways_where_its_stop_sets_differ() {
        let rig = load_rig(&builtin::BENCH_RIG.source()).expect("shipped").rig;
        let targets = Stops::new(&rig, &[0, 1, 2]).targets;
        let ways: Vec<(usize, Option<bool>)> = targets.iter().map(|t| (t.axis, t.plus)).collect();
        // A long lens hangs over the front of the bench rig's tilt.
        assert_eq!(
            ways,
            [(0, None), (1, Some(true)), (1, Some(false)), (2, None)]
        );
    }
}
