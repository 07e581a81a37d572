//! `[buttons]` as written: presses such as `west`, `hold west` and `tl + west`.

use super::defaults::{GEAR_DOWN_DEFAULT, GEAR_UP_DEFAULT, RELEASE_DEFAULT, STOP_DEFAULT};
use super::field::{At, Field};
use super::near::{either, nearest};
use super::problem::{Log, Problem, short};
use super::table::{Table, Value, found, got, wrong_type};
use stillhand_engine::bindings::{Action, Press};
use stillhand_engine::input::Button;
use toml::de::DeValue;

/// A key of `[buttons]` that takes one press.
pub(super) struct Key {
    pub(super) name: &'static str,
    pub(super) action: Action,
    /// What it is bound to where the file is silent; [`defaults`](super::defaults) has the reasons.
    pub(super) default: Option<Press>,
    /// Whether `none` may take it off every button.
    pub(super) may_be_none: bool,
}

const fn key(name: &'static str, action: Action, default: Option<Press>) -> Key {
    Key {
        name,
        action,
        default,
        may_be_none: !matches!(action, Action::Stop | Action::Release),
    }
}

/// In the order of importance: of two that clash, the later one is to blame.
pub(super) const KEYS: [Key; 9] = [
    key("stop", Action::Stop, Some(Press::Tap(STOP_DEFAULT))),
    key(
        "release",
        Action::Release,
        Some(Press::Held(RELEASE_DEFAULT)),
    ),
    key("gear_up", Action::GearUp, Some(Press::Tap(GEAR_UP_DEFAULT))),
    key(
        "gear_down",
        Action::GearDown,
        Some(Press::Tap(GEAR_DOWN_DEFAULT)),
    ),
    key("quiet", Action::Quiet, None),
    key("still", Action::Still, None),
    key("reduced", Action::Reduced, None),
    key("rolling", Action::Rolling, None),
    key("sustain", Action::Sustain, None),
];

/// What a key is bound to; `None` inside stands for the word `none`.
pub(super) type RawPress = Field<Option<Press>>;

pub(super) struct RawButtons {
    /// One for each of [`KEYS`].
    pub(super) keys: Vec<RawPress>,
    pub(super) control: RawControl,
    pub(super) inch: Vec<RawInching>,
    /// Whether something in it could not even be read.
    pub(super) bad: bool,
}

/// Which press asks for which group.
pub(super) enum RawControl {
    Absent,
    /// For the only group there is.
    All(At<Option<Press>>),
    /// For each group that is named.
    Each(Vec<(At<String>, At<Option<Press>>)>),
}

pub(super) struct RawInching {
    pub(super) axis: At<String>,
    pub(super) plus: RawPress,
    pub(super) minus: RawPress,
}

pub(super) fn read(top: &mut Table, log: &mut Log) -> RawButtons {
    let example = "a line [buttons], and the bindings below it";
    let mut raw = RawButtons {
        keys: KEYS.iter().map(|_| Field::Absent).collect(),
        control: RawControl::Absent,
        inch: Vec::new(),
        bad: false,
    };
    let mut table = match top.table("buttons", example, log) {
        Field::Got(at) => at.value,
        Field::Absent => return raw,
        Field::Bad => {
            raw.bad = true;
            return raw;
        }
    };
    raw.keys = KEYS.iter().map(|key| one(&mut table, key, log)).collect();
    raw.bad = raw.keys.iter().any(|field| matches!(field, Field::Bad));
    raw.read_control(&mut table, log);
    raw.read_inching(&mut table, log);
    table.end(log);
    raw
}

fn one(table: &mut Table, key: &Key, log: &mut Log) -> RawPress {
    let label = table.label(key.name);
    match table.any(key.name) {
        None => Field::Absent,
        Some(value) => press(&label, value, key.may_be_none, log),
    }
}

impl RawButtons {
    fn read_control(&mut self, table: &mut Table, log: &mut Log) {
        let label = table.label("control");
        let Some(value) = table.any("control") else {
            return;
        };
        let DeValue::Table(groups) = value.get_ref() else {
            match press(&label, value, true, log) {
                Field::Got(at) => self.control = RawControl::All(at),
                Field::Absent | Field::Bad => self.bad = true,
            }
            return;
        };
        let mut list = Vec::new();
        for (group, value) in Table::new(label.clone(), value.span(), groups).entries() {
            let label = format!("`{}` of {label}", short(&group.value));
            match press(&label, value, true, log) {
                Field::Got(at) => list.push((group, at)),
                Field::Absent | Field::Bad => self.bad = true,
            }
        }
        self.control = RawControl::Each(list);
    }

