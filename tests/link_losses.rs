//! What a rig may do to a session in the middle of a move, and how the two meet again.

mod support;

use stillhand::link::hush::{Hush, LONGEST};
use stillhand::link::session::Standing;
use stillhand_engine::MAX_AXES;
use stillhand_engine::input::{LinkEvent, LinkLoss};
use stillhand_engine::output::Frame;
use stillhand_engine::time::Span;
use stillhand_rig::{Inputs, Rig};
use stillhand_wire::messages::{FromRig, Why, held};
use stillhand_wire::{ToRig, encode};

use support::desk::Desk;
use support::hall;

/// Frames sent while it may not be moved, and whether it moves.
fn assert_lost_and_still(desk: &mut Desk, loss: LinkLoss, what: &str) {
    assert_eq!(desk.losses(), [loss], "{what}");
    assert_eq!(desk.met(), 0, "{what}");
    assert_ne!(*desk.session.standing(), Standing::Ready, "{what}");
}

/// The engine withholds after a loss: zeros from here on, until the rig is met again.
fn withhold(desk: &mut Desk) {
    desk.velocity[0] = 0;
}

#[test]
fn silence_is_noticed_after_half_a_second() {
    let mut desk = Desk::new();
    desk.run(1_000);
    desk.twist(|_| None);
    desk.pass(470);
    assert!(desk.losses().is_empty(), "50 ms early at least");
    desk.pass(60);
    assert_lost_and_still(&mut desk, LinkLoss::Silent, "silence");
    // Greeted again and again, not in a flood.
    desk.said.clear();
    desk.pass(2_000);
    let hellos = desk.said.len();
    assert!((7..=9).contains(&hellos), "{hellos} in 2 s");
    withhold(&mut desk);
    desk.honest();
    desk.pass(1_000);
    assert_eq!(
        (*desk.session.standing() == Standing::Ready, desk.met()),
        (true, 1)
    );
}

#[test]
fn another_session_in_mid_move_is_a_restart() {
    let mut desk = Desk::new();
    desk.run(1_000);
    desk.twist_told(|told| told.session = 0);
    desk.pass(25);
    assert_lost_and_still(&mut desk, LinkLoss::Restarted, "session 0");
    withhold(&mut desk);
    desk.pass(5_000);
    assert_eq!((desk.losses().len(), desk.met()), (1, 0), "told once");
    desk.honest();
    desk.pass(1_500);
    assert_eq!(desk.met(), 1);
}

/// The rig lost its supply for a moment: it is silent until it is greeted.
#[test]
fn a_rig_switched_off_and_on_is_met_anew() {
    let mut desk = Desk::new();
    desk.run(1_000);
    let mut config = hall::config();
    config.boot_id += 1;
    desk.rig = Rig::new(config, Inputs::default(), desk.clock_us());
    desk.pass(600);
    assert_eq!(desk.losses(), [LinkLoss::Silent]);
    withhold(&mut desk);
    desk.pass(600);
    assert_eq!(desk.met(), 1);
    assert_eq!(desk.rig.output(0).expect("pan").velocity, 0);
}

/// A hello of this very session with another boot id: it has started again behind our back.
#[test]
fn another_boot_in_mid_move_is_a_restart() {
    let mut desk = Desk::new();
    desk.run(1_000);
    let mut hello = desk.hello();
    // A late repetition of the answer that was believed changes nothing.
    desk.inject(&FromRig::Hello(hello.clone()));
    assert_eq!((desk.losses(), desk.met()), (vec![], 0));
    assert_eq!(*desk.session.standing(), Standing::Ready);
    hello.boot_id += 1;
    desk.inject(&FromRig::Hello(hello));
    assert_lost_and_still(&mut desk, LinkLoss::Restarted, "another boot");
    withhold(&mut desk);
    desk.pass(1_000);
    assert_eq!(desk.met(), 1);
}

/// A refusal of the session in force: the rig no longer does what was agreed.
#[test]
fn a_refusal_in_mid_move_is_a_loss() {
    for why in [
        Why::NotAtRest,
        Why::WrongSession,
        Why::PowerOff,
        Why::BadRamp,
    ] {
        let mut desk = Desk::new();
        desk.run(1_000);
        let session = desk.number();
        desk.inject(&FromRig::Refused { session, why });
        assert_lost_and_still(&mut desk, LinkLoss::Restarted, "refused");
        withhold(&mut desk);
        desk.pass(1_500);
        assert_eq!(desk.met(), 1, "{why:?}");
        // One of an earlier session is old news.
        desk.events.clear();
        desk.inject(&FromRig::Refused { session, why });
        assert_eq!(*desk.session.standing(), Standing::Ready, "{why:?}");
        assert!(desk.events.is_empty());
    }
}

