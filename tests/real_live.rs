//! Files edited while somebody drives: each way in which editors save takes effect once and without a
//! jolt, a broken file changes nothing, and what must wait waits.
//!
//! The daemon is the unmodified program. Nothing here waits for a while and hopes: each step waits for
//! what the daemon says or sends, and that nothing else happened is counted at the end.

mod support;

use std::fs;
use std::io::Write;
use std::os::unix::fs::{PermissionsExt, symlink};
use std::path::Path;
use std::process::Command;
use std::time::{Duration, SystemTime};

use support::daemon::PROGRAM;
use support::edit::{AT_ONCE, ceiling, goes, operator, replace};
use support::fakepad::code::*;
use support::hall::{FAST, PER_DEG};
use support::judge::judge_unstopped;
use support::stage::{CENTRE, FULL, PAD, Plan};
use support::steady::steadily;

/// A way to save: what it is called, and how it gets this text into that file.
type Style = (&'static str, fn(&Path, &str));

const STYLES: [Style; 11] = [
    ("truncate and write", |file, text| {
        fs::write(file, text).expect("written");
    }),
    ("write a new one and rename it", replace),
    ("rename the old one, write anew", |file, text| {
        fs::rename(file, file.with_extension("toml~")).expect("renamed");
        fs::write(file, text).expect("written");
    }),
    ("write, then change its rights", |file, text| {
        fs::write(file, text).expect("written");
        fs::set_permissions(file, fs::Permissions::from_mode(0o640)).expect("its own");
    }),
    ("remove, then write anew", |file, text| {
        fs::remove_file(file).expect("removed");
        fs::write(file, text).expect("written");
    }),
    ("write half, pause, write the rest", |file, text| {
        let (one, two) = text.as_bytes().split_at(text.len() / 2);
        let mut open = fs::File::create(file).expect("opened");
        open.write_all(one).expect("written");
        // Four times the quiet that is waited for; a slow disk or a thoughtful program.
        std::thread::sleep(Duration::from_millis(400));
        open.write_all(two).expect("written");
    }),
    ("many saves at once", |file, text| {
        let last = fs::read_to_string(file).expect("there");
        for n in 0..8 {
            replace(file, &format!("{last}# {n}\n"));
        }
        replace(file, text);
    }),
    ("a link to a file elsewhere", |file, text| {
        let store = file.with_file_name("store");
        fs::create_dir(&store).expect("a folder");
        fs::write(store.join("one.toml"), text).expect("written");
        let link = file.with_extension("link");
        symlink("store/one.toml", &link).expect("a link");
        fs::rename(&link, file).expect("renamed");
    }),
    ("the file behind the link", |file, text| {
        replace(&file.with_file_name("store").join("one.toml"), text);
    }),
    ("another link", |file, text| {
        fs::write(file.with_file_name("store").join("two.toml"), text).expect("written");
        let link = file.with_extension("link");
        symlink("store/two.toml", &link).expect("a link");
        fs::rename(&link, file).expect("renamed");
    }),
    ("another folder under the old name", |file, text| {
        let at = |name: &str| file.with_file_name(name);
        fs::create_dir(at("fresh")).expect("a folder");
        fs::write(at("fresh").join("two.toml"), text).expect("written");
        fs::rename(at("store"), at("old")).expect("renamed");
        fs::rename(at("fresh"), at("store")).expect("renamed");
    }),
];

/// Each is in force once, while pan goes at full stick, and changes no speed harder than the normal set.
#[test]
fn each_way_to_save_takes_effect_once_and_without_a_jolt() {
    steadily(|| {
        let mut stage = Plan {
            operator: ceiling(30.0),
            ..Plan::default()
        }
        .start();
        stage.arm();
        stage.push(30.0);
        let file = operator(&stage);
        for (place, (how, save)) in STYLES.into_iter().enumerate() {
            let speed = if place % 2 == 0 { 36.0 } else { 30.0 };
            // A wiggle, so that the pad does not count as silent; both are a full stick.
            stage.pads.abs(PAD, ABS_RX, FULL - (place % 2) as i32 * 100);
            save(&file, &ceiling(speed));
            stage.daemon.want(AT_ONCE);
            goes(&mut stage, speed);
            let count = stage.daemon.count(AT_ONCE);
            assert_eq!(count, place + 1, "{how}: {}", stage.daemon.all());
        }
        // Nothing of it was ever bad, gone, or told of twice.
        for word in ["problem", "not there any more", "waits", "good again"] {
            assert_eq!(stage.daemon.count(word), 0, "{}", stage.daemon.all());
        }
        stage.pads.abs(PAD, ABS_RX, CENTRE);
        goes(&mut stage, 0.0);
        let speeds = stage.line.tape().speeds();
        judge_unstopped(&speeds);
        assert!(
            speeds.iter().any(|one| one.axes[0] > 35.9 * PER_DEG),
            "36 deg/s"
        );
    });
}

/// What says the same as before does nothing and is told of by nobody: touched, written again, with
/// another remark.
#[test]
fn what_says_the_same_does_nothing() {
    steadily(|| {
        let mut stage = Plan {
            operator: ceiling(30.0),
            ..Plan::default()
        }
        .start();
        stage.arm();
        let file = operator(&stage);
        let open = fs::File::options().append(true).open(&file).expect("there");
        open.set_modified(SystemTime::now()).expect("touched");
        drop(open);
        // Apart from each other by more than the quiet that is waited for, so that each is read.
        std::thread::sleep(Duration::from_millis(250));
        replace(&file, &ceiling(30.0));
        std::thread::sleep(Duration::from_millis(250));
        replace(
            &file,
            &format!("{}# softer than yesterday\n", ceiling(30.0)),
        );
        std::thread::sleep(Duration::from_millis(250));
        replace(&file, &ceiling(36.0));
        stage.daemon.want(AT_ONCE);
        assert_eq!(
            stage.daemon.count("operator.toml"),
            1,
            "{}",
            stage.daemon.all()
        );
    });
}

/// What `check` prints of its problems: all before the line that counts them.
fn checked(file: &Path) -> Vec<String> {
    let output = Command::new(PROGRAM).arg("check").arg(file).output();
    let text = String::from_utf8(output.expect("it runs").stdout).expect("text");
    assert!(text.contains("^^^"), "{text}");
    let count = format!("{}: 1 problem", file.display());
    let lines = text.lines().take_while(|line| *line != count);
    lines.map(str::to_owned).collect()
}

#[test]
fn a_broken_file_keeps_the_old_feel_and_is_shown_with_carets() {
    steadily(|| {
        let mut stage = Plan {
            operator: ceiling(30.0),
            ..Plan::default()
        }
        .start();
        stage.arm();
        stage.push(30.0);
        let file = operator(&stage);
        let broken = ceiling(20.0).replace("deadband = \"10 %\"", "deadband = \"80 %\"");
        replace(&file, &broken);
        stage
            .daemon
            .want("operator.toml has 1 problem: nothing of it is taken");
        for line in checked(&file) {
            stage.daemon.want(line.trim_end());
        }
        // The same again is not told of again; another slip is.
        replace(&file, &broken);
        std::thread::sleep(Duration::from_millis(250));
        replace(&file, &ceiling(20.0).replace("[axis.pan]", "[axis.pam]"));
        stage.daemon.want("no axis pam on rig");
        stage.daemon.want("did you mean [axis.pan]?");
        assert_eq!(
            stage.daemon.count("has 1 problem"),
            2,
            "{}",
            stage.daemon.all()
        );
        fs::remove_file(&file).expect("removed");
        stage
            .daemon
            .want("operator.toml is not there any more: what was read last stays in force");
        goes(&mut stage, 30.0);
        fs::write(&file, ceiling(30.0)).expect("written");
        stage
            .daemon
            .want("operator.toml is good again and changes nothing");
        stage.pads.abs(PAD, ABS_RX, FULL - 100);
        replace(&file, &ceiling(36.0));
        stage.daemon.want(AT_ONCE);
        goes(&mut stage, 36.0);
        assert_eq!(
            stage.daemon.count("is in force"),
            1,
            "{}",
            stage.daemon.all()
        );
        stage.pads.abs(PAD, ABS_RX, CENTRE);
        goes(&mut stage, 0.0);
        let speeds = stage.line.tape().speeds();
        judge_unstopped(&speeds);
        // Nothing of the broken ones' 20 deg/s: it never went slower until it was let go.
        let from = speeds.iter().position(|one| one.axes[0] > 29.9 * PER_DEG);
        let from = from.expect("30 deg/s");
        let upto = speeds.iter().rposition(|one| one.axes[0] > 35.9 * PER_DEG);
        let between = &speeds[from..upto.expect("36 deg/s")];
        assert!(between.iter().all(|one| one.axes[0] > 29.9 * PER_DEG));
    });
}

#[test]
fn what_must_wait_waits_and_a_newer_edit_takes_its_place() {
    steadily(|| {
        let mut stage = Plan {
            operator: ceiling(20.0),
            ..Plan::default()
        }
        .start();
        stage.arm();
        stage.push(20.0);
        let file = operator(&stage);
        replace(&file, &ceiling(44.0));
        stage
            .daemon
            .want("operator.toml waits until the stick is let go: pan full stick faster");
        replace(
            &file,
            &ceiling(40.0).replace("control", "invert = true\ncontrol"),
        );
        stage.daemon.want(
            "the newer operator.toml waits for rest and all sticks let go: pan the other way round, pan \
             full stick faster",
        );
        replace(&file, &ceiling(20.0));
        stage
            .daemon
            .want("operator.toml says what is in force again: nothing waits any more");
        replace(&file, &ceiling(FAST));
        stage
            .daemon
            .want("operator.toml waits until the stick is let go: pan full stick faster");
        goes(&mut stage, 20.0);
        stage.pads.abs(PAD, ABS_RX, CENTRE);
        stage
            .daemon
            .want("operator.toml is in force now: pan full stick faster");
        goes(&mut stage, 0.0);
        stage.push(FAST);
        // The other way round, in motion: only at rest, and then nothing moves until it was let go.
        replace(
            &file,
            &ceiling(FAST).replace("control", "invert = true\ncontrol"),
        );
        stage
            .daemon
            .want("operator.toml waits for rest and all sticks let go: pan the other way round");
        goes(&mut stage, FAST);
        stage.pads.abs(PAD, ABS_RX, CENTRE);
        stage
            .daemon
            .want("operator.toml is in force now: pan the other way round");
        stage
            .daemon
            .want("withheld (another profile came into force)");
        stage.daemon.want("driving: the sticks move the rig");
        stage.pads.abs(PAD, ABS_RX, FULL);
        goes(&mut stage, -FAST);
        stage.pads.abs(PAD, ABS_RX, CENTRE);
        goes(&mut stage, 0.0);
        let speeds = stage.line.tape().speeds();
        judge_unstopped(&speeds);
        // From one way to the other only through a rest.
        for pair in speeds.windows(2) {
            assert!(pair[0].axes[0] * pair[1].axes[0] >= 0.0, "{pair:?}");
        }
    });
}
