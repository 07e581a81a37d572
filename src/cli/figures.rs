//! What a profile comes to on a rig: full-stick speeds, ways to stop, rates of the motors.
//!
//! Everything here follows from the two files alone. Speeds are those of a rig that reports no lower
//! limits of its own and a speed trigger that leaves the most it ever leaves.

use crate::profile::{Drive, RigFile};
use serde::Serialize;
use stillhand_engine::motion::ceiling::{Binding, Scaling, Switched, link_ceiling, reduced};
use stillhand_engine::motion::sets::timed;
use stillhand_engine::motion::stopping::{Stop, stop};
use stillhand_engine::operator::{Hand, Operator};
use stillhand_engine::output::Ceiling;
use stillhand_engine::rig::{Axis, LimitSet};
use stillhand_engine::units::Speed;

/// Accelerations that are tried between none and the most there can be; the worst lies between two
/// of them by less than a thousandth of it.
const TRIED: u32 = 400;

/// The figures of one axis.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AxisFigures {
    /// Its name.
    pub axis: String,
    /// `deg` or `mm`.
    pub unit: &'static str,
    /// One entry for each gear, the slowest first.
    pub gears: Vec<GearFigures>,
    /// The fastest of them, from which the figures below are taken; unit/s.
    pub top_speed: f64,
    /// The longest stop by the stop set from any state a stick can bring about.
    pub stop: StopFigures,
    /// From the last frame to rest by the rig's own watchdog.
    pub watchdog: StopFigures,
    /// Bands of speed it keeps out of in quiet, low and high edge, unit/s.
    pub avoid: Vec<[f64; 2]>,
    /// The motor at the top speed, where the rig file tells of it.
    pub motor: Option<MotorFigures>,
}

/// What a full stick does in one gear.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct GearFigures {
    /// Its number, from 1.
    pub gear: u8,
    /// In no particular mode.
    pub full: FullFigures,
    /// In quiet.
    pub quiet: FullFigures,
    /// In reduced.
    pub reduced: FullFigures,
}

/// The speed of a full stick and the ceiling that makes it so.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct FullFigures {
    /// In unit/s.
    pub speed: f64,
    /// The ceiling that binds.
    pub by: &'static str,
}

/// Time and way of a stop.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct StopFigures {
    /// Seconds until rest.
    pub seconds: f64,
    /// Units still covered.
    pub distance: f64,
}

/// Rates of a stepper motor.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MotorFigures {
    /// Full steps a second.
    pub full_steps_hz: f64,
    /// Pulses a second.
    pub pulses_hz: f64,
    /// The bands avoided in quiet, low and high edge, full steps a second.
    pub avoid_full_steps_hz: Vec<[f64; 2]>,
}

/// The figures of every axis the operator drives on this rig, in the operator's order.
pub fn figures(rig: &RigFile, operator: &Operator) -> Vec<AxisFigures> {
    let hands = operator.hands.iter();
    hands
        .filter_map(|hand| {
            let place = usize::from(hand.axis);
            let axis = rig.rig.axes.get(place)?;
            let drive = rig.drives.get(place).copied().flatten();
            Some(of_axis(rig, operator, hand, axis, drive))
        })
        .collect()
}

fn of_axis(
    rig: &RigFile,
    operator: &Operator,
    hand: &Hand,
    axis: &Axis,
    drive: Option<Drive>,
) -> AxisFigures {
    let most = most_gears(operator, hand);
    let on = |gear, quiet, reduced| Switched {
        gear,
        quiet,
        reduced,
    };
    let gears: Vec<GearFigures> = (0..most)
        .map(|gear| GearFigures {
            gear: gear + 1,
            full: full(rig, operator, hand, on(gear, false, false)),
            quiet: full(rig, operator, hand, on(gear, true, false)),
            reduced: full(rig, operator, hand, on(gear, false, true)),
        })
        .collect();
    let top = gears.last().map_or(0.0, |gear| gear.full.speed);
    let gain = timed(hand.gears.speed(most - 1), hand.gain, axis.limits.normal());
    let stop = worst_stop(axis, top, gain);
    let runs_on = (rig.rig.watchdog.0 + rig.rig.delay.0) as f64 / 1e9;
    let from_steady = longest(axis, |set| stop_of(top, 0.0, set));
    let avoid = avoid(hand);
    AxisFigures {
        axis: axis.name.clone(),
        unit: axis.unit.symbol(),
        gears,
        top_speed: top,
        stop,
        watchdog: StopFigures {
            seconds: runs_on + from_steady.seconds,
            distance: runs_on * top + from_steady.distance,
        },
        motor: drive.map(|drive| MotorFigures {
            full_steps_hz: drive.full_steps_hz(top),
            pulses_hz: drive.pulses_hz(top),
            avoid_full_steps_hz: avoid
                .iter()
                .map(|edges| edges.map(|edge| drive.full_steps_hz(edge)))
                .collect(),
        }),
        avoid,
    }
}

