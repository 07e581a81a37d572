//! Reads a page of Markdown: its blocks, its words in backticks, its tables.

#![allow(dead_code)] // Each test uses its own part of it.

use std::path::Path;

/// The folder that everything is in.
pub fn top() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The text of a file, by its path from the top.
pub fn read(path: &str) -> String {
    std::fs::read_to_string(top().join(path)).unwrap_or_else(|e| panic!("{path}: {e}"))
}

/// The fenced blocks of a page in one language, as far in as their fences.
pub fn blocks(page: &str, language: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut open: Option<(usize, bool, String)> = None;
    for line in page.lines() {
        let text = line.trim_start();
        match (&mut open, text.strip_prefix("```")) {
            (None, Some(says)) => {
                open = Some((line.len() - text.len(), says == language, String::new()));
            }
            (None, None) => {}
            (Some(_), Some(_)) => {
                let (_, wanted, block) = open.take().unwrap();
                found.extend(wanted.then_some(block));
            }
            (Some((indent, _, block)), None) => {
                block.push_str(line.get(*indent..).unwrap_or_default());
                block.push('\n');
            }
        }
    }
    assert!(open.is_none(), "a block is never closed");
    found
}

/// What stands between single backticks outside of fenced blocks.
pub fn spans(page: &str) -> Vec<String> {
    let mut outside = String::new();
    let mut fenced = false;
    for line in page.lines() {
        let fence = line.trim_start().starts_with("```");
        fenced ^= fence;
        if !fence && !fenced {
            outside.push_str(line);
            outside.push(' ');
        }
    }
    let parts: Vec<&str> = outside.split('`').collect();
    assert!(parts.len() % 2 == 1, "a backtick is never closed");
    let inside = parts.into_iter().skip(1).step_by(2);
    inside.map(str::to_owned).collect()
}

/// The rows of all tables whose first heading is `heading`, cell by cell.
pub fn table(page: &str, heading: &str) -> Vec<Vec<String>> {
    let start = format!("| {heading} |");
    let mut rows = Vec::new();
    let mut inside = false;
    for line in page.lines() {
        let begins = line.starts_with(&start);
        inside = begins || (inside && line.starts_with('|'));
        if inside && !begins && !line.starts_with("|---") {
            let cells = line.trim_matches('|').split(" | ");
            rows.push(cells.map(|cell| cell.trim().to_owned()).collect());
        }
    }
    assert!(!rows.is_empty(), "no table begins with {heading}");
    rows
}

/// The page for operators.
pub fn readme() -> String {
    read("README.md")
}

/// Fails with all offences at once.
pub fn none(what: &str, offences: &[String]) {
    assert!(offences.is_empty(), "{what}:\n  {}", offences.join("\n  "));
}
