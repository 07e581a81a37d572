//! `stillhand ready`: the daily check, step by step, and a dated record of it.

mod ends;
mod hush;
mod judge;
mod keep;
mod meet;
mod mover;
mod record;
mod stop;
mod trace;
mod ways;

use super::job::{Answers, Desk, Job};
use super::pick::pick_axes;
use super::run::{self, RunArgs};
use super::{Outcome, date, slow};
use crate::profile::RigFile;
use crate::shell::clock::Clock;
use record::{Item, Record, StepRecord, Verdict};
use std::path::PathBuf;
use stillhand_engine::errand::{ErrandEnd, ErrandNews, press_for};
use stillhand_engine::output::{AxisStatus, Mover, State};
use stillhand_engine::rig::Rig;
use stillhand_engine::time::{Span, Time};
use trace::Trace;

/// What to check.
#[derive(Debug, clap::Args)]
pub struct ReadyArgs {
    /// Only these axes; all of the rig without. The record then says that it is a part
    #[arg(long, value_name = "NAME")]
    axis: Vec<String>,
    /// Only these steps; all of them without. The record then says that it is a part
    #[arg(long, value_name = "STEP", value_delimiter = ',', value_enum)]
    only: Vec<StepName>,
    /// The folder for the record, two files named by rig and date; or off
    #[arg(long, value_name = "DIR|off", default_value = ".")]
    record: String,
    #[command(flatten)]
    run: RunArgs,
}

/// A step by its name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum StepName {
    /// STOP, measured
    Stop,
    /// Which way is which
    Directions,
    /// The ends of the travel
    Travel,
    /// The rig stops by itself when frames stop
    Watchdog,
}

impl StepName {
    const ALL: [StepName; 4] = [
        StepName::Stop,
        StepName::Directions,
        StepName::Travel,
        StepName::Watchdog,
    ];

    const fn name(self) -> &'static str {
        match self {
            StepName::Stop => "stop",
            StepName::Directions => "directions",
            StepName::Travel => "travel",
            StepName::Watchdog => "watchdog",
        }
    }

    fn step(self, file: &RigFile, axes: &[usize]) -> Box<dyn Step> {
        match self {
            StepName::Stop => Box::new(stop::Stops::new(&file.rig, axes)),
            StepName::Directions => Box::new(ways::Ways::new(file, axes)),
            StepName::Travel => Box::new(ends::Ends::new(axes)),
            StepName::Watchdog => Box::new(hush::Watchdog::new(axes)),
        }
    }
}

/// A step at work.
trait Step {
    /// Something became of its moves; whether that is told in the usual words.
    fn news(&mut self, news: ErrandNews) -> bool;

    /// Looks; whether it is over. What it finds goes to the tools.
    ///
    /// # Errors
    /// In words, why the check can't go on.
    fn look(&mut self, desk: &mut Desk<'_>, tools: &mut Tools) -> Result<bool, String>;

    /// How far it is.
    fn progress(&self, rig: &Rig) -> String;

    /// Whether a stop is part of it. In any other step it ends the check.
    fn wants_stop(&self) -> bool {
        false
    }
}

/// What steps work with, and where they leave what they found.
struct Tools {
    trace: Trace,
    answers: Answers,
    items: Vec<Item>,
    /// Why the tolerances are what they are, as it was when they were used last.
    tolerance: Option<String>,
}

impl Tools {
    /// Something was found.
    fn found(&mut self, item: Item) {
        self.items.push(item);
    }

