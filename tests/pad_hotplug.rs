//! Pads that come and go: nothing is missed, nothing is mixed up, nothing spins.

mod support;

use std::time::{Duration, Instant};

use support::fakepad::code::*;
use support::fakepad::{Bus, FakePad, Shape};
use support::watch::{Watch, texts};

/// Less than this share of one processor is low. A spinning thread takes all of it.
const LOW_CPU: f64 = 0.15;

#[test]
fn a_pad_comes_back_twenty_times_and_under_another_number() {
    let mut pad = FakePad::new();
    let watch = Watch::start(&pad);
    pad.wait_hotplug_ready();
    pad.plug(3);
    watch.want("0 plugged Usb drives");
    pad.abs(3, ABS_X, 20000);
    watch.want_that("lx", |seen| seen.text.starts_with("0 moved lx 0.61"));
    // Pulled with the stick held over: that is an unplug and no return to the centre.
    pad.unplug(3);
    watch.want_exactly(&["0 unplugged"]);
    for _ in 0..20 {
        pad.plug(3);
        watch.want_exactly(&["0 plugged Usb drives"]);
        pad.unplug(3);
        watch.want_exactly(&["0 unplugged"]);
    }
    pad.plug(4);
    watch.want_exactly(&["0 plugged Usb drives"]);
    pad.key(4, BTN_EAST, true);
    watch.want("0 pressed east");
}

#[test]
fn twins_are_told_apart_by_their_ports() {
    let mut pad = FakePad::new();
    pad.plug_as(5, Bus::Usb, "usb-0000:00:14.0-1", "Hall Pad");
    pad.plug_as(6, Bus::Usb, "usb-0000:00:14.0-2", "Hall Pad");
    let watch = Watch::start_with(&pad, &[("PAD_WATCH", "usb-0000:00:14.0-2")]);
    let seen = watch.want_that("both", |seen| seen.text.matches('=').count() == 2);
    let place = |id: &str| {
        let last = &seen.last().expect("one").text;
        let word = last.split(' ').find(|word| word.ends_with(id));
        word.and_then(|word| word.split('=').next())
            .expect("present")
            .to_string()
    };
    let (first, second) = (place("-1"), place("-2"));
    assert_ne!(first, second);
    let plugs = watch.want_that("second plug", |seen| seen.text.starts_with("1 plugged"));
    let drives = |place: &str| {
        let all = seen.iter().chain(&plugs);
        let mine = all.filter(|one| one.text.starts_with(&format!("{place} plugged")));
        mine.map(|one| one.text.ends_with("drives"))
            .collect::<Vec<_>>()
    };
    assert_eq!((drives(&first), drives(&second)), (vec![false], vec![true]));

    // Both pulled; they come back in the other order and are still themselves.
    pad.wait_hotplug_ready();
    pad.unplug(5);
    watch.want(&format!("{first} unplugged"));
    pad.unplug(6);
    watch.want(&format!("{second} unplugged"));
    pad.plug_as(8, Bus::Usb, "usb-0000:00:14.0-2", "Hall Pad");
    watch.want("0 plugged Usb drives");
    pad.plug_as(9, Bus::Usb, "usb-0000:00:14.0-1", "Hall Pad");
    watch.want("1 plugged Usb");
    // One that may not drive still stops.
    pad.key(9, BTN_EAST, true);
    watch.want("stop 1");
}

#[test]
fn the_bus_comes_from_the_device_and_wired_from_its_file() {
    let mut pad = FakePad::new();
    pad.plug_as(1, Bus::Bluetooth, "02:00:00:00:00:aa", "Hall Pad");
    let watch = Watch::start_with(&pad, &[("PAD_WIRED", "usb-7")]);
    watch.want("0 plugged Bluetooth drives");
    pad.wait_hotplug_ready();
    pad.plug_as(2, Bus::Usb, "usb-7", "Hall Pad");
    watch.want("1 plugged Wired drives");
    pad.abs(1, ABS_RY, -32768);
    watch.want("0 moved ry 1.0000");
    pad.unplug(1);
    watch.want("0 unplugged");
}

