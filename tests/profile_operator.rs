//! An operator profile that says all it can arrives in the engine as it was said; the quiet file it
//! names is read beside it; its table for the wall fits the wall.

use std::fs;
use std::path::PathBuf;
use stillhand::cli::check::{Form, check};
use stillhand::cli::{bindings, files};
use stillhand::profile::{
    OperatorFile, Source as Text, builtin, load_operator, load_quiet, load_rig,
};
use stillhand_engine::bindings::{Action, Press};
use stillhand_engine::input::{Button, Control};
use stillhand_engine::operator::{Enable, Operator, Quiet, Source, StickShape};
use stillhand_engine::rig::Rig;

/// Everything a profile can say, on the axes of the bench rig.
const ALL: &str = r#"
[operator]
name = "second-violin"
enable = "rt"
begins_quiet = true
left_stick = "radial"
common_speed = true
wedge = { right = "0 deg" }

[speed_trigger]
control = "lt"
let_go = "40 %"
pulled = "100 %"

[groups]
head = ["tilt", "pan"]
base = ["slide"]

[axis.pan]
control = "rx"
fine = { control = "lx", share = "12.5 %" }
gears = ["1 deg/s", "6 deg/s"]
framing = "2.3 deg/s"

[axis.tilt]
control = "ry"
gears = ["1 deg/s", "6 deg/s"]
inch = { step = "0.1 deg", creep = "0.3 deg/s" }

[axis.slide]
gears = ["5 mm/s"]
inch = { step = "0.5 mm", creep = "2 mm/s" }

[buttons]
release = "select + start"
gear_up = "hold tr"
gear_down = "none"
quiet = "west"
still = "hold north"
reduced = "tl + south"
rolling = "select + south"
sustain = "tl+north"

[buttons.control]
base = "hold select"
head = "tl + select"

[buttons.inch]
tilt = { plus = "dpad-up", minus = "dpad-down" }
slide = { plus = "tl + dpad-right", minus = "none" }
"#;

fn bench() -> Rig {
    load_rig(&builtin::BENCH_RIG.source()).unwrap().rig
}

fn load(text: &str) -> OperatorFile {
    load_operator(&Text::new("all.toml", text)).unwrap_or_else(|e| panic!("{e}"))
}

fn resolved(file: &OperatorFile) -> Operator {
    file.resolve(&[bench()]).unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn hands_arrive_as_they_were_said() {
    let operator = resolved(&load(ALL));
    assert!(operator.starts_quiet);
    assert_eq!(operator.enable, Some(Enable::Trigger(Control::Rt)));
    assert_eq!(operator.sticks.left, StickShape::Radial { common: true });
    let wedge_tan = 0.0;
    assert_eq!(operator.sticks.right, StickShape::Axial { wedge_tan });
    let trigger = operator.speed_trigger.unwrap();
    assert_eq!(
        (trigger.control, trigger.let_go, trigger.pulled),
        (Control::Lt, 0.4, 1.0)
    );
    assert_eq!(operator.groups.to_vec(), ["head", "base"]);
    let [pan, tilt, slide] = &operator.hands[..] else {
        panic!("three hands");
    };
    assert_eq!((pan.group, tilt.group, slide.group), (0, 0, 1));
    assert_eq!(pan.control, Some(Source::Stick(Control::Rx)));
    let fine = pan.fine.unwrap();
    assert_eq!(
        (fine.source, fine.share),
        (Source::Stick(Control::Lx), 0.125)
    );
    assert_eq!(pan.framing.unwrap().0, 2.3);
    assert_eq!((tilt.fine, tilt.framing), (None, None));
    assert_eq!(slide.control, None);
    let inch = slide.inch.unwrap();
    assert_eq!((inch.step, inch.creep.0), (0.5, 2.0));
    assert!(pan.quiet == Quiet::NotMeasured && pan.inch.is_none());
}

#[test]
fn presses_arrive_as_they_were_said() {
    let operator = resolved(&load(ALL));
    let press = |action| {
        let bound = operator.bindings.iter().find(|b| b.action == action);
        bound.map(|binding| binding.press)
    };
    let with = |with, button| Some(Press::With { with, button });
    use Button::{DpadDown, DpadRight, DpadUp, East, North, Select, South, Start, Tl, Tr, West};
    let inch = |hand, plus| Action::Inch { hand, plus };
    for (action, wanted) in [
        (Action::Stop, Some(Press::Tap(East))),
        (Action::Release, with(Select, Start)),
        (Action::GearUp, Some(Press::Held(Tr))),
        (Action::GearDown, None),
        (Action::Quiet, Some(Press::Tap(West))),
        (Action::Still, Some(Press::Held(North))),
        (Action::Reduced, with(Tl, South)),
        (Action::Rolling, with(Select, South)),
        (Action::Sustain, with(Tl, North)),
        (Action::Control { group: 0 }, with(Tl, Select)),
        (Action::Control { group: 1 }, Some(Press::Held(Select))),
        (inch(1, true), Some(Press::Tap(DpadUp))),
        (inch(1, false), Some(Press::Tap(DpadDown))),
        (inch(2, true), with(Tl, DpadRight)),
        (inch(2, false), None),
    ] {
        assert_eq!(press(action), wanted, "{action:?}");
    }
    assert_eq!(operator.bindings.len(), 13);
}

#[test]
fn a_pair_of_triggers_drives_both_ways() {
    let text = ALL
        .replace("enable = \"rt\"", "enable = \"thumbl\"")
        .replace(
            "[speed_trigger]\ncontrol = \"lt\"\nlet_go = \"40 %\"\npulled = \"100 %\"",
            "",
        )
        .replace(
            "[axis.slide]",
            "[axis.slide]\ncontrol = { plus = \"lt\", minus = \"rt\" }",
        );
    let operator = resolved(&load(&text));
    let (plus, minus) = (Control::Lt, Control::Rt);
    assert_eq!(
        operator.hands[2].control,
        Some(Source::Pair { plus, minus })
    );
    assert_eq!(operator.enable, Some(Enable::Button(Button::Thumbl)));
    assert_eq!(operator.speed_trigger, None);
}

#[test]
fn without_groups_one_press_asks_for_everything() {
    let text = "[operator]\nname = \"solo\"\n[axis.pan]\ncontrol = \"rx\"\ngears = [\"1 deg/s\"]\n\
                [buttons]\ncontrol = \"hold select\"\n";
    let operator = resolved(&load(text));
    let asks = operator.bindings.held(Button::Select);
    assert_eq!(asks, Some(Action::Control { group: 0 }));
}

const QUIET: &str = "[quiet]\nrig = \"bench\"\n[axis.pan]\nspeed = \"2 deg/s\"\n\
                     accel = \"4 deg/s^2\"\njerk = \"20 deg/s^3\"\n";

#[test]
fn the_quiet_file_is_read_beside_the_profile() {
    let folder = tempfile::tempdir().unwrap();
    let text = ALL.replace("name =", "quiet = \"sound/hall-quiet.toml\"\nname =");
    fs::create_dir(folder.path().join("sound")).unwrap();
    fs::write(folder.path().join("sound/hall-quiet.toml"), QUIET).unwrap();
    let profile = folder.path().join("violin.toml");
    let file = load(&text);
    assert_eq!(file.wants_quiet(), Some("sound/hall-quiet.toml"));
    // Forgetting it must not pass for "not measured".
    let unread = file.resolve(&[bench()]).unwrap_err().to_string();
    assert!(unread.contains("the quiet file was not read"), "{unread}");
    let operator = resolved(&files::with_quiet(file, &profile).unwrap());
    let Quiet::Measured { speed, set } = operator.hands[0].quiet else {
        panic!("pan was measured");
    };
    assert_eq!((speed.0, set.accel.0, set.jerk.0), (2.0, 4.0, 20.0));
    assert_eq!(operator.hands[1].quiet, Quiet::NotMeasured);
}

#[test]
fn check_knows_a_quiet_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("hall-quiet.toml");
    fs::write(&path, QUIET).unwrap();
    let outcome = check(&["profiles/bench.toml".into(), path], Form::Plain);
    let said = "hall-quiet.toml: quiet on rig \"bench\": pan 2 deg/s\n";
    assert!(outcome.text.ends_with(said), "{}", outcome.text);
    assert_eq!(outcome.exit, 0);
    assert!(load_quiet(&builtin::TALK.source()).is_err());
}

