//! The TOML of a file, and what kind of file it is.

use super::near::{either, nearest};
use super::problem::{Log, Problem, Problems};
use super::table::{FILE, Table, wrong_type};
use super::{Source, problem::short};
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// What a file is, told by its top table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// `[rig]`: hardware truth.
    Rig,
    /// `[operator]`: hands and bindings.
    Operator,
    /// `[quiet]`: how fast each axis may go unheard.
    Quiet,
    /// `[trim]`: where a pad's sticks rest, and how far they reach.
    Trim,
}

impl Kind {
    /// All of them.
    pub const ALL: [Kind; 4] = [Kind::Rig, Kind::Operator, Kind::Quiet, Kind::Trim];

    /// The kind with this top table.
    pub fn from_name(name: &str) -> Option<Kind> {
        Kind::ALL.into_iter().find(|kind| kind.table() == name)
    }

    /// The name of its top table.
    pub const fn table(self) -> &'static str {
        match self {
            Kind::Rig => "rig",
            Kind::Operator => "operator",
            Kind::Quiet => "quiet",
            Kind::Trim => "trim",
        }
    }

    /// What a reader calls it.
    pub const fn noun(self) -> &'static str {
        match self {
            Kind::Rig => "a rig file",
            Kind::Operator => "an operator profile",
            Kind::Quiet => "a quiet file",
            Kind::Trim => "a trim file",
        }
    }

    /// Tells the kind of a file.
    ///
    /// # Errors
    ///
    /// The syntax errors if there are any, else that no top table, or more than one, is there.
    pub fn of(source: &Source) -> Result<Kind, Problems> {
        let mut log = Log::new(source);
        let (root, errors) = DeTable::parse_recoverable(&source.text);
        let kind = kind_of(root.get_ref(), &mut Log::new(source));
        if kind.is_none() {
            if errors.is_empty() {
                kind_of(root.get_ref(), &mut log);
            } else {
                report_syntax(&errors, &mut log);
            }
        }
        log.end(kind)
    }
}

/// Parses the text, reports what is wrong with its syntax, and hands out the top table if the rest
/// of the file can be judged all the same.
pub(super) fn parse<'a>(source: &'a Source, log: &mut Log) -> Option<Spanned<DeTable<'a>>> {
    let (root, errors) = DeTable::parse_recoverable(&source.text);
    report_syntax(&errors, log).then_some(root)
}

/// The table of the wanted kind and the root it stands in; a file of another kind is a problem.
pub(super) fn open<'a>(
    root: &'a DeTable<'a>,
    wanted: Kind,
    log: &mut Log,
) -> Option<(Table<'a>, Table<'a>)> {
    let kind = kind_of(root, log)?;
    let mut top = Table::new(FILE.to_owned(), 0..0, root);
    let (key, value) = root
        .get_key_value(wanted.table())
        .or_else(|| root.get_key_value(kind.table()))?;
    if kind != wanted {
        log.push(
            Problem::at(key.span(), format!("this is {}", kind.noun()))
                .found(format!("[{}]", kind.table()))
                .allowed(format!(
                    "{}, which begins with [{}]",
                    wanted.noun(),
                    wanted.table()
                ))
                .mend(format!("give {} here", wanted.noun())),
        );
        return None;
    }
    let label = format!("[{}]", kind.table());
    top.any(kind.table());
    let DeValue::Table(table) = value.get_ref() else {
        log.push(
            wrong_type(&label, value, "a table", log).mend(format!("begin with a line {label}")),
        );
        return None;
    };
    Some((top, Table::new(label, value.span(), table)))
}

