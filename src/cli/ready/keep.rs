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

#[cfg(test)]
mod tests {
    use super::super::record::tests::record;
    use super::*;

    #[test]
    fn records_of_one_second_lie_side_by_side() {
        let path = std::env::temp_dir().join(format!("stillhand-keep-{}", std::process::id()));
        let folder = folder(path.to_str().expect("text")).expect("a folder");
        let mut record = record();
        record.rig = "hall/2".to_owned();
        let first = keep(&folder, &record).expect("kept");
        let names = |paths: &[PathBuf]| -> Vec<String> {
            let name = |path: &PathBuf| path.file_name().map(|n| n.to_string_lossy().into_owned());
            paths.iter().filter_map(name).collect()
        };
        let name = "ready-hall_2-2026-11-28-183000";
        assert_eq!(
            names(&first),
            [format!("{name}.txt"), format!("{name}.json")]
        );
        let before = fs::read(&first[0]).expect("there");
        record.operator = "cello".to_owned();
        let second = keep(&folder, &record).expect("kept");
        assert_eq!(
            names(&second),
            [format!("{name}-2.txt"), format!("{name}-2.json")]
        );
        assert_eq!(fs::read(&first[0]).expect("there"), before);
        assert_eq!(
            fs::read_to_string(&second[0]).expect("there"),
            record.text()
        );
        fs::remove_dir_all(&folder).expect("ours");
    }
}
