//! What goes wrong in the field, on the real path, again and again: what the daemon says, how long and how
//! far the rig goes on against the calculation, and that nothing is left behind.
//!
//! `FAULTS` is how often each fault is made (`tools/faults --n`), `FAULTS_TO` a folder that gets a line of
//! JSON for each kind of fault. The rig end is the reference rig behind a line of the test's own, which
//! looks every millisecond.
//!
//! Suspend is as near as a process can come: it is frozen for 2 s while the rig and the clock go on.

mod support;

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};
use support::aftermath::{Moment, SLACK, Stop, holds, memory, report, rounds};
use support::daemon::Start;
use support::fakepad::Bus;
use support::fakepad::code::*;
use support::hall::{self, FAST, PER_DEG};
use support::line::Line;
use support::stage::{FULL, PAD, PAD_ID, Plan, Stage, files};
use support::steady::steadily;
use support::tape::Speeds;

/// Rounds that come first and are not counted in what is left behind: until everything has started once.
const WARM_UP: u32 = 2;
/// The rig's watchdog, s.
const WATCHDOG: f64 = 0.120;
/// From a pad's unplug to the loop: udev, gilrs, its thread. Below a millisecond idle.
const NEWS: f64 = 0.500;
/// As far as pan may go to either side: 200 rounds of up to two seconds, twice over.
const ROOM: &str = "36000 deg";
/// Bytes a file may have on a disk that is full then: reached two seconds after the start.
const DISK: u64 = 40_000;
/// How long what goes on is looked at.
const LOOK: Duration = Duration::from_millis(100);
/// Memory that may be added by all rounds: the log's own buffers. A leak of a port's would be more.
const GROWTH: i64 = 2 * 1024 * 1024;

/// Everything a fault is made with.
struct Field {
    stage: Stage,
    /// The name of the port, a link.
    port: PathBuf,
}

impl Field {
    fn start(mut plan: Plan) -> Field {
        // All rounds go the same way.
        plan.rig = plan.rig.replace("3000 deg", ROOM);
        let place = tempfile::tempdir().expect("a folder");
        let port = place.path().join("port");
        let line = Line::start(plan.config.clone());
        point(&port, line.path());
        let mut stage = plan.start_on(line, port.clone());
        stage.arm();
        stage.pads.wait_hotplug_ready();
        // Kept until the process ends: the daemon opens the port again and again.
        std::mem::forget(place);
        Field { stage, port }
    }

    /// At full speed.
    fn push(&mut self) {
        self.stage.push(FAST);
    }

    /// What comes after every stop: a stick held over moves nothing, and letting go gives it back.
    fn back(&mut self, says: &str) {
        self.stage.daemon.want(says);
        self.stage.pads.abs(PAD, ABS_RX, FULL - 600);
        self.stage
            .line
            .assert_rest_for(Duration::from_millis(300), "held over");
        self.stage.centre();
        self.stage.daemon.want("driving: the sticks move the rig");
    }
}

/// Makes `name` point to `port`, at once.
fn point(name: &Path, port: &Path) {
    let fresh = name.with_extension("new");
    std::os::unix::fs::symlink(port, &fresh).expect("a link");
    std::fs::rename(&fresh, name).expect("in its place");
}

/// Makes a fault again and again in one daemon, which must hold no more afterwards than before.
fn again_and_again(
    name: &str,
    plan: impl Fn() -> Plan,
    fault: impl Fn(&mut Field) -> Option<Stop>,
) {
    steadily(|| {
        let mut field = Field::start(plan());
        let pid = field.stage.daemon.pid();
        let mut stops = Vec::new();
        let mut before = None;
        for round in 0..WARM_UP + rounds() {
            if round == WARM_UP {
                before = Some((holds(pid), memory(pid)));
            }
            let stop = fault(&mut field);
            if let Some(stop) = &stop {
                stop.check();
            }
            stops.extend(stop);
        }
        let (held, used) = before.expect("rounds were made");
        // The kernel may list a thread for a moment after it was joined.
        let end = Instant::now() + Duration::from_secs(5);
        while holds(pid) != held && Instant::now() < end {
            std::thread::sleep(Duration::from_millis(10));
        }
        assert_eq!(holds(pid), held, "descriptors and threads");
        let grown = memory(pid) - used;
        assert!(
            grown < GROWTH,
            "{grown} bytes more after {} rounds",
            rounds()
        );
        report(name, &stops, Some(grown));
        field.stage.daemon.signal(libc::SIGTERM);
        assert_eq!(field.stage.daemon.end(), 0, "{}", field.stage.daemon.all());
    });
}

/// Makes a fault that ends the daemon, with a new one each time.
fn each_time_anew(name: &str, plan: impl Fn() -> Plan, fault: impl Fn(Field) -> Stop) {
    steadily(|| {
        let stops: Vec<Stop> = (0..rounds())
            .map(|_| {
                let mut field = Field::start(plan());
                field.push();
                fault(field)
            })
            .collect();
        stops.iter().for_each(Stop::check);
        report(name, &stops, None);
    });
}

