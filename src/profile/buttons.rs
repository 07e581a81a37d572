//! `[buttons]`: what each press does. The rules are the engine's; here they get their words.

use super::defaults::{GEAR_DOWN_DEFAULT, GEAR_UP_DEFAULT, RELEASE_DEFAULT, STOP_DEFAULT};
use super::field::{At, Field};
use super::near::{either, either_or, nearest};
use super::press::{press, press_text, presses};
use super::problem::{Log, Problem, short};
use super::table::{Table, Value, found, wrong_type};
use std::ops::Range;
use stillhand_engine::bindings::{Action, Binding, BindingError, Bindings, Press};
use toml::de::DeValue;

/// The keys of `[buttons]` with what they do, what is bound if the file says nothing, and whether
/// `none` may stand there. In the order of importance: a clash is blamed on the later one.
pub const ACTIONS: [(&str, Action, Option<Press>, bool); 10] = [
    ("stop", Action::Stop, Some(STOP_DEFAULT), false),
    ("release", Action::Release, Some(RELEASE_DEFAULT), false),
    ("gear_up", Action::GearUp, Some(GEAR_UP_DEFAULT), true),
    ("gear_down", Action::GearDown, Some(GEAR_DOWN_DEFAULT), true),
    ("quiet", Action::Quiet, None, true),
    ("still", Action::Still, None, true),
    ("reduced", Action::Reduced, None, true),
    ("rolling", Action::Rolling, None, true),
    ("next_operator", Action::NextOperator, None, true),
    ("sustain", Action::Sustain, None, true),
];

/// The word for the one group of a profile that names none.
pub(super) const ALL_AXES: &str = "all";

/// What the file binds, as far as it can be read.
pub(super) struct RawButtons {
    /// In the order of [`ACTIONS`].
    fixed: Vec<Field<Option<Press>>>,
    control: Vec<(At<String>, Field<Option<Press>>)>,
    inch: Vec<RawInch>,
    end_here: Vec<(At<String>, Field<Option<Press>>)>,
}

struct RawInch {
    axis: At<String>,
    plus: bool,
    press: Field<Option<Press>>,
}

pub(super) fn read(top: &mut Table, log: &mut Log) -> RawButtons {
    let example = "a line [buttons], and the bindings below it";
    let none = |field: fn() -> Field<Option<Press>>| RawButtons {
        fixed: ACTIONS.iter().map(|_| field()).collect(),
        control: Vec::new(),
        inch: Vec::new(),
        end_here: Vec::new(),
    };
    let mut table = match top.table("buttons", example, log) {
        Field::Got(at) => at.value,
        Field::Absent => return none(|| Field::Absent),
        Field::Bad => return none(|| Field::Bad),
    };
    let mut fixed = Vec::new();
    for (key, _, _, or_none) in ACTIONS {
        let label = table.label(key);
        fixed.push(match table.any(key) {
            None => Field::Absent,
            Some(value) => press(&label, value, or_none, log),
        });
    }
    let control = match table.table("control", "{ head = \"hold select\" }", log) {
        Field::Got(at) => named("control", &at.value, log),
        Field::Absent | Field::Bad => Vec::new(),
    };
    let example = "{ pan = { plus = \"dpad-right\", minus = \"dpad-left\" } }";
    let inch = match table.table("inch", example, log) {
        Field::Got(at) => inches(&at.value, log),
        Field::Absent | Field::Bad => Vec::new(),
    };
    let end_here = match table.table("end_here", "{ pan = \"hold thumbl\" }", log) {
        Field::Got(at) => named("end_here", &at.value, log),
        Field::Absent | Field::Bad => Vec::new(),
    };
    table.end(log);
    RawButtons {
        fixed,
        control,
        inch,
        end_here,
    }
}

/// A press for each name in a table of `[buttons]`.
fn named(key: &str, table: &Table, log: &mut Log) -> Vec<(At<String>, Field<Option<Press>>)> {
    let entries = table.entries().into_iter();
    let read = |(name, value): (At<String>, &Value)| {
        let label = format!("`{key}.{}` of [buttons]", short(&name.value));
        let press = press(&label, value, true, log);
        (name, press)
    };
    entries.map(read).collect()
}

