//! What a bench rig is: the rig of a file, or one that differs from it on purpose.

use super::BenchOptions;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;
use stillhand_engine::MAX_AXES;
use stillhand_engine::rig::{Axes, Axis, Rig as RigFacts, Travel};
use stillhand_engine::units::Unit;
use stillhand_rig::{AxisConfig, Config};
use stillhand_wire::heapless;
use stillhand_wire::messages::{self, PerAxis};

/// Counts are told as a fraction over this many units: five digits behind the point.
const PER_UNITS: u32 = 100_000;

/// How long its drives take to bring a lowered current back, in milliseconds: a few periods of the current
/// control, and time for the rotor to settle.
const RISE_MS: u16 = 30;

/// The rig as it is built: the file's, with the differences asked for.
pub(super) fn built(facts: &RigFacts, options: &BenchOptions) -> Result<RigFacts, String> {
    let mut built = facts.clone();
    if let Some(id) = &options.id {
        built.id.clone_from(id);
    }
    let count = options.axes.unwrap_or(facts.axes.len());
    let mut axes: Vec<Axis> = facts.axes.iter().take(count).cloned().collect();
    while axes.len() < count
        && let Some(last) = axes.last()
    {
        let name = format!("extra{}", axes.len() + 1);
        axes.push(Axis {
            name,
            ..last.clone()
        });
    }
    for axis in &mut axes {
        axis.counts_per_unit *= options.scale.unwrap_or(1.0);
    }
    built.axes =
        Axes::new(axes).ok_or_else(|| format!("bench rig: it can have 1 to {MAX_AXES} axes"))?;
    Ok(built)
}

/// Where an axis is switched on: at 0 if that is well inside its travel, else in the middle.
pub(crate) fn start(axis: &Axis, options: &BenchOptions) -> i32 {
    let counts = axis.counts_per_unit * axis.sense.sign();
    match (options.position, axis.travel) {
        (Some(position), _) => position,
        (None, Travel::Continuous) => 0,
        (None, Travel::Finite(ends)) if ends.low().0 < 0.0 && ends.high().0 > 0.0 => 0,
        (None, Travel::Finite(ends)) => ((ends.low().0 + ends.high().0) / 2.0 * counts) as i32,
    }
}

/// What the rig's end says of itself.
pub(crate) fn config(
    facts: &RigFacts,
    boot_id: u32,
    options: &BenchOptions,
) -> Result<Config, String> {
    let text = |s: &str| format!("bench rig: \"{s}\" is too long a name for the wire");
    let mut axes: PerAxis<AxisConfig> = PerAxis::new();
    for axis in facts.axes.iter() {
        axes.push(axis_config(axis, options)?)
            .map_err(|_| text(&axis.name))?;
    }
    let rig_id = heapless::String::try_from(facts.id.as_str()).map_err(|_| text(&facts.id))?;
    let telemetry_ms = stillhand_rig::DEFAULT_TELEMETRY_MS;
    Ok(Config {
        rig_id,
        boot_id,
        telemetry_ms,
        rise_ms: RISE_MS,
        axes,
    })
}

fn axis_config(axis: &Axis, options: &BenchOptions) -> Result<AxisConfig, String> {
    // A coarse scale keeps its digits; a very fine one has enough of them before the point.
    let per_units = if axis.counts_per_unit < 40_000.0 {
        PER_UNITS
    } else {
        100
    };
    let share = options.limits.unwrap_or(1.0);
    let told = |x: f64| (x * axis.counts_per_unit * share).ceil() as u32;
    let stop = axis.limits.stop(1.0).softer(axis.limits.stop(-1.0));
    // Without the option the rig tells no limits but its speed, as most do.
    let limit = |x: f64| options.limits.map_or(0, |_| told(x).max(1));
    Ok(AxisConfig {
        name: heapless::String::try_from(axis.name.as_str())
            .map_err(|_| format!("bench rig: \"{}\" is too long a name", axis.name))?,
        counts: (axis.counts_per_unit * f64::from(per_units)).round() as u32,
        per_units,
        unit: match axis.unit {
            Unit::Deg => messages::Unit::Deg,
            Unit::Mm => messages::Unit::Mm,
        },
        max_speed: told(axis.speed.0),
        max_accel: limit(stop.accel.0),
        max_jerk: limit(stop.jerk.0),
        referenced: !options.unreferenced,
        position: start(axis, options),
        lowers: !options.full_current,
    })
}

/// Begins the file for the true state.
pub(super) fn state_file(path: &Path, facts: &RigFacts) -> Result<BufWriter<File>, String> {
    let failed = |e: std::io::Error| format!("bench rig: can't write {}: {e}", path.display());
    let mut file = BufWriter::new(File::create(path).map_err(failed)?);
    write!(file, "monotonic_us").map_err(failed)?;
    for axis in facts.axes.iter() {
        write!(file, ",{0}_counts,{0}_counts_per_s", axis.name).map_err(failed)?;
    }
    writeln!(file).map_err(failed)?;
    Ok(file)
}
