//! What the loop and everybody else share: orders one way, the latest state the other.

use crate::link::session::{Session, Standing};
use std::sync::Mutex;
use std::sync::atomic::AtomicBool;
use stillhand_engine::MAX_AXES;
use stillhand_engine::current::Current;
use stillhand_engine::input::RigReport;
use stillhand_engine::output::{AxisStatus, Outputs, State, Status, Wait, Why};
use stillhand_engine::time::Span;

/// What the loop and everybody else share.
#[derive(Debug)]
pub struct Shared {
    /// Set to stop the rig.
    pub stop: AtomicBool,
    /// Set to end: stop, wait for rest, close.
    pub end: AtomicBool,
    /// The latest state, for whoever looks.
    pub snapshot: Mutex<Snapshot>,
}

/// The state after a turn.
#[derive(Clone, Debug)]
pub struct Snapshot {
    /// The engine's.
    pub status: Status,
    /// The axes'.
    pub axes: [AxisStatus; MAX_AXES],
    /// The session's.
    pub standing: Standing,
    /// What the rig said of itself, once it may be moved.
    pub report: Option<RigReport>,
    /// The first bytes heard since the port was opened, and how many there were in all.
    pub heard: (Vec<u8>, usize),
    /// Seconds since the first turn with the link ready.
    pub since_zero: Option<Span>,
    /// What the rig told of its health last.
    pub health: Option<Health>,
    /// With which current its motors hold, as the engine has it.
    pub current: Current,
    /// Which of them have less than their full one, as far as the rig told: bit i for axis i.
    pub lowered: u8,
    /// What a changed profile waits for, if there is one that is not in force yet.
    pub profile_waits: Option<Wait>,
    /// Whether a changed rig file waits, for rest and every stick centred.
    pub rig_waits: bool,
    /// The operator that waits for its moment, if it is another one. Not the loop's: whoever reads files
    /// says it.
    pub next_operator: Option<String>,
    /// What is wrong with a changed file, in a line. Not the loop's: whoever reads files says it.
    pub file_wrong: Option<String>,
    /// Why the journal stopped, in a line. Not the loop's either.
    pub journal_stopped: Option<String>,
}

/// What a rig tells of its health.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Health {
    /// Its motors carry current.
    pub energised: bool,
    /// Its supply, in mV, if it knows.
    pub supply_mv: Option<u16>,
    /// The temperature of its drives, in degrees Celsius, if it knows.
    pub drive_c: Option<i8>,
}

impl Shared {
    /// Nothing asked, nothing known.
    pub fn new() -> Shared {
        Shared {
            stop: AtomicBool::new(false),
            end: AtomicBool::new(false),
            snapshot: Mutex::new(Snapshot {
                status: Status::at_start(State::NoLink(Why::Start)),
                axes: [AxisStatus::default(); MAX_AXES],
                standing: Standing::Closed,
                report: None,
                heard: (Vec::with_capacity(16), 0),
                since_zero: None,
                health: None,
                current: Current::Full,
                lowered: 0,
                profile_waits: None,
                rig_waits: false,
                next_operator: None,
                file_wrong: None,
                journal_stopped: None,
            }),
        }
    }
}

impl Default for Shared {
    fn default() -> Shared {
        Shared::new()
    }
}

impl Snapshot {
    /// Whether an axis holds with less than its full current, as far as the rig told.
    pub fn is_lowered(&self, axis: usize) -> bool {
        self.lowered & 1u8.checked_shl(axis as u32).unwrap_or(0) != 0
    }

    /// Takes the state after a turn, `since_zero` after the first one with the link ready.
    pub(super) fn take(&mut self, outputs: &Outputs, session: &Session, since_zero: Option<Span>) {
        self.status = outputs.status;
        if let Some(rig) = outputs.rigs.first() {
            self.axes = rig.axes;
            self.current = rig.current;
        }
        if self.standing != *session.standing() {
            self.standing = session.standing().clone();
            self.report = session.report().copied();
        }
        let heard = session.heard();
        if self.heard.1 != heard.count() && self.heard.0.len() < 16 {
            self.heard.0.clear();
            self.heard.0.extend_from_slice(heard.bytes());
        }
        self.heard.1 = heard.count();
        self.since_zero = since_zero;
        self.lowered = session.lowered();
        self.health = session.latest().map(|told| Health {
            energised: told.energised,
            supply_mv: told.supply_mv,
            drive_c: told.drive_c,
        });
    }
}
