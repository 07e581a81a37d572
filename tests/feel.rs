//! `feel`: its figures against tables from outside and against the engine, and what it says.

use std::process::{Command, Output};
use stillhand::cli::feel::numbers::Hands;
use stillhand::profile::{RigFile, Source, builtin, load_operator, load_rig};
use stillhand::soak::world::{World, WorldOptions};
use stillhand_engine::input::{Control, PadEvent, PadId};
use stillhand_engine::motion::bands::{Band, Bands};
use stillhand_engine::operator::{Operator, Quiet};
use stillhand_engine::units::Speed;

const PAD: PadId = PadId(0);

fn bench() -> RigFile {
    load_rig(&builtin::BENCH_RIG.source()).unwrap()
}

fn resolved(text: &str, rig: &RigFile) -> Operator {
    let file = load_operator(&Source::new("hands.toml", text)).unwrap();
    file.resolve(std::slice::from_ref(&rig.rig)).unwrap()
}

fn feel(args: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_stillhand"));
    command.arg("feel").args(args).output().unwrap()
}

fn said(args: &[&str]) -> String {
    let output = feel(args);
    assert!(output.status.success(), "{output:?}");
    String::from_utf8(output.stdout).unwrap()
}

/// Rows of `tests/reference_feel.rs`: the exponential with k = 2 by numpy 2.4.6, the cubic exact
/// (e = 0.3). The deadband takes the first tenth of the stick, the gear is 8 deg/s.
#[test]
fn speeds_are_those_of_the_published_curves() {
    let rig = bench();
    let half = 100.0 / (1.0 + std::f64::consts::E);
    let exponential = [(0.25, 0.101536), (0.5, 0.268941), (0.9, 0.790359)];
    let cubic = [(0.25, 0.179_687_5), (0.5, 0.3875), (0.75, 0.651_562_5)];
    for (curve, half, rows) in [("exponential", half, exponential), ("cubic", 38.75, cubic)] {
        let text = format!(
            "[operator]\nname = \"x\"\n[axis.pan]\ncontrol = \"rx\"\ngears = [\"8 deg/s\"]\n\
             saturation = \"100 %\"\ncurve = \"{curve}\"\nhalf = \"{half} %\"\n"
        );
        let operator = resolved(&text, &rig);
        let hands = Hands::find(&rig, &operator, "pan", 1, false).unwrap();
        for (depth, share) in rows {
            let at = hands.at(0.1 + 0.9 * depth);
            assert!((at.demand - share).abs() < 1e-6, "{curve} {depth}: {at:?}");
            assert!(
                (at.speed - 8.0 * share).abs() < 8e-6,
                "{curve} {depth}: {at:?}"
            );
            assert_eq!(hands.at(-at.stick).speed, -at.speed, "odd");
        }
        assert_eq!((hands.at(0.1).speed, hands.at(1.0).speed), (0.0, 8.0));
    }
}

/// In quiet: a stick that comes from rest and stays where it is has the speed that `feel` tells, flat where a
/// band has the speed it asks for.
#[test]
fn bands_are_flat_steps_and_those_of_a_driven_rig() {
    let rig = bench();
    let mut operator = resolved(builtin::TALK.text, &rig);
    let band = |low, high| Band {
        low: Speed(low),
        high: Speed(high),
    };
    let bands = [band(0.5, 0.8), band(1.9, 2.4)];
    operator.starts_quiet = true;
    operator.hands[0].quiet = Quiet::Measured {
        speed: Speed(2.0),
        set: rig.rig.axes[0].limits.normal(),
        bands: Bands::new(&bands).unwrap(),
    };
    let gear = operator.first_gear + 1;
    let hands = Hands::find(&rig, &operator, "pan", gear, true).unwrap();
    let told = hands.feel();
    assert_eq!(told.avoid, [[0.5, 0.8], [1.9, 2.4]]);
    let speeds: Vec<f64> = told.stick.iter().map(|[_, _, speed]| *speed).collect();
    assert!(speeds.iter().filter(|speed| **speed == 0.5).count() > 5);
    assert!(
        speeds
            .iter()
            .all(|v| bands.iter().all(|b| *v <= b.low.0 || *v >= b.high.0))
    );
    assert_eq!(hands.at(0.6).band, Some([0.5, 0.8]));
    assert_eq!(
        (hands.at(0.3).band, hands.at(1.0).speed),
        (Some([1.9, 2.4]), 1.9)
    );
    for stick in [0.3, 0.6, 0.7, 0.75, 1.0] {
        let mut world = World::new(&rig.rig, &operator, WorldOptions::default()).unwrap();
        world.plug(PAD);
        let centred = Control::ALL.map(|control| PadEvent::Moved(control, 0.0));
        centred.into_iter().for_each(|event| world.pad(PAD, event));
        world.run(1.0);
        world.pad(PAD, PadEvent::Moved(Control::Rx, stick));
        world.run(2.0);
        let (is, tells) = (world.outputs().rigs[0].axes[0].speed, hands.at(stick).speed);
        assert!((is - tells).abs() < 1e-9, "{stick}: {is}, told {tells}");
        world.verdict().unwrap();
    }
    // Without quiet there is nothing of it.
    let loud = Hands::find(&rig, &operator, "pan", gear, false).unwrap();
    assert!(loud.feel().avoid.is_empty() && loud.at(0.6).band.is_none());
}

