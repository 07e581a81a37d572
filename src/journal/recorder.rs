//! The loop's end of the journal: encodes each turn and offers it to the ring, and never waits.

use super::bytes::Out;
use super::row::Row;
use super::{Bounds, Standing};
use rtrb::{Consumer, Producer, RingBuffer};
use std::sync::Arc;
use std::sync::atomic::Ordering;
use stillhand_engine::input::{Inputs, Tick};
use stillhand_engine::output::Outputs;
use stillhand_engine::{Engine, MAX_RIGS};

/// The kinds of records; `FORMAT.md` says what each holds.
pub(super) mod kind {
    /// What the file is.
    pub const HEAD: u8 = 0;
    /// The engine before the tick that follows.
    pub const IMAGE: u8 = 1;
    /// A tick: what went in and what came out.
    pub const TICK: u8 = 2;
    /// Ticks that are not recorded.
    pub const GAP: u8 = 3;
    /// The run ended as it should.
    pub const END: u8 = 4;
}

/// Bits of a tick's first byte.
pub(super) mod flag {
    /// A stop was in its slot.
    pub const STOP: u8 = 1;
    /// Another profile came.
    pub const OPERATOR: u8 = 2;
    /// Another rig file came.
    pub const RIG: u8 = 4;
    /// An errand came.
    pub const ERRAND: u8 = 8;
}

/// Records what goes through the engine. All its calls are made by the loop, around each step.
#[derive(Debug)]
pub struct Recorder {
    ring: Producer<u8>,
    standing: Arc<Standing>,
    out: Out,
    now: Row,
    before: Row,
    /// The last tick that was recorded, or the one an image was made before.
    last: Tick,
    /// Bytes since the last image; `None` before the first and after a gap.
    since: Option<usize>,
    /// The first tick that is missing, and how many are.
    missing: Option<(u64, u64)>,
    file_bytes: usize,
}

/// A step of the engine, recorded if there is a recorder.
pub fn step<'a>(
    engine: &'a mut Engine,
    recorder: &mut Option<Recorder>,
    tick: Tick,
    inputs: Inputs<'_>,
) -> &'a Outputs {
    let Some(recorder) = recorder else {
        return engine.step(tick, inputs);
    };
    recorder.before(engine, tick, &inputs);
    engine.step(tick, inputs);
    recorder.after(tick, engine.outputs());
    engine.outputs()
}

impl Recorder {
    /// A recorder, and the end of its ring for the writer. Everything it will ever need is allocated here.
    pub fn new(bounds: &Bounds, standing: Arc<Standing>) -> (Recorder, Consumer<u8>) {
        let (mut ring, mut far) = RingBuffer::new(bounds.ring_bytes);
        // Every page of it is touched now, so that none is missing in a turn.
        if ring.push_entire_slice(&vec![0; bounds.ring_bytes]).is_ok()
            && let Ok(chunk) = far.read_chunk(bounds.ring_bytes)
        {
            chunk.commit_all();
        }
        let recorder = Recorder {
            ring,
            standing,
            out: Out::new(),
            now: Row::zeros(MAX_RIGS),
            before: Row::zeros(MAX_RIGS),
            last: Tick {
                index: 0,
                now: stillhand_engine::time::Time(0),
            },
            since: None,
            missing: None,
            file_bytes: bounds.file_bytes,
        };
        (recorder, far)
    }

    /// To be called right before a step, with what it is given.
    pub fn before(&mut self, engine: &Engine, tick: Tick, inputs: &Inputs<'_>) {
        if self.standing.is_stopped() {
            return;
        }
        let at_rest = || {
            let mut axes = engine.outputs().rigs.iter().flat_map(|rig| &rig.axes);
            axes.all(|axis| axis.speed == 0.0)
        };
        let due = self.since.is_none_or(|since| {
            since >= 2 * self.file_bytes || since >= self.file_bytes && at_rest()
        });
        if due {
            self.image(engine, tick);
        }
        self.out.clear();
        self.out.begin(kind::TICK);
        self.inputs(tick, inputs);
    }

    /// To be called right after it, with what came out.
    pub fn after(&mut self, tick: Tick, outputs: &Outputs) {
        if self.standing.is_stopped() {
            return;
        }
        if self.since.is_none() {
            self.misses(tick.index);
            return;
        }
        let out = &mut self.out;
        out.number(outputs.notices.iter().count() as u64);
        out.number(u64::from(outputs.notices.dropped));
        outputs.notices.iter().for_each(|notice| out.value(&notice));
        self.now.take(outputs);
        self.now.write(&self.before, out);
        out.seal();
        if self.offer() {
            std::mem::swap(&mut self.now, &mut self.before);
            self.last = tick;
        } else {
            self.misses(tick.index);
        }
    }

    /// The loop ended as it should.
    pub fn end(mut self) {
        self.out.clear();
        self.gap();
        self.out.begin(kind::END);
        self.out.seal();
        // Without room the file ends without it, as after a crash.
        self.offer();
    }

    /// The engine as it stands, with which the writer begins another file. Without room for it the ticks
    /// up to the next try are missing.
    fn image(&mut self, engine: &Engine, tick: Tick) {
        // After a gap only once half of the ring is empty again: an image that is refused in every turn would
        // cost the loop more than one that is not tried.
        if self.missing.is_some() && self.ring.slots() < self.ring.buffer().capacity() / 2 {
            return;
        }
        self.out.clear();
        self.gap();
        self.out.begin(kind::IMAGE);
        self.out.put(&tick.index.to_le_bytes());
        self.out.put(&tick.now.0.to_le_bytes());
        self.out.value(engine);
        self.out.seal();
        self.since = None;
        if self.offer() {
            self.since = Some(0);
            self.missing = None;
            self.last = tick;
            self.before.clear();
        }
    }

    fn gap(&mut self) {
        if let Some((first, count)) = self.missing {
            self.out.begin(kind::GAP);
            self.out.put(&first.to_le_bytes());
            self.out.put(&count.to_le_bytes());
            self.out.seal();
        }
    }

    fn inputs(&mut self, tick: Tick, inputs: &Inputs<'_>) {
        let out = &mut self.out;
        let bit = |on: bool, bit: u8| if on { bit } else { 0 };
        let flags = bit(inputs.stop.is_some(), flag::STOP)
            | bit(inputs.operator.is_some(), flag::OPERATOR)
            | bit(inputs.rig.is_some(), flag::RIG)
            | bit(inputs.errand.is_some(), flag::ERRAND);
        out.put(&[flags]);
        out.number(tick.index.wrapping_sub(self.last.index));
        out.number(tick.now.since(self.last.now).0);
        if let Some(stop) = &inputs.stop {
            out.value(stop);
        }
        out.number(inputs.edges.len() as u64);
        inputs.edges.iter().for_each(|edge| out.value(edge));
        if let Some(operator) = &inputs.operator {
            out.value(&**operator);
        }
        if let Some((place, rig)) = &inputs.rig {
            out.put(&[*place]);
            out.value(&**rig);
        }
        if let Some(errand) = &inputs.errand {
            out.value(&**errand);
        }
    }

    /// Offers what is in the buffer to the ring, whole or not at all.
    fn offer(&mut self) -> bool {
        let Some(records) = self.out.whole() else {
            return false;
        };
        if self.ring.push_entire_slice(records).is_err() {
            return false;
        }
        self.since = self.since.map(|since| since + records.len());
        true
    }

    fn misses(&mut self, index: u64) {
        self.since = None;
        let (_, count) = self.missing.get_or_insert((index, 0));
        *count += 1;
        self.standing.lost.fetch_add(1, Ordering::Relaxed);
    }
}
