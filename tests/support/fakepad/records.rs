//! What the made-up kernel answers: sysfs and udev for the listing, ioctls for gilrs.

use std::fmt::Write;

use super::code::*;

/// The bus a fake pad is on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bus {
    Usb,
    Bluetooth,
}

/// Which controls a fake pad has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// As most drivers do it: triggers on `ABS_Z` and `ABS_RZ`, a hat for the d-pad.
    Common,
    /// As the Linux Gamepad Specification has it: triggers on `ABS_HAT2Y` and `ABS_HAT2X`, whose
    /// keys also go down, and keys for the d-pad.
    Specified,
    /// Triggers that are keys only.
    Keys,
    /// It has pad buttons and axes, but udev does not call it a joystick, so gilrs ignores it.
    Foreign,
}

/// A pad, described.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Record {
    /// The number of its node.
    pub n: u32,
    pub bus: Bus,
    pub shape: Shape,
    pub port: String,
    pub name: String,
}

/// Value, minimum, maximum, fuzz, flat, resolution (`struct input_absinfo` of linux/input.h). The
/// stick's figures are those of the kernel's xpad driver.
const STICK: [i32; 6] = [0, -32768, 32767, 16, 128, 0];
const TRIGGER: [i32; 6] = [0, 0, 255, 0, 0, 0];
const HAT: [i32; 6] = [0, -1, 1, 0, 0, 0];

/// Vendor and product of pid.codes, a registry for open hardware: 1209:0001 is kept for tests.
const VENDOR: u16 = 0x1209;
const PRODUCT: u16 = 0x0001;
const VERSION: u16 = 0x0110;

impl Bus {
    /// `BUS_USB` and `BUS_BLUETOOTH` of linux/input.h.
    pub fn number(self) -> u16 {
        match self {
            Bus::Usb => 3,
            Bus::Bluetooth => 5,
        }
    }
}

impl Bus {
    /// What the input device of pad `n` hangs on in sysfs, below /sys.
    pub fn parent(self, n: u32) -> String {
        match self {
            Bus::Usb => format!("/devices/pci0000:00/0000:00:14.0/usb1/1-{n}/1-{n}:1.0"),
            Bus::Bluetooth => format!("/devices/virtual/misc/uhid/0005:1209:0001.{n:04}"),
        }
    }
}

impl Shape {
    fn keys(self) -> Vec<u16> {
        let mut keys = vec![
            BTN_SOUTH, BTN_EAST, BTN_NORTH, BTN_WEST, BTN_TL, BTN_TR, BTN_SELECT, BTN_START,
            BTN_MODE, BTN_THUMBL, BTN_THUMBR,
        ];
        if matches!(self, Shape::Specified | Shape::Keys) {
            keys.extend([BTN_TL2, BTN_TR2]);
        }
        if self == Shape::Specified {
            keys.extend(BTN_DPAD_UP..=BTN_DPAD_RIGHT);
        }
        keys
    }

    fn axes(self) -> Vec<(u16, [i32; 6])> {
        let mut axes = vec![
            (ABS_X, STICK),
            (ABS_Y, STICK),
            (ABS_RX, STICK),
            (ABS_RY, STICK),
        ];
        match self {
            Shape::Common | Shape::Foreign => axes.extend([
                (ABS_Z, TRIGGER),
                (ABS_RZ, TRIGGER),
                (ABS_HAT0X, HAT),
                (ABS_HAT0Y, HAT),
            ]),
            Shape::Specified => axes.extend([(ABS_HAT2Y, TRIGGER), (ABS_HAT2X, TRIGGER)]),
            Shape::Keys => axes.extend([(ABS_HAT0X, HAT), (ABS_HAT0Y, HAT)]),
        }
        axes
    }
}

impl Record {
    /// The device of its `plug`th plug in sysfs, below /sys, without the event node.
    pub fn sysfs(&self, plug: u32) -> String {
        format!("{}/input/input{plug}", self.bus.parent(self.n))
    }

