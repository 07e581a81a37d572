//! `stillhand survey run` as a command: a short plan on the bench rig, begun by a scripted pad.
//!
//! Program, bench rig, port and clock are real; what was driven is read from the journal, whose times are the
//! engine's own. What moved is judged by the laws checker (`support/watched.rs` says by which laws).

mod support;

use std::fs;
use std::process::Command;
use stillhand::profile::builtin;
use stillhand_acoustics::plan::{self, Plan};
use stillhand_engine::rig::Axis;
use support::daemon::PROGRAM;
use support::steady::steadily;
use support::watched::{Said, Watched};

/// A mark out and back, two speeds, two starts of one acceleration; 12 s.
const PLAN: &str = r#"
[plan]
version = 1
rig = "bench"
lasts = "12 s"
steps = [
  { at = "0 s", lasts = "0.5 s", does = "room", listen = [["0.1 s", "0.4 s"]] },
  { at = "1 s", lasts = "1 s", does = "still", listen = [["1.2 s", "1.8 s"]] },
  { at = "4 s", lasts = "1 s", does = "mark", axis = "pan", speed = "6 deg/s", accel = "60 deg/s^2", jerk = "600 deg/s^3", way = "plus" },
  { at = "5.5 s", lasts = "1 s", does = "mark", axis = "pan", speed = "6 deg/s", accel = "60 deg/s^2", jerk = "600 deg/s^3", way = "minus" },
  { at = "7 s", lasts = "1 s", does = "speed", rung = 1, axis = "pan", speed = "4 deg/s", accel = "60 deg/s^2", jerk = "600 deg/s^3", way = "plus", listen = [["7.3 s", "7.7 s"]] },
  { at = "8.5 s", lasts = "1 s", does = "speed", rung = 2, axis = "pan", speed = "8 deg/s", accel = "60 deg/s^2", jerk = "600 deg/s^3", way = "minus", listen = [["8.8 s", "9.2 s"]] },
  { at = "10 s", lasts = "0.8 s", does = "ramp", rung = 1, axis = "pan", speed = "2 deg/s", accel = "20 deg/s^2", jerk = "200 deg/s^3", way = "plus", listen = [["10 s", "10.3 s"]] },
  { at = "11 s", lasts = "0.8 s", does = "ramp", rung = 1, axis = "pan", speed = "2 deg/s", accel = "20 deg/s^2", jerk = "200 deg/s^3", way = "plus", listen = [["11 s", "11.3 s"]] },
]

[axis.pan]
start = "0 deg"
"#;

/// Begins it by a press that is held once room tone is over.
const HAND: &str = "0.000 ABS_RX 0\n1.500 BTN_DPAD_UP 1\n2.600 BTN_DPAD_UP 0\n";

/// From when on a begun plan may move something, and until when: a press begins all of it.
const MOVES: [(f64, f64); 1] = [(1.5, 30.0)];

fn place(hand: &str) -> Watched {
    let rig = builtin::BENCH_RIG.source().text;
    let files = [
        ("hall.toml", rig.as_str()),
        ("hall.plan.toml", PLAN),
        ("hand.pad", hand),
    ];
    Watched::start(&files, &[])
}

fn survey(place: &Watched, more: &[&str]) -> Said {
    let base = [
        "survey",
        "run",
        "hall.plan.toml",
        "--pad",
        "script:hand.pad",
        "--wait",
        "500ms",
        "--journal",
        "journal",
    ];
    place.run(&[&base[..], more].concat(), "")
}

/// The fastest an axis may be.
fn own(axis: &Axis) -> f64 {
    axis.speed.0
}

/// When the pan began to move, how fast it went at most and which way, move by move.
fn moves(place: &Watched) -> Vec<(f64, f64)> {
    let out = Command::new(PROGRAM)
        .args(["replay", "journal", "--csv", "table.csv"])
        .current_dir(place.path("."))
        .output()
        .expect("it runs");
    assert!(out.status.success(), "{out:?}");
    let table = place.read("table.csv");
    let mut moves: Vec<(f64, f64)> = Vec::new();
    let mut moving = false;
    for line in table.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        if cells[3] != "pan" {
            continue;
        }
        let (time, speed): (f64, f64) = (number(cells[2]), number(cells[7]));
        if speed != 0.0 && !moving {
            moves.push((time, speed));
        } else if let Some(last) = moves.last_mut()
            && speed.abs() > last.1.abs()
        {
            last.1 = speed;
        }
        moving = speed != 0.0;
    }
    moves
}

fn number(cell: &str) -> f64 {
    cell.parse()
        .unwrap_or_else(|_| panic!("{cell} is no number"))
}

