//! Finding and opening a pad's raw reports, on a thread of its own: either may wait for the device.

use std::fs::{self, File, OpenOptions};
use std::io;
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender};
use std::sync::{Arc, Weak};
use std::time::Duration;

use super::{Node, Watched};
use crate::shell::pad::board::{Board, PadNotice};
use crate::shell::pad::device::INPUT_CLASS;

/// Where the nodes are.
const NODES: &str = "/dev";
/// Between two attempts at one node: udev gives rights a moment after the pad appears.
const AGAIN: Duration = Duration::from_millis(500);
/// How often it is tried.
const TRIES: u8 = 6;

/// A pad whose reports are wanted.
#[derive(Clone, Debug)]
pub(super) struct Wanted {
    /// Its event node.
    pub node: PathBuf,
    /// The unit.
    pub id: String,
    pub by_radio: bool,
    pub watched: Weak<Watched>,
}

/// What it takes to find a node and hand it on.
pub(super) struct Finder<O> {
    class: PathBuf,
    nodes: PathBuf,
    open: O,
    found: SyncSender<Node>,
    board: Arc<Board>,
}

/// The finder of this machine.
pub(super) fn finder(
    found: SyncSender<Node>,
    board: Arc<Board>,
) -> Finder<impl Fn(&Path) -> io::Result<File>> {
    Finder {
        class: PathBuf::from(INPUT_CLASS),
        nodes: PathBuf::from(NODES),
        open,
        found,
        board,
    }
}

impl<O: Fn(&Path) -> io::Result<File>> Finder<O> {
    /// Finds, opens and hands on what is wanted until nobody wants anything more.
    pub(super) fn run(&self, wants: &Receiver<Wanted>) {
        let mut trying: Vec<(Wanted, u8)> = Vec::new();
        loop {
            let wanted = match trying.is_empty() {
                true => wants.recv().map_err(|_| RecvTimeoutError::Disconnected),
                false => wants.recv_timeout(AGAIN),
            };
            match wanted {
                Ok(wanted) => trying.push((wanted, 0)),
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => return,
            }
            trying.retain_mut(|(wanted, tries)| {
                *tries += 1;
                self.attempt(wanted, *tries == TRIES) && *tries < TRIES
            });
        }
    }

    /// One attempt; whether another one may help.
    fn attempt(&self, wanted: &Wanted, last: bool) -> bool {
        if wanted.watched.strong_count() == 0 {
            return false;
        }
        let Some(node) = raw_node(&self.class, &self.nodes, &wanted.node) else {
            return true;
        };
        match (self.open)(&node) {
            Ok(file) => {
                let node = Node::new(file, wanted.watched.clone(), wanted.by_radio);
                // With no room it is judged by its events, as one without reports.
                let _ = self.found.try_send(node);
                false
            }
            Err(error) => {
                if last && error.kind() == io::ErrorKind::PermissionDenied {
                    let id = wanted.id.clone();
                    self.board.notice(PadNotice::NoReports { id, node });
                }
                true
            }
        }
    }
}

/// Opens a node to read, and nothing else.
fn open(node: &Path) -> io::Result<File> {
    OpenOptions::new()
        .read(true)
        .custom_flags(libc::O_NONBLOCK | libc::O_CLOEXEC)
        .open(node)
}

