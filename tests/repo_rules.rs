//! What the compiler can't enforce of how the sources are laid out.
//!
//! The engine's own rules are enforced elsewhere as well: no_std keeps std's transcendental functions
//! out of it, and `tools/test` has clippy refuse f64's min and max there whichever way they are called.

#[path = "support/sources.rs"]
mod sources;

use serde_json::Value;
use sources::{functions, modules, read, top, walk};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Longest source file, in lines.
const FILE_LINES: usize = 500;
/// Longest function, in lines, from its `fn` to its last brace.
const FUNCTION_LINES: usize = 70;
/// Longest one in tests, which may hold the table of its cases.
const TEST_FUNCTION_LINES: usize = 90;

/// All there may be at the top, besides what a build or git leaves there.
const AT_THE_TOP: [&str; 11] = [
    "Cargo.toml",
    "Cargo.lock",
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "src",
    "profiles",
    "tests",
    "tools",
    ".ci",
    ".gitignore",
];

/// What people or the system start or read themselves, so that no other file has to name it.
const FOR_PEOPLE: [&str; 7] = [
    "tools/run",
    "tools/test",
    "tools/bench",
    "tools/rehearsal-pad",
    "tools/survey-peer",
    "tools/udev/70-stillhand-pads.rules",
    "tools/systemd/stillhand.service",
];

/// Fails with all offences at once.
fn none(what: &str, offences: Vec<String>) {
    assert!(offences.is_empty(), "{what}:\n  {}", offences.join("\n  "));
}

/// The sources under these folders.
fn rust_files(folders: &[&str]) -> Vec<PathBuf> {
    let all = folders.iter().flat_map(|folder| walk(Path::new(folder)));
    all.filter(|path| path.extension().is_some_and(|e| e == "rs"))
        .collect()
}

fn all_rust_files() -> Vec<PathBuf> {
    let files = rust_files(&["src", "tests", "tools"]);
    assert!(files.len() > 50, "the sources are gone");
    files
}

/// Whether a file holds nothing but tests or their helpers.
fn of_tests(path: &Path) -> bool {
    path.file_stem().is_some_and(|stem| stem == "tests")
        || path.components().any(|part| part.as_os_str() == "tests")
}

/// `FILE:LINE: text` for each line of `files` that holds one of `words`.
fn lines_with(files: &[PathBuf], words: &[&str]) -> Vec<String> {
    let mut found = Vec::new();
    for path in files {
        for (number, line) in read(path).lines().enumerate() {
            if words.iter().any(|word| line.contains(word)) {
                found.push(format!(
                    "{}:{}: {}",
                    path.display(),
                    number + 1,
                    line.trim()
                ));
            }
        }
    }
    found
}

#[test]
fn only_the_agreed_entries_are_at_the_top() {
    let left_there = ["target", ".git"];
    let entries = std::fs::read_dir(top()).unwrap();
    let names = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap());
    let strangers = names.filter(|name| {
        let name = name.as_str();
        !AT_THE_TOP.contains(&name) && !left_there.contains(&name)
    });
    none("not agreed at the top", strangers.collect());
}

#[test]
fn no_file_is_too_long() {
    let long = all_rust_files().into_iter().filter_map(|path| {
        let lines = read(&path).lines().count();
        (lines > FILE_LINES).then(|| format!("{}: {lines} lines", path.display()))
    });
    none("too long", long.collect());
}

#[test]
fn no_function_is_too_long() {
    let mut long = Vec::new();
    let mut seen = 0;
    for path in all_rust_files() {
        let most = if of_tests(&path) {
            TEST_FUNCTION_LINES
        } else {
            FUNCTION_LINES
        };
        for function in functions(&read(&path)) {
            seen += 1;
            if function.lines > most {
                let (name, lines) = (function.name, function.lines);
                long.push(format!("{}: {name}: {lines} lines", path.display()));
            }
        }
    }
    assert!(seen > 500, "only {seen} functions were found");
    none("too long", long);
}

