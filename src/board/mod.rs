//! The board: a web page that shows how a run stands. It is there to be looked at: nothing can be moved, stopped or
//! changed from it.
//!
//! | path | answer |
//! |---|---|
//! | `/`, `/board.css`, `/board.js` | the page |
//! | `/status` | the status as one JSON object: the fields stand in `src/shell/socket/ASKING.md` |
//! | `/events` | the same object, ten times a second at the most, as server-sent events (HTML Living Standard, 9.2) |
//!
//! Each connection carries one request, there is a bound on how many there are at a time, and one that is not taken
//! from is let go: whoever looks on must not use up what the rig's port needs when it is opened again.

use crate::shell::pages::{Reader, Shelf};
use http_body_util::channel::{Channel, Sender};
use http_body_util::{Either, Full};
use hyper::body::{Bytes, Incoming};
use hyper::header::{self, HeaderMap, HeaderValue};
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper::{Method, Request, Response, StatusCode};
use hyper_util::rt::{TokioIo, TokioTimer};
use std::convert::Infallible;
use std::io;
use std::net::{IpAddr, Ipv4Addr, SocketAddr, TcpListener};
use std::sync::Arc;
use std::time::Duration;
use tokio::net::TcpStream;
use tokio::sync::{Notify, Semaphore};
use tracing::{debug, info, warn};

/// Connections at a time: each page that is open has one, and two more for a moment when it is loaded.
const MOST_CONNECTIONS: usize = 16;
/// Bytes that may wait in the system for somebody who takes nothing: some seconds of events.
const WAITING: usize = 32 * 1024;
/// How often a page is brought up to date: quicker than anybody reads.
const EVERY: Duration = Duration::from_millis(100);
/// A request has to be asked, and an event taken, within this time.
const PATIENCE: Duration = Duration::from_secs(5);

const PAGE: &str = include_str!("page.html");
const LOOKS: &str = include_str!("board.css");
const SCRIPT: &str = include_str!("board.js");

/// A page may load nothing from elsewhere, and be shown in no other page.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src data:; \
                      base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

type Body = Either<Full<Bytes>, Channel<Bytes, Infallible>>;

/// The address that was asked for: a port of this machine's own, or an address and a port.
///
/// # Errors
///
/// What is wrong with it, what is allowed, and how to mend it.
pub fn address(text: &str) -> Result<SocketAddr, String> {
    if let Ok(port) = text.parse::<u16>() {
        return Ok(SocketAddr::from((Ipv4Addr::LOCALHOST, port)));
    }
    text.parse().map_err(|_| {
        format!(
            "--board {text}: not a port from 0 to 65535, nor an address with a port, nor off; write 8017 for this \
             machine alone, or 192.168.1.20:8017 for others on that network too"
        )
    })
}

/// An address that belongs to the board, at which it does not answer yet.
#[derive(Debug)]
pub struct Listening {
    listener: TcpListener,
    address: SocketAddr,
}

impl Listening {
    /// Takes `address`.
    ///
    /// # Errors
    ///
    /// The system's, if it is another program's or not this machine's.
    pub fn at(address: SocketAddr) -> io::Result<Listening> {
        let listener = TcpListener::bind(address)?;
        listener.set_nonblocking(true)?;
        let address = listener.local_addr()?;
        Ok(Listening { listener, address })
    }

    /// Answers from now on, and says where. Called within a runtime of tokio; ends with it.
    ///
    /// # Errors
    ///
    /// The system's.
    pub fn open(self, pages: Shelf) -> io::Result<()> {
        let Listening { listener, address } = self;
        let listener = tokio::net::TcpListener::from_std(listener)?;
        info!("the board is at http://{address}/");
        if !address.ip().is_loopback() {
            warn!(
                "everybody on that network can look at the board, unasked and unencrypted; nothing can be moved from it"
            );
        }
        let board = Arc::new(Board {
            pages,
            own: address.ip().is_loopback(),
        });
        let room = Arc::new(Semaphore::new(MOST_CONNECTIONS));
        tokio::spawn(async move {
            loop {
                match listener.accept().await {
                    Ok((stream, _)) => admit(stream, &board, &room),
                    Err(error) => {
                        warn!("the board: {error}");
                        tokio::time::sleep(PATIENCE).await;
                    }
                }
            }
        });
        Ok(())
    }
}

