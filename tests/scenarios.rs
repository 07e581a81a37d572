//! Scenarios as text: what people and machines do, and what must come of it. `scenarios/README.md` says
//! how to write one.
//!
//! Each runs in virtual time through engine, session, wire, rig end and mechanics, judged by the laws
//! checker from its first frame to its last. `SCENARIO=pad-lost cargo test --test scenarios` plays only those with that in their
//! names.

#[path = "support/scenario/mod.rs"]
mod scenario;

use scenario::{Elsewhere, Row, all_rows, elsewhere, play, read};
use std::collections::BTreeSet;
use std::path::PathBuf;
use std::sync::OnceLock;

const FOLDER: &str = "tests/scenarios";
const HEAD: &str = "rig bench\noperator talk\n";

/// All scenarios, by name.
fn files() -> Vec<PathBuf> {
    let top = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(FOLDER);
    let entries = std::fs::read_dir(top).expect("the folder of scenarios");
    let mut files: Vec<PathBuf> = entries
        .map(|entry| entry.expect("readable").path())
        .collect();
    files.retain(|path| path.extension().is_some_and(|e| e == "txt"));
    files.sort();
    files
}

fn run(name: &str, text: &str) -> Result<BTreeSet<Row>, String> {
    play(&read(name, text)?)
}

/// A scenario's file, and the rows it expects or what went wrong.
type Played = (String, Result<BTreeSet<Row>, String>);

/// Every scenario with that in its name, played once: the file, and the rows it expects.
fn played(wanted: &str) -> Vec<Played> {
    let name = |path: &PathBuf| {
        let name = path.file_name().expect("a file");
        name.to_string_lossy().into_owned()
    };
    let files = files().into_iter().map(|path| (name(&path), path));
    let wanted = files.filter(|(name, _)| name.contains(wanted));
    wanted
        .map(|(name, path)| {
            let text = std::fs::read_to_string(&path).expect("text");
            let result = run(&format!("{FOLDER}/{name}"), &text);
            (name, result)
        })
        .collect()
}

/// All scenarios, played once for the tests that look at them.
fn all_played() -> &'static [Played] {
    static ALL: OnceLock<Vec<Played>> = OnceLock::new();
    ALL.get_or_init(|| played(""))
}

#[test]
fn every_scenario_comes_out_as_it_says() {
    let wanted = std::env::var("SCENARIO").unwrap_or_default();
    let some = (!wanted.is_empty()).then(|| played(&wanted));
    let played = some.as_deref().unwrap_or_else(|| all_played());
    assert!(!played.is_empty(), "no scenario has {wanted:?} in its name");
    let results = played.iter().map(|(_, result)| result.as_ref());
    let failures: Vec<&str> = results
        .filter_map(|r| r.err().map(String::as_str))
        .collect();
    assert!(failures.is_empty(), "\n{}", failures.join("\n"));
}

/// Every state, reason, sentence, ceiling, turn of the state machine, and press there is in the program
/// is expected by a scenario, or listed with the reason why none can and the test that knows it instead.
#[test]
fn every_row_of_the_program_is_expected_by_a_scenario() {
    let all = all_rows();
    let results = all_played().iter().map(|(_, result)| result.as_ref());
    let expected: BTreeSet<&Row> = results.filter_map(Result::ok).flatten().collect();
    let elsewhere = elsewhere();
    let listed = |row: &Row| elsewhere.iter().any(|other| *row == other.row);
    let missing: Vec<&str> = all
        .iter()
        .filter(|row| !expected.contains(row) && !listed(row))
        .map(String::as_str)
        .collect();
    assert!(
        missing.is_empty(),
        "no scenario expects these {} of {}:\n{}",
        missing.len(),
        all.len(),
        missing.join("\n")
    );
    // What a scenario expects and no list knows shows that a list is not whole.
    let unknown: Vec<_> = expected.iter().filter(|row| !all.contains(**row)).collect();
    assert!(unknown.is_empty(), "no list has these: {unknown:#?}");
}

