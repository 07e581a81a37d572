//! A plan as moves of a rig: what fits, and what has to be said where something does not.

use stillhand_acoustics::plan::{Move, Plan};
use stillhand_engine::errand::{Errand, ErrandError, Leg, MOST_LEGS, Purpose, press_for};
use stillhand_engine::operator::{Enable, Hand, Operator};
use stillhand_engine::rig::{Axis, LimitSet, Rig, Travel};
use stillhand_engine::time::Span;
use stillhand_engine::units::{Accel, Jerk, Speed};

/// A move to the start takes no less than this, in s.
const START_S: f64 = 3.0;
/// Between two moves to the start, in s.
const PAUSE_S: f64 = 0.5;
/// Rounding of a plan's figures, to four digits.
const ROUNDING: f64 = 1.001;

/// The moves of a plan, at the plan's own times.
///
/// # Errors
/// In words, what does not fit rig or profile.
pub(super) fn of_plan(plan: &Plan, rig: &Rig, operator: &Operator) -> Result<Errand, String> {
    if plan.rig != rig.id {
        return Err(format!(
            "the plan is for rig \"{}\", this one is \"{}\": make a plan for it",
            plan.rig, rig.id
        ));
    }
    let reaches = plan.reaches();
    for (own, (low, high)) in plan.axes.iter().zip(reaches) {
        let (axis, _) = axis_of(&own.name, rig)?;
        inside(axis, low, high)?;
    }
    let mut legs = Vec::new();
    for step in &plan.steps {
        let Some(m) = step.does.moving() else {
            continue;
        };
        let own = plan.axes.get(m.axis).map_or("", |axis| axis.name.as_str());
        let (axis, place) = axis_of(own, rig)?;
        let hand = hand_of(axis, place, operator)?;
        allowed(axis, hand, m)?;
        legs.push(Leg {
            rig: 0,
            axis: place,
            at: Span::from_secs_f64(step.at),
            drives: Span::from_secs_f64(step.lasts - m.ramp_s()),
            speed: Speed(m.speed),
            plus: m.plus,
            set: LimitSet {
                accel: Accel(m.accel),
                jerk: Jerk(m.jerk),
            },
        });
    }
    let errand = errand(operator, legs)?;
    Ok(errand.by_the_clock_of_the_offer())
}

/// The moves that bring every axis to where the plan begins, none if they stand there.
///
/// # Errors
/// As [`of_plan`].
pub(super) fn to_start(
    plan: &Plan,
    rig: &Rig,
    operator: &Operator,
    places: &[f64],
    near: f64,
) -> Result<Option<Errand>, String> {
    let mut legs = Vec::new();
    let mut at = 0.0;
    for own in &plan.axes {
        let (axis, place) = axis_of(&own.name, rig)?;
        let hand = hand_of(axis, place, operator)?;
        let way = own.start - places.get(usize::from(place)).copied().unwrap_or(own.start);
        if way.abs() <= near {
            continue;
        }
        let set = axis.limits.normal();
        let fastest = fastest(axis, hand);
        let speed = (way.abs() / START_S).min(fastest / 2.0);
        // As much is missing while speed is gained as is added while it is lost.
        let drives = way.abs() / speed;
        legs.push(Leg {
            rig: 0,
            axis: place,
            at: Span::from_secs_f64(at),
            drives: Span::from_secs_f64(drives),
            speed: Speed(speed),
            plus: way > 0.0,
            set,
        });
        at += drives + PAUSE_S;
    }
    if legs.is_empty() {
        return Ok(None);
    }
    errand(operator, legs).map(Some)
}

fn errand(operator: &Operator, legs: Vec<Leg>) -> Result<Errand, String> {
    let press = press(operator)?;
    Errand::new(Purpose::Survey, press, false, legs).map_err(|error| match error {
        ErrandError::Legs(count) => format!(
            "the plan has {count} moves, and 1 to {MOST_LEGS} can be driven at once: make plans of fewer \
             axes or rungs"
        ),
        ErrandError::Number(place)
        | ErrandError::Order(place)
        | ErrandError::TooLong(place)
        | ErrandError::Axis(place) => format!(
            "move {} of the plan is too short for its speed, or before the end of the one ahead of it: \
             let `survey plan` make it anew",
            place + 1
        ),
    })
}

fn press(operator: &Operator) -> Result<Enable, String> {
    press_for(operator).ok_or_else(|| {
        format!(
            "every button of profile \"{}\" does something: name one with `enable`, or free one, so that a \
             held press of it can begin the moves",
            operator.name
        )
    })
}

fn axis_of<'r>(name: &str, rig: &'r Rig) -> Result<(&'r Axis, u8), String> {
    let place = rig.axes.iter().position(|axis| axis.name == name);
    let Some(place) = place else {
        let names: Vec<&str> = rig.axes.iter().map(|axis| axis.name.as_str()).collect();
        return Err(format!(
            "the plan moves {name}; rig \"{}\" has {}",
            rig.id,
            names.join(", ")
        ));
    };
    Ok((&rig.axes[place], place as u8))
}

fn hand_of<'o>(axis: &Axis, place: u8, operator: &'o Operator) -> Result<&'o Hand, String> {
    let hand = operator.hands.iter().find(|hand| hand.axis == place);
    hand.ok_or_else(|| {
        format!(
            "profile \"{}\" does not drive {}: take one that does with --operator, or make the plan with \
             --axis without it",
            operator.name, axis.name
        )
    })
}

/// The fastest this hand may ever go.
fn fastest(axis: &Axis, hand: &Hand) -> f64 {
    let gear = hand.gears.speed(hand.gears.count().saturating_sub(1));
    let own = [hand.ceiling, hand.framing];
    let lowest = own.into_iter().flatten().fold(gear, Speed::lower);
    lowest.lower(axis.speed).0
}

fn allowed(axis: &Axis, hand: &Hand, m: &Move) -> Result<(), String> {
    let (name, unit) = (&axis.name, axis.unit.symbol());
    let fastest = fastest(axis, hand);
    if m.speed > fastest {
        return Err(format!(
            "the plan moves {name} at {} {unit}/s, and it goes no faster than {fastest} {unit}/s: make the \
             plan with --operator and this profile",
            m.speed
        ));
    }
    let normal = axis.limits.normal();
    if m.accel > normal.accel.0 * ROUNDING || m.jerk > normal.jerk.0 * ROUNDING {
        return Err(format!(
            "the plan starts {name} with {} {unit}/s^2 and {} {unit}/s^3, and the rig file's normal set allows \
             {} and {}: make the plan anew with this rig file",
            m.accel, m.jerk, normal.accel.0, normal.jerk.0
        ));
    }
    Ok(())
}

fn inside(axis: &Axis, low: f64, high: f64) -> Result<(), String> {
    let Travel::Finite(ends) = axis.travel else {
        return Ok(());
    };
    if low >= ends.low().0 && high <= ends.high().0 {
        return Ok(());
    }
    let (name, unit) = (&axis.name, axis.unit.symbol());
    Err(format!(
        "the plan takes {name} from {low:.1} to {high:.1} {unit}, and its travel is {} to {} {unit}: make the \
         plan anew with this rig file",
        ends.low().0,
        ends.high().0
    ))
}

#[cfg(test)]
mod tests;
