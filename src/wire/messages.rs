//! What is said on the line, in both directions.
//!
//! Speeds are i32 in 1/1024 count/s (whole counts per second would lose slow creeps); positions are
//! i32 counts that wrap on a continuous axis; clocks are the rig's own, u32 microseconds, wrapping.
//! Adding a field anywhere is a new [`VERSION`]; only `Hello` to the rig and `Refused` keep their layout for ever.
//! A message more, behind the others, is none: an end that does not know it drops it as foreign.

use heapless::{String, Vec};
use serde::{Deserialize, Serialize, de::DeserializeOwned};

/// Version of the protocol this crate speaks.
pub const VERSION: u8 = 1;
/// Most axes one rig may have.
pub const MAX_AXES: usize = 8;
/// Longest rig id in bytes of UTF-8.
pub const MAX_RIG_ID: usize = 32;
/// Longest axis name in bytes of UTF-8.
pub const MAX_AXIS_NAME: usize = 16;
/// Velocity units per count/s.
pub const VELOCITY_SCALE: i32 = 1024;
/// Fastest speed the number range holds, in whole counts/s (2,097,151).
pub const MAX_COUNTS_PER_S: u32 = (i32::MAX / VELOCITY_SCALE) as u32;
/// Watchdog time unless the setup says otherwise, in ms: several frames may be lost, a person does not notice.
pub const DEFAULT_WATCHDOG_MS: u16 = 120;
/// Shortest watchdog a rig accepts, in ms: one frame at 50 Hz.
pub const MIN_WATCHDOG_MS: u16 = 20;
/// Longest watchdog a rig accepts, in ms.
pub const MAX_WATCHDOG_MS: u16 = 1000;
/// Highest acceleration in a [`Ramp`], counts/s^2: keeps every product of the rig's ramp arithmetic in range.
pub const MAX_ACCEL: u32 = 1 << 24;
/// Highest jerk in a [`Ramp`], counts/s^3: the same reason.
pub const MAX_JERK: u32 = 1 << 31;

/// One value per axis, in the order of the rig's hello.
pub type PerAxis<T> = Vec<T, MAX_AXES>;

/// A message type with its direction, so that a frame echoed by the line is never taken for one of the other end's.
pub trait Message: Serialize + DeserializeOwned {
    /// First byte of every payload in this direction.
    const DIRECTION: u8;
}

impl Message for ToRig {
    const DIRECTION: u8 = 0;
}

impl Message for FromRig {
    const DIRECTION: u8 = 1;
}

/// Daemon to rig.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub enum ToRig {
    /// Opens a session; always answered.
    Hello {
        /// The daemon's [`VERSION`].
        version: u8,
        /// New for every start of the daemon and every reconnect, never 0 and never used twice.
        session: u32,
    },
    /// Travel, stop set and watchdog; once per session, at rest; answered by an echo.
    Setup(Setup),
    /// Speeds for all axes, held until the next accepted one.
    Velocity {
        /// The session in force.
        session: u32,
        /// From 1, plus one per frame.
        seq: u32,
        /// Last moment at which this frame may be taken, on the rig's clock in microseconds.
        deadline_us: u32,
        /// Per axis, 1/1024 count/s.
        velocity: PerAxis<i32>,
    },
    /// Where an axis stands now is this position; answered by [`FromRig::Referenced`].
    Reference(Reference),
    /// Which motors may hold with less than their full current; answered by [`FromRig::Standstill`].
    Standstill(Standstill),
}

/// Which axes may stand still with a lowered motor current: all others have their full one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Standstill {
    /// The session in force.
    pub session: u32,
    /// From 1 in each session, one more for each that asks for something else; the same when one is said again.
    pub number: u32,
    /// Last moment at which it may be taken, on the rig's clock in microseconds.
    pub deadline_us: u32,
    /// Bit i set: axis i.
    pub lower: u8,
}

