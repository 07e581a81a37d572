//! Slow moves of one axis at a time, as the direction test and the daily check ask for them.

use super::job::Desk;
use stillhand_engine::errand::{Errand, Leg, Purpose, press_for};
use stillhand_engine::operator::Operator;
use stillhand_engine::output::AxisStatus;
use stillhand_engine::rig::{Axis, LimitSet, Travel};
use stillhand_engine::time::Span;
use stillhand_engine::units::{Accel, Jerk, Speed};

/// A move of one axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Move {
    /// The axis's place in the rig file.
    pub(super) axis: usize,
    /// Whether the position grows.
    pub(super) plus: bool,
    /// In unit/s, above 0.
    pub(super) speed: f64,
    /// For how long that speed is asked for, in s.
    pub(super) drives_s: f64,
}

/// Offers a move that goes on for as long as its press is held.
///
/// # Errors
/// In words, why it can't be.
pub(super) fn offer(desk: &mut Desk<'_>, purpose: Purpose, wanted: Move) -> Result<(), String> {
    let axis = &desk.rig.axes[wanted.axis];
    let set = set(axis, wanted.speed);
    let leg = Leg {
        rig: 0,
        axis: wanted.axis as u8,
        at: Span::ZERO,
        drives: Span::from_secs_f64(wanted.drives_s),
        speed: Speed(wanted.speed),
        plus: wanted.plus,
        set,
    };
    let press = press_for(desk.operator).ok_or_else(|| no_press(desk.operator))?;
    let errand = Errand::new(purpose, press, true, vec![leg])
        .map_err(|error| format!("{}: {error:?}", axis.name))?;
    desk.offering.offer(errand);
    Ok(())
}

/// Gently: the speed is there after half a second, if the axis may be so quick.
pub(super) fn set(axis: &Axis, speed: f64) -> LimitSet {
    let normal = axis.limits.normal();
    LimitSet {
        accel: Accel(normal.accel.0.min(4.0 * speed)),
        jerk: Jerk(normal.jerk.0.min(16.0 * speed)),
    }
}

/// The way to its low and to its high end; `None` where there is none or nobody knows.
pub(super) fn room(axis: &Axis, status: &AxisStatus) -> Option<[f64; 2]> {
    match axis.travel {
        Travel::Finite(ends) if status.referenced => Some([
            (status.position - ends.low().0).max(0.0),
            (ends.high().0 - status.position).max(0.0),
        ]),
        Travel::Finite(_) | Travel::Continuous => None,
    }
}

/// What is said where a profile has no press to begin a move by.
pub(super) fn no_press(operator: &Operator) -> String {
    format!(
        "every button of profile \"{}\" does something: name one with `enable`, or free one",
        operator.name
    )
}

/// What is said where a profile does not drive an axis.
pub(super) fn not_driven(operator: &Operator, axis: &Axis) -> String {
    format!(
        "profile \"{}\" does not drive {}: take one that does with --operator, or name others with --axis",
        operator.name, axis.name
    )
}

/// Whether a profile drives an axis.
pub(super) fn drives(operator: &Operator, axis: usize) -> bool {
    operator
        .hands
        .iter()
        .any(|hand| usize::from(hand.axis) == axis)
}
