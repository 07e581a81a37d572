//! The words of a line, and names that were nearly right.

use super::ScriptProblem;

/// One word of a line and where it stands.
#[derive(Clone, Copy, Debug)]
pub struct Word<'a> {
    /// Its letters.
    pub text: &'a str,
    /// Its line, from 1.
    pub line: usize,
    /// In characters, from 1.
    column: usize,
    source: &'a str,
}

impl<'a> Word<'a> {
    /// The words of a line up to its remark.
    pub fn split(line: usize, source: &'a str) -> Vec<Word<'a>> {
        let said = source.split('#').next().unwrap_or_default();
        let mut words = Vec::new();
        let mut start = None;
        for (index, letter) in said.char_indices().chain([(said.len(), ' ')]) {
            match (letter.is_whitespace(), start) {
                (false, None) => start = Some(index),
                (true, Some(from)) => {
                    words.push(Word {
                        text: &said[from..index],
                        column: said[..from].chars().count() + 1,
                        line,
                        source,
                    });
                    start = None;
                }
                _ => {}
            }
        }
        words
    }

    /// The whole line it stands in.
    pub fn source_line(&self) -> &'a str {
        self.source
    }

    /// A problem at this word.
    pub fn problem(&self, message: &str, allowed: &str, mend: &str) -> ScriptProblem {
        ScriptProblem {
            line: self.line,
            column: self.column,
            width: self.text.chars().count(),
            source: self.source.to_string(),
            message: message.to_string(),
            found: self.text.to_string(),
            allowed: allowed.to_string(),
            mend: mend.to_string(),
        }
    }
}

/// The one of `names` most like `text`, if one is near enough to be meant.
pub fn nearest<'n>(text: &str, names: impl IntoIterator<Item = &'n str>) -> Option<&'n str> {
    let text = text.to_ascii_uppercase();
    names
        .into_iter()
        .map(|name| (changes(&text, &name.to_ascii_uppercase()), name))
        .filter(|(changes, _)| *changes <= 2)
        .min()
        .map(|(_, name)| name)
}

/// How many letters must be added, removed or replaced (Levenshtein's distance); more than a
/// dozen letters apart in length are not counted out.
fn changes(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    if a.len() > b.len() + 12 {
        return a.len();
    }
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.chars().enumerate() {
        let mut corner = row[0];
        row[0] = i + 1;
        for (j, y) in b.iter().enumerate() {
            let best = (corner + usize::from(x != *y)).min(row[j] + 1);
            corner = row[j + 1];
            row[j + 1] = best.min(corner + 1);
        }
    }
    row[b.len()]
}