#[test]
fn telemetry_of_other_axes_is_not_believed() {
    for count in [0, 1, 2, 4, 8] {
        let mut desk = Desk::new();
        desk.run(1_000);
        desk.twist_told(move |told| {
            let pan = told.axes[0];
            told.axes.clear();
            for _ in 0..count {
                told.axes.push(pan).expect("at most eight");
            }
        });
        desk.pass(25);
        assert_lost_and_still(&mut desk, LinkLoss::Disagrees, "axis count");
        // It goes on contradicting itself: met and lost again, but not many times a second.
        withhold(&mut desk);
        desk.pass(5_000);
        assert!(desk.met() <= 6, "{count}: met {} times in 5 s", desk.met());
        desk.honest();
        desk.pass(2_500);
        assert_eq!(*desk.session.standing(), Standing::Ready, "{count}");
    }
}

/// A fault or the stop input lasts: one loss, one message, and met again when it is over.
#[test]
fn a_lasting_fault_is_told_once() {
    let fault = Inputs {
        faults: 1,
        ..Inputs::default()
    };
    let stop = Inputs {
        stop_input: true,
        ..Inputs::default()
    };
    for (inputs, loss) in [(fault, LinkLoss::Fault), (stop, LinkLoss::StopInput)] {
        let mut desk = Desk::new();
        desk.run(1_000);
        desk.rig.set_inputs(inputs);
        desk.pass(25);
        assert_lost_and_still(&mut desk, loss, "lasting");
        withhold(&mut desk);
        desk.pass(5_000);
        assert_eq!((desk.losses(), desk.met()), (vec![loss], 0), "told once");
        assert_eq!(desk.rig.output(0).expect("pan").velocity, 0);
        desk.rig.set_inputs(Inputs::default());
        desk.pass(700);
        assert_eq!((desk.losses().len(), desk.met()), (1, 1), "met again");
        // And it may be moved.
        desk.velocity[0] = 200 * 1024;
        desk.pass(100);
        assert_eq!(desk.rig.output(0).expect("pan").velocity, 200 * 1024);
    }
}

/// A rig that finds its reference ends the session. While a fault holds it, that is news of the next one only.
#[test]
fn a_reference_found_while_it_is_held_does_not_hold_it_for_ever() {
    let mut desk = Desk::new();
    desk.run(1_000);
    desk.rig.set_inputs(Inputs {
        faults: 1,
        ..Inputs::default()
    });
    withhold(&mut desk);
    desk.pass(1_000);
    desk.rig.set_reference(0, 500).expect("at rest");
    desk.pass(1_000);
    desk.rig.set_inputs(Inputs::default());
    assert_eq!((desk.losses(), desk.met()), (vec![LinkLoss::Fault], 0));
    desk.pass(1_500);
    assert_eq!(*desk.session.standing(), Standing::Ready);
    assert_eq!(desk.met(), 1);
}

/// The same when it is there from the start.
#[test]
fn a_fault_from_the_start_is_told_once() {
    let mut desk = Desk::new();
    desk.rig.set_inputs(Inputs {
        faults: 0x8000,
        ..Inputs::default()
    });
    desk.pass(5_000);
    assert_eq!(desk.losses(), [LinkLoss::Fault]);
    desk.rig.set_inputs(Inputs::default());
    desk.events.clear();
    desk.pass(700);
    assert_eq!((desk.losses(), desk.met()), (vec![], 1));
}

/// A press on the rig's stop shorter than the time between two tellings leaves only `held` behind.
#[test]
fn a_short_press_of_the_rigs_stop_is_not_missed() {
    let stop = Inputs {
        stop_input: true,
        ..Inputs::default()
    };
    let fault = Inputs {
        faults: 2,
        ..Inputs::default()
    };
    for (inputs, loss) in [(stop, LinkLoss::StopInput), (fault, LinkLoss::Fault)] {
        let mut desk = Desk::new();
        desk.run(1_000);
        // Just after a telling.
        let told = desk.told().len();
        while desk.told().len() == told {
            desk.pass(1);
        }
        desk.rig.set_inputs(inputs);
        desk.pass(2);
        desk.rig.set_inputs(Inputs::default());
        desk.pass(25);
        assert_lost_and_still(&mut desk, loss, "short");
        withhold(&mut desk);
        desk.pass(1_500);
        assert_eq!((desk.losses().len(), desk.met()), (1, 1), "{loss:?}");
    }
}

#[test]
fn the_rigs_watchdog_is_noticed_and_one_meeting_is_enough() {
    let mut desk = Desk::new();
    desk.run(1_000);
    // Nothing gets through to the rig for a while.
    let read = |desk: &mut Desk, ms| {
        for _ in 0..ms {
            desk.now = desk.now + stillhand_engine::time::Span::from_millis(1);
            let clock = desk.clock_us();
            let mut back = Vec::new();
            desk.rig
                .tick(clock, &mut |frame| back.extend_from_slice(frame));
            let now = desk.now;
            desk.session.on_bytes(now, &back);
        }
    };
    read(&mut desk, 160);
    desk.pass(30);
    assert_lost_and_still(&mut desk, LinkLoss::RigStopped, "watchdog");
    withhold(&mut desk);
    desk.pass(2_000);
    assert_eq!((desk.losses().len(), desk.met()), (1, 1));
    assert_eq!(desk.rig.telemetry(desk.clock_us()).held & held::WATCHDOG, 0);
}

