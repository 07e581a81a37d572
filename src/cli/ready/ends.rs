//! Step travel: each axis goes to both of its ends, and must land on them and not beyond.

use super::super::job::Desk;
use super::super::slow::{self, Move};
use super::mover::{self, Became, Mover};
use super::record::Item;
use super::{Step, Tools, judge};
use crate::profile::enable_name;
use stillhand_engine::errand::{ErrandNews, press_for};
use stillhand_engine::rig::{Ends as Travelled, Rig, Travel};
use stillhand_engine::time::{Span, Time};

/// An end that is nearer than so many seconds is approached from the other one.
const NEAR_S: f64 = 1.5;
/// More than the way takes, in s.
const SPARE_S: f64 = 8.0;
/// One that does not come to rest in this time never does.
const PATIENCE: Span = Span::from_millis(5_000);

#[derive(Clone, Copy, Debug)]
enum Phase {
    /// Whether the axis may be driven that far is to be asked.
    Begins,
    Asks,
    Offers,
    Moves {
        from: Time,
        wanted: Move,
    },
    Settles {
        from: Time,
        since: Time,
        wanted: Move,
    },
}

pub(super) struct Ends {
    axes: Vec<usize>,
    at: usize,
    phase: Phase,
    /// The ends of this axis still to be met.
    left: Vec<bool>,
    mover: Mover,
}

impl Ends {
    pub(super) fn new(axes: &[usize]) -> Ends {
        Ends {
            axes: axes.to_vec(),
            at: 0,
            phase: Phase::Begins,
            left: Vec::new(),
            mover: Mover::default(),
        }
    }

    fn begins(&mut self, desk: &mut Desk<'_>, tools: &mut Tools) -> Result<(), String> {
        let place = self.axes[self.at];
        let name = desk.rig.axes[place].name.clone();
        if let Some((says, mend)) = mover::unmoved(desk, place) {
            self.next(tools, Item::not_shown(name, says, mend));
            return Ok(());
        }
        if !self.mover.may(desk)? {
            return Ok(());
        }
        let (axis, status) = (&desk.rig.axes[place], &desk.snapshot.axes[place]);
        let (Travel::Finite(ends), Some([below, above])) = (axis.travel, slow::room(axis, status))
        else {
            let says = "it goes round and round: it has no ends";
            self.next(tools, Item::told(name, says));
            return Ok(());
        };
        let speed = match mover::fastest(axis, status) {
            Ok(speed) => speed,
            Err(says) => {
                self.next(tools, Item::not_shown(name, says, "then check again"));
                return Ok(());
            }
        };
        // The nearer one first, unless that is so near that nothing would be shown.
        let plus_first = (above < below) == (above.min(below) > NEAR_S * speed);
        self.left = vec![!plus_first, plus_first];
        let first = if plus_first { above } else { below };
        let press = press_for(desk.operator).ok_or_else(|| slow::no_press(desk.operator))?;
        desk.warn(format!(
            "{name} will go to both of its ends, {} and {} {}, about {:.0} s with {} held: are people and things clear \
             of all of its way? yes, skip",
            ends.low().0,
            ends.high().0,
            axis.unit.symbol(),
            (first + below + above) / speed,
            enable_name(press)
        ));
        self.phase = Phase::Asks;
        Ok(())
    }

    fn asks(&mut self, desk: &mut Desk<'_>, tools: &mut Tools) -> Result<(), String> {
        let Some(answer) = tools.answers.next()? else {
            return Ok(());
        };
        match answer.as_str() {
            "yes" => self.phase = Phase::Offers,
            "skip" => {
                let name = desk.rig.axes[self.axes[self.at]].name.clone();
                let mend = "clear its way, and say yes";
                self.next(tools, Item::not_shown(name, "it was skipped", mend));
            }
            _ => desk.warn(format!("\"{answer}\" is no answer: yes, skip")),
        }
        Ok(())
    }

