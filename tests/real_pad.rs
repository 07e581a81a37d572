//! Pads that vanish, fall silent or stop the rig, with the stick held over all the while.

mod support;

use std::time::{Duration, Instant};

use support::fakepad::Bus;
use support::fakepad::code::*;
use support::hall::{FAST, PER_DEG, STOP_ACCEL, STOP_JERK, stop_time};
use support::stage::{CENTRE, FULL, PAD, PAD_ID, Plan, Stage};
use support::steady::steadily;
use support::tape::{Descent, assert_still, descent};

/// Frames leave every 4 ms, are seen within 1 ms, and the first and the last of a descent may each
/// be a frame late on a loaded machine; a loop more than 80 ms late would say so.
const FRAMES: Duration = Duration::from_millis(60);
/// From what happens at the pad to the loop: udev, gilrs, its thread. Below a millisecond idle, up
/// to a tenth of a second was seen on a loaded machine; five times that.
const NEWS: Duration = Duration::from_millis(500);

/// Asserts that pan came down from `speed` deg/s with the stop set: as quickly as the closed form
/// says, and not quicker.
fn assert_stop(down: Descent, speed: f64) {
    assert!((down.speed / PER_DEG - speed).abs() < 0.1, "{down:?}");
    let stop = Duration::from_secs_f64(stop_time(speed, STOP_ACCEL, STOP_JERK));
    let took = down.took();
    assert!(
        took <= stop + FRAMES,
        "{took:?}, the stop set takes {stop:?}"
    );
    assert!(
        took + FRAMES >= stop,
        "{took:?} is harder than the stop set: {stop:?}"
    );
}

fn pan_at_rest(stage: &Stage) -> Instant {
    stage.line.want_asked("at rest", |v| v[0] == 0.0)
}

#[test]
fn an_unplug_stops_and_a_held_stick_must_be_let_go_after_a_replug() {
    steadily(|| {
        let mut stage = Plan::default().start();
        stage.arm();
        stage.pads.wait_hotplug_ready();
        stage.push(FAST);
        let pulled = Instant::now();
        stage.pads.unplug(PAD);
        stage.daemon.want("no pad");
        let rest = pan_at_rest(&stage);
        // Plugged in again, and the first thing heard is a stick far over.
        stage.pads.plug_as(PAD, Bus::Usb, PAD_ID, "Hall Pad");
        stage.daemon.want("withheld (the pad was lost)");
        stage.pads.abs(PAD, ABS_RX, FULL);
        stage
            .line
            .assert_rest_for(Duration::from_millis(600), "held since the replug");
        // Half way back is not let go.
        stage.pads.abs(PAD, ABS_RX, 8_000);
        stage
            .line
            .assert_rest_for(Duration::from_millis(300), "half way back");
        let centred = Instant::now();
        stage.pads.abs(PAD, ABS_RX, CENTRE);
        let armed = stage.daemon.want("driving: the sticks move the rig");
        // The daemon begins to count no earlier than the event was sent, and what it says is read later.
        assert!(
            armed - centred >= Duration::from_millis(200),
            "{:?}",
            armed - centred
        );
        let push = Instant::now();
        stage.push(FAST);

        let speeds = stage.line.tape().speeds();
        let down = descent(&speeds, 0, pulled);
        assert!(down.began - pulled <= NEWS, "{:?}", down.began - pulled);
        assert_stop(down, FAST);
        assert_still(&speeds, rest, push, "from the stop to the push");
    });
}

/// A centring shorter than 200 ms is no consent.
#[test]
fn a_stick_that_only_passes_the_centre_is_not_let_go() {
    steadily(|| {
        let mut stage = Plan::default().start();
        stage.daemon.want("is in control");
        // As a script of times in one helper call each; the pauses are far below 200 ms.
        for _ in 0..8 {
            stage.pads.ramp(PAD, ABS_RX, FULL, -FULL, 20, 5_000);
            stage.pads.ramp(PAD, ABS_RX, -FULL, FULL, 20, 5_000);
        }
        stage
            .line
            .assert_rest_for(Duration::from_millis(100), "swept over the centre");
        assert_eq!(stage.daemon.count("driving"), 0, "{}", stage.daemon.all());
        stage.centre();
        stage.daemon.want("driving: the sticks move the rig");
        stage.drives();
    });
}

/// Holds the stick over on a pad that then says nothing: `bound` is what the present motion gives.
fn silence(bus: Bus, bound: Duration) {
    let mut stage = Plan {
        bus,
        ..Plan::default()
    }
    .start();
    stage.arm();
    let last_word = Instant::now();
    stage.push(FAST);
    let notice = stage.daemon.want("has gone silent");
    // Sent after `last_word`, so nothing may come earlier; later by the way here and the log's pace
    // of 50 ms.
    let half = bound / 2;
    assert!(notice - last_word >= half, "{:?}", notice - last_word);
    assert!(
        notice - last_word <= half + NEWS,
        "{:?}",
        notice - last_word
    );
    stage.daemon.want("the pad was silent while the rig moved");
    let rest = pan_at_rest(&stage);
    stage
        .line
        .assert_rest_for(Duration::from_millis(300), "still silent");
    // It wakes up with the stick where it was, a little moved: life, but no consent.
    stage.pads.abs(PAD, ABS_RX, FULL - 900);
    stage
        .line
        .assert_rest_for(Duration::from_millis(400), "it spoke");
    stage.pads.abs(PAD, ABS_RX, CENTRE);
    stage.daemon.want("driving: the sticks move the rig");
    let push = Instant::now();
    stage.drives();

    let speeds = stage.line.tape().speeds();
    // The frame before the bound still has the full speed: nothing stopped it sooner.
    let down = descent(&speeds, 0, last_word + bound - Duration::from_millis(50));
    let began = down.began - last_word;
    assert!(began >= bound, "stopped {began:?} after its last word");
    assert!(
        began <= bound + NEWS,
        "stopped {began:?} after its last word"
    );
    assert_stop(down, FAST);
    assert_still(&speeds, rest, push, "from the stop to the push");
}

