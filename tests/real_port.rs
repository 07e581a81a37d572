//! Ports: how they are opened, why they are not, and what happens when they go or clog.

mod support;

use std::os::unix::fs::{PermissionsExt, symlink};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use rustix::termios::{ControlModes, InputModes, LocalModes, OutputModes, Termios};
use support::daemon::{Daemon, NOBODY, PROGRAM, Start};
use support::fakepad::code::*;
use support::hall::{self, FAST, PER_DEG};
use support::line::Line;
use support::stage::{FULL, PAD, Plan, files};
use support::steady::steadily;

/// Makes `name` point to `port`, at once.
fn point(name: &Path, port: &Path) {
    let fresh = name.with_extension("new");
    symlink(port, &fresh).expect("a link");
    std::fs::rename(&fresh, name).expect("in its place");
}

#[test]
fn the_cable_pulled_and_put_back_in_mid_move() {
    steadily(|| {
        let place = tempfile::tempdir().expect("a folder");
        let name = place.path().join("port");
        let line = Line::start(hall::config());
        point(&name, line.path());
        let mut stage = Plan::default().start_on(line, name.clone());
        stage.arm();
        stage.push(FAST);
        // Nothing takes its place for a while.
        let fresh = Line::start(hall::config());
        std::fs::remove_file(&name).expect("our link");
        let pulled = Instant::now();
        drop(std::mem::replace(&mut stage.line, fresh));
        let told = stage
            .daemon
            .want("no link (link lost: port gone): plug the cable in again");
        assert!(
            told - pulled < Duration::from_secs(1),
            "{:?}",
            told - pulled
        );
        stage.daemon.want("port: not there. Is the rig plugged in");
        // The pad lives on meanwhile: a stick moved now is no demand later.
        stage.pads.abs(PAD, ABS_RX, FULL - 700);
        point(&name, stage.line.path());
        stage.daemon.want("withheld (the port is back)");
        stage
            .line
            .assert_rest_for(Duration::from_millis(600), "still held over");
        stage.centre();
        stage.daemon.want("driving: the sticks move the rig");
        stage.drives();
        let sessions = |line: &Line| {
            let speeds = line.tape().speeds();
            (speeds[0].seq, speeds[0].session)
        };
        assert_eq!(sessions(&stage.line).0, 1, "numbered anew");
        stage.daemon.signal(libc::SIGTERM);
        assert_eq!(stage.daemon.end(), 0, "{}", stage.daemon.all());
    });
}

/// Each port has a thread and descriptors of its own; they go with it.
#[test]
fn fifty_reconnects_leave_no_thread_and_no_descriptor_behind() {
    steadily(|| {
        let folder = tempfile::tempdir().expect("a folder");
        let name = folder.path().join("port");
        let mut line = Line::start(hall::config());
        point(&name, line.path());
        let mut daemon = Start::new(arguments(&folder, &name, &[])).go();
        let folder_of_it = PathBuf::from(format!("/proc/{}", daemon.pid()));
        let count = |what: &str| {
            let entries = std::fs::read_dir(folder_of_it.join(what));
            entries.expect("our child").count()
        };
        let mut reconnect = |times: u32| {
            for _ in 0..times {
                line.want_greeted();
                let fresh = Line::start(hall::config());
                point(&name, fresh.path());
                drop(std::mem::replace(&mut line, fresh));
            }
            line.want_greeted();
            (count("task"), count("fd"))
        };
        // The first few until everything else has started: pads, log.
        let before = reconnect(5);
        let mut after = reconnect(50);
        // The kernel may list a thread for a moment after it was joined.
        let end = Instant::now() + Duration::from_secs(5);
        while after != before && Instant::now() < end {
            std::thread::sleep(Duration::from_millis(10));
            after = (count("task"), count("fd"));
        }
        assert_eq!(after, before, "threads and descriptors");
        daemon.signal(libc::SIGTERM);
        assert_eq!(daemon.end(), 0, "{}", daemon.all());
    });
}