/// The bands a hand keeps out of in quiet, low and high edge, unit/s.
pub(super) fn avoid(hand: &Hand) -> Vec<[f64; 2]> {
    let bands = hand.quiet.bands(true).iter();
    bands.map(|band| [band.low.0, band.high.0]).collect()
}

/// Bands as text: `2 to 4, 5.5 to 6`.
pub(super) fn bands_text(bands: &[[f64; 2]]) -> String {
    let bands = bands.iter();
    let texts: Vec<String> = bands
        .map(|[low, high]| format!("{} to {}", figure(*low), figure(*high)))
        .collect();
    texts.join(", ")
}

/// How many gears the group of a hand has; an axis with fewer stays in its last.
pub(super) fn most_gears(operator: &Operator, hand: &Hand) -> u8 {
    let group = operator.hands.iter().filter(|h| h.group == hand.group);
    group.map(|h| h.gears.count()).max().unwrap_or(1)
}

/// The longest stop from any speed and acceleration inside `gain` that stays under `top`: an axis
/// that still gains speed comes out faster than it is, up to `top`.
fn worst_stop(axis: &Axis, top: f64, gain: LimitSet) -> StopFigures {
    let (accel, jerk) = (gain.accel.0, gain.jerk.0);
    // The acceleration from which easing off at full jerk just ends at `top`, from rest.
    let steepest = accel.min((2.0 * jerk * top).sqrt());
    let mut worst = StopFigures {
        seconds: 0.0,
        distance: 0.0,
    };
    for tried in 0..=TRIED {
        let a = steepest * f64::from(tried) / f64::from(TRIED);
        let v = (top - a * a / (2.0 * jerk)).max(0.0);
        let one = longest(axis, |set| stop_of(v, a, set));
        worst.seconds = worst.seconds.max(one.seconds);
        worst.distance = worst.distance.max(one.distance);
    }
    worst
}

/// The longer of a stop in the plus and one in the minus direction.
fn longest(axis: &Axis, stop: impl Fn(LimitSet) -> StopFigures) -> StopFigures {
    let (plus, minus) = (stop(axis.limits.stop(1.0)), stop(axis.limits.stop(-1.0)));
    StopFigures {
        seconds: plus.seconds.max(minus.seconds),
        distance: plus.distance.max(minus.distance),
    }
}

fn stop_of(v: f64, a: f64, set: LimitSet) -> StopFigures {
    let Stop { time, distance } = stop(v, a, set);
    StopFigures {
        seconds: time,
        distance,
    }
}

/// The speed of a full stick, and why.
pub(super) fn full(rig: &RigFile, operator: &Operator, hand: &Hand, on: Switched) -> FullFigures {
    let Binding {
        speed: asked, by, ..
    } = asked(rig, operator, hand, on);
    let axis = rig.rig.axes.get(usize::from(hand.axis));
    let link = axis.map(|axis| link_ceiling(axis.counts_per_unit));
    let (speed, by) = match link.filter(|link| *link < asked) {
        Some(link) => (link, Ceiling::Link),
        None => (asked, by),
    };
    FullFigures {
        speed: speed.0,
        by: by.name(),
    }
}

/// The speed a full stick asks for before the link clips it, and why: what a demand is a share of.
pub(super) fn asked(rig: &RigFile, operator: &Operator, hand: &Hand, on: Switched) -> Binding {
    let axis_of = |hand: &Hand| rig.rig.axes.get(usize::from(hand.axis));
    let unit = |hand: &Hand| axis_of(hand).map(|axis| axis.unit);
    let fellow = operator.fellow(hand);
    let fellow = fellow
        .filter(|fellow| unit(fellow) == unit(hand))
        .and_then(|fellow| Some(scaling(axis_of(fellow)?, fellow, on)));
    let own = axis_of(hand).map(|axis| scaling(axis, hand, on));
    let binding = own.map_or(
        Binding {
            speed: Speed(0.0),
            by: Ceiling::Rig,
            band: None,
        },
        |own| own.binding(fellow.as_ref()),
    );
    let share = operator
        .speed_trigger
        .map_or(1.0, |t| t.let_go.max(t.pulled));
    Binding {
        speed: Speed(binding.speed.0 * share),
        ..binding
    }
}

