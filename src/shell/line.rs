//! An open port as the control loop has it: it writes itself, and a thread of the port's own reads.
//!
//! Reading a terminal may wait in the kernel for a quarter of a second ([`crate::link::port`]), and
//! closing one until all is sent. Both are done by the reader's thread. What it reads goes into a
//! bounded lock-free mailbox, stamped with the time it came: the loop takes it at its next turn and
//! knows how old it is.
//!
//! **A full mailbox** loses nothing. The reader leaves the bytes in the port until the loop has made
//! room; the kernel's own buffer is bounded too, and behind it whoever floods the line has to wait or is
//! cut off, as without a mailbox. To drop the oldest instead would tear messages apart to make room for
//! more of a flood.

use super::realtime::feed_punctually;
use crate::link::port::{Moved, Outlet, Port};
use rtrb::{Consumer, Producer, RingBuffer};
use rustix::event::{EventfdFlags, PollFd, PollFlags, Timespec, eventfd, poll};
use rustix::fd::{AsFd, BorrowedFd, OwnedFd};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{Builder, JoinHandle};
use std::time::Duration;
use stillhand_engine::time::Time;

/// Pieces the mailbox holds, 32 KiB in all. While the loop is late by its bound of 80 ms, after which the
/// rig is stopped anyway, the reader reads 320 times at most ([`REST`]), and 921600 baud bring
/// 7.4 kB: 134 full pieces.
const CAPACITY: usize = 512;
/// Bytes of a piece: with its time and length it fills one cache line of 64 bytes.
const PIECE: usize = 55;
/// Bytes of one read: 11 ms of 921600 baud.
const MOST_BYTES: usize = 1_024;
/// The reader rests this long after each read, in nanoseconds. A line that brings single bytes without
/// end then costs 4000 reads a second and not a whole core in real time, and nothing is stamped
/// later than this.
const REST: i64 = 250_000;
/// It looks this much later whether a full mailbox has room again, in nanoseconds: sooner than the
/// shortest turn.
const FULL: i64 = 1_000_000;
/// Rest after a wait that was refused.
const REFUSED: Duration = Duration::from_millis(1);
/// Stack of the reader's thread: it holds one read and little else.
const STACK: usize = 128 * 1024;

/// Bytes that came together.
#[derive(Clone, Copy, Debug)]
struct Piece {
    at: Time,
    count: u8,
    bytes: [u8; PIECE],
}

#[derive(Debug)]
struct Shared {
    /// The port is gone; what it brought before is in the mailbox.
    gone: AtomicBool,
    /// The loop needs it no more.
    over: AtomicBool,
    /// Written to when `over` was set.
    wake: OwnedFd,
}

/// The control loop's end of an open port. Nothing here waits. Dropping it has the reader close the port
/// and end.
#[derive(Debug)]
pub struct Line {
    // Dropped before `reader`: the last descriptor to go is the reader's, so that it is the reader
    // who waits for the port to close.
    outlet: Outlet,
    pieces: Consumer<Piece>,
    reader: Reader,
}

/// Tells the reader's thread to end when it is dropped.
#[derive(Debug)]
struct Reader(Arc<Shared>);

impl Line {
    /// Starts the thread that reads `port`, stamping with `now`. The thread ends, with the port closed,
    /// after the line was dropped.
    ///
    /// # Errors
    /// The system's, if there is no thread or descriptor to be had.
    pub fn start(
        port: Port,
        now: impl Fn() -> Time + Send + 'static,
    ) -> std::io::Result<(Line, JoinHandle<()>)> {
        let outlet = port.outlet()?;
        let shared = Arc::new(Shared {
            gone: AtomicBool::new(false),
            over: AtomicBool::new(false),
            wake: eventfd(0, EventfdFlags::CLOEXEC | EventfdFlags::NONBLOCK)?,
        });
        let (producer, pieces) = RingBuffer::new(CAPACITY);
        let reader = Reader(Arc::clone(&shared));
        let work = move || read(port, producer, &shared, now);
        let thread = Builder::new()
            .name("port-reader".to_owned())
            .stack_size(STACK)
            .spawn(work)?;
        let line = Line {
            outlet,
            pieces,
            reader,
        };
        Ok((line, thread))
    }

