//! The board of the unmodified daemon, over real TCP: what it shows, that nothing can be changed from it, and that
//! nobody who looks at it keeps the sticks from moving the rig.

mod support;

use serde_json::Value;
use std::collections::BTreeSet;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::time::{Duration, Instant};
use support::daemon::Start;
use support::hall::FAST;
use support::stage::{Plan, Stage};
use support::steady::steadily;

/// Nothing the board does takes longer, however busy the machine is.
const PATIENCE: Duration = Duration::from_secs(20);

/// A running daemon and the port of its board.
fn start(address: &str) -> (Stage, u16) {
    let arguments = vec!["--board".into(), address.into()];
    let mut stage = Plan {
        arguments,
        ..Plan::default()
    }
    .start();
    let (_, line) = stage.daemon.want_line("the board is at http://");
    let place = line.trim_end().trim_end_matches('/');
    let (_, port) = place.rsplit_once(':').expect("a port");
    (stage, port.parse().expect("a number"))
}

fn connect(port: u16) -> TcpStream {
    let stream = TcpStream::connect(("127.0.0.1", port)).expect("it listens");
    stream
        .set_read_timeout(Some(PATIENCE))
        .expect("a time to wait");
    stream
}

/// Asks with this first line and host: the head of the answer, and its body.
fn asked(port: u16, first: &str, host: &str) -> (String, String) {
    let mut stream = connect(port);
    write!(stream, "{first} HTTP/1.1\r\nHost: {host}\r\n\r\n").expect("it takes it");
    let mut answer = String::new();
    // Each connection carries one request, so all there is is the answer.
    stream.read_to_string(&mut answer).expect("text");
    let (head, body) = answer.split_once("\r\n\r\n").expect("a head");
    (head.to_lowercase(), body.to_owned())
}

fn status(port: u16) -> Value {
    let (head, body) = asked(port, "GET /status", "localhost");
    assert!(head.starts_with("http/1.1 200"), "{head}");
    serde_json::from_str(&body).expect("JSON")
}

/// The events that come, one after the other.
fn events(port: u16) -> impl Iterator<Item = Value> {
    let mut stream = connect(port);
    write!(stream, "GET /events HTTP/1.1\r\nHost: localhost\r\n\r\n").expect("it takes it");
    let lines = BufReader::new(stream).lines().map(|l| l.expect("a line"));
    lines.filter_map(|line| serde_json::from_str(line.strip_prefix("data: ")?).ok())
}

#[test]
fn it_is_looked_at_and_changes_nothing() {
    let (mut stage, port) = start("0");
    for (path, kind, part) in [
        ("/", "text/html", "<main id=\"axes\">"),
        ("/board.css", "text/css", "--paper"),
        ("/board.js", "text/javascript", "EventSource"),
    ] {
        let (head, body) = asked(port, &format!("GET {path}"), "127.0.0.1");
        assert!(head.starts_with("http/1.1 200"), "{path}: {head}");
        assert!(head.contains(&format!("content-type: {kind}")), "{head}");
        assert!(head.contains("default-src 'none'"), "{head}");
        assert!(body.contains(part), "{path}: {body}");
        let (head, body) = asked(port, &format!("HEAD {path}"), "[::1]");
        assert!(
            head.starts_with("http/1.1 200") && body.is_empty(),
            "{head}"
        );
    }
    let own = format!("localhost:{port}");
    for (first, host, code) in [
        ("POST /status", "localhost", "405"),
        ("PUT /", "localhost", "405"),
        ("DELETE /events", "localhost", "405"),
        ("GET /stop", "localhost", "404"),
        ("GET /../Cargo.toml", "localhost", "404"),
        ("GET /", own.as_str(), "200"),
        ("GET /status", "elsewhere.example", "421"),
        ("GET /status", "192.168.1.20", "421"),
        ("GET /status", "127.0.0.1.elsewhere.example", "421"),
        ("GET /status", "", "421"),
    ] {
        let (head, _) = asked(port, first, host);
        assert!(
            head.starts_with(&format!("http/1.1 {code}")),
            "{first} {host}: {head}"
        );
    }
    // What is no request is let go.
    let mut stream = connect(port);
    stream
        .write_all(b"\x00\xff no request\r\n\r\n")
        .expect("taken");
    let mut answer = Vec::new();
    let _ = stream.read_to_end(&mut answer);
    assert!(!answer.starts_with(b"HTTP/1.1 200"), "{answer:?}");
    stage.arm();
    stage.drives();
}

#[test]
fn it_tells_what_moves_and_which_ceiling_binds() {
    steadily(|| {
        let (mut stage, port) = start("0");
        stage.arm();
        stage.push(FAST);
        let status = status(port);
        assert_eq!(status["state"], "driving", "{status}");
        let pan = &status["axes"][0];
        let speed = pan["speed"].as_f64().expect("a number");
        assert!((speed - FAST).abs() < 0.01, "{speed} against {FAST}");
        assert_eq!(pan["full_stick"].as_f64(), Some(FAST), "{pan}");
        assert!(pan["ceiling"].is_string(), "{pan}");
        // Event after event, each of a later moment, while the axis goes on.
        let seen: Vec<(f64, f64)> = events(port)
            .take(5)
            .map(|event| {
                let number = |value: &Value| value.as_f64().expect("a number");
                (
                    number(&event["since_start_s"]),
                    number(&event["axes"][0]["position"]),
                )
            })
            .collect();
        let later = |pair: &[(f64, f64)]| pair[0].0 < pair[1].0 && pair[0].1 < pair[1].1;
        assert!(seen.len() == 5 && seen.windows(2).all(later), "{seen:?}");
    });
}

