//! `stillhand survey run`: drives a plan while a recorder runs.

use super::super::Outcome;
use super::super::job::{Desk, Job};
use super::super::run::{self, RunArgs};
use super::{legs, read_plan, whole};
use crate::profile::enable_name;
use std::collections::VecDeque;
use std::path::PathBuf;
use stillhand_acoustics::plan::{Does, Plan, Rung, write};
use stillhand_engine::errand::{Errand, ErrandNews};
use stillhand_engine::input::Order;
use stillhand_engine::operator::MAX_GEARS;
use stillhand_engine::output::Place;
use stillhand_engine::time::{Span, Time};

/// An axis stands at its start within this, in its unit: a quick move ends a tick's way earlier or later.
const AT_START: f64 = 0.5;

/// What to drive, and how.
#[derive(Debug, clap::Args)]
pub struct DriveArgs {
    /// The plan
    #[arg(value_name = "PLAN")]
    plan: PathBuf,
    /// From this rung on, as the progress counts them. What is left is a plan of its own and goes into the file
    /// of --rest; a recording of it is read with that
    #[arg(long, value_name = "RUNG", requires = "rest")]
    from: Option<usize>,
    /// The file for what is left of the plan
    #[arg(long, value_name = "FILE", requires = "from")]
    rest: Option<PathBuf>,
    /// The plan begins so long after the axes stand at their places: time to start the recorder
    #[arg(long, value_name = "DURATION", default_value = "20s", value_parser = run::duration)]
    wait: Span,
    #[command(flatten)]
    run: RunArgs,
}

/// Drives a plan.
///
/// # Errors
/// A plan or file with problems, or a plan that does not fit the rig.
pub fn drive(args: &DriveArgs) -> Result<Outcome, Outcome> {
    let whole_plan = read_plan(&args.plan)?;
    let all = whole_plan.rungs().len();
    let first = args.from.unwrap_or(1);
    let plan = match args.from {
        None => whole_plan,
        Some(from) => whole_plan.rest(from).ok_or_else(|| {
            Outcome::bad_file(format!(
                "--from {from}: the plan's rungs are counted from 1 to {all}"
            ))
        })?,
    };
    let (file, operator) = run::files_of(&args.run)?;
    let errand = legs::of_plan(&plan, &file.rig, &operator).map_err(Outcome::bad_file)?;
    if let Some(path) = &args.rest {
        whole::write(path, write(&plan).as_bytes())?;
    }
    let name = args.rest.as_ref().unwrap_or(&args.plan);
    let job = Drive {
        calls: calls(&plan, &errand),
        rungs: plan.rungs(),
        plan,
        errand,
        counted: (first, all),
        name: name.display().to_string(),
        wait: args.wait,
        phase: Phase::Meets,
        news: None,
        leg: None,
        began: None,
        line: None,
    };
    Ok(run::run_job(&args.run, Box::new(job)))
}

/// What people are asked for while the plan runs, and when, in s of the plan.
fn calls(plan: &Plan, errand: &Errand) -> VecDeque<(f64, String)> {
    let mut calls = VecDeque::new();
    for step in &plan.steps {
        match step.does {
            Does::Room => {
                calls.push_back((step.at, "room tone: everybody silent".to_owned()));
                let first = errand.legs().first().map_or(step.at, |leg| leg.at.secs());
                let press = enable_name(errand.press());
                let left = first - step.ends();
                let text = format!(
                    "room tone is taken: switch motor power on, keep clear, then hold {press} for 0.6 s \
                     with the sticks let go, within {left:.0} s"
                );
                calls.push_back((step.ends(), text));
            }
            Does::Still => {
                let text = "standstill: motor power on, everybody silent".to_owned();
                calls.push_back((step.at, text));
            }
            Does::Mark(_) | Does::Speed(..) | Does::Ramp(..) | Does::Go(_) => {}
        }
    }
    calls
}

/// How far it is.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Phase {
    /// The rig is not met yet, or a pad is missing.
    Meets,
    /// The axes go to where the plan begins.
    GoesToStart,
    /// The recorder is being started; the plan begins then.
    Waits(Time),
    /// The plan runs since then.
    Runs(Time),
}

struct Drive {
    plan: Plan,
    rungs: Vec<Rung>,
    errand: Errand,
    /// The number of the first rung in the whole plan, and how many that has.
    counted: (usize, usize),
    /// The file with which a recording is read.
    name: String,
    calls: VecDeque<(f64, String)>,
    wait: Span,
    phase: Phase,
    /// What became of the moves, not looked at yet.
    news: Option<ErrandNews>,
    /// The leg of the plan under way.
    leg: Option<usize>,
    /// When it was looked at first.
    began: Option<Time>,
    line: Option<String>,
}

impl Job for Drive {
    fn news(&mut self, news: ErrandNews) -> bool {
        match news {
            ErrandNews::Leg(place) => {
                self.leg = matches!(self.phase, Phase::Runs(_)).then_some(usize::from(place));
                false
            }
            // Which press, and that everybody keeps clear, is told when its time has come.
            ErrandNews::Offered { .. } => !matches!(self.phase, Phase::Runs(_)),
            ErrandNews::Begun => true,
            ErrandNews::Done => {
                self.news = Some(news);
                false
            }
            ErrandNews::Ended(_) | ErrandNews::Refused(_) => {
                self.news = Some(news);
                true
            }
        }
    }

