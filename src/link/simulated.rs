//! What a simulated rig says of itself, made from a rig file.

use stillhand_engine::rig::{Axis, Rig as RigFacts, Travel};
use stillhand_engine::units::Unit;
use stillhand_rig::{AxisConfig, Config};
use stillhand_wire::heapless;
use stillhand_wire::messages::{self, PerAxis};

/// Where an axis is switched on: at 0 if that is well inside its travel, else in the middle.
pub fn start(axis: &Axis) -> i32 {
    let counts = axis.counts_per_unit * axis.sense.sign();
    match axis.travel {
        Travel::Continuous => 0,
        Travel::Finite(ends) if ends.low().0 < 0.0 && ends.high().0 > 0.0 => 0,
        Travel::Finite(ends) => ((ends.low().0 + ends.high().0) / 2.0 * counts) as i32,
    }
}

/// Counts are told as a fraction over this many units: five digits behind the point.
const PER_UNITS: u32 = 100_000;

/// The firmware's facts for the rig of a file.
///
/// # Errors
/// In words, if a name is too long for the wire.
pub fn config(facts: &RigFacts, boot_id: u32, unreferenced: bool) -> Result<Config, String> {
    let text = |s: &str| format!("bench rig: \"{s}\" is too long a name for the wire");
    let mut axes: PerAxis<AxisConfig> = PerAxis::new();
    for axis in facts.axes.iter() {
        // A coarse scale keeps its digits; a very fine one has enough of them before the point.
        let per_units = if axis.counts_per_unit < 40_000.0 {
            PER_UNITS
        } else {
            100
        };
        let config = AxisConfig {
            name: heapless::String::try_from(axis.name.as_str()).map_err(|_| text(&axis.name))?,
            counts: (axis.counts_per_unit * f64::from(per_units)).round() as u32,
            per_units,
            unit: match axis.unit {
                Unit::Deg => messages::Unit::Deg,
                Unit::Mm => messages::Unit::Mm,
            },
            max_speed: (axis.speed.0 * axis.counts_per_unit).ceil() as u32,
            max_accel: 0,
            max_jerk: 0,
            referenced: !unreferenced,
            position: start(axis),
        };
        axes.push(config).map_err(|_| text(&axis.name))?;
    }
    let rig_id = heapless::String::try_from(facts.id.as_str()).map_err(|_| text(&facts.id))?;
    let telemetry_ms = stillhand_rig::DEFAULT_TELEMETRY_MS;
    Ok(Config {
        rig_id,
        boot_id,
        telemetry_ms,
        axes,
    })
}
