//! `init`: what it writes passes `check`, and nothing is lost or written over.

use std::path::Path;
use std::process::{Command, Output};
use stillhand::cli::init::{hands, rig};
use stillhand::link::accept::accept;
use stillhand::profile::{RigFile, Source, builtin, load_operator, load_rig};
use stillhand_engine::rig::Travel;
use stillhand_wire::heapless;
use stillhand_wire::messages::{AxisHello, RigHello, Unit, VERSION};

fn init(args: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_stillhand"));
    command.arg("init").args(args).output().unwrap()
}

fn said(args: &[&str]) -> String {
    let output = init(args);
    assert!(output.status.success(), "{args:?}: {output:?}");
    String::from_utf8(output.stdout).unwrap()
}

fn load(text: &str) -> RigFile {
    let rig = load_rig(&Source::new("rig.toml", text));
    rig.unwrap_or_else(|problems| panic!("{text}\n{}", problems.render(false)))
}

/// Reading what was written gives what was there: everything a profile can say.
#[test]
fn a_profile_written_again_is_the_same() {
    let jib = std::fs::read_to_string("profiles/jib.toml").unwrap();
    let hands_of_jib = std::fs::read_to_string("profiles/jib-hands.toml").unwrap();
    let bench = builtin::BENCH_RIG.text;
    let mut pairs = vec![(hands_of_jib.as_str(), jib.as_str())];
    pairs.extend(builtin::OPERATORS.map(|shipped| (shipped.text, bench)));
    let common = "[operator]\nname = \"x\"\nabout = \"a \\\"b\\\" \\\\ c\"\nleft_stick = \"radial\"\n\
        common_speed = true\nbegins_quiet = true\nshakes = \"always\"\nwedge = { right = \"0 deg\" }\n\
        [groups]\nhead = [\"tilt\", \"pan\"]\nrest = [\"slide\"]\n\
        [axis.pan]\ncontrol = \"lx\"\ngears = [\"1 deg/s\"]\n\
        [axis.tilt]\ncontrol = \"ly\"\ngears = [\"2 deg/s\"]\nsteady = { rest = \"1.5 Hz\", moving = \"8 Hz\" }\n\
        [axis.slide]\ncontrol = { plus = \"rt\", minus = \"lt\" }\ncurve = \"points\"\n\
        points = [[\"0 %\", \"0 %\"], [\"50 %\", \"12.5 %\"], [\"100 %\", \"100 %\"]]\n\
        gears = [\"3 mm/s\"]\n[buttons]\nquiet = \"tl + west\"\ngear_up = \"none\"\ngear_down = \"none\"\n";
    pairs.push((common, bench));
    for (text, rig) in pairs {
        let rig = load(rig);
        let before = load_operator(&Source::new("before", text)).unwrap();
        let written = hands::file(&before);
        let after = load_operator(&Source::new("after", written.as_str()));
        let after =
            after.unwrap_or_else(|problems| panic!("{written}\n{}", problems.render(false)));
        let resolved = |file: &stillhand::profile::OperatorFile| {
            let operator = file.resolve(std::slice::from_ref(&rig.rig)).unwrap();
            format!("{operator:#?} {:?} {}", file.quiet, file.about)
        };
        let (before, after) = (rounded(&resolved(&before)), rounded(&resolved(&after)));
        assert_eq!(before, after, "{written}");
    }
}

/// Numbers to ten digits: a percentage is no exact binary fraction.
fn rounded(text: &str) -> String {
    let number = |word: &str| word.trim_end_matches(',').parse::<f64>().ok();
    let words = text.split_whitespace();
    let words = words.map(|word| number(word).map_or(word.to_owned(), |x| format!("{x:.10}")));
    words.collect::<Vec<_>>().join(" ")
}

#[test]
fn flags_change_what_they_name_and_nothing_else() {
    let text = said(&[
        "operator",
        "--like",
        "talk",
        "--name",
        "viola",
        "--pan-speed",
        "12 deg/s",
        "--speed",
        "slide=30 mm/s",
        "--invert",
        "tilt",
    ]);
    let file = load_operator(&Source::new("viola", text.as_str())).unwrap();
    let talk = load_operator(&builtin::TALK.source()).unwrap();
    assert_eq!(file.name, "viola");
    let speeds = |at: usize| [0, 1, 2].map(|gear| file.hands[at].gears.speed(gear).0);
    // 0.5, 3 and 8 deg/s, times one and a half.
    assert_eq!(speeds(0), [0.75, 4.5, 12.0]);
    assert_eq!(
        file.hands[0].ceiling, None,
        "8 deg/s would have kept it from 12"
    );
    assert_eq!(speeds(2), [1.0, 7.5, 30.0]);
    assert_eq!(
        [0, 1, 2].map(|at| file.hands[at].invert),
        [false, true, false]
    );
    assert_eq!(file.hands[1].gears, talk.hands[1].gears);
    assert_eq!(file.bindings, talk.bindings);
}

