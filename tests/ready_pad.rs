//! `stillhand ready` with a pad: which it is, its battery, and its silence.

mod support;

use support::checked::{Hand, against, items, kept, watched, wide};
use support::daemon::Start;
use support::fakepad::FakePad;
use support::fakepad::code::{ABS_RX, ABS_X, BTN_SOUTH};
use support::stage::{CENTRE, PAD, PAD_ID};
use support::steady::steadily;

/// A pad whose battery is nearly empty, as the kernel tells it.
fn nearly_empty(pads: &FakePad) {
    let sys = pads.root().join("sys/devices");
    let mut waiting = vec![sys];
    while let Some(folder) = waiting.pop() {
        // A pad's own folder has a folder of its inputs.
        let inputs = folder.join("input");
        if inputs.is_dir() {
            let battery = folder.join("power_supply/hall-battery");
            std::fs::create_dir_all(&battery).expect("ours");
            std::fs::write(battery.join("capacity"), "12\n").expect("ours");
            std::fs::write(battery.join("status"), "Discharging\n").expect("ours");
            return;
        }
        let inside = std::fs::read_dir(&folder).expect("there").flatten();
        waiting.extend(
            inside
                .map(|entry| entry.path())
                .filter(|path| path.is_dir() && !path.is_symlink()),
        );
    }
    panic!("no pad");
}

#[test]
fn a_pad_whose_battery_is_low_is_not_ready() {
    steadily(|| {
        let world = watched(&wide(), &Hand::new(), &[]);
        let mut pads = FakePad::new();
        pads.plug(PAD);
        nearly_empty(&pads);
        let path = |name: &str| world.path(name).display().to_string();
        let arguments = [
            "ready", "--only", "watchdog", "--axis", "pan", "--pad", PAD_ID, "--socket", "off",
        ];
        let files = [
            "--rig",
            &path("hall.toml"),
            "--operator",
            &path("viola.toml"),
            "--record",
            &path("kept"),
        ];
        let port = world.port();
        let all = [&arguments[..], &files, &["--port", &port]].concat();
        let mut daemon = Start::new(&all).seeing(&pads).go();
        daemon.want("is in control");
        for code in [ABS_RX, ABS_X] {
            pads.abs(PAD, code, CENTRE);
        }
        daemon.want("hold south: the rig moves by itself");
        pads.key(PAD, BTN_SOUTH, true);
        daemon.want("no link (frames left out on purpose)");
        pads.key(PAD, BTN_SOUTH, false);
        assert_eq!(daemon.end(), 1, "{}", daemon.all());
        let (text, record) = kept(&world);
        let found = items(&record, "pad");
        assert_eq!(
            found[0],
            (
                "pad",
                "pass",
                "usb-0000:00:14.0-1 (Hall Pad, usb) is in control"
            ),
            "{text}"
        );
        assert_eq!(found[1].1, "told", "not trimmed: {text}");
        assert_eq!(found[2], ("battery", "fail", "12 %"), "{text}");
        // 30 deg at 10 deg/s, and no less than 10 s by USB.
        assert!(found[3].2.contains("silent for 10.0 s"), "{text}");
        assert_eq!(found[4].0, "silence", "{text}");
        assert_eq!(against(&record).len(), 1, "{text}");
        assert!(text.contains("mend: charge it to 20 % at least"), "{text}");
    });
}
