//! A stick whose deadband and curve apply to how far it is pushed, whichever way.

use super::bench::*;
use crate::feel::Throw;
use crate::input::Control;
use crate::operator::{Gears, Operator, StickShape, Sticks};
use crate::output::Ceiling;
use crate::units::Speed;
use core::f64::consts::FRAC_1_SQRT_2;

fn radial(deadband: f64, saturation: f64, common: bool) -> Operator {
    let shape = StickShape::Radial { common };
    let mut profile = operator(1);
    profile.sticks = Sticks {
        left: shape,
        right: shape,
    };
    for hand in &mut profile.hands {
        hand.throw = Throw::new(deadband, saturation).expect("apart");
    }
    profile
}

/// Stick and demand, in both directions.
type Row = ([f64; 2], [f64; 2]);

/// The scaled radial dead zone as in Sutphin, "Doing Thumbstick Dead Zones Right" (Game Developer),
/// clipped at a full stick, computed with numpy 2.4.6.
const FROM_25_TO_100: [Row; 15] = [
    ([0.0, 0.0], [0.0, 0.0]),
    ([0.1, 0.1], [0.0, 0.0]),
    ([0.2, 0.0], [0.0, 0.0]),
    ([0.25, 0.0], [0.0, 0.0]),
    ([0.2, 0.2], [0.030_964_406_3, 0.030_964_406_3]),
    ([0.25, 0.25], [0.097_631_072_9, 0.097_631_072_9]),
    ([0.5, 0.0], [0.333_333_333_3, 0.0]),
    ([0.5, 0.5], [0.430_964_406_3, 0.430_964_406_3]),
    ([0.6, 0.8], [0.6, 0.8]),
    ([1.0, 0.0], [1.0, 0.0]),
    ([0.0, -1.0], [0.0, -1.0]),
    (
        [-FRAC_1_SQRT_2, FRAC_1_SQRT_2],
        [-FRAC_1_SQRT_2, FRAC_1_SQRT_2],
    ),
    ([1.0, 1.0], [FRAC_1_SQRT_2, FRAC_1_SQRT_2]),
    ([0.9, -0.3], [0.883_772_234_0, -0.294_590_744_7]),
    ([0.3, 0.05], [0.071_202_025_4, 0.011_867_004_2]),
];

/// The same from 0.12 to 0.95.
const FROM_12_TO_95: [Row; 15] = [
    ([0.0, 0.0], [0.0, 0.0]),
    ([0.1, 0.1], [0.018_249_622_0, 0.018_249_622_0]),
    ([0.2, 0.0], [0.096_385_542_2, 0.0]),
    ([0.25, 0.0], [0.156_626_506_0, 0.0]),
    ([0.2, 0.2], [0.138_731_549_7, 0.138_731_549_7]),
    ([0.25, 0.25], [0.198_972_513_6, 0.198_972_513_6]),
    ([0.5, 0.0], [0.457_831_325_3, 0.0]),
    ([0.5, 0.5], [0.500_177_332_8, 0.500_177_332_8]),
    ([0.6, 0.8], [0.6, 0.8]),
    ([1.0, 0.0], [1.0, 0.0]),
    ([0.0, -1.0], [0.0, -1.0]),
    (
        [-FRAC_1_SQRT_2, FRAC_1_SQRT_2],
        [-FRAC_1_SQRT_2, FRAC_1_SQRT_2],
    ),
    ([1.0, 1.0], [FRAC_1_SQRT_2, FRAC_1_SQRT_2]),
    ([0.9, -0.3], [0.947_178_318_4, -0.315_726_106_1]),
    ([0.3, 0.05], [0.218_834_613_4, 0.036_472_435_6]),
];

#[test]
fn the_demand_is_the_published_one() {
    let tables = [(0.25, 1.0, FROM_25_TO_100), (0.12, 0.95, FROM_12_TO_95)];
    for (deadband, saturation, rows) in tables {
        let profile = radial(deadband, saturation, false);
        let mut bench = Bench::ready(&[rig("one")], &profile);
        for ([x, y], expected) in rows {
            bench.push(Control::Rx, x);
            bench.push(Control::Ry, y);
            bench.tick();
            let found = [bench.axis(PAN).demand, bench.axis(TILT).demand];
            for (found, expected) in found.into_iter().zip(expected) {
                assert!(
                    (found - expected).abs() < 1e-9,
                    "{found}, not {expected} at {x}, {y}"
                );
            }
        }
    }
}

/// The whole stick is centred or it is not: a direction at 0 has no consent of its own.
#[test]
fn both_directions_are_armed_together() {
    let mut bench = Bench::with(&[rig("one")], &radial(0.1, 0.95, false));
    bench.meet(0);
    bench.plug(DRIVER);
    bench.push(Control::Rx, 0.5);
    bench.push(Control::Ry, 0.0);
    bench.run(1_000);
    assert!(!bench.axis(TILT).armed && !bench.axis(PAN).armed);
    bench.push(Control::Rx, 0.0);
    bench.run(220);
    assert!(bench.axis(TILT).armed && bench.axis(PAN).armed);
}

#[test]
fn a_common_speed_keeps_the_way_of_the_thumb() {
    let speeds = |common: bool| {
        let mut profile = radial(0.1, 0.95, common);
        profile.hands[TILT].gears = Gears::new(&[Speed(1.0), Speed(4.0)]).expect("rising");
        let mut bench = Bench::ready(&[rig("one")], &profile);
        bench.push(Control::Rx, 1.0);
        bench.push(Control::Ry, 1.0);
        bench.run(2_000);
        assert_eq!(bench.axis(PAN).binding, Some(Ceiling::Gear));
        (
            bench.axis(PAN).full_stick,
            bench.speed(PAN) - bench.speed(TILT),
        )
    };
    let (full, apart) = speeds(true);
    assert_eq!(full, 4.0);
    assert!(apart.abs() < 1e-9);
    let (full, apart) = speeds(false);
    assert_eq!(full, FULL);
    assert!(apart > 4.0);
}
