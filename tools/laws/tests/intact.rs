//! Doctored arrivals against `intact`.

mod common;

use common::*;
use stillhand_laws::*;

fn valid(seq: u32) -> Arrival {
    Arrival {
        handling: Handling::Valid,
        session: 7,
        seq,
        deadline: Nanos::millis(100),
        rig_clock: Nanos::millis(20),
        setpoint_changed: true,
        watchdog_renewed: true,
    }
}

fn check(arrivals: &[Arrival]) -> Checker {
    let mut checker = World::ready(1, 250.0).check();
    for arrival in arrivals {
        checker.arrival(Nanos::millis(600), arrival);
    }
    checker
}

#[test]
fn frames_in_order_are_acted_upon() {
    assert_clean(&check(&[valid(1), valid(2), valid(9), valid(10)]));
    // Sequence numbers wrap.
    assert_clean(&check(&[
        valid(u32::MAX - 1),
        valid(u32::MAX),
        valid(0),
        valid(1),
    ]));
}

#[test]
fn what_the_carrier_did_counts() {
    use Handling::{Damaged, Duplicate, Foreign, Outdated, Reordered, Truncated};
    for handling in [Damaged, Truncated, Duplicate, Reordered, Outdated, Foreign] {
        let ignored = Arrival {
            handling,
            setpoint_changed: false,
            watchdog_renewed: false,
            ..valid(2)
        };
        assert_clean(&check(&[valid(1), ignored, valid(2)]));
        for bad in [
            Arrival {
                setpoint_changed: true,
                ..ignored
            },
            Arrival {
                watchdog_renewed: true,
                ..ignored
            },
        ] {
            assert_only(&check(&[valid(1), bad, valid(2)]), Law::Intact);
        }
    }
}

#[test]
fn what_the_frame_carries_counts() {
    let duplicate = valid(5);
    let reordered = valid(4);
    let foreign = Arrival {
        session: 6,
        ..valid(6)
    };
    let outdated = Arrival {
        rig_clock: Nanos(100_000_001),
        ..valid(6)
    };
    for bad in [duplicate, reordered, foreign, outdated] {
        assert_only(&check(&[valid(5), bad]), Law::Intact);
        let ignored = Arrival {
            setpoint_changed: false,
            watchdog_renewed: false,
            ..bad
        };
        assert_clean(&check(&[valid(5), ignored, valid(6)]));
    }
    let just = Arrival {
        rig_clock: Nanos::millis(100),
        ..valid(6)
    };
    assert_clean(&check(&[valid(5), just]));
}

/// A valid frame that repeats the old speed need not change a setpoint.
#[test]
fn a_valid_frame_may_change_nothing() {
    assert_clean(&check(&[Arrival {
        setpoint_changed: false,
        ..valid(1)
    }]));
}

#[test]
fn says_what_happened() {
    let checker = check(&[valid(5), valid(5)]);
    assert_eq!(
        checker.breaches()[0].to_string(),
        "law intact broken at 0.600 s: a setpoint changed and the watchdog was renewed after frame 5, \
         which was a duplicate, allowed nothing"
    );
}
