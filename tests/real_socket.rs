//! The control socket of the unmodified daemon: who may ask, what comes of it, and that nothing of it
//! keeps the sticks from moving the rig.

mod support;

use std::io::{Read, Write};
use std::os::unix::fs::PermissionsExt;
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::Command;
use support::daemon::{NOBODY, PROGRAM};
use support::fakepad::code::*;
use support::hall::FAST;
use support::stage::{PAD, Plan, Stage};
use support::steady::steadily;
use support::talk::{Talk, ask};
use tempfile::TempDir;

/// A running daemon that can be asked at `path`.
struct Asked {
    stage: Stage,
    path: PathBuf,
    _folder: TempDir,
}

fn start() -> Asked {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("hall.sock");
    let stage = Plan {
        arguments: vec!["--socket".into(), path.display().to_string()],
        ..Plan::default()
    }
    .start();
    Asked {
        stage,
        path,
        _folder: folder,
    }
}

#[test]
fn a_stop_from_a_terminal_stops_and_a_pad_releases_it() {
    steadily(|| {
        let mut asked = start();
        asked.stage.arm();
        asked.stage.push(FAST);
        let (code, text) = ask(&asked.path, &["stop"]);
        assert_eq!(
            (code, text.trim_end()),
            (0, "stopped: a pad in control releases it")
        );
        asked.stage.daemon.want("STOPPED by command");
        asked
            .stage
            .line
            .want_driven("at rest", |v| v.iter().all(|v| *v == 0.0));
        asked.stage.centre();
        asked.stage.pads.key(PAD, BTN_START, true);
        asked.stage.daemon.want("driving: the sticks move the rig");
        asked.stage.pads.key(PAD, BTN_START, false);
        asked.stage.drives();
    });
}

#[test]
fn modes_and_gears_do_what_presses_do() {
    steadily(|| {
        let mut asked = start();
        asked.stage.arm();
        let path = asked.path.clone();
        let yes = |words: &[&str], says: &str| {
            assert_eq!(ask(&path, words), (0, format!("{says}\n")), "{words:?}");
        };
        yes(&["quiet", "on"], "quiet is on");
        yes(&["rolling", "on"], "rolling is on");
        let (code, text) = ask(&path, &["quiet", "off"]);
        assert!(code == 1 && text.contains("rolling"), "{code} {text}");
        yes(&["rolling", "off"], "rolling is off");
        yes(&["quiet", "off"], "quiet is off");
        asked.stage.push(FAST);
        yes(&["reduced", "on"], "reduced is on");
        yes(
            &["reduced", "off"],
            "reduced goes off as soon as the sticks are centred",
        );
        asked.stage.centre();
        asked.stage.daemon.want("reduced speed off");
        yes(&["still", "on"], "still is on");
        asked.stage.daemon.want("still");
        let (code, text) = ask(&path, &["gear", "9"]);
        assert!(
            code == 1 && text.contains("gears go from 1 to"),
            "{code} {text}"
        );
    });
}

