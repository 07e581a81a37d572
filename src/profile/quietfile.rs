//! A quiet file: how fast and how hard each axis of one rig may move unheard.

use super::Source;
use super::avoid::{self, Avoid};
use super::defaults::{ACCEL, JERK, MOST_ID, SPEED};
use super::document::{self, Kind};
use super::field::{At, Field};
use super::near::{either, nearest};
use super::problem::{Log, Problem, Problems};
use super::quantity::Quantity;
use super::rawrig::{about, axes};
use super::rigfile::RigFile;
use super::table::{Table, found};
use std::ops::Range;
use stillhand_engine::operator::Quiet;
use stillhand_engine::rig::LimitSet;
use stillhand_engine::units::{Accel, Jerk, Speed, Unit};
use toml::de::DeTable;

/// The ceilings of quiet for one rig.
#[derive(Clone, Debug, PartialEq)]
pub struct QuietFile {
    /// The id of the rig they hold for.
    pub rig: String,
    /// Free text for people.
    pub about: String,
    /// One entry for each axis that was measured.
    pub axes: Vec<QuietAxis>,
    rig_span: Range<usize>,
    source: Source,
}

/// The ceilings of quiet for one axis.
#[derive(Clone, Debug, PartialEq)]
pub struct QuietAxis {
    /// The name of the axis.
    pub axis: String,
    /// Degrees or millimetres, as its speed is written.
    pub unit: Unit,
    /// Highest speed.
    pub speed: Speed,
    /// Highest acceleration and jerk.
    pub set: LimitSet,
    /// Bands of speed at which it sings, as the file has them.
    pub avoid: Avoid,
    axis_span: Range<usize>,
    speed_span: Range<usize>,
}

/// The ceilings of quiet for an axis of a rig, by its place and the rig's.
pub(super) struct Measured {
    pub(super) rig: usize,
    pub(super) axis: usize,
    pub(super) quiet: Quiet,
}

struct RawAxis {
    axis: At<String>,
    speed: Field<Quantity>,
    accel: Field<Quantity>,
    jerk: Field<Quantity>,
    avoid: Field<Avoid>,
}

impl QuietFile {
    /// What the file is, in one line: `quiet on rig "bench": pan 2 deg/s, slide 9 mm/s`.
    pub fn summary(&self) -> String {
        let axis = |a: &QuietAxis| format!("{} {} {}/s", a.axis, a.speed.0, a.unit.symbol());
        let axes: Vec<String> = self.axes.iter().map(axis).collect();
        format!("quiet on rig \"{}\": {}", self.rig, axes.join(", "))
    }

    /// Holds its rig and axes against the rigs there are.
    ///
    /// # Errors
    ///
    /// That its rig is not among them; every axis that the rig has not, or in another unit; every band in
    /// steps that comes to none on the motor the rig file tells of.
    pub fn fits(&self, rigs: &[RigFile]) -> Result<(), Problems> {
        self.on(rigs).map(drop)
    }

    /// The ceilings it comes to on its rig.
    ///
    /// # Errors
    ///
    /// As [`QuietFile::fits`].
    pub(super) fn on(&self, rigs: &[RigFile]) -> Result<Vec<Measured>, Problems> {
        let mut log = Log::new(&self.source);
        let Some(place) = rigs.iter().position(|file| file.rig.id == self.rig) else {
            log.push(
                Problem::at(self.rig_span.clone(), "this was measured on another rig")
                    .found(found(&self.rig))
                    .allowed(format!(
                        "the id of a rig given: {}",
                        either(rigs.iter().map(|file| file.rig.id.as_str()))
                    ))
                    .mend("measure this rig, or name its own quiet file in the profile"),
            );
            return log.end(None);
        };
        // Each axis tells its problems.
        let axes: Vec<Option<Measured>> = self
            .axes
            .iter()
            .map(|axis| axis.on(place, &rigs[place], &mut log))
            .collect();
        log.end(axes.into_iter().collect())
    }
}

