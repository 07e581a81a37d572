//! `stillhand pads`: what is plugged in, what it can do, and what may drive.

use std::fs::File;
use std::io::{self, Write};
use std::path::Path;

use gilrs::ev::Code;
use gilrs::{Axis, Button as Key, Gamepad, Gilrs, LinuxGamepadExt};
use serde::Serialize;
use stillhand_engine::input::{Button, Control};

use crate::shell::pad::PadChoice;
use crate::shell::pad::device::{self, Device};
use crate::shell::pad::reader::open_gilrs;
use crate::shell::pad::translate::{button_of, control_of};

/// Event type of keys (`EV_KEY` in linux/input-event-codes.h).
const EV_KEY: u32 = 1;

/// gilrs' names of what may stand behind a control.
const AXES: [Axis; 6] = [
    Axis::LeftStickX,
    Axis::LeftStickY,
    Axis::RightStickX,
    Axis::RightStickY,
    Axis::LeftZ,
    Axis::RightZ,
];
const KEYS: [Key; 15] = [
    Key::South,
    Key::East,
    Key::North,
    Key::West,
    Key::LeftTrigger,
    Key::RightTrigger,
    Key::Select,
    Key::Start,
    Key::Mode,
    Key::LeftThumb,
    Key::RightThumb,
    Key::DPadUp,
    Key::DPadDown,
    Key::DPadLeft,
    Key::DPadRight,
];

/// Everything the command found.
#[derive(Clone, Debug, Serialize)]
pub struct PadsReport {
    /// The pads, by node.
    pub pads: Vec<PadRow>,
    /// What to do next, a sentence each.
    pub advice: Vec<String>,
}

/// One pad.
#[derive(Clone, Debug, Serialize)]
pub struct PadRow {
    /// The very unit, as `--pad` takes it.
    pub id: String,
    /// What its driver calls it.
    pub name: String,
    /// `usb`, `bluetooth` or `other`.
    pub bus: &'static str,
    /// Its node, such as `/dev/input/event7`.
    pub node: String,
    /// The sticks and triggers it has.
    pub controls: Vec<&'static str>,
    /// The buttons it has.
    pub buttons: Vec<&'static str>,
    /// Whether it may drive by the choices given.
    pub drives: bool,
    /// Why it can't be used, if it can't.
    pub problem: Option<String>,
}

/// Looks once and reports. `choices` are the `--pad` values in force, none meaning any.
///
/// # Errors
/// Those of writing to `out`.
///
/// # Returns
/// The exit code: 0 if at least one pad can be used, 1 if none can.
pub fn pads(choices: &[PadChoice], json: bool, out: &mut impl Write) -> io::Result<u8> {
    let report = look(choices);
    if json {
        serde_json::to_writer_pretty(&mut *out, &report)?;
        writeln!(out)?;
    } else {
        write!(out, "{}", as_text(&report))?;
    }
    let usable = report.pads.iter().any(|row| row.problem.is_none());
    Ok(u8::from(!usable))
}

/// Finds every pad that is plugged in now.
pub fn look(choices: &[PadChoice]) -> PadsReport {
    let devices = device::list(Path::new(device::INPUT_CLASS));
    let opened = open_gilrs(true);
    let rows: Vec<PadRow> = devices
        .iter()
        .map(|device| row(device, opened.as_ref().ok(), choices))
        .collect();
    let mut advice = advice(&rows);
    if let Err(why) = opened {
        advice.insert(0, format!("Pads can't be read at all: {why}."));
    }
    PadsReport { pads: rows, advice }
}

fn row(device: &Device, gilrs: Option<&Gilrs>, choices: &[PadChoice]) -> PadRow {
    let pad = gilrs.and_then(|gilrs| {
        gilrs
            .gamepads()
            .map(|(_, pad)| pad)
            .find(|pad| pad.devpath() == device.node)
    });
    let problem = match pad {
        Some(_) => None,
        None => Some(why_not(device)),
    };
    PadRow {
        id: device.id.clone(),
        name: device.name.clone(),
        bus: device.bus.name(),
        node: device.node.display().to_string(),
        controls: pad.map_or_else(Vec::new, |pad| controls(&pad, device)),
        buttons: pad.map_or_else(Vec::new, |pad| buttons(&pad, device)),
        drives: problem.is_none() && PadChoice::lets_drive(choices, &device.id),
        problem,
    }
}

fn why_not(device: &Device) -> String {
    match File::options().read(true).write(true).open(&device.node) {
        Err(error) if error.kind() == io::ErrorKind::PermissionDenied => "no permission".into(),
        Err(error) => error.to_string(),
        Ok(_) => "udev does not call it a game controller".into(),
    }
}

