//! Runs the engine on what a journal recorded and compares everything that comes out, to the bit.

use super::folder;
use super::read::{Damage, Image, Record, Recorded, Records};
use super::row::{self, Row};
use super::{Head, MOST_RECORD};
use std::fmt;
use std::io;
use std::path::{Path, PathBuf};
use stillhand_engine::input::{Inputs, Tick};
use stillhand_engine::time::Time;
use stillhand_engine::{Engine, MAX_RIGS};

/// The longest file that is read: a journal's are an eighth of this at most.
const MOST_BYTES: u64 = 256 * 1024 * 1024;

/// What a replay found.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Found {
    /// How many files were read.
    pub files: usize,
    /// How many ticks were replayed.
    pub ticks: u64,
    /// The time from the first tick to the last of each stretch without a gap, in all, in seconds.
    pub seconds: f64,
    /// Stretches that are missing: the file, the index of the first tick, how many.
    pub gaps: Vec<(PathBuf, u64, u64)>,
    /// Files that could not be read to their end, and why.
    pub damage: Vec<(PathBuf, Damage)>,
    /// Whether the last file ends as a run does that was asked to end.
    pub ended: bool,
    /// The versions of the program that recorded it, if not this one.
    pub others: Vec<String>,
    /// The first output that came out differently.
    pub difference: Option<Difference>,
}

/// An output that came out differently.
#[derive(Clone, Debug, PartialEq)]
pub struct Difference {
    /// The file.
    pub file: PathBuf,
    /// The tick's index.
    pub tick: u64,
    /// Its time since the daemon's start, in seconds.
    pub at_s: f64,
    /// Which output.
    pub field: String,
    /// What was recorded.
    pub recorded: String,
    /// What came out now.
    pub replayed: String,
}

impl fmt::Display for Difference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "tick {} at {:.6} s, {}: {} was recorded, {} came out",
            self.tick, self.at_s, self.field, self.recorded, self.replayed
        )
    }
}

/// What sees every tick of a replay.
pub trait Look {
    /// A tick, with the head of its file.
    ///
    /// # Errors
    /// Its own; they end the replay.
    fn tick(&mut self, head: &Head, recorded: &Recorded) -> io::Result<()>;

    /// Ticks are missing here, or a new run begins.
    fn breaks(&mut self) {}
}

/// Sees nothing.
#[derive(Clone, Copy, Debug)]
pub struct Blind;

impl Look for Blind {
    fn tick(&mut self, _: &Head, _: &Recorded) -> io::Result<()> {
        Ok(())
    }
}

/// The files of a journal: those of a folder, or the one that is named.
///
/// # Errors
/// In words, why there is nothing to replay.
pub fn files(journal: &Path) -> Result<Vec<PathBuf>, String> {
    let told = |error: io::Error| format!("{}: {error}", journal.display());
    if !std::fs::metadata(journal).map_err(told)?.is_dir() {
        return Ok(vec![journal.to_owned()]);
    }
    let files = folder::files(journal).map_err(told)?;
    if files.is_empty() {
        return Err(format!(
            "{}: no journal is in this folder; its files are named like {}",
            journal.display(),
            folder::name(1)
        ));
    }
    Ok(files.into_iter().map(|(_, path)| path).collect())
}

/// Replays files in order, up to the first difference.
///
/// # Errors
/// In words: a file can't be opened, or `look` failed.
pub fn replay(files: &[PathBuf], look: &mut impl Look) -> Result<Found, String> {
    let mut replay = Replay::default();
    for path in files {
        let told = |error: io::Error| format!("{}: {error}", path.display());
        let length = std::fs::metadata(path).map_err(told)?.len();
        if length > MOST_BYTES {
            return Err(format!(
                "{}: {length} bytes are more than any file of a journal has",
                path.display()
            ));
        }
        let bytes = std::fs::read(path).map_err(told)?;
        replay.file(path, &bytes, look).map_err(told)?;
        replay.found.files += 1;
        if replay.found.difference.is_some() {
            break;
        }
    }
    Ok(replay.found)
}

#[derive(Default)]
struct Replay {
    found: Found,
    /// The engine after the last tick, and when that was; none at the start and after anything missing.
    engine: Option<(Engine, Tick)>,
    /// When the stretch without a gap began.
    since: Option<Time>,
    head: Option<Head>,
    now: Option<Row>,
}

