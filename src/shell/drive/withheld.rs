//! The summary's list of withheld motion.

use stillhand_engine::output::State;

/// Rows of the list; further entries are not kept.
const MOST: usize = 256;

/// Each time motion began to be withheld.
#[derive(Debug)]
pub(super) struct Withheld {
    rows: Vec<(f64, State)>,
    /// The last entry, until the rig is driven again.
    present: Option<State>,
}

impl Default for Withheld {
    fn default() -> Withheld {
        Withheld {
            rows: Vec::with_capacity(MOST),
            present: None,
        }
    }
}

impl Withheld {
    /// Adds a row where motion began to be withheld, or is withheld for another reason now. `at` is in
    /// seconds since time zero.
    pub(super) fn note(&mut self, at: f64, state: State) {
        let begins = match (self.present, state) {
            (_, State::Driving | State::Ending) => {
                self.present = None;
                false
            }
            (Some(State::Stopped(_)), State::Stopped(_)) => false,
            (
                Some(State::NoLink(before) | State::NoPad(before) | State::Withheld(before)),
                State::NoLink(why) | State::NoPad(why) | State::Withheld(why),
            ) => before != why,
            (Some(State::Still), State::Still) => false,
            (
                _,
                State::Stopped(_)
                | State::NoLink(_)
                | State::NoPad(_)
                | State::Withheld(_)
                | State::Still,
            ) => true,
        };
        if begins {
            self.present = Some(state);
            if self.rows.len() < MOST {
                self.rows.push((at, state));
            }
        }
    }

    /// The list.
    pub(super) fn rows(self) -> Vec<(f64, State)> {
        self.rows
    }
}