fn inches(table: &Table, log: &mut Log) -> Vec<RawInch> {
    let mut list = Vec::new();
    for (axis, value) in table.entries() {
        let place = format!("`inch.{}` of [buttons]", short(&axis.value));
        let example = "{ plus = \"dpad-right\", minus = \"dpad-left\" }";
        let DeValue::Table(inner) = value.get_ref() else {
            let wrong = wrong_type(&place, value, "a press for each way", log);
            log.push(wrong.mend(format!("write {example}")));
            continue;
        };
        let mut inner = Table::new(place, value.span(), inner);
        for key in ["plus", "minus"] {
            inner.need(key, presses(), "\"dpad-right\"");
            let label = inner.label(key);
            let press = match inner.any(key) {
                None => Field::Absent,
                Some(value) => press(&label, value, true, log),
            };
            list.push(RawInch {
                axis: axis.clone(),
                plus: key == "plus",
                press,
            });
        }
        inner.end(log);
    }
    list
}

/// An axis as far as its buttons are concerned.
pub(super) struct Inched<'a> {
    pub(super) axis: &'a At<String>,
    /// Where its `inch` stands, if it has one.
    pub(super) inch: Option<Range<usize>>,
}

/// A binding and its place, which a default has not.
pub(super) struct Bound {
    pub(super) label: String,
    pub(super) binding: Binding,
    pub(super) span: Option<Range<usize>>,
}

impl RawButtons {
    /// Whether the file binds an action, or tries to.
    pub(super) fn binds(&self, action: Action) -> bool {
        ACTIONS
            .iter()
            .zip(&self.fixed)
            .any(|((_, own, default, _), field)| {
                *own == action
                    && match field {
                        Field::Absent => default.is_some(),
                        Field::Bad => true,
                        Field::Got(at) => at.value.is_some(),
                    }
            })
    }

    /// Every binding there is, with names held against the profile's groups, if those are known,
    /// and its axes.
    pub(super) fn bound(
        &self,
        groups: Option<&[String]>,
        hands: &[Inched],
        log: &mut Log,
    ) -> Vec<Bound> {
        let mut list = Vec::new();
        let mut add = |label: String, press: Option<Press>, action, span| {
            if let Some(press) = press {
                let binding = Binding { press, action };
                list.push(Bound {
                    label,
                    binding,
                    span,
                });
            }
        };
        for ((key, action, default, _), field) in ACTIONS.iter().zip(&self.fixed) {
            let press = match field {
                Field::Absent => *default,
                Field::Bad => None,
                Field::Got(at) => at.value,
            };
            add((*key).to_owned(), press, *action, field.span());
        }
        for (group, field) in &self.control {
            let Some(groups) = groups else { continue };
            if let Some(place) = groups.iter().position(|name| *name == group.value)
                && let Ok(place) = u8::try_from(place)
            {
                let label = format!("control of {}", group.value);
                let press = field.value().flatten();
                add(label, press, Action::Control { group: place }, field.span());
            } else {
                log.push(no_group(group, groups));
            }
        }
        for inch in &self.inch {
            let sign = if inch.plus { "plus" } else { "minus" };
            let label = format!("inching {} {sign}", inch.axis.value);
            let found = hands
                .iter()
                .position(|hand| hand.axis.value == inch.axis.value);
            let Some((place, hand)) = found.and_then(|at| Some((at, hands.get(at)?))) else {
                // Both ways of an axis have the same name: once is enough.
                if inch.plus {
                    log.push(no_axis(&inch.axis, "to inch", hands));
                }
                continue;
            };
            if hand.inch.is_none() {
                if inch.plus {
                    log.push(no_inch(&inch.axis, hand));
                }
                continue;
            }
            let Ok(hand) = u8::try_from(place) else {
                continue;
            };
            let plus = inch.plus;
            let press = inch.press.value().flatten();
            add(label, press, Action::Inch { hand, plus }, inch.press.span());
        }
        list.extend(self.ends_here(hands, log));
        self.all_inch(hands, log);
        list
    }

