//! A command at work on a rig that is driven as `run` drives it: it asks for moves, says what people have to
//! do, and ends.

use super::Outcome;
use crate::shell::drive::Snapshot;
use crate::shell::errands::Offering;
use stillhand_engine::errand::ErrandNews;
use stillhand_engine::operator::Operator;
use stillhand_engine::rig::Rig;
use stillhand_engine::time::Time;

/// What a job works with.
pub(super) struct Desk<'a> {
    /// Takes moves and orders to the loop.
    pub(super) offering: &'a mut Offering,
    /// How things stand.
    pub(super) snapshot: &'a Snapshot,
    /// The rig file in force.
    pub(super) rig: &'a Rig,
    /// The profile in force.
    pub(super) operator: &'a Operator,
    /// When it looks.
    pub(super) now: Time,
    /// Lines to tell, and whether each is a warning.
    pub(super) lines: Vec<(bool, String)>,
}

impl Desk<'_> {
    /// Tells something.
    pub(super) fn tell(&mut self, text: impl Into<String>) {
        self.lines.push((false, text.into()));
    }

    /// Tells something that somebody has to act upon.
    pub(super) fn warn(&mut self, text: impl Into<String>) {
        self.lines.push((true, text.into()));
    }
}

/// A command at work.
pub(super) trait Job {
    /// Something became of its moves; whether that is told in the usual words.
    fn news(&mut self, news: ErrandNews) -> bool;

    /// Looks, about twenty times a second; how it ended, once it has.
    fn look(&mut self, desk: &mut Desk<'_>) -> Option<Outcome>;

    /// How far it is, in a line.
    fn progress(&self) -> Option<String>;

    /// The run was ended before the job was over.
    fn cut_short(&mut self) -> Outcome;
}
