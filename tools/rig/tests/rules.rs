//! Who may move the rig and when: session, sequence, deadline, watchdog, holds, power.

mod common;

use common::{Bench, COUNT, Random, SESSION, axis, config, limits};
use stillhand_rig::{Inputs, Moving};
use stillhand_wire::encode;
use stillhand_wire::messages::{AxisSetup, FromRig, Ramp, ToRig, VERSION, Why, fault, held};

fn wide_open() -> [AxisSetup; 2] {
    [
        limits(Some((-1_000_000, 1_000_000)), 3333, 8333),
        limits(None, 3333, 8333),
    ]
}

fn ready() -> Bench {
    Bench::ready(&[axis("pan", 1667, 0), axis("turn", 1667, 0)], &wide_open())
}

fn moving() -> Bench {
    let mut bench = ready();
    assert!(bench.drive(&[500 * COUNT, -300 * COUNT]));
    bench.tick();
    assert_eq!(
        (bench.velocity(0), bench.velocity(1)),
        (500 * COUNT, -300 * COUNT)
    );
    bench
}

fn refused(bench: &mut Bench, message: &ToRig) -> Why {
    let before = bench.state().frames_refused;
    bench.send(message);
    assert_eq!(bench.state().frames_refused, before + 1);
    match bench.said.pop() {
        Some(FromRig::Refused { why, .. }) => why,
        other => panic!("{other:?}"),
    }
}

fn hello(session: u32) -> ToRig {
    ToRig::Hello {
        version: VERSION,
        session,
    }
}

/// Milliseconds of the closed form for a stop from `counts` per second.
fn stop_ms(counts: f64) -> u32 {
    let (a, j) = (3333.0, 8333.0);
    (1000.0
        * if counts >= a * a / j {
            counts / a + a / j
        } else {
            2.0 * (counts / j).sqrt()
        }) as u32
}

#[test]
fn velocities_are_clamped_held_and_otherwise_unchanged() {
    let mut bench = ready();
    assert!(bench.drive(&[i32::MAX, -1]));
    bench.tick();
    assert_eq!((bench.velocity(0), bench.velocity(1)), (1667 * COUNT, -1));
    assert!(bench.drive(&[i32::MIN, 12345]));
    bench.ticks(100);
    assert_eq!(
        (bench.velocity(0), bench.velocity(1)),
        (-1667 * COUNT, 12345)
    );
}

#[test]
fn nothing_is_said_or_done_before_a_hello() {
    let mut bench = Bench::new(config(&[axis("pan", 1667, 0)]), 0);
    bench.ticks(200);
    assert!(bench.said.is_empty());
    let setup = Bench::setup(SESSION, &[limits(None, 1, 1)]);
    assert_eq!(refused(&mut bench, &ToRig::Setup(setup)), Why::WrongSession);
    assert!(!bench.drive(&[COUNT]));
    bench.send(&hello(SESSION));
    bench.said.clear();
    assert!(!bench.drive(&[COUNT]), "no setup yet");
    bench.ticks(1000);
    assert_eq!(bench.said.len(), 50, "telemetry at 50 Hz");
    assert_eq!(bench.velocity(0), 0);
}

