//! Pad, line and daemon together, with the files of the hall.

#![allow(dead_code)] // Each test uses its own part of it.

use std::path::PathBuf;
use std::time::Instant;

use stillhand_rig::Config;
use tempfile::TempDir;

use super::daemon::{Daemon, Start};
use super::fakepad::code::{ABS_RX, ABS_RY, ABS_X};
use super::fakepad::raw::RawReports;
use super::fakepad::{Bus, FakePad};
use super::hall;
use super::line::Line;

/// Raw values of a stick: fully over, and at rest.
pub const FULL: i32 = 32767;
pub const CENTRE: i32 = 0;

/// The number of the first pad, and its port.
pub const PAD: u32 = 1;
pub const PAD_ID: &str = "usb-0000:00:14.0-1";

/// Everything a test of the real path has.
pub struct Stage {
    // In this order, so that the daemon ends before what it looks at.
    pub daemon: Daemon,
    pub line: Line,
    pub raw: Option<RawReports>,
    pub pads: FakePad,
    pub folder: TempDir,
}

/// What differs from test to test.
pub struct Plan {
    pub rig: String,
    pub operator: String,
    pub config: Config,
    pub clock_us: u32,
    pub bus: Bus,
    /// Whether the pad has raw reports.
    pub raw: bool,
    pub arguments: Vec<String>,
    /// The longest file that can be written, as on a disk that is full then.
    pub disk: Option<u64>,
    /// More for the daemon's environment.
    pub env: Vec<(&'static str, String)>,
}

impl Default for Plan {
    fn default() -> Plan {
        Plan {
            rig: hall::RIG.to_string(),
            operator: hall::pan_only(),
            config: hall::config(),
            clock_us: 0,
            bus: Bus::Usb,
            raw: false,
            arguments: Vec::new(),
            disk: None,
            env: Vec::new(),
        }
    }
}

impl Plan {
    /// Plugs the pad in, switches the rig on, starts the daemon.
    pub fn start(self) -> Stage {
        let line = Line::start_at(self.config.clone(), self.clock_us);
        let port = line.path().to_path_buf();
        self.start_on(line, port)
    }

    /// The same with a line of the test's own, under the name `port`.
    pub fn start_on(self, line: Line, port: PathBuf) -> Stage {
        let folder = tempfile::tempdir().expect("a folder");
        let mut pads = FakePad::new();
        let id = match self.bus {
            Bus::Usb => PAD_ID,
            Bus::Bluetooth => "02:00:00:00:00:aa",
        };
        let raw = self.raw.then(|| pads.raw_reports(PAD, self.bus));
        pads.plug_as(PAD, self.bus, id, "Hall Pad");
        let mut arguments = files(&folder, &self.rig, &self.operator);
        arguments.extend(["--port".into(), port.display().to_string(), "--json".into()]);
        // Tests that run side by side drive rigs of the same name.
        if !self.arguments.iter().any(|argument| argument == "--socket") {
            arguments.extend(["--socket".into(), "off".into()]);
        }
        arguments.extend(self.arguments);
        let mut start = Start::new(&arguments).seeing(&pads);
        for (name, value) in &self.env {
            start = start.with(name, value);
        }
        if let Some(bytes) = self.disk {
            start = start.short_of_disk(bytes);
        }
        let daemon = start.go();
        Stage {
            daemon,
            line,
            raw,
            pads,
            folder,
        }
    }
}

/// `run` with these two files, written to `folder`.
pub fn files(folder: &TempDir, rig: &str, operator: &str) -> Vec<String> {
    let write = |name: &str, text: &str| {
        let path = folder.path().join(name);
        std::fs::write(&path, text).expect("writable");
        path.display().to_string()
    };
    vec![
        "run".into(),
        "--rig".into(),
        write("rig.toml", rig),
        "--operator".into(),
        write("operator.toml", operator),
    ]
}

impl Stage {
    /// Lets every stick be seen at its centre; back when the sticks move the rig.
    pub fn arm(&mut self) -> Instant {
        self.daemon.want("is in control");
        self.centre();
        self.daemon.want("driving: the sticks move the rig")
    }

    pub fn centre(&mut self) {
        for code in [ABS_RX, ABS_RY, ABS_X] {
            self.pads.abs(PAD, code, CENTRE);
        }
    }

    /// Pushes pan fully over; back when it goes at its full `speed` in deg/s.
    pub fn push(&mut self, speed: f64) -> Instant {
        self.pads.abs(PAD, ABS_RX, FULL);
        self.full(speed)
    }

    pub fn full(&mut self, speed: f64) -> Instant {
        let counts = speed * hall::PER_DEG;
        self.line
            .want_driven("pan at full speed", |v| v[0] > counts - 0.05)
    }

    /// Pushes and lets go: shows that the rig may be driven.
    pub fn drives(&mut self) {
        self.pads.abs(PAD, ABS_RX, FULL);
        self.line.want_driven("a push moves", |v| v[0] > 100.0);
        self.pads.abs(PAD, ABS_RX, CENTRE);
        self.line
            .want_driven("letting go stops", |v| v.iter().all(|v| *v == 0.0));
    }
}
