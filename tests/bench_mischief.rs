//! The bench rig as a process, misbehaving on request, seen by a small daemon's end over its real port.
//!
//! Where it moves by its rig file's scale, the laws checker judges its mechanics (`support/mechanics.rs`).
//! Not judged are a rig made different on purpose, whose counter wraps where no travel means anything, and
//! runs of the whole program at rest.

mod support;

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};
use stillhand::link::port::{Moved, Port};
use stillhand_wire::frame::RESYNC;
use stillhand_wire::messages::{
    AxisSetup, PerAxis, Ramp, RigHello, Setup, Telemetry, VERSION, Why, held,
};
use stillhand_wire::{FromRig, FromRigDeframer, ToRig, encode};
use support::mechanics::{Known, judge, monotonic_us};
use support::steady::steadily;

/// Nothing takes longer than this on a busy machine; a test that waits for it in vain fails.
const PATIENCE: Duration = Duration::from_secs(30);
const STILLHAND: &str = env!("CARGO_BIN_EXE_stillhand");

/// A bench rig and a daemon's end.
struct World {
    rig: Child,
    port: Port,
    deframer: FromRigDeframer,
    session: u32,
    seq: u32,
    /// Spoken every turn, once set up.
    speeds: Option<Vec<i32>>,
    /// The rig's clock as told last.
    clock_us: u32,
    /// The mechanics' state.
    state: tempfile::NamedTempFile,
    /// When each frame was sent, by the state file's clock.
    sent: Vec<(u32, i64)>,
}

/// The stop set told in each setup, counts.
const STOP: Ramp = Ramp {
    accel: 5_000,
    jerk: 50_000,
};

impl Drop for World {
    fn drop(&mut self) {
        // It may have left by itself.
        let _ = self.rig.kill();
        let _ = self.rig.wait();
    }
}

impl World {
    fn start(arguments: &[&str]) -> World {
        let state = tempfile::NamedTempFile::new().expect("a file");
        let mut rig = Command::new(STILLHAND)
            .arg("bench-rig")
            .arg("--state")
            .arg(state.path())
            .args(arguments)
            .stdout(Stdio::piped())
            .spawn()
            .expect("it starts");
        let mut path = String::new();
        let out = rig.stdout.take().expect("piped");
        BufReader::new(out)
            .read_line(&mut path)
            .expect("tells its port");
        let port = Port::open(Path::new(path.trim()), 115_200).expect("opens");
        World {
            rig,
            port,
            deframer: FromRigDeframer::new(),
            session: 1,
            seq: 0,
            speeds: None,
            clock_us: 0,
            state,
            sent: Vec::new(),
        }
    }

    /// The mechanics so far, before the laws checker. `last` is the frame the rig took last.
    fn judge(&self, last: Option<u32>) {
        let when = |seq: u32| self.sent.iter().find(|(sent, _)| *sent == seq);
        let lost = last.map(|seq| when(seq).expect("it was sent").1);
        // 60 deg/s at 27.8 counts/deg, as the rig tells it: rounded up.
        let pan = Known {
            speed: 1_667.0,
            accel: f64::from(STOP.accel),
            jerk: f64::from(STOP.jerk),
            travel: None,
        };
        assert!(judge(self.state.path(), &[pan], lost) > 100);
    }

    fn with_script(text: &str, arguments: &[&str]) -> (World, tempfile::NamedTempFile) {
        let file = tempfile::NamedTempFile::new().expect("a file");
        std::fs::write(file.path(), text).expect("written");
        let path = file.path().to_str().expect("text").to_owned();
        let world = World::start(&[&["--mischief", path.as_str()], arguments].concat());
        (world, file)
    }

    fn send(&mut self, message: &ToRig) {
        let frame = encode(message).expect("fits");
        // A port that takes nothing loses the frame, as a line would.
        let _ = self.port.write(&frame);
    }

