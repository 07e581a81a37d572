//! One table of a file, read key by key, with every problem on the way.

use super::defaults::Bound;
use super::field::{At, Field};
use super::near::{either, nearest};
use super::problem::{Log, Problem, short};
use super::quantity::{Fault, Quantity, with_unit};
use super::schema::{Ask, Wanted};
use std::ops::Range;
use stillhand_engine::units::Unit;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// The place of the top of a file.
pub(super) const FILE: &str = "the file";

pub(super) type Value<'a> = Spanned<DeValue<'a>>;

/// A table and which of its keys were asked for. The keys nobody asked for are the unknown ones,
/// so that no second list of keys has to be kept in step.
pub(super) struct Table<'a> {
    /// What to call it in messages: `[rig]`, `axis pan`.
    place: String,
    span: Range<usize>,
    table: &'a DeTable<'a>,
    asked: Vec<&'static str>,
    missing: Vec<(&'static str, String, String)>,
}

impl<'a> Table<'a> {
    pub(super) fn new(place: String, span: Range<usize>, table: &'a DeTable<'a>) -> Table<'a> {
        Table {
            place,
            span,
            table,
            asked: Vec::new(),
            missing: Vec::new(),
        }
    }

    /// `` `speed` of axis pan ``
    pub(super) fn label(&self, key: &str) -> String {
        if self.place == FILE {
            return format!("[{key}]");
        }
        format!("`{key}` of {}", self.place)
    }

    /// Notes what is asked for, for whoever writes it down.
    fn ask(&self, key: &'static str, wanted: impl FnOnce() -> Wanted, log: &mut Log) {
        log.asks(|| Ask {
            place: self.place.clone(),
            key,
            wanted: wanted(),
        });
    }

    fn take(&mut self, key: &'static str) -> Option<&'a Value<'a>> {
        if !self.asked.contains(&key) {
            self.asked.push(key);
        }
        self.table.get(key)
    }

    /// Notes that `key` must be there; [`Table::end`] reports it if it is not.
    pub(super) fn need(&mut self, key: &'static str, allowed: String, example: &str) {
        if !self.table.contains_key(key) {
            let mend = match self.place == FILE {
                true => format!("add {example}"),
                false => format!("add `{key} = {example}`"),
            };
            self.missing.push((key, allowed, mend));
        }
    }

    /// Free text or a name: at most `most` characters, and whatever `fits` asks for.
    pub(super) fn text(
        &mut self,
        key: &'static str,
        allowed: &str,
        fits: impl Fn(&str) -> bool,
        log: &mut Log,
    ) -> Field<String> {
        self.ask(key, || Wanted::Text(allowed.to_owned()), log);
        let label = self.label(key);
        let Some(value) = self.take(key) else {
            return Field::Absent;
        };
        let Some(text) = value.get_ref().as_str() else {
            log.push(wrong_type(&label, value, "text in quotes", log).allowed(allowed));
            return Field::Bad;
        };
        if !fits(text) {
            log.push(
                Problem::at(value.span(), format!("{label} does not fit"))
                    .found(found(text))
                    .allowed(allowed)
                    .mend("write it in that way"),
            );
            return Field::Bad;
        }
        got(text.to_owned(), value.span())
    }

    /// One word of a list.
    pub(super) fn word<T: Copy>(
        &mut self,
        key: &'static str,
        words: &[(&'static str, T)],
        log: &mut Log,
    ) -> Field<T> {
        let names = || words.iter().map(|(name, _)| *name);
        self.ask(key, || Wanted::Word(names().collect()), log);
        let label = self.label(key);
        let Some(value) = self.take(key) else {
            return Field::Absent;
        };
        let Some(text) = value.get_ref().as_str() else {
            log.push(wrong_type(&label, value, "a word in quotes", log).allowed(either(names())));
            return Field::Bad;
        };
        if let Some((_, meant)) = words.iter().find(|(name, _)| *name == text) {
            return got(*meant, value.span());
        }
        let mend = match nearest(text, names()) {
            Some(near) => format!("did you mean \"{near}\"?"),
            None => "choose one of those".to_owned(),
        };
        log.push(
            Problem::at(value.span(), format!("{label} is a word we don't know"))
                .found(found(text))
                .allowed(either(names()))
                .mend(mend),
        );
        Field::Bad
    }

    /// `true` or `false`.
    pub(super) fn flag(&mut self, key: &'static str, log: &mut Log) -> Field<bool> {
        self.ask(key, || Wanted::Flag, log);
        let label = self.label(key);
        let Some(value) = self.take(key) else {
            return Field::Absent;
        };
        match value.get_ref() {
            DeValue::Boolean(flag) => got(*flag, value.span()),
            _ => {
                log.push(
                    wrong_type(&label, value, "true or false", log)
                        .allowed("true or false")
                        .mend("write true or false, without quotes"),
                );
                Field::Bad
            }
        }
    }

    /// A whole number of `low..=high`.
    pub(super) fn whole(
        &mut self,
        key: &'static str,
        (low, high): (i64, i64),
        log: &mut Log,
    ) -> Field<i64> {
        self.ask(key, || Wanted::Whole(low, high), log);
        let label = self.label(key);
        let Some(value) = self.take(key) else {
            return Field::Absent;
        };
        let allowed = format!("a whole number from {low} to {high}");
        let DeValue::Integer(digits) = value.get_ref() else {
            log.push(wrong_type(&label, value, "a whole number", log).allowed(allowed));
            return Field::Bad;
        };
        match i64::from_str_radix(digits.as_str(), digits.radix()) {
            Ok(number) if (low..=high).contains(&number) => got(number, value.span()),
            _ => {
                log.push(
                    Problem::at(value.span(), format!("{label} is out of bounds"))
                        .found(short(digits.as_str()))
                        .allowed(allowed)
                        .mend("choose a number inside"),
                );
                Field::Bad
            }
        }
    }

    /// A quantity inside `bound`, on an axis in `axis` if that is known.
    pub(super) fn quantity(
        &mut self,
        key: &'static str,
        bound: &Bound,
        axis: Option<Unit>,
        log: &mut Log,
    ) -> Field<Quantity> {
        self.ask(key, || Wanted::quantity(bound, axis), log);
        let label = self.label(key);
        match self.take(key) {
            None => Field::Absent,
            Some(value) => quantity(&label, value, bound, axis, log),
        }
    }

    /// A table below this one.
    pub(super) fn table(
        &mut self,
        key: &'static str,
        example: &str,
        log: &mut Log,
    ) -> Field<Table<'a>> {
        self.ask(key, || Wanted::Table, log);
        let place = self.label(key);
        let Some(value) = self.take(key) else {
            return Field::Absent;
        };
        match value.get_ref() {
            DeValue::Table(table) => got(Table::new(place, value.span(), table), value.span()),
            _ => {
                let wrong = wrong_type(&place, value, "a table", log);
                log.push(wrong.mend(format!("write {example}")));
                Field::Bad
            }
        }
    }

    /// Whatever stands there.
    pub(super) fn any(&mut self, key: &'static str) -> Option<&'a Value<'a>> {
        self.take(key)
    }

    /// Whether the key is there.
    pub(super) fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    /// The entries in the order of the file, for tables whose keys are names.
    pub(super) fn entries(&self) -> Vec<(At<String>, &'a Value<'a>)> {
        let mut entries: Vec<_> = self
            .table
            .iter()
            .map(|(key, value)| {
                let at = At {
                    value: key.get_ref().to_string(),
                    span: key.span(),
                };
                (at, value)
            })
            .collect();
        entries.sort_by_key(|(key, _)| key.span.start);
        entries
    }

    /// Reports the keys that are unknown, then those that are missing and not just misspelt.
    pub(super) fn end(self, log: &mut Log) {
        for key in &self.asked {
            self.ask(key, || Wanted::Something, log);
        }
        for (key, _, _) in &self.missing {
            self.ask(key, || Wanted::Needed, log);
        }
        let mut misspelt = Vec::new();
        for (key, _) in self.entries() {
            if self.asked.contains(&key.value.as_str()) {
                continue;
            }
            let (taken, free): (Vec<&str>, Vec<&str>) = self
                .asked
                .iter()
                .partition(|k| self.table.contains_key(**k));
            let near = nearest(&key.value, free);
            misspelt.extend(near);
            let mend = match (near, nearest(&key.value, taken)) {
                (Some(near), _) => format!("did you mean `{near}`?"),
                (None, Some(near)) => {
                    format!("take it out, or did you mean `{near}`, which is there too?")
                }
                (None, None) => "take it out".to_owned(),
            };
            log.push(
                Problem::at(key.span, format!("{} has no such key", self.place))
                    .found(format!("`{}`", short(&key.value)))
                    .allowed(either(self.asked.iter().copied()))
                    .mend(mend),
            );
        }
        for (key, allowed, mend) in self.missing {
            if misspelt.contains(&key) {
                continue;
            }
            log.push(
                Problem::at(self.span.clone(), format!("{} lacks `{key}`", self.place))
                    .found(format!("no `{key}`"))
                    .allowed(allowed)
                    .mend(mend),
            );
        }
    }
}

