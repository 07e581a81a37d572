//! Files that change while the daemon runs: read, judged as `check` judges them, and offered to the loop.
//!
//! A good one is offered; a bad one is told of and changes nothing. What an offered one does when is the
//! engine's to say; [`News`] words it.

mod at_hand;
mod news;
mod trims;

pub(super) use at_hand::AtHand;
pub(super) use news::{News, waiting};
pub(super) use trims::Trims;

use super::{Outcome, files, travel};
use crate::link::budget::budget;
use crate::profile::{OperatorFile, Problems, QuietFile, RigFile, Source, load_operator, load_rig};
use crate::shell::clock::Clock;
use crate::shell::edits::{InForce, Offers};
use crate::shell::watch::{FileWatch, Looker};
use crate::shell::wishes::{self, NewEnds, Reply, Wish, Wishes};
use news::Tale;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use stillhand_engine::operator::Operator;
use stillhand_engine::rig::Axis;
use stillhand_engine::rig_wait_for;
use stillhand_engine::time::Span;

/// Tales that wait to be told, twenty times a second: a look tells at most four.
const TALES: usize = 64;

/// A profile, the quiet file it names, and what they come to on the rig.
#[derive(Clone)]
pub(super) struct Hands {
    /// Its file; none if it is built in.
    pub(super) path: Option<PathBuf>,
    pub(super) file: OperatorFile,
    pub(super) quiet: Option<QuietFile>,
    pub(super) operator: Operator,
}

/// A profile with its quiet file, held against a rig. `path` is its own; none if it is built in.
///
/// # Errors
/// Every problem of the first of the three that has some.
pub(super) fn hands_of(
    source: &Source,
    path: Option<PathBuf>,
    rig: &RigFile,
) -> Result<Hands, Problems> {
    let file = load_operator(source)?;
    let quiet = files::read_quiet(&file, path.as_deref())?;
    let operator = file.resolve_with(std::slice::from_ref(rig), quiet.as_ref())?;
    Ok(Hands {
        path,
        file,
        quiet,
        operator,
    })
}

/// The rig file.
#[derive(Clone)]
pub(super) struct Hardware {
    /// Its file; none if it is built in.
    pub(super) path: Option<PathBuf>,
    pub(super) file: RigFile,
    /// Whether the port was named on the command line, so that the file's counts for nothing.
    pub(super) port_given: bool,
}

/// The files, as they were last found good, and where changed ones go.
struct Live {
    hands: Hands,
    hardware: Hardware,
    at_hand: AtHand,
    /// What is asked for.
    wishes: Receiver<Wish>,
    /// Whether edits are followed.
    follows: bool,
    period: Span,
    offers: Offers,
    tales: SyncSender<Tale>,
    /// What was told of the rig file and of the profile, until it is mended.
    wrong: [Option<String>; 2],
    /// The quiet file that the profile names, good or bad.
    quiet_named: Option<PathBuf>,
}

/// Which of the two a tale is about: its place in [`Live::wrong`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Which {
    Rig,
    Operator,
}

/// Why a file stays as it was.
enum Wrong {
    /// It has problems.
    Problems(Problems),
    /// It is not there any more.
    Gone,
    /// It is good, and can't be taken over all the same.
    Refused(String),
}

/// Reads profiles whenever one is asked for, and with `follows` every file that changes; words what becomes
/// of them.
///
/// # Errors
/// The system's, if there is no thread to be had.
pub(super) fn start(
    (hands, hardware, at_hand): (Hands, Hardware, AtHand),
    follows: bool,
    period: Span,
    (offers, in_force): (Offers, InForce),
    clock: Clock,
) -> std::io::Result<(FileWatch, News, Wishes)> {
    let (tales, told) = sync_channel(TALES);
    let (queue, wishes) = wishes::mailbox();
    let news = News::new(&hardware, told, in_force);
    let live = Live {
        hands,
        hardware,
        at_hand,
        wishes,
        follows,
        period,
        offers,
        tales,
        wrong: [None, None],
        quiet_named: None,
    };
    let watching = FileWatch::start(live, move || clock.now())?;
    let wishes = Wishes::new(queue, watching.caller());
    Ok((watching, news, wishes))
}

impl Live {
    /// A full channel means that nobody tells anything any more.
    fn tell(&self, tale: Tale) {
        let _ = self.tales.try_send(tale);
    }

