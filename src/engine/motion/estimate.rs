//! Where the axes of a rig are: what was sent, summed up, kept true by what the rig tells.
//!
//! The rig tells its position at the moment it applied a frame. Comparing that with the sum up to
//! the moment the same frame was sent takes the delay between the two out of the comparison.

use crate::MAX_AXES;
use crate::input::Telemetry;
use crate::units::Unit;

/// How many sent frames are remembered: a quarter second at 1000 frames a second, which is longer
/// than any frame stays valid.
const REMEMBERED: usize = 256;

/// Share of a residual beyond one count that is taken over at each telling. A quarter settles in a
/// tenth of a second and lets a single odd telling pass.
const TAKEN_OVER: f64 = 0.25;

/// The positions of one rig's axes.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Estimate {
    /// Sum of velocity times time since the rig was met, in units.
    sum: [f64; MAX_AXES],
    /// Position minus sum.
    offset: [f64; MAX_AXES],
    /// The velocities the rig is following, in units/s.
    in_force: [f64; MAX_AXES],
    #[cfg_attr(feature = "serde", serde(with = "remembered"))]
    sent: [Sent; REMEMBERED],
}

#[derive(Clone, Copy, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
struct Sent {
    seq: u32,
    sum: [f64; MAX_AXES],
}

/// What a telling says of one axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Residual {
    /// Told minus expected, in units.
    pub found: f64,
    /// The most that is not a fault, in units.
    pub allowed: f64,
}

impl Estimate {
    /// A rig at rest at `position`.
    pub fn at(position: [f64; MAX_AXES]) -> Estimate {
        Estimate {
            sum: [0.0; MAX_AXES],
            offset: position,
            in_force: [0.0; MAX_AXES],
            sent: [Sent {
                seq: 0,
                sum: [0.0; MAX_AXES],
            }; REMEMBERED],
        }
    }

    /// The position of an axis once the rig has followed everything up to now.
    pub fn position(&self, axis: usize) -> f64 {
        self.sum[axis] + self.offset[axis]
    }

    /// Puts an axis at `position`, whatever was summed up for it.
    pub fn put(&mut self, axis: usize, position: f64) {
        self.offset[axis] = position - self.sum[axis];
    }

    /// Lets `dt` seconds pass under the velocities in force.
    pub fn pass(&mut self, dt: f64) {
        for (sum, v) in self.sum.iter_mut().zip(self.in_force) {
            *sum += v * dt;
        }
    }

    /// From now on the rig follows frame `seq`, whose velocities in units/s are these.
    pub fn sent(&mut self, seq: u32, velocity: [f64; MAX_AXES]) {
        self.in_force = velocity;
        self.sent[seq as usize % REMEMBERED] = Sent { seq, sum: self.sum };
    }

    /// Compares what the rig tells of `axis` with what is expected, and takes a part of the
    /// difference over. `None` if the frame it applied is no longer (or not yet) known.
    pub fn told(
        &mut self,
        axis: usize,
        told: &Telemetry,
        count: f64,
        unit: Unit,
    ) -> Option<Residual> {
        let sent = self.sent[told.applied as usize % REMEMBERED];
        if sent.seq != told.applied || told.applied == 0 {
            return None;
        }
        let found = told.at_applied[axis] - (sent.sum[axis] + self.offset[axis]);
        let beyond = if found > count {
            found - count
        } else if found < -count {
            found + count
        } else {
            0.0
        };
        self.offset[axis] += TAKEN_OVER * beyond;
        Some(Residual {
            found,
            allowed: tolerance(unit) + JITTER_S * self.in_force[axis].abs(),
        })
    }
}

/// Frames can reach the rig this much earlier or later than the average without anything being
/// wrong: the age at which a rig drops them.
const JITTER_S: f64 = 0.1;

/// A difference at rest that no rounding explains: something slipped or was pushed.
fn tolerance(unit: Unit) -> f64 {
    match unit {
        Unit::Deg => 1.0,
        Unit::Mm => 10.0,
    }
}

/// Only the frames that were sent, each of which knows its place: fewer bytes, and serde's arrays end at
/// 32.
#[cfg(feature = "serde")]
mod remembered {
    use super::{MAX_AXES, REMEMBERED, Sent};
    use serde::de::{Deserializer, SeqAccess, Visitor};
    use serde::ser::{SerializeSeq, Serializer};

    pub fn serialize<S: Serializer>(sent: &[Sent; REMEMBERED], to: S) -> Result<S::Ok, S::Error> {
        let known = || sent.iter().filter(|one| one.seq != 0);
        let mut list = to.serialize_seq(Some(known().count()))?;
        known().try_for_each(|one| list.serialize_element(one))?;
        list.end()
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<[Sent; REMEMBERED], D::Error> {
        from.deserialize_seq(Places)
    }

    struct Places;

    impl<'de> Visitor<'de> for Places {
        type Value = [Sent; REMEMBERED];

        fn expecting(&self, f: &mut core::fmt::Formatter) -> core::fmt::Result {
            f.write_str("frames that were sent")
        }

        fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Self::Value, A::Error> {
            let none = Sent {
                seq: 0,
                sum: [0.0; MAX_AXES],
            };
            let mut sent = [none; REMEMBERED];
            while let Some(one) = list.next_element::<Sent>()? {
                sent[one.seq as usize % REMEMBERED] = one;
            }
            Ok(sent)
        }
    }
}