/// Who takes nothing is let go, so that there is room for others: as many as there is room for, all deaf.
#[test]
fn the_deaf_are_let_go() {
    let (mut stage, port) = start("0");
    stage.arm();
    let deaf: Vec<TcpStream> = (0..16)
        .map(|_| {
            let mut stream = connect(port);
            rustix::net::sockopt::set_socket_recv_buffer_size(&stream, 4096).expect("ours");
            write!(stream, "GET /events HTTP/1.1\r\nHost: localhost\r\n\r\n").expect("taken");
            stream
        })
        .collect();
    let begun = Instant::now();
    while !looked(port) {
        assert!(begun.elapsed() < 3 * PATIENCE, "nobody was let go");
        std::thread::sleep(Duration::from_millis(50));
    }
    drop(deaf);
    stage.drives();
}

/// Whether there is room for one who looks.
fn looked(port: u16) -> bool {
    let mut stream = connect(port);
    let asked = stream.write_all(b"GET / HTTP/1.1\r\nHost: localhost\r\n\r\n");
    let mut answer = String::new();
    asked.is_ok()
        && stream.read_to_string(&mut answer).is_ok()
        && answer.starts_with("HTTP/1.1 200")
}

/// Silent, half asked, and deaf connections, more than there is room for.
#[test]
fn a_crowd_keeps_nothing_from_moving_and_is_let_go() {
    steadily(|| {
        let (mut stage, port) = start("0");
        stage.arm();
        let mut crowd: Vec<TcpStream> = (0..60).map(|_| connect(port)).collect();
        for (n, stream) in crowd.iter_mut().enumerate() {
            // One that was refused may be gone already.
            let _ = match n % 3 {
                0 => Ok(()),
                1 => stream.write_all(b"GET /events HTTP/1.1\r\nHo"),
                _ => stream.write_all(b"GET /events HTTP/1.1\r\nHost: localhost\r\n\r\n"),
            };
        }
        stage.drives();
        // Open to the end: those that ask nothing and those that take nothing are let go, which makes room.
        let begun = Instant::now();
        while !looked(port) {
            assert!(begun.elapsed() < PATIENCE, "nobody was let go");
            std::thread::sleep(Duration::from_millis(50));
        }
        drop(crowd);
    });
}

#[test]
fn others_may_look_only_if_asked_for_and_it_says_so() {
    let (mut stage, port) = start("0.0.0.0:0");
    stage
        .daemon
        .want("everybody on that network can look at the board");
    let (head, _) = asked(port, "GET /", "hall-laptop:8017");
    assert!(head.starts_with("http/1.1 200"), "{head}");
}

#[test]
fn an_address_that_can_not_be_had_is_told_before_anything_starts() {
    let taken = TcpListener::bind("127.0.0.1:0").expect("a port");
    let port = taken.local_addr().expect("an address").port().to_string();
    for (asked, code, words) in [
        (port.as_str(), 1, "another port may be free"),
        ("65536", 2, "not a port from 0 to 65535"),
        ("localhost", 2, "write 8017 for this machine alone"),
    ] {
        let mut daemon = Start::new(["run", "--socket", "off", "--board", asked]).go();
        daemon.want(words);
        assert_eq!(daemon.end(), code, "{asked}");
    }
}

/// Everything the page reads of a status is in it.
#[test]
fn the_script_asks_for_fields_that_there_are() {
    let script = include_str!("../src/board/board.js");
    let mut read = BTreeSet::new();
    for from in ["status.", "axis.", "row.", "line.", "link.", "files."] {
        for (at, _) in script.match_indices(from) {
            let whole =
                !script[..at].ends_with(|c: char| c.is_alphanumeric() || c == '_' || c == '.');
            let name: String = script[at + from.len()..]
                .chars()
                .take_while(|c| c.is_ascii_lowercase() || *c == '_')
                .collect();
            let chained = script[..at].ends_with("status.");
            if (whole || chained)
                && !["map", "filter", "slice", "join", "length"].contains(&name.as_str())
            {
                read.insert(name);
            }
        }
    }
    let (mut stage, port) = start("0");
    stage.arm();
    let mut told = BTreeSet::new();
    names(&status(port), &mut told);
    let missing: Vec<&String> = read.difference(&told).collect();
    assert!(missing.is_empty(), "{missing:?} are not among {told:?}");
    assert!(read.len() > 25, "few are read: {read:?}");
}

/// The names of all fields.
fn names(value: &Value, into: &mut BTreeSet<String>) {
    match value {
        Value::Object(fields) => {
            for (name, value) in fields {
                into.insert(name.clone());
                names(value, into);
            }
        }
        Value::Array(values) => values.iter().for_each(|value| names(value, into)),
        _ => {}
    }
}