#[test]
fn sequence_session_count_and_deadline_are_all_asked_for() {
    let mut bench = moving();
    bench.seq = 10;
    let other = [COUNT, COUNT];
    let good = bench.frame(10, &other);
    let ToRig::Velocity {
        session,
        seq,
        deadline_us,
        velocity,
    } = good.clone()
    else {
        unreachable!()
    };
    let late = bench.now_us.wrapping_sub(1);
    let far = bench.now_us + 1_100_000;
    let mut short = velocity.clone();
    short.pop();
    let bad = [
        ToRig::Velocity {
            session: session + 1,
            seq,
            deadline_us,
            velocity: velocity.clone(),
        },
        ToRig::Velocity {
            session: 0,
            seq,
            deadline_us,
            velocity: velocity.clone(),
        },
        ToRig::Velocity {
            session,
            seq: 1,
            deadline_us,
            velocity: velocity.clone(),
        },
        ToRig::Velocity {
            session,
            seq: 0,
            deadline_us,
            velocity: velocity.clone(),
        },
        ToRig::Velocity {
            session,
            seq: 0x8000_0001,
            deadline_us,
            velocity: velocity.clone(),
        },
        ToRig::Velocity {
            session,
            seq,
            deadline_us: late,
            velocity: velocity.clone(),
        },
        ToRig::Velocity {
            session,
            seq,
            deadline_us: far,
            velocity,
        },
        ToRig::Velocity {
            session,
            seq,
            deadline_us,
            velocity: short,
        },
    ];
    for (n, frame) in bad.iter().enumerate() {
        bench.send(frame);
        bench.tick();
        assert_eq!(bench.velocity(0), 500 * COUNT, "{frame:?}");
        assert_eq!(bench.state().applied, 1);
        assert_eq!(bench.state().frames_refused as usize, n + 1);
    }
    bench.send(&good);
    bench.tick();
    assert_eq!((bench.velocity(0), bench.state().applied), (COUNT, 10));
    bench.send(&good);
    assert_eq!(
        bench.state().frames_refused as usize,
        bad.len() + 1,
        "a duplicate"
    );
}

#[test]
fn sequence_and_clock_wrap() {
    let mut bench = Bench::new(config(&[axis("pan", 1667, 0)]), u32::MAX - 50_000);
    bench.handshake(SESSION, &[limits(None, 3333, 8333)]);
    for seq in [0x7fff_fff0, 0xffff_ff00] {
        bench.seq = seq;
        assert!(bench.drive(&[512]));
    }
    let mut ms = 0;
    while ms < 2000 {
        assert!(bench.drive(&[512]), "after {ms} ms");
        bench.ticks(4);
        ms += 4;
        assert_eq!(bench.velocity(0), 512);
    }
    assert!(
        bench.seq < 0x1000 && bench.now_us < 2_000_000,
        "both went over the edge"
    );
    assert_eq!(
        bench.position(0),
        1,
        "half a count per second for two seconds"
    );
    bench.ticks(121);
    assert_eq!(bench.state().held, held::WATCHDOG);
}

#[test]
fn watchdog_stops_with_the_stop_set_and_holds_until_zeros() {
    let mut bench = moving();
    bench.ticks(118);
    assert_eq!(
        (bench.velocity(0), bench.state().held),
        (500 * COUNT, 0),
        "119 ms: not yet"
    );
    bench.ticks(1);
    assert_eq!(bench.state().held, held::WATCHDOG, "120 ms");
    let from = bench.position(0);
    assert!(!bench.drive(&[0, 0]), "not while the stop runs");
    let mut ms = 1_u32;
    let mut last = bench.velocity(0);
    while bench.velocity(0) != 0 {
        bench.tick();
        ms += 1;
        assert!(bench.velocity(0) <= last && last - bench.velocity(0) <= 3333 * 1024 / 1000 + 3);
        last = bench.velocity(0);
        assert!(ms < 2000);
    }
    let time = stop_ms(500.0);
    assert!(ms.abs_diff(time) <= 2, "{ms} ms, closed form {time}");
    let way = f64::from(bench.position(0) - from);
    assert!(
        (way - 500.0 * f64::from(time) / 2000.0).abs() < 2.0,
        "{way} counts"
    );
    bench.ticks(300);
    assert!(!bench.drive(&[COUNT, 0]), "held");
    bench.ticks(4);
    assert_eq!(bench.velocity(0), 0);
    assert!(bench.drive(&[0, 0]));
    assert_eq!(bench.state().held, 0);
    assert!(bench.drive(&[COUNT, 0]));
    bench.tick();
    assert_eq!(bench.velocity(0), COUNT);
}

