//! README.md and DEVELOPERS.md name things that exist, and their examples work. Their tables are held
//! against the code in `docs_tables`.

#[path = "support/page.rs"]
mod page;

use clap::{CommandFactory, Parser, error::ErrorKind};
use page::{blocks, none, read, readme, spans, top};
use std::collections::BTreeSet;
use std::path::PathBuf;
use stillhand::cli::Cli;
use stillhand::link::mischief::Mischief;
use stillhand::profile::{
    Kind, RigFile, Source, builtin, load_operator, load_quiet, load_rig, load_trim,
};
use stillhand::shell::pad::script::Script;

#[test]
fn every_path_exists() {
    let mut gone = Vec::new();
    let mut seen = BTreeSet::new();
    for page in ["README.md", "DEVELOPERS.md"] {
        let text = read(page);
        let words = text.split(|c: char| c.is_whitespace() || "`|():\"".contains(c));
        let ours = ["src/", "tests/", "tools/", "profiles/", ".ci/"];
        for word in words.map(|w| w.trim_end_matches(['.', ',', ';'])) {
            let told = ours.iter().any(|folder| word.starts_with(folder));
            if told && seen.insert(word.to_owned()) && !top().join(word).exists() {
                gone.push(format!("{page}: {word}"));
            }
        }
        for word in ["LICENSE", "README.md", "DEVELOPERS.md", "profiles"] {
            assert!(top().join(word).exists(), "{word}");
        }
    }
    assert!(seen.len() > 50, "only {} paths were found", seen.len());
    none("paths that lead nowhere", &gone);
}

#[test]
fn every_test_is_on_the_map() {
    let page = read("DEVELOPERS.md");
    let entries = std::fs::read_dir(top().join("tests")).unwrap();
    let names = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap());
    let files: Vec<String> = names.filter(|name| name.ends_with(".rs")).collect();
    assert!(files.len() > 10);
    let missing: Vec<String> = files
        .into_iter()
        .filter(|name| !page.contains(&format!("| `tests/{name}` |")))
        .collect();
    none("not in the table of tests", &missing);
}

/// All Rust sources in one text.
fn sources() -> String {
    let mut waiting: Vec<PathBuf> = ["src", "tools", "tests"].map(|f| top().join(f)).to_vec();
    let mut text = String::new();
    while let Some(path) = waiting.pop() {
        if path.is_dir() {
            let entries = std::fs::read_dir(&path).unwrap();
            waiting.extend(entries.map(|entry| entry.unwrap().path()));
        } else if path.extension().is_some_and(|e| e == "rs") && !path.ends_with("docs.rs") {
            text.push_str(&std::fs::read_to_string(&path).unwrap());
        }
    }
    text
}

/// Whether the code defines this name, or asks for it in quotes.
fn defined(sources: &str, name: &str) -> bool {
    let whole = |at: usize, prefix: &str| {
        let rest = &sources[at + prefix.len() + name.len()..];
        !rest.starts_with(|c: char| c.is_ascii_alphanumeric() || c == '_')
    };
    let keywords = ["fn ", "struct ", "enum ", "const ", "mod "];
    let by_keyword = keywords.iter().any(|keyword| {
        let wanted = format!("{keyword}{name}");
        let mut found = sources.match_indices(&wanted);
        found.any(|(at, _)| whole(at, keyword))
    });
    // A variant stands at the beginning of its line.
    let variant = || {
        let lines = sources
            .lines()
            .filter_map(|line| line.trim_start().strip_prefix(name));
        name.starts_with(|c: char| c.is_ascii_uppercase())
            && lines
                .into_iter()
                .any(|rest| rest.starts_with([',', '(', ' ']))
    };
    by_keyword || variant() || sources.contains(&format!("\"{name}\""))
}

#[test]
fn every_name_of_the_code_exists() {
    let sources = sources();
    let named = |span: &String| {
        let letters = |c: char| c.is_ascii_alphanumeric() || "_:".contains(c);
        let code =
            span.contains("::") || span.contains('_') || span.chars().any(char::is_uppercase);
        span.chars().all(letters) && code
    };
    let spans: Vec<String> = spans(&read("DEVELOPERS.md"))
        .into_iter()
        .filter(named)
        .filter(|span| !span.starts_with("f64::"))
        .collect();
    assert!(spans.len() > 10, "{spans:?}");
    let gone: Vec<String> = spans
        .into_iter()
        .filter(|span| !span.split("::").all(|part| defined(&sources, part)))
        .collect();
    none("no such name in the code", &gone);
}

