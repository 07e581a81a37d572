//! A command at work on a rig that is driven as `run` drives it: it asks for moves, says what people have to
//! do, and ends.

use super::Outcome;
use crate::link::session::Standing;
use crate::shell::drive::Snapshot;
use crate::shell::errands::Offering;
use crate::shell::pad::PresentPad;
use crate::shell::probe::Seen;
use std::io::BufRead;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use stillhand_engine::errand::ErrandNews;
use stillhand_engine::operator::Operator;
use stillhand_engine::output::{AxisStatus, Mover, State};
use stillhand_engine::rig::Rig;
use stillhand_engine::time::{Span, Time};

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
    /// The pads that are plugged in; a script's is not among them.
    pub(super) pads: &'a [PresentPad],
    /// What was seen of the loop and of the rig since it looked last.
    pub(super) seen: Vec<Seen>,
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

    /// Whether no move is under way, not even one that has ended and still comes to rest: until then another one
    /// is refused.
    pub(super) fn free(&self) -> bool {
        let moves = |axis: &AxisStatus| axis.mover == Mover::Errand;
        !self.snapshot.axes.iter().any(moves)
    }

    /// Whether rig and pad are there and nothing keeps the rig from moving; not for longer than 30 s since `began`.
    ///
    /// # Errors
    /// In words, that they are not by then.
    pub(super) fn met(&self, began: Time) -> Result<bool, String> {
        let state = self.snapshot.status.state;
        let met = self.snapshot.standing == Standing::Ready
            && matches!(state, State::Withheld(_) | State::Driving);
        match !met && self.now.since(began) > PATIENCE {
            true => Err(
                "the rig or the pad is not ready after 30 s: see what was told above".to_owned(),
            ),
            false => Ok(met),
        }
    }
}

/// A rig that is not ready so long after the start is not waited for.
const PATIENCE: Span = Span::from_millis(30_000);

/// What a typed line means: arrow keys, of which a terminal sends ESC [ A to D, are the words for where they point,
/// and what else controls a terminal is left out.
fn meant(line: &str) -> String {
    let arrows = [("A", "up"), ("B", "down"), ("C", "right"), ("D", "left")];
    let said = arrows
        .into_iter()
        .fold(line.to_owned(), |said, (key, word)| {
            said.replace(&format!("\u{1b}[{key}"), word)
        });
    let told: String = said.chars().filter(|c| !c.is_control()).collect();
    told.trim().to_lowercase()
}

/// What is typed, line by line.
#[derive(Debug)]
pub(super) struct Answers {
    lines: Receiver<String>,
    /// How many were typed since that was asked last.
    typed: Arc<AtomicUsize>,
}

impl Answers {
    /// Reads what is typed from now on.
    pub(super) fn new() -> Answers {
        let (sends, lines) = channel();
        let typed = Arc::new(AtomicUsize::new(0));
        let counts = Arc::clone(&typed);
        std::thread::spawn(move || {
            for line in std::io::stdin().lock().lines().map_while(Result::ok) {
                counts.fetch_add(1, Ordering::Relaxed);
                if sends.send(meant(&line)).is_err() {
                    return;
                }
            }
        });
        Answers { lines, typed }
    }

    /// The next one, if there is one.
    ///
    /// # Errors
    /// In words, that nobody types any more.
    pub(super) fn next(&self) -> Result<Option<String>, String> {
        match self.lines.try_recv() {
            Ok(answer) => Ok(Some(answer)),
            Err(TryRecvError::Empty) => Ok(None),
            Err(TryRecvError::Disconnected) => {
                Err("nobody answers: type the answers, one a line".to_owned())
            }
        }
    }

    /// How many lines were typed since this was asked last.
    pub(super) fn typed(&self) -> usize {
        self.typed.swap(0, Ordering::Relaxed)
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

    /// How many lines were typed since this was asked last: a terminal shows each below what stands there.
    fn typed(&mut self) -> usize {
        0
    }

    /// What stands on stdout once everything is at rest.
    fn report(&mut self) -> Option<String> {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::meant;

    #[test]
    fn what_is_typed_is_a_word_or_an_arrow_and_controls_no_terminal() {
        for (typed, means) in [
            (" Right ", "right"),
            ("\u{1b}[C", "right"),
            ("\u{1b}[D", "left"),
            ("\u{1b}[A", "up"),
            ("\u{1b}[B", "down"),
            ("\u{1b}[c", "[c"),
            ("skip\u{7}", "skip"),
            ("", ""),
        ] {
            assert_eq!(meant(typed), means, "{typed:?}");
        }
    }
}