fn kind_of(root: &DeTable, log: &mut Log) -> Option<Kind> {
    let here = |kind: &Kind| root.get_key_value(kind.table()).map(|(key, _)| key.span());
    let mut kinds = Kind::ALL.into_iter().filter(|kind| here(kind).is_some());
    let tables = || either(["[rig]", "[operator]", "[quiet]", "[trim]"]);
    let Some(first) = kinds.next() else {
        let near = root.keys().find_map(|key| {
            let near = nearest(key.get_ref(), Kind::ALL.map(Kind::table))?;
            Some((key.span(), short(key.get_ref()), near))
        });
        let problem = match near {
            Some((span, key, near)) => {
                Problem::at(span, "this table does not tell what the file is")
                    .found(format!("[{key}]"))
                    .mend(format!("did you mean [{near}]?"))
            }
            None => Problem::at(0..0, "nothing here tells what the file is")
                .found(format!("no {}", tables()))
                .mend(
                    "begin a rig file with [rig], an operator profile with [operator], a quiet file \
                     with [quiet], a trim file with [trim]",
                ),
        };
        log.push(problem.allowed(tables()));
        return None;
    };
    let Some(second) = kinds.next() else {
        return Some(first);
    };
    let (Some(one), Some(two)) = (here(&first), here(&second)) else {
        return None;
    };
    log.push(
        Problem::at(
            two,
            "a file is a rig file, an operator profile, a quiet file or a trim file",
        )
        .found(format!("[{}]", second.table()))
        .also(one, format!("and [{}]", first.table()))
        .allowed(format!("one of {}", tables()))
        .mend("make two files of it"),
    );
    None
}

/// Reports what the parser found; whether the rest of the file can still be judged.
fn report_syntax(errors: &[toml::de::Error], log: &mut Log) -> bool {
    let start = |error: &&toml::de::Error| error.span().map_or(0, |span| span.start);
    let mut errors: Vec<&toml::de::Error> = errors.iter().collect();
    errors.sort_by_key(start);
    for error in errors {
        let span = error.span().unwrap_or(0..0);
        let message = error.message();
        let (what, expected) = message.split_once(", expected ").unwrap_or((message, ""));
        match slip(what, &span, log) {
            Some(problem) => log.push(problem),
            None => {
                // Whatever is reported after this one may only be its consequence.
                log.push(broken(what, expected, span, log));
                return false;
            }
        }
    }
    true
}

/// An error that ends with its own value or line.
fn slip(what: &str, span: &Range<usize>, log: &Log) -> Option<Problem> {
    let quote = log.quote(span);
    let at = |message: &str| Problem::at(span.clone(), message);
    let problem = match what {
        "duplicate key" => at(&format!("`{quote}` is given twice"))
            .found("the second one")
            .allowed("each key and each table once")
            .mend("keep the one that is meant"),
        "string values must be quoted" if quote.is_empty() => at("there is no value here")
            .found("nothing")
            .allowed("a value after the =")
            .mend("write the value, or take the line out"),
        "string values must be quoted" => at("text and quantities stand in quotes")
            .found(format!("{quote} without them"))
            .allowed("text in quotes; only whole numbers, true and false go without")
            .mend(format!("write \"{quote}\"")),
        "invalid basic string" | "invalid literal string" => at("this text has no closing quote")
            .found("the end of the line")
            .allowed("a quote at both ends of the text")
            .mend("add the quote"),
        "missing escaped value" => at("a backslash in double quotes begins an escape")
            .found("one that means nothing")
            .allowed("\\n, \\t, \\\\ and the other escapes of TOML")
            .mend("write \\\\ for a backslash, or put the text in single quotes"),
        _ => return None,
    };
    Some(problem)
}

/// An error that may have swallowed what follows.
fn broken(what: &str, expected: &str, span: Range<usize>, log: &Log) -> Problem {
    let quote = log.quote(&span);
    Problem::at(span, format!("not valid TOML: {what}"))
        .found(match quote.as_str() {
            "" => "this place".to_owned(),
            quote => quote.to_owned(),
        })
        .allowed(match expected {
            "" => "valid TOML".to_owned(),
            expected => format!("here: {expected}"),
        })
        .mend(
            "look here and on the line before for a quote, bracket or = too few or too many; \
             what follows was not checked",
        )
}
