//! What was measured against what was calculated.

use super::super::figures::figure;
use super::record::{Figure, Item};
use super::trace::Rest;
use crate::shell::probe::Commanded;
use stillhand_engine::motion::stopping::stop;
use stillhand_engine::rig::{Axis, Rig};
use stillhand_engine::units::Unit;

/// Turns of the loop by which a stop may be over early or late.
const TURNS: f64 = 2.0;
/// What a computer or a rig that is busy may add.
const BUSY_S: f64 = 0.030;
/// Tellings further apart measure nothing.
const MOST_GAP_S: f64 = 0.110;
/// A driven axis goes at the speed it was commanded, to this share and to what two counts make of it.
const FOLLOWS: f64 = 0.05;
/// The time over which a speed is measured, in s.
const MEASURED_S: f64 = 0.33;
/// An end is met to so many counts, and to the way of so much time: the last bit is in proportion to what is left.
const SHORT_COUNTS: f64 = 2.0;
const SHORT_S: f64 = 0.005;

/// A stop that was seen.
#[derive(Clone, Copy, Debug)]
pub(super) struct Seen {
    /// What was commanded in the turn before it.
    pub(super) before: Commanded,
    /// The time between two turns, in s.
    pub(super) turn_s: f64,
    /// The speed the axis went by its own tellings, where it was steady.
    pub(super) went: Option<f64>,
    pub(super) rest: Rest,
}

/// What a stop may differ by: time and way.
fn tolerance(seen: &Seen, axis: &Axis) -> (f64, f64) {
    let seconds = TURNS * seen.turn_s + seen.rest.gap_s + BUSY_S;
    let count = 1.0 / axis.counts_per_unit;
    (seconds, seen.before.speed.abs() * seconds + 2.0 * count)
}

/// Why the tolerances are what they are.
pub(super) fn reason(seen: &Seen) -> String {
    format!(
        "two turns of the loop ({:.0} ms), the time between two tellings ({:.0} ms), and {:.0} ms for computers that \
         are busy; the way of that time and two counts",
        TURNS * seen.turn_s * 1e3,
        seen.rest.gap_s * 1e3,
        BUSY_S * 1e3
    )
}

/// A stop by the pad. `calculated` ends when the last bit of speed was commanded; the rig follows after its delay.
pub(super) fn stopped(what: &str, axis: &Axis, rig: &Rig, seen: &Seen) -> Item {
    let delay = rig.delay.secs();
    let calculated = (
        seen.before.stop_time + delay,
        seen.before.stop_distance + seen.before.speed.abs() * delay,
    );
    let mend = format!(
        "the motors or ramps of the rig are slower than `stop` of axis.{} says: look for a heavier load, slipping, or \
         ramps in the drives; or soften `stop` in the rig file",
        axis.name
    );
    held_against(what, axis, seen, calculated, &mend)
}

/// A stop by the rig's own watchdog, from the last frame on.
pub(super) fn by_watchdog(what: &str, axis: &Axis, rig: &Rig, seen: &Seen) -> Item {
    let speed = seen.before.speed.abs();
    let own = stop(speed, 0.0, axis.limits.stop(seen.before.speed));
    let runs_on = rig.watchdog.secs() + rig.delay.secs();
    let calculated = (runs_on + own.time, speed * runs_on + own.distance);
    let mend = format!(
        "the rig must stop by itself {:.0} ms after the last frame: mend its firmware, and don't drive it before",
        rig.watchdog.secs() * 1e3
    );
    held_against(what, axis, seen, calculated, &mend)
}

fn held_against(what: &str, axis: &Axis, seen: &Seen, calculated: (f64, f64), mend: &str) -> Item {
    let (rest, unit) = (&seen.rest, axis.unit.symbol());
    let speed = figure(seen.before.speed.abs());
    let (late, far) = tolerance(seen, axis);
    let says = format!(
        "from {speed} {unit}/s to rest in {} s and {} {unit}; by the calculation {} s and {} {unit}, within {} s and {} \
         {unit}",
        figure(rest.seconds),
        figure(rest.way),
        figure(calculated.0),
        figure(calculated.1),
        figure(late),
        figure(far)
    );
    let figures = vec![
        Figure {
            name: "speed",
            unit: per_s(axis),
            measured: seen.went.unwrap_or(seen.before.speed).abs(),
            calculated: Some(seen.before.speed.abs()),
            tolerance: None,
        },
        Figure {
            name: "time",
            unit: "s",
            measured: rest.seconds,
            calculated: Some(calculated.0),
            tolerance: Some(late),
        },
        Figure {
            name: "way",
            unit,
            measured: rest.way,
            calculated: Some(calculated.1),
            tolerance: Some(far),
        },
    ];
    let count = 1.0 / axis.counts_per_unit;
    let wrong_speed = seen.went.filter(|went| {
        let off = (went - seen.before.speed).abs();
        off > FOLLOWS * seen.before.speed.abs() + 2.0 * count / MEASURED_S
    });
    let item = if rest.gap_s > MOST_GAP_S {
        let says = format!(
            "the rig tells where it is only every {} s, so no stop can be measured",
            figure(rest.gap_s)
        );
        Item::fail(what, says, "let it tell every 20 ms, as the protocol asks")
    } else if let Some(went) = wrong_speed {
        let says = format!(
            "it was commanded {speed} {unit}/s and went {} {unit}/s by its own telling",
            figure(went.abs())
        );
        Item::fail(
            what,
            says,
            "look for slipping, a stalled motor or a wrong scale",
        )
    } else if rest.seconds > calculated.0 + late || rest.way > calculated.1 + far {
        Item::fail(what, says, mend)
    } else {
        Item::pass(what, says)
    };
    item.with(figures)
}

