//! The lowest ceiling, equal ones, and reduced speed.

use super::*;
use crate::rig::{LimitSet, Limits, Sense, Travel};
use crate::units::{Accel, Jerk};
use approx::assert_abs_diff_eq;
use std::string::String;

/// The ceilings that scale, in the order in which equal ones are named.
const SCALING: [Ceiling; 6] = [
    Ceiling::Rig,
    Ceiling::Operator,
    Ceiling::Gear,
    Ceiling::Quiet,
    Ceiling::Framing,
    Ceiling::Reduced,
];

/// Each of them at the speed in its place; `None` for none.
fn of(speeds: [Option<f64>; 6]) -> Scaling<'static> {
    let [rig, operator, gear, quiet, framing, reduced] = speeds.map(|speed| speed.map(Speed));
    Scaling {
        rig: rig.expect("a rig always has one"),
        operator,
        gear,
        quiet,
        framing,
        reduced,
        bands: &Bands::NONE,
    }
}

#[test]
fn the_lowest_binds_whichever_it_is() {
    for (place, ceiling) in SCALING.into_iter().enumerate() {
        let mut speeds = [Some(20.0); 6];
        speeds[place] = Some(5.0);
        assert_eq!(of(speeds).lowest(), (Speed(5.0), ceiling));
    }
}

#[test]
fn of_equal_ones_the_first_is_named() {
    assert!(SCALING.is_sorted());
    for first in 0..SCALING.len() {
        for second in first + 1..SCALING.len() {
            let mut speeds = [Some(20.0); 6];
            (speeds[first], speeds[second]) = (Some(5.0), Some(5.0));
            assert_eq!(of(speeds).lowest(), (Speed(5.0), SCALING[first]));
        }
    }
    assert_eq!(of([Some(5.0); 6]).lowest().1, Ceiling::Rig);
}

#[test]
fn what_there_is_not_does_not_bind() {
    let mut alone = [None; 6];
    alone[0] = Some(60.0);
    assert_eq!(of(alone).lowest(), (Speed(60.0), Ceiling::Rig));
    alone[5] = Some(10.0);
    assert_eq!(of(alone).lowest(), (Speed(10.0), Ceiling::Reduced));
}

fn axis(unit: Unit, reach_mm: f64) -> Axis {
    let set = LimitSet {
        accel: Accel(100.0),
        jerk: Jerk(1_000.0),
    };
    Axis {
        name: String::from("pan"),
        unit,
        counts_per_unit: 100.0,
        sense: Sense::Same,
        travel: Travel::Continuous,
        speed: Speed(60.0),
        limits: Limits::new(set, set, set).expect("equal sets"),
        reach_mm,
        needs_enable: false,
        may_lower_current: false,
    }
}

/// 250 mm/s at the reach (ISO 10218-1, 5.5.3, as quoted by secondary sources) are 250/r rad/s: 14.32
/// deg/s at 1 m, where 10 deg/s are lower, and 7.16 deg/s at 2 m.
#[test]
fn reduced_is_the_lowest_of_the_tip_and_the_axis_itself() {
    let deg = |reach_mm: f64| reduced(&axis(Unit::Deg, reach_mm)).0;
    let at_tip = |reach_mm: f64| (250.0 / reach_mm).to_degrees();
    assert_abs_diff_eq!(at_tip(1_000.0), 14.3239, epsilon = 1e-4);
    assert_eq!(deg(1_000.0), 10.0);
    assert_abs_diff_eq!(deg(2_000.0), 7.162, epsilon = 1e-3);
    assert_abs_diff_eq!(deg(2_000.0), at_tip(2_000.0), epsilon = 1e-9);
    // Both are equal at 250 / (10 deg/s) = 1432 mm.
    assert_eq!(deg(1_432.0), 10.0);
    assert!(deg(1_433.0) < 10.0);
    assert_eq!(deg(0.0), 10.0, "nothing reaches out");
    for reach_mm in [0.0, 1_000.0, 9_000.0] {
        let slide = reduced(&axis(Unit::Mm, reach_mm));
        assert_eq!(slide.0, 50.0, "a slide has no reach");
    }
}

/// An i32 of 1/1024 count/s.
#[test]
fn the_link_carries_what_its_number_holds() {
    for counts in [1.0, 100.0, 1e5] {
        let steps = link_ceiling(counts).0 * counts * 1024.0;
        assert!(steps <= f64::from(i32::MAX), "{steps}");
        assert!(steps > 0.999 * f64::from(i32::MAX));
    }
}