#[test]
fn refused_frames_do_not_feed_the_watchdog() {
    let mut bench = moving();
    let old = bench.frame(1, &[500 * COUNT, -300 * COUNT]);
    for _ in 0..130 {
        bench.send(&old);
        bench.tick();
    }
    assert_eq!(bench.state().held, held::WATCHDOG);
}

#[test]
fn rest_needs_no_frames() {
    let mut bench = moving();
    assert!(bench.drive(&[0, 0]));
    bench.ticks(5000);
    assert_eq!(bench.state().held, 0);
    assert!(bench.drive(&[COUNT, 0]));
}

/// 100,000 frames with one to four damaged bytes, cut or lengthened, while the rig moves and while it rests.
#[test]
fn damaged_frames_never_change_the_setpoint() {
    let mut random = Random(5);
    let mut bench = moving();
    for round in 0..100_000_u32 {
        if round % 100 == 0 {
            assert!(bench.drive(&[500 * COUNT, -300 * COUNT]));
            bench.tick();
        }
        let message = match random.below(4) {
            0 => hello(random.next() as u32),
            1 => ToRig::Setup(Bench::setup(SESSION, &wide_open())),
            _ => bench.frame(
                bench.seq + 1 + random.below(9) as u32,
                &[random.next() as i32, 0],
            ),
        };
        let mut bytes = encode(&message).expect("fits").to_vec();
        let at = random.below(bytes.len() as u64 - 1) as usize;
        match random.below(4) {
            0 => bytes.truncate(at),
            1 => bytes.insert(at, 1 + random.below(255) as u8),
            _ => {
                let burst = 1 + random.below(4) as usize;
                let end = bytes.len() - 1;
                for byte in bytes[..end].iter_mut().skip(at).take(burst) {
                    *byte ^= 1 + random.below(255) as u8;
                }
            }
        }
        bytes.push(0);
        let before = bench.state().applied;
        bench.bytes(&bytes);
        assert_eq!(bench.state().applied, before, "round {round}: {bytes:02x?}");
        assert_eq!(bench.state().session, SESSION);
    }
    bench.tick();
    assert_eq!(
        (bench.velocity(0), bench.velocity(1)),
        (500 * COUNT, -300 * COUNT)
    );
    assert!(bench.state().frames_refused >= 99_000);
}

#[test]
fn repeated_hello_and_setup_change_nothing() {
    let mut bench = moving();
    bench.send(&hello(SESSION));
    assert!(
        matches!(bench.said.pop(), Some(FromRig::Hello(h)) if h.axes[0].velocity == 500 * COUNT)
    );
    let setup = Bench::setup(SESSION, &wide_open());
    bench.send(&ToRig::Setup(setup.clone()));
    assert_eq!(
        bench.said.pop(),
        Some(FromRig::Ack {
            setup: setup.clone()
        })
    );
    bench.tick();
    assert_eq!(
        (bench.velocity(0), bench.state().applied, bench.state().held),
        (500 * COUNT, 1, 0)
    );
    let mut other = setup;
    other.watchdog_ms = 121;
    assert_eq!(refused(&mut bench, &ToRig::Setup(other)), Why::AlreadySet);
}

#[test]
fn a_new_session_ends_the_old_one_and_stops_first() {
    let mut bench = moving();
    bench.send(&hello(SESSION + 1));
    assert!(!bench.drive(&[500 * COUNT, 0]), "the old session is over");
    let setup = Bench::setup(SESSION + 1, &wide_open());
    assert_eq!(
        refused(&mut bench, &ToRig::Setup(setup.clone())),
        Why::NotAtRest
    );
    bench.tick();
    assert!(bench.velocity(0) > 400 * COUNT, "no step");
    bench.ticks(stop_ms(500.0) + 2);
    assert!(bench.rig.at_rest());
    bench.send(&ToRig::Setup(setup.clone()));
    assert_eq!(bench.said.pop(), Some(FromRig::Ack { setup }));
    assert_eq!((bench.state().held, bench.state().applied), (0, 0));
    assert_eq!(refused(&mut bench, &hello(SESSION)), Why::OldSession);
    let old = Bench::setup(SESSION, &wide_open());
    assert_eq!(refused(&mut bench, &ToRig::Setup(old)), Why::OldSession);
}

