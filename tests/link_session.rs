//! The rig at the other end of the cable may say anything: what the session makes of it.

mod support;

use stillhand::link::accept::Refusal;
use stillhand::link::session::Standing;
use stillhand_engine::input::LinkEvent;
use stillhand_wire::frame::crc32;
use stillhand_wire::messages::{FromRig, RigHello, Unit};
use stillhand_wire::{ToRig, encode, heapless};

use support::desk::Desk;
use support::hall;

#[test]
fn an_honest_rig_is_met_and_follows() {
    let mut desk = Desk::new();
    desk.run(1_000);
    desk.pass(1_000);
    assert_eq!((desk.losses(), desk.met()), (vec![], 0));
    let told = desk.told();
    // 50 a second, and never back.
    assert!(told.len() >= 49, "{}", told.len());
    assert!(
        told.windows(2)
            .all(|two| two[0].position[0] < two[1].position[0])
    );
    let end = told.last().expect("some").position[0];
    let truth = f64::from(desk.rig.output(0).expect("pan").position) / hall::PER_DEG;
    assert!((end - truth).abs() < 1.0, "{end} against {truth}");
}

/// A change to a hello, and what the message must name.
type Lie = (&'static str, fn(&mut RigHello), &'static [&'static str]);

const LIES: &[Lie] = &[
    ("no axes", |h| h.axes.clear(), &["0 axes", "rig file 3"]),
    (
        "one axis less",
        |h| drop(h.axes.pop()),
        &["2 axes", "rig file 3"],
    ),
    (
        "eight axes",
        |h| {
            while h.axes.push(h.axes[0].clone()).is_ok() {}
        },
        &["8 axes", "rig file 3"],
    ),
    (
        "huge scale",
        |h| (h.axes[0].counts, h.axes[0].per_units) = (u32::MAX, 1),
        &["pan", "4294967295", "27.777778"],
    ),
    (
        "per 0 units",
        |h| h.axes[1].per_units = 0,
        &["tilt", "27.777778"],
    ),
    (
        "0 counts per 0 units",
        |h| (h.axes[2].counts, h.axes[2].per_units) = (0, 0),
        &["slide", "80"],
    ),
    ("0 counts", |h| h.axes[2].counts = 0, &["slide", "0", "80"]),
    (
        "another rig",
        |h| h.rig_id = heapless::String::try_from("barn").expect("short"),
        &["\"barn\"", "\"hall\""],
    ),
    ("no id", |h| h.rig_id.clear(), &["\"\"", "\"hall\""]),
    (
        "the other unit",
        |h| h.axes[0].unit = Unit::Mm,
        &["pan", "deg"],
    ),
    (
        "swapped axes",
        |h| h.axes.swap(0, 1),
        &["\"tilt\"", "\"pan\""],
    ),
    (
        "another version",
        |h| h.version = 9,
        &["version 9", "version 1"],
    ),
    ("no speed", |h| h.axes[1].max_speed = 0, &["tilt", "0"]),
    (
        "own ramps, no limits",
        |h| h.axes[0].own_ramps = true,
        &["pan", "ramps"],
    ),
    (
        "own ramps, half of the limits",
        |h| (h.axes[0].own_ramps, h.axes[0].max_accel) = (true, 5_000),
        &["pan", "ramps"],
    ),
];

#[test]
fn a_rig_that_contradicts_its_file_is_not_moved_until_it_agrees() {
    for (what, lie, names) in LIES {
        let mut desk = Desk::new();
        desk.twist_hello(*lie);
        desk.velocity[0] = 5_000;
        desk.pass(3_000);
        let Standing::Refused(refusal) = desk.session.standing() else {
            panic!("{what}: {:?}", desk.session.standing());
        };
        let message = refusal.explain(desk.session.rig());
        for name in *names {
            assert!(
                message.contains(name),
                "{what}: {name} is not in: {message}"
            );
        }
        let hello = |said: &ToRig| matches!(said, ToRig::Hello { .. });
        assert!(desk.said.iter().all(hello), "{what}: only greeted");
        // Somebody may plug the right one in: greeted about once a second, and met then.
        assert!(
            (3..=5).contains(&desk.said.len()),
            "{what}: {}",
            desk.said.len()
        );
        assert!(desk.events.is_empty(), "{what}: {:?}", desk.events);
        desk.honest();
        desk.pass(1_500);
        assert_eq!(*desk.session.standing(), Standing::Ready, "{what}");
    }
}

#[test]
fn own_ramps_with_their_limits_are_fine() {
    let mut desk = Desk::new();
    desk.twist_hello(|hello| {
        for axis in &mut hello.axes {
            (axis.own_ramps, axis.max_accel, axis.max_jerk) = (true, 2_000, 20_000);
        }
    });
    desk.meet();
}

/// Lower limits than the file's are obeyed, and become part of what the rig is asked to enforce.
#[test]
fn a_more_careful_rig_is_obeyed() {
    let mut desk = Desk::new();
    desk.twist_hello(|hello| {
        let pan = &mut hello.axes[0];
        (pan.max_speed, pan.max_accel, pan.max_jerk) = (500, 1_000, 9_000);
    });
    desk.pass(600);
    let Some(LinkEvent::Ready(report)) = desk.events.first() else {
        panic!("{:?}", desk.events);
    };
    let pan = report.axes[0];
    let deg = |told: Option<f64>| told.expect("told") * hall::PER_DEG;
    assert!((deg(pan.speed) - 500.0).abs() < 1e-6);
    assert!((deg(pan.accel) - 1_000.0).abs() < 1e-6);
    assert!((deg(pan.jerk) - 9_000.0).abs() < 1e-6);
    let setup = desk.said.iter().find_map(|said| match said {
        ToRig::Setup(setup) => Some(setup.clone()),
        _ => None,
    });
    let pan = setup.expect("was set up").axes[0];
    assert!(
        pan.stop_plus.accel <= 1_000 && pan.stop_minus.jerk <= 9_000,
        "{pan:?}"
    );
    assert_eq!(report.axes[1].accel, None, "0 is not told");
}

fn varint(mut value: u32, out: &mut Vec<u8>) {
    while value >= 0x80 {
        out.push(value as u8 | 0x80);
        value >>= 7;
    }
    out.push(value as u8);
}

/// COBS and CRC, by the protocol's page.
fn frame(mut payload: Vec<u8>) -> Vec<u8> {
    payload.extend(crc32(&payload).to_le_bytes());
    let mut out = vec![0];
    for piece in payload.split(|byte| *byte == 0) {
        for (place, part) in piece.chunks(254).enumerate() {
            assert!(place == 0, "short enough");
            out.push(part.len() as u8 + 1);
            out.extend(part);
        }
        if piece.is_empty() {
            out.push(1);
        }
    }
    out.push(0);
    out
}

fn hello_of(axes: u32, session: u32) -> Vec<u8> {
    let mut payload = vec![1, 0, 1];
    varint(session, &mut payload);
    payload.extend(b"\x04hall");
    varint(4711, &mut payload);
    varint(1, &mut payload);
    varint(axes, &mut payload);
    for _ in 0..axes {
        // name "a", 80 counts per 1 mm, 16000 counts/s, nothing else told.
        payload.extend(b"\x01a\x50\x01\x01\x80\x7d\x00\x00\x00\x01\x00\x00");
    }
    frame(payload)
}

#[test]
fn nine_axes_are_no_message_and_a_greeting_goes_on() {
    let mut desk = Desk::new();
    desk.twist(|_| None);
    desk.pass(10);
    // The same bytes with eight are a hello, so it is the ninth that counts.
    let session = desk.number();
    desk.session.on_bytes(desk.now, &hello_of(8, session));
    let eight = desk.session.standing().clone();
    assert_eq!(eight, Standing::Refused(Refusal::AxisCount { told: 8 }));
    let mut desk = Desk::new();
    desk.twist(|_| None);
    desk.pass(10);
    let damaged = desk.session.heard().count();
    desk.session.on_bytes(desk.now, &hello_of(9, session));
    assert!(desk.session.heard().count() > damaged);
    assert_eq!(*desk.session.standing(), Standing::Greeting);
    desk.honest();
    desk.meet();
}

#[test]
fn a_hello_with_any_bit_flipped_is_not_believed() {
    let mut desk = Desk::new();
    desk.twist(|_| None);
    desk.pass(10);
    let good = encode(&FromRig::Hello(desk.hello())).expect("fits");
    for bit in 0..good.len() * 8 {
        let mut bad = good.to_vec();
        bad[bit / 8] ^= 1 << (bit % 8);
        bad.push(0);
        desk.session.on_bytes(desk.now, &bad);
        assert_eq!(*desk.session.standing(), Standing::Greeting, "bit {bit}");
    }
    desk.session.on_bytes(desk.now, &good);
    assert_eq!(*desk.session.standing(), Standing::SettingUp);
}

#[test]
fn an_altered_echo_is_refused() {
    type Alter = fn(&mut stillhand_wire::messages::Setup);
    let alter: [Alter; 5] = [
        |s| s.watchdog_ms = 1_000,
        |s| s.axes[0].travel = None,
        |s| s.axes[1].stop_plus.accel -= 1,
        |s| s.axes.truncate(2),
        |s| s.axes[2].stop_minus.jerk += 1,
    ];
    for change in alter {
        let mut desk = Desk::new();
        desk.velocity[0] = 1_000;
        desk.twist(move |mut message| {
            if let FromRig::Ack { setup } = &mut message {
                change(setup);
            }
            Some(message)
        });
        desk.pass(900);
        assert_eq!(*desk.session.standing(), Standing::Refused(Refusal::Echo));
        let velocity = |said: &ToRig| matches!(said, ToRig::Velocity { .. });
        assert!(!desk.said.iter().any(velocity), "moved all the same");
    }
}

#[test]
fn a_rig_still_moving_is_waited_for() {
    let mut desk = Desk::new();
    desk.twist_hello(|hello| hello.axes[2].velocity = 1);
    desk.pass(2_000);
    assert_eq!(*desk.session.standing(), Standing::AwaitingRest);
    assert_eq!(desk.met(), 0);
    desk.honest();
    desk.meet();
}

#[test]
fn a_positions_wrap_is_no_jump() {
    let file = hall::RIG.replace(
        "travel = [\"-3000 deg\", \"3000 deg\"]",
        "travel = \"continuous\"",
    );
    let mut config = hall::config();
    config.axes[0].position = i32::MAX - 300;
    let mut desk = Desk::with(&file, config, 0);
    desk.run(1_500);
    desk.pass(2_000);
    assert!(desk.rig.output(0).expect("pan").position < 0, "it wrapped");
    let told = desk.told();
    let steps = told
        .windows(2)
        .map(|two| two[1].position[0] - two[0].position[0]);
    let way = 1_500.0 * 0.020 / hall::PER_DEG;
    for step in steps {
        assert!((step - way).abs() < 0.1, "{step} degrees in 20 ms");
    }
    for one in &told {
        let apart = one.position[0] - one.at_applied[0];
        assert!((0.0..1.0).contains(&apart), "{one:?}");
    }
    assert!(desk.losses().is_empty());
}

/// The rig's clock wraps after 71.6 minutes; not a frame is refused for it.
#[test]
fn a_clocks_wrap_costs_no_frame() {
    let mut desk = Desk::with(hall::RIG, hall::config(), u32::MAX - 2_000_000);
    desk.run(1_000);
    let before = desk.rig.telemetry(desk.clock_us()).frames_refused;
    desk.pass(3_000);
    assert!(desk.clock_us() < 4_000_000, "it wrapped");
    assert_eq!(desk.rig.telemetry(desk.clock_us()).frames_refused, before);
    assert_eq!((desk.losses(), desk.met()), (vec![], 0));
    assert_eq!(desk.rig.output(0).expect("pan").velocity, 1_000 * 1024);
}

/// A stop set cut to fit the wire would be softer in the rig than what the daemon reckons with.
#[test]
fn a_stop_set_beyond_the_wire_is_refused_with_its_numbers() {
    let file = hall::RIG
        .replace("scale = \"80 counts/mm\"", "scale = \"30000 counts/mm\"")
        .replace("speed = \"200 mm/s\"", "speed = \"50 mm/s\"");
    let mut config = hall::config();
    (config.axes[2].counts, config.axes[2].max_speed) = (30_000, 1_500_000);
    let mut desk = Desk::with(&file, config, 0);
    desk.pass(600);
    let Standing::Refused(refusal) = desk.session.standing() else {
        panic!("{:?}", desk.session.standing());
    };
    let message = refusal.explain(desk.session.rig());
    // 700 mm/s^2 and 7000 mm/s^3, against the limits of the protocol's page.
    for name in ["slide", "21000000", "210000000", "16777216", "2147483648"] {
        assert!(message.contains(name), "{name} is not in: {message}");
    }
}