    fn read_inching(&mut self, table: &mut Table, log: &mut Log) {
        const EXAMPLE: &str = "{ plus = \"dpad-right\", minus = \"dpad-left\" }";
        let place = table.label("inch");
        let axes = match table.table(
            "inch",
            "a line [buttons.inch], and the presses below it",
            log,
        ) {
            Field::Got(at) => at.value.entries(),
            Field::Absent => return,
            Field::Bad => {
                self.bad = true;
                return;
            }
        };
        for (axis, value) in axes {
            let label = format!("`{}` of {place}", short(&axis.value));
            let DeValue::Table(ways) = value.get_ref() else {
                let wrong = wrong_type(&label, value, "a press for each way", log);
                log.push(wrong.mend(format!("write {} = {EXAMPLE}", short(&axis.value))));
                self.bad = true;
                continue;
            };
            let mut ways = Table::new(label, value.span(), ways);
            let (plus, minus) = (way("plus", &mut ways, log), way("minus", &mut ways, log));
            let bad = |field: &RawPress| !matches!(field, Field::Got(_));
            self.bad |= bad(&plus) || bad(&minus);
            ways.end(log);
            self.inch.push(RawInching { axis, plus, minus });
        }
    }
}

fn way(key: &'static str, ways: &mut Table, log: &mut Log) -> RawPress {
    ways.need(key, forms(true), "\"dpad-right\"");
    let label = ways.label(key);
    match ways.any(key) {
        None => Field::Absent,
        Some(value) => press(&label, value, true, log),
    }
}

/// What a press may look like.
fn forms(or_none: bool) -> String {
    let names = either(Button::ALL.map(Button::name));
    let none = if or_none { ", or none" } else { "" };
    format!("a BUTTON, \"hold BUTTON\" or \"BUTTON + BUTTON\"{none}; a BUTTON is {names}")
}

/// Why a text is no press.
enum Fault<'t> {
    /// Not a button.
    Unknown(&'t str),
    /// `none`, where it can't be.
    None,
    /// A button with itself.
    Same,
}

fn parse(text: &str, or_none: bool) -> Result<Option<Press>, Fault<'_>> {
    let button = |name| {
        let name: &str = str::trim(name);
        Button::from_name(name).ok_or(Fault::Unknown(name))
    };
    if text.trim() == "none" {
        return or_none.then_some(None).ok_or(Fault::None);
    }
    if let Some(name) = text.trim_start().strip_prefix("hold ") {
        return Ok(Some(Press::Held(button(name)?)));
    }
    let Some((with, own)) = text.split_once('+') else {
        return Ok(Some(Press::Tap(button(text)?)));
    };
    let (with, button) = (button(with)?, button(own)?);
    if with == button {
        return Err(Fault::Same);
    }
    Ok(Some(Press::With { with, button }))
}

fn press(label: &str, value: &Value, or_none: bool, log: &mut Log) -> RawPress {
    let Some(text) = value.get_ref().as_str() else {
        log.push(wrong_type(label, value, "a press in quotes", log).allowed(forms(or_none)));
        return Field::Bad;
    };
    let problem = |message: &str| Problem::at(value.span(), format!("{label} {message}"));
    let problem = match parse(text, or_none) {
        Ok(press) => return got(press, value.span()),
        Err(Fault::Unknown(word)) => {
            let names = Button::ALL.map(Button::name);
            let mend = match nearest(word, names) {
                // Only what is short enough to be one of ours has a near word.
                Some(near) => {
                    let meant = text.trim().replacen(word, near, 1);
                    format!("did you mean \"{}\"?", short(&meant))
                }
                None => "choose one of those".to_owned(),
            };
            problem("is no press we know").mend(mend)
        }
        Err(Fault::None) => problem("must be on a button").mend("choose a button"),
        Err(Fault::Same) => problem("holds a button for itself").mend("choose two buttons"),
    };
    log.push(problem.found(found(text)).allowed(forms(or_none)));
    Field::Bad
}

/// How a press is written, in files and on screens: `west`, `hold west`, `tl + west`.
pub fn written(press: Press) -> String {
    match press {
        Press::Tap(button) => button.name().to_owned(),
        Press::Held(button) => format!("hold {}", button.name()),
        Press::With { with, button } => format!("{} + {}", with.name(), button.name()),
    }
}