fn controls(pad: &Gamepad<'_>, device: &Device) -> Vec<&'static str> {
    let has = |control: Control| {
        let axis = AXES
            .into_iter()
            .find(|axis| control_of(*axis) == Some(control))
            .and_then(|axis| pad.axis_code(axis));
        let key = match control {
            Control::Lt => pad.button_code(Key::LeftTrigger2),
            Control::Rt => pad.button_code(Key::RightTrigger2),
            Control::Lx | Control::Ly | Control::Rx | Control::Ry => None,
        };
        [axis, key]
            .into_iter()
            .flatten()
            .any(|c| is_there(device, c))
    };
    let all = Control::ALL.into_iter();
    all.filter(|c| has(*c)).map(Control::name).collect()
}

fn buttons(pad: &Gamepad<'_>, device: &Device) -> Vec<&'static str> {
    let has = |button: Button| {
        let hat = match button {
            Button::DpadUp | Button::DpadDown => pad.axis_code(Axis::DPadY),
            Button::DpadLeft | Button::DpadRight => pad.axis_code(Axis::DPadX),
            _ => None,
        };
        let key = KEYS
            .into_iter()
            .find(|key| button_of(*key) == Some(button))
            .and_then(|key| pad.button_code(key));
        [hat, key]
            .into_iter()
            .flatten()
            .any(|c| is_there(device, c))
    };
    let all = Button::ALL.into_iter();
    all.filter(|b| has(*b)).map(Button::name).collect()
}

/// gilrs' default mapping names some controls whether the pad has them or not; the kernel knows.
fn is_there(device: &Device, code: Code) -> bool {
    let packed = code.into_u32();
    let number = (packed & 0xffff) as u16;
    if packed >> 16 == EV_KEY {
        device.keys.has(number)
    } else {
        device.axes.has(number)
    }
}

fn advice(rows: &[PadRow]) -> Vec<String> {
    let mut advice = Vec::new();
    let forbidden = |row: &PadRow| row.problem.as_deref() == Some("no permission");
    if let Some(row) = rows.iter().find(|row| forbidden(row)) {
        advice.push(format!(
            "You may not open {}: add yourself to the group `input` (`sudo usermod -aG input \
             $USER`, then log in again), or install the udev rule that comes with stillhand and \
             plug the pad in again.",
            row.node
        ));
    }
    if rows.is_empty() {
        advice.push("No pad is plugged in: plug one in, or pair it by Bluetooth.".into());
        advice.push(
            "If yours is plugged in and not seen, its driver may be missing: the kernel's log \
             (`sudo dmesg`) says so."
                .into(),
        );
    }
    if rows.iter().all(|row| row.problem.is_some()) {
        advice.push("Then run `stillhand pads` again.".into());
    } else if rows.iter().any(|row| row.drives) {
        advice.push(
            "Every pad stops the rig with `east`. To let only one drive: `stillhand run --pad ID`."
                .into(),
        );
    } else {
        advice.push("None of these is the pad you chose to drive with; all of them stop.".into());
    }
    advice
}

fn as_text(report: &PadsReport) -> String {
    let mut lines = Vec::new();
    if !report.pads.is_empty() {
        lines.push(["ID", "NAME", "BUS", "DRIVES", "CONTROLS"].map(String::from));
    }
    lines.extend(report.pads.iter().map(|row| {
        let drives = if row.drives { "yes" } else { "no" };
        let controls = match &row.problem {
            Some(problem) => problem.clone(),
            None => all_controls(row),
        };
        let (id, name) = (row.id.clone(), printable(&row.name));
        [id, name, row.bus.into(), drives.into(), controls]
    }));
    let width = |column: usize| {
        let lengths = lines.iter().map(|line| line[column].chars().count());
        lengths.max().unwrap_or(0)
    };
    let widths: [usize; 4] = std::array::from_fn(width);
    let mut text = String::new();
    for line in &lines {
        for (cell, width) in line.iter().zip(widths) {
            text += &format!("{cell:width$}  ");
        }
        text += &line[4];
        text.push('\n');
    }
    for sentence in &report.advice {
        text += sentence;
        text.push('\n');
    }
    text
}

fn all_controls(row: &PadRow) -> String {
    let missing: Vec<&str> = Button::ALL
        .into_iter()
        .map(Button::name)
        .filter(|name| !row.buttons.contains(name))
        .collect();
    let buttons = match missing.as_slice() {
        [] => "all buttons".to_string(),
        missing => format!("all buttons but {}", missing.join(" ")),
    };
    format!("{}, {buttons}", row.controls.join(" "))
}

/// A device may call itself anything; it must not steer the terminal.
fn printable(name: &str) -> String {
    name.replace(char::is_control, "?")
}