/// A story without a state or without a speed would show half of what an operator sees.
#[test]
fn every_scenario_expects_a_state_and_a_speed() {
    let lacks = |text: &str, kinds: &[&str]| {
        let expects = |kind: &&str| text.contains(&format!(" expect {kind}"));
        !kinds.iter().any(expects)
    };
    for path in files() {
        let text = std::fs::read_to_string(&path).expect("text");
        let told = lacks(&text, &["state ", "says ", "told "]);
        let moved = lacks(&text, &["speed ", "rest", "moving ", "position "]);
        assert!(!told && !moved, "{}: no state or no speed", path.display());
    }
}

/// What is listed as out of reach is a row there is, is expected by no scenario, and is known to a test.
#[test]
fn what_no_scenario_can_expect_is_shown_elsewhere() {
    let all = all_rows();
    let results = all_played().iter().map(|(_, result)| result.as_ref());
    let expected: BTreeSet<&Row> = results.filter_map(Result::ok).flatten().collect();
    for Elsewhere { row, reason, test } in elsewhere() {
        assert!(all.contains(&row), "no such row: {row}");
        assert!(
            !expected.contains(&row),
            "a scenario expects what is out of reach: {reason}"
        );
        let (file, name) = test;
        let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(file);
        let text = std::fs::read_to_string(&path).expect(file);
        assert!(
            text.contains(&format!("fn {name}(")),
            "{file} has no {name}"
        );
    }
}

/// Every line of a text that makes no sense is told with file, line and caret, whichever language it is in.
#[test]
fn problems_of_a_text_are_told_with_file_and_line() {
    let text = format!(
        "{HEAD}0.0 ABS_QX 1\n0.1 pad2 BTN_EAST 2\n0.2 POWR OFF\n0.3 SLIP crane 4\n\
         0.4 pad2 UNPLUG now\n0.5 expect rest\n"
    );
    let told = run("hall.txt", &text).expect_err("it makes no sense");
    for place in ["3:5", "4:19", "5:5", "6:10", "7:17"] {
        assert!(
            told.contains(&format!("hall.txt:{place}: ")),
            "{place}:\n{told}"
        );
    }
    assert!(told.contains("did you mean POWER?"), "{told}");

    let text = format!(
        "{HEAD}0.0 expect stat driving\n0.1 expect state drivin\n0.2 expect speed crane 1 +-0\n\
         0.3 expect speed pan 1\n0.4 expect gear 9\n0.5 expect rest now\n0.6 expect notice pan\n\
         0.7 expect state driving \"no end\n0.8 late 120\n0.9 cable cut\n0.5 stop\n1.0\n1.1 jump\n"
    );
    let told = run("hall.txt", &text).expect_err("it makes no sense");
    let places = [
        "3:12", "4:18", "5:18", "6:22", "7:17", "8:17", "9:12", "10:26", "11:10", "12:11", "13:1",
        "14:1", "15:5",
    ];
    for place in places {
        assert!(
            told.contains(&format!("hall.txt:{place}: ")),
            "{place}:\n{told}"
        );
    }
}

#[test]
fn problems_of_the_head_are_told_with_file_and_line() {
    for (text, place) in [
        (
            "rig bench\noperator walk\n0 expect rest\n",
            "hall.txt:2:10: ",
        ),
        ("rig bench\nspeed 4\n", "hall.txt:2:1: "),
        ("rig bench\noperator talk\npad2 radio\n", "hall.txt:3:6: "),
        ("rig bench\noperator talk\ntick 4\n", "hall.txt:3:6: "),
        ("rig bench\n0.0 expect rest\n", "hall.txt: no operator"),
        (
            "rig bench\noperator talk\n0.0 ABS_RX 1\n",
            "expects nothing",
        ),
        ("rig:\n  [rig]\n", "has no end"),
        (
            "rig:\n  [rig]\n  id = 4\nend\noperator talk\n",
            "hall.txt:3:8",
        ),
    ] {
        let told = run("hall.txt", text).expect_err(text);
        assert!(told.contains(place), "{text}{told}");
    }
}

