//! The kinds of damage, and how bytes are damaged.

use super::Random;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// One to eight bits are others.
    Flipped,
    /// The end is missing, with the 0x00 or but for it.
    Truncated,
    /// The beginning of one frame, the end of another.
    Spliced,
    /// A byte is missing, doubled, put in, or swapped with its neighbour.
    Shifted,
    /// No frame ever: any bytes, ended or not.
    Garbage,
    /// A frame that has been acted upon, again.
    Duplicate,
    /// A frame that was overtaken by a newer one.
    Reordered,
    /// A frame whose time is over, or from another time.
    Outdated,
    /// A frame of a session that has ended.
    OldSession,
    /// A frame of somebody else's session.
    ForeignSession,
    /// An intact frame that is no message here: an echo, bytes left over, axes too few.
    Misfit,
}

impl Kind {
    pub const ALL: [Kind; 11] = [
        Kind::Flipped,
        Kind::Truncated,
        Kind::Spliced,
        Kind::Shifted,
        Kind::Garbage,
        Kind::Duplicate,
        Kind::Reordered,
        Kind::Outdated,
        Kind::OldSession,
        Kind::ForeignSession,
        Kind::Misfit,
    ];

    /// Whether its bytes are damaged, rather than what it says being out of place.
    pub fn is_of_bytes(self) -> bool {
        match self {
            Kind::Flipped | Kind::Truncated | Kind::Spliced | Kind::Shifted | Kind::Garbage => true,
            Kind::Duplicate
            | Kind::Reordered
            | Kind::Outdated
            | Kind::OldSession
            | Kind::ForeignSession
            | Kind::Misfit => false,
        }
    }
}

/// Damages the bytes of frames.
pub fn damage(kind: Kind, makers: &[Vec<u8>; 2], random: &mut Random) -> Vec<u8> {
    let mut bytes = makers[0].clone();
    match kind {
        Kind::Flipped => {
            for _ in 0..=random.below(8) {
                let at = random.below(bytes.len());
                bytes[at] ^= 1 << random.below(8);
            }
        }
        Kind::Truncated => {
            bytes.truncate(random.below(bytes.len()));
            if random.one_in(2) {
                bytes.push(0);
            }
        }
        Kind::Spliced => {
            let tail = &makers[1][random.below(makers[1].len())..];
            bytes.truncate(random.below(bytes.len()));
            bytes.extend_from_slice(tail);
        }
        Kind::Shifted => {
            let at = random.below(bytes.len() - 1);
            match random.below(4) {
                0 => drop(bytes.remove(at)),
                1 => bytes.insert(at, bytes[at]),
                2 => bytes.insert(at, random.next() as u8),
                _ => bytes.swap(at, at + 1),
            }
        }
        Kind::Garbage => {
            // Now and then longer than any frame.
            let most = if random.one_in(20) { 700 } else { 40 };
            bytes = (0..=random.below(most))
                .map(|_| random.next() as u8)
                .collect();
            if random.one_in(2) {
                bytes.push(0);
            }
        }
        Kind::Duplicate
        | Kind::Reordered
        | Kind::Outdated
        | Kind::OldSession
        | Kind::ForeignSession
        | Kind::Misfit => {}
    }
    bytes
}
