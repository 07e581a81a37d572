//! Operators who take over from each other: asked for from a terminal or by a press, they wait for rest and
//! for sticks that were let go; what is not good changes nothing; and the file in use is followed.
//!
//! The daemon is the unmodified program; each step waits for what it says or sends.

mod support;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use support::daemon::PROGRAM;
use support::edit::{goes, replace};
use support::fakepad::Bus;
use support::fakepad::code::*;
use support::hall::{self, PER_DEG};
use support::judge::judge_unstopped;
use support::stage::{CENTRE, FULL, PAD, PAD_ID, Plan, Stage};
use support::steady::steadily;
use support::talk::{Talk, ask};
use tempfile::TempDir;

/// The hands of the hall under another name, with a ceiling on pan, and a press that asks for the next.
fn hands(name: &str, deg_s: u32) -> String {
    hall::pan_only().replace("name = \"quick\"", &format!("name = \"{name}\""))
        + &format!("ceiling = \"{deg_s} deg/s\"\n")
        + "[buttons]\nnext_operator = \"hold select\"\nrolling = \"hold north\"\n"
}

/// A daemon that can be asked; `alto` drives, in whose folder others may lie.
struct Hall {
    stage: Stage,
    socket: PathBuf,
    _place: TempDir,
}

fn start(arguments: &[&str]) -> Hall {
    start_as("alto", arguments)
}

/// The same with somebody of this name.
fn start_as(name: &str, arguments: &[&str]) -> Hall {
    let place = tempfile::tempdir().expect("a folder");
    let socket = place.path().join("hall.sock");
    let mut all = vec!["--socket".to_owned(), socket.display().to_string()];
    all.extend(arguments.iter().map(|word| (*word).to_owned()));
    let stage = Plan {
        operator: hands(name, 30),
        arguments: all,
        ..Plan::default()
    }
    .start();
    Hall {
        stage,
        socket,
        _place: place,
    }
}

impl Hall {
    fn write(&self, file: &str, text: &str) -> PathBuf {
        let path = self.stage.folder.path().join(file);
        replace(&path, text);
        path
    }

    fn ask(&self, words: &[&str]) -> (i32, String) {
        let (code, text) = ask(&self.socket, words);
        (code, text.trim_end().to_owned())
    }

    /// Lets go; back when the sticks move the rig again.
    fn drive_again(&mut self) {
        self.stage.centre();
        self.stage.daemon.want("driving: the sticks move the rig");
    }

    /// Lets go, and waits until what waited is in force and the sticks move the rig again.
    fn let_go_for(&mut self, in_force: &str) {
        self.stage.pads.abs(PAD, ABS_RX, CENTRE);
        goes(&mut self.stage, 0.0);
        let daemon = &mut self.stage.daemon;
        daemon.want(in_force);
        daemon.want("withheld (another profile came into force)");
        daemon.want("driving: the sticks move the rig");
    }

    fn hold(&mut self, button: u16, until: &str) {
        self.stage.pads.key(PAD, button, true);
        self.stage.daemon.want(until);
        self.stage.pads.key(PAD, button, false);
    }
}

