//! A rig file whose values fit each other: the engine's rig, and how to reach it.

use super::defaults::{
    BAUD_DEFAULT, FRAME_PERIOD_DEFAULT, MOUNT_DEFAULT, REACH_DEFAULT, STOP_COUNTS_LEAST,
    WATCHDOG_DEFAULT,
};
use super::drive::{self, Drive};
use super::field::{At, Field};
use super::problem::{Log, Problem, Problems};
use super::quantity::Quantity;
use super::rawrig::{self, RawAxis, RawRig, RawSet, RawStop, RawTravel};
use super::{Source, document};
use std::ops::Range;
use std::path::PathBuf;
use stillhand_engine::rig::{
    Axes, Axis, Ends, LimitSet, Limits, Mount, Picture, Rig, Sense, Travel,
};
use stillhand_engine::time::Span;
use stillhand_engine::units::{Accel, Jerk, Pos, Speed, Unit};

/// A rig file: hardware truth and how to reach it.
#[derive(Clone, Debug, PartialEq)]
pub struct RigFile {
    /// What the engine needs to know. `frame_period` is the usual 4 ms: the link knows the size
    /// of a frame and lengthens it for a slow line.
    pub rig: Rig,
    /// Where the rig is.
    pub port: PortSpec,
    /// Bits per second of the line, 9,600 to 4,000,000.
    pub baud: u32,
    /// Free text for people.
    pub about: String,
    /// The motor behind each axis, where the file tells.
    pub drives: Vec<Option<Drive>>,
    /// What each axis does to the picture.
    pub pictures: Vec<Picture>,
}

/// Where a rig is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PortSpec {
    /// The built-in simulated rig.
    Sim,
    /// The absolute path of a serial device.
    Path(PathBuf),
}

impl std::fmt::Display for PortSpec {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            PortSpec::Sim => f.write_str("sim"),
            PortSpec::Path(path) => write!(f, "{}", path.display()),
        }
    }
}

impl RigFile {
    /// What the file is, in one line: `rig "bench" on sim: pan -170..170 deg, slide 0..1200 mm`.
    pub fn summary(&self) -> String {
        let axis = |axis: &Axis| {
            let unit = axis.unit.symbol();
            match axis.travel {
                Travel::Continuous => format!("{} continuous", axis.name),
                Travel::Finite(ends) => {
                    format!("{} {}..{} {unit}", axis.name, ends.low().0, ends.high().0)
                }
            }
        };
        let axes: Vec<String> = self.rig.axes.iter().map(axis).collect();
        format!(
            "rig \"{}\" on {}: {}",
            self.rig.id,
            self.port,
            axes.join(", ")
        )
    }
}

/// Reads a rig file.
///
/// # Errors
///
/// Every problem of the file, in its order.
pub fn load_rig(source: &Source) -> Result<RigFile, Problems> {
    let mut log = Log::new(source);
    let file = document::parse(source, &mut log)
        .and_then(|root| rawrig::read(root.get_ref(), &mut log))
        .and_then(|raw| valid(&raw, &mut log));
    log.end(file)
}

fn valid(raw: &RawRig, log: &mut Log) -> Option<RigFile> {
    let mount = raw.mount.or(MOUNT_DEFAULT);
    let axes: Vec<Option<ValidAxis>> = raw
        .axes
        .iter()
        .map(|axis| valid_axis(axis, mount, log))
        .collect();
    let axes: Vec<ValidAxis> = axes.into_iter().collect::<Option<_>>()?;
    let pictures = axes.iter().map(|(_, _, picture)| *picture).collect();
    let (axes, drives) = axes
        .into_iter()
        .map(|(axis, drive, _)| (axis, drive))
        .unzip();
    let watchdog = match &raw.watchdog {
        Field::Absent => Some(millis(WATCHDOG_DEFAULT)),
        given => given.got().map(|at| millis(at.value.plain())),
    };
    Some(RigFile {
        rig: Rig {
            id: raw.id.value()?,
            axes: Axes::new(axes)?,
            delay: millis(raw.delay.got()?.value.plain()),
            frame_period: Span::from_millis(FRAME_PERIOD_DEFAULT),
            watchdog: watchdog?,
        },
        port: match raw.port.value()?.as_str() {
            "sim" => PortSpec::Sim,
            path => PortSpec::Path(PathBuf::from(path)),
        },
        baud: u32::try_from(raw.baud.or(i64::from(BAUD_DEFAULT))?).ok()?,
        about: raw.about.or(String::new())?,
        drives,
        pictures,
    })
}

/// A time given in ms, to the nearest nanosecond.
pub(super) fn millis(ms: f64) -> Span {
    // A float cast saturates, and the bounds of all times lie far inside.
    Span((ms * 1e6).round() as u64)
}

