//! What is done to a world, as a list that can be played again without whoever thought of it.

use crate::link::mischief;
use crate::soak::noise::Noise;
use crate::soak::world::WorldOptions;
use stillhand_engine::errand::Errand;
use stillhand_engine::input::{Order, PadEvent, PadId};
use stillhand_engine::operator::Operator;
use stillhand_engine::rig::Rig;
use stillhand_engine::time::Span;

/// One thing that is done to a world, or time that passes.
#[derive(Clone, Debug, PartialEq)]
pub enum Act {
    /// So many turns of the loop come in time.
    Turns(u32),
    /// A turn comes after this pause instead of a period.
    Late(Span),
    /// A pad does something.
    Pad(PadId, PadEvent),
    /// The daemon is asked to stop.
    Stop,
    /// Something is asked for without a pad.
    Order(Order),
    /// An errand is offered.
    Errand(Box<Errand>),
    /// Another profile is offered.
    Profile(Box<Operator>),
    /// Another file of the rig is offered.
    RigFile(Box<Rig>),
    /// The rig misbehaves, or behaves again.
    Rig(mischief::Event),
    /// The line does this to frames from now on, or nothing any more.
    Noise(Option<Noise>),
    /// The cable is plugged in, or pulled.
    Cable(bool),
    /// The port takes nothing, or takes all again.
    Clog(bool),
    /// Nothing is written for so long, on purpose.
    Hush(Span),
}

impl Act {
    /// What it counts as among the faults of a soak; nothing that is right again, or no fault, counts.
    pub fn fault(&self) -> Option<&'static str> {
        match self {
            Act::Cable(false) => Some("cable_pulled"),
            Act::Clog(true) => Some("port_clogged"),
            Act::Hush(_) => Some("hush"),
            Act::Pad(_, PadEvent::Unplugged) => Some("pad_pulled"),
            Act::Rig(event) => rig_fault(*event),
            // Late turns are counted as they come, frames as they are wronged.
            Act::Turns(_)
            | Act::Late(_)
            | Act::Noise(_)
            | Act::Cable(true)
            | Act::Clog(false)
            | Act::Pad(..)
            | Act::Stop
            | Act::Order(_)
            | Act::Errand(_)
            | Act::Profile(_)
            | Act::RigFile(_) => None,
        }
    }
}

fn rig_fault(event: mischief::Event) -> Option<&'static str> {
    match event {
        mischief::Event::Reboot { .. } => Some("rig_reboot"),
        mischief::Event::Power(false) => Some("power_lost"),
        mischief::Event::Fault(1..) => Some("rig_fault"),
        mischief::Event::StopInput(true) => Some("stop_input"),
        mischief::Event::TelemetryPeriod(_) => Some("telemetry_slow"),
        mischief::Event::TelemetryLose(1..) => Some("telemetry_lost"),
        mischief::Event::TelemetryMute(true) => Some("telemetry_mute"),
        mischief::Event::Ramps(share) if share < 1.0 => Some("weak_ramps"),
        mischief::Event::Supply(_) => Some("supply"),
        mischief::Event::Drive(_) => Some("drive_heat"),
        mischief::Event::Slip { .. } => Some("slip"),
        mischief::Event::Deaf(true) => Some("rig_deaf"),
        mischief::Event::Power(true)
        | mischief::Event::Fault(0)
        | mischief::Event::StopInput(false)
        | mischief::Event::TelemetryLose(0)
        | mischief::Event::TelemetryMute(false)
        | mischief::Event::Ramps(_)
        | mischief::Event::Watchdog(_)
        | mischief::Event::Encoder(_)
        | mischief::Event::Deaf(false) => None,
    }
}

/// A world and all that is done to it.
#[derive(Clone, Debug)]
pub struct Scene {
    /// The rig.
    pub rig: Rig,
    /// The profile it begins with.
    pub operator: Operator,
    /// How its loop and line are.
    pub options: WorldOptions,
    /// What is done, in order. What stands before a turn happens just before it.
    pub acts: Vec<Act>,
}

impl Scene {
    /// How many turns of the loop it has.
    pub fn turns(&self) -> u64 {
        let turns = |act: &Act| match act {
            Act::Turns(turns) => u64::from(*turns),
            Act::Late(_) => 1,
            _ => 0,
        };
        self.acts.iter().map(turns).sum()
    }

    /// How long it is, virtual seconds.
    pub fn secs(&self) -> f64 {
        let time = |act: &Act| match act {
            Act::Turns(turns) => f64::from(*turns) * self.options.period.secs(),
            Act::Late(pause) => pause.secs(),
            _ => 0.0,
        };
        self.acts.iter().map(time).sum()
    }

    /// How much is done, time not counted.
    pub fn done(&self) -> usize {
        let is_done = |act: &&Act| !matches!(act, Act::Turns(_) | Act::Late(_));
        self.acts.iter().filter(is_done).count()
    }
}
