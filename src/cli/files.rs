//! Reading a file from the disk without trusting it: any path may name anything.

use crate::profile::{OperatorFile, Problem, Problems, QuietFile, Source, load_quiet};
use std::fs::File;
use std::io::{ErrorKind, Read};
use std::path::{Path, PathBuf};

/// Most bytes of a file. Ours have a few thousand; anything this large is something else, and
/// reading it would only cost memory.
pub const MOST_BYTES: u64 = 1024 * 1024;

/// Reads a text file of at most [`MOST_BYTES`].
///
/// # Errors
///
/// One problem that says why there is no text: absent, not a file, not readable, too large, empty,
/// not text.
pub fn read(path: &Path) -> Result<Source, Problems> {
    let name = path.display().to_string();
    match text(path) {
        Ok(text) => Ok(Source::new(name, text)),
        Err(problem) => Err(Problems::one(Source::new(name, ""), *problem)),
    }
}

/// Reads the quiet file that a profile names, which lies beside it. `profile` is the path of the
/// profile; without one the folder is the one the program was started in.
///
/// # Errors
///
/// That it can't be read, shown where the profile names it; or every problem of the quiet file.
pub fn read_quiet(
    operator: &OperatorFile,
    profile: Option<&Path>,
) -> Result<Option<QuietFile>, Problems> {
    let Some(path) = quiet_path(operator, profile) else {
        return Ok(None);
    };
    let text = text(&path).map_err(|problem| operator.quiet_unreadable(&problem))?;
    let source = Source::new(path.display().to_string(), text);
    load_quiet(&source).map(Some)
}

/// The path of the quiet file that a profile names. `profile` is the profile's own.
pub fn quiet_path(operator: &OperatorFile, profile: Option<&Path>) -> Option<PathBuf> {
    let folder = profile.and_then(Path::parent).unwrap_or(Path::new(""));
    operator.quiet.as_ref().map(|name| folder.join(name))
}

fn text(path: &Path) -> Result<String, Box<Problem>> {
    // Asked before opening: opening a named pipe would wait for its other end.
    let about = std::fs::metadata(path).map_err(|error| unreachable_path(path, &error))?;
    if about.is_dir() {
        return Err(refused(
            "this is a folder, not a file",
            "a folder",
            "name a file inside it",
        ));
    }
    if !about.is_file() {
        return Err(refused(
            "this is not an ordinary file",
            "a device, pipe or socket",
            "name an ordinary file",
        ));
    }
    let file = File::open(path).map_err(|error| unreadable(&error))?;
    let mut bytes = Vec::new();
    // One byte more than allowed tells a file that is too large, even if it grows meanwhile.
    file.take(MOST_BYTES + 1)
        .read_to_end(&mut bytes)
        .map_err(|error| unreadable(&error))?;
    if bytes.len() as u64 > MOST_BYTES {
        let found = match about.len() {
            len if len > MOST_BYTES => format!("{len} bytes"),
            _ => "more than 1 MiB".to_owned(),
        };
        return Err(refused(
            "this file is too large",
            found,
            "check that it is the right file; rig files and profiles have a few kilobytes",
        ));
    }
    if bytes.is_empty() {
        return Err(refused(
            "this file is empty",
            "0 bytes",
            "check whether the disk was full when it was saved; copy a shipped file anew",
        ));
    }
    decode(bytes)
}

fn decode(bytes: Vec<u8>) -> Result<String, Box<Problem>> {
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        return Err(refused(
            "this file is UTF-16 text",
            "the mark UTF-16 begins with",
            "save it as UTF-8 in the editor",
        ));
    }
    if let Some(at) = bytes.iter().position(|&b| b == 0) {
        return Err(refused(
            "this file is binary, not text",
            format!("a zero byte at {}", place(&bytes, at)),
            "check that it is the right file",
        ));
    }
    String::from_utf8(bytes).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        let bytes = error.as_bytes();
        // There is a byte at `at`, or all of it would have been valid.
        let byte = bytes.get(at).copied().unwrap_or_default();
        refused(
            "this file is not UTF-8 text",
            format!("the byte {byte:#04x} at {}", place(bytes, at)),
            "save it as UTF-8 in the editor, or take that character out",
        )
    })
}

/// Line and byte in the line, both from 1.
fn place(bytes: &[u8], at: usize) -> String {
    let before = bytes.get(..at).unwrap_or_default();
    let line = before.iter().filter(|&&b| b == b'\n').count() + 1;
    let start = before
        .iter()
        .rposition(|&b| b == b'\n')
        .map_or(0, |feed| feed + 1);
    format!("line {line}, byte {}", at - start + 1)
}

/// The path could not even be looked at.
fn unreachable_path(path: &Path, error: &std::io::Error) -> Box<Problem> {
    match error.kind() {
        ErrorKind::NotFound if path.is_symlink() => refused(
            "this link points to a file that is not there",
            "a dangling symbolic link",
            "set the link anew, or name the file itself",
        ),
        ErrorKind::NotFound => {
            let folder = path
                .parent()
                .filter(|p| !p.as_os_str().is_empty() && !p.exists());
            match folder {
                Some(folder) => refused(
                    "there is no such file",
                    format!("no folder {} either", folder.display()),
                    "check the path",
                ),
                None => refused(
                    "there is no such file",
                    "nothing of this name",
                    "check the name",
                ),
            }
        }
        ErrorKind::PermissionDenied => refused(
            "a folder on the way to this file may not be entered by this user",
            "permission denied",
            "give this user the right to enter it (chmod +x), or move the file",
        ),
        _ => unreadable(error),
    }
}

/// The file is there but gives no bytes.
fn unreadable(error: &std::io::Error) -> Box<Problem> {
    if error.kind() == ErrorKind::PermissionDenied {
        return refused(
            "this file may not be read by this user",
            "permission denied",
            "give this user the right to read it (chmod +r), or run as its owner",
        );
    }
    refused(
        "this file can't be read",
        error.to_string(),
        "check the path and the disk",
    )
}

fn refused(message: &str, found: impl Into<String>, mend: &str) -> Box<Problem> {
    let problem = Problem::whole(message).found(found).mend(mend);
    Box::new(problem.allowed("a TOML file: UTF-8 text of at most 1 MiB"))
}
