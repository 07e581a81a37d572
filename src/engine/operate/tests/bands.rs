//! Bands of speed to avoid in quiet.

use super::bench::*;
use crate::bindings::{Action, Press};
use crate::input::{Button, Control, Order};
use crate::motion::bands::{Band, Bands};
use crate::operate::modes::Mode;
use crate::operator::{Gears, Inch, Operator, Quiet, StickShape};
use crate::output::{Ceiling, Mover, Notice, Wait};
use crate::rig::LimitSet;
use crate::units::{Accel, Jerk, Speed};
use std::vec::Vec;

/// Full stick in quiet, deg/s.
const QUIET: f64 = 8.0;
const SET: LimitSet = LimitSet {
    accel: Accel(20.0),
    jerk: Jerk(100.0),
};
const SUSTAIN: Button = Button::North;
const INCH: Button = Button::DpadRight;

fn measured(speed: f64, edges: &[(f64, f64)]) -> Quiet {
    let band = |(low, high): &(f64, f64)| Band {
        low: Speed(*low),
        high: Speed(*high),
    };
    let bands: Vec<Band> = edges.iter().map(band).collect();
    Quiet::Measured {
        speed: Speed(speed),
        set: SET,
        bands: Bands::new(&bands).expect("apart"),
    }
}

/// Both axes avoid 2 to 4 deg/s; the bindings are there for whoever wants them.
fn profile() -> Operator {
    let mut profile = operator(1);
    profile.starts_quiet = true;
    for hand in &mut profile.hands {
        hand.quiet = measured(QUIET, &[(2.0, 4.0)]);
        hand.inch = Some(Inch {
            step: 5.0,
            creep: Speed(3.0),
        });
    }
    profile.bindings = bound(&[
        (Press::Tap(Button::South), Action::Quiet),
        (Press::Held(SUSTAIN), Action::Sustain),
        (
            Press::Tap(INCH),
            Action::Inch {
                hand: PAN as u8,
                plus: true,
            },
        ),
    ]);
    profile
}

fn bench() -> Bench {
    Bench::ready(&[rig("one")], &profile())
}

/// Pushes the pan's stick to where it asks for so much of `full`.
fn ask_of(bench: &mut Bench, speed: f64, full: f64) {
    let depth = 0.1 + 0.85 * speed.abs() / full;
    bench.push(Control::Rx, depth.copysign(speed));
}

fn ask(bench: &mut Bench, speed: f64) {
    ask_of(bench, speed, QUIET);
}

fn inside(bench: &Bench) -> bool {
    (2.0 + 1e-9..4.0 - 1e-9).contains(&bench.speed(PAN).abs())
}

fn order(bench: &mut Bench, mode: Mode, on: bool) {
    let order = Order::Mode(mode, on);
    bench.pending.push(crate::Input::Order(order));
    bench.tick();
}

#[test]
fn it_is_held_at_the_lower_edge_and_then_at_the_upper_one() {
    for sign in [1.0, -1.0] {
        let mut bench = bench();
        for (asked, goes) in [
            (1.9, 1.9),
            (2.1, 2.0),
            (3.9, 2.0),
            (4.1, 4.1),
            (3.9, 4.0),
            (3.1, 4.0),
            (2.9, 2.0),
            (3.9, 2.0),
            (8.0, 8.0),
            (0.5, 0.5),
        ] {
            ask(&mut bench, sign * asked);
            bench.run(2_000);
            let found = bench.speed(PAN) * sign;
            assert!((found - goes).abs() < 1e-9, "{asked}: {found}, not {goes}");
            let named = bench.axis(PAN).band.map(|band| band.low.0);
            let differs = asked != goes;
            assert_eq!(named, differs.then_some(2.0), "{asked}");
            assert_eq!(bench.axis(PAN).binding, Some(Ceiling::Quiet));
        }
    }
}

/// From rest to rest of the acceleration over the band: a = 20, j = 100, so 2 units take 2 sqrt(2/j).
const CROSSING_MS: f64 = 2.0 * 141.42;

#[test]
fn a_crossing_is_as_quick_as_the_limits_allow() {
    let mut bench = bench();
    ask(&mut bench, 1.9);
    bench.run(2_000);
    for (asked, reached) in [(4.0, 4.0), (1.9, 1.9)] {
        ask(&mut bench, asked);
        let mut ticks = 0;
        while (bench.speed(PAN) - reached).abs() > 1e-9 {
            bench.tick();
            ticks += u32::from(inside(&bench));
        }
        let ms = f64::from(ticks) * 4.0;
        assert!(ms <= CROSSING_MS + 4.0, "to {asked}: {ms} ms");
    }
}

