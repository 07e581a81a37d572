//! Plots as SVG: thin lines on white, labelled axes, and dashes so that a copy in black and white
//! still tells one line from another.
//!
//! An [`Svg`] is the sheet; a [`Panel`] is one plot on it, which turns values into places.

use std::fmt::Write;

/// Of all text, in pixels at the size the sheet is drawn.
const TEXT: f64 = 12.0;
/// Of everything that is not a line of data.
const INK: &str = "#222222";
const GRID: &str = "#d8d8d8";

/// How far a roomy scale goes beyond its data.
const ROOM: f64 = 1.06;

/// How one line of data is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stroke {
    /// Any SVG colour.
    pub colour: &'static str,
    /// Lengths of dashes and gaps in pixels; empty for a whole line.
    pub dash: &'static str,
    /// In pixels.
    pub width: f64,
}

/// One stroke for each line of data, the first for the one that matters. All of them are dark, and
/// no two have the same dashes.
pub const STROKES: [Stroke; 4] = [
    stroke("#111111", "", 1.8),
    stroke("#a03020", "8 4", 1.8),
    stroke("#204a87", "2 3", 1.8),
    stroke("#3a6b35", "10 3 2 3", 1.8),
];

/// For what is only there to compare with.
pub const FAINT: Stroke = stroke("#777777", "", 0.8);
/// For limits and marks.
pub const MARK: Stroke = stroke("#555555", "1.5 3", 1.0);

const fn stroke(colour: &'static str, dash: &'static str, width: f64) -> Stroke {
    Stroke {
        colour,
        dash,
        width,
    }
}

/// Which point of a text its place is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// Its left end.
    Start,
    /// Its middle.
    Middle,
    /// Its right end.
    End,
}

/// Which end of a mark has its words.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// Near the top of the panel.
    Upper,
    /// Near its bottom.
    Lower,
}

/// A sheet that is drawn on.
#[derive(Clone, Debug)]
pub struct Svg {
    width: f64,
    height: f64,
    body: String,
}

impl Svg {
    /// An empty white sheet, in pixels.
    pub fn new(width: f64, height: f64) -> Svg {
        Svg {
            width,
            height,
            body: String::new(),
        }
    }

    /// A text at a place.
    pub fn text(&mut self, (x, y): (f64, f64), anchor: Anchor, text: &str) {
        self.put_text((x, y), anchor, "", text);
    }

    /// A text in bold.
    pub fn title(&mut self, at: (f64, f64), text: &str) {
        self.put_text(at, Anchor::Start, " font-weight=\"bold\"", text);
    }

    /// A text that reads upwards.
    pub fn upward(&mut self, (x, y): (f64, f64), text: &str) {
        let turn = format!(" transform=\"rotate(-90 {} {})\"", px(x), px(y));
        self.put_text((x, y), Anchor::Middle, &turn, text);
    }

    fn put_text(&mut self, (x, y): (f64, f64), anchor: Anchor, more: &str, text: &str) {
        let anchor = match anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let (x, y, text) = (px(x), px(y), escape(text));
        self.put(format_args!(
            "<text x=\"{x}\" y=\"{y}\" text-anchor=\"{anchor}\"{more}>{text}</text>"
        ));
    }

    /// A line through points of the sheet.
    pub fn line(&mut self, points: &[(f64, f64)], stroke: Stroke) {
        let mut list = String::new();
        for (x, y) in points {
            let blank = if list.is_empty() { "" } else { " " };
            // Writing to a text can't fail.
            let _ = write!(list, "{blank}{},{}", px(*x), px(*y));
        }
        let dash = match stroke.dash {
            "" => String::new(),
            dash => format!(" stroke-dasharray=\"{dash}\""),
        };
        let (colour, width) = (stroke.colour, stroke.width);
        self.put(format_args!(
            "<polyline points=\"{list}\" fill=\"none\" stroke=\"{colour}\" \
             stroke-width=\"{width}\"{dash}/>"
        ));
    }

    /// The whole file. `title` is what a screen reader reads out.
    pub fn finish(self, title: &str) -> String {
        let (w, h, title) = (px(self.width), px(self.height), escape(title));
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}\" height=\"{h}\" \
             viewBox=\"0 0 {w} {h}\" font-family=\"sans-serif\" font-size=\"{TEXT}\" \
             fill=\"{INK}\" stroke-linejoin=\"round\">\n<title>{title}</title>\n\
             <rect width=\"{w}\" height=\"{h}\" fill=\"white\"/>\n{}</svg>\n",
            self.body
        )
    }

    fn put(&mut self, what: std::fmt::Arguments) {
        let _ = writeln!(self.body, "{what}");
    }
}

