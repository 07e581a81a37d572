//! From the bytes of a journal's file to records, whatever the bytes are.

use super::bytes::{In, Raw, first};
use super::recorder::{flag, kind};
use super::row::Row;
use super::{Head, MAGIC, VERSION};
use std::fmt;
use stillhand_engine::Engine;
use stillhand_engine::MAX_RIGS;
use stillhand_engine::errand::Errand;
use stillhand_engine::input::{Input, StopSource, Tick};
use stillhand_engine::operator::Operator;
use stillhand_engine::output::Notice;
use stillhand_engine::rig::Rig;
use stillhand_engine::time::{Span, Time};

/// The most notices a tick is believed to have, kept or not.
const MOST_NOTICES: u64 = 64;

/// Why a file can't be read any further.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Damage {
    /// It does not begin like a journal.
    NoJournal,
    /// It is of another version of the format.
    Version(u16),
    /// It ends within a record that begins at this byte, as after a crash.
    Torn(usize),
    /// The bytes of the record that begins at this byte are not those that were written.
    Changed(usize),
    /// The record that begins at this byte is sound, but holds what this version does not write.
    Foreign(usize),
}

impl fmt::Display for Damage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Damage::NoJournal => write!(f, "this is no journal of stillhand's"),
            Damage::Version(version) => write!(
                f,
                "it is in version {version} of the format, and this program reads version {VERSION}"
            ),
            Damage::Torn(at) => write!(
                f,
                "it ends within the record at byte {at}, as after a crash or a loss of power"
            ),
            Damage::Changed(at) => write!(
                f,
                "the record at byte {at} is damaged: its check does not fit its bytes"
            ),
            Damage::Foreign(at) => write!(
                f,
                "the record at byte {at} holds what this version of the program does not write"
            ),
        }
    }
}

/// One record.
#[derive(Debug)]
pub enum Record {
    /// What the file is.
    Head(Head),
    /// The engine before the tick that follows.
    Image(Box<Image>),
    /// A tick.
    Tick(Box<Recorded>),
    /// These ticks are not recorded.
    Gap {
        /// The index of the first.
        first: u64,
        /// How many.
        count: u64,
    },
    /// The run ended as it should.
    End,
}

/// The engine before a tick.
#[derive(Debug)]
pub struct Image {
    /// The tick that follows.
    pub tick: Tick,
    /// The engine's state, as bytes.
    pub bytes: Vec<u8>,
    /// The same.
    pub engine: Engine,
}

/// What went in and came out in a tick.
#[derive(Clone, Debug)]
pub struct Recorded {
    /// Which.
    pub tick: Tick,
    /// The stop slot.
    pub stop: Option<StopSource>,
    /// Everything else that went in, in order.
    pub edges: Vec<Input>,
    /// Another profile.
    pub operator: Option<Box<Operator>>,
    /// Another rig file, and the place of its rig.
    pub rig: Option<(u8, Box<Rig>)>,
    /// An errand.
    pub errand: Option<Box<Errand>>,
    /// What happened.
    pub notices: Vec<Notice>,
    /// How many notices did not fit.
    pub dropped: u32,
    /// All else that came out.
    pub row: Row,
}

/// The records of a file, up to its end or to the first that can't be read.
#[derive(Debug)]
pub struct Records<'a> {
    bytes: &'a [u8],
    at: usize,
    over: bool,
    last: Tick,
    row: Row,
}