    /// Speaks if there are speeds, and waits for `wanted`.
    fn until<T>(&mut self, what: &str, mut wanted: impl FnMut(&FromRig) -> Option<T>) -> T {
        let began = Instant::now();
        let mut bytes = [0; 4096];
        loop {
            assert!(began.elapsed() < PATIENCE, "waited in vain for {what}");
            if let Moved::Bytes(count) = self.port.read(&mut bytes) {
                let mut found = None;
                let clock = &mut self.clock_us;
                self.deframer.feed(&bytes[..count], |message| {
                    if let FromRig::Telemetry(told) = &message {
                        *clock = told.clock_us;
                    }
                    found = found.take().or_else(|| wanted(&message));
                });
                if let Some(found) = found {
                    return found;
                }
            }
            if let Some(speeds) = &self.speeds {
                self.seq += 1;
                let frame = ToRig::Velocity {
                    session: self.session,
                    seq: self.seq,
                    deadline_us: self.clock_us.wrapping_add(150_000),
                    velocity: speeds.iter().copied().collect(),
                };
                self.send(&frame);
                self.sent.push((self.seq, monotonic_us()));
            }
            std::thread::sleep(Duration::from_millis(4));
        }
    }

    fn telemetry<T>(&mut self, what: &str, mut wanted: impl FnMut(&Telemetry) -> Option<T>) -> T {
        self.until(what, |message| match message {
            FromRig::Telemetry(told) => wanted(told),
            _ => None,
        })
    }

    fn hello(&mut self) -> RigHello {
        self.session += 1;
        self.seq = 0;
        let _ = self.port.write(&RESYNC);
        let session = self.session;
        self.send(&ToRig::Hello {
            version: VERSION,
            session,
        });
        let hello = self.until("a hello", |message| match message {
            FromRig::Hello(hello) if hello.session == session => Some(hello.clone()),
            _ => None,
        });
        self.clock_us = hello.clock_us;
        hello
    }

    /// Hello and setup, travel without ends.
    fn set_up(&mut self) -> RigHello {
        let hello = self.hello();
        let axis = AxisSetup {
            travel: None,
            stop_plus: STOP,
            stop_minus: STOP,
        };
        let axes: PerAxis<AxisSetup> = hello.axes.iter().map(|_| axis).collect();
        let setup = Setup {
            session: self.session,
            watchdog_ms: 120,
            axes,
        };
        self.send(&ToRig::Setup(setup.clone()));
        let echo = self.until("an echo", |message| match message {
            FromRig::Ack { setup } => Some(setup.clone()),
            _ => None,
        });
        assert_eq!(echo, setup);
        hello
    }
}

fn summary(ran: &std::process::Output) -> serde_json::Value {
    assert!(ran.status.success(), "{ran:?}");
    let out = String::from_utf8_lossy(&ran.stdout);
    serde_json::from_str(out.lines().last().unwrap_or_default()).expect("a summary")
}

/// What a script can change, in words; a change of it is what is looked for.
fn state(told: &Telemetry) -> String {
    format!(
        "{:?} V {:?} C{}{}{} faults {} ref {:03b} pan {}",
        told.supply_mv.map_or(0, |mv| mv / 100),
        told.drive_c.unwrap_or(0),
        if told.power { "" } else { " off" },
        if told.energised { "" } else { " limp" },
        if told.stop_input { " stop" } else { "" },
        told.faults,
        told.referenced,
        told.axes[0].position,
    )
}