    /// The rig file, if it is good and can be taken over.
    fn rig(&self) -> Result<RigFile, Wrong> {
        let Some(path) = &self.hardware.path else {
            return Ok(self.hardware.file.clone());
        };
        let source = files::read(path).map_err(|problems| unreadable(path, problems))?;
        let mut file = load_rig(&source).map_err(Wrong::Problems)?;
        let present = &self.hardware.file;
        if file.baud != present.baud || !self.hardware.port_given && file.port != present.port {
            return Err(Wrong::Refused(
                "`port` and `baud` are those of the start: start anew for others, or take them back"
                    .to_owned(),
            ));
        }
        if rig_wait_for(&present.rig, &file.rig).is_none() {
            return Err(Wrong::Refused(
                "it describes another rig (its id, or names, order, number or units of its axes): \
                 start anew with it"
                    .to_owned(),
            ));
        }
        let carried = budget(&file.rig, file.baud, self.period)
            .map_err(|does_not_fit| Wrong::Refused(does_not_fit.to_string()))?;
        file.rig.frame_period = Span(carried.frame_period_ns);
        Ok(file)
    }

    /// The profile and its quiet file, if they are good.
    fn hands(&mut self) -> Result<(OperatorFile, Option<QuietFile>), Wrong> {
        let Some(path) = &self.hands.path else {
            return Ok((self.hands.file.clone(), None));
        };
        let source = files::read(path).map_err(|problems| unreadable(path, problems))?;
        let file = load_operator(&source).map_err(Wrong::Problems)?;
        // Watched even if it is not good: that may be what is mended next.
        self.quiet_named = files::quiet_path(&file, Some(path));
        let quiet = files::read_quiet(&file, Some(path)).map_err(Wrong::Problems)?;
        Ok((file, quiet))
    }

    /// Takes over what is good: both files, or one with the other as it was.
    fn judge(&mut self) {
        let rig = self.rig();
        let hands = self.hands();
        let new_rig = rig.as_ref().unwrap_or(&self.hardware.file).clone();
        let (file, quiet) = match &hands {
            Ok((file, quiet)) => (file, quiet),
            Err(_) => (&self.hands.file, &self.hands.quiet),
        };
        // A rig file that the profile does not fit changes nothing either, and the other way round.
        let resolved = file.resolve_with(std::slice::from_ref(&new_rig), quiet.as_ref());
        let (operator, file, quiet) = match resolved {
            Ok(operator) => (operator, file.clone(), quiet.clone()),
            Err(problems) => {
                let of_rig = rig.err();
                match hands {
                    Ok(_) => self.note(Which::Operator, Some(Wrong::Problems(problems))),
                    Err(wrong) => self.note(Which::Operator, Some(wrong)),
                }
                let unfit = || Wrong::Refused("the profile does not fit it".to_owned());
                let changed = new_rig.rig != self.hardware.file.rig;
                self.note(Which::Rig, of_rig.or_else(|| changed.then(unfit)));
                return;
            }
        };
        let operator = (operator != self.hands.operator).then_some(operator);
        let rig_edit = (new_rig.rig != self.hardware.file.rig).then_some(&new_rig.rig);
        if operator.is_some() || rig_edit.is_some() {
            self.tell(Tale::Offered {
                number: self.offers.next(),
                from: self.name(Which::Operator),
                operator: operator.clone().map(Box::new),
                rig: rig_edit.map(|_| Box::new(new_rig.clone())),
            });
            self.offers.offer(operator.clone(), rig_edit);
        }
        self.note_change(Which::Rig, rig.err(), rig_edit.is_some());
        self.note_change(Which::Operator, hands.err(), operator.is_some());
        (self.hands.file, self.hands.quiet) = (file, quiet);
        self.hardware.file = new_rig;
        if let Some(operator) = operator {
            self.hands.operator = operator;
        }
    }

    /// Does what was asked for; whoever asked may have gone.
    fn grant(&mut self, wish: Wish) {
        let rig = &self.hardware.file;
        match wish {
            Wish::List(reply) => {
                let _ = reply.send(self.at_hand.list(rig, &self.hands));
            }
            Wish::Named(name, reply) => {
                let found = self.at_hand.named(&name, rig, Some(&self.hands));
                let _ = reply.send(found.map(|hands| self.take(hands)));
            }
            Wish::ByPad(name) => {
                let found = self.at_hand.named(&name, rig, Some(&self.hands));
                self.take_or_refuse(found);
            }
            Wish::Travel(new, reply) => {
                let _ = reply.send(self.set_ends(&new));
            }
            Wish::TravelByPad(new) => {
                let tale = match self.set_ends(&new) {
                    Ok(words) => Tale::Done(words),
                    Err(words) => Tale::Refused(words),
                };
                self.tell(tale);
            }
            Wish::Next => {
                let (next, passed) = self.at_hand.next(rig, &self.hands);
                for words in passed {
                    self.tell(Tale::Refused(words));
                }
                self.take_or_refuse(next);
            }
        }
    }