#[test]
fn the_status_says_what_moves() {
    steadily(|| {
        let mut asked = start();
        asked.stage.arm();
        asked.stage.push(FAST);
        let status = Talk::with(&asked.path).ask(r#"{"do":"status"}"#)["status"].clone();
        assert_eq!(status["state"], "driving", "{status}");
        assert_eq!(status["axes"][0]["name"], "pan");
        let speed = status["axes"][0]["speed"].as_f64().expect("a number");
        assert!((speed - FAST).abs() < 0.01, "{speed} against {FAST}");
        let (code, text) = ask(&asked.path, &["status"]);
        assert!(code == 0 && text.starts_with("driving"), "{code} {text}");
        // Page after page, each of a later moment.
        let mut talk = Talk::with(&asked.path);
        talk.say(b"{\"do\":\"watch\"}\n");
        let moments: Vec<f64> = (0..5)
            .map(|_| {
                talk.hear()["status"]["since_start_s"]
                    .as_f64()
                    .expect("a number")
            })
            .collect();
        assert!(
            moments.is_sorted() && moments[0] < moments[4],
            "{moments:?}"
        );
        // A stop on the same line is answered between the pages.
        talk.say(b"{\"do\":\"stop\"}\n");
        let answer = std::iter::repeat_with(|| talk.hear()).find(|a| a["status"].is_null());
        assert_eq!(answer.expect("it comes")["ok"], true);
    });
}

#[test]
fn what_is_not_understood_is_answered_and_changes_nothing() {
    steadily(|| {
        let mut asked = start();
        asked.stage.arm();
        let mut talk = Talk::with(&asked.path);
        for line in [
            "",
            "stop",
            r#"{"do":"dance"}"#,
            r#"{"do":"quiet"}"#,
            "\u{0}\u{7f}",
        ] {
            let answer = talk.ask(line);
            assert_eq!(answer["ok"], false, "{line:?}: {answer}");
        }
        assert_eq!(talk.ask(r#"{"do":"status"}"#)["status"]["state"], "driving");
        // A line longer than any request ends the connection, and only that.
        let mut long = Talk::with(&asked.path);
        long.say(&[b'x'; 4096]);
        assert_eq!(long.hear()["ok"], false);
        let mut rest = Vec::new();
        let ended = long.0.read_to_end(&mut rest);
        assert!(ended.is_err() || rest.is_empty(), "{rest:?}");
        // Many at once, half of a line each, and nobody reading: the sticks move the rig all the same.
        let mut crowd: Vec<Talk> = (0..30).map(|_| Talk::with(&asked.path)).collect();
        for talk in &mut crowd {
            let _ = talk.0.get_mut().write_all(b"{\"do\":\"watch\"}\n{\"do\":");
        }
        asked.stage.daemon.want("connections to the control socket");
        asked.stage.drives();
    });
}

#[test]
fn another_user_is_refused() {
    let asked = start();
    let mut stage = asked.stage;
    stage.daemon.want("is in control");
    // SAFETY: geteuid has no conditions.
    if unsafe { libc::geteuid() } != 0 {
        eprintln!("only root can become another user: this part was left out");
        return;
    }
    let open = |path: &Path, mode| std::fs::set_permissions(path, PermissionsExt::from_mode(mode));
    let mode = std::fs::metadata(&asked.path)
        .expect("it is there")
        .permissions()
        .mode();
    assert_eq!(mode & 0o777, 0o600);
    open(asked.path.parent().expect("a folder"), 0o755).expect("ours");
    let stop = || {
        let mut command = Command::new(PROGRAM);
        let command = command.args(["stop", "--socket"]).arg(&asked.path);
        let output = command.uid(NOBODY).gid(NOBODY).current_dir("/").output();
        output.map(|output| {
            (
                output.status.code(),
                String::from_utf8_lossy(&output.stderr).into_owned(),
            )
        })
    };
    match stop() {
        Ok((code, text)) => assert!(code == Some(1) && text.contains("another user"), "{text}"),
        // The folder of the program itself may be closed to others.
        Err(error) => {
            eprintln!("another user can't start the program here ({error}): left out");
            return;
        }
    }
    // Even where the file would let them in, the kernel says who asks.
    open(&asked.path, 0o666).expect("ours");
    let (code, text) = stop().expect("it started before");
    assert!(code == Some(1), "{text}");
    stage
        .daemon
        .want("asked at the control socket and was refused");
    assert_eq!(stage.daemon.count("STOPPED"), 0);
}

#[test]
fn a_socket_left_behind_is_taken_over_and_one_in_use_is_not() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("hall.sock");
    let plan = || Plan {
        arguments: vec!["--socket".into(), path.display().to_string()],
        ..Plan::default()
    };
    let mut first = plan().start();
    first.daemon.want("is in control");
    let mut second = plan().start();
    second
        .daemon
        .want("another daemon for a rig of this name listens");
    // It drives all the same.
    second.arm();
    second.drives();
    first.daemon.signal(libc::SIGKILL);
    assert_eq!(first.daemon.end(), -libc::SIGKILL);
    assert!(path.exists(), "a killed daemon can't clean up");
    let (code, text) = ask(&path, &["status"]);
    assert!(code == 1 && text.contains("no daemon listens"), "{text}");
    let mut third = plan().start();
    third.daemon.want("is in control");
    assert_eq!(ask(&path, &["status"]).0, 0);
    third.daemon.signal(libc::SIGTERM);
    assert_eq!(third.daemon.end(), 0);
    assert!(!path.exists(), "it was left behind");
    std::fs::write(&path, "something else").expect("writable");
    let mut fourth = plan().start();
    fourth.daemon.want("is there and no socket");
    assert_eq!(std::fs::read(&path).expect("untouched"), b"something else");
}

#[test]
fn without_a_daemon_it_says_so() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut command = Command::new(PROGRAM);
    let output = command
        .arg("stop")
        .env("XDG_RUNTIME_DIR", folder.path())
        .output()
        .expect("it starts");
    let text = String::from_utf8_lossy(&output.stderr);
    assert!(
        output.status.code() == Some(1) && text.contains("no daemon of this user runs"),
        "{text}"
    );
    let (code, text) = ask(&folder.path().join("none.sock"), &["stop"]);
    assert!(code == 1 && text.contains("No such file"), "{text}");
}
