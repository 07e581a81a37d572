//! Where trims are kept: one file a pad, in a folder of the user's own.
//!
//! They are read before the first pad is heard, and by another thread when they change: the one that hears a stop
//! waits for no disk.

use std::ffi::OsStr;
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use crate::profile::trim::Trim;
use crate::profile::{Source, TrimFile, load_trim};

/// Most bytes of a trim; ours have a thousand.
const MOST_BYTES: u64 = 64 * 1024;
/// Most files that are read; nobody has as many pads.
const MOST_FILES: usize = 256;
/// Longest name of a file on Linux is 255 bytes; this leaves room for what stands around it while it is
/// written.
const MOST_NAME: usize = 200;

/// The folder of this user's trims, in the configuration's (XDG Base Directory Specification 0.8); `None`
/// if the environment names neither that nor a home.
pub fn folder() -> Option<PathBuf> {
    let absolute = |name| {
        let dir = std::env::var_os(name).map(PathBuf::from);
        dir.filter(|dir| dir.is_absolute())
    };
    let config = absolute("XDG_CONFIG_HOME");
    let config = config.or_else(|| absolute("HOME").map(|home| home.join(".config")))?;
    Some(config.join("stillhand/trims"))
}

/// The name of the file of the pad with this ID; what a name can't hold becomes `_`.
pub fn name_of(id: &str) -> String {
    let fits = |c: char| c.is_ascii_alphanumeric() || "-_:.".contains(c);
    let mut name: String = id.chars().map(|c| if fits(c) { c } else { '_' }).collect();
    name.truncate(MOST_NAME);
    if name.starts_with('.') {
        name.replace_range(..1, "_");
    }
    name + ".toml"
}

/// All trims there are.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Shelf {
    good: Vec<(PathBuf, TrimFile)>,
    /// Those that can't be used, and why.
    bad: Vec<(PathBuf, String)>,
}

/// What the shelf has for a pad.
#[derive(Clone, Debug, PartialEq)]
pub enum OnShelf {
    /// Nothing.
    Nothing,
    /// What was measured of it.
    Good(Trim),
    /// A file that can't be used.
    Bad {
        /// Which.
        path: PathBuf,
        /// Why not, on one or more lines.
        why: String,
    },
}

impl Shelf {
    /// Reads all trims of a folder; those that can't be used are told of with their pads.
    ///
    /// # Errors
    /// The system's, if the folder can't be read.
    pub fn read(folder: &Path) -> io::Result<Shelf> {
        let mut shelf = Shelf::default();
        let entries = fs::read_dir(folder)?;
        let paths = entries.flatten().map(|entry| entry.path());
        let is_trim = |path: &PathBuf| {
            let hidden = path
                .file_name()
                .is_some_and(|n| n.as_encoded_bytes().starts_with(b"."));
            path.extension() == Some(OsStr::new("toml")) && !hidden
        };
        let mut paths: Vec<PathBuf> = paths.filter(is_trim).collect();
        paths.sort();
        paths.truncate(MOST_FILES);
        for path in paths {
            match load(&path) {
                Ok(file) => shelf.good.push((path, file)),
                Err(why) => shelf.bad.push((path, why)),
            }
        }
        Ok(shelf)
    }

    /// The files it was read from.
    pub fn paths(&self) -> impl Iterator<Item = &Path> {
        let good = self.good.iter().map(|(path, _)| path.as_path());
        good.chain(self.bad.iter().map(|(path, _)| path.as_path()))
    }

