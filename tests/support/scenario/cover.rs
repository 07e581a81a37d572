//! Which rows of the program's own lists a story expects: states, reasons, sentences, ceilings, turns of
//! the state machine, presses.
//!
//! A row counts when an expectation about it was met, never because it happened to come by.

use super::presses::Presses;
use std::collections::BTreeSet;
use stillhand::cli::words::{self, About};
use stillhand_engine::operate::state::{EVENTS, STATES, number, rows};
use stillhand_engine::output::{Ceiling, Notice, Outputs, State};
use stillhand_engine::time::Time;

/// A row, as failures name it.
pub type Row = String;

/// A notice that was given.
pub struct Given {
    pub text: String,
    notice: Notice,
    /// What of it depends on the story is left out.
    template: String,
    /// The presses that led to it.
    presses: Vec<Row>,
}

impl Given {
    pub fn new(notice: Notice, about: &About, presses: Vec<Row>) -> Given {
        let (_, text) = words::notice(notice, about);
        Given {
            template: template(&text, about),
            text,
            notice,
            presses,
        }
    }
}

/// What has been expected so far, and what could be next.
#[derive(Default)]
pub struct Cover {
    pub rows: BTreeSet<Row>,
    /// Turns of the state machine since the state was last expected.
    turns: Vec<[usize; 3]>,
    /// The presses that led to the state entered last.
    entered: Vec<Row>,
}

impl Cover {
    /// A tick is over.
    pub fn tick(&mut self, outputs: &Outputs) {
        self.turns.extend(rows(&outputs.turns));
        self.turns.sort_unstable();
        self.turns.dedup();
    }

    pub fn given(&mut self, given: &Given) {
        if matches!(given.notice, Notice::Entered(_)) {
            self.entered.clone_from(&given.presses);
        }
    }

    /// The state was expected, and so it is.
    pub fn state(&mut self, state: State) {
        self.rows.insert(state_row(state));
        self.rows.insert(why_row(state));
        self.turns_to(state);
        self.turns.clear();
        self.rows.append(&mut self.entered.drain(..).collect());
    }

    fn turns_to(&mut self, state: State) {
        let here = self.turns.iter().filter(|row| row[2] == number(state));
        self.rows.extend(here.map(turn_row));
    }

    /// The very words of the status were expected, and so they are.
    pub fn says(&mut self, text: &str, state: State, about: &About) {
        self.rows.insert(sentence_row(&template(text, about)));
        self.state(state);
    }

    /// The very words of a notice were expected, and so they were.
    pub fn told(&mut self, given: &Given) {
        self.rows.insert(sentence_row(&given.template));
        self.rows.extend(given.presses.iter().cloned());
        if let Notice::Entered(state) = given.notice {
            self.rows.insert(state_row(state));
            self.rows.insert(why_row(state));
            self.turns_to(state);
        }
    }

    pub fn binding(&mut self, ceiling: Ceiling) {
        self.rows.insert(ceiling_row(ceiling));
    }

    /// Inching was expected on an axis, and it moves by it.
    pub fn inching(&mut self, now: Time, axis: usize, moves: bool, presses: &Presses) {
        self.rows.extend(presses.inching(now, axis, moves));
    }
}

pub fn state_row(state: State) -> Row {
    format!("state {}", words::state(state))
}

pub fn why_row(state: State) -> Row {
    format!("why {:?}", words::why(state))
}

pub fn ceiling_row(ceiling: Ceiling) -> Row {
    format!("binding {}", ceiling.name())
}

pub fn turn_row(row: &[usize; 3]) -> Row {
    let [before, event, after] = *row;
    let (before, event, after) = (STATES[before], EVENTS[event], STATES[after]);
    format!("turn {before} + {event} -> {after}")
}

pub fn sentence_row(template: &str) -> Row {
    format!("sentence \"{template}\"")
}

/// A sentence without what depends on the story: the names of axes and groups, numbers of pads, figures.
pub fn template(text: &str, about: &About) -> String {
    let axes: Vec<&str> = about.rig.axes.iter().map(|a| a.name.as_str()).collect();
    let groups: Vec<&str> = about.operator.groups.iter().map(String::as_str).collect();
    let word = |word: &str| {
        let before = if word.starts_with('(') { "(" } else { "" };
        let bare = word[before.len()..].trim_end_matches([':', ',', ';', '.']);
        let behind = &word[before.len() + bare.len()..];
        let kept = match bare {
            _ if axes.contains(&bare) => "AXIS",
            _ if groups.contains(&bare) => "GROUP",
            _ if bare.parse::<f64>().is_ok() => "#",
            other => other,
        };
        format!("{before}{kept}{behind}")
    };
    let only = groups.first().filter(|_| groups.len() == 1);
    let text = only.map_or(text.to_owned(), |all| text.replace(all, "GROUP"));
    let words: Vec<String> = text.split(' ').map(word).collect();
    words.join(" ")
}