#[test]
fn a_script_shows_in_the_telemetry_in_order() {
    let (mut world, _file) = World::with_script(
        "0.2 SUPPLY 21.5\n0.4 DRIVE 61\n0.6 STOPINPUT ON\n0.8 STOPINPUT OFF\n1.0 FAULT 5\n\
         1.2 FAULT CLEAR\n1.4 SLIP pan 300\n1.6 POWER OFF\n1.8 POWER ON\n4.0 REBOOT\n",
        &[],
    );
    let first = world.set_up();
    let mut seen: Vec<String> = Vec::new();
    let mut times: Vec<u32> = Vec::new();
    world.telemetry("the reference found again", |told| {
        let state = state(told);
        if seen.last() != Some(&state) {
            seen.push(state);
            times.push(told.clock_us - first.clock_us);
        }
        (seen.len() > 9 && told.referenced == 0b111).then_some(())
    });
    assert_eq!(
        seen,
        [
            "0 V 0 C faults 0 ref 111 pan 0",
            "215 V 0 C faults 0 ref 111 pan 0",
            "215 V 61 C faults 0 ref 111 pan 0",
            "215 V 61 C stop faults 0 ref 111 pan 0",
            "215 V 61 C faults 0 ref 111 pan 0",
            "215 V 61 C faults 5 ref 111 pan 0",
            "215 V 61 C faults 0 ref 111 pan 0",
            "215 V 61 C faults 0 ref 111 pan 300",
            "215 V 61 C off limp faults 0 ref 000 pan 300",
            "215 V 61 C faults 0 ref 000 pan 300",
            "215 V 61 C faults 0 ref 111 pan 300",
        ]
    );
    // By the rig's own clock: never before its time, and the reference a second after the power.
    for (index, earliest_ms) in [200, 400, 600, 800, 1000, 1200, 1400, 1600, 1800, 2800]
        .into_iter()
        .enumerate()
    {
        assert!(times[index + 1] >= earliest_ms * 1000, "{times:?}");
    }
    world.judge(None);
    let again = world.set_up();
    assert_eq!(again.boot_id, first.boot_id);
    // The reboot ends telemetry: the rig has not been spoken to since. Hellos find out.
    let began = Instant::now();
    let anew = loop {
        assert!(began.elapsed() < PATIENCE, "it never rebooted");
        let hello = world.hello();
        if hello.boot_id != first.boot_id {
            break hello;
        }
    };
    assert_eq!(anew.boot_id, first.boot_id.wrapping_add(1));
    assert!(anew.clock_us < again.clock_us, "its clock began anew");
    assert!(anew.axes.iter().all(|axis| !axis.referenced));
    assert_eq!(anew.axes[0].position, first.axes[0].position);
}

#[test]
fn telemetry_can_be_muted_thinned_and_slowed() {
    let (mut world, _file) = World::with_script(
        "0.6 TELEMETRY SPEAK\n1.0 TELEMETRY LOSE 50\n2.0 TELEMETRY LOSE 0\n2.0 TELEMETRY PERIOD 100\n",
        &["--mischief-now", "TELEMETRY MUTE"],
    );
    let zero = world.set_up().clock_us;
    let mut clocks: Vec<u32> = Vec::new();
    world.telemetry("three seconds of it", |told| {
        clocks.push(told.clock_us - zero);
        (told.clock_us - zero > 3_000_000).then_some(())
    });
    assert!(clocks[0] >= 600_000, "mute until then: {}", clocks[0]);
    let count = |from: u32, to: u32| clocks.iter().filter(|c| (from..to).contains(c)).count();
    // 20 ms, 40 ms and 100 ms apart; a late process sends fewer, never more.
    assert!((5..=20).contains(&count(610_000, 990_000)), "{clocks:?}");
    assert!(
        (5..=25).contains(&count(1_010_000, 1_990_000)),
        "{clocks:?}"
    );
    assert!(
        (3..=10).contains(&count(2_010_000, 3_000_000)),
        "{clocks:?}"
    );
}

#[test]
fn a_deaf_rig_stops_by_itself_and_refuses_what_waited() {
    steadily(goes_deaf_in_mid_move);
}