/// The whole engine behind a rig in virtual time: a stick thrown over and let go has, tick by tick,
/// the speeds that `feel` told.
#[test]
fn gain_and_lose_are_those_of_a_driven_rig() {
    let rig = bench();
    for (shipped, axis, place, control, gear) in [
        (builtin::TALK, "pan", 0, Control::Rx, 2),
        (builtin::CONCERT, "tilt", 1, Control::Ry, 3),
        (builtin::INSTRUMENTS, "slide", 2, Control::Lx, 1),
    ] {
        let mut operator = resolved(shipped.text, &rig);
        operator.first_gear = gear - 1;
        let told = Hands::find(&rig, &operator, axis, gear, false)
            .unwrap()
            .feel();
        let mut world = World::new(&rig.rig, &operator, WorldOptions::default()).unwrap();
        world.plug(PAD);
        let centred = Control::ALL.map(|control| PadEvent::Moved(control, 0.0));
        centred.into_iter().for_each(|event| world.pad(PAD, event));
        world.run(1.0);
        let sign = if told.invert { -1.0 } else { 1.0 };
        for (stick, ramp) in [(1.0, &told.gain), (0.0, &told.lose)] {
            world.pad(PAD, PadEvent::Moved(control, stick));
            assert!(ramp.seconds.is_some() && ramp.speeds.len() > 20);
            for (tick, (_, speed)) in ramp.speeds.iter().enumerate().skip(1) {
                world.tick();
                let is = sign * world.outputs().rigs[0].axes[place].speed;
                let near = (is - speed).abs() < 1e-9;
                assert!(near, "{} {axis} {stick} {tick}: {is} {speed}", shipped.name);
            }
            // Whoever pushes on for a while changes nothing.
            world.run(0.3);
        }
        world.verdict().unwrap();
    }
}

/// The words other programs read, to the letter.
#[test]
fn one_place_of_the_stick_is_one_line_of_json() {
    let hands = "profiles/concert.toml";
    let line = said(&[
        hands, "--axis", "tilt", "--at", "0.92", "--gear", "2", "--json",
    ]);
    // Concert's tilt is inverted, and full from 92 % on.
    let should = "{\"axis\":\"tilt\",\"stick\":0.92,\"demand\":-1.0,\"speed\":-12.0,\
        \"unit\":\"deg/s\",\"ceiling\":{\"name\":\"gear\",\"value\":12.0},\"band\":null}\n";
    assert_eq!(line, should);
    let two = said(&["talk", "concert", "--at", "-0.5", "--json"]);
    assert_eq!(two.lines().count(), 2, "one line for each operator");
    let rest = said(&["talk", "--at", "0.05", "--json"]);
    assert!(rest.contains("\"demand\":0.0,\"speed\":0.0,"), "{rest}");
    assert!(rest.contains("\"axis\":\"pan\""), "pan comes first");
}

#[test]
fn tables_fit_a_page_and_compare_two() {
    for files in [
        &["talk"][..],
        &["talk", "instruments"],
        &["profiles/jib-hands.toml", "--rig", "profiles/jib.toml"],
    ] {
        for line in said(files).lines() {
            assert!(line.chars().count() <= 80, "{line}");
            assert_eq!(line, line.trim_end(), "blanks at the end");
        }
    }
    let both = said(&["talk", "instruments", "--gear", "2"]);
    for says in [
        "* pan of \"talk\"",
        "o pan of \"instruments\"",
        "gear 2 of 3: full stick 1 deg/s",
    ] {
        assert!(both.contains(says), "{says}\n{both}");
    }
    let all: serde_json::Value =
        serde_json::from_str(&said(&["talk", "concert", "--json"])).unwrap();
    let talk = &all[0];
    assert_eq!(talk["operator"], "talk");
    assert_eq!(
        talk["gears"][2],
        serde_json::json!({"speed": 8.0, "by": "operator"})
    );
    assert_eq!(talk["stick"][95][2], 3.0);
    assert_eq!(
        talk["ceilings"][0],
        serde_json::json!({"name": "gear", "value": 3.0})
    );
}

#[test]
fn the_drawing_has_a_line_for_each_operator_and_ends_where_the_table_does() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("feel.svg");
    said(&["talk", "concert", "--svg", path.to_str().unwrap()]);
    let svg = std::fs::read_to_string(&path).unwrap();
    assert!(svg.starts_with("<svg ") && svg.ends_with("</svg>\n"));
    for says in [
        "speed, deg/s",
        "stick, % of its way",
        "time, s",
        "talk: gain 0.804 s, 1.21 deg",
    ] {
        assert!(svg.contains(says), "{says}");
    }
    // Legend, stick, time: three lines of each operator, one whole and one dashed.
    assert_eq!(svg.matches("stroke-width=\"1.8\"").count(), 6);
    assert_eq!(svg.matches("stroke-dasharray=\"8 4\"").count(), 3);
    let output = feel(&["talk", "--svg", "/nowhere/feel.svg"]);
    assert_eq!(output.status.code(), Some(2));
}

#[test]
fn what_can_not_be_is_said() {
    for (args, says) in [
        (
            &["talk", "--axis", "pann"][..],
            "it has for pan, tilt, slide; did you mean pan?",
        ),
        (&["talk", "--gear", "4"], "\"talk\" has gears 1 to 3 here"),
        (&["talk", "--gear", "0"], "\"talk\" has gears 1 to 3 here"),
        (&["talk", "--at", "1.5"], "say -1 to 1"),
        (&["talk", "--at", "nan"], "say -1 to 1"),
        (&["nowhere.toml"], "there is no such file"),
        (
            &["tests/bad/operator-curves.toml"],
            "tests/bad/operator-curves.toml:",
        ),
        (
            &["talk", "--rig", "tests/bad/rig-no-axis.toml"],
            "rig-no-axis.toml:",
        ),
        (&["talk", "concert", "instruments"], "no more were expected"),
    ] {
        let output = feel(args);
        let words = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(2), "{args:?}: {words}");
        assert!(
            words.contains(says) && output.stdout.is_empty(),
            "{args:?}: {words}"
        );
    }
}
