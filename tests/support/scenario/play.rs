//! Plays a scenario.

use super::cover::{Cover, Given, Row};
use super::expect::View;
use super::presses::Presses;
use super::timeline::Timeline;
use super::{Scenario, Step, What};
use std::collections::BTreeSet;
use stillhand::cli::words::About;
use stillhand::shell::pad::player::Player;
use stillhand::soak::world::World;
use stillhand_engine::input::{PadEvent, PadId};
use stillhand_engine::operator::Operator;
use stillhand_engine::output::Notice;
use stillhand_engine::rig::Rig;
use stillhand_engine::time::{Span, Time};

/// A rig that is not ready by then never will be.
const PATIENCE: Span = Span::from_millis(10_000);
/// The world goes on so long after the last line: a stop begun there is seen to end.
const AFTERWARDS: Span = Span::from_millis(2_000);

/// Plays it to its end, and returns the rows it expects.
///
/// # Errors
/// For people: each expectation that was not met, with its line, and the timeline around the first;
/// or the first breach of a law.
pub fn play(scenario: &Scenario) -> Result<BTreeSet<Row>, String> {
    let made = if scenario.unreferenced {
        World::unreferenced
    } else {
        World::new
    };
    let world = made(&scenario.rig, &scenario.operator, scenario.options)?;
    let mut stage = Stage {
        scenario,
        world,
        zero: Time(0),
        players: players(scenario),
        done: 0,
        mischief_done: 0,
        checked: 0,
        late: None,
        timeline: Timeline::default(),
        notices: Vec::new(),
        seen: 0,
        in_force: (&scenario.rig, &scenario.operator),
        offered: (&scenario.rig, &scenario.operator),
        presses: Presses::of(&scenario.operator),
        cover: Cover::default(),
        failures: Vec::new(),
    };
    stage.meet()?;
    let end = Span(scenario.length.0 + AFTERWARDS.0);
    while stage.since_zero() < end {
        stage.turn();
        if stage.world.checker().total() > 0 {
            break;
        }
    }
    stage.verdict()
}

fn players(scenario: &Scenario) -> Vec<(PadId, Player)> {
    let pads = scenario.pads.iter().enumerate();
    pads.filter_map(|(place, pad)| {
        let script = pad.script.clone()?;
        Some((PadId(place as u8), Player::new(script, pad.drives)))
    })
    .collect()
}

struct Stage<'a> {
    scenario: &'a Scenario,
    world: World,
    /// When the rig was ready.
    zero: Time,
    players: Vec<(PadId, Player)>,
    /// How many steps were taken, expectations among them, ...
    done: usize,
    mischief_done: usize,
    /// ... and how many were held against the world.
    checked: usize,
    late: Option<Span>,
    timeline: Timeline,
    notices: Vec<Given>,
    seen: usize,
    /// The files in force, and those handed over last.
    in_force: (&'a Rig, &'a Operator),
    offered: (&'a Rig, &'a Operator),
    presses: Presses,
    cover: Cover,
    failures: Vec<(Span, String)>,
}

