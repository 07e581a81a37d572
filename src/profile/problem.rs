//! What is wrong in a file, where, and how to mend it.

use super::Source;
use super::schema::Ask;
use annotate_snippets::{Annotation, AnnotationKind, Group, Level, Origin, Renderer, Snippet};
use std::fmt;
use std::ops::Range;

/// Problems of one file that are shown with a caret; a file with more is not a profile with slips
/// but some other file, and the rest would only scroll the first ones away.
const MOST_SHOWN: usize = 40;
/// Problems of one file that are kept; the rest is only counted. Far more than anyone mends at a
/// time, and a bound on what a hostile file can cost.
const MOST_KEPT: usize = 1000;
/// Bytes of text shown around a caret. More than this is one endless line, or two places far
/// apart: then line and column have to do.
const MOST_TEXT: usize = 16 * 1024;

/// One thing wrong in a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// Where, as bytes of the text; `None` if the file could not be read at all.
    pub span: Option<Range<usize>>,
    /// What is wrong, in one line.
    pub message: String,
    /// What was found there.
    pub found: String,
    /// What would be right, with the bounds and their reason.
    pub allowed: String,
    /// What to do about it.
    pub mend: String,
    /// Other places that take part, such as the first of two equal bindings.
    pub also: Vec<Place>,
}

/// A further place of a problem.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Place {
    /// Where, as bytes of the text.
    pub span: Range<usize>,
    /// What is there.
    pub label: String,
}

impl Problem {
    /// A problem of the text at `span`.
    pub fn at(span: Range<usize>, message: impl Into<String>) -> Problem {
        Problem {
            span: Some(span),
            ..Problem::whole(message)
        }
    }

    /// A problem of the file as a whole.
    pub fn whole(message: impl Into<String>) -> Problem {
        Problem {
            span: None,
            message: message.into(),
            found: String::new(),
            allowed: String::new(),
            mend: String::new(),
            also: Vec::new(),
        }
    }

    /// With what was found.
    pub fn found(mut self, found: impl Into<String>) -> Problem {
        self.found = found.into();
        self
    }

    /// With what would be right.
    pub fn allowed(mut self, allowed: impl Into<String>) -> Problem {
        self.allowed = allowed.into();
        self
    }

    /// With what to do about it.
    pub fn mend(mut self, mend: impl Into<String>) -> Problem {
        self.mend = mend.into();
        self
    }

    /// With a further place.
    pub fn also(mut self, span: Range<usize>, label: impl Into<String>) -> Problem {
        self.also.push(Place {
            span,
            label: label.into(),
        });
        self
    }
}

/// Everything wrong in one file, in the order of the file; never empty.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problems {
    source: Source,
    list: Vec<Problem>,
    /// How many there were beyond those kept.
    more: usize,
}

/// One problem as a row for a program to read.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Row {
    /// The file as the user named it.
    pub file: String,
    /// The line, from 1; none if the file could not be read.
    pub line: Option<usize>,
    /// The character in the line, from 1.
    pub column: Option<usize>,
    /// What is wrong.
    pub message: String,
    /// What was found there.
    pub found: String,
    /// What would be right.
    pub allowed: String,
    /// What to do about it.
    pub mend: String,
}

impl Problems {
    /// One problem of one file.
    pub fn one(source: Source, problem: Problem) -> Problems {
        Problems {
            source,
            list: vec![problem],
            more: 0,
        }
    }

    /// The file they are in.
    pub fn source(&self) -> &Source {
        &self.source
    }

    /// How many there are, those that were only counted included.
    pub fn count(&self) -> usize {
        self.list.len() + self.more
    }

    /// The first thousand of them, in the order of the file.
    pub fn list(&self) -> &[Problem] {
        &self.list
    }

    /// All of them as text with carets, ending in a line feed; `colour` adds terminal colours.
    pub fn render(&self, colour: bool) -> String {
        let renderer = if colour {
            Renderer::styled()
        } else {
            Renderer::plain()
        };
        let lines = Lines::of(&self.source.text);
        let mut out = String::new();
        for problem in self.list.iter().take(MOST_SHOWN) {
            if !out.is_empty() {
                out.push('\n');
            }
            out.push_str(&renderer.render(&[self.group(problem, &lines)]));
            out.push('\n');
        }
        let more = self.count().saturating_sub(MOST_SHOWN);
        if more > 0 {
            out.push_str(&format!("\n{}: and {more} more\n", self.source.name));
        }
        out
    }

