//! Ends of the daemon: asked for, asked for twice, and killed in the middle of a move.
//!
//! What the mechanics did after a kill is judged by the laws checker (`support/mechanics.rs` says by which
//! laws). The two ends that are asked for have no state file: their line is a test's own, whose
//! frames `Tape::speeds` judges.

mod support;

use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use support::daemon::{Daemon, PROGRAM, Start};
use support::fakepad::FakePad;
use support::fakepad::code::*;
use support::hall::{self, FAST, PER_DEG, STOP_ACCEL, STOP_JERK, stop_time, stop_way};
use support::line::PATIENCE;
use support::mechanics::{Known, judge, monotonic_us};
use support::stage::{CENTRE, FULL, PAD, Plan, files};
use support::steady::steadily;
use support::tape::descent;

/// The same slack as for a lost pad: frames of 4 ms, seen within 1 ms, on a loaded machine.
const FRAMES: Duration = Duration::from_millis(60);

#[test]
fn asked_to_end_it_stops_first() {
    steadily(|| {
        for signal in [libc::SIGTERM, libc::SIGINT] {
            let mut stage = Plan::default().start();
            stage.arm();
            stage.push(FAST);
            let asked = Instant::now();
            stage.daemon.signal(signal);
            stage.daemon.want("ending: coming to rest");
            assert_eq!(stage.daemon.end(), 0, "{}", stage.daemon.all());
            let (_, summary) = stage.daemon.want_line("out: {");
            let summary: serde_json::Value =
                serde_json::from_str(&summary["out: ".len()..]).expect("the summary");
            let peak = summary["axes"]["pan"]["peak_speed"].as_f64();
            assert!(
                peak.is_some_and(|peak| (peak - FAST).abs() < 0.01),
                "{summary}"
            );
            let speeds = stage.line.tape().speeds();
            let down = descent(&speeds, 0, asked);
            let stop = Duration::from_secs_f64(stop_time(FAST, STOP_ACCEL, STOP_JERK));
            assert!(down.took() <= stop + FRAMES, "{down:?} against {stop:?}");
            let last = speeds.last().expect("frames");
            assert!(last.still(), "the last frame: {last:?}");
            // The rig took that frame: it did not have to stop itself.
            stage
                .line
                .want_driven("at rest", |v| v.iter().all(|v| *v == 0.0));
        }
    });
}

/// A soft stop set gives the second Ctrl-C something to cut short.
#[test]
fn asked_twice_it_ends_at_once_and_the_rig_stops_itself() {
    steadily(|| {
        let stop = "stop = { accel = \"240 deg/s^2\", jerk = \"2400 deg/s^3\" }";
        let normal = "normal = { accel = \"120 deg/s^2\", jerk = \"600 deg/s^3\" }";
        assert!(hall::RIG.contains(stop) && hall::RIG.contains(normal));
        let soft = "= { accel = \"15 deg/s^2\", jerk = \"60 deg/s^3\" }";
        let rig = hall::RIG
            .replace(stop, &format!("stop {soft}"))
            .replace(normal, &format!("normal {soft}"));
        let mut stage = Plan {
            rig,
            ..Plan::default()
        }
        .start();
        stage.arm();
        stage.push(FAST);
        stage.daemon.signal(libc::SIGINT);
        stage.daemon.want("ending: coming to rest");
        stage.daemon.signal(libc::SIGINT);
        let again = Instant::now();
        assert_eq!(stage.daemon.end(), 1, "{}", stage.daemon.all());
        let ended = again.elapsed();
        // The stop takes 3.25 s by its set; the slack is for the log's pace and a loaded machine.
        assert!(ended < Duration::from_millis(1_500), "{ended:?}");
        stage
            .daemon
            .want("ended at once: the rig's own watchdog stops it");
        let last = stage.line.tape().speeds().pop().expect("frames");
        assert!(last.axes[0] > 100.0, "it was still moving: {last:?}");
        stage
            .line
            .want_driven("the rig stops itself", |v| v[0] == 0.0);
    });
}

