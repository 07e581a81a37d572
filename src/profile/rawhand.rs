//! An operator profile as written: each value read by itself, with its place.

use super::defaults::{DEADBAND, HALF, HANDS, MOST_ID, SATURATION, SPEED, WEDGE};
use super::document::{self, Kind};
use super::field::{At, Field};
use super::problem::{Log, Problem};
use super::quantity::Quantity;
use super::rawrig::{NAMES, about, axes, name_fits};
use super::table::{Table, got, quantity, wrong_type};
use stillhand_engine::input::{Button, Control};
use stillhand_engine::operator::MAX_GEARS;
use stillhand_engine::units::Unit;
use toml::de::{DeTable, DeValue};

pub(super) struct RawOperator {
    pub(super) name: Field<String>,
    pub(super) about: Field<String>,
    pub(super) first_gear: Field<i64>,
    pub(super) wedge_left: Field<Quantity>,
    pub(super) wedge_right: Field<Quantity>,
    pub(super) hands: Vec<RawHand>,
    pub(super) buttons: RawButtons,
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
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum CurveWord {
    Linear,
    Exponential,
    Cubic,
}

/// What each action is bound to; `None` inside stands for the word `none`.
pub(super) struct RawButtons {
    pub(super) stop: Field<Button>,
    pub(super) release: Field<Button>,
    pub(super) gear_up: Field<Option<Button>>,
    pub(super) gear_down: Field<Option<Button>>,
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
        buttons: buttons(&mut top, log),
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
    };
    table.end(log);
    raw
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

fn buttons(top: &mut Table, log: &mut Log) -> RawButtons {
    let mut table = match top.table(
        "buttons",
        "a line [buttons], and the bindings below it",
        log,
    ) {
        Field::Got(at) => at.value,
        Field::Absent => return RawButtons::all(|| Field::Absent, || Field::Absent),
        Field::Bad => return RawButtons::all(|| Field::Bad, || Field::Bad),
    };
    let names = Button::ALL.map(|button| (button.name(), button));
    let mut or_none = names.map(|(name, button)| (name, Some(button))).to_vec();
    or_none.push(("none", None));
    let raw = RawButtons {
        stop: table.word("stop", &names, log),
        release: table.word("release", &names, log),
        gear_up: table.word("gear_up", &or_none, log),
        gear_down: table.word("gear_down", &or_none, log),
    };
    table.end(log);
    raw
}

impl RawButtons {
    fn all(
        bound: impl Fn() -> Field<Button>,
        free: impl Fn() -> Field<Option<Button>>,
    ) -> RawButtons {
        RawButtons {
            stop: bound(),
            release: bound(),
            gear_up: free(),
            gear_down: free(),
        }
    }
}
