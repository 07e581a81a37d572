//! Consent as the pads give it: per control, and taken by each withholding event.

use super::bench::*;
use crate::input::{Button, Control, LinkLoss, PadBus, PadEvent, StopSource};
use crate::output::{State, Why};
use crate::time::Span;

type Event = fn(&mut Bench);

#[test]
fn a_first_value_outside_the_deadband_moves_nothing_however_long_it_stays() {
    let mut bench = Bench::new();
    bench.meet(0);
    bench.plug(DRIVER);
    bench.push(Control::Rx, 0.5);
    bench.run(5_000);
    assert!(bench.at_rest());
    assert_eq!(bench.state(), State::Withheld(Why::Start));
    bench.push(Control::Rx, 0.0);
    bench.run(220);
    bench.push(Control::Rx, 0.5);
    bench.run(200);
    assert!(bench.speed(PAN) > 0.0);
}

#[test]
fn a_stick_that_trembles_at_the_edge_is_neither_centred_nor_pushed() {
    let mut bench = Bench::new();
    bench.meet(0);
    bench.plug(DRIVER);
    // The deadband is 0.1; a fifth of it is hysteresis.
    bench.push(Control::Rx, 0.09);
    bench.run(1_000);
    assert!(!bench.axis(PAN).armed);
    bench.push(Control::Rx, -0.079);
    bench.run(220);
    assert!(bench.axis(PAN).armed);
}

#[test]
fn unknown_controls_arm_nothing_and_block_nobody() {
    let mut bench = Bench::new();
    bench.meet(0);
    bench.plug(DRIVER);
    bench.run(2_000);
    assert_eq!(bench.state(), State::Withheld(Why::Start));
    bench.push(Control::Ry, 0.0);
    bench.run(220);
    assert_eq!(bench.state(), State::Driving);
    assert!(bench.axis(TILT).armed && !bench.axis(PAN).armed);
}

/// Everything that withholds, and what is needed so that motion could begin again.
const WITHHOLD: [(&str, Event); 11] = [
    ("pad pulled and plugged in again", |bench| {
        bench.pad(DRIVER, PadEvent::Unplugged);
        bench.tick();
        bench.plug(DRIVER);
    }),
    ("pad plugged in again, its unplug missed", |bench| {
        bench.plug(DRIVER)
    }),
    ("pad silent", |bench| bench.run(12_000)),
    ("link lost and back", |bench| {
        bench.lose(0, LinkLoss::Unplugged);
        bench.tick();
        bench.meet(0);
    }),
    ("link lost and back within a tick", |bench| {
        bench.lose(0, LinkLoss::Silent);
        bench.meet(0);
    }),
    ("power lost and back", |bench| {
        bench.lose(0, LinkLoss::PowerOff);
        bench.run(2_000);
        bench.meet(0);
    }),
    ("rig met anew without a loss", |bench| bench.meet(0)),
    ("stop, released", |bench| {
        bench.stop = Some(StopSource::Command);
        bench.tick();
        bench.push(Control::Rx, 0.0);
        bench.push(Control::Ry, 0.0);
        bench.press(DRIVER, Button::Start);
        bench.run(604);
        bench.lift(DRIVER, Button::Start);
    }),
    ("a late tick", |bench| {
        bench.tick_after(Span::from_millis(90));
    }),
    ("pushed out of place", |bench| {
        let frame = bench.frame(0).expect("one each tick");
        bench.tick();
        bench.told(frame.seq, 90.0);
    }),
    ("another operator", |bench| {
        bench.push(Control::Rx, 0.0);
        bench.push(Control::Ry, 0.0);
        bench.run(1_000);
        let mut other = operator(1);
        other.name.push_str(" of another");
        bench.offered = Some(other);
        bench.tick();
    }),
];

/// After each of them a stick held over moves nothing, and a stick let go arms its own axis alone.
#[test]
fn each_withholding_event_takes_every_consent_and_each_control_earns_its_own_again() {
    for (name, event) in WITHHOLD {
        let mut bench = Bench::new();
        bench.meet(0);
        bench.plug_as(DRIVER, PadBus::Bluetooth, true);
        bench.let_go();
        bench.push(Control::Rx, 1.0);
        bench.run(1_000);
        assert_eq!(bench.speed(PAN), FULL, "{name}");
        event(&mut bench);
        // Held over from now on; the other one let go.
        bench.push(Control::Rx, 0.99);
        bench.push(Control::Ry, 0.0);
        bench.tick();
        assert!(!bench.axis(PAN).armed && !bench.axis(TILT).armed, "{name}");
        assert!(
            matches!(bench.state(), State::Withheld(_)),
            "{name}: {:?}",
            bench.state()
        );
        bench.run(192);
        assert!(!bench.axis(TILT).armed, "{name}: too early");
        bench.run(16);
        assert!(bench.axis(TILT).armed && !bench.axis(PAN).armed, "{name}");
        bench.push(Control::Ry, -1.0);
        bench.run(1_000);
        assert_eq!(
            (bench.speed(PAN), bench.speed(TILT)),
            (0.0, -FULL),
            "{name}"
        );
        bench.push(Control::Rx, 0.0);
        bench.run(208);
        bench.push(Control::Rx, -1.0);
        bench.run(1_000);
        assert_eq!(bench.speed(PAN), -FULL, "{name}");
    }
}
