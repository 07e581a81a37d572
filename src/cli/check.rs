//! `stillhand check FILE...`: every problem in every file, before anything moves.

use super::figures::{self, AxisFigures};
use super::{files, wall};
use crate::profile::{
    Kind, OperatorFile, Problems, QuietFile, RigFile, Row, Source, TrimFile, load_operator,
    load_quiet, load_rig, load_trim,
};
use serde::Serialize;
use std::path::{Path, PathBuf};

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

/// Checks every file by itself, an operator profile together with the quiet file it names; and, if
/// exactly one rig file is among them, all others against that rig. Files are told apart by their
/// top table.
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
    Rig(String, Box<RigFile>),
    Operator(String, Box<Operated>),
    Quiet(String, QuietFile),
    Trim(String, TrimFile),
    Bad(Bad),
}

/// A good profile with what belongs to it.
struct Operated {
    file: OperatorFile,
    quiet: Option<QuietFile>,
    /// What it comes to on the rig, as text and as figures; none without a rig.
    figures: Option<(String, Vec<AxisFigures>)>,
}

struct Bad {
    name: String,
    kind: Option<Kind>,
    problems: Problems,
}

fn one(path: &Path) -> Checked {
    let bad = |kind: Option<Kind>, problems: Problems| {
        let name = path.display().to_string();
        Checked::Bad(Bad {
            name,
            kind,
            problems,
        })
    };
    let source = match files::read(path) {
        Ok(source) => source,
        Err(problems) => return bad(None, problems),
    };
    let kind = match Kind::of(&source) {
        Ok(kind) => kind,
        Err(problems) => return bad(None, problems),
    };
    let name = source.name.clone();
    let checked = match kind {
        Kind::Rig => load_rig(&source).map(|rig| Checked::Rig(name, Box::new(rig))),
        Kind::Quiet => load_quiet(&source).map(|quiet| Checked::Quiet(name, quiet)),
        Kind::Trim => load_trim(&source).map(|trim| Checked::Trim(name, trim)),
        Kind::Operator => {
            operated(&source, path).map(|operated| Checked::Operator(name, Box::new(operated)))
        }
    };
    checked.unwrap_or_else(|problems| bad(Some(kind), problems))
}

fn operated(source: &Source, path: &Path) -> Result<Operated, Problems> {
    let file = load_operator(source)?;
    let quiet = files::read_quiet(&file, Some(path))?;
    Ok(Operated {
        file,
        quiet,
        figures: None,
    })
}

/// Holds the operators and quiet files against the rig, and says in words when that can't be done.
fn cross_check(checked: &mut [Checked]) -> Vec<String> {
    let kind = |file: &Checked| match file {
        Checked::Rig(..) => Some(Kind::Rig),
        Checked::Operator(..) => Some(Kind::Operator),
        Checked::Quiet(..) => Some(Kind::Quiet),
        Checked::Trim(..) => Some(Kind::Trim),
        Checked::Bad(bad) => bad.kind,
    };
    let is_rig = |file: &&Checked| kind(file) == Some(Kind::Rig);
    let rigs = checked.iter().filter(is_rig).count();
    let needs_rig = |file: &Checked| matches!(kind(file), Some(Kind::Operator | Kind::Quiet));
    if !checked.iter().any(needs_rig) {
        return Vec::new();
    }
    let not = |why: String| vec![format!("axes were not checked against a rig: {why}")];
    match rigs {
        0 => return not("no rig file was given".to_owned()),
        1 => {}
        more => return not(format!("{more} rig files were given, give one")),
    }
    let good = checked.iter().find_map(|file| match file {
        Checked::Rig(_, rig) => Some(RigFile::clone(rig)),
        Checked::Operator(..) | Checked::Quiet(..) | Checked::Trim(..) | Checked::Bad(_) => None,
    });
    let Some(rig) = good else {
        return not("the rig file itself has problems".to_owned());
    };
    for file in checked {
        let (name, held) = match file {
            Checked::Rig(..) | Checked::Trim(..) | Checked::Bad(_) => continue,
            Checked::Operator(name, operated) => (name, on_rig(operated, &rig)),
            Checked::Quiet(name, quiet) => (name, quiet.fits(std::slice::from_ref(&rig))),
        };
        if let Err(problems) = held {
            *file = Checked::Bad(Bad {
                name: std::mem::take(name),
                kind: kind(file),
                problems,
            });
        }
    }
    Vec::new()
}

