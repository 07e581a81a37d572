//! Two triggers as one two-way axis, and a trigger that scales every speed.

use super::bench::*;
use crate::input::Control;
use crate::operator::{Operator, Source, SpeedTrigger};

/// The pan by the triggers.
fn paired() -> Bench {
    let mut operator = operator(1);
    operator.hands[PAN].control = Some(Source::Pair {
        plus: Control::Rt,
        minus: Control::Lt,
    });
    Bench::ready(&[rig("one")], &operator)
}

/// A trigger that was never heard of may be far out: its first value is withheld, whatever the other
/// one was seen to do.
#[test]
fn the_first_value_of_the_second_trigger_drives_nothing() {
    let mut bench = paired();
    bench.push(Control::Lt, 0.0);
    bench.run(400);
    bench.push(Control::Rt, 1.0);
    bench.run(1_000);
    assert!(bench.at_rest() && !bench.axis(PAN).armed);
    bench.push(Control::Rt, 0.0);
    bench.run(300);
    bench.push(Control::Rt, 1.0);
    bench.run(1_000);
    assert_eq!(bench.speed(PAN), FULL);
}

#[test]
fn both_pulled_ask_for_the_difference_and_are_not_centred() {
    let mut bench = paired();
    for control in [Control::Lt, Control::Rt] {
        bench.push(control, 1.0);
    }
    bench.run(400);
    assert!(!bench.axis(PAN).armed, "pulled alike is not let go");
    for control in [Control::Lt, Control::Rt] {
        bench.push(control, 0.0);
    }
    bench.run(400);
    bench.push(Control::Lt, 1.0);
    bench.push(Control::Rt, 1.0);
    bench.run(1_000);
    assert!(bench.at_rest());
    bench.push(Control::Rt, 0.0);
    bench.run(1_000);
    assert_eq!(bench.speed(PAN), -FULL);
}

#[test]
fn a_speed_trigger_that_has_not_spoken_counts_as_slow_and_that_is_told() {
    let operator = Operator {
        speed_trigger: Some(SpeedTrigger {
            control: Control::Lt,
            let_go: 1.0,
            pulled: 0.25,
        }),
        ..operator(1)
    };
    let mut bench = Bench::ready(&[rig("one")], &operator);
    bench.push(Control::Rx, 1.0);
    bench.run(1_500);
    assert!(bench.status().groups[0].trigger_unheard);
    assert_eq!(bench.speed(PAN), FULL / 4.0);
    bench.push(Control::Lt, 0.0);
    bench.run(1_500);
    assert!(!bench.status().groups[0].trigger_unheard);
    assert_eq!(bench.speed(PAN), FULL);
}
