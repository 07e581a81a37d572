//! What was found, as a quiet file.

use super::read::Read;
use super::tell::{rung_words, still_words};
use crate::profile::{Source, load_quiet};
use std::fmt::Write;
use stillhand_acoustics::judge::AxisFinding;

/// The quiet file.
///
/// # Errors
///
/// Why there can be none, in words: an axis without a quiet speed or ramp.
pub fn text(read: &Read) -> Result<String, String> {
    let findings = &read.study.findings;
    let left = |axis: &&AxisFinding| !read.without.contains(&axis.name);
    let axes: Vec<&AxisFinding> = findings.axes.iter().filter(left).collect();
    if axes.is_empty() {
        return Err("no axis is left".to_owned());
    }
    let failing: Vec<String> = axes.iter().filter_map(|axis| failing(axis)).collect();
    if !failing.is_empty() {
        return Err(format!(
            "{}; plan slower rungs (survey plan --rungs, --quiet), take a smaller --margin, or leave the \
             axis out (--without)",
            failing.join("; ")
        ));
    }
    let mut text = head(read);
    for axis in axes {
        one(read, axis, &mut text);
    }
    // What is written must be what is read.
    match load_quiet(&Source::new("the quiet file", text.as_str())) {
        Ok(_) => Ok(text),
        Err(problems) => Err(problems.render(false)),
    }
}

fn failing(axis: &AxisFinding) -> Option<String> {
    let name = &axis.name;
    let unit = axis.unit.symbol();
    match (axis.speed, axis.ramp) {
        (Some(_), Some(_)) => None,
        (None, _) => {
            let slowest = axis.speeds.first().map_or(0.0, |rung| rung.value);
            Some(format!(
                "{name} has no quiet speed: not even {slowest} {unit}/s passes"
            ))
        }
        (_, None) => {
            let gentlest = axis.ramps.first().map_or(0.0, |rung| rung.value);
            Some(format!(
                "{name} has no quiet start: not even {gentlest:.3} {unit}/s^2 passes"
            ))
        }
    }
}

/// A text as a remark: no line of it may begin anything else.
fn remark(text: &str) -> String {
    text.chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect()
}

fn head(read: &Read) -> String {
    let findings = &read.study.findings;
    let mut text = String::new();
    // Writing to a text can't fail.
    let _ = writeln!(
        text,
        "# What this rig may do unheard, measured: written by stillhand survey read."
    );
    let _ = writeln!(
        text,
        "# Recording: {}, {}, channel {}, {} Hz, {}.",
        remark(&read.name),
        read.date.as_deref().unwrap_or("undated"),
        read.channel,
        read.header.rate_hz,
        read.header.format
    );
    let _ = writeln!(text, "# Levels in {}.", read.unit());
    let _ = writeln!(
        text,
        "# Room tone {:.1} dB; what passes is {} dB below it, with no tone that is heard by itself.",
        read.shown(findings.room.db()),
        findings.margin_db
    );
    for line in still_words(read) {
        let _ = writeln!(text, "# {line}");
    }
    let about = format!(
        "Measured {}, {} dB below the room tone.",
        read.date.as_deref().unwrap_or("on an unknown day"),
        findings.margin_db
    );
    let rig = read.plan.rig.replace('\\', "\\\\").replace('"', "\\\"");
    let _ = write!(text, "\n[quiet]\nrig = \"{rig}\"\nabout = \"{about}\"\n");
    text
}

fn one(read: &Read, axis: &AxisFinding, text: &mut String) {
    let (Some(speed), Some((accel, jerk))) = (axis.speed, axis.ramp) else {
        return;
    };
    let unit = axis.unit.symbol();
    let _ = write!(text, "\n[axis.{}]\n", axis.name);
    for rung in &axis.speeds {
        let _ = writeln!(
            text,
            "#   {} {unit}/s: {}",
            rung.value,
            rung_words(read, rung)
        );
    }
    let _ = writeln!(text, "speed = \"{speed} {unit}/s\"");
    for rung in &axis.ramps {
        let _ = writeln!(
            text,
            "#   {} {unit}/s^2: {}",
            rung.value,
            rung_words(read, rung)
        );
    }
    let _ = writeln!(text, "accel = \"{accel} {unit}/s^2\"");
    let _ = writeln!(text, "jerk = \"{jerk} {unit}/s^3\"");
    if !axis.bands.is_empty() {
        let band = |(low, high): &(f64, f64)| format!("[\"{low} {unit}/s\", \"{high} {unit}/s\"]");
        let bands: Vec<String> = axis.bands.iter().map(band).collect();
        let _ = writeln!(text, "avoid = [{}]", bands.join(", "));
    }
}
