//! The speeds a rig sings at, of a quiet file: bands to avoid, in the units of the axis or in steps of its
//! motor. What steps come to is known once the rig file is there.

use super::defaults::{Bound, SPEED, STEP_RATE};
use super::drive::Drive;
use super::field::Field;
use super::problem::{Log, Problem};
use super::quantity::Dimension;
use super::table::{Table, Value, got, quantity, wrong_type};
use std::ops::Range;
use stillhand_engine::motion::bands::{Band, Bands, MAX_BANDS};
use stillhand_engine::rig::Axis;
use stillhand_engine::units::{Speed, Unit};
use toml::de::DeValue;

const BANDS: &str = "a list of bands, each with its low and its high speed";
const EXAMPLE: &str = "write them as in [[\"2 deg/s\", \"3 deg/s\"]] or [[\"400 full steps/s\", \"520 full steps/s\"]]";

/// A speed as in [`SPEED`], or 0, which gets an answer of its own.
const EDGE: Bound = Bound {
    low: 0.0,
    why: "faster is a slipped digit; or a rate of the axis's motor in full steps/s, as in \"400 full steps/s\"",
    ..SPEED
};
/// The same of a motor.
const STEP_EDGE: Bound = Bound {
    low: 0.0,
    why: "faster turns no stepper",
    ..STEP_RATE
};

/// Bands as a quiet file has them, those of one kind in order and none touching another.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Avoid(Vec<Edges>);

/// The edges of a band.
#[derive(Clone, Debug, PartialEq)]
struct Edges {
    low: f64,
    high: f64,
    /// Full steps a second of the motor, not units/s of the axis.
    in_steps: bool,
    /// As messages show them.
    text: String,
    span: Range<usize>,
}

/// Reads `avoid`.
pub(super) fn read(table: &mut Table, unit: Option<Unit>, log: &mut Log) -> Field<Avoid> {
    let label = table.label("avoid");
    let Some(value) = table.any("avoid") else {
        return Field::Absent;
    };
    let DeValue::Array(list) = value.get_ref() else {
        log.push(
            wrong_type(&label, value, "a list", log)
                .allowed(BANDS)
                .mend(EXAMPLE),
        );
        return Field::Bad;
    };
    if list.len() > MAX_BANDS {
        log.push(
            Problem::at(value.span(), format!("{label} has too many bands"))
                .found(format!("{} of them", list.len()))
                .allowed(format!("at most {MAX_BANDS}"))
                .mend("join those that lie side by side"),
        );
        return Field::Bad;
    }
    let read: Vec<Option<Edges>> = list
        .iter()
        .map(|value| band(&label, value, unit, log))
        .collect();
    let Some(bands) = read.into_iter().collect::<Option<Vec<_>>>() else {
        return Field::Bad;
    };
    let (in_steps, in_units) = bands.into_iter().partition(|band| band.in_steps);
    let (in_steps, in_units) = (apart(&label, in_steps, log), apart(&label, in_units, log));
    match (in_steps, in_units) {
        (Some(in_steps), Some(in_units)) => got(Avoid([in_steps, in_units].concat()), value.span()),
        _ => Field::Bad,
    }
}

/// Bands of one kind in their order, if none touches another.
fn apart(label: &str, mut bands: Vec<Edges>, log: &mut Log) -> Option<Vec<Edges>> {
    bands.sort_by(|a, b| a.low.total_cmp(&b.low));
    let touching = bands
        .windows(2)
        .filter_map(|pair| <&[_; 2]>::try_from(pair).ok())
        .find(|[one, two]| two.low <= one.high);
    let Some([one, two]) = touching else {
        return Some(bands);
    };
    log.push(
        Problem::at(two.span.clone(), format!("two bands of {label} touch"))
            .found(two.text.as_str())
            .also(one.span.clone(), "and this one".to_owned())
            .allowed("bands with room between them")
            .mend("make one band of the two"),
    );
    None
}

fn band(label: &str, value: &Value, unit: Option<Unit>, log: &mut Log) -> Option<Edges> {
    let edges = match value.get_ref() {
        DeValue::Array(edges) => edges,
        _ => {
            log.push(
                wrong_type(&format!("a band of {label}"), value, "a list", log)
                    .allowed(BANDS)
                    .mend(EXAMPLE),
            );
            return None;
        }
    };
    let [low, high] = &edges[..] else {
        log.push(
            Problem::at(
                value.span(),
                format!("a band of {label} must have two edges"),
            )
            .found(format!("{} of them", edges.len()))
            .allowed(BANDS)
            .mend(EXAMPLE),
        );
        return None;
    };
    let edge = |which: &str, value: &Value, log: &mut Log| {
        let (bound, unit) = match value.get_ref().as_str() {
            // Of no unit of an axis.
            Some(text) if text.contains("step") => (&STEP_EDGE, None),
            _ => (&EDGE, unit),
        };
        let label = format!("the {which} edge of {label}");
        quantity(&label, value, bound, unit, log).value()
    };
    let (low, high) = (edge("low", low, log), edge("high", high, log));
    let (low, high) = (low?, high?);
    if low.kind() != high.kind() {
        log.push(
            Problem::at(
                value.span(),
                format!("the edges of a band of {label} are in two units"),
            )
            .found(format!("from {} to {}", low.text(), high.text()))
            .allowed("both in the axis's unit, or both in full steps/s")
            .mend("write both edges in one unit"),
        );
        return None;
    }
    let edges = Edges {
        low: low.number,
        high: high.number,
        in_steps: low.kind() == Dimension::StepRate,
        text: format!("from {} to {}", low.text(), high.text()),
        span: value.span(),
    };
    match unlike_a_band(label, &edges) {
        Some(problem) => {
            log.push(problem);
            None
        }
        None => Some(edges),
    }
}

