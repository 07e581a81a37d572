//! The journal of the unmodified daemon, with a made-up pad and a real pseudo-terminal: it replays to the bit,
//! whatever ended the run, and a disk that takes no more costs the journal alone.
//!
//! With `KEEP_JOURNAL=FOLDER` the journal of the whole run is left there, for other builds of the program to
//! replay: `tools/test` has the optimised one do so, with and without the C library's FMA variants.

mod support;

use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

use serde_json::Value;
use support::daemon::{PROGRAM, Start};
use support::fakepad::code::*;
use support::hall::{self, FAST};
use support::line::PATIENCE;
use support::stage::{CENTRE, FULL, PAD, Plan, Stage};
use support::steady::steadily;

/// What `stillhand replay --json` says, and its exit code.
fn replayed(journal: &Path, more: &[&str]) -> (Value, i32) {
    let mut command = Command::new(PROGRAM);
    command.args(["replay", "--json"]).arg(journal).args(more);
    let output = command.output().expect("it runs");
    let text = String::from_utf8_lossy(&output.stdout);
    let errors = String::from_utf8_lossy(&output.stderr);
    let found = serde_json::from_str(&text).unwrap_or_else(|_| panic!("no answer: {errors}"));
    (found, output.status.code().expect("no signal"))
}

/// A stage whose daemon keeps a journal in `folder`.
fn stage(folder: &Path, more: &[&str]) -> Stage {
    let mut arguments = vec!["--journal".to_owned(), folder.display().to_string()];
    arguments.extend(more.iter().map(|word| (*word).to_owned()));
    Plan {
        operator: hall::QUICK.to_owned(),
        arguments,
        ..Plan::default()
    }
    .start()
}

/// Everything hands do in a scene: moves of several axes, gears, a stop and its release, an edit of the
/// profile, a pad that goes and comes again.
fn scene(stage: &mut Stage) {
    stage.arm();
    stage.push(FAST);
    for raw in [30_000, 21_003, 12_345, 4_001] {
        stage.pads.abs(PAD, ABS_RY, raw);
        stage.pads.abs(PAD, ABS_X, -raw);
        std::thread::sleep(Duration::from_millis(60));
    }
    stage.pads.key(PAD, BTN_TL, true);
    stage.pads.key(PAD, BTN_TL, false);
    stage.daemon.want("gear 2");
    let slower = hall::QUICK.replace("20 deg/s", "15 deg/s");
    std::fs::write(stage.folder.path().join("operator.toml"), slower).expect("writable");
    stage.daemon.want("operator.toml");
    stage.pads.key(PAD, BTN_EAST, true);
    stage.pads.key(PAD, BTN_EAST, false);
    stage.daemon.want("STOPPED");
    stage.centre();
    stage.pads.key(PAD, BTN_START, true);
    stage.daemon.want("withheld");
    stage.pads.key(PAD, BTN_START, false);
    stage.daemon.want("driving: the sticks move the rig");
    stage.pads.abs(PAD, ABS_RX, -FULL);
    stage
        .line
        .want_driven("it goes the other way", |v| v[0] < -100.0);
    stage.pads.unplug(PAD);
    stage.daemon.want("no pad");
}

#[test]
fn a_scene_replays_to_the_bit() {
    steadily(|| {
        let place = tempfile::tempdir().expect("a folder");
        let journal = place.path().join("journal");
        let mut stage = stage(&journal, &[]);
        scene(&mut stage);
        stage.daemon.signal(libc::SIGTERM);
        assert_eq!(stage.daemon.end(), 0, "{}", stage.daemon.all());
        let (csv, svg) = (place.path().join("t.csv"), place.path().join("p.svg"));
        let views = [
            "--csv",
            csv.to_str().expect("plain"),
            "--svg",
            svg.to_str().expect("plain"),
        ];
        let (found, code) = replayed(&journal, &views);
        assert_eq!((code, &found["same"]), (0, &Value::Bool(true)), "{found}");
        assert_eq!(found["ended"], true, "{found}");
        assert_eq!(found["gaps"], Value::Array(vec![]), "{found}");
        let ticks = found["ticks"].as_u64().expect("a number");
        assert!(ticks > 250, "{found}");
        judge_table(&csv, ticks);
        let drawing = std::fs::read_to_string(&svg).expect("drawn");
        for words in ["pan: speed, and what bound it", "slide: position", "gear"] {
            assert!(drawing.contains(words), "{words} is not in the drawing");
        }
        if let Some(kept) = std::env::var_os("KEEP_JOURNAL") {
            std::fs::create_dir_all(&kept).expect("writable");
            let name = "0000000001.journal";
            std::fs::copy(journal.join(name), Path::new(&kept).join(name)).expect("copied");
        }
    });
}