impl Stage<'_> {
    fn since_zero(&self) -> Span {
        self.world.now().since(self.zero)
    }

    fn meet(&mut self) -> Result<(), String> {
        if self.scenario.unplugged {
            self.world.pull_cable();
            return Ok(());
        }
        while !self.world.ready() {
            self.world.tick();
            self.hear();
            if self.world.now() > Time(0) + PATIENCE {
                let standing = self.world.standing();
                return Err(format!(
                    "{}: the rig is never ready: {standing:?}",
                    self.scenario.name
                ));
            }
        }
        self.zero = self.world.now();
        Ok(())
    }

    fn turn(&mut self) {
        self.happen();
        let pause = self.late.take().unwrap_or(self.scenario.options.period);
        let next = (self.world.now() + pause).since(self.zero);
        self.play_pads(next);
        self.world.tick_after(pause);
        self.hear();
        self.timeline.look(self.since_zero(), &self.world);
        self.check();
    }

    /// Everything but the pads: what is due by now.
    fn happen(&mut self) {
        let now = self.since_zero();
        while let Some((at, event)) = self.scenario.mischief.get(self.mischief_done)
            && *at <= now
        {
            self.mischief_done += 1;
            self.timeline.note(now, format!("rig: {event:?}"));
            self.world.mischief(*event);
        }
        while let Some(step) = self.scenario.steps.get(self.done)
            && step.at <= now
        {
            self.done += 1;
            match step.what {
                What::Late(pause) => self.late = Some(pause),
                What::Cable(true) => self.world.plug_cable(),
                What::Cable(false) => self.world.pull_cable(),
                What::Stuck(stuck) => self.world.clog_port(stuck),
                What::Hush(span) => self.world.hush(span),
                What::Use(place) => {
                    self.offered.1 = &self.scenario.operators[place];
                    self.world.offer(self.offered.1);
                }
                What::UseRig(place) => {
                    self.offered.0 = &self.scenario.rigs[place];
                    self.world.offer_rig(self.offered.0);
                }
                What::Order(order) => self.world.order(order),
                What::Errand(ref errand) => self.world.errand(errand.clone()),
                What::Stop => self.world.command_stop(),
                What::End => self.world.end(),
                What::Expect(_) => continue,
            }
            self.timeline.note(now, self.line(step));
        }
    }

    fn play_pads(&mut self, until: Span) {
        let mut due = Vec::new();
        for (place, (pad, player)) in self.players.iter_mut().enumerate() {
            while let Some((at, event)) = player.due(until) {
                due.push((at, place, *pad, event));
            }
        }
        due.sort_by_key(|(at, place, ..)| (*at, *place));
        for (at, _, pad, event) in due {
            let event = match event {
                PadEvent::Plugged { drives, .. } => PadEvent::Plugged {
                    bus: self.scenario.pads[usize::from(pad.0)].bus,
                    drives,
                },
                other => other,
            };
            self.timeline
                .note(at, format!("pad {}: {event:?}", pad.0 + 1));
            self.presses.pad(self.zero + at, pad.0, event);
            self.world.pad(pad, event);
        }
    }

    fn hear(&mut self) {
        let now = self.since_zero();
        let outputs = self.world.outputs();
        self.cover.tick(outputs);
        for notice in outputs.notices.iter() {
            match notice {
                Notice::ProfileApplied => {
                    self.in_force.1 = self.offered.1;
                    self.presses.go_by(self.offered.1);
                }
                Notice::RigApplied(_) => self.in_force.0 = self.offered.0,
                _ => {}
            }
            let presses = self.presses.behind(self.world.now(), notice);
            let given = Given::new(notice, &about(self.in_force), presses);
            self.timeline.note(now, format!("told: {}", given.text));
            self.cover.given(&given);
            self.notices.push(given);
        }
        self.presses.tick(&outputs.status);
    }

    /// Holds the expectations of this moment against the world.
    fn check(&mut self) {
        let now = self.since_zero();
        while let Some(step) = self.scenario.steps.get(self.checked)
            && step.at <= now
        {
            self.checked += 1;
            let What::Expect(expect) = &step.what else {
                continue;
            };
            let mut view = View {
                about: about(self.in_force),
                world: &self.world,
                notices: &self.notices,
                seen: &mut self.seen,
                presses: &self.presses,
                cover: &mut self.cover,
            };
            if let Err(found) = expect.check(&mut view) {
                let name = &self.scenario.name;
                let failure = format!(
                    "{name}:{}: expected: {}\n  found: {found}",
                    step.line,
                    self.line(step)
                );
                self.failures.push((now, failure));
            }
        }
    }

    fn line(&self, step: &Step) -> String {
        let line = &self.scenario.text[step.line - 1];
        line.trim().to_owned()
    }

    fn verdict(mut self) -> Result<BTreeSet<Row>, String> {
        let now = self.since_zero();
        let laws = self.world.verdict();
        let mut text = String::new();
        for (_, failure) in &self.failures {
            text += failure;
            text.push('\n');
        }
        if let Err(breaches) = laws {
            let name = &self.scenario.name;
            let zero = self.zero.0 as f64 / 1e9;
            text += &format!("{name}: laws broken (time zero is {zero:.3} s there):\n{breaches}");
        }
        if text.is_empty() {
            return Ok(self.cover.rows);
        }
        let first = self.failures.first().map_or(now, |(at, _)| *at);
        Err(format!("{text}around it:\n{}", self.timeline.around(first)))
    }
}

/// What the words are about.
fn about<'a>((rig, operator): (&'a Rig, &'a Operator)) -> About<'a> {
    About {
        rig,
        operator,
        script: None,
    }
}