    /// Takes what came, about `most` bytes of it, oldest first, each piece with the time at which it came.
    /// [`Moved::Gone`] once the port is gone and everything it brought was taken.
    pub fn take(&mut self, most: usize, mut each: impl FnMut(Time, &[u8])) -> Moved {
        // Asked first: what came before the end is in the mailbox by then.
        let gone = self.reader.0.gone.load(Ordering::Acquire);
        let mut taken = 0;
        while taken < most {
            let Ok(piece) = self.pieces.pop() else {
                return match (gone, taken) {
                    (true, _) => Moved::Gone,
                    (false, 0) => Moved::None,
                    (false, _) => Moved::Bytes(taken),
                };
            };
            let count = usize::from(piece.count).min(PIECE);
            each(piece.at, &piece.bytes[..count]);
            taken += count;
        }
        Moved::Bytes(taken)
    }

    /// Writes as much of `bytes` as the port takes at once.
    pub fn write(&mut self, bytes: &[u8]) -> Moved {
        self.outlet.write(bytes)
    }
}

impl Drop for Reader {
    fn drop(&mut self) {
        self.0.over.store(true, Ordering::Release);
        // Fails only where the counter is full, and then it is readable as it should be.
        let _ = rustix::io::write(&self.0.wake, &1_u64.to_ne_bytes());
    }
}

/// The reader's thread.
fn read(mut port: Port, mut pieces: Producer<Piece>, shared: &Shared, now: impl Fn() -> Time) {
    feed_punctually();
    let mut bytes = [0; MOST_BYTES];
    let over = || shared.over.load(Ordering::Acquire);
    while !over() {
        let room = (pieces.slots() * PIECE).min(MOST_BYTES);
        if room == 0 {
            rest(shared, FULL);
            continue;
        }
        wait(&[port.as_fd(), shared.wake.as_fd()], None);
        match port.read(&mut bytes[..room]) {
            // The time is taken after the read: a byte is never stamped before it came, and the
            // rig's clock never seems to be ahead of what it is.
            Moved::Bytes(count) => post(&mut pieces, now(), &bytes[..count]),
            Moved::None => {}
            Moved::Gone => {
                shared.gone.store(true, Ordering::Release);
                break;
            }
        }
        rest(shared, REST);
    }
    // Closed only when the loop has let go, so that the port is free once this thread has ended.
    while !over() {
        wait(&[shared.wake.as_fd()], None);
    }
}

/// There is room for all of it: it was asked for before reading.
fn post(pieces: &mut Producer<Piece>, at: Time, bytes: &[u8]) {
    for part in bytes.chunks(PIECE) {
        let mut piece = Piece {
            at,
            count: part.len() as u8,
            bytes: [0; PIECE],
        };
        piece.bytes[..part.len()].copy_from_slice(part);
        let _ = pieces.push(piece);
    }
}

/// Rests for so many nanoseconds, or until the loop needs the port no more.
fn rest(shared: &Shared, nanos: i64) {
    let time = Timespec {
        tv_sec: 0,
        tv_nsec: nanos,
    };
    wait(&[shared.wake.as_fd()], Some(&time));
}

