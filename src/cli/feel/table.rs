//! A feel as text of at most 80 columns.

use super::numbers::{AtFigures, Feel, Ramp};
use crate::cli::figures::{bands_text, figure};
use crate::profile::RigFile;

/// Marks of the first and the second operator in a strip, and of both at one place.
const MARKS: [char; 2] = ['*', 'o'];
const BOTH: char = '@';
/// Columns of a strip.
const STRIP: usize = 44;

/// What a stick does at one place, in a line.
pub fn at(feel: &Feel, at: &AtFigures) -> String {
    let band = at.band.map_or(String::new(), |band| {
        format!(", out of the band {}", bands_text(&[band]))
    });
    format!(
        "{} of \"{}\", gear {}{}, stick {}: {} {} (demand {}){}; full stick {} {}, because of the {}\n",
        at.axis,
        feel.operator,
        feel.gear,
        quiet(feel),
        at.stick,
        figure(at.speed),
        at.unit,
        figure(at.demand),
        band,
        figure(at.ceiling.value),
        at.unit,
        at.ceiling.name,
    )
}

/// One operator, or two side by side; all are of the same axis.
pub fn text(rig: &RigFile, feels: &[Feel]) -> String {
    let mut out = String::new();
    for (place, feel) in feels.iter().enumerate() {
        let mark = match feels.len() {
            1 => String::new(),
            _ => format!("{} ", MARKS.get(place).unwrap_or(&BOTH)),
        };
        out.push_str(&head(rig, feel, &mark));
    }
    let unit = feels.first().map_or("", |feel| feel.unit);
    out.push('\n');
    let sticks = (0..=20u32).map(|n| n as usize * 5);
    let rows: Vec<(String, Vec<f64>)> = sticks
        .map(|percent| {
            let speeds = feels.iter().map(|feel| {
                let row = feel.stick.get(percent);
                row.map_or(0.0, |[_, _, speed]| speed.abs())
            });
            (format!("{percent} %"), speeds.collect())
        })
        .collect();
    out.push_str(&strips("stick", unit, feels, &rows));
    for (title, ramp) in ramps() {
        out.push('\n');
        let rows: Vec<(String, Vec<f64>)> = (0..=10u32)
            .map(|n| f64::from(n) / 10.0)
            .map(|t| {
                let speeds = feels.iter().map(|feel| ramp(feel).speed_at(t));
                (format!("{t:.1} s"), speeds.collect())
            })
            .collect();
        out.push_str(&strips(title, unit, feels, &rows));
    }
    out
}

type Of = fn(&Feel) -> &Ramp;

fn ramps() -> [(&'static str, Of); 2] {
    [("gain", |feel| &feel.gain), ("lose", |feel| &feel.lose)]
}

fn head(rig: &RigFile, feel: &Feel, mark: &str) -> String {
    let (unit, gear) = (feel.unit, usize::from(feel.gear));
    let full = feel.gears.get(gear - 1).map_or(0.0, |full| full.speed);
    let mut out = format!(
        "{mark}{} of \"{}\" on \"{}\", gear {gear} of {}{}: full stick {} {unit}/s\n",
        feel.axis,
        feel.operator,
        rig.rig.id,
        feel.gears.len(),
        quiet(feel),
        figure(full)
    );
    let mut line = |label: &str, text: String| {
        out.push_str(&format!("    {label:10} {text}\n"));
    };
    let inverted = if feel.invert { ", inverted" } else { "" };
    line(
        "stick",
        format!(
            "deadband {} %, full from {} %{inverted}",
            figure(100.0 * feel.deadband),
            figure(100.0 * feel.saturation)
        ),
    );
    line(
        "curve",
        format!("{}, half {} %", feel.curve, figure(100.0 * feel.half)),
    );
    let gears = feel.gears.iter().enumerate();
    let gears = gears.map(|(n, f)| format!("{}: {} {}", n + 1, figure(f.speed), f.by));
    line("gears", listed(gears));
    let ceilings = feel.ceilings.iter();
    line(
        "ceilings",
        listed(ceilings.map(|c| format!("{} {}", c.name, figure(c.value)))),
    );
    if !feel.avoid.is_empty() {
        line(
            "avoids",
            listed(feel.avoid.iter().map(|band| bands_text(&[*band]))),
        );
    }
    for (label, ramp) in ramps() {
        let ramp = ramp(feel);
        let after = match ramp.seconds {
            Some(seconds) => format!("{} s, {} {unit}", figure(seconds), figure(ramp.distance)),
            None => "over a minute".to_owned(),
        };
        let (accel, jerk) = (figure(ramp.accel), figure(ramp.jerk));
        line(
            label,
            format!("{after}; at most {accel} {unit}/s^2, {jerk} {unit}/s^3"),
        );
    }
    out
}

/// What stands behind the gear with quiet on.
pub(super) fn quiet(feel: &Feel) -> &'static str {
    if feel.quiet { " in quiet" } else { "" }
}

/// Joined by commas, onto further lines where one would be too long.
fn listed(words: impl Iterator<Item = String>) -> String {
    let mut out = String::new();
    let mut width = 15;
    for word in words {
        if !out.is_empty() {
            out.push(',');
            if width + word.len() + 2 > 79 {
                out.push_str("\n              ");
                width = 14;
            }
            out.push(' ');
        }
        width += word.len() + 2;
        out.push_str(&word);
    }
    out
}

/// Rows of numbers, each with a strip on which their marks stand: a plot on its side.
fn strips(title: &str, unit: &str, feels: &[Feel], rows: &[(String, Vec<f64>)]) -> String {
    let most = rows.iter().flat_map(|(_, speeds)| speeds);
    let most = most.fold(0.0, |most: f64, speed| most.max(*speed));
    let mut out = format!("  {title:>6}");
    for feel in feels {
        let head = match feels.len() {
            1 => format!("{unit}/s"),
            _ => feel.operator.chars().take(9).collect(),
        };
        out.push_str(&format!(" {head:>9}"));
    }
    let end = format!("{} {unit}/s", figure(most));
    out.push_str(&format!("   0{end:>width$}\n", width = STRIP - 1));
    for (label, speeds) in rows {
        out.push_str(&format!("  {label:>6}"));
        for speed in speeds {
            out.push_str(&format!(" {:>9}", figure(*speed)));
        }
        out.push_str(&format!("  |{}|\n", strip(speeds, most)));
    }
    out
}

fn strip(speeds: &[f64], most: f64) -> String {
    let mut cells = [' '; STRIP];
    for (speed, mark) in speeds.iter().zip(MARKS) {
        let share = if most > 0.0 { speed / most } else { 0.0 };
        let place = (share * (STRIP - 1) as f64).round() as usize;
        if let Some(cell) = cells.get_mut(place) {
            *cell = if *cell == ' ' { mark } else { BOTH };
        }
    }
    cells.iter().collect()
}
