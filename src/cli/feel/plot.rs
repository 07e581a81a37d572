//! A feel as a drawing: speed against stick, and speed over time of a full gain and lose.

use super::numbers::Feel;
use super::table::quiet;
use crate::cli::figures::figure;
use crate::cli::svg::{Anchor, End, FAINT, MARK, Panel, STROKES, Scale, Stroke, Svg, legend};
use crate::profile::RigFile;

const WIDTH: f64 = 960.0;
const HEIGHT: f64 = 480.0;
/// Left edges of the two frames.
const LEFT: f64 = 66.0;
const RIGHT: f64 = 562.0;
/// Width of the frames.
const FRAME_WIDTH: f64 = 370.0;
/// Height of the frames.
const FRAME: f64 = 300.0;
/// Between the end of the gain and the letting go, seconds of steady speed.
const STEADY_S: f64 = 0.25;

/// The drawing of one operator in every gear, or of two in the same panels, each in its own; all are
/// of the same axis. `gears` are those of the only one.
pub fn svg(rig: &RigFile, feels: &[Feel], gears: &[Feel]) -> String {
    let mut svg = Svg::new(WIDTH, HEIGHT);
    let top = 66.0 + 18.0 * feels.len() as f64;
    let (axis, unit) = feels
        .first()
        .map_or(("", ""), |feel| (feel.axis.as_str(), feel.unit));
    let title = format!("{axis} on \"{}\"", rig.rig.id);
    svg.title((LEFT, 26.0), &title);
    let entries: Vec<(Stroke, String)> = strokes(feels).map(|(s, f)| (s, named(f))).collect();
    legend(&mut svg, (LEFT, 48.0), &entries);
    sticks(&mut svg, feels, gears, top);
    times(&mut svg, feels, unit, top);
    svg.finish(&format!("Feel: {title}"))
}

fn strokes(feels: &[Feel]) -> impl Iterator<Item = (Stroke, &Feel)> {
    STROKES.into_iter().zip(feels)
}

fn named(feel: &Feel) -> String {
    let (unit, full) = (feel.unit, full(feel));
    let (gear, of) = (feel.gear, feel.gears.len());
    format!(
        "{}: {} curve, half {} %; gear {gear} of {of}{}, full stick {} {unit}/s",
        feel.operator,
        feel.curve,
        figure(100.0 * feel.half),
        quiet(feel),
        figure(full)
    )
}

fn full(feel: &Feel) -> f64 {
    let place = usize::from(feel.gear) - 1;
    feel.gears.get(place).map_or(0.0, |full| full.speed)
}

fn sticks(svg: &mut Svg, feels: &[Feel], gears: &[Feel], top: f64) {
    let most = feels.iter().map(full).fold(0.0, f64::max);
    let unit = feels.first().map_or("", |feel| feel.unit);
    let panel = Panel {
        left: LEFT,
        top,
        width: FRAME_WIDTH,
        height: FRAME,
        x: Scale::new("stick, % of its way", 0.0, 100.0, 5.0),
        y: Scale::roomy(format!("speed, {unit}/s"), 0.0, most, 5.0),
    };
    panel.frame(svg, "Speed against stick");
    // Gears that a ceiling makes equal are one line.
    for equal in gears.chunk_by(|a, b| full(a) == full(b)) {
        faint(svg, &panel, equal);
    }
    if let [feel] = feels {
        let (deadband, saturation) = (100.0 * feel.deadband, 100.0 * feel.saturation);
        panel.mark(svg, deadband, End::Upper, "");
        panel.mark(svg, saturation, End::Upper, "");
        let half = ((deadband + saturation) / 2.0, feel.half * full(feel));
        panel.curve(svg, &[(half.0, 0.0), half, (0.0, half.1)], MARK);
    }
    for (n, (stroke, feel)) in strokes(feels).enumerate() {
        panel.curve(svg, &by_stick(feel), stroke);
        caption(svg, &panel, n, &limits(feel));
    }
}

