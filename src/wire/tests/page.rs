//! Every worked frame of PROTOCOL.md encodes to and decodes from exactly the documented bytes, and the
//! sizes and vectors the page and the code name are true.

mod common;

use common::Random;
use stillhand_wire::frame::{
    Counts, FromRigDeframer, MAX_FROM_RIG_FRAME, MAX_FROM_RIG_PAYLOAD, MAX_TELEMETRY_FRAME,
    MAX_TO_RIG_FRAME, MAX_TO_RIG_PAYLOAD, MAX_VELOCITY_FRAME, ToRigDeframer, crc32, frame_len,
};
use stillhand_wire::heapless::{String, Vec};
use stillhand_wire::messages::{
    AxisHello, AxisSetup, AxisTelemetry, FromRig, MAX_AXES, Message, Ramp, RigHello, Setup,
    Telemetry, ToRig, Unit,
};
use stillhand_wire::{Deframer, encode};

const PAGE: &str = include_str!("../PROTOCOL.md");

fn hex(bytes: &[u8]) -> std::string::String {
    bytes
        .iter()
        .map(|b| format!("{b:02x}"))
        .collect::<std::vec::Vec<_>>()
        .join(" ")
}

fn check<M: Message + PartialEq + std::fmt::Debug>(json: &str, documented: &[u8]) {
    let message: M = serde_json::from_str(json).expect(json);
    let frame = encode(&message).expect("fits");
    assert_eq!(hex(&frame), hex(documented), "{json}");
    let mut deframer = Deframer::<MAX_FROM_RIG_FRAME>::new();
    let mut got = std::vec::Vec::new();
    deframer.feed(documented, |m: M| got.push(m));
    assert_eq!(got, [message], "{json}");
}

/// A worked frame is a code block: a line `to rig: JSON` or `from rig: JSON`, then lines of hex.
#[test]
fn worked_frames_are_true() {
    let mut seen = 0;
    for block in PAGE.split("```").skip(1).step_by(2) {
        let (head, rest) = block.trim().split_once('\n').expect("two lines");
        let (direction, json) = head.split_once(": ").expect("direction");
        let bytes: std::vec::Vec<u8> = rest
            .split_whitespace()
            .map(|b| u8::from_str_radix(b, 16).expect("hex"))
            .collect();
        match direction {
            "to rig" => check::<ToRig>(json, &bytes),
            "from rig" => check::<FromRig>(json, &bytes),
            other => panic!("block starts with {other}"),
        }
        seen += 1;
    }
    assert!(seen >= 8, "only {seen} worked frames");
}

/// Check value and residues of the CRC catalogue, CRC-32/ISO-HDLC; crccheck 1.3.1, fastcrc 0.5.0.
#[test]
fn crc_vectors() {
    let up: std::vec::Vec<u8> = (0..0x20).collect();
    let down: std::vec::Vec<u8> = (0..0x20).rev().collect();
    for (bytes, crc) in [
        (&b"123456789"[..], 0xcbf4_3926),
        (b"", 0),
        (b"\x00", 0xd202_ef8d),
        (b"\xff", 0xff00_0000),
        (&[0; 32], 0x190a_55ad),
        (&[0xff; 32], 0xff6c_ab0b),
        (&up, 0x9126_7e8a),
        (&down, 0x9ab0_ef72),
    ] {
        assert_eq!(crc32(bytes), crc, "{bytes:02x?}");
    }
}