/// What keeps two edges from being a band.
fn unlike_a_band(label: &str, edges: &Edges) -> Option<Problem> {
    let (least, unit) = match edges.in_steps {
        true => (STEP_RATE.low, " full steps/s"),
        false => (SPEED.low, ""),
    };
    let (message, allowed, mend) = if edges.low < least {
        // A demand inside of a band is held at its lower edge: the axis could not move slowly at all.
        (
            format!("a band of {label} reaches down to rest"),
            format!("a lower edge of {least}{unit} or more"),
            "where the rig is never quiet at its slowest there is no band, only no quiet speed",
        )
    } else if edges.low >= edges.high {
        (
            format!("the edges of a band of {label} are the wrong way round"),
            "the low speed first".to_owned(),
            "turn them round",
        )
    } else {
        return None;
    };
    let problem = Problem::at(edges.span.clone(), message);
    Some(
        problem
            .found(edges.text.as_str())
            .allowed(allowed)
            .mend(mend),
    )
}

impl Avoid {
    /// The bands on an axis of the rig called `rig`, in its units; `None` with a problem for each that is none
    /// there.
    pub(super) fn on(
        &self,
        axis: &Axis,
        drive: Option<Drive>,
        rig: &str,
        log: &mut Log,
    ) -> Option<Bands> {
        let label = format!("`avoid` of axis {}", axis.name);
        let here: Vec<Option<Edges>> = self
            .0
            .iter()
            .map(|edges| match (edges.in_steps, drive) {
                (false, _) => Some(edges.clone()),
                (true, Some(drive)) => in_units(&label, edges, axis.unit, drive, log),
                (true, None) => {
                    log.push(no_drive(&label, edges, axis, rig));
                    None
                }
            })
            .collect();
        let here = here.into_iter().collect::<Option<Vec<_>>>()?;
        let bands: Vec<Band> = apart(&label, here, log)?
            .into_iter()
            .map(|edges| Band {
                low: Speed(edges.low),
                high: Speed(edges.high),
            })
            .collect();
        // In order and apart: it can't refuse them.
        Bands::new(&bands)
    }
}

/// A band in steps as one of speed.
fn in_units(label: &str, edges: &Edges, unit: Unit, drive: Drive, log: &mut Log) -> Option<Edges> {
    let (low, high) = (drive.speed(edges.low), drive.speed(edges.high));
    let text = format!(
        "{}, which is {} to {} {}/s",
        edges.text,
        rounded(low),
        rounded(high),
        unit.symbol()
    );
    if SPEED.low <= low && high <= SPEED.high {
        return Some(Edges {
            low,
            high,
            in_steps: false,
            text,
            span: edges.span.clone(),
        });
    }
    log.push(
        Problem::at(
            edges.span.clone(),
            format!("a band of {label} comes to speeds no axis has"),
        )
        .found(text)
        .allowed(SPEED.text(Some(unit)))
        .mend("write the rate of full steps, without microsteps, or mend `drive` in the rig file"),
    );
    None
}

/// To four figures, for a message.
fn rounded(x: f64) -> f64 {
    let scale = 10f64.powf(3.0 - x.log10().floor());
    (x * scale).round() / scale
}

fn no_drive(label: &str, edges: &Edges, axis: &Axis, rig: &str) -> Problem {
    let unit = axis.unit.symbol();
    let drive = match axis.unit {
        Unit::Deg => "drive = { steps = 200, microsteps = 16, gear = \"40:1\" }",
        Unit::Mm => "drive = { steps = 200, microsteps = 16, lead = \"8 mm\" }",
    };
    Problem::at(
        edges.span.clone(),
        format!("a band of {label} is in steps of a motor that rig \"{rig}\" does not tell of"),
    )
    .found(edges.text.as_str())
    .allowed(format!(
        "bands in {unit}/s, or in full steps/s where the rig file has the axis's `drive`"
    ))
    .mend(format!(
        "add its motor to [axis.{}] of the rig file, as in {drive}; or write the band in {unit}/s",
        axis.name
    ))
}
