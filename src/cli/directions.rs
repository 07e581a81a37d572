//! `stillhand directions`: each axis moves a little, somebody says which way the picture went, and the rig file's
//! signs are proposed.

mod proposal;

use super::job::{Desk, Job};
use super::pick::pick_axes;
use super::run::{self, RunArgs};
use super::survey::whole;
use super::{Outcome, files};
use crate::link::session::Standing;
use crate::profile::{RigFile, enable_name};
use proposal::{Change, Looked, changes, edited};
use std::io::BufRead;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use stillhand_engine::errand::{Errand, ErrandNews, Leg, Purpose, press_for};
use stillhand_engine::input::Order;
use stillhand_engine::operate::modes::Mode;
use stillhand_engine::output::State;
use stillhand_engine::rig::{LimitSet, Picture, Travel};
use stillhand_engine::time::{Span, Time};
use stillhand_engine::units::{Accel, Jerk, Speed, Unit};

/// A move long enough to be seen in the picture and short enough for any room, in deg or mm.
const WAY: [f64; 2] = [3.0, 20.0];
/// And slow enough to look twice, in deg/s or mm/s.
const SPEED: [f64; 2] = [2.0, 10.0];
/// A rig that is not ready so long after the start is not waited for.
const PATIENCE: Span = Span::from_millis(30_000);

/// What to test.
#[derive(Debug, clap::Args)]
pub struct DirectionsArgs {
    /// Only these axes; all of the rig without
    #[arg(long, value_name = "NAME")]
    axis: Vec<String>,
    /// Write what is proposed into the rig file; the file as it was is kept beside it, as FILE.before
    #[arg(long)]
    write: bool,
    #[command(flatten)]
    run: RunArgs,
}

/// Tests.
pub fn directions(args: &DirectionsArgs) -> Outcome {
    prepared(args).map_or_else(
        |outcome| outcome,
        |job| run::run_job(&args.run, Box::new(job)),
    )
}

fn prepared(args: &DirectionsArgs) -> Result<Test, Outcome> {
    let (file, operator) = run::files_of(&args.run)?;
    let path = run::rig_path(&args.run).map(Path::to_path_buf);
    if args.write && path.is_none() {
        return Err(Outcome::bad_file(
            "--write: the built-in rig file can't be written; name one with --rig",
        ));
    }
    let axes = pick_axes(&args.axis, &file.rig)?;
    let driven = |axis: &usize| operator.hands.iter().any(|h| usize::from(h.axis) == *axis);
    if let Some(axis) = axes.iter().find(|axis| !driven(axis)) {
        return Err(Outcome::bad_file(format!(
            "profile \"{}\" does not drive {}: take one that does with --operator, or name others with --axis",
            operator.name, file.rig.axes[*axis].name
        )));
    }
    if press_for(&operator).is_none() {
        return Err(Outcome::bad_file(format!(
            "every button of profile \"{}\" does something: name one with `enable`, or free one",
            operator.name
        )));
    }
    Ok(Test {
        file,
        path,
        write: args.write,
        axes,
        at: 0,
        phase: Phase::Meets,
        plus: true,
        news: None,
        answers: answers(),
        looked: Vec::new(),
        began: None,
    })
}

