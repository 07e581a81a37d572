//! A fake game controller below gilrs: the unmodified program, the real gilrs, libudev, ioctls,
//! reads and hotplug, and no kernel device.
//!
//! umockdev shows a made-up /sys, /dev and udev to every program started with [`FakePad::env`]. It
//! needs Debian's `umockdev` and `libudev-dev`; programs must be dynamically linked to glibc, which
//! all of ours are. Each [`FakePad`] is a world of its own, so that tests can run side by side; it
//! must outlive the programs that look at it.
//!
//! The testbed lives in a helper process, because umockdev's library must itself be preloaded to
//! send hotplug messages: the test's own binary, started again for [`fakepad_host`], which including
//! this module adds to it.

#![allow(dead_code)] // Each test uses its own part of it.

pub mod host;
pub mod raw;
pub mod records;
mod umockdev;

use std::fs;
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::time::{Duration, Instant};

pub use records::{Bus, Shape};

/// The library that shows the made-up world.
pub const PRELOAD: &str = "libumockdev-preload.so.0";
/// Tells the helper process what it is.
const HOST: &str = "FAKEPAD_HOST";

/// Event types and codes (linux/input-event-codes.h).
pub mod code {
    pub const EV_SYN: u16 = 0;
    pub const EV_KEY: u16 = 1;
    pub const EV_ABS: u16 = 3;
    pub const EV_MSC: u16 = 4;
    pub const SYN_DROPPED: u16 = 3;
    pub const ABS_X: u16 = 0x00;
    pub const ABS_Y: u16 = 0x01;
    pub const ABS_Z: u16 = 0x02;
    pub const ABS_RX: u16 = 0x03;
    pub const ABS_RY: u16 = 0x04;
    pub const ABS_RZ: u16 = 0x05;
    pub const ABS_HAT0X: u16 = 0x10;
    pub const ABS_HAT0Y: u16 = 0x11;
    pub const ABS_HAT2X: u16 = 0x14;
    pub const ABS_HAT2Y: u16 = 0x15;
    pub const BTN_SOUTH: u16 = 0x130;
    pub const BTN_EAST: u16 = 0x131;
    pub const BTN_NORTH: u16 = 0x133;
    pub const BTN_WEST: u16 = 0x134;
    pub const BTN_TL: u16 = 0x136;
    pub const BTN_TR: u16 = 0x137;
    pub const BTN_TL2: u16 = 0x138;
    pub const BTN_TR2: u16 = 0x139;
    pub const BTN_SELECT: u16 = 0x13a;
    pub const BTN_START: u16 = 0x13b;
    pub const BTN_MODE: u16 = 0x13c;
    pub const BTN_THUMBL: u16 = 0x13d;
    pub const BTN_THUMBR: u16 = 0x13e;
    pub const BTN_DPAD_UP: u16 = 0x220;
    pub const BTN_DPAD_RIGHT: u16 = 0x223;
}

/// The helper process; an empty test otherwise.
#[test]
fn fakepad_host() {
    if std::env::var_os(HOST).is_some() {
        host::run();
    }
}

/// A world in which pads can be plugged in.
pub struct FakePad {
    host: Child,
    to: ChildStdin,
    from: BufReader<ChildStdout>,
    root: PathBuf,
}

impl FakePad {
    /// A world without pads.
    pub fn new() -> FakePad {
        // The name of the test above, as the test harness knows it: without the crate's name.
        let module = module_path!();
        let test = match module.split_once("::") {
            Some((_, path)) => format!("{path}::fakepad_host"),
            None => "fakepad_host".to_string(),
        };
        let mut host = Command::new(std::env::current_exe().expect("own path"))
            .args(["--exact", &test, "--nocapture", "--test-threads=1"])
            .env(HOST, "1")
            .env("LD_PRELOAD", PRELOAD)
            .env_remove("UMOCKDEV_DIR")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            // glib warns when a program is killed in the middle of an ioctl.
            .stderr(Stdio::null())
            .spawn()
            .expect("the helper process starts");
        let mut pad = FakePad {
            to: host.stdin.take().expect("piped"),
            from: BufReader::new(host.stdout.take().expect("piped")),
            host,
            root: PathBuf::new(),
        };
        pad.root = PathBuf::from(pad.reply());
        pad
    }

