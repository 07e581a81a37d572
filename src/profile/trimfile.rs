//! A trim file: what was measured of one pad.

use super::Source;
use super::defaults::{CENTRE, END, REST};
use super::document::{self, Kind};
use super::field::Field;
use super::problem::{Log, Problem, Problems};
use super::quantity::Quantity;
use super::table::Table;
use super::trim::{StickTrim, TriggerTrim, Trim};
use std::fmt::Write as _;
use stillhand_engine::input::Control;
use toml::de::DeTable;

/// Longest ID and name of a pad. The kernel's own are shorter (`phys`, `name`: some tens of bytes).
const MOST_NAME: usize = 256;

/// The trim of one pad, and whose it is.
#[derive(Clone, Debug, PartialEq)]
pub struct TrimFile {
    /// The unit, as `pads` prints it.
    pub pad: String,
    /// What its driver calls it.
    pub model: String,
    /// What was measured.
    pub trim: Trim,
}

impl TrimFile {
    /// What the file is, in one line: `trim of pad usb-1-2 (Hall Pad): lx ly lt`.
    pub fn summary(&self) -> String {
        let trim = &self.trim;
        let measured = |c: &Control| trim.stick(*c).is_some() || trim.trigger(*c).is_some();
        let names: Vec<&str> = Control::ALL
            .into_iter()
            .filter(measured)
            .map(Control::name)
            .collect();
        // A pad may call itself anything; it must not steer the terminal.
        let plain = |text: &str| text.replace(char::is_control, "?");
        let (pad, model) = (plain(&self.pad), plain(&self.model));
        format!("trim of pad {pad} ({model}): {}", names.join(" "))
    }

    /// The text of the file. `remark` stands above all of it, `remark_of` above each control.
    pub fn text(&self, remark: &str, remark_of: impl Fn(Control) -> String) -> String {
        let mut text = remarks(remark);
        // Writing to a text can't fail.
        let _ = writeln!(text, "[trim]");
        let _ = writeln!(text, "pad = {}", quoted(&self.pad));
        let _ = writeln!(text, "model = {}", quoted(&self.model));
        for control in Trim::STICKS {
            if let Some(stick) = self.trim.stick(control) {
                let _ = write!(text, "\n{}", remarks(&remark_of(control)));
                let _ = writeln!(text, "[stick.{}]", control.name());
                let _ = writeln!(text, "centre = \"{}\"", share(stick.centre()));
                let _ = writeln!(text, "rest = \"{}\"", share(stick.rest()));
                let _ = writeln!(text, "minus = \"{}\"", share(stick.minus()));
                let _ = writeln!(text, "plus = \"{}\"", share(stick.plus()));
            }
        }
        for control in Trim::TRIGGERS {
            if let Some(trigger) = self.trim.trigger(control) {
                let _ = write!(text, "\n{}", remarks(&remark_of(control)));
                let _ = writeln!(text, "[trigger.{}]", control.name());
                let _ = writeln!(text, "rest = \"{}\"", share(trigger.rest()));
                let _ = writeln!(text, "full = \"{}\"", share(trigger.full()));
            }
        }
        text
    }
}

/// A share as files write it, to a hundredth of a per cent: finer than any pad reports.
fn share(x: f64) -> String {
    format!("{:.2} %", 100.0 * x + 0.0)
}

fn remarks(text: &str) -> String {
    text.lines().map(|line| format!("# {line}\n")).collect()
}

/// A basic string of TOML 1.0: what it forbids in one is written as an escape.
fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' | '\\' => out.extend(['\\', c]),
            c if c.is_control() => {
                let _ = write!(out, "\\u{:04X}", u32::from(c));
            }
            c => out.push(c),
        }
    }
    out + "\""
}

/// Reads a trim file.
///
/// # Errors
///
/// Every problem of the file, in its order.
pub fn load_trim(source: &Source) -> Result<TrimFile, Problems> {
    let mut log = Log::new(source);
    let file = document::parse(source, &mut log).and_then(|root| read(root.get_ref(), &mut log));
    log.end(file)
}

pub(super) fn read(root: &DeTable, log: &mut Log) -> Option<TrimFile> {
    let (mut top, mut head) = document::open(root, Kind::Trim, log)?;
    let id = "the ID of the pad, as `stillhand pads` prints it";
    let model = "the name of the pad, as `stillhand pads` prints it";
    let fits = |text: &str| text.len() <= MOST_NAME;
    head.need("pad", id.to_owned(), "\"usb-0000:00:14.0-1\"");
    head.need("model", model.to_owned(), "\"Hall Pad\"");
    let pad = head.text("pad", id, |text| !text.is_empty() && fits(text), log);
    // A driver may leave its pad without a name.
    let model = head.text("model", model, fits, log);
    let (mut trim, mut whole) = (None, true);
    let mut parts = |key, example, names: &[Control], read: ReadPart, log: &mut Log| {
        let Field::Got(at) = top.table(key, example, log) else {
            return;
        };
        let mut part = at.value;
        for control in names {
            if let Field::Got(table) = part.table(control.name(), "a table of its own", log) {
                // What is wrong with one keeps none of the others from being read.
                let with = read(trim.unwrap_or_default(), *control, table.value, log);
                whole &= with.is_some();
                trim = with.or(trim);
            }
        }
        part.end(log);
    };
    parts("stick", "[stick.lx]", &Trim::STICKS, stick, log);
    parts("trigger", "[trigger.lt]", &Trim::TRIGGERS, trigger, log);
    head.end(log);
    top.end(log);
    Some(TrimFile {
        pad: pad.value()?,
        model: model.value()?,
        trim: whole.then(|| trim.unwrap_or_default())?,
    })
}