/// One axis of a plot.
#[derive(Clone, Debug, PartialEq)]
pub struct Scale {
    /// What it is, with its unit: `speed, deg/s`.
    pub label: String,
    low: f64,
    high: f64,
    step: f64,
}

impl Scale {
    /// An axis with `low` and `high` on it, both finite, that begins and ends at a tick; about
    /// `ticks` of them, in steps of 1, 2 or 5.
    pub fn new(label: impl Into<String>, low: f64, high: f64, ticks: f64) -> Scale {
        let width = match high - low {
            width if width > 0.0 => width,
            _ => 1.0,
        };
        let raw = width / ticks;
        let power = 10f64.powf(raw.log10().floor());
        let step = [1.0, 2.0, 5.0, 10.0]
            .map(|n| n * power)
            .into_iter()
            .find(|step| *step >= raw * (1.0 - 1e-9))
            .unwrap_or(10.0 * power);
        // A hair over a tick is that tick.
        let low_tick = (low / step + 1e-9).floor() * step;
        let high_tick = ((low + width) / step - 1e-9).ceil() * step;
        Scale {
            label: label.into(),
            low: low_tick,
            high: high_tick,
            step,
        }
    }

    /// The same, but it ends a little above `high` instead of at a tick, so that data that stays at
    /// `high` does not hide the frame.
    pub fn roomy(label: impl Into<String>, low: f64, high: f64, ticks: f64) -> Scale {
        let full = Scale::new(label, low, high, ticks);
        let room = full.low + (high - full.low) * ROOM;
        Scale {
            high: if high > full.low { room } else { full.high },
            ..full
        }
    }

    /// The ticks and what to write at them.
    pub fn ticks(&self) -> Vec<(f64, String)> {
        let digits = (-self.step.log10().floor()).max(0.0) as usize;
        let count = ((self.high - self.low) / self.step + 1e-9).floor() as i32;
        (0..=count)
            .map(|n| self.low + f64::from(n) * self.step)
            // The smallest sum of rounding must not be written as -0.
            .map(|x| if x.abs() < self.step / 2.0 { 0.0 } else { x })
            .map(|x| (x, format!("{x:.digits$}")))
            .collect()
    }

    fn share(&self, x: f64) -> f64 {
        ((x - self.low) / (self.high - self.low)).clamp(0.0, 1.0)
    }

    /// Its highest value.
    pub fn high(&self) -> f64 {
        self.high
    }
}

/// A plot on a sheet; its place is that of the frame, labels lie outside of it.
#[derive(Clone, Debug)]
pub struct Panel {
    /// Left edge of the frame.
    pub left: f64,
    /// Top edge of the frame.
    pub top: f64,
    /// Of the frame.
    pub width: f64,
    /// Of the frame.
    pub height: f64,
    /// From left to right.
    pub x: Scale,
    /// From below to above.
    pub y: Scale,
}

impl Panel {
    /// Where a value is on the sheet; what lies outside of the scales is put on the edge.
    pub fn place(&self, (x, y): (f64, f64)) -> (f64, f64) {
        let up = self.y.share(y) * self.height;
        let across = self.x.share(x) * self.width;
        (self.left + across, self.top + self.height - up)
    }

    /// Frame, grid, ticks, labels and a title above.
    pub fn frame(&self, svg: &mut Svg, title: &str) {
        let (right, bottom) = (self.left + self.width, self.top + self.height);
        let grid = Stroke {
            colour: GRID,
            ..FAINT
        };
        for (value, text) in self.x.ticks() {
            let (x, _) = self.place((value, 0.0));
            svg.line(&[(x, self.top), (x, bottom)], grid);
            svg.text((x, bottom + 17.0), Anchor::Middle, &text);
        }
        for (value, text) in self.y.ticks() {
            let (_, y) = self.place((0.0, value));
            svg.line(&[(self.left, y), (right, y)], grid);
            svg.text((self.left - 7.0, y + 4.0), Anchor::End, &text);
        }
        let frame = Stroke {
            colour: INK,
            ..FAINT
        };
        let (tl, tr) = ((self.left, self.top), (right, self.top));
        svg.line(&[tl, tr, (right, bottom), (self.left, bottom), tl], frame);
        let middle = self.left + self.width / 2.0;
        svg.text((middle, bottom + 37.0), Anchor::Middle, &self.x.label);
        let middle = self.top + self.height / 2.0;
        svg.upward((self.left - 46.0, middle), &self.y.label);
        svg.title((self.left, self.top - 10.0), title);
    }

