//! Hello, setup, what ends a session and what is refused.

mod common;

use common::{
    Bench, COUNT, SESSION, axis, config, hello, limits, moving, ready, refused, stop_ms, wide_open,
};
use stillhand_rig::{Inputs, Moving};
use stillhand_wire::messages::{FromRig, Ramp, ToRig, Why};

#[test]
fn repeated_hello_and_setup_change_nothing() {
    let mut bench = moving();
    bench.send(&hello(SESSION));
    assert!(
        matches!(bench.said.pop(), Some(FromRig::Hello(h)) if h.axes[0].velocity == 500 * COUNT)
    );
    let setup = Bench::setup(SESSION, &wide_open());
    bench.send(&ToRig::Setup(setup.clone()));
    assert_eq!(
        bench.said.pop(),
        Some(FromRig::Ack {
            setup: setup.clone()
        })
    );
    bench.tick();
    assert_eq!(
        (bench.velocity(0), bench.state().applied, bench.state().held),
        (500 * COUNT, 1, 0)
    );
    let mut other = setup;
    other.watchdog_ms = 121;
    assert_eq!(refused(&mut bench, &ToRig::Setup(other)), Why::AlreadySet);
}

#[test]
fn a_new_session_ends_the_old_one_and_stops_first() {
    let mut bench = moving();
    bench.send(&hello(SESSION + 1));
    assert!(!bench.drive(&[500 * COUNT, 0]), "the old session is over");
    let setup = Bench::setup(SESSION + 1, &wide_open());
    assert_eq!(
        refused(&mut bench, &ToRig::Setup(setup.clone())),
        Why::NotAtRest
    );
    bench.tick();
    assert!(bench.velocity(0) > 400 * COUNT, "no step");
    bench.ticks(stop_ms(500.0) + 2);
    assert!(bench.rig.at_rest());
    bench.send(&ToRig::Setup(setup.clone()));
    assert_eq!(bench.said.pop(), Some(FromRig::Ack { setup }));
    assert_eq!((bench.state().held, bench.state().applied), (0, 0));
    assert_eq!(refused(&mut bench, &hello(SESSION)), Why::OldSession);
    let old = Bench::setup(SESSION, &wide_open());
    assert_eq!(refused(&mut bench, &ToRig::Setup(old)), Why::OldSession);
}

#[test]
fn a_new_session_at_rest_is_ready_at_once() {
    let mut bench = ready();
    bench.handshake(SESSION + 1, &wide_open());
    assert!(bench.drive(&[COUNT, COUNT]));
}

#[test]
fn hellos_and_setups_that_break_a_rule_are_refused_with_it() {
    let mut bench = ready();
    assert_eq!(
        refused(
            &mut bench,
            &ToRig::Hello {
                version: 2,
                session: 5
            }
        ),
        Why::Version
    );
    assert_eq!(refused(&mut bench, &hello(0)), Why::WrongSession);
    bench.send(&hello(9));
    let good = Bench::setup(9, &wide_open());
    type Change = fn(&mut stillhand_wire::messages::Setup);
    let changes: [(Change, Why); 9] = [
        (|s| s.session = 10, Why::WrongSession),
        (|s| _ = s.axes.pop(), Why::AxisCount),
        (|s| s.watchdog_ms = 19, Why::BadWatchdog),
        (|s| s.watchdog_ms = 1001, Why::BadWatchdog),
        (|s| s.axes[1].travel = Some((5, 5)), Why::BadTravel),
        (|s| s.axes[1].travel = Some((-2, i32::MAX)), Why::BadTravel),
        (
            |s| s.axes[0].stop_plus = Ramp { accel: 0, jerk: 1 },
            Why::BadRamp,
        ),
        (
            |s| s.axes[0].stop_minus = Ramp { accel: 1, jerk: 0 },
            Why::BadRamp,
        ),
        (|s| s.axes[0].stop_minus.accel = (1 << 24) + 1, Why::BadRamp),
    ];
    for (change, why) in changes {
        let mut setup = good.clone();
        change(&mut setup);
        assert_eq!(
            refused(&mut bench, &ToRig::Setup(setup.clone())),
            why,
            "{setup:?}"
        );
    }
    bench.send(&ToRig::Setup(good.clone()));
    assert_eq!(bench.said.pop(), Some(FromRig::Ack { setup: good }));
}