#[test]
fn a_pad_gone_mute_is_left_as_it_is() {
    let mut pad = FakePad::new();
    pad.plug_as(1, Bus::Bluetooth, "02:00:00:00:00:aa", "Hall Pad");
    let watch = Watch::start(&pad);
    watch.want("0 plugged Bluetooth drives");
    pad.abs(1, ABS_RX, 32767);
    watch.want("0 moved rx 1.0000");
    // Silence is for the control loop to judge: no centre and no sign of life is made up.
    let seen = watch.for_a_while(Duration::from_millis(2500));
    assert_eq!(texts(&seen), [""; 0]);
    pad.abs(1, ABS_RX, -32768);
    watch.want_exactly(&["0 moved rx -1.0000"]);
}

#[test]
fn a_pad_plugged_in_while_nobody_hears_is_found() {
    let mut pad = FakePad::new();
    let watch = Watch::start(&pad);
    pad.wait_hotplug_ready();
    pad.unheard(|pad| pad.plug(4));
    watch.want("0 plugged Usb drives");
    pad.abs(4, ABS_RX, 32767);
    watch.want("0 moved rx 1.0000");
}

/// The true window: no waiting for the monitor, at several points of the reader's start.
#[test]
fn a_pad_plugged_in_during_the_start_is_found() {
    for delay_us in [0, 100, 300, 1000, 3000, 10_000] {
        let mut pad = FakePad::new();
        let watch = Watch::start(&pad);
        std::thread::sleep(Duration::from_micros(delay_us));
        pad.plug(4);
        watch.want("0 plugged Usb drives");
        pad.key(4, BTN_SOUTH, true);
        watch.want("0 pressed south");
    }
}

/// A held stick of another pad goes on through the new beginning that a missed pad costs: it is
/// neither unplugged nor does it lose or repeat an event.
#[test]
fn finding_a_missed_pad_disturbs_no_other() {
    let mut pad = FakePad::new();
    pad.plug(1);
    let watch = Watch::start(&pad);
    watch.want("0 plugged Usb drives");
    pad.wait_hotplug_ready();
    pad.abs(1, ABS_RX, 32767);
    watch.want("0 moved rx 1.0000");
    pad.unheard(|pad| pad.plug(2));
    // Reports go on all the while: 2.4 s of them, so dense that gilrs mostly has some in hand.
    let steps = 24_000;
    pad.ramp(1, ABS_X, -32768, 32767, steps, 100);
    let seen = watch.want("0 moved lx 1.0000");
    let words = texts(&seen);
    assert!(
        words.contains(&"1 plugged Usb drives"),
        "the look came later"
    );
    let moves = words
        .iter()
        .filter(|text| text.starts_with("0 moved lx"))
        .count();
    assert_eq!(moves as i32, steps);
    assert!(
        !words
            .iter()
            .any(|text| text.starts_with("0 ") && !text.contains(" moved "))
    );
    pad.abs(1, ABS_RX, 0);
    watch.want("0 moved rx 0.0000");
}

#[test]
fn a_pad_pulled_while_nobody_hears_is_missed() {
    let mut pad = FakePad::new();
    pad.plug(1);
    pad.plug(2);
    let watch = Watch::start(&pad);
    watch.want("1 plugged Usb drives");
    pad.wait_hotplug_ready();
    pad.unheard(|pad| pad.unplug(1));
    let seen = watch.want_that("an unplug", |seen| seen.text.ends_with(" unplugged"));
    assert!(!texts(&seen).iter().any(|text| text.contains(" plugged ")));
    // Replugged unheard under the same number: still a new pad.
    pad.unheard(|pad| {
        pad.unplug(2);
        pad.plug(2);
    });
    let seen = watch.want_that("it is back", |seen| {
        seen.text.ends_with(" plugged Usb drives")
    });
    assert!(texts(&seen).iter().any(|text| text.ends_with(" unplugged")));
    pad.key(2, BTN_SOUTH, true);
    watch.want_that("south", |seen| seen.text.ends_with(" pressed south"));
}

