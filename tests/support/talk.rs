//! Asking a running daemon at its control socket.

#![allow(dead_code)] // Each test uses its own part of it.

use super::daemon::PROGRAM;
use super::line::PATIENCE;
use serde_json::Value;
use std::io::{BufRead, BufReader, Write};
use std::os::unix::net::UnixStream;
use std::path::Path;
use std::process::Command;

/// Asks with the program itself: its exit code, and what it said.
pub fn ask(path: &Path, words: &[&str]) -> (i32, String) {
    let mut command = Command::new(PROGRAM);
    let output = command
        .args(words)
        .arg("--socket")
        .arg(path)
        .output()
        .expect("it starts");
    let text = [output.stdout, output.stderr].concat();
    let code = output.status.code().expect("it ends by itself");
    (code, String::from_utf8(text).expect("text"))
}

/// Asks with lines of our own.
pub struct Talk(pub BufReader<UnixStream>);

impl Talk {
    pub fn with(path: &Path) -> Talk {
        let stream = UnixStream::connect(path).expect("it listens");
        stream
            .set_read_timeout(Some(PATIENCE))
            .expect("a time limit");
        Talk(BufReader::new(stream))
    }

    pub fn say(&mut self, bytes: &[u8]) {
        self.0.get_mut().write_all(bytes).expect("it takes it");
    }

    pub fn hear(&mut self) -> Value {
        let mut line = String::new();
        self.0.read_line(&mut line).expect("it answers");
        serde_json::from_str(&line).unwrap_or_else(|error| panic!("{error}: {line:?}"))
    }

    pub fn ask(&mut self, line: &str) -> Value {
        self.say(format!("{line}\n").as_bytes());
        self.hear()
    }
}
