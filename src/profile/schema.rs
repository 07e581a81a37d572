//! A JSON Schema of each kind of file, for editors that complete and underline.
//!
//! It is written down by listening to the reader: given a file that has every table and nothing in
//! them, the reader asks for each key it knows ([`Ask`]). So the schema can't fall behind. Only
//! the few values the reader looks at itself (a list of gears, the ends of a travel, presses) are
//! described here, and a test sees to it that none is left out.
//!
//! A schema knows the shape of a file, not its sense: bounds of quantities and whatever holds
//! between two keys are for `check`.

use super::defaults::{
    BAUD_DEFAULT, Bound, DEADBAND_DEFAULT, GAIN_DEFAULT, LOSE_DEFAULT, MOST_ABOUT, POINT, POSITION,
    REACH_DEFAULT, SATURATION_DEFAULT, SHAKES_DEFAULT, SPEED, STEP_RATE, WATCHDOG_DEFAULT,
    WEDGE_DEFAULT,
};
use super::press::{press_text, presses};
use super::problem::Log;
use super::rawrig::NAMES;
use super::{ACTIONS, Kind, Source, document, quietfile, rawhand, rawrig, trimfile};
use serde_json::{Map, Value, json};
use stillhand_engine::MAX_AXES;
use stillhand_engine::feel::monotone::{LEAST_POINTS, MOST_POINTS};
use stillhand_engine::input::{Button, Control};
use stillhand_engine::motion::bands::MAX_BANDS;
use stillhand_engine::operator::{MAX_GEARS, MAX_GROUPS};
use stillhand_engine::units::Unit;

/// Something the reader looks for.
#[derive(Clone, Debug)]
pub(super) struct Ask {
    /// The table it looks in, as messages call it.
    pub(super) place: String,
    /// The key.
    pub(super) key: &'static str,
    /// What it wants there.
    pub(super) wanted: Wanted,
}

/// What the reader wants of a key.
#[derive(Clone, Debug)]
pub(super) enum Wanted {
    /// Text, with what is allowed in words.
    Text(String),
    /// One of some words.
    Word(Vec<&'static str>),
    /// True or false.
    Flag,
    /// A whole number of these bounds.
    Whole(i64, i64),
    /// A number with one of some units, with its bound in words and usual values.
    Quantity {
        /// The units it may have.
        units: Vec<&'static str>,
        /// What is allowed, in words.
        allowed: String,
        /// Usual values.
        examples: Vec<&'static str>,
    },
    /// A table, whose keys are asked for by themselves.
    Table,
    /// It looks at the value itself.
    Something,
    /// The key must be there.
    Needed,
}

impl Wanted {
    pub(super) fn quantity(bound: &Bound, axis: Option<Unit>) -> Wanted {
        let mut examples: Vec<&'static str> = match axis {
            None => bound.example.to_vec(),
            given => vec![bound.example(given)],
        };
        examples.dedup();
        Wanted::Quantity {
            units: bound.kind.symbols(axis).collect(),
            allowed: bound.text(axis),
            examples,
        }
    }
}

/// The schema of one kind of file, as JSON (draft 2020-12).
pub fn schema(kind: Kind) -> Value {
    let asks: Vec<Ask> = probes(kind)
        .iter()
        .flat_map(|probe| asks(kind, probe))
        .collect();
    let mut top = table(&asks, kind, super::table::FILE);
    let head = json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": format!("stillhand: {}", kind.noun()),
    });
    if let (Value::Object(top), Value::Object(head)) = (&mut top, head) {
        top.extend(head);
    }
    top
}

/// Files with every table there can be and nothing in them, and others that lack what is needed.
fn probes(kind: Kind) -> &'static [&'static str] {
    match kind {
        Kind::Rig => &[
            "[rig]\n[axis.x]\nnormal = {}\nstop = {}\ndrive = {}\n\
             [axis.each]\nstop = { plus = {}, minus = {} }\n",
            "[rig]\n[axis.x]\n",
            "[rig]\n",
        ],
        Kind::Operator => &[
            "[operator]\nwedge = {}\n[axis.x]\ncontrol = {}\nfine = { control = {} }\ninch = {}\nsteady = {}\n\
             [groups]\n[speed_trigger]\n[buttons]\ncontrol = {}\ninch = { x = {} }\nend_here = {}\n",
            "[operator]\n[axis.x]\nfine = {}\n",
            "[operator]\n",
        ],
        Kind::Quiet => &["[quiet]\n[axis.x]\n", "[quiet]\n"],
        Kind::Trim => &[
            "[trim]\n[stick]\nlx = {}\nly = {}\nrx = {}\nry = {}\n[trigger]\nlt = {}\nrt = {}\n",
            "[trim]\n",
        ],
    }
}

