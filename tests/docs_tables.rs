//! The tables of README.md say what the code says: names, defaults, bounds, words, fields.

#[path = "support/page.rs"]
mod page;
#[path = "support/whys.rs"]
mod whys;

use page::{blocks, read, readme, table};
use std::collections::BTreeSet;
use stillhand::cli::{screen, summary::Summary, words};
use stillhand::link::session::Standing;
use stillhand::link::traffic::Traffic;
use stillhand::profile::defaults::{self as d, Bound};
use stillhand::profile::{
    Source, builtin, load_operator, load_quiet, load_rig, press_text, shakes_word,
};
use stillhand::shell::drive::{Record, Shared};
use stillhand::shell::realtime::Punctuality;
use stillhand::shell::stats::{AxisRecord, Lateness};
use stillhand_engine::input::{
    Button, Control, LATENESS_BOUND, LinkLoss, PadBus, PadId, StopSource,
};
use stillhand_engine::operate::{consent::CENTRED_FOR, life::silence_bound, modes::Switch};
use stillhand_engine::output::{AxisStatus, Ceiling, State, Why};
use stillhand_engine::time::Span;
use stillhand_engine::units::Unit;
use whys::all_whys;

/// The rows a module's documentation has of a table, as its page shows them.
fn documented(path: &str) -> Vec<String> {
    let text = read(path);
    let rows = text.lines().filter_map(|line| line.strip_prefix("//! "));
    rows.filter(|line| line.starts_with("| `"))
        .map(str::to_owned)
        .collect()
}

#[test]
fn tables_of_names_are_those_of_the_code() {
    let page = readme();
    let lines: BTreeSet<&str> = page.lines().collect();
    for (path, heading) in [
        ("src/shell/pad/mod.rs", "our name"),
        ("src/link/mischief.rs", "event"),
        ("src/shell/pad/shake.rs", "shake"),
    ] {
        let rows = documented(path);
        assert_eq!(rows.len(), table(&page, heading).len(), "{path}");
        for row in &rows {
            assert!(lines.contains(row.as_str()), "{path}: {row}");
        }
    }
    let shown: BTreeSet<String> = table(&page, "our name")
        .into_iter()
        .map(|row| row[0].trim_matches('`').to_owned())
        .collect();
    let controls = Control::ALL.iter().map(|c| c.name().to_owned());
    let buttons = Button::ALL.iter().map(|b| b.name().to_owned());
    assert_eq!(shown, controls.chain(buttons).collect());
}

/// The row of a key: what it says is the default, and the rest in lower case.
fn key(page: &str, kind: &str, key: &str) -> (String, String) {
    let rows = table(page, &format!("key in `[{kind}]`"));
    let found = rows.iter().find(|row| row[0] == format!("`{key}`"));
    let found = found.unwrap_or_else(|| panic!("{kind}: {key} is missing"));
    (found[1].clone(), found[2..].join(" ").to_lowercase())
}

#[test]
fn defaults_are_those_of_the_code() {
    let page = readme();
    let s = |ms: f64| format!("{} s", ms / 1e3);
    let percent = |share: f64| format!("{share} %");
    let word = |press| format!("`\"{}\"`", press_text(press));
    let axis = "axis.NAME";
    for (kind, name, default) in [
        ("rig", "baud", d::BAUD_DEFAULT.to_string()),
        ("rig", "watchdog", format!("{} ms", d::WATCHDOG_DEFAULT)),
        ("operator", "wedge", format!("{} deg", d::WEDGE_DEFAULT)),
        (
            "operator",
            "shakes",
            format!("`\"{}\"`", shakes_word(d::SHAKES_DEFAULT)),
        ),
        (axis, "deadband", percent(d::DEADBAND_DEFAULT)),
        (axis, "saturation", percent(d::SATURATION_DEFAULT)),
        (
            axis,
            "half",
            percent(d::HALF_OF_LINEAR) + " if linear, else needed",
        ),
        (axis, "gain", s(d::GAIN_DEFAULT)),
        (axis, "reach", format!("{} mm", d::REACH_DEFAULT)),
        (axis, "lose", s(d::LOSE_DEFAULT)),
        ("buttons", "stop", word(d::STOP_DEFAULT)),
        ("buttons", "release", word(d::RELEASE_DEFAULT)),
        ("buttons", "gear_up", word(d::GEAR_UP_DEFAULT)),
        ("buttons", "gear_down", word(d::GEAR_DOWN_DEFAULT)),
    ] {
        assert_eq!(key(&page, kind, name).0, default, "default of {name}");
    }
}

