//! The control socket of a running daemon: one JSON object a line, for whoever this user is.
//!
//! What may be asked and what is answered stands in `src/shell/socket/ASKING.md`. Nobody can move
//! anything from here: a stop always works, modes and gears do what a press would do, and motion is
//! asked for by a pad alone. A reference and a travel are told to rig and file, at rest.

mod axis;
mod operator;
pub mod place;
pub mod request;

use crate::shell::drive::Shared;
use crate::shell::pages::{Page, Reader, Shelf};
use crate::shell::wishes::Wishes;
use place::Place;
use request::{Answer, Request};
use rtrb::Producer;
use std::sync::atomic::Ordering;
use std::sync::{Arc, Mutex};
use std::time::Duration;
use stillhand_engine::input::Order;
use tokio::io::{AsyncBufReadExt, AsyncReadExt, AsyncWriteExt, BufReader};
use tokio::net::UnixStream;
use tokio::net::unix::{OwnedReadHalf, OwnedWriteHalf};
use tokio::sync::Semaphore;
use tracing::{debug, warn};

/// Orders that may wait for the loop's next turn. One turn takes them all; more than this between
/// two turns is no person.
pub const ORDERS: usize = 64;
/// Who may be connected at once: a few terminals and programs.
const MOST_CLIENTS: usize = 16;
/// Bytes of a line: ten times the longest request.
const MOST_BYTES: u64 = 1_024;
/// Longer than any answer takes: a page comes every 50 ms, and an order waits for two.
const PATIENCE: Duration = Duration::from_secs(2);
/// A client that does not take what it asked for this long is let go.
const TAKES: Duration = Duration::from_secs(5);

/// What a connection needs.
#[derive(Clone)]
struct Asker {
    pages: Shelf,
    orders: Arc<Mutex<Producer<Order>>>,
    shared: Arc<Shared>,
    wishes: Wishes,
    /// Held by the client whose reference is not answered yet.
    referring: Arc<tokio::sync::Mutex<()>>,
}

/// Listens at `place` from now on. Called within a runtime of tokio; ends with it.
///
/// # Errors
/// The system's, if the socket can't be made to answer.
pub fn open(
    place: &Place,
    pages: Shelf,
    orders: Producer<Order>,
    shared: Arc<Shared>,
    wishes: Wishes,
) -> std::io::Result<()> {
    let listener = tokio::net::UnixListener::from_std(place.listener()?)?;
    let room = Arc::new(Semaphore::new(MOST_CLIENTS));
    let asker = Asker {
        pages,
        orders: Arc::new(Mutex::new(orders)),
        shared,
        wishes,
        referring: Arc::default(),
    };
    tokio::spawn(async move {
        loop {
            match listener.accept().await {
                Ok((stream, _)) => admit(stream, &asker, &room),
                Err(error) => {
                    warn!("the control socket: {error}");
                    tokio::time::sleep(PATIENCE).await;
                }
            }
        }
    });
    Ok(())
}

/// Serves a client that belongs to this user, or to root.
fn admit(stream: UnixStream, asker: &Asker, room: &Arc<Semaphore>) {
    let own = rustix::process::geteuid().as_raw();
    match stream.peer_cred() {
        Ok(peer) if peer.uid() == own || peer.uid() == 0 => {}
        Ok(peer) => {
            warn!(
                "user {} asked at the control socket and was refused",
                peer.uid()
            );
            return;
        }
        Err(error) => {
            debug!("who asks at the control socket is not known: {error}");
            return;
        }
    }
    let Ok(place) = Arc::clone(room).try_acquire_owned() else {
        warn!("more than {MOST_CLIENTS} connections to the control socket: one was refused");
        return;
    };
    let asker = asker.clone();
    tokio::spawn(async move {
        let (read, write) = stream.into_split();
        let pages = asker.pages.reader();
        let client = Client {
            asker,
            pages,
            write,
        };
        if let Err(error) = client.serve(read).await {
            debug!("a client of the control socket: {error}");
        }
        drop(place);
    });
}

