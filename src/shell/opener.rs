//! Opens the port, and opens it again after it was lost, on a thread of its own: opening waits for
//! the device driver, and the control loop waits for nobody.

use crate::link::port::{Port, PortProblem};
use rtrb::{Consumer, Producer, RingBuffer};
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::{Builder, JoinHandle, park_timeout};
use std::time::Duration;

/// A port that could not be opened is tried again this much later.
const AGAIN: Duration = Duration::from_millis(300);

#[derive(Debug, Default)]
struct Shared {
    wanted: AtomicBool,
    over: AtomicBool,
    problem: Mutex<Option<PortProblem>>,
}

/// The opener's thread. Dropping it ends the thread.
#[derive(Debug)]
pub struct Opener {
    shared: Arc<Shared>,
    thread: Option<JoinHandle<()>>,
}

/// The control loop's end.
#[derive(Debug)]
pub struct Ports {
    shared: Arc<Shared>,
    opened: Consumer<Port>,
    thread: std::thread::Thread,
}

impl Opener {
    /// Starts the thread, which opens `path` at `baud` whenever the loop asks.
    ///
    /// # Errors
    /// The system's, if there is no thread to be had.
    pub fn start(path: PathBuf, baud: u32) -> std::io::Result<(Opener, Ports)> {
        let shared = Arc::new(Shared::default());
        // One port at a time is open.
        let (producer, opened) = RingBuffer::new(1);
        let theirs = Arc::clone(&shared);
        let work = move || open_when_wanted(&path, baud, &theirs, producer);
        let thread = Builder::new().name("port-opener".to_owned()).spawn(work)?;
        let ports = Ports {
            shared: Arc::clone(&shared),
            opened,
            thread: thread.thread().clone(),
        };
        Ok((
            Opener {
                shared,
                thread: Some(thread),
            },
            ports,
        ))
    }

    /// What keeps the port from being opened now.
    pub fn problem(&self) -> Option<PortProblem> {
        self.shared
            .problem
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .clone()
    }
}

impl Drop for Opener {
    fn drop(&mut self) {
        self.shared.over.store(true, Ordering::Release);
        if let Some(thread) = self.thread.take() {
            thread.thread().unpark();
            // It only ever ends; a panic in it would have ended the process.
            let _ = thread.join();
        }
    }
}

impl Ports {
    /// Asks for the port to be opened (again).
    pub fn want(&self) {
        self.shared.wanted.store(true, Ordering::Release);
        self.thread.unpark();
    }

    /// The port, once after each opening.
    pub fn take(&mut self) -> Option<Port> {
        self.opened.pop().ok()
    }
}

fn open_when_wanted(
    path: &std::path::Path,
    baud: u32,
    shared: &Shared,
    mut opened: Producer<Port>,
) {
    while !shared.over.load(Ordering::Acquire) {
        if !shared.wanted.load(Ordering::Acquire) {
            std::thread::park();
            continue;
        }
        let problem = match Port::open(path, baud) {
            Ok(port) => {
                shared.wanted.store(false, Ordering::Release);
                // Full only if the loop has not taken the last one, and then it needs no other.
                let _ = opened.push(port);
                None
            }
            Err(problem) => Some(problem),
        };
        let failed = problem.is_some();
        *shared
            .problem
            .lock()
            .unwrap_or_else(PoisonError::into_inner) = problem;
        if failed {
            park_timeout(AGAIN);
        }
    }
}
