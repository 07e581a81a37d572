//! `stillhand reference` and `travel` beside a running daemon: a bench rig that does not know where it stands is told,
//! keeps its travel from there, and refuses what it must. Bench rig, daemon and commands are processes of their own.

#[path = "support/mechanics.rs"]
mod mechanics;

use mechanics::{Known, judge};
use serde_json::{Value, json};
use std::fs;
use std::io::{BufRead, BufReader};
use std::path::PathBuf;
use std::process::{Child, Command, Output, Stdio};
use std::time::{Duration, Instant};
use stillhand::profile::{builtin, load_rig};
use stillhand_engine::rig::Travel;

/// Longer than anything here takes on a busy machine.
const PATIENCE: Duration = Duration::from_secs(30);
const PROGRAM: &str = env!("CARGO_BIN_EXE_stillhand");
/// At rest for as long as the commands take, then pan to the right until it has met its end.
const HAND: &str = "0.000 ABS_RX 0\n15.000 ABS_RX 1\n22.000 ABS_RX 0\n";

/// An operator who sets ends by a press.
const ENDS: &str = "[operator]\nname = \"ends\"\n[axis.pan]\ncontrol = \"rx\"\ngears = [\"3 deg/s\"]\n\
                    [buttons]\nrolling = \"hold north\"\n[buttons.end_here]\npan = \"hold thumbl\"\n";

struct Hall {
    folder: tempfile::TempDir,
    bench: Child,
    daemon: Child,
}

impl Hall {
    /// With more arguments for the bench rig.
    fn new(bench: &[&str]) -> Hall {
        Hall::with(bench, HAND, &[])
    }

