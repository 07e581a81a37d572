//! A pad's raw reports: signs of life that do not wait for a thumb to move.
//!
//! The kernel makes events of what changes; `hidraw` (Documentation/hid/hidraw.rst of the kernel) hands on every
//! report. They are counted and nothing else: no byte of them is understood, kept for longer than until the next
//! one, or told. A pad whose reports were seen to come while nothing changed ([`streams`]) is missed soon after
//! they end; of any other they are signs of life as events are.
//!
//! Two threads, because the one must never wait for a device: `pad-nodes` finds and opens, `pad-reports` reads,
//! in real time as the pads' thread is, and rests after each look. What it sees goes by flags, one a pad: to the
//! loop that it lives ([`super::mailbox`]), and to the pads' thread that it streams.

mod find;
mod streams;

use std::fs::File;
use std::io::{self, Read};
use std::os::fd::AsFd;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, TryRecvError, sync_channel};
use std::sync::{Arc, Weak};
use std::time::Duration;

use rustix::event::{PollFd, PollFlags, Timespec, poll};
use stillhand_engine::MAX_PADS;
use stillhand_engine::input::PadId;
use stillhand_engine::time::Time;

use super::board::Board;
use super::device::{Bus, Device};
use super::mailbox::Signs;
use crate::shell::realtime::feed_punctually;
use find::Wanted;
use streams::Streams;

/// Pads that may wait to be found or read: as many as there can be, and as many again that came in their place.
const WAITING: usize = 2 * MAX_PADS;
/// Rest after each look: so many times a second, 50, a pad is told to be alive at most. Six looks fit into the
/// bound that hangs on it twice over.
const REST: Duration = Duration::from_millis(20);
/// The longest wait for a report: a pad that fell silent, one that was opened and the end are noticed within it.
const LONGEST_WAIT: Timespec = Timespec {
    tv_sec: 0,
    tv_nsec: 100_000_000,
};
/// Reports read in one look: what the kernel keeps of one node (`HIDRAW_BUFFER_SIZE` of linux/hidraw.h). A pad
/// that reports 1000 times a second brings 20 in a rest.
const MOST: usize = 64;
/// Bytes read of a report; pads' are 64 to 78 long. What a longer one has behind them is left out.
const LONG: usize = 256;

/// What the pads' thread and the reports' know of one pad.
#[derive(Debug)]
pub(super) struct Watched {
    pad: PadId,
    /// When an event of it was last heard, in nanoseconds of our clock.
    changed: AtomicU64,
    streams: AtomicBool,
}

impl Watched {
    /// Something of the pad changed.
    pub(super) fn changed(&self, now: Time) {
        self.changed.store(now.0, Ordering::Relaxed);
    }

    /// Whether its reports come all the time.
    pub(super) fn streams(&self) -> bool {
        self.streams.load(Ordering::Relaxed)
    }
}

/// The two threads, from the side of the pads'. They end with it.
#[derive(Debug)]
pub(super) struct Reports {
    wanted: SyncSender<Wanted>,
}

impl Reports {
    /// Starts them. What somebody should be told goes to `board`, signs of life to the loop.
    ///
    /// # Errors
    /// The system's, when it gives no thread.
    pub(super) fn start(
        board: Arc<Board>,
        signs: Signs,
        now: impl Fn() -> Time + Send + 'static,
    ) -> io::Result<Reports> {
        let (wanted, wants) = sync_channel(WAITING);
        let (found, founds) = sync_channel(WAITING);
        std::thread::Builder::new()
            .name("pad-reports".to_string())
            .spawn(move || {
                feed_punctually();
                read(&founds, &signs, now);
            })?;
        std::thread::Builder::new()
            .name("pad-nodes".to_string())
            .spawn(move || find::finder(found, board).run(&wants))?;
        Ok(Reports { wanted })
    }

    /// Has a pad's reports watched from now on, until what is returned is dropped.
    pub(super) fn watch(&self, pad: PadId, device: &Device, now: Time) -> Arc<Watched> {
        let watched = Arc::new(Watched {
            pad,
            changed: AtomicU64::new(now.0),
            streams: AtomicBool::new(false),
        });
        // With no room it is judged by its events, as one without reports.
        let _ = self.wanted.try_send(Wanted {
            node: device.node.clone(),
            id: device.id.clone(),
            by_radio: device.bus == Bus::Bluetooth,
            watched: Arc::downgrade(&watched),
        });
        watched
    }
}

/// A node that is read.
#[derive(Debug)]
struct Node {
    file: File,
    watched: Weak<Watched>,
    /// Each report came by radio, so each is a sign of life. Behind a cable there may be a receiver, which may
    /// repeat the last word of a pad that is gone: there only a report unlike the one before is one.
    by_radio: bool,
    last: Vec<u8>,
    streams: Streams,
}

impl Node {
    fn new(file: File, watched: Weak<Watched>, by_radio: bool) -> Node {
        Node {
            file,
            watched,
            by_radio,
            last: Vec::with_capacity(LONG),
            streams: Streams::default(),
        }
    }

    /// Reads what has come and says how many signs of life were in it.
    ///
    /// # Errors
    /// The node is gone.
    fn drain(&mut self) -> io::Result<u32> {
        let mut lives = 0;
        let mut report = [0; LONG];
        for _ in 0..MOST {
            match self.file.read(&mut report) {
                Ok(0) => return Err(io::ErrorKind::UnexpectedEof.into()),
                Ok(long) => {
                    let report = &report[..long];
                    lives += u32::from(self.by_radio || self.last != report);
                    self.last.clear();
                    self.last.extend_from_slice(report);
                }
                Err(error) if error.kind() == io::ErrorKind::WouldBlock => break,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => return Err(error),
            }
        }
        Ok(lives)
    }

    /// One look; `false` once there is nothing more to look at.
    fn look(&mut self, signs: &Signs, now: Time) -> bool {
        let Some(watched) = self.watched.upgrade() else {
            return false;
        };
        let drained = self.drain();
        let lives = *drained.as_ref().unwrap_or(&0);
        if lives > 0 {
            signs.alive(watched.pad);
        }
        let changed = Time(watched.changed.load(Ordering::Relaxed));
        let streams = drained.is_ok() && self.streams.look(now, lives, changed);
        watched.streams.store(streams, Ordering::Relaxed);
        drained.is_ok()
    }
}

/// Reads all nodes until nobody can bring another one.
fn read(founds: &Receiver<Node>, signs: &Signs, now: impl Fn() -> Time) {
    let mut nodes: Vec<Node> = Vec::with_capacity(WAITING);
    loop {
        if nodes.is_empty() {
            let Ok(node) = founds.recv() else { return };
            nodes.push(node);
        }
        loop {
            match founds.try_recv() {
                Ok(node) => nodes.push(node),
                Err(TryRecvError::Empty) => break,
                Err(TryRecvError::Disconnected) => return,
            }
        }
        wait(&nodes);
        let now = now();
        nodes.retain_mut(|node| node.look(signs, now));
        std::thread::sleep(REST);
    }
}

/// Waits until one of the nodes has something to say.
fn wait(nodes: &[Node]) {
    let mut polled: Vec<PollFd<'_>> = nodes
        .iter()
        .map(|node| PollFd::from_borrowed_fd(node.file.as_fd(), PollFlags::IN))
        .collect();
    // Cut short by a signal, it is one look more.
    let _ = poll(&mut polled, Some(&LONGEST_WAIT));
}

#[cfg(test)]
mod tests;
