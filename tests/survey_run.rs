//! `stillhand survey run` as a command: a short plan on the bench rig, begun by a scripted pad.
//!
//! Program, bench rig, port and clock are real; what was driven is read from the journal, whose times are the
//! engine's own.

use std::fs;
use std::path::PathBuf;
use std::process::{Command, Output};
use stillhand_acoustics::plan::{self, Plan};

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

struct Place(tempfile::TempDir);

impl Place {
    fn new(hand: &str) -> Place {
        let folder = tempfile::tempdir().expect("a folder");
        fs::write(folder.path().join("hall.plan.toml"), PLAN).expect("written");
        fs::write(folder.path().join("hand.pad"), hand).expect("written");
        Place(folder)
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn stillhand(&self, args: &[&str]) -> Output {
        Command::new(env!("CARGO_BIN_EXE_stillhand"))
            .args(args)
            .current_dir(self.0.path())
            .output()
            .expect("it runs")
    }

    fn survey(&self, more: &[&str]) -> Output {
        let args = [
            &[
                "survey",
                "run",
                "hall.plan.toml",
                "--port",
                "sim",
                "--pad",
                "script:hand.pad",
            ][..],
            &[
                "--wait",
                "500ms",
                "--socket",
                "off",
                "--no-watch",
                "--journal",
                "journal",
            ],
            more,
        ];
        self.stillhand(&args.concat())
    }

    /// When the pan began to move, how fast it went at most and which way, move by move.
    fn moves(&self) -> Vec<(f64, f64)> {
        let out = self.stillhand(&["replay", "journal", "--csv", "table.csv"]);
        assert!(out.status.success(), "{}", text(&out.stderr));
        let table = fs::read_to_string(self.path("table.csv")).expect("written");
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
}

fn number(cell: &str) -> f64 {
    cell.parse()
        .unwrap_or_else(|_| panic!("{cell} is no number"))
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
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
    let place = Place::new(HAND);
    let out = place.survey(&[]);
    let told = text(&out.stderr);
    assert_eq!(out.status.code(), Some(0), "{told}");
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
    as_planned(&place.moves(), &plan::read(PLAN).expect("it is one"));
}

/// A stick ends it with an exit code and the rung it was in; the rest goes on from there, with a plan of its
/// own.
#[test]
fn what_a_stick_ends_goes_on_at_a_rung() {
    let place = Place::new(&format!("{HAND}9.300 ABS_RX 0.5\n9.600 ABS_RX 0\n"));
    let out = place.survey(&[]);
    let told = text(&out.stderr);
    assert_eq!(out.status.code(), Some(1), "{told}");
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
    fs::write(place.path("hand.pad"), hand).expect("written");
    fs::remove_dir_all(place.path("journal")).expect("there");
    let out = place.survey(&["--from", "2", "--rest", "rest.toml"]);
    let told = text(&out.stderr);
    assert_eq!(out.status.code(), Some(0), "{told}");
    // The bench rig begins anew where it was built, and the rest elsewhere.
    assert!(
        told.contains("first the axes go to where the plan begins"),
        "{told}"
    );
    assert!(told.contains("rung 2 of 3: pan 8 deg/s"), "{told}");
    let rest = fs::read_to_string(place.path("rest.toml")).expect("written");
    let rest = plan::read(&rest).expect("a plan");
    assert!((rest.axes[0].start - 3.35).abs() < 0.01, "{:?}", rest.axes);
    as_planned(&place.moves()[1..], &rest);
}

#[test]
fn what_does_not_fit_is_refused_before_anything_moves() {
    let place = Place::new(HAND);
    let far = PLAN.replace("start = \"0 deg\"", "start = \"166 deg\"");
    fs::write(place.path("hall.plan.toml"), far).expect("written");
    let out = place.survey(&[]);
    let told = text(&out.stderr);
    assert_eq!(out.status.code(), Some(2), "{told}");
    assert!(told.contains("its travel is -170 to 170 deg"), "{told}");
    assert!(!place.path("journal").exists(), "it did not even begin");

    fs::write(place.path("hall.plan.toml"), PLAN).expect("written");
    let out = place.survey(&["--from", "4", "--rest", "rest.toml"]);
    let told = text(&out.stderr);
    assert_eq!(out.status.code(), Some(2), "{told}");
    assert!(told.contains("rungs are counted from 1 to 3"), "{told}");
}

/// A press that does not come in time leaves the rig where it is.
#[test]
fn without_a_press_nothing_moves() {
    let place = Place::new("0.000 ABS_RX 0\n");
    let out = place.survey(&[]);
    let told = text(&out.stderr);
    assert_eq!(out.status.code(), Some(1), "{told}");
    assert!(
        told.contains("the first was to begin before the press came"),
        "{told}"
    );
    assert!(told.contains("broken off before the first rung"), "{told}");
    assert_eq!(place.moves(), []);
}
