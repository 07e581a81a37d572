//! Reduced speed: each axis by itself, and the farthest parts of all of them together.

use super::bench::*;
use crate::bindings::{Action, Press};
use crate::input::{Button, Control};
use crate::operate::modes::Switch;
use crate::operator::{Inch, Operator};
use crate::output::{Ceiling, Mover};
use crate::rig::{Axes, Rig};
use crate::time::Span;
use crate::units::Speed;
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
    bench_of(rigs, operator(rigs.len() as u8))
}

fn bench_of(rigs: &[Rig], operator: Operator) -> Bench {
    let operator = Operator {
        bindings: bound(&[(Press::Tap(REDUCED), Action::Reduced)]),
        ..operator
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

const STEP: f64 = 1.5;

/// Two axes that reach 1 m, the tilt at full stick, and a step of the pan.
fn stepping_beside_a_full_stick() -> (Bench, f64) {
    let mut operator = Operator {
        bindings: bound(&[
            (Press::Tap(REDUCED), Action::Reduced),
            (
                Press::Tap(Button::DpadRight),
                Action::Inch {
                    hand: PAN as u8,
                    plus: true,
                },
            ),
        ]),
        ..operator(2)
    };
    operator.hands[PAN].inch = Some(Inch {
        step: STEP,
        creep: Speed(0.5),
    });
    // Slow to make room.
    operator.hands[TILT].lose = Span::from_millis(2_000);
    let rigs = [reaching("one", 1_000.0), reaching("two", 1_000.0)];
    let mut bench = Bench::ready(&rigs, &operator);
    bench.tap(DRIVER, Button::Tr);
    bench.tap(DRIVER, REDUCED);
    bench.push(Control::Ry, 1.0);
    bench.run(3_000);
    let from = bench.axis(PAN).position;
    bench.tap(DRIVER, Button::DpadRight);
    (bench, from)
}

fn tips(bench: &Bench) -> f64 {
    let axes = [(0, PAN), (0, TILT), (1, PAN)];
    let speeds = axes.map(|(rig, axis)| bench.axis_of(rig, axis).speed.abs().to_radians());
    1_000.0 * speeds.iter().sum::<f64>()
}

/// A step can't be scaled once it is under way, so its highest speed counts from its start, and it starts
/// when the other has made room.
#[test]
fn a_step_beside_others_is_exact_and_keeps_to_the_sum() {
    let (mut bench, from) = stepping_beside_a_full_stick();
    let (mut most, mut waited) = (0.0_f64, 0);
    for _ in 0..1_000 {
        bench.tick();
        most = most.max(tips(&bench));
        waited += u32::from(bench.axis(PAN).mover == Mover::Inching && bench.speed(PAN) == 0.0);
    }
    assert!(most < 250.3, "{most} mm/s");
    assert!(waited > 10, "it waited for room only {waited} ticks");
    let gone = bench.axis(PAN).position - from;
    assert!((gone - STEP).abs() < 0.01, "{gone}");
    assert!((bench.speed(TILT) - 10.0).abs() < 0.01, "all of it again");
}

/// Another stick that is pushed during the step gets what the first one gives up for it; the step is not cut
/// short for that.
#[test]
fn a_step_under_way_is_not_cut_short() {
    let (mut bench, from) = stepping_beside_a_full_stick();
    let (mut most, mut pushed) = (0.0_f64, false);
    for _ in 0..1_000 {
        bench.tick();
        if !pushed && bench.speed(PAN) > 0.1 {
            bench.push(Control::Lx, 1.0);
            pushed = true;
        }
        most = most.max(tips(&bench));
    }
    assert!(most < 250.3, "{most} mm/s");
    let gone = bench.axis(PAN).position - from;
    assert!((gone - STEP).abs() < 0.01, "{gone}");
}

/// An axis that may not go faster while another makes room stays where its brake, once taken off, leaves it.
#[test]
fn one_that_is_held_back_does_not_dither() {
    let mut operator = operator(1);
    // Not taken off in whole ticks.
    operator.hands[TILT].lose = Span::from_millis(500);
    let mut bench = bench_of(&[reaching("one", 1_000.0)], operator);
    bench.push(Control::Rx, 1.0);
    bench.push(Control::Ry, 0.4);
    bench.run(1_500);
    bench.push(Control::Ry, 0.0);
    bench.run(32);
    assert!(bench.axis(TILT).accel < 0.0, "slowing down");
    bench.push(Control::Ry, 1.0);
    let mut before = bench.axis(TILT).accel;
    let mut jerks: Vec<f64> = Vec::new();
    for _ in 0..300 {
        bench.tick();
        let accel = bench.axis(TILT).accel;
        jerks.push(accel - before);
        before = accel;
    }
    jerks.retain(|jerk| jerk.abs() > 1e-6);
    let turns = jerks.windows(2).filter(|two| two[0] * two[1] < 0.0).count();
    // Off, on to the new speed, and off again.
    assert!(turns <= 2, "the jerk changed sign {turns} times");
}
