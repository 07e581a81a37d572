//! A hostile line: one frame in ten is good, the others are damaged in every way a line, a relay or an old
//! buffer can damage them. Both ends of the wire are held against it.
//!
//! What a receiver owes. A **run** is what stands between two 0x00.
//!
//! - A run that is exactly one frame that is due is **acted upon**, always.
//! - A frame directly behind bytes that no 0x00 has ended is one run with them. COBS has no way to tell the
//!   two apart, so that frame is lost, and only that one; the two together count as damage.
//! - Any other run changes **nothing**.
//!
//! A bit that flips is not damage by itself: twice the 0x00, or a flip in a byte that was cut off, leave the
//! frame what it was. And one damaged frame in 2^32 has a CRC that agrees by chance; no receiver can tell. So
//! the generator reads each run itself (`claims::page`, which shares no code with the wire) before it sends
//! it. A damaged run whose CRC agrees is not sent but counted and drawn again: as `harmless` if it says
//! what one of its makers said, else as `collision`.

#![allow(dead_code)] // Each end uses its own part.

pub mod daemon_end;
pub mod damage;
pub mod rig_end;
pub mod tally;

use crate::claims::page;
use damage::Kind;
use tally::Tally;

/// SplitMix64 (Steele, Lea & Flood 2014, constants from memory).
pub struct Random(pub u64);

impl Random {
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A number below `most`.
    pub fn below(&mut self, most: usize) -> usize {
        (self.next() % most as u64) as usize
    }

    pub fn one_in(&mut self, most: usize) -> bool {
        self.below(most) == 0
    }

    pub fn pick<'a, T>(&mut self, from: &'a [T]) -> &'a T {
        &from[self.below(from.len())]
    }
}

/// The honest end, whose frames the line damages.
pub trait Sender {
    /// A frame that would be acted upon if it came now as it is, and changes something.
    fn tempting(&mut self, random: &mut Random) -> Vec<u8>;
    /// An intact frame that must not be acted upon; `None` if there can be none of this kind yet.
    fn unwanted(&mut self, kind: Kind, random: &mut Random) -> Option<Vec<u8>>;
    /// The frame that is due.
    fn due(&mut self, random: &mut Random) -> Vec<u8>;
}

/// What comes over the line next.
pub struct Item {
    /// How it is damaged; `None` for the frame that is due.
    pub kind: Option<Kind>,
    pub bytes: Vec<u8>,
    /// It stands behind bytes that no 0x00 has ended.
    pub behind: bool,
}

/// How many frames hold one good one.
pub const TEN: usize = 10;

/// The line, with what stands on it and has not ended.
pub struct Line {
    pub random: Random,
    pub tally: Tally,
    open: Vec<u8>,
    /// What the frames say that it was made of.
    said: Vec<Vec<u8>>,
    /// The place of the next item among ten, and which of them is the good one.
    place: usize,
    good: usize,
}

impl Line {
    pub fn new(seed: u64) -> Line {
        Line {
            random: Random(seed),
            tally: Tally::default(),
            open: Vec::new(),
            said: Vec::new(),
            place: 0,
            good: 0,
        }
    }

    /// The line was at rest: whatever stood on it has ended.
    pub fn clear(&mut self) {
        self.open.clear();
        self.said.clear();
    }

    pub fn next(&mut self, sender: &mut impl Sender) -> Item {
        if self.place == 0 {
            self.good = self.random.below(TEN);
        }
        let good = self.place == self.good;
        self.place = (self.place + 1) % TEN;
        let item = if good {
            self.good(sender)
        } else {
            self.damaged(sender)
        };
        self.tally.sent(&item);
        match item.bytes.iter().rposition(|byte| *byte == 0) {
            Some(end) => self.open = item.bytes[end + 1..].to_vec(),
            None => self.open.extend_from_slice(&item.bytes),
        }
        item
    }

    /// The frame that is due, with 0x00 around it now and then: nothing says that there is only one.
    fn good(&mut self, sender: &mut impl Sender) -> Item {
        let frame = sender.due(&mut self.random);
        loop {
            let before = [0, 0, 0, 0, 0, 0, 1, 2][self.random.below(8)];
            let after = [0, 0, 0, 0, 0, 0, 0, 3][self.random.below(8)];
            let bytes = [&vec![0; before][..], &frame, &vec![0; after]].concat();
            let behind = before == 0 && !self.open.is_empty();
            // What it ends, or what it is with the bytes before it, is no frame.
            let due = page::payload(&frame[..frame.len() - 1]);
            let others = self.runs(&bytes).into_iter().filter(|run| *run != due);
            if others.flatten().next().is_none() {
                self.said.clear();
                return Item {
                    kind: None,
                    bytes,
                    behind,
                };
            }
        }
    }

    fn damaged(&mut self, sender: &mut impl Sender) -> Item {
        loop {
            let kind = *self.random.pick(&Kind::ALL);
            let (bytes, makers) = if kind.is_of_bytes() {
                let makers = [(); 2].map(|()| sender.tempting(&mut self.random));
                let bytes = damage::damage(kind, &makers, &mut self.random);
                (bytes, makers.to_vec())
            } else {
                let Some(frame) = sender.unwanted(kind, &mut self.random) else {
                    continue;
                };
                // Whole, or it would only be some garbage more.
                let start = usize::from(!self.open.is_empty());
                ([&vec![0; start][..], &frame].concat(), vec![frame])
            };
            let mut intact = self.runs(&bytes);
            if !kind.is_of_bytes() {
                assert!(
                    intact.pop().flatten().is_some(),
                    "{kind:?} is intact itself"
                );
            }
            let says = |maker: &Vec<u8>| page::payload(&maker[..maker.len() - 1]);
            let says: Vec<Vec<u8>> = makers.iter().filter_map(says).collect();
            let Some(run) = intact.into_iter().flatten().next() else {
                let behind = !self.open.is_empty();
                if bytes.contains(&0) {
                    self.said.clear();
                }
                self.said.extend(says);
                return Item {
                    kind: Some(kind),
                    bytes,
                    behind,
                };
            };
            if self.said.contains(&run) || says.contains(&run) {
                self.tally.harmless += 1;
            } else {
                self.tally.collisions += 1;
            }
        }
    }

    /// The payload of each run that these bytes would end, if it is intact.
    fn runs(&self, bytes: &[u8]) -> Vec<Option<Vec<u8>>> {
        let line = [&self.open, bytes].concat();
        let mut runs: Vec<&[u8]> = line.split(|byte| *byte == 0).collect();
        runs.pop();
        let whole = runs.into_iter().filter(|run| !run.is_empty());
        whole.map(page::payload).collect()
    }
}
