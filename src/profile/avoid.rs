//! The speeds a rig sings at, of a quiet file: bands to avoid.

use super::defaults::{Bound, SPEED};
use super::field::Field;
use super::problem::{Log, Problem};
use super::quantity::Quantity;
use super::table::{Table, Value, got, quantity, wrong_type};
use std::ops::Range;
use stillhand_engine::motion::bands::{Band, Bands, MAX_BANDS};
use stillhand_engine::units::{Speed, Unit};
use toml::de::DeValue;

const BANDS: &str = "a list of bands, each with its low and its high speed";
const EXAMPLE: &str = "write them as in [[\"2 deg/s\", \"3 deg/s\"]]";

/// A speed as in [`SPEED`], or 0, which gets an answer of its own.
const EDGE: Bound = Bound { low: 0.0, ..SPEED };

/// Reads `avoid`; the bands come out in order, none touching another.
pub(super) fn read(table: &mut Table, unit: Option<Unit>, log: &mut Log) -> Field<Bands> {
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
    let read: Vec<Option<(Speed, Speed, Range<usize>)>> = list
        .iter()
        .map(|value| band(&label, value, unit, log))
        .collect();
    let Some(mut bands) = read.into_iter().collect::<Option<Vec<_>>>() else {
        return Field::Bad;
    };
    bands.sort_by(|a, b| a.0.0.total_cmp(&b.0.0));
    if let Some([one, two]) = bands
        .windows(2)
        .filter_map(|pair| <&[_; 2]>::try_from(pair).ok())
        .find(|[one, two]| two.0 <= one.1)
    {
        log.push(
            Problem::at(two.2.clone(), format!("two bands of {label} touch"))
                .found(format!("from {} to {}", two.0.0, two.1.0))
                .also(one.2.clone(), "and this one".to_owned())
                .allowed("bands with room between them")
                .mend("make one band of the two"),
        );
        return Field::Bad;
    }
    let bands: Vec<Band> = bands
        .into_iter()
        .map(|(low, high, _)| Band { low, high })
        .collect();
    // In order and apart: it can't refuse them.
    match Bands::new(&bands) {
        Some(bands) => got(bands, value.span()),
        None => Field::Bad,
    }
}

fn band(
    label: &str,
    value: &Value,
    unit: Option<Unit>,
    log: &mut Log,
) -> Option<(Speed, Speed, Range<usize>)> {
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
    let edge = |which: &str, value, log: &mut Log| -> Option<Quantity> {
        quantity(
            &format!("the {which} edge of {label}"),
            value,
            &EDGE,
            unit,
            log,
        )
        .value()
    };
    let (low, high) = (edge("low", low, log), edge("high", high, log));
    let (low, high) = (low?.number, high?.number);
    let wrong = if low < SPEED.low {
        // A demand inside of a band is held at its lower edge: the axis could not move slowly at all.
        Some((
            format!("a band of {label} reaches down to rest"),
            format!("a lower edge of {} or more", SPEED.low),
            "where the rig is never quiet at its slowest there is no band, only no quiet speed",
        ))
    } else if low >= high {
        Some((
            format!("the edges of a band of {label} are the wrong way round"),
            "the low speed first".to_owned(),
            "turn them round",
        ))
    } else {
        None
    };
    match wrong {
        None => Some((Speed(low), Speed(high), value.span())),
        Some((message, allowed, mend)) => {
            log.push(
                Problem::at(value.span(), message)
                    .found(format!("from {low} to {high}"))
                    .allowed(allowed)
                    .mend(mend),
            );
            None
        }
    }
}
