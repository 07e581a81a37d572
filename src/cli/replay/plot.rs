//! What was recorded as a drawing: for each axis its speed under the ceiling that bound it, and its place.

use crate::cli::svg::{Anchor, End, FAINT, MARK, Panel, STROKES, Scale, Stroke, Svg, legend};
use crate::cli::words;
use crate::journal::Head;
use crate::journal::read::Recorded;
use crate::journal::replay::Difference;
use stillhand_engine::output::{Ceiling, State};
use stillhand_engine::time::Time;
use stillhand_engine::units::Unit;

const WIDTH: f64 = 1120.0;
const LEFT: f64 = 76.0;
const FRAME_WIDTH: f64 = 1010.0;
const SPEED_HEIGHT: f64 = 170.0;
const PLACE_HEIGHT: f64 = 110.0;
/// A row of words under a panel.
const STRIP: f64 = 18.0;
/// From the top of one axis's drawing to that of the next.
const AXIS_HEIGHT: f64 = SPEED_HEIGHT + PLACE_HEIGHT + 160.0;
/// From the top of the sheet to the first axis's frame.
const ABOVE: f64 = 176.0;
/// Of a letter of the sheet's text, on the average.
const LETTER: f64 = 6.6;

/// How far beyond the ceilings the scale of speeds goes.
const ROOM: f64 = 1.04;

/// So many moments are drawn at most: more than the sheet has pixels across.
const MOMENTS: usize = 2_048;

/// The lowest and the highest of something in a moment.
#[derive(Clone, Copy, Debug)]
struct Range {
    low: f64,
    high: f64,
}

impl Range {
    const NONE: Range = Range {
        low: f64::INFINITY,
        high: f64::NEG_INFINITY,
    };

    fn add(&mut self, x: f64) {
        if x.is_finite() {
            (self.low, self.high) = (self.low.min(x), self.high.max(x));
        }
    }

    fn join(self, other: Range) -> Range {
        Range {
            low: self.low.min(other.low),
            high: self.high.max(other.high),
        }
    }

    fn points(self, x: f64) -> impl Iterator<Item = (f64, f64)> {
        let known = self.low <= self.high;
        let two = if self.low == self.high { 1 } else { 2 };
        let both = [(x, self.low), (x, self.high)];
        both.into_iter().take(if known { two } else { 0 })
    }
}

/// One axis in a moment.
#[derive(Clone, Copy, Debug)]
struct Seen {
    asked: Range,
    speed: Range,
    full: Range,
    position: Range,
    binding: Option<Ceiling>,
}

/// A moment: one tick or some that follow each other.
#[derive(Clone, Debug)]
struct Moment {
    /// Seconds from the beginning of the sheet.
    at: f64,
    state: Option<State>,
    axes: Vec<Seen>,
    /// Something is missing before it.
    breaks: bool,
}

/// A drawing in the making.
#[derive(Clone, Debug, Default)]
pub(super) struct Plot {
    /// Names and units of all axes.
    axes: Vec<(String, Unit)>,
    moments: Vec<Moment>,
    /// Ticks that make up a moment, and how many the last one has.
    ticks: usize,
    filled: usize,
    /// What to take off the time of a tick.
    origin: f64,
    last: f64,
    broken: bool,
    operator: String,
}

impl Plot {
    pub(super) fn breaks(&mut self) {
        self.broken = true;
    }

    pub(super) fn tick(&mut self, head: &Head, recorded: &Recorded) {
        if self.axes.is_empty() {
            self.axes = head.rigs.iter().flat_map(|r| r.axes.clone()).collect();
            self.operator = head.operator.clone();
            self.ticks = 1;
        }
        let time = recorded.tick.now.since(Time(0)).secs();
        let breaks = self.broken && !self.moments.is_empty();
        if self.broken || self.moments.is_empty() {
            // What is missing is shown by a mark, not by its length, which nobody knows.
            self.origin = time - self.last;
            self.broken = false;
        }
        self.last = time - self.origin;
        let moment = Moment {
            at: self.last,
            state: recorded.row.state(),
            axes: seen(head, recorded),
            breaks,
        };
        match self.moments.last_mut() {
            Some(last) if self.filled < self.ticks && !breaks => {
                *last = joined(last.clone(), moment);
                self.filled += 1;
            }
            _ => {
                self.moments.push(moment);
                self.filled = 1;
            }
        }
        if self.moments.len() > MOMENTS {
            self.halve();
        }
    }

