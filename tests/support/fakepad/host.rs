//! The helper process: owns the testbed, obeys one command a line, answers each with one.

use std::collections::HashMap;
use std::fs::{self, File, OpenOptions};
use std::io::{BufRead, Write};
use std::os::fd::{AsRawFd, FromRawFd};
use std::os::unix::fs::{OpenOptionsExt, symlink};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use super::code::{EV_ABS, EV_SYN};
use super::records::{Bus, Record, Shape};
use super::umockdev::Testbed;

/// Stands before every answer.
pub const MARK: &str = "fakepad> ";

/// Room for events a stalled reader has not taken.
const PIPE_BYTES: libc::c_int = 1 << 20;

struct Plugged {
    record: Record,
    plug: u32,
    /// Where events go; `None` after a hang-up.
    events: Option<File>,
}

struct Host {
    testbed: Testbed,
    root: PathBuf,
    plugged: HashMap<u32, Plugged>,
    /// The record each node's ioctls were loaded from: umockdev takes one for each.
    known: HashMap<u32, Record>,
    /// Counts plugs, as the kernel does.
    plugs: u32,
}

pub fn run() -> ! {
    let testbed = Testbed::new();
    let root = testbed.root();
    // umockdev answers the ioctls of all other devices here, with ENOTTY for terminals: without it
    // they are left alone, and a serial port can be opened.
    fs::remove_file(root.join("ioctl/_default")).expect("umockdev made it");
    // It removes an empty directory with the last pad.
    fs::create_dir_all(root.join("dev/input")).expect("writable");
    fs::write(root.join("dev/input/.keep"), "").expect("writable");
    answer(&root.display().to_string());
    let mut host = Host {
        testbed,
        root,
        plugged: HashMap::new(),
        known: HashMap::new(),
        plugs: 0,
    };
    for line in std::io::stdin().lock().lines() {
        let line = line.expect("readable");
        if line == "quit" {
            break;
        }
        host.obey(&line);
        answer("ok");
    }
    drop(host);
    std::process::exit(0)
}

/// On a line of its own, whatever the test harness has begun.
fn answer(text: &str) {
    println!("\n{MARK}{text}");
    std::io::stdout().flush().expect("the test listens");
}

impl Host {
    fn obey(&mut self, line: &str) {
        let words: Vec<&str> = line.splitn(6, ' ').collect();
        let number = |index: usize| words[index].parse::<i64>().expect("a number");
        let n = number(1) as u32;
        match words[0] {
            "plug" | "plug-pty" => {
                let record = Record {
                    n,
                    bus: match words[2] {
                        "Usb" => Bus::Usb,
                        _ => Bus::Bluetooth,
                    },
                    shape: match words[3] {
                        "Common" => Shape::Common,
                        "Specified" => Shape::Specified,
                        "Keys" => Shape::Keys,
                        _ => Shape::Foreign,
                    },
                    port: words[4].to_string(),
                    name: words[5].to_string(),
                };
                self.plug(record, words[0] == "plug-pty");
            }
            "raw" => self.raw(n),
            "unplug" => self.unplug(n),
            "hang-up" => self.pad(n).events = None,
            "event" => {
                let (kind, code, value) = (number(2) as u16, number(3) as u16, number(4) as i32);
                send(self.pad(n), kind, code, value);
            }
            "ramp" => {
                let rest: Vec<i64> = line
                    .split(' ')
                    .skip(2)
                    .map(|word| word.parse().expect("a number"))
                    .collect();
                self.ramp(n, &rest);
            }
            other => panic!("no such command: {other}"),
        }
    }

    fn plug(&mut self, record: Record, pty: bool) {
        let n = record.n;
        let known = self.known.entry(n).or_insert_with(|| {
            let file = self.root.join(format!("pad{n}.ioctl"));
            fs::write(&file, record.ioctls()).expect("writable");
            self.testbed
                .load_ioctls(&format!("/dev/input/event{n}"), &file);
            record.clone()
        });
        assert_eq!(*known, record, "event{n} was another pad before");
        let node = self.root.join(format!("dev/input/event{n}"));
        let events = if pty { pty_at(&node) } else { events_at(&node) };
        self.plugs += 1;
        self.testbed.add(&record.description(self.plugs));
        let plugged = Plugged {
            record,
            plug: self.plugs,
            events: Some(events),
        };
        self.plugged.insert(n, plugged);
    }

