//! The shipped files are good, the bad ones say why, and no text whatever makes the reader panic.

#[path = "support/claims/texts.rs"]
mod texts;

use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use std::fs;
use std::path::PathBuf;
use stillhand::cli::check::{Form, check};
use stillhand::profile::{Source, builtin, load_operator, load_rig};
use stillhand_engine::bindings::{Action, Binding, Press};
use stillhand_engine::input::{Button, Control};
use stillhand_engine::operator::{self, StickShape};
use stillhand_engine::rig::{Sense, Travel};

const BENCH: &str = "profiles/bench.toml";

fn shipped() -> Vec<PathBuf> {
    let names = ["bench", "talk", "concert", "instruments"];
    let names = names
        .iter()
        .chain(&["talk-gloves", "jib", "jib-hands", "jib-quiet"]);
    names.map(|n| format!("profiles/{n}.toml").into()).collect()
}

#[test]
fn every_shipped_file_is_good_and_says_what_it_is() {
    let outcome = check(&shipped(), Form::Plain);
    let said = |line: &&str| line.starts_with("profiles/") && !line.contains("jib");
    let said: Vec<&str> = outcome.text.lines().filter(said).collect();
    assert_eq!(
        said.join("\n") + "\n",
        "profiles/bench.toml: rig \"bench\" on sim: pan -170..170 deg, tilt -60..60 deg, slide 0..1200 mm\n\
         profiles/talk.toml: operator \"talk\": pan rx, tilt ry, slide lx; 3 gears\n\
         profiles/concert.toml: operator \"concert\": pan rx, tilt ry, slide lx; 3 gears\n\
         profiles/instruments.toml: operator \"instruments\": pan rx, tilt ry, slide lx; 3 gears\n\
         profiles/talk-gloves.toml: operator \"talk-gloves\": pan rx, tilt ry, slide lx; 3 gears\n"
    );
    assert_eq!(outcome.exit, 0);
    let on_disk = fs::read_dir("profiles").unwrap().map(|e| e.unwrap().path());
    let on_disk = on_disk
        .filter(|p| p.extension().is_some_and(|e| e == "toml"))
        .count();
    assert_eq!(
        on_disk,
        shipped().len(),
        "a file in profiles/ is not tested"
    );
}

#[test]
fn the_shipped_rig_is_what_its_file_says() {
    let file = load_rig(&builtin::BENCH_RIG.source()).unwrap();
    let rig = &file.rig;
    assert_eq!((rig.id.as_str(), file.baud), ("bench", 115_200));
    assert_eq!((rig.delay.0, rig.watchdog.0), (10_000_000, 120_000_000));
    let names: Vec<&str> = rig.axes.iter().map(|axis| axis.name.as_str()).collect();
    assert_eq!(
        names,
        ["pan", "tilt", "slide"],
        "the order of the file is the order on the wire"
    );
    let tilt = &rig.axes[1];
    assert_eq!(tilt.limits.stop(1.0).accel.0, 200.0);
    assert_eq!(tilt.limits.stop(-1.0).accel.0, 140.0);
    let Travel::Finite(ends) = rig.axes[2].travel else {
        panic!("the slide has ends");
    };
    assert_eq!((ends.low().0, ends.high().0), (0.0, 1200.0));
}