    /// With this hand, and more arguments for the daemon, whose operator may be `ends.toml`.
    fn with(bench: &[&str], hand: &str, more: &[&str]) -> Hall {
        let folder = tempfile::tempdir().expect("a folder");
        let rig = builtin::BENCH_RIG.source().text;
        fs::write(folder.path().join("hall.toml"), rig).expect("written");
        fs::write(folder.path().join("hand.pad"), hand).expect("written");
        fs::write(folder.path().join("ends.toml"), ENDS).expect("written");
        let mut bench = Command::new(PROGRAM)
            .args(["bench-rig", "--rig", "hall.toml", "--state", "state.csv"])
            .args(bench)
            .current_dir(folder.path())
            .stdout(Stdio::piped())
            .spawn()
            .expect("it runs");
        let mut port = String::new();
        let out = bench.stdout.take().expect("piped");
        BufReader::new(out).read_line(&mut port).expect("its port");
        let daemon = Command::new(PROGRAM)
            .args(["run", "--rig", "hall.toml", "--port", port.trim()])
            .args(["--pad", "script:hand.pad", "--socket", "hall.sock"])
            .args(["--for", "25s"])
            .args(more)
            .current_dir(folder.path())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("it runs");
        let hall = Hall {
            folder,
            bench,
            daemon,
        };
        hall.until("driving", |status| status["state"] == "driving");
        hall
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn ask(&self, args: &[&str]) -> Output {
        Command::new(PROGRAM)
            .args(args)
            .args(["--socket", "hall.sock"])
            .current_dir(self.folder.path())
            .output()
            .expect("it runs")
    }

    /// The exit code and what was said, wherever.
    fn say(&self, args: &[&str]) -> (i32, String) {
        let out = self.ask(args);
        let said = [out.stdout, out.stderr].concat();
        let said = String::from_utf8_lossy(&said).trim().to_owned();
        (out.status.code().unwrap_or(-1), said)
    }

    fn status(&self) -> Value {
        let out = self.ask(&["status", "--json"]);
        let answer: Option<Value> = serde_json::from_slice(&out.stdout).ok();
        answer.map_or(Value::Null, |answer| answer["status"].clone())
    }

    fn until(&self, what: &str, is: impl Fn(&Value) -> bool) {
        let begun = Instant::now();
        loop {
            let status = self.status();
            if is(&status) {
                return;
            }
            assert!(begun.elapsed() < PATIENCE, "never {what}: {status:#}");
            std::thread::sleep(Duration::from_millis(30));
        }
    }
}

impl Drop for Hall {
    fn drop(&mut self) {
        for child in [&mut self.daemon, &mut self.bench] {
            // Gone already, or ended here.
            let _ = child.kill();
            let _ = child.wait();
        }
    }
}

/// What is known of the bench rig's axes, in counts.
fn known() -> Vec<Known> {
    let rig = load_rig(&builtin::BENCH_RIG.source()).expect("shipped").rig;
    let axes = rig.axes.iter().map(|axis| {
        let counts = |x: f64| x * axis.counts_per_unit;
        let stop = axis.limits.stop(1.0).softer(axis.limits.stop(-1.0));
        Known {
            speed: counts(axis.speed.0),
            accel: counts(stop.accel.0),
            jerk: counts(stop.jerk.0),
            travel: match axis.travel {
                Travel::Continuous => None,
                Travel::Finite(ends) => Some((counts(ends.low().0), counts(ends.high().0))),
            },
        }
    });
    axes.collect()
}

#[test]
fn an_axis_that_is_told_where_it_stands_keeps_its_travel_from_there() {
    let hall = Hall::new(&["--unreferenced"]);
    assert_eq!(hall.status()["axes"][0]["place"], "unreferenced");
    // Nobody could set an end there.
    let (code, said) = hall.say(&["travel", "pan", "high=here"]);
    assert!(
        code == 1 && said.contains("stillhand reference pan here=..."),
        "{code}: {said}"
    );

    let (code, said) = hall.say(&["reference", "pan", "here=165deg"]);
    assert_eq!(
        (code, said.as_str()),
        (0, "pan has its reference: where it stands is 165 deg")
    );
    let status = hall.status();
    let pan = &status["axes"][0];
    assert_eq!(pan["place"], "inside", "{pan:#}");
    assert!(
        (pan["position"].as_f64().expect("a number") - 165.0).abs() < 0.05,
        "{pan:#}"
    );
    assert_eq!(status["axes"][1]["place"], "unreferenced");
    assert_eq!(status["reference"]["stands"], "taken");
    hall.until("driving again", |status| status["state"] == "driving");

    hall.until("moving", |status| status["axes"][0]["speed"] != 0.0);
    let (code, said) = hall.say(&["reference", "tilt", "here=0deg"]);
    assert!(
        code == 1 && said.contains("something moves; let everything come to rest first"),
        "{code}: {said}"
    );
    hall.until("at its end", |status| {
        let pan = &status["axes"][0];
        pan["speed"] == 0.0 && pan["position"].as_f64().is_some_and(|at| at > 169.9)
    });
    assert!(judge(&hall.path("state.csv"), &known(), None) > 1_000);
}

#[test]
fn what_can_not_be_is_refused_and_says_how_it_could() {
    let hall = Hall::new(&[]);
    let before = fs::read_to_string(hall.path("hall.toml")).expect("there");
    for (args, code, part) in [
        (
            &["reference", "pan", "here=0deg"][..],
            1,
            "pan is given no reference: it has one; if where it says it stands is wrong, ask with `again`",
        ),
        (
            &["reference", "pan", "here=171deg", "--again"],
            1,
            "its travel goes from -170 to 170 deg; give a value inside",
        ),
        (
            &["reference", "pan", "here=0mm"],
            1,
            "`0mm`: say where pan stands in deg, such as 0deg",
        ),
        (
            &["reference", "lift", "here=0mm"],
            1,
            "there is no axis lift; there is pan, tilt, slide",
        ),
        (
            &["reference", "pan", "0deg"],
            2,
            "`0deg`: say where pan stands, such as here=0deg",
        ),
        (&["travel", "pan", "high=200mm"], 1, "a value in deg"),
        (&["travel", "pan", "up=here"], 2, "say low= or high="),
        (
            &["travel", "pan", "low=171deg"],
            1,
            "the low end must be below the high one",
        ),
    ] {
        let (found, said) = hall.say(args);
        assert!(
            found == code && said.contains(part),
            "{args:?}, {found}: {said}"
        );
    }
    assert_eq!(hall.say(&["rolling", "on"]).0, 0);
    for (args, part) in [
        (
            &["reference", "pan", "here=0deg", "--again"][..],
            "the camera is rolling; end that first",
        ),
        (
            &["travel", "pan", "high=here"],
            "the camera is rolling; end that first",
        ),
    ] {
        let (code, said) = hall.say(args);
        assert!(code == 1 && said.contains(part), "{args:?}, {code}: {said}");
    }
    assert_eq!(hall.say(&["rolling", "off"]).0, 0);
    let after = fs::read_to_string(hall.path("hall.toml")).expect("there");
    assert_eq!(after, before, "nothing of it was written");
    let (code, said) = hall.say(&["reference", "pan", "here=-27deg", "--again"]);
    assert_eq!(
        (code, said.as_str()),
        (0, "pan has its reference: where it stands is -27 deg")
    );

    // The daemon writes its own file, keeps what was there, and goes by it.
    let (code, said) = hall.say(&["travel", "pan", "low=here", "high=30deg"]);
    assert!(
        code == 0 && said.contains("pan: travel -27 to 30 deg from now on"),
        "{said}"
    );
    let after = fs::read_to_string(hall.path("hall.toml")).expect("there");
    let changed = before.replace("[\"-170 deg\", \"170 deg\"]", "[\"-27 deg\", \"30 deg\"]");
    assert_eq!(after, changed);
    let kept = fs::read_to_string(hall.path("hall.toml.before")).expect("kept");
    assert_eq!(kept, before);
    hall.until("in force", |status| {
        status["axes"][0]["travel"] == json!([-27.0, 30.0])
    });
}

/// To the left of the middle the low end is nearest, to the right the high one; while rolling neither is set.
#[test]
fn a_held_press_sets_the_nearest_end_where_the_axis_stands() {
    let hand = "0.000 ABS_RX 0\n0.500 ABS_RX -1\n2.500 ABS_RX 0\n3.500 BTN_THUMBL 1\n4.500 BTN_THUMBL 0\n\
                6.500 ABS_RX 1\n9.500 ABS_RX 0\n10.500 BTN_NORTH 1\n11.300 BTN_NORTH 0\n\
                11.500 BTN_THUMBL 1\n12.500 BTN_THUMBL 0\n";
    let hall = Hall::with(&[], hand, &["--operator", "ends.toml"]);
    let before = fs::read_to_string(hall.path("hall.toml")).expect("there");
    hall.until("in force", |status| {
        status["axes"][0]["travel"] != json!([-170.0, 170.0])
    });
    let status = hall.status();
    let travel = &status["axes"][0]["travel"];
    let low = travel[0].as_f64().expect("a number");
    assert!((-6.5..-4.0).contains(&low), "{travel}");
    assert_eq!(travel[1], 170.0);
    let after = fs::read_to_string(hall.path("hall.toml")).expect("there");
    let changed = before.replace(
        "[\"-170 deg\", \"170 deg\"]",
        &format!("[\"{low} deg\", \"170 deg\"]"),
    );
    assert_eq!(after, changed);
    let kept = fs::read_to_string(hall.path("hall.toml.before")).expect("kept");
    assert_eq!(kept, before);
    let said = |status: &Value, text: &str| {
        let told = status["told"].as_array().map_or(&[][..], Vec::as_slice);
        told.iter()
            .any(|row| row["says"].as_str().is_some_and(|says| says.contains(text)))
    };
    hall.until("locked", |status| {
        said(status, "rolling: the travel stays until rolling is over")
    });
    assert_eq!(
        fs::read_to_string(hall.path("hall.toml")).expect("there"),
        after
    );
    assert!(judge(&hall.path("state.csv"), &known(), None) > 1_000);
}

#[test]
fn without_a_daemon_there_is_nobody_to_tell_the_rig() {
    let folder = tempfile::tempdir().expect("a folder");
    let out = Command::new(PROGRAM)
        .args(["reference", "pan", "here=0deg"])
        .env("XDG_RUNTIME_DIR", folder.path())
        .output()
        .expect("it runs");
    let said = String::from_utf8_lossy(&out.stderr);
    assert_eq!(out.status.code(), Some(1));
    assert!(
        said.contains("no daemon of this user runs") && said.contains("stillhand run"),
        "{said}"
    );
}
