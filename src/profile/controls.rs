//! What drives an axis, scales the speed or enables: controls as files write them, each one used
//! once.

use super::buttons::{Bound, enable_clash};
use super::defaults::{FINE, SPEED_SHARE};
use super::field::{At, Field};
use super::near::{either, nearest};
use super::problem::{Log, Problem};
use super::quantity::Quantity;
use super::table::{Table, found, got, wrong_type};
use std::ops::Range;
use stillhand_engine::bindings::Press;
use stillhand_engine::input::{Button, Control};
use stillhand_engine::operator::{Enable, Fine, Source, SpeedTrigger};
use toml::de::DeValue;

pub(super) const SOURCES: &str =
    "lx, ly, rx or ry, or a trigger for each way as in { plus = \"rt\", minus = \"lt\" }";

pub(super) struct RawFine {
    pub(super) source: Field<Source>,
    pub(super) share: Field<Quantity>,
}

pub(super) struct RawSpeedTrigger {
    pub(super) control: Field<Control>,
    pub(super) let_go: Field<Quantity>,
    pub(super) pulled: Field<Quantity>,
}

/// `control`: a stick direction, or a trigger for each way.
pub(super) fn source(table: &mut Table, log: &mut Log) -> Field<Source> {
    let label = table.label("control");
    let Some(value) = table.any("control") else {
        return Field::Absent;
    };
    match value.get_ref() {
        DeValue::String(text) => stick(&label, text, value.span(), log),
        DeValue::Table(inner) => {
            let mut inner = Table::new(label, value.span(), inner);
            let source = pair(&mut inner, log);
            inner.end(log);
            match source {
                Some(source) => got(source, value.span()),
                None => Field::Bad,
            }
        }
        _ => {
            let wrong = wrong_type(&label, value, "a control in quotes", log);
            log.push(wrong.allowed(SOURCES).mend("write \"rx\""));
            Field::Bad
        }
    }
}

/// One trigger is a known word with a reason against it: it pushes its axis one way only, and could
/// never bring it back.
fn stick(label: &str, text: &str, span: Range<usize>, log: &mut Log) -> Field<Source> {
    let sticks = || {
        Control::ALL
            .into_iter()
            .filter(|c| c.other_direction().is_some())
    };
    let (what, mend) = match Control::from_name(text) {
        Some(control) if control.other_direction().is_some() => {
            return got(Source::Stick(control), span);
        }
        Some(_) => (
            "is a trigger, which pushes one way only",
            "give each way a trigger: { plus = \"rt\", minus = \"lt\" }".to_owned(),
        ),
        None => (
            "is a word we don't know",
            match nearest(text, sticks().map(Control::name)) {
                Some(near) => format!("did you mean \"{near}\"?"),
                None => "choose one of those".to_owned(),
            },
        ),
    };
    log.push(
        Problem::at(span, format!("{label} {what}"))
            .found(found(text))
            .allowed(SOURCES)
            .mend(mend),
    );
    Field::Bad
}

fn pair(table: &mut Table, log: &mut Log) -> Option<Source> {
    table.need("plus", TRIGGERS.to_owned(), "\"rt\"");
    table.need("minus", TRIGGERS.to_owned(), "\"lt\"");
    let (plus, minus) = (trigger("plus", table, log), trigger("minus", table, log));
    let (plus, minus) = (plus.got()?, minus.got()?);
    if plus.value == minus.value {
        let name = plus.value.name();
        log.push(
            Problem::at(minus.span.clone(), format!("\"{name}\" drives both ways"))
                .found("it for minus")
                .also(plus.span.clone(), "and for plus")
                .allowed("a trigger for each way")
                .mend("write { plus = \"rt\", minus = \"lt\" }"),
        );
        return None;
    }
    Some(Source::Pair {
        plus: plus.value,
        minus: minus.value,
    })
}

pub(super) const TRIGGERS: &str = "lt or rt";

fn trigger(key: &'static str, table: &mut Table, log: &mut Log) -> Field<Control> {
    let triggers = [Control::Lt, Control::Rt].map(|c| (c.name(), c));
    table.word(key, &triggers, log)
}

/// `fine`: a second control for the same axis.
pub(super) fn fine(table: &mut Table, log: &mut Log) -> Field<RawFine> {
    let example = "{ control = \"lx\", share = \"20 %\" }";
    let at = match table.table("fine", example, log) {
        Field::Absent => return Field::Absent,
        Field::Bad => return Field::Bad,
        Field::Got(at) => at,
    };
    let mut inner = at.value;
    inner.need("control", SOURCES.to_owned(), "\"lx\"");
    inner.need("share", FINE.text(None), "\"20 %\"");
    let raw = RawFine {
        source: source(&mut inner, log),
        share: inner.quantity("share", &FINE, None, log),
    };
    inner.end(log);
    got(raw, at.span)
}

impl RawFine {
    /// The fine control, if it is whole.
    pub(super) fn valid(&self) -> Option<Fine> {
        Some(Fine {
            source: self.source.value()?,
            share: self.share.got()?.value.number / 100.0,
        })
    }
}