/// An axis, its motor, and what it does to the picture.
type ValidAxis = (Axis, Option<Drive>, Picture);

fn valid_axis(raw: &RawAxis, mount: Option<Mount>, log: &mut Log) -> Option<ValidAxis> {
    let name = &raw.name.value;
    let unit = raw.scale.got().and_then(|at| at.value.axis_unit());
    let picture = match &raw.turns {
        Field::Absent => Some(match name.as_str() {
            "pan" => Picture::Pan,
            "tilt" => Picture::Tilt,
            _ => Picture::Other,
        }),
        given => given.value(),
    };
    if let (Some(Picture::Pan | Picture::Tilt), Some(Unit::Mm), Some(scale)) =
        (picture, unit, raw.scale.got())
    {
        log.push(turning_in_mm(name, raw, scale));
    }
    // Each of these reports what it finds; none may keep another from being looked at.
    let travel = raw
        .travel
        .got()
        .and_then(|at| valid_travel(name, at, &raw.scale, log));
    let limits = valid_limits(name, raw, log);
    let reach = valid_reach(name, raw, unit, log);
    let drive = drive::valid(name, &raw.drive, unit, log);
    let lower = valid_lower_current(name, raw, log);
    let wired = match raw.reverse.or(false)? {
        true => Sense::Opposite,
        false => Sense::Same,
    };
    let axis = Axis {
        name: name.clone(),
        unit: unit?,
        counts_per_unit: raw.scale.got()?.value.number,
        sense: mount?.sense(picture?).then(wired),
        travel: travel?,
        speed: Speed(raw.speed.got()?.value.number),
        limits: limits?,
        reach_mm: reach?,
        needs_enable: raw.enable.or(false)?,
        may_lower_current: lower?,
    };
    Some((axis, drive?, picture?))
}

/// The reach of an axis that turns; one that travels is as fast everywhere.
fn valid_reach(name: &str, raw: &RawAxis, unit: Option<Unit>, log: &mut Log) -> Option<f64> {
    let at = match &raw.reach {
        Field::Absent => return Some(REACH_DEFAULT),
        given => given.got()?,
    };
    if unit == Some(Unit::Mm) {
        log.push(
            Problem::at(
                at.span.clone(),
                format!("axis {name} does not turn and has a `reach`"),
            )
            .found(format!("\"{}\"", at.value.text()))
            .allowed("a reach for an axis in deg: what travels is as fast at every place")
            .mend("take it out"),
        );
        return None;
    }
    Some(at.value.number)
}

/// Whether its motor may hold with less current: not where its stop set tells that a weight pulls at it.
fn valid_lower_current(name: &str, raw: &RawAxis, log: &mut Log) -> Option<bool> {
    let lower = raw.lower_current.or(false)?;
    let (true, Some(at), Some(stop)) = (lower, raw.lower_current.got(), raw.stop.got()) else {
        return Some(lower);
    };
    let RawStop::Each { .. } = stop.value else {
        return Some(lower);
    };
    log.push(
        Problem::at(
            at.span.clone(),
            format!("`lower_current` of axis {name} goes with no `stop` for each direction"),
        )
        .found("true")
        .also(stop.span.clone(), "a weight helps one way and hinders the other")
        .allowed("an axis that nothing pulls at: its motor alone holds it, and with less current it could sink")
        .mend("take `lower_current` out; or, if nothing pulls at it, write one stop set"),
    );
    None
}

fn turning_in_mm(name: &str, raw: &RawAxis, scale: &At<Quantity>) -> Problem {
    let problem = Problem::at(
        scale.span.clone(),
        format!("axis {name} turns the picture but is measured in mm"),
    );
    let problem = match raw.turns.span() {
        Some(span) => problem.also(span, "said here"),
        None => problem.also(raw.name.span.clone(), "said by its name"),
    };
    problem
        .found(format!("\"{}\"", scale.value.text()))
        .allowed("counts/deg for an axis that pans or tilts the picture")
        .mend("write counts/deg, or add `turns = \"other\"`")
}

