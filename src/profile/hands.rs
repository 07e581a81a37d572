//! The hands of an operator profile: the values of each axis held against each other.

use super::defaults::{
    DEADBAND_DEFAULT, GAIN_DEFAULT, HALF_OF_LINEAR, LOSE_DEFAULT, SATURATION_DEFAULT,
};
use super::field::Field;
use super::operatorfile::{HandFile, number_or};
use super::problem::{Log, Problem};
use super::quantity::Quantity;
use super::rawhand::{CurveWord, RawHand};
use super::rigfile::millis;
use stillhand_engine::feel::{Curve, Throw};
use stillhand_engine::operator::{Fine, Gears, Inch};
use stillhand_engine::units::Speed;

/// One hand; its group is found later.
pub(super) fn valid_hand(raw: &RawHand, log: &mut Log) -> Option<HandFile> {
    // Each of these reports what it finds; none may keep another from being looked at.
    let throw = valid_throw(raw, log);
    let curve = valid_curve(raw, log);
    let gears = valid_gears(raw, log);
    let fine = valid_fine(raw);
    let inch = valid_inch(raw);
    only_inched(raw, log);
    let unit_at = raw.gears.got()?.value.first()?;
    Some(HandFile {
        axis: raw.axis.value.clone(),
        rig: optional(&raw.rig, String::clone)?,
        unit: unit_at.value.axis_unit()?,
        group: 0,
        control: optional(&raw.control, |source| *source)?,
        fine: fine?,
        inch: inch?,
        invert: raw.invert.or(false)?,
        throw: throw?,
        curve: curve?,
        gears: gears?,
        ceiling: optional(&raw.ceiling, speed)?,
        framing: optional(&raw.framing, speed)?,
        gain: millis(number_or(&raw.gain, GAIN_DEFAULT)?),
        lose: millis(number_or(&raw.lose, LOSE_DEFAULT)?),
        axis_span: raw.axis.span.clone(),
        rig_span: raw.rig.span().unwrap_or(raw.axis.span.clone()),
        unit_span: unit_at.span.clone(),
    })
}

/// What is there, if anything is; `None` outside if it was refused.
fn optional<T, U>(field: &Field<T>, meant: impl Fn(&T) -> U) -> Option<Option<U>> {
    match field {
        Field::Absent => Some(None),
        given => given.got().map(|at| Some(meant(&at.value))),
    }
}

fn speed(quantity: &Quantity) -> Speed {
    Speed(quantity.number)
}

fn valid_fine(raw: &RawHand) -> Option<Option<Fine>> {
    let Some(raw) = optional(&raw.fine, Clone::clone)? else {
        return Some(None);
    };
    Some(Some(Fine {
        source: raw.control.value()?,
        share: raw.share.value()?.number / 100.0,
    }))
}

fn valid_inch(raw: &RawHand) -> Option<Option<Inch>> {
    let Some(raw) = optional(&raw.inch, Clone::clone)? else {
        return Some(None);
    };
    Some(Some(Inch {
        step: raw.step.value()?.number,
        creep: speed(&raw.creep.value()?),
    }))
}

/// On an axis without a control, what shapes a stick would do nothing.
fn only_inched(raw: &RawHand, log: &mut Log) {
    if !matches!(raw.control, Field::Absent) || matches!(raw.inch, Field::Absent) {
        return;
    }
    let shaping = [
        ("fine", raw.fine.span()),
        ("invert", raw.invert.span()),
        ("deadband", raw.deadband.span()),
        ("saturation", raw.saturation.span()),
        ("curve", raw.curve.span()),
        ("half", raw.half.span()),
    ];
    let axis = &raw.axis.value;
    for (key, span) in shaping {
        let Some(span) = span else { continue };
        log.push(
            Problem::at(span, format!("`{key}` of axis {axis} shapes no stick"))
                .found("it on an axis without `control`")
                .allowed("it beside a `control`; an axis that is only inched needs none of it")
                .mend(format!("take `{key}` out, or give axis {axis} a `control`")),
        );
    }
}

fn valid_throw(raw: &RawHand, log: &mut Log) -> Option<Throw> {
    let deadband = number_or(&raw.deadband, DEADBAND_DEFAULT)?;
    let saturation = number_or(&raw.saturation, SATURATION_DEFAULT)?;
    let throw = Throw::new(deadband / 100.0, saturation / 100.0);
    if throw.is_none() {
        let axis = &raw.axis.value;
        // At least one of them was given: the defaults fit each other.
        let at = raw.saturation.got().or(raw.deadband.got())?;
        log.push(
            Problem::at(
                at.span.clone(),
                format!("`deadband` and `saturation` of axis {axis} are too close"),
            )
            .found(format!("{deadband} % and {saturation} %"))
            .allowed("saturation at least 30 points above deadband, or no way is left to steer in")
            .mend("lower the deadband or raise the saturation"),
        );
    }
    throw
}

fn valid_curve(raw: &RawHand, log: &mut Log) -> Option<Curve> {
    let word = raw.curve.or(CurveWord::Linear)?;
    let axis = &raw.axis.value;
    let half = match (&raw.half, word) {
        (Field::Absent, CurveWord::Linear) => HALF_OF_LINEAR,
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
        CurveWord::Linear => (
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

fn valid_gears(raw: &RawHand, log: &mut Log) -> Option<Gears> {
    let list = &raw.gears.got()?.value;
    for pair in list.windows(2) {
        let (slow, fast) = (&pair[0], &pair[1]);
        if fast.value.number <= slow.value.number {
            log.push(
                Problem::at(
                    fast.span.clone(),
                    format!("`gears` of axis {} do not rise", raw.axis.value),
                )
                .found(format!("\"{}\"", fast.value.text()))
                .also(slow.span.clone(), "not below this one")
                .allowed("speeds in rising order, slowest first: a gear up is always faster")
                .mend("put them in order, or take one of two equal ones out"),
            );
        }
    }
    let speeds: Vec<Speed> = list.iter().map(|at| Speed(at.value.number)).collect();
    Gears::new(&speeds)
}
