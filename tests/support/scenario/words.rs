//! The words of one line, taken one after the other.

use stillhand::shell::lines::{ScriptProblem, Word, nearest};
use stillhand_engine::time::Span;

pub type Read<T> = Result<T, Box<ScriptProblem>>;

/// The words behind one.
pub struct Rest<'a, 'b> {
    before: Word<'a>,
    words: &'b [Word<'a>],
    line: &'a str,
}

impl<'a, 'b> Rest<'a, 'b> {
    pub fn new(before: Word<'a>, words: &'b [Word<'a>], line: &'a str) -> Rest<'a, 'b> {
        Rest {
            before,
            words,
            line,
        }
    }

    /// The word taken last.
    pub fn before(&self) -> Word<'a> {
        self.before
    }

    pub fn peek(&self) -> Option<&'a str> {
        self.words.first().map(|word| word.text)
    }

    pub fn next(&mut self, allowed: &str) -> Read<Word<'a>> {
        let Some((word, words)) = self.words.split_first() else {
            return Err(Box::new(self.before.problem(
                "something is missing behind this",
                allowed,
                &format!("write it behind `{}`", self.before.text),
            )));
        };
        (self.before, self.words) = (*word, words);
        Ok(*word)
    }

    pub fn choice<T: Clone>(&mut self, choices: &[(&str, T)]) -> Read<T> {
        let names = choices.iter().map(|(name, _)| *name);
        let allowed = names.clone().collect::<Vec<_>>().join(" or ");
        let word = self.next(&allowed)?;
        let found = choices.iter().find(|(name, _)| *name == word.text);
        found.map(|(_, value)| value.clone()).ok_or_else(|| {
            let like = nearest(word.text, names)
                .map_or_else(String::new, |name| format!("; did you mean {name}?"));
            Box::new(word.problem(
                "this word is not known here",
                &allowed,
                &format!("take one of them{like}"),
            ))
        })
    }

    pub fn number(&mut self) -> Read<f64> {
        let word = self.next("a number")?;
        let number = word.text.parse::<f64>().ok().filter(|n| n.is_finite());
        number.ok_or_else(|| {
            Box::new(word.problem(
                "this is no number",
                "a number",
                "write a number, with a point",
            ))
        })
    }

    pub fn whole(&mut self, low: u32, high: u32) -> Read<u32> {
        let allowed = format!("a whole number from {low} to {high}");
        let word = self.next(&allowed)?;
        let number = word.text.parse().ok();
        number.filter(|n| (low..=high).contains(n)).ok_or_else(|| {
            Box::new(word.problem("this is out of bounds", &allowed, "take one of them"))
        })
    }

    pub fn duration(&mut self) -> Read<Span> {
        let allowed = "a time such as 120ms or 1.5s, at most 60s";
        let word = self.next(allowed)?;
        let (number, scale) = match word.text.strip_suffix("ms") {
            Some(number) => (number, 1e-3),
            None => (word.text.strip_suffix('s').unwrap_or("?"), 1.0),
        };
        let seconds = number.parse::<f64>().ok().map(|n| n * scale);
        let seconds = seconds.filter(|s| (0.0..=60.0).contains(s));
        seconds.map(Span::from_secs_f64).ok_or_else(|| {
            Box::new(word.problem("this is no length of time", allowed, "write it in one word"))
        })
    }

    /// The text in quotes at the line's end, whose words are taken out.
    pub fn quoted(&mut self) -> Read<Option<String>> {
        let Some(place) = self.words.iter().position(|w| w.text.starts_with('"')) else {
            return Ok(None);
        };
        let (word, last) = (self.words[place], self.words[self.words.len() - 1]);
        self.words = &self.words[..place];
        let mut parts = self.line.splitn(2, '"');
        let text = parts.nth(1).and_then(|behind| behind.rsplit_once('"'));
        match text {
            Some((text, _)) if last.text.ends_with('"') => Ok(Some(text.to_owned())),
            _ => Err(Box::new(word.problem(
                "this text has no end, or something stands behind it",
                "\"...\" as the last thing of the line",
                "close the quotes",
            ))),
        }
    }

    pub fn wanted_quoted(&mut self) -> Read<String> {
        let before = self.before;
        self.quoted()?.ok_or_else(|| {
            Box::new(before.problem(
                "a text is missing behind this",
                "\"...\", any part of what is said",
                "write it in quotes",
            ))
        })
    }
}

/// Nothing may be left.
pub fn rest(words: &mut Rest<'_, '_>) -> Read<()> {
    match words.words.first() {
        None => Ok(()),
        Some(extra) => Err(Box::new(extra.problem(
            "there is something behind the end",
            "nothing more in this line",
            "remove it, or put `#` before a remark",
        ))),
    }
}
