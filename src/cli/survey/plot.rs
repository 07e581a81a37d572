//! What was found, as a plot: level against speed and against acceleration.

use super::super::svg::{Anchor, FAINT, MARK, STROKES, Stroke, Svg, legend};
use super::read::Read;
use stillhand_acoustics::judge::Rung;

const WIDTH: f64 = 1120.0;
/// Where quiet ends, in the plots as in the legend.
const CEILING: Stroke = Stroke { width: 1.6, ..MARK };
/// Height of a row of two plots, one row for each axis.
const ROW: f64 = 330.0;
const HEAD: f64 = 120.0;
/// Frame of the left plot, and where the right one begins.
const LEFT: (f64, f64) = (70.0, 560.0);
const RIGHT: (f64, f64) = (720.0, 330.0);
const PLOT_HEIGHT: f64 = 230.0;
/// Bands, and what lies above the ceiling.
const BAND: &str = "#f3d9d4";
const OVER: &str = "#f4f4f0";
/// Levels below the room tone that are still shown, in dB.
const BELOW_ROOM: f64 = 30.0;

/// The plot.
pub fn svg(read: &Read) -> String {
    let findings = &read.study.findings;
    let mut svg = Svg::new(WIDTH, HEAD + ROW * findings.axes.len() as f64);
    let title = format!("Rig {} at the microphone: {}", read.plan.rig, read.name);
    svg.title((LEFT.0, 26.0), &title);
    let date = read.date.as_deref().unwrap_or("undated");
    let under = format!(
        "{date}, channel {}; levels in {}",
        read.channel,
        read.unit()
    );
    svg.text((LEFT.0, 46.0), Anchor::Start, &under);
    let entries = [
        (
            STROKES[0],
            "what the rig adds (circle: passes, cross: does not)".to_owned(),
        ),
        (FAINT, "with the room".to_owned()),
    ];
    legend(&mut svg, (LEFT.0, 68.0), &entries);
    let entries = [
        (STROKES[2], "room tone".to_owned()),
        (
            STROKES[1],
            format!("{} dB below: the margin", findings.margin_db),
        ),
    ];
    legend(&mut svg, (LEFT.0 + 370.0, 68.0), &entries);
    let entries = [
        (CEILING, "quiet up to here".to_owned()),
        (
            Stroke {
                colour: BAND,
                dash: "",
                width: 12.0,
            },
            "band where it sings".to_owned(),
        ),
    ];
    legend(&mut svg, (LEFT.0 + 630.0, 68.0), &entries);
    for (row, axis) in findings.axes.iter().enumerate() {
        let top = HEAD + 24.0 + ROW * row as f64;
        let unit = axis.unit.symbol();
        let speeds = Plot {
            read,
            left: LEFT.0,
            top,
            width: LEFT.1,
            rungs: &axis.speeds,
            limit: axis.speed,
            bands: &axis.bands,
        };
        let (title, label) = (format!("{}: speed", axis.name), format!("speed, {unit}/s"));
        speeds.draw(&mut svg, &title, &label);
        let ramps = Plot {
            left: RIGHT.0,
            width: RIGHT.1,
            rungs: &axis.ramps,
            limit: axis.ramp.map(|ramp| ramp.0),
            bands: &[],
            ..speeds
        };
        let title = format!("{}: starts and stops", axis.name);
        ramps.draw(&mut svg, &title, &format!("acceleration, {unit}/s^2"));
    }
    svg.finish(&title)
}

/// One plot: levels against the logarithm of a speed or an acceleration.
#[derive(Clone, Copy)]
struct Plot<'a> {
    read: &'a Read,
    left: f64,
    top: f64,
    width: f64,
    rungs: &'a [Rung],
    /// Up to here it is quiet.
    limit: Option<f64>,
    bands: &'a [(f64, f64)],
}