/// Reads the table of one control and adds it.
type ReadPart = fn(Trim, Control, Table, &mut Log) -> Option<Trim>;

fn stick(mut trim: Trim, control: Control, mut table: Table, log: &mut Log) -> Option<Trim> {
    let minus = super::defaults::Bound {
        low: -END.high,
        high: -END.low,
        example: ["-95 %", "-95 %"],
        ..END
    };
    for (key, bound) in [
        ("centre", &CENTRE),
        ("rest", &REST),
        ("minus", &minus),
        ("plus", &END),
    ] {
        table.need(
            key,
            bound.text(None),
            &format!("\"{}\"", bound.example(None)),
        );
    }
    let centre = table.quantity("centre", &CENTRE, None, log);
    let rest = table.quantity("rest", &REST, None, log);
    let low = table.quantity("minus", &minus, None, log);
    let high = table.quantity("plus", &END, None, log);
    table.end(log);
    let figures = (of(&centre)?, of(&rest)?, of(&low)?, of(&high)?);
    let made = StickTrim::new(figures.0, figures.1, figures.2, figures.3);
    if made.is_none() {
        let found = "too little between the rest zone and an end";
        log.push(no_way(&rest, control, found));
    }
    trim.set_stick(control, made?);
    Some(trim)
}

fn trigger(mut trim: Trim, control: Control, mut table: Table, log: &mut Log) -> Option<Trim> {
    for (key, bound) in [("rest", &REST), ("full", &END)] {
        table.need(
            key,
            bound.text(None),
            &format!("\"{}\"", bound.example(None)),
        );
    }
    let rest = table.quantity("rest", &REST, None, log);
    let full = table.quantity("full", &END, None, log);
    table.end(log);
    let made = TriggerTrim::new(of(&rest)?, of(&full)?);
    if made.is_none() {
        log.push(no_way(&rest, control, "too little between rest and full"));
    }
    trim.set_trigger(control, made?);
    Some(trim)
}

fn of(field: &Field<Quantity>) -> Option<f64> {
    Some(field.got()?.value.number / 100.0)
}

fn no_way(rest: &Field<Quantity>, control: Control, found: &str) -> Problem {
    let least = 100.0 * StickTrim::LEAST_WAY;
    let message = format!("{} has no way left to steer in", control.name());
    Problem::at(rest.span().unwrap_or(0..0), message)
        .found(found)
        .allowed(format!("at least {least:.0} points of the reading"))
        .mend("measure the pad again: `stillhand trim`")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file() -> TrimFile {
        let mut trim = Trim::default();
        trim.set_stick(
            Control::Lx,
            StickTrim::new(-0.0312, 0.0145, -0.8, 0.95).unwrap(),
        );
        trim.set_trigger(Control::Rt, TriggerTrim::new(0.01, 0.9).unwrap());
        TrimFile {
            pad: "usb-1-2/input3".into(),
            model: "a \"pad\"\u{1} \\".into(),
            trim,
        }
    }

    #[test]
    fn what_is_written_is_read_back() {
        let text = file().text("two\nlines", |c| format!("of {}", c.name()));
        assert!(text.starts_with("# two\n# lines\n[trim]\n"), "{text}");
        assert!(text.contains("\n# of lx\n[stick.lx]\ncentre = \"-3.12 %\"\n"));
        let read = load_trim(&Source::new("t", text.clone())).unwrap();
        assert_eq!((&read.pad, &read.model), (&file().pad, &file().model));
        assert_eq!(
            read.text("two\nlines", |c| format!("of {}", c.name())),
            text
        );
        assert!(!read.summary().contains(char::is_control));
    }

    #[test]
    fn slips_are_shown_and_nothing_is_taken() {
        let good = file().text("", |_| String::new());
        let bad = |from: &str, to: &str| {
            let source = Source::new("t", good.replacen(from, to, 1));
            load_trim(&source).unwrap_err().render(false)
        };
        assert!(bad("rest =", "rset =").contains("did you mean `rest`?"));
        assert!(bad("\"95.00 %\"", "95").contains("a number with its unit"));
        assert!(bad("-80.00 %", "-31.00 %").contains("no way left to steer in"));
        assert!(bad("lx", "lz").contains("no such key"));
        assert!(bad("[trim]", "[quiet]").contains("this is a quiet file"));
        assert!(bad("90.00 %", "190 %").contains("out of bounds"));
    }
}
