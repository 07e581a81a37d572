//! What the live status says, and that it never wraps.

use super::{COLUMNS, lines};
use crate::cli::words::About;
use crate::link::session::Standing;
use crate::profile::{builtin, load_operator, load_rig};
use crate::shell::drive::{Health, Shared, Snapshot};
use stillhand_engine::current::Current;
use stillhand_engine::input::{PadId, StopSource};
use stillhand_engine::operate::modes::Switch;
use stillhand_engine::operator::Operator;
use stillhand_engine::output::{AxisStatus, Ceiling, Enabled, Mover, Place, State, Wait, Why};
use stillhand_engine::rig::Rig;
use stillhand_engine::time::Span;

fn bench() -> (Rig, Operator) {
    let rig = load_rig(&builtin::BENCH_RIG.source()).expect("shipped").rig;
    let talk = load_operator(&builtin::TALK.source());
    let operator = talk.expect("shipped").resolve(std::slice::from_ref(&rig));
    (rig, operator.expect("they fit"))
}

fn driving() -> Snapshot {
    let shared = Shared::new();
    let mut snapshot = shared.snapshot.lock().expect("nobody panicked").clone();
    snapshot.status.state = State::Driving;
    snapshot.status.groups[0].pad = Some(PadId(0));
    snapshot.standing = Standing::Ready;
    snapshot.axes = [AxisStatus {
        position: 12.0,
        speed: 1.5,
        full_stick: 3.0,
        trigger: 1.0,
        binding: Some(Ceiling::Gear),
        ..AxisStatus::default()
    }; 8];
    snapshot
}

fn said(snapshot: &Snapshot) -> String {
    let (rig, operator) = bench();
    let about = About {
        rig: &rig,
        operator: &operator,
        script: None,
    };
    lines(snapshot, &about).join("\n")
}

#[test]
fn it_says_state_position_speed_and_why() {
    let text = said(&driving());
    for part in [
        "driving",
        "gear 1",
        "pad 1",
        "link ok",
        "+1.50 deg/s",
        "full   3.00 gear",
    ] {
        assert!(text.contains(part), "{part:?} is missing in\n{text}");
    }
}

#[test]
fn it_says_which_motors_hold_with_less_and_what_still_waits_for() {
    let mut snapshot = driving();
    (snapshot.status.state, snapshot.status.modes.still) = (State::Still, Switch::On);
    snapshot.current = Current::MayBeLow;
    assert!(!said(&snapshot).contains("current"), "nobody told of any");
    snapshot.lowered = 0b101;
    let text = said(&snapshot).replace('\n', " ");
    let says = "with less motor current, so hands off: pan, slide";
    assert!(text.contains(says), "{text}");
    snapshot.status.modes.still = Switch::Off;
    snapshot.current = Current::Awaited;
    let says = "still ends once every motor has its full current again";
    assert!(said(&snapshot).contains(says));
    // Whatever else keeps the rig from moving is said instead.
    snapshot.status.state = State::Stopped(StopSource::Command);
    assert!(said(&snapshot).contains("STOPPED"));
}

#[test]
fn it_says_what_holds_an_axis_back() {
    let mut snapshot = driving();
    snapshot.axes[1].enabled = Enabled::Wanted;
    assert!(said(&snapshot).contains("tilt waits: hold the enable control"));
    snapshot.axes[1].place = Place::Unreferenced;
    assert!(said(&snapshot).contains("tilt has no reference"));
    assert!(said(&snapshot).contains("[???????????????]"));
    snapshot.axes[1].enabled = Enabled::NotNeeded;
    snapshot.axes[1].place = Place::Outside;
    assert!(said(&snapshot).contains("inward only"));
}

#[test]
fn it_says_modes_movers_triggers_and_silence() {
    let mut snapshot = driving();
    snapshot.status.modes.quiet = Switch::On;
    snapshot.status.modes.reduced = Switch::Leaving;
    snapshot.axes[0].mover = Mover::Sustain;
    snapshot.axes[1].trigger = 0.4;
    snapshot.status.groups[0].silence_bound = Some(Span::from_millis(10_000));
    snapshot.status.groups[0].silent_for = Span::from_millis(7_000);
    let text = said(&snapshot);
    for part in [
        "quiet",
        "reduced (let go)",
        "kept",
        "gear 40%",
        "SILENT 7 s of 10",
    ] {
        assert!(text.contains(part), "{part:?} is missing in\n{text}");
    }
}

#[test]
fn it_says_power_and_health() {
    let mut snapshot = driving();
    snapshot.health = Some(Health {
        energised: false,
        supply_mv: Some(24_100),
        drive_c: Some(38),
    });
    assert!(said(&snapshot).contains("24.1 V, 38 C, motors off"));
}

#[test]
fn no_line_is_wider_than_a_terminal() {
    let mut snapshot = driving();
    snapshot.status.state = State::Withheld(Why::PadSilent);
    snapshot.axes = [AxisStatus {
        position: -123_456.7,
        speed: -1_999.99,
        full_stick: 2_000.0,
        trigger: 0.5,
        enabled: Enabled::Unbound,
        ..AxisStatus::default()
    }; 8];
    for line in said(&snapshot).lines() {
        assert!(line.chars().count() <= COLUMNS, "{line:?}");
    }
}

#[test]
fn what_to_do_is_never_cut_off() {
    let mut snapshot = driving();
    snapshot.status.state = State::Stopped(StopSource::Command);
    let text = said(&snapshot);
    let joined = text.replace('\n', " ");
    assert!(
        joined.contains("hold start for 0.6 s on a pad in control"),
        "{text}"
    );
    assert!(
        text.lines().all(|line| line.chars().count() <= COLUMNS),
        "{text}"
    );
}

#[test]
fn it_says_what_a_changed_file_waits_for_and_what_is_wrong_with_it() {
    let mut snapshot = driving();
    assert!(!said(&snapshot).contains("waits"));
    snapshot.profile_waits = Some(Wait::Centred);
    assert!(said(&snapshot).contains("\nthe changed profile waits until the stick is let go\n"));
    snapshot.profile_waits = Some(Wait::NotRolling);
    assert!(said(&snapshot).contains("\nthe changed profile waits until rolling is over\n"));
    snapshot.rig_waits = true;
    assert!(said(&snapshot).contains("\nthe rig file waits for rest and all sticks let go\n"));
    snapshot.file_wrong =
        Some("talk.toml not taken: line 9: `deadband` is out of bounds".to_owned());
    assert!(
        said(&snapshot).contains("\ntalk.toml not taken: line 9: `deadband` is out of bounds\n")
    );
}
