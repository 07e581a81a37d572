//! A world that is played in, and what it is held against in every turn.

use super::act::{Act, Scene};
use super::kept::Kept;
use super::meant::Meant;
use super::model::{Model, Turn};
use super::seen::Seen;
use super::tell::Tell;
use super::tips::Tips;
use crate::soak::world::World;
use std::fmt;
use stillhand_engine::errand::Leg;
use stillhand_engine::operator::Operator;
use stillhand_engine::output::{Notice, Outputs};
use stillhand_engine::rig::Rig;
use stillhand_engine::time::{Span, Time};

/// What was broken first.
#[derive(Clone, Debug, PartialEq)]
pub struct Breach {
    /// The law's name, or what of the hands' own rules was broken.
    pub law: String,
    /// When it was seen.
    pub at: Time,
    /// All that was found, one a line.
    pub words: String,
}

impl fmt::Display for Breach {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.words.trim_end())
    }
}

/// A world, and its judges.
pub struct Stage {
    world: World,
    rig: Rig,
    operator: Operator,
    /// The profile that was offered, until it is in force.
    offered: Option<Operator>,
    /// The legs of the errand offered last.
    legs: Vec<Leg>,
    /// The file of the rig that was offered, until it is in force.
    next_rig: Option<Rig>,
    period: Span,
    meant: Meant,
    model: Model,
    tips: Tips,
    kept: Kept,
    seen: Seen,
    tell: Tell,
}

impl Stage {
    /// The world of a scene, in which nothing was done yet.
    ///
    /// # Errors
    /// In words, if rig and operator do not fit.
    pub fn new(scene: &Scene) -> Result<Stage, String> {
        let Scene { rig, operator, .. } = scene;
        Ok(Stage {
            world: World::new(rig, operator, scene.options)?,
            rig: rig.clone(),
            operator: operator.clone(),
            offered: None,
            legs: Vec::new(),
            next_rig: None,
            period: scene.options.period,
            meant: Meant::new(scene.options.period),
            model: Model::new(operator),
            tips: Tips::default(),
            kept: Kept::default(),
            seen: Seen::default(),
            tell: Tell::from_env(),
        })
    }

    /// What the last turn produced.
    pub fn outputs(&self) -> &Outputs {
        self.world.outputs()
    }

    /// Virtual time.
    pub fn now(&self) -> Time {
        self.world.now()
    }

    /// The rig, by the file in force.
    pub fn rig(&self) -> &Rig {
        &self.rig
    }

    /// Another file of the rig was offered and is not in force yet.
    pub fn rig_waits(&self) -> bool {
        self.next_rig.is_some()
    }

    /// The profile in force.
    pub fn operator(&self) -> &Operator {
        &self.operator
    }

    /// Another profile was offered and is not in force yet.
    pub fn waits(&self) -> bool {
        self.offered.is_some()
    }

    /// Does what is to be done before the coming turn, then takes that turn after `pause`.
    ///
    /// # Errors
    /// What is broken, as soon as something is.
    pub fn turn(&mut self, acts: &[Act], pause: Span) -> Result<(), Breach> {
        let soon = self.world.now() + pause;
        for act in acts {
            self.act(soon, act);
        }
        if pause != self.period {
            self.seen.faults("late_turn", 1);
        }
        let before = self.world.outputs().status.state;
        self.world.tick_after(pause);
        if let Some((fault, count)) = self.world.wronged() {
            self.seen.faults(fault, count);
        }
        let now = self.world.now();
        let outputs = self.world.outputs();
        let applied = outputs.notices.iter().any(|n| n == Notice::ProfileApplied);
        self.tell.tick(now, outputs, self.rig.axes.len());
        self.seen.look(outputs);
        let rig_applied = |n| matches!(n, Notice::RigApplied(_));
        if outputs.notices.iter().any(rig_applied)
            && let Some(rig) = self.next_rig.take()
        {
            self.rig = rig;
        }
        let (stop, inputs) = self.world.went_in();
        let turn = Turn {
            now,
            stop,
            inputs,
            rig: self.world.rig(),
            offered: self.offered.as_ref(),
            outputs,
        };
        let agreed = self.model.step(&turn);
        let next = self.offered.take_if(|_| applied);
        let operator = next.as_ref().unwrap_or(&self.operator);
        let rules = [
            (
                "model",
                agreed.map_err(|words| format!("reference model: {words}")),
            ),
            ("kept", self.kept.judge(outputs)),
            ("current", self.weak()),
            (
                "tips",
                self.tips
                    .judge(now, &self.rig, (operator, &self.legs), outputs),
            ),
            // What was pressed was pressed under the profile before.
            (
                "meant",
                self.meant.judge(now, before, outputs, &self.operator),
            ),
        ];
        for (law, judged) in rules {
            judged.map_err(|words| broken(law, now, words))?;
        }
        if let Some(operator) = next {
            self.operator = operator;
        }
        self.judged()
    }