/// Serves a connection, if there is room for one.
fn admit(stream: TcpStream, board: &Arc<Board>, room: &Arc<Semaphore>) {
    let Ok(place) = Arc::clone(room).try_acquire_owned() else {
        debug!("more than {MOST_CONNECTIONS} connections to the board: one was refused");
        return;
    };
    // Without the bound it would take minutes to tell who takes nothing.
    if let Err(error) = rustix::net::sockopt::set_socket_send_buffer_size(&stream, WAITING) {
        debug!("the board: {error}");
    }
    let board = Arc::clone(board);
    tokio::spawn(async move {
        let deaf = Arc::new(Notify::new());
        let answer = service_fn(|request| {
            let (board, deaf) = (Arc::clone(&board), Arc::clone(&deaf));
            async move { Ok::<_, Infallible>(board.answer(&request, deaf).await) }
        });
        let served = http1::Builder::new()
            .timer(TokioTimer::new())
            .header_read_timeout(PATIENCE)
            .keep_alive(false)
            .serve_connection(TokioIo::new(stream), answer);
        tokio::select! {
            served = served => if let Err(error) = served {
                debug!("somebody who looked at the board: {error}");
            },
            // What waits for somebody who takes nothing would keep the connection.
            () = deaf.notified() => debug!("somebody who looked at the board takes nothing any more"),
        }
        drop(place);
    });
}

/// What is shown.
#[derive(Debug)]
struct Board {
    pages: Shelf,
    /// Only this machine can ask.
    own: bool,
}

impl Board {
    /// `deaf` is told if what was asked for is not taken.
    async fn answer(&self, request: &Request<Incoming>, deaf: Arc<Notify>) -> Response<Body> {
        if !matches!(*request.method(), Method::GET | Method::HEAD) {
            let mut answer = plain(
                StatusCode::METHOD_NOT_ALLOWED,
                "the board can only be looked at",
            );
            let allowed = HeaderValue::from_static("GET, HEAD");
            answer.headers_mut().insert(header::ALLOW, allowed);
            return answer;
        }
        if self.own && !names_this_machine(request.headers()) {
            let words = "the board of this machine is asked for by its own name: localhost, 127.0.0.1 or [::1]";
            return plain(StatusCode::MISDIRECTED_REQUEST, words);
        }
        match request.uri().path() {
            "/" => whole("text/html; charset=utf-8", PAGE),
            "/board.css" => whole("text/css; charset=utf-8", LOOKS),
            "/board.js" => whole("text/javascript; charset=utf-8", SCRIPT),
            "/status" => self.status().await,
            "/events" if request.method() == Method::GET => self.events(deaf),
            _ => plain(
                StatusCode::NOT_FOUND,
                "there is /, /status and /events, and nothing else",
            ),
        }
    }

    async fn status(&self) -> Response<Body> {
        let mut reader = self.pages.reader();
        match tokio::time::timeout(PATIENCE, reader.next()).await {
            Ok(Some(page)) => whole("application/json", page.json.to_string()),
            Ok(None) | Err(_) => plain(
                StatusCode::SERVICE_UNAVAILABLE,
                "the daemon does not get round to answering",
            ),
        }
    }

    fn events(&self, deaf: Arc<Notify>) -> Response<Body> {
        let (sender, body) = Channel::new(1);
        tokio::spawn(tell(self.pages.reader(), sender, deaf));
        answer("text/event-stream", Either::Right(body))
    }
}

/// Sends pages until nobody takes them any more.
async fn tell(mut pages: Reader, mut events: Sender<Bytes>, deaf: Arc<Notify>) {
    while let Some(page) = pages.next().await {
        let event = Bytes::from(format!("data: {}\n\n", page.json));
        match tokio::time::timeout(PATIENCE, events.send_data(event)).await {
            Ok(Ok(())) => tokio::time::sleep(EVERY).await,
            Ok(Err(_)) => return,
            Err(_) => return deaf.notify_one(),
        }
    }
}

/// Whether the host that was asked for is this machine by a name of its own. A page from elsewhere can have its own
/// name lead here, and would then be let in by the browser.
fn names_this_machine(headers: &HeaderMap) -> bool {
    let asked = headers
        .get(header::HOST)
        .and_then(|host| host.to_str().ok());
    let Some(host) = asked.and_then(|host| host.parse::<hyper::http::uri::Authority>().ok()) else {
        return false;
    };
    let name = host.host().trim_start_matches('[').trim_end_matches(']');
    name.eq_ignore_ascii_case("localhost")
        || name.parse::<IpAddr>().is_ok_and(|ip| ip.is_loopback())
}

fn whole(kind: &'static str, text: impl Into<Bytes>) -> Response<Body> {
    answer(kind, Either::Left(Full::new(text.into())))
}

fn plain(status: StatusCode, words: &str) -> Response<Body> {
    let mut answer = whole("text/plain; charset=utf-8", format!("{words}\n"));
    *answer.status_mut() = status;
    answer
}

fn answer(kind: &'static str, body: Body) -> Response<Body> {
    let mut answer = Response::new(body);
    for (name, value) in [
        (header::CONTENT_TYPE, kind),
        (header::CONTENT_SECURITY_POLICY, POLICY),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "no-referrer"),
        (header::CACHE_CONTROL, "no-store"),
    ] {
        answer
            .headers_mut()
            .insert(name, HeaderValue::from_static(value));
    }
    answer
}
