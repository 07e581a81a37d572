//! What `check` tells of a good profile: a table of its presses, and what it comes to on a rig.

use stillhand::cli::check::{Form, check};
use stillhand::cli::figures::{AxisFigures, figures, text};
use stillhand::cli::wall;
use stillhand::profile::{RigFile, Source, builtin, load_operator, load_quiet, load_rig};
use stillhand::soak::world::{World, WorldOptions};
use stillhand_engine::input::{Control, PadEvent, PadId};
use stillhand_engine::operator::Operator;

const JIB: [&str; 2] = ["profiles/jib.toml", "profiles/jib-hands.toml"];
const PAD: PadId = PadId(0);

fn bench() -> RigFile {
    load_rig(&builtin::BENCH_RIG.source()).unwrap()
}

fn resolved(text: &str, rig: &RigFile) -> Operator {
    let file = load_operator(&Source::new("hands.toml", text)).unwrap();
    file.resolve(std::slice::from_ref(&rig.rig)).unwrap()
}

#[test]
fn the_table_fits_a_page_and_names_every_press() {
    let paths = JIB.map(Into::into);
    let told = check(&paths, Form::Plain).text;
    let table = told.lines().filter(|line| line.starts_with("  "));
    for line in table.clone() {
        assert!(line.chars().count() <= 80, "{line}");
        assert_eq!(line, line.trim_end(), "blanks at the end");
    }
    assert!(table.count() > 60);
    for says in [
        "east                STOP: every axis, from any pad",
        "rt/lt               zoom: 4 / 12 / 40 deg/s",
        "tl                  held down: lets axes move that ask for it",
        "start + dpad-down   asks for lens, or passes it to the pad that asked",
        "north + dpad-left   turntable minus by 5 deg; kept down it creeps at 6 deg/s",
        "west                quiet on (every motion slow and soft); keep it down: off",
    ] {
        assert!(told.contains(says), "{says}\n{told}");
    }
    for shipped in builtin::OPERATORS {
        let file = load_operator(&shipped.source()).unwrap();
        let rows = wall::rows(&file);
        let named = |row: &wall::Row| !row.control.is_empty() && !row.does.is_empty();
        assert!(rows.len() > file.bindings.len() + 2 && rows.iter().all(named));
        assert!(rows[0].does.starts_with("STOP"), "the stop is first");
    }
}

#[test]
fn programs_are_told_the_same() {
    let paths = JIB.map(Into::into);
    let json: serde_json::Value = serde_json::from_str(&check(&paths, Form::Json).text).unwrap();
    let operator = &json["files"][1];
    assert_eq!(operator["bindings"][0]["control"], "east");
    let lift = &operator["figures"][4];
    assert_eq!(
        (&lift["axis"], &lift["unit"]),
        (&"lift".into(), &"mm".into())
    );
    assert_eq!(lift["gears"][2]["full"]["by"], "framing");
    assert_eq!(lift["gears"][2]["quiet"]["speed"], 4.0);
    assert_eq!(lift["motor"]["pulses_hz"], 4800.0);
    assert!(json["files"][0].get("figures").is_none());
    let alone = check(&["profiles/talk.toml".into()], Form::Json).text;
    let alone: serde_json::Value = serde_json::from_str(&alone).unwrap();
    assert!(alone["files"][0].get("figures").is_none());
    assert!(alone["files"][0]["bindings"].is_array());
}

#[test]
fn bands_to_avoid_are_told_in_steps_too_where_the_motor_is_known() {
    let source = stillhand::cli::files::read("profiles/jib.toml".as_ref()).unwrap();
    let rig = load_rig(&source).unwrap();
    let file = load_operator(&Source::new(
        "hands.toml",
        "[operator]\nname = \"hands\"\n[axis.pan]\ncontrol = \"rx\"\ngears = [\"3 deg/s\"]\n",
    ))
    .unwrap();
    let quiet = load_quiet(&Source::new(
        "quiet.toml",
        "[quiet]\nrig = \"hall-jib\"\n[axis.pan]\nspeed = \"9 deg/s\"\naccel = \"6 deg/s^2\"\n\
         jerk = \"30 deg/s^3\"\navoid = [[\"40 full steps/s\", \"60 full steps/s\"]]\n",
    ))
    .unwrap();
    let operator = file
        .resolve_with(std::slice::from_ref(&rig), Some(&quiet))
        .unwrap();
    let figures = figures(&rig, &operator);
    let words = text(&operator, &rig, &figures);
    // 8 x 200 steps for 360 deg.
    assert_eq!(figures[0].avoid, [[9.0, 13.5]]);
    let motor = figures[0].motor.as_ref().unwrap();
    assert_eq!(motor.avoid_full_steps_hz, [[40.0, 60.0]]);
    assert!(
        words.contains("quiet avoids         9 to 13.5\n"),
        "{words}"
    );
    assert!(words.contains("  40 to 60 full steps/s\n"), "{words}");
}

