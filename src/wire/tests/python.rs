//! The other end, written in Python from PROTOCOL.md alone, agrees byte for byte in both directions.

mod common;

use common::Random;
use serde_json::{Value, json};
use std::io::Write;
use std::process::{Command, Stdio};
use stillhand_wire::frame::{FromRigDeframer, ToRigDeframer};
use stillhand_wire::{FromRig, RESYNC, ToRig, encode};

const CODEC: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/protocol/codec.py");
const MESSAGES: usize = 4000;

/// Runs the codec with `input`; a thread writes so that neither pipe can fill up and block.
fn codec(mode: &str, input: Vec<u8>) -> Vec<u8> {
    let mut child = Command::new("python3")
        .args([CODEC, mode])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("python3 is installed");
    let mut stdin = child.stdin.take().expect("piped");
    let writer = std::thread::spawn(move || stdin.write_all(&input).expect("codec reads"));
    let output = child.wait_with_output().expect("codec ends");
    writer.join().expect("writer");
    assert!(output.status.success(), "{:?}", output.status);
    output.stdout
}

/// Random messages of both directions as JSON and as frames.
fn messages(seed: u64) -> Vec<(Value, Vec<u8>)> {
    let mut random = Random(seed);
    (0..MESSAGES)
        .map(|_| {
            if random.coin() {
                let message = random.any_to_rig();
                (
                    json!({ "to_rig": message }),
                    encode(&message).expect("fits").to_vec(),
                )
            } else {
                let message = random.any_from_rig();
                (
                    json!({ "from_rig": message }),
                    encode(&message).expect("fits").to_vec(),
                )
            }
        })
        .collect()
}

fn reports(line: Vec<u8>) -> Vec<Value> {
    let out = String::from_utf8(codec("decode", line)).expect("text");
    out.lines()
        .map(|l| serde_json::from_str(l).expect(l))
        .collect()
}

#[test]
fn python_reads_what_rust_writes() {
    let messages = messages(11);
    let line = messages
        .iter()
        .flat_map(|(_, frame)| RESYNC.iter().chain(frame))
        .copied()
        .collect();
    let reports = reports(line);
    assert_eq!(reports.len(), MESSAGES);
    for (report, (message, frame)) in reports.iter().zip(&messages) {
        assert_eq!(report["ok"], *message, "{frame:02x?}");
    }
}

#[test]
fn python_writes_the_same_bytes() {
    let messages = messages(12);
    let lines = messages
        .iter()
        .map(|(json, _)| format!("{json}\n"))
        .collect::<String>();
    let expected: Vec<u8> = messages.into_iter().flat_map(|(_, frame)| frame).collect();
    assert!(
        codec("encode", lines.into_bytes()) == expected,
        "frames differ"
    );
}

/// Both ends give the same verdict on damaged runs; with one to four neighbouring bytes changed that verdict is no.
#[test]
fn both_reject_damage() {
    let mut random = Random(13);
    let mut line = Vec::new();
    let mut verdicts = Vec::new();
    for (_, frame) in messages(14) {
        let mut run = frame;
        let at = random.below(run.len() as u64 - 1) as usize;
        let burst = 1 + random.below(4) as usize;
        for byte in run[..].iter_mut().skip(at).take(burst) {
            *byte ^= 1 + random.below(255) as u8;
        }
        run.retain(|b| *b != 0);
        run.push(0);
        let mut to_rig = ToRigDeframer::new();
        let mut from_rig = FromRigDeframer::new();
        let mut taken = false;
        to_rig.feed(&run, |_: ToRig| taken = true);
        from_rig.feed(&run, |_: FromRig| taken = true);
        if run.len() > 1 {
            verdicts.push(taken);
            line.extend(run);
        }
    }
    assert!(verdicts.iter().all(|taken| !taken));
    let reports = reports(line);
    assert_eq!(reports.len(), verdicts.len());
    for report in reports {
        assert!(report["bad"].is_string(), "{report}");
    }
}

/// Payloads with a correct CRC but any content: both ends agree on which are messages, and on what they say.
#[test]
fn both_judge_arbitrary_payloads_alike() {
    let mut random = Random(15);
    let mut line = Vec::new();
    let mut verdicts = Vec::new();
    for (json, frame) in messages(16) {
        let mut plain = frame[..frame.len() - 1].to_vec();
        let n = cobs::decode_in_place(&mut plain).expect("own frame");
        plain.truncate(n - 4);
        let at = random.below(plain.len() as u64) as usize;
        plain[at] = random.next() as u8;
        let crc = stillhand_wire::frame::crc32(&plain).to_le_bytes();
        plain.extend(crc);
        let mut run = vec![0; plain.len() + 8];
        let n = cobs::encode(&plain, &mut run);
        run.truncate(n + 1);
        let mut said = Value::Null;
        ToRigDeframer::new().feed(&run, |m: ToRig| said = json!({ "to_rig": m }));
        FromRigDeframer::new().feed(&run, |m: FromRig| said = json!({ "from_rig": m }));
        verdicts.push((said, json));
        line.extend(run);
    }
    let reports = reports(line);
    assert_eq!(reports.len(), verdicts.len());
    let mut refused = 0;
    for (report, (said, original)) in reports.iter().zip(&verdicts) {
        assert_eq!(
            report.get("ok").unwrap_or(&Value::Null),
            said,
            "from {original}: {report}"
        );
        refused += usize::from(said.is_null());
    }
    assert!(
        refused > 100 && refused < MESSAGES - 100,
        "{refused} refused: the test should see both"
    );
}