/// However often the stick changes its mind: up to the upper edge, back, and out again below.
#[test]
fn hands_that_change_their_mind_do_not_keep_it_inside() {
    let mut bench = bench();
    let (mut spell, mut longest, mut crossed) = (0, 0, 0);
    let mut random = 7_u32;
    for turn in 0..3_000 {
        random = random.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        // Above, below, inside, the other way; for 4 to 250 ms.
        let asked = [6.0, 0.5, 3.5, 0.0, 4.2, -6.0][turn % 6];
        ask(&mut bench, asked);
        for _ in 0..=(random >> 26) {
            bench.tick();
            if inside(&bench) {
                spell += 1;
                continue;
            }
            crossed += u32::from(spell > 0);
            longest = u32::max(longest, spell);
            spell = 0;
        }
    }
    assert!(crossed > 200, "only {crossed} crossings");
    let longest = f64::from(longest) * 4.0;
    assert!(longest <= 2.0 * CROSSING_MS + 4.0, "{longest} ms inside");
}

#[test]
fn quiet_that_comes_on_inside_a_band_leaves_it_downwards() {
    let mut plain = profile();
    plain.starts_quiet = false;
    let mut bench = Bench::ready(&[rig("one")], &plain);
    ask_of(&mut bench, 3.0, FULL);
    bench.run(2_000);
    assert!((bench.speed(PAN) - 3.0).abs() < 1e-9, "no quiet, no bands");
    assert_eq!(bench.axis(PAN).band, None);
    bench.tap(DRIVER, Button::South);
    bench.run(400);
    assert!(
        (bench.speed(PAN) - 2.0).abs() < 1e-9,
        "{}",
        bench.speed(PAN)
    );
}

#[test]
fn braking_crosses() {
    let mut bench = bench();
    ask(&mut bench, 6.0);
    bench.run(2_000);
    // A stop, and an end of the travel.
    bench.tap(DRIVER, Button::East);
    bench.run(600);
    assert!(bench.at_rest());
    bench.let_go();
    bench.hold(DRIVER, Button::Start);
    bench.let_go();
    ask(&mut bench, 6.0);
    bench.run(40_000);
    assert_eq!(bench.axis(PAN).binding, Some(Ceiling::Travel));
    assert_eq!(bench.speed(PAN), 0.0);
    assert!((bench.axis(PAN).position - 170.0).abs() < 0.1);
}

#[test]
fn a_ceiling_inside_a_band_is_its_lower_edge_and_still_the_one_that_binds() {
    let mut profile = profile();
    profile.hands[PAN].quiet = measured(3.0, &[(2.0, 4.0)]);
    profile.hands[PAN].gears = Gears::new(&[Speed(2.5), Speed(FULL)]).expect("rising");
    let mut bench = Bench::ready(&[rig("one")], &profile);
    bench.push(Control::Rx, 1.0);
    for binding in [Ceiling::Quiet, Ceiling::Gear] {
        bench.run(2_000);
        let axis = bench.axis(PAN);
        assert_eq!((axis.full_stick, axis.binding), (2.0, Some(binding)));
        assert_eq!(axis.band.map(|band| band.high.0), Some(4.0));
        assert!((axis.speed - 2.0).abs() < 1e-9);
        bench.tap(DRIVER, Button::Tl);
    }
}

/// 3.5 is the pan's ceiling and inside the pan's band, its lower edge 2 inside the tilt's.
#[test]
fn a_common_speed_keeps_out_of_the_bands_of_both() {
    let mut profile = profile();
    profile.sticks.right = StickShape::Radial { common: true };
    profile.hands[PAN].quiet = measured(3.5, &[(2.0, 4.0)]);
    profile.hands[TILT].quiet = measured(6.0, &[(1.5, 2.5)]);
    let mut bench = Bench::ready(&[rig("one")], &profile);
    bench.push(Control::Rx, 1.0);
    bench.run(2_000);
    for axis in [PAN, TILT] {
        assert_eq!(bench.axis(axis).full_stick, 1.5);
    }
    assert!((bench.speed(PAN) - 1.5).abs() < 1e-9);
}

