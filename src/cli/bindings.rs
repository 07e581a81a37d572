//! What an operator's hands do, as a table to pin to the wall.

use super::words;
use crate::profile::{HandFile, OperatorFile};
use std::fmt::Write;
use stillhand_engine::bindings::{Action, Press};
use stillhand_engine::input::Control;
use stillhand_engine::operator::Enable;

/// The table: one line for each stick and press, at most 79 columns.
pub fn table(operator: &OperatorFile) -> String {
    let mut rows: Vec<(String, String)> = operator.hands.iter().map(stick).collect();
    if let Some(enable) = operator.enable {
        let held = match enable {
            Enable::Button(button) => button.name(),
            Enable::Trigger(trigger) => trigger.name(),
        };
        rows.push((
            format!("keep {held} down"),
            "enables an axis that asks for it".to_owned(),
        ));
    }
    for binding in operator.bindings.iter() {
        rows.extend(press(binding.press, binding.action, operator));
    }
    let mut text = String::new();
    for (how, what) in rows {
        // Writing to a String can't fail.
        let _ = writeln!(text, "    {how:<20} {what}");
    }
    text
}

fn stick(hand: &HandFile) -> (String, String) {
    let (stick, ways) = match hand.control {
        Control::Lx => ("left stick", ["right", "left"]),
        Control::Ly => ("left stick", ["up", "down"]),
        Control::Rx => ("right stick", ["right", "left"]),
        Control::Ry => ("right stick", ["up", "down"]),
        Control::Lt => ("left trigger", ["pulled", ""]),
        Control::Rt => ("right trigger", ["pulled", ""]),
    };
    let turned = if hand.invert { ", turned round" } else { "" };
    (
        stick.to_owned(),
        format!("{} ({}, {}){turned}", hand.axis, ways[0], ways[1]),
    )
}

/// The lines of one binding: a mode that a tap switches on has a second one.
fn press(press: Press, action: Action, operator: &OperatorFile) -> Vec<(String, String)> {
    let how = words::press(press);
    let line = |what: &str| vec![(how.clone(), what.to_owned())];
    let mode = |name: &str| match press {
        Press::Tap(button) => vec![
            (how.clone(), format!("{name} on")),
            (format!("hold {}", button.name()), format!("{name} off")),
        ],
        Press::Held(_) | Press::With { .. } => line(&format!("{name} on and off")),
    };
    match action {
        Action::Stop => line("STOP, on every pad"),
        Action::Release => line("releases a stop, with the sticks let go"),
        Action::GearUp => line("a gear up"),
        Action::GearDown => line("a gear down"),
        Action::Quiet => mode("quiet"),
        Action::Still => mode("still (nothing moves)"),
        Action::Reduced => mode("reduced speed"),
        Action::Rolling => mode("rolling (changes locked)"),
        Action::Sustain => line("keeps the present speed; the same button ends it"),
        Action::Control { group } => line(&format!("asks for group {}, or passes it", group + 1)),
        Action::Inch { hand, plus } => {
            let axis = operator.hands.get(usize::from(hand));
            let name = axis.map_or("an axis", |hand| hand.axis.as_str());
            let way = if plus { "plus" } else { "minus" };
            line(&format!("one step of {name} {way}; kept down, a creep"))
        }
    }
}