fn valid_travel(
    name: &str,
    travel: &At<RawTravel>,
    scale: &Field<Quantity>,
    log: &mut Log,
) -> Option<Travel> {
    let scale = &scale.got()?.value;
    let label = format!("`travel` of axis {name}");
    let (low, high) = match &travel.value {
        RawTravel::Continuous if scale.axis_unit() == Some(Unit::Mm) => {
            log.push(
                Problem::at(travel.span.clone(), format!("{label} can't be continuous"))
                    .found("\"continuous\" on an axis in mm")
                    .allowed("two ends for an axis in mm; only what turns can go round and round")
                    .mend("write both ends, as in [\"0 mm\", \"1200 mm\"]"),
            );
            return None;
        }
        RawTravel::Continuous => return Some(Travel::Continuous),
        RawTravel::Ends(low, high) => (low.number, high.number),
    };
    let Some(ends) = Ends::new(Pos(low), Pos(high)) else {
        log.push(
            Problem::at(travel.span.clone(), format!("{label} runs backwards"))
                .found(format!("{low} before {high}"))
                .allowed("the low end first, then a higher one")
                .mend(
                    "swap the two, or mend the one that is wrong; `reverse` turns the axis round",
                ),
        );
        return None;
    };
    let most = f64::from(i32::MAX) / scale.number;
    if low < -most || high > most {
        let unit = scale.axis_unit().map_or("", Unit::symbol);
        log.push(
            Problem::at(
                travel.span.clone(),
                format!("{label} is more than the rig can count"),
            )
            .found(format!("{low} to {high} {unit} at {}", scale.text()))
            .allowed(format!(
                "at most {} {unit} either way, which is 2147483647 counts",
                most.floor()
            ))
            .mend("bring the ends nearer to 0, or count coarser"),
        );
        return None;
    }
    Some(Travel::Finite(ends))
}

fn valid_limits(name: &str, raw: &RawAxis, log: &mut Log) -> Option<Limits> {
    let normal = &raw.normal.got()?.value;
    let (plus, minus) = match &raw.stop.got()?.value {
        RawStop::Both(set) => {
            let label = format!("`stop` of axis {name}");
            not_softer(&label, set, normal, log);
            not_too_coarse(&label, set, &raw.scale, log);
            (set, set)
        }
        RawStop::Each { plus, minus } => {
            let sides = [("plus", plus), ("minus", minus)];
            for (side, set) in sides
                .iter()
                .filter_map(|(side, set)| Some((side, set.got()?)))
            {
                let label = format!("`{side}` in `stop` of axis {name}");
                not_softer(&label, &set.value, normal, log);
                not_too_coarse(&label, &set.value, &raw.scale, log);
            }
            (&plus.got()?.value, &minus.got()?.value)
        }
    };
    Limits::new(limit_set(normal)?, limit_set(plus)?, limit_set(minus)?)
}

fn limit_set(raw: &RawSet) -> Option<LimitSet> {
    Some(LimitSet {
        accel: Accel(raw.accel.got()?.value.number),
        jerk: Jerk(raw.jerk.got()?.value.number),
    })
}

/// Reports each number of a stop set that is below its fellow in the normal set.
fn not_softer(label: &str, stop: &RawSet, normal: &RawSet, log: &mut Log) {
    let pairs = [
        ("accel", &stop.accel, &normal.accel),
        ("jerk", &stop.jerk, &normal.jerk),
    ];
    for (key, stop, normal) in pairs {
        let (Some(stop), Some(normal)) = (stop.got(), normal.got()) else {
            continue;
        };
        if stop.value.number < normal.value.number {
            log.push(softer(
                &format!("`{key}` in {label}"),
                stop,
                normal.span.clone(),
                &normal.value,
            ));
        }
    }
}

/// Reports each number of a stop set that whole counts on the line would change too much.
fn not_too_coarse(label: &str, stop: &RawSet, scale: &Field<Quantity>, log: &mut Log) {
    let Some(scale) = scale.got() else { return };
    for (key, part, of_time) in [("accel", &stop.accel, "s^2"), ("jerk", &stop.jerk, "s^3")] {
        let Some(part) = part.got() else { continue };
        let counts = part.value.number * scale.value.number;
        if counts < STOP_COUNTS_LEAST {
            let problem = Problem::at(
                part.span.clone(),
                format!("`{key}` in {label} is too little for the counts of the axis"),
            )
            .found(format!("\"{}\", which is {counts:.1} counts/{of_time}", part.value.text()))
            .also(scale.span.clone(), "the counts")
            .allowed(format!(
                "{STOP_COUNTS_LEAST} counts/{of_time} or more: the line says whole ones, and the rig would \
                 stop otherwise than it is told here"
            ))
            .mend("count finer, or write a harder stop that the rig can make");
            log.push(problem);
        }
    }
}

fn softer(label: &str, stop: &At<Quantity>, place: Range<usize>, normal: &Quantity) -> Problem {
    let least = normal.text();
    Problem::at(
        stop.span.clone(),
        format!("{label} is softer than the normal set"),
    )
    .found(format!("\"{}\"", stop.value.text()))
    .also(place, "the normal one")
    .allowed(format!(
        "{least} or more: a stop is never softer than ordinary braking"
    ))
    .mend(format!(
        "write \"{least}\" or more, or lower the normal set"
    ))
}
