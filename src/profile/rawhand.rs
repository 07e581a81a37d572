//! An operator profile as written: each value read by itself, with its place.

use super::buttons::{self, RawButtons};
use super::controls::{self, RawFine, RawSpeedTrigger, SOURCES};
use super::defaults::{DEADBAND, HALF, HANDS, MOST_ID, MOST_PATH, SATURATION, SPEED, STEP};
use super::document::{self, Kind};
use super::field::{At, Field};
use super::groups::{self, RawGroups};
use super::problem::{Log, Problem};
use super::quantity::Quantity;
use super::rawpress::{self, RawButtons};
use super::rawrig::{NAMES, about, axes, name_fits};
use super::sticks::{self, RawSticks};
use super::table::{Table, got, quantity, wrong_type};
use stillhand_engine::operator::{Enable, MAX_GEARS, Source};
use stillhand_engine::units::Unit;
use toml::de::{DeTable, DeValue};

pub(super) struct RawOperator {
    pub(super) name: Field<String>,
    pub(super) about: Field<String>,
    pub(super) first_gear: Field<i64>,
    pub(super) begins_quiet: Field<bool>,
    pub(super) quiet: Field<String>,
    pub(super) enable: Field<Enable>,
    pub(super) sticks: RawSticks,
    pub(super) speed_trigger: Field<RawSpeedTrigger>,
    pub(super) groups: RawGroups,
    pub(super) hands: Vec<RawHand>,
    pub(super) buttons: RawButtons,
}

pub(super) struct RawSticks {
    pub(super) left: Field<StickWord>,
    pub(super) right: Field<StickWord>,
    pub(super) wedge_left: Field<Quantity>,
    pub(super) wedge_right: Field<Quantity>,
    pub(super) common_speed: Field<bool>,
}

#[derive(Clone)]
pub(super) struct RawTrigger {
    pub(super) control: Field<Control>,
    pub(super) let_go: Field<Quantity>,
    pub(super) pulled: Field<Quantity>,
}

#[derive(Clone)]
pub(super) struct RawGroup {
    pub(super) name: At<String>,
    pub(super) axes: Vec<At<String>>,
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

const QUIET: &str = "the path of a quiet file, beginning at the folder of this one";

fn path_fits(path: &str) -> bool {
    (1..MOST_PATH).contains(&path.len()) && !path.contains(char::is_control)
}

fn speed_trigger(top: &mut Table, log: &mut Log) -> Field<RawTrigger> {
    let (mut table, span) = match top.table("speed_trigger", "a line [speed_trigger]", log) {
        Field::Absent => return Field::Absent,
        Field::Bad => return Field::Bad,
        Field::Got(at) => (at.value, at.span),
    };
    let share = || LEFT_SHARE.text(None);
    table.need("control", "lt or rt".to_owned(), "\"lt\"");
    table.need("let_go", share(), "\"100 %\"");
    table.need("pulled", share(), "\"25 %\"");
    let words = TRIGGERS.map(|trigger| (trigger.name(), trigger));
    let trigger = RawTrigger {
        control: table.word("control", &words, log),
        let_go: table.quantity("let_go", &LEFT_SHARE, None, log),
        pulled: table.quantity("pulled", &LEFT_SHARE, None, log),
    };
    table.end(log);
    got(trigger, span)
}

fn groups(top: &mut Table, log: &mut Log) -> Field<Vec<RawGroup>> {
    const EXAMPLE: &str = "head = [\"pan\", \"tilt\"]";
    let place = top.label("groups");
    let (table, span) = match top.table("groups", "a line [groups]", log) {
        Field::Absent => return Field::Absent,
        Field::Bad => return Field::Bad,
        Field::Got(at) => (at.value, at.span),
    };
    let mut list = Vec::new();
    let mut bad = false;
    let entries = table.entries();
    let count = entries.len();
    if !(1..=MAX_GROUPS).contains(&count) {
        log.push(
            Problem::at(
                span.clone(),
                format!("{place} must name 1 to {MAX_GROUPS} groups"),
            )
            .found(format!("{count} of them"))
            .allowed(format!(
                "1 to {MAX_GROUPS}, which pads can hold by themselves"
            ))
            .mend(format!(
                "write {EXAMPLE}; without [groups] all axes go together"
            )),
        );
        return Field::Bad;
    }
    for (name, value) in entries {
        let label = format!("group {}", short(&name.value));
        if !name_fits(&name.value) {
            log.push(
                Problem::at(name.span.clone(), "a group can't have this name")
                    .found(found(&name.value))
                    .allowed(NAMES)
                    .mend("choose a short name such as head, lens, base"),
            );
            bad = true;
        }
        match axis_names(&label, value, log) {
            Some(axes) => list.push(RawGroup { name, axes }),
            None => bad = true,
        }
    }
    if bad { Field::Bad } else { got(list, span) }
}

fn axis_names(label: &str, value: &Value, log: &mut Log) -> Option<Vec<At<String>>> {
    let wrong = |value: &Value, log: &Log| {
        wrong_type(label, value, "a list of names of axes", log).mend("write [\"pan\", \"tilt\"]")
    };
    let DeValue::Array(list) = value.get_ref() else {
        log.push(wrong(value, log));
        return None;
    };
    let mut names = Vec::new();
    for value in list.iter() {
        match value.get_ref().as_str() {
            Some(name) => names.push(At {
                value: name.to_owned(),
                span: value.span(),
            }),
            None => log.push(wrong(value, log)),
        }
    }
    (names.len() == list.len()).then_some(names)
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
            ],
            log,
        ),
        half: table.quantity("half", &HALF, None, log),
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
