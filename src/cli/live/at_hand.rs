//! The operators at hand: the profiles of a folder, or the built-in ones.
//!
//! The folder is read anew each time one is asked for, so that what was just saved is there. One is known
//! by the `name` in its file; a file that can't be read as a profile, by its own name without `.toml`.

use super::{Hands, hands_of, short, worded};
use crate::cli::files;
use crate::profile::{Kind, RigFile, Source, builtin, nearest};
use std::path::{Path, PathBuf};

/// Files of a folder that are looked at, the first by their names: ten times as many as anyone keeps.
const MOST: usize = 200;

/// Where operators are looked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in super::super) enum AtHand {
    /// Among those inside the program.
    BuiltIn,
    /// Among the `.toml` files of this folder.
    Folder(PathBuf),
}

/// A file among them, in the order of their names.
struct Entry {
    path: Option<PathBuf>,
    /// What it is called by whoever asks for it.
    name: String,
    found: Result<Hands, String>,
}

impl Entry {
    fn of(source: &Source, path: Option<PathBuf>, stem: String, rig: &RigFile) -> Entry {
        match hands_of(source, path.clone(), rig) {
            Ok(hands) => Entry {
                path,
                name: hands.operator.name.clone(),
                found: Ok(hands),
            },
            Err(problems) => Entry {
                path,
                name: stem,
                found: Err(worded(&problems, "it is not taken").1),
            },
        }
    }

    /// Whether it is the file these hands came from.
    fn is_from(&self, hands: &Hands) -> bool {
        match &self.path {
            Some(_) => self.path == hands.path,
            None => hands.path.is_none() && self.name == hands.operator.name,
        }
    }
}

impl AtHand {
    /// The operators beside a profile: those of its folder, or the built-in ones if it is one.
    pub(in super::super) fn beside(profile: Option<&Path>) -> AtHand {
        let folder = |path: &Path| match path.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => folder.to_path_buf(),
            _ => PathBuf::from("."),
        };
        profile.map_or(AtHand::BuiltIn, |path| AtHand::Folder(folder(path)))
    }

    /// The one of this name, held against the rig.
    ///
    /// # Errors
    /// Why there is none, with the names there are; or its problems, with their carets.
    pub(in super::super) fn named(
        &self,
        name: &str,
        rig: &RigFile,
        present: Option<&Hands>,
    ) -> Result<Hands, String> {
        let entries = self.entries(rig)?;
        let mut own = entries.iter().filter(|entry| entry.name == name);
        let Some(entry) = own.next() else {
            return Err(self.unknown(name, &entries));
        };
        if let Some(twin) = own.next() {
            return Err(twins(name, entry.path.as_deref(), twin.path.as_deref()));
        }
        let hands = entry.found.clone()?;
        match present {
            // It would count as an edit of the one in force, and need not wait for rest.
            Some(present) if present.operator.name == name && !entry.is_from(present) => {
                Err(twins(name, present.path.as_deref(), entry.path.as_deref()))
            }
            _ => Ok(hands),
        }
    }

    /// The one after these, round and round, or why there is none; and why others were passed over.
    pub(in super::super) fn next(
        &self,
        rig: &RigFile,
        present: &Hands,
    ) -> (Result<Hands, String>, Vec<String>) {
        let mut passed = Vec::new();
        let entries = match self.entries(rig) {
            Ok(entries) => entries,
            Err(words) => return (Err(words), passed),
        };
        let own = entries.iter().position(|entry| entry.is_from(present));
        let (before, later) = entries.split_at(own.map_or(0, |place| place + 1));
        for entry in later.iter().chain(before) {
            match &entry.found {
                Err(words) => passed.push(words.clone()),
                // Itself, or one that can't be told from it.
                Ok(hands) if hands.operator.name == present.operator.name => {}
                Ok(hands) => return (Ok(hands.clone()), passed),
            }
        }
        let none = format!("there is no other operator {}", self.place());
        (Err(none), passed)
    }

    /// All of them, in words.
    ///
    /// # Errors
    /// The folder can't be read.
    pub(in super::super) fn list(&self, rig: &RigFile, present: &Hands) -> Result<String, String> {
        let entries = self.entries(rig)?;
        let word = |entry: &Entry| match &entry.found {
            Err(_) => format!("{} (has problems)", entry.name),
            Ok(hands) if hands.operator.name == present.operator.name => {
                format!("{} (chosen)", entry.name)
            }
            Ok(_) => entry.name.clone(),
        };
        let words: Vec<String> = entries.iter().map(word).collect();
        match words.is_empty() {
            true => Err(format!("there is no operator {}", self.place())),
            false => Ok(words.join(", ")),
        }
    }

    /// The first one.
    ///
    /// # Errors
    /// There is none, or it has problems.
    pub(in super::super) fn first(&self, rig: &RigFile) -> Result<Hands, String> {
        let entries = self.entries(rig)?;
        let first = entries.into_iter().next();
        first.map_or_else(
            || Err(format!("there is no operator {}", self.place())),
            |entry| entry.found,
        )
    }

    /// `in profiles`, for sentences.
    fn place(&self) -> String {
        match self {
            AtHand::BuiltIn => "built in".to_owned(),
            AtHand::Folder(folder) => format!("in {}", folder.display()),
        }
    }

    fn unknown(&self, name: &str, entries: &[Entry]) -> String {
        let names: Vec<&str> = entries.iter().map(|entry| entry.name.as_str()).collect();
        let place = self.place();
        if names.is_empty() {
            return format!("there is no operator {name} {place}, and no other one");
        }
        let near = nearest(name, names.iter().copied())
            .map_or(String::new(), |near| format!("; did you mean {near}?"));
        format!(
            "there is no operator {name} {place}: there is {}{near}",
            names.join(", ")
        )
    }

    fn entries(&self, rig: &RigFile) -> Result<Vec<Entry>, String> {
        let AtHand::Folder(folder) = self else {
            let builtin = builtin::OPERATORS.iter();
            let entry =
                |one: &builtin::Builtin| Entry::of(&one.source(), None, one.name.to_owned(), rig);
            return Ok(builtin.map(entry).collect());
        };
        let files = std::fs::read_dir(folder)
            .map_err(|error| format!("{}: the folder can't be read: {error}", folder.display()))?;
        let mut paths: Vec<PathBuf> = files.flatten().map(|file| file.path()).collect();
        paths.retain(|path| path.extension().is_some_and(|e| e == "toml"));
        paths.sort();
        paths.truncate(MOST);
        let entry = |path: PathBuf| {
            let stem = path.file_stem()?.to_string_lossy().into_owned();
            let source = files::read(&path);
            match source {
                // Rig files, quiet files and others are no operators; what can't be told apart may be one.
                Ok(source) => match Kind::of(&source) {
                    Ok(Kind::Operator) => Some(Entry::of(&source, Some(path), stem, rig)),
                    Ok(Kind::Rig | Kind::Quiet | Kind::Trim) | Err(_) => None,
                },
                Err(problems) => Some(Entry {
                    path: Some(path),
                    name: stem,
                    found: Err(worded(&problems, "it is not taken").1),
                }),
            }
        };
        Ok(paths.into_iter().filter_map(entry).collect())
    }
}

fn twins(name: &str, one: Option<&Path>, other: Option<&Path>) -> String {
    let file = |path: Option<&Path>| path.map_or("a built-in one".to_owned(), short);
    format!(
        "two operators are called {name}: {} and {}; give one of them another `name`",
        file(one),
        file(other)
    )
}