#[test]
fn another_operator_waits_for_rest_and_sticks_let_go_and_her_file_is_followed() {
    steadily(|| {
        let mut hall = start(&[]);
        hall.stage.arm();
        let file = hall.write("second.toml", &hands("tenor", 40));
        assert_eq!(hall.ask(&["use"]), (0, "alto (chosen), tenor".to_owned()));
        hall.stage.push(30.0);
        let waits = "operator tenor waits for rest and all sticks let go";
        assert_eq!(hall.ask(&["use", "tenor"]), (0, waits.to_owned()));
        hall.stage
            .daemon
            .want("second.toml waits for rest and all sticks let go: another operator, tenor");
        let (_, text) = hall.ask(&["status"]);
        assert!(text.contains(waits), "{text}");
        // Slower edits of his file apply at once; it is not in force, so this one waits with the rest.
        replace(&file, &hands("tenor", 41));
        hall.stage.daemon.want("the newer second.toml waits");
        // His file is nobody's any more: what becomes of it is not told.
        let first = hall.stage.folder.path().join("operator.toml");
        fs::remove_file(first).expect("removed");
        goes(&mut hall.stage, 30.0);
        hall.let_go_for("second.toml is in force now: another operator, tenor");
        let status = Talk::with(&hall.socket).ask(r#"{"do":"status"}"#)["status"].clone();
        assert_eq!(status["operator"], "tenor", "{status}");
        assert!(status["files"]["waits"].is_null(), "{status}");
        hall.stage.push(41.0);
        replace(&file, &hands("tenor", 36));
        hall.stage
            .daemon
            .want("second.toml is in force at once: pan speeds");
        goes(&mut hall.stage, 36.0);
        let (code, text) = hall.ask(&["use", "tenor"]);
        assert_eq!((code, text.as_str()), (0, "tenor is in force"));
        hall.stage.pads.abs(PAD, ABS_RX, CENTRE);
        goes(&mut hall.stage, 0.0);
        assert_eq!(hall.stage.daemon.count("operator.toml"), 0);
        let speeds = hall.stage.line.tape().speeds();
        judge_unstopped(&speeds);
        // Whole: of his speed there was nothing before the first rest.
        let pan = speeds.iter().map(|one| one.axes[0] / PER_DEG);
        let moving = pan.skip_while(|v| *v == 0.0).take_while(|v| *v != 0.0);
        let fastest = moving.fold(0.0, f64::max);
        assert!((29.9..30.1).contains(&fastest), "{fastest}");
    });
}

#[test]
fn a_held_press_goes_round_and_rolling_locks_it() {
    steadily(|| {
        let mut hall = start(&[]);
        hall.stage.arm();
        hall.write("p-broken.toml", &hands("bass", 20).replace("10 %", "80 %"));
        hall.write("q-rig.toml", hall::RIG);
        hall.write("z-last.toml", &hands("tenor", 40));
        // Past the broken one and the rig file, and round again.
        hall.hold(BTN_SELECT, "pad 1 asks for the next operator");
        let daemon = &mut hall.stage.daemon;
        daemon.want("p-broken.toml has 1 problem: it is not taken");
        daemon.want("z-last.toml is in force at once: another operator, tenor");
        daemon.want("driving: the sticks move the rig");
        hall.stage.push(40.0);
        hall.hold(BTN_SELECT, "pad 1 asks for the next operator");
        hall.stage
            .daemon
            .want("operator.toml waits for rest and all sticks let go");
        goes(&mut hall.stage, 40.0);
        hall.let_go_for("operator.toml is in force now: another operator, alto");
        hall.hold(BTN_NORTH, "rolling: gears, quiet off and another operator");
        hall.hold(BTN_SELECT, "the operator stays until rolling is over");
        let (code, text) = hall.ask(&["use", "tenor"]);
        let says = "alto stays in force: the camera is rolling; end that first";
        assert_eq!((code, text.as_str()), (1, says));
        // A bare tap asks for nobody, and with nobody else there is nobody.
        hall.hold(BTN_NORTH, "no longer rolling");
        hall.stage.pads.key(PAD, BTN_SELECT, true);
        hall.stage.pads.key(PAD, BTN_SELECT, false);
        for file in ["z-last.toml", "p-broken.toml"] {
            fs::remove_file(hall.stage.folder.path().join(file)).expect("removed");
        }
        let asked = hall.stage.daemon.count("asks for the next operator");
        hall.hold(BTN_SELECT, "there is no other operator in");
        let daemon = &hall.stage.daemon;
        assert_eq!((asked, daemon.count("asks for the next operator")), (2, 3));
        assert_eq!(daemon.count("is in force"), 2, "{}", daemon.all());
        hall.stage.drives();
    });
}

/// What `check` prints of a file's problems.
fn checked(files: &[&Path]) -> String {
    let output = Command::new(PROGRAM).arg("check").args(files).output();
    String::from_utf8(output.expect("it runs").stdout).expect("text")
}

#[test]
fn who_is_not_there_or_not_good_is_refused_and_changes_nothing() {
    steadily(|| {
        let mut hall = start(&[]);
        hall.stage.arm();
        hall.write("tenor.toml", &hands("tenor", 40));
        let broken = hall.write("bass.toml", &hands("bass", 20).replace("10 %", "80 %"));
        hall.write(
            "soprano.toml",
            &hands("soprano", 20).replace("[axis.pan]", "[axis.pam]"),
        );
        let (code, text) = hall.ask(&["use", "tenro"]);
        let folder = hall.stage.folder.path().display().to_string();
        let says = format!(
            "there is no operator tenro in {folder}: there is bass, alto, soprano, tenor; did you mean \
             tenor?"
        );
        assert_eq!((code, text.as_str()), (1, says.as_str()));
        let (_, list) = hall.ask(&["use"]);
        assert_eq!(
            list,
            "bass (has problems), alto (chosen), soprano (has problems), tenor"
        );
        // With its caret, as `check` shows it.
        let (code, text) = hall.ask(&["use", "bass"]);
        assert!(code == 1 && text.contains("^^^"), "{text}");
        let shown = checked(&[&broken]);
        let lines = shown
            .lines()
            .take_while(|line| !line.ends_with("1 problem"));
        for line in lines {
            assert!(text.contains(line), "{line}\n{text}");
        }
        let (code, text) = hall.ask(&["use", "soprano"]);
        assert!(code == 1 && text.contains("no axis pam on rig"), "{text}");
        // Two of one name could be told apart by nobody.
        hall.write("twin.toml", &hands("tenor", 20));
        let (code, text) = hall.ask(&["use", "tenor"]);
        let says = "two operators are called tenor: tenor.toml and twin.toml";
        assert!(code == 1 && text.starts_with(says), "{text}");
        hall.stage.push(30.0);
        hall.stage.pads.abs(PAD, ABS_RX, CENTRE);
        goes(&mut hall.stage, 0.0);
        let daemon = &hall.stage.daemon;
        assert_eq!(daemon.count("in force"), 0, "{}", daemon.all());
    });
}

#[test]
fn a_folder_elsewhere_can_be_named_and_files_left_alone() {
    steadily(|| {
        let folder = tempfile::tempdir().expect("a folder");
        let file = folder.path().join("one.toml");
        fs::write(&file, hands("tenor", 40)).expect("written");
        let other = folder.path().display().to_string();
        let mut hall = start(&["--operators", &other, "--no-watch"]);
        hall.stage.arm();
        let (code, text) = hall.ask(&["use", "tenor"]);
        assert_eq!((code, text.as_str()), (0, "tenor is in force"));
        hall.stage.daemon.want("driving: the sticks move the rig");
        hall.stage.push(40.0);
        // An edit is not followed; who is asked for again is read again.
        replace(&file, &hands("tenor", 44));
        assert_eq!(hall.ask(&["use", "tenor"]).0, 0);
        hall.stage
            .daemon
            .want("one.toml is in force at once: pan speeds");
        hall.stage.pads.abs(PAD, ABS_RX, FULL - 100);
        goes(&mut hall.stage, 44.0);
        let (code, text) = hall.ask(&["use", "alto"]);
        assert!(code == 1 && text.ends_with("there is tenor"), "{text}");
    });
}

#[test]
fn names_at_the_start_are_those_of_the_folder() {
    let folder = tempfile::tempdir().expect("a folder");
    let run = |words: &[&str]| {
        let mut command = Command::new(PROGRAM);
        command.args(["run", "--for", "100ms", "--socket", "off", "--operators"]);
        let output = command.arg(folder.path()).args(words).output();
        let output = output.expect("it starts");
        let text = String::from_utf8_lossy(&output.stderr).into_owned();
        (output.status.code(), text)
    };
    let (code, text) = run(&[]);
    assert!(
        code == Some(2) && text.contains("--operators: there is no operator in"),
        "{text}"
    );
    for (file, name) in [("1.toml", "tenor"), ("2.toml", "alto")] {
        fs::write(folder.path().join(file), hands(name, 20)).expect("written");
    }
    let (code, text) = run(&[]);
    assert!(
        code == Some(0) && text.contains("operator tenor;"),
        "{text}"
    );
    let (code, text) = run(&["--operator", "alto"]);
    assert!(code == Some(0) && text.contains("operator alto;"), "{text}");
    let (code, text) = run(&["--operator", "bass"]);
    assert!(
        code == Some(2) && text.contains("there is tenor, alto"),
        "{text}"
    );
}

/// Two pads, two operators: each drives with its own hands, from the moment it has taken over.
#[test]
fn each_pad_brings_its_operator_along() {
    steadily(|| {
        const SECOND: u32 = 2;
        let second = "usb-0000:00:14.0-2";
        let hers = format!("{PAD_ID}=alto");
        let his = format!("{second}=tenor");
        let folder = tempfile::tempdir().expect("a folder");
        for (file, name, speed) in [("1.toml", "alto", 30), ("2.toml", "tenor", 40)] {
            let text = hands(name, speed) + "[buttons.control]\nall = \"hold west\"\n";
            fs::write(folder.path().join(file), text).expect("written");
        }
        let at = folder.path().display().to_string();
        let words = [
            "--operators",
            &at,
            "--operator-for",
            &hers,
            "--operator-for",
            &his,
        ];
        let mut hall = start_as("guest", &words);
        hall.stage.daemon.want("its operator is alto");
        hall.stage
            .daemon
            .want("1.toml is in force at once: another operator, alto");
        hall.drive_again();
        hall.stage.push(30.0);
        hall.stage
            .pads
            .plug_as(SECOND, Bus::Usb, second, "Stage Pad");
        hall.stage.daemon.want("Stage Pad");
        hall.stage.pads.abs(SECOND, ABS_RX, CENTRE);
        hall.stage.pads.key(SECOND, BTN_WEST, true);
        hall.stage.daemon.want("pad 2 asks for all axes");
        hall.stage.pads.key(SECOND, BTN_WEST, false);
        hall.stage.pads.key(PAD, BTN_WEST, true);
        hall.stage.daemon.want("passes to pad 2 at rest");
        hall.stage.pads.key(PAD, BTN_WEST, false);
        assert_eq!(
            hall.stage.daemon.count("its operator is tenor"),
            0,
            "not yet"
        );
        hall.stage.pads.abs(PAD, ABS_RX, CENTRE);
        hall.stage.daemon.want("pad 2 is in control");
        hall.stage.daemon.want("its operator is tenor");
        hall.stage
            .daemon
            .want("2.toml is in force at once: another operator, tenor");
        hall.stage.daemon.want("driving: the sticks move the rig");
        hall.stage.pads.abs(SECOND, ABS_RX, FULL);
        hall.stage.full(40.0);
        // His pad goes with its stick held over: hers has control, and with it her hands.
        hall.stage.pads.unplug(SECOND);
        hall.stage.daemon.want("its operator is alto");
        hall.stage.daemon.want("1.toml is in force");
        hall.drive_again();
        hall.stage.push(30.0);
        // Neither has motors, which is told once of each, however much there was to feel.
        for id in [PAD_ID, second] {
            let says = format!("pad {id} can't shake");
            assert_eq!(hall.stage.daemon.count(&says), 1, "{says}");
        }
    });
}