impl<'a> Records<'a> {
    /// Of a file of these bytes.
    pub fn of(bytes: &'a [u8]) -> Records<'a> {
        Records {
            bytes,
            at: 0,
            over: false,
            last: Tick {
                index: 0,
                now: Time(0),
            },
            row: Row::zeros(MAX_RIGS),
        }
    }

    /// Where the next record begins: how many bytes of the file are read and sound.
    pub fn at(&self) -> usize {
        self.at
    }

    fn begin(&mut self) -> Result<(), Damage> {
        let common = MAGIC.len().min(self.bytes.len());
        if self.bytes[..common] != MAGIC[..common] {
            return Err(Damage::NoJournal);
        }
        let Some((version, _)) = self.bytes[common..].split_first_chunk::<2>() else {
            return Err(Damage::Torn(0));
        };
        match u16::from_le_bytes(*version) {
            VERSION => {
                self.at = MAGIC.len() + 2;
                Ok(())
            }
            other => Err(Damage::Version(other)),
        }
    }

    fn record(&mut self) -> Result<Option<Record>, Damage> {
        if self.at == 0 {
            self.begin()?;
        }
        let bytes = &self.bytes[self.at..];
        if bytes.is_empty() {
            return Ok(None);
        }
        let raw = match first(bytes) {
            Ok(Some(raw)) => raw,
            Ok(None) => return Err(Damage::Torn(self.at)),
            Err(()) => return Err(Damage::Changed(self.at)),
        };
        let record = self.read(raw).ok_or(Damage::Foreign(self.at))?;
        self.at += raw.length;
        Ok(Some(record))
    }

    fn read(&mut self, raw: Raw) -> Option<Record> {
        let mut from = In(raw.body);
        let record = match raw.kind {
            kind::HEAD => Record::Head(from.value()?),
            kind::IMAGE => {
                let tick = Tick {
                    index: from.long()?,
                    now: Time(from.long()?),
                };
                let bytes = from.0.to_vec();
                let engine: Engine = from.value()?;
                if !engine.is_sound() {
                    return None;
                }
                self.last = tick;
                self.row.clear();
                Record::Image(Box::new(Image {
                    tick,
                    bytes,
                    engine,
                }))
            }
            kind::TICK => Record::Tick(Box::new(self.tick(&mut from)?)),
            kind::GAP => Record::Gap {
                first: from.long()?,
                count: from.long()?,
            },
            kind::END => Record::End,
            _ => return None,
        };
        from.0.is_empty().then_some(record)
    }

    fn tick(&mut self, from: &mut In) -> Option<Recorded> {
        let flags = from.byte()?;
        let tick = Tick {
            index: self.last.index.checked_add(from.number()?)?,
            now: self.last.now + Span(from.number()?),
        };
        let has = |bit: u8| flags & bit != 0;
        let stop = if has(flag::STOP) {
            Some(from.value()?)
        } else {
            None
        };
        // Each has a byte at least.
        let count = usize::try_from(from.number()?).ok()?;
        let mut edges = Vec::with_capacity(count.min(from.0.len()));
        for _ in 0..count {
            edges.push(from.value()?);
        }
        let mut operator: Option<Box<Operator>> = None;
        if has(flag::OPERATOR) {
            operator = Some(Box::new(from.value()?));
        }
        let mut rig: Option<(u8, Box<Rig>)> = None;
        if has(flag::RIG) {
            rig = Some((from.byte()?, Box::new(from.value()?)));
        }
        let mut errand: Option<Box<Errand>> = None;
        if has(flag::ERRAND) {
            errand = Some(Box::new(from.value()?));
        }
        let sound = operator.iter().all(|operator| operator.is_sound())
            && rig.iter().all(|(_, rig)| rig.is_sound())
            && errand.iter().all(|errand| errand.is_sound());
        if !sound {
            return None;
        }
        let count = from.number()?;
        let dropped = u32::try_from(from.number()?).ok()?;
        if count > MOST_NOTICES {
            return None;
        }
        let mut notices = Vec::with_capacity(count as usize);
        for _ in 0..count {
            notices.push(from.value()?);
        }
        self.row.read(from)?;
        self.last = tick;
        Some(Recorded {
            tick,
            stop,
            edges,
            operator,
            rig,
            errand,
            notices,
            dropped,
            row: self.row.clone(),
        })
    }
}

impl Iterator for Records<'_> {
    type Item = Result<Record, Damage>;

    fn next(&mut self) -> Option<Result<Record, Damage>> {
        if self.over {
            return None;
        }
        let record = self.record();
        self.over = !matches!(record, Ok(Some(_)));
        record.transpose()
    }
}