    fn offers(&mut self, desk: &mut Desk<'_>, tools: &mut Tools) -> Result<(), String> {
        let place = self.axes[self.at];
        let Some(plus) = self.left.last().copied() else {
            self.over();
            return Ok(());
        };
        if !self.mover.may(desk)? {
            return Ok(());
        }
        let (axis, status) = (&desk.rig.axes[place], &desk.snapshot.axes[place]);
        let Some(room) = slow::room(axis, status) else {
            let says = "it has lost its reference";
            let name = axis.name.clone();
            self.next(tools, Item::fail(name, says, "let the rig find it again"));
            return Ok(());
        };
        let way = room[usize::from(plus)];
        let speed = match mover::fastest(axis, status) {
            Ok(speed) => speed,
            Err(says) => {
                let name = axis.name.clone();
                self.next(tools, Item::not_shown(name, says, "then check again"));
                return Ok(());
            }
        };
        let press = press_for(desk.operator).ok_or_else(|| slow::no_press(desk.operator))?;
        desk.warn(format!(
            "{} will go to its end in {}, {:.0} s: keep clear, and keep {} held until it stops",
            axis.name,
            mover::way(plus),
            way / speed,
            enable_name(press)
        ));
        let wanted = Move {
            axis: place,
            plus,
            speed,
            drives_s: way / speed + SPARE_S,
        };
        self.mover.offer(desk, wanted)?;
        let from = desk.now;
        self.phase = Phase::Moves { from, wanted };
        Ok(())
    }

    fn moves(&mut self, desk: &Desk<'_>, tools: &mut Tools, from: Time, wanted: Move) {
        let what = self.what(desk, wanted.plus);
        match self.mover.over() {
            None => {}
            // What was let go goes on from where it is.
            Some(Became::LetGo) => self.phase = Phase::Offers,
            Some(Became::AtEnd | Became::Done) => {
                let since = desk.now;
                self.phase = Phase::Settles {
                    from,
                    since,
                    wanted,
                };
            }
            Some(Became::Withheld) => {
                let says = mover::withheld(desk.snapshot.status.state);
                self.next(tools, Item::fail(what, says, "mend that, then check again"));
            }
            Some(Became::Refused(why)) => {
                self.next(
                    tools,
                    Item::not_shown(what, why, "mend that, then check again"),
                );
            }
        }
    }

    fn settles(
        &mut self,
        desk: &Desk<'_>,
        tools: &mut Tools,
        (from, since): (Time, Time),
        wanted: Move,
    ) {
        let Move {
            axis: place,
            plus,
            speed,
            ..
        } = wanted;
        let what = self.what(desk, plus);
        let axis = &desk.rig.axes[place];
        let Some(end) = end_of(axis.travel, plus) else {
            self.over();
            return;
        };
        let Some(rest) = tools.trace.rest(place, since) else {
            if desk.now.since(since) > PATIENCE {
                let says = "it does not come to rest by its own telling";
                let mend = "cut motor power, and look for what moves it";
                self.next(tools, Item::fail(what, says, mend));
            }
            return;
        };
        let positions = tools.trace.told_since(from).map(|one| one.position[place]);
        let farthest = match plus {
            true => positions.fold(rest.position, f64::max),
            false => positions.fold(rest.position, f64::min),
        };
        let places = (farthest, rest.position);
        tools.found(judge::at_end(&what, axis, plus, end, speed, places));
        self.left.pop();
        self.phase = Phase::Offers;
    }

    fn next(&mut self, tools: &mut Tools, item: Item) {
        tools.found(item);
        self.over();
    }

    fn over(&mut self) {
        self.at += 1;
        self.phase = Phase::Begins;
    }

    fn what(&self, desk: &Desk<'_>, plus: bool) -> String {
        let name = &desk.rig.axes[self.axes[self.at]].name;
        format!("{name}, end in {}", mover::way(plus))
    }
}

fn end_of(travel: Travel, plus: bool) -> Option<f64> {
    let ends: Travelled = match travel {
        Travel::Finite(ends) => ends,
        Travel::Continuous => return None,
    };
    Some(if plus { ends.high().0 } else { ends.low().0 })
}

impl Step for Ends {
    fn news(&mut self, news: ErrandNews) -> bool {
        self.mover.news(news)
    }

    fn look(&mut self, desk: &mut Desk<'_>, tools: &mut Tools) -> Result<bool, String> {
        if self.at == self.axes.len() {
            return Ok(true);
        }
        match self.phase {
            Phase::Begins => self.begins(desk, tools)?,
            Phase::Asks => self.asks(desk, tools)?,
            Phase::Offers => self.offers(desk, tools)?,
            Phase::Moves { from, wanted } => self.moves(desk, tools, from, wanted),
            Phase::Settles {
                from,
                since,
                wanted,
            } => self.settles(desk, tools, (from, since), wanted),
        }
        Ok(self.at == self.axes.len())
    }

    fn progress(&self, rig: &Rig) -> String {
        let axis = self
            .axes
            .get(self.at)
            .map_or("", |axis| &rig.axes[*axis].name);
        format!(
            "{} of {}: {axis}",
            (self.at + 1).min(self.axes.len()),
            self.axes.len()
        )
    }
}
