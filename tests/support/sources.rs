//! Reads the project's own sources.

use std::path::{Path, PathBuf};

/// The folder that everything is in.
pub fn top() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The text of a file, given by its path from the top; nothing for one that is not text.
pub fn read(path: &Path) -> String {
    let bytes = std::fs::read(top().join(path)).unwrap_or_else(|e| panic!("{path:?}: {e}"));
    String::from_utf8(bytes).unwrap_or_default()
}

/// All files at or below a path from the top, by their paths from the top, but for those that
/// .gitignore leaves out. Nothing for a path that is not there.
pub fn walk(path: &Path) -> Vec<PathBuf> {
    let full = top().join(path);
    if full.is_file() {
        let leftover = path.extension().is_some_and(|e| e == "orig");
        return if leftover {
            vec![]
        } else {
            vec![path.to_owned()]
        };
    }
    let Ok(entries) = std::fs::read_dir(&full) else {
        return vec![];
    };
    let names = entries.map(|entry| entry.unwrap().file_name());
    let mut paths: Vec<PathBuf> = names
        .filter(|name| name != "__pycache__")
        .map(|name| path.join(name))
        .collect();
    paths.sort();
    paths.iter().flat_map(|path| walk(path)).collect()
}

/// The files of the modules that a file declares. A root is the file a crate begins with.
pub fn modules(path: &Path, root: bool) -> Vec<PathBuf> {
    let beside = path.parent().unwrap();
    let own_folder = root || path.file_name().unwrap() == "mod.rs";
    let folder = match own_folder {
        true => beside.to_owned(),
        false => path.with_extension(""),
    };
    let mut found = Vec::new();
    let mut told: Option<String> = None;
    for line in read(path).lines().map(str::trim) {
        if let Some(rest) = line.strip_prefix("#[path = \"") {
            told = rest.strip_suffix("\"]").map(str::to_owned);
        }
        let Some(name) = declared(line) else {
            continue;
        };
        let candidates = match told.take() {
            Some(told) => vec![plain(&beside.join(told))],
            None => vec![
                folder.join(format!("{name}.rs")),
                folder.join(name).join("mod.rs"),
            ],
        };
        let there = candidates.into_iter().filter(|p| top().join(p).is_file());
        found.extend(there);
    }
    found
}

/// The name in `pub(crate) mod NAME;`.
fn declared(line: &str) -> Option<&str> {
    let before = line.strip_suffix(';')?;
    let (visibility, name) = before.split_once("mod ")?;
    let visible = visibility.is_empty() || visibility.starts_with("pub");
    (visible && !name.contains(' ')).then_some(name)
}

/// Without the `..` in it.
fn plain(path: &Path) -> PathBuf {
    let mut plain = PathBuf::new();
    for part in path.components() {
        match part {
            std::path::Component::ParentDir => {
                plain.pop();
            }
            part => plain.push(part),
        }
    }
    plain
}

/// A function's name and how many lines it has.
pub struct Function {
    pub name: String,
    pub lines: usize,
}

/// The functions in a text that rustfmt has formatted: each ends with the first brace as far in as
/// its `fn` line.
pub fn functions(text: &str) -> Vec<Function> {
    let lines: Vec<&str> = text.lines().collect();
    let mut found = Vec::new();
    for (start, line) in lines.iter().enumerate() {
        let code = line.trim_start();
        let Some(name) = begun(code) else {
            continue;
        };
        let indent = &line[..line.len() - code.len()];
        let end = format!("{indent}}}");
        let body = lines[start..].iter().position(|line| *line == end);
        let declared = lines[start..]
            .iter()
            .position(|line| line.ends_with(';') || line.ends_with('{') || line.ends_with('}'));
        // A declaration without a body, or a body on the same line.
        let short = declared.is_some_and(|at| !lines[start + at].ends_with('{'));
        if let Some(body) = body.filter(|_| !short) {
            found.push(Function {
                name: name.to_owned(),
                lines: body + 1,
            });
        }
    }
    found
}

/// The name in `pub const fn NAME(`.
fn begun(code: &str) -> Option<&str> {
    let at = code.find("fn ")?;
    let words = code[..at].split_whitespace();
    let qualifiers = [
        "pub", "const", "unsafe", "async", "extern", "\"C\"", "default",
    ];
    let all = |word: &str| qualifiers.contains(&word) || word.starts_with("pub(");
    let name = code[at + 3..].split(['(', '<']).next()?;
    (words.into_iter().all(all) && !name.is_empty()).then_some(name)
}
