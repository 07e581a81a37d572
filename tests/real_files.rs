//! Rig and quiet files edited while somebody drives; without file events; not watched at all.

mod support;

use std::fs;
use std::os::fd::{FromRawFd, OwnedFd};
use std::os::unix::fs::{MetadataExt, PermissionsExt};
use std::path::Path;

use support::daemon::{NOBODY, PROGRAM, Start};
use support::edit::{AT_ONCE, ceiling, goes, operator, replace};
use support::fakepad::code::*;
use support::hall::{self, PER_DEG};
use support::judge::judge_unstopped;
use support::line::Line;
use support::stage::{CENTRE, PAD, Plan, files};
use support::steady::steadily;

const QUIET: &str = r#"
[quiet]
rig = "hall"

[axis.pan]
speed = "9 deg/s"
accel = "60 deg/s^2"
jerk = "300 deg/s^3"
"#;

/// The quiet file is watched too, under the name the profile has for it now.
#[test]
fn another_stop_button_and_a_quiet_file_count_once_they_are_in_force() {
    steadily(|| {
        let mut stage = Plan {
            operator: ceiling(30.0),
            ..Plan::default()
        }
        .start();
        stage.arm();
        let file = operator(&stage);
        let text = ceiling(30.0).replace("[axis.pan]", "quiet = \"hall-quiet.toml\"\n[axis.pan]")
            + "[buttons]\nstop = \"north\"\nquiet = \"hold west\"\n";
        replace(&file, &text);
        // It names a file there is not; then there is one.
        stage.daemon.want("operator.toml has 1 problem");
        let quiet = file.with_file_name("hall-quiet.toml");
        fs::write(&quiet, QUIET).expect("written");
        stage.daemon.want("what the buttons do");
        stage.daemon.want("driving: the sticks move the rig");
        stage.pads.key(PAD, BTN_WEST, true);
        stage.daemon.want("quiet on");
        stage.pads.key(PAD, BTN_WEST, false);
        stage.push(9.0);
        replace(&quiet, &QUIET.replace("9 deg/s\"", "8 deg/s\""));
        stage.daemon.want(AT_ONCE);
        goes(&mut stage, 8.0);
        judge_unstopped(&stage.line.tape().speeds());
        // The old stop button stops no more, the new one does.
        stage.pads.key(PAD, BTN_EAST, true);
        stage.pads.key(PAD, BTN_EAST, false);
        // Pressed before the stick is moved: it goes on, at the speed of the stick's new place.
        stage.pads.abs(PAD, ABS_RX, 20_000);
        let depth = (20_001.0 / 32_768.0 - 0.10) / (0.95 - 0.10);
        goes(&mut stage, 8.0 * depth);
        assert_eq!(stage.daemon.count("STOPPED"), 0, "{}", stage.daemon.all());
        stage.pads.key(PAD, BTN_NORTH, true);
        stage.daemon.want("STOPPED by pad 1");
        goes(&mut stage, 0.0);
        assert_eq!(stage.daemon.count("STOPPED"), 1, "{}", stage.daemon.all());
    });
}

/// The rig is told anew of travel and stop set, at rest; another rig takes another start.
#[test]
fn a_rig_file_waits_for_rest_and_the_rig_is_set_up_anew() {
    steadily(|| {
        let mut stage = Plan {
            operator: ceiling(30.0),
            ..Plan::default()
        }
        .start();
        stage.arm();
        stage.push(30.0);
        let file = stage.folder.path().join("rig.toml");
        replace(&file, &hall::RIG.replace("id = \"hall\"", "id = \"barn\""));
        stage
            .daemon
            .want("rig.toml stays as it was: it describes another rig");
        replace(&file, &hall::RIG.replace("baud = 115200", "baud = 230400"));
        stage
            .daemon
            .want("rig.toml stays as it was: `port` and `baud` are those of the start");
        // Pan would need an enable control, and the profile has none.
        let held = hall::RIG.replace("[axis.tilt]", "enable = true\n[axis.tilt]");
        replace(&file, &held);
        stage
            .daemon
            .want("moves only while an enable control is held");
        stage
            .daemon
            .want("rig.toml stays as it was: the profile does not fit it");
        let changed = hall::RIG
            .replace("3000 deg\"]", "2000 deg\"]")
            .replace("speed = \"60 deg/s\"", "speed = \"25 deg/s\"");
        replace(&file, &changed);
        stage
            .daemon
            .want("rig.toml waits for rest and all sticks let go: pan travel, pan highest speed");
        goes(&mut stage, 30.0);
        stage.pads.abs(PAD, ABS_RX, CENTRE);
        stage
            .daemon
            .want("rig.toml is in force now: pan travel, pan highest speed; the rig is met anew");
        stage.daemon.want("driving: the sticks move the rig");
        stage.push(25.0);
        stage.pads.abs(PAD, ABS_RX, CENTRE);
        goes(&mut stage, 0.0);
        let tape = stage.line.tape();
        judge_unstopped(&tape.speeds());
        let setups: Vec<_> = tape
            .messages()
            .into_iter()
            .filter_map(|(_, message)| message.get("Setup").cloned())
            .collect();
        assert_eq!(setups.len(), 2, "{setups:?}");
        let upper = |setup: &serde_json::Value| setup["axes"][0]["travel"][1].as_i64();
        let counts = |deg: f64| Some((deg * PER_DEG).floor() as i64);
        assert_eq!(upper(&setups[0]), counts(3000.0), "{setups:?}");
        assert_eq!(upper(&setups[1]), counts(2000.0), "{setups:?}");
        assert_ne!(setups[0]["session"], setups[1]["session"]);
    });
}

