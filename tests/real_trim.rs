//! `trim` on the real path: what it measures of a pad and of a script, what it keeps, and what `run`
//! makes of that.

mod support;

use std::f64::consts::TAU;
use std::fs;
use std::path::Path;
use std::process::Output;
use std::thread::sleep;
use std::time::{Duration, Instant};

use serde_json::Value;
use stillhand::profile::{Source, TrimFile, load_trim};
use stillhand_engine::input::Control;
use support::daemon::{Daemon, PROGRAM, Start};
use support::fakepad::code::*;
use support::fakepad::{Bus, FakePad};
use support::hall::{self, FAST};
use support::stage::{PAD, PAD_ID, Plan, Stage};
use support::steady::steadily;
use support::tape::assert_still;
use support::worn::{Hand, Worn, measure, script};

/// Where the made-up stick rests: 11 % off, out of the deadband of every shipped profile.
const OFF: i32 = 3_604;
/// How far it gets.
const END: f64 = 26_000.0;

/// Runs the program to its end, away from this user's own trims and sockets.
fn stillhand(folder: &Path, arguments: &[&str]) -> Output {
    std::process::Command::new(PROGRAM)
        .args(arguments)
        .env("XDG_CONFIG_HOME", folder.join("config"))
        .env("XDG_RUNTIME_DIR", folder.join("runtime"))
        .output()
        .expect("the program starts")
}

fn words(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn json(output: &Output) -> Value {
    serde_json::from_slice(&output.stdout).unwrap_or_else(|_| panic!("{output:?}"))
}

fn load(path: &Path) -> TrimFile {
    let text = fs::read_to_string(path).expect("written");
    load_trim(&Source::new("trim", text)).unwrap_or_else(|problems| panic!("{problems}"))
}

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    let names = entries.map(|entry| entry.file_name().to_string_lossy().into_owned());
    names.collect()
}

#[test]
fn a_script_is_measured_at_once_and_kept_where_it_was_asked_for() {
    let dir = tempfile::tempdir().expect("a folder");
    let mut pad = Worn::random(5);
    let said = Hand::course(&mut pad);
    let file = dir.path().join("worn.pad");
    fs::write(&file, script(&said)).expect("writable");
    let (pad, to) = (format!("script:{}", file.display()), dir.path().join("to"));
    let asked = ["trim", "--pad", &pad, "--to", to.to_str().expect("text")];
    let plot = dir.path().join("plot.svg");
    let more = ["--json", "--svg", plot.to_str().expect("text")];
    let output = stillhand(dir.path(), &[&asked[..], &more[..]].concat());
    assert!(output.status.success(), "{output:?}");

    let answer = json(&output);
    let kept = answer["kept"].as_str().expect("kept");
    assert_eq!(Path::new(kept).parent(), Some(to.as_path()));
    let kept = load(Path::new(kept));
    // A script has its values to a millionth, the file to a hundredth of a per cent.
    let found = measure(&said).expect("trusted");
    for control in [Control::Lx, Control::Ly, Control::Rx, Control::Ry] {
        let (a, b) = (kept.trim.stick(control), found.trim.stick(control));
        let (a, b) = a.zip(b).expect("measured");
        assert!((a.centre() - b.centre()).abs() < 1e-4, "{a:?}, {b:?}");
        assert!((a.rest() - b.rest()).abs() < 2e-4, "{a:?}, {b:?}");
        assert!((a.minus() - b.minus()).abs() < 1e-4 && (a.plus() - b.plus()).abs() < 1e-4);
    }
    assert_eq!(
        kept.trim.trigger(Control::Rt),
        found.trim.trigger(Control::Rt)
    );
    assert_eq!(answer["deadband"].as_f64(), Some(found.deadband));
    assert!(
        fs::read_to_string(plot)
            .expect("drawn")
            .contains("left stick, trimmed")
    );

    // Measured again it is replaced, and nothing else lies there.
    let again = stillhand(dir.path(), &asked);
    assert!(again.status.success(), "{again:?}");
    assert_eq!(names(&to).len(), 1, "{:?}", names(&to));
    let text = words(&again.stdout);
    assert!(
        text.contains("rest zone") && text.contains("Kept in"),
        "{text}"
    );
    let checked = stillhand(
        dir.path(),
        &["check", answer["kept"].as_str().expect("kept")],
    );
    assert!(checked.status.success(), "{checked:?}");

    // Not asked for, a script's is kept nowhere.
    let dry = stillhand(dir.path(), &asked[..3]);
    assert!(dry.status.success() && words(&dry.stdout).contains("Nothing was kept"));
    assert!(names(&dir.path().join("config")).is_empty());
}

