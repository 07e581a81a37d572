//! The files stillhand ships, inside the program, so that it runs before anyone has written one.

use super::Source;

/// A shipped file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Builtin {
    /// What to call it on the command line.
    pub name: &'static str,
    /// What is in it.
    pub text: &'static str,
}

impl Builtin {
    /// The file as a source, named as one that was not read from a disk.
    pub fn source(&self) -> Source {
        Source::new(format!("built-in {}", self.name), self.text)
    }
}

/// The simulated rig.
pub const BENCH_RIG: Builtin = Builtin {
    name: "bench",
    text: include_str!("../../profiles/bench.toml"),
};

/// The interview: slow gears, soft ends.
pub const TALK: Builtin = Builtin {
    name: "talk",
    text: include_str!("../../profiles/talk.toml"),
};

/// The live concert: quick hands.
pub const CONCERT: Builtin = Builtin {
    name: "concert",
    text: include_str!("../../profiles/concert.toml"),
};

/// The table-top close-ups: creeping.
pub const INSTRUMENTS: Builtin = Builtin {
    name: "instruments",
    text: include_str!("../../profiles/instruments.toml"),
};

/// All built-in operator profiles, the default first.
pub const OPERATORS: [Builtin; 3] = [TALK, CONCERT, INSTRUMENTS];
