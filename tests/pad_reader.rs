//! The pad from the kernel's side to the control loop's: real gilrs, made-up kernel.

mod support;

use std::time::Duration;

use support::fakepad::code::*;
use support::fakepad::{Bus, FakePad, Shape};
use support::watch::{Watch, texts};

#[test]
fn controls_arrive_with_our_names_and_signs() {
    let mut pad = FakePad::new();
    pad.plug(7);
    let watch = Watch::start(&pad);
    watch.want("0 plugged Usb drives");
    pad.key(7, BTN_SOUTH, true);
    pad.key(7, BTN_SOUTH, false);
    pad.abs(7, ABS_X, 32767);
    // The kernel counts down as positive.
    pad.abs(7, ABS_Y, -32768);
    pad.abs(7, ABS_RX, -32768);
    pad.abs(7, ABS_RY, 32767);
    pad.abs(7, ABS_RZ, 255);
    pad.abs(7, ABS_HAT0Y, -1);
    pad.abs(7, ABS_HAT0Y, 1);
    pad.abs(7, ABS_HAT0Y, 0);
    pad.abs(7, ABS_HAT0X, -1);
    pad.abs(7, ABS_HAT0X, 1);
    pad.abs(7, ABS_HAT0X, 0);
    watch.want_exactly(&[
        "0 pressed south",
        "0 released south",
        "0 moved lx 1.0000",
        "0 moved ly 1.0000",
        "0 moved rx -1.0000",
        "0 moved ry -1.0000",
        "0 moved rt 1.0000",
        "0 pressed dpad-up",
        "0 released dpad-up",
        "0 pressed dpad-down",
        "0 released dpad-down",
        "0 pressed dpad-left",
        "0 released dpad-left",
        "0 pressed dpad-right",
        "0 released dpad-right",
    ]);
}

/// Codes are those of the Linux Gamepad Specification (Documentation/input/gamepad.rst).
#[test]
fn every_button_of_the_specification_has_its_name() {
    let mut pad = FakePad::new();
    pad.plug_shaped(3, Bus::Usb, "usb-1-3", "Hall Pad", Shape::Specified);
    let watch = Watch::start(&pad);
    watch.want("0 plugged Usb drives");
    let names = [
        (BTN_SOUTH, "south"),
        (BTN_EAST, "east"),
        (BTN_NORTH, "north"),
        (BTN_WEST, "west"),
        (BTN_TL, "tl"),
        (BTN_TR, "tr"),
        (BTN_SELECT, "select"),
        (BTN_START, "start"),
        (BTN_MODE, "mode"),
        (BTN_THUMBL, "thumbl"),
        (BTN_THUMBR, "thumbr"),
        (0x220, "dpad-up"),
        (0x221, "dpad-down"),
        (0x222, "dpad-left"),
        (0x223, "dpad-right"),
    ];
    for (code, name) in names {
        pad.key(3, code, true);
        pad.key(3, code, false);
        watch.want_that(name, |seen| seen.text == format!("0 pressed {name}"));
        watch.want_exactly(&[&format!("0 released {name}")]);
    }
}

#[test]
fn triggers_are_read_whichever_way_they_come() {
    // As plain axes: of 8 bits, a trigger at rest reads 1/256.
    let mut pad = FakePad::new();
    pad.plug(1);
    let watch = Watch::start(&pad);
    watch.want("0 plugged Usb drives");
    pad.abs(1, ABS_Z, 127);
    pad.abs(1, ABS_RZ, 255);
    pad.abs(1, ABS_Z, 0);
    watch.want_exactly(&[
        "0 moved lt 0.5000",
        "0 moved rt 1.0000",
        "0 moved lt 0.0039",
    ]);

    // As the specification has it: gilrs makes buttons of them, and their keys say nothing new.
    let mut pad = FakePad::new();
    pad.plug_shaped(1, Bus::Usb, "usb-1-1", "Hall Pad", Shape::Specified);
    let watch = Watch::start(&pad);
    watch.want("0 plugged Usb drives");
    pad.abs(1, ABS_HAT2Y, 51);
    pad.key(1, BTN_TL2, true);
    pad.abs(1, ABS_HAT2Y, 204);
    pad.abs(1, ABS_HAT2X, 255);
    pad.abs(1, ABS_HAT2Y, 0);
    let seen = watch.want("0 moved lt 0.0000");
    let moves: Vec<&str> = texts(&seen)
        .into_iter()
        .filter(|t| t.contains(" moved "))
        .collect();
    assert_eq!(
        moves,
        [
            "0 moved lt 0.2000",
            "0 moved lt 0.8000",
            "0 moved rt 1.0000",
            "0 moved lt 0.0000",
        ]
    );

    // As keys only.
    let mut pad = FakePad::new();
    pad.plug_shaped(1, Bus::Usb, "usb-1-1", "Hall Pad", Shape::Keys);
    let watch = Watch::start(&pad);
    watch.want("0 plugged Usb drives");
    pad.key(1, BTN_TR2, true);
    pad.key(1, BTN_TR2, false);
    watch.want_exactly(&["0 moved rt 1.0000", "0 moved rt 0.0000"]);
}