    fn act(&mut self, soon: Time, act: &Act) {
        if let Some(fault) = act.fault() {
            self.seen.faults(fault, 1);
        }
        match act {
            Act::Turns(_) | Act::Late(_) => {}
            Act::Pad(pad, event) => {
                self.tell.done(soon, (pad, event));
                self.meant.event(soon, *pad, *event, &self.operator);
                self.kept.event(*pad, *event);
                self.world.pad(*pad, *event);
            }
            Act::Stop => {
                self.tell.done(soon, "stop by command");
                self.meant.stopped(&self.operator);
                self.world.command_stop();
            }
            Act::Order(order) => {
                self.tell.done(soon, order);
                self.meant.ordered(soon, *order);
                self.world.order(*order);
            }
            Act::Errand(errand) => {
                self.tell.done(soon, errand);
                self.legs = errand.legs().to_vec();
                self.model.offered(errand);
                self.world.errand((**errand).clone());
            }
            Act::Profile(operator) => {
                self.tell.done(soon, "another profile");
                self.world.offer(operator);
                self.offered = Some((**operator).clone());
            }
            Act::RigFile(rig) => {
                self.tell.done(soon, "another rig file");
                self.world.offer_rig(rig);
                self.next_rig = Some((**rig).clone());
            }
            Act::Rig(event) => {
                self.tell.done(soon, event);
                self.world.mischief(*event);
            }
            Act::Noise(noise) => {
                self.tell.done(soon, noise);
                self.world.noise(*noise);
            }
            Act::Cable(in_place) => {
                self.tell.done(soon, act);
                match in_place {
                    true => self.world.plug_cable(),
                    false => self.world.pull_cable(),
                }
            }
            Act::Clog(clogged) => {
                self.tell.done(soon, act);
                self.world.clog_port(*clogged);
            }
            Act::Hush(span) => {
                self.tell.done(soon, act);
                self.world.hush(*span);
            }
        }
    }

    /// Nothing is told to move while a motor holds with less than its full current. What coasts because its
    /// motors are too weak for their own ramps is no rig's to know.
    fn weak(&self) -> Result<(), String> {
        let world = &self.world;
        let weak = (0..world.rig().axes.len()).find(|axis| world.is_lowered(*axis));
        let told = world.speeds().iter().any(|speed| *speed != 0.0);
        match weak {
            Some(axis) if told => Err(format!(
                "axis {axis} holds with less current while something moves"
            )),
            Some(_) | None => Ok(()),
        }
    }

    /// What the checker has found so far.
    fn judged(&mut self) -> Result<(), Breach> {
        match self.world.checker().breaches().first() {
            None => Ok(()),
            Some(first) => {
                let law = first.law.name();
                let at = Time(first.at.0.unsigned_abs());
                let words = self.world.verdict().err().unwrap_or_default();
                Err(broken(law, at, words))
            }
        }
    }

    /// Closes the books.
    ///
    /// # Errors
    /// What was broken and could only be known now.
    pub fn end(mut self) -> Result<Seen, Breach> {
        // Its words are those of the breaches, which are looked at next.
        let _ = self.world.verdict();
        self.judged()?;
        self.seen.meant = self.meant.done;
        self.seen.tips = self.tips.judged;
        Ok(self.seen)
    }
}

fn broken(law: &str, at: Time, words: String) -> Breach {
    let words = match words.starts_with("law ") {
        true => words,
        false => format!("{:.3} s: {words}\n", at.since(Time(0)).secs()),
    };
    Breach {
        law: law.to_owned(),
        at,
        words,
    }
}

/// What came of a scene, and the scene as far as it was played.
#[derive(Debug)]
pub struct Replayed {
    /// What it saw, or what broke.
    pub result: Result<Seen, Breach>,
    /// All that was done up to there.
    pub played: Scene,
}

/// Plays a scene again.
///
/// # Errors
/// What was broken first; a scene whose rig and operator do not fit breaks `scene`.
pub fn replay(scene: &Scene) -> Result<Seen, Breach> {
    replay_to(scene).result
}

/// Plays a scene again, and says how far it came.
pub fn replay_to(scene: &Scene) -> Replayed {
    let mut stage = match Stage::new(scene) {
        Ok(stage) => stage,
        Err(words) => {
            return Replayed {
                result: Err(broken("scene", Time(0), words)),
                played: scene.clone(),
            };
        }
    };
    let mut before = 0;
    for (place, act) in scene.acts.iter().enumerate() {
        let (turns, pause) = match act {
            Act::Turns(turns) => (*turns, scene.options.period),
            Act::Late(pause) => (1, *pause),
            _ => continue,
        };
        for turn in 0..turns {
            let acts = match turn {
                0 => &scene.acts[before..place],
                _ => &[],
            };
            if let Err(breach) = stage.turn(acts, pause) {
                let mut played = scene.clone();
                played.acts.truncate(place + 1);
                if let Some(Act::Turns(turns)) = played.acts.last_mut() {
                    *turns = turn + 1;
                }
                return Replayed {
                    result: Err(breach),
                    played,
                };
            }
        }
        before = place + 1;
    }
    Replayed {
        result: stage.end(),
        played: scene.clone(),
    }
}