/// An end that was approached: it must be met, and not passed by more than a count. `farthest` is the farthest the
/// rig told of on the way, `rests` where it came to rest.
pub(super) fn at_end(
    what: &str,
    axis: &Axis,
    plus: bool,
    end: f64,
    speed: f64,
    (farthest, rests): (f64, f64),
) -> Item {
    let (count, unit) = (1.0 / axis.counts_per_unit, axis.unit.symbol());
    let beyond = |at: f64| if plus { at - end } else { end - at };
    let short = SHORT_COUNTS * count + SHORT_S * speed;
    let figures = vec![Figure {
        name: "position",
        unit,
        measured: rests,
        calculated: Some(end),
        tolerance: Some(short),
    }];
    let item = if beyond(farthest) > count {
        let says = format!(
            "it went {} {unit} over its end at {end} {unit}",
            figure(beyond(farthest))
        );
        let mend = "don't drive it there: look for slipping or weak motors, and at `travel` in the rig file";
        Item::fail(what, says, mend)
    } else if -beyond(rests) > short {
        let says = format!(
            "it came to rest {} {unit} short of its end at {end} {unit}",
            figure(-beyond(rests))
        );
        Item::fail(
            what,
            says,
            "look for what holds it, and at `travel` in the rig file",
        )
    } else {
        let says = format!("it lands at {rests:.2} {unit}; the end is at {end} {unit}");
        Item::pass(what, says)
    };
    item.with(figures)
}

const fn per_s(axis: &Axis) -> &'static str {
    match axis.unit {
        Unit::Deg => "deg/s",
        Unit::Mm => "mm/s",
    }
}

#[cfg(test)]
mod tests {
    use super::super::record::Found;
    use super::*;
    use crate::profile::{builtin, load_rig};

    fn rig() -> Rig {
        load_rig(&builtin::BENCH_RIG.source()).expect("shipped").rig
    }

    /// Pan from 8 deg/s, as calculated: 240 deg/s^2 and 2400 deg/s^3 are not reached, so 2 sqrt(v / j).
    fn seen(seconds: f64, way: f64) -> Seen {
        let stop_time = 2.0 * (8.0f64 / 2400.0).sqrt();
        Seen {
            before: Commanded {
                speed: 8.0,
                stop_time,
                stop_distance: 4.0 * stop_time,
            },
            turn_s: 0.004,
            went: Some(8.0),
            rest: Rest {
                seconds,
                way,
                position: 0.0,
                gap_s: 0.02,
            },
        }
    }

    fn found(seen: &Seen) -> Found {
        let rig = rig();
        stopped("pan", &rig.axes[0], &rig, seen).found
    }

    #[test]
    fn a_stop_is_right_to_its_tolerance_in_time_and_way_and_not_beyond() {
        let rig = rig();
        let (seconds, way) = (0.1155 + 0.010, 0.4619 + 0.08);
        let (late, far) = tolerance(&seen(0.0, 0.0), &rig.axes[0]);
        assert!((late - 0.058).abs() < 1e-9, "{late}");
        assert_eq!(found(&seen(seconds, way)), Found::Pass);
        assert_eq!(found(&seen(seconds + late - 1e-3, way)), Found::Pass);
        assert_eq!(found(&seen(seconds + late + 1e-3, way)), Found::Fail);
        assert_eq!(found(&seen(seconds, way + far - 1e-3)), Found::Pass);
        assert_eq!(found(&seen(seconds, way + far + 1e-3)), Found::Fail);
    }

    #[test]
    fn what_does_not_go_as_commanded_or_tells_too_seldom_is_not_right() {
        let mut slow = seen(0.1, 0.4);
        slow.went = Some(7.3);
        assert_eq!(found(&slow), Found::Fail);
        slow.went = Some(-8.0);
        assert_eq!(found(&slow), Found::Fail, "the other way");
        slow.went = None;
        assert_eq!(found(&slow), Found::Pass, "it was not steady");
        slow.rest.gap_s = 0.2;
        assert_eq!(found(&slow), Found::Fail);
    }

    #[test]
    fn the_watchdog_waits_and_then_the_stop_set_holds() {
        let rig = rig();
        let of = |seconds, way| {
            let seen = seen(seconds, way);
            by_watchdog("pan", &rig.axes[0], &rig, &seen).found
        };
        // 120 ms, the delay of 10 ms, and the stop.
        let (seconds, way) = (0.130 + 0.1155, 8.0 * 0.130 + 0.4619);
        assert_eq!(of(seconds, way), Found::Pass);
        assert_eq!(of(seconds + 0.06, way), Found::Fail);
        assert_eq!(of(seconds, way + 0.6), Found::Fail);
    }

    #[test]
    fn an_end_is_met_and_not_passed() {
        let rig = rig();
        let of = |plus, end, farthest, rests| {
            at_end("pan", &rig.axes[0], plus, end, 8.0, (farthest, rests)).found
        };
        assert_eq!(of(true, 170.0, 170.0, 169.98), Found::Pass);
        assert_eq!(of(true, 170.0, 170.05, 169.98), Found::Fail);
        assert_eq!(of(true, 170.0, 169.8, 169.8), Found::Fail);
        assert_eq!(of(false, -170.0, -170.0, -169.98), Found::Pass);
        assert_eq!(of(false, -170.0, -170.05, -169.98), Found::Fail);
        assert_eq!(of(false, -170.0, -169.8, -169.8), Found::Fail);
    }
}
