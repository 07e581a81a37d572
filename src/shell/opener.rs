//! Opens the port again after it was lost, on a thread of its own: opening waits for the device
//! driver, and the control loop waits for nobody. Each port comes with its reader, and none is opened
//! before the one before it is closed.

use super::line::Line;
use crate::link::port::{Port, PortProblem};
use rtrb::{Consumer, Producer, RingBuffer};
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::{Builder, JoinHandle, park_timeout};
use std::time::Duration;
use stillhand_engine::time::Time;

/// A port that could not be opened is tried again this much later.
const AGAIN: Duration = Duration::from_millis(300);
/// Whether the last port is closed is looked at this often. It takes longer only if the driver is stuck.
const CLOSING: Duration = Duration::from_millis(5);

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
    opened: Consumer<Line>,
    thread: std::thread::Thread,
}

impl Opener {
    /// Hands `port` to the loop and starts the thread, which opens `path` at `baud` whenever the loop asks
    /// for another. What ports bring is stamped with `now`.
    ///
    /// # Errors
    /// The system's, if there is no thread to be had.
    pub fn start(
        port: Port,
        path: PathBuf,
        baud: u32,
        now: impl Fn() -> Time + Clone + Send + 'static,
    ) -> std::io::Result<(Opener, Ports)> {
        let shared = Arc::new(Shared::default());
        // One port at a time is open.
        let (mut producer, opened) = RingBuffer::new(1);
        let (line, reader) = Line::start(port, now.clone())?;
        // It is empty.
        let _ = producer.push(line);
        let mut work = Work {
            path,
            baud,
            now,
            shared: Arc::clone(&shared),
            opened: producer,
            reader: Some(reader),
        };
        let thread = Builder::new()
            .name("port-opener".to_owned())
            .spawn(move || work.open_when_wanted())?;
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
    /// Asks for the port to be opened again. The line before must have been dropped.
    pub fn want(&self) {
        self.shared.wanted.store(true, Ordering::Release);
        self.thread.unpark();
    }

    /// The port, once after each opening.
    pub fn take(&mut self) -> Option<Line> {
        self.opened.pop().ok()
    }
}

/// What the thread has.
struct Work<N> {
    path: PathBuf,
    baud: u32,
    now: N,
    shared: Arc<Shared>,
    opened: Producer<Line>,
    /// That of the last port; it ends when the port is closed.
    reader: Option<JoinHandle<()>>,
}

impl<N: Fn() -> Time + Clone + Send + 'static> Work<N> {
    fn open_when_wanted(&mut self) {
        while !self.is_over() {
            if !self.shared.wanted.load(Ordering::Acquire) {
                std::thread::park();
                continue;
            }
            if !self.is_closed() {
                park_timeout(CLOSING);
                continue;
            }
            let problem = self.open().err();
            let failed = problem.is_some();
            *self
                .shared
                .problem
                .lock()
                .unwrap_or_else(PoisonError::into_inner) = problem;
            if failed {
                park_timeout(AGAIN);
            }
        }
    }

    fn is_over(&self) -> bool {
        self.shared.over.load(Ordering::Acquire)
    }

    /// Whether the last port is closed and its reader has ended.
    fn is_closed(&mut self) -> bool {
        if let Some(reader) = self.reader.take_if(|reader| reader.is_finished()) {
            // Over already, so it waits for nothing; a panic in it would have ended the process.
            let _ = reader.join();
        }
        self.reader.is_none()
    }

    fn open(&mut self) -> Result<(), PortProblem> {
        let port = Port::open(&self.path, self.baud)?;
        let (line, reader) = Line::start(port, self.now.clone())
            .map_err(|error| PortProblem::Other(self.path.clone(), error.to_string()))?;
        self.reader = Some(reader);
        self.shared.wanted.store(false, Ordering::Release);
        // Never full: the loop asks for another only when it has lost the one it took.
        let _ = self.opened.push(line);
        Ok(())
    }
}
