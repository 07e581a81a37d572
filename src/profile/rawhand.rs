//! An operator profile as written: each value read by itself, with its place.

use super::buttons::{self, RawButtons};
use super::controls::{self, RawFine, RawSpeedTrigger, SOURCES};
use super::curves::{self, RawPoint, RawSteady};
use super::defaults::{DEADBAND, HALF, HANDS, MOST_ID, MOST_PATH, SATURATION, SPEED, STEP};
use super::document::{self, Kind};
use super::field::{At, Field};
use super::groups::{self, RawGroups};
use super::problem::{Log, Problem};
use super::quantity::Quantity;
use super::rawrig::{NAMES, about, axes, name_fits};
use super::sticks::{self, RawSticks};
use super::table::{Table, got, quantity, wrong_type};
use stillhand_engine::operator::{Enable, MAX_GEARS, Shakes, Source};
use stillhand_engine::units::Unit;
use toml::de::{DeTable, DeValue};

pub(super) struct RawOperator {
    pub(super) name: Field<String>,
    pub(super) about: Field<String>,
    pub(super) first_gear: Field<i64>,
    pub(super) begins_quiet: Field<bool>,
    pub(super) shakes: Field<Shakes>,
    pub(super) quiet: Field<String>,
    pub(super) enable: Field<Enable>,
    pub(super) sticks: RawSticks,
    pub(super) speed_trigger: Field<RawSpeedTrigger>,
    pub(super) groups: RawGroups,
    pub(super) hands: Vec<RawHand>,
    pub(super) buttons: RawButtons,
}

pub(super) struct RawHand {
    pub(super) axis: At<String>,
    pub(super) rig: Field<String>,
    pub(super) control: Field<Source>,
    pub(super) fine: Field<RawFine>,
    pub(super) inch: Field<RawInch>,
    pub(super) invert: Field<bool>,
    pub(super) deadband: Field<Quantity>,
    pub(super) saturation: Field<Quantity>,
    pub(super) curve: Field<CurveWord>,
    pub(super) half: Field<Quantity>,
    pub(super) points: Field<Vec<At<RawPoint>>>,
    pub(super) steady: Field<RawSteady>,
    pub(super) gears: Field<Vec<At<Quantity>>>,
    pub(super) ceiling: Field<Quantity>,
    pub(super) framing: Field<Quantity>,
    pub(super) gain: Field<Quantity>,
    pub(super) lose: Field<Quantity>,
}

pub(super) struct RawInch {
    pub(super) step: Field<Quantity>,
    pub(super) creep: Field<Quantity>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum CurveWord {
    Linear,
    Exponential,
    Cubic,
    Points,
}

pub(super) fn read(root: &DeTable, log: &mut Log) -> Option<RawOperator> {
    let (mut top, mut head) = document::open(root, Kind::Operator, log)?;
    head.need("name", NAMES.to_owned(), "\"talk\"");
    let sticks = sticks::read(&mut head, log);
    let raw = RawOperator {
        name: head.text("name", NAMES, name_fits, log),
        about: about(&mut head, log),
        first_gear: head.whole("first_gear", (1, MAX_GEARS as i64), log),
        begins_quiet: head.flag("begins_quiet", log),
        shakes: head.word("shakes", &SHAKES, log),
        quiet: head.text("quiet", QUIET, path_fits, log),
        enable: controls::enable(&mut head, log),
        sticks,
        speed_trigger: controls::speed_trigger(&mut top, log),
        groups: groups::read(&mut top, log),
        hands: axes(&mut top, log)
            .into_iter()
            .map(|(name, table)| hand(name, table, log))
            .collect(),
        buttons: buttons::read(&mut top, log),
    };
    head.end(log);
    top.end(log);
    Some(raw)
}

/// The word for when pads shake.
pub fn shakes_word(shakes: Shakes) -> &'static str {
    let own = SHAKES.iter().find(|(_, own)| *own == shakes);
    own.map_or("", |(word, _)| word)
}

const SHAKES: [(&str, Shakes); 3] = [
    ("not in quiet", Shakes::NotInQuiet),
    ("always", Shakes::Always),
    ("never", Shakes::Never),
];

const QUIET: &str = "the path of a quiet file, beginning at the folder of this one";