/// A reference set by hand: whoever asks has looked, and trusts the mark the axis stands at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reference {
    /// The session in force.
    pub session: u32,
    /// Not 0; one more for each that is asked, whatever the session; the same when one is said again.
    pub number: u32,
    /// Last moment at which it may be taken, on the rig's clock in microseconds.
    pub deadline_us: u32,
    /// The axis, from 0.
    pub axis: u8,
    /// Where it stands, counts.
    pub position: i32,
    /// It is meant although the position is known already.
    pub again: bool,
}

/// What the rig enforces by itself.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Setup {
    /// The session in force.
    pub session: u32,
    /// Stop when no velocity was accepted for this long while moving, ms, 20 to 1000.
    pub watchdog_ms: u16,
    /// In the order of the rig's hello, as many.
    pub axes: PerAxis<AxisSetup>,
}

/// Travel and stop set of one axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct AxisSetup {
    /// Lowest and highest allowed position in counts, low < high, or `None` for a continuous axis.
    pub travel: Option<(i32, i32)>,
    /// Stops a motion in the plus direction (gravity may make the two differ).
    pub stop_plus: Ramp,
    /// Stops a motion in the minus direction.
    pub stop_minus: Ramp,
}

/// A jerk-limited ramp.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Ramp {
    /// Highest acceleration, counts/s^2, 1 to [`MAX_ACCEL`].
    pub accel: u32,
    /// Highest jerk, counts/s^3, 1 to [`MAX_JERK`].
    pub jerk: u32,
}

/// Rig to daemon.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[expect(
    clippy::large_enum_variant,
    reason = "no allocation here, and one message at a time is alive"
)]
pub enum FromRig {
    /// Answers every valid `Hello`.
    Hello(RigHello),
    /// The setup is in force; an echo of all of it.
    Ack {
        /// What was accepted, to be compared with what was sent.
        setup: Setup,
    },
    /// A `Hello` or `Setup` changed nothing, and why. Velocities are never answered.
    Refused {
        /// Session of the refused message.
        session: u32,
        /// The first rule it broke.
        why: Why,
    },
    /// Sent periodically once a daemon has said hello.
    Telemetry(Telemetry),
    /// What became of a [`ToRig::Reference`].
    Referenced {
        /// The session it was asked in. Taken, it has ended with this.
        session: u32,
        /// Its number.
        number: u32,
        /// Why it changed nothing; none if the axis stands there from now on.
        refused: Option<NotReferenced>,
    },
    /// What is made of the last [`ToRig::Standstill`]; also when it changes.
    Standstill {
        /// The session in force.
        session: u32,
        /// The number of the last one taken.
        number: u32,
        /// Bit i set: axis i can stand with a lowered current at all.
        can: u8,
        /// Bit i set: axis i has not its full current.
        lowered: u8,
    },
}

/// Why a reference was refused: the first rule it broke.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum NotReferenced {
    /// The rig has no such axis.
    NoAxis,
    /// An axis moves, or is told to.
    NotAtRest,
    /// The position is known already, and it was not asked for again.
    Already,
    /// Outside of the axis's travel.
    OutsideTravel,
}

/// Who the rig is and where it stands.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct RigHello {
    /// The rig's [`VERSION`].
    pub version: u8,
    /// Session of the hello this answers.
    pub session: u32,
    /// Tells this rig from others; compared with the rig file.
    pub rig_id: String<MAX_RIG_ID>,
    /// Different after every start of the rig.
    pub boot_id: u32,
    /// The rig's clock, microseconds, wrapping.
    pub clock_us: u32,
    /// All axes; this order holds in every other message.
    pub axes: PerAxis<AxisHello>,
}

/// Unit in which an axis is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Unit {
    /// Degrees.
    Deg,
    /// Millimetres.
    Mm,
}

