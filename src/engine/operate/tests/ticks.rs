//! Time as it comes: late, the first, not at all, backwards.

use super::bench::*;
use crate::input::Control;
use crate::output::{Notice, State, Why};
use crate::time::{Span, Time};

#[test]
fn a_tick_may_be_80_ms_late_and_not_81() {
    for (ms, state) in [
        (79, State::Driving),
        (80, State::Driving),
        (81, State::Withheld(Why::Late)),
        (5_000, State::Withheld(Why::Late)),
    ] {
        let mut bench = Bench::moving();
        bench.heard.clear();
        bench.tick_after(Span::from_millis(ms));
        assert_eq!(bench.state(), state, "{ms} ms");
        let told = bench.heard.contains(&Notice::Late(Span::from_millis(ms)));
        assert_eq!(told, state != State::Driving, "{ms} ms");
    }
}

/// A nanosecond over the bound is over the bound.
#[test]
fn the_bound_is_sharp() {
    let mut bench = Bench::moving();
    bench.tick_after(Span(80_000_001));
    assert_eq!(bench.state(), State::Withheld(Why::Late));
}

/// The time that passed is not made up for: the first step of the stop is as long as two ticks.
#[test]
fn a_late_tick_makes_no_jump() {
    let mut bench = Bench::moving();
    let before = bench.speed(PAN);
    bench.tick_after(Span::from_millis(1_000));
    let lost = before - bench.speed(PAN);
    let most = STOP.jerk.0 * 0.008 * 0.008;
    assert!(lost > 0.0 && lost <= most, "{lost} deg/s in one tick");
}

#[test]
fn the_first_tick_is_never_late() {
    for now in [Time(0), Time(1), Time(u64::MAX / 2)] {
        let mut bench = Bench::new();
        bench.now = now;
        bench.meet(0);
        bench.plug(DRIVER);
        bench.tick_now();
        assert_eq!(bench.state(), State::Withheld(Why::Start));
    }
}

/// Ticks in which no time passes change no speed and no position, and are no news to the travel guard.
#[test]
fn time_that_stands_still_moves_nothing() {
    for push in [1.0, 0.0, -1.0] {
        let mut bench = Bench::moving();
        bench.push(Control::Rx, push);
        bench.run(40);
        let before = bench.axis(PAN);
        for _ in 0..100 {
            bench.tick_now();
            let after = bench.axis(PAN);
            let same = |a: f64, b: f64| (a - b).abs() < 1e-9;
            assert!(same(after.speed, before.speed), "{} deg/s", after.speed);
            assert!(same(after.accel, before.accel), "{} deg/s^2", after.accel);
            assert!(
                same(after.position, before.position),
                "{} deg",
                after.position
            );
        }
        bench.run(2_000);
        assert!(
            (bench.speed(PAN) - push * FULL).abs() < 1e-9,
            "it goes on: {}",
            bench.speed(PAN)
        );
    }
}

/// The same while a stop is under way, and while the axis brakes for its end.
#[test]
fn time_that_stands_still_harms_no_stop_and_no_braking() {
    let mut stopping = Bench::moving();
    stopping.stop = Some(crate::input::StopSource::Command);
    stopping.run(40);
    let mut braking = Bench::driving();
    braking.push(Control::Rx, 1.0);
    while !braking
        .heard
        .iter()
        .any(|notice| matches!(notice, Notice::TravelEnd { .. }))
    {
        braking.tick();
    }
    for mut bench in [stopping, braking] {
        let before = bench.axis(PAN).speed;
        for _ in 0..50 {
            bench.tick_now();
        }
        let speed = bench.speed(PAN);
        assert!(
            speed.is_finite() && (speed - before).abs() < 1e-9,
            "{before} to {speed}"
        );
        bench.run(20_000);
        assert!(bench.speed(PAN).abs() < 1e-3 && bench.axis(PAN).position <= 170.0);
    }
}

/// A clock that goes backwards passes no time, and is not late when it comes back.
#[test]
fn time_that_goes_backwards_passes_none() {
    let mut bench = Bench::moving();
    let position = bench.axis(PAN).position;
    bench.now = Time(bench.now.0 - 500_000_000);
    bench.tick_now();
    assert_eq!((bench.state(), bench.speed(PAN)), (State::Driving, FULL));
    assert!((bench.axis(PAN).position - position).abs() < 1e-9);
    bench.run(40);
    assert_eq!(bench.state(), State::Driving);
}
