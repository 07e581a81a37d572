//! Quantities as files write them: a number and its unit in one text, `"12 deg/s"`.

use super::near::either;
use stillhand_engine::units::Unit;

/// What is measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dimension {
    /// A position or distance on an axis.
    Position,
    /// A speed of an axis.
    Speed,
    /// An acceleration of an axis.
    Accel,
    /// A jerk of an axis.
    Jerk,
    /// Counts of the rig for each unit of an axis.
    Scale,
    /// A length of time.
    Time,
    /// A share of something.
    Share,
    /// Turns of a motor for each turn of what it drives.
    Ratio,
    /// How often a second.
    Frequency,
    /// Full steps of a motor a second, whatever parts its driver makes of one.
    StepRate,
}

/// A unit a file may write.
#[derive(Debug, PartialEq)]
struct Symbol {
    text: &'static str,
    kind: Dimension,
    /// The unit of the axis it belongs to, if it belongs to one.
    axis: Option<Unit>,
}

const fn symbol(text: &'static str, kind: Dimension, axis: Option<Unit>) -> Symbol {
    Symbol { text, kind, axis }
}

const SYMBOLS: [Symbol; 16] = [
    symbol("deg", Dimension::Position, Some(Unit::Deg)),
    symbol("mm", Dimension::Position, Some(Unit::Mm)),
    symbol("deg/s", Dimension::Speed, Some(Unit::Deg)),
    symbol("mm/s", Dimension::Speed, Some(Unit::Mm)),
    symbol("deg/s^2", Dimension::Accel, Some(Unit::Deg)),
    symbol("mm/s^2", Dimension::Accel, Some(Unit::Mm)),
    symbol("deg/s^3", Dimension::Jerk, Some(Unit::Deg)),
    symbol("mm/s^3", Dimension::Jerk, Some(Unit::Mm)),
    symbol("counts/deg", Dimension::Scale, Some(Unit::Deg)),
    symbol("counts/mm", Dimension::Scale, Some(Unit::Mm)),
    symbol("ms", Dimension::Time, None),
    symbol("s", Dimension::Time, None),
    symbol("%", Dimension::Share, None),
    symbol(":1", Dimension::Ratio, None),
    symbol("Hz", Dimension::Frequency, None),
    symbol("full steps/s", Dimension::StepRate, None),
];

impl Dimension {
    /// The units it may be written in on an axis in `axis`, or on any: `deg/s or mm/s`.
    pub(super) fn units(self, axis: Option<Unit>) -> String {
        either(self.symbols(axis))
    }

    /// The same, one by one.
    pub(super) fn symbols(self, axis: Option<Unit>) -> impl Iterator<Item = &'static str> {
        let fits = move |s: &&Symbol| s.kind == self && (axis.is_none() || s.axis == axis);
        SYMBOLS.iter().filter(fits).map(|s| s.text)
    }
}

/// A number with its unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Quantity {
    /// The number as written; finite.
    pub number: f64,
    symbol: &'static Symbol,
}

/// Why a text is no quantity.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Fault {
    /// It does not begin with a number.
    NoNumber,
    /// `inf`, `nan`, or more than a 64-bit float can hold.
    NotFinite,
    /// A comma or underscore inside the number.
    Separator(char),
    /// A number and nothing else; the number is kept for the advice.
    NoUnit(String),
    /// Not a unit; with the quantity that was probably meant.
    UnknownUnit { unit: String, meant: Option<String> },
}

impl Quantity {
    /// Reads `"12 deg/s"`; the blank may be left out.
    pub(super) fn parse(text: &str) -> Result<Quantity, Fault> {
        let text = text.trim();
        let (number_text, rest) = text.split_at(number_length(text));
        let Ok(number) = number_text.parse::<f64>() else {
            let word = text.trim_start_matches(['+', '-']).to_lowercase();
            let infinite = word.starts_with("inf") || word.starts_with("nan");
            return Err(if infinite {
                Fault::NotFinite
            } else {
                Fault::NoNumber
            });
        };
        if !number.is_finite() {
            return Err(Fault::NotFinite);
        }
        if let Some(separator @ (',' | '_' | '\'')) = rest.chars().next() {
            return Err(Fault::Separator(separator));
        }
        let unit = rest.trim();
        if unit.is_empty() {
            return Err(Fault::NoUnit(number_text.to_owned()));
        }
        match SYMBOLS.iter().find(|s| s.text == unit) {
            Some(symbol) => Ok(Quantity { number, symbol }),
            None => Err(Fault::UnknownUnit {
                unit: unit.to_owned(),
                meant: usual(unit).map(|unit| format!("{number_text} {unit}")),
            }),
        }
    }

    /// The same for whoever words its own problems.
    pub fn read(text: &str) -> Option<Quantity> {
        Quantity::parse(text).ok()
    }

    /// What is measured.
    pub fn kind(&self) -> Dimension {
        self.symbol.kind
    }

    /// The unit of the axis it belongs to, if it belongs to one.
    pub fn axis_unit(&self) -> Option<Unit> {
        self.symbol.axis
    }

    /// The number, if it is a position on an axis in `unit`.
    pub fn position_in(&self, unit: Unit) -> Option<f64> {
        (self.symbol.kind == Dimension::Position && self.symbol.axis == Some(unit))
            .then_some(self.number)
    }

    /// The number in ms for a time, as written for everything else.
    pub fn plain(&self) -> f64 {
        if self.symbol.text == "s" {
            self.number * 1e3
        } else {
            self.number
        }
    }

