//! How the two directions of each stick go together.

use super::defaults::{WEDGE, WEDGE_DEFAULT};
use super::field::{At, Field};
use super::problem::{Log, Problem};
use super::quantity::Quantity;
use super::table::Table;
use stillhand_engine::feel::{Curve, Throw};
use stillhand_engine::input::Control;
use stillhand_engine::operator::{StickShape, Sticks};
use stillhand_engine::units::Unit;

/// The words for the shapes of a stick.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Shape {
    Axial,
    Radial,
}

pub(super) struct RawSticks {
    pub(super) left: RawStick,
    pub(super) right: RawStick,
    common: Field<bool>,
}

pub(super) struct RawStick {
    shape: Field<Shape>,
    wedge: Field<Quantity>,
}

pub(super) fn read(head: &mut Table, log: &mut Log) -> RawSticks {
    let (left, right) = wedges(head, log);
    let mut stick = |key, wedge| {
        let words = [("axial", Shape::Axial), ("radial", Shape::Radial)];
        RawStick {
            shape: head.word(key, &words, log),
            wedge,
        }
    };
    RawSticks {
        left: stick("left_stick", left),
        right: stick("right_stick", right),
        common: head.flag("common_speed", log),
    }
}

fn wedges(head: &mut Table, log: &mut Log) -> (Field<Quantity>, Field<Quantity>) {
    let mut sides = match head.table("wedge", "{ left = \"8 deg\", right = \"8 deg\" }", log) {
        Field::Absent => return (Field::Absent, Field::Absent),
        Field::Bad => return (Field::Bad, Field::Bad),
        Field::Got(at) => at.value,
    };
    let left = sides.quantity("left", &WEDGE, Some(Unit::Deg), log);
    let right = sides.quantity("right", &WEDGE, Some(Unit::Deg), log);
    sides.end(log);
    (left, right)
}

impl RawSticks {
    /// Shapes whose wedges and common speed fit them.
    pub(super) fn valid(&self, log: &mut Log) -> Option<Sticks> {
        let radial = |stick: &RawStick| stick.shape.value() == Some(Shape::Radial);
        if let Some(common) = self.common.got().filter(|at| at.value)
            && !radial(&self.left)
            && !radial(&self.right)
        {
            log.push(
                Problem::at(common.span.clone(), "`common_speed` is for a radial stick")
                    .found("two axial ones")
                    .allowed("common_speed where left_stick or right_stick is \"radial\"")
                    .mend("add `right_stick = \"radial\"`, or take it out"),
            );
        }
        let common = self.common.or(false)?;
        let left = self.left.valid("left", common, log);
        let right = self.right.valid("right", common, log);
        Some(Sticks {
            left: left?,
            right: right?,
        })
    }
}

impl RawStick {
    fn valid(&self, side: &str, common: bool, log: &mut Log) -> Option<StickShape> {
        if let (Some(shape), Some(wedge)) = (self.shape.got(), self.wedge.got())
            && shape.value == Shape::Radial
        {
            log.push(
                Problem::at(
                    wedge.span.clone(),
                    format!("the radial {side} stick has a wedge"),
                )
                .found(format!("\"{}\"", wedge.value.text()))
                .also(shape.span.clone(), "radial")
                .allowed("a wedge for an axial stick: a radial one keeps every direction")
                .mend(format!(
                    "take `{side}` out of the wedge, or write {side}_stick = \"axial\""
                )),
            );
            return None;
        }
        match self.shape.or(Shape::Axial)? {
            Shape::Radial => Some(StickShape::Radial { common }),
            Shape::Axial => {
                let deg = match &self.wedge {
                    Field::Absent => WEDGE_DEFAULT,
                    given => given.got()?.value.number,
                };
                Some(StickShape::Axial {
                    wedge_tan: tan(deg),
                })
            }
        }
    }
}

/// The engine's results must not depend on the C library, so neither may what goes into it.
fn tan(deg: f64) -> f64 {
    libm::tan(deg.to_radians())
}

/// A direction of a stick and the feel of the axis it drives.
pub(super) struct Direction<'a> {
    pub(super) control: Control,
    pub(super) axis: &'a At<String>,
    pub(super) feel: (Throw, Curve),
}

/// A radial stick has one deadband and one curve for both its directions: they are laid over how
/// far it is pushed.
pub(super) fn same_feel(sticks: &Sticks, directions: &[Direction], log: &mut Log) {
    for (index, one) in directions.iter().enumerate() {
        if !matches!(sticks.shape(one.control), Some(StickShape::Radial { .. })) {
            continue;
        }
        let fellow = |other: &&Direction| {
            other.control.other_direction() == Some(one.control) && other.feel != one.feel
        };
        if let Some(other) = directions[..index].iter().find(fellow) {
            let (this, that) = (&one.axis.value, &other.axis.value);
            log.push(
                Problem::at(
                    one.axis.span.clone(),
                    format!("{this} and {that} feel different on a radial stick"),
                )
                .found(format!("another throw or curve than {that}"))
                .also(other.axis.span.clone(), "this one")
                .allowed("the same deadband, saturation, curve and half on both directions")
                .mend("make them the same, or the stick axial"),
            );
        }
    }
}