fn goes_deaf_in_mid_move() {
    let (mut world, _file) = World::with_script("1.0 DEAF\n2.0 HEAR\n", &[]);
    world.set_up();
    world.speeds = Some(vec![1_500 * 1024, 0, 0]);
    let moving = world.telemetry("motion", |told| {
        (told.axes[0].velocity == 1_500 * 1024).then(|| told.clone())
    });
    assert_eq!(moving.held, 0);
    let stopped = world.telemetry("the watchdog", |told| {
        (told.held & held::WATCHDOG != 0 && told.axes[0].velocity == 0).then(|| told.clone())
    });
    assert_eq!(stopped.frames_refused, moving.frames_refused);
    let hearing = world.telemetry("a refusal", |told| {
        (told.frames_refused > stopped.frames_refused).then(|| told.clone())
    });
    assert!(hearing.clock_us - stopped.clock_us > 100_000, "it was deaf");
    assert_eq!(hearing.accepted, stopped.accepted, "nothing old was taken");
    world.judge(Some(stopped.applied));
}

#[test]
fn a_rig_without_references_stays_so() {
    let script = "0.1 POWER OFF\n0.2 POWER ON\n2.0 SUPPLY 1\n";
    let (mut world, _file) = World::with_script(script, &["--unreferenced"]);
    world.set_up();
    world.telemetry("the end of the script", |told| {
        assert_eq!(told.referenced, 0);
        (told.supply_mv == Some(1_000)).then_some(())
    });
}

#[test]
fn without_power_nothing_is_set_up() {
    let mut world = World::start(&["--mischief-now", "POWER OFF"]);
    let hello = world.hello();
    assert!(hello.axes.iter().all(|axis| !axis.referenced));
    let session = world.session;
    world.send(&ToRig::Setup(Setup {
        session,
        watchdog_ms: 120,
        axes: hello
            .axes
            .iter()
            .map(|_| AxisSetup {
                travel: None,
                stop_plus: Ramp { accel: 1, jerk: 1 },
                stop_minus: Ramp { accel: 1, jerk: 1 },
            })
            .collect(),
    }));
    let why = world.until("a refusal", |message| match message {
        FromRig::Refused { why, .. } => Some(*why),
        _ => None,
    });
    assert_eq!(why, Why::PowerOff);
    assert!(!world.telemetry("telemetry", |told| Some(told.power)));
}

#[test]
fn it_can_be_another_rig() {
    let mut world = World::start(&[
        "--id",
        "hall-jib",
        "--axes",
        "5",
        "--scale",
        "50%",
        "--limits",
        "40%",
        "--position",
        "2147483600",
        "--clock-start",
        "4294700000",
    ]);
    let hello = world.set_up();
    assert_eq!(hello.rig_id, "hall-jib");
    let names: Vec<&str> = hello.axes.iter().map(|a| a.name.as_str()).collect();
    assert_eq!(names, ["pan", "tilt", "slide", "extra4", "extra5"]);
    let pan = &hello.axes[0];
    // Of 27.777778 counts/deg, 60 deg/s, and a stop set of 240 deg/s^2 and 2400 deg/s^3.
    assert_eq!((pan.counts, pan.per_units), (1_388_889, 100_000));
    assert_eq!(
        (pan.max_speed, pan.max_accel, pan.max_jerk),
        (334, 1334, 13_334)
    );
    assert!(pan.referenced && pan.position == 2_147_483_600);
    assert!(hello.clock_us >= 4_294_700_000 || hello.clock_us < 30_000_000);
    world.speeds = Some(vec![200 * 1024, 0, 0, 0, 0]);
    let past = world.telemetry("both wraps", |told| {
        (told.axes[0].position < 0 && told.clock_us < 30_000_000).then(|| told.clone())
    });
    assert_eq!(past.held, 0, "frames were taken all along");
    assert!(past.accepted > 5);
}

#[test]
fn weak_motors_are_slower_than_they_said() {
    // A machine that freezes for longer than the watchdog makes the rig stop itself: once more then.
    let on_the_way = (0..5)
        .find_map(|_| rows_on_the_way_to_speed())
        .expect("it came to speed");
    // 1.5 x 240 deg/s^2 at 27.8 counts/deg are 10,000 counts/s^2: 48 ms of rows each 2 ms for these 480 counts/s; a tenth of it, 480 ms.
    assert!((230..=250).contains(&on_the_way), "{on_the_way} rows");
}