#[test]
fn what_cannot_be_trusted_is_not_kept() {
    let dir = tempfile::tempdir().expect("a folder");
    let measured = |name: &str, text: &str| {
        let file = dir.path().join(name);
        fs::write(&file, text).expect("writable");
        let pad = format!("script:{}", file.display());
        let to = dir.path().join("to");
        let to = to.to_str().expect("text");
        let output = stillhand(dir.path(), &["trim", "--pad", &pad, "--to", to]);
        assert_eq!(output.status.code(), Some(1), "{output:?}");
        assert!(names(&dir.path().join("to")).is_empty(), "{name}");
        words(&output.stderr)
    };
    let said = measured("short.pad", "0.1 ABS_X 1\n0.4 ABS_X 0\n1 ABS_X 0.1\n");
    assert!(said.contains("it ended in release"), "{said}");
    let said = measured("gone.pad", "0.1 ABS_X 1\n0.4 UNPLUG\n9 PLUG\n");
    assert!(said.contains("the pad went away"), "{said}");
    // Five presses and nothing else.
    let presses = |n: u32| format!("{n}.3 BTN_START 1\n{n}.5 BTN_START 0\n");
    let said = measured("idle.pad", &[2, 4, 6, 8, 10].map(presses).concat());
    assert!(said.contains("no stick and no trigger was moved"), "{said}");
    let mut loose = Worn::new(3);
    loose.scatter = 0.24;
    let said = measured("loose.pad", &script(&Hand::course(&mut loose)));
    assert!(said.contains("no trim makes it safe"), "{said}");
}

/// Leads the right stick and the left trigger through the course.
fn lead(pads: &mut FakePad, trim: &mut Daemon) {
    let ms = |ms| sleep(Duration::from_millis(ms));
    let mut start = |pads: &mut FakePad, next: &str| {
        // A press within a second of a part's beginning is taken for one that came late.
        ms(1_100);
        pads.key(PAD, BTN_START, true);
        pads.key(PAD, BTN_START, false);
        trim.want(next);
    };
    for n in 0..6 {
        pads.abs(PAD, ABS_RX, if n % 2 == 0 { 26_000 } else { -26_000 });
        ms(60);
        pads.abs(PAD, ABS_RX, OFF);
        pads.abs(PAD, ABS_RY, 0);
        ms(600);
    }
    start(pads, "2 of 5");
    ms(1_200);
    start(pads, "3 of 5");
    for step in 0..=150 {
        let angle = f64::from(step) / 60.0 * TAU;
        pads.abs(PAD, ABS_RX, (END * angle.cos()) as i32);
        pads.abs(PAD, ABS_RY, (END * angle.sin()) as i32);
        ms(4);
    }
    pads.abs(PAD, ABS_RX, OFF);
    pads.abs(PAD, ABS_RY, 0);
    start(pads, "4 of 5");
    for _ in 0..2 {
        pads.abs(PAD, ABS_Z, 240);
        ms(60);
        pads.abs(PAD, ABS_Z, 10);
        ms(400);
    }
    start(pads, "5 of 5");
    pads.abs(PAD, ABS_RX, 20_000);
    ms(1_200);
    pads.key(PAD, BTN_START, true);
}