/// One connection.
struct Client {
    asker: Asker,
    pages: Reader,
    write: OwnedWriteHalf,
}

impl Client {
    async fn serve(mut self, read: OwnedReadHalf) -> std::io::Result<()> {
        let mut read = BufReader::new(read);
        let mut watching = false;
        let mut line = Vec::new();
        loop {
            tokio::select! {
                // Cancelled, it leaves in `line` what it has read so far.
                more = next_line(&mut read, &mut line) => {
                    match more {
                        Ok(true) => {}
                        Ok(false) => return Ok(()),
                        Err(error) => {
                            self.send(&Answer::no(error.to_string())).await?;
                            return Err(error);
                        }
                    }
                    let request = Request::read(&line);
                    line.clear();
                    match request {
                        Ok(Request::Watch {}) => watching = true,
                        Ok(request) => {
                            let answer = self.answer(&request).await;
                            self.send(&answer).await?;
                        }
                        Err(words) => self.send(&Answer::no(words)).await?,
                    }
                }
                page = self.pages.next(), if watching => {
                    let Some(page) = page else { return Ok(()) };
                    self.send(&Answer::page(&page)).await?;
                }
            }
        }
    }

    async fn answer(&mut self, request: &Request) -> Answer {
        match request {
            // A stop does not stand in a row with anything.
            Request::Stop {} => self.asker.shared.stop.store(true, Ordering::Relaxed),
            Request::Status {} | Request::Watch {} => {}
            Request::Use { operator } => return self.operator(operator.as_deref()).await,
            Request::Reference { axis, here, again } => {
                return self.reference(axis, here, *again).await;
            }
            Request::Travel { axis, low, high } => {
                return self.travel(axis, [low.as_deref(), high.as_deref()]).await;
            }
            request => {
                let Some(page) = self.page().await else {
                    return Answer::no(SILENT);
                };
                match request.orders(&page) {
                    Ok(orders) if self.push(&orders) => {}
                    Ok(_) => return Answer::no("too much was asked at once: ask again"),
                    Err(words) => return Answer::no(words),
                }
            }
        }
        // The first page may be of a turn before this was asked.
        let (Some(_), Some(page)) = (self.page().await, self.page().await) else {
            return Answer::no(SILENT);
        };
        request.outcome(&page)
    }

    /// Hands orders to the loop; whether there was room for all.
    fn push(&self, orders: &[Order]) -> bool {
        let queue = self.asker.orders.lock();
        queue.is_ok_and(|mut queue| orders.iter().all(|order| queue.push(*order).is_ok()))
    }

    /// The next page.
    async fn page(&mut self) -> Option<Arc<Page>> {
        self.pages.skip();
        tokio::time::timeout(PATIENCE, self.pages.next())
            .await
            .ok()?
    }

    async fn send(&mut self, answer: &Answer) -> std::io::Result<()> {
        let mut text = serde_json::to_string(answer)?;
        text.push('\n');
        match tokio::time::timeout(TAKES, self.write.write_all(text.as_bytes())).await {
            Ok(written) => written,
            Err(late) => Err(late.into()),
        }
    }
}

const SILENT: &str = "the daemon does not get round to answering";

/// Reads up to the end of a line into `line`; `false` at the end of all.
async fn next_line(
    read: &mut BufReader<OwnedReadHalf>,
    line: &mut Vec<u8>,
) -> std::io::Result<bool> {
    let room = (MOST_BYTES + 1).saturating_sub(line.len() as u64);
    let mut read = read.take(room);
    read.read_until(b'\n', line).await?;
    if line.len() as u64 > MOST_BYTES {
        return Err(std::io::Error::other("a line longer than any request"));
    }
    Ok(line.ends_with(b"\n"))
}

#[cfg(test)]
mod tests;