#[test]
fn bounds_and_their_reasons_are_those_of_the_code() {
    let page = readme();
    let axis = "axis.NAME";
    let bounds: [(&str, &str, &str, &Bound); 21] = [
        ("rig", "delay", "ms", &d::DELAY),
        ("rig", "watchdog", "ms", &d::WATCHDOG),
        (axis, "scale", "counts/deg", &d::SCALE),
        (axis, "travel", "deg", &d::POSITION),
        (axis, "speed", "deg/s", &d::SPEED),
        (axis, "normal", "deg/s^2", &d::ACCEL),
        (axis, "deadband", "%", &d::DEADBAND),
        (axis, "saturation", "%", &d::SATURATION),
        (axis, "half", "%", &d::HALF),
        (axis, "gain", "s", &d::HANDS),
        (axis, "gears", "deg/s", &d::SPEED),
        (axis, "ceiling", "deg/s", &d::SPEED),
        ("operator", "wedge", "deg", &d::WEDGE),
        (axis, "framing", "deg/s", &d::SPEED),
        (axis, "fine", "%", &d::FINE),
        (axis, "inch", "deg", &d::STEP),
        (axis, "reach", "mm", &d::REACH),
        (axis, "steady", "hz", &d::STEADY_REST),
        (axis, "steady", "hz", &d::STEADY_MOVING),
        ("speed_trigger", "let_go", "%", &d::SPEED_SHARE),
        ("speed_trigger", "pulled", "%", &d::SPEED_SHARE),
    ];
    for (kind, name, unit, bound) in bounds {
        let scale = if unit == "s" { 1e3 } else { 1.0 };
        let range = format!("{} to {} {unit}", bound.low / scale, bound.high / scale);
        let text = key(&page, kind, name).1;
        assert!(text.contains(&range), "{name}: {range}\n{text}");
        // A speed's reason is given once, with the rig's.
        let again = matches!(name, "gears" | "ceiling" | "framing" | "pulled");
        let told = again || text.contains(bound.why);
        assert!(told, "{name}: {}\n{text}", bound.why);
    }
    let jerk = format!("`jerk` {} to {} deg/s^3", d::JERK.low, d::JERK.high);
    for (kind, name, says) in [
        (axis, "normal", jerk),
        (
            axis,
            "lose",
            format!("{} to {} s", d::HANDS.low / 1e3, d::HANDS.high / 1e3),
        ),
        (
            axis,
            "drive",
            format!("`gear` {} to {}:1", d::GEARING.low, d::GEARING.high),
        ),
        (
            axis,
            "drive",
            format!("`lead`, {} to {} mm", d::LEAD.low, d::LEAD.high),
        ),
        (
            axis,
            "drive",
            format!("`steps` {} to {}", d::STEPS.0, d::STEPS.1),
        ),
        (
            axis,
            "drive",
            format!("`microsteps` {} to {}", d::MICROSTEPS.0, d::MICROSTEPS.1),
        ),
        ("rig", "baud", format!("{} to {}", d::BAUD.0, d::BAUD.1)),
        ("rig", "id", format!("1 to {} printable", d::MOST_ID)),
        (
            "rig",
            "about",
            format!("at most {} characters", d::MOST_ABOUT),
        ),
        (
            "operator",
            "about",
            format!("at most {} characters", d::MOST_ABOUT),
        ),
        ("operator", "name", format!("1 to {} of", d::MOST_NAME)),
    ] {
        let text = key(&page, kind, name).1;
        assert!(text.contains(&says), "{name}: {says}\n{text}");
    }
}

