//! What a profile's controls and presses do, as a table to pin to the wall.

use crate::profile::{HandFile, OperatorFile, enable_name, press_text, source_text};
use serde::Serialize;
use stillhand_engine::bindings::{Action, Binding, Press};
use stillhand_engine::operator::StickShape;

/// Columns of a printed page and of most terminals.
const COLUMNS: usize = 80;

/// One control or press and what it does.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Row {
    /// `rx`, `east`, `hold start`, `tl + west`.
    pub control: String,
    /// In plain words.
    pub does: String,
}

/// Everything the profile binds: the stop first, then sticks and triggers, then other presses.
pub fn rows(file: &OperatorFile) -> Vec<Row> {
    let mut rows = Vec::new();
    let mut add = |control: String, does: String| rows.push(Row { control, does });
    let stops = |binding: &&Binding| binding.action == Action::Stop;
    for stop in file.bindings.iter().filter(stops) {
        add(press_text(stop.press), done(file, stop));
    }
    for hand in &file.hands {
        if let Some(source) = hand.control {
            add(source_text(source), drives(hand));
        }
        if let Some(fine) = hand.fine {
            let share = percent(fine.share);
            let does = format!("{}, fine: {share} of what its stick does", hand.axis);
            add(source_text(fine.source), does);
        }
    }
    for (stick, shape) in [("left", file.sticks.left), ("right", file.sticks.right)] {
        if let StickShape::Radial { common } = shape {
            let also = match common {
                true => ", both ways equally fast",
                false => "",
            };
            let does = format!("radial: the picture goes where the thumb goes{also}");
            add(format!("{stick} stick"), does);
        }
    }
    if let Some(trigger) = file.speed_trigger {
        let (let_go, pulled) = (percent(trigger.let_go), percent(trigger.pulled));
        let does = format!("scales every speed: {let_go} let go, {pulled} pulled");
        add(trigger.control.name().to_owned(), does);
    }
    if let Some(enable) = file.enable {
        let does = "held down: lets axes move that ask for it".to_owned();
        add(enable_name(enable).to_owned(), does);
    }
    for binding in file.bindings.iter().filter(|binding| !stops(binding)) {
        add(press_text(binding.press), done(file, binding));
    }
    rows
}

/// The table as text of at most 80 columns, each line indented by two.
pub fn text(rows: &[Row]) -> String {
    let width = rows.iter().map(|row| row.control.chars().count()).max();
    let width = width.unwrap_or(0);
    let mut out = String::new();
    for row in rows {
        let mut control = row.control.as_str();
        for line in wrapped(&row.does, COLUMNS - 4 - width) {
            out.push_str(&format!("  {control:width$}  {line}\n"));
            control = "";
        }
    }
    out
}

/// The words in lines of at most `most` characters; a longer word has a line of its own.
fn wrapped(text: &str, most: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split(' ') {
        match lines.last_mut() {
            Some(line) if line.is_empty() => line.push_str(word),
            Some(line) if line.chars().count() + 1 + word.chars().count() <= most => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

fn percent(share: f64) -> String {
    format!("{} %", (share * 1e4).round() / 1e2)
}

fn drives(hand: &HandFile) -> String {
    let gears: Vec<String> = (0..hand.gears.count())
        .map(|gear| hand.gears.speed(gear).0.to_string())
        .collect();
    let round = match hand.invert {
        true => ", turned round",
        false => "",
    };
    let most = [hand.ceiling, hand.framing]
        .into_iter()
        .flatten()
        .reduce(|a, b| a.lower(b))
        .map_or(String::new(), |most| format!(", at most {}", most.0));
    let (axis, unit) = (&hand.axis, hand.unit.symbol());
    format!("{axis}{round}: {} {unit}/s{most}", gears.join(" / "))
}

fn done(file: &OperatorFile, binding: &Binding) -> String {
    match binding.action {
        Action::Stop => "STOP: every axis, from any pad".to_owned(),
        Action::Release => "releases a stop, once the sticks are let go".to_owned(),
        Action::GearUp => "a gear up".to_owned(),
        Action::GearDown => "a gear down".to_owned(),
        Action::Quiet => mode("quiet", "every motion slow and soft", binding.press),
        Action::Still => mode("still", "no motion at all", binding.press),
        Action::Reduced => mode("reduced", "slow, for someone near the rig", binding.press),
        Action::Rolling => mode("rolling", "accidental changes are locked", binding.press),
        Action::NextOperator => {
            "the next operator, once all is at rest and the sticks are let go".to_owned()
        }
        Action::Sustain => format!(
            "sustain: keeps the present speed; `{}` or the opposite stick ends it",
            binding.press.button().name()
        ),
        Action::Control { group } => {
            let name = file.groups.get(usize::from(group));
            let name = name.map_or("", String::as_str);
            format!("asks for {name}, or passes it to the pad that asked")
        }
        Action::Inch { hand, plus } => inched(file.hands.get(usize::from(hand)), plus),
        Action::EndHere { hand } => {
            let hand = file.hands.get(usize::from(hand));
            let name = hand.map_or("", |hand| hand.axis.as_str());
            format!("the nearest end of the travel of {name} is where it stands from then on")
        }
    }
}

fn mode(name: &str, means: &str, press: Press) -> String {
    match press {
        Press::Tap(_) => format!("{name} on ({means}); keep it down: off"),
        Press::Held(_) | Press::With { .. } => format!("{name} on, and off again ({means})"),
    }
}

fn inched(hand: Option<&HandFile>, plus: bool) -> String {
    // Bindings were made for these hands, and `inch` for these bindings.
    let Some((hand, inch)) = hand.and_then(|hand| Some((hand, hand.inch?))) else {
        return String::new();
    };
    let (axis, unit) = (&hand.axis, hand.unit.symbol());
    let way = if plus { "plus" } else { "minus" };
    let (step, creep) = (inch.step, inch.creep.0);
    format!("{axis} {way} by {step} {unit}; kept down it creeps at {creep} {unit}/s")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_broken_between_words_only() {
        assert_eq!(wrapped("one two three", 7), ["one two", "three"]);
        assert_eq!(wrapped("counterpoint a", 3), ["counterpoint", "a"]);
        assert_eq!(wrapped("", 3), [""]);
    }
}