/// What the reader asks for when it is given `text`.
fn asks(kind: Kind, text: &str) -> Vec<Ask> {
    let source = Source::new("probe", text);
    let mut log = Log::listening(&source);
    if let Some(root) = document::parse(&source, &mut log) {
        let root = root.get_ref();
        match kind {
            Kind::Rig => drop(rawrig::read(root, &mut log)),
            Kind::Operator => drop(rawhand::read(root, &mut log)),
            Kind::Quiet => drop(quietfile::read(root, &mut log)),
            Kind::Trim => drop(trimfile::read(root, &mut log)),
        }
    }
    log.asked()
}

/// The schema of a table: its keys, those that must be there, and no others.
fn table(asks: &[Ask], kind: Kind, place: &str) -> Value {
    let mut properties = Map::new();
    let mut needed: Vec<&str> = Vec::new();
    for ask in asks.iter().filter(|ask| ask.place == place) {
        if matches!(ask.wanted, Wanted::Needed) {
            // An axis may be inched instead of steered: said beside it.
            if ask.key != "control" || kind != Kind::Operator || place != "axis x" {
                needed.push(ask.key);
            }
            continue;
        }
        let known = properties
            .get(ask.key)
            .is_some_and(|known| *known != Value::Null);
        if !known {
            properties.insert(ask.key.to_owned(), value(asks, kind, ask));
        }
    }
    if place == super::table::FILE {
        needed.push(kind.table());
    }
    needed.sort_unstable();
    needed.dedup();
    let mut table = json!({
        "type": "object",
        "properties": properties,
        "required": needed,
        "additionalProperties": false,
    });
    if kind == Kind::Operator && place == "axis x" {
        table["anyOf"] = json!([{"required": ["control"]}, {"required": ["inch"]}]);
    }
    table
}

/// The schema of what a key holds, with its default.
fn value(asks: &[Ask], kind: Kind, ask: &Ask) -> Value {
    let mut value = match &ask.wanted {
        Wanted::Text(allowed) => text(allowed),
        Wanted::Word(words) => json!({"enum": words}),
        Wanted::Flag => json!({"type": "boolean"}),
        Wanted::Whole(low, high) => json!({"type": "integer", "minimum": low, "maximum": high}),
        Wanted::Quantity {
            units,
            allowed,
            examples,
        } => quantity(units, allowed, examples),
        Wanted::Table | Wanted::Something => inner(asks, kind, ask),
        Wanted::Needed => Value::Null,
    };
    if let (Some(default), Value::Object(value)) = (default(kind, &ask.place, ask.key), &mut value)
    {
        value.insert("default".to_owned(), default);
    }
    value
}

/// Text the reader has rules for beyond its being text.
fn text(allowed: &str) -> Value {
    let mut value = json!({"type": "string", "description": allowed});
    if allowed == NAMES {
        value["pattern"] = NAME.into();
    } else if allowed == rawrig::PORTS {
        value["pattern"] = "^(sim$|/)".into();
    } else if allowed.contains(&MOST_ABOUT.to_string()) {
        value["maxLength"] = MOST_ABOUT.into();
    } else {
        value["minLength"] = 1.into();
    }
    value
}

/// [`NAMES`] as a pattern.
const NAME: &str = "^[a-z0-9_-]{1,16}$";

/// A number and one of some units; ECMA 262, which editors use, has no other number either.
fn quantity(units: &[&str], allowed: &str, examples: &[&str]) -> Value {
    let units: Vec<String> = units.iter().map(|unit| unit.replace('^', "\\^")).collect();
    let number = "[-+]?([0-9]+\\.?[0-9]*|\\.[0-9]+)([eE][-+]?[0-9]+)?";
    json!({
        "type": "string",
        "pattern": format!("^\\s*{number}\\s*({})\\s*$", units.join("|")),
        "description": allowed,
        "examples": examples,
    })
}

fn of_bound(bound: &Bound) -> Value {
    let Wanted::Quantity {
        units,
        allowed,
        examples,
    } = Wanted::quantity(bound, None)
    else {
        return Value::Null;
    };
    quantity(&units, &allowed, &examples)
}

fn two_of(bound: &Bound) -> Value {
    json!({"type": "array", "items": of_bound(bound), "minItems": 2, "maxItems": 2})
}