    /// As files write it.
    pub(super) fn text(&self) -> String {
        with_unit(self.number, self.symbol.text)
    }
}

/// A number and its unit as files write them: `12 deg/s`, but `40:1`.
pub(super) fn with_unit(number: impl std::fmt::Display, unit: &str) -> String {
    match unit.starts_with(':') {
        true => format!("{number}{unit}"),
        false => format!("{number} {unit}"),
    }
}

/// How many bytes at the start of `text` are a decimal number.
fn number_length(text: &str) -> usize {
    let bytes = text.as_bytes();
    let digits = |from: usize| {
        let tail = bytes.get(from..).unwrap_or_default();
        from + tail.iter().take_while(|b| b.is_ascii_digit()).count()
    };
    let mut end = digits(usize::from(matches!(bytes.first(), Some(b'+' | b'-'))));
    if bytes.get(end) == Some(&b'.') {
        end = digits(end + 1);
    }
    if matches!(bytes.get(end), Some(b'e' | b'E')) {
        let sign = usize::from(matches!(bytes.get(end + 1), Some(b'+' | b'-')));
        let from = end + 1 + sign;
        // Without a digit the e belongs to whatever follows.
        if digits(from) > from {
            end = digits(from);
        }
    }
    end
}

/// Our way of writing a unit that people write in other ways.
///
/// Only other spellings of the same unit: a slip of the hand can't be told from another unit
/// (`m/s` is one letter away from `mm/s`).
fn usual(unit: &str) -> Option<&'static str> {
    const SPELLINGS: [(&str, &str); 22] = [
        ("degrees", "deg"),
        ("degree", "deg"),
        ("degs", "deg"),
        ("°", "deg"),
        ("millimetres", "mm"),
        ("millimeters", "mm"),
        ("millimetre", "mm"),
        ("millimeter", "mm"),
        ("milliseconds", "ms"),
        ("millisecond", "ms"),
        ("msec", "ms"),
        ("seconds", "s"),
        ("second", "s"),
        ("secs", "s"),
        ("sec", "s"),
        ("percent", "%"),
        ("²", "^2"),
        ("³", "^3"),
        ("**", "^"),
        ("/s/s/s", "/s^3"),
        ("/s/s", "/s^2"),
        ("per", "/"),
    ];
    // Longer than any spelling of any unit: not worth rewriting.
    if unit.len() > 64 {
        return None;
    }
    let mut text: String = unit.to_lowercase().split_whitespace().collect();
    for (other, ours) in SPELLINGS {
        text = text.replace(other, ours);
    }
    for power in ["2", "3"] {
        text = text.replace(&format!("/s{power}"), &format!("/s^{power}"));
    }
    if let Some(rest) = text.strip_prefix("count/") {
        text = format!("counts/{rest}");
    }
    let same = |s: &&str| s.replace(' ', "").eq_ignore_ascii_case(&text);
    SYMBOLS.iter().map(|s| s.text).find(same)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn number(text: &str) -> f64 {
        Quantity::parse(text).unwrap().number
    }

    #[test]
    fn numbers_are_read_as_people_write_them() {
        assert_eq!(number("12 deg/s"), 12.0);
        assert_eq!(number("  -170deg "), -170.0);
        assert_eq!(number("+.5 s"), 0.5);
        assert_eq!(number("5. s"), 5.0);
        assert_eq!(number("1e3 counts/mm"), 1000.0);
        assert_eq!(number("2.5E-1 %"), 0.25);
        assert_eq!(number("40:1"), 40.0);
        assert_eq!(number("400 full steps/s"), 400.0);
    }

    #[test]
    fn a_time_is_the_same_in_either_unit() {
        let plain = |text| Quantity::parse(text).unwrap().plain();
        assert_eq!(plain("0.7 s"), plain("700 ms"));
    }

    #[test]
    fn each_fault_is_named() {
        let fault = |text| Quantity::parse(text).unwrap_err();
        let unknown = |unit: &str, meant: Option<&str>| Fault::UnknownUnit {
            unit: unit.into(),
            meant: meant.map(Into::into),
        };
        assert_eq!(fault(""), Fault::NoNumber);
        assert_eq!(fault("fast"), Fault::NoNumber);
        assert_eq!(fault("-"), Fault::NoNumber);
        assert_eq!(fault("."), Fault::NoNumber);
        assert_eq!(fault("e5 deg"), Fault::NoNumber);
        assert_eq!(fault("-inf deg"), Fault::NotFinite);
        assert_eq!(fault("NaN deg/s"), Fault::NotFinite);
        assert_eq!(fault("1e999 deg"), Fault::NotFinite);
        assert_eq!(fault("0,5 s"), Fault::Separator(','));
        assert_eq!(fault("1_000 mm"), Fault::Separator('_'));
        assert_eq!(fault("60"), Fault::NoUnit("60".into()));
        assert_eq!(fault("60e deg"), unknown("e deg", None));
        assert_eq!(
            fault("60 Degrees per second"),
            unknown("Degrees per second", Some("60 deg/s"))
        );
        assert_eq!(fault("60 deg/s²"), unknown("deg/s²", Some("60 deg/s^2")));
        assert_eq!(fault("60 mm/sec2"), unknown("mm/sec2", Some("60 mm/s^2")));
        assert_eq!(fault("1 m/s"), unknown("m/s", None));
        assert_eq!(
            fault("400 Full steps per second"),
            unknown("Full steps per second", Some("400 full steps/s"))
        );
        // To many makers a step is what the driver is pulsed for, a microstep.
        assert_eq!(fault("400 steps/s"), unknown("steps/s", None));
    }
}