    fn look(&mut self, desk: &mut Desk<'_>) -> Option<Outcome> {
        let began = *self.began.get_or_insert(desk.now);
        match self.phase {
            Phase::Meets => self.meets(desk, began),
            Phase::GoesToStart => match self.news.take()? {
                ErrandNews::Done => {
                    self.waits(desk);
                    None
                }
                _ => Some(Outcome::fault(
                    "the axes did not come to where the plan begins: start anew",
                )),
            },
            Phase::Waits(from) => {
                if desk.now >= from {
                    // Its clock is the plan's from now on.
                    desk.offering.offer(self.errand.clone());
                    self.phase = Phase::Runs(desk.now);
                }
                None
            }
            Phase::Runs(since) => self.runs(desk, since),
        }
    }

    fn progress(&self) -> Option<String> {
        self.line.clone()
    }

    fn cut_short(&mut self) -> Outcome {
        Outcome::fault(self.broken_off())
    }
}

impl Drive {
    fn meets(&mut self, desk: &mut Desk<'_>, began: Time) -> Option<Outcome> {
        match desk.met(began) {
            Ok(true) => {}
            Ok(false) => return None,
            Err(words) => return Some(Outcome::fault(words)),
        }
        if let Some(words) = self.unreferenced(desk) {
            return Some(Outcome::fault(words));
        }
        for group in 0..desk.operator.groups.len() as u8 {
            let gear = MAX_GEARS as u8 - 1;
            desk.offering.order(Order::Gear { group, gear });
        }
        let places = desk.snapshot.axes.map(|axis| axis.position);
        match legs::to_start(&self.plan, desk.rig, desk.operator, &places, AT_START) {
            Ok(None) => self.waits(desk),
            Ok(Some(errand)) => {
                desk.tell("first the axes go to where the plan begins");
                desk.offering.offer(errand);
                self.phase = Phase::GoesToStart;
            }
            Err(words) => return Some(Outcome::fault(words)),
        }
        None
    }

    fn unreferenced(&self, desk: &Desk<'_>) -> Option<String> {
        let lost = self.plan.axes.iter().find(|own| {
            let place = desk.rig.axes.iter().position(|axis| axis.name == own.name);
            place.is_some_and(|place| desk.snapshot.axes[place].place == Place::Unreferenced)
        })?;
        Some(format!(
            "{} has no reference, so nobody knows where the plan would take it: let the rig find it first",
            lost.name
        ))
    }

    /// The recorder is to be started now.
    fn waits(&mut self, desk: &mut Desk<'_>) {
        desk.warn(format!(
            "start the recorder and switch motor power off: room tone begins in {:.0} s",
            self.wait.secs()
        ));
        self.phase = Phase::Waits(desk.now + self.wait);
    }

    fn runs(&mut self, desk: &mut Desk<'_>, since: Time) -> Option<Outcome> {
        let at = desk.now.since(since).secs();
        while let Some((_, text)) = self.calls.front().filter(|(due, _)| *due <= at) {
            desk.warn(text.clone());
            self.calls.pop_front();
        }
        let (rung, left) = (self.rung(), (self.plan.lasts() - at).max(0.0));
        let (minutes, seconds) = ((left / 60.0) as u32, left % 60.0);
        let line = format!("{}; {minutes} min {seconds:02.0} s left", self.stands(rung));
        // On a terminal the line is rewritten; in a log each rung is told of once.
        if self
            .line
            .as_ref()
            .is_none_or(|before| before.split(';').next() != line.split(';').next())
        {
            desk.tell(line.clone());
        }
        self.line = Some(line);
        match self.news.take()? {
            ErrandNews::Done => {
                desk.tell(format!(
                    "the plan is done: stop the recorder after {:.0} s, then `stillhand survey read \
                     RECORDING --plan {}`",
                    left.ceil(),
                    self.name
                ));
                Some(Outcome::good())
            }
            _ => Some(Outcome::fault(self.broken_off())),
        }
    }

    /// The place of the rung under way.
    fn rung(&self) -> Option<usize> {
        // Legs are the steps that move, in their order.
        let moving = self.plan.steps.iter().enumerate();
        let mut moving = moving.filter(|(_, step)| step.does.moving().is_some());
        let (step, _) = moving.nth(self.leg?)?;
        self.rungs
            .iter()
            .position(|rung| rung.steps.contains(&step))
    }

    fn stands(&self, rung: Option<usize>) -> String {
        let (first, all) = self.counted;
        let Some(rung) = rung else {
            return match self.leg {
                None => "before the first move".to_owned(),
                Some(_) => "the pattern".to_owned(),
            };
        };
        let own = &self.rungs[rung];
        let axis = &self.plan.axes[own.axis];
        let step = &self.plan.steps[own.steps.end - 1];
        let what = step
            .does
            .moving()
            .map_or_else(String::new, |m| match own.ramp {
                true => format!("starts at {} {}/s^2", m.accel, axis.unit.symbol()),
                false => format!("{} {}/s", m.speed, axis.unit.symbol()),
            });
        format!("rung {} of {all}: {} {what}", first + rung, axis.name)
    }

    fn broken_off(&self) -> String {
        let (first, _) = self.counted;
        match self.rung() {
            None => "the survey was broken off before the first rung".to_owned(),
            Some(rung) => format!(
                "the survey was broken off in rung {0}: `--from {0} --rest FILE` goes on there",
                first + rung
            ),
        }
    }
}
