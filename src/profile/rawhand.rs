//! An operator profile as written: each value read by itself, with its place.

use super::defaults::{DEADBAND, HALF, HANDS, MOST_ID, SATURATION, SPEED, STEP, WEDGE};
use super::document::{self, Kind};
use super::field::{At, Field};
use super::press::{self, PRESSES, RawBinding, RawPress};
use super::problem::{Log, Problem};
use super::quantity::Quantity;
use super::rawrig::{NAMES, about, axes, name_fits};
use super::table::{Table, got, quantity, wrong_type};
use stillhand_engine::bindings::Action;
use stillhand_engine::input::{Button, Control};
use stillhand_engine::operator::{Enable, MAX_GEARS};
use stillhand_engine::units::Unit;
use toml::de::{DeTable, DeValue};

pub(super) struct RawOperator {
    pub(super) name: Field<String>,
    pub(super) about: Field<String>,
    pub(super) first_gear: Field<i64>,
    pub(super) wedge_left: Field<Quantity>,
    pub(super) wedge_right: Field<Quantity>,
    pub(super) hands: Vec<RawHand>,
    pub(super) buttons: Vec<RawBinding>,
    pub(super) enable: Field<Enable>,
    pub(super) begins_quiet: Field<bool>,
}

pub(super) struct RawHand {
    pub(super) axis: At<String>,
    pub(super) rig: Field<String>,
    pub(super) control: Field<Control>,
    pub(super) invert: Field<bool>,
    pub(super) deadband: Field<Quantity>,
    pub(super) saturation: Field<Quantity>,
    pub(super) curve: Field<CurveWord>,
    pub(super) half: Field<Quantity>,
    pub(super) gears: Field<Vec<At<Quantity>>>,
    pub(super) ceiling: Field<Quantity>,
    pub(super) gain: Field<Quantity>,
    pub(super) lose: Field<Quantity>,
    pub(super) framing: Field<Quantity>,
    pub(super) inch: Field<RawInch>,
}

/// What inching does, and the buttons for it.
#[derive(Clone)]
pub(super) struct RawInch {
    pub(super) step: Field<Quantity>,
    pub(super) creep: Field<Quantity>,
    pub(super) plus: RawPress,
    pub(super) minus: RawPress,
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
    let (wedge_left, wedge_right) = wedge(&mut head, log);
    let raw = RawOperator {
        name: head.text("name", NAMES, name_fits, log),
        about: about(&mut head, log),
        first_gear: head.whole("first_gear", (1, MAX_GEARS as i64), log),
        wedge_left,
        wedge_right,
        hands: axes(&mut top, log)
            .into_iter()
            .map(|(name, table)| hand(name, table, log))
            .collect(),
        buttons: press::read(&mut top, log),
        enable: enable(&mut head, log),
        begins_quiet: head.flag("begins_quiet", log),
    };
    head.end(log);
    top.end(log);
    Some(raw)
}

fn wedge(head: &mut Table, log: &mut Log) -> (Field<Quantity>, Field<Quantity>) {
    let mut sides = match head.table("wedge", "{ left = \"8 deg\", right = \"8 deg\" }", log) {
        Field::Absent => return (Field::Absent, Field::Absent),
        Field::Bad => return (Field::Bad, Field::Bad),
        Field::Got(at) => at.value,
    };
    let left = sides.quantity("left", &WEDGE, Some(Unit::Deg), log);
    let right = sides.quantity("right", &WEDGE, Some(Unit::Deg), log);
    sides.end(log);
    (left, right)
}

fn hand(axis: At<String>, mut table: Table, log: &mut Log) -> RawHand {
    table.need("control", "lx, ly, rx or ry".to_owned(), "\"rx\"");
    table.need("gears", gears_text(None), "[\"0.5 deg/s\", \"3 deg/s\"]");
    let gears = gears(&mut table, log);
    // The first gear tells the unit of the axis; the rig is asked later whether it agrees.
    let first = gears.got().and_then(|at| at.value.first());
    let unit = first.and_then(|gear| gear.value.axis_unit());
    let rig_fits = |id: &str| (1..=MOST_ID).contains(&id.len());
    let raw = RawHand {
        axis,
        rig: table.text("rig", "the id of a rig", rig_fits, log),
        control: control(&mut table, log),
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
        gain: table.quantity("gain", &HANDS, None, log),
        lose: table.quantity("lose", &HANDS, None, log),
        framing: table.quantity("framing", &SPEED, unit, log),
        inch: inch(&mut table, unit, log),
    };
    table.end(log);
    raw
}

/// The step, the creep and the two buttons of inching.
fn inch(table: &mut Table, unit: Option<Unit>, log: &mut Log) -> Field<RawInch> {
    let example = "{ step = \"0.1 deg\", creep = \"0.3 deg/s\", plus = \"dpad-right\", minus = \"dpad-left\" }";
    let mut inside = match table.table("inch", example, log) {
        Field::Absent => return Field::Absent,
        Field::Bad => return Field::Bad,
        Field::Got(at) => at,
    };
    let keys = &mut inside.value;
    keys.need(
        "step",
        STEP.text(unit),
        &format!("\"{}\"", STEP.example(unit)),
    );
    keys.need("creep", SPEED.text(unit), "\"0.3 deg/s\"");
    keys.need("plus", PRESSES.to_owned(), "\"dpad-right\"");
    keys.need("minus", PRESSES.to_owned(), "\"dpad-left\"");
    // Which hand it is does not matter to how a press is read.
    let action = |plus| Action::Inch { hand: 0, plus };
    let raw = RawInch {
        step: keys.quantity("step", &STEP, unit, log),
        creep: keys.quantity("creep", &SPEED, unit, log),
        plus: press::press(keys, "plus", action(true), log),
        minus: press::press(keys, "minus", action(false), log),
    };
    inside.value.end(log);
    got(raw, inside.span)
}

/// What is held down to enable an axis: a button, or a trigger.
fn enable(head: &mut Table, log: &mut Log) -> Field<Enable> {
    let mut words = Button::ALL
        .map(|button| (button.name(), Enable::Button(button)))
        .to_vec();
    words.extend([Control::Lt, Control::Rt].map(|c| (c.name(), Enable::Trigger(c))));
    head.word("enable", &words, log)
}

/// A stick direction. The triggers are known words with a reason against them: one pushes its axis
/// one way only, and could never bring it back.
fn control(table: &mut Table, log: &mut Log) -> Field<Control> {
    let words = Control::ALL.map(|control| (control.name(), control));
    let (sticks, triggers) = words.split_at(4);
    let label = table.label("control");
    if let Some(value) = table.any("control")
        && let Some(text) = value.get_ref().as_str()
        && triggers.iter().any(|(name, _)| *name == text)
    {
        log.push(
            Problem::at(value.span(), format!("{label} is a trigger"))
                .found(format!("\"{text}\""))
                .allowed(
                    "lx, ly, rx or ry: a trigger pushes one way only, the axis could not come back",
                )
                .mend("choose a stick direction"),
        );
        return Field::Bad;
    }
    table.word("control", sticks, log)
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
