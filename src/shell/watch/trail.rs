//! Where a file could be changed: every link on the way to it, and every folder that names one.

use std::collections::BTreeSet;
use std::path::{Component, Path, PathBuf};

/// Links followed on the way to one file; as many as Linux follows (path_resolution(7)).
const MOST_LINKS: usize = 40;

/// What to watch for one or more files.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Trail {
    /// The files, the links on the way to them, and the folders they lie in, as paths without a link
    /// but the last part: a change of one of these may change a file.
    pub names: BTreeSet<PathBuf>,
    /// The folders in which those names stand.
    pub folders: BTreeSet<PathBuf>,
}

impl Trail {
    /// The trail of all these files. What is not there, or may not be looked at, ends the way to it.
    pub fn of<'a>(files: impl IntoIterator<Item = &'a PathBuf>) -> Trail {
        let mut trail = Trail::default();
        for file in files {
            // Fails for an empty path only, or without a working folder; the poll has to do then.
            if let Ok(path) = std::path::absolute(file) {
                trail.follow(&path);
            }
        }
        trail
    }

    fn follow(&mut self, path: &Path) {
        let mut rest: Vec<PathBuf> = parts(path);
        let mut here = PathBuf::new();
        let mut links = 0;
        while let Some(part) = rest.pop() {
            if part == Path::new("..") {
                here.pop();
                continue;
            }
            here.push(&part);
            let Ok(target) = std::fs::read_link(&here) else {
                continue;
            };
            self.name(&here);
            links += 1;
            if links > MOST_LINKS {
                return;
            }
            here.pop();
            if target.is_absolute() {
                here = PathBuf::new();
            }
            rest.extend(parts(&target));
        }
        self.name(&here);
        // A folder may be moved away and another one take its name.
        if let Some(folder) = here.parent() {
            self.name(folder);
        }
    }

    fn name(&mut self, path: &Path) {
        if let Some(folder) = path.parent() {
            self.names.insert(path.to_owned());
            self.folders.insert(folder.to_owned());
        }
    }
}

/// The parts of a path, the first one last.
fn parts(path: &Path) -> Vec<PathBuf> {
    let part = |part: Component| match part {
        Component::CurDir => None,
        other => Some(PathBuf::from(other.as_os_str())),
    };
    let mut parts: Vec<PathBuf> = path.components().filter_map(part).collect();
    parts.reverse();
    parts
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::os::unix::fs::symlink;

    #[test]
    fn every_link_and_every_folder_on_the_way_is_on_the_trail() {
        let folder = tempfile::tempdir().expect("a folder");
        let top = folder.path().canonicalize().expect("there");
        let at = |name: &str| top.join(name);
        std::fs::create_dir_all(at("store/v1")).expect("a folder");
        std::fs::create_dir(at("conf")).expect("a folder");
        std::fs::write(at("store/v1/talk.toml"), "x").expect("written");
        symlink("v1", at("store/now")).expect("a link");
        symlink("../store/now/talk.toml", at("conf/talk.toml")).expect("a link");
        let trail = Trail::of([&at("conf/talk.toml")]);
        for name in [
            "conf/talk.toml",
            "store/now",
            "store/v1/talk.toml",
            "store/v1",
        ] {
            assert!(trail.names.contains(&at(name)), "{name}: {trail:?}");
        }
        for name in ["conf", "store", "store/v1"] {
            assert!(trail.folders.contains(&at(name)), "{name}: {trail:?}");
        }
    }

    #[test]
    fn a_ring_of_links_and_a_file_that_is_not_there_end() {
        let folder = tempfile::tempdir().expect("a folder");
        let top = folder.path().canonicalize().expect("there");
        symlink("b", top.join("a")).expect("a link");
        symlink("a", top.join("b")).expect("a link");
        let trail = Trail::of([&top.join("a"), &top.join("none/talk.toml")]);
        assert!(trail.names.contains(&top.join("b")), "{trail:?}");
        assert!(trail.folders.contains(&top.join("none")), "{trail:?}");
        assert_eq!(Trail::of([&PathBuf::new()]), Trail::default());
    }
}
