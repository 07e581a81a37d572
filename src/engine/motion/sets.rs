//! Which acceleration and jerk limits are in force on an axis.

use crate::operator::{Hand, QUIET_SHARE, Quiet};
use crate::rig::LimitSet;
use crate::time::Span;
use crate::units::{Accel, Jerk, Speed};

/// The limits of live motion: one set to gain speed, one to lose it.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Sets {
    /// While speed is gained.
    pub gain: LimitSet,
    /// While speed is lost, and for planned braking at an end.
    pub lose: LimitSet,
}

impl Sets {
    /// The sets of a hand in a gear (0 the slowest), under the rig's `normal` set; `peak` is the
    /// highest speed since the acceleration was last zero, from which a losing of speed counts.
    pub fn of(hand: &Hand, gear: u8, peak: f64, quiet: bool, normal: LimitSet) -> Sets {
        let full = hand.gears.speed(gear);
        let from = full.higher(Speed(peak));
        let sets = Sets {
            gain: timed(full, hand.gain, normal),
            lose: timed(from, hand.lose, normal),
        };
        if !quiet {
            return sets;
        }
        let quiet = quiet_set(hand, normal);
        Sets {
            gain: sets.gain.softer(quiet),
            lose: sets.lose.softer(quiet),
        }
    }

    /// One set that was asked for, to gain and to lose speed, under the rig's `normal` set and that of quiet.
    pub fn asked(set: LimitSet, hand: &Hand, quiet: bool, normal: LimitSet) -> Sets {
        let set = set.softer(normal);
        let set = match quiet {
            true => set.softer(quiet_set(hand, normal)),
            false => set,
        };
        Sets {
            gain: set,
            lose: set,
        }
    }
}

/// The set of quiet for a hand.
fn quiet_set(hand: &Hand, normal: LimitSet) -> LimitSet {
    match hand.quiet {
        Quiet::Measured { set, .. } => set,
        Quiet::NotMeasured => normal.times(QUIET_SHARE),
    }
}

/// The set that changes speed by `speed` in `time`: one third of the time builds the acceleration
/// up and one third takes it off, so a = 1.5 V/T and j = 4.5 V/T^2; then lowered to `normal`.
pub fn timed(speed: Speed, time: Span, normal: LimitSet) -> LimitSet {
    let t = time.secs();
    let own = LimitSet {
        accel: Accel(1.5 * speed.0 / t),
        jerk: Jerk(4.5 * speed.0 / (t * t)),
    };
    own.softer(normal)
}
