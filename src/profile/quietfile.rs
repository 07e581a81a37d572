//! A quiet file: the ceilings of quiet of one rig, as measured or as somebody's ear decided.

use super::Source;
use super::defaults::{ACCEL, JERK, MOST_ID, SPEED};
use super::document::{self, Kind};
use super::field::{At, Field};
use super::near::nearest;
use super::problem::{Log, Problem, Problems};
use super::quantity::Quantity;
use super::rawrig::{about, axes};
use super::table::{Table, found};
use std::ops::Range;
use stillhand_engine::operator::Quiet;
use stillhand_engine::rig::{LimitSet, Rig};
use stillhand_engine::units::{Accel, Jerk, Speed, Unit};
use toml::de::DeTable;

/// A quiet file: all of it is valid, but whether the rig has its axes is not known yet.
#[derive(Clone, Debug, PartialEq)]
pub struct QuietFile {
    /// The id of the rig it was measured on.
    pub rig: String,
    /// Free text for people: where and how it was measured.
    pub about: String,
    /// One entry for each axis, in the order of the file.
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
    axis_span: Range<usize>,
    unit_span: Range<usize>,
}

impl QuietFile {
    /// What the file is, in one line: `quiet on rig "hall": pan 2 deg/s, slide 8 mm/s`.
    pub fn summary(&self) -> String {
        let axis = |axis: &QuietAxis| {
            let unit = axis.unit.symbol();
            format!("{} {} {unit}/s", axis.axis, axis.speed.0)
        };
        let axes: Vec<String> = self.axes.iter().map(axis).collect();
        format!("quiet on rig \"{}\": {}", self.rig, axes.join(", "))
    }

    /// The ceilings of an axis by its name.
    pub(super) fn of(&self, axis: &str) -> Quiet {
        let measured = self.axes.iter().find(|own| own.axis == axis);
        measured.map_or(Quiet::NotMeasured, |own| Quiet::Measured {
            speed: own.speed,
            set: own.set,
        })
    }

    /// Holds the file against the rigs.
    ///
    /// # Errors
    ///
    /// That none of them is its rig, or every axis that rig lacks or measures in another unit.
    pub fn fits(&self, rigs: &[Rig]) -> Result<(), Problems> {
        let mut log = Log::new(&self.source);
        match rigs.iter().find(|rig| rig.id == self.rig) {
            Some(rig) => self.axes.iter().for_each(|own| on(own, rig, &mut log)),
            None => {
                let ids: Vec<&str> = rigs.iter().map(|rig| rig.id.as_str()).collect();
                log.push(
                    Problem::at(self.rig_span.clone(), "this was measured on another rig")
                        .found(found(&self.rig))
                        .allowed(format!("the rig that is driven: {}", ids.join(", ")))
                        .mend("name the quiet file of this rig, or measure anew"),
                );
            }
        }
        let good = log.is_empty();
        log.end(good.then_some(()))
    }
}

fn on(own: &QuietAxis, rig: &Rig, log: &mut Log) {
    let names = || rig.axes.iter().map(|axis| axis.name.as_str());
    let Some(there) = rig.axes.iter().find(|axis| axis.name == own.axis) else {
        let all: Vec<&str> = names().collect();
        log.push(
            Problem::at(
                own.axis_span.clone(),
                format!("no axis {} on rig \"{}\"", own.axis, rig.id),
            )
            .found(format!("axis {}", own.axis))
            .allowed(format!("the axes of the rig: {}", all.join(", ")))
            .mend(match nearest(&own.axis, names()) {
                Some(near) => format!("did you mean [axis.{near}]?"),
                None => "take this axis out".to_owned(),
            }),
        );
        return;
    };
    if there.unit != own.unit {
        let (is, ours) = (there.unit.symbol(), own.unit.symbol());
        log.push(
            Problem::at(
                own.unit_span.clone(),
                format!(
                    "axis {} is measured in {is} on rig \"{}\"",
                    own.axis, rig.id
                ),
            )
            .found(format!("a speed in {ours}/s"))
            .allowed(format!("a speed of this axis in {is}/s"))
            .mend(format!("write its ceilings in {is}")),
        );
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

fn read(root: &DeTable, log: &mut Log) -> Option<QuietFile> {
    let (mut top, mut head) = document::open(root, Kind::Quiet, log)?;
    head.need("rig", "the id of a rig".to_owned(), "\"hall\"");
    let rig_fits = |id: &str| (1..=MOST_ID).contains(&id.len());
    let rig = head.text("rig", "the id of a rig", rig_fits, log);
    let about = about(&mut head, log);
    let list: Vec<Option<QuietAxis>> = axes(&mut top, log)
        .into_iter()
        .map(|(name, table)| axis(name, table, log))
        .collect();
    head.end(log);
    top.end(log);
    Some(QuietFile {
        rig: rig.value()?,
        about: about.or(String::new())?,
        axes: list.into_iter().collect::<Option<_>>()?,
        rig_span: rig.span()?,
        source: log.source().clone(),
    })
}

fn axis(name: At<String>, mut table: Table, log: &mut Log) -> Option<QuietAxis> {
    for (key, bound) in [("speed", &SPEED), ("accel", &ACCEL), ("jerk", &JERK)] {
        table.need(
            key,
            bound.text(None),
            &format!("\"{}\"", bound.example(None)),
        );
    }
    let speed = table.quantity("speed", &SPEED, None, log);
    let unit = speed.got().and_then(|at| at.value.axis_unit());
    let accel = table.quantity("accel", &ACCEL, unit, log);
    let jerk = table.quantity("jerk", &JERK, unit, log);
    table.end(log);
    let number = |field: &Field<Quantity>| field.got().map(|at| at.value.number);
    Some(QuietAxis {
        axis: name.value,
        unit: unit?,
        speed: Speed(number(&speed)?),
        set: LimitSet {
            accel: Accel(number(&accel)?),
            jerk: Jerk(number(&jerk)?),
        },
        axis_span: name.span,
        unit_span: speed.span()?,
    })
}
