//! What an operator's hands do, as a table to pin to the wall: what is moved or pressed, and what
//! comes of it.

use super::words::press;
use crate::profile::{HandFile, OperatorFile, QuietFrom};
use serde::Serialize;
use stillhand_engine::bindings::{Action, Binding};
use stillhand_engine::input::Control;
use stillhand_engine::operator::{Enable, Fine, Source, StickShape};

/// One line of the table.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Line {
    /// The stick, trigger or press, or what holds for everything.
    pub what: String,
    /// What it does.
    pub does: String,
}

fn line(what: impl Into<String>, does: impl Into<String>) -> Line {
    Line {
        what: what.into(),
        does: does.into(),
    }
}

/// Columns of the page.
const WIDTH: usize = 80;

/// The table as text, at most 80 columns wide, each line with its line feed.
pub fn table(operator: &OperatorFile) -> String {
    let lines = lines(operator);
    let widest = lines.iter().map(|line| line.what.len()).max();
    // Two blanks before and two between the columns.
    let column = widest.unwrap_or(0) + 4;
    let mut out = String::new();
    for Line { what, does } in &lines {
        let mut row = format!("  {what:<width$}", width = column - 2);
        let mut empty = true;
        for word in does.split(' ') {
            if !empty && row.chars().count() + 1 + word.chars().count() > WIDTH {
                out.push_str(row.trim_end());
                out.push('\n');
                row = " ".repeat(column);
                empty = true;
            }
            if !empty {
                row.push(' ');
            }
            row.push_str(word);
            empty = false;
        }
        out.push_str(row.trim_end());
        out.push('\n');
    }
    out
}

/// The table line by line: sticks and triggers, presses, and how a start begins.
pub fn lines(operator: &OperatorFile) -> Vec<Line> {
    let mut lines: Vec<Line> = operator.hands.iter().flat_map(hand_lines).collect();
    if let Some(trigger) = operator.speed_trigger {
        let percent = |share: f64| format!("{} %", round(share * 100.0));
        lines.push(line(
            control(trigger.control),
            format!(
                "scales every speed: {} let go, {} pulled",
                percent(trigger.let_go),
                percent(trigger.pulled)
            ),
        ));
    }
    if let Some(enable) = operator.enable {
        let what = match enable {
            Enable::Button(button) => button.name().to_owned(),
            Enable::Trigger(trigger) => control(trigger),
        };
        let does = "kept down, lets those axes move that ask for it";
        lines.push(line(what, does));
    }
    let bindings = operator.bindings.iter();
    lines.extend(bindings.map(|binding| line(press(binding.press), does(binding, operator))));
    lines.extend(begins(operator));
    lines
}

/// A stick direction or trigger in plain words.
fn control(control: Control) -> String {
    let words = match control {
        Control::Lx => "left stick, sideways",
        Control::Ly => "left stick, up and down",
        Control::Rx => "right stick, sideways",
        Control::Ry => "right stick, up and down",
        Control::Lt => "left trigger",
        Control::Rt => "right trigger",
    };
    words.to_owned()
}

fn hand_lines(hand: &HandFile) -> Vec<Line> {
    let unit = hand.unit.symbol();
    let gears: Vec<String> = (0..hand.gears.count())
        .map(|gear| hand.gears.speed(gear).0.to_string())
        .collect();
    let mut speeds = format!("{} {unit}/s by gear", gears.join(", "));
    if let Some(ceiling) = hand.ceiling {
        speeds.push_str(&format!(", never over {} {unit}/s", ceiling.0));
    }
    if let Some(framing) = hand.framing {
        speeds.push_str(&format!(", framing holds it to {} {unit}/s", framing.0));
    }
    let mut lines = Vec::new();
    if let Some(source) = hand.control {
        lines.extend(driven(source, hand, &speeds));
    }
    if let Some(Fine { source, share }) = hand.fine {
        let does = format!("fine, {} % of its speed on top", round(share * 100.0));
        lines.extend(driven(source, hand, &does));
    }
    lines
}