/// The ceilings that scale, for a hand on its axis.
pub(super) fn scaling<'a>(axis: &Axis, hand: &'a Hand, on: Switched) -> Scaling<'a> {
    Scaling::of(axis.speed, reduced(axis), Some(hand), on)
}

/// A sentence for each axis about its longest stop.
pub fn stops(figures: &[AxisFigures]) -> Vec<String> {
    let sentence = |axis: &AxisFigures| {
        let (name, unit) = (&axis.axis, axis.unit);
        format!(
            "{name} stops from {} {unit}/s in {} at the most; by the rig's watchdog in {}",
            figure(axis.top_speed),
            axis.stop.text(unit),
            axis.watchdog.text(unit)
        )
    };
    figures.iter().map(sentence).collect()
}

/// The figures as text of at most 80 columns.
pub fn text(operator: &Operator, rig: &RigFile, figures: &[AxisFigures]) -> String {
    let (name, id) = (&operator.name, &rig.rig.id);
    let mut out = format!(
        "\"{name}\" on \"{id}\": speed of a full stick, and the ceiling that makes it so\n"
    );
    for axis in figures {
        out.push_str(&axis.text());
    }
    let ms = |nanos: u64| nanos as f64 / 1e6;
    out.push_str(&format!(
        "  Stops are by the stop set, the worst there can be, and begin {} ms after\n  \
         their frame left; the watchdog first waits {} ms for a frame. Reduced speed\n  \
         is that of one axis by itself.\n",
        ms(rig.rig.delay.0),
        ms(rig.rig.watchdog.0)
    ));
    out
}

impl AxisFigures {
    fn text(&self) -> String {
        let unit = self.unit;
        let head = format!("{}, in {unit}/s", self.axis);
        let mut out = columns(&head, ["full stick", "in quiet", "in reduced"]);
        for gear in &self.gears {
            let label = format!("  gear {}", gear.gear);
            let cells = [gear.full, gear.quiet, gear.reduced]
                .map(|full| format!("{} {}", figure(full.speed), full.by));
            out.push_str(&columns(&label, cells.each_ref().map(String::as_str)));
        }
        let top = figure(self.top_speed);
        let watchdog = format!("by watchdog {}", self.watchdog.text(unit));
        let label = format!("  stop from {top}");
        out.push_str(&columns(&label, [&self.stop.text(unit), &watchdog, ""]));
        if !self.avoid.is_empty() {
            let bands = bands_text(&self.avoid);
            out.push_str(&format!("    quiet avoids         {bands}\n"));
        }
        if let Some(motor) = &self.motor {
            if !motor.avoid_full_steps_hz.is_empty() {
                let bands = bands_text(&motor.avoid_full_steps_hz);
                out.push_str(&format!("                         {bands} full steps/s\n"));
            }
            let (full, pulses) = (figure(motor.full_steps_hz), figure(motor.pulses_hz));
            let (full, pulses) = (format!("{full} full steps/s"), format!("{pulses} pulses/s"));
            out.push_str(&columns(&format!("  motor at {top}"), [&full, &pulses, ""]));
        }
        out
    }
}

impl StopFigures {
    fn text(&self, unit: &str) -> String {
        format!(
            "{} s, {} {unit}",
            figure(self.seconds),
            figure(self.distance)
        )
    }
}

/// A line with a label and three columns.
fn columns(label: &str, cells: [&str; 3]) -> String {
    let [one, two, three] = cells;
    let line = format!("  {label:22} {one:20} {two:20} {three}");
    format!("{}\n", line.trim_end())
}

/// Three digits that count.
pub(super) fn figure(x: f64) -> String {
    if x == 0.0 {
        return "0".to_owned();
    }
    let digits = 2 - x.abs().log10().floor() as i32;
    let scale = 10f64.powi(digits.max(0));
    ((x * scale).round() / scale).to_string()
}

#[cfg(test)]
mod tests {
    use super::figure;

    #[test]
    fn figures_have_three_digits() {
        for (x, text) in [
            (0.0, "0"),
            (0.12345, "0.123"),
            (8.0, "8"),
            (59.96, "60"),
            (1234.5, "1235"),
            (42_666.67, "42667"),
        ] {
            assert_eq!(figure(x), text);
        }
    }
}
