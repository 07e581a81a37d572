//! One tick's outputs as a row of 64-bit words, each with a name: what is compared to the bit, and what
//! changes from tick to tick is all that is written down.
//!
//! ```text
//! 6 words of the whole | 4 groups of 6 words | for each rig: 10 words of its frame, 8 axes of 17 words
//! ```

use super::Head;
use super::bytes::{In, Out};
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::fmt::Debug;
use stillhand_engine::input::PadId;
use stillhand_engine::operate::modes::Switch;
use stillhand_engine::operator::MAX_GROUPS;
use stillhand_engine::output::{
    AxisStatus, Ceiling, Enabled, GroupStatus, Mover, Outputs, Place, RigOutput, State, Status,
};
use stillhand_engine::{MAX_AXES, MAX_RIGS};

/// How a word is to be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    /// The bits of a double.
    Double,
    /// A whole number.
    Whole,
    /// A whole number that may be below 0.
    Signed,
    /// 0 for no, 1 for yes.
    Flag,
    /// Nanoseconds.
    Nanos,
    /// 0 for none, otherwise nanoseconds and one more.
    NanosOrNone,
    State,
    Switch,
    Pad,
    Ceiling,
    Mover,
    Place,
    Enabled,
}

/// A word's name and how to read it.
type Field = (&'static str, Kind);

const WHOLE: [Field; 6] = [
    ("state", Kind::State),
    ("ended", Kind::Flag),
    ("quiet", Kind::Switch),
    ("still", Kind::Switch),
    ("reduced", Kind::Switch),
    ("rolling", Kind::Switch),
];

const GROUP: [Field; 6] = [
    ("pad", Kind::Pad),
    ("asked", Kind::Pad),
    ("silent_for", Kind::Nanos),
    ("silence_bound", Kind::NanosOrNone),
    ("gear", Kind::Whole),
    ("trigger_unheard", Kind::Flag),
];

const FRAME: [Field; 2] = [("frame", Kind::Flag), ("frame number", Kind::Whole)];

const AXIS: [Field; 17] = [
    ("position", Kind::Double),
    ("referenced", Kind::Flag),
    ("speed", Kind::Double),
    ("accel", Kind::Double),
    ("demand", Kind::Double),
    ("full_stick", Kind::Double),
    ("binding", Kind::Ceiling),
    ("trigger", Kind::Double),
    ("shared", Kind::Double),
    ("mover", Kind::Mover),
    ("place", Kind::Place),
    ("enabled", Kind::Enabled),
    ("armed", Kind::Flag),
    ("stop_time", Kind::Double),
    ("stop_distance", Kind::Double),
    ("band_low", Kind::Double),
    ("band_high", Kind::Double),
];

const FRAME_WORDS: usize = FRAME.len() + MAX_AXES;
const RIG_WORDS: usize = FRAME_WORDS + MAX_AXES * AXIS.len();
const BEFORE_RIGS: usize = WHOLE.len() + MAX_GROUPS * GROUP.len();

/// One tick's outputs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row(Vec<u64>);

impl Row {
    /// All zeros, for so many rigs (at most [`MAX_RIGS`]).
    pub fn zeros(rigs: usize) -> Row {
        Row(vec![0; BEFORE_RIGS + rigs.min(MAX_RIGS) * RIG_WORDS])
    }

    /// All zeros again.
    pub fn clear(&mut self) {
        self.0.fill(0);
    }

    /// Takes what a tick brought forth. Allocates nothing.
    pub fn take(&mut self, outputs: &Outputs) {
        let mut words = self.0.iter_mut();
        let mut put = |all: &[u64]| {
            all.iter()
                .zip(&mut words)
                .for_each(|(from, to)| *to = *from);
        };
        put(&whole(&outputs.status, outputs.ended));
        for group in &outputs.status.groups {
            put(&group_words(group));
        }
        for rig in &outputs.rigs {
            put(&frame_words(rig));
            for axis in &rig.axes {
                put(&axis_words(axis));
            }
        }
    }

    /// Writes down which words are not those of `before`.
    pub(super) fn write(&self, before: &Row, out: &mut Out) {
        let mut last = 0;
        for (place, (now, was)) in self.0.iter().zip(&before.0).enumerate() {
            let changed = now ^ was;
            if changed == 0 {
                continue;
            }
            out.number((place - last) as u64);
            last = place;
            let low = changed.trailing_zeros() / 8;
            let count = 8 - low - changed.leading_zeros() / 8;
            out.put(&[(low << 4 | count) as u8]);
            out.put(&(changed >> (8 * low)).to_le_bytes()[..count as usize]);
        }
    }

    /// Changes the words that were written down; `None` if that is no such list.
    pub(super) fn read(&mut self, from: &mut In) -> Option<()> {
        let mut place = 0_usize;
        while !from.0.is_empty() {
            place = place.checked_add(usize::try_from(from.number()?).ok()?)?;
            let lengths = from.byte()?;
            let (low, count) = (u32::from(lengths >> 4), usize::from(lengths & 15));
            if count == 0 || count + low as usize > 8 {
                return None;
            }
            let mut bytes = [0; 8];
            bytes[..count].copy_from_slice(from.take(count)?);
            *self.0.get_mut(place)? ^= u64::from_le_bytes(bytes) << (8 * low);
        }
        Some(())
    }

    /// The first word in which `other` is different: its place, ours and the other's.
    pub fn first_difference(&self, other: &Row) -> Option<(usize, u64, u64)> {
        let pairs = self.0.iter().zip(&other.0).enumerate();
        let mut unlike = pairs.filter(|(_, (ours, theirs))| ours != theirs);
        unlike.next().map(|(place, (a, b))| (place, *a, *b))
    }

    /// Whether the rig may move.
    pub fn state(&self) -> Option<State> {
        decoded(self.0[0])
    }

    /// Which modes are on.
    pub fn modes(&self) -> [bool; 4] {
        [2, 3, 4, 5].map(|place: usize| decoded::<Switch>(self.0[place]).is_some_and(Switch::on))
    }

    /// The gear of a group, 0 the slowest.
    pub fn gear(&self, group: usize) -> u64 {
        self.0[WHOLE.len() + group * GROUP.len() + 4]
    }

    /// How an axis stood; `None` if there is no such rig.
    pub fn axis(&self, rig: usize, axis: usize) -> Option<AxisRow> {
        let begin = BEFORE_RIGS + rig * RIG_WORDS + FRAME_WORDS + axis * AXIS.len();
        let words = self.0.get(begin..begin + AXIS.len())?;
        Some(AxisRow {
            position: f64::from_bits(words[0]),
            referenced: words[1] != 0,
            speed: f64::from_bits(words[2]),
            accel: f64::from_bits(words[3]),
            demand: f64::from_bits(words[4]),
            full_stick: f64::from_bits(words[5]),
            binding: decoded::<Option<Ceiling>>(words[6]).flatten(),
            place: decoded(words[10]).unwrap_or_default(),
            mover: decoded(words[9]).unwrap_or_default(),
            armed: words[12] != 0,
        })
    }

    /// Changes a bit of a word, for tests of what compares rows.
    #[doc(hidden)]
    pub fn doctor(&mut self, place: usize, bit: u32) {
        self.0[place] ^= 1 << bit;
    }
}

/// What a tick said of an axis, as far as tables and plots show it; units as in [`AxisStatus`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AxisRow {
    /// Where it was.
    pub position: f64,
    /// Whether that was to be believed.
    pub referenced: bool,
    /// The speed it was commanded to go.
    pub speed: f64,
    /// The acceleration of that speed.
    pub accel: f64,
    /// What the sticks asked for, -1..=1.
    pub demand: f64,
    /// The speed of a full stick.
    pub full_stick: f64,
    /// The ceiling that made it so.
    pub binding: Option<Ceiling>,
    /// Where it stood with regard to its travel.
    pub place: Place,
    /// What moved it.
    pub mover: Mover,
    /// Whether its control was armed.
    pub armed: bool,
}