/// A mapping makes buttons of trigger axes, and a user's own mapping is obeyed.
#[test]
fn mapped_triggers_and_hats_are_read_too() {
    let mut pad = FakePad::new();
    pad.plug(1);
    // South and east exchanged, so that it shows which mapping is in force.
    let mapping = "03000000091200000100000010010000,Hall Pad,a:b1,b:b0,lefttrigger:a2,\
                   righttrigger:a5,leftx:a0,lefty:a1,dpup:h0.1,dpright:h0.2,dpdown:h0.4,\
                   dpleft:h0.8,platform:Linux,";
    let env = [("PAD_MAPPINGS", "1"), ("SDL_GAMECONTROLLERCONFIG", mapping)];
    let watch = Watch::start_with(&pad, &env);
    watch.want("0 plugged Usb drives");
    pad.key(1, BTN_SOUTH, true);
    pad.abs(1, ABS_Z, 51);
    pad.abs(1, ABS_Z, 255);
    pad.abs(1, ABS_Z, 0);
    pad.abs(1, ABS_Y, 32767);
    pad.abs(1, ABS_HAT0Y, -1);
    pad.abs(1, ABS_HAT0Y, 0);
    watch.want_exactly(&[
        "0 pressed east",
        "0 moved lt 0.2000",
        "0 moved lt 1.0000",
        "0 moved lt 0.0000",
        "0 moved ly -1.0000",
        "0 pressed dpad-up",
        "0 released dpad-up",
    ]);
}

#[test]
fn what_changes_nothing_is_a_sign_of_life() {
    let mut pad = FakePad::new();
    pad.plug(1);
    let watch = Watch::start(&pad);
    watch.want("0 plugged Usb drives");
    pad.abs(1, ABS_RX, 16384);
    watch.want_that("rx", |seen| seen.text.starts_with("0 moved rx 0.5"));
    std::thread::sleep(Duration::from_millis(60));
    pad.abs(1, ABS_RX, 16384);
    watch.want_exactly(&["0 alive"]);
    // A flood of them is thinned out.
    pad.ramp(1, ABS_RX, 16384, 16384, 300, 1000);
    let seen = watch.for_a_while(Duration::from_millis(200));
    assert!(seen.iter().all(|one| one.text == "0 alive"), "{seen:?}");
    assert!(
        (5..=15).contains(&seen.len()),
        "{} signs in 0.3 s",
        seen.len()
    );
}

/// Everything between the kernel's overflow mark and the next report is thrown away by gilrs, which
/// then asks for the true state: a stick let go in between must come back to its centre.
#[test]
fn dropped_events_are_made_good_from_the_true_state() {
    let mut pad = FakePad::new();
    pad.plug(7);
    let watch = Watch::start(&pad);
    watch.want("0 plugged Usb drives");
    pad.abs(7, ABS_X, 32767);
    pad.key(7, BTN_SOUTH, true);
    watch.want("0 pressed south");
    pad.raw(7, EV_SYN, SYN_DROPPED, 0);
    let seen = watch.want("0 moved lx 0.0000");
    assert!(texts(&seen).contains(&"0 released south"), "{seen:?}");
}

#[test]
fn no_report_is_lost_and_times_keep_their_order() {
    let mut pad = FakePad::new();
    pad.plug(7);
    let watch = Watch::start(&pad);
    watch.want("0 plugged Usb drives");
    for period_us in [4000, 1000, 100, 0] {
        let steps = 500;
        pad.ramp(7, ABS_X, -32768, 32767, steps, period_us);
        let seen = watch.want("0 moved lx 1.0000");
        // The list of pads that are there may come a moment after the pad itself.
        let (moved, others): (Vec<&str>, Vec<&str>) = texts(&seen)
            .into_iter()
            .partition(|text| text.starts_with("0 moved lx"));
        assert_eq!(moved.len() as i32, steps, "at {period_us} us: {others:?}");
        assert!(
            others.iter().all(|text| text.starts_with("present ")),
            "{others:?}"
        );
        assert!(seen.windows(2).all(|pair| pair[0].at <= pair[1].at));
        let took = seen[seen.len() - 1].at - seen[0].at;
        let least = period_us * 1000 * (steps as u64 - 1) * 9 / 10;
        assert!(took >= least, "{steps} reports took {took} ns");
    }
}

/// While the loop does not listen nothing that matters is lost, and the stop does not queue.
#[test]
fn a_stalled_loop_loses_no_stop_no_unplug_and_no_last_value() {
    let mut pad = FakePad::new();
    pad.plug(1);
    pad.plug(2);
    let mut watch = Watch::start(&pad);
    watch.want("1 plugged Usb drives");
    pad.wait_hotplug_ready();
    watch.stall(true);
    // More than the ring and the backlog hold together.
    pad.ramp(1, ABS_RX, -32768, 32767, 6000, 0);
    pad.key(1, BTN_EAST, true);
    watch.want("stop 0");
    pad.key(1, BTN_EAST, false);
    pad.abs(1, ABS_RX, 0);
    // The second stop says that everything before it has been read.
    pad.key(1, BTN_EAST, true);
    watch.want("stop 0");
    pad.unplug(2);
    watch.want_that("one pad", |seen| {
        seen.text == "present 0=usb-0000:00:14.0-1"
    });
    watch.stall(false);
    let seen = watch.want("1 unplugged");
    let tail: Vec<&str> = texts(&seen).into_iter().rev().take(5).collect();
    assert_eq!(
        tail,
        [
            "1 unplugged",
            "0 pressed east",
            "0 moved rx 0.0000",
            "0 released east",
            "0 pressed east",
        ]
    );
    let dropped = seen.last().map_or(0, |one| one.dropped);
    assert!(dropped > 1000, "the ring was not full: {dropped} dropped");
    assert!(seen.windows(2).all(|pair| pair[0].at <= pair[1].at));
}
