//! Raw reports as signs of life, from the node to the wire: real gilrs and the unmodified daemon, a FIFO in the
//! place of `/dev/hidrawN`. No HID device is behind it: what its kernel, its radio or its receiver would do is
//! not shown here.

mod support;

use std::time::{Duration, Instant};

use support::fakepad::code::*;
use support::fakepad::raw::Flow;
use support::fakepad::{Bus, FakePad};
use support::hall::{FAST, PER_DEG};
use support::stage::{CENTRE, FULL, PAD, Plan};
use support::steady::steadily;
use support::tape::{assert_still, descent};
use support::watch::{Watch, texts};

/// What is taken for a stream was seen for so long, and its end for twice the bound.
const SEEN_FOR: Duration = Duration::from_secs(2);
/// A pad that streams may be silent for so long while an axis moves.
const BOUND: Duration = Duration::from_millis(300);
/// From the last report to the loop and from the loop to the frame: two looks of 20 ms, a tick; on a loaded
/// machine a tenth of a second was seen. Five times that, as for an event.
const NEWS: Duration = Duration::from_millis(500);

/// A pad with raw reports at node 1, and its reader.
fn watched(bus: Bus, flow: Flow) -> (FakePad, support::fakepad::raw::RawReports, Watch) {
    let mut pad = FakePad::new();
    let raw = pad.raw_reports(1, bus);
    raw.flow(flow);
    let port = match bus {
        Bus::Usb => "usb-0000:00:14.0-1",
        Bus::Bluetooth => "02:00:00:00:00:aa",
    };
    pad.plug_as(1, bus, port, "Hall Pad");
    let watch = Watch::start(&pad);
    watch.want(&format!("0 plugged {bus:?} drives"));
    (pad, raw, watch)
}

fn lives(seen: &[support::watch::Seen]) -> usize {
    seen.iter().filter(|one| one.text == "0 lives").count()
}

#[test]
fn a_pad_that_reports_all_the_time_is_told_as_streaming_until_it_ends() {
    for bus in [Bus::Bluetooth, Bus::Usb] {
        let (mut pad, raw, watch) = watched(bus, Flow::Counting);
        let seen = watch.want("0 bus Streaming");
        let first = seen.iter().find(|one| one.text == "0 lives");
        let first = first.expect("reports are signs of life before they are a stream");
        let after = seen[seen.len() - 1].at - first.at;
        assert!(after >= SEEN_FOR.as_nanos() as u64 * 9 / 10, "{after} ns");
        // 250 reports a second, and as many signs as the thread looks: 50 at most.
        let later = watch.for_a_while(Duration::from_secs(1));
        let mut all = seen.iter().chain(&later);
        assert!(all.any(|one| one.text.contains("reports all the time: silent for 0.3 s")));
        let signs = lives(&later);
        assert!((5..=60).contains(&signs), "{signs} signs of life in 1 s");
        // What it says besides still comes.
        pad.abs(1, ABS_RX, 32767);
        watch.want("0 moved rx 1.0000");
        raw.flow(Flow::Nothing);
        watch.want(&format!("0 bus {bus:?}"));
        let seen = watch.for_a_while(Duration::from_millis(300));
        assert_eq!(lives(&seen), 0, "{:?}", texts(&seen));
    }
}

/// Behind a cable there may be a receiver, and it may repeat the last word of a pad that is gone.
#[test]
fn the_same_report_again_is_life_by_radio_only() {
    let (_pad, raw, watch) = watched(Bus::Usb, Flow::Repeating);
    let seen = watch.for_a_while(Duration::from_secs(3));
    // The first one is like no other.
    assert!(lives(&seen) <= 1, "{:?}", texts(&seen));
    raw.flow(Flow::Counting);
    watch.want("0 bus Streaming");

    let (_pad, _raw, watch) = watched(Bus::Bluetooth, Flow::Repeating);
    watch.want("0 bus Streaming");
}

/// Reports that come with changes prove nothing: held still, such a pad may say nothing at all.
#[test]
fn reports_of_a_moving_stick_are_no_stream() {
    let (mut pad, raw, watch) = watched(Bus::Bluetooth, Flow::Counting);
    for way in [1, -1] {
        // For 1.5 s each, an event every 10 ms.
        pad.ramp(1, ABS_RX, -30_000 * way, 30_000 * way, 150, 10_000);
    }
    raw.flow(Flow::Nothing);
    let seen = watch.for_a_while(Duration::from_secs(1));
    let streams = seen.iter().any(|one| one.text == "0 bus Streaming");
    assert!(!streams && lives(&seen) > 50, "{:?}", texts(&seen));
}