#[test]
fn what_can_not_be_is_said() {
    for (args, says) in [
        (&["operator", "--pan-speed", "6"][..], "say \"6 deg/s\""),
        (&["operator", "--pan-speed", "6 mm/s"], "no speed in deg/s"),
        (
            &["operator", "--pan-speed=-6 deg/s"],
            "no rising speeds above 0",
        ),
        (&["operator", "--speed", "pan"], "say it as AXIS=SPEED"),
        (&["operator", "--speed", "pam=6 deg/s"], "did you mean pan?"),
        (&["operator", "--invert", "nix"], "drives pan, tilt, slide"),
        (&["operator", "--name", "Viola"], "does not fit"),
        (&["operator", "--pan-speed", "9000 deg/s"], "out of bounds"),
        (
            &["operator", "--like", "nowhere.toml"],
            "there is no such file",
        ),
        (&["operator", "--force"], "--out"),
        (&["rig"], "--port"),
    ] {
        let output = init(args);
        let words = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(2), "{args:?}: {words}");
        assert!(
            words.contains(says) && output.stdout.is_empty(),
            "{args:?}: {words}"
        );
    }
    let output = init(&["rig", "--port", "/dev/nowhere"]);
    assert_eq!(output.status.code(), Some(1));
}

#[test]
fn a_file_that_is_there_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("mine.toml");
    let name = path.to_str().unwrap();
    said(&["operator", "--name", "first", "--out", name]);
    let output = init(&["operator", "--name", "second", "--out", name]);
    let words = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(words.contains("it is there already"), "{words}");
    let told = |path: &Path| std::fs::read_to_string(path).unwrap();
    assert!(told(&path).contains("\"first\""));
    said(&["operator", "--name", "second", "--out", name, "--force"]);
    assert!(told(&path).contains("\"second\"") && !told(&path).contains("first\""));
}

/// The bench rig as a process, asked over its own pseudo-terminal.
#[test]
fn the_bench_rig_gives_a_file_that_fits_it() {
    let text = said(&["rig", "--port", "sim"]);
    let (rig, bench) = (load(&text), load(builtin::BENCH_RIG.text));
    let told = |rig: &RigFile| -> Vec<(String, f64)> {
        let axes = rig.rig.axes.iter();
        axes.map(|axis| (axis.name.clone(), axis.counts_per_unit))
            .collect()
    };
    for ((name, scale), (should, near)) in told(&rig).into_iter().zip(told(&bench)) {
        assert_eq!(name, should);
        assert!((scale / near - 1.0).abs() < 1e-6, "{name} {scale} {near}");
    }
    assert_eq!(rig.rig.axes.len(), bench.rig.axes.len());
    // It stands in the middle of its slide.
    let Travel::Finite(ends) = rig.rig.axes[2].travel else {
        panic!("a slide has ends")
    };
    assert_eq!((ends.low().0, ends.high().0), (550.0, 650.0));
    assert!(text.matches("# ASK").count() > 10);
}

fn axis(name: &str, counts: u32, unit: Unit) -> AxisHello {
    AxisHello {
        name: heapless::String::try_from(name).unwrap(),
        counts,
        per_units: 9,
        unit,
        max_speed: 1_000,
        max_accel: 0,
        max_jerk: 0,
        own_ramps: false,
        referenced: false,
        position: 0,
        velocity: 0,
    }
}

/// Whatever a rig says, the file is good and the rig is believed by it.
#[test]
fn odd_rigs_give_files_that_fit_them() {
    let mut axes = heapless::Vec::new();
    let odd = [
        axis("pan", 250, Unit::Mm),
        AxisHello {
            max_accel: 2_000,
            max_jerk: 1,
            own_ramps: true,
            ..axis("tilt", 100_000, Unit::Deg)
        },
        AxisHello {
            max_accel: u32::MAX,
            max_jerk: u32::MAX,
            ..axis("lift", 1, Unit::Mm)
        },
        AxisHello {
            max_accel: 7,
            ..axis("roll", 720_001, Unit::Deg)
        },
        AxisHello {
            referenced: true,
            position: i32::MIN,
            ..axis("zoom", 250, Unit::Deg)
        },
        AxisHello {
            referenced: true,
            position: -12_345,
            max_speed: 1,
            ..axis("slide", 9_000_000, Unit::Mm)
        },
        AxisHello {
            max_speed: u32::MAX,
            ..axis("turn", 90, Unit::Deg)
        },
    ];
    for axis in odd {
        axes.push(axis).unwrap();
    }
    let hello = RigHello {
        version: VERSION,
        session: 1,
        rig_id: heapless::String::try_from("a \"hall\" \\ rig").unwrap(),
        boot_id: 1,
        clock_us: 0,
        axes,
    };
    let text = rig::file(&hello, "/dev/ttyACM0", 115_200);
    let rig = load(&text);
    assert!(
        accept(&rig.rig, &hello).is_ok(),
        "{:?}\n{text}",
        accept(&rig.rig, &hello)
    );
    for axis in rig.rig.axes.iter() {
        let Travel::Finite(ends) = axis.travel else {
            panic!("nothing is continuous unasked")
        };
        assert!(ends.high().0 - ends.low().0 <= 100.0, "{}", axis.name);
    }
}
