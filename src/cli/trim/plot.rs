//! A trim as a drawing: each stick's rim before and after, and where it comes to rest, magnified.

use super::percent;
use crate::cli::svg::{Anchor, FAINT, MARK, Panel, STROKES, Scale, Stroke, Svg, legend};
use crate::profile::trim::StickTrim;
use crate::shell::pad::trim::measure::judge::{Found, Stick};

const WIDTH: f64 = 1000.0;
/// Edge of a square frame, and where the three of a row begin.
const FRAME: f64 = 240.0;
const LEFT: [f64; 3] = [70.0, 398.0, 726.0];
/// Top of the first row, and height of a row.
const TOP: f64 = 96.0;
const ROW: f64 = 330.0;
/// Of a place that a stick came back to: crosses are too small for dashes.
const CAME_BACK: Stroke = Stroke {
    dash: "",
    ..STROKES[1]
};
/// Half the width of a cross, in pixels.
const CROSS: f64 = 4.0;

/// The drawing.
pub(super) fn svg(found: &Found, id: &str, model: &str) -> String {
    let rows = found.sticks.len().max(1) as f64;
    let mut svg = Svg::new(WIDTH, TOP + ROW * rows);
    let title = format!("Trim of {model} ({id})");
    svg.title((LEFT[0], 26.0), &title);
    let entries = [
        (STROKES[0], "the stick, led round along its rim".to_owned()),
        (
            CAME_BACK,
            "where it came back to when it was let go".to_owned(),
        ),
    ];
    legend(&mut svg, (LEFT[0], 48.0), &entries);
    if found.sticks.is_empty() {
        svg.text(
            (LEFT[0], TOP + 20.0),
            Anchor::Start,
            "No stick was measured.",
        );
    }
    for (n, stick) in found.sticks.iter().enumerate() {
        row(&mut svg, stick, TOP + ROW * n as f64);
    }
    svg.finish(&title)
}

fn row(svg: &mut Svg, stick: &Stick, top: f64) {
    let name = stick.name;
    let [x, y] = stick.directions.map(|d| d.trim);
    let raw = |at: (f64, f64)| at;
    let meant = |(across, up): (f64, f64)| (x.apply(across), y.apply(up));
    whole(
        svg,
        stick,
        (LEFT[0], top),
        &format!("{name} stick, as the pad reads it"),
        raw,
    );
    whole(
        svg,
        stick,
        (LEFT[1], top),
        &format!("{name} stick, trimmed"),
        meant,
    );
    at_rest(svg, stick, (LEFT[2], top));
}

/// All of the way.
fn whole(
    svg: &mut Svg,
    stick: &Stick,
    (left, top): (f64, f64),
    title: &str,
    becomes: impl Fn((f64, f64)) -> (f64, f64),
) {
    let panel = panel((left, top), (0.0, 0.0), 100.0);
    panel.frame(svg, title);
    panel.curve(svg, &[(-100.0, 0.0), (100.0, 0.0)], MARK);
    panel.curve(svg, &[(0.0, -100.0), (0.0, 100.0)], MARK);
    let way: Vec<(f64, f64)> = stick
        .way_round
        .iter()
        .map(|at| in_percent(becomes(*at)))
        .collect();
    panel.curve(svg, &way, STROKES[0]);
    for at in &stick.returns {
        cross(svg, &panel, in_percent(becomes(*at)));
    }
}

/// The rest zone and the places it came back to.
fn at_rest(svg: &mut Svg, stick: &Stick, (left, top): (f64, f64)) {
    let [x, y] = stick.directions.map(|d| d.trim);
    let centre = (100.0 * x.centre(), 100.0 * y.centre());
    let around = 250.0 * x.rest().max(y.rest());
    let panel = panel((left, top), centre, around);
    let zone = format!(
        "magnified, rest zone {} by {}",
        percent(2.0 * x.rest(), 1),
        percent(2.0 * y.rest(), 1)
    );
    panel.frame(svg, &zone);
    panel.curve(svg, &corners(x, y), FAINT);
    for at in &stick.returns {
        cross(svg, &panel, in_percent(*at));
    }
}

fn corners(x: StickTrim, y: StickTrim) -> Vec<(f64, f64)> {
    let (low, high) = (x.centre() - x.rest(), x.centre() + x.rest());
    let (down, up) = (y.centre() - y.rest(), y.centre() + y.rest());
    let corners = [
        (low, down),
        (high, down),
        (high, up),
        (low, up),
        (low, down),
    ];
    corners.map(in_percent).to_vec()
}

fn panel((left, top): (f64, f64), (x, y): (f64, f64), around: f64) -> Panel {
    Panel {
        left,
        top,
        width: FRAME,
        height: FRAME,
        x: Scale::new("across, %", x - around, x + around, 5.0),
        y: Scale::new("up, %", y - around, y + around, 5.0),
    }
}

fn in_percent((x, y): (f64, f64)) -> (f64, f64) {
    (100.0 * x, 100.0 * y)
}

fn cross(svg: &mut Svg, panel: &Panel, at: (f64, f64)) {
    let (x, y) = panel.place(at);
    svg.line(&[(x - CROSS, y - CROSS), (x + CROSS, y + CROSS)], CAME_BACK);
    svg.line(&[(x - CROSS, y + CROSS), (x + CROSS, y - CROSS)], CAME_BACK);
}
