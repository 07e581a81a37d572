//! What the buttons do: presses as written, and whether they go together.

use super::defaults::{GEAR_DOWN_DEFAULT, GEAR_UP_DEFAULT, RELEASE_DEFAULT, STOP_DEFAULT};
use super::field::Field;
use super::problem::{Log, Problem};
use super::table::{Table, Value, found, got, wrong_type};
use std::ops::Range;
use stillhand_engine::MAX_AXES;
use stillhand_engine::bindings::{Action, Binding, BindingError, Bindings, Press};
use stillhand_engine::input::Button;

/// How presses are written.
pub(super) const PRESSES: &str = "a button such as \"west\", \"hold west\" (0.6 s), \"tl + west\" (west while tl is down), or \"none\"";

/// A press as written; `None` inside stands for the word `none`.
pub(super) type RawPress = Field<Option<Press>>;

/// One key of `[buttons]`.
pub(super) struct RawBinding {
    /// What the file calls it.
    pub(super) key: String,
    pub(super) action: Action,
    pub(super) press: RawPress,
}

/// The keys of `[buttons]`, in the order of their importance, and what each is bound to by default.
const KEYS: [(&str, Action, Option<Press>); 9] = [
    ("stop", Action::Stop, Some(Press::Tap(STOP_DEFAULT))),
    (
        "release",
        Action::Release,
        Some(Press::Held(RELEASE_DEFAULT)),
    ),
    ("gear_up", Action::GearUp, Some(Press::Tap(GEAR_UP_DEFAULT))),
    (
        "gear_down",
        Action::GearDown,
        Some(Press::Tap(GEAR_DOWN_DEFAULT)),
    ),
    ("quiet", Action::Quiet, None),
    ("still", Action::Still, None),
    ("reduced", Action::Reduced, None),
    ("rolling", Action::Rolling, None),
    ("sustain", Action::Sustain, None),
];

/// Reads `[buttons]`.
pub(super) fn read(top: &mut Table, log: &mut Log) -> Vec<RawBinding> {
    let table = top.table(
        "buttons",
        "a line [buttons], and the bindings below it",
        log,
    );
    let absent = |bad: bool| if bad { Field::Bad } else { Field::Absent };
    let mut table = match table {
        Field::Got(at) => Some(at.value),
        Field::Absent => None,
        Field::Bad => return all(|_, _| absent(true)),
    };
    let list = all(|key, action| match &mut table {
        Some(table) => press(table, key, action, log),
        None => absent(false),
    });
    if let Some(table) = table {
        table.end(log);
    }
    list
}