/// 45 deg/s covers 30 degrees in 0.67 s: the floor for radio pads counts, 2 s.
#[test]
fn a_silent_radio_pad_stops_the_rig_after_two_seconds() {
    steadily(|| {
        silence(Bus::Bluetooth, Duration::from_secs(2));
    });
}

/// A cable reports its unplug by itself, a receiver does not: its floor is 10 s.
#[test]
fn a_silent_usb_pad_stops_the_rig_after_ten_seconds() {
    steadily(|| {
        silence(Bus::Usb, Duration::from_secs(10));
    });
}

/// The bound follows the present motion: 10 deg/s covers 30 degrees in 3 s, and a wiggle renews it.
#[test]
fn a_slower_motion_may_go_on_for_longer_and_a_wiggle_renews_it() {
    steadily(|| {
        let slow = support::hall::pan_only()
            .replace("\"45 deg/s\"", "\"10 deg/s\"")
            .replace("\"20 deg/s\"", "\"9 deg/s\"");
        let mut stage = Plan {
            bus: Bus::Bluetooth,
            operator: slow,
            ..Plan::default()
        }
        .start();
        stage.arm();
        stage.push(10.0);
        stage.daemon.want("has gone silent");
        let wiggle = Instant::now();
        stage.pads.abs(PAD, ABS_RX, FULL - 100);
        stage.daemon.want("has gone silent");
        stage.daemon.want("the pad was silent while the rig moved");
        pan_at_rest(&stage);
        let speeds = stage.line.tape().speeds();
        let down = descent(&speeds, 0, wiggle + Duration::from_millis(2_900));
        let began = down.began - wiggle;
        assert!(began >= Duration::from_secs(3), "{began:?}");
        assert!(began <= Duration::from_secs(3) + NEWS, "{began:?}");
    });
}

#[test]
fn east_on_any_pad_stops_and_only_the_pad_in_control_releases() {
    steadily(|| {
        const OTHER: u32 = 2;
        let mut stage = Plan::default().start();
        stage.arm();
        stage.pads.wait_hotplug_ready();
        stage.pads.plug(OTHER);
        stage.daemon.want("pad usb-0000:00:14.0-2 plugged in");
        stage.push(FAST);
        let pressed = Instant::now();
        stage.pads.key(OTHER, BTN_EAST, true);
        stage.pads.key(OTHER, BTN_EAST, false);
        stage.daemon.want("STOPPED by pad 2");
        let rest = pan_at_rest(&stage);
        // Letting go does not undo somebody else's stop, nor does the other pad's start.
        stage.centre();
        stage.pads.key(OTHER, BTN_START, true);
        stage
            .line
            .assert_rest_for(Duration::from_millis(900), "start on the other pad");
        stage.pads.key(OTHER, BTN_START, false);
        assert_eq!(stage.daemon.count("the stop was released"), 0);
        // Held with the stick over: not released.
        stage.pads.abs(PAD, ABS_RX, FULL);
        stage.pads.key(PAD, BTN_START, true);
        stage
            .line
            .assert_rest_for(Duration::from_millis(900), "start with the stick over");
        assert_eq!(stage.daemon.count("the stop was released"), 0);
        stage.pads.key(PAD, BTN_START, false);
        stage.centre();
        // A tap is not held.
        stage.pads.key(PAD, BTN_START, true);
        stage.pads.key(PAD, BTN_START, false);
        stage
            .line
            .assert_rest_for(Duration::from_millis(800), "a tap on start");
        assert_eq!(stage.daemon.count("the stop was released"), 0);
        let held = Instant::now();
        stage.pads.key(PAD, BTN_START, true);
        let released = stage.daemon.want("the stop was released");
        assert!(
            released - held >= Duration::from_millis(600),
            "{:?}",
            released - held
        );
        assert!(
            released - held <= Duration::from_millis(600) + NEWS,
            "{:?}",
            released - held
        );
        stage.pads.key(PAD, BTN_START, false);
        stage.daemon.want("driving: the sticks move the rig");
        let push = Instant::now();
        stage.drives();

        let speeds = stage.line.tape().speeds();
        let down = descent(&speeds, 0, pressed);
        assert!(down.began - pressed <= NEWS, "{:?}", down.began - pressed);
        assert_stop(down, FAST);
        assert_still(&speeds, rest, push, "from the stop to the push");
    });
}