#[test]
fn a_pad_is_measured_and_run_uses_what_was_kept() {
    let dir = tempfile::tempdir().expect("a folder");
    let mut pads = FakePad::new();
    pads.plug_as(PAD, Bus::Usb, PAD_ID, "Hall Pad");
    let to = dir.path().display().to_string();
    let mut trim = Start::new(["trim", "--json", "--to", &to])
        .with("XDG_RUNTIME_DIR", &to)
        .seeing(&pads)
        .go();
    trim.want("1 of 5");
    lead(&mut pads, &mut trim);
    assert_eq!(trim.end(), 0, "{}", trim.all());
    let file = load(&dir.path().join(format!("{PAD_ID}.toml")));
    assert_eq!(
        (file.pad.as_str(), file.model.as_str()),
        (PAD_ID, "Hall Pad")
    );
    let rx = file.trim.stick(Control::Rx).expect("measured");
    assert!((rx.centre() - 0.11).abs() < 1e-3, "{rx:?}");
    let end = END / 32_767.0;
    assert!(
        (rx.plus() - end).abs() < 1e-2 && (rx.minus() + end).abs() < 1e-2,
        "{rx:?}"
    );
    let lt = file.trim.trigger(Control::Lt).expect("measured");
    assert!((lt.full() - 0.94).abs() < 0.01, "{lt:?}");
    assert!(file.trim.stick(Control::Lx).is_none(), "it was not moved");

    // Untrimmed it rests outside of the deadband: it is never seen let go.
    let with = |trims: &str| {
        let arguments = vec!["--trims".to_owned(), trims.to_owned()];
        let stage = Plan {
            arguments,
            ..Plan::default()
        };
        stage.start()
    };
    let at_rest = |stage: &mut Stage| {
        stage.daemon.want("is in control");
        stage.pads.abs(PAD, ABS_RX, OFF);
    };
    let mut stage = with("off");
    at_rest(&mut stage);
    let wait = Duration::from_millis(600);
    stage.line.assert_rest_for(wait, "withheld");
    assert_eq!(stage.daemon.count("driving"), 0, "{}", stage.daemon.all());
    drop(stage);

    steadily(|| {
        let mut stage = with(&to);
        at_rest(&mut stage);
        stage.daemon.want("driving: the sticks move the rig");
        assert_eq!(stage.daemon.count("(Usb), trimmed"), 1);
        // Its end is four fifths of the scale, and full speed all the same.
        stage.pads.abs(PAD, ABS_RX, END as i32);
        stage.full(FAST);
        stage.pads.abs(PAD, ABS_RX, OFF);
        let still = |v: &[f64]| v.iter().all(|v| *v == 0.0);
        stage.line.want_driven("let go", still);
    });
}

/// A trim by hand, of the pad that drives.
fn by_hand(dir: &Path, rest: &str) {
    save(dir, &text_by_hand(rest, 100));
}

fn text_by_hand(rest: &str, reach: u32) -> String {
    format!(
        "[trim]\npad = \"{PAD_ID}\"\nmodel = \"Hall Pad\"\n\n[stick.rx]\ncentre = \"0 %\"\n{rest}\n\
         minus = \"-{reach} %\"\nplus = \"{reach} %\"\n"
    )
}

fn save(dir: &Path, text: &str) {
    fs::write(dir.join(format!("{PAD_ID}.toml")), text).expect("writable");
}

fn beside(dir: &Path, deadband: &str) -> Stage {
    let arguments = vec!["--trims".to_owned(), dir.display().to_string()];
    Plan {
        arguments,
        operator: hall::pan_only().replace("\"10 %\"", deadband),
        ..Plan::default()
    }
    .start()
}

#[test]
fn a_broken_trim_is_told_of_and_not_used() {
    let dir = tempfile::tempdir().expect("a folder");
    by_hand(dir.path(), "rset = \"2 %\"");
    steadily(|| {
        let mut stage = beside(dir.path(), "\"10 %\"");
        stage.arm();
        stage.drives();
        let told = |text| stage.daemon.count(text);
        assert_eq!(told("is not used, it is read as untrimmed"), 1);
        assert_eq!(told("did you mean `rest`?"), 1);
        assert_eq!(told("(Usb), trimmed"), 0);
    });
    let nowhere = dir.path().join("nowhere");
    let nowhere = nowhere.to_str().expect("text");
    let output = stillhand(dir.path(), &["run", "--trims", nowhere]);
    assert_eq!(output.status.code(), Some(2), "{output:?}");
    assert!(words(&output.stderr).contains("the folder of trims can't be read"));
}