#[test]
fn every_source_is_part_of_a_crate() {
    let mut waiting: Vec<PathBuf> = metadata_packages()
        .iter()
        .flat_map(|package| package["targets"].as_array().unwrap().clone())
        .map(|target| {
            let path = PathBuf::from(target["src_path"].as_str().unwrap());
            path.strip_prefix(top()).unwrap().to_owned()
        })
        .collect();
    // A workspace of its own: what feeds it needs another compiler's help.
    let fuzz = read(Path::new("tools/fuzz/Cargo.toml"));
    let paths = fuzz
        .lines()
        .filter_map(|line| line.strip_prefix("path = \""));
    waiting.extend(paths.map(|path| Path::new("tools/fuzz").join(path.trim_end_matches('"'))));
    let roots: BTreeSet<PathBuf> = waiting.iter().cloned().collect();
    let mut reached = BTreeSet::new();
    while let Some(path) = waiting.pop() {
        if reached.insert(path.clone()) {
            waiting.extend(modules(&path, roots.contains(&path)));
        }
    }
    let dead = all_rust_files()
        .into_iter()
        .filter(|p| !reached.contains(p));
    none(
        "no crate has these as a module",
        dead.map(|p| p.display().to_string()).collect(),
    );
}

#[test]
fn every_other_file_is_used() {
    for path in FOR_PEOPLE {
        assert!(top().join(path).is_file(), "{path} is gone");
    }
    let files: Vec<PathBuf> = ["src", "tests", "tools", "profiles", ".ci"]
        .iter()
        .flat_map(|folder| walk(Path::new(folder)))
        .collect();
    let texts: Vec<(&PathBuf, String)> = files.iter().map(|path| (path, read(path))).collect();
    let unused = files.iter().filter(|path| {
        let extension = path.extension().and_then(|e| e.to_str());
        let own = extension == Some("rs")
            || path.ends_with("Cargo.toml")
            || path.starts_with("tests/bad")
            || path.starts_with("tests/scenarios")
            || path.starts_with("tests/breaches")
            || path.as_path() == Path::new(".ci/run")
            || FOR_PEOPLE.iter().any(|p| Path::new(p) == path.as_path());
        let stem = path.file_stem().unwrap().to_str().unwrap();
        let name = match extension {
            Some("py") if path.starts_with("tools/lib") => format!("import {stem}"),
            _ => path.file_name().unwrap().to_str().unwrap().to_owned(),
        };
        let named = |(other, text): &(&PathBuf, String)| other != path && text.contains(&name);
        !own && !texts.iter().any(named)
    });
    none(
        "no other file names these",
        unused.map(|p| p.display().to_string()).collect(),
    );
}

#[test]
fn every_bad_file_has_its_answer() {
    let files = walk(Path::new("tests/bad"));
    assert!(files.len() > 50, "the bad files are gone");
    let alone = files.iter().filter(|path| {
        let twin = match path.extension().and_then(|e| e.to_str()) {
            Some("toml") => "txt",
            Some("txt") => "toml",
            _ => return true,
        };
        !top().join(path.with_extension(twin)).is_file()
    });
    none(
        "neither a bad file nor the answer to one",
        alone.map(|p| p.display().to_string()).collect(),
    );
}

/// What that does is tested beside it.
#[test]
fn the_program_begins_by_having_a_panic_end_it() {
    let main = read(Path::new("src/main.rs"));
    let begin = main.split_once("fn main() -> ExitCode {").unwrap().1;
    assert!(begin.trim_start().starts_with("panic::ends_the_process();"));
}

#[test]
fn one_place_reads_the_clock() {
    let words = [
        "Instant::now",
        "SystemTime::now",
        ".elapsed()",
        "clock_gettime",
        "gettimeofday",
        "libc::time(",
    ];
    let clock = Path::new("src/shell/clock.rs");
    assert!(!lines_with(&[clock.to_owned()], &words).is_empty());
    let mut others = rust_files(&["src", "tools/rig", "tools/laws"]);
    others.retain(|path| path != clock && !of_tests(path));
    none("reads the clock", lines_with(&others, &words));
}

#[test]
fn the_engine_and_what_it_computes_with_have_no_std() {
    for root in ["src/engine/lib.rs", "src/wire/lib.rs", "tools/rig/lib.rs"] {
        let text = read(Path::new(root));
        assert!(text.contains("#![no_std]"), "{root} is not no_std");
        let lines: Vec<&str> = text.lines().map(str::trim).collect();
        for (number, line) in lines.iter().enumerate() {
            let linked = line.contains("extern crate std");
            let in_tests = number > 0 && lines[number - 1] == "#[cfg(test)]";
            assert!(!linked || in_tests, "{root} links std outside of tests");
        }
    }
    let mut engine = rust_files(&["src/engine"]);
    engine.retain(|path| !of_tests(path));
    assert!(engine.len() > 10, "the engine is gone");
    let words = ["f64::min", "f64::max", "f32::", "unsafe "];
    let mut found = lines_with(&engine, &words);
    found.retain(|offence| !offence.contains(": //"));
    none("not in the engine", found);
}

