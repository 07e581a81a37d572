//! Scripts: text files with one event a line, `SECONDS WHAT ...`, and `#` before a remark.
//!
//! What all kinds of script share: reading the file, words with their places, times in order, and problems
//! that show the line, a caret, what was found, what is allowed and how to mend it.

use std::fs;
use std::io::Read;
use std::path::Path;
use stillhand_engine::time::Span;

mod problem;
mod word;

pub use problem::{ScriptProblem, ScriptProblems};
pub use word::{Word, nearest};

/// Longest script, in seconds: a long day of recording, and far from where times lose their
/// millisecond in a float.
pub const MAX_SECONDS: f64 = 86_400.0;
/// Largest script file, in bytes. Hours of ramps fit.
pub const MAX_BYTES: usize = 1024 * 1024;
/// Most problems listed; a file of another kind would have one in every line.
const MAX_PROBLEMS: usize = 100;

/// Reads a file as text; `form` says how its lines look.
///
/// # Errors
/// One problem: it can't be read, is too long, or is no text.
pub fn load(path: &Path, form: &str) -> Result<String, ScriptProblems> {
    let refuse = |found: String, mend: &str| {
        let problem = ScriptProblem {
            found,
            allowed: "a text file".into(),
            mend: mend.into(),
            ..ScriptProblem::of_file("the script can't be read")
        };
        ScriptProblems::new(&path.display().to_string(), vec![problem])
    };
    let mut bytes = Vec::new();
    // One byte more than is allowed, so that the length check sees that there is more.
    let read = fs::File::open(path)
        .and_then(|file| file.take(MAX_BYTES as u64 + 1).read_to_end(&mut bytes));
    if let Err(error) = read {
        return Err(refuse(
            error.to_string(),
            "check the path and its permissions",
        ));
    }
    String::from_utf8(bytes).map_err(|error| {
        let place = format!(
            "bytes that are no text at {}",
            error.utf8_error().valid_up_to()
        );
        refuse(place, &format!("name a script: lines of `{form}`"))
    })
}

/// Hands each line's words to `on_line` until there are too many problems. A text that is too long is
/// a problem of its own.
pub fn each_line(
    text: &str,
    problems: &mut Vec<ScriptProblem>,
    mut on_line: impl FnMut(&[Word<'_>], &mut Vec<ScriptProblem>),
) {
    if text.len() > MAX_BYTES {
        problems.push(ScriptProblem {
            found: format!("{} bytes", text.len()),
            allowed: format!("at most {MAX_BYTES} bytes"),
            mend: "split it into several scripts".into(),
            ..ScriptProblem::of_file("the script is too long")
        });
        return;
    }
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    for (index, line) in text.lines().enumerate() {
        on_line(&Word::split(index + 1, line), problems);
        if problems.len() >= MAX_PROBLEMS {
            break;
        }
    }
}

/// The times of a script: they must not go backwards.
#[derive(Debug, Default)]
pub struct Times {
    /// The latest time and its line.
    latest: Option<(f64, usize)>,
}

impl Times {
    /// Reads the first word of a line.
    ///
    /// # Errors
    /// It is no time, or earlier than the one before.
    pub fn read(&mut self, word: &Word<'_>) -> Result<Span, Box<ScriptProblem>> {
        let seconds = word
            .text
            .parse::<f64>()
            .ok()
            .filter(|s| (0.0..=MAX_SECONDS).contains(s));
        let Some(seconds) = seconds else {
            return Err(Box::new(word.problem(
                "this is no time",
                &format!("seconds from 0 to {MAX_SECONDS}, such as 12.350"),
                "write the seconds since the start, with a point",
            )));
        };
        if let Some((latest, line)) = self.latest
            && seconds < latest
        {
            return Err(Box::new(word.problem(
                "time goes backwards",
                &format!("{latest} or later: line {line} is at {latest} s"),
                "sort the lines by time",
            )));
        }
        self.latest = Some((seconds, word.line));
        // Rounded: 0.29 s must not become 289999999 ns.
        Ok(Span((seconds * 1e9).round() as u64))
    }
}