/// Another gear, or more that are equal, as far as they are no faster than the panel.
fn faint(svg: &mut Svg, panel: &Panel, equal: &[Feel]) {
    let Some(gear) = equal.first() else { return };
    let numbers: Vec<String> = equal.iter().map(|gear| gear.gear.to_string()).collect();
    let mut line = by_stick(gear);
    line.retain(|(_, speed)| *speed <= panel.y.high());
    panel.curve(svg, &line, FAINT);
    let (text, end) = (format!("gear {}", numbers.join(", ")), (100.0, full(gear)));
    if end.1 <= panel.y.high() {
        let (x, y) = panel.place(end);
        svg.text((x + 5.0, y + 4.0), Anchor::Start, &text);
    } else if let Some(last) = line.last() {
        let (x, y) = panel.place(*last);
        svg.text((x - 5.0, y + 9.0), Anchor::End, &text);
    }
}

fn by_stick(feel: &Feel) -> Vec<(f64, f64)> {
    let rows = feel.stick.iter();
    rows.map(|[stick, _, speed]| (100.0 * stick, speed.abs()))
        .collect()
}

/// Where the stick begins and ends to count, and the speed half way between.
fn limits(feel: &Feel) -> String {
    format!(
        "{}: deadband {} %, full from {} %, half way {} {}/s",
        feel.operator,
        figure(100.0 * feel.deadband),
        figure(100.0 * feel.saturation),
        figure(feel.half * full(feel)),
        feel.unit
    )
}

/// A line below a panel.
fn caption(svg: &mut Svg, panel: &Panel, n: usize, text: &str) {
    let y = panel.top + FRAME + 58.0 + 16.0 * n as f64;
    svg.text((panel.left, y), Anchor::Start, text);
}

fn times(svg: &mut Svg, feels: &[Feel], unit: &str, top: f64) {
    let lines: Vec<Vec<(f64, f64)>> = feels.iter().map(over_time).collect();
    let last = |line: &Vec<(f64, f64)>| line.last().map_or(0.0, |(t, _)| *t);
    let end = lines.iter().map(last).fold(0.0, f64::max);
    let most = feels.iter().map(full).fold(0.0, f64::max);
    let panel = Panel {
        left: RIGHT,
        top,
        width: FRAME_WIDTH,
        height: FRAME,
        x: Scale::new("time, s", 0.0, end, 6.0),
        y: Scale::roomy(format!("speed, {unit}/s"), 0.0, most, 5.0),
    };
    panel.frame(svg, "Full stick, then let go");
    if let [feel] = feels {
        let gained = feel.gain.seconds.unwrap_or(0.0);
        panel.mark(svg, gained + STEADY_S, End::Lower, "let go");
    }
    for ((stroke, _), line) in strokes(feels).zip(&lines) {
        panel.curve(svg, line, stroke);
    }
    for (n, feel) in feels.iter().enumerate() {
        caption(svg, &panel, n, &ways(feel));
    }
}

/// How long gain and lose take, and how far they go.
fn ways(feel: &Feel) -> String {
    let ramp = |ramp: &super::numbers::Ramp| match ramp.seconds {
        Some(s) => format!("{} s, {} {}", figure(s), figure(ramp.distance), feel.unit),
        None => "over a minute".to_owned(),
    };
    let (gain, lose) = (ramp(&feel.gain), ramp(&feel.lose));
    format!("{}: gain {gain}; lose {lose}", feel.operator)
}

/// A gain, a little of steady speed, a lose.
fn over_time(feel: &Feel) -> Vec<(f64, f64)> {
    let gain = &feel.gain.speeds;
    let from = gain.last().map_or(0.0, |(t, _)| *t) + STEADY_S;
    let lose = feel.lose.speeds.iter().map(|(t, v)| (from + t, *v));
    gain.iter().copied().chain(lose).collect()
}