/// What the reader looks at by itself; null for a key nobody has described.
fn inner(asks: &[Ask], kind: Kind, ask: &Ask) -> Value {
    let (place, key) = (ask.place.as_str(), ask.key);
    // As `Table::label` has it.
    let below = match place == super::table::FILE {
        true => format!("[{key}]"),
        false => format!("`{key}` of {place}"),
    };
    let names = |values: Value, most: usize| {
        json!({
            "type": "object",
            "propertyNames": {"pattern": NAME},
            "additionalProperties": values,
            "minProperties": 1,
            "maxProperties": most,
        })
    };
    match (place, key) {
        (super::table::FILE, "axis") => names(table(asks, kind, "axis x"), MAX_AXES),
        (super::table::FILE, "groups") => names(
            json!({"type": "array", "items": {"type": "string", "pattern": NAME}, "minItems": 1}),
            MAX_GROUPS,
        ),
        ("axis x", "travel") => json!({"anyOf": [
            two_of(&POSITION),
            {"const": "continuous"},
        ]}),
        ("axis x", "stop") => json!({"anyOf": [
            table(asks, kind, &below),
            table(asks, kind, "`stop` of axis each"),
        ]}),
        ("axis x", "points") => json!({
            "type": "array",
            "items": two_of(&POINT),
            "minItems": LEAST_POINTS,
            "maxItems": MOST_POINTS,
        }),
        ("axis x", "avoid") => json!({
            "type": "array",
            "items": {"anyOf": [two_of(&SPEED), two_of(&STEP_RATE)]},
            "maxItems": MAX_BANDS,
        }),
        ("axis x", "gears") => json!({
            "type": "array",
            "items": of_bound(&SPEED),
            "minItems": 1,
            "maxItems": MAX_GEARS,
        }),
        (_, "control") if kind == Kind::Operator && below.contains("axis x") => {
            let sticks = Control::ALL.into_iter();
            let sticks = sticks.filter(|control| control.other_direction().is_some());
            let sticks: Vec<&str> = sticks.map(Control::name).collect();
            json!({"anyOf": [{"enum": sticks}, table(asks, kind, &below)]})
        }
        ("[buttons]", "control" | "end_here") => {
            json!({"type": "object", "additionalProperties": press(true)})
        }
        ("[buttons]", "inch") => json!({
            "type": "object",
            "additionalProperties": table(asks, kind, "`inch.x` of [buttons]"),
        }),
        ("[buttons]", key) => match ACTIONS.iter().find(|(own, ..)| *own == key) {
            Some((_, _, _, or_none)) => press(*or_none),
            None => Value::Null,
        },
        ("`inch.x` of [buttons]", _) => press(true),
        _ if asks.iter().any(|ask| ask.place == below) => table(asks, kind, &below),
        _ => Value::Null,
    }
}

/// A press, or `none` where that may be.
fn press(or_none: bool) -> Value {
    let button = Button::ALL.map(Button::name).join("|");
    let none = if or_none { "none|" } else { "" };
    let buttons: Vec<&str> = Button::ALL.map(Button::name).to_vec();
    json!({
        "type": "string",
        "pattern": format!(
            "^({none}\\s*hold\\s+({button})\\s*|\\s*({button})\\s*(\\+\\s*({button})\\s*)?)$"
        ),
        "description": presses(),
        "examples": buttons,
    })
}

/// What the reader takes where nothing is written.
fn default(kind: Kind, place: &str, key: &str) -> Option<Value> {
    let share = |percent: f64| Some(format!("{percent} %").into());
    let seconds = |ms: f64| Some(format!("{} s", ms / 1000.0).into());
    match (kind, place, key) {
        (Kind::Rig, "[rig]", "baud") => Some(BAUD_DEFAULT.into()),
        (Kind::Rig, "[rig]", "mount") => Some("upright".into()),
        (Kind::Rig, "[rig]", "watchdog") => Some(format!("{WATCHDOG_DEFAULT} ms").into()),
        (Kind::Rig, "axis x", "reach") => Some(format!("{REACH_DEFAULT} mm").into()),
        (Kind::Rig, "axis x", "reverse" | "enable" | "lower_current") => Some(false.into()),
        (Kind::Operator, "[operator]", "left_stick" | "right_stick") => Some("axial".into()),
        (Kind::Operator, "[operator]", "shakes") => {
            Some(rawhand::shakes_word(SHAKES_DEFAULT).into())
        }
        (Kind::Operator, "[operator]", "begins_quiet" | "common_speed") => Some(false.into()),
        (Kind::Operator, "`wedge` of [operator]", _) => Some(format!("{WEDGE_DEFAULT} deg").into()),
        (Kind::Operator, "axis x", "invert") => Some(false.into()),
        (Kind::Operator, "axis x", "deadband") => share(DEADBAND_DEFAULT),
        (Kind::Operator, "axis x", "saturation") => share(SATURATION_DEFAULT),
        (Kind::Operator, "axis x", "curve") => Some("linear".into()),
        (Kind::Operator, "axis x", "gain") => seconds(GAIN_DEFAULT),
        (Kind::Operator, "axis x", "lose") => seconds(LOSE_DEFAULT),
        (Kind::Operator, "[buttons]", key) => {
            let (_, _, press, _) = ACTIONS.iter().find(|(own, ..)| *own == key)?;
            press.map(|press| press_text(press).into())
        }
        _ => None,
    }
}