pub(super) fn got<T>(value: T, span: Range<usize>) -> Field<T> {
    Field::Got(At { value, span })
}

/// `"text"`, short enough for a message.
pub(super) fn found(text: &str) -> String {
    format!("\"{}\"", short(text))
}

/// A value of another type than `wanted`.
pub(super) fn wrong_type(label: &str, value: &Value, wanted: &str, log: &Log) -> Problem {
    let kind = match value.get_ref() {
        DeValue::String(_) => "text",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "a yes-or-no value",
        DeValue::Datetime(_) => "a date or time",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    };
    Problem::at(value.span(), format!("{label} must be {wanted}"))
        .found(format!("{}, {kind}", log.quote(&value.span())))
        .allowed(wanted)
        .mend(format!("write {wanted}"))
}

/// Reads one quantity and holds it against its bound.
pub(super) fn quantity(
    label: &str,
    value: &Value,
    bound: &Bound,
    axis: Option<Unit>,
    log: &mut Log,
) -> Field<Quantity> {
    let allowed = bound.text(axis);
    let example = bound.example(axis);
    let Some(text) = value.get_ref().as_str() else {
        let wrong = wrong_type(label, value, "a number with its unit in quotes", log);
        log.push(
            wrong
                .allowed(allowed)
                .mend(format!("write it as \"{example}\"")),
        );
        return Field::Bad;
    };
    let problem = |message: &str, mend: String| {
        Problem::at(value.span(), format!("{label} {message}"))
            .found(found(text))
            .allowed(allowed.clone())
            .mend(mend)
    };
    let quantity = match Quantity::parse(text) {
        Ok(quantity) => quantity,
        Err(fault) => {
            let (message, mend) = explain(&fault, bound, axis);
            log.push(problem(message, mend));
            return Field::Bad;
        }
    };
    let on_axis = axis.is_none() || quantity.axis_unit() == axis || quantity.axis_unit().is_none();
    let wrong = if quantity.kind() != bound.kind {
        let message = format!("is not {}", bound.noun);
        Some((
            message,
            format!("write a number and {}", bound.kind.units(axis)),
        ))
    } else if !on_axis {
        let units = bound.kind.units(axis);
        let message = format!("is in another unit than its axis, which is in {units}");
        Some((message, format!("write it in {units}")))
    } else if !(bound.low..=bound.high).contains(&quantity.plain()) {
        Some((
            "is out of bounds".to_owned(),
            "choose a value inside".to_owned(),
        ))
    } else {
        None
    };
    match wrong {
        Some((message, mend)) => {
            log.push(problem(&message, mend));
            Field::Bad
        }
        None => got(quantity, value.span()),
    }
}

/// What is wrong with a text that is no quantity, and how to mend it.
fn explain(fault: &Fault, bound: &Bound, axis: Option<Unit>) -> (&'static str, String) {
    let example = bound.example(axis);
    match fault {
        Fault::NoNumber => (
            "does not begin with a number",
            format!("write a number and its unit, as in \"{example}\""),
        ),
        Fault::NotFinite => (
            "is not a finite number",
            format!("write a plain number, as in \"{example}\""),
        ),
        Fault::Separator(',') => (
            "has a comma in its number",
            "write decimals with a point, and thousands without a mark".to_owned(),
        ),
        Fault::Separator(mark) => (
            "has a mark inside its number",
            format!("take the {mark} out"),
        ),
        Fault::NoUnit(number) => {
            let units = bound.kind.units(axis);
            let first = units.split([',', ' ']).next().unwrap_or_default();
            (
                "has no unit",
                format!("write \"{}\"", with_unit(number, first)),
            )
        }
        Fault::UnknownUnit { meant, .. } => (
            "has a unit we don't know",
            match meant {
                Some(meant) => format!("write \"{meant}\""),
                None => format!("use {}", bound.kind.units(axis)),
            },
        ),
    }
}
