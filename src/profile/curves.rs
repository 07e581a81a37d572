//! Curves and steadying: how a stick's way becomes a demand.

use super::defaults::{
    HALF_OF_LINEAR, POINT, POINTS_APART, POINTS_STEEPEST, STEADY_MOVING, STEADY_REST,
};
use super::field::{At, Field};
use super::problem::{Log, Problem};
use super::quantity::Quantity;
use super::rawhand::{CurveWord, RawHand};
use super::table::{Table, Value, got, quantity, wrong_type};
use stillhand_engine::feel::Curve;
use stillhand_engine::feel::monotone::{LEAST_POINTS, MOST_POINTS};
use stillhand_engine::feel::steady::Steady;
use toml::de::DeValue;

/// A point of a curve: stick and speed, in per cent.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct RawPoint {
    stick: f64,
    speed: f64,
}

pub(super) struct RawSteady {
    rest: Field<Quantity>,
    moving: Field<Quantity>,
}

const EXAMPLE: &str = "[[\"0 %\", \"0 %\"], [\"50 %\", \"15 %\"], [\"100 %\", \"100 %\"]]";

fn points_text() -> String {
    format!(
        "{LEAST_POINTS} to {MOST_POINTS} points of stick and speed, rising from [\"0 %\", \"0 %\"] to \
         [\"100 %\", \"100 %\"]"
    )
}

/// `points`: a list of pairs of shares.
pub(super) fn points(table: &mut Table, log: &mut Log) -> Field<Vec<At<RawPoint>>> {
    let label = table.label("points");
    let Some(value) = table.any("points") else {
        return Field::Absent;
    };
    let DeValue::Array(list) = value.get_ref() else {
        let wrong = wrong_type(&label, value, "a list of points", log);
        log.push(
            wrong
                .allowed(points_text())
                .mend(format!("write {EXAMPLE}")),
        );
        return Field::Bad;
    };
    if !(LEAST_POINTS..=MOST_POINTS).contains(&list.len()) {
        log.push(
            Problem::at(value.span(), format!("{label} are too few or too many"))
                .found(format!("{} of them", list.len()))
                .allowed(points_text())
                .mend(format!("write {EXAMPLE}")),
        );
        return Field::Bad;
    }
    let points: Vec<At<RawPoint>> = list
        .iter()
        .enumerate()
        .filter_map(|(place, value)| point(&format!("point {} of {label}", place + 1), value, log))
        .collect();
    match points.len() == list.len() {
        true => got(points, value.span()),
        false => Field::Bad,
    }
}

fn point(label: &str, value: &Value, log: &mut Log) -> Option<At<RawPoint>> {
    let pair = match value.get_ref() {
        DeValue::Array(pair) => match &pair[..] {
            [stick, speed] => Some((stick, speed)),
            _ => None,
        },
        _ => None,
    };
    let Some((stick, speed)) = pair else {
        let wrong = wrong_type(label, value, "a pair of stick and speed", log);
        log.push(wrong.mend("write it as [\"50 %\", \"15 %\"]"));
        return None;
    };
    let stick = quantity(&format!("the stick of {label}"), stick, &POINT, None, log);
    let speed = quantity(&format!("the speed of {label}"), speed, &POINT, None, log);
    let point = RawPoint {
        stick: stick.got()?.value.number,
        speed: speed.got()?.value.number,
    };
    Some(At {
        value: point,
        span: value.span(),
    })
}

/// `steady`: the two cutoffs.
pub(super) fn steady(table: &mut Table, log: &mut Log) -> Field<RawSteady> {
    let example = "{ rest = \"1.5 Hz\", moving = \"8 Hz\" }";
    let at = match table.table("steady", example, log) {
        Field::Absent => return Field::Absent,
        Field::Bad => return Field::Bad,
        Field::Got(at) => at,
    };
    let mut inner = at.value;
    inner.need("rest", STEADY_REST.text(None), "\"1.5 Hz\"");
    inner.need("moving", STEADY_MOVING.text(None), "\"8 Hz\"");
    let raw = RawSteady {
        rest: inner.quantity("rest", &STEADY_REST, None, log),
        moving: inner.quantity("moving", &STEADY_MOVING, None, log),
    };
    inner.end(log);
    got(raw, at.span)
}

/// What steadies, if anything does; `None` if it was refused.
pub(super) fn valid_steady(raw: &Field<RawSteady>) -> Option<Option<Steady>> {
    let raw = match raw {
        Field::Absent => return Some(None),
        given => &given.got()?.value,
    };
    let (rest, moving) = (raw.rest.got()?, raw.moving.got()?);
    Steady::new(rest.value.number, moving.value.number).map(Some)
}

