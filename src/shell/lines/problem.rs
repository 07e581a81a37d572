//! What is wrong with a script, for people.

use std::fmt;

/// Most characters of a line or word shown: a file of another kind may be one long line.
const SHOWN: usize = 100;

/// One problem.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ScriptProblem {
    /// The line, from 1; 0 for the file as a whole.
    pub line: usize,
    /// The column in characters, from 1; 0 for the file as a whole.
    pub column: usize,
    /// How many characters are meant.
    pub width: usize,
    /// The line itself.
    pub source: String,
    /// What is wrong.
    pub message: String,
    /// What was found.
    pub found: String,
    /// What is allowed there.
    pub allowed: String,
    /// How to mend it.
    pub mend: String,
}

impl ScriptProblem {
    /// A problem of the file as a whole.
    pub fn of_file(message: &str) -> ScriptProblem {
        ScriptProblem {
            message: message.to_string(),
            ..ScriptProblem::default()
        }
    }
}

impl fmt::Display for ScriptProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "{}", self.message)?;
        if self.line > 0 && self.column > 0 {
            let number = self.line.to_string();
            writeln!(f, "  {number} | {}", shown(&self.source))?;
            if self.column <= SHOWN {
                let width = self.width.clamp(1, SHOWN + 1 - self.column);
                writeln!(
                    f,
                    "  {:pad$} | {:indent$}{}",
                    "",
                    "",
                    "^".repeat(width),
                    pad = number.len(),
                    indent = self.column - 1
                )?;
            }
        }
        writeln!(f, "  found: {}", shown(&self.found))?;
        writeln!(f, "  allowed: {}", self.allowed)?;
        write!(f, "  mend: {}", self.mend)
    }
}

/// Cut short and without characters that would move the caret or the terminal.
fn shown(text: &str) -> String {
    let mut shown: String = text
        .chars()
        .take(SHOWN)
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    if text.chars().nth(SHOWN).is_some() {
        shown.push_str("...");
    }
    shown.truncate(shown.trim_end().len());
    shown
}

/// Everything that is wrong with one script.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ScriptProblems {
    file: String,
    problems: Vec<ScriptProblem>,
}

impl ScriptProblems {
    /// The problems of `file`.
    pub fn new(file: &str, problems: Vec<ScriptProblem>) -> ScriptProblems {
        ScriptProblems {
            file: file.to_string(),
            problems,
        }
    }

    /// The problems, by line.
    pub fn list(&self) -> &[ScriptProblem] {
        &self.problems
    }

    /// The file's name as it was given.
    pub fn file(&self) -> &str {
        &self.file
    }
}

impl fmt::Display for ScriptProblems {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, problem) in self.problems.iter().enumerate() {
            if index > 0 {
                writeln!(f)?;
            }
            match problem.line {
                0 => write!(f, "{}: {problem}", self.file)?,
                line => write!(f, "{}:{line}:{}: {problem}", self.file, problem.column)?,
            }
        }
        Ok(())
    }
}

impl std::error::Error for ScriptProblems {}
