//! The serial port: opened exclusively, never waited for, never flushed.
//!
//! Opening, closing and a killed daemon leave the rig alone: hang-up-on-close is cleared, and the
//! control lines are not touched beyond what the kernel does when a port is opened. A write is one
//! call; what the port does not take at once stays with the caller.
//!
//! **Non-blocking is not enough.** On Linux, `poll` and `read` of a terminal whose input is empty wait
//! for the kernel's own worker to hand over what has arrived (`tty_buffer_flush_work` in
//! `drivers/tty/n_tty.c`), and that worker runs at ordinary priority: with all cores busy, stalls of a
//! quarter of a second were measured, whatever the priority of the caller. `write` alone has no such
//! wait: none of 30,000 took 1 ms beside a reader on the same busy machine, where one in 70 polls for
//! room did. So [`Outlet`] writes without asking for room first and is for the control loop; everything
//! else of a port is for threads that may wait.

use rustix::fd::{AsFd, BorrowedFd, OwnedFd};
use rustix::fs::{OFlags, fcntl_getfl, fcntl_setfl};
use rustix::termios::{ControlModes, OptionalActions, tcgetattr, tcsetattr};
use serialport::{SerialPort, TTYPort};
use std::io::{ErrorKind, Read};
use std::os::fd::AsRawFd;
use std::os::unix::fs::FileTypeExt;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// An open port.
#[derive(Debug)]
pub struct Port {
    tty: TTYPort,
}

/// The writing side of an open port, for the control loop. Never waits.
#[derive(Debug)]
pub struct Outlet {
    fd: OwnedFd,
}

/// What a read or write did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Moved {
    /// So many bytes, at least one.
    Bytes(usize),
    /// None now; try again at the next tick.
    None,
    /// The port is gone.
    Gone,
}

/// Why a port could not be opened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PortProblem {
    /// There is no such file.
    Absent(PathBuf),
    /// Someone else has it open.
    Busy(PathBuf),
    /// This user may not open it.
    NoPermission(PathBuf),
    /// It is a file, but no serial port.
    NotAPort(PathBuf),
    /// The port does not do this speed.
    Speed(PathBuf, u32),
    /// Anything else, in the system's words.
    Other(PathBuf, String),
}

impl std::fmt::Display for PortProblem {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            PortProblem::Absent(path) => write!(
                f,
                "port {}: not there. Is the rig plugged in and switched on? `ls /dev/serial/by-id/` \
                 shows the ports that are; `port` in the rig file or --port says which one to use, \
                 and `--port sim` is the bench rig.",
                path.display()
            ),
            PortProblem::Busy(path) => write!(
                f,
                "port {}: another program has it open. `fuser -v {}` shows which; end it first.",
                path.display(),
                path.display()
            ),
            PortProblem::NoPermission(path) => write!(
                f,
                "port {}: you may not open it. `ls -l {}` shows its group (often dialout): add \
                 yourself with `sudo usermod -aG dialout $USER`, then log out and in again.",
                path.display(),
                path.display()
            ),
            PortProblem::NotAPort(path) => write!(
                f,
                "port {}: that is not a serial port. A port looks like /dev/ttyACM0, /dev/ttyUSB0 or \
                 a name under /dev/serial/by-id/.",
                path.display()
            ),
            PortProblem::Speed(path, baud) => write!(
                f,
                "port {}: it does not do {baud} baud. Usual ones are 57600, 115200, 230400, 460800 \
                 and 921600; `baud` in the rig file and the rig itself must agree.",
                path.display()
            ),
            PortProblem::Other(path, words) => write!(f, "port {}: {words}", path.display()),
        }
    }
}

impl std::error::Error for PortProblem {}

impl Port {
    /// Opens `path` at `baud`, 8N1. May wait for the device driver, so not from the control loop.
    ///
    /// # Errors
    /// [`PortProblem`], with how to mend it.
    pub fn open(path: &Path, baud: u32) -> Result<Port, PortProblem> {
        let found = std::fs::metadata(path)
            .map_err(|error| problem(path, baud, &error.kind(), error.to_string()))?;
        if !found.file_type().is_char_device() {
            return Err(PortProblem::NotAPort(path.into()));
        }
        let name = path.to_string_lossy();
        let tty = serialport::new(name, baud)
            // Nothing may wait: a read or write that can't go on says so at once.
            .timeout(Duration::ZERO)
            .open_native()
            .map_err(|error| classify(path, baud, &error))?;
        let other = |error: rustix::io::Errno| PortProblem::Other(path.into(), error.to_string());
        let port = Port { tty };
        let fd = port.as_fd();
        let flags = fcntl_getfl(fd).map_err(other)?;
        fcntl_setfl(fd, flags | OFlags::NONBLOCK).map_err(other)?;
        let mut termios = tcgetattr(fd).map_err(other)?;
        termios.control_modes.remove(ControlModes::HUPCL);
        tcsetattr(fd, OptionalActions::Now, &termios).map_err(other)?;
        Ok(port)
    }

    /// Reads what is there. May wait for the kernel's worker, so not from the control loop.
    pub fn read(&mut self, buffer: &mut [u8]) -> Moved {
        moved(self.tty.read(buffer))
    }

    /// Writes as much of `bytes` as the port takes at once.
    pub fn write(&mut self, bytes: &[u8]) -> Moved {
        write(self.as_fd(), bytes)
    }

    /// A writing side of its own for another thread. Both share the port, which is closed when the last of
    /// them goes; closing may wait for what is still to be sent.
    ///
    /// # Errors
    /// The system's, if it has no descriptor left.
    pub fn outlet(&self) -> std::io::Result<Outlet> {
        Ok(Outlet {
            fd: self.as_fd().try_clone_to_owned()?,
        })
    }