fn all(mut read: impl FnMut(&'static str, Action) -> RawPress) -> Vec<RawBinding> {
    let binding = |(key, action, _): &(&'static str, Action, Option<Press>)| RawBinding {
        key: (*key).to_owned(),
        action: *action,
        press: read(key, *action),
    };
    KEYS.iter().map(binding).collect()
}

/// One press. For what may never be a bare tap, a button alone means holding it.
pub(super) fn press(
    table: &mut Table,
    key: &'static str,
    action: Action,
    log: &mut Log,
) -> RawPress {
    let label = table.label(key);
    let Some(value) = table.any(key) else {
        return Field::Absent;
    };
    let Some(text) = value.get_ref().as_str() else {
        log.push(wrong_type(&label, value, "a press in quotes", log).allowed(PRESSES));
        return Field::Bad;
    };
    let always = matches!(action, Action::Stop | Action::Release);
    if text == "none" && always {
        log.push(
            Problem::at(value.span(), format!("{label} can't be left out"))
                .found("\"none\"")
                .allowed("a press: every pad must be able to stop, and to release the stop")
                .mend("choose a button"),
        );
        return Field::Bad;
    }
    if text == "none" {
        return got(None, value.span());
    }
    match parse(text) {
        Ok(Press::Tap(button)) if action.never_a_bare_tap() => {
            got(Some(Press::Held(button)), value.span())
        }
        Ok(press) if action == Action::Stop && !press.is_bare_tap() => {
            log.push(
                Problem::at(value.span(), format!("{label} is not a bare tap"))
                    .found(found(text))
                    .allowed("a single button, tapped: a stop must not need two things at once")
                    .mend(format!("write \"{}\"", press.button().name())),
            );
            Field::Bad
        }
        Ok(press) => got(Some(press), value.span()),
        Err(word) => {
            log.push(unknown(&label, value, text, word));
            Field::Bad
        }
    }
}

/// Reads a press; the word that is no button otherwise.
fn parse(text: &str) -> Result<Press, &str> {
    let button = |word: &'_ str| Button::from_name(word.trim());
    if let Some((with, tapped)) = text.split_once('+') {
        let with_button = button(with).ok_or(with.trim())?;
        let button = button(tapped).ok_or(tapped.trim())?;
        return Ok(Press::With {
            with: with_button,
            button,
        });
    }
    if let Some(held) = text.strip_prefix("hold ") {
        return button(held).map(Press::Held).ok_or(held.trim());
    }
    button(text).map(Press::Tap).ok_or(text)
}

fn unknown(label: &str, value: &Value, text: &str, word: &str) -> Problem {
    let names = Button::ALL.map(Button::name);
    let mend = match super::near::nearest(word, names.into_iter()) {
        Some(near) => format!("did you mean \"{near}\"?"),
        None => "choose one of those".to_owned(),
    };
    Problem::at(
        value.span(),
        format!("{label} names a button we don't know"),
    )
    .found(found(text))
    .allowed(format!("{PRESSES}; the buttons are {}", names.join(", ")))
    .mend(mend)
}

/// One binding with the place of its press; none for a default.
struct Bound {
    key: String,
    binding: Binding,
    span: Option<Range<usize>>,
}

/// Holds all presses against each other. `more` are those of the axes.
pub(super) fn valid(list: &[RawBinding], more: &[RawBinding], log: &mut Log) -> Option<Bindings> {
    let default_of = |key: &str| KEYS.iter().find(|(name, ..)| *name == key)?.2;
    let mut bound = Vec::new();
    let mut bad = false;
    for raw in list.iter().chain(more) {
        let (press, span) = match &raw.press {
            Field::Absent => (default_of(&raw.key), None),
            Field::Bad => {
                bad = true;
                continue;
            }
            Field::Got(at) => (at.value, Some(at.span.clone())),
        };
        let action = raw.action;
        bound.extend(press.map(|press| Bound {
            key: raw.key.clone(),
            binding: Binding { press, action },
            span,
        }));
    }
    if bad {
        return None;
    }
    // One clash after the other: each is told, and its later half left out of what is looked at next.
    let mut clashed = false;
    loop {
        let bindings = bound.iter().map(|bound| bound.binding).collect();
        match Bindings::new(bindings, MAX_AXES) {
            Ok(bindings) => return (!clashed).then_some(bindings),
            Err(BindingError::Clash(earlier, later)) => {
                log.push(clash(&bound[earlier], &bound[later]));
                bound.remove(later);
                clashed = true;
            }
            // None of these can be: the keys and presses above are read so.
            Err(
                BindingError::NoStop
                | BindingError::NoRelease
                | BindingError::StopNotATap(_)
                | BindingError::BareTap(_)
                | BindingError::OutOfRange(_),
            ) => return None,
        }
    }
}

/// Two presses that can't be told apart. A default has no place in the file: then the place is that
/// of the other one, which moved onto it.
fn clash(earlier: &Bound, later: &Bound) -> Problem {
    let (blamed, other) = match later.span {
        Some(_) => (later, earlier),
        None => (earlier, later),
    };
    let shared = other.binding.press.button();
    let name = match blamed.binding.press {
        Press::With { with, .. } if with == shared => shared.name(),
        press => press.button().name(),
    };
    let span = blamed.span.clone().unwrap_or(0..0);
    let problem = Problem::at(span, format!("\"{name}\" does two things"))
        .allowed(
            "presses that can be told apart, those left at their default included; a button that \
             switches something on by a tap switches it off when held",
        )
        .mend(format!(
            "bind {} or {} to another button",
            blamed.key, other.key
        ));
    match &other.span {
        Some(place) => problem
            .found(format!("it for {}", blamed.key))
            .also(place.clone(), format!("and for {}", other.key)),
        None => problem.found(format!(
            "it for {}; it is the default for {}",
            blamed.key, other.key
        )),
    }
}