/// What is typed, line by line.
fn answers() -> Receiver<String> {
    let (typed, answers) = channel();
    std::thread::spawn(move || {
        for line in std::io::stdin().lock().lines().map_while(Result::ok) {
            if typed.send(line.trim().to_lowercase()).is_err() {
                return;
            }
        }
    });
    answers
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Phase {
    Meets,
    Moves,
    Asks,
}

struct Test {
    file: RigFile,
    path: Option<PathBuf>,
    write: bool,
    /// The axes to test, and the place in this list of the one under test.
    axes: Vec<usize>,
    at: usize,
    phase: Phase,
    /// The way of the last move.
    plus: bool,
    news: Option<ErrandNews>,
    answers: Receiver<String>,
    looked: Vec<(usize, Looked)>,
    began: Option<Time>,
}

impl Job for Test {
    fn news(&mut self, news: ErrandNews) -> bool {
        match news {
            ErrandNews::Leg(_) => false,
            ErrandNews::Offered { .. } | ErrandNews::Begun => true,
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
        match self.phase {
            Phase::Meets => self.meets(desk),
            Phase::Moves => {
                match self.news.take()? {
                    ErrandNews::Done => {
                        desk.warn(self.question());
                        self.phase = Phase::Asks;
                        None
                    }
                    // Let go too early, or pushed a stick: once more.
                    ErrandNews::Ended(_) => self.moves(desk),
                    _ => Some(Outcome::fault(
                        "the axis could not be moved: see what was told above",
                    )),
                }
            }
            Phase::Asks => match self.answers.try_recv() {
                Ok(answer) => self.answered(desk, &answer),
                Err(TryRecvError::Empty) => None,
                Err(TryRecvError::Disconnected) => Some(Outcome::fault(
                    "nobody answers: type the answers, one a line",
                )),
            },
        }
    }

    fn progress(&self) -> Option<String> {
        let axis = &self.file.rig.axes[*self.axes.get(self.at)?].name;
        Some(format!(
            "axis {} of {}: {axis}",
            self.at + 1,
            self.axes.len()
        ))
    }

    fn cut_short(&mut self) -> Outcome {
        Outcome::fault("broken off: nothing was written")
    }
}

impl Test {
    fn meets(&mut self, desk: &mut Desk<'_>) -> Option<Outcome> {
        let began = *self.began.get_or_insert(desk.now);
        let state = desk.snapshot.status.state;
        let ready = desk.snapshot.standing == Standing::Ready
            && matches!(state, State::Withheld(_) | State::Driving);
        if !ready {
            let late = desk.now.since(began) > PATIENCE;
            let words = "the rig or the pad is not ready after 30 s: see what was told above";
            return late.then(|| Outcome::fault(words));
        }
        if !desk.snapshot.status.modes.reduced.on() {
            desk.offering.order(Order::Mode(Mode::Reduced, true));
            return None;
        }
        self.moves(desk)
    }

    /// Offers the move of the axis under test.
    fn moves(&mut self, desk: &mut Desk<'_>) -> Option<Outcome> {
        let place = self.axes[self.at];
        let (axis, status) = (&desk.rig.axes[place], &desk.snapshot.axes[place]);
        let unit = usize::from(axis.unit == Unit::Mm);
        let speed = SPEED[unit].min(status.full_stick / 2.0);
        if speed <= 0.0 {
            let words = format!(
                "{}: a full stick is 0 now; is the speed trigger pulled?",
                axis.name
            );
            return Some(Outcome::fault(words));
        }
        self.plus = match axis.travel {
            Travel::Finite(ends) if status.referenced => {
                status.position + 2.0 * WAY[unit] < ends.high().0
            }
            Travel::Finite(_) | Travel::Continuous => true,
        };
        let normal = axis.limits.normal();
        let set = LimitSet {
            accel: Accel(normal.accel.0.min(4.0 * speed)),
            jerk: Jerk(normal.jerk.0.min(16.0 * speed)),
        };
        let leg = Leg {
            rig: 0,
            axis: place as u8,
            at: Span::ZERO,
            drives: Span::from_secs_f64(WAY[unit] / speed),
            speed: Speed(speed),
            plus: self.plus,
            set,
        };
        let press = press_for(desk.operator)?;
        desk.warn(format!(
            "{} will move a little: watch the picture, and keep {} held until it stops",
            axis.name,
            enable_name(press)
        ));
        let errand = Errand::new(Purpose::Directions, press, true, vec![leg]);
        match errand {
            Ok(errand) => desk.offering.offer(errand),
            Err(error) => return Some(Outcome::fault(format!("{}: {error:?}", axis.name))),
        };
        self.phase = Phase::Moves;
        None
    }

    /// What a move of the axis under test looks like: the words for plus and minus.
    fn words(&self) -> [&'static str; 2] {
        match self.file.pictures[self.axes[self.at]] {
            Picture::Pan => ["right", "left"],
            Picture::Tilt => ["up", "down"],
            Picture::Other => ["yes", "no"],
        }
    }

    fn question(&self) -> String {
        let place = self.axes[self.at];
        let (name, [plus, minus]) = (&self.file.rig.axes[place].name, self.words());
        match self.file.pictures[place] {
            Picture::Pan | Picture::Tilt => {
                format!("{name}: which way did the picture look? {plus}, {minus}, again, skip")
            }
            Picture::Other => {
                let way = if self.plus { "plus" } else { "minus" };
                format!("{name}: was that the way you call {way}? {plus}, {minus}, again, skip")
            }
        }
    }

    fn answered(&mut self, desk: &mut Desk<'_>, answer: &str) -> Option<Outcome> {
        let place = self.axes[self.at];
        let [plus, minus] = self.words();
        let turned = match self.file.pictures[place] {
            // A yes is a yes whichever way it went.
            Picture::Other => false,
            Picture::Pan | Picture::Tilt => !self.plus,
        };
        let looked = match answer {
            "again" => return self.moves(desk),
            "skip" => Looked::Skipped,
            _ if answer == plus => Looked::of(!turned),
            _ if answer == minus => Looked::of(turned),
            _ => {
                desk.warn(format!("\"{answer}\" is no answer. {}", self.question()));
                return None;
            }
        };
        self.looked.push((place, looked));
        self.at += 1;
        match self.at < self.axes.len() {
            true => self.moves(desk),
            false => Some(self.ends()),
        }
    }

    /// Tells what was found, and writes it if that was asked for.
    fn ends(&self) -> Outcome {
        for (place, looked) in &self.looked {
            println!("{}: {}", self.file.rig.axes[*place].name, looked.text());
        }
        let skipped = self
            .looked
            .iter()
            .any(|(_, looked)| *looked == Looked::Skipped);
        let wrong =
            |(place, looked): &(usize, Looked)| (*looked == Looked::Wrong).then_some(*place);
        let wrong: Vec<usize> = self.looked.iter().filter_map(wrong).collect();
        if wrong.is_empty() {
            return match skipped {
                true => Outcome::fault("not every axis was tested"),
                false => Outcome::good(),
            };
        }
        let source = match self.path.as_deref().map(files::read).transpose() {
            Ok(source) => source,
            Err(problems) => return Outcome::bad_file(problems.render(false).trim_end()),
        };
        let text = source.as_ref().map_or("", |source| source.text.as_str());
        let changes = changes(&self.file, &wrong, text);
        print!("{}", proposal::told(&self.file, &changes, &wrong));
        match (&self.path, source) {
            (Some(path), Some(source)) if self.write => {
                self.written(path, &source, &changes, &wrong)
            }
            _ => Outcome::fault("the rig file is wrong: nothing was written; --write does it"),
        }
    }

    fn written(
        &self,
        path: &Path,
        source: &crate::profile::Source,
        changes: &[Change],
        wrong: &[usize],
    ) -> Outcome {
        let text = &source.text;
        let Some(new) = edited(&self.file, text, changes, wrong) else {
            return Outcome::fault(format!(
                "{}: this can't be written without touching more of it: change the lines by hand",
                path.display()
            ));
        };
        match whole::write_keeping(path, text, &new) {
            Ok(before) => {
                println!("written; as it was: {}", before.display());
                Outcome::good()
            }
            Err(outcome) => outcome,
        }
    }
}
