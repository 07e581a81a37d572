//! What the firmware tells the rig about itself, once and while it runs.

use stillhand_wire::heapless::String;
use stillhand_wire::messages::{MAX_AXIS_NAME, MAX_RIG_ID, PerAxis, Unit};

/// Telemetry period unless the firmware says otherwise, ms: 50 Hz.
pub const DEFAULT_TELEMETRY_MS: u16 = 20;

/// Facts about the rig that do not change while it runs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Config {
    /// Tells this rig from others.
    pub rig_id: String<MAX_RIG_ID>,
    /// Different after every start.
    pub boot_id: u32,
    /// Telemetry period in ms; 0 counts as 1.
    pub telemetry_ms: u16,
    /// How long the drives take until a motor whose current was lowered has its full one again, ms.
    pub rise_ms: u16,
    /// The axes, in the order of every message.
    pub axes: PerAxis<AxisConfig>,
}

/// Facts about one axis; units and meanings as in the wire's `AxisHello`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AxisConfig {
    /// Its name.
    pub name: String<MAX_AXIS_NAME>,
    /// This many counts ...
    pub counts: u32,
    /// ... are this many units.
    pub per_units: u32,
    /// The unit.
    pub unit: Unit,
    /// Highest speed, counts/s; above 2,097,151 the number range is the limit.
    pub max_speed: u32,
    /// Highest acceleration, counts/s^2, only reported; 0 = not told.
    pub max_accel: u32,
    /// Highest jerk, counts/s^3, only reported; 0 = not told.
    pub max_jerk: u32,
    /// The position below is true.
    pub referenced: bool,
    /// Counts at start.
    pub position: i32,
    /// Its motor can hold with a lowered current.
    pub lowers: bool,
}

/// What the rig senses. Set whole, so that nothing is half updated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Inputs {
    /// Motor power is on.
    pub power: bool,
    /// The stop input is active.
    pub stop_input: bool,
    /// Bits of the wire's `fault`; any bit stops the rig.
    pub faults: u16,
    /// Motors carry current.
    pub energised: bool,
    /// Bit i: the brake of axis i is engaged.
    pub brakes: u8,
    /// Supply, millivolts, if measured.
    pub supply_mv: Option<u16>,
    /// Drive temperature, degrees Celsius, if measured.
    pub drive_c: Option<i8>,
}

impl Default for Inputs {
    /// Power on and nothing wrong, nothing measured.
    fn default() -> Self {
        Self {
            power: true,
            stop_input: false,
            faults: 0,
            energised: true,
            brakes: 0,
            supply_mv: None,
            drive_c: None,
        }
    }
}