    /// What a program needs in its environment to see this world.
    pub fn env(&self) -> [(&'static str, String); 2] {
        [
            ("LD_PRELOAD", PRELOAD.to_string()),
            ("UMOCKDEV_DIR", self.root.display().to_string()),
        ]
    }

    /// Where this world's /sys and /dev are.
    pub fn root(&self) -> &Path {
        &self.root
    }

    /// Plugs a common USB pad into port `n` as `/dev/input/eventN`; `n` from 0 to 31.
    pub fn plug(&mut self, n: u32) {
        self.plug_as(n, Bus::Usb, &format!("usb-0000:00:14.0-{n}"), "Hall Pad");
    }

    /// Plugs a common pad in as `/dev/input/eventN`. `port` is a USB port path or a Bluetooth
    /// address. A pad that comes back on the same `n` must be the same.
    pub fn plug_as(&mut self, n: u32, bus: Bus, port: &str, name: &str) {
        self.plug_shaped(n, bus, port, name, Shape::Common);
    }

    /// Plugs in a pad with other controls.
    pub fn plug_shaped(&mut self, n: u32, bus: Bus, port: &str, name: &str, shape: Shape) {
        self.command(&format!("plug {n} {bus:?} {shape:?} {port} {name}"));
    }

    /// As [`FakePad::plug`], but the node can be hung up by [`FakePad::hang_up`].
    pub fn plug_hangable(&mut self, n: u32) {
        self.command(&format!(
            "plug-pty {n} Usb Common usb-0000:00:14.0-{n} Hall Pad"
        ));
    }

    /// Raw reports for pad `n`, which is to be plugged in on that bus.
    pub fn raw_reports(&mut self, n: u32, bus: Bus) -> raw::RawReports {
        self.command(&format!("raw {n}"));
        raw::RawReports::new(&self.root, n, bus)
    }

    /// Pulls a pad; what its sticks said last is not taken back, as with a real one.
    pub fn unplug(&mut self, n: u32) {
        self.command(&format!("unplug {n}"));
    }

    /// The node of a pad from [`FakePad::plug_hangable`] reports a hang-up, as a real one does
    /// between its unplug and udev's message.
    pub fn hang_up(&mut self, n: u32) {
        self.command(&format!("hang-up {n}"));
    }

    /// Does something whose hotplug messages nobody hears, as they are in the time between gilrs'
    /// list and its monitor.
    pub fn unheard<T>(&mut self, what: impl FnOnce(&mut FakePad) -> T) -> T {
        let monitors = self.monitors();
        for monitor in &monitors {
            fs::rename(monitor, hidden(monitor)).expect("the monitor's socket is there");
        }
        let result = what(self);
        for monitor in &monitors {
            fs::rename(hidden(monitor), monitor).expect("the hidden socket is there");
        }
        result
    }

    /// Sends the value of an axis, in the pad's own units: sticks -32768..=32767 with **down**
    /// positive, `ABS_Z` and `ABS_RZ` 0..=255, hats -1..=1.
    pub fn abs(&mut self, n: u32, code: u16, value: i32) {
        self.raw(n, code::EV_ABS, code, value);
    }

    /// Presses or releases a button.
    pub fn key(&mut self, n: u32, code: u16, down: bool) {
        self.raw(n, code::EV_KEY, code, i32::from(down));
    }

    /// Sends any event, with the report mark behind it.
    pub fn raw(&mut self, n: u32, kind: u16, code: u16, value: i32) {
        self.command(&format!("event {n} {kind} {code} {value}"));
    }

    /// A linear ramp of `steps` events, one every `period_us` microseconds; returns when all are
    /// sent.
    pub fn ramp(&mut self, n: u32, code: u16, from: i32, to: i32, steps: i32, period_us: u64) {
        self.command(&format!("ramp {n} {code} {from} {to} {steps} {period_us}"));
    }

    /// Waits until the program under test hears hotplug messages. Its gilrs opens the monitor in a
    /// thread that may still be starting when the program says that it is ready.
    pub fn wait_hotplug_ready(&self) {
        // gilrs' other way to find pads has its watch before it is ready.
        if std::env::var_os("GILRS_DISABLE_UDEV").is_some() {
            return;
        }
        let end = Instant::now() + Duration::from_secs(10);
        while self.monitors().is_empty() {
            assert!(Instant::now() < end, "no hotplug monitor appeared");
            std::thread::sleep(Duration::from_millis(1));
        }
    }

    /// The hotplug monitors opened so far. umockdev shows each as a socket in its directory.
    pub fn monitors(&self) -> Vec<PathBuf> {
        let entries = fs::read_dir(&self.root).expect("the testbed is there");
        entries
            .flatten()
            .filter(|entry| entry.file_name().to_string_lossy().starts_with("event"))
            .map(|entry| entry.path())
            .collect()
    }

    fn command(&mut self, line: &str) {
        writeln!(self.to, "{line}").expect("the helper process listens");
        self.to.flush().expect("the helper process listens");
        let reply = self.reply();
        assert_eq!(reply, "ok", "fake pad: {line}");
    }

    fn reply(&mut self) -> String {
        let mut line = String::new();
        loop {
            line.clear();
            let read = self.from.read_line(&mut line).expect("readable");
            assert!(read > 0, "the fake pad's helper process died");
            // The test harness of the helper prints lines of its own.
            if let Some((_, reply)) = line.trim_end().split_once(host::MARK) {
                return reply.to_string();
            }
        }
    }
}

impl Drop for FakePad {
    fn drop(&mut self) {
        let _ = writeln!(self.to, "quit");
        let _ = self.to.flush();
        let _ = self.host.wait();
    }
}

fn hidden(monitor: &Path) -> PathBuf {
    let name = monitor.file_name().expect("a file").to_string_lossy();
    monitor.with_file_name(format!("hidden-{name}"))
}