/// A line for each axis in each tick, and the fastest speed that of the profile.
fn judge_table(path: &Path, ticks: u64) {
    let text = std::fs::read_to_string(path).expect("written");
    let mut lines = text.lines();
    let names: Vec<&str> = lines.next().expect("a header").split(',').collect();
    let column = |name: &str| names.iter().position(|n| *n == name).expect(name);
    let (axis, speed) = (column("axis"), column("speed"));
    let (mut rows, mut fastest) = (0, 0.0_f64);
    for line in lines {
        let cells: Vec<&str> = line.split(',').collect();
        assert_eq!(cells.len(), names.len(), "{line}");
        let of_pan = cells[axis] == "pan";
        let value: f64 = cells[speed].parse().expect("a number");
        if of_pan {
            fastest = fastest.max(value);
        }
        rows += 1;
    }
    assert_eq!(rows, 3 * ticks);
    assert!((fastest - FAST).abs() < 0.01, "{fastest}");
}

#[test]
fn a_daemon_that_was_killed_leaves_a_journal_up_to_its_last_moment() {
    steadily(|| {
        let place = tempfile::tempdir().expect("a folder");
        let mut stage = stage(place.path(), &[]);
        stage.arm();
        stage.push(FAST);
        // A few looks of the writer.
        std::thread::sleep(Duration::from_millis(200));
        stage.daemon.signal(libc::SIGKILL);
        assert_eq!(stage.daemon.end(), -libc::SIGKILL);
        let (found, code) = replayed(place.path(), &[]);
        assert_eq!((code, &found["same"]), (0, &Value::Bool(true)), "{found}");
        assert_eq!(found["ended"], false, "{found}");
        assert!(found["ticks"].as_u64().expect("a number") > 50, "{found}");
    });
}

/// A limit on the length of files is what a full disk is to a writer: it takes a part and then no more.
#[test]
fn a_disk_that_takes_no_more_costs_the_journal_alone() {
    steadily(|| {
        let place = tempfile::tempdir().expect("a folder");
        let socket = place.path().join("socket");
        let socket = socket.to_str().expect("plain");
        let folder = place.path().join("journal");
        let line = support::line::Line::start_at(hall::config(), 0);
        let port = line.path().to_path_buf();
        let files = support::stage::files(&place, hall::RIG, hall::QUICK);
        let mut pads = support::fakepad::FakePad::new();
        pads.plug_as(
            PAD,
            support::fakepad::Bus::Usb,
            support::stage::PAD_ID,
            "Hall Pad",
        );
        let port = port.display().to_string();
        let folder = folder.display().to_string();
        let more = ["--port", &port, "--journal", &folder, "--socket", socket];
        let arguments = files.iter().map(String::as_str).chain(more);
        let daemon = Start::new(arguments)
            .seeing(&pads)
            .short_of_disk(40_000)
            .go();
        let mut stage = Stage {
            daemon,
            line,
            raw: None,
            pads,
            folder: place,
        };
        stage.arm();
        stage.push(FAST);
        stage.daemon.want("stopped: File too large");
        // It drives on, and says so to whoever asks.
        stage.drives();
        let status = status(socket);
        let why = status["status"]["journal_stopped"]
            .as_str()
            .expect("it says why");
        assert!(why.contains("File too large"), "{status}");
        stage.daemon.signal(libc::SIGTERM);
        assert_eq!(stage.daemon.end(), 0, "{}", stage.daemon.all());
        let (found, code) = replayed(Path::new(&folder), &[]);
        assert_eq!((code, &found["same"]), (0, &Value::Bool(true)), "{found}");
    });
}

fn status(socket: &str) -> Value {
    let end = Instant::now() + PATIENCE;
    loop {
        let output = Command::new(PROGRAM)
            .args(["status", "--json", "--socket", socket])
            .output()
            .expect("it runs");
        let status: Value = serde_json::from_slice(&output.stdout).unwrap_or_default();
        if status["status"]["journal_stopped"].is_string() || Instant::now() > end {
            return status;
        }
        std::thread::sleep(Duration::from_millis(20));
    }
}

#[test]
fn without_a_folder_it_drives_without_a_journal() {
    steadily(|| {
        let place = tempfile::tempdir().expect("a folder");
        let file = place.path().join("notes.txt");
        std::fs::write(&file, "the quartet").expect("writable");
        let mut stage = stage(&file, &[]);
        stage.daemon.want("there is no journal");
        stage.centre();
        stage.pads.abs(PAD, ABS_RX, CENTRE);
        stage.daemon.want("driving: the sticks move the rig");
        stage.drives();
        let text = std::fs::read_to_string(&file).expect("still there");
        assert_eq!(text, "the quartet");
    });
}
