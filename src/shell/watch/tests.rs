//! The thread and the system's events, with a looker that only counts.

use super::*;
use crate::shell::clock::Clock;
use std::os::unix::fs::symlink;
use std::sync::mpsc::{Receiver, Sender, channel};

/// Longest wait for something that must come, on a loaded machine too.
const PATIENCE: Duration = Duration::from_secs(15);

struct Reads {
    file: PathBuf,
    said: Sender<Option<String>>,
}

impl Looker for Reads {
    fn look(&mut self) -> Vec<PathBuf> {
        let _ = self.said.send(std::fs::read_to_string(&self.file).ok());
        vec![self.file.clone()]
    }

    fn called(&mut self) -> Vec<PathBuf> {
        let _ = self.said.send(Some("called".to_owned()));
        vec![self.file.clone()]
    }

    fn blind(&mut self, why: String) {
        let _ = self.said.send(Some(format!("blind: {why}")));
    }
}

fn start(file: PathBuf) -> (FileWatch, Receiver<Option<String>>) {
    let (said, heard) = channel();
    let clock = Clock::new();
    let watch = FileWatch::start(Reads { file, said }, move || clock.now()).expect("a thread");
    (watch, heard)
}

/// Waits for this content, past others.
fn want(heard: &Receiver<Option<String>>, wanted: Option<&str>) {
    let mut seen = Vec::new();
    while let Ok(one) = heard.recv_timeout(PATIENCE) {
        if one.as_deref() == wanted {
            return;
        }
        seen.push(one);
    }
    panic!("{wanted:?} was not read, only {seen:?}");
}

#[test]
fn folders_and_links_that_are_swapped_are_followed() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = |name: &str| folder.path().join(name);
    for (name, text) in [("one", "1"), ("two", "2"), ("three", "3")] {
        std::fs::create_dir(at(name)).expect("a folder");
        std::fs::write(at(name).join("talk.toml"), text).expect("written");
    }
    symlink("one", at("now")).expect("a link");
    let (watch, heard) = start(at("now/talk.toml"));
    want(&heard, Some("1"));
    // As a manager of dotfiles does: a new link over the old one.
    symlink("two", at("next")).expect("a link");
    std::fs::rename(at("next"), at("now")).expect("renamed");
    want(&heard, Some("2"));
    // The folder itself is moved away and another takes its name.
    std::fs::rename(at("two"), at("old")).expect("renamed");
    std::fs::rename(at("three"), at("two")).expect("renamed");
    want(&heard, Some("3"));
    std::fs::write(at("two/talk.toml"), "4").expect("written");
    want(&heard, Some("4"));
    std::fs::remove_dir_all(at("two")).expect("removed");
    want(&heard, None);
    std::fs::create_dir(at("two")).expect("a folder");
    std::fs::write(at("two/talk.toml"), "5").expect("written");
    want(&heard, Some("5"));
    drop(watch);
}

/// What no event tells of is found by the poll.
#[test]
fn a_watch_that_was_lost_is_made_good_by_the_poll() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("talk.toml");
    std::fs::write(&file, "1").expect("written");
    let (said, heard) = channel();
    let clock = Clock::new();
    let shared = Arc::new(Shared::default());
    let mut work = Work {
        looker: Reads {
            file: file.clone(),
            said,
        },
        now: move || clock.now(),
        shared: Arc::clone(&shared),
        // As where the system gives none.
        watcher: None,
        watched: BTreeMap::new(),
        stamps: BTreeMap::new(),
        told_blind: Vec::new(),
    };
    work.look();
    shared.lock().signs.clear();
    work.poll(clock.now());
    assert_eq!(shared.lock().signs.due(), None, "nothing changed");
    std::fs::write(&file, "22").expect("written");
    work.poll(clock.now());
    assert!(shared.lock().signs.due().is_some());
    shared.lock().signs.clear();
    work.look();
    work.poll(clock.now());
    assert_eq!(shared.lock().signs.due(), None, "it was read");
    drop(work);
    assert_eq!(heard.iter().last(), Some(Some("22".to_owned())));
}

#[test]
fn file_systems_on_other_machines_are_known_by_their_numbers() {
    assert_eq!(remote_kind(0x6969), Some("nfs"));
    // As a signed number of 32 bits.
    assert_eq!(
        remote_kind(i64::from(0xff53_4d42_u32.cast_signed())),
        Some("cifs")
    );
    // ext4 and tmpfs, from linux/magic.h.
    assert_eq!(remote_kind(0xef53), None);
    assert_eq!(remote_kind(0x0102_1994), None);
}