/// How many rows of the state file a weakened pan needs to come to 500 counts/s; `None` if the rig
/// stopped itself on the way.
fn rows_on_the_way_to_speed() -> Option<usize> {
    let mut world = World::start(&["--mischief-now", "RAMPS 10"]);
    world.set_up();
    world.speeds = Some(vec![500 * 1024, 0, 0]);
    // 0.5 s of motion at 50 tellings a second, and four times that for good measure.
    for _ in 0..125 {
        world.telemetry("a telling", |_| Some(()));
        let rows = std::fs::read_to_string(world.state.path()).expect("the state");
        let whole = rows.lines().rev().nth(1).unwrap_or_default();
        if pan_speed(whole).is_some_and(|speed| speed >= 499.0) {
            world.judge(None);
            let speeds = rows.lines().filter_map(pan_speed);
            return Some(speeds.filter(|speed| (10.0..490.0).contains(speed)).count());
        }
    }
    None
}

fn pan_speed(row: &str) -> Option<f64> {
    row.split(',').nth(2)?.parse().ok()
}

#[test]
fn the_daemon_passes_mischief_on_and_bad_scripts_are_told_first() {
    let folder = tempfile::tempdir().expect("a folder");
    let pad = folder.path().join("rest.pad");
    std::fs::write(&pad, "0 ABS_RX 0\n").expect("written");
    let good = folder.path().join("good.mischief");
    std::fs::write(&good, "0.8 POWER OFF\n1.0 POWER ON\n").expect("written");
    let bad = folder.path().join("bad.mischief");
    std::fs::write(&bad, "0.8 POWER OF\n").expect("written");
    let run = |mischief: &Path, port: &str| {
        Command::new(STILLHAND)
            .args(["run", "--for", "3s", "--json", "--port", port, "--pad"])
            .arg(format!("script:{}", pad.display()))
            .arg("--mischief")
            .arg(mischief)
            .output()
            .expect("it runs")
    };
    let ran = run(&good, "sim");
    let summary = summary(&ran);
    assert_eq!(summary["withheld"][1]["why"], "power off", "{summary}");
    let refused = run(&bad, "sim");
    assert_eq!(refused.status.code(), Some(2));
    let words = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert!(words.contains("bad.mischief:1:11"), "{words}");
    assert!(words.contains("did you mean OFF?"), "{words}");
    assert_eq!(run(&good, "/dev/null").status.code(), Some(2));
}

/// At rest a pause in reading costs frames and nothing else: those that waited for longer than they may are lost, and each is counted.
#[test]
fn frames_that_waited_too_long_are_counted_as_lost() {
    let folder = tempfile::tempdir().expect("a folder");
    let pad = folder.path().join("rest.pad");
    std::fs::write(&pad, "0 ABS_RX 0\n").expect("written");
    let mischief = folder.path().join("deaf.mischief");
    std::fs::write(&mischief, "0.8 DEAF\n1.2 HEAR\n").expect("written");
    let ran = Command::new(STILLHAND)
        .args(["run", "--for", "2s", "--json", "--port", "sim", "--pad"])
        .arg(format!("script:{}", pad.display()))
        .arg("--mischief")
        .arg(&mischief)
        .output()
        .expect("it runs");
    let summary = summary(&ran);
    let lost = summary["link"]["lost"].as_u64().expect("a number");
    // 400 ms less the 100 ms that a frame may wait, at 250 Hz; a busy machine sends fewer or reads later.
    assert!((30..=150).contains(&lost), "{summary}");
    assert_eq!(
        summary["withheld"].as_array().map(Vec::len),
        Some(1),
        "{summary}"
    );
}
