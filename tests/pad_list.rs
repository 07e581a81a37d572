//! `stillhand pads` in worlds with and without pads.

mod support;

use std::os::unix::fs::PermissionsExt;
use std::process::Command;

use stillhand::cli::pads::pads;
use support::fakepad::{Bus, FakePad, Shape};

const CHILD: &str = "PADS_CHILD";
const MARK: &str = "=====";
/// Nobody, on Debian and most others.
const NOBODY: u32 = 65534;

/// The command in a process of its own; an empty test otherwise.
#[test]
fn pads_child() {
    let Ok(mode) = std::env::var(CHILD) else {
        return;
    };
    if mode.contains("nobody") {
        // SAFETY: plain system calls.
        let dropped = unsafe { libc::setgid(NOBODY) == 0 && libc::setuid(NOBODY) == 0 };
        assert!(dropped, "needs to run as root");
    }
    let choices: Vec<_> = std::env::var("PADS_CHOICE")
        .iter()
        .map(|choice| choice.parse().expect("a choice"))
        .collect();
    println!("\n{MARK}");
    let code = pads(&choices, mode.contains("json"), &mut std::io::stdout()).expect("printed");
    println!("{MARK}{code}");
}

/// What it printed and its exit code.
fn run(pad: &FakePad, mode: &str, choice: Option<&str>) -> (String, u8) {
    let output = Command::new(std::env::current_exe().expect("own path"))
        .args(["--exact", "pads_child", "--nocapture", "--test-threads=1"])
        .env(CHILD, mode)
        .envs(pad.env())
        .envs(choice.map(|choice| ("PADS_CHOICE", choice)))
        .env_remove("SDL_GAMECONTROLLERCONFIG")
        .output()
        .expect("it runs");
    let text = String::from_utf8(output.stdout).expect("text");
    let parts: Vec<&str> = text.split(MARK).collect();
    let [_, shown, rest] = parts[..] else {
        panic!("{text}\n{}", String::from_utf8_lossy(&output.stderr));
    };
    let code = rest.lines().next().and_then(|line| line.parse().ok());
    (shown.trim_start().to_string(), code.expect("a code"))
}

#[test]
fn without_a_pad_it_says_what_to_do() {
    let pad = FakePad::new();
    let (text, code) = run(&pad, "text", None);
    assert_eq!(code, 1);
    assert_eq!(
        text,
        "No pad is plugged in: plug one in, or pair it by Bluetooth.\n\
         If yours is plugged in and not seen, its driver may be missing: the kernel's log \
         (`sudo dmesg`) says so.\n\
         Then run `stillhand pads` again.\n"
    );
}

#[test]
fn twins_and_radio_pads_are_listed_with_what_they_have() {
    let mut pad = FakePad::new();
    pad.plug_as(1, Bus::Usb, "usb-0000:00:14.0-1", "Hall Pad");
    pad.plug_as(2, Bus::Usb, "usb-0000:00:14.0-2", "Hall Pad");
    pad.plug_as(3, Bus::Bluetooth, "02:00:00:00:00:aa", "Stage Pad");
    pad.plug_shaped(4, Bus::Usb, "usb-0000:00:14.0-4", "Keys", Shape::Keys);
    let (text, code) = run(&pad, "text", Some("usb-0000:00:14.0-2"));
    assert_eq!(code, 0);
    assert_eq!(
        text,
        "ID                  NAME       BUS        DRIVES  CONTROLS\n\
         usb-0000:00:14.0-1  Hall Pad   usb        no      lx ly rx ry lt rt, all buttons\n\
         usb-0000:00:14.0-2  Hall Pad   usb        yes     lx ly rx ry lt rt, all buttons\n\
         02:00:00:00:00:aa   Stage Pad  bluetooth  no      lx ly rx ry lt rt, all buttons\n\
         usb-0000:00:14.0-4  Keys       usb        no      lx ly rx ry lt rt, all buttons\n\
         Every pad stops the rig with `east`. To let only one drive: `stillhand run --pad ID`.\n"
    );
    let (json, code) = run(&pad, "json", None);
    assert_eq!(code, 0);
    let json: serde_json::Value = serde_json::from_str(&json).expect("JSON");
    assert_eq!(json["pads"][2]["id"], "02:00:00:00:00:aa");
    assert_eq!(json["pads"][2]["bus"], "bluetooth");
    assert_eq!(json["pads"][0]["drives"], true);
    assert_eq!(json["pads"][0]["problem"], serde_json::Value::Null);
    assert_eq!(
        json["pads"][0]["buttons"].as_array().map(Vec::len),
        Some(15)
    );
}

#[test]
fn a_pad_that_may_not_be_opened_is_listed_with_the_remedy() {
    let mut pad = FakePad::new();
    pad.plug(1);
    // The made-up world must be open to everybody, as /sys is, and so must umockdev's own socket
    // for ioctls, or its library ends the program. The node stays root's.
    for part in ["", "ioctl/dev/input/event1"] {
        let everybody = std::fs::Permissions::from_mode(0o777);
        std::fs::set_permissions(pad.root().join(part), everybody).expect("our own");
    }
    let (text, code) = run(&pad, "text nobody", None);
    assert_eq!(code, 1, "{text}");
    assert_eq!(
        text,
        "ID                  NAME      BUS  DRIVES  CONTROLS\n\
         usb-0000:00:14.0-1  Hall Pad  usb  no      no permission\n\
         You may not open /dev/input/event1: add yourself to the group `input` (`sudo usermod -aG \
         input $USER`, then log in again), or install the udev rule that comes with stillhand and \
         plug the pad in again.\n\
         Then run `stillhand pads` again.\n"
    );
}