    /// umockdev lets nobody open a node below /dev whose ioctls it was not told of: here none that anybody asks.
    fn raw(&mut self, n: u32) {
        let file = self.root.join(format!("raw{n}.ioctl"));
        if !file.exists() {
            let node = format!("/dev/hidraw{n}");
            fs::write(&file, format!("@DEV {node}\nEVIOCGID 0 00\n")).expect("writable");
            self.testbed.load_ioctls(&node, &file);
        }
    }

    fn unplug(&mut self, n: u32) {
        let pad = self.plugged.remove(&n).expect("plugged in");
        let device = format!("/sys{}", pad.record.sysfs(pad.plug));
        for part in [format!("{device}/event{n}"), device] {
            // In this order: a message about a removed device could not be made up.
            self.testbed.uevent(&part, "remove");
            self.testbed.remove(&part);
        }
        // A symbolic link to a PTY is not umockdev's to remove.
        let _ = fs::remove_file(self.root.join(format!("dev/input/event{n}")));
    }

    fn ramp(&mut self, n: u32, figures: &[i64]) {
        let &[code, from, to, steps, period] = figures else {
            panic!("five figures for a ramp");
        };
        let begin = Instant::now();
        for step in 1..=steps {
            let due = begin + Duration::from_micros((period * step) as u64);
            if let Some(wait) = due.checked_duration_since(Instant::now()) {
                std::thread::sleep(wait);
            }
            let value = from + (to - from) * step / steps;
            send(self.pad(n), EV_ABS, code as u16, value as i32);
        }
    }

    fn pad(&mut self, n: u32) -> &mut Plugged {
        self.plugged.get_mut(&n).expect("plugged in")
    }
}

/// A FIFO, open here at both ends, so that it never ends before this one does.
pub(super) fn fifo_at(node: &Path) -> File {
    let path = std::ffi::CString::new(node.to_str().expect("plain")).expect("no zero byte");
    // SAFETY: a valid path; the call has no other requirements.
    assert_eq!(unsafe { libc::mkfifo(path.as_ptr(), 0o600) }, 0);
    OpenOptions::new()
        .read(true)
        .write(true)
        .custom_flags(libc::O_NONBLOCK)
        .open(node)
        .expect("just made")
}

/// Where events go: unlike a PTY it keeps them whole however far the reader lags.
fn events_at(node: &Path) -> File {
    let file = fifo_at(node);
    // SAFETY: a valid descriptor; the call only sets a size.
    let size = unsafe { libc::fcntl(file.as_raw_fd(), libc::F_SETPIPE_SZ, PIPE_BYTES) };
    assert!(size >= PIPE_BYTES);
    file
}

/// A PTY: closing this end hangs the other up, which a FIFO opened for reading and writing never
/// does.
fn pty_at(node: &std::path::Path) -> File {
    let (mut ours, mut theirs) = (0, 0);
    let mut name = [0 as libc::c_char; 128];
    // SAFETY: all pointers are valid, the name's buffer is longer than any PTY's path, and termios
    // is plain data which cfmakeraw fills.
    unsafe {
        let mut raw: libc::termios = std::mem::zeroed();
        libc::cfmakeraw(&mut raw);
        let opened = libc::openpty(
            &mut ours,
            &mut theirs,
            name.as_mut_ptr(),
            &raw,
            std::ptr::null(),
        );
        assert_eq!(opened, 0);
        libc::close(theirs);
        let path = std::ffi::CStr::from_ptr(name.as_ptr())
            .to_str()
            .expect("plain");
        symlink(path, node).expect("free");
        File::from_raw_fd(ours)
    }
}

/// One event and the report mark in one write, stamped with the wall clock as evdev does.
fn send(pad: &mut Plugged, kind: u16, code: u16, value: i32) {
    let now = std::time::SystemTime::now()
        .duration_since(std::time::UNIX_EPOCH)
        .expect("after 1970");
    let mut bytes = Vec::with_capacity(48);
    for (kind, code, value) in [(kind, code, value), (EV_SYN, 0, 0)] {
        // struct input_event of linux/input.h on a 64-bit machine.
        bytes.extend((now.as_secs() as i64).to_ne_bytes());
        bytes.extend(i64::from(now.subsec_micros()).to_ne_bytes());
        bytes.extend(kind.to_ne_bytes());
        bytes.extend(code.to_ne_bytes());
        bytes.extend(value.to_ne_bytes());
    }
    let file = pad.events.as_mut().expect("not hung up");
    file.write_all(&bytes).expect("room in the pipe");
}
