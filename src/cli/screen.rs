//! The live status on a terminal: a few lines of at most 79 columns, rewritten in place.
//!
//! ```text
//! driving   gear 2   quiet   pad 1   link ok, 24.1 V 38 C
//! the sticks move the rig
//! pan        [-------o-------]     1.4 deg    +0.70 deg/s  full   3.00 gear
//! tilt       [-------o-------]     0.0 deg    -0.12 deg/s  full   3.00 gear
//! slide      [-------o-------]   600.0 mm     +0.00 mm/s   full  15.00 gear
//! ```

use super::live::waiting;
use super::words::{self, About};
use crate::link::session::Standing;
use crate::shell::drive::{Health, Snapshot};
use std::fmt::Write;
use stillhand_engine::current::Current;
use stillhand_engine::operate::modes::{Mode, Switch};
use stillhand_engine::output::{AxisStatus, Enabled, GroupStatus, Mover, Place, State};
use stillhand_engine::rig::{Axis, Travel};

/// Columns a line may have: one less than a terminal's usual 80, so that it never wraps.
pub const COLUMNS: usize = 79;
/// Places of the bar that shows a travel.
const BAR: usize = 15;

/// The lines for `snapshot`: how things stand, what to do, and a line for each axis.
pub fn lines(snapshot: &Snapshot, about: &About) -> Vec<String> {
    let mut lines = vec![head(snapshot, about)];
    lines.extend(wrapped(&advice(snapshot, about)));
    lines.extend(waiting(snapshot));
    lines.extend(snapshot.file_wrong.iter().flat_map(|line| wrapped(line)));
    lines.extend(snapshot.journal_stopped.iter().flat_map(|l| wrapped(l)));
    for (axis, status) in about.rig.axes.iter().zip(&snapshot.axes) {
        lines.push(row(axis, status));
    }
    for line in &mut lines {
        *line = line.chars().take(COLUMNS).collect();
    }
    lines
}