#[test]
fn power_off_is_zero_at_once_and_needs_a_new_session() {
    let mut bench = moving();
    bench.rig.set_inputs(Inputs {
        power: false,
        ..Inputs::default()
    });
    assert_eq!((bench.velocity(0), bench.velocity(1)), (0, 0));
    let state = bench.state();
    assert!(!state.power && state.session == 0);
    bench.send(&hello(9));
    assert!(matches!(bench.said.pop(), Some(FromRig::Hello(h)) if !h.axes[0].referenced));
    let setup = ToRig::Setup(Bench::setup(9, &wide_open()));
    assert_eq!(refused(&mut bench, &setup), Why::PowerOff);
    bench.rig.set_inputs(Inputs::default());
    assert!(!bench.drive(&[COUNT, 0]));
    assert_eq!(refused(&mut bench, &hello(SESSION)), Why::OldSession);
    assert_eq!(bench.rig.set_reference(0, 1234), Ok(()));
    bench.handshake(10, &wide_open());
    assert_eq!(bench.position(0), 1234);
    assert!(bench.drive(&[COUNT, 0]));
    bench.tick();
    assert_eq!(bench.rig.set_reference(0, 0), Err(Moving));
}

#[test]
fn nothing_is_said_or_done_before_a_hello() {
    let mut bench = Bench::new(config(&[axis("pan", 1667, 0)]), 0);
    bench.ticks(200);
    assert!(bench.said.is_empty());
    let setup = Bench::setup(SESSION, &[limits(None, 1, 1)]);
    assert_eq!(refused(&mut bench, &ToRig::Setup(setup)), Why::WrongSession);
    assert!(!bench.drive(&[COUNT]));
    bench.send(&hello(SESSION));
    bench.said.clear();
    assert!(!bench.drive(&[COUNT]), "no setup yet");
    bench.ticks(1000);
    assert_eq!(bench.said.len(), 50, "telemetry at 50 Hz");
    assert_eq!(bench.velocity(0), 0);
}

/// `applied` and `accepted` together show every gap; both begin anew with a session.
#[test]
fn what_was_taken_is_counted() {
    let mut bench = ready();
    for seq in [1, 2, 5, 6, 6, 4, 9] {
        bench.seq = seq - 1;
        bench.drive(&[COUNT, 0]);
    }
    assert_eq!((bench.state().applied, bench.state().accepted), (9, 5));
    assert!(bench.drive(&[0, 0]));
    bench.ticks(1);
    bench.handshake(SESSION + 1, &wide_open());
    assert_eq!((bench.state().applied, bench.state().accepted), (0, 0));
    assert!(bench.drive(&[COUNT, 0]));
    assert_eq!(bench.state().accepted, 1);
}

/// Each axis has its bit, from the start, after power off and after each reference found.
#[test]
fn telemetry_tells_which_axes_are_referenced() {
    let mut free = axis("turn", 1667, 0);
    free.referenced = false;
    let mut bench = Bench::ready(&[axis("pan", 1667, 0), free], &wide_open());
    assert_eq!(bench.state().referenced, 0b01);
    assert_eq!(bench.rig.set_reference(1, 7), Ok(()));
    assert_eq!(bench.state().referenced, 0b11);
    bench.rig.set_inputs(Inputs {
        power: false,
        ..Inputs::default()
    });
    assert_eq!(bench.state().referenced, 0);
    assert_eq!(bench.rig.set_reference(1, 7), Ok(()));
    assert_eq!(bench.state().referenced, 0b10);
}