#[test]
fn power_off_and_on_is_met_unreferenced() {
    let mut desk = Desk::new();
    desk.run(1_000);
    desk.rig.set_inputs(Inputs {
        power: false,
        ..Inputs::default()
    });
    desk.pass(25);
    // Power off ends the rig's session too; either way nothing is sent any more.
    assert_eq!(desk.losses(), [LinkLoss::PowerOff]);
    desk.said.clear();
    withhold(&mut desk);
    desk.pass(3_000);
    assert_eq!(*desk.session.standing(), Standing::PowerOff);
    let velocity = |said: &ToRig| matches!(said, ToRig::Velocity { .. });
    assert!(
        !desk.said.iter().any(velocity),
        "frames to a rig without power"
    );
    assert_eq!((desk.losses().len(), desk.met()), (1, 0));
    desk.rig.set_inputs(Inputs::default());
    desk.pass(800);
    let ready = desk.events.iter().find_map(|event| match event {
        LinkEvent::Ready(report) => Some(*report),
        _ => None,
    });
    let report = ready.expect("met again");
    assert!(
        report.axes[..3].iter().all(|axis| !axis.referenced),
        "unreferenced"
    );
}

#[test]
fn a_stall_begins_a_new_session_and_the_old_frames_are_foreign() {
    let mut desk = Desk::new();
    desk.run(1_000);
    let old = desk.number();
    let frame = ToRig::Velocity {
        session: old,
        seq: 1_000_000,
        deadline_us: desk.clock_us().wrapping_add(100_000),
        velocity: heapless_of(&[1_024_000, 0, 0]),
    };
    desk.session.stalled(desk.now);
    desk.pass(1);
    assert_lost_and_still(&mut desk, LinkLoss::Stalled, "stalled");
    withhold(&mut desk);
    desk.pass(1_500);
    assert_eq!(desk.met(), 1);
    assert_ne!(desk.number(), old);
    let clock = desk.clock_us();
    let bytes = encode(&frame).expect("fits");
    desk.rig.on_bytes(&bytes, clock, &mut |_| {});
    desk.pass(8);
    assert_eq!(
        desk.rig.output(0).expect("pan").velocity,
        0,
        "an old frame moved it"
    );
}

fn heapless_of(values: &[i32]) -> stillhand_wire::messages::PerAxis<i32> {
    values.iter().copied().collect()
}

/// A rig that floods the line fills no memory, and a loss gets through all the same.
#[test]
fn a_flood_is_bounded_and_hides_no_loss() {
    let mut desk = Desk::new();
    desk.run(1_000);
    let mut told = desk.rig.telemetry(desk.clock_us());
    // Each a microsecond after the one before: the same again would be no news.
    let mut flood = |desk: &mut Desk, count: u32, faults: u16| {
        for _ in 0..count {
            told.clock_us = told.clock_us.wrapping_add(1);
            told.faults = faults;
            let bytes = encode(&FromRig::Telemetry(told.clone())).expect("fits");
            desk.session.on_bytes(desk.now, &bytes);
        }
    };
    flood(&mut desk, 10_000, 0);
    flood(&mut desk, 1, 1);
    flood(&mut desk, 10_000, 0);
    let mut events = Vec::new();
    while let Some(event) = desk.session.next_event() {
        events.push(event);
    }
    assert!(events.len() <= 32, "{}", events.len());
    assert_eq!(events.last(), Some(&LinkEvent::Lost(LinkLoss::Fault)));
}

/// Frames left out on purpose are a loss with a name of its own, for no longer than is allowed, and only once there is
/// a rig to miss them.
#[test]
fn a_hush_is_named_bounded_and_needs_a_rig() {
    let mut desk = Desk::new();
    let mut hush = Hush::default();
    let long = Span::from_millis(60_000);
    assert!(
        !hush.begin(desk.now, long, &mut desk.session),
        "nobody there"
    );
    desk.run(1_000);
    let (began, old) = (desk.now, desk.number());
    assert!(hush.begin(began, long, &mut desk.session));
    assert!(!hush.begin(began, long, &mut desk.session), "one at a time");
    let lost = desk.session.next_event().expect("a loss");
    assert_eq!(hush.named(lost), LinkEvent::Lost(LinkLoss::Hushed));
    let frame = Frame {
        seq: 1_000,
        velocity: [0; MAX_AXES],
    };
    assert_eq!(
        desk.session.velocity(began, &frame),
        None,
        "no frame meanwhile"
    );
    assert!(hush.holds(began + Span(LONGEST.0 - 1)));
    assert!(!hush.holds(began + LONGEST), "no longer than that");
    // From then on the rig is met anew.
    desk.velocity = [0; MAX_AXES];
    desk.pass(1_500);
    assert_eq!(desk.met(), 1);
    assert_ne!(desk.number(), old);
}
