//! Whether what a rig says of itself is believed.
//!
//! The rig is at the other end of a cable and may be anything. It is refused where it contradicts
//! its file, obeyed where it is more careful than its file, and never believed blindly.

use super::convert::{Scale, Unwrapped};
use stillhand_engine::MAX_AXES;
use stillhand_engine::input::{AxisReport, LinkLoss, RigReport};
use stillhand_engine::rig::{Axis, Rig};
use stillhand_engine::units::Unit;
use stillhand_wire::messages::{
    self, AxisHello, MAX_ACCEL, MAX_JERK, RigHello, Telemetry, VERSION, Why, held,
};

/// File and rig may differ in counts per unit by this share: a file has a few decimal digits.
const SCALE_TOLERANCE: f64 = 1e-4;

/// Why a rig may not be moved. Carries the numbers, so that the message can name both sides.
#[derive(Clone, Debug, PartialEq)]
pub enum Refusal {
    /// Another protocol version.
    Version {
        /// The rig's.
        told: u8,
    },
    /// Another rig than the file is for.
    Id {
        /// What it calls itself.
        told: messages_id::Id,
    },
    /// More or fewer axes than the file.
    AxisCount {
        /// How many it has.
        told: usize,
    },
    /// The axis at this place has another name.
    AxisName {
        /// Its place, from 0.
        place: usize,
        /// Its name in the rig.
        told: messages_id::Name,
    },
    /// The axis at this place is measured in the other unit.
    AxisUnit(usize),
    /// The axis at this place has another scale.
    Scale {
        /// Its place, from 0.
        place: usize,
        /// Counts per unit as the rig has it.
        told: f64,
    },
    /// The axis at this place tells a highest speed of 0.
    NoSpeed(usize),
    /// The axis at this place has ramps of its own and does not tell their limits.
    OwnRamps(usize),
    /// The rig refused the hello or the setup.
    ByRig(Why),
    /// The rig's echo of the setup differs from what it was sent.
    Echo,
    /// The travel of the file does not fit the rig's counts.
    Travel,
    /// The stop set of the file does not fit the wire.
    StopSet {
        /// The axis's place, from 0.
        place: usize,
        /// Its acceleration, counts/s^2.
        accel: f64,
        /// Its jerk, counts/s^3.
        jerk: f64,
    },
}

/// Bounded text as it came over the wire.
pub mod messages_id {
    use stillhand_wire::heapless::String;
    use stillhand_wire::messages::{MAX_AXIS_NAME, MAX_RIG_ID};
    /// A rig id.
    pub type Id = String<MAX_RIG_ID>;
    /// An axis name.
    pub type Name = String<MAX_AXIS_NAME>;
}

/// What was met: the report for the engine and where the counters stood.
#[derive(Clone, Debug, PartialEq)]
pub struct Accepted {
    /// For the engine.
    pub report: RigReport,
    /// Whether nothing moved.
    pub at_rest: bool,
}

/// Compares a hello with the rig file.
///
/// # Errors
/// The first [`Refusal`] that applies.
pub fn accept(rig: &Rig, hello: &RigHello) -> Result<Accepted, Refusal> {
    if hello.version != VERSION {
        return Err(Refusal::Version {
            told: hello.version,
        });
    }
    if hello.rig_id.as_str() != rig.id {
        return Err(Refusal::Id {
            told: hello.rig_id.clone(),
        });
    }
    if hello.axes.len() != rig.axes.len() {
        return Err(Refusal::AxisCount {
            told: hello.axes.len(),
        });
    }
    let mut report = RigReport {
        axes: [AxisReport::default(); MAX_AXES],
    };
    for (place, (file, told)) in rig.axes.iter().zip(&hello.axes).enumerate() {
        report.axes[place] = accept_axis(place, file, told)?;
    }
    let at_rest = hello.axes.iter().all(|axis| axis.velocity == 0);
    Ok(Accepted { report, at_rest })
}

/// What a telling in a session says against moving the rig, the weightiest reason first.
pub fn trouble(told: &Telemetry, session: u32, axes: usize) -> Option<LinkLoss> {
    // Power that goes ends the rig's session, so it comes before that.
    if !told.power {
        return Some(LinkLoss::PowerOff);
    }
    if let Some(loss) = lasting(told, session, axes) {
        return Some(loss);
    }
    // What a rig held itself for before this session it lets go with the first frame. After that
    // it is news, and all there is to see of something shorter than the time between two tellings.
    if told.applied == 0 {
        return None;
    }
    [
        (held::FAULT, LinkLoss::Fault),
        (held::STOP_INPUT, LinkLoss::StopInput),
        (held::WATCHDOG, LinkLoss::RigStopped),
    ]
    .into_iter()
    .find_map(|(bit, loss)| (told.held & bit != 0).then_some(loss))
}