/// Each kind of expectation can fail, and says what was found.
#[test]
fn an_expectation_that_is_not_met_fails_and_says_what_was_found() {
    let moving = "0.0 ABS_RX 0\n0.5 ABS_RX 1\n";
    for (expectation, found) in [
        ("state stopped", "state driving"),
        ("state driving \"the rig sings\"", "the sticks move the rig"),
        (
            "says \"driving: the sticks\"",
            "found: \"driving: the sticks move the rig\"",
        ),
        ("told \"is in control\"", "\"pad 1 is in control\""),
        ("speed pan 2.9 +-0.05", "found: 3.0000"),
        ("motor pan -3 +-0.05", "found: 3.0000"),
        ("mover pan inching", "mover Sticks"),
        ("speed pan > 3.5", "found: 3.0000"),
        ("speed pan < 2", "found: 3.0000"),
        ("position pan 0 +-1", "found: 3.2"),
        ("full-stick pan 8 +-1", "found: 3.0000"),
        ("binding pan travel", "binding gear"),
        ("gear 3", "gear 2"),
        ("rest", "moving: pan sent 3.0000, real 3.0000"),
        ("moving tilt", "at rest"),
        ("notice \"gear\"", "not among the new ones"),
        (
            "no notice \"pad 1\"",
            "it was said: \"pad 1 is in control\"",
        ),
        ("pad 2", "pad 1"),
        ("pad none", "pad 1"),
        ("armed pan no", "armed yes"),
        ("referenced pan no", "referenced yes"),
        ("ended", "not ended"),
    ] {
        let text = format!("{HEAD}{moving}2.0 expect {expectation}\n");
        let told = run("hall.txt", &text).expect_err(expectation);
        assert!(
            told.starts_with("hall.txt:5: expected: 2.0 expect "),
            "{told}"
        );
        assert!(told.contains(found), "{expectation}:\n{told}");
        assert!(
            told.contains("pad 1: Moved(Rx, 1.0)"),
            "no timeline:\n{told}"
        );
    }
}

/// The judge is awake: motors that manage a fiftieth of their strength can't stop in time, and nothing
/// but the true motion shows it.
#[test]
fn a_broken_law_fails_a_scenario_that_expects_nothing_of_it() {
    let text = "rig bench\noperator concert\n0.0 ABS_Z 0\n0.0 ABS_RX 0\n0.5 ABS_RX 1\n2.0 RAMPS 2\n\
                2.0 BTN_EAST 1\n2.1 expect state stopped\n";
    let told = run("hall.txt", text).expect_err("too weak to stop");
    assert!(told.contains("law loss broken"), "{told}");
    assert!(told.contains("axis pan"), "{told}");
}

/// The page's own example plays, and the page names every kind of expectation.
#[test]
fn the_page_for_writers_is_true() {
    let page = include_str!("scenarios/README.md");
    let lines = page.lines().skip_while(|line| !line.starts_with("    # "));
    let example: String = lines
        .take_while(|line| !line.starts_with('#'))
        .map(|line| format!("{}\n", line.trim_start()))
        .collect();
    assert!(example.contains("expect rest"), "the example is gone");
    run("the example of README.md", &example).expect("it plays");
    let tables: Vec<&str> = page.split("\n## ").collect();
    let [head, lines, kinds] = ["The head", "The lines", "What can be expected"]
        .map(|title| *tables.iter().find(|t| t.starts_with(title)).expect(title));
    let has = |table: &str, word: &str| {
        let told = [
            format!("`{word} "),
            format!("`{word}`"),
            format!("`{word}:`"),
        ];
        told.iter().any(|told| table.contains(told))
    };
    for kind in scenario::KINDS {
        assert!(has(kinds, kind), "{kind} is not on the page");
    }
    for word in scenario::HEAD {
        // Any pad stands for all of them.
        let word = if word == "pad1" { "pad2" } else { word };
        assert!(has(head, word), "{word} is not on the page");
    }
    let timed = lines.replace("`2.0 ", "`").replace("`4.0 ", "`");
    for word in scenario::OWN.iter().filter(|word| **word != "expect") {
        assert!(has(&timed, word), "{word} is not on the page");
    }
    // And the page names none that there is not.
    let rows = kinds.lines().filter_map(|line| line.strip_prefix("| `"));
    for row in rows.filter(|row| !row.starts_with("SECONDS")) {
        let word = row.split([' ', '`']).next().unwrap_or_default();
        assert!(scenario::KINDS.contains(&word), "{word} is no kind");
    }
}