impl Plot<'_> {
    fn draw(&self, svg: &mut Svg, title: &str, label: &str) {
        let bottom = self.top + PLOT_HEIGHT;
        if let Some(limit) = self.limit {
            self.fill(svg, (self.x(limit), self.left + self.width), OVER);
        }
        for (low, high) in self.bands {
            self.fill(svg, (self.x(*low), self.x(*high)), BAND);
        }
        self.scales(svg);
        svg.title((self.left, self.top - 8.0), title);
        let middle = self.left + self.width / 2.0;
        svg.text((middle, bottom + 36.0), Anchor::Middle, label);
        let room = self.read.study.findings.room.db();
        let across = |db: f64| {
            let y = self.y(db);
            [(self.left, y), (self.left + self.width, y)]
        };
        svg.line(&across(room), STROKES[2]);
        svg.line(
            &across(room - self.read.study.findings.margin_db),
            STROKES[1],
        );
        if let Some(limit) = self.limit {
            let x = self.x(limit);
            svg.line(&[(x, self.top), (x, bottom)], CEILING);
        }
        self.levels(svg);
    }

    fn levels(&self, svg: &mut Svg) {
        let judged: Vec<&Rung> = self
            .rungs
            .iter()
            .filter(|rung| rung.excess_db.is_some())
            .collect();
        let with: Vec<(f64, f64)> = judged
            .iter()
            .map(|r| (self.x(r.value), self.y(r.level_db)))
            .collect();
        svg.line(&with, FAINT);
        let own = |rung: &Rung| rung.own_db.unwrap_or(rung.own_at_most_db);
        let adds: Vec<(f64, f64)> = judged
            .iter()
            .map(|r| (self.x(r.value), self.y(own(r))))
            .collect();
        svg.line(&adds, STROKES[0]);
        for (rung, at) in judged.iter().zip(&adds) {
            match rung.passes() {
                Some(true) => circle(svg, *at),
                _ => cross(svg, *at),
            }
            if let Some(tone) = rung.tone.filter(|tone| tone.audibility_db() > -3.0) {
                let at = (at.0 - 7.0, at.1 - 5.0);
                svg.text(at, Anchor::End, &hertz(tone.hz));
            }
        }
        for rung in self.rungs.iter().filter(|rung| rung.left_out.is_some()) {
            let at = (self.x(rung.value), self.top + 14.0);
            svg.text(at, Anchor::Middle, "left out");
        }
    }

    fn scales(&self, svg: &mut Svg) {
        let (right, bottom) = (self.left + self.width, self.top + PLOT_HEIGHT);
        let grid = Stroke {
            colour: "#d8d8d8",
            ..FAINT
        };
        let mut free = f64::NEG_INFINITY;
        for rung in self.rungs {
            let x = self.x(rung.value);
            svg.line(&[(x, self.top), (x, bottom)], grid);
            // Every rung has its line; as many of them as there is room for have their figure.
            if x > free {
                svg.text((x, bottom + 17.0), Anchor::Middle, &short(rung.value));
                free = x + 36.0;
            }
        }
        let (low, high) = self.range();
        let mut db = (low / 10.0).ceil() * 10.0;
        while db <= high {
            let y = self.y(db - self.read.shown(0.0));
            svg.line(&[(self.left, y), (right, y)], grid);
            svg.text(
                (self.left - 7.0, y + 4.0),
                Anchor::End,
                &format!("{db:.0} dB"),
            );
            db += 10.0;
        }
        let (tl, tr) = ((self.left, self.top), (right, self.top));
        svg.line(&[tl, tr, (right, bottom), (self.left, bottom), tl], FAINT);
    }

    /// A filled column from one place to another.
    fn fill(&self, svg: &mut Svg, (from, to): (f64, f64), colour: &'static str) {
        let x = (from + to) / 2.0;
        let column = Stroke {
            colour,
            dash: "",
            width: (to - from).abs(),
        };
        svg.line(&[(x, self.top), (x, self.top + PLOT_HEIGHT)], column);
    }

    /// Levels that are shown, as they are shown.
    fn range(&self) -> (f64, f64) {
        let room = self.read.study.findings.room.db();
        let all = self.read.study.findings.axes.iter();
        let rungs = all.flat_map(|axis| axis.speeds.iter().chain(&axis.ramps));
        let loudest = rungs
            .filter(|rung| rung.excess_db.is_some())
            .fold(room, |most, rung| most.max(rung.level_db));
        (
            self.read.shown(room - BELOW_ROOM),
            self.read.shown(loudest + 4.0),
        )
    }

    fn x(&self, value: f64) -> f64 {
        let (Some(first), Some(last)) = (self.rungs.first(), self.rungs.last()) else {
            return self.left;
        };
        let span = (last.value / first.value).ln().max(1e-9);
        let share = 0.03 + 0.94 * (value / first.value).ln() / span;
        self.left + self.width * share.clamp(0.0, 1.0)
    }

    fn y(&self, db: f64) -> f64 {
        let (low, high) = self.range();
        let share = ((self.read.shown(db) - low) / (high - low)).clamp(0.0, 1.0);
        self.top + PLOT_HEIGHT * (1.0 - share)
    }
}

/// A figure as short as its digits allow.
fn short(value: f64) -> String {
    let digits = (1.0 - value.log10().floor()).clamp(0.0, 4.0) as usize;
    format!("{value:.digits$}")
}

fn hertz(hz: f64) -> String {
    match hz < 1000.0 {
        true => format!("{hz:.0} Hz"),
        false => format!("{:.1} kHz", hz / 1000.0),
    }
}

fn circle(svg: &mut Svg, (x, y): (f64, f64)) {
    let around = (0..=16).map(|n| {
        let (sin, cos) = (f64::from(n) * std::f64::consts::TAU / 16.0).sin_cos();
        (x + 4.0 * cos, y + 4.0 * sin)
    });
    svg.line(&around.collect::<Vec<_>>(), STROKES[0]);
}

fn cross(svg: &mut Svg, (x, y): (f64, f64)) {
    svg.line(&[(x - 4.0, y - 4.0), (x + 4.0, y + 4.0)], STROKES[0]);
    svg.line(&[(x - 4.0, y + 4.0), (x + 4.0, y - 4.0)], STROKES[0]);
}
