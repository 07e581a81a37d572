//! Step directions: the direction test, held against the rig file.

use super::super::directions::{Looked, Looking, changes, told};
use super::super::job::Desk;
use super::mover::{self, Mover};
use super::record::Item;
use super::{Step, Tools};
use crate::profile::RigFile;
use stillhand_engine::errand::{ErrandNews, Purpose};
use stillhand_engine::rig::Rig;

pub(super) struct Ways {
    file: RigFile,
    /// The axes asked for; those that can't be moved are told once the rig is met.
    axes: Vec<usize>,
    looking: Option<Looking>,
    may: Mover,
}

impl Ways {
    pub(super) fn new(file: &RigFile, axes: &[usize]) -> Ways {
        Ways {
            file: file.clone(),
            axes: axes.to_vec(),
            looking: None,
            may: Mover::default(),
        }
    }

    fn tell(&self, tools: &mut Tools, looked: &[(usize, Looked)]) {
        for (place, looked) in looked {
            let name = self.file.rig.axes[*place].name.clone();
            tools.found(match looked {
                Looked::Right => Item::pass(name, looked.text()),
                Looked::Skipped => {
                    Item::not_shown(name, looked.text(), "answer which way the picture went")
                }
                Looked::Wrong => {
                    let lines = told(&self.file, &changes(&self.file, &[*place], ""), &[*place]);
                    let line = lines.lines().map(str::trim).collect::<Vec<_>>().join(" ");
                    let mend = format!(
                        "run `stillhand directions --axis {name} --write`; it would {line}"
                    );
                    Item::fail(name, looked.text(), mend)
                }
            });
        }
    }
}

impl Step for Ways {
    fn news(&mut self, news: ErrandNews) -> bool {
        self.looking
            .as_mut()
            .is_none_or(|looking| looking.news(news))
    }

    fn look(&mut self, desk: &mut Desk<'_>, tools: &mut Tools) -> Result<bool, String> {
        let Some(looking) = &mut self.looking else {
            if !self.may.may(desk)? {
                return Ok(false);
            }
            let mut axes = Vec::new();
            for axis in &self.axes {
                match mover::unmoved(desk, *axis) {
                    None => axes.push(*axis),
                    Some((says, mend)) => {
                        let name = self.file.rig.axes[*axis].name.clone();
                        tools.found(Item::not_shown(name, says, mend));
                    }
                }
            }
            self.looking = Some(Looking::new(Purpose::Check, &self.file, axes));
            return Ok(false);
        };
        let over = looking.look(desk, &tools.answers);
        let looked = std::mem::take(&mut looking.looked);
        self.tell(tools, &looked);
        over
    }

    fn progress(&self, _: &Rig) -> String {
        let looking = self.looking.as_ref().and_then(Looking::progress);
        looking.unwrap_or_default()
    }
}
