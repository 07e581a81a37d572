//! The record on the disk: whole or not at all, and never over another one.

use super::super::Outcome;
use super::super::survey::whole;
use super::record::Record;
use std::fs;
use std::path::{Path, PathBuf};

/// Records of one second that get a name of their own.
const MOST: u32 = 100;

/// The folder for records, made if it is not there.
///
/// # Errors
/// What the system says, with the path.
pub(super) fn folder(path: &str) -> Result<PathBuf, Outcome> {
    let folder = PathBuf::from(path);
    fs::create_dir_all(&folder).map_err(|error| {
        Outcome::bad_file(format!(
            "--record {path}: there can be no folder for the record: {error}"
        ))
    })?;
    Ok(folder)
}

/// Keeps a record as text and as JSON; where.
///
/// # Errors
/// What the system says, with the path.
pub(super) fn keep(folder: &Path, record: &Record) -> Result<Vec<PathBuf>, Outcome> {
    let json = record.json().map_err(Outcome::fault)? + "\n";
    let text = record.text();
    let name = name(record);
    for number in 1..=MOST {
        let more = if number == 1 {
            String::new()
        } else {
            format!("-{number}")
        };
        let path = |ending: &str| folder.join(format!("{name}{more}.{ending}"));
        let (first, second) = (path("txt"), path("json"));
        if second.exists() || !whole::write_new(&first, text.as_bytes())? {
            continue;
        }
        if whole::write_new(&second, json.as_bytes())? {
            return Ok(vec![first, second]);
        }
    }
    Err(Outcome::fault(format!(
        "{}: there are {MOST} records of this second already",
        folder.join(name).display()
    )))
}

/// `ready-hall-2026-11-28-183000`: what can't stand in a file's name becomes `_`.
fn name(record: &Record) -> String {
    let fits = |c: char| c.is_ascii_alphanumeric() || "-_".contains(c);
    let rig = record.rig.chars().map(|c| if fits(c) { c } else { '_' });
    let date = record
        .ended
        .trim_end_matches(" UTC")
        .replace(':', "")
        .replace(' ', "-");
    format!("ready-{}-{date}", rig.collect::<String>())
}