/// Holds moves against those of a plan: their speeds, and their times from the first on.
fn as_planned(moves: &[(f64, f64)], plan: &Plan) {
    let planned: Vec<(f64, f64)> = plan
        .steps
        .iter()
        .filter_map(|step| {
            let m = step.does.moving()?;
            Some((step.at, if m.plus { m.speed } else { -m.speed }))
        })
        .collect();
    assert_eq!(moves.len(), planned.len(), "{moves:?}");
    for (found, wanted) in moves.iter().zip(&planned) {
        // Turns of unlike length land within a thousandth of a speed.
        assert!(
            (found.1.abs() / wanted.1.abs() - 1.0).abs() < 1e-3 && found.1 * wanted.1 > 0.0,
            "{found:?} for {wanted:?}"
        );
        // A turn of the loop that comes late begins a move late; 80 ms would have stopped the rig.
        let late = (found.0 - moves[0].0) - (wanted.0 - planned[0].0);
        assert!(late.abs() < 0.085, "{late} s: {found:?} for {wanted:?}");
    }
}

#[test]
fn a_plan_is_driven_at_its_speeds_and_times() {
    steadily(|| {
        let place = place(HAND);
        let out = survey(&place, &[]);
        let told = &out.err;
        assert_eq!(out.code, Some(0), "{told}");
        let in_order = [
            "start the recorder and switch motor power off",
            "room tone: everybody silent",
            "switch motor power on, keep clear, then hold dpad-up for 0.6 s",
            "keep clear: the rig moves by itself",
            "the pattern",
            "rung 1 of 3: pan 4 deg/s",
            "rung 2 of 3: pan 8 deg/s",
            "rung 3 of 3: pan starts at 20 deg/s^2",
            "survey read RECORDING --plan hall.plan.toml",
        ];
        let mut rest = told.as_str();
        for words in in_order {
            let at = rest
                .find(words)
                .unwrap_or_else(|| panic!("no \"{words}\" in its place:\n{told}"));
            rest = &rest[at..];
        }
        as_planned(&moves(&place), &plan::read(PLAN).expect("it is one"));
        place.judge(own, &MOVES);
    });
}

/// A stick ends it with an exit code and the rung it was in; the rest goes on from there, with a plan of its
/// own.
#[test]
fn what_a_stick_ends_goes_on_at_a_rung() {
    steadily(|| {
        let place = place(&format!("{HAND}9.300 ABS_RX 0.5\n9.600 ABS_RX 0\n"));
        let out = survey(&place, &[]);
        let told = &out.err;
        assert_eq!(out.code, Some(1), "{told}");
        assert!(
            told.contains("the moves ended early: a stick was pushed"),
            "{told}"
        );
        assert!(
            told.contains("broken off in rung 2: `--from 2 --rest FILE`"),
            "{told}"
        );

        // One press to come to its start, one to begin it.
        let hand = format!("{HAND}7.000 BTN_DPAD_UP 1\n8.000 BTN_DPAD_UP 0\n");
        place.judge(own, &MOVES);
        let place = self::place(&hand);
        let out = survey(&place, &["--from", "2", "--rest", "rest.toml"]);
        let told = &out.err;
        assert_eq!(out.code, Some(0), "{told}");
        // The bench rig begins anew where it was built, and the rest elsewhere.
        assert!(
            told.contains("first the axes go to where the plan begins"),
            "{told}"
        );
        assert!(told.contains("rung 2 of 3: pan 8 deg/s"), "{told}");
        let rest = fs::read_to_string(place.path("rest.toml")).expect("written");
        let rest = plan::read(&rest).expect("a plan");
        assert!((rest.axes[0].start - 3.35).abs() < 0.01, "{:?}", rest.axes);
        as_planned(&moves(&place)[1..], &rest);
        place.judge(own, &MOVES);
    });
}

#[test]
fn what_does_not_fit_is_refused_before_anything_moves() {
    steadily(|| {
        let place = place(HAND);
        let far = PLAN.replace("start = \"0 deg\"", "start = \"166 deg\"");
        fs::write(place.path("hall.plan.toml"), far).expect("written");
        let out = survey(&place, &[]);
        let told = &out.err;
        assert_eq!(out.code, Some(2), "{told}");
        assert!(told.contains("its travel is -170 to 170 deg"), "{told}");
        assert!(!place.path("journal").exists(), "it did not even begin");

        fs::write(place.path("hall.plan.toml"), PLAN).expect("written");
        let out = survey(&place, &["--from", "4", "--rest", "rest.toml"]);
        let told = &out.err;
        assert_eq!(out.code, Some(2), "{told}");
        assert!(told.contains("rungs are counted from 1 to 3"), "{told}");
    });
}

/// A press that does not come in time leaves the rig where it is.
#[test]
fn without_a_press_nothing_moves() {
    steadily(|| {
        let place = place("0.000 ABS_RX 0\n");
        let out = survey(&place, &[]);
        let told = &out.err;
        assert_eq!(out.code, Some(1), "{told}");
        assert!(
            told.contains("the first was to begin before the press came"),
            "{told}"
        );
        assert!(told.contains("broken off before the first rung"), "{told}");
        assert_eq!(moves(&place), []);
        place.judge(own, &[]);
    });
}