#[test]
fn the_cable_is_pulled_and_put_back() {
    again_and_again("cable pulled", Plan::default, |field| {
        field.push();
        std::fs::remove_file(&field.port).expect("our link");
        let moment = Moment::of(&field.stage.line);
        field.stage.line.pull();
        field
            .stage
            .daemon
            .want("no link (link lost: port gone): plug the cable in again");
        let stop = moment.stopped(&field.stage.line, WATCHDOG, SLACK);
        let fresh = field.stage.line.put_back();
        point(&field.port, &fresh);
        field.back("withheld (the port is back)");
        Some(stop)
    });
}

#[test]
fn the_rig_reads_no_more() {
    // A pty holds about 64 KiB: a fast line fills it in three seconds.
    let plan = || Plan {
        rig: hall::RIG.replace("baud = 115200", "baud = 921600"),
        arguments: vec!["--rate".into(), "1000".into()],
        ..Plan::default()
    };
    again_and_again("port takes nothing", plan, |field| {
        field.push();
        let line = &field.stage.line;
        let moment = Moment::of(line);
        line.read(false);
        let stop = moment.stopped(line, WATCHDOG, SLACK);
        field.stage.daemon.want("no link (rig stopped itself)");
        line.read(true);
        field.back("withheld (");
        Some(stop)
    });
}

#[test]
fn garbage_comes_from_both_ends() {
    again_and_again("garbage both ways", Plan::default, |field| {
        field.push();
        let line = &field.stage.line;
        let from = Moment::of(line);
        let mut noise: u32 = 0x2545_f491;
        for _ in 0..40 {
            let bytes: Vec<u8> = (0..64)
                .map(|_| {
                    noise ^= noise << 13;
                    noise ^= noise >> 17;
                    noise ^= noise << 5;
                    noise as u8
                })
                .collect();
            line.babble(&bytes);
            line.forge(&bytes);
            let full = FAST * PER_DEG;
            // Each frame that garbage spoils is followed by a good one long before any bound.
            line.want_driven("as fast as before", |v| (v[0] - full).abs() < 2.0);
            std::thread::sleep(Duration::from_millis(5));
        }
        let way = f64::from(line.positions()[0] - from.counts) / PER_DEG;
        let expected = FAST * from.at.elapsed().as_secs_f64();
        assert!(
            (way - expected).abs() < FAST * SLACK,
            "{way} deg, {expected} by the calculation"
        );
        field.stage.centre();
        field.stage.line.want_driven("let go", |v| v[0] == 0.0);
        None
    });
}

#[test]
fn the_rig_says_nothing_any_more() {
    again_and_again("rig silent", Plan::default, |field| {
        field.push();
        let line = &field.stage.line;
        let moment = Moment::of(line);
        line.twist(|_| None);
        field.stage.daemon.want("no link (link lost: rig silent)");
        // Silence of 0.5 s since a telling that may be 20 ms old; the stop itself is still sent.
        let stop = moment.stopped(&field.stage.line, 0.480, SLACK + 0.020);
        field.stage.line.honest();
        field.back("withheld (the rig speaks again)");
        Some(stop)
    });
}

#[test]
fn the_pad_is_pulled_and_put_back() {
    again_and_again("pad pulled", Plan::default, |field| {
        field.push();
        let moment = Moment::of(&field.stage.line);
        field.stage.pads.unplug(PAD);
        field.stage.daemon.want("no pad");
        let stop = moment.stopped(&field.stage.line, 0.0, NEWS);
        field.stage.pads.plug_as(PAD, Bus::Usb, PAD_ID, "Hall Pad");
        field.back("withheld (the pad was lost)");
        Some(stop)
    });
}

#[test]
fn the_pad_falls_silent() {
    let plan = || Plan {
        bus: Bus::Bluetooth,
        ..Plan::default()
    };
    again_and_again("pad silent", plan, |field| {
        let last_word = Instant::now();
        field.push();
        let moment = Moment::of(&field.stage.line);
        // 45 deg/s covers 30 degrees in 0.67 s: the floor of 2 s counts.
        let after = 2.0 - (moment.at - last_word).as_secs_f64();
        let stop = moment.stopped(&field.stage.line, after, SLACK);
        field.back("the pad was silent while the rig moved");
        Some(stop)
    });
}

fn frozen(name: &str, time: Duration) {
    again_and_again(name, Plan::default, |field| {
        field.push();
        let moment = Moment::of(&field.stage.line);
        field.stage.daemon.signal(libc::SIGSTOP);
        let stop = moment.stopped(&field.stage.line, WATCHDOG, SLACK);
        std::thread::sleep(time.saturating_sub(moment.at.elapsed()));
        field.stage.daemon.signal(libc::SIGCONT);
        field.back("withheld (");
        Some(stop)
    });
}

#[test]
fn the_daemon_is_frozen_for_a_moment() {
    frozen("frozen for 400 ms", Duration::from_millis(400));
}

#[test]
fn the_daemon_is_frozen_as_by_a_suspend() {
    frozen("frozen for 2 s", Duration::from_secs(2));
}

