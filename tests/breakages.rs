//! The breakages of `tools/breakages` still fit the code, and their page tells of each: whether the net catches
//! them takes the tool minutes to show.

use std::collections::BTreeMap;
use std::path::Path;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

const LAWS: [&str; 10] = [
    "ceiling", "smooth", "travel", "consent", "loss", "quiet", "whole", "same", "intact", "sense",
];
/// Fewer would not show that a law's net has no hole beside one of them.
const LEAST_OF_A_LAW: usize = 3;

fn text(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(name);
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{name}: {error}"))
}

fn listed() -> Vec<BTreeMap<String, String>> {
    let list = text("tools/lib/breakages/list.toml");
    let table = DeTable::parse(&list).expect("TOML").into_inner();
    let DeValue::Array(list) = table["breakage"].get_ref() else {
        panic!("a list of breakages");
    };
    let one = |one: &Spanned<DeValue>| {
        let DeValue::Table(one) = one.get_ref() else {
            panic!("each a table");
        };
        let words = one.iter().map(|(key, value)| {
            let word = value.get_ref().as_str().unwrap_or_default();
            (key.get_ref().to_string(), word.to_owned())
        });
        words.collect()
    };
    list.iter().map(one).collect()
}

#[test]
fn every_breakage_fits_the_code_once() {
    let mut problems = Vec::new();
    for one in listed() {
        let (name, old, new) = (&one["name"], &one["old"], &one["new"]);
        let found = text(&one["file"]).matches(old.as_str()).count();
        if found != 1 || old == new || old.contains('\n') || new.contains('\n') {
            problems.push(format!("{name}: {found} times in {}: {old}", one["file"]));
        }
        let net = one.get("net").map_or("soak", String::as_str);
        let test = format!("tests/{net}.rs");
        let package = one.contains_key("package");
        if !matches!(net, "soak" | "lint") && !package && !text(&test).contains("#[test]") {
            problems.push(format!("{name}: no test in {test}"));
        }
        if let Some(only) = one.get("only").filter(|_| !package)
            && !text(&test).contains(&format!("fn {only}("))
        {
            problems.push(format!("{name}: {test} has no test called {only}"));
        }
    }
    assert!(
        problems.is_empty(),
        "stale in tools/lib/breakages/list.toml:\n{}",
        problems.join("\n")
    );
}

#[test]
fn every_law_has_its_breakages() {
    let listed = listed();
    for law in LAWS {
        let own = listed.iter().filter(|one| one["law"] == law).count();
        assert!(own >= LEAST_OF_A_LAW, "law {law} has only {own}");
    }
    let stray = listed
        .iter()
        .find(|one| !LAWS.contains(&one["law"].as_str()));
    assert!(stray.is_none(), "no law of that name: {stray:?}");
}

#[test]
fn the_page_tells_what_caught_each() {
    let page = text("tools/lib/breakages/README.md");
    let (_, table) = page.split_once("## The table").expect("a table");
    let table = table.split("\n## ").next().unwrap_or_default();
    let rows: Vec<&str> = table
        .lines()
        .filter(|line| line.starts_with("| `"))
        .collect();
    let listed = listed();
    for one in &listed {
        let row = format!("| `{}` | {} | {} | ", one["name"], one["law"], one["what"]);
        let told = rows.iter().filter(|line| line.starts_with(&row)).count();
        assert_eq!(
            told, 1,
            "{}: print the table anew with tools/breakages",
            one["name"]
        );
    }
    assert_eq!(rows.len(), listed.len(), "rows for what is not listed");
}
