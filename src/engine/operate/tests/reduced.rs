//! Reduced speed: each axis by itself, and the farthest parts of all of them together.

use super::bench::*;
use crate::bindings::{Action, Press};
use crate::input::{Button, Control};
use crate::operate::modes::Switch;
use crate::operator::Operator;
use crate::output::Ceiling;
use crate::rig::{Axes, Rig};
use std::vec::Vec;

const REDUCED: Button = Button::North;

fn reaching(id: &str, reach_mm: f64) -> Rig {
    let mut file = rig(id);
    let mut axes: Vec<_> = file.axes.to_vec();
    axes.iter_mut().for_each(|axis| axis.reach_mm = reach_mm);
    file.axes = Axes::new(axes).expect("two");
    file
}

/// Rigs of that reach, in the fastest gear, reduced.
fn bench(rigs: &[Rig]) -> Bench {
    let operator = Operator {
        bindings: bound(&[(Press::Tap(REDUCED), Action::Reduced)]),
        ..operator(rigs.len() as u8)
    };
    let mut bench = Bench::ready(rigs, &operator);
    bench.tap(DRIVER, Button::Tr);
    bench.tap(DRIVER, REDUCED);
    bench
}

/// 250 mm/s at the tip: ISO 10218-1, 5.5.3, as quoted by secondary sources. At 1 m these are 14.3 deg/s,
/// so the axis's own 10 deg/s bind; at 2 m 7.16 deg/s.
#[test]
fn one_axis_keeps_to_the_lower_of_its_own_and_its_tip() {
    for (reach_mm, speed) in [(0.0, 10.0), (1_000.0, 10.0), (2_000.0, 7.162)] {
        let mut bench = bench(&[reaching("one", reach_mm)]);
        bench.push(Control::Rx, 1.0);
        bench.run(1_500);
        let axis = bench.axis(PAN);
        assert!(
            (axis.speed - speed).abs() < 1e-3,
            "{} at {reach_mm}",
            axis.speed
        );
        assert_eq!((axis.binding, axis.shared), (Some(Ceiling::Reduced), 1.0));
    }
}

/// Two axes of 10 deg/s at 1 m are 349 mm/s together: both have 250/349 of it.
#[test]
fn tips_that_move_together_share_one_factor() {
    let mut bench = bench(&[reaching("one", 1_000.0)]);
    bench.push(Control::Rx, 1.0);
    bench.push(Control::Ry, -1.0);
    bench.run(2_000);
    let (pan, tilt) = (bench.axis(PAN), bench.axis(TILT));
    let factor = 250.0 / (2.0 * 10_f64.to_radians() * 1_000.0);
    for axis in [pan, tilt] {
        assert!((axis.speed.abs() - 10.0 * factor).abs() < 1e-3, "{axis:?}");
        assert!((axis.shared - factor).abs() < 1e-3, "{axis:?}");
        assert_eq!(axis.binding, Some(Ceiling::Reduced));
    }
    // Alone again it has all of it.
    bench.push(Control::Ry, 0.0);
    bench.run(2_000);
    assert!((bench.speed(PAN) - 10.0).abs() < 1e-6);
}

#[test]
fn tips_of_different_rigs_share_as_well() {
    let mut bench = bench(&[reaching("one", 1_000.0), reaching("two", 2_000.0)]);
    for control in [Control::Rx, Control::Ry, Control::Lx, Control::Ly] {
        bench.push(control, 1.0);
    }
    bench.run(3_000);
    let tip = |rig: usize, axis: usize, reach_mm: f64| {
        bench.axis_of(rig, axis).speed.to_radians() * reach_mm
    };
    let all = [
        tip(0, PAN, 1_000.0),
        tip(0, TILT, 1_000.0),
        tip(1, PAN, 2_000.0),
        tip(1, TILT, 2_000.0),
    ];
    let sum: f64 = all.iter().sum();
    assert!((sum - 250.0).abs() < 0.1, "{all:?}");
    // Each as it would be alone, times the same factor.
    assert!((all[2] / all[0] - 250.0 / 10_f64.to_radians() / 1_000.0).abs() < 1e-3);
}

#[test]
fn half_a_stick_shares_what_is_asked_and_not_what_could_be() {
    let mut bench = bench(&[reaching("one", 1_000.0)]);
    // Half way between deadband and saturation.
    bench.push(Control::Rx, 0.525);
    bench.push(Control::Ry, 0.525);
    bench.run(2_000);
    for axis in [PAN, TILT] {
        assert!((bench.speed(axis) - 5.0).abs() < 1e-6);
        assert_eq!(bench.axis(axis).shared, 1.0);
    }
}

#[test]
fn it_is_off_by_keeping_down_and_waits_for_the_sticks() {
    let mut bench = bench(&[rig("one")]);
    bench.tap(DRIVER, REDUCED);
    bench.push(Control::Rx, 1.0);
    bench.hold(DRIVER, REDUCED);
    bench.run(2_000);
    assert_eq!(bench.status().modes.reduced, Switch::Leaving);
    assert_eq!(bench.speed(PAN), 10.0);
    bench.push(Control::Rx, 0.0);
    bench.tick();
    assert_eq!(bench.status().modes.reduced, Switch::Off);
    bench.push(Control::Rx, 1.0);
    bench.run(2_000);
    assert_eq!(bench.speed(PAN), 30.0);
}