fn path_fits(path: &str) -> bool {
    (1..MOST_PATH).contains(&path.len()) && !path.contains(char::is_control)
}

fn hand(axis: At<String>, mut table: Table, log: &mut Log) -> RawHand {
    if !table.has("inch") {
        table.need("control", SOURCES.to_owned(), "\"rx\"");
    }
    table.need("gears", gears_text(None), "[\"0.5 deg/s\", \"3 deg/s\"]");
    let gears = gears(&mut table, log);
    // The first gear tells the unit of the axis; the rig is asked later whether it agrees.
    let first = gears.got().and_then(|at| at.value.first());
    let unit = first.and_then(|gear| gear.value.axis_unit());
    let rig_fits = |id: &str| (1..=MOST_ID).contains(&id.len());
    let raw = RawHand {
        axis,
        rig: table.text("rig", "the id of a rig", rig_fits, log),
        control: controls::source(&mut table, log),
        fine: controls::fine(&mut table, log),
        inch: inch(&mut table, unit, log),
        invert: table.flag("invert", log),
        deadband: table.quantity("deadband", &DEADBAND, None, log),
        saturation: table.quantity("saturation", &SATURATION, None, log),
        curve: table.word(
            "curve",
            &[
                ("linear", CurveWord::Linear),
                ("exponential", CurveWord::Exponential),
                ("cubic", CurveWord::Cubic),
                ("points", CurveWord::Points),
            ],
            log,
        ),
        half: table.quantity("half", &HALF, None, log),
        points: curves::points(&mut table, log),
        steady: curves::steady(&mut table, log),
        gears,
        ceiling: table.quantity("ceiling", &SPEED, unit, log),
        framing: table.quantity("framing", &SPEED, unit, log),
        gain: table.quantity("gain", &HANDS, None, log),
        lose: table.quantity("lose", &HANDS, None, log),
    };
    table.end(log);
    raw
}

fn inch(table: &mut Table, unit: Option<Unit>, log: &mut Log) -> Field<RawInch> {
    let example = "{ step = \"0.1 deg\", creep = \"0.3 deg/s\" }";
    let at = match table.table("inch", example, log) {
        Field::Absent => return Field::Absent,
        Field::Bad => return Field::Bad,
        Field::Got(at) => at,
    };
    let mut inner = at.value;
    let like = |bound: &super::defaults::Bound| format!("\"{}\"", bound.example(unit));
    inner.need("step", STEP.text(unit), &like(&STEP));
    inner.need("creep", SPEED.text(unit), &like(&SPEED));
    let raw = RawInch {
        step: inner.quantity("step", &STEP, unit, log),
        creep: inner.quantity("creep", &SPEED, unit, log),
    };
    inner.end(log);
    got(raw, at.span)
}

fn gears_text(unit: Option<Unit>) -> String {
    let speed = SPEED.text(unit);
    format!("a list of 1 to {MAX_GEARS} full-stick speeds, slowest first, each {speed}")
}

fn gears(table: &mut Table, log: &mut Log) -> Field<Vec<At<Quantity>>> {
    let label = table.label("gears");
    let Some(value) = table.any("gears") else {
        return Field::Absent;
    };
    let DeValue::Array(list) = value.get_ref() else {
        let wrong = wrong_type(&label, value, "a list of speeds", log);
        log.push(
            wrong
                .allowed(gears_text(None))
                .mend("write [\"0.5 deg/s\", \"3 deg/s\"]"),
        );
        return Field::Bad;
    };
    if !(1..=MAX_GEARS).contains(&list.len()) {
        log.push(
            Problem::at(
                value.span(),
                format!("{label} must be 1 to {MAX_GEARS} speeds"),
            )
            .found(format!("{} of them", list.len()))
            .allowed(gears_text(None))
            .mend("three gears suit most hands: creep, work, move"),
        );
        return Field::Bad;
    }
    let mut unit = None;
    let mut speeds = Vec::new();
    for (index, value) in list.iter().enumerate() {
        let label = format!("gear {} of {}", index + 1, table.label("gears"));
        if let Field::Got(speed) = quantity(&label, value, &SPEED, unit, log) {
            unit = unit.or(speed.value.axis_unit());
            speeds.push(speed);
        }
    }
    match speeds.len() == list.len() {
        true => got(speeds, value.span()),
        false => Field::Bad,
    }
}
