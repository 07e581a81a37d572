//! What is to be changed in a rig file whose axes go the wrong way.

use crate::profile::{RigFile, Source, edit, load_rig};
use std::fmt::Write;
use stillhand_engine::rig::{Picture, Sense, Travel};

/// What somebody saw.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in super::super) enum Looked {
    Right,
    Wrong,
    Skipped,
}

impl Looked {
    pub(in super::super) const fn of(right: bool) -> Looked {
        if right { Looked::Right } else { Looked::Wrong }
    }

    pub(in super::super) const fn text(self) -> &'static str {
        match self {
            Looked::Right => "right",
            Looked::Wrong => "the wrong way round",
            Looked::Skipped => "not tested",
        }
    }
}

/// A line to change.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in super::super) struct Change {
    /// Its table.
    pub path: Vec<String>,
    pub key: &'static str,
    pub value: String,
    /// What stands there; `None` if nothing does.
    pub was: Option<String>,
}

/// What mends these axes: the mount, if it is pan and tilt alike, as when a head hangs upside down; otherwise each
/// axis's own sign.
pub(in super::super) fn changes(file: &RigFile, wrong: &[usize], text: &str) -> Vec<Change> {
    let of = |picture: Picture| -> Vec<usize> {
        let axes = 0..file.rig.axes.len();
        axes.filter(|axis| file.pictures[*axis] == picture)
            .collect()
    };
    let (pans, tilts) = (of(Picture::Pan), of(Picture::Tilt));
    let turned: Vec<usize> = [pans.clone(), tilts.clone()].concat();
    let all_wrong = turned.iter().all(|axis| wrong.contains(axis));
    let was = edit::text_of(text, &["rig"], "mount");
    let other = match was.as_deref() {
        None | Some("\"upright\"") => Some("\"underslung\""),
        Some("\"underslung\"") => Some("\"upright\""),
        Some(_) => None,
    };
    let mut changes = Vec::new();
    let mut left = wrong.to_vec();
    if let Some(other) = other.filter(|_| all_wrong && !pans.is_empty() && !tilts.is_empty()) {
        left.retain(|axis| !turned.contains(axis));
        changes.push(Change {
            path: vec!["rig".to_owned()],
            key: "mount",
            value: other.to_owned(),
            was,
        });
    }
    for axis in left {
        let path = vec!["axis".to_owned(), file.rig.axes[axis].name.clone()];
        let was = edit::text_of(text, &["axis", &file.rig.axes[axis].name], "reverse");
        changes.push(Change {
            value: (was.as_deref() != Some("true")).to_string(),
            path,
            key: "reverse",
            was,
        });
    }
    changes
}

/// The changes as lines of a file, and what else they mean.
pub(in super::super) fn told(file: &RigFile, changes: &[Change], wrong: &[usize]) -> String {
    let mut text = String::from("change in the rig file:\n");
    for change in changes {
        let was = change.was.as_deref().unwrap_or("not there");
        // Writing to a text can't fail.
        let _ = writeln!(
            text,
            "  [{}]\n  {} = {}     # was {was}",
            change.path.join("."),
            change.key,
            change.value
        );
    }
    for axis in wrong {
        let axis = &file.rig.axes[*axis];
        if let Travel::Finite(ends) = axis.travel
            && ends.low().0 != -ends.high().0
        {
            let _ = writeln!(
                text,
                "{}: its travel, {} to {} {}, then counts the other way: look at both ends before you trust it",
                axis.name,
                ends.low().0,
                ends.high().0,
                axis.unit.symbol()
            );
        }
    }
    text
}

/// The text with the changes in it; `None` unless it is a good file then, in which those axes and no others are
/// turned round.
pub(in super::super) fn edited(
    file: &RigFile,
    text: &str,
    changes: &[Change],
    wrong: &[usize],
) -> Option<String> {
    let mut new = text.to_owned();
    for change in changes {
        let path: Vec<&str> = change.path.iter().map(String::as_str).collect();
        new = edit::set(&new, &path, change.key, &change.value)?;
    }
    let read = load_rig(&Source::new("", new.clone())).ok()?;
    let same = edit::is_but_for(&read, file, |place, axis| {
        if wrong.contains(&place) {
            axis.sense = axis.sense.then(Sense::Opposite);
        }
    });
    same.then_some(new)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile::builtin;

    fn bench() -> (RigFile, String) {
        let source = builtin::BENCH_RIG.source();
        (load_rig(&source).expect("shipped"), source.text)
    }

    fn lines(changes: &[Change]) -> Vec<String> {
        let line = |c: &Change| format!("{}.{} = {}", c.path.join("."), c.key, c.value);
        changes.iter().map(line).collect()
    }

    #[test]
    fn an_axis_by_itself_is_reversed_and_nothing_else_changes() {
        let (file, text) = bench();
        for wrong in [vec![0], vec![1], vec![2], vec![0, 2]] {
            let changes = changes(&file, &wrong, &text);
            assert_eq!(changes.len(), wrong.len());
            assert!(
                changes
                    .iter()
                    .all(|c| c.key == "reverse" && c.value == "true")
            );
            let new = edited(&file, &text, &changes, &wrong).expect("it can be");
            let again = load_rig(&Source::new("", new.clone())).expect("good");
            for (place, (old, new)) in file.rig.axes.iter().zip(again.rig.axes.iter()).enumerate() {
                assert_eq!(old.sense != new.sense, wrong.contains(&place), "{place}");
            }
            // What was said stays said, and turned round once more it is as it was.
            let kept = |text: &str| text.lines().filter(|line| line.contains('#')).count();
            assert_eq!(kept(&new), kept(&text));
            let back = super::changes(&again, &wrong, &new);
            assert!(
                back.iter()
                    .all(|c| c.value == "false" && c.was.as_deref() == Some("true"))
            );
        }
    }

    #[test]
    fn pan_and_tilt_alike_are_a_mount() {
        let (file, text) = bench();
        let both = changes(&file, &[0, 1], &text);
        assert_eq!(lines(&both), ["rig.mount = \"underslung\""]);
        let new = edited(&file, &text, &both, &[0, 1]).expect("it can be");
        let hung = load_rig(&Source::new("", new.clone())).expect("good");
        assert_eq!(
            lines(&changes(&hung, &[0, 1], &new)),
            ["rig.mount = \"upright\""]
        );
        let three = changes(&file, &[0, 1, 2], &text);
        assert_eq!(
            lines(&three),
            ["rig.mount = \"underslung\"", "axis.slide.reverse = true"]
        );
        // One laid on its side turns only one of them round by its mount.
        let side = text.replace("mount = \"upright\"", "mount = \"side\"");
        let on_side = load_rig(&Source::new("", side.clone())).expect("good");
        let both = changes(&on_side, &[0, 1], &side);
        assert_eq!(
            lines(&both),
            ["axis.pan.reverse = true", "axis.tilt.reverse = true"]
        );
    }

    #[test]
    fn ends_that_are_not_alike_are_told_of() {
        let (file, text) = bench();
        let told = |wrong: &[usize]| told(&file, &changes(&file, wrong, &text), wrong);
        assert!(told(&[2]).contains("slide: its travel, 0 to 1200 mm, then counts the other way"));
        assert!(!told(&[0]).contains("travel"));
    }
}
