//! The bindings of an operator profile: presses that can be told apart and can't be made unmeant.

use super::field::{At, Field};
use super::groups::unknown_axis;
use super::near::nearest;
use super::problem::{Log, Problem};
use super::rawhand::{RawGroup, RawOperator};
use super::rawpress::{KEYS, RawControl, RawPress, written};
use super::table::found;
use std::ops::Range;
use stillhand_engine::bindings::{Action, Binding, BindingError, Bindings, Press};
use stillhand_engine::input::Button;
use stillhand_engine::operator::Enable;

/// A binding, what files call it, and where it stands; a default stands nowhere.
struct Bound {
    name: String,
    span: Option<Range<usize>>,
    press: Press,
    action: Action,
}

pub(super) fn valid_bindings(raw: &RawOperator, log: &mut Log) -> Option<Bindings> {
    let mut list = keys(raw);
    let asks = asks(raw, &mut list, log);
    let inches = inches(raw, &mut list, log);
    inched_by_presses(raw, log);
    enable_alone(raw, &list, log);
    let bindings = told_apart(list, raw.hands.len(), log);
    (asks && inches && !raw.buttons.bad).then_some(bindings)?
}

fn keys(raw: &RawOperator) -> Vec<Bound> {
    let bound = |(key, field): (&super::rawpress::Key, &RawPress)| {
        Some(Bound {
            name: key.name.to_owned(),
            span: field.span(),
            press: field.or(key.default)??,
            action: key.action,
        })
    };
    let pairs = KEYS.iter().zip(&raw.buttons.keys);
    pairs.filter_map(bound).collect()
}

/// The presses that ask for groups; whether all of them are good.
fn asks(raw: &RawOperator, list: &mut Vec<Bound>, log: &mut Log) -> bool {
    let mut ask = |name: &str, group: usize, at: &At<Option<Press>>| {
        if let (Some(press), Ok(group)) = (at.value, u8::try_from(group)) {
            list.push(Bound {
                name: format!("control{name}"),
                span: Some(at.span.clone()),
                press,
                action: Action::Control { group },
            });
        }
    };
    let groups: &[RawGroup] = match &raw.groups {
        Field::Absent => &[],
        Field::Bad => return false,
        Field::Got(at) => &at.value,
    };
    match &raw.buttons.control {
        RawControl::Absent => true,
        RawControl::All(at) if groups.is_empty() => {
            ask("", 0, at);
            true
        }
        RawControl::All(at) => {
            log.push(
                Problem::at(
                    at.span.clone(),
                    "which group this press asks for is not said",
                )
                .found("one press")
                .allowed("a press for each group, where [groups] are named")
                .mend(format!(
                    "write {{ {} = \"hold select\" }}",
                    groups[0].name.value
                )),
            );
            false
        }
        RawControl::Each(presses) => {
            let mut good = true;
            for (name, at) in presses {
                match groups
                    .iter()
                    .position(|group| group.name.value == name.value)
                {
                    Some(group) => ask(&format!(" {}", name.value), group, at),
                    None => {
                        log.push(unknown_group(name, groups));
                        good = false;
                    }
                }
            }
            good
        }
    }
}

fn unknown_group(name: &At<String>, groups: &[RawGroup]) -> Problem {
    let names = || groups.iter().map(|group| group.name.value.as_str());
    let problem = Problem::at(name.span.clone(), "`control` names a group there is not")
        .found(found(&name.value));
    if groups.is_empty() {
        return problem
            .allowed("names of [groups], and there are none here")
            .mend("write `control = \"hold select\"` for all axes, or name [groups]");
    }
    let all: Vec<&str> = names().collect();
    problem
        .allowed(format!("the groups of this profile: {}", all.join(", ")))
        .mend(match nearest(&name.value, names()) {
            Some(near) => format!("did you mean {near}?"),
            None => "choose one of those".to_owned(),
        })
}

/// The presses of inching; whether all of them are good.
fn inches(raw: &RawOperator, list: &mut Vec<Bound>, log: &mut Log) -> bool {
    let mut good = true;
    for inching in &raw.buttons.inch {
        let axis = &inching.axis.value;
        let axes = raw.hands.iter().map(|hand| hand.axis.value.as_str());
        let place = raw.hands.iter().position(|hand| hand.axis.value == *axis);
        let Some(place) = place else {
            log.push(unknown_axis(&inching.axis, "`inch` names".to_owned(), axes));
            good = false;
            continue;
        };
        if matches!(raw.hands[place].inch, Field::Absent) {
            log.push(
                Problem::at(
                    inching.axis.span.clone(),
                    format!("axis {axis} has no step to inch by"),
                )
                .found("presses for it")
                .also(raw.hands[place].axis.span.clone(), "no `inch` here")
                .allowed("presses for an axis that says how far one of them goes")
                .mend(format!(
                    "add `inch = {{ step = \"0.1 deg\", creep = \"0.3 deg/s\" }}` to [axis.{axis}]"
                )),
            );
            good = false;
            continue;
        }
        for (way, field, plus) in [
            ("plus", &inching.plus, true),
            ("minus", &inching.minus, false),
        ] {
            let Some(at) = field.got() else { continue };
            let (Some(press), Ok(hand)) = (at.value, u8::try_from(place)) else {
                continue;
            };
            list.push(Bound {
                name: format!("inch {axis} {way}"),
                span: Some(at.span.clone()),
                press,
                action: Action::Inch { hand, plus },
            });
        }
    }
    good
}

