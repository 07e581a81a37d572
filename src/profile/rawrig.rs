//! A rig file as written: each value read by itself, with its place.

use super::defaults::{
    ACCEL, BAUD, DELAY, JERK, MOST_ABOUT, MOST_ID, MOST_NAME, MOST_PATH, POSITION, REACH, SCALE,
    SPEED, WATCHDOG,
};
use super::document::{self, Kind};
use super::drive::{self, RawDrive};
use super::field::{At, Field};
use super::problem::{Log, Problem, short};
use super::quantity::Quantity;
use super::table::{Table, Value, found, got, quantity, wrong_type};
use stillhand_engine::MAX_AXES;
use stillhand_engine::rig::{Mount, Picture};
use stillhand_engine::units::Unit;
use toml::de::{DeTable, DeValue};

pub(super) struct RawRig {
    pub(super) id: Field<String>,
    pub(super) about: Field<String>,
    pub(super) port: Field<String>,
    pub(super) baud: Field<i64>,
    pub(super) mount: Field<Mount>,
    pub(super) delay: Field<Quantity>,
    pub(super) watchdog: Field<Quantity>,
    pub(super) axes: Vec<RawAxis>,
}

pub(super) struct RawAxis {
    pub(super) name: At<String>,
    pub(super) turns: Field<Picture>,
    pub(super) scale: Field<Quantity>,
    pub(super) reverse: Field<bool>,
    pub(super) travel: Field<RawTravel>,
    pub(super) speed: Field<Quantity>,
    pub(super) normal: Field<RawSet>,
    pub(super) stop: Field<RawStop>,
    pub(super) reach: Field<Quantity>,
    pub(super) enable: Field<bool>,
    pub(super) lower_current: Field<bool>,
    pub(super) drive: Field<RawDrive>,
}

#[derive(Clone)]
pub(super) enum RawTravel {
    Continuous,
    Ends(Quantity, Quantity),
}

/// An acceleration and a jerk.
#[derive(Clone)]
pub(super) struct RawSet {
    pub(super) accel: Field<Quantity>,
    pub(super) jerk: Field<Quantity>,
}

#[derive(Clone)]
pub(super) enum RawStop {
    Both(RawSet),
    Each {
        plus: Field<RawSet>,
        minus: Field<RawSet>,
    },
}

pub(super) fn read(root: &DeTable, log: &mut Log) -> Option<RawRig> {
    let (mut top, mut head) = document::open(root, Kind::Rig, log)?;
    let id_allowed = format!("1 to {MOST_ID} printable ASCII characters, no blank at either end");
    head.need("id", id_allowed.clone(), "\"hall-bench\"");
    head.need("port", PORTS.to_owned(), "\"sim\"");
    head.need("delay", DELAY.text(None), "\"10 ms\"");
    let id_fits = |id: &str| {
        let printable = id.bytes().all(|b| (b' '..=b'~').contains(&b));
        (1..=MOST_ID).contains(&id.len()) && printable && id.trim() == id
    };
    let raw = RawRig {
        id: head.text("id", &id_allowed, id_fits, log),
        about: about(&mut head, log),
        port: head.text("port", PORTS, port_fits, log),
        baud: head.whole("baud", BAUD, log),
        mount: head.word(
            "mount",
            &[
                ("upright", Mount::Upright),
                ("underslung", Mount::Underslung),
                ("side", Mount::Side),
            ],
            log,
        ),
        delay: head.quantity("delay", &DELAY, None, log),
        watchdog: head.quantity("watchdog", &WATCHDOG, None, log),
        axes: axes(&mut top, log)
            .into_iter()
            .map(|(name, table)| axis(name, table, log))
            .collect(),
    };
    head.end(log);
    top.end(log);
    Some(raw)
}

pub(super) const PORTS: &str = "\"sim\" or the path of a device, such as \"/dev/serial/by-id/...\"";

fn port_fits(port: &str) -> bool {
    let path = port.starts_with('/') && port.len() < MOST_PATH && !port.contains(char::is_control);
    port == "sim" || path
}