#[test]
fn a_kept_speed_is_held_too_and_does_not_rise_when_quiet_ends() {
    let mut plain = profile();
    plain.starts_quiet = false;
    let mut bench = Bench::ready(&[rig("one")], &plain);
    ask_of(&mut bench, 3.0, FULL);
    bench.run(2_000);
    bench.hold(DRIVER, SUSTAIN);
    bench.let_go();
    bench.tap(DRIVER, Button::South);
    bench.run(1_000);
    assert_eq!(bench.axis(PAN).mover, Mover::Sustain);
    assert!((bench.speed(PAN) - 2.0).abs() < 1e-9);
    order(&mut bench, Mode::Quiet, false);
    assert_eq!(bench.told_times(Notice::Mode(Mode::Quiet, false)), 1);
    bench.run(1_000);
    assert_eq!(bench.axis(PAN).mover, Mover::Sustain);
    assert!((bench.speed(PAN) - 2.0).abs() < 1e-9);
}

/// The stick trims a kept speed by the full speed in 4 s: from 1 to 5 in 2 s, the band in between.
#[test]
fn a_kept_speed_is_trimmed_across() {
    let mut bench = bench();
    ask(&mut bench, 1.0);
    bench.run(2_000);
    bench.hold(DRIVER, SUSTAIN);
    bench.let_go();
    bench.push(Control::Rx, 1.0);
    let mut ticks = 0;
    for _ in 0..500 {
        bench.tick();
        ticks += u32::from(inside(&bench));
    }
    assert!((bench.speed(PAN) - 5.0).abs() < 0.2, "{}", bench.speed(PAN));
    assert!(f64::from(ticks) * 4.0 <= CROSSING_MS + 4.0, "{ticks}");
}

#[test]
fn a_step_stays_under_the_first_band_and_is_exact() {
    let mut bench = bench();
    bench.tap(DRIVER, INCH);
    let mut top = 0.0;
    for _ in 0..2_500 {
        bench.tick();
        top = f64::max(top, bench.speed(PAN));
    }
    assert!(bench.at_rest());
    assert!((1.9..=2.0).contains(&top), "{top}");
    assert!((bench.axis(PAN).position - 5.0).abs() < 0.01);
}

#[test]
fn a_creep_inside_a_band_goes_at_its_lower_edge() {
    let mut bench = bench();
    bench.press(DRIVER, INCH);
    bench.run(8_000);
    assert_eq!(bench.axis(PAN).mover, Mover::Inching);
    assert!((bench.speed(PAN) - 2.0).abs() < 1e-9);
}

/// The stick stays where it is: a band that comes is kept out of at once, one that goes would let the axis
/// go twice as fast.
#[test]
fn bands_edited_while_driving() {
    let mut bench = bench();
    let without = |bands: &[(f64, f64)]| {
        let mut edited = profile();
        for hand in &mut edited.hands {
            hand.quiet = measured(QUIET, bands);
        }
        Some(edited)
    };
    ask(&mut bench, 3.9);
    bench.run(2_000);
    bench.offered = without(&[]);
    bench.run(1_000);
    assert_eq!(bench.told_times(Notice::ProfileWaits(Wait::Centred)), 1);
    assert!((bench.speed(PAN) - 2.0).abs() < 1e-9);
    // Something could still be asked for that is free then; with a wider one nothing.
    bench.offered = without(&[(2.0, 3.0), (3.2, 4.0)]);
    bench.run(1_000);
    assert_eq!(bench.told_times(Notice::ProfileWaits(Wait::Centred)), 2);
    bench.offered = without(&[(2.0, 4.5)]);
    bench.run(1_000);
    assert_eq!(bench.told_times(Notice::ProfileApplied), 1);
    bench.push(Control::Rx, 0.0);
    bench.offered = without(&[]);
    bench.run(1_000);
    assert_eq!(bench.told_times(Notice::ProfileApplied), 2);
    ask(&mut bench, 3.9);
    bench.run(2_000);
    assert!((bench.speed(PAN) - 3.9).abs() < 1e-9);
    bench.offered = without(&[(2.0, 4.0)]);
    bench.run(1_000);
    assert_eq!(bench.told_times(Notice::ProfileApplied), 3);
    assert!((bench.speed(PAN) - 2.0).abs() < 1e-9);
}
