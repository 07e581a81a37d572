//! `drive`: the motor behind an axis, as far as its steps are concerned. It is there for the figures that
//! `check` prints and for bands to avoid that are written in steps; nothing moves by it.

use super::defaults::{GEARING, LEAD, MICROSTEPS, STEPS};
use super::field::Field;
use super::problem::{Log, Problem};
use super::quantity::Quantity;
use super::table::Table;
use stillhand_engine::units::Unit;

/// A stepper motor and what it drives.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drive {
    /// Full steps of one turn of the motor.
    pub steps: u32,
    /// Parts its driver makes of a full step.
    pub microsteps: u32,
    /// Turns of the motor for each turn of what it drives.
    pub gear: f64,
    /// The axis's own units for one turn of what is driven: 360 deg, or a lead in mm.
    pub units_per_turn: f64,
}

impl Drive {
    /// Full steps a second at a speed in units/s: above a few hundred most steppers have lost
    /// their torque, and where they pass their own resonance they can be heard.
    pub fn full_steps_hz(&self, speed: f64) -> f64 {
        speed / self.units_per_turn * self.gear * f64::from(self.steps)
    }

    /// The speed in units/s at which it makes so many full steps a second.
    pub fn speed(&self, full_steps_hz: f64) -> f64 {
        full_steps_hz / f64::from(self.steps) / self.gear * self.units_per_turn
    }

    /// Pulses a second at a speed in units/s: what the controller has to bring forth.
    pub fn pulses_hz(&self, speed: f64) -> f64 {
        self.full_steps_hz(speed) * f64::from(self.microsteps)
    }
}

#[derive(Clone)]
pub(super) struct RawDrive {
    steps: Field<i64>,
    microsteps: Field<i64>,
    gear: Field<Quantity>,
    lead: Field<Quantity>,
}

const EXAMPLE: &str = "{ steps = 200, microsteps = 16, gear = \"40:1\" }";

pub(super) fn read(table: &mut Table, unit: Option<Unit>, log: &mut Log) -> Field<RawDrive> {
    let at = match table.table("drive", EXAMPLE, log) {
        Field::Absent => return Field::Absent,
        Field::Bad => return Field::Bad,
        Field::Got(at) => at,
    };
    let mut inner = at.value;
    let whole = |(low, high)| format!("a whole number from {low} to {high}");
    inner.need("steps", whole(STEPS), "200");
    inner.need("microsteps", whole(MICROSTEPS), "16");
    if unit == Some(Unit::Mm) {
        inner.need("lead", LEAD.text(unit), "\"8 mm\"");
    }
    let raw = RawDrive {
        steps: inner.whole("steps", STEPS, log),
        microsteps: inner.whole("microsteps", MICROSTEPS, log),
        gear: inner.quantity("gear", &GEARING, None, log),
        lead: inner.quantity("lead", &LEAD, Some(Unit::Mm), log),
    };
    inner.end(log);
    super::table::got(raw, at.span)
}

/// The drive, if there is one and it is whole.
pub(super) fn valid(
    axis: &str,
    raw: &Field<RawDrive>,
    unit: Option<Unit>,
    log: &mut Log,
) -> Option<Option<Drive>> {
    let raw = match raw {
        Field::Absent => return Some(None),
        given => &given.got()?.value,
    };
    if let (Some(Unit::Deg), Some(lead)) = (unit, raw.lead.got()) {
        log.push(
            Problem::at(
                lead.span.clone(),
                format!("axis {axis} turns and has a `lead`"),
            )
            .found(format!("\"{}\"", lead.value.text()))
            .allowed("a lead on an axis in mm; what turns has 360 deg to a turn")
            .mend("take it out"),
        );
        return None;
    }
    let gear = match &raw.gear {
        Field::Absent => 1.0,
        given => given.got()?.value.number,
    };
    Some(Some(Drive {
        steps: u32::try_from(raw.steps.value()?).ok()?,
        microsteps: u32::try_from(raw.microsteps.value()?).ok()?,
        gear,
        units_per_turn: match unit? {
            Unit::Deg => 360.0,
            Unit::Mm => raw.lead.got()?.value.number,
        },
    }))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// f = v N gear micro / 360. Rows worked out outside of this program from the same law by an
    /// independent script (reference table of stepper rates): steps, microsteps, gear, and full
    /// steps and pulses a second at 30 deg/s.
    #[test]
    fn rates_are_those_of_a_table_from_outside() {
        for (steps, microsteps, gear, full, pulses) in [
            (200, 1, 1.0, 16.666_666_666_666_668, 16.666_666_666_666_668),
            (200, 1, 50.0, 833.333_333_333_333_4, 833.333_333_333_333_4),
            (200, 16, 10.0, 166.666_666_666_666_66, 2_666.666_666_666_667),
            (200, 32, 50.0, 833.333_333_333_333_4, 26_666.666_666_666_668),
            (
                200,
                256,
                10.0,
                166.666_666_666_666_66,
                42_666.666_666_666_67,
            ),
            (
                400,
                8,
                50.0,
                1_666.666_666_666_666_7,
                13_333.333_333_333_334,
            ),
        ] {
            let drive = Drive {
                steps,
                microsteps,
                gear,
                units_per_turn: 360.0,
            };
            approx::assert_relative_eq!(drive.full_steps_hz(30.0), full, max_relative = 1e-12);
            approx::assert_relative_eq!(drive.pulses_hz(30.0), pulses, max_relative = 1e-12);
            approx::assert_relative_eq!(drive.speed(full), 30.0, max_relative = 1e-12);
        }
    }

    #[test]
    fn a_screw_turns_once_a_lead() {
        let drive = Drive {
            steps: 200,
            microsteps: 16,
            gear: 2.0,
            units_per_turn: 8.0,
        };
        assert_eq!(drive.full_steps_hz(8.0), 400.0);
        assert_eq!(drive.pulses_hz(8.0), 6400.0);
        assert_eq!(drive.speed(400.0), 8.0);
    }
}