/// The keys a table of a file may have, as the reader lists them where it meets one it does not
/// know.
fn keys(text: &str, load: impl Fn(&Source) -> Option<stillhand::profile::Problems>) -> Vec<String> {
    let problems = load(&Source::new("file", text)).expect("an unknown key");
    let unknown = |p: &&stillhand::profile::Problem| p.found == "`zzzzzzzz`";
    let problem = problems.list().iter().find(unknown).expect("refused");
    let allowed = problem.allowed.replace(" or ", ", ");
    allowed.split(", ").map(str::to_owned).collect()
}

#[test]
fn every_key_of_the_files_is_explained() {
    let page = readme();
    let rows = |heading: &str| -> BTreeSet<String> {
        let cells = table(&page, heading).into_iter().map(|row| row[0].clone());
        let names = cells.flat_map(|cell| cell.split(", ").map(str::to_owned).collect::<Vec<_>>());
        names
            .map(|name| name.trim_matches('`').to_owned())
            .collect()
    };
    let rig = |s: &Source| load_rig(s).err();
    let hands = |s: &Source| load_operator(s).err();
    let quiet = |s: &Source| load_quiet(s).err();
    let z = "zzzzzzzz = 1\n";
    let set = |list: Vec<Vec<String>>| list.concat().into_iter().collect::<BTreeSet<String>>();
    for (heading, list) in [
        ("rig", vec![keys(&format!("[rig]\n{z}"), rig)]),
        ("operator", vec![keys(&format!("[operator]\n{z}"), hands)]),
        (
            "buttons",
            vec![keys(&format!("[operator]\n[buttons]\n{z}"), hands)],
        ),
        (
            "speed_trigger",
            vec![keys(&format!("[operator]\n[speed_trigger]\n{z}"), hands)],
        ),
        (
            "axis.NAME",
            vec![
                keys(&format!("[rig]\n[axis.pan]\n{z}"), rig),
                keys(&format!("[operator]\n[axis.pan]\n{z}"), hands),
            ],
        ),
    ] {
        assert_eq!(
            rows(&format!("key in `[{heading}]`")),
            set(list),
            "{heading}"
        );
    }
    let list = vec![
        keys(&format!("[quiet]\n{z}"), quiet),
        keys(&format!("[quiet]\n[axis.pan]\n{z}"), quiet),
    ];
    assert_eq!(rows("key in a quiet file"), set(list));
}

#[test]
fn bounds_of_pads_and_loop_are_those_of_the_code() {
    let page = readme();
    let least = |bus| silence_bound(bus, Unit::Deg, 1e6).unwrap().secs();
    let most = silence_bound(PadBus::Usb, Unit::Mm, 0.0).unwrap().secs();
    let way = |unit, speed: f64| {
        silence_bound(PadBus::Bluetooth, unit, speed)
            .unwrap()
            .secs()
            * speed
    };
    let (usb, bluetooth) = (least(PadBus::Usb), least(PadBus::Bluetooth));
    for says in [
        format!("{} to {most} s for USB", usb),
        format!("{} to {most} s for Bluetooth", bluetooth),
        format!(
            "{} s for a pad that reports all the time",
            least(PadBus::Streaming)
        ),
        format!(
            "covers {} deg or {} mm",
            way(Unit::Deg, 10.0),
            way(Unit::Mm, 10.0)
        ),
        format!(
            "| the loop comes late | {} ms |",
            LATENESS_BOUND.secs() * 1e3
        ),
        format!("deadband\nfor {} s", CENTRED_FOR.secs()),
    ] {
        assert!(page.contains(&says), "{says}");
    }
}

#[test]
fn every_word_of_the_screens_is_explained() {
    let page = readme();
    let whys = all_whys();
    let mut states: Vec<State> = whys.into_iter().map(State::Withheld).collect();
    states.push(State::Stopped(StopSource::Command));
    states.push(State::Still);
    let explained: BTreeSet<String> = table(&page, "word")
        .into_iter()
        .map(|row| row[0].trim_matches('`').to_owned())
        .collect();
    let said: BTreeSet<String> = states.iter().map(|s| words::why(*s).to_owned()).collect();
    assert_eq!(explained, said);
    let others = [
        State::NoLink(Why::Start),
        State::NoPad(Why::Start),
        State::NoLink(Why::LinkLost(LinkLoss::PowerOff)),
        State::NoLink(Why::LinkLost(LinkLoss::Fault)),
        State::NoLink(Why::LinkLost(LinkLoss::StopInput)),
        State::Driving,
        State::Ending,
    ];
    let parts = table(&page, "part");
    for state in others.iter().chain(&states) {
        let name = format!("`{}`", words::state(*state));
        assert!(parts[0][1].contains(&name), "{name}");
    }
    for ceiling in Ceiling::ALL {
        let name = format!("`{}`", ceiling.name());
        assert!(parts[4][1].contains(&name), "{name}");
    }
}

