//! A rig that says odd things on the real path: what the operator is told, and what moves.
//!
//! Everything a rig may say is tried on the session alone in `link_session` and `link_losses`; here
//! are those in which files, log and motion have a part.

mod support;

use std::time::{Duration, Instant};

use stillhand_rig::Inputs;
use stillhand_wire::FromRig;
use stillhand_wire::heapless::String as Short;
use stillhand_wire::messages::Unit;
use support::daemon::Start;
use support::fakepad::code::*;
use support::hall::{self, FAST, PER_DEG};
use support::line::Line;
use support::stage::{FULL, PAD, Plan, Stage, files};
use support::steady::steadily;
use support::tape::{Tape, assert_still, between};

/// A loss on the line: told every 20 ms, acted upon in the next turn; half a second on a loaded
/// machine.
const NEWS: Duration = Duration::from_millis(500);

/// A change to what the rig says in its hello, and the words the operator must be given.
type Lie = (fn(&mut stillhand_wire::messages::RigHello), &'static str);

/// Each is told, none is moved or even set up; and when it is mended, a new greeting finds it.
#[test]
fn a_rig_that_contradicts_its_file_is_told_with_both_numbers() {
    steadily(|| {
        let lies: [Lie; 6] = [
            (
                |h| h.rig_id = Short::try_from("barn").expect("short"),
                "this is rig \"barn\", the rig file is for \"hall\"",
            ),
            (|h| h.axes.clear(), "the rig has 0 axes, the rig file 3"),
            (
                |h| (h.axes[0].counts, h.axes[0].per_units) = (4_000_000_000, 1),
                "axis pan: the rig counts 4000000000 per unit, the rig file says 27.777778",
            ),
            (
                |h| h.axes[1].per_units = 0,
                "axis tilt: the rig counts inf per unit",
            ),
            (
                |h| h.axes[2].unit = Unit::Deg,
                "axis slide is in mm in the rig file and in the other unit in the rig",
            ),
            (
                |h| h.axes[0].own_ramps = true,
                "axis pan: the rig has ramps of its own and does not tell their limits",
            ),
        ];
        let folder = tempfile::tempdir().expect("a folder");
        let line = Line::start(hall::config());
        let mut arguments = files(&folder, hall::RIG, &hall::pan_only());
        arguments.extend(["--port".into(), line.path().display().to_string()]);
        let mut running = None;
        for (lie, words) in lies {
            line.twist(move |mut message| {
                if let FromRig::Hello(hello) = &mut message {
                    lie(hello);
                }
                Some(message)
            });
            let daemon = running.get_or_insert_with(|| Start::new(&arguments).go());
            daemon.want(words);
        }
        let mut daemon = running.expect("started");
        let only_greeted = |tape: &Tape| {
            let messages = tape.messages();
            messages
                .iter()
                .all(|(_, message)| message.get("Hello").is_some())
        };
        assert!(only_greeted(&line.tape()), "set up all the same");
        line.honest();
        // Met, and without a pad in this world that is what is missing now.
        daemon.want("no pad: plug one in");
        assert!(!only_greeted(&line.tape()), "set up at last");
        daemon.signal(libc::SIGTERM);
        assert_eq!(daemon.end(), 0, "{}", daemon.all());
    });
}

/// A rig slower and softer than its file is obeyed, and the operator told both numbers.
#[test]
fn a_more_careful_rig_is_obeyed_and_told_of() {
    steadily(|| {
        let mut config = hall::config();
        let counts = |x: f64| (x * PER_DEG).round() as u32;
        config.axes[0].max_speed = counts(18.0);
        config.axes[0].max_accel = counts(36.0);
        config.axes[0].max_jerk = counts(180.0);
        let mut stage = Plan {
            config,
            ..Plan::default()
        }
        .start();
        for words in [
            "pan: the rig itself allows 18.00 deg/s, the rig file 60.00 deg/s: the lower one holds",
            "pan: the rig itself allows 36.00 deg/s^2, the rig file 240.00 deg/s^2",
            "pan: the rig itself allows 180.00 deg/s^3, the rig file 2400.00 deg/s^3",
        ] {
            stage.daemon.want(words);
        }
        assert_eq!(
            stage.daemon.count("the rig itself allows"),
            3,
            "{}",
            stage.daemon.all()
        );
        stage.centre();
        stage.daemon.want("driving: the sticks move the rig");
        // Full stick is 45 deg/s by the operator's file.
        stage.push(18.0);
        let from = Instant::now();
        std::thread::sleep(Duration::from_millis(300));
        stage.pads.key(PAD, BTN_EAST, true);
        stage.line.want_driven("STOP", |v| v[0] == 0.0);
        let speeds = stage.line.tape().speeds();
        // One wire step for rounding.
        let most = f64::from(counts(18.0)) + 1.0 / 1024.0;
        assert!(
            speeds.iter().all(|one| one.axes[0] <= most),
            "faster than the rig allows"
        );
        let held = between(&speeds, from, from + Duration::from_millis(300));
        assert!(
            held.iter().all(|one| one.axes[0] > most - 1.0),
            "as fast as it allows"
        );
        // STOP, inside 36 deg/s^2: from 18 deg/s in 0.7 s and not in the 0.19 s of the file's stop set.
        let down = support::tape::descent(&speeds, 0, from + Duration::from_millis(300));
        let stop = Duration::from_secs_f64(hall::stop_time(18.0, 36.0, 180.0));
        let took = down.took();
        assert!(
            took + Duration::from_millis(60) >= stop,
            "{took:?}, the rig needs {stop:?}"
        );
    });
}

/// What happens in the middle of a move, and how it is undone.
struct Mishap {
    what: &'static str,
    happens: fn(&Line),
    told: &'static str,
    over: fn(&Line),
    back: &'static str,
}

fn twist_told(line: &Line, change: fn(&mut stillhand_wire::messages::Telemetry)) {
    line.twist(move |mut message| {
        if let FromRig::Telemetry(told) = &mut message {
            change(told);
        }
        Some(message)
    });
}

fn sense(line: &Line, change: fn(&mut Inputs)) {
    let mut inputs = Inputs::default();
    change(&mut inputs);
    line.sense(inputs);
}

const MISHAPS: &[Mishap] = &[
    Mishap {
        what: "session 0",
        happens: |line| twist_told(line, |told| told.session = 0),
        told: "no link (link lost: rig restarted)",
        over: Line::honest,
        back: "the rig has restarted",
    },
    Mishap {
        what: "the rig starts anew",
        happens: |line| {
            let mut config = hall::config();
            config.boot_id += 1;
            line.reboot(config);
        },
        told: "no link (link lost: rig silent)",
        over: |_| {},
        back: "the rig speaks again",
    },
    Mishap {
        what: "a fault",
        happens: |line| sense(line, |inputs| inputs.faults = 0b10),
        told: "rig fault: look at the rig, clear the fault there",
        over: |line| sense(line, |_| {}),
        back: "the rig's fault is cleared",
    },
    Mishap {
        what: "the rig's stop input",
        happens: |line| sense(line, |inputs| inputs.stop_input = true),
        told: "rig's stop input: release the stop input at the rig",
        over: |line| sense(line, |_| {}),
        back: "the rig's stop input is released",
    },
    Mishap {
        what: "other axes in telemetry",
        happens: |line| twist_told(line, |told| told.axes.truncate(2)),
        told: "no link (rig contradicts itself)",
        over: Line::honest,
        back: "the rig had contradicted itself",
    },
];

#[test]
fn mishaps_in_mid_move_stop_and_withhold() {
    steadily(|| {
        let mut stage = Plan::default().start();
        stage.arm();
        let mut quiet = Vec::new();
        for mishap in MISHAPS {
            stage.push(FAST);
            (mishap.happens)(&stage.line);
            let happened = Instant::now();
            let told = stage.daemon.want(mishap.told);
            // Silence is noticed after half a second, everything else with the next telling.
            assert!(
                told - happened < 2 * NEWS,
                "{}: {:?}",
                mishap.what,
                told - happened
            );
            stage.line.want_driven("the rig stops", |v| v[0] == 0.0);
            let begin = Instant::now();
            stage
                .line
                .assert_rest_for(Duration::from_millis(500), mishap.what);
            assert_eq!(stage.daemon.count(mishap.told), 1, "{}", stage.daemon.all());
            (mishap.over)(&stage.line);
            stage.daemon.want(mishap.back);
            stage.pads.abs(PAD, ABS_RX, FULL - 700);
            stage
                .line
                .assert_rest_for(Duration::from_millis(300), "still held over");
            quiet.push((mishap.what, told, Instant::now().max(begin)));
            stage.centre();
            stage.daemon.want("driving: the sticks move the rig");
            stage.drives();
        }
        let speeds = stage.line.tape().speeds();
        for (what, from, to) in quiet {
            let moving = between(&speeds, from, to)
                .into_iter()
                .find(|one| !one.still());
            assert!(moving.is_none(), "{what}: asked to move: {moving:?}");
        }
        stage.daemon.signal(libc::SIGTERM);
        assert_eq!(stage.daemon.end(), 0, "{}", stage.daemon.all());
    });
}

/// Power off ends everything; when it is back, the rig does not know where it is and may not be
/// moved even by a centred stick.
#[test]
fn power_off_and_on_leaves_it_unreferenced_and_still() {
    steadily(|| {
        let mut stage = Plan::default().start();
        stage.arm();
        stage.push(FAST);
        sense(&stage.line, |inputs| inputs.power = false);
        stage
            .daemon
            .want("POWER OFF: switch motor power on when everyone is clear");
        let off = Instant::now();
        stage
            .line
            .assert_rest_for(Duration::from_millis(800), "no power");
        let speeds = stage.line.tape().speeds();
        let later = between(&speeds, off, Instant::now());
        assert!(
            later.is_empty(),
            "frames to a rig without power: {}",
            later.len()
        );
        sense(&stage.line, |_| {});
        stage.daemon.want("motor power is back");
        let back = Instant::now();
        stage.centre();
        stage.daemon.want("driving: the sticks move the rig");
        stage.pads.abs(PAD, ABS_RX, FULL);
        stage
            .line
            .assert_rest_for(Duration::from_millis(500), "unreferenced");
        let speeds = stage.line.tape().speeds();
        assert_still(&speeds, back, Instant::now(), "unreferenced");
    });
}

/// Positions and the rig's clock wrap while it moves: no jump, no loss, not a frame refused.
#[test]
fn wraps_in_mid_move_change_nothing() {
    steadily(|| {
        let mut config = hall::config();
        config.axes[0].position = i32::MAX - 2_500;
        let mut stage: Stage = Plan {
            rig: hall::RIG.replace(
                "travel = [\"-3000 deg\", \"3000 deg\"]",
                "travel = \"continuous\"",
            ),
            config,
            clock_us: u32::MAX - 3_000_000,
            ..Plan::default()
        }
        .start();
        let began = Instant::now();
        stage.arm();
        let full = stage.push(FAST);
        // 1250 counts/s: the position wraps after two seconds, the clock three after the start.
        std::thread::sleep(Duration::from_millis(4_500).saturating_sub(began.elapsed()));
        let until = Instant::now();
        assert!(stage.line.positions()[0] < 0, "it wrapped");
        assert_eq!(stage.line.refused(), 0, "frames refused");
        let speeds = stage.line.tape().speeds();
        let held = between(&speeds, full, until);
        assert!(
            held.iter()
                .all(|one| (one.axes[0] - FAST * PER_DEG).abs() < 0.1)
        );
        let deadlines = held.iter().map(|one| one.deadline_us);
        let (least, most) = (deadlines.clone().min(), deadlines.max());
        assert!(
            least < Some(1 << 31) && most > Some(1 << 31),
            "the clock wrapped"
        );
        for words in ["no link", "not where it was sent", "loop late"] {
            assert_eq!(stage.daemon.count(words), 0, "{}", stage.daemon.all());
        }
        stage.daemon.signal(libc::SIGTERM);
        assert_eq!(stage.daemon.end(), 0, "{}", stage.daemon.all());
        let (_, summary) = stage.daemon.want_line("out: {");
        let summary: serde_json::Value =
            serde_json::from_str(&summary["out: ".len()..]).expect("the summary");
        assert_eq!(summary["link"]["lost"], 0, "{summary}");
    });
}
