//! What the kernel says of a pad, read from sysfs: gilrs tells models, not units.

use std::fs;
use std::path::{Path, PathBuf};

use stillhand_engine::input::PadBus;

/// Where the kernel lists its input devices.
pub const INPUT_CLASS: &str = "/sys/class/input";
/// Where their nodes are.
const NODES: &str = "/dev/input";

/// Bus type of USB (`BUS_USB` in linux/input.h).
const BUS_USB: &str = "0003";
/// Bus type of Bluetooth (`BUS_BLUETOOTH` in linux/input.h).
const BUS_BLUETOOTH: &str = "0005";

/// Joystick and gamepad buttons: `BTN_JOYSTICK` up to `BTN_DIGI` (linux/input-event-codes.h). udev
/// calls a device with one of them and an axis pair a joystick, and gilrs asks for two axes.
const PAD_KEYS: std::ops::Range<u16> = 0x120..0x140;

/// One pad as it is plugged in now.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Device {
    /// `/dev/input/eventN`. The number may be another one after the next plug.
    pub node: PathBuf,
    /// Where the kernel keeps this very plug: never the same again after an unplug. Empty if it
    /// was gone before it could be read.
    pub sysfs: PathBuf,
    /// The unit: its port path, or its address for Bluetooth. Twin pads differ.
    pub id: String,
    /// What the driver calls it.
    pub name: String,
    /// How it is connected.
    pub bus: Bus,
    /// Its keys (`EV_KEY` codes).
    pub keys: Bits,
    /// Its axes (`EV_ABS` codes).
    pub axes: Bits,
}

/// The bus a pad is on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Bus {
    /// USB: a cable, or the receiver of a radio pad.
    Usb,
    /// Bluetooth.
    Bluetooth,
    /// Something else, or unknown.
    #[default]
    Other,
}

impl Bus {
    /// The name the screens use.
    pub const fn name(self) -> &'static str {
        match self {
            Bus::Usb => "usb",
            Bus::Bluetooth => "bluetooth",
            Bus::Other => "other",
        }
    }

    /// What the engine needs to know of it. A bus nobody knows gets the bounds of USB: the pad may
    /// well be wired, but its silence must not be trusted.
    pub const fn pad_bus(self) -> PadBus {
        match self {
            Bus::Bluetooth => PadBus::Bluetooth,
            Bus::Usb | Bus::Other => PadBus::Usb,
        }
    }
}

/// A set of event codes, in sysfs' notation.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Bits(Vec<usize>);

impl Bits {
    /// Reads hexadecimal words, the highest first, as the kernel prints them.
    pub fn parse(text: &str) -> Bits {
        let words = text.split_whitespace().rev();
        Bits(
            words
                .map(|word| usize::from_str_radix(word, 16).unwrap_or(0))
                .collect(),
        )
    }

    /// Whether this code is in it.
    pub fn has(&self, code: u16) -> bool {
        let (word, bit) = (
            usize::from(code) / usize::BITS as usize,
            u32::from(code) % usize::BITS,
        );
        self.0.get(word).is_some_and(|w| w >> bit & 1 == 1)
    }

    fn count(&self) -> u32 {
        self.0.iter().map(|word| word.count_ones()).sum()
    }
}

impl Device {
    /// Whether it looks like a game controller.
    pub fn is_pad(&self) -> bool {
        PAD_KEYS.into_iter().any(|key| self.keys.has(key)) && self.axes.count() >= 2
    }