/// Works out what a profile comes to on the rig.
fn on_rig(operated: &mut Operated, rig: &RigFile) -> Result<(), Problems> {
    let rigs = std::slice::from_ref(rig);
    let operator = operated.file.resolve_with(rigs, operated.quiet.as_ref())?;
    let figures = figures::figures(rig, &operator);
    let text = figures::text(&operator, rig, &figures);
    operated.figures = Some((text, figures));
    Ok(())
}

fn plain(checked: &[Checked], notes: &[String], colour: bool) -> String {
    let mut out = String::new();
    for file in checked {
        // A blank line keeps what is said of two files apart.
        let paragraph = out.ends_with("problem\n") || out.ends_with("problems\n");
        if paragraph
            || out
                .lines()
                .next_back()
                .is_some_and(|line| line.starts_with("  "))
        {
            out.push('\n');
        }
        match file {
            Checked::Rig(name, rig) => out.push_str(&format!("{name}: {}\n", rig.summary())),
            Checked::Quiet(name, quiet) => {
                out.push_str(&format!("{name}: {}\n", quiet.summary()));
            }
            Checked::Trim(name, trim) => out.push_str(&format!("{name}: {}\n", trim.summary())),
            Checked::Operator(name, operated) => {
                out.push_str(&format!("{name}: {}\n", operated.file.summary()));
                out.push_str(&wall::text(&wall::rows(&operated.file)));
                if let Some((text, _)) = &operated.figures {
                    out.push('\n');
                    out.push_str(text);
                }
            }
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
    /// `rig`, `operator`, `quiet` or `trim`; none if the file does not tell.
    kind: Option<&'static str>,
    ok: bool,
    /// How many problems it has; the first thousand are listed.
    problems: usize,
    /// What the file is, in one line; none if it has problems.
    summary: Option<String>,
    /// What an operator's controls and presses do.
    #[serde(skip_serializing_if = "Option::is_none")]
    bindings: Option<Vec<wall::Row>>,
    /// What an operator's axes come to on the rig, if one was given.
    #[serde(skip_serializing_if = "Option::is_none")]
    figures: Option<&'a [AxisFigures]>,
}

fn entry(file: &Checked) -> Entry<'_> {
    let good = |name, kind: Kind, summary| Entry {
        file: name,
        kind: Some(kind.table()),
        ok: true,
        problems: 0,
        summary: Some(summary),
        bindings: None,
        figures: None,
    };
    match file {
        Checked::Rig(name, rig) => good(name.as_str(), Kind::Rig, rig.summary()),
        Checked::Quiet(name, quiet) => good(name.as_str(), Kind::Quiet, quiet.summary()),
        Checked::Trim(name, trim) => good(name.as_str(), Kind::Trim, trim.summary()),
        Checked::Operator(name, operated) => Entry {
            bindings: Some(wall::rows(&operated.file)),
            figures: operated
                .figures
                .as_ref()
                .map(|(_, figures)| figures.as_slice()),
            ..good(name.as_str(), Kind::Operator, operated.file.summary())
        },
        Checked::Bad(bad) => Entry {
            file: &bad.name,
            kind: bad.kind.map(Kind::table),
            ok: false,
            problems: bad.problems.count(),
            summary: None,
            bindings: None,
            figures: None,
        },
    }
}

fn json(checked: &[Checked], notes: &[String], ok: bool) -> String {
    let rows = checked.iter().filter_map(|file| match file {
        Checked::Bad(bad) => Some(bad.problems.rows()),
        Checked::Rig(..) | Checked::Operator(..) | Checked::Quiet(..) | Checked::Trim(..) => None,
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