/// A row of the bench rig's state file: when, and pan in counts and counts/s.
#[derive(Clone, Copy, Debug)]
struct Row {
    us: i64,
    counts: i64,
    speed: f64,
}

fn rows(state: &Path) -> Vec<Row> {
    let text = std::fs::read_to_string(state).unwrap_or_default();
    let whole = text.rsplit_once('\n').map_or("", |(whole, _)| whole);
    whole
        .lines()
        .skip(1)
        .map(|line| {
            let fields: Vec<&str> = line.split(',').collect();
            Row {
                us: fields[0].parse().expect(line),
                counts: fields[1].parse().expect(line),
                speed: fields[2].parse().expect(line),
            }
        })
        .collect()
}

/// Waits until the last row is as wanted.
fn want_row(state: &Path, what: &str, right: impl Fn(&Row) -> bool) -> Row {
    let end = Instant::now() + PATIENCE;
    loop {
        let last = rows(state).pop();
        if let Some(row) = last.filter(&right) {
            return row;
        }
        assert!(Instant::now() < end, "{what} did not come: {last:?}");
        std::thread::sleep(Duration::from_millis(10));
    }
}

struct Killed {
    folder: tempfile::TempDir,
    state: PathBuf,
    port: String,
    bench: Daemon,
    pads: FakePad,
}

/// A bench rig of its own, a daemon that moves it at full speed, and its sudden death.
fn kill_in_mid_move() -> Killed {
    let folder = tempfile::tempdir().expect("a folder");
    let arguments = files(&folder, hall::RIG, &hall::pan_only());
    let state = folder.path().join("state.csv");
    let bench_arguments = [
        "bench-rig".to_string(),
        "--rig".to_string(),
        arguments[2].clone(),
        "--state".to_string(),
        state.display().to_string(),
    ];
    let mut bench = Start::new(bench_arguments).punctual().go();
    let port = bench.want_line("out: /dev/pts/").1.split_off("out: ".len());
    let mut pads = FakePad::new();
    pads.plug(PAD);
    let mut arguments = arguments;
    arguments.extend(["--port".into(), port.clone()]);
    let mut daemon = Start::new(&arguments).seeing(&pads).go();
    daemon.want("is in control");
    pads.abs(PAD, ABS_RX, CENTRE);
    daemon.want("driving: the sticks move the rig");
    pads.abs(PAD, ABS_RX, FULL);
    let full = FAST * PER_DEG;
    want_row(&state, "full speed", |row| (row.speed - full).abs() < 2.0);
    let before = monotonic_us();
    daemon.signal(libc::SIGKILL);
    let after = monotonic_us();
    assert_eq!(daemon.end(), -libc::SIGKILL);
    let rest = want_row(&state, "the watchdog stops it", |row| {
        row.us > after && row.speed == 0.0
    });
    let pan = Known {
        speed: FAST * PER_DEG,
        accel: STOP_ACCEL * PER_DEG,
        jerk: STOP_JERK * PER_DEG,
        travel: Some((-3000.0 * PER_DEG, 3000.0 * PER_DEG)),
    };
    assert!(judge(&state, &[pan], Some(after)) > 200);
    // Where it was when the daemon died, at the speed it had.
    let all = rows(&state);
    let at = all.iter().find(|row| row.us >= before).expect("a row then");
    assert!((at.speed - full).abs() < 2.0, "{at:?}");
    let way = (rest.counts - at.counts) as f64 / PER_DEG;
    // Watchdog 120 ms after the last frame, the mechanics' delay of 10 ms, the stop set's own way.
    let expected = FAST * (0.120 + 0.010) + stop_way(FAST, STOP_ACCEL, STOP_JERK);
    // The last frame is up to a frame and a turn old (8 ms), rows are 2 ms apart, the kill took its
    // time; the rest of 30 ms is for a loaded machine. A stop by anything but the watchdog (silence
    // of 500 ms, none at all) would be 17 degrees or more off.
    let slack = FAST * (0.030 + (after - before) as f64 * 1e-6);
    assert!(
        (way - expected).abs() <= slack,
        "{way:.2} degrees to rest, {expected:.2} +- {slack:.2} by the calculation"
    );
    Killed {
        folder,
        state,
        port,
        bench,
        pads,
    }
}