    /// Two moments become one, but across nothing that is missing.
    fn halve(&mut self) {
        self.ticks *= 2;
        let mut halved: Vec<Moment> = Vec::with_capacity(MOMENTS);
        let mut open = false;
        for moment in self.moments.drain(..) {
            match halved.pop() {
                Some(last) if open && !moment.breaks => {
                    halved.push(joined(last, moment));
                    open = false;
                }
                last => {
                    halved.extend(last);
                    halved.push(moment);
                    open = true;
                }
            }
        }
        self.moments = halved;
        self.filled = self.ticks;
    }

    /// The file, with where the first difference was.
    pub(super) fn svg(&self, name: &str, difference: Option<&Difference>) -> String {
        let height = ABOVE + AXIS_HEIGHT * self.axes.len().max(1) as f64;
        let mut svg = Svg::new(WIDTH, height);
        let title = format!(
            "Journal {name}, {:.1} s, operator {}",
            self.last, self.operator
        );
        svg.title((LEFT, 26.0), &title);
        legend(&mut svg, (LEFT, 48.0), &entries());
        if let Some(difference) = difference {
            svg.text((LEFT, 120.0), Anchor::Start, &difference.to_string());
        }
        let time = Scale::roomy("time, s", 0.0, self.last.max(1e-3), 10.0);
        for (place, (axis, unit)) in self.axes.iter().enumerate() {
            let top = ABOVE + AXIS_HEIGHT * place as f64;
            self.axis(&mut svg, &time, top, place, (axis, *unit));
        }
        svg.finish(&title)
    }

    fn axis(&self, svg: &mut Svg, time: &Scale, top: f64, place: usize, about: (&str, Unit)) {
        let (name, unit) = (about.0, about.1.symbol());
        let mut most = Range {
            low: 0.0,
            high: 0.0,
        };
        let mut way = Range::NONE;
        for seen in self.moments.iter().filter_map(|m| m.axes.get(place)) {
            most = most.join(seen.speed).join(seen.asked);
            // A little room, so that the ceiling is not hidden by the frame.
            most.add(ROOM * seen.full.high);
            most.add(-ROOM * seen.full.high);
            way = way.join(seen.position);
        }
        let frame = |top: f64, height: f64, label: &str, y: Scale| {
            let mut x = time.clone();
            x.label = label.to_owned();
            Panel {
                left: LEFT,
                top,
                width: FRAME_WIDTH,
                height,
                x,
                y,
            }
        };
        let scale = Scale::new(format!("speed, {unit}/s"), most.low, most.high, 6.0);
        let panel = frame(top, SPEED_HEIGHT, "", scale);
        panel.frame(svg, &format!("{name}: speed, and what bound it"));
        let full = |m: &Moment, s: f64| self.of(m, place, |seen| scaled(seen.full, s));
        self.draw(svg, &panel, STROKES[2], |m| full(m, 1.0));
        self.draw(svg, &panel, STROKES[2], |m| full(m, -1.0));
        self.draw(svg, &panel, STROKES[1], |m| self.of(m, place, |s| s.asked));
        self.draw(svg, &panel, STROKES[0], |m| self.of(m, place, |s| s.speed));
        let below = top + SPEED_HEIGHT + 24.0;
        let binding = |m: &Moment| m.axes.get(place)?.binding.map(Ceiling::name);
        self.strip(svg, &panel, below, "ceiling", binding);
        self.strip(svg, &panel, below + STRIP, "state", |m| {
            m.state.map(words::state)
        });
        let (low, high) = match way.low <= way.high {
            true => (way.low, way.high),
            false => (0.0, 0.0),
        };
        let scale = Scale::new(format!("position, {unit}"), low, high, 4.0);
        let under = below + 2.0 * STRIP + 30.0;
        let panel = frame(under, PLACE_HEIGHT, "time, s", scale);
        panel.frame(svg, &format!("{name}: position"));
        self.draw(svg, &panel, STROKES[0], |m| {
            self.of(m, place, |s| s.position)
        });
    }