/// One line for a stick direction, one for each of two triggers.
fn driven(source: Source, hand: &HandFile, does: &str) -> Vec<Line> {
    let axis = &hand.axis;
    let (plus, minus) = match hand.invert {
        false => ("plus", "minus"),
        true => ("minus", "plus"),
    };
    match source {
        Source::Stick(stick) => {
            let turned = if hand.invert { ", turned round" } else { "" };
            vec![line(control(stick), format!("{axis}{turned}: {does}"))]
        }
        Source::Pair {
            plus: one,
            minus: two,
        } => vec![
            line(control(one), format!("{axis} {plus}: {does}")),
            line(control(two), format!("{axis} {minus}: likewise")),
        ],
    }
}

fn does(binding: &Binding, operator: &OperatorFile) -> String {
    let mode = |on: &str, off: &str| match binding.press.is_bare_tap() {
        true => format!("{on}; kept down for 0.6 s when it is on: {off}"),
        false => format!("{on}; the same press again: {off}"),
    };
    let held = "a stick must be let go to come back";
    match binding.action {
        Action::Stop => "STOP, on every pad, in control or not".to_owned(),
        Action::Release => "releases a stop, with the sticks let go".to_owned(),
        Action::GearUp => "a faster gear".to_owned(),
        Action::GearDown => "a slower gear".to_owned(),
        Action::Quiet => mode("quiet on: slow and soft", "off once the sticks are let go"),
        Action::Still => mode("still on: nothing moves", &format!("off, {held}")),
        Action::Reduced => mode(
            "reduced speed on: somebody is near",
            "off once the sticks are let go",
        ),
        Action::Rolling => mode("rolling: accidental changes are locked", "no longer rolling"),
        Action::Sustain => {
            "keeps the present speed, the stick trims it; pressed again, or the opposite stick: ends \
             it"
                .to_owned()
        }
        Action::Control { group } => format!(
            "asks for {}; on the pad that has it: passes it on",
            group_name(operator, group)
        ),
        Action::Inch { hand, plus } => inching(operator, hand, plus),
    }
}

fn group_name(operator: &OperatorFile, group: u8) -> &str {
    let name = operator.groups.get(usize::from(group));
    name.map_or("control", String::as_str)
}

fn inching(operator: &OperatorFile, hand: u8, plus: bool) -> String {
    let Some(hand) = operator.hands.get(usize::from(hand)) else {
        return String::new();
    };
    let way = if plus { "plus" } else { "minus" };
    let (axis, unit) = (&hand.axis, hand.unit.symbol());
    let Some(inch) = hand.inch else {
        return format!("{axis} {way}");
    };
    format!(
        "{axis} {way} by {} {unit}; kept down, on at {} {unit}/s",
        inch.step, inch.creep.0
    )
}

/// How a start begins, and what holds for everything.
fn begins(operator: &OperatorFile) -> Vec<Line> {
    let quiet = if operator.begins_quiet {
        ", in quiet"
    } else {
        ""
    };
    let start = format!("gear {}{quiet}", operator.first_gear + 1);
    let ceilings = match &operator.quiet {
        QuietFrom::File(file) => format!("as measured on rig {}", file.rig),
        QuietFrom::Nothing | QuietFrom::Named(_) => {
            "not measured: a quarter of the speed".to_owned()
        }
    };
    let mut lines = vec![line("at the start", start), line("quiet is", ceilings)];
    for (side, shape) in [
        ("left", operator.sticks.left),
        ("right", operator.sticks.right),
    ] {
        if matches!(shape, StickShape::Radial { .. }) {
            let does = "goes any way the thumb goes, with one deadband and curve";
            lines.push(line(format!("{side} stick"), does));
        }
    }
    if operator.groups.len() > 1 {
        for (place, group) in operator.groups.iter().enumerate() {
            let own = |hand: &&HandFile| usize::from(hand.group) == place;
            let axes = operator.hands.iter().filter(own);
            let axes: Vec<&str> = axes.map(|hand| hand.axis.as_str()).collect();
            lines.push(line(format!("{group} is"), axes.join(", ")));
        }
    }
    lines
}

/// Shares come from whole or decimal per cents; a float's last digits are not for a wall.
fn round(percent: f64) -> f64 {
    (percent * 1e3).round() / 1e3
}
