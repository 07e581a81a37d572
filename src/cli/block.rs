//! Lines at the bottom of a terminal that are rewritten in place.

use std::fmt::Write as _;
use std::io::Write as _;

/// The lines on stderr; nothing yet.
#[derive(Debug, Default)]
pub(super) struct Block {
    drawn: usize,
}

impl Block {
    /// Shows these lines, each narrower than the terminal, in place of those before.
    pub(super) fn show(&mut self, lines: &[String]) {
        let mut text = self.to_the_top();
        for (place, line) in lines.iter().enumerate() {
            let begin = if place == 0 { "" } else { "\r\n" };
            // What clears the rest of it; the cursor stays behind the last.
            let _ = write!(text, "{begin}{line}\x1b[K");
        }
        if lines.len() < self.drawn {
            text.push_str("\x1b[J");
        }
        // A terminal that is gone is told nothing.
        let _ = std::io::stderr().write_all(text.as_bytes());
        let _ = std::io::stderr().flush();
        self.drawn = lines.len();
    }

    /// So many lines were typed, each of which took the cursor one further down.
    pub(super) fn pushed(&mut self, lines: usize) {
        if self.drawn > 0 {
            self.drawn += lines;
        }
    }

    /// Takes them off the screen, so that something else can be said.
    pub(super) fn clear(&mut self) {
        if self.drawn > 0 {
            let text = format!("{}\x1b[J", self.to_the_top());
            let _ = std::io::stderr().write_all(text.as_bytes());
            self.drawn = 0;
        }
    }

    /// What brings the cursor back to where they begin.
    fn to_the_top(&self) -> String {
        match self.drawn {
            0 => String::new(),
            1 => "\r".to_owned(),
            more => format!("\r\x1b[{}A", more - 1),
        }
    }
}