    /// umockdev's description of the event node and the device behind it. There is no `N:` line:
    /// umockdev would make a PTY of the node, which loses events when the reader lags and can't be
    /// plugged in twice. The device comes first: the node's message goes out as soon as it is added.
    pub fn description(&self, plug: u32) -> String {
        let Record { n, port, name, .. } = self;
        let (sysfs, bus) = (self.sysfs(plug), self.bus.number());
        let (phys, uniq) = match self.bus {
            Bus::Usb => (format!("{port}/input0"), String::new()),
            // `phys` is the address of the computer's own radio.
            Bus::Bluetooth => ("02:00:00:00:00:01".to_string(), port.clone()),
        };
        let keys = self.shape.keys();
        let axes: Vec<u16> = self.shape.axes().iter().map(|(code, _)| *code).collect();
        let (keys, axes) = (sysfs_bits(&keys), sysfs_bits(&axes));
        let parent = self.bus.parent(*n);
        let parent = parent.rsplit('/').next().unwrap_or_default();
        let joystick = u8::from(self.shape != Shape::Foreign);
        let minor = 64 + n;
        format!(
            "P: {sysfs}\n\
             E: ID_INPUT=1\n\
             E: ID_INPUT_JOYSTICK={joystick}\n\
             E: NAME=\"{name}\"\n\
             E: PRODUCT={bus:x}/{VENDOR:x}/{PRODUCT:x}/{VERSION:x}\n\
             E: SUBSYSTEM=input\n\
             A: capabilities/abs={axes}\n\
             A: capabilities/key={keys}\n\
             A: id/bustype={bus:04x}\n\
             A: id/vendor={VENDOR:04x}\n\
             A: id/product={PRODUCT:04x}\n\
             A: id/version={VERSION:04x}\n\
             A: name={name}\n\
             A: phys={phys}\n\
             A: uniq={uniq}\n\
             L: device=../../../{parent}\n\
             \n\
             P: {sysfs}/event{n}\n\
             E: DEVNAME=/dev/input/event{n}\n\
             E: ID_INPUT=1\n\
             E: ID_INPUT_JOYSTICK={joystick}\n\
             E: MAJOR=13\n\
             E: MINOR={minor}\n\
             E: SUBSYSTEM=input\n\
             A: dev=13:{minor}\n\
             L: device=../../input{plug}\n"
        )
    }

    /// umockdev's record of the ioctls on the event node. Each answer must have exactly the length
    /// gilrs asks for, or umockdev does not find it.
    pub fn ioctls(&self) -> String {
        let mut text = format!("@DEV /dev/input/event{}\n", self.n);
        let mut answer = |request: &str, returns: usize, data: &[u8]| {
            let hex: String = data.iter().map(|byte| format!("{byte:02X}")).collect();
            writeln!(text, "{request} {returns} {hex}").expect("a string takes everything");
        };
        let id: Vec<u8> = [self.bus.number(), VENDOR, PRODUCT, VERSION]
            .iter()
            .flat_map(|word| word.to_ne_bytes())
            .collect();
        answer("EVIOCGID", 0, &id);
        let mut name = self.name.as_bytes().to_vec();
        name.resize(128, 0);
        answer("EVIOCGNAME(0)", self.name.len() + 1, &name);
        let axes = self.shape.axes();
        let codes: Vec<u16> = axes.iter().map(|(code, _)| *code).collect();
        answer("EVIOCGBIT(3)", 8, &bits(&codes, 8));
        answer("EVIOCGBIT(1)", 96, &bits(&self.shape.keys(), 96));
        // No force feedback.
        answer("EVIOCGBIT(21)", 13, &[0; 13]);
        // What is down, asked after events were dropped: nothing.
        answer("EVIOCGKEY(0)", 96, &[0; 96]);
        for (code, info) in axes {
            let request = match code {
                0 => "EVIOCGABS".to_string(),
                code => format!("EVIOCGABS({code})"),
            };
            let info: Vec<u8> = info.iter().flat_map(|word| word.to_ne_bytes()).collect();
            answer(&request, 0, &info);
        }
        text
    }
}

fn bits(codes: &[u16], length: usize) -> Vec<u8> {
    let mut bytes = vec![0; length];
    for code in codes {
        bytes[usize::from(code / 8)] |= 1 << (code % 8);
    }
    bytes
}

/// Words of a kernel long, the highest first, as sysfs prints them.
fn sysfs_bits(codes: &[u16]) -> String {
    let top = codes.iter().max().map_or(0, |code| code / 64);
    let words: Vec<String> = (0..=top)
        .rev()
        .map(|word| {
            let bits = codes.iter().filter(|code| *code / 64 == word);
            format!("{:x}", bits.fold(0u64, |all, code| all | 1 << (code % 64)))
        })
        .collect();
    words.join(" ")
}
