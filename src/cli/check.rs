//! `stillhand check FILE...`: every problem in every file, before anything moves.

use super::{bindings, files};
use crate::profile::{
    Kind, OperatorFile, Problems, QuietFile, RigFile, Row, Source, load_operator, load_quiet,
    load_rig,
};
use serde::Serialize;
use std::path::PathBuf;

/// How to answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// Text.
    Plain,
    /// Text with terminal colours.
    Colour,
    /// One JSON object.
    Json,
}

/// What to print and how to end.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Outcome {
    /// All of the output, ending in a line feed.
    pub text: String,
    /// 0 if all is well, 1 if there is any problem.
    pub exit: u8,
}

/// Checks every file by itself and, if exactly one rig file is among them, each operator profile
/// against that rig. Files are told apart by their top table.
pub fn check(paths: &[PathBuf], form: Form) -> Outcome {
    let mut checked: Vec<Checked> = paths.iter().map(|path| one(path)).collect();
    let notes = cross_check(&mut checked);
    let bad = checked.iter().any(|file| matches!(file, Checked::Bad(_)));
    let text = match form {
        Form::Json => json(&checked, &notes, !bad),
        Form::Plain => plain(&checked, &notes, false),
        Form::Colour => plain(&checked, &notes, true),
    };
    Outcome {
        text,
        exit: u8::from(bad),
    }
}

enum Checked {
    Rig(String, RigFile),
    Operator(String, Box<OperatorFile>),
    Quiet(String, QuietFile),
    Bad(Bad),
}

struct Bad {
    kind: Option<Kind>,
    problems: Problems,
}

fn one(path: &std::path::Path) -> Checked {
    let bad = |kind| move |problems| Checked::Bad(Bad { kind, problems });
    // What is wrong may be in the quiet file that a profile names.
    let named = |problems: Problems| bad(Kind::of(problems.source()).ok())(problems);
    let source = match files::read(path) {
        Ok(source) => source,
        Err(problems) => return bad(None)(problems),
    };
    let Source { name, .. } = &source;
    match Kind::of(&source) {
        Err(problems) => bad(None)(problems),
        Ok(Kind::Rig) => load_rig(&source)
            .map_or_else(bad(Some(Kind::Rig)), |rig| Checked::Rig(name.clone(), rig)),
        Ok(Kind::Operator) => load_operator(&source)
            .and_then(|operator| files::with_quiet(operator, path))
            .map_or_else(named, |operator| {
                Checked::Operator(name.clone(), Box::new(operator))
            }),
        Ok(Kind::Quiet) => load_quiet(&source).map_or_else(bad(Some(Kind::Quiet)), |quiet| {
            Checked::Quiet(name.clone(), quiet)
        }),
    }
}

/// Holds the operators against the rig, and says in words when that can't be done.
fn cross_check(checked: &mut [Checked]) -> Vec<String> {
    let is = |file: &Checked, wanted: Kind| match file {
        Checked::Rig(..) => wanted == Kind::Rig,
        Checked::Operator(..) => wanted == Kind::Operator,
        Checked::Quiet(..) => wanted == Kind::Quiet,
        Checked::Bad(bad) => bad.kind == Some(wanted),
    };
    let rigs = checked.iter().filter(|file| is(file, Kind::Rig)).count();
    let held = |file: &Checked| is(file, Kind::Operator) || is(file, Kind::Quiet);
    if !checked.iter().any(held) {
        return Vec::new();
    }
    let not = |why: String| vec![format!("axes were not checked against a rig: {why}")];
    match rigs {
        0 => return not("no rig file was given".to_owned()),
        1 => {}
        more => return not(format!("{more} rig files were given, give one")),
    }
    let good = checked.iter().find_map(|file| match file {
        Checked::Rig(_, rig) => Some(rig.rig.clone()),
        Checked::Operator(..) | Checked::Quiet(..) | Checked::Bad(_) => None,
    });
    let Some(rig) = good else {
        return not("the rig file itself has problems".to_owned());
    };
    for file in checked {
        let rigs = std::slice::from_ref(&rig);
        let (kind, held) = match file {
            Checked::Operator(_, operator) => (Kind::Operator, operator.resolve(rigs).map(drop)),
            Checked::Quiet(_, quiet) => (Kind::Quiet, quiet.fits(rigs)),
            Checked::Rig(..) | Checked::Bad(_) => continue,
        };
        if let Err(problems) = held {
            let kind = Some(kind);
            *file = Checked::Bad(Bad { kind, problems });
        }
    }
    Vec::new()
}