#[test]
fn every_file_shown_is_good() {
    let page = readme();
    let mut rigs = vec![load_rig(&builtin::BENCH_RIG.source()).unwrap()];
    let mut operators = Vec::new();
    let mut quiets = Vec::new();
    for text in blocks(&page, "toml") {
        let source = Source::new("README.md", text);
        let bad = |problems: stillhand::profile::Problems| -> String { problems.render(false) };
        match Kind::of(&source).map_err(bad).unwrap() {
            Kind::Rig => rigs.push(load_rig(&source).map_err(bad).unwrap()),
            Kind::Operator => operators.push(load_operator(&source).map_err(bad).unwrap()),
            Kind::Quiet => quiets.push(load_quiet(&source).map_err(bad).unwrap()),
            Kind::Trim => drop(load_trim(&source).map_err(bad).unwrap()),
        }
    }
    assert!(
        rigs.len() > 1 && !operators.is_empty() && !quiets.is_empty(),
        "no files are shown"
    );
    for quiet in &quiets {
        assert!(quiet.fits(&rigs).is_ok(), "{}", quiet.summary());
    }
    for RigFile { rig, .. } in &rigs {
        for operator in &operators {
            let resolved = operator.resolve(std::slice::from_ref(rig));
            assert!(resolved.is_ok(), "{} on {}", operator.name, rig.id);
        }
    }
}

#[test]
fn every_script_shown_is_good() {
    let page = readme();
    let pads = blocks(&page, "pad");
    let mischiefs = blocks(&page, "mischief");
    assert!(!pads.is_empty() && !mischiefs.is_empty());
    for text in pads {
        Script::parse(&text).unwrap_or_else(|e| panic!("{e}"));
    }
    for text in mischiefs {
        let axes = ["pan", "tilt", "slide"];
        Mischief::parse("README.md", &text, &axes).unwrap_or_else(|e| panic!("{e}"));
    }
}

/// The words of a command line; double quotes keep blanks together.
fn split(command: &str) -> Vec<String> {
    let mut words = Vec::new();
    for (index, part) in command.split('"').enumerate() {
        match index % 2 {
            0 => words.extend(part.split_whitespace().map(str::to_owned)),
            _ => words.push(part.to_owned()),
        }
    }
    words
}

#[test]
fn every_command_line_is_understood() {
    let mut lines = Vec::new();
    for page in [readme(), read("DEVELOPERS.md")] {
        for block in blocks(&page, "console") {
            let typed = block.lines().filter_map(|line| line.strip_prefix("$ "));
            lines.extend(typed.map(str::to_owned));
        }
        let ours = |s: &String| s.starts_with("stillhand ") || s.starts_with("tools/run ");
        lines.extend(spans(&page).into_iter().filter(ours));
    }
    assert!(lines.len() > 7, "{lines:?}");
    let mut wrong = Vec::new();
    for line in &lines {
        let mut words = split(line);
        if words[0] == "tools/run" {
            words.splice(0..1, ["stillhand", "run"].map(str::to_owned));
            // The script's own, and first.
            if words[2..].first().is_some_and(|word| word == "--survey") {
                assert!(read("tools/run").contains("tools/run --survey "));
                words.remove(2);
            }
        }
        assert_eq!(words[0], "stillhand", "{line}");
        match Cli::try_parse_from(words) {
            Ok(_) => {}
            Err(error) if error.kind() == ErrorKind::DisplayHelp => {}
            Err(error) => wrong.push(format!("{line}: {error}")),
        }
    }
    none("not understood", &wrong);
}

/// A block that begins with a command of `feel` is a part of what that command prints.
#[test]
fn every_picture_of_a_hand_is_what_feel_draws() {
    let page = readme();
    let mut parts = page.split("\n```feel ");
    parts.next();
    let mut drawn = 0;
    for part in parts {
        let (words, rest) = part.split_once('\n').unwrap();
        let (shown, _) = rest.split_once("\n```").unwrap();
        let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_stillhand"));
        let command = command.current_dir(top()).arg("feel").args(split(words));
        let output = command.output().unwrap();
        let text = String::from_utf8(output.stdout).unwrap();
        let lines: Vec<&str> = text.lines().map(str::trim_end).collect();
        let shown: Vec<&str> = shown.lines().map(str::trim_end).collect();
        let found = lines.windows(shown.len()).any(|part| part == shown);
        assert!(found, "feel {words} prints\n{text}");
        drawn += 1;
    }
    assert!(drawn >= 5, "{drawn} pictures");
}

#[test]
fn every_option_named_exists() {
    let command = Cli::command();
    let options: BTreeSet<String> = command
        .get_subcommands()
        .flat_map(|sub| std::iter::once(sub).chain(sub.get_subcommands()))
        .flat_map(|sub| sub.get_arguments())
        .filter_map(|argument| argument.get_long().map(|long| format!("--{long}")))
        .collect();
    let spans = spans(&readme());
    let named: Vec<&str> = spans
        .iter()
        .filter(|span| span.starts_with("--"))
        .filter_map(|span| span.split_whitespace().next())
        .collect();
    assert!(named.len() > 5, "{named:?}");
    let gone = named.into_iter().filter(|name| !options.contains(*name));
    none(
        "no such option",
        &gone.map(str::to_owned).collect::<Vec<_>>(),
    );
    for sub in command.get_subcommands() {
        let name = sub.get_name();
        assert!(readme().contains(&format!("`{name}")), "{name} is missing");
    }
}