/// While a thumb drives, another trim waits; a broken one changes nothing.
#[test]
fn a_trim_that_changes_is_taken_over_when_the_stick_is_let_go() {
    steadily(|| {
        let dir = tempfile::tempdir().expect("a folder");
        let mut stage = beside(dir.path(), "\"10 %\"");
        stage.arm();
        stage.pads.abs(PAD, ABS_RX, END as i32);
        let slower = |v: &[f64]| v[0] > 100.0 && v[0] < FAST * hall::PER_DEG - 1.0;
        stage.line.want_driven("four fifths of the way", slower);
        save(dir.path(), &text_by_hand("rest = \"2 %\"", 79));
        stage
            .daemon
            .want("it is taken over when all sticks and triggers are let go");
        let changed = Instant::now();
        // Long enough for 70 frames: that it waits was said already, so any of them could show otherwise.
        sleep(Duration::from_millis(300));
        let speeds = stage.line.tape().speeds();
        let mut since = speeds.iter().filter(|speeds| speeds.at > changed);
        assert!(
            since.all(|speeds| slower(&speeds.axes)),
            "taken over under the thumb"
        );
        stage.centre();
        stage.daemon.want("is read by its changed trim");
        stage.pads.abs(PAD, ABS_RX, END as i32);
        stage.full(FAST);
        // Another way to save: written beside and renamed over it, and broken.
        let beside = dir.path().join("new");
        fs::write(&beside, text_by_hand("rset = \"2 %\"", 100)).expect("writable");
        fs::rename(&beside, dir.path().join(format!("{PAD_ID}.toml"))).expect("renamed");
        stage.daemon.want("did you mean `rest`?");
        stage.centre();
        stage
            .line
            .want_driven("let go", |v| v.iter().all(|v| *v == 0.0));
        stage.pads.abs(PAD, ABS_RX, END as i32);
        stage.full(FAST);
    });
}

/// Nobody has a folder of trims before the first pad was measured: one that is made while somebody drives, with
/// all folders above it, counts from then on.
#[test]
fn a_folder_of_trims_that_comes_later_is_found() {
    steadily(|| {
        let dir = tempfile::tempdir().expect("a folder");
        let home = dir.path().join("config");
        let mut stage = Plan {
            env: vec![("XDG_CONFIG_HOME", home.display().to_string())],
            ..Plan::default()
        }
        .start();
        stage.arm();
        stage.pads.abs(PAD, ABS_RX, END as i32);
        let slower = |v: &[f64]| v[0] > 100.0 && v[0] < FAST * hall::PER_DEG - 1.0;
        stage.line.want_driven("four fifths of the way", slower);
        stage.centre();
        stage
            .line
            .want_driven("let go", |v| v.iter().all(|v| *v == 0.0));
        assert!(!home.exists(), "to look for trims makes no folder");
        let trims = home.join("stillhand/trims");
        fs::create_dir_all(&trims).expect("writable");
        save(&trims, &text_by_hand("rest = \"2 %\"", 79));
        stage.daemon.want("is read by its changed trim");
        stage.pads.abs(PAD, ABS_RX, END as i32);
        stage.full(FAST);
    });
}

/// A stick creeps out of its zone and its deadband in 30 s; sped up it would be a thumb.
#[test]
fn a_stick_that_creeps_moves_nothing_and_is_told_of() {
    let dir = tempfile::tempdir().expect("a folder");
    by_hand(dir.path(), "rest = \"1.2 %\"");
    steadily(|| {
        let mut stage = beside(dir.path(), "\"2 %\"");
        let armed = stage.arm();
        // 0.15 % of full scale each second: under the fastest creep that there is.
        for step in 0..=300 {
            stage.pads.abs(PAD, ABS_RX, step * 5);
            sleep(Duration::from_millis(100));
        }
        stage.daemon.want(&format!("rx of pad {PAD_ID} creeps"));
        // It is at 4.6 % by now; its zone was measured to end at 1.2 %, and the deadband is 2 % more.
        let crept = Instant::now();
        stage.drives();
        assert_still(&stage.line.tape().speeds(), armed, crept, "it crept");
    });
}

#[test]
fn beside_a_daemon_nothing_is_measured() {
    let dir = tempfile::tempdir().expect("a folder");
    let socket = dir.path().join("stillhand/hall.sock");
    fs::create_dir(dir.path().join("stillhand")).expect("writable");
    let mut stage = Plan {
        arguments: vec!["--socket".into(), socket.display().to_string()],
        ..Plan::default()
    }
    .start();
    stage.daemon.want("is in control");
    let runtime = dir.path().display().to_string();
    let mut trim = Start::new(["trim"])
        .with("XDG_RUNTIME_DIR", &runtime)
        .seeing(&stage.pads)
        .go();
    assert_eq!(trim.end(), 1, "{}", trim.all());
    assert_eq!(trim.count("a daemon is running"), 1, "{}", trim.all());
}
