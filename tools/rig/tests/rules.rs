//! Who may move the rig and when: session, sequence, deadline, watchdog, holds, power.

mod common;

use common::{
    Bench, COUNT, Random, SESSION, axis, config, hello, limits, moving, ready, stop_ms, wide_open,
};
use stillhand_rig::Inputs;
use stillhand_wire::encode;
use stillhand_wire::messages::{ToRig, fault, held};

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

/// What was gained over the last frames is not what is gained now: a stop that comes when all but the last is gained
/// does not run on past the speed that was asked for.
#[test]
fn a_stop_at_the_end_of_a_gain_does_not_run_on() {
    for left in 0..=4 {
        let mut bench = ready();
        // To 400 counts/s by the normal jerk of this daemon, 8000 counts/s^3, in frames of 4 ms; the last of them missing.
        for frame in (left..=25).rev() {
            let t = 0.004 * f64::from(frame);
            let speed = 400.0 - 8000.0 * t * t / 2.0;
            assert!(bench.drive(&[(speed * 1024.0) as i32, 0]));
            bench.ticks(4);
        }
        bench.rig.set_inputs(Inputs {
            stop_input: true,
            ..Inputs::default()
        });
        for _ in 0..1000 {
            bench.tick();
            assert!(bench.velocity(0) <= 400 * COUNT + 8, "{left} left");
        }
    }
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