    /// What it has for the pad with this ID and of this model.
    pub fn of(&self, id: &str, model: &str) -> OnShelf {
        let name = name_of(id);
        let is_its = |path: &Path| path.file_name() == Some(OsStr::new(&name));
        let mut of_pad = self.good.iter().filter(|(_, file)| file.pad == id);
        // The file that `trim` writes for this pad goes before a copy under another name.
        let own = of_pad.clone().find(|(path, _)| is_its(path));
        match own.or_else(|| of_pad.next()) {
            Some((_, file)) if file.model == model => return OnShelf::Good(file.trim),
            Some((path, file)) => {
                return OnShelf::Bad {
                    path: path.clone(),
                    why: format!(
                        "it was measured on another model, {:?}; this is {model:?}",
                        file.model
                    ),
                };
            }
            None => {}
        }
        let misnamed = self.good.iter().find(|(path, _)| is_its(path));
        if let Some((path, file)) = misnamed {
            return OnShelf::Bad {
                path: path.clone(),
                why: format!("it was measured on another pad, {:?}", file.pad),
            };
        }
        match self.bad.iter().find(|(path, _)| is_its(path)) {
            Some((path, why)) => OnShelf::Bad {
                path: path.clone(),
                why: why.clone(),
            },
            None => OnShelf::Nothing,
        }
    }
}

fn load(path: &Path) -> Result<TrimFile, String> {
    let text = read(path)?;
    let source = Source::new(path.display().to_string(), text);
    load_trim(&source).map_err(|problems| problems.render(false).trim_end().to_owned())
}

fn read(path: &Path) -> Result<String, String> {
    // Asked before opening: opening a named pipe would wait for its other end.
    let about = fs::metadata(path).map_err(|error| error.to_string())?;
    if !about.is_file() {
        return Err("it is no ordinary file".to_owned());
    }
    let file = File::open(path).map_err(|error| error.to_string())?;
    let mut text = String::new();
    let read = file.take(MOST_BYTES + 1).read_to_string(&mut text);
    let read = read.map_err(|error| error.to_string())?;
    if read as u64 > MOST_BYTES {
        return Err("it is too large for a trim".to_owned());
    }
    Ok(text)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile::trim::TriggerTrim;
    use stillhand_engine::input::Control;

    fn file(pad: &str) -> TrimFile {
        let mut trim = Trim::default();
        trim.set_trigger(Control::Lt, TriggerTrim::new(0.0, 0.9).expect("a trim"));
        TrimFile {
            pad: pad.into(),
            model: "Hall Pad".into(),
            trim,
        }
    }

    #[test]
    fn names_lead_nowhere_else() {
        assert_eq!(name_of("usb-0000:00:14.0-1"), "usb-0000:00:14.0-1.toml");
        assert_eq!(name_of("usb-1-2/input3"), "usb-1-2_input3.toml");
        assert_eq!(name_of("../../etc"), "_._.._etc.toml");
        assert_eq!(name_of(&"x".repeat(999)).len(), MOST_NAME + 5);
    }

    #[test]
    fn a_pad_gets_its_own_trim_or_is_told_why_not() {
        let dir = tempfile::tempdir().expect("a folder");
        let put = |name: &str, text: String| {
            std::fs::write(dir.path().join(name), text).expect("writable");
        };
        let good = |pad: &str| file(pad).text("", |_| String::new());
        put("usb-1.toml", good("usb-1"));
        put("usb-2.toml", good("usb-2").replace("full", "ful"));
        put("usb-3.toml", good("usb-4"));
        put("usb-5.toml", "x".repeat(70_000));
        put(".usb-6.toml.17.new", good("usb-6"));
        let shelf = Shelf::read(dir.path()).expect("readable");
        assert_eq!(shelf.of("usb-1", "Hall Pad"), OnShelf::Good(file("").trim));
        let why = |id, model| match shelf.of(id, model) {
            OnShelf::Bad { why, .. } => why,
            other => panic!("{other:?}"),
        };
        assert!(why("usb-1", "Stage Pad").contains("another model, \"Hall Pad\""));
        assert!(why("usb-2", "Hall Pad").contains("did you mean `full`?"));
        assert!(why("usb-3", "Hall Pad").contains("another pad, \"usb-4\""));
        assert!(why("usb-5", "Hall Pad").contains("too large"));
        // A copy under another name counts for the pad it names.
        assert!(matches!(shelf.of("usb-4", "Hall Pad"), OnShelf::Good(_)));
        assert_eq!(shelf.of("usb-6", "Hall Pad"), OnShelf::Nothing);
        assert!(Shelf::read(&dir.path().join("nowhere")).is_err());
    }
}
