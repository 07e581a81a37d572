//! How things stand, as one JSON object for clients of the control socket and for the board.

use super::live::waiting;
use super::screen;
use super::travel;
use super::words::{self, About};
use crate::link::session::Standing;
use crate::shell::drive::Snapshot;
use crate::shell::pages::{Page, PageAxis};
use serde_json::{Value, json};
use std::collections::VecDeque;
use stillhand_engine::operate::modes::{Mode, Switch};
use stillhand_engine::output::{AxisStatus, Enabled, GroupStatus, Mover, Place};
use stillhand_engine::reference::{ReferenceStatus, Stands};
use stillhand_engine::rig::{Axis, Travel};

/// The page for `snapshot`, with the last of the log.
pub(super) fn page(snapshot: &Snapshot, about: &About, told: &Told) -> Page {
    let operator = about.operator;
    let groups: Vec<String> = operator.groups.iter().cloned().collect();
    let gears: Vec<u8> = (0..groups.len())
        .map(|group| operator.gears_of(group as u8))
        .collect();
    let status = &snapshot.status;
    let lines = screen::lines(snapshot, about);
    let group_rows: Vec<Value> = groups
        .iter()
        .zip(&gears)
        .zip(&status.groups)
        .map(|((name, gears), group)| group_row(name, *gears, group, about))
        .collect();
    let modes: serde_json::Map<String, Value> = Mode::ALL
        .iter()
        .map(|mode| {
            (
                mode.name().to_owned(),
                json!(switch(status.modes.get(*mode))),
            )
        })
        .collect();
    let axes: Vec<Value> = (0..about.rig.axes.len())
        .map(|place| axis_row(place, snapshot, about))
        .collect();
    let waits = waiting(snapshot);
    let json = json!({
        "rig": about.rig.id,
        "operator": operator.name,
        "state": words::state(status.state),
        "says": screen::advice(snapshot, about),
        "since_start_s": snapshot.since_zero.map(|span| round(span.secs())),
        "groups": group_rows,
        "modes": modes,
        "axes": axes,
        "reference": reference(&status.reference, about),
        "link": link(snapshot),
        "files": {
            "waits": waits,
            "wrong": snapshot.file_wrong,
        },
        "journal_stopped": snapshot.journal_stopped,
        "screen": lines,
        "told": told.rows(),
    });
    Page {
        status: *status,
        operator: operator.name.clone(),
        waits,
        groups,
        gears,
        axes: about
            .rig
            .axes
            .iter()
            .zip(&snapshot.axes)
            .map(|(axis, status)| page_axis(axis, status))
            .collect(),
        reference: (
            status.reference.stands == Stands::Taken,
            words::reference(status.reference.asked, status.reference.stands, about).1,
        ),
        json,
    }
}

/// The last lines of the log, numbered from the start.
#[derive(Debug, Default)]
pub(super) struct Told {
    lines: VecDeque<String>,
    count: u64,
}

impl Told {
    /// More than a page of a terminal shows.
    const MOST: usize = 40;

    pub(super) fn push(&mut self, line: String) {
        if self.lines.len() == Told::MOST {
            self.lines.pop_front();
        }
        self.lines.push_back(line);
        self.count += 1;
    }

    fn rows(&self) -> Value {
        let first = self.count - self.lines.len() as u64 + 1;
        let numbered = (first..).zip(&self.lines);
        numbered
            .map(|(n, says)| json!({ "n": n, "says": says }))
            .collect()
    }
}

fn group_row(name: &str, gears: u8, group: &GroupStatus, about: &About) -> Value {
    json!({
        "name": name,
        "pad": group.pad.map(|pad| about.pad(pad)),
        "asked": group.asked.map(|pad| about.pad(pad)),
        "gear": group.gear + 1,
        "gears": gears,
        "silent_s": round(group.silent_for.secs()),
        "silence_bound_s": group.silence_bound.map(|bound| round(bound.secs())),
    })
}