    /// The presses that set an end of an axis's travel.
    fn ends_here(&self, hands: &[Inched], log: &mut Log) -> Vec<Bound> {
        let mut list = Vec::new();
        for (axis, field) in &self.end_here {
            let found = hands.iter().position(|hand| hand.axis.value == axis.value);
            let Some(hand) = found.and_then(|place| u8::try_from(place).ok()) else {
                log.push(no_axis(axis, "to set an end of", hands));
                continue;
            };
            if let Some(press) = field.value().flatten() {
                let action = Action::EndHere { hand };
                list.push(Bound {
                    label: format!("an end of {}", axis.value),
                    binding: Binding { press, action },
                    span: field.span(),
                });
            }
        }
        list
    }

    /// An `inch` that no button asks for does nothing.
    fn all_inch(&self, hands: &[Inched], log: &mut Log) {
        for hand in hands {
            let Some(span) = &hand.inch else { continue };
            let name = &hand.axis.value;
            let asked = |inch: &RawInch| {
                inch.axis.value == *name && !matches!(inch.press.or(None), Some(None))
            };
            if !self.inch.iter().any(asked) {
                log.push(
                    Problem::at(
                        span.clone(),
                        format!("axis {name} inches, but no button asks"),
                    )
                    .found("an `inch` without a press")
                    .allowed("a press for each way in [buttons.inch]")
                    .mend(format!(
                        "add `{name} = {{ plus = \"dpad-right\", minus = \"dpad-left\" }}` below \
                             [buttons.inch], or take `inch` out"
                    )),
                );
            }
        }
    }
}

fn no_group(group: &At<String>, groups: &[String]) -> Problem {
    let names = || groups.iter().map(String::as_str);
    let mend = match nearest(&group.value, names()) {
        Some(near) => format!("did you mean `{near}`?"),
        None => "name one of those, or add it to [groups]".to_owned(),
    };
    Problem::at(group.span.clone(), "there is no such group to ask for")
        .found(format!("`{}`", short(&group.value)))
        .allowed(either(names()))
        .mend(mend)
}

fn no_axis(axis: &At<String>, what: &str, hands: &[Inched]) -> Problem {
    let names = || hands.iter().map(|hand| hand.axis.value.as_str());
    let mend = match nearest(&axis.value, names()) {
        Some(near) => format!("did you mean `{near}`?"),
        None if hands.is_empty() => "add its table [axis.NAME]".to_owned(),
        None => "name one of those, or add its table [axis.NAME]".to_owned(),
    };
    Problem::at(axis.span.clone(), format!("there is no such axis {what}"))
        .found(format!("`{}`", short(&axis.value)))
        .allowed(either_or(
            names(),
            "an axis with a table, and there is none",
        ))
        .mend(mend)
}

fn no_inch(axis: &At<String>, hand: &Inched) -> Problem {
    let name = &axis.value;
    Problem::at(axis.span.clone(), format!("axis {name} has no `inch`"))
        .found(format!("presses that inch {name}"))
        .also(hand.axis.span.clone(), "this axis")
        .allowed("presses for axes that say how far a step is")
        .mend(format!(
            "add `inch = {{ step = \"0.1 deg\", creep = \"0.3 deg/s\" }}` to axis {name}"
        ))
}

/// Holds the bindings against the engine's rules, one broken rule after the other.
pub(super) fn valid(mut list: Vec<Bound>, hands: usize, log: &mut Log) -> Option<Bindings> {
    let mut good = true;
    loop {
        let bindings = list.iter().map(|bound| bound.binding).collect();
        let error = match Bindings::new(bindings, hands) {
            Ok(bindings) => return good.then_some(bindings),
            Err(error) => error,
        };
        good = false;
        // What broke a rule is mended here as its message says, or left out, so that the others
        // can be looked at.
        match error {
            // The stop or the release was refused before, with a message of its own.
            BindingError::NoStop | BindingError::NoRelease => return None,
            BindingError::StopNotATap(at) => {
                let bound = list.get_mut(at)?;
                let button = bound.binding.press.button();
                log.push(stop_not_a_tap(bound));
                bound.binding.press = Press::Tap(button);
            }
            BindingError::BareTap(at) => {
                let bound = list.get_mut(at)?;
                log.push(bare_tap(bound));
                bound.binding.press = Press::Held(bound.binding.press.button());
            }
            BindingError::Clash(one, two) => {
                log.push(clash(list.get(one)?, list.get(two)?));
                list.remove(two);
            }
            BindingError::OutOfRange(at) => {
                let span = list.get(at).and_then(|bound| bound.span.clone());
                log.push(
                    Problem::at(span.unwrap_or(0..0), "too many presses")
                        .found(format!("{} of them", list.len()))
                        .allowed("40 presses in all")
                        .mend("take some out"),
                );
                return None;
            }
        }
    }
}