/// Cheshire & Baker 1999 (figure 3: the IP header), and cobs (PyPI) 1.2.2.
#[test]
fn cobs_vectors() {
    let run = |from: u8, to: u8| (from..=to).collect::<std::vec::Vec<u8>>();
    let join = |parts: &[&[u8]]| parts.concat();
    let cases = [
        (std::vec![0], std::vec![1, 1]),
        (std::vec![0, 0x11, 0], std::vec![1, 2, 0x11, 1]),
        (
            std::vec![0x11, 0x22, 0x33, 0x44],
            std::vec![5, 0x11, 0x22, 0x33, 0x44],
        ),
        (run(1, 0xfe), join(&[&[0xff], &run(1, 0xfe)])),
        (run(1, 0xff), join(&[&[0xff], &run(1, 0xfe), &[2, 0xff]])),
        (
            join(&[&run(3, 0xff), &[0, 1]]),
            join(&[&[0xfe], &run(3, 0xff), &[2, 1]]),
        ),
        (
            std::vec![0x45, 0, 0, 0x2c, 0x4c, 0x79, 0, 0, 0x40, 6, 0x4f, 0x37],
            std::vec![2, 0x45, 1, 4, 0x2c, 0x4c, 0x79, 1, 5, 0x40, 6, 0x4f, 0x37],
        ),
    ];
    for (plain, encoded) in cases {
        let mut out = [0; 300];
        let n = cobs::encode(&plain, &mut out);
        assert_eq!(out[..n], encoded[..]);
        let n = cobs::decode_in_place(&mut out[..n]).expect("decodes");
        assert_eq!(out[..n], plain[..]);
    }
}

fn eight<T: Clone>(item: T) -> Vec<T, MAX_AXES> {
    (0..MAX_AXES).map(|_| item.clone()).collect()
}

fn largest_setup() -> Setup {
    let ramp = Ramp {
        accel: u32::MAX,
        jerk: u32::MAX,
    };
    Setup {
        session: u32::MAX,
        watchdog_ms: u16::MAX,
        axes: eight(AxisSetup {
            travel: Some((i32::MIN, i32::MAX)),
            stop_plus: ramp,
            stop_minus: ramp,
        }),
    }
}

/// Payload of the largest message of each kind: as long as its constant says, so that no frame is cut and no buffer is wasted.
#[test]
fn largest_messages_fit_exactly() {
    use stillhand_wire::frame::{MAX_TELEMETRY_PAYLOAD, MAX_VELOCITY_PAYLOAD};
    fn payload<M: Message>(message: &M) -> usize {
        let frame = encode(message).expect("fits");
        let mut plain = frame[..frame.len() - 1].to_vec();
        cobs::decode_in_place(&mut plain).expect("own frame") - 4
    }
    let m = u32::MAX;
    let velocity = ToRig::Velocity {
        session: m,
        seq: m,
        deadline_us: m,
        velocity: eight(i32::MIN),
    };
    let hello = FromRig::Hello(RigHello {
        version: 255,
        session: m,
        rig_id: String::try_from("12345678901234567890123456789012").expect("32"),
        boot_id: m,
        clock_us: m,
        axes: eight(AxisHello {
            name: String::try_from("1234567890123456").expect("16"),
            counts: m,
            per_units: m,
            unit: Unit::Mm,
            max_speed: m,
            max_accel: m,
            max_jerk: m,
            own_ramps: true,
            referenced: true,
            position: i32::MIN,
            velocity: i32::MIN,
        }),
    });
    let telemetry = FromRig::Telemetry(Telemetry {
        session: m,
        clock_us: m,
        applied: m,
        accepted: m,
        axes: eight(AxisTelemetry {
            at_applied: i32::MIN,
            position: i32::MIN,
            velocity: i32::MIN,
        }),
        power: true,
        stop_input: true,
        energised: true,
        brakes: 255,
        faults: u16::MAX,
        held: 255,
        at_end: 255,
        referenced: 255,
        supply_mv: Some(u16::MAX),
        drive_c: Some(-128),
        frames_refused: m,
    });
    assert_eq!(payload(&ToRig::Setup(largest_setup())), MAX_TO_RIG_PAYLOAD);
    assert_eq!(payload(&velocity), MAX_VELOCITY_PAYLOAD);
    assert_eq!(payload(&telemetry), MAX_TELEMETRY_PAYLOAD);
    assert_eq!(payload(&hello), MAX_FROM_RIG_PAYLOAD);
    assert!(
        payload(&FromRig::Ack {
            setup: largest_setup()
        }) <= MAX_FROM_RIG_PAYLOAD
    );
    for (name, n) in [
        ("to the rig", MAX_TO_RIG_FRAME),
        ("(velocity", MAX_VELOCITY_FRAME),
        ("from the rig", MAX_FROM_RIG_FRAME),
        ("(telemetry", MAX_TELEMETRY_FRAME),
    ] {
        assert!(
            PAGE.replace('\n', " ").contains(&format!("{name} {n}")),
            "the page should say {name} {n}"
        );
    }
    assert_eq!(frame_len(MAX_VELOCITY_PAYLOAD), MAX_VELOCITY_FRAME);
}