/// `text` in lines that fit, broken between words; blanks it begins with are kept.
pub(super) fn wrapped(text: &str) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split(' ') {
        match lines.last_mut() {
            Some(last) if last.chars().count() + 1 + word.chars().count() <= COLUMNS => {
                last.push(' ');
                last.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

/// State, gears, modes, pads and link.
fn head(snapshot: &Snapshot, about: &About) -> String {
    let status = &snapshot.status;
    let mut parts = vec![words::state(status.state).to_owned()];
    let groups: Vec<(&str, &GroupStatus)> = about
        .operator
        .groups
        .iter()
        .map(String::as_str)
        .zip(&status.groups)
        .collect();
    match &groups[..] {
        [(_, only)] => {
            parts.push(format!("gear {}", only.gear + 1));
            parts.push(pad(only, about));
        }
        several => {
            for (name, group) in several {
                parts.push(format!("{name} g{} {}", group.gear + 1, pad(group, about)));
            }
        }
    }
    for mode in Mode::ALL {
        match status.modes.get(mode) {
            Switch::Off => {}
            Switch::On => parts.push(mode.name().to_owned()),
            Switch::Leaving => parts.push(format!("{} (let go)", mode.name())),
        }
    }
    parts.push(link(&snapshot.standing, snapshot.health));
    parts.join("   ")
}

/// Which pad holds a group, and whether it lives.
fn pad(group: &GroupStatus, about: &About) -> String {
    let Some(pad) = group.pad else {
        return "no pad".to_owned();
    };
    let name = about.pad(pad);
    match group.silence_bound {
        Some(bound) if group.silent_for.0 * 2 > bound.0 => format!(
            "{name} SILENT {:.0} s of {:.0}",
            group.silent_for.secs(),
            bound.secs()
        ),
        _ => name,
    }
}

/// How the link stands, and what the rig tells of its health.
fn link(standing: &Standing, health: Option<Health>) -> String {
    let mut text = match standing {
        Standing::Ready => "link ok".to_owned(),
        Standing::Closed => "port closed".to_owned(),
        _ => "link not ready".to_owned(),
    };
    let Some(health) = health else { return text };
    // Writing to a String can't fail.
    if let Some(millivolts) = health.supply_mv {
        let _ = write!(text, ", {:.1} V", f64::from(millivolts) / 1000.0);
    }
    if let Some(degrees) = health.drive_c {
        let _ = write!(text, ", {degrees} C");
    }
    if !health.energised {
        text.push_str(", motors off");
    }
    text
}

/// What to do, if anything keeps the rig or an axis from moving.
pub(super) fn advice(snapshot: &Snapshot, about: &About) -> String {
    let says = words::says(&snapshot.status, &snapshot.axes, about);
    match snapshot.current {
        Current::Awaited if snapshot.status.state == State::Still => {
            "still ends once every motor has its full current again".to_owned()
        }
        Current::MayBeLow if snapshot.lowered != 0 => {
            format!("{says}; {}", lowered(snapshot, about))
        }
        Current::Full | Current::MayBeLow | Current::Awaited => says,
    }
}

/// Which axes hold with less current: a hand moves them more easily.
pub(super) fn lowered(snapshot: &Snapshot, about: &About) -> String {
    let axes = about.rig.axes.iter().enumerate();
    let low = axes.filter(|(place, _)| snapshot.is_lowered(*place));
    let names: Vec<&str> = low.map(|(_, axis)| axis.name.as_str()).collect();
    format!(
        "with less motor current, so hands off: {}",
        names.join(", ")
    )
}

/// One axis: where it is in its travel, its speed, the speed of a full stick and why.
fn row(axis: &Axis, status: &AxisStatus) -> String {
    let unit = axis.unit.symbol();
    format!(
        "{:<10.10} {} {:>7.1} {unit:<3} {:>+8.2} {:<5}  full {:>6.2} {}",
        axis.name,
        bar(axis, status),
        flat(status.position, 0.05),
        flat(status.speed, 0.005),
        format!("{unit}/s"),
        status.full_stick,
        why(status)
    )
}

/// Without the sign of what rounds to zero.
fn flat(x: f64, least: f64) -> f64 {
    if x.abs() < least { 0.0 } else { x }
}

/// Where an axis is in its travel: `o` is the axis, `|` is zero.
fn bar(axis: &Axis, status: &AxisStatus) -> String {
    let Travel::Finite(ends) = axis.travel else {
        return format!("({:^BAR$})", "round and round");
    };
    if status.place == Place::Unreferenced {
        return format!("[{:?<BAR$}]", "");
    }
    let (low, high) = (ends.low().0, ends.high().0);
    let place = |x: f64| {
        let share = (x - low) / (high - low);
        (share * (BAR - 1) as f64)
            .round()
            .clamp(0.0, (BAR - 1) as f64) as usize
    };
    let mut bar = ['-'; BAR];
    if low <= 0.0 && high >= 0.0 {
        bar[place(0.0)] = '|';
    }
    bar[place(status.position)] = 'o';
    let inside: String = bar.iter().collect();
    format!("[{inside}]")
}

/// The ceiling that makes a full stick so fast, or what else moves or holds the axis.
fn why(status: &AxisStatus) -> String {
    let word = match (status.place, status.enabled, status.mover) {
        (_, Enabled::Wanted, _) => "enable?",
        (_, Enabled::Unbound, _) => "no enable",
        (Place::Outside, ..) => "outside",
        (_, _, Mover::Sustain) => "kept",
        (_, _, Mover::Inching) => "inching",
        (_, _, Mover::Errand) => "errand",
        (_, _, Mover::Sticks) => status.binding.map_or("", |ceiling| ceiling.name()),
    };
    let band = status.band.map_or("", |_| " band");
    match status.trigger < 0.995 {
        true => format!("{word}{band} {:.0}%", status.trigger * 100.0),
        false => format!("{word}{band}"),
    }
}

#[cfg(test)]
mod tests;
