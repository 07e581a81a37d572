//! Notices that files may have changed, on a thread of its own, and has them read anew when it is quiet.
//!
//! What is watched are folders, never the files: an editor that writes a new file and renames it over
//! the old one leaves a watch of the old one behind. Any sign means "look again", and whoever looks
//! compares contents. The system tells of most changes within a millisecond; what it does not tell of
//! (another folder under the old name, a file system on another machine) a poll finds.

mod signs;
mod trail;

pub use signs::{LONGEST, QUIET, UNCLOSED};
pub use trail::Trail;

use notify::{RecommendedWatcher, RecursiveMode, Watcher};
use signs::Signs;
use std::collections::BTreeMap;
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::{Builder, JoinHandle};
use std::time::Duration;
use stillhand_engine::time::{Span, Time};

/// How often files are looked at besides: what no event tells of is found by the next one.
pub const POLL: Span = Span::from_millis(1_000);
/// The same where there are no events at all.
pub const POLL_BLIND: Span = Span::from_millis(250);
/// Stack of the thread, as the system gives one: parsing a file takes most of it.
const STACK: usize = 2 * 1024 * 1024;

/// Reads the files.
pub trait Looker: Send + 'static {
    /// The files may have changed: read them. Returns those it went by, which are watched from now on.
    fn look(&mut self) -> Vec<PathBuf>;

    /// Somebody asked for something ([`Caller::call`]), which has nothing to do with files that changed.
    /// Returns the files as [`Looker::look`] does.
    fn called(&mut self) -> Vec<PathBuf>;

    /// No events are to be had: the files are looked at every [`POLL_BLIND`] instead. Told once for
    /// each reason.
    fn blind(&mut self, why: String);
}

/// The thread that watches. Dropping it ends the thread.
#[derive(Debug)]
pub struct FileWatch {
    shared: Arc<Shared>,
    thread: Option<JoinHandle<()>>,
}

#[derive(Debug, Default)]
struct Shared {
    state: Mutex<State>,
    changed: Condvar,
}

#[derive(Debug, Default)]
struct State {
    signs: Signs,
    called: bool,
    over: bool,
}