#[test]
fn the_shipped_operators_are_three_different_hands() {
    let rig = load_rig(&builtin::BENCH_RIG.source()).unwrap().rig;
    let operators = builtin::OPERATORS.map(|file| {
        let file = load_operator(&file.source()).unwrap();
        file.resolve(std::slice::from_ref(&rig)).unwrap()
    });
    let gears = |o: usize, h: usize| [0, 1, 2].map(|g| operators[o].hands[h].gears.speed(g).0);
    assert_eq!(gears(0, 0), [0.5, 3.0, 8.0]);
    assert_eq!(gears(1, 0), [2.0, 12.0, 45.0]);
    assert_eq!(gears(2, 0), [0.2, 1.0, 5.0]);
    assert_eq!(gears(0, 2), [2.0, 15.0, 60.0]);
    assert_eq!(gears(1, 2), [5.0, 40.0, 150.0]);
    assert_eq!(gears(2, 2), [0.5, 3.0, 20.0]);
    let times = operators
        .each_ref()
        .map(|o| (o.hands[0].gain.secs(), o.hands[0].lose.secs()));
    assert_eq!(times, [(0.8, 0.7), (0.25, 0.25), (0.5, 0.35)]);
    for operator in &operators {
        let controls: Vec<_> = operator.hands.iter().map(|hand| hand.control).collect();
        let sticks =
            [Control::Rx, Control::Ry, Control::Lx].map(|c| Some(operator::Source::Stick(c)));
        assert_eq!(controls, sticks);
        let axes: Vec<u8> = operator.hands.iter().map(|hand| hand.axis).collect();
        assert_eq!(axes, [0, 1, 2]);
        for shy in [Button::Mode, Button::Thumbl, Button::Thumbr] {
            let touches = |b: &Binding| b.press.button() == shy;
            assert!(
                !operator.bindings.iter().any(touches) && !operator.bindings.goes_with(shy),
                "{shy:?} is pressed by accident"
            );
        }
    }
    let inverted = operators
        .iter()
        .flat_map(|o| &o.hands)
        .filter(|hand| hand.invert);
    assert_eq!(inverted.count(), 1);
    assert_ne!(operators[0].hands[0].curve, operators[1].hands[0].curve);
    assert_ne!(operators[0].hands[0].curve, operators[2].hands[0].curve);
    assert_ne!(operators[0].hands[0].throw, operators[1].hands[0].throw);
    let binds = |o: usize, wanted: fn(Action) -> bool| {
        operators[o].bindings.iter().any(|b| wanted(b.action))
    };
    let only = |wanted| [0, 1, 2].map(|o| binds(o, wanted));
    assert_eq!(only(|a| a == Action::Sustain), [true, false, false]);
    assert_eq!(
        only(|a| matches!(a, Action::Inch { .. })),
        [false, false, true]
    );
    let speed = operators.each_ref().map(|o| o.speed_trigger.is_some());
    assert_eq!(speed, [false, true, false]);
    let fine = operators
        .each_ref()
        .map(|o| o.hands.iter().any(|hand| hand.fine.is_some()));
    assert_eq!(fine, [false, true, false]);
    let radial = operators
        .each_ref()
        .map(|o| matches!(o.sticks.right, StickShape::Radial { .. }));
    assert_eq!(radial, [false, false, true]);
    assert!(operators.iter().all(|o| !o.starts_quiet));
    let named = builtin::OPERATORS.map(|file| load_operator(&file.source()).unwrap().quiet);
    assert!(
        named.iter().all(Option::is_none),
        "a built-in has no folder"
    );
}

/// Every axis has a wider nest than with bare hands, and nothing is pressed by a thumb on a stick or by two
/// buttons.
#[test]
fn gloves_find_wide_deadbands_and_easy_presses() {
    let read = |name: &str| {
        let path = format!("profiles/{name}.toml");
        let text = fs::read_to_string(&path).unwrap();
        load_operator(&Source::new(path, text)).unwrap()
    };
    let (bare, gloves) = (read("talk"), read("talk-gloves"));
    for (bare, gloves) in bare.hands.iter().zip(&gloves.hands) {
        assert_eq!((&bare.axis, bare.gears), (&gloves.axis, gloves.gears));
        assert!(gloves.throw.deadband() >= bare.throw.deadband() + 0.1);
        assert!(gloves.throw.saturation() < bare.throw.saturation());
    }
    for binding in gloves.bindings.iter() {
        let clicks = [Button::Thumbl, Button::Thumbr];
        assert!(!clicks.contains(&binding.press.button()), "{binding:?}");
        assert!(!matches!(binding.press, Press::With { .. }), "{binding:?}");
    }
}

#[test]
fn what_is_left_out_gets_its_default() {
    let text = "[operator]\nname = \"bare\"\n[axis.pan]\ncontrol = \"rx\"\ngears = [\"1 deg/s\", \"2 deg/s\"]\n";
    let file = load_operator(&Source::new("bare", text)).unwrap();
    let hand = &file.hands[0];
    assert_eq!(
        (hand.throw.deadband(), hand.throw.saturation()),
        (0.10, 0.95)
    );
    assert_eq!(hand.curve.at(0.5), 0.5);
    assert_eq!((hand.gain.0, hand.lose.0), (800_000_000, 700_000_000));
    assert_eq!(file.first_gear, 0, "of two gears the slower");
    let wedge_tan = libm::tan(8f64.to_radians());
    assert_eq!(file.sticks.left, StickShape::Axial { wedge_tan });
    assert_eq!(file.bindings.stop(), Button::East);
    assert_eq!(file.bindings.release(), Press::Held(Button::Start));
    assert_eq!(file.bindings.tapped(Button::Tr), Some(Action::GearUp));
}