#[test]
fn a_new_session_at_rest_is_ready_at_once() {
    let mut bench = ready();
    bench.handshake(SESSION + 1, &wide_open());
    assert!(bench.drive(&[COUNT, COUNT]));
}

#[test]
fn hellos_and_setups_that_break_a_rule_are_refused_with_it() {
    let mut bench = ready();
    assert_eq!(
        refused(
            &mut bench,
            &ToRig::Hello {
                version: 2,
                session: 5
            }
        ),
        Why::Version
    );
    assert_eq!(refused(&mut bench, &hello(0)), Why::WrongSession);
    bench.send(&hello(9));
    let good = Bench::setup(9, &wide_open());
    type Change = fn(&mut stillhand_wire::messages::Setup);
    let changes: [(Change, Why); 9] = [
        (|s| s.session = 10, Why::WrongSession),
        (|s| _ = s.axes.pop(), Why::AxisCount),
        (|s| s.watchdog_ms = 19, Why::BadWatchdog),
        (|s| s.watchdog_ms = 1001, Why::BadWatchdog),
        (|s| s.axes[1].travel = Some((5, 5)), Why::BadTravel),
        (|s| s.axes[1].travel = Some((-2, i32::MAX)), Why::BadTravel),
        (
            |s| s.axes[0].stop_plus = Ramp { accel: 0, jerk: 1 },
            Why::BadRamp,
        ),
        (
            |s| s.axes[0].stop_minus = Ramp { accel: 1, jerk: 0 },
            Why::BadRamp,
        ),
        (|s| s.axes[0].stop_minus.accel = (1 << 24) + 1, Why::BadRamp),
    ];
    for (change, why) in changes {
        let mut setup = good.clone();
        change(&mut setup);
        assert_eq!(
            refused(&mut bench, &ToRig::Setup(setup.clone())),
            why,
            "{setup:?}"
        );
    }
    bench.send(&ToRig::Setup(good.clone()));
    assert_eq!(bench.said.pop(), Some(FromRig::Ack { setup: good }));
}

/// The daemon's speeds are smooth; if one is not, the stop after it must not go on with what looks like an acceleration.
#[test]
fn a_stop_after_a_step_does_not_speed_up() {
    let mut bench = moving();
    bench.rig.set_inputs(Inputs {
        stop_input: true,
        ..Inputs::default()
    });
    for _ in 0..1000 {
        bench.tick();
        assert!(bench.velocity(0) <= 500 * COUNT && bench.velocity(1) >= -300 * COUNT);
    }
    assert!(bench.rig.at_rest());
}

/// While speeding up smoothly, a stop lets the acceleration go at the stop jerk: the speed still gains a^2 / 2j.
#[test]
fn a_stop_while_speeding_up_is_smooth() {
    let mut bench = ready();
    for frame in 1..=60 {
        // 3000 counts/s^2 in frames of 4 ms.
        assert!(bench.drive(&[frame * 12 * COUNT, 0]));
        bench.ticks(4);
    }
    let at = bench.velocity(0);
    bench.rig.set_inputs(Inputs {
        stop_input: true,
        ..Inputs::default()
    });
    let mut last = at;
    let mut highest = at;
    for _ in 0..2000 {
        bench.tick();
        assert!((bench.velocity(0) - last).abs() <= 3333 * 1024 / 1000 + 4);
        last = bench.velocity(0);
        highest = highest.max(last);
    }
    let gained = f64::from(highest - at) / 1024.0;
    assert!(
        (gained - 3000.0 * 3000.0 / 2.0 / 8333.0).abs() < 60.0,
        "{gained} counts/s"
    );
    assert!(bench.rig.at_rest());
}