/// The line takes nothing any more while the rig still talks: told, stopped, and nothing of what was
/// stuck in it is acted upon when it flows again.
#[test]
fn a_clogged_line_is_told_and_nothing_old_moves_the_rig() {
    steadily(|| {
        // A pty holds about 64 KiB: a fast line fills it in three seconds.
        let mut stage = Plan {
            rig: hall::RIG.replace("baud = 115200", "baud = 921600"),
            arguments: vec!["--rate".into(), "1000".into()],
            ..Plan::default()
        }
        .start();
        stage.arm();
        stage.push(FAST);
        // The rig hides that its watchdog has stopped it, so that only the clog itself can tell.
        stage.line.twist(|mut message| {
            if let stillhand_wire::FromRig::Telemetry(told) = &mut message {
                told.held = 0;
            }
            Some(message)
        });
        stage.line.read(false);
        stage.daemon.want("no link (link lost: port takes nothing)");
        stage
            .line
            .want_driven("the rig has stopped itself", |v| v[0] == 0.0);
        let refused = stage.line.refused();
        stage.line.honest();
        stage.line.read(true);
        stage.daemon.want("withheld (the port takes frames again");
        stage
            .line
            .assert_rest_for(Duration::from_millis(400), "flowing again, still held over");
        // Hundreds of frames at full speed came through, all too late.
        let old = stage.line.refused() - refused;
        assert!(old > 500, "{old} frames were stuck and refused");
        let speeds = stage.line.tape().speeds();
        let fast = speeds
            .iter()
            .filter(|one| one.axes[0] > FAST * PER_DEG - 2.0);
        assert!(fast.count() > 500, "they did ask for speed");
        stage.centre();
        stage.daemon.want("driving: the sticks move the rig");
        stage.drives();
    });
}

/// The flags of descriptors of process `pid` that are open on `path`.
fn open_flags(pid: u32, path: &Path) -> Vec<i32> {
    let folder = PathBuf::from(format!("/proc/{pid}"));
    let entries = std::fs::read_dir(folder.join("fd")).expect("our child");
    let on_it = entries
        .flatten()
        .filter(|entry| std::fs::read_link(entry.path()).is_ok_and(|target| target == path));
    on_it
        .map(|entry| {
            let info = folder.join("fdinfo").join(entry.file_name());
            let text = std::fs::read_to_string(info).expect("its flags");
            let flags = text.lines().find_map(|line| line.strip_prefix("flags:"));
            i32::from_str_radix(flags.expect("a line of flags").trim(), 8).expect("octal")
        })
        .collect()
}

/// Everything an ordinary user needs: a port, a copy of the program, files.
fn open_to_nobody(folder: &Path, port: &Path) -> PathBuf {
    let allow = |path: &Path, mode: u32| {
        std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).expect("ours");
    };
    allow(folder, 0o755);
    allow(port, 0o666);
    let program = folder.join("stillhand");
    std::fs::copy(PROGRAM, &program).expect("room for a copy");
    allow(&program, 0o755);
    program
}

fn arguments(folder: &tempfile::TempDir, port: &Path, more: &[&str]) -> Vec<String> {
    let mut arguments = files(folder, hall::RIG, &hall::pan_only());
    arguments.extend(["--port".into(), port.display().to_string()]);
    arguments.extend(more.iter().map(ToString::to_string));
    arguments
}

/// 8N1 without any editing or flow control, at the file's speed, and no hang-up on close.
fn assert_raw(termios: &Termios) {
    assert!(
        !termios.control_modes.contains(ControlModes::HUPCL),
        "a close would drop DTR"
    );
    assert!(
        termios
            .control_modes
            .contains(ControlModes::CLOCAL | ControlModes::CREAD)
    );
    assert!(termios.control_modes.contains(ControlModes::CS8));
    assert!(
        !termios
            .control_modes
            .intersects(ControlModes::PARENB | ControlModes::CSTOPB | ControlModes::CRTSCTS)
    );
    let (input, local) = (termios.input_modes, termios.local_modes);
    let cooked = InputModes::ICRNL | InputModes::INLCR | InputModes::IGNCR | InputModes::ISTRIP;
    assert!(
        !input.intersects(cooked | InputModes::IXON | InputModes::IXOFF),
        "{input:?}"
    );
    let edits = LocalModes::ICANON | LocalModes::ECHO | LocalModes::ISIG | LocalModes::IEXTEN;
    assert!(!local.intersects(edits), "{local:?}");
    assert!(!termios.output_modes.contains(OutputModes::OPOST));
    assert_eq!(
        (termios.input_speed(), termios.output_speed()),
        (115_200, 115_200)
    );
}

