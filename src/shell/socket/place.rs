//! Where the control socket lies: in a folder of this user's own.

use std::fmt;
use std::fs::{self, DirBuilder, Permissions};
use std::io::{self, ErrorKind};
use std::os::unix::fs::{DirBuilderExt, MetadataExt, PermissionsExt};
use std::os::unix::net::{UnixListener, UnixStream};
use std::path::{Path, PathBuf};

/// A path to listen at, removed when nobody listens any more.
#[derive(Debug)]
pub struct Place {
    path: PathBuf,
    /// Device and file number of the socket that was made, to remove no other.
    made: std::cell::Cell<Option<(u64, u64)>>,
}

/// Why nobody can listen there, in words.
#[derive(Debug)]
pub enum PlaceProblem {
    /// Another daemon listens.
    Taken(PathBuf),
    /// The folder can be written by others, or is another's.
    NotPrivate(PathBuf),
    /// Something that is no socket lies there.
    InTheWay(PathBuf),
    /// What the system said.
    System(PathBuf, io::Error),
}

impl fmt::Display for PlaceProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let none = "this one can't be asked or stopped from a terminal";
        match self {
            PlaceProblem::Taken(path) => write!(
                f,
                "another daemon for a rig of this name listens at {}: {none}; end the other, or give \
                 this one a --socket of its own",
                path.display()
            ),
            PlaceProblem::NotPrivate(path) => write!(
                f,
                "{} is not this user's alone: {none}; chmod 700 it, or name another with --socket",
                path.display()
            ),
            PlaceProblem::InTheWay(path) => write!(
                f,
                "{} is there and no socket: {none}; move it away, or name another with --socket",
                path.display()
            ),
            PlaceProblem::System(path, error) => {
                write!(
                    f,
                    "no control socket at {}: {error}; {none}",
                    path.display()
                )
            }
        }
    }
}

impl std::error::Error for PlaceProblem {}

/// The folder of this user's sockets: in `XDG_RUNTIME_DIR` (XDG Base Directory Specification 0.8), or
/// without one beside other temporary files.
pub fn folder() -> PathBuf {
    match std::env::var_os("XDG_RUNTIME_DIR") {
        Some(dir) if Path::new(&dir).is_absolute() => Path::new(&dir).join("stillhand"),
        _ => {
            let user = rustix::process::geteuid().as_raw();
            std::env::temp_dir().join(format!("stillhand-{user}"))
        }
    }
}

/// The sockets in this user's folder.
pub fn present() -> Vec<PathBuf> {
    let entries = fs::read_dir(folder()).into_iter().flatten().flatten();
    let paths = entries.map(|entry| entry.path());
    let mut sockets: Vec<PathBuf> = paths
        .filter(|path| path.extension().is_some_and(|e| e == "sock"))
        .collect();
    sockets.sort();
    sockets
}

impl Place {
    /// The place for the rig of this ID: made private, and free.
    ///
    /// # Errors
    /// Why it can't be had.
    pub fn of_rig(id: &str) -> Result<Place, PlaceProblem> {
        let folder = folder();
        let system = |error| PlaceProblem::System(folder.clone(), error);
        match DirBuilder::new().mode(0o700).create(&folder) {
            Err(error) if error.kind() != ErrorKind::AlreadyExists => return Err(system(error)),
            _ => {}
        }
        // Not followed: a link could lead into another's folder.
        let about = fs::symlink_metadata(&folder).map_err(system)?;
        let own = about.uid() == rustix::process::geteuid().as_raw();
        if !about.is_dir() || !own || about.mode() & 0o077 != 0 {
            return Err(PlaceProblem::NotPrivate(folder));
        }
        Place::at(folder.join(format!("{id}.sock")))
    }

    /// This place, if it is free.
    ///
    /// # Errors
    /// Why it can't be had.
    pub fn at(path: PathBuf) -> Result<Place, PlaceProblem> {
        use std::os::unix::fs::FileTypeExt;
        match fs::symlink_metadata(&path) {
            Err(error) if error.kind() == ErrorKind::NotFound => {}
            Err(error) => return Err(PlaceProblem::System(path, error)),
            Ok(about) if !about.file_type().is_socket() => {
                return Err(PlaceProblem::InTheWay(path));
            }
            Ok(_) => match UnixStream::connect(&path) {
                Ok(_) => return Err(PlaceProblem::Taken(path)),
                // Left behind by one that was killed.
                Err(error) if error.kind() == ErrorKind::ConnectionRefused => {
                    if let Err(error) = fs::remove_file(&path) {
                        return Err(PlaceProblem::System(path, error));
                    }
                }
                Err(error) => return Err(PlaceProblem::System(path, error)),
            },
        }
        Ok(Place {
            path,
            made: std::cell::Cell::new(None),
        })
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// A socket there, for this user alone.
    pub(super) fn listener(&self) -> io::Result<UnixListener> {
        let listener = UnixListener::bind(&self.path)?;
        fs::set_permissions(&self.path, Permissions::from_mode(0o600))?;
        let about = fs::symlink_metadata(&self.path)?;
        self.made.set(Some((about.dev(), about.ino())));
        listener.set_nonblocking(true)?;
        Ok(listener)
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let there = fs::symlink_metadata(&self.path).map(|about| (about.dev(), about.ino()));
        if there
            .ok()
            .is_some_and(|there| self.made.get() == Some(there))
        {
            // Nobody can do anything about one that stays.
            let _ = fs::remove_file(&self.path);
        }
    }
}