fn plain(checked: &[Checked], notes: &[String], colour: bool) -> String {
    let mut out = String::new();
    let is_operator = |file: &&Checked| matches!(file, Checked::Operator(..));
    let alone = checked.iter().filter(is_operator).count() == 1;
    for file in checked {
        // A blank line keeps what is said of two files apart.
        if out.ends_with("problem\n") || out.ends_with("problems\n") {
            out.push('\n');
        }
        match file {
            Checked::Rig(name, rig) => out.push_str(&format!("{name}: {}\n", rig.summary())),
            Checked::Operator(name, operator) => {
                out.push_str(&format!("{name}: {}\n", operator.summary()));
                // Of several, the lines would only drown each other.
                if alone {
                    out.push_str(&bindings::table(operator));
                }
            }
            Checked::Quiet(name, quiet) => out.push_str(&format!("{name}: {}\n", quiet.summary())),
            Checked::Bad(bad) => {
                out.push_str(&bad.problems.render(colour));
                let (count, name) = (bad.problems.count(), &bad.problems.source().name);
                let noun = if count == 1 { "problem" } else { "problems" };
                out.push_str(&format!("{name}: {count} {noun}\n"));
            }
        }
    }
    for note in notes {
        out.push_str(&format!("note: {note}\n"));
    }
    out
}

#[derive(Serialize)]
struct Answer<'a> {
    ok: bool,
    files: Vec<Entry<'a>>,
    problems: Vec<Row>,
    notes: &'a [String],
}

#[derive(Serialize)]
struct Entry<'a> {
    file: &'a str,
    /// `rig` or `operator`; none if the file does not tell.
    kind: Option<&'static str>,
    ok: bool,
    /// How many problems it has; the first thousand are listed.
    problems: usize,
    /// What the file is, in one line; none if it has problems.
    summary: Option<String>,
    /// What an operator profile binds to what.
    bindings: Option<Vec<bindings::Line>>,
}

fn entry(file: &Checked) -> Entry<'_> {
    match file {
        Checked::Rig(name, rig) => Entry {
            file: name,
            kind: Some(Kind::Rig.table()),
            ok: true,
            problems: 0,
            summary: Some(rig.summary()),
            bindings: None,
        },
        Checked::Operator(name, operator) => Entry {
            file: name,
            kind: Some(Kind::Operator.table()),
            ok: true,
            problems: 0,
            summary: Some(operator.summary()),
            bindings: Some(bindings::lines(operator)),
        },
        Checked::Quiet(name, quiet) => Entry {
            file: name,
            kind: Some(Kind::Quiet.table()),
            ok: true,
            problems: 0,
            summary: Some(quiet.summary()),
            bindings: None,
        },
        Checked::Bad(bad) => Entry {
            file: &bad.problems.source().name,
            kind: bad.kind.map(Kind::table),
            ok: false,
            problems: bad.problems.count(),
            summary: None,
            bindings: None,
        },
    }
}

fn json(checked: &[Checked], notes: &[String], ok: bool) -> String {
    let rows = checked.iter().filter_map(|file| match file {
        Checked::Bad(bad) => Some(bad.problems.rows()),
        Checked::Rig(..) | Checked::Operator(..) | Checked::Quiet(..) => None,
    });
    let answer = Answer {
        ok,
        files: checked.iter().map(entry).collect(),
        problems: rows.flatten().collect(),
        notes,
    };
    // Strings, numbers and flags only: there is nothing in it that JSON can't say.
    let mut text = serde_json::to_string_pretty(&answer).unwrap_or_default();
    text.push('\n');
    text
}
