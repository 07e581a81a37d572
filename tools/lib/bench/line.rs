//! The far end of the line: a pseudo-terminal whose other side a program opens as its port, and the
//! bench rig behind it, so that what is measured is a rig being driven.

use rustix::event::{PollFd, PollFlags, poll};
use rustix::fs::{Mode, OFlags};
use rustix::termios::OptionalActions;
use std::fs::File;
use std::io::{BufRead, BufReader, ErrorKind, Read, Write};
use std::os::fd::OwnedFd;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// An error in words.
pub type Fault = Box<dyn std::error::Error>;

/// A pseudo-terminal.
pub struct FarEnd {
    /// Its own side.
    pub line: File,
    /// What the other side is called.
    pub path: PathBuf,
    /// Kept open, so that the line does not hang up before a program opens it.
    _other: OwnedFd,
}

impl FarEnd {
    /// A new one, raw.
    pub fn new() -> Result<FarEnd, Fault> {
        use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
        let line = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC)?;
        grantpt(&line)?;
        unlockpt(&line)?;
        let path = PathBuf::from(ptsname(&line, Vec::new())?.into_string()?);
        let other = open_raw(&path)?;
        rustix::io::ioctl_fionbio(&line, true)?;
        Ok(FarEnd {
            line: File::from(line),
            path,
            _other: other,
        })
    }

    /// Waits for bytes until `until`, and takes them. `None` if none came.
    pub fn take<'a>(
        &mut self,
        buffer: &'a mut [u8],
        until: Instant,
    ) -> Result<Option<&'a [u8]>, Fault> {
        if !readable(&[&self.line], until)?[0] {
            return Ok(None);
        }
        Ok(taken(&mut self.line, buffer)?)
    }
}

/// The bench rig in a process of its own.
pub struct BenchRig {
    process: Child,
    /// The line to it.
    pub line: File,
}

impl BenchRig {
    /// Starts it from the daemon's executable.
    pub fn start(daemon: &Path) -> Result<BenchRig, Fault> {
        let mut process = Command::new(daemon)
            .arg("bench-rig")
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .spawn()?;
        let mut path = String::new();
        if let Some(out) = process.stdout.take() {
            BufReader::new(out).read_line(&mut path)?;
        }
        let line = File::from(open_raw(Path::new(path.trim()))?);
        Ok(BenchRig { process, line })
    }
}

impl Drop for BenchRig {
    fn drop(&mut self) {
        end(&mut self.process);
    }
}

/// Ends a process of ours at once.
pub fn end(process: &mut Child) {
    // One that has ended already is what is wanted.
    let _ = process.kill();
    let _ = process.wait();
}

fn open_raw(path: &Path) -> Result<OwnedFd, Fault> {
    let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::NONBLOCK | OFlags::CLOEXEC;
    let port = rustix::fs::open(path, flags, Mode::empty())?;
    let mut modes = rustix::termios::tcgetattr(&port)?;
    modes.make_raw();
    rustix::termios::tcsetattr(&port, OptionalActions::Now, &modes)?;
    Ok(port)
}

/// Which of the files can be read; none of them when `until` has come.
pub fn readable<const N: usize>(files: &[&File; N], until: Instant) -> Result<[bool; N], Fault> {
    let mut polled = files.map(|file| PollFd::new(file, PollFlags::IN));
    let left = until.saturating_duration_since(Instant::now());
    let left = left.min(Duration::from_secs(60));
    poll(&mut polled, Some(&left.try_into()?))?;
    Ok(polled
        .each_ref()
        .map(|p| p.revents().contains(PollFlags::IN)))
}

/// What there is to read now.
pub fn taken<'a>(from: &mut File, buffer: &'a mut [u8]) -> std::io::Result<Option<&'a [u8]>> {
    match from.read(buffer) {
        Ok(0) => Ok(None),
        Ok(count) => Ok(Some(&buffer[..count])),
        Err(error) if error.kind() == ErrorKind::WouldBlock => Ok(None),
        Err(error) => Err(error),
    }
}

/// Passes bytes on; a line that is full loses them, as a real one would.
pub fn pass(to: &mut File, bytes: &[u8]) -> std::io::Result<()> {
    match to.write(bytes) {
        Err(error) if error.kind() != ErrorKind::WouldBlock => Err(error),
        _ => Ok(()),
    }
}