/// An axis that says how far a press goes has presses.
fn inched_by_presses(raw: &RawOperator, log: &mut Log) {
    for hand in &raw.hands {
        let Some(span) = hand.inch.span() else {
            continue;
        };
        let axis = &hand.axis.value;
        let mut presses = raw.buttons.inch.iter();
        if raw.buttons.bad || presses.any(|inching| inching.axis.value == *axis) {
            continue;
        }
        log.push(
            Problem::at(span, format!("no press inches axis {axis}"))
                .found("a step without a press")
                .allowed("`inch` beside its presses in [buttons.inch]")
                .mend(format!(
                    "add `{axis} = {{ plus = \"dpad-right\", minus = \"dpad-left\" }}` to \
                     [buttons.inch]"
                )),
        );
    }
}

/// What is held down while an axis moves must do nothing else.
fn enable_alone(raw: &RawOperator, list: &[Bound], log: &mut Log) {
    let Some(at) = raw.enable.got() else { return };
    let Enable::Button(button) = at.value else {
        return;
    };
    for bound in list.iter().filter(|bound| touches(bound.press, button)) {
        let name = &bound.name;
        let problem = Problem::at(
            at.span.clone(),
            format!("\"{}\" does two things", button.name()),
        )
        .allowed("a button that does nothing else: it is held down while an axis moves")
        .mend(format!("bind enable or {name} to another button"));
        log.push(match &bound.span {
            Some(span) => problem
                .found("it for enable")
                .also(span.clone(), format!("and for {name}")),
            None => problem.found(format!("it for enable; it is the default for {name}")),
        });
    }
}

fn touches(press: Press, button: Button) -> bool {
    press.button() == button || matches!(press, Press::With { with, .. } if with == button)
}

/// Takes the list as the engine does, one refused binding after the other taken out, so that all
/// problems are found.
fn told_apart(mut list: Vec<Bound>, hands: usize, log: &mut Log) -> Option<Bindings> {
    let mut good = true;
    loop {
        let bindings = list.iter().map(|bound| Binding {
            press: bound.press,
            action: bound.action,
        });
        let out = match Bindings::new(bindings.collect(), hands) {
            Ok(bindings) => return good.then_some(bindings),
            // Something in its place was refused already.
            Err(BindingError::NoStop | BindingError::NoRelease) => return None,
            Err(BindingError::StopNotATap(at)) => {
                log.push(stop_not_a_tap(list.get(at)?));
                at
            }
            Err(BindingError::BareTap(at)) => {
                log.push(bare_tap(list.get(at)?));
                at
            }
            Err(BindingError::Clash(one, two)) => {
                log.push(clash(list.get(two)?, list.get(one)?));
                two
            }
            Err(BindingError::OutOfRange(at)) => at,
        };
        good = false;
        if out >= list.len() {
            return None;
        }
        list.remove(out);
    }
}

fn stop_not_a_tap(bound: &Bound) -> Problem {
    let button = bound.press.button().name();
    Problem::at(
        bound.span.clone().unwrap_or(0..0),
        "`stop` of [buttons] must be a bare tap",
    )
    .found(found(&written(bound.press)))
    .allowed("one button: a stop that has to be held or combined comes too late")
    .mend(format!("write \"{button}\""))
}

fn bare_tap(bound: &Bound) -> Problem {
    let button = bound.press.button().name();
    let why = match bound.action {
        Action::Release => "an unmeant touch must not release a stop",
        Action::Sustain => "an unmeant touch must not keep a speed",
        _ => "an unmeant touch must not pass control on",
    };
    Problem::at(
        bound.span.clone().unwrap_or(0..0),
        format!("{} can't be a bare tap", bound.name),
    )
    .found(found(&written(bound.press)))
    .allowed(format!("\"hold BUTTON\" or \"BUTTON + BUTTON\": {why}"))
    .mend(format!("write \"hold {button}\""))
}

/// Two bindings that can't be told apart. A default has no place in the file: then the place is
/// that of the other one, which moved onto it.
fn clash(later: &Bound, earlier: &Bound) -> Problem {
    let (blamed, other) = match later.span {
        Some(_) => (later, earlier),
        None => (earlier, later),
    };
    let (message, allowed) = reason(blamed, other);
    let problem = Problem::at(blamed.span.clone().unwrap_or(0..0), message)
        .allowed(allowed)
        .mend(format!(
            "bind {} or {} to another button",
            blamed.name, other.name
        ));
    match &other.span {
        Some(place) => problem
            .found(format!("it for {}", blamed.name))
            .also(place.clone(), format!("and {}", other.name)),
        None => problem.found(format!(
            "it for {}; \"{}\" is the default for {}",
            blamed.name,
            written(other.press),
            other.name
        )),
    }
}

fn reason(blamed: &Bound, other: &Bound) -> (String, &'static str) {
    let both = [blamed, other];
    if blamed.press == other.press {
        return (
            format!("\"{}\" does two things", written(blamed.press)),
            "each press for one action, those left at their default included",
        );
    }
    if let Some(stop) = both.iter().find(|bound| bound.action == Action::Stop) {
        return (
            format!("\"{}\" is the stop", stop.press.button().name()),
            "nothing else on the button that stops, in any company",
        );
    }
    let kept = |bound: &&&Bound| match bound.action {
        Action::Inch { .. } => matches!(bound.press, Press::Tap(_)),
        action => action.is_mode() && matches!(bound.press, Press::Tap(_)),
    };
    match both.iter().find(kept) {
        Some(bound) if bound.action.is_mode() => (
            format!(
                "keeping \"{}\" down does two things",
                bound.press.button().name()
            ),
            "no other held press on it: tapped it switches on, kept down it switches off",
        ),
        Some(bound) => (
            format!(
                "\"{}\" is kept down for two things",
                bound.press.button().name()
            ),
            "no held press and no company for a button that inches: kept down it creeps",
        ),
        None => (
            "each of two buttons is held for the other".to_owned(),
            "one order of two buttons: nobody can tell which went down first",
        ),
    }
}