/// By hand, for the bench rig's pan: stop set 240 deg/s^2 and 2400 deg/s^3.
#[test]
fn stops_are_those_of_pencil_and_paper() {
    let rig = bench();
    let text = "[operator]\nname = \"x\"\n[axis.pan]\ncontrol = \"rx\"\ngears = [\"6 deg/s\"]\ngain = \"10 s\"\n";
    let pan = &figures(&rig, &resolved(text, &rig))[0];
    // From a steady 6 deg/s the stop never reaches 240 deg/s^2: its peak is sqrt(2400 * 6) = 120,
    // up and down in 0.05 s each; half of 6 deg/s for 0.1 s. The watchdog waits for 0.12 s and the
    // rig follows 0.01 s late: 0.13 s at 6 deg/s.
    let near = |is: f64, should: f64| assert!((is - should).abs() < 1e-9, "{is} {should}");
    near(pan.watchdog.seconds, 0.13 + 0.1);
    near(pan.watchdog.distance, 0.78 + 0.3);
    // Over 10 s it gains at most 0.9 deg/s^2, which takes 0.4 ms to turn round: to four digits the
    // steady stop is the worst.
    let about = |is: f64, should: f64| assert!((is - should).abs() < 1e-4, "{is} {should}");
    about(pan.stop.distance, 0.3);
    about(pan.stop.seconds, 0.1);
    // A gain as hard as the rig's normal set, 120 deg/s^2 and 600 deg/s^3, is another matter. With
    // v = 60 - a^2/1200 the three phases of the stop last 0.35 + a/2400 - a^2/384000 s together,
    // most of all at a = 80 deg/s^2.
    let hard = text
        .replace("10 s", "0.05 s")
        .replace("\"6 deg/s\"", "\"60 deg/s\"");
    let hard = &figures(&rig, &resolved(&hard, &rig))[0];
    assert!((hard.stop.seconds - 11.0 / 30.0).abs() < 1e-6, "{hard:?}");
    assert!(
        hard.stop.distance > 10.5,
        "longer than the steady one: {hard:?}"
    );
}

/// The engine itself says what a full stick does: on the way through every gear it has to be the
/// figure of that gear.
#[test]
fn full_sticks_are_those_of_the_engine() {
    let rig = bench();
    for shipped in builtin::OPERATORS {
        let operator = resolved(shipped.text, &rig);
        let told = figures(&rig, &operator);
        for gear in 0..3u8 {
            let mut operator = operator.clone();
            operator.first_gear = gear;
            for quiet in [false, true] {
                operator.starts_quiet = quiet;
                compare(&rig, &operator, &told, (gear, quiet), &shipped);
            }
        }
    }
}

/// Speeds that depend on each other: a radial stick with a common speed, a framing ceiling, and a
/// scale so fine that the line's numbers end.
#[test]
fn ceilings_that_meet_are_those_of_the_engine() {
    let fine = builtin::BENCH_RIG
        .text
        .replace("scale = \"80 counts/mm\"", "scale = \"20000 counts/mm\"");
    let rig = load_rig(&Source::new("fine.toml", fine)).unwrap();
    let text = "[operator]\nname = \"x\"\nright_stick = \"radial\"\ncommon_speed = true\n\
        [axis.pan]\ncontrol = \"rx\"\ngears = [\"5 deg/s\"]\n\
        [axis.tilt]\ncontrol = \"ry\"\ngears = [\"9 deg/s\", \"12 deg/s\"]\nceiling = \"4 deg/s\"\n\
        [axis.slide]\ncontrol = \"lx\"\ngears = [\"90 mm/s\", \"200 mm/s\"]\nframing = \"150 mm/s\"\n";
    let operator = resolved(text, &rig);
    let told = figures(&rig, &operator);
    let full = |axis: usize, gear: usize| {
        (
            told[axis].gears[gear].full.speed,
            told[axis].gears[gear].full.by,
        )
    };
    assert_eq!([full(0, 0), full(1, 0)], [(4.0, "operator"); 2]);
    assert_eq!(full(2, 0), (90.0, "gear"));
    // 2,097,151 counts/s at 20,000 counts/mm, below the 150 mm/s of the picture.
    assert_eq!(full(2, 1), (2_097_151.0 / 20_000.0, "link"));
    // 10 deg/s, 50 mm/s, and 250 mm/s at the reach of a metre.
    let reduced = [0, 1, 2].map(|axis: usize| told[axis].gears[1].reduced.speed);
    assert_eq!(reduced, [4.0, 4.0, 50.0]);
    for gear in 0..2u8 {
        let mut operator = operator.clone();
        operator.first_gear = gear;
        for quiet in [false, true] {
            operator.starts_quiet = quiet;
            // The engine tells what a full stick asks for; the link clips it afterwards.
            compare(&rig, &operator, &told[..2], (gear, quiet), &builtin::TALK);
        }
    }
}

fn compare(
    rig: &RigFile,
    operator: &Operator,
    told: &[AxisFigures],
    (gear, quiet): (u8, bool),
    shipped: &builtin::Builtin,
) {
    let world = World::new(&rig.rig, operator, WorldOptions::default());
    let mut world = world.expect("a valid world");
    world.plug(PAD);
    // A trigger that has not spoken counts as its slowest.
    world.pad(PAD, PadEvent::Moved(Control::Lt, 0.0));
    world.run(0.5);
    assert!(world.ready());
    for (place, axis) in told.iter().enumerate() {
        let figures = &axis.gears[usize::from(gear)];
        let should = if quiet { figures.quiet } else { figures.full };
        let full = world.outputs().rigs[0].axes[place].full_stick;
        assert_eq!(
            full, should.speed,
            "{} {gear} {quiet} {}",
            shipped.name, axis.axis
        );
    }
}
