//! What was measured, in words and as JSON.

use super::{has, percent, signed};
use crate::profile::defaults::DEADBAND_DEFAULT;
use crate::shell::pad::trim::measure::Life;
use crate::shell::pad::trim::measure::judge::{Direction, Found, Stick};
use serde_json::{Value, json};
use std::fmt::Write as _;
use std::path::Path;
use stillhand_engine::input::Control;

/// What stands above a trim file.
pub(super) const REMARK: &str = "What `stillhand trim` measured of this pad, and `stillhand run` takes out \
of it.\nReadings are shares of full scale, right and up positive. Measure again instead of editing.";

/// What stands above a control in a trim file.
pub(super) fn remark_of(found: &Found, control: Control) -> String {
    let of_stick = |stick: &Stick| {
        let direction = stick.directions.iter().find(|d| d.control == control)?;
        Some(format!(
            "{} releases came back within {} of each other (deviation {}); noise {}",
            stick.releases,
            percent(2.0 * direction.scatter, 2),
            percent(direction.deviation, 2),
            percent(2.0 * direction.noise, 2),
        ))
    };
    let trigger = found.triggers.iter().find(|t| t.control == control);
    let of_trigger = trigger.map(|t| format!("{} pulls", t.pulls));
    let stick = found.sticks.iter().find_map(of_stick);
    stick.or(of_trigger).unwrap_or_default()
}

/// Everything that was found, for a reader.
pub(super) fn text(id: &str, model: &str, found: &Found, kept: Option<&Path>) -> String {
    let model = model.replace(char::is_control, "?");
    let mut out = format!("{model} ({id})\n\n");
    // Writing to a text can't fail.
    if !found.sticks.is_empty() {
        out += "        centre     noise   returns  rest zone      reach\n";
    }
    for direction in found.sticks.iter().flat_map(|stick| &stick.directions) {
        let _ = writeln!(out, "{}", row(direction));
    }
    if !found.triggers.is_empty() {
        out += "          rest      full\n";
    }
    for trigger in &found.triggers {
        let (name, trim) = (trigger.control.name(), trigger.trim);
        let (rest, full) = (percent(trim.rest(), 1), percent(trim.full(), 1));
        let _ = writeln!(out, "{name}   {rest:>9} {full:>9}");
    }
    out.push('\n');
    for stick in &found.sticks {
        let _ = writeln!(out, "{}", rim(stick));
    }
    let _ = writeln!(out, "{}", not_measured(found));
    let _ = writeln!(out, "{}", life(found.life.as_ref()));
    if !found.sticks.is_empty() {
        let _ = writeln!(
            out,
            "In a profile, with this trim: deadband = \"{}\" is enough ({DEADBAND_DEFAULT} % without), and\n\
             with saturation = \"{}\" or less full is full on every side.",
            round(found.deadband),
            round(found.saturation)
        );
    }
    let _ = match kept {
        Some(path) => writeln!(
            out,
            "Kept in {}\n`run` uses it from now on.",
            path.display()
        ),
        None => writeln!(out, "Nothing was kept."),
    };
    out
}

fn row(d: &Direction) -> String {
    let (minus, plus) = (signed(d.trim.minus(), 0), signed(d.trim.plus(), 0));
    format!(
        "{}   {:>9} {:>9} {:>9} {:>10}   {minus:>6} to {plus:>6}",
        d.control.name(),
        signed(d.trim.centre(), 1),
        percent(2.0 * d.noise, 1),
        percent(2.0 * d.scatter, 1),
        format!("+-{}", percent(d.trim.rest(), 1)),
    )
}

/// A share as a file would have it: `3 %`, `4.5 %`.
fn round(x: f64) -> String {
    format!("{} %", (1000.0 * x).round() / 10.0)
}

fn rim(stick: &Stick) -> String {
    let what = format!(
        "{} stick: let go {} times, {:.1} times round; its rim is {}",
        stick.name,
        stick.releases,
        stick.laps,
        stick.gate.name()
    );
    if stick.missing.is_empty() {
        return what + ", and whole";
    }
    let missing = stick.missing.iter();
    let missing: Vec<String> = missing
        .map(|(place, share)| format!("{place} ({})", percent(*share, 0)))
        .collect();
    format!(
        "{what}.\n  WORN: it gets less far than into the other corners: {}",
        missing.join(", ")
    )
}

fn not_measured(found: &Found) -> String {
    let absent = Control::ALL.into_iter().filter(|c| !has(&found.trim, *c));
    let names: Vec<&str> = absent.map(Control::name).collect();
    match names.as_slice() {
        [] => "Every stick and trigger was measured.".to_owned(),
        names => format!(
            "Not moved, and so read as the pad says it: {}",
            names.join(" ")
        ),
    }
}

fn life(life: Option<&Life>) -> String {
    let Some(life) = life else {
        return "No stick was held: how often the pad speaks is not known.".to_owned();
    };
    let longest = life.longest.secs();
    match life.bound() {
        Some(bound) => format!(
            "Held still, it speaks {:.1} times a second, after {longest:.2} s at the latest: once silent\n\
             for {:.1} s, it is gone. `run` goes by the bound of its bus.",
            f64::from(life.words) / life.held.secs(),
            bound.secs()
        ),
        None => format!(
            "Held still, it is silent for {longest:.1} s and more: only the bound of its bus tells that it is\n\
             gone. Wiggle a stick in slow moves."
        ),
    }
}

/// Everything that was found, for a program. Shares are fractions of full scale.
pub(super) fn json(id: &str, model: &str, found: &Found, kept: Option<&Path>) -> String {
    let direction = |d: &Direction| {
        json!({
            "control": d.control.name(),
            "centre": d.trim.centre(),
            "noise": 2.0 * d.noise,
            "returns": 2.0 * d.scatter,
            "deviation": d.deviation,
            "rest": d.trim.rest(),
            "minus": d.trim.minus(),
            "plus": d.trim.plus(),
        })
    };
    let stick = |stick: &Stick| {
        let missing = stick.missing.iter();
        json!({
            "stick": stick.name,
            "releases": stick.releases,
            "laps": stick.laps,
            "gate": stick.gate.name(),
            "missing": missing.map(|(place, share)| json!({"where": place, "share": share})).collect::<Vec<_>>(),
            "directions": stick.directions.iter().map(direction).collect::<Vec<_>>(),
        })
    };
    let triggers = found.triggers.iter();
    let trigger = |t: &crate::shell::pad::trim::measure::judge::Trigger| json!({"control": t.control.name(), "rest": t.trim.rest(), "full": t.trim.full(), "pulls": t.pulls});
    let life = found.life.as_ref().map(|life| {
        json!({
            "held_s": life.held.secs(),
            "words": life.words,
            "longest_s": life.longest.secs(),
            "bound_s": life.bound().map(|bound| bound.secs()),
        })
    });
    let sticks: Vec<Value> = found.sticks.iter().map(stick).collect();
    let value = json!({
        "pad": id,
        "model": model,
        "kept": kept.map(|path| path.display().to_string()),
        "sticks": sticks,
        "triggers": triggers.map(trigger).collect::<Vec<_>>(),
        "life": life,
        "deadband": found.deadband,
        "saturation": found.saturation,
        "doubts": [],
    });
    format!("{value:#}")
}

/// The same where nothing can be trusted.
pub(super) fn json_of_doubts(id: &str, model: &str, doubts: &[String]) -> String {
    let value = json!({"pad": id, "model": model, "kept": null, "doubts": doubts});
    format!("{value:#}")
}
