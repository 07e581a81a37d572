//! A plan as text.

use super::{Does, Move, Plan, Step};
use std::fmt::Write;

/// What every plan says of itself.
const HEAD: &str = "\
# What a rig does while a recorder runs: stillhand survey plan made it, stillhand survey read holds a
# recording against it.
#
# Times are seconds of the plan. Where it begins in a recording is found by itself, so the recorder may
# run earlier; it must run to the end. Between the steps nothing moves, with motor power on.
#
#   room    motor power off, everybody silent. Switch it on before the next step.
#   still   motor power on, nothing moves
#   mark    moves of a rhythm by which the ladder is found, at its beginning and at its end
#   speed   a rung of speed: from rest to the speed, on, and to rest again
#   ramp    a move of a rung of acceleration, as it starts and as it stops
#   go      a move that only brings the axis to where the next one begins
#
# A move takes all of its step; accel and jerk are the highest on the way to the speed and back to rest.
# `listen` is when its sound counts.
";

/// Writes it; [`super::read`] reads it again.
pub fn write(plan: &Plan) -> String {
    let mut text = HEAD.to_owned();
    // Writing to a text can't fail.
    let _ = write!(text, "\n[plan]\nversion = 1\nrig = {}\n", quoted(&plan.rig));
    let _ = writeln!(text, "lasts = \"{} s\"", thousandth(plan.lasts()));
    text.push_str("steps = [\n");
    for step in &plan.steps {
        let _ = writeln!(text, "  {{ {} }},", one(plan, step));
    }
    text.push_str("]\n");
    for axis in &plan.axes {
        let (name, start, unit) = (&axis.name, thousandth(axis.start), axis.unit.symbol());
        let _ = write!(text, "\n[axis.{name}]\nstart = \"{start} {unit}\"");
        text.push_str("     # where it must stand when the plan begins\n");
    }
    text
}

fn one(plan: &Plan, step: &Step) -> String {
    let (at, lasts) = (thousandth(step.at), thousandth(step.lasts));
    let mut text = format!("at = \"{at} s\", lasts = \"{lasts} s\", ");
    text += &match &step.does {
        Does::Room => "does = \"room\"".to_owned(),
        Does::Still => "does = \"still\"".to_owned(),
        Does::Mark(m) => format!("does = \"mark\", {}", movement(plan, m)),
        Does::Speed(rung, m) => {
            format!("does = \"speed\", rung = {rung}, {}", movement(plan, m))
        }
        Does::Ramp(rung, m) => format!("does = \"ramp\", rung = {rung}, {}", movement(plan, m)),
        Does::Go(m) => format!("does = \"go\", {}", movement(plan, m)),
    };
    let listen: Vec<String> = step
        .listen
        .iter()
        .map(|(from, to)| format!("[\"{} s\", \"{} s\"]", thousandth(*from), thousandth(*to)))
        .collect();
    if !listen.is_empty() {
        let _ = write!(text, ", listen = [{}]", listen.join(", "));
    }
    text
}

fn movement(plan: &Plan, m: &Move) -> String {
    let Some(axis) = plan.axes.get(m.axis) else {
        return String::new();
    };
    let (name, unit) = (&axis.name, axis.unit.symbol());
    let way = if m.plus { "plus" } else { "minus" };
    format!(
        "axis = \"{name}\", speed = \"{} {unit}/s\", accel = \"{} {unit}/s^2\", \
         jerk = \"{} {unit}/s^3\", way = \"{way}\"",
        m.speed, m.accel, m.jerk
    )
}

fn thousandth(x: f64) -> f64 {
    let rounded = (x * 1000.0).round() / 1000.0;
    if rounded == 0.0 { 0.0 } else { rounded }
}

fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\""))
}