#[test]
fn an_open_port_is_raw_never_waits_does_not_hang_up_and_is_ours_alone() {
    steadily(|| {
        let line = Line::start(hall::config());
        line.cook();
        let before = line.termios();
        assert!(before.control_modes.contains(ControlModes::HUPCL));
        let port = line.path().to_path_buf();
        let mut stage = Plan::default().start_on(line, port.clone());
        stage.daemon.want("is in control");
        assert_raw(&stage.line.termios());
        let flags = open_flags(stage.daemon.pid(), &port);
        assert!(
            !flags.is_empty() && flags.iter().all(|f| f & libc::O_NONBLOCK != 0),
            "{flags:?}"
        );

        // A second daemon, as root and as an ordinary user.
        let more = tempfile::tempdir().expect("a folder");
        let busy = format!("port {}: another program has it open", port.display());
        let mut second = Start::new(arguments(&more, &port, &[])).go();
        assert_eq!(second.end(), 1, "{}", second.all());
        second.want(&busy);
        let program = open_to_nobody(more.path(), &port);
        let mut third = Start::program(&program, arguments(&more, &port, &[]))
            .by_nobody()
            .go();
        assert_eq!(third.end(), 1, "{}", third.all());
        third.want(&busy);
        // The first one was not disturbed.
        stage.centre();
        stage.daemon.want("driving: the sticks move the rig");
        stage.drives();
        // Closed in good order, the next one may open it.
        stage.daemon.signal(libc::SIGTERM);
        assert_eq!(stage.daemon.end(), 0, "{}", stage.daemon.all());
        assert!(
            !stage
                .line
                .termios()
                .control_modes
                .contains(ControlModes::HUPCL)
        );
        let mut fourth = Start::program(&program, arguments(&more, &port, &["--for", "200ms"]))
            .by_nobody()
            .go();
        assert_eq!(fourth.end(), 0, "{}", fourth.all());
    });
}

/// Each ends with 1, and says what is wrong and what to do.
#[test]
fn a_port_that_can_not_be_opened_says_why() {
    steadily(|| {
        let folder = tempfile::tempdir().expect("a folder");
        let no_port = folder.path().join("notes.txt");
        std::fs::write(&no_port, "varnish, resin, spare strings").expect("writable");
        let rows: [(&Path, &str); 4] = [
            (
                Path::new("/dev/no-such-port"),
                "port /dev/no-such-port: not there. Is the rig plugged in",
            ),
            (&no_port, "notes.txt: that is not a serial port"),
            (
                Path::new("/dev/null"),
                "port /dev/null: that is not a serial port",
            ),
            (Path::new("/dev"), "port /dev: that is not a serial port"),
        ];
        for (port, words) in rows {
            let mut daemon = Start::new(arguments(&folder, port, &[])).go();
            assert_eq!(daemon.end(), 1, "{port:?}: {}", daemon.all());
            daemon.want(words);
        }
        let line = Line::start(hall::config());
        let program = open_to_nobody(folder.path(), line.path());
        // Root's alone, as a port of another group is.
        std::fs::set_permissions(line.path(), std::fs::Permissions::from_mode(0o600))
            .expect("ours");
        let mut daemon = Start::program(&program, arguments(&folder, line.path(), &[]))
            .by_nobody()
            .go();
        assert_eq!(daemon.end(), 1, "user {NOBODY}: {}", daemon.all());
        let (_, words) = daemon.want_line("you may not open it. `ls -l ");
        assert!(words.contains("sudo usermod -aG dialout $USER"), "{words}");
    });
}

/// A port with nobody, or somebody else, behind it: said after 3 s, and with a time limit given up
/// after 15 s. The two wait side by side.
#[test]
fn a_port_without_the_rig_behind_it_says_what_was_heard() {
    steadily(|| {
        let folder = tempfile::tempdir().expect("a folder");
        let lines = [Line::start(hall::config()), Line::start(hall::config())];
        lines.iter().for_each(Line::deaf);
        lines[1].babble(b"$HALL,dimmer,ready*4E\r\n");
        let start =
            |line: &Line| Start::new(arguments(&folder, line.path(), &["--for", "1s"])).go();
        let began = Instant::now();
        let mut daemons: Vec<Daemon> = lines.iter().map(start).collect();
        let nothing = "the rig never answered: nothing at all was heard on the port";
        let something = "the rig never answered: 23 bytes were heard, but nothing of our protocol; they \
                     begin 24 48 41 4c 4c 2c 64 69 6d 6d 65 72 2c 72 65 61. Is this the rig's port, \
                     and do both ends use 115200 baud?";
        for (daemon, words) in daemons.iter_mut().zip([nothing, something]) {
            let told = daemon.want(words);
            let after = told - began;
            assert!(
                after > Duration::from_secs(3) && after < Duration::from_secs(8),
                "{after:?}"
            );
        }
        for (daemon, words) in daemons.iter_mut().zip([nothing, something]) {
            assert_eq!(daemon.end(), 1, "{}", daemon.all());
            daemon.want(words);
            assert_eq!(
                daemon.count(words),
                2,
                "once at 3 s and once at the end: {}",
                daemon.all()
            );
        }
        for line in &lines {
            // Greeted all the time, and nothing else.
            let messages = line.tape().messages();
            assert!(messages.len() > 20, "{}", messages.len());
            assert!(
                messages
                    .iter()
                    .all(|(_, message)| message.get("Hello").is_some())
            );
        }
    });
}