#[test]
fn any_chunking_and_any_garbage_between() {
    let mut random = Random(1);
    for round in 0..200 {
        let mut line = std::vec::Vec::new();
        let mut sent = std::vec::Vec::new();
        for _ in 0..20 {
            match random.below(4) {
                0 => {
                    let n = random.below(700);
                    line.extend((0..n).map(|_| random.next() as u8 | 1));
                    line.push(0);
                }
                1 => line.push(0),
                _ => {}
            }
            let message = random.any_to_rig();
            line.extend_from_slice(&encode(&message).expect("fits"));
            sent.push(message);
        }
        let mut deframer = ToRigDeframer::new();
        let mut got = std::vec::Vec::new();
        let mut rest = &line[..];
        while !rest.is_empty() {
            let n = (1 + random.below(90) as usize).min(rest.len());
            deframer.feed(&rest[..n], |m: ToRig| got.push(m));
            rest = &rest[n..];
        }
        assert_eq!(got, sent, "round {round}");
        assert_eq!(deframer.counts().good as usize, sent.len());
    }
}

/// One to three changed bytes (a burst of up to 24 bits: a CRC-32 finds every burst up to 32 bits), a cut, a lost byte: rejected and
/// counted, and the next frame is read.
#[test]
fn damaged_frames_are_rejected() {
    let mut random = Random(2);
    let good = encode(&ToRig::Hello {
        version: 1,
        session: 7,
    })
    .expect("fits");
    for round in 0..20_000 {
        let frame = encode(&random.any_from_rig()).expect("fits");
        let mut damaged = frame.to_vec();
        let at = random.below(frame.len() as u64 - 1) as usize;
        match random.below(3) {
            0 => {
                for byte in damaged.iter_mut().skip(at).take(1 + round % 3) {
                    *byte ^= 1 + random.below(255) as u8;
                }
            }
            1 => damaged.truncate(at),
            _ => _ = damaged.remove(at),
        }
        damaged.push(0);
        let mut deframer = FromRigDeframer::new();
        let mut got = 0;
        deframer.feed(&damaged, |_: FromRig| got += 1);
        assert_eq!(got, 0, "round {round}: {frame:02x?} as {damaged:02x?}");
        let mut after = None;
        deframer.feed(&good, |m: ToRig| after = Some(m));
        assert!(after.is_some(), "round {round}");
    }
}

#[test]
fn echoed_frames_and_left_over_bytes_are_foreign() {
    let setup = largest_setup();
    let ack = encode(&FromRig::Ack { setup }).expect("fits");
    let mut deframer = ToRigDeframer::new();
    deframer.feed(&ack, |m: ToRig| panic!("{m:?}"));
    assert_eq!(
        deframer.counts(),
        Counts {
            foreign: 1,
            ..Counts::default()
        }
    );

    let mut plain = std::vec![0, 0, 1, 7, 99];
    plain.extend(crc32(&plain).to_le_bytes());
    let mut line = [0; 32];
    let n = cobs::encode(&plain, &mut line);
    deframer.feed(&line[..=n], |m: ToRig| panic!("{m:?}"));
    assert_eq!(deframer.counts().foreign, 2);
}