/// The free text both kinds of file may carry.
pub(super) fn about(head: &mut Table, log: &mut Log) -> Field<String> {
    let allowed = format!("free text of at most {MOST_ABOUT} characters");
    head.text(
        "about",
        &allowed,
        |text| text.chars().count() <= MOST_ABOUT,
        log,
    )
}

pub(super) const NAMES: &str = "1 to 16 of the characters a-z 0-9 _ -";

/// Whether a text may name an axis or an operator.
pub(super) fn name_fits(name: &str) -> bool {
    let plain = |b: u8| matches!(b, b'a'..=b'z' | b'0'..=b'9' | b'_' | b'-');
    (1..=MOST_NAME).contains(&name.len()) && name.bytes().all(plain)
}

/// The `[axis.NAME]` tables both kinds of file have, in the order of the file, at most
/// [`MAX_AXES`] of them; the rest is one problem and is not looked at.
pub(super) fn axes<'a>(top: &mut Table<'a>, log: &mut Log) -> Vec<(At<String>, Table<'a>)> {
    top.need(
        "axis",
        "1 to 8 tables [axis.NAME]".to_owned(),
        "one, such as [axis.pan]",
    );
    let Field::Got(axis) = top.table("axis", "a table for each axis, such as [axis.pan]", log)
    else {
        return Vec::new();
    };
    let entries = axis.value.entries();
    if entries.is_empty() {
        log.push(
            Problem::at(axis.span, "there is no axis here")
                .found("none")
                .allowed(format!("1 to {MAX_AXES} tables [axis.NAME]"))
                .mend("add one, such as [axis.pan]"),
        );
    }
    if let Some((extra, _)) = entries.get(MAX_AXES) {
        log.push(
            Problem::at(extra.span.clone(), "too many axes")
                .found(format!("{} of them", entries.len()))
                .allowed(format!("1 to {MAX_AXES} axes"))
                .mend("take out this one and those below"),
        );
    }
    let kept = entries.into_iter().take(MAX_AXES);
    kept.filter_map(|(name, value)| named(name, value, log))
        .collect()
}

fn named<'a>(
    name: At<String>,
    value: &'a Value<'a>,
    log: &mut Log,
) -> Option<(At<String>, Table<'a>)> {
    if !name_fits(&name.value) {
        log.push(
            Problem::at(name.span.clone(), "an axis can't have this name")
                .found(found(&name.value))
                .allowed(NAMES)
                .mend("choose a short name such as pan, tilt, slide, lift"),
        );
    }
    let place = format!("axis {}", short(&name.value));
    match value.get_ref() {
        DeValue::Table(table) => Some((name, Table::new(place, value.span(), table))),
        _ => {
            let wrong = wrong_type(&place, value, "a table", log);
            log.push(wrong.mend("begin it with a line [axis.NAME]"));
            None
        }
    }
}

fn axis(name: At<String>, mut table: Table, log: &mut Log) -> RawAxis {
    let scale = table.quantity("scale", &SCALE, None, log);
    // Everything else is held against the unit the scale gives the axis.
    let unit = scale.got().and_then(|at| at.value.axis_unit());
    let like = |bound: &super::defaults::Bound| format!("\"{}\"", bound.example(unit));
    table.need("scale", SCALE.text(None), "\"27.8 counts/deg\"");
    table.need("travel", TRAVELS.to_owned(), "[\"-170 deg\", \"170 deg\"]");
    table.need("speed", SPEED.text(unit), &like(&SPEED));
    let set = format!("{{ accel = {}, jerk = {} }}", like(&ACCEL), like(&JERK));
    table.need("normal", SETS.to_owned(), &set);
    table.need("stop", STOPS.to_owned(), &set);
    let raw = RawAxis {
        name,
        turns: table.word(
            "turns",
            &[
                ("pan", Picture::Pan),
                ("tilt", Picture::Tilt),
                ("other", Picture::Other),
            ],
            log,
        ),
        scale,
        reverse: table.flag("reverse", log),
        travel: travel(&mut table, unit, log),
        speed: table.quantity("speed", &SPEED, unit, log),
        normal: set_of("normal", &mut table, unit, log),
        stop: stop(&mut table, unit, log),
        reach: table.quantity("reach", &REACH, Some(Unit::Mm), log),
        enable: table.flag("enable", log),
        lower_current: table.flag("lower_current", log),
        drive: drive::read(&mut table, unit, log),
    };
    table.end(log);
    raw
}