#[test]
fn the_live_status_shown_is_one_the_program_draws() {
    let rig = load_rig(&builtin::BENCH_RIG.source()).unwrap().rig;
    let talk = load_operator(&builtin::TALK.source()).unwrap();
    let operator = talk.resolve(std::slice::from_ref(&rig)).unwrap();
    let shared = Shared::new();
    let mut snapshot = shared.snapshot.lock().unwrap().clone();
    snapshot.status.state = State::Driving;
    snapshot.status.groups[0].gear = 1;
    snapshot.status.groups[0].pad = Some(PadId(0));
    snapshot.status.modes.rolling = Switch::On;
    snapshot.standing = Standing::Ready;
    let axis = |position, speed, full_stick, demand| AxisStatus {
        position,
        speed,
        full_stick,
        demand,
        trigger: 1.0,
        binding: Some(Ceiling::Gear),
        ..AxisStatus::default()
    };
    snapshot.axes[0] = axis(31.4, 0.7, 3.0, 0.5);
    snapshot.axes[1] = axis(-8.01, -0.12, 3.0, -0.1);
    snapshot.axes[2] = axis(600.0, 0.0, 15.0, 0.0);
    let about = words::About {
        rig: &rig,
        operator: &operator,
        script: None,
    };
    let drawn = screen::lines(&snapshot, &about).join("\n");
    let shown = blocks(&readme(), "text");
    assert!(shown.contains(&format!("{drawn}\n")), "{drawn}\n{shown:?}");
}

/// The names of all numbers and texts in it, axes as NAME; a list counts as one.
fn fields(value: &serde_json::Value, name: &str, found: &mut BTreeSet<String>) {
    let inner = value.as_object().filter(|_| !name.ends_with(".ceilings"));
    let Some(inner) = inner else {
        found.insert(name.to_owned());
        return;
    };
    for (key, value) in inner {
        let key = if name == "axes" { "NAME" } else { key };
        let dot = if name.is_empty() { "" } else { "." };
        fields(value, &format!("{name}{dot}{key}"), found);
    }
}

#[test]
fn every_column_of_a_replayed_table_is_explained() {
    let rows = table(&readme(), "column");
    let explained: Vec<&str> = rows.iter().map(|row| row[0].trim_matches('`')).collect();
    let written: Vec<&str> = stillhand::cli::replay::HEADER.split(',').collect();
    assert_eq!(explained, written);
}

#[test]
fn every_field_of_the_summary_is_explained() {
    let rig = load_rig(&builtin::BENCH_RIG.source()).unwrap().rig;
    let record = Record {
        punctuality: Punctuality {
            scheduling: Ok(40),
            memory: Ok(()),
        },
        lateness: Lateness::default(),
        axes: rig
            .axes
            .iter()
            .map(|a| AxisRecord::default().row(a.unit.symbol()))
            .collect(),
        traffic: Traffic::default(),
        withheld: vec![(0.0, State::NoPad(Why::Start))],
        gave_up: false,
    };
    let json = Summary::new(&record, &rig, Span::from_millis(4))
        .json()
        .unwrap();
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    let mut printed = BTreeSet::new();
    fields(&json, "", &mut printed);
    let explained: BTreeSet<String> = table(&readme(), "field")
        .into_iter()
        .map(|row| row[0].trim_matches('`').to_owned())
        .collect();
    assert_eq!(explained, printed);
    let row: Vec<&String> = json["withheld"][0].as_object().unwrap().keys().collect();
    assert_eq!(row, ["at", "why"]);
}