#[test]
fn no_descriptor_is_left_when_the_cable_comes_back() {
    again_and_again("descriptors exhausted", Plan::default, |field| {
        field.push();
        let pid = field.stage.daemon.pid();
        let before = limit(pid, 3);
        std::fs::remove_file(&field.port).expect("our link");
        let moment = Moment::of(&field.stage.line);
        field.stage.line.pull();
        let stop = moment.stopped(&field.stage.line, WATCHDOG, SLACK);
        field.stage.daemon.want("no link (link lost: port gone)");
        let fresh = field.stage.line.put_back();
        point(&field.port, &fresh);
        field.stage.daemon.want("Too many open files");
        limit(pid, before);
        // Pads that were looked for meanwhile could not be opened either, and come back later.
        field.back("withheld (");
        // gilrs (gilrs-core 0.6) leaves a thread behind when it is made anew; it ends when the next pad
        // comes or goes.
        field.stage.pads.unplug(PAD);
        field.stage.daemon.want("no pad");
        field.stage.pads.plug_as(PAD, Bus::Usb, PAD_ID, "Hall Pad");
        field.stage.daemon.want("withheld (");
        field.stage.centre();
        field.stage.daemon.want("driving: the sticks move the rig");
        Some(stop)
    });
}

/// Sets how many descriptors process `pid` may have, and gives what it was.
fn limit(pid: u32, descriptors: u64) -> u64 {
    let mut old = libc::rlimit {
        rlim_cur: 0,
        rlim_max: 0,
    };
    // SAFETY: both pointers live through the calls, or are null where that is allowed.
    unsafe {
        let none = std::ptr::null();
        assert_eq!(
            libc::prlimit(pid as i32, libc::RLIMIT_NOFILE, none, &raw mut old),
            0
        );
        let new = libc::rlimit {
            rlim_cur: descriptors,
            ..old
        };
        assert_eq!(
            libc::prlimit(
                pid as i32,
                libc::RLIMIT_NOFILE,
                &raw const new,
                std::ptr::null_mut()
            ),
            0
        );
    }
    old.rlim_cur
}

#[test]
fn a_second_daemon_wants_the_same_port() {
    again_and_again("two daemons on one port", Plan::default, |field| {
        field.push();
        let from = Instant::now();
        let folder = tempfile::tempdir().expect("a folder");
        let mut arguments = files(&folder, hall::RIG, &hall::pan_only());
        arguments.extend(["--port".into(), field.port.display().to_string()]);
        arguments.extend(["--socket".into(), "off".into()]);
        let mut second = Start::new(arguments).go();
        assert_eq!(second.end(), 1, "{}", second.all());
        second.want("another program has it open");
        let line = &field.stage.line;
        assert_undisturbed(line, from);
        line.want_driven("the first one's stick", |v| v[0] > 0.0);
        field.stage.centre();
        field.stage.line.want_driven("let go", |v| v[0] == 0.0);
        None
    });
}

/// That full speed was asked for, and nothing else, from a moment on.
fn assert_undisturbed(line: &Line, from: Instant) {
    let asked = line.tape().since(from).frames();
    let full = |asked: &Speeds| (asked.axes[0] - FAST * PER_DEG).abs() < 1.0;
    assert!(!asked.is_empty() && asked.iter().all(full), "{asked:?}");
}

fn ends(mut field: Field, signal: i32) -> Stop {
    let moment = Moment::of(&field.stage.line);
    field.stage.daemon.signal(signal);
    let stop = moment.stopped(&field.stage.line, 0.0, SLACK + 0.050);
    field.stage.daemon.want("ending: coming to rest");
    assert_eq!(field.stage.daemon.end(), 0, "{}", field.stage.daemon.all());
    stop
}

fn asked_to_end(name: &str, signal: i32) {
    each_time_anew(name, Plan::default, |field| ends(field, signal));
}

/// It costs the journal alone: what is driven is driven on, and a stop is a stop.
#[test]
fn the_disk_is_full_in_mid_move() {
    let folder = tempfile::tempdir().expect("a folder");
    let plan = || Plan {
        arguments: vec!["--journal".into(), folder.path().display().to_string()],
        disk: Some(DISK),
        ..Plan::default()
    };
    each_time_anew("disk full", plan, |mut field| {
        let from = Instant::now();
        field.stage.daemon.want("stopped: File too large");
        std::thread::sleep(LOOK);
        assert_undisturbed(&field.stage.line, from);
        ends(field, libc::SIGTERM)
    });
}

#[test]
fn it_is_asked_to_end_in_mid_move() {
    asked_to_end("SIGTERM", libc::SIGTERM);
}

#[test]
fn its_terminal_goes_in_mid_move() {
    asked_to_end("SIGHUP", libc::SIGHUP);
}

#[test]
fn it_is_killed_in_mid_move() {
    each_time_anew("SIGKILL", Plan::default, |mut field| {
        let moment = Moment::of(&field.stage.line);
        field.stage.daemon.signal(libc::SIGKILL);
        let stop = moment.stopped(&field.stage.line, WATCHDOG, SLACK);
        assert_eq!(field.stage.daemon.end(), -libc::SIGKILL);
        stop
    });
}