    /// A line of data.
    pub fn curve(&self, svg: &mut Svg, values: &[(f64, f64)], stroke: Stroke) {
        let points: Vec<(f64, f64)> = values.iter().map(|value| self.place(*value)).collect();
        svg.line(&points, stroke);
    }

    /// A line from top to bottom at `x`, with what it marks beside its upper or lower end.
    pub fn mark(&self, svg: &mut Svg, x: f64, end: End, text: &str) {
        let (x, _) = self.place((x, 0.0));
        svg.line(&[(x, self.top), (x, self.top + self.height)], MARK);
        if text.is_empty() {
            return;
        }
        // Beside the line, on the side with more room.
        let (x, anchor) = match x < self.left + self.width / 2.0 {
            true => (x + 4.0, Anchor::Start),
            false => (x - 4.0, Anchor::End),
        };
        let y = match end {
            End::Upper => self.top + 15.0,
            End::Lower => self.top + self.height - 8.0,
        };
        svg.text((x, y), anchor, text);
    }
}

/// A row of samples of strokes, each with what it stands for, from `at` on.
pub fn legend(svg: &mut Svg, (x, y): (f64, f64), entries: &[(Stroke, String)]) {
    for (index, (stroke, text)) in entries.iter().enumerate() {
        let y = y + 18.0 * index as f64;
        svg.line(&[(x, y - 4.0), (x + 40.0, y - 4.0)], *stroke);
        svg.text((x + 48.0, y), Anchor::Start, text);
    }
}

/// A place to a hundredth of a pixel.
fn px(x: f64) -> String {
    let rounded = (x * 100.0).round() / 100.0;
    format!("{rounded}")
}

/// Text as XML takes it; what XML 1.0 forbids (2.2, Char) becomes a blank.
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\u{fffe}' | '\u{ffff}' => out.push(' '),
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ticks(low: f64, high: f64) -> Vec<String> {
        let scale = Scale::new("x", low, high, 5.0);
        scale.ticks().into_iter().map(|(_, text)| text).collect()
    }

    #[test]
    fn ticks_are_round_and_hold_all_of_the_data() {
        assert_eq!(ticks(0.0, 8.0), ["0", "2", "4", "6", "8"]);
        assert_eq!(ticks(0.0, 0.95), ["0.0", "0.2", "0.4", "0.6", "0.8", "1.0"]);
        assert_eq!(ticks(-12.0, 30.0), ["-20", "-10", "0", "10", "20", "30"]);
        assert_eq!(ticks(0.0, 0.0).len(), 6, "nothing to show is still an axis");
        let roomy = Scale::roomy("x", 0.0, 8.0, 5.0);
        assert!(roomy.high() > 8.0 && roomy.ticks().len() == 5);
        assert_eq!(Scale::roomy("x", 0.0, 0.0, 5.0).ticks().len(), 6);
        for high in [0.003, 0.7, 5.0, 61.0, 1999.0] {
            let scale = Scale::new("x", 0.0, high, 5.0);
            assert!(scale.high() >= high && scale.high() < 1.6 * high, "{high}");
            assert!((4..=11).contains(&scale.ticks().len()), "{high}");
        }
    }

    #[test]
    fn a_value_is_put_where_its_tick_is_and_never_outside() {
        let panel = Panel {
            left: 50.0,
            top: 20.0,
            width: 100.0,
            height: 200.0,
            x: Scale::new("x", 0.0, 10.0, 5.0),
            y: Scale::new("y", 0.0, 1.0, 5.0),
        };
        assert_eq!(panel.place((0.0, 0.0)), (50.0, 220.0));
        assert_eq!(panel.place((5.0, 1.0)), (100.0, 20.0));
        assert_eq!(panel.place((99.0, -3.0)), (150.0, 220.0));
    }

    #[test]
    fn text_can_break_nothing() {
        assert_eq!(
            escape("a<b & \"c\">\u{0}"),
            "a&lt;b &amp; &quot;c&quot;&gt; "
        );
        let mut svg = Svg::new(10.0, 10.0);
        svg.text((1.0, 1.0), Anchor::Start, "</svg>");
        let text = svg.finish("<");
        assert_eq!(text.matches("</svg>").count(), 1, "{text}");
    }
}