impl Replay {
    fn file(&mut self, path: &Path, bytes: &[u8], look: &mut impl Look) -> io::Result<()> {
        self.found.ended = false;
        for record in Records::of(bytes) {
            match record {
                Ok(Record::Head(head)) => self.begins(head, look),
                Ok(Record::Image(image)) => self.image(path, *image),
                Ok(Record::Tick(tick)) => self.tick(path, &tick, look)?,
                Ok(Record::Gap { first, count }) => {
                    self.found.gaps.push((path.to_owned(), first, count));
                    self.breaks(look);
                }
                Ok(Record::End) => {
                    self.found.ended = true;
                    self.breaks(look);
                }
                Err(damage) => {
                    self.found.damage.push((path.to_owned(), damage));
                    self.breaks(look);
                }
            }
            if self.found.difference.is_some() {
                break;
            }
        }
        self.count();
        Ok(())
    }

    /// Another file begins: does it go on where the last one ended?
    fn begins(&mut self, head: Head, look: &mut impl Look) {
        let goes_on = self.head.as_ref().is_some_and(|before| {
            before.run == head.run && before.number.checked_add(1) == Some(head.number)
        });
        if !goes_on {
            self.breaks(look);
        }
        let own = env!("CARGO_PKG_VERSION");
        if head.program != own && !self.found.others.contains(&head.program) {
            self.found.others.push(head.program.clone());
        }
        self.head = Some(head);
    }

    fn breaks(&mut self, look: &mut impl Look) {
        self.count();
        self.engine = None;
        self.since = None;
        look.breaks();
    }

    /// Adds the time of the stretch so far.
    fn count(&mut self) {
        if let (Some(since), Some((_, last))) = (self.since, &self.engine) {
            self.found.seconds += last.now.since(since).secs();
            self.since = Some(last.now);
        }
    }

    /// Goes on with the engine that was written down. One that was replayed up to here must be the same.
    fn image(&mut self, path: &Path, image: Image) {
        if let Some((engine, _)) = &self.engine {
            let mut bytes = vec![0; MOST_RECORD];
            let same = postcard::to_slice(engine, &mut bytes).is_ok_and(|b| *b == *image.bytes);
            if !same {
                self.found.difference = Some(Difference {
                    file: path.to_owned(),
                    tick: image.tick.index,
                    at_s: at_s(image.tick),
                    field: "the state of the engine at the beginning of the file".to_owned(),
                    recorded: "one".to_owned(),
                    replayed: "another".to_owned(),
                });
            }
        }
        self.since.get_or_insert(image.tick.now);
        self.engine = Some((image.engine, image.tick));
    }

    fn tick(&mut self, path: &Path, tick: &Recorded, look: &mut impl Look) -> io::Result<()> {
        // Without an image before it there is nothing to replay it with.
        let (Some((engine, last)), Some(head)) = (&mut self.engine, &self.head) else {
            return Ok(());
        };
        *last = tick.tick;
        let inputs = Inputs {
            stop: tick.stop,
            edges: &tick.edges,
            operator: tick.operator.clone(),
            rig: tick.rig.clone(),
            errand: tick.errand.clone(),
        };
        let outputs = engine.step(tick.tick, inputs);
        let now = self.now.get_or_insert_with(|| Row::zeros(MAX_RIGS));
        now.take(outputs);
        let differ = |field: String, recorded: String, replayed: String| Difference {
            file: path.to_owned(),
            tick: tick.tick.index,
            at_s: at_s(tick.tick),
            field,
            recorded,
            replayed,
        };
        let notices = outputs.notices;
        let texts = |list: &[_]| list.iter().map(|n| format!("{n:?}")).collect::<Vec<_>>();
        let (theirs, ours) = (&tick.notices, notices.iter().collect::<Vec<_>>());
        self.found.difference = if let Some((place, a, b)) = tick.row.first_difference(now) {
            let value = |word| row::value(place, word);
            Some(differ(row::name(place, head), value(a), value(b)))
        } else if *theirs != ours {
            let (theirs, ours) = (texts(theirs).join(", "), texts(&ours).join(", "));
            Some(differ("notices".to_owned(), theirs, ours))
        } else if tick.dropped != notices.dropped {
            let (theirs, ours) = (tick.dropped.to_string(), notices.dropped.to_string());
            Some(differ("notices that did not fit".to_owned(), theirs, ours))
        } else {
            None
        };
        self.found.ticks += 1;
        look.tick(head, tick)
    }
}

fn at_s(tick: Tick) -> f64 {
    tick.now.since(Time(0)).secs()
}
