//! `stillhand directions`: each axis moves a little, somebody says which way the picture went, and the rig file's
//! signs are proposed.

mod look;
mod proposal;

use super::job::{Answers, Desk, Job};
use super::pick::pick_axes;
use super::run::{self, RunArgs};
use super::survey::whole;
use super::{Outcome, files, slow};
use crate::profile::RigFile;
pub(super) use look::Looking;
use proposal::{Change, edited};
pub(super) use proposal::{Looked, changes, told};
use std::path::{Path, PathBuf};
use stillhand_engine::errand::{ErrandNews, Purpose, press_for};
use stillhand_engine::input::Order;
use stillhand_engine::operate::modes::Mode;
use stillhand_engine::time::Time;

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
    if let Some(axis) = axes.iter().find(|axis| !slow::drives(&operator, **axis)) {
        let axis = &file.rig.axes[*axis];
        return Err(Outcome::bad_file(slow::not_driven(&operator, axis)));
    }
    if press_for(&operator).is_none() {
        return Err(Outcome::bad_file(slow::no_press(&operator)));
    }
    Ok(Test {
        looking: Looking::new(Purpose::Directions, &file, axes),
        file,
        path,
        write: args.write,
        answers: Answers::new(),
        began: None,
        met: false,
    })
}

struct Test {
    file: RigFile,
    path: Option<PathBuf>,
    write: bool,
    looking: Looking,
    answers: Answers,
    began: Option<Time>,
    /// The rig was met, and reduced is on.
    met: bool,
}

impl Job for Test {
    fn news(&mut self, news: ErrandNews) -> bool {
        self.looking.news(news)
    }

    fn look(&mut self, desk: &mut Desk<'_>) -> Option<Outcome> {
        if !self.met {
            let began = *self.began.get_or_insert(desk.now);
            match desk.met(began) {
                Err(words) => return Some(Outcome::fault(words)),
                Ok(true) if desk.snapshot.status.modes.reduced.on() => self.met = true,
                Ok(met) => {
                    if met {
                        desk.offering.order(Order::Mode(Mode::Reduced, true));
                    }
                    return None;
                }
            }
        }
        match self.looking.look(desk, &self.answers) {
            Err(words) => Some(Outcome::fault(words)),
            Ok(true) => Some(self.ends()),
            Ok(false) => None,
        }
    }

    fn progress(&self) -> Option<String> {
        self.looking.progress()
    }

    fn typed(&mut self) -> usize {
        self.answers.typed()
    }

    fn cut_short(&mut self) -> Outcome {
        Outcome::fault("broken off: nothing was written")
    }
}

impl Test {
    /// Tells what was found, and writes it if that was asked for.
    fn ends(&self) -> Outcome {
        for (place, looked) in &self.looking.looked {
            println!("{}: {}", self.file.rig.axes[*place].name, looked.text());
        }
        let looked = &self.looking.looked;
        let skipped = looked.iter().any(|(_, l)| *l == Looked::Skipped);
        let wrong =
            |(place, looked): &(usize, Looked)| (*looked == Looked::Wrong).then_some(*place);
        let wrong: Vec<usize> = looked.iter().filter_map(wrong).collect();
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
        print!("{}", told(&self.file, &changes, &wrong));
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