    /// All of them as rows.
    pub fn rows(&self) -> Vec<Row> {
        let lines = Lines::of(&self.source.text);
        self.list
            .iter()
            .map(|problem| {
                let place = problem.span.as_ref().map(|span| lines.place(span.start));
                Row {
                    file: self.source.name.clone(),
                    line: place.map(|(line, _)| line),
                    column: place.map(|(_, column)| column),
                    message: problem.message.clone(),
                    found: problem.found.clone(),
                    allowed: problem.allowed.clone(),
                    mend: problem.mend.clone(),
                }
            })
            .collect()
    }

    fn group<'a>(&'a self, problem: &'a Problem, lines: &Lines<'a>) -> Group<'a> {
        let title = Level::ERROR.primary_title(problem.message.as_str());
        let path = self.source.name.as_str();
        let snippet = problem
            .span
            .as_ref()
            .and_then(|span| self.snippet(problem, span, lines));
        let bare = snippet.is_none();
        let mut group = match (snippet, &problem.span) {
            (Some(snippet), _) => title.element(snippet),
            (None, Some(span)) => {
                let (line, column) = lines.place(span.start);
                title.element(Origin::path(path).line(line).char_column(column))
            }
            (None, None) => title.element(Origin::path(path)),
        };
        // With a caret the label says what was found; without one a line of its own does.
        if bare && !problem.found.is_empty() {
            group = group.element(Level::NOTE.with_name("found").message(&problem.found));
        }
        if !problem.allowed.is_empty() {
            group = group.element(Level::NOTE.with_name("allowed").message(&problem.allowed));
        }
        if !problem.mend.is_empty() {
            group = group.element(Level::HELP.with_name("mend").message(&problem.mend));
        }
        group
    }

    /// The lines concerned with their carets, unless they are too long to show.
    ///
    /// Only those lines are handed to the renderer: it reads all it is given, and a large file
    /// full of problems would otherwise take minutes.
    fn snippet<'a>(
        &'a self,
        problem: &'a Problem,
        span: &Range<usize>,
        lines: &Lines<'a>,
    ) -> Option<Snippet<'a, Annotation<'a>>> {
        let places = || std::iter::once(span).chain(problem.also.iter().map(|p| &p.span));
        let first = places().map(|s| s.start).min().unwrap_or(span.start);
        let last = places().map(|s| s.end).max().unwrap_or(span.end);
        let (from, number) = lines.start_before(first);
        let text = &lines.text[from..lines.end_after(last)];
        if text.len() > MOST_TEXT {
            return None;
        }
        let shift = |s: &Range<usize>| s.start - from..s.end - from;
        let mut caret = AnnotationKind::Primary.span(shift(span));
        if !problem.found.is_empty() {
            caret = caret.label(format!("found {}", problem.found));
        }
        let others = problem.also.iter().map(|place| {
            let other = AnnotationKind::Context.span(shift(&place.span));
            other.label(place.label.as_str())
        });
        let snippet = Snippet::source(text)
            .line_start(number)
            .path(self.source.name.as_str())
            .annotation(caret)
            .annotations(others);
        Some(snippet)
    }
}

impl fmt::Display for Problems {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.render(false))
    }
}

impl std::error::Error for Problems {}

/// Where the lines of a text begin.
struct Lines<'a> {
    text: &'a str,
    starts: Vec<usize>,
}

impl<'a> Lines<'a> {
    fn of(text: &'a str) -> Lines<'a> {
        let after_feeds = text.match_indices('\n').map(|(at, _)| at + 1);
        Lines {
            text,
            starts: std::iter::once(0).chain(after_feeds).collect(),
        }
    }

    /// The start of the line that holds byte `at`, and that line's number from 1.
    fn start_before(&self, at: usize) -> (usize, usize) {
        let number = self.starts.partition_point(|&start| start <= at).max(1);
        (self.starts[number - 1], number)
    }

    /// The end of the line that holds byte `at`.
    fn end_after(&self, at: usize) -> usize {
        let rest = self.text[at..].find('\n');
        rest.map_or(self.text.len(), |feed| at + feed + 1)
    }

    /// Line and column of byte `at`, both from 1, the column in characters.
    fn place(&self, at: usize) -> (usize, usize) {
        let (start, number) = self.start_before(at);
        (number, self.text[start..at].chars().count() + 1)
    }
}

/// Where the problems of one file are gathered.
pub(super) struct Log<'a> {
    source: &'a Source,
    list: Vec<Problem>,
    more: usize,
    /// What the reader asks for, if anybody wants to know.
    asks: Option<Vec<Ask>>,
}