/// A curve through points.
fn by_points(raw: &RawHand, log: &mut Log) -> Option<Curve> {
    let axis = &raw.axis.value;
    if let Some(half) = raw.half.got() {
        log.push(
            Problem::at(
                half.span.clone(),
                format!("axis {axis} has points and a `half`"),
            )
            .found(format!("\"{}\"", half.value.text()))
            .allowed("points alone: they say what half a stick does")
            .mend("take it out"),
        );
    }
    let points = match &raw.points {
        Field::Absent => {
            log.push(
                Problem::at(raw.curve.span()?, format!("axis {axis} lacks `points`"))
                    .found("a curve without them")
                    .allowed(points_text())
                    .mend(format!("add `points = {EXAMPLE}`")),
            );
            return None;
        }
        given => given.got()?,
    };
    let list = &points.value;
    let good = ends_fit(axis, list, log) & rises(axis, list, log);
    if !good || !matches!(raw.half, Field::Absent) {
        return None;
    }
    let shares: Vec<(f64, f64)> = list
        .iter()
        .map(|at| (at.value.stick / 100.0, at.value.speed / 100.0))
        .collect();
    Curve::points(&shares)
}

fn ends_fit(axis: &str, list: &[At<RawPoint>], log: &mut Log) -> bool {
    let mut good = true;
    for (at, should) in [(list.first(), 0.0), (list.last(), 100.0)] {
        let Some(at) = at else { return false };
        let RawPoint { stick, speed } = at.value;
        if (stick, speed) != (should, should) {
            good = false;
            let message = format!("`points` of axis {axis} don't go from nothing to all");
            log.push(
                Problem::at(at.span.clone(), message)
                    .found(format!("{stick} % and {speed} %"))
                    .allowed("0 % and 0 % as the first point, 100 % and 100 % as the last")
                    .mend(format!("write [\"{should} %\", \"{should} %\"]")),
            );
        }
    }
    good
}

/// Whether each point is farther than the one before, and no piece is a switch.
fn rises(axis: &str, list: &[At<RawPoint>], log: &mut Log) -> bool {
    let mut good = true;
    for pair in list.windows(2) {
        let (from, to) = (pair[0].value, pair[1].value);
        let (way, gain) = (to.stick - from.stick, to.speed - from.speed);
        // 1e-9 forgives the rounding of decimal fractions.
        let what = if way < POINTS_APART - 1e-9 {
            "are too near"
        } else if gain <= 0.0 {
            "do not rise"
        } else if gain > (POINTS_STEEPEST + 1e-9) * way {
            "rise too steeply"
        } else {
            continue;
        };
        good = false;
        log.push(
            Problem::at(
                pair[1].span.clone(),
                format!("`points` of axis {axis} {what}"),
            )
            .found(format!("{} % and {} %", to.stick, to.speed))
            .also(pair[0].span.clone(), "after this one")
            .allowed(format!(
                "each at least {POINTS_APART} points of stick farther and faster, by at most \
                     {POINTS_STEEPEST} times as much"
            ))
            .mend("move it, or take it out"),
        );
    }
    good
}

pub(super) fn valid_curve(raw: &RawHand, log: &mut Log) -> Option<Curve> {
    let word = raw.curve.or(CurveWord::Linear)?;
    let axis = &raw.axis.value;
    if word == CurveWord::Points {
        return by_points(raw, log);
    }
    if let Some(at) = raw.points.got() {
        log.push(
            Problem::at(
                at.span.clone(),
                format!("`points` of axis {axis} have no curve"),
            )
            .found("another curve")
            .allowed("points with `curve = \"points\"`")
            .mend("choose that curve, or take the points out"),
        );
        return None;
    }
    let half = match (&raw.half, word) {
        (Field::Absent, CurveWord::Linear | CurveWord::Points) => HALF_OF_LINEAR,
        (Field::Absent, CurveWord::Exponential | CurveWord::Cubic) => {
            let span = raw.curve.span()?;
            log.push(
                Problem::at(span, format!("axis {axis} lacks `half`"))
                    .found("a curve without it")
                    .allowed("the speed at half stick in %: 2 to 50 exponential, 12.5 to 50 cubic")
                    .mend("add `half = \"20 %\"`, the usual one for fine work"),
            );
            return None;
        }
        (given, _) => given.got()?.value.number,
    };
    let (curve, allowed, mend) = match word {
        CurveWord::Linear | CurveWord::Points => (
            (half == HALF_OF_LINEAR).then(Curve::linear),
            "50 % with a linear curve, which is what linear means",
            "take `half` out, or choose `curve = \"exponential\"`",
        ),
        CurveWord::Exponential => (
            Curve::exponential(half / 100.0),
            "2 % to 50 % with an exponential curve",
            "choose a value inside",
        ),
        CurveWord::Cubic => (
            Curve::cubic(half / 100.0),
            "12.5 % to 50 % with a cubic curve: it can't be bent further",
            "choose a value inside, or `curve = \"exponential\"`",
        ),
    };
    if curve.is_none() {
        let label = format!("`half` of axis {axis} does not fit its curve");
        let mut problem = Problem::at(raw.half.span()?, label)
            .found(format!("{half} %"))
            .allowed(allowed)
            .mend(mend);
        if let Some(span) = raw.curve.span() {
            problem = problem.also(span, "the curve");
        }
        log.push(problem);
    }
    curve
}