#[test]
fn mount_and_wiring_make_the_sense_together() {
    let sense = |mount: &str, reverse: bool| {
        let text = builtin::BENCH_RIG
            .text
            .replace("\"upright\"", &format!("\"{mount}\""));
        let line = format!("turns = \"tilt\"\nreverse = {reverse}");
        let text = text.replace("turns = \"tilt\"", &line);
        let rig = load_rig(&Source::new("turned", text)).unwrap().rig;
        [0, 1, 2].map(|axis: usize| rig.axes[axis].sense)
    };
    use Sense::{Opposite, Same};
    assert_eq!(sense("upright", false), [Same, Same, Same]);
    assert_eq!(sense("underslung", false), [Opposite, Opposite, Same]);
    assert_eq!(sense("underslung", true), [Opposite, Same, Same]);
    assert_eq!(sense("side", true), [Same, Same, Same]);
}

#[test]
fn an_axis_on_two_rigs_needs_the_rig_named() {
    let one = load_rig(&builtin::BENCH_RIG.source()).unwrap().rig;
    let mut two = one.clone();
    two.id = "balcony".to_owned();
    let rigs = [one, two];
    let load = |text: String| load_operator(&Source::new("talk.toml", text)).unwrap();
    let problems = load(builtin::TALK.text.to_owned())
        .resolve(&rigs)
        .unwrap_err();
    assert_eq!(problems.list().len(), 3);
    assert!(
        problems
            .to_string()
            .contains("add `rig = \"bench\"` or `rig = \"balcony\"`")
    );
    let named = builtin::TALK
        .text
        .replace("control =", "rig = \"balcony\"\ncontrol =");
    let operator = load(named).resolve(&rigs).unwrap();
    assert!(operator.hands.iter().all(|hand| hand.rig == 1));
    let nowhere = builtin::TALK
        .text
        .replace("control =", "rig = \"attic\"\ncontrol =");
    let problems = load(nowhere).resolve(&rigs).unwrap_err().to_string();
    assert!(problems.contains("bench, balcony"), "{problems}");
}

/// Each `tests/bad/NAME.toml` has its whole output in `NAME.txt`. Names that begin with `cross-`
/// are good by themselves and are checked against the bench rig. With `UPDATE_EXPECTED=1` the
/// texts are written anew; read the difference before committing it.
#[test]
fn every_bad_file_says_what_is_wrong() {
    let mut files: Vec<PathBuf> = fs::read_dir("tests/bad")
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "toml"))
        .collect();
    files.sort();
    assert!(files.len() >= 30, "the bad files are gone");
    for file in &files {
        let name = file.file_stem().unwrap().to_str().unwrap();
        let paths = match name.starts_with("cross-") {
            true => vec![PathBuf::from(BENCH), file.clone()],
            false => vec![file.clone()],
        };
        let outcome = check(&paths, Form::Plain);
        assert_eq!(outcome.exit, 1, "{name} passes");
        let expected = file.with_extension("txt");
        if std::env::var_os("UPDATE_EXPECTED").is_some() {
            fs::write(&expected, &outcome.text).unwrap();
        }
        let errors = outcome.text.matches("error: ").count();
        for part in ["allowed: ", "mend: ", "--> "] {
            assert_eq!(
                outcome.text.matches(part).count(),
                errors,
                "{part} in {}",
                outcome.text
            );
        }
        let wanted = fs::read_to_string(&expected).unwrap_or_default();
        assert_eq!(outcome.text, wanted, "{name}");
    }
}

#[test]
fn rows_for_programs_name_line_and_column() {
    let outcome = check(&["tests/bad/rig-out-of-bounds.toml".into()], Form::Json);
    let answer: serde_json::Value = serde_json::from_str(&outcome.text).unwrap();
    assert_eq!(answer["ok"], false);
    assert_eq!(answer["files"][0]["kind"], "rig");
    let row = &answer["problems"][0];
    assert_eq!(row["file"], "tests/bad/rig-out-of-bounds.toml");
    let text = fs::read_to_string("tests/bad/rig-out-of-bounds.toml").unwrap();
    let line = row["line"].as_u64().unwrap() as usize;
    let column = row["column"].as_u64().unwrap() as usize;
    let found = row["found"].as_str().unwrap();
    assert!(text.lines().nth(line - 1).unwrap()[column - 1..].starts_with(found));
    for key in ["message", "allowed", "mend"] {
        assert!(!row[key].as_str().unwrap().is_empty());
    }
}