/// Waits until one of these can be read. A signal only brings the caller back early, and every caller
/// looks again.
fn wait<const N: usize>(files: &[BorrowedFd<'_>; N], time: Option<&Timespec>) {
    let mut polled = files.map(|file| PollFd::from_borrowed_fd(file, PollFlags::IN));
    if poll(&mut polled, time).is_err() {
        // A system that is out of memory refuses; asking again without a rest would use up a core.
        std::thread::sleep(REFUSED);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shell::clock::Clock;
    use rustix::fs::{OFlags, fcntl_setfl};
    use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
    use std::path::Path;
    use stillhand_engine::time::Span;

    const PATIENCE: Span = Span::from_millis(20_000);

    /// The far end, never waiting, and the line.
    fn start(clock: Clock) -> (OwnedFd, Line, JoinHandle<()>) {
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).expect("a pty");
        grantpt(&master).expect("grant");
        unlockpt(&master).expect("unlock");
        let name = ptsname(&master, Vec::new()).expect("name");
        let name = name.into_string().expect("plain");
        let port = Port::open(Path::new(&name), 115_200).expect("opens");
        fcntl_setfl(&master, OFlags::RDWR | OFlags::NONBLOCK).expect("flags");
        let (line, thread) = Line::start(port, move || clock.now()).expect("a thread");
        (master, line, thread)
    }

    /// Takes until `enough` bytes came, or the end.
    fn gather(line: &mut Line, enough: usize) -> (Vec<u8>, Vec<Time>, Moved) {
        let (mut bytes, mut times) = (Vec::new(), Vec::new());
        let end = Clock::system().now() + PATIENCE;
        loop {
            let moved = line.take(4_096, |at, piece| {
                bytes.extend(piece);
                times.push(at);
            });
            if bytes.len() >= enough || moved == Moved::Gone {
                return (bytes, times, moved);
            }
            assert!(
                Clock::system().now() < end,
                "only {} bytes came",
                bytes.len()
            );
            std::thread::sleep(Duration::from_millis(1));
        }
    }

    fn ends(thread: JoinHandle<()>) {
        let end = Clock::system().now() + PATIENCE;
        while !thread.is_finished() {
            assert!(Clock::system().now() < end, "the reader lives on");
            std::thread::sleep(Duration::from_millis(1));
        }
        thread.join().expect("no panic");
    }

    #[test]
    fn what_comes_is_stamped_when_it_came_and_not_when_it_is_taken() {
        let clock = Clock::new();
        let (far, mut line, thread) = start(clock);
        assert_eq!(line.take(4_096, |_, _| ()), Moved::None);
        let before = clock.now();
        let said: Vec<u8> = (0..200).collect();
        assert_eq!(rustix::io::write(&far, &said), Ok(200));
        // Until the reader has all of it; only then the loop looks.
        let end = Clock::system().now() + PATIENCE;
        while line.pieces.slots() < 200_usize.div_ceil(PIECE) {
            assert!(Clock::system().now() < end, "nothing came");
            std::thread::sleep(Duration::from_millis(1));
        }
        let came = clock.now();
        // Taken so much later that a stamp of the taking lies outside.
        std::thread::sleep(Duration::from_millis(30));
        let (bytes, times, _) = gather(&mut line, 200);
        assert_eq!(bytes, said);
        assert!(times.is_sorted() && times.iter().all(|at| (before..=came).contains(at)));
        assert_eq!(line.write(b"abc"), Moved::Bytes(3));
        drop(line);
        ends(thread);
    }

    #[test]
    fn a_flood_loses_nothing_that_the_port_took() {
        let (far, mut line, thread) = start(Clock::new());
        // Nobody takes anything until the mailbox and the port behind it are full.
        let mut sent: Vec<u8> = Vec::new();
        let mut full = 0;
        while full < 50 {
            let next: Vec<u8> = (0..1_000).map(|n| ((sent.len() + n) % 251) as u8).collect();
            match rustix::io::write(&far, &next) {
                Ok(count) => sent.extend(&next[..count]),
                Err(_) => {
                    full += 1;
                    std::thread::sleep(Duration::from_millis(2));
                }
            }
        }
        assert!(sent.len() > CAPACITY * PIECE, "{}", sent.len());
        assert_eq!(line.pieces.slots(), CAPACITY, "full");
        let (bytes, _, _) = gather(&mut line, sent.len());
        assert!(bytes == sent, "{} of {}", bytes.len(), sent.len());
        drop(line);
        ends(thread);
    }

    #[test]
    fn a_port_that_vanishes_gives_what_it_brought_and_is_closed_when_let_go() {
        let (far, mut line, thread) = start(Clock::new());
        assert_eq!(rustix::io::write(&far, b"last words"), Ok(10));
        let (bytes, _, _) = gather(&mut line, 10);
        assert_eq!(bytes, b"last words");
        drop(far);
        assert_eq!(gather(&mut line, 1).2, Moved::Gone);
        assert_eq!(line.write(b"abc"), Moved::Gone);
        assert!(
            !thread.is_finished(),
            "the port is the loop's until it lets go"
        );
        drop(line);
        ends(thread);
    }

    #[test]
    fn an_idle_reader_ends_when_told() {
        let (_far, line, thread) = start(Clock::new());
        // Mostly it waits by now; it has to end either way.
        std::thread::sleep(Duration::from_millis(20));
        drop(line);
        ends(thread);
    }
}