impl Shared {
    fn lock(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl FileWatch {
    /// Starts it. `looker` is asked at once, so that nothing that changed since the files were first
    /// read is missed.
    ///
    /// # Errors
    /// The system's, if there is no thread to be had.
    pub fn start(
        looker: impl Looker,
        now: impl Fn() -> Time + Clone + Send + 'static,
    ) -> std::io::Result<FileWatch> {
        let shared = Arc::new(Shared::default());
        let work = Work {
            looker,
            now,
            shared: Arc::clone(&shared),
            watcher: None,
            watched: BTreeMap::new(),
            stamps: BTreeMap::new(),
            told_blind: Vec::new(),
        };
        let thread = Builder::new()
            .name("file-watch".to_owned())
            .stack_size(STACK)
            .spawn(move || work.run())?;
        Ok(FileWatch {
            shared,
            thread: Some(thread),
        })
    }

    /// What calls the thread.
    pub fn caller(&self) -> Caller {
        Caller(Arc::clone(&self.shared))
    }
}

/// Has the thread see what it is asked for.
#[derive(Clone, Debug)]
pub struct Caller(Arc<Shared>);

impl Caller {
    /// Something was asked for.
    pub fn call(&self) {
        self.0.lock().called = true;
        self.0.changed.notify_all();
    }
}

impl Drop for FileWatch {
    fn drop(&mut self) {
        self.shared.lock().over = true;
        self.shared.changed.notify_all();
        if let Some(thread) = self.thread.take() {
            // It only ever ends; a panic in it would have ended the process.
            let _ = thread.join();
        }
    }
}

/// What tells one content of a file from another without reading it; `None` if it is not there.
type Stamp = Option<(u64, u64, u64, i64, i64, i64, i64)>;

fn stamp(path: &Path) -> Stamp {
    let about = std::fs::metadata(path).ok()?;
    Some((
        about.dev(),
        about.ino(),
        about.size(),
        about.mtime(),
        about.mtime_nsec(),
        about.ctime(),
        about.ctime_nsec(),
    ))
}

struct Work<L, N> {
    looker: L,
    now: N,
    shared: Arc<Shared>,
    /// `None` where there are no events.
    watcher: Option<RecommendedWatcher>,
    /// The folders watched, and which one had that name.
    watched: BTreeMap<PathBuf, Option<(u64, u64)>>,
    /// The files, as they were when they were read.
    stamps: BTreeMap<PathBuf, Stamp>,
    told_blind: Vec<String>,
}

impl<L: Looker, N: Fn() -> Time + Clone + Send + 'static> Work<L, N> {
    fn run(mut self) {
        self.watcher = self.listen();
        self.look();
        let mut next_poll = (self.now)() + POLL;
        let shared = Arc::clone(&self.shared);
        loop {
            let now = (self.now)();
            let mut state = shared.lock();
            if state.over {
                return;
            }
            let due = state.signs.due();
            if std::mem::take(&mut state.called) {
                drop(state);
                self.called();
            } else if due.is_some_and(|due| due <= now) {
                state.signs.clear();
                drop(state);
                self.look();
            } else if next_poll <= now {
                drop(state);
                self.poll(now);
                next_poll = now + self.pace();
            } else {
                let until = due.map_or(next_poll, |due| due.min(next_poll));
                let wait = Duration::from_nanos(until.since(now).0);
                // Either way the next turn looks what there is.
                drop(shared.changed.wait_timeout(state, wait));
            }
        }
    }

    fn pace(&self) -> Span {
        match self.told_blind.is_empty() {
            true => POLL,
            false => POLL_BLIND,
        }
    }

    fn listen(&mut self) -> Option<RecommendedWatcher> {
        let (shared, now) = (Arc::clone(&self.shared), self.now.clone());
        let handler = move |event: notify::Result<notify::Event>| {
            let mut state = shared.lock();
            let news = match event {
                Ok(event) => state.signs.take(now(), &event),
                Err(_) => {
                    state.signs.sign(now());
                    true
                }
            };
            drop(state);
            if news {
                shared.changed.notify_all();
            }
        };
        match notify::recommended_watcher(handler) {
            Ok(watcher) => Some(watcher),
            Err(error) => {
                self.blind(format!("the system gives no file events ({error})"));
                None
            }
        }
    }

    fn blind(&mut self, why: String) {
        if !self.told_blind.contains(&why) {
            self.looker.blind(why.clone());
            self.told_blind.push(why);
        }
    }

    /// Reads the files, and watches where they lie now.
    fn look(&mut self) {
        // Watched before they are read: what changes meanwhile is a sign again.
        let before: Vec<PathBuf> = self.stamps.keys().cloned().collect();
        self.watch(&before);
        let stamps: BTreeMap<PathBuf, Stamp> = before
            .into_iter()
            .map(|path| (path.clone(), stamp(&path)))
            .collect();
        let files = self.looker.look();
        self.go_by(&files, &stamps);
    }

    /// What is asked for may have other files watched; those that were before are as they were read.
    fn called(&mut self) {
        let files = self.looker.called();
        let stamps = std::mem::take(&mut self.stamps);
        self.go_by(&files, &stamps);
    }

    /// Watches these files from now on; some were looked at before.
    fn go_by(&mut self, files: &[PathBuf], stamps: &BTreeMap<PathBuf, Stamp>) {
        let fresh = files.iter().any(|path| !stamps.contains_key(path));
        self.stamps = files
            .iter()
            .map(|path| {
                let known = stamps.get(path).copied();
                (path.clone(), known.unwrap_or_else(|| stamp(path)))
            })
            .collect();
        self.watch(files);
        if fresh {
            // One that was not watched while it was read is read once more.
            self.shared.lock().signs.sign((self.now)());
        }
    }

    /// Whether any file is another one than when it was read.
    fn poll(&mut self, now: Time) {
        if self.stamps.iter().any(|(path, then)| stamp(path) != *then) {
            let mut state = self.shared.lock();
            // Unless it is known already, and waited for.
            if state.signs.due().is_none() {
                state.signs.sign(now);
            }
        }
    }

    fn watch(&mut self, files: &[PathBuf]) {
        let trail = Trail::of(files);
        self.shared.lock().signs.trail = trail.clone();
        for path in files {
            if let Some(kind) = remote(path) {
                self.blind(format!(
                    "{} lies on a file system of the kind {kind}, which does not tell of changes made \
                     elsewhere",
                    path.display()
                ));
            }
        }
        let Some(watcher) = &mut self.watcher else {
            return;
        };
        let gone: Vec<PathBuf> = self.watched.keys().cloned().collect();
        for folder in gone {
            let now = which(&folder);
            let same = self.watched.get(&folder) == Some(&now);
            if !same || !trail.folders.contains(&folder) {
                // Refused where the folder is gone, and its watch with it.
                let _ = watcher.unwatch(&folder);
                self.watched.remove(&folder);
            }
        }
        let mut refused = None;
        for folder in &trail.folders {
            // Again if it is watched already: a folder that was moved away and back has lost its watch.
            match watcher.watch(folder, RecursiveMode::NonRecursive) {
                Ok(()) => {
                    self.watched.insert(folder.clone(), which(folder));
                }
                Err(error) => {
                    let full = matches!(error.kind, notify::ErrorKind::MaxFilesWatch);
                    let own = files.iter().any(|file| file.parent() == Some(folder));
                    // A folder that may not be read or is not there is left to the poll.
                    if full || (own && folder.is_dir()) {
                        refused = Some(error);
                    }
                }
            }
        }
        if let Some(error) = refused {
            self.blind(format!("a folder can't be watched ({error})"));
        }
    }
}

/// Which folder has this name now.
fn which(folder: &Path) -> Option<(u64, u64)> {
    let about = std::fs::metadata(folder).ok()?;
    Some((about.dev(), about.ino()))
}

/// File systems on which changes made elsewhere give no event here, by the numbers of statfs(2) and
/// linux/magic.h.
const REMOTE: [(i64, &str); 8] = [
    (0x6969, "nfs"),
    (0x517b, "smb"),
    (0xff53_4d42, "cifs"),
    (0xfe53_4d42, "smb2"),
    (0x6573_5546, "fuse"),
    (0x0102_1997, "9p"),
    (0x00c3_6400, "ceph"),
    (0x5346_414f, "afs"),
];

/// The kind of file system a file lies on, if it is one of those.
fn remote(path: &Path) -> Option<&'static str> {
    let about = rustix::fs::statfs(path).ok()?;
    remote_kind(about.f_type)
}

fn remote_kind(number: i64) -> Option<&'static str> {
    // The numbers have 32 bits, whatever their type is.
    let same = |(own, _): &&(i64, &str)| *own == number & 0xffff_ffff;
    REMOTE.iter().find(same).map(|(_, name)| *name)
}

#[cfg(test)]
mod tests;