#[test]
fn colours_add_nothing_but_colour() {
    let path = [PathBuf::from("tests/bad/rig-out-of-bounds.toml")];
    let (plain, coloured) = (
        check(&path, Form::Plain).text,
        check(&path, Form::Colour).text,
    );
    assert!(!plain.contains('\x1b') && coloured.contains("\x1b["));
    let mut stripped = String::new();
    for part in coloured.split('\x1b') {
        stripped.push_str(
            part.split_once('m')
                .filter(|_| part.starts_with('['))
                .map_or(part, |p| p.1),
        );
    }
    assert_eq!(stripped, plain);
}

#[test]
fn cross_checks_need_exactly_one_good_rig() {
    let talk = PathBuf::from("profiles/talk.toml");
    let bench = PathBuf::from(BENCH);
    let none = check(std::slice::from_ref(&talk), Form::Plain);
    assert!(
        none.text
            .ends_with("note: axes were not checked against a rig: no rig file was given\n")
    );
    assert_eq!(none.exit, 0);
    let two = check(&[bench.clone(), bench, talk.clone()], Form::Plain);
    assert!(two.text.contains("2 rig files were given, give one"));
    let bad = check(
        &["tests/bad/rig-out-of-bounds.toml".into(), talk],
        Form::Plain,
    );
    assert!(bad.text.contains("the rig file itself has problems"));
    assert_eq!(bad.exit, 1);
}

/// One change of a text: at a place given in thousandths, cut out so many bytes, put this in.
fn mutation() -> impl Strategy<Value = (usize, usize, String)> {
    let pieces = prop::sample::select(vec![
        "",
        "\"",
        "[",
        "]",
        "{",
        "}",
        "=",
        ".",
        ",",
        "\n",
        "\r\n",
        "\0",
        "#",
        "'''",
        "é",
        "😀",
        "inf",
        "nan",
        "-",
        "1e999",
        "[axis.pan]\n",
        "[rig]\n",
        "[operator]\n",
        "[quiet]\n",
        "[buttons.inch]\n",
        "hold ",
        " + ",
        "deg/s",
        " mm",
        "%",
        "true",
        "[[axis]]\n",
        "stop = \"east\"\n",
        "1979-05-27",
        "\u{feff}",
        "\u{202e}",
        "\t",
    ]);
    let text = prop_oneof![3 => pieces.prop_map(String::from), 1 => any::<String>()];
    (
        0..1000usize,
        prop_oneof![Just(0usize), 0..4usize, 0..200usize],
        text,
    )
}

#[test]
fn no_mutation_of_a_shipped_file_panics_or_points_outside() {
    let texts = shipped()
        .into_iter()
        .map(|path| fs::read_to_string(path).unwrap());
    let cases = (
        prop::sample::select(texts.collect::<Vec<String>>()),
        prop::collection::vec(mutation(), 1..6),
    );
    let mut runner = TestRunner::new(Config {
        cases: 1500,
        failure_persistence: None,
        ..Config::default()
    });
    let done = runner.run(&cases, |(mut text, mutations)| {
        for (place, cut, piece) in mutations {
            let boundary = |at: usize| (at..=text.len()).find(|&at| text.is_char_boundary(at));
            let start = boundary(text.len() * place / 1000).unwrap();
            let end = boundary((start + cut).min(text.len())).unwrap();
            text.replace_range(start..end, &piece);
        }
        texts::profile(&text);
        Ok(())
    });
    done.unwrap();
}

#[test]
fn hostile_texts_end_soon_and_in_words() {
    let begun = std::time::Instant::now();
    let keys: String = (0..60_000).map(|n| format!("k{n} = 1\n")).collect();
    let axes: String = (0..30_000).map(|n| format!("[axis.a{n}]\n")).collect();
    for text in [
        "[".repeat(500_000),
        format!("a = {}", "[".repeat(500_000)),
        format!("{} = 1", "a.".repeat(300_000)),
        format!("a = {}", "{b=".repeat(200_000)),
        format!("[rig]\n{keys}"),
        format!("[operator]\n{axes}"),
        format!("[rig]\nid = \"{}\"", "x".repeat(900_000)),
        format!("[rig]\ndelay = \"{} ms\"", "9".repeat(900_000)),
        format!("[rig]\ndelay = \"1 {}\"", "²".repeat(400_000)),
        "é".repeat(400_000),
        "\r".repeat(900_000),
    ] {
        texts::profile(&text);
    }
    // Quadratic work on a megabyte takes hours, not a minute.
    assert!(begun.elapsed().as_secs() < 60, "{:?}", begun.elapsed());
}