/// gilrs takes one hotplug message each time it wakes.
#[test]
fn two_pads_pulled_at_once_are_both_missed() {
    let mut pad = FakePad::new();
    pad.plug(1);
    pad.plug(2);
    let watch = Watch::start(&pad);
    watch.want("1 plugged Usb drives");
    pad.wait_hotplug_ready();
    pad.unplug(1);
    pad.unplug(2);
    let seen = watch.want_that("present", |seen| seen.text == "present ");
    let after = watch.for_a_while(Duration::from_millis(200));
    let gone = seen
        .iter()
        .chain(&after)
        .filter(|one| one.text.ends_with("unplugged"));
    assert_eq!(gone.count(), 2);
}

/// Between a hang-up and udev's message gilrs returns at once with nothing: the thread must not
/// spin, other pads must go on, and if the message never comes the pad is gone all the same.
#[test]
fn a_hang_up_neither_spins_nor_hides_the_loss() {
    let mut pad = FakePad::new();
    pad.plug_hangable(1);
    pad.plug(2);
    let watch = Watch::start(&pad);
    watch.want("1 plugged Usb drives");
    pad.wait_hotplug_ready();
    // After the new beginning that a missed pad costs there is no other for 2 s, so that the
    // hang-up lasts.
    pad.unheard(|pad| pad.plug(3));
    watch.want("2 plugged Usb drives");
    let place = {
        pad.abs(1, ABS_RX, 32767);
        let seen = watch.want_that("rx", |seen| seen.text.ends_with("moved rx 1.0000"));
        seen.last().expect("one").text[..1].to_string()
    };
    let before = watch.cpu_seconds("pads").expect("the reader's thread");
    let began = Instant::now();
    pad.hang_up(1);
    pad.key(2, BTN_EAST, true);
    watch.want_that("east", |seen| seen.text.ends_with(" pressed east"));
    watch.want(&format!("{place} unplugged"));
    let used = watch.cpu_seconds("pads").expect("the reader's thread") - before;
    let took = began.elapsed().as_secs_f64();
    assert!(took > 1.0, "the hang-up lasted {took} s only");
    let share = used / took;
    assert!(share < LOW_CPU, "the reader used {share:.2} of a processor");
    println!("{share:.3} of a processor in {took:.1} s of hang-up");
}

#[test]
fn an_idle_reader_costs_next_to_nothing() {
    let mut pad = FakePad::new();
    pad.plug(1);
    let watch = Watch::start(&pad);
    watch.want("0 plugged Usb drives");
    let before = watch.cpu_seconds("pads").expect("the reader's thread");
    let seen = watch.for_a_while(Duration::from_millis(3000));
    assert!(seen.iter().all(|one| one.at == 0), "{seen:?}");
    let used = watch.cpu_seconds("pads").expect("the reader's thread") - before;
    assert!(used / 3.0 < LOW_CPU, "{used} s of 3 s");
}

/// Something that looks like a pad and that gilrs refuses is not looked at for ever.
#[test]
fn a_foreign_device_is_left_alone() {
    let mut pad = FakePad::new();
    pad.plug_shaped(1, Bus::Usb, "usb-1", "Foreign", Shape::Foreign);
    pad.plug(2);
    let watch = Watch::start(&pad);
    watch.want("0 plugged Usb drives");
    pad.abs(2, ABS_RX, 32767);
    watch.want("0 moved rx 1.0000");
    let seen = watch.for_a_while(Duration::from_millis(9500));
    assert!(seen.iter().all(|one| one.at == 0), "{seen:?}");
    // One monitor of the first gilrs and one for each of three attempts, 2 s apart.
    let monitors = pad.monitors().len();
    assert!((2..=4).contains(&monitors), "{monitors} monitors");
}

#[test]
fn places_are_limited_and_come_free_again() {
    let mut pad = FakePad::new();
    pad.plug(1);
    let watch = Watch::start_with(&pad, &[("PAD_SCRIPTS", "7")]);
    watch.want("0 plugged Usb drives");
    pad.wait_hotplug_ready();
    pad.plug(2);
    watch.want_that("a notice", |seen| {
        seen.text.contains("usb-0000:00:14.0-2 is one too many")
    });
    pad.unplug(1);
    watch.want("0 unplugged");
    // The place is free: the other pad gets it.
    watch.want("0 plugged Usb drives");
    pad.key(2, BTN_EAST, true);
    watch.want("stop 0");
}