    /// Has the rig file say how far an axis may go. Whoever writes it is this thread: the loop has no disk.
    fn set_ends(&mut self, new: &NewEnds) -> Reply {
        let Some(path) = self.hardware.path.clone() else {
            return Err(
                "the rig file is the built-in one and can't be changed: write one with `stillhand init rig`, \
                 and start with it"
                    .to_owned(),
            );
        };
        let here = |_: &RigFile, _: &Axis| new.here.clone().map_err(Outcome::fault);
        let done = travel::set(&path, &new.axis, &new.ends, false, here);
        let words = done.map_err(|outcome| outcome.words.unwrap_or_default())?;
        if !self.follows {
            return Ok(format!(
                "{words} This one does not watch its files: start it anew."
            ));
        }
        self.judge();
        Ok(words)
    }

    fn take_or_refuse(&mut self, found: Result<Hands, String>) {
        match found {
            Ok(hands) => drop(self.take(hands)),
            Err(words) => self.tell(Tale::Refused(words)),
        }
    }

    /// Offers another operator, and goes by its file from now on. Its name.
    fn take(&mut self, hands: Hands) -> String {
        let name = hands.operator.name.clone();
        let offered = hands.operator != self.hands.operator;
        if self.wrong[Which::Operator as usize].take().is_some() {
            self.tell(Tale::Left(Which::Operator));
        }
        self.hands = hands;
        if offered {
            self.tell(Tale::Offered {
                number: self.offers.next(),
                from: self.name(Which::Operator),
                operator: Some(Box::new(self.hands.operator.clone())),
                rig: None,
            });
            self.offers.offer(Some(self.hands.operator.clone()), None);
        }
        name
    }

    /// The files that are watched.
    fn paths(&self) -> Vec<PathBuf> {
        if !self.follows {
            return Vec::new();
        }
        let named = [&self.hardware.path, &self.hands.path, &self.quiet_named];
        named.into_iter().flatten().cloned().collect()
    }

    fn note_change(&mut self, which: Which, wrong: Option<Wrong>, offered: bool) {
        if wrong.is_none() && self.wrong[which as usize].take().is_some() {
            let name = self.name(which);
            self.tell(Tale::Mended {
                which,
                name,
                offered,
            });
        }
        if wrong.is_some() {
            self.note(which, wrong);
        }
    }

    /// Tells what is wrong, once.
    fn note(&mut self, which: Which, wrong: Option<Wrong>) {
        let Some(wrong) = wrong else { return };
        let name = self.name(which);
        let (line, text) = match wrong {
            Wrong::Gone => {
                let line =
                    format!("{name} is not there any more: what was read last stays in force");
                (line.clone(), line)
            }
            Wrong::Refused(why) => {
                let line = format!("{name} stays as it was: {why}");
                (line.clone(), line)
            }
            Wrong::Problems(problems) => worded(&problems, KEPT),
        };
        if self.wrong[which as usize].as_ref() != Some(&text) {
            self.wrong[which as usize] = Some(text.clone());
            self.tell(Tale::Wrong { which, line, text });
        }
    }

    fn name(&self, which: Which) -> String {
        let path = match which {
            Which::Rig => &self.hardware.path,
            Which::Operator => &self.hands.path,
        };
        match path.as_deref() {
            Some(path) => short(path),
            None => format!("the built-in {}", self.hands.file.name),
        }
    }
}

/// What becomes of a file with problems that was good before.
const KEPT: &str = "nothing of it is taken, what was read last stays in force";

/// One line for the status, and everything for the log, as `check` words it.
fn worded(problems: &Problems, so: &str) -> (String, String) {
    let name = short(Path::new(&problems.source().name));
    let place = problems.rows().into_iter().next();
    let first = place.map_or(String::new(), |row| match row.line {
        Some(line) => format!(" line {line}: {}", row.message),
        None => format!(" {}", row.message),
    });
    let noun = if problems.count() == 1 {
        "problem"
    } else {
        "problems"
    };
    let text = format!(
        "{name} has {} {noun}: {so}\n{}",
        problems.count(),
        problems.render(false).trim_end()
    );
    (format!("{name} not taken:{first}"), text)
}

/// The name of a file without its folder.
fn short(path: &Path) -> String {
    let name = path.file_name().unwrap_or(path.as_os_str());
    name.to_string_lossy().into_owned()
}

fn unreadable(path: &Path, problems: Problems) -> Wrong {
    match std::fs::metadata(path) {
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Wrong::Gone,
        _ => Wrong::Problems(problems),
    }
}

impl Looker for Live {
    fn look(&mut self) -> Vec<PathBuf> {
        if self.follows {
            self.judge();
        }
        self.offers.free();
        self.paths()
    }

    fn called(&mut self) -> Vec<PathBuf> {
        while let Ok(wish) = self.wishes.try_recv() {
            self.grant(wish);
        }
        self.offers.free();
        self.paths()
    }

    fn blind(&mut self, why: String) {
        if self.follows {
            self.tell(Tale::Blind(why));
        }
    }
}