fn axis_row(place: usize, snapshot: &Snapshot, about: &About) -> Value {
    let (axis, status) = (&about.rig.axes[place], &snapshot.axes[place]);
    let current = match snapshot.is_lowered(place) {
        true => "lowered",
        false => "full",
    };
    let travel = match axis.travel {
        Travel::Continuous => Value::Null,
        Travel::Finite(ends) => json!([ends.low().0, ends.high().0]),
    };
    json!({
        "name": axis.name,
        "unit": axis.unit.symbol(),
        "position": round(status.position),
        "travel": travel,
        "place": stands(status.place),
        "speed": round(status.speed),
        "demand": round(status.demand),
        "full_stick": round(status.full_stick),
        "ceiling": status.binding.map(|ceiling| ceiling.name()),
        "band": status.band.map(|band| [round(band.low.0), round(band.high.0)]),
        "trigger": round(status.trigger),
        "mover": mover(status.mover),
        "enable": enable(status.enabled),
        "armed": status.armed,
        "current": current,
        "stop_s": round(status.stop_time),
        "stop_distance": round(status.stop_distance),
    })
}

fn page_axis(axis: &Axis, status: &AxisStatus) -> PageAxis {
    let unit = axis.unit.symbol();
    let at = match status.referenced {
        true => format!("stands at {} {unit}", round(status.position)),
        false => "has no reference".to_owned(),
    };
    let goes = match axis.travel {
        Travel::Continuous => "goes round and round".to_owned(),
        Travel::Finite(ends) => format!("may go from {} to {} {unit}", ends.low().0, ends.high().0),
    };
    PageAxis {
        name: axis.name.clone(),
        unit: axis.unit,
        stands: format!("{} {at} and {goes}", axis.name),
        here: travel::at_rest(axis, status.referenced, status.position, status.speed),
    }
}

/// The last reference that was asked for; null before the first.
fn reference(status: &ReferenceStatus, about: &About) -> Value {
    let stands = match status.stands {
        Stands::Never => return Value::Null,
        Stands::Asked => "asked",
        Stands::Taken => "taken",
        Stands::Refused(_) => "refused",
    };
    let axis = about.rig.axes.get(usize::from(status.asked.axis));
    json!({
        "axis": axis.map(|axis| &axis.name),
        "here": status.asked.at,
        "stands": stands,
        "says": words::reference(status.asked, status.stands, about).1,
    })
}

fn link(snapshot: &Snapshot) -> Value {
    let health = snapshot.health;
    json!({
        "ready": snapshot.standing == Standing::Ready,
        "open": snapshot.standing != Standing::Closed,
        "energised": health.map(|health| health.energised),
        "supply_v": health.and_then(|health| health.supply_mv).map(|mv| f64::from(mv) / 1000.0),
        "drive_c": health.and_then(|health| health.drive_c),
    })
}

/// Ten thousandths: finer than anything moves, and short to read.
fn round(x: f64) -> f64 {
    (x * 1e4).round() / 1e4
}

fn switch(switch: Switch) -> &'static str {
    match switch {
        Switch::Off => "off",
        Switch::On => "on",
        Switch::Leaving => "leaving",
    }
}

fn stands(place: Place) -> &'static str {
    match place {
        Place::Inside => "inside",
        Place::Outside => "outside",
        Place::Unreferenced => "unreferenced",
    }
}

fn mover(mover: Mover) -> &'static str {
    match mover {
        Mover::Sticks => "sticks",
        Mover::Sustain => "sustain",
        Mover::Inching => "inching",
        Mover::Errand => "errand",
    }
}

fn enable(enabled: Enabled) -> &'static str {
    match enabled {
        Enabled::NotNeeded => "not needed",
        Enabled::Held => "held",
        Enabled::Wanted => "wanted",
        Enabled::Unbound => "unbound",
    }
}