/// The node with the raw reports of the pad behind an event node: `eventN/device` is its input device, the
/// `device` of that the HID device, if it is one, and only that one's own `hidraw` counts. A driver may offer a
/// second HID device beside it, and takes the pad away from the event node as soon as that one's is opened.
fn raw_node(class: &Path, nodes: &Path, event: &Path) -> Option<PathBuf> {
    let hid = class.join(event.file_name()?).join("device/device/hidraw");
    let mut names = fs::read_dir(hid)
        .ok()?
        .flatten()
        .map(|entry| entry.file_name());
    let name = names.find(|name| name.to_string_lossy().starts_with("hidraw"))?;
    Some(nodes.join(name))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::os::unix::fs::symlink;
    use std::sync::mpsc::sync_channel;
    use stillhand_engine::input::PadId;
    use tempfile::TempDir;

    /// A made-up /sys with one pad at event3, laid out as the kernel's: `hid` is where the HID device is.
    fn sys(hid: &str, raw: Option<&str>) -> (TempDir, PathBuf) {
        let folder = tempfile::tempdir().expect("a folder");
        let device = folder.path().join("devices").join(hid);
        let input = device.join("input/input12");
        fs::create_dir_all(input.join("event3")).expect("writable");
        if let Some(raw) = raw {
            fs::create_dir_all(folder.path().join("devices").join(raw)).expect("writable");
        }
        let class = folder.path().join("class/input");
        fs::create_dir_all(&class).expect("writable");
        symlink(input.join("event3"), class.join("event3")).expect("free");
        symlink("../../input12", input.join("event3/device")).expect("free");
        symlink(&device, input.join("device")).expect("free");
        (folder, class)
    }

    #[test]
    fn the_raw_node_is_that_of_the_same_device() {
        let usb = "pci0000:00/usb1/1-2/1-2:1.0/0003:1209:0001.0001";
        let radio = "virtual/misc/uhid/0005:1209:0001.0002";
        let of = |hid: &str, raw: Option<&str>| {
            let (_folder, class) = sys(hid, raw);
            raw_node(&class, Path::new("/dev"), Path::new("/dev/input/event3"))
        };
        for hid in [usb, radio] {
            let raw = format!("{hid}/hidraw/hidraw4");
            assert_eq!(of(hid, Some(&raw)), Some(PathBuf::from("/dev/hidraw4")));
        }
        // Of another interface, of a device beside it, of the one behind it, or none at all.
        let others = [
            "pci0000:00/usb1/1-2/1-2:1.1/0003:1209:0001.0003/hidraw/hidraw5",
            "pci0000:00/usb1/1-2/1-2:1.0/0003:1209:0001.0009/hidraw/hidraw5",
            "pci0000:00/usb1/1-2/1-2:1.0/hidraw/hidraw5",
        ];
        for other in others.map(Some).into_iter().chain([None]) {
            assert_eq!(of(usb, other), None, "{other:?}");
        }
        // A driver of its own, without HID.
        assert_eq!(of("pci0000:00/usb1/1-2/1-2:1.0", None), None);
        assert_eq!(
            raw_node(
                Path::new("/nowhere"),
                Path::new("/dev"),
                Path::new("/x/event3")
            ),
            None
        );
    }

    /// A finder in that /sys whose nodes open like this, and a pad that wants its reports.
    fn wanting<O: Fn(&Path) -> io::Result<File>>(
        class: PathBuf,
        open: O,
    ) -> (Finder<O>, Receiver<Node>, Arc<Watched>, Wanted) {
        let (found, founds) = sync_channel(1);
        let finder = Finder {
            class,
            nodes: PathBuf::from("/dev"),
            open,
            found,
            board: Arc::default(),
        };
        let watched = Arc::new(Watched {
            pad: PadId(0),
            changed: Default::default(),
            streams: Default::default(),
        });
        let wanted = Wanted {
            node: PathBuf::from("/dev/input/event3"),
            id: "usb-1".to_owned(),
            by_radio: false,
            watched: Arc::downgrade(&watched),
        };
        (finder, founds, watched, wanted)
    }

    #[test]
    fn what_may_not_be_read_is_told_once_and_how_to_mend_it() {
        let (_folder, class) = sys("usb/hid", Some("usb/hid/hidraw/hidraw4"));
        let forbidden = |_: &Path| Err(io::ErrorKind::PermissionDenied.into());
        let (finder, founds, pad, wanted) = wanting(class, forbidden);
        assert!(finder.attempt(&wanted, false) && finder.board.take_notices().is_empty());
        finder.attempt(&wanted, true);
        let told = finder.board.take_notices();
        let [told] = &told[..] else {
            panic!("{told:?}")
        };
        let told = told.to_string();
        for word in ["usb-1", "/dev/hidraw4", "udev"] {
            assert!(told.contains(word), "{told}");
        }
        assert!(founds.try_recv().is_err());
        // A pad that is gone is not looked for.
        drop(pad);
        assert!(!finder.attempt(&wanted, true) && finder.board.take_notices().is_empty());
    }

    #[test]
    fn what_is_not_there_is_tried_again_and_never_told() {
        let (_folder, class) = sys("usb/hid", Some("usb/hid/hidraw/hidraw4"));
        let gone = |_: &Path| Err(io::ErrorKind::NotFound.into());
        let (finder, ..) = wanting(class.clone(), gone);
        let (_, _, _pad, wanted) = wanting(class.clone(), gone);
        assert!(finder.attempt(&wanted, true) && finder.board.take_notices().is_empty());
        let (finder, founds, _pad, wanted) = wanting(class, |_: &Path| File::open("/dev/null"));
        assert!(!finder.attempt(&wanted, false) && founds.try_recv().is_ok());
    }
}