/// What has to be over before it is worth greeting the rig again.
pub fn lasting(told: &Telemetry, session: u32, axes: usize) -> Option<LinkLoss> {
    if told.session != session {
        Some(LinkLoss::Restarted)
    } else if told.axes.len() != axes {
        Some(LinkLoss::Disagrees)
    } else if told.faults != 0 {
        Some(LinkLoss::Fault)
    } else if told.stop_input {
        Some(LinkLoss::StopInput)
    } else {
        None
    }
}

fn accept_axis(place: usize, file: &Axis, told: &AxisHello) -> Result<AxisReport, Refusal> {
    if told.name.as_str() != file.name {
        return Err(Refusal::AxisName {
            place,
            told: told.name.clone(),
        });
    }
    let same_unit = matches!(
        (told.unit, file.unit),
        (messages::Unit::Deg, Unit::Deg) | (messages::Unit::Mm, Unit::Mm)
    );
    if !same_unit {
        return Err(Refusal::AxisUnit(place));
    }
    // 0 / 0 is no number and fails the comparison, as it should.
    let scale = f64::from(told.counts) / f64::from(told.per_units);
    let close = (scale / file.counts_per_unit - 1.0).abs() <= SCALE_TOLERANCE;
    if !close {
        return Err(Refusal::Scale { place, told: scale });
    }
    if told.max_speed == 0 {
        return Err(Refusal::NoSpeed(place));
    }
    if told.own_ramps && (told.max_accel == 0 || told.max_jerk == 0) {
        return Err(Refusal::OwnRamps(place));
    }
    let limit = |counts: u32| (counts > 0).then(|| f64::from(counts) / file.counts_per_unit);
    Ok(AxisReport {
        position: Scale::of(file).units(Unwrapped::at(told.position).near(told.position)),
        referenced: told.referenced,
        speed: limit(told.max_speed),
        accel: limit(told.max_accel),
        jerk: limit(told.max_jerk),
    })
}

impl Refusal {
    /// The whole message: what, both sides, and how to mend it.
    pub fn explain(&self, rig: &Rig) -> String {
        let name = |place: &usize| rig.axes.get(*place).map_or("?", |a| a.name.as_str());
        match self {
            Refusal::Version { told } => format!(
                "the rig speaks version {told} of the protocol, this daemon version {VERSION}: \
                 bring both to the same version"
            ),
            Refusal::Id { told } => format!(
                "this is rig \"{told}\", the rig file is for \"{}\": plug in the right rig, or start \
                 with its rig file",
                rig.id
            ),
            Refusal::AxisCount { told } => format!(
                "the rig has {told} axes, the rig file {}: correct the [axis.*] tables of the rig file",
                rig.axes.len()
            ),
            Refusal::AxisName { place, told } => format!(
                "axis {} is \"{told}\" in the rig and \"{}\" in the rig file: names and order must \
                 be the rig's",
                place + 1,
                name(place)
            ),
            Refusal::AxisUnit(place) => format!(
                "axis {} is in {} in the rig file and in the other unit in the rig",
                name(place),
                rig.axes.get(*place).map_or("?", |a| a.unit.symbol())
            ),
            Refusal::Scale { place, told } => format!(
                "axis {}: the rig counts {told} per unit, the rig file says {}: one of them is wrong, \
                 and speeds and travel with it",
                name(place),
                rig.axes.get(*place).map_or(0.0, |a| a.counts_per_unit)
            ),
            Refusal::NoSpeed(place) => {
                format!(
                    "axis {}: the rig tells a highest speed of 0, so it can't move",
                    name(place)
                )
            }
            Refusal::OwnRamps(place) => format!(
                "axis {}: the rig has ramps of its own and does not tell their limits, so no stop can \
                 be worked out: switch its ramps off, or let it tell acceleration and jerk",
                name(place)
            ),
            Refusal::ByRig(why) => format!("the rig refused: {why:?}"),
            Refusal::Echo => {
                "the rig did not repeat its travel and stop sets as they were sent, so it can't be \
                 trusted to keep them"
                    .to_owned()
            }
            Refusal::Travel => {
                "the travel in the rig file is outside the rig's range of counts: check travel and \
                 scale"
                    .to_owned()
            }
            Refusal::StopSet { place, accel, jerk } => format!(
                "axis {}: its stop set is {accel:.1} counts/s^2 and {jerk:.1} counts/s^3, the wire \
                 carries 1 to {MAX_ACCEL} and 1 to {MAX_JERK}: mend `stop` or `scale` in the rig file",
                name(place)
            ),
        }
    }
}
