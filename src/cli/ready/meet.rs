//! Steps rig and pad: who is there, and what the rig and the system tell of power, temperature and battery.

use super::super::job::Desk;
use super::super::words;
use super::record::Item;
use crate::link::session::Standing;
use crate::shell::pad::PresentPad;
use crate::shell::pad::reader::open_gilrs;
use gilrs::{LinuxGamepadExt, PowerInfo};
use stillhand_engine::operate::life::silence_bound;
use stillhand_engine::output::State;
use stillhand_engine::time::Span;

/// A pad whose battery tells less, in per cent, is charged first: what is left may be over before the day is.
const BATTERY_LEAST: u8 = 20;

/// Why the rig was not met.
pub(super) fn not_met(desk: &Desk<'_>) -> Item {
    let says = match (&desk.snapshot.standing, desk.snapshot.status.state) {
        (Standing::Refused(refusal), _) => refusal.explain(desk.rig),
        (Standing::Ready, State::NoPad(_)) => "no pad may drive it".to_owned(),
        (Standing::Ready, state) => format!("the rig is there, and it is {}", words::state(state)),
        (Standing::PowerOff, _) => "its motor power is off".to_owned(),
        (Standing::Held(_), _) => "it tells of a fault or of its stop input".to_owned(),
        (Standing::AwaitingRest, _) => "it moves and does not come to rest".to_owned(),
        (Standing::Closed, _) => "its port is not open".to_owned(),
        (Standing::Greeting | Standing::SettingUp, _) => "it does not answer".to_owned(),
    };
    Item::fail(
        "rig",
        says,
        "see what was told while it was waited for, and begin anew",
    )
}

/// The rig as it was met.
pub(super) fn rig(desk: &Desk<'_>) -> Vec<Item> {
    let mut items = vec![Item::pass(
        "met",
        format!(
            "it says that it is \"{}\", with the axes and scales of the rig file",
            desk.rig.id
        ),
    )];
    if let Some(report) = &desk.snapshot.report {
        let stricter = words::stricter(desk.rig, report);
        items.push(match stricter.is_empty() {
            true => Item::told("limits", "its own are no lower than those of the rig file"),
            false => Item::told("limits", stricter.join("; ")),
        });
    }
    for (axis, status) in desk.rig.axes.iter().zip(&desk.snapshot.axes) {
        items.push(match status.referenced {
            true => Item::pass(
                format!("reference of {}", axis.name),
                format!(
                    "known; it stands at {:.1} {}",
                    status.position,
                    axis.unit.symbol()
                ),
            ),
            false => Item::fail(
                format!("reference of {}", axis.name),
                "not known: nothing guards its ends",
                "let the rig find its reference, then check again",
            ),
        });
    }
    let Some(health) = desk.snapshot.health else {
        return items;
    };
    let current = if health.energised {
        "on, motors carry current"
    } else {
        "on, motors carry no current"
    };
    items.push(Item::told("motor power", current));
    let volts = health
        .supply_mv
        .map(|mv| format!("{:.1} V", f64::from(mv) / 1e3));
    let drives = health.drive_c.map(|c| format!("{c} C"));
    let unknown = || "the rig does not tell".to_owned();
    items.push(Item::told("supply", volts.unwrap_or_else(unknown)));
    items.push(Item::told("drives", drives.unwrap_or_else(unknown)));
    items
}

/// The pad that holds the rig, unless a script plays it.
pub(super) fn holder<'d>(desk: &Desk<'d>) -> Option<&'d PresentPad> {
    let holder = desk.snapshot.status.pad();
    desk.pads.iter().find(|pad| Some(pad.pad) == holder)
}

/// What is known of that pad. `trimmed_on` is when its trim was written, if that is known.
pub(super) fn pad(desk: &Desk<'_>, trimmed_on: impl Fn(&str) -> Option<String>) -> Vec<Item> {
    let Some(pad) = holder(desk) else {
        let says = "a script plays it: no hand and no battery were there to be looked at";
        return vec![Item::told("pad", says)];
    };
    let name = pad.name.replace(char::is_control, "?");
    let mut items = vec![Item::pass(
        "pad",
        format!("{} ({name}, {}) is in control", pad.id, pad.bus.name()),
    )];
    items.push(match (pad.trimmed, trimmed_on(&pad.id)) {
        (true, Some(date)) => Item::told("trim", format!("measured on {date}")),
        (true, None) => Item::told("trim", "it is read by a trim of its own"),
        (false, _) => Item::told(
            "trim",
            "none: `stillhand trim` measures where its sticks rest",
        ),
    });
    items.push(battery(pad));
    items.push(life(desk, pad));
    items
}

fn battery(pad: &PresentPad) -> Item {
    let power = open_gilrs(true).ok().and_then(|gilrs| {
        let mut pads = gilrs.gamepads();
        pads.find(|(_, own)| own.devpath() == pad.node)
            .map(|(_, own)| own.power_info())
    });
    let low = |percent: u8, how: &str| {
        let says = format!("{percent} %{how}");
        match percent < BATTERY_LEAST {
            true => Item::fail(
                "battery",
                says,
                format!("charge it to {BATTERY_LEAST} % at least, or change it"),
            ),
            false => Item::pass("battery", says),
        }
    };
    match power {
        Some(PowerInfo::Discharging(percent)) => low(percent, ""),
        Some(PowerInfo::Charging(percent)) => {
            Item::told("battery", format!("{percent} %, charging"))
        }
        Some(PowerInfo::Charged) => Item::pass("battery", "full"),
        Some(PowerInfo::Wired) => Item::told("battery", "none that the system knows of"),
        Some(PowerInfo::Unknown) | None => Item::told("battery", "the system does not tell"),
    }
}

/// After which silence of the pad the fastest motion of each axis is stopped: the shortest.
fn life(desk: &Desk<'_>, pad: &PresentPad) -> Item {
    let bounds = desk.operator.hands.iter().filter_map(|hand| {
        let axis = desk.rig.axes.get(usize::from(hand.axis))?;
        let fastest = hand.gears.speed(hand.gears.count().saturating_sub(1));
        silence_bound(pad.life, axis.unit, fastest.lower(axis.speed).0)
    });
    Item::told(
        "life",
        match bounds.min() {
            Some(bound) => format!(
                "in the fastest gear a moving axis stops once the pad was silent for {:.1} s",
                bound.secs()
            ),
            None => "its silence has no bound: an unplug is told at once".to_owned(),
        },
    )
}

/// The longest silence of the pad while the rig moved.
pub(super) fn silence(longest: Span) -> Item {
    let says = format!(
        "while the rig moved, the pad was silent for {:.1} s at the longest",
        longest.secs()
    );
    Item::told("silence", says)
}