/// What the rig says about one axis.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct AxisHello {
    /// Its name in the rig.
    pub name: String<MAX_AXIS_NAME>,
    /// This many counts ...
    pub counts: u32,
    /// ... are this many units: counts per unit as an exact fraction.
    pub per_units: u32,
    /// The unit.
    pub unit: Unit,
    /// Highest speed, counts/s; faster commands are clamped to it.
    pub max_speed: u32,
    /// Highest acceleration, counts/s^2; 0 = not told.
    pub max_accel: u32,
    /// Highest jerk, counts/s^3; 0 = not told.
    pub max_jerk: u32,
    /// True if the rig smooths commands by ramps of its own.
    pub own_ramps: bool,
    /// True if the position is known, and so travel is enforced.
    pub referenced: bool,
    /// Counts, now.
    pub position: i32,
    /// 1/1024 count/s, now.
    pub velocity: i32,
}

/// Why a `Hello` or `Setup` was refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Why {
    /// Another protocol version.
    Version,
    /// Not the session of the last accepted hello, or session 0.
    WrongSession,
    /// This session was in force once and has ended: an outdated frame.
    OldSession,
    /// A setup while an axis moves or a stop runs.
    NotAtRest,
    /// A setup with more or fewer axes than the rig has.
    AxisCount,
    /// Travel with low >= high, or wider than half the count range.
    BadTravel,
    /// Acceleration or jerk of a stop set out of range.
    BadRamp,
    /// Watchdog outside 20 to 1000 ms.
    BadWatchdog,
    /// A second, different setup in one session.
    AlreadySet,
    /// Motor power is off.
    PowerOff,
}

/// Bits of [`Telemetry::faults`]. Bits not named here are the rig's own; any set bit stops the rig.
pub mod fault {
    /// A motor drive reports a fault.
    pub const DRIVE: u16 = 1 << 0;
    /// Measured and commanded position disagree.
    pub const FOLLOWING: u16 = 1 << 1;
    /// Too hot.
    pub const TEMPERATURE: u16 = 1 << 2;
    /// Supply voltage too low.
    pub const SUPPLY_LOW: u16 = 1 << 3;
    /// Supply voltage too high.
    pub const SUPPLY_HIGH: u16 = 1 << 4;
}

/// Bits of [`Telemetry::held`]: why velocities are not taken until one frame of all zeros was.
pub mod held {
    /// Frames stopped coming.
    pub const WATCHDOG: u8 = 1 << 0;
    /// The stop input was active.
    pub const STOP_INPUT: u8 = 1 << 1;
    /// A fault was present.
    pub const FAULT: u8 = 1 << 2;
    /// The session was ended by a new hello; gone with the next setup.
    pub const SESSION: u8 = 1 << 3;
}

/// The rig's state, sent periodically.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Telemetry {
    /// The session in force, 0 if none.
    pub session: u32,
    /// The rig's clock when this was made, microseconds, wrapping.
    pub clock_us: u32,
    /// Sequence number of the velocity frame in force, 0 if none in this session.
    pub applied: u32,
    /// Velocity frames taken in this session; 0 if none. The numbers up to `applied` that are not among
    /// them were refused, lost, or never sent. Wraps.
    pub accepted: u32,
    /// In the order of the hello.
    pub axes: PerAxis<AxisTelemetry>,
    /// Motor power is on.
    pub power: bool,
    /// The rig's stop input is active.
    pub stop_input: bool,
    /// Motors carry current.
    pub energised: bool,
    /// Bit i set: the brake of axis i is engaged.
    pub brakes: u8,
    /// Bits of [`fault`].
    pub faults: u16,
    /// Bits of [`held`].
    pub held: u8,
    /// Bit i set: axis i is held below its command by its travel.
    pub at_end: u8,
    /// Bit i set: the position of axis i is known, and so its travel is enforced.
    pub referenced: u8,
    /// Supply in millivolts, if known.
    pub supply_mv: Option<u16>,
    /// Drive temperature in degrees Celsius, if known.
    pub drive_c: Option<i8>,
    /// Frames not acted upon since boot: damaged, outdated, foreign, refused. Wraps.
    pub frames_refused: u32,
}

/// One axis in [`Telemetry`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct AxisTelemetry {
    /// Counts, at the moment `applied` was applied.
    pub at_applied: i32,
    /// Counts, now.
    pub position: i32,
    /// 1/1024 count/s, commanded to the motor now.
    pub velocity: i32,
}