    fn of(&self, moment: &Moment, place: usize, pick: impl Fn(&Seen) -> Range) -> Range {
        moment.axes.get(place).map_or(Range::NONE, pick)
    }

    /// A line for each part without anything missing.
    fn draw(&self, svg: &mut Svg, panel: &Panel, stroke: Stroke, of: impl Fn(&Moment) -> Range) {
        let mut line: Vec<(f64, f64)> = Vec::new();
        for moment in &self.moments {
            if moment.breaks {
                panel.curve(svg, &line, stroke);
                line.clear();
                panel.mark(svg, moment.at, End::Upper, "missing");
            }
            line.extend(of(moment).points(moment.at));
        }
        panel.curve(svg, &line, stroke);
    }

    /// A row of words, each as long as it held.
    fn strip(
        &self,
        svg: &mut Svg,
        panel: &Panel,
        top: f64,
        title: &str,
        of: impl Fn(&Moment) -> Option<&'static str>,
    ) {
        svg.text((LEFT - 7.0, top + 13.0), Anchor::End, title);
        let across = |at: f64| panel.place((at, 0.0)).0;
        let mut parts: Vec<(f64, f64, Option<&str>)> = Vec::new();
        for moment in &self.moments {
            let (x, word) = (across(moment.at), of(moment));
            match parts.last_mut() {
                Some((_, end, last)) if *last == word => *end = x,
                _ => {
                    if let Some((_, end, _)) = parts.last_mut() {
                        *end = x;
                    }
                    parts.push((x, x, word));
                }
            }
        }
        for (begin, end, word) in parts {
            svg.line(&[(begin, top), (begin, top + STRIP)], FAINT);
            svg.line(&[(begin, top + STRIP), (end, top + STRIP)], FAINT);
            let word = word.unwrap_or("");
            if end - begin > LETTER * word.len() as f64 + 6.0 {
                svg.text((begin + 4.0, top + 13.0), Anchor::Start, word);
            }
        }
    }
}

fn entries() -> Vec<(Stroke, String)> {
    let named = |stroke, text: &str| (stroke, text.to_owned());
    vec![
        named(STROKES[0], "speed commanded; below it the position"),
        named(
            STROKES[1],
            "speed asked for: what the sticks demand of a full stick",
        ),
        named(
            STROKES[2],
            "speed of a full stick, both ways; the row under it names the ceiling that bound",
        ),
        named(MARK, "ticks are missing, or another run begins"),
    ]
}

fn scaled(range: Range, by: f64) -> Range {
    let (a, b) = (range.low * by, range.high * by);
    Range {
        low: a.min(b),
        high: a.max(b),
    }
}

fn seen(head: &Head, recorded: &Recorded) -> Vec<Seen> {
    let mut all = Vec::new();
    // Before the rig was met nobody knows where it is.
    let met = !matches!(recorded.row.state(), Some(State::NoLink(_)) | None);
    for (rig, names) in head.rigs.iter().enumerate() {
        for axis in 0..names.axes.len() {
            let mut seen = Seen {
                asked: Range::NONE,
                speed: Range::NONE,
                full: Range::NONE,
                position: Range::NONE,
                binding: None,
            };
            if let Some(row) = recorded.row.axis(rig, axis) {
                seen.asked.add(row.demand * row.full_stick);
                seen.speed.add(row.speed);
                seen.full.add(row.full_stick);
                if met {
                    seen.position.add(row.position);
                }
                seen.binding = row.binding;
            }
            all.push(seen);
        }
    }
    all
}

/// The later moment with all of the earlier one in it.
fn joined(before: Moment, after: Moment) -> Moment {
    let clips = |binding: Option<Ceiling>| matches!(binding, Some(Ceiling::Travel | Ceiling::Link));
    let pairs = before.axes.iter().zip(&after.axes);
    let axes = pairs.map(|(a, b)| Seen {
        asked: a.asked.join(b.asked),
        speed: a.speed.join(b.speed),
        full: a.full.join(b.full),
        position: a.position.join(b.position),
        // An end of the travel is not to go unseen because it bound for a moment only.
        binding: if clips(a.binding) {
            a.binding
        } else {
            b.binding
        },
    });
    Moment {
        at: after.at,
        state: after.state,
        axes: axes.collect(),
        breaks: before.breaks,
    }
}