/// Pushes while it is withheld, lets go, pushes: moves only then.
fn must_centre_first(killed: &mut Killed, daemon: &mut Daemon) {
    daemon.want("withheld (just started)");
    // Not the value it had, because the kernel reports changes only.
    killed.pads.abs(PAD, ABS_RX, FULL - 500);
    let here = want_row(&killed.state, "a row", |_| true);
    std::thread::sleep(Duration::from_millis(500));
    let there = want_row(&killed.state, "a later row", |row| {
        row.us > here.us + 400_000
    });
    assert_eq!((there.counts, there.speed), (here.counts, 0.0), "held over");
    killed.pads.abs(PAD, ABS_RX, CENTRE);
    daemon.want("driving: the sticks move the rig");
    killed.pads.abs(PAD, ABS_RX, FULL);
    want_row(&killed.state, "a push moves", |row| row.speed > 100.0);
}

#[test]
fn killed_in_mid_move_the_rig_stops_itself_and_root_drives_on() {
    steadily(|| {
        let mut killed = kill_in_mid_move();
        let mut arguments = files(&killed.folder, hall::RIG, &hall::pan_only());
        arguments.extend(["--port".into(), killed.port.clone()]);
        let mut daemon = Start::new(&arguments).seeing(&killed.pads).go();
        must_centre_first(&mut killed, &mut daemon);
        daemon.signal(libc::SIGTERM);
        assert_eq!(daemon.end(), 0, "{}", daemon.all());
        drop(killed.bench);
    });
}

/// Root may open a port that is locked; an ordinary user may not, so the bench rig has to take the
/// dead daemon's lock off.
#[test]
fn killed_in_mid_move_an_ordinary_user_drives_on() {
    steadily(|| {
        let killed = kill_in_mid_move();
        let open_to_all = |path: &Path, mode: u32| {
            std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).expect("ours");
        };
        open_to_all(killed.folder.path(), 0o755);
        open_to_all(Path::new(&killed.port), 0o666);
        let pads = killed.pads.root().to_path_buf();
        open_to_all(&pads, 0o755);
        let program = killed.folder.path().join("stillhand");
        std::fs::copy(PROGRAM, &program).expect("room for a copy");
        open_to_all(&program, 0o755);
        let script = killed.folder.path().join("hands.pad");
        std::fs::write(
            &script,
            "# Held over from the start; let go; pushed.\n0 ABS_RX 0.8\n1 ABS_RX 0\n2 ABS_RX 0.8\n",
        )
        .expect("writable");
        let mut arguments = files(&killed.folder, hall::RIG, &hall::pan_only());
        let script = format!("script:{}", script.display());
        arguments.extend(["--port".into(), killed.port.clone(), "--pad".into(), script]);
        arguments.extend(["--for".into(), "5s".into()]);
        let here = want_row(&killed.state, "a row", |_| true);
        let mut daemon = Start::program(&program, &arguments).by_nobody().go();
        daemon.want("withheld (just started)");
        let ready = monotonic_us();
        daemon.want("driving: the sticks move the rig");
        let armed = monotonic_us();
        want_row(&killed.state, "a push moves", |row| row.speed > 100.0);
        let all = rows(&killed.state);
        let moved = all
            .iter()
            .find(|row| row.us > here.us && row.counts != here.counts);
        let moved = moved.expect("it moves").us;
        // Let go at 1 s, centred for 0.2 s, pushed at 2 s; said within the log's pace.
        assert!(moved > ready + 1_000_000, "{} us", moved - ready);
        assert!(moved + 100_000 > armed, "{} us before", armed - moved);
        daemon.signal(libc::SIGTERM);
        assert_eq!(daemon.end(), 0, "{}", daemon.all());
    });
}