#[test]
fn each_shipped_operator_has_what_serves_the_work() {
    let [talk, concert, instruments] = builtin::OPERATORS.map(|b| load(b.text));
    let binds = |file: &OperatorFile, action| file.bindings.iter().any(|b| b.action == action);
    for file in [&talk, &concert, &instruments] {
        for action in [Action::Quiet, Action::Reduced, Action::Rolling] {
            assert!(binds(file, action), "{}: {action:?}", file.name);
        }
    }
    assert!(binds(&talk, Action::Sustain) && binds(&talk, Action::Still));
    assert!(concert.speed_trigger.is_some() && concert.hands[1].fine.is_some());
    assert!(instruments.hands.iter().all(|hand| hand.inch.is_some()));
    assert_eq!(
        instruments.sticks.right,
        StickShape::Radial { common: true }
    );
}

#[test]
fn the_table_for_the_wall_fits_and_names_every_press() {
    let texts = builtin::OPERATORS.map(|b| b.text);
    for text in texts.into_iter().chain([ALL]) {
        let file = load(text);
        let table = bindings::table(&file);
        for line in table.lines() {
            assert!(line.chars().count() <= 80, "{line}");
        }
        let lines = bindings::lines(&file);
        for line in &lines {
            let begins = format!("  {} ", line.what);
            assert!(table.lines().any(|l| l.starts_with(&begins)), "{begins}");
            assert!(!line.what.is_empty() && !line.does.is_empty(), "{line:?}");
        }
        for binding in file.bindings.iter() {
            let press = stillhand::profile::written(binding.press);
            assert!(lines.iter().any(|line| line.what == press), "{press}");
        }
    }
}

#[test]
fn check_prints_the_table_of_one_profile() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("violin.toml");
    fs::write(&path, ALL).unwrap();
    let outcome = check(std::slice::from_ref(&path), Form::Plain);
    let (_, table) = outcome.text.split_once('\n').unwrap();
    let wanted = include_str!("support/wall.txt");
    assert_eq!(table, wanted);
    let two = check(
        &[path.clone(), PathBuf::from("profiles/talk.toml")],
        Form::Plain,
    );
    assert!(!two.text.contains("STOP"), "{}", two.text);
    let json = check(&[path], Form::Json).text;
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    let rows = json["files"][0]["bindings"].as_array().unwrap();
    let row = rows.iter().find(|row| row["what"] == "hold north").unwrap();
    assert!(row["does"].as_str().unwrap().starts_with("still on"));
}
