//! Signs that a file may have changed, gathered until it is quiet.

use super::trail::Trail;
use notify::event::{AccessKind, AccessMode, CreateKind, ModifyKind};
use notify::{Event, EventKind};
use std::collections::BTreeSet;
use std::path::PathBuf;
use stillhand_engine::time::{Span, Time};

/// Quiet that has to follow the last sign before files are read. Editors save in several steps
/// (truncate and write, write and rename, back up, rename and write anew), a few milliseconds apart.
pub const QUIET: Span = Span::from_millis(100);
/// A file that is written to and was not closed yet is read this long after the last sign all the same:
/// whoever holds it open may have forgotten it.
pub const UNCLOSED: Span = Span::from_millis(2_000);
/// Signs without end, each sooner than [`QUIET`] after the one before, put reading off for this long.
pub const LONGEST: Span = Span::from_millis(1_000);

/// What was noticed since the files were last read.
#[derive(Debug, Default)]
pub struct Signs {
    /// What is watched: signs of anything else count for nothing.
    pub trail: Trail,
    first: Option<Time>,
    last: Time,
    /// Files that are being written to.
    open: BTreeSet<PathBuf>,
}

impl Signs {
    /// Something may have changed.
    pub fn sign(&mut self, now: Time) {
        self.first.get_or_insert(now);
        self.last = now;
    }

    /// Takes what the system tells. Whether it is of interest.
    pub fn take(&mut self, now: Time, event: &Event) -> bool {
        if event.need_rescan() {
            self.sign(now);
            return true;
        }
        let own = |path: &&PathBuf| {
            self.trail.names.contains(*path) || self.trail.folders.contains(*path)
        };
        let paths: Vec<PathBuf> = event.paths.iter().filter(own).cloned().collect();
        if paths.is_empty() {
            return false;
        }
        match event.kind {
            // Reading is no change, and we read ourselves.
            EventKind::Access(AccessKind::Close(AccessMode::Write)) => self.closed(&paths),
            EventKind::Access(_) => return false,
            EventKind::Modify(ModifyKind::Data(_)) => self.open.extend(paths),
            EventKind::Create(CreateKind::File) => {
                // A link is whole once it is there; a file is about to be written.
                let file = |path: &PathBuf| path.symlink_metadata().is_ok_and(|m| m.is_file());
                self.open.extend(paths.into_iter().filter(file));
            }
            EventKind::Modify(ModifyKind::Name(_)) | EventKind::Remove(_) => self.closed(&paths),
            _ => {}
        }
        self.sign(now);
        true
    }

    fn closed(&mut self, paths: &[PathBuf]) {
        for path in paths {
            self.open.remove(path);
        }
    }

    /// When the files are to be read; `None` if there is no sign.
    pub fn due(&self) -> Option<Time> {
        let first = self.first?;
        match self.open.is_empty() {
            true => Some((self.last + QUIET).min(first + LONGEST)),
            false => Some(self.last + UNCLOSED),
        }
    }

    /// They are about to be read.
    pub fn clear(&mut self) {
        self.first = None;
        self.open.clear();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use notify::event::{DataChange, MetadataKind, RenameMode};

    const MS: u64 = 1_000_000;
    const FILE: &str = "/hall/talk.toml";
    const WRITE: EventKind = EventKind::Modify(ModifyKind::Data(DataChange::Any));
    const CLOSE: EventKind = EventKind::Access(AccessKind::Close(AccessMode::Write));

    fn at(ms: u64) -> Time {
        Time(ms * MS)
    }

    fn signs() -> Signs {
        let mut signs = Signs::default();
        signs.trail.names.insert(PathBuf::from(FILE));
        signs.trail.folders.insert(PathBuf::from("/hall"));
        signs
    }

    fn tell(signs: &mut Signs, ms: u64, kind: EventKind, path: &str) -> bool {
        signs.take(at(ms), &Event::new(kind).add_path(PathBuf::from(path)))
    }

    #[test]
    fn it_is_read_when_it_was_quiet_for_a_while() {
        let mut signs = signs();
        assert_eq!(signs.due(), None);
        let metadata = EventKind::Modify(ModifyKind::Metadata(MetadataKind::Any));
        assert!(tell(&mut signs, 10, metadata, FILE));
        assert!(tell(
            &mut signs,
            60,
            EventKind::Modify(ModifyKind::Name(RenameMode::To)),
            FILE
        ));
        assert_eq!(signs.due(), Some(at(160)));
        signs.clear();
        assert_eq!(signs.due(), None);
    }

    #[test]
    fn a_file_still_open_is_waited_for() {
        let mut signs = signs();
        assert!(tell(&mut signs, 0, WRITE, FILE));
        assert_eq!(signs.due(), Some(at(2_000)), "it may never be closed");
        assert!(tell(&mut signs, 700, WRITE, FILE));
        assert!(tell(&mut signs, 900, CLOSE, FILE));
        assert_eq!(signs.due(), Some(at(1_000)));
    }

    #[test]
    fn signs_without_end_do_not_put_it_off_for_ever() {
        let mut signs = signs();
        for ms in (0..=960).step_by(40) {
            assert!(tell(&mut signs, ms, WRITE, FILE));
            assert!(tell(&mut signs, ms, CLOSE, FILE));
        }
        assert_eq!(signs.due(), Some(at(1_000)));
    }

    #[test]
    fn readers_and_neighbours_count_for_nothing() {
        let mut signs = signs();
        let read = EventKind::Access(AccessKind::Open(AccessMode::Any));
        assert!(!tell(&mut signs, 0, read, FILE));
        assert!(!tell(&mut signs, 0, WRITE, "/hall/notes.txt"));
        assert_eq!(signs.due(), None);
        let missed = Event::new(EventKind::Other).set_flag(notify::event::Flag::Rescan);
        assert!(signs.take(at(5), &missed), "the queue ran over");
        assert_eq!(signs.due(), Some(at(105)));
    }
}