impl<'a> Log<'a> {
    pub(super) fn new(source: &'a Source) -> Log<'a> {
        Log {
            source,
            list: Vec::new(),
            more: 0,
            asks: None,
        }
    }

    /// One that also keeps what the reader asks for.
    pub(super) fn listening(source: &'a Source) -> Log<'a> {
        Log {
            asks: Some(Vec::new()),
            ..Log::new(source)
        }
    }

    /// Notes what the reader asks for.
    pub(super) fn asks(&mut self, ask: impl FnOnce() -> Ask) {
        if let Some(asks) = &mut self.asks {
            asks.push(ask());
        }
    }

    /// Everything it was asked for.
    pub(super) fn asked(self) -> Vec<Ask> {
        self.asks.unwrap_or_default()
    }

    /// Adds one, its places moved to whole characters inside the text.
    pub(super) fn push(&mut self, mut problem: Problem) {
        if self.list.len() == MOST_KEPT {
            self.more += 1;
            return;
        }
        if let Some(span) = &mut problem.span {
            *span = fit(&self.source.text, span);
            // A value that is not there has been missed by the parser already.
            let again = |other: &Problem| other.span.as_ref() == Some(&*span);
            if span.start == span.end && span.start > 0 && self.list.iter().any(again) {
                return;
            }
        }
        for place in &mut problem.also {
            place.span = fit(&self.source.text, &place.span);
        }
        self.list.push(problem);
    }

    /// The text at a place, short enough to stand in a message.
    pub(super) fn quote(&self, span: &Range<usize>) -> String {
        short(&self.source.text[fit(&self.source.text, span)])
    }

    pub(super) fn source(&self) -> &'a Source {
        self.source
    }

    /// The value if there is one and nothing was wrong, else what was wrong.
    ///
    /// A value is only missing after a problem was pushed; the message for the other case is there
    /// so that a slip in this module shows as a message instead of a crash.
    pub(super) fn end<T>(mut self, value: Option<T>) -> Result<T, Problems> {
        match value {
            Some(value) if self.list.is_empty() => Ok(value),
            _ => {
                if self.list.is_empty() {
                    self.list.push(Problem::whole("this file can't be used"));
                }
                self.list
                    .sort_by_key(|p| p.span.as_ref().map_or(0, |s| s.start));
                Err(Problems {
                    source: self.source.clone(),
                    list: self.list,
                    more: self.more,
                })
            }
        }
    }
}

fn fit(text: &str, span: &Range<usize>) -> Range<usize> {
    let start = boundary(text, span.start);
    start..boundary(text, span.end).max(start)
}

/// The last character boundary at or before byte `at`.
fn boundary(text: &str, at: usize) -> usize {
    let mut at = at.min(text.len());
    // Ends at 0 at the latest, which always is a boundary.
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

/// One line of at most 60 characters, without any that could play tricks on a terminal: controls
/// and the marks that turn the direction of writing (Unicode Standard Annex 9).
pub(crate) fn short(text: &str) -> String {
    const MOST: usize = 60;
    let line = text.split(['\n', '\r']).next().unwrap_or_default();
    let cut = line.len() < text.trim_end().len() || line.chars().count() > MOST;
    let tricky =
        |c: char| c.is_control() || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    let tame = |c: char| if tricky(c) { '\u{fffd}' } else { c };
    let mut out: String = line.chars().take(MOST).map(tame).collect();
    if cut {
        out.push_str("...");
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quoted_text_can_not_steer_a_terminal() {
        assert_eq!(short("a\u{1b}[31mb\u{202e}c"), "a\u{fffd}[31mb\u{fffd}c");
        assert_eq!(short("two\nlines"), "two...");
        assert_eq!(short(&"é".repeat(61)).chars().count(), 63);
    }

    #[test]
    fn endless_lines_are_placed_but_not_shown() {
        let text = format!("[rig]\nid = \"{}\"", "x".repeat(20_000));
        let problem = Problem::at(11..20_011, "too long")
            .found("x")
            .mend("cut it");
        let problems = Problems::one(Source::new("a.toml", text), problem);
        let shown = problems.render(false);
        assert!(
            shown.contains("--> a.toml:2:6") && shown.len() < 200,
            "{shown}"
        );
    }
}