    /// Why a tolerance is what it is.
    fn tolerance(&mut self, reason: String) {
        self.tolerance = Some(reason);
    }
}

/// Checks.
pub fn ready(args: &ReadyArgs) -> Outcome {
    prepared(args).map_or_else(
        |outcome| outcome,
        |check| run::run_job(&run::unwatched(&args.run), Box::new(check)),
    )
}

fn prepared(args: &ReadyArgs) -> Result<Check, Outcome> {
    let (file, operator) = run::files_of(&args.run)?;
    let axes = pick_axes(&args.axis, &file.rig)?;
    if press_for(&operator).is_none() {
        return Err(Outcome::bad_file(slow::no_press(&operator)));
    }
    let folder = match args.record.as_str() {
        "off" => None,
        folder => Some(keep::folder(folder)?),
    };
    let asked = |step: &StepName| args.only.is_empty() || args.only.contains(step);
    let (steps, left): (Vec<StepName>, Vec<StepName>) = StepName::ALL.into_iter().partition(asked);
    let mut left_out: Vec<String> = left.iter().map(|step| step.name().to_owned()).collect();
    let others = (0..file.rig.axes.len()).filter(|axis| !axes.contains(axis));
    left_out.extend(others.map(|axis| file.rig.axes[axis].name.clone()));
    let rig_file = run::rig_path(&args.run).map(|path| path.display().to_string());
    let now = date::moment(Clock::date());
    Ok(Check {
        tools: Tools {
            trace: Trace::of(&file.rig),
            answers: Answers::new(),
            items: Vec::new(),
            tolerance: None,
        },
        record: Record {
            program: format!("stillhand {}", env!("CARGO_PKG_VERSION")),
            version: 1,
            rig: file.rig.id.clone(),
            rig_file: rig_file.unwrap_or_else(|| "the built-in rig file".to_owned()),
            operator: operator.name.clone(),
            began: now.clone(),
            ended: now,
            verdict: Verdict::NotReady,
            left_out,
            broken_off: None,
            steps: Vec::new(),
            cautions: CAUTIONS.map(str::to_owned).to_vec(),
        },
        steps: steps
            .iter()
            .map(|step| (*step, step.step(&file, &axes)))
            .collect(),
        at: 0,
        args: args.run.clone(),
        folder,
        phase: Phase::Cautions,
        asked: None,
        ended_by: None,
        real_pad: false,
        silent: Span::ZERO,
        page: None,
    })
}

/// What is said before anything moves, and stands in the record.
const CAUTIONS: [&str; 3] = [
    "Keep people clear of the rig: it moves by itself while the press is held. Any stick, STOP or Ctrl-C ends it.",
    "Hold or balance tilted and vertical loads: they may drop when power goes.",
    "A stop in software can fail with the computer, the radio or the cable: keep a hardware switch that removes motor \
     power within reach, and try it too. This check does not.",
];

/// Ctrl-C, a signal, or the time it was given.
const ASKED_TO_END: &str = "it was asked to end";

/// Steps that only look: rig and pad.
const LOOKS: usize = 2;

#[derive(Clone, Copy, Debug, PartialEq)]
enum Phase {
    Cautions,
    /// The rig is waited for, since then.
    Meets(Time),
    Steps,
}

/// The check at work.
struct Check {
    tools: Tools,
    record: Record,
    /// What is to be done, and the place of the step under way.
    steps: Vec<(StepName, Box<dyn Step>)>,
    at: usize,
    args: RunArgs,
    folder: Option<PathBuf>,
    phase: Phase,
    /// What somebody is asked to do.
    asked: Option<String>,
    /// What a hand ended it by.
    ended_by: Option<&'static str>,
    /// Whether the pad is no script.
    real_pad: bool,
    /// The longest silence of the pad while the rig moved.
    silent: Span,
    /// What goes to stdout in the end.
    page: Option<String>,
}

impl Job for Check {
    fn news(&mut self, news: ErrandNews) -> bool {
        if news == ErrandNews::Ended(ErrandEnd::Stick) {
            self.ended_by = Some("a stick was pushed");
        }
        self.steps
            .get_mut(self.at)
            .is_none_or(|(_, step)| step.news(news))
    }

    fn look(&mut self, desk: &mut Desk<'_>) -> Option<Outcome> {
        self.tools.trace.take(desk.seen.iter().cloned());
        match self.phase {
            Phase::Cautions => {
                CAUTIONS.iter().for_each(|caution| desk.warn(*caution));
                self.phase = Phase::Meets(desk.now);
                None
            }
            Phase::Meets(since) => self.meets(desk, since),
            Phase::Steps => self.goes_on(desk),
        }
    }

    fn progress(&self) -> Option<String> {
        let all = LOOKS + self.steps.len();
        let (name, step) = match self.phase {
            Phase::Cautions | Phase::Meets(_) => return Some(format!("step 1 of {all}: rig")),
            Phase::Steps => self.steps.get(self.at)?,
        };
        let progress = step.progress(self.tools.trace.rig());
        let (number, name) = (LOOKS + self.at + 1, name.name());
        let asked = self.asked.as_ref().map(|asked| format!(". {asked}"));
        let asked = asked.unwrap_or_default();
        Some(format!("step {number} of {all}: {name}, {progress}{asked}"))
    }

    fn typed(&mut self) -> usize {
        self.tools.answers.typed()
    }

    fn cut_short(&mut self) -> Outcome {
        self.broken_off(ASKED_TO_END)
    }

    fn report(&mut self) -> Option<String> {
        self.page.take()
    }
}

impl Check {
    fn meets(&mut self, desk: &mut Desk<'_>, since: Time) -> Option<Outcome> {
        match desk.met(since) {
            Ok(false) => return None,
            Ok(true) => {}
            Err(_) => {
                self.keep("rig", vec![meet::not_met(desk)]);
                return Some(self.broken_off("the rig or the pad was not ready"));
            }
        }
        let all = LOOKS + self.steps.len();
        desk.tell(format!("step 1 of {all}: rig"));
        self.keep("rig", meet::rig(desk));
        desk.tell(format!("step 2 of {all}: pad"));
        self.real_pad = meet::holder(desk).is_some();
        let args = &self.args;
        let pad = meet::pad(desk, |id| run::trimmed_on(args, id));
        self.keep("pad", pad);
        self.tell_kept(desk, LOOKS);
        self.phase = Phase::Steps;
        self.announce(desk);
        None
    }