/// The name of the word at a place, as a person reads it: `pan: speed`.
pub fn name(place: usize, head: &Head) -> String {
    if let Some((name, _)) = WHOLE.get(place) {
        return (*name).to_owned();
    }
    let place = place - WHOLE.len();
    if place < MAX_GROUPS * GROUP.len() {
        return format!("group {}: {}", place / GROUP.len() + 1, field(place).0);
    }
    let place = place - MAX_GROUPS * GROUP.len();
    let (rig, within) = (place / RIG_WORDS, place % RIG_WORDS);
    let axis_name = |axis: usize| {
        let known = head.rigs.get(rig).and_then(|rig| rig.axes.get(axis));
        known.map_or_else(|| format!("axis {}", axis + 1), |(name, _)| name.clone())
    };
    let name = match (FRAME.get(within), within.checked_sub(FRAME_WORDS)) {
        (Some((name, _)), _) => (*name).to_owned(),
        (None, None) => format!("{}: frame velocity", axis_name(within - FRAME.len())),
        (None, Some(place)) => {
            let (name, _) = AXIS[place % AXIS.len()];
            format!("{}: {name}", axis_name(place / AXIS.len()))
        }
    };
    match head.rigs.len() {
        0 | 1 => name,
        _ => format!("rig {}: {name}", rig + 1),
    }
}

