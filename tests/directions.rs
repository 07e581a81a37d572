//! `stillhand directions` as a command: the bench rig, a scripted pad that holds the press, and typed answers.

use std::fs;
use std::io::Write;
use std::path::PathBuf;
use std::process::{Command, Output, Stdio};
use stillhand::profile::{Source, builtin, load_rig};

/// Holds the press for each of three axes in turn: each takes 0.6 s and under 3 s of motion, and the next press
/// counts only after it was let go.
const HAND: &str = "0.000 ABS_RX 0\n\
                    0.500 BTN_DPAD_UP 1\n5.000 BTN_DPAD_UP 0\n\
                    5.500 BTN_DPAD_UP 1\n10.00 BTN_DPAD_UP 0\n\
                    10.50 BTN_DPAD_UP 1\n15.00 BTN_DPAD_UP 0\n";

struct Place(tempfile::TempDir);

impl Place {
    fn new() -> Place {
        let folder = tempfile::tempdir().expect("a folder");
        let place = Place(folder);
        fs::write(place.path("hall.toml"), builtin::BENCH_RIG.source().text).expect("written");
        fs::write(place.path("hand.pad"), HAND).expect("written");
        place
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn rig(&self) -> String {
        fs::read_to_string(self.path("hall.toml")).expect("there")
    }

    fn directions(&self, answers: &str, more: &[&str]) -> Output {
        let mut child = Command::new(env!("CARGO_BIN_EXE_stillhand"))
            .args(["directions", "--port", "sim", "--pad", "script:hand.pad"])
            .args(["--socket", "off", "--no-watch"])
            .args(more)
            .current_dir(self.0.path())
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("it runs");
        let mut typed = child.stdin.take().expect("piped");
        typed.write_all(answers.as_bytes()).expect("it listens");
        // The end of what is typed comes at once: lines before it still count.
        drop(typed);
        child.wait_with_output().expect("it ends")
    }
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

#[test]
fn a_file_that_is_right_stays_as_it_is() {
    let place = Place::new();
    let before = place.rig();
    let out = place.directions("right\nup\nyes\n", &["--rig", "hall.toml", "--write"]);
    let told = text(&out.stderr);
    assert_eq!(out.status.code(), Some(0), "{told}");
    assert_eq!(text(&out.stdout), "pan: right\ntilt: right\nslide: right\n");
    for words in [
        "keep clear",
        "pan will move a little: watch the picture, and keep dpad-up held",
        "tilt: which way did the picture look? up, down, again, skip",
        "slide: was that the way you call plus?",
    ] {
        assert!(told.contains(words), "no \"{words}\":\n{told}");
    }
    assert_eq!(place.rig(), before);
    assert!(!place.path("hall.toml.before").exists());
}

/// Nothing is written unless asked for; then only what is wrong, and the old file is kept.
#[test]
fn what_is_wrong_is_proposed_and_written_only_if_asked() {
    let place = Place::new();
    let before = place.rig();
    let typed = "what?\nleft\nup\nskip\n";
    let out = place.directions(typed, &["--rig", "hall.toml"]);
    let told = text(&out.stderr);
    assert_eq!(out.status.code(), Some(1), "{told}");
    assert!(
        told.contains("\"what?\" is no answer. pan: which way did the picture look?"),
        "{told}"
    );
    assert!(
        told.contains("nothing was written; --write does it"),
        "{told}"
    );
    let line = "[axis.pan]\n  reverse = true     # was not there";
    assert!(text(&out.stdout).contains(line), "{}", text(&out.stdout));
    assert_eq!(place.rig(), before);

    let out = place.directions(
        "no\n",
        &["--rig", "hall.toml", "--axis", "slide", "--write"],
    );
    let told = text(&out.stderr);
    assert_eq!(out.status.code(), Some(0), "{told}");
    let kept = fs::read_to_string(place.path("hall.toml.before")).expect("kept");
    assert_eq!(kept, before);
    let read = |text: &str| load_rig(&Source::new("", text)).expect("good").rig;
    let (old, new) = (read(&before), read(&place.rig()));
    let turned: Vec<bool> = old
        .axes
        .iter()
        .zip(new.axes.iter())
        .map(|(a, b)| a.sense != b.sense)
        .collect();
    assert_eq!(turned, [false, false, true]);
}

#[test]
fn what_can_not_be_is_refused_before_anything_moves() {
    let place = Place::new();
    for (more, words) in [
        (&["--write"][..], "the built-in rig file can't be written"),
        (
            &["--axis", "roll"],
            "has no such axis; it has pan, tilt, slide",
        ),
    ] {
        let out = place.directions("", more);
        assert_eq!(out.status.code(), Some(2), "{more:?}");
        assert!(text(&out.stderr).contains(words), "{}", text(&out.stderr));
    }
    // Nobody there to answer.
    let out = place.directions("", &["--axis", "pan"]);
    assert_eq!(out.status.code(), Some(1));
    assert!(
        text(&out.stderr).contains("nobody answers"),
        "{}",
        text(&out.stderr)
    );
}
