//! The bounds on a pad's silence, as a table for each way it can be connected.

use super::*;

/// Unit, speed in units/s, and the bound in ms on USB and on Bluetooth: the time in which 30 degrees or
/// 300 mm are covered, from 10 and from 2 s, up to 60 s.
const TABLE: [(Unit, f64, u64, u64); 15] = [
    (Unit::Deg, 0.0, 60_000, 60_000),
    (Unit::Deg, 0.01, 60_000, 60_000),
    (Unit::Deg, 0.5, 60_000, 60_000),
    (Unit::Deg, 0.6, 50_000, 50_000),
    (Unit::Deg, 3.0, 10_000, 10_000),
    (Unit::Deg, -3.0, 10_000, 10_000),
    (Unit::Deg, 8.0, 10_000, 3_750),
    (Unit::Deg, 15.0, 10_000, 2_000),
    (Unit::Deg, 45.0, 10_000, 2_000),
    (Unit::Mm, 2.0, 60_000, 60_000),
    (Unit::Mm, 15.0, 20_000, 20_000),
    (Unit::Mm, -60.0, 10_000, 5_000),
    (Unit::Mm, 150.0, 10_000, 2_000),
    (Unit::Mm, 200.0, 10_000, 2_000),
    (Unit::Mm, f64::INFINITY, 10_000, 2_000),
];

#[test]
fn the_bounds_are_those_of_the_table() {
    for (unit, speed, usb, bluetooth) in TABLE {
        for (bus, expected) in [
            (PadBus::Wired, None),
            (PadBus::Usb, Some(usb)),
            (PadBus::Bluetooth, Some(bluetooth)),
            (PadBus::Streaming, Some(300)),
        ] {
            let found = silence_bound(bus, unit, speed).map(|bound| bound.0);
            let expected = expected.map(|ms| ms * 1_000_000);
            let off = |(a, b): (u64, u64)| a.abs_diff(b);
            // A nanosecond for the division.
            let near = match found.zip(expected) {
                Some(both) => off(both) <= 1,
                None => found == expected,
            };
            assert!(
                near,
                "{bus:?}, {speed} {unit:?}/s: {found:?} ns, not {expected:?}"
            );
        }
    }
}

/// A faster motion is never given more silence.
#[test]
fn a_faster_motion_may_be_silent_no_longer() {
    for bus in [PadBus::Usb, PadBus::Bluetooth, PadBus::Streaming] {
        let mut last = Span(u64::MAX);
        for step in 0..2_000 {
            let bound = silence_bound(bus, Unit::Deg, f64::from(step) * 0.05).expect("bounded");
            assert!(bound <= last, "{bus:?} at step {step}");
            last = bound;
        }
    }
}