const TRAVELS: &str = "the low and the high end in a list, or \"continuous\"";
const SETS: &str = "an acceleration and a jerk";
const STOPS: &str = "an acceleration and a jerk, or such a set for plus and one for minus";

fn travel(table: &mut Table, unit: Option<Unit>, log: &mut Log) -> Field<RawTravel> {
    let label = table.label("travel");
    let Some(value) = table.any("travel") else {
        return Field::Absent;
    };
    let mend = "write both ends, as in [\"-170 deg\", \"170 deg\"], or \"continuous\"";
    let problem = match value.get_ref() {
        DeValue::String(text) if text == "continuous" => {
            return got(RawTravel::Continuous, value.span());
        }
        DeValue::Array(ends) => match &ends[..] {
            [low, high] => {
                let low = quantity(
                    &format!("the low end of {label}"),
                    low,
                    &POSITION,
                    unit,
                    log,
                );
                let high = quantity(
                    &format!("the high end of {label}"),
                    high,
                    &POSITION,
                    unit,
                    log,
                );
                return match (low, high) {
                    (Field::Got(low), Field::Got(high)) => {
                        got(RawTravel::Ends(low.value, high.value), value.span())
                    }
                    _ => Field::Bad,
                };
            }
            other => Problem::at(value.span(), format!("{label} must have two ends"))
                .found(format!("{} of them", other.len())),
        },
        _ => wrong_type(&label, value, "two ends or \"continuous\"", log),
    };
    log.push(problem.allowed(TRAVELS).mend(mend));
    Field::Bad
}

fn set_of(
    key: &'static str,
    table: &mut Table,
    unit: Option<Unit>,
    log: &mut Log,
) -> Field<RawSet> {
    match table.table(key, "{ accel = \"...\", jerk = \"...\" }", log) {
        Field::Absent => Field::Absent,
        Field::Bad => Field::Bad,
        Field::Got(at) => {
            let mut set = at.value;
            let raw = set_in(&mut set, unit, log);
            set.end(log);
            got(raw, at.span)
        }
    }
}

fn set_in(set: &mut Table, unit: Option<Unit>, log: &mut Log) -> RawSet {
    set.need(
        "accel",
        ACCEL.text(unit),
        &format!("\"{}\"", ACCEL.example(unit)),
    );
    set.need(
        "jerk",
        JERK.text(unit),
        &format!("\"{}\"", JERK.example(unit)),
    );
    RawSet {
        accel: set.quantity("accel", &ACCEL, unit, log),
        jerk: set.quantity("jerk", &JERK, unit, log),
    }
}

fn stop(table: &mut Table, unit: Option<Unit>, log: &mut Log) -> Field<RawStop> {
    let at = match table.table("stop", "{ accel = \"...\", jerk = \"...\" }", log) {
        Field::Absent => return Field::Absent,
        Field::Bad => return Field::Bad,
        Field::Got(at) => at,
    };
    let mut inner = at.value;
    let raw = if inner.has("plus") || inner.has("minus") {
        inner.need(
            "plus",
            SETS.to_owned(),
            "{ accel = \"...\", jerk = \"...\" }",
        );
        inner.need(
            "minus",
            SETS.to_owned(),
            "{ accel = \"...\", jerk = \"...\" }",
        );
        RawStop::Each {
            plus: set_of("plus", &mut inner, unit, log),
            minus: set_of("minus", &mut inner, unit, log),
        }
    } else {
        RawStop::Both(set_in(&mut inner, unit, log))
    };
    inner.end(log);
    got(raw, at.span)
}