    /// The port's name as it was opened.
    pub fn name(&self) -> String {
        self.tty.name().unwrap_or_default()
    }
}

impl AsFd for Port {
    fn as_fd(&self) -> BorrowedFd<'_> {
        // SAFETY: the descriptor is owned by `tty`, which lives as long as this borrow of `self`.
        unsafe { BorrowedFd::borrow_raw(self.tty.as_raw_fd()) }
    }
}

impl Outlet {
    /// Writes as much of `bytes` as the port takes at once. One call of `write`, and no other.
    pub fn write(&mut self, bytes: &[u8]) -> Moved {
        write(self.fd.as_fd(), bytes)
    }
}

/// A port that is full says so (EAGAIN); one that is gone has an error of its own (EIO).
fn write(fd: BorrowedFd<'_>, bytes: &[u8]) -> Moved {
    match rustix::io::write(fd, bytes) {
        Ok(0) => Moved::None,
        result => moved(result.map_err(Into::into)),
    }
}

/// `Ok(0)` on a port that said it had something is a hang-up; so is every error but "not now".
fn moved(result: std::io::Result<usize>) -> Moved {
    match result {
        Ok(0) => Moved::Gone,
        Ok(n) => Moved::Bytes(n),
        Err(error) => match error.kind() {
            ErrorKind::WouldBlock | ErrorKind::TimedOut | ErrorKind::Interrupted => Moved::None,
            _ => Moved::Gone,
        },
    }
}

fn classify(path: &Path, baud: u32, error: &serialport::Error) -> PortProblem {
    let words = error.to_string();
    match error.kind() {
        serialport::ErrorKind::Io(kind) => problem(path, baud, &kind, words),
        serialport::ErrorKind::InvalidInput => PortProblem::Speed(path.into(), baud),
        // EBUSY (TIOCEXCL) and a held lock both come as "no device".
        serialport::ErrorKind::NoDevice => PortProblem::Busy(path.into()),
        // ENOTTY, in the words the serial crate has for it: a device, but not a terminal.
        serialport::ErrorKind::Unknown if words.contains("typewriter") => {
            PortProblem::NotAPort(path.into())
        }
        serialport::ErrorKind::Unknown => PortProblem::Other(path.into(), words),
    }
}

fn problem(path: &Path, baud: u32, kind: &ErrorKind, words: String) -> PortProblem {
    match kind {
        ErrorKind::NotFound => PortProblem::Absent(path.into()),
        ErrorKind::PermissionDenied => PortProblem::NoPermission(path.into()),
        ErrorKind::ResourceBusy | ErrorKind::WouldBlock => PortProblem::Busy(path.into()),
        ErrorKind::IsADirectory => PortProblem::NotAPort(path.into()),
        ErrorKind::InvalidInput => PortProblem::Speed(path.into(), baud),
        _ => PortProblem::Other(path.into(), words),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};

    fn pty() -> (rustix::fd::OwnedFd, PathBuf) {
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).expect("a pty");
        grantpt(&master).expect("grant");
        unlockpt(&master).expect("unlock");
        let name = ptsname(&master, Vec::new()).expect("name");
        (master, PathBuf::from(name.to_string_lossy().into_owned()))
    }

    #[test]
    fn an_open_port_never_waits_and_does_not_hang_up_the_rig() {
        let (master, path) = pty();
        let mut port = Port::open(&path, 115_200).expect("opens");
        assert_eq!(port.read(&mut [0; 16]), Moved::None);
        assert_eq!(port.write(b"abc"), Moved::Bytes(3));
        let mut got = [0; 8];
        assert_eq!(rustix::io::read(&master, &mut got), Ok(3));
        assert_eq!(rustix::io::write(&master, b"\x00\x0d\x11"), Ok(3));
        let mut got = [0; 8];
        assert_eq!(
            port.read(&mut got),
            Moved::Bytes(3),
            "raw: no byte is special"
        );
        assert_eq!(&got[..3], b"\x00\x0d\x11");
        // Until the port is full it takes bytes; then it says so instead of waiting.
        let full = (0..1_000).find(|_| port.write(&[7; 1_024]) == Moved::None);
        assert!(full.is_some());
        let mut outlet = port.outlet().expect("a descriptor");
        let full = (0..1_000).find(|_| outlet.write(&[7; 1_024]) == Moved::None);
        assert!(full.is_some(), "the same port");
        let fd = port.as_fd();
        let termios = tcgetattr(fd).expect("termios");
        assert!(
            !termios.control_modes.contains(ControlModes::HUPCL),
            "a close would drop DTR"
        );
        assert!(fcntl_getfl(fd).expect("flags").contains(OFlags::NONBLOCK));
        drop(master);
        assert_eq!(port.read(&mut got), Moved::Gone);
        assert_eq!(port.write(&[7]), Moved::Gone);
        assert_eq!(outlet.write(&[7]), Moved::Gone);
    }

    #[test]
    fn every_way_not_to_open_has_its_own_message() {
        let (_master, path) = pty();
        let _first = Port::open(&path, 115_200).expect("opens");
        let busy = Port::open(&path, 115_200).expect_err("is open already");
        assert_eq!(busy, PortProblem::Busy(path));
        let absent = Port::open(Path::new("/dev/no-such-port"), 115_200).expect_err("is absent");
        assert_eq!(absent, PortProblem::Absent("/dev/no-such-port".into()));
        let file = Port::open(Path::new("/dev/null"), 115_200).expect_err("is no port");
        assert_eq!(file, PortProblem::NotAPort("/dev/null".into()));
        let folder = Port::open(Path::new("/dev"), 115_200).expect_err("is a folder");
        assert_eq!(folder, PortProblem::NotAPort("/dev".into()));
    }
}