#[test]
fn nothing_names_the_place_it_was_made() {
    let words = [
        concat!("/wo", "rk/"),
        concat!("/ro", "ot/"),
        concat!("/ho", "me/"),
        concat!("../sha", "red"),
        concat!("sha", "red/"),
        concat!("design", ".md"),
        concat!("decisions", ".md"),
    ];
    none("a path of some machine", lines_with(&everything(), &words));
}

#[test]
fn nothing_is_left_for_later() {
    let words = [
        concat!("todo", "!("),
        concat!("unimplemented", "!("),
        concat!("#[ign", "ore"),
        concat!("TO", "DO"),
        concat!("FIX", "ME"),
    ];
    none("left for later", lines_with(&everything(), &words));
}

/// All files but the lock file, which cargo writes.
fn everything() -> Vec<PathBuf> {
    let present = AT_THE_TOP.iter().filter(|name| **name != "Cargo.lock");
    present.flat_map(|name| walk(Path::new(name))).collect()
}

#[test]
fn the_crates_depend_on_what_the_drawing_says() {
    let allowed: [(&str, &[&str]); 5] = [
        ("stillhand-engine", &["libm", "serde"]),
        ("stillhand-acoustics", &["stillhand-engine", "toml"]),
        (
            "stillhand-wire",
            &["cobs", "crc", "heapless", "postcard", "serde"],
        ),
        ("stillhand-rig", &["stillhand-wire"]),
        ("stillhand-laws", &[]),
    ];
    let packages = metadata_packages();
    for (name, wanted) in allowed {
        let package = packages.iter().find(|package| package["name"] == name);
        let package = package.unwrap_or_else(|| panic!("{name} is gone"));
        let all = package["dependencies"].as_array().unwrap();
        // Those for tests have a kind, "dev": nothing of them is in what is shipped.
        let normal = all.iter().filter(|d| d["kind"].is_null());
        let names: BTreeSet<&str> = normal.map(|d| d["name"].as_str().unwrap()).collect();
        assert_eq!(names, wanted.iter().copied().collect(), "{name}");
        // The engine's state as bytes is for whoever asks for it.
        if name == "stillhand-engine" {
            let serde = all.iter().find(|d| d["name"] == "serde");
            assert_eq!(serde.map(|d| &d["optional"]), Some(&Value::Bool(true)));
        }
    }
}

#[test]
fn the_journal_knows_nothing_but_the_engine() {
    let files = rust_files(&["src/journal"]);
    assert!(files.len() > 5, "the journal is gone");
    let others = ["cli", "link", "profile", "shell", "soak"].map(|name| format!("crate::{name}"));
    let words: Vec<&str> = others.iter().map(String::as_str).collect();
    none("not for the journal", lines_with(&files, &words));
}

/// In what is shipped, features of a crate are the union of what all its users ask for: one of them
/// can turn std's functions on for the engine. Tests are left out: approx, which only they use, does.
#[test]
fn no_other_crate_turns_on_std_for_the_engines_arithmetic() {
    let tree = cargo(&[
        "tree",
        "--workspace",
        "--edges",
        "normal",
        "--prefix",
        "none",
        "--format",
        "{p} [{f}]",
    ]);
    let lines: BTreeSet<&str> = tree
        .lines()
        .map(|line| line.trim_end_matches(" (*)"))
        .collect();
    let libm = lines.iter().filter(|line| line.starts_with("libm v"));
    assert_eq!(
        libm.count(),
        1,
        "one libm, or the engine's bits depend on which:\n{tree}"
    );
    // Crates that compute with std's functions if, and with libm's unless, their `std` is on.
    let both_ways = ["num-traits v", "rsruckig v", "libm v"];
    let with_std = lines.iter().filter(|line| {
        let features = line
            .rsplit_once('[')
            .map_or("", |(_, f)| f.trim_end_matches(']'));
        both_ways.iter().any(|name| line.starts_with(name))
            && features.split(',').any(|f| f == "std")
    });
    none(
        "computes with std",
        with_std.map(|line| line.to_string()).collect(),
    );
}

fn metadata_packages() -> Vec<Value> {
    let text = cargo(&["metadata", "--no-deps", "--format-version", "1"]);
    let metadata: Value = serde_json::from_str(&text).unwrap();
    metadata["packages"].as_array().unwrap().clone()
}

fn cargo(args: &[&str]) -> String {
    let output = Command::new(env!("CARGO"))
        .args(args)
        .args(["--locked", "--offline"])
        .current_dir(top())
        .output()
        .unwrap();
    let errors = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "cargo {args:?}: {errors}");
    String::from_utf8(output.stdout).unwrap()
}
