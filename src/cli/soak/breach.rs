//! A world that broke a law: what is said of it, and the scene that is kept of it.

use super::Outcome;
use crate::soak::session::act::Scene;
use crate::soak::session::shrink::shrink;
use crate::soak::session::stage::{Breach, replay};
use std::path::{Path, PathBuf};

/// Where scenes go unless it is said, if it exists: their test plays whatever lies there.
const FOLDER: &str = "tests/breaches";

/// A world that broke a law.
pub(super) struct Broken {
    pub seed: u64,
    breach: Breach,
    /// The scene made small, as text.
    text: Option<String>,
}

impl Broken {
    /// One of which only the seed is told.
    pub fn plain(seed: u64, breach: Breach) -> Broken {
        Broken {
            seed,
            breach,
            text: None,
        }
    }

    /// One whose scene is made small.
    pub fn shrunk(seed: u64, scene: &Scene, breach: &Breach) -> Broken {
        let shrunk = shrink(scene, breach);
        let mut remarks = vec![format!("From seed {seed}; broke when it was written:")];
        remarks.extend(shrunk.breach.words.lines().map(str::to_owned));
        remarks.push(format!(
            "Made small in {} tries: of {} the hands did {} are left, of {:.2} s {:.2}.",
            shrunk.tried,
            scene.done(),
            shrunk.scene.done(),
            scene.secs(),
            shrunk.scene.secs()
        ));
        Broken {
            seed,
            breach: breach.clone(),
            text: Some(shrunk.scene.write(&remarks)),
        }
    }

    /// What a person is told; the scene goes into the folder as well, if there is one.
    pub fn words(&self, folder: Option<&Path>) -> String {
        let mut words = format!("seed {}: {}", self.seed, self.breach);
        let Some(text) = &self.text else {
            return words;
        };
        words += &format!("\nmade small:\n{text}");
        if let Some(folder) = folder {
            words += &self.keep(folder, text);
        }
        words
    }

    fn keep(&self, folder: &Path, text: &str) -> String {
        let path = folder.join(format!("{}-{}.scene", self.breach.law, self.seed));
        match std::fs::create_dir_all(folder).and_then(|()| std::fs::write(&path, text)) {
            Ok(()) => format!("written to {}", path.display()),
            Err(error) => format!(
                "it could not be written to {}: {error}; name a folder that can be written with --write",
                path.display()
            ),
        }
    }
}

/// Where scenes are written.
pub(super) fn folder(asked: Option<&Path>) -> Option<PathBuf> {
    let usual = Path::new(FOLDER);
    match asked {
        Some(folder) => Some(folder.to_owned()),
        None => usual.is_dir().then(|| usual.to_owned()),
    }
}

/// Plays a scene that was written; code 1 if it breaks a law, 2 if it is none.
pub(super) fn play(path: &Path) -> Outcome {
    let name = path.display();
    let text = match std::fs::read_to_string(path) {
        Ok(text) => text,
        Err(error) => {
            return Outcome::bad_file(format!(
                "{name} can't be read: {error}; name a file that `stillhand soak` wrote"
            ));
        }
    };
    let scene = match Scene::read(&text) {
        Ok(scene) => scene,
        Err(problem) => return Outcome::bad_file(format!("{name}, {problem}")),
    };
    match replay(&scene) {
        Ok(seen) => {
            println!("{name}: the laws hold over {} steps", seen.ticks);
            Outcome::good()
        }
        Err(breach) => Outcome::fault(format!("{name}: laws broken\n{breach}")),
    }
}