/// Takes all of an ordinary user's inotify instances, by being that user on this thread alone.
fn take_all_instances() -> Vec<OwnedFd> {
    // The C library's own call would change every thread.
    let be = |user: u32| {
        // SAFETY: one system call without pointers; -1 leaves the other two ids as they are.
        let done = unsafe { libc::syscall(libc::SYS_setresuid, -1_i64, i64::from(user), -1_i64) };
        assert_eq!(done, 0, "the tests of the real path run as root");
    };
    be(NOBODY);
    let mut taken = Vec::new();
    let error = loop {
        // SAFETY: one system call without pointers.
        match unsafe { libc::inotify_init1(libc::IN_CLOEXEC) } {
            -1 => break std::io::Error::last_os_error(),
            // SAFETY: just made, and nobody else's.
            fd => taken.push(unsafe { OwnedFd::from_raw_fd(fd) }),
        }
    };
    be(0);
    assert_eq!(error.raw_os_error(), Some(libc::EMFILE), "{error}");
    assert!(!taken.is_empty());
    taken
}

/// Where the system gives no events, it is said, and the files are looked at again and again.
#[test]
fn without_events_files_are_looked_at() {
    steadily(|| {
        let folder = tempfile::tempdir().expect("a folder");
        let open_to_all = |path: &Path, mode: u32| {
            fs::set_permissions(path, fs::Permissions::from_mode(mode)).expect("ours");
        };
        open_to_all(folder.path(), 0o755);
        let program = folder.path().join("stillhand");
        fs::copy(PROGRAM, &program).expect("room for a copy");
        open_to_all(&program, 0o755);
        let hands = folder.path().join("hands.pad");
        fs::write(&hands, "0 ABS_RX 0\n").expect("written");
        let line = Line::start(hall::config());
        open_to_all(line.path(), 0o666);
        let mut arguments = files(&folder, hall::RIG, &ceiling(30.0));
        arguments.extend(["--port".into(), line.path().display().to_string()]);
        arguments.extend(["--pad".into(), format!("script:{}", hands.display())]);
        arguments.extend(["--socket".into(), "off".into()]);
        let taken = take_all_instances();
        let mut daemon = Start::program(&program, &arguments).by_nobody().go();
        daemon.want("the system gives no file events");
        daemon.want("driving: the sticks move the rig");
        drop(taken);
        let file = folder.path().join("operator.toml");
        replace(&file, &ceiling(36.0));
        daemon.want(AT_ONCE);
        fs::write(&file, "broken").expect("written");
        daemon.want("operator.toml has 1 problem");
        replace(&file, &ceiling(30.0));
        daemon.want(AT_ONCE);
        assert_eq!(daemon.count("file events"), 1, "{}", daemon.all());
        daemon.signal(libc::SIGTERM);
        assert_eq!(daemon.end(), 0, "{}", daemon.all());
    });
}

#[test]
fn files_that_are_not_watched_are_those_of_the_start() {
    steadily(|| {
        let mut stage = Plan {
            operator: ceiling(30.0),
            arguments: vec!["--no-watch".to_owned()],
            ..Plan::default()
        }
        .start();
        stage.arm();
        replace(&operator(&stage), "broken");
        stage.push(30.0);
        // What the kernel watches for the daemon (proc(5), fdinfo of inotify), by inode.
        let infos = fs::read_dir(format!("/proc/{}/fdinfo", stage.daemon.pid())).expect("it runs");
        let infos: String = infos
            .flatten()
            .filter_map(|info| fs::read_to_string(info.path()).ok())
            .collect();
        let file = operator(&stage);
        let folder = file.parent().expect("in a folder");
        for place in [&file, folder] {
            let inode = fs::metadata(place).expect("there").ino();
            assert!(!infos.contains(&format!("ino:{inode:x} ")), "{infos}");
        }
    });
}