#[test]
fn stop_input_and_faults_stop_smoothly_and_hold() {
    let stop_input = Inputs {
        stop_input: true,
        ..Inputs::default()
    };
    let hot = Inputs {
        faults: fault::TEMPERATURE,
        ..Inputs::default()
    };
    for (inputs, bit) in [(stop_input, held::STOP_INPUT), (hot, held::FAULT)] {
        let mut bench = moving();
        bench.rig.set_inputs(inputs);
        bench.tick();
        assert!(bench.velocity(0) > 490 * COUNT, "no step");
        assert!(!bench.drive(&[0, 0]));
        bench.ticks(stop_ms(500.0) + 2);
        assert_eq!(
            (bench.velocity(0), bench.velocity(1), bench.state().held),
            (0, 0, bit)
        );
        assert!(!bench.drive(&[0, 0]), "still active");
        bench.rig.set_inputs(Inputs::default());
        assert!(!bench.drive(&[COUNT, 0]));
        assert!(bench.drive(&[0, 0]));
        assert!(bench.drive(&[COUNT, 0]));
    }
}

#[test]
fn power_off_is_zero_at_once_and_needs_a_new_session() {
    let mut bench = moving();
    bench.rig.set_inputs(Inputs {
        power: false,
        ..Inputs::default()
    });
    assert_eq!((bench.velocity(0), bench.velocity(1)), (0, 0));
    let state = bench.state();
    assert!(!state.power && state.session == 0);
    bench.send(&hello(9));
    assert!(matches!(bench.said.pop(), Some(FromRig::Hello(h)) if !h.axes[0].referenced));
    let setup = ToRig::Setup(Bench::setup(9, &wide_open()));
    assert_eq!(refused(&mut bench, &setup), Why::PowerOff);
    bench.rig.set_inputs(Inputs::default());
    assert!(!bench.drive(&[COUNT, 0]));
    assert_eq!(refused(&mut bench, &hello(SESSION)), Why::OldSession);
    assert_eq!(bench.rig.set_reference(0, 1234), Ok(()));
    bench.handshake(10, &wide_open());
    assert_eq!(bench.position(0), 1234);
    assert!(bench.drive(&[COUNT, 0]));
    bench.tick();
    assert_eq!(bench.rig.set_reference(0, 0), Err(Moving));
}

/// 0.01 deg/s at 250/9 counts/deg (27.7778) is 284 units: 17 whole counts in 60 s, and each at its time.
#[test]
fn a_creep_is_exact_to_a_count() {
    let mut bench = ready();
    for ms in 0..60_000_i64 {
        if ms % 4 == 0 {
            assert!(bench.drive(&[284, -284]));
        }
        bench.tick();
        let exact = (284 * (ms + 1) * 2 + 1_024_000).div_euclid(2_048_000);
        assert_eq!(i64::from(bench.position(0)), exact, "at {ms} ms");
    }
    assert_eq!((bench.position(0), bench.position(1)), (17, -17));
}

#[test]
fn positions_wrap_and_late_ticks_catch_up() {
    let mut bench = Bench::ready(&[axis("turn", 2000, i32::MAX)], &[limits(None, 3333, 8333)]);
    assert!(bench.drive(&[1000 * COUNT]));
    bench.now_us += 99_000;
    bench.tick();
    assert_eq!(bench.position(0), i32::MIN + 99);
    let seen = bench.state().axes[0];
    assert_eq!((seen.at_applied, seen.position), (i32::MAX, i32::MIN + 99));
    bench.now_us += 3_600_000;
    bench.tick();
    assert!(
        bench.position(0) <= i32::MIN + 101,
        "time that was lost is not made up"
    );
    assert_eq!(bench.state().held, held::WATCHDOG);
}
