//! The laws checker on what was really on the line: no speed above the rig's ceiling, and no step.
//!
//! What the daemon was told and when is not known to the nanosecond here, so the loosest set there
//! is, the stop set, bounds every change. The sharp judgement is that of the worlds in virtual time.

#![allow(dead_code)] // Each test uses its own part of it.

use super::tape::Speeds;
use stillhand::profile::{builtin, load_rig};
use stillhand_engine::rig::{Axis, LimitSet, Rig};
use stillhand_engine::units::Unit;
use stillhand_laws::{AxisFacts, Checker, Facts, Frame, Law, Nanos, Set, Travel};
use stillhand_laws::{Event, Normal};

/// A frame's deadline tells when it left, on the rig's clock as the daemon estimates it. A telling
/// with less delay than any before moves that estimate, on a loaded machine by this much.
const CLOCK_STEP: Nanos = Nanos::millis(2);

/// Panics if the frames of any session break the laws `ceiling` or `smooth`. Tapes of rigs with
/// other axes than the bench rig are not judged.
pub fn judge(speeds: &[Speeds]) {
    judge_by(speeds, &bench(), |axis| axis.speed.0, |_, stop| stop);
}

/// The same where nothing was stopped: no change was harder than the normal sets.
pub fn judge_unstopped(speeds: &[Speeds]) {
    judge_by(speeds, &bench(), |axis| axis.speed.0, |normal, _| normal);
}

/// The same for the frames to any rig, with its axes' ceilings.
pub fn judge_as(speeds: &[Speeds], rig: &Rig, ceiling: impl Fn(&Axis) -> f64) {
    assert!(speeds.iter().all(|one| one.axes.len() == rig.axes.len()));
    judge_by(speeds, rig, ceiling, |_, stop| stop);
}

fn bench() -> Rig {
    let file = load_rig(&builtin::BENCH_RIG.source());
    file.expect("it is shipped").rig
}

/// `loosest` picks the set that bounds an axis, of its normal set and a stop set.
fn judge_by(
    speeds: &[Speeds],
    rig: &Rig,
    ceiling: impl Fn(&Axis) -> f64,
    loosest: impl Fn(Set, Set) -> Set,
) {
    let same_axes = |one: &Speeds| one.axes.len() == rig.axes.len();
    for session in speeds.chunk_by(|a, b| a.session == b.session) {
        if !session.iter().all(same_axes) {
            continue;
        }
        let axes = rig.axes.iter().map(|axis| {
            let of = |set: LimitSet| Set::new(set.accel.0, set.jerk.0);
            let stop = [1.0, -1.0].map(|way| of(axis.limits.stop(way)));
            let bound = |stop: Set| loosest(of(axis.limits.normal()), stop);
            let harder = stop[0].hardest(stop[1]);
            AxisFacts {
                name: axis.name.clone(),
                unit: match axis.unit {
                    Unit::Deg => stillhand_laws::Unit::Deg,
                    Unit::Mm => stillhand_laws::Unit::Mm,
                },
                count: 1.0 / axis.counts_per_unit,
                travel: Travel::Continuous,
                referenced: true,
                normal: bound(harder),
                stop_plus: bound(stop[0]),
                stop_minus: bound(stop[1]),
                delay: Nanos::millis(10),
                speed_ceiling: ceiling(axis),
                needs_enable: false,
                plant_speed_error: 0.0,
            }
        });
        let mut facts = Facts::new(axes.collect(), Vec::new(), Nanos::millis(4));
        facts.frame_time_error = CLOCK_STEP;
        let normal: Vec<Set> = facts.axes.iter().map(|axis| axis.normal).collect();
        let mut checker = Checker::new(facts);
        checker.event(Nanos::ZERO, &Event::LinkReady { session: 1 });
        for (axis, set) in normal.into_iter().enumerate() {
            let set = Normal::same(set);
            checker.event(Nanos::ZERO, &Event::NormalSet { axis, set });
        }
        let first = session[0].deadline_us as u32;
        let mut last = Nanos::ZERO;
        for one in session {
            // The rig's clock wraps, and an estimate that is corrected may step back a little.
            let us = (one.deadline_us as u32).wrapping_sub(first).cast_signed();
            let at = Nanos((i64::from(us) * 1_000).max(last.0 + 1_000_000));
            last = at;
            let counts = one.axes.iter().zip(rig.axes.iter());
            let units: Vec<f64> = counts.map(|(v, axis)| v / axis.counts_per_unit).collect();
            checker.frame(at, &Frame { speeds: &units });
        }
        let broken = checker.count(Law::Ceiling) + checker.count(Law::Smooth);
        assert_eq!(broken, 0, "on the line: {:#?}", checker.breaches());
    }
}