    fn goes_on(&mut self, desk: &mut Desk<'_>) -> Option<Outcome> {
        if desk.operator.name != self.record.operator {
            return Some(self.broken_off("another operator came into force"));
        }
        let status = &desk.snapshot.status;
        let moves = |axis: &AxisStatus| axis.mover == Mover::Errand && axis.speed != 0.0;
        if self.real_pad && desk.snapshot.axes.iter().any(moves) {
            let silent = status.groups.iter().map(|group| group.silent_for);
            self.silent = silent.fold(self.silent, Span::max);
        }
        if status.state == State::Ending {
            return Some(self.broken_off(ASKED_TO_END));
        }
        if let Some(why) = self.ended_by {
            return Some(self.broken_off(why));
        }
        let Some((_, step)) = self.steps.get_mut(self.at) else {
            return Some(self.ends());
        };
        if matches!(status.state, State::Stopped(_)) && !step.wants_stop() {
            return Some(self.broken_off("STOP was pressed"));
        }
        let before = self.tools.items.len();
        let over = step.look(desk, &mut self.tools);
        let asked = desk.lines.iter().rfind(|(warning, _)| *warning);
        if let Some((_, asked)) = asked {
            self.asked = Some(asked.clone());
        } else if self.tools.items.len() > before {
            self.asked = None;
        }
        for item in &self.tools.items[before..] {
            desk.tell(item.line());
        }
        match over {
            Ok(false) => None,
            Ok(true) => {
                self.keep_step();
                self.at += 1;
                self.announce(desk);
                None
            }
            Err(words) => Some(self.broken_off(&words)),
        }
    }

    /// Says which step begins.
    fn announce(&self, desk: &mut Desk<'_>) {
        let all = LOOKS + self.steps.len();
        if let Some((name, _)) = self.steps.get(self.at) {
            desk.tell(format!(
                "step {} of {all}: {}",
                LOOKS + self.at + 1,
                name.name()
            ));
        }
    }

    /// Tells what the last steps kept.
    fn tell_kept(&self, desk: &mut Desk<'_>, last: usize) {
        let from = self.record.steps.len().saturating_sub(last);
        for item in self.record.steps[from..]
            .iter()
            .flat_map(|step| &step.items)
        {
            desk.tell(item.line());
        }
    }

    fn keep(&mut self, step: &'static str, items: Vec<Item>) {
        self.record.steps.push(StepRecord { step, items });
    }

    /// What the step under way has found so far.
    fn keep_step(&mut self) {
        let items = std::mem::take(&mut self.tools.items);
        if let Some((name, _)) = self.steps.get(self.at) {
            self.keep(name.name(), items);
        }
    }

    fn broken_off(&mut self, why: &str) -> Outcome {
        if self.phase == Phase::Steps {
            self.keep_step();
            self.at += 1;
        }
        for (name, _) in &self.steps[self.at.min(self.steps.len())..] {
            let item = Item::not_shown("all of it", "the check ended before it", "begin anew");
            let (step, items) = (name.name(), vec![item]);
            self.record.steps.push(StepRecord { step, items });
        }
        self.record.broken_off = Some(why.to_owned());
        self.ends()
    }

    /// The verdict, and the record on the disk.
    fn ends(&mut self) -> Outcome {
        if self.silent > Span::ZERO
            && let Some(pad) = self.record.steps.iter_mut().find(|step| step.step == "pad")
        {
            pad.items.push(meet::silence(self.silent));
        }
        if let Some(reason) = self.tools.tolerance.take() {
            self.record
                .cautions
                .push(format!("Tolerances of stops: {reason}."));
        }
        self.record.ended = date::moment(Clock::date());
        self.record.judge();
        let kept = match &self.folder {
            None => Ok(Vec::new()),
            Some(folder) => keep::keep(folder, &self.record),
        };
        let text = match run::wants_json(&self.args) {
            true => self.record.json().unwrap_or_default(),
            false => self.record.text(),
        };
        let mut page = text;
        if let (Ok(paths), false) = (&kept, run::wants_json(&self.args)) {
            paths
                .iter()
                .for_each(|path| page.push_str(&format!("\nkept: {}", path.display())));
        }
        self.page = Some(page);
        match (kept, self.record.verdict) {
            (Err(outcome), _) => outcome,
            (Ok(_), Verdict::Ready | Verdict::Part) => Outcome::good(),
            (Ok(_), Verdict::NotReady) => Outcome::fault(self.record.headline()),
        }
    }
}
