//! Scenes that once broke a law: each plays, and the laws hold.
//!
//! `stillhand soak` writes a file into `tests/breaches` when it finds a breach and is run in this folder.
//! What its lines mean stands in `src/soak/session/text.rs`; `stillhand soak --play FILE` plays one alone,
//! with `TELL=1` it tells its story.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use stillhand::soak::session::act::Scene;
use stillhand::soak::session::stage::replay;

fn folder_of_scenes() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/breaches")
}

fn scenes() -> Vec<PathBuf> {
    let entries = fs::read_dir(folder_of_scenes()).expect("the folder of scenes");
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

#[test]
fn the_command_plays_a_scene_and_says_what_is_wrong_with_it() {
    let folder = tempfile::tempdir().expect("a folder");
    let text = fs::read_to_string(folder_of_scenes().join("dither.scene")).expect("a text");
    // The head, and the first hundred things that were done.
    let short: String = text
        .lines()
        .take(106)
        .map(|line| format!("{line}\n"))
        .collect();
    let play = |text: &str| {
        let path = folder.path().join("a.scene");
        fs::write(&path, text).expect("written");
        let mut command = Command::new(env!("CARGO_BIN_EXE_stillhand"));
        command.args(["soak", "--play"]).arg(&path);
        let done = command.output().expect("it runs");
        let words = [done.stdout, done.stderr].concat();
        (
            done.status.code(),
            String::from_utf8(words).expect("a text"),
        )
    };
    let (code, words) = play(&short);
    assert_eq!(code, Some(0), "{words}");
    assert!(words.contains("the laws hold over"), "{words}");
    let (code, words) = play(&(short.clone() + "pad 0 jump\n"));
    assert_eq!(code, Some(2), "{words}");
    assert!(words.contains("line 107: a pad does not `jump`"), "{words}");
    let (code, words) = play("");
    assert_eq!(code, Some(2), "{words}");
    assert!(words.contains("no line `rig ...`"), "{words}");
}