impl QuietAxis {
    fn on(&self, place: usize, file: &RigFile, log: &mut Log) -> Option<Measured> {
        let rig = &file.rig;
        let names = || rig.axes.iter().map(|axis| axis.name.as_str());
        let Some(axis) = names().position(|name| name == self.axis) else {
            let mend = match nearest(&self.axis, names()) {
                Some(near) => format!("did you mean [axis.{near}]?"),
                None => "take this axis out".to_owned(),
            };
            log.push(
                Problem::at(
                    self.axis_span.clone(),
                    format!("no axis {} on rig \"{}\"", self.axis, rig.id),
                )
                .found(format!("axis {}", self.axis))
                .allowed(format!("the axes of the rig: {}", either(names())))
                .mend(mend),
            );
            return None;
        };
        let there = &rig.axes[axis];
        if there.unit != self.unit {
            let (is, ours) = (there.unit.symbol(), self.unit.symbol());
            log.push(
                Problem::at(
                    self.speed_span.clone(),
                    format!(
                        "axis {} is measured in {is} on rig \"{}\"",
                        self.axis, rig.id
                    ),
                )
                .found(format!("a speed in {ours}/s"))
                .allowed(format!("figures of this axis in {is}"))
                .mend("write the figures that were measured on this rig"),
            );
            return None;
        }
        let drive = file.drives.get(axis).copied().flatten();
        Some(Measured {
            rig: place,
            axis,
            quiet: Quiet::Measured {
                speed: self.speed,
                set: self.set,
                bands: self.avoid.on(there, drive, &rig.id, log)?,
            },
        })
    }
}

/// Reads a quiet file.
///
/// # Errors
///
/// Every problem of the file, in its order.
pub fn load_quiet(source: &Source) -> Result<QuietFile, Problems> {
    let mut log = Log::new(source);
    let file = document::parse(source, &mut log).and_then(|root| read(root.get_ref(), &mut log));
    log.end(file)
}

pub(super) fn read(root: &DeTable, log: &mut Log) -> Option<QuietFile> {
    let (mut top, mut head) = document::open(root, Kind::Quiet, log)?;
    let rig_fits = |id: &str| (1..=MOST_ID).contains(&id.len());
    head.need(
        "rig",
        "the id of the rig that was measured".to_owned(),
        "\"bench\"",
    );
    let rig = head.text("rig", "the id of the rig that was measured", rig_fits, log);
    let about = about(&mut head, log);
    let axes: Vec<RawAxis> = axes(&mut top, log)
        .into_iter()
        .map(|(name, table)| axis(name, table, log))
        .collect();
    head.end(log);
    top.end(log);
    Some(QuietFile {
        rig: rig.value()?,
        about: about.or(String::new())?,
        axes: axes.iter().map(valid).collect::<Option<_>>()?,
        rig_span: rig.span()?,
        source: log.source().clone(),
    })
}

fn axis(axis: At<String>, mut table: Table, log: &mut Log) -> RawAxis {
    let speed = table.quantity("speed", &SPEED, None, log);
    // The others are held against the unit the speed gives the axis.
    let unit = speed.got().and_then(|at| at.value.axis_unit());
    for (key, bound) in [("speed", &SPEED), ("accel", &ACCEL), ("jerk", &JERK)] {
        table.need(
            key,
            bound.text(unit),
            &format!("\"{}\"", bound.example(unit)),
        );
    }
    let raw = RawAxis {
        axis,
        speed,
        accel: table.quantity("accel", &ACCEL, unit, log),
        jerk: table.quantity("jerk", &JERK, unit, log),
        avoid: avoid::read(&mut table, unit, log),
    };
    table.end(log);
    raw
}

fn valid(raw: &RawAxis) -> Option<QuietAxis> {
    let speed = raw.speed.got()?;
    Some(QuietAxis {
        axis: raw.axis.value.clone(),
        unit: speed.value.axis_unit()?,
        speed: Speed(speed.value.number),
        set: LimitSet {
            accel: Accel(raw.accel.got()?.value.number),
            jerk: Jerk(raw.jerk.got()?.value.number),
        },
        avoid: raw.avoid.or(Avoid::default())?,
        axis_span: raw.axis.span.clone(),
        speed_span: speed.span.clone(),
    })
}