fn stop_not_a_tap(bound: &Bound) -> Problem {
    let press = bound.binding.press;
    Problem::at(
        bound.span.clone().unwrap_or(0..0),
        "the stop must be a bare tap",
    )
    .found(format!("\"{}\"", press_text(press)))
    .allowed("a button: whoever stops the rig has no time for more")
    .mend(format!("write \"{}\"", press.button().name()))
}

fn bare_tap(bound: &Bound) -> Problem {
    let (label, press) = (&bound.label, press_text(bound.binding.press));
    Problem::at(
        bound.span.clone().unwrap_or(0..0),
        format!("{label} can't be a bare tap"),
    )
    .found(format!("\"{press}\""))
    .allowed("a press that is kept down, or one with a second button: a touch must not do it")
    .mend(format!("write \"hold {press}\""))
}

/// Two bindings that can't be together. A default has no place in the file: then the place is that
/// of the other one, which moved onto it.
fn clash(earlier: &Bound, later: &Bound) -> Problem {
    let (blamed, other) = match later.span {
        Some(_) => (later, earlier),
        None => (earlier, later),
    };
    let (this, that) = (
        press_text(blamed.binding.press),
        press_text(other.binding.press),
    );
    let (message, allowed) = why(blamed.binding, other.binding, &this, &that);
    let problem = Problem::at(blamed.span.clone().unwrap_or(0..0), message)
        .allowed(allowed)
        .mend(format!(
            "bind {} or {} to another button",
            blamed.label, other.label
        ));
    match &other.span {
        Some(place) => problem
            .found(format!("it for {}", blamed.label))
            .also(place.clone(), format!("and for {}", other.label)),
        None if this == that => problem.found(format!(
            "it for {}; it is the default for {}",
            blamed.label, other.label
        )),
        None => problem.found(format!(
            "it for {}; \"{that}\" is the default for {}",
            blamed.label, other.label
        )),
    }
}

/// What two bindings can't have together, and what is allowed instead.
fn why(one: Binding, two: Binding, this: &str, that: &str) -> (String, &'static str) {
    let stops = |b: Binding| b.action == Action::Stop;
    if one.press == two.press {
        return (
            format!("\"{this}\" does two things"),
            "each press for one action, those left at their default included",
        );
    }
    if stops(one) || stops(two) {
        return (
            format!("\"{this}\" and \"{that}\" share the button of the stop"),
            "the button that stops for nothing else, neither held nor with another one",
        );
    }
    if let (Press::With { .. }, Press::With { .. }) = (one.press, two.press) {
        return (
            format!("\"{this}\" and \"{that}\" can't be told apart"),
            "one of the two orders: nobody can tell which button was first",
        );
    }
    let inches = |b: Binding| matches!(b.action, Action::Inch { .. });
    if inches(one) || inches(two) {
        return (
            format!("\"{this}\" and \"{that}\" are both kept down"),
            "a button that inches for nothing else while it is down: kept down it creeps",
        );
    }
    (
        format!("\"{this}\" and \"{that}\" are both kept down"),
        "a mode on a tap is switched off by keeping the same button down: nothing else on that",
    )
}

/// A button that is held while axes move, and does something else besides.
pub(super) fn enable_clash(name: &str, span: Range<usize>, bound: &Bound) -> Problem {
    let problem = Problem::at(span, format!("\"{name}\" enables and does something else"))
        .allowed("a button for nothing but to enable: it is held down all the time")
        .mend(format!(
            "bind `enable` or {} to another button",
            bound.label
        ));
    let press = press_text(bound.binding.press);
    match &bound.span {
        Some(place) => problem
            .found("it to enable")
            .also(place.clone(), format!("and for {}", bound.label)),
        None => problem.found(format!(
            "it; {} is the default for {}",
            found(&press),
            bound.label
        )),
    }
}