/// `[speed_trigger]`: a trigger that scales every speed.
pub(super) fn speed_trigger(top: &mut Table, log: &mut Log) -> Field<RawSpeedTrigger> {
    let at = match top.table("speed_trigger", "a line [speed_trigger]", log) {
        Field::Absent => return Field::Absent,
        Field::Bad => return Field::Bad,
        Field::Got(at) => at,
    };
    let mut table = at.value;
    table.need("control", TRIGGERS.to_owned(), "\"lt\"");
    table.need("let_go", SPEED_SHARE.text(None), "\"100 %\"");
    table.need("pulled", SPEED_SHARE.text(None), "\"25 %\"");
    let raw = RawSpeedTrigger {
        control: trigger("control", &mut table, log),
        let_go: table.quantity("let_go", &SPEED_SHARE, None, log),
        pulled: table.quantity("pulled", &SPEED_SHARE, None, log),
    };
    table.end(log);
    got(raw, at.span)
}

impl RawSpeedTrigger {
    /// The trigger, if it is whole and does something.
    pub(super) fn valid(&self, log: &mut Log) -> Option<SpeedTrigger> {
        let (let_go, pulled) = (self.let_go.got()?, self.pulled.got()?);
        if let_go.value.number == pulled.value.number {
            log.push(
                Problem::at(
                    pulled.span.clone(),
                    "`pulled` and `let_go` of [speed_trigger] are equal",
                )
                .found(format!("\"{}\"", pulled.value.text()))
                .also(let_go.span.clone(), "the same")
                .allowed("two shares, or pulling it changes nothing")
                .mend("lower one of them, or take [speed_trigger] out"),
            );
            return None;
        }
        Some(SpeedTrigger {
            control: self.control.value()?,
            let_go: let_go.value.number / 100.0,
            pulled: pulled.value.number / 100.0,
        })
    }
}

/// `enable`: a button, or a trigger.
pub(super) fn enable(head: &mut Table, log: &mut Log) -> Field<Enable> {
    let words: Vec<(&str, Enable)> = [Control::Lt, Control::Rt]
        .map(|c| (c.name(), Enable::Trigger(c)))
        .into_iter()
        .chain(Button::ALL.map(|b| (b.name(), Enable::Button(b))))
        .collect();
    head.word("enable", &words, log)
}

/// The name of what enables.
pub fn enable_name(enable: Enable) -> &'static str {
    match enable {
        Enable::Button(button) => button.name(),
        Enable::Trigger(control) => control.name(),
    }
}

/// The controls of a source.
pub fn controls_of(source: Source) -> impl Iterator<Item = Control> {
    let (one, two) = match source {
        Source::Stick(control) => (control, None),
        Source::Pair { plus, minus } => (plus, Some(minus)),
    };
    std::iter::once(one).chain(two)
}

/// A source as screens write it: `rx`, `rt/lt`.
pub fn source_text(source: Source) -> String {
    let names: Vec<&str> = controls_of(source).map(Control::name).collect();
    names.join("/")
}

/// One use of a control.
pub(super) struct Use {
    pub(super) control: Control,
    pub(super) span: Range<usize>,
    /// `axis pan`, `the fine control of axis pan`, `[speed_trigger]`, `enable`.
    pub(super) what: String,
}

impl Use {
    /// Every control of a source.
    pub(super) fn all(source: &At<Source>, what: &str) -> Vec<Use> {
        let one = |control| Use {
            control,
            span: source.span.clone(),
            what: what.to_owned(),
        };
        controls_of(source.value).map(one).collect()
    }
}

/// Two things on one control would happen together whenever one of them is meant.
pub(super) fn each_once(uses: &[Use], log: &mut Log) {
    for (index, one) in uses.iter().enumerate() {
        let Some(other) = uses[..index].iter().find(|u| u.control == one.control) else {
            continue;
        };
        let (name, this, that) = (one.control.name(), &one.what, &other.what);
        log.push(
            Problem::at(one.span.clone(), format!("\"{name}\" does two things"))
                .found(format!("it for {this}"))
                .also(other.span.clone(), format!("and for {that}"))
                .allowed(format!(
                    "each of {} once in a profile",
                    either(Control::ALL.map(Control::name))
                ))
                .mend(format!("give {this} or {that} another control")),
        );
    }
}

/// A button that enables does nothing else.
pub(super) fn only_enables(enable: &Field<Enable>, bound: &[Bound], log: &mut Log) {
    let Some(at) = enable.got() else { return };
    let Enable::Button(button) = at.value else {
        return;
    };
    let touches = |press: Press| match press {
        Press::Tap(own) | Press::Held(own) => own == button,
        Press::With { with, button: own } => own == button || with == button,
    };
    for one in bound.iter().filter(|bound| touches(bound.binding.press)) {
        log.push(enable_clash(button.name(), at.span.clone(), one));
    }
}
