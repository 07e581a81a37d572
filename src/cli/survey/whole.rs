//! Writing a file whole or not at all.

use super::super::Outcome;
use std::fs::{File, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};

/// Writes a file in one go: whoever reads it meanwhile, and a computer that stops meanwhile, finds the
/// old one or the new one, never a part.
///
/// # Errors
///
/// What the system says, with the path; the file is then as it was.
pub fn write(path: &Path, text: &[u8]) -> Result<(), Outcome> {
    let beside = beside(path);
    let done = put(&beside, text).and_then(|()| std::fs::rename(&beside, path));
    match done {
        Ok(()) => {
            sync_folder(path);
            Ok(())
        }
        Err(error) => {
            let _ = std::fs::remove_file(&beside);
            Err(cannot(path, &error))
        }
    }
}

/// Writes a file that is not there yet, in one go; `false` if there is one of that name.
///
/// # Errors
///
/// As [`write()`].
pub fn write_new(path: &Path, text: &[u8]) -> Result<bool, Outcome> {
    let beside = beside(path);
    let done = put(&beside, text).and_then(|()| rename_to_new(&beside, path));
    if !matches!(done, Ok(true)) {
        let _ = std::fs::remove_file(&beside);
    }
    if matches!(done, Ok(true)) {
        sync_folder(path);
    }
    done.map_err(|error| cannot(path, &error))
}

/// Gives a file another name unless that is taken.
fn rename_to_new(from: &Path, to: &Path) -> std::io::Result<bool> {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    use rustix::io::Errno;
    match renameat_with(CWD, from, CWD, to, RenameFlags::NOREPLACE) {
        Ok(()) => Ok(true),
        Err(Errno::EXIST) => Ok(false),
        // A file system that can't ask in the same breath.
        Err(Errno::INVAL | Errno::NOSYS) if to.symlink_metadata().is_err() => {
            std::fs::rename(from, to).map(|()| true)
        }
        Err(Errno::INVAL | Errno::NOSYS) => Ok(false),
        Err(error) => Err(error.into()),
    }
}

/// The name is there; whether it outlives a power cut at once is a wish, not a failure.
fn sync_folder(path: &Path) {
    let folder = path
        .parent()
        .filter(|folder| !folder.as_os_str().is_empty());
    if let Ok(folder) = File::open(folder.unwrap_or(Path::new("."))) {
        let _ = folder.sync_all();
    }
}

fn cannot(path: &Path, error: &std::io::Error) -> Outcome {
    Outcome::fault(format!("{}: can't be written: {error}", path.display()))
}

/// Writes `new` over a file, and `old`, what it was, beside it as FILE.before, each whole or not at all. A link
/// stays one: what it leads to is written. Where the old one is kept.
///
/// # Errors
///
/// As [`write()`].
pub fn write_keeping(path: &Path, old: &str, new: &str) -> Result<PathBuf, Outcome> {
    let path = path.canonicalize().unwrap_or_else(|_| path.to_path_buf());
    let mut before = path.clone().into_os_string();
    before.push(".before");
    let before = PathBuf::from(before);
    write(&before, old.as_bytes())?;
    write(&path, new.as_bytes())?;
    Ok(before)
}

fn put(path: &Path, text: &[u8]) -> std::io::Result<()> {
    let mut file = OpenOptions::new().write(true).create_new(true).open(path)?;
    file.write_all(text)?;
    file.sync_all()
}

/// A name beside the file that nobody else uses: that of this process.
fn beside(path: &Path) -> PathBuf {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    path.with_file_name(format!(".{name}.{}.new", std::process::id()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A folder of this test's own.
    fn folder(name: &str) -> PathBuf {
        let folder = std::env::temp_dir().join(format!("stillhand-{name}-{}", std::process::id()));
        std::fs::create_dir_all(&folder).expect("a folder");
        folder
    }

    #[test]
    fn a_new_file_is_whole_and_one_that_is_there_stays_as_it_was() {
        let folder = folder("whole");
        let path = folder.join("record.txt");
        assert_eq!(write_new(&path, b"first"), Ok(true));
        assert_eq!(write_new(&path, b"second"), Ok(false));
        assert_eq!(std::fs::read(&path).expect("there"), b"first");
        // Not even a link that leads nowhere is written over.
        let link = folder.join("link.txt");
        std::os::unix::fs::symlink(folder.join("nowhere"), &link).expect("a link");
        assert_eq!(write_new(&link, b"third"), Ok(false));
        assert!(!folder.join("nowhere").exists());
        let names = std::fs::read_dir(&folder).expect("there").count();
        assert_eq!(names, 2, "nothing is left beside them");
        assert!(write_new(&folder.join("no/such/record.txt"), b"").is_err());
        std::fs::remove_dir_all(&folder).expect("ours");
    }
}