/// A group's field by its place behind the first words.
fn field(place: usize) -> Field {
    GROUP[place % GROUP.len()]
}

/// What a word at a place says, as a person reads it.
pub fn value(place: usize, word: u64) -> String {
    match kind(place) {
        Kind::Double => format!("{:?}", f64::from_bits(word)),
        Kind::Whole => word.to_string(),
        Kind::Signed => word.cast_signed().to_string(),
        Kind::Flag => (if word == 0 { "no" } else { "yes" }).to_owned(),
        Kind::Nanos => format!("{word} ns"),
        Kind::NanosOrNone => match word {
            0 => "none".to_owned(),
            more => format!("{} ns", more - 1),
        },
        Kind::State => shown::<State>(word),
        Kind::Switch => shown::<Switch>(word),
        Kind::Pad => shown::<Option<PadId>>(word),
        Kind::Ceiling => shown::<Option<Ceiling>>(word),
        Kind::Mover => shown::<Mover>(word),
        Kind::Place => shown::<Place>(word),
        Kind::Enabled => shown::<Enabled>(word),
    }
}

fn kind(place: usize) -> Kind {
    if let Some((_, kind)) = WHOLE.get(place) {
        return *kind;
    }
    if place < BEFORE_RIGS {
        return field(place - WHOLE.len()).1;
    }
    let within = (place - BEFORE_RIGS) % RIG_WORDS;
    match (FRAME.get(within), within.checked_sub(FRAME_WORDS)) {
        (Some((_, kind)), _) => *kind,
        (None, None) => Kind::Signed,
        (None, Some(place)) => AXIS[place % AXIS.len()].1,
    }
}

fn whole(status: &Status, ended: bool) -> [u64; WHOLE.len()] {
    let modes = status.modes;
    [
        coded(&status.state),
        u64::from(ended),
        coded(&modes.quiet),
        coded(&modes.still),
        coded(&modes.reduced),
        coded(&modes.rolling),
    ]
}

fn group_words(group: &GroupStatus) -> [u64; GROUP.len()] {
    // All of it, so that a new field does not go by unseen; and so with an axis.
    let GroupStatus {
        pad,
        asked,
        silent_for,
        silence_bound,
        gear,
        trigger_unheard,
    } = group;
    [
        coded(pad),
        coded(asked),
        silent_for.0,
        silence_bound.map_or(0, |bound| bound.0.saturating_add(1)),
        u64::from(*gear),
        u64::from(*trigger_unheard),
    ]
}

fn frame_words(rig: &RigOutput) -> [u64; FRAME_WORDS] {
    let mut words = [0; FRAME_WORDS];
    if let Some(frame) = rig.frame {
        words[0] = 1;
        words[1] = u64::from(frame.seq);
        for (word, velocity) in words[FRAME.len()..].iter_mut().zip(frame.velocity) {
            *word = i64::from(velocity).cast_unsigned();
        }
    }
    words
}

fn axis_words(axis: &AxisStatus) -> [u64; AXIS.len()] {
    let AxisStatus {
        position,
        referenced,
        speed,
        accel,
        demand,
        full_stick,
        binding,
        band,
        trigger,
        shared,
        mover,
        place,
        enabled,
        armed,
        stop_time,
        stop_distance,
    } = axis;
    let band = band.unwrap_or_default();
    [
        position.to_bits(),
        u64::from(*referenced),
        speed.to_bits(),
        accel.to_bits(),
        demand.to_bits(),
        full_stick.to_bits(),
        coded(binding),
        trigger.to_bits(),
        shared.to_bits(),
        coded(mover),
        coded(place),
        coded(enabled),
        u64::from(*armed),
        stop_time.to_bits(),
        stop_distance.to_bits(),
        band.low.0.to_bits(),
        band.high.0.to_bits(),
    ]
}

/// A choice in postcard's form, its first byte the lowest. The longest, a state with its reason, has four.
fn coded<T: Serialize>(value: &T) -> u64 {
    let mut bytes = [0; 8];
    match postcard::to_slice(value, &mut bytes) {
        Ok(_) => u64::from_le_bytes(bytes),
        // Longer than eight bytes, which no choice is.
        Err(_) => u64::MAX,
    }
}

fn decoded<T: DeserializeOwned>(word: u64) -> Option<T> {
    postcard::from_bytes(&word.to_le_bytes()).ok()
}

fn shown<T: DeserializeOwned + Debug>(word: u64) -> String {
    decoded::<T>(word).map_or_else(|| format!("{word:#x}"), |value| format!("{value:?}"))
}