#[test]
fn a_node_that_vanishes_leaves_an_ordinary_pad() {
    let (mut pad, mut raw, watch) = watched(Bus::Usb, Flow::Counting);
    watch.want("0 bus Streaming");
    raw.vanish();
    watch.want("0 bus Usb");
    pad.key(1, BTN_SOUTH, true);
    watch.want("0 pressed south");
    // Plugged in anew, it is found anew.
    pad.wait_hotplug_ready();
    pad.unplug(1);
    watch.want("0 unplugged");
    let raw = pad.raw_reports(1, Bus::Usb);
    raw.flow(Flow::Counting);
    pad.plug(1);
    watch.want("0 bus Streaming");
}

/// Stick held over, not one event: reports alone keep pan going, beyond any bound of events, and 0.3 s after
/// the last one it stops.
#[test]
fn a_streaming_pad_that_falls_silent_stops_the_rig_at_once() {
    steadily(|| {
        let mut stage = Plan {
            bus: Bus::Bluetooth,
            raw: true,
            ..Plan::default()
        }
        .start();
        let flow = |stage: &support::stage::Stage, flow| {
            stage.raw.as_ref().expect("planned").flow(flow);
        };
        stage.arm();
        flow(&stage, Flow::Counting);
        stage.daemon.want("reports all the time");
        stage.push(FAST);
        // The bound of events would have been 2 s.
        std::thread::sleep(Duration::from_millis(2_500));
        let last_word = Instant::now();
        flow(&stage, Flow::Nothing);
        stage.daemon.want("the pad was silent while the rig moved");
        let rest = stage.line.want_asked("at rest", |v| v[0] == 0.0);
        // It reports again with its stick still over: life, but no consent.
        flow(&stage, Flow::Counting);
        stage
            .line
            .assert_rest_for(Duration::from_millis(600), "it reports again");
        stage.pads.abs(PAD, ABS_RX, CENTRE);
        stage.daemon.want("driving: the sticks move the rig");
        let push = Instant::now();
        stage.pads.abs(PAD, ABS_RX, FULL);
        stage.full(FAST);

        let speeds = stage.line.tape().speeds();
        let down = descent(&speeds, 0, last_word);
        assert!((down.speed / PER_DEG - FAST).abs() < 0.1, "{down:?}");
        let began = down.began - last_word;
        // The last report may be a period old when it was the last.
        assert!(began >= BOUND - Duration::from_millis(10), "{began:?}");
        assert!(began <= BOUND + NEWS, "{began:?}");
        assert_still(&speeds, rest, push, "from the stop to the push");
    });
}

/// The rule that lets raw reports be read asks the kernel's list of what a device has: pads, and nothing that is
/// typed on. Modaliases as the kernel prints them (input_print_modalias of drivers/input/input.c).
#[test]
fn the_udev_rule_is_about_pads_alone() {
    let rules = include_str!("../tools/udev/70-stillhand-pads.rules");
    let rule = rules.lines().find(|line| line.contains("\"hidraw\""));
    let program = rule.and_then(|rule| rule.split("PROGRAM==\"/bin/sh -c '").nth(1));
    let (program, _) = program
        .and_then(|program| program.split_once("'\""))
        .expect("it asks a program");
    let pad =
        "input:b0003v1209p0001e0110-e0,1,3,15,k130,131,133,13A,13B,ra0,1,2,3,4,5,10,11,mlsf50,w";
    let stick = "input:b0003v1209p0001e0110-e0,1,3,k120,121,ra0,1,mlsfw";
    let keys =
        "input:b0003v1209p0001e0110-e0,1,4,11,14,k71,72,73,74,75,77,79,7A,7B,ram4,l0,1,2,sfw";
    let mouse = "input:b0003v1209p0001e0110-e0,1,2,4,k110,111,112,113,r0,1,8,am4,lsfw";
    let touch = "input:b0003v1209p0001e0110-e0,1,3,k145,14A,14D,ra0,1,2F,35,36,mlsfw";
    for (inputs, wanted) in [
        (&[pad][..], true),
        (&[stick], true),
        (&[touch, mouse, pad], true),
        (&[keys], false),
        (&[mouse, keys], false),
        (&[touch], false),
        (&[], false),
    ] {
        let folder = tempfile::tempdir().expect("a folder");
        for (number, modalias) in inputs.iter().enumerate() {
            let input = folder.path().join(format!("device/input/input{number}"));
            std::fs::create_dir_all(&input).expect("writable");
            std::fs::write(input.join("modalias"), format!("{modalias}\n")).expect("writable");
        }
        let program = program.replace("/sys%p", &folder.path().display().to_string());
        let mut asked = std::process::Command::new("/bin/sh");
        let asked = asked.args(["-c", &program]).output().expect("a shell");
        assert_eq!(asked.status.success(), wanted, "{inputs:?}");
    }
}
