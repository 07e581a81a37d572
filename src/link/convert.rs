//! Between the picture's units and the rig's counts.

use super::accept::Refusal;
use stillhand_engine::input::RigReport;
use stillhand_engine::rig::{Axis, LimitSet, Rig, Travel};
use stillhand_engine::units::{Accel, Jerk};
use stillhand_wire::messages::{AxisSetup, MAX_ACCEL, MAX_JERK, PerAxis, Ramp, Setup, Why};

/// Converts for one axis.
#[derive(Clone, Copy, Debug)]
pub struct Scale {
    /// Counts per unit of the picture; negative if the rig counts the other way.
    counts: f64,
}

impl Scale {
    /// The scale of `axis`.
    pub fn of(axis: &Axis) -> Scale {
        Scale {
            counts: axis.counts_per_unit * axis.sense.sign(),
        }
    }

    /// Counts of the rig as a position in the picture's units.
    pub fn units(self, counts: i64) -> f64 {
        counts as f64 / self.counts
    }

    /// A position in the picture's units as the nearest whole count.
    pub fn counts(self, units: f64) -> i32 {
        // The cast saturates.
        (units * self.counts).round() as i32
    }

    /// A position in the picture's units in whole counts, rounded towards the middle of `0..`.
    fn inside(self, low: f64, high: f64) -> (f64, f64) {
        let (a, b) = (low * self.counts, high * self.counts);
        let (low, high) = if a < b { (a, b) } else { (b, a) };
        // A thousandth of a count forgives the rounding of decimal scales.
        ((low - 1e-3).ceil(), (high + 1e-3).floor())
    }
}

/// What the rig is asked to enforce: the travel of its file, and its stop sets.
///
/// `stop` gives the set that stops a motion of each axis in the direction of a sign, as far as the
/// rig agrees to it.
///
/// # Errors
/// A travel or stop set that does not fit the numbers of the wire: one cut to fit would make the rig
/// stop later than anybody has worked out.
pub fn setup(
    rig: &Rig,
    session: u32,
    stop: impl Fn(usize, f64) -> LimitSet,
) -> Result<Setup, Refusal> {
    let mut axes: PerAxis<AxisSetup> = PerAxis::new();
    for (place, axis) in rig.axes.iter().enumerate() {
        let travel = match axis.travel {
            Travel::Continuous => None,
            Travel::Finite(ends) => {
                let (low, high) = Scale::of(axis).inside(ends.low().0, ends.high().0);
                let ends = whole(low).zip(whole(high));
                Some(ends.ok_or(Refusal::Travel)?)
            }
        };
        let sign = axis.sense.sign();
        let ramp = |direction: f64| ramp(place, axis, stop(place, direction * sign));
        let setup = AxisSetup {
            travel,
            stop_plus: ramp(1.0)?,
            stop_minus: ramp(-1.0)?,
        };
        axes.push(setup).map_err(|_| Refusal::Travel)?;
    }
    let watchdog_ms = u16::try_from(rig.watchdog.0 / 1_000_000);
    let watchdog_ms = watchdog_ms.map_err(|_| Refusal::ByRig(Why::BadWatchdog))?;
    Ok(Setup {
        session,
        watchdog_ms,
        axes,
    })
}

/// The stop set of the file, lowered to what the rig says it can.
pub fn agreed_stop(rig: &Rig, report: &RigReport, place: usize, sign: f64) -> LimitSet {
    let set = rig.axes[place].limits.stop(sign);
    let told = report.axes[place];
    LimitSet {
        accel: told
            .accel
            .map_or(set.accel, |own| set.accel.lower(Accel(own))),
        jerk: told.jerk.map_or(set.jerk, |own| set.jerk.lower(Jerk(own))),
    }
}

fn ramp(place: usize, axis: &Axis, set: LimitSet) -> Result<Ramp, Refusal> {
    let (accel, jerk) = (
        set.accel.0 * axis.counts_per_unit,
        set.jerk.0 * axis.counts_per_unit,
    );
    if !(1.0..=f64::from(MAX_ACCEL)).contains(&accel)
        || !(1.0..=f64::from(MAX_JERK)).contains(&jerk)
    {
        return Err(Refusal::StopSet { place, accel, jerk });
    }
    // Never harder than the file says.
    Ok(Ramp {
        accel: accel as u32,
        jerk: jerk as u32,
    })
}

fn whole(x: f64) -> Option<i32> {
    (x >= f64::from(i32::MIN) && x <= f64::from(i32::MAX)).then_some(x as i32)
}

/// Follows a position of i32 counts across its wraps.
#[derive(Clone, Copy, Debug, Default)]
pub struct Unwrapped {
    last: i32,
    counts: i64,
}

impl Unwrapped {
    /// Starts at a first telling.
    pub fn at(counts: i32) -> Unwrapped {
        Unwrapped {
            last: counts,
            counts: i64::from(counts),
        }
    }

    /// The position of a further telling.
    pub fn follow(&mut self, counts: i32) -> i64 {
        self.counts = self.near(counts);
        self.last = counts;
        self.counts
    }

    /// The position of a telling that is close to the last one, without following it.
    pub fn near(&self, counts: i32) -> i64 {
        self.counts + i64::from(counts.wrapping_sub(self.last))
    }
}
