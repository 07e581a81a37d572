//! Scenes that once broke a law: each plays, and the laws hold.
//!
//! `stillhand soak` writes a file into `tests/breaches` when it finds a breach and is run in this folder.
//! What its lines mean stands in `src/soak/session/text.rs`; `stillhand soak --play FILE` plays one alone,
//! with `TELL=1` it tells its story.

use std::fs;
use std::path::{Path, PathBuf};
use stillhand::soak::session::act::Scene;
use stillhand::soak::session::stage::replay;

fn scenes() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/breaches");
    let entries = fs::read_dir(folder).expect("the folder of scenes");
    let paths = entries.map(|entry| entry.expect("an entry").path());
    let mut paths: Vec<PathBuf> = paths
        .filter(|path| path.extension().is_some_and(|end| end == "scene"))
        .collect();
    paths.sort();
    paths
}

#[test]
fn what_once_broke_a_law_breaks_none() {
    let paths = scenes();
    assert!(!paths.is_empty(), "no scene was played");
    let mut broken = Vec::new();
    for path in paths {
        let name = path.display();
        let text = fs::read_to_string(&path).expect("a text");
        let scene = Scene::read(&text).unwrap_or_else(|problem| panic!("{name}, {problem}"));
        if let Err(breach) = replay(&scene) {
            broken.push(format!("{name}: {breach}"));
        }
    }
    assert!(broken.is_empty(), "{}", broken.join("\n"));
}