    /// The device behind a node, whether it is a pad or not; `None` if the kernel has none there.
    pub fn at_node(class: &Path, node: &Path) -> Option<Device> {
        let entry = class.join(node.file_name()?);
        // The link leads to .../input/inputN/eventN; N counts plugs.
        let sysfs = fs::read_link(&entry).ok()?;
        let attribute = |name: &str| {
            fs::read_to_string(entry.join("device").join(name))
                .map(|text| text.trim().to_string())
                .unwrap_or_default()
        };
        let bus = match attribute("id/bustype").as_str() {
            BUS_USB => Bus::Usb,
            BUS_BLUETOOTH => Bus::Bluetooth,
            _ => Bus::Other,
        };
        Some(Device {
            id: unit_id(bus, &attribute("phys"), &attribute("uniq"), &sysfs),
            name: attribute("name"),
            keys: Bits::parse(&attribute("capabilities/key")),
            axes: Bits::parse(&attribute("capabilities/abs")),
            node: node.to_path_buf(),
            sysfs,
            bus,
        })
    }
}

/// Every game controller the kernel has now, by node.
pub fn list(class: &Path) -> Vec<Device> {
    let Ok(entries) = fs::read_dir(class) else {
        return Vec::new();
    };
    let mut pads: Vec<Device> = entries
        .flatten()
        .filter(|entry| entry.file_name().to_string_lossy().starts_with("event"))
        .filter_map(|entry| Device::at_node(class, &Path::new(NODES).join(entry.file_name())))
        .filter(Device::is_pad)
        .collect();
    pads.sort_by(|a, b| a.node.cmp(&b.node));
    pads
}

/// `usb-0000:00:14.0-2/input0` names port and interface; the first interface is left out. A
/// Bluetooth device's `phys` is the computer's own address, so its `uniq` is taken.
fn unit_id(bus: Bus, phys: &str, uniq: &str, sysfs: &Path) -> String {
    let port = phys.strip_suffix("/input0").unwrap_or(phys);
    let named = match bus {
        Bus::Bluetooth => [uniq, port],
        Bus::Usb | Bus::Other => [port, uniq],
    };
    match named.into_iter().find(|text| !text.is_empty()) {
        Some(text) => text.replace(char::is_whitespace, "_"),
        None => fallback_id(sysfs),
    }
}

/// Pads made by software may have neither: they get the number of their plug.
fn fallback_id(sysfs: &Path) -> String {
    let plug = sysfs.parent().and_then(Path::file_name);
    format!(
        "virtual-{}",
        plug.unwrap_or_default().to_string_lossy().replace(' ', "_")
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bits_are_read_from_the_low_end() {
        // BTN_GAMEPAD's block of a common pad, as sysfs prints it on a 64-bit machine.
        let keys = Bits::parse("7cdb000000000000 0 0 0 0\n");
        assert!(keys.has(0x130) && keys.has(0x13e) && !keys.has(0x132));
        assert!(!keys.has(0) && !keys.has(0x2ff));
        assert_eq!(keys.count(), 11);
        assert_eq!(Bits::parse("nonsense").count(), 0);
    }

    #[test]
    fn ids_name_the_unit() {
        let id = |bus, phys, uniq| unit_id(bus, phys, uniq, Path::new("../x/input12/event3"));
        assert_eq!(
            id(Bus::Usb, "usb-0000:00:14.0-2/input0", "serial"),
            "usb-0000:00:14.0-2"
        );
        assert_eq!(id(Bus::Usb, "usb-1-2/input3", ""), "usb-1-2/input3");
        assert_eq!(
            id(Bus::Bluetooth, "00:11:22:33:44:55", "66:77:88:99:aa:bb"),
            "66:77:88:99:aa:bb"
        );
        assert_eq!(id(Bus::Other, "", ""), "virtual-input12");
    }

    #[test]
    fn an_absent_class_has_no_pads() {
        assert!(list(Path::new("/nowhere/at/all")).is_empty());
        assert!(Device::at_node(Path::new("/nowhere"), Path::new("/dev/input/event0")).is_none());
    }

    #[test]
    fn unknown_buses_are_not_trusted() {
        assert_eq!(Bus::Other.pad_bus(), PadBus::Usb);
        assert_eq!(Bus::Usb.pad_bus(), PadBus::Usb);
        assert_eq!(Bus::Bluetooth.pad_bus(), PadBus::Bluetooth);
    }
}
