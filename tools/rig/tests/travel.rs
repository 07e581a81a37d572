//! Travel is never left, nothing chatters at an end, and a command that brakes in time is not touched.

mod common;

use common::{Bench, COUNT, Random, axis, limits};
use stillhand_wire::messages::{AxisSetup, Ramp};

const MAX_SPEED: u32 = 4000;

/// How a random operator behaves.
#[derive(Debug, Clone, Copy)]
enum Style {
    Walk,
    FullAtTheEnds,
    Noise,
    Smooth,
}

fn next_command(style: Style, random: &mut Random, last: i32) -> i32 {
    let full = MAX_SPEED as i32 * COUNT;
    match style {
        Style::Walk => (last + random.between(-400, 400) as i32 * COUNT).clamp(-full, full),
        Style::FullAtTheEnds => match random.below(60) {
            0 => full,
            1 => -full,
            2 => 0,
            _ => last,
        },
        Style::Noise => random.next() as i32,
        Style::Smooth => {
            last + (if random.below(40) == 0 {
                -last
            } else {
                full / 8 - last
            }) / 16
        }
    }
}

fn random_ramp(random: &mut Random) -> Ramp {
    Ramp {
        accel: 200 + random.magnitude(14) as u32,
        jerk: 500 + random.magnitude(17) as u32,
    }
}

/// 1000 streams of 1.5 s at frame gaps of 1 to 20 ms, lost frames, garbage and silences that the watchdog ends included; positions are checked at each tick.
#[test]
fn no_stream_of_commands_leaves_travel() {
    let mut touched = [0_u32; 4];
    for seed in 0..1000_u64 {
        let mut random = Random(seed);
        let styles = [
            Style::Walk,
            Style::FullAtTheEnds,
            Style::Noise,
            Style::Smooth,
        ];
        let style = styles[seed as usize % 4];
        let setup = AxisSetup {
            travel: Some((-(random.magnitude(9) as i32), random.magnitude(9) as i32)),
            stop_plus: random_ramp(&mut random),
            stop_minus: random_ramp(&mut random),
        };
        let Some((low, high)) = setup.travel else {
            unreachable!()
        };
        let mut bench = Bench::ready(&[axis("pan", MAX_SPEED, 0)], &[setup]);
        let gap = random.between(1, 20) as u32;
        let mut command = 0;
        let mut silent_until = 0;
        for ms in 0..1500 {
            if random.below(500) == 0 {
                silent_until = ms + 300;
            }
            if ms % gap == 0 && ms >= silent_until && random.below(10) > 0 {
                command = next_command(style, &mut random, command);
                if bench.state().held != 0 {
                    command = 0;
                }
                bench.drive(&[command]);
            }
            if random.below(50) == 0 {
                bench.bytes(&random.next().to_le_bytes());
                bench.bytes(&[0]);
            }
            bench.tick();
            let position = bench.position(0);
            assert!(
                (low..=high).contains(&position),
                "seed {seed} {style:?} {setup:?}: {position} at {ms} ms"
            );
            touched[seed as usize % 4] += u32::from(bench.state().at_end);
        }
    }
    assert!(
        touched.iter().all(|n| *n > 1000),
        "the ends were in force in all styles: {touched:?}"
    );
}

/// Full speed held against an end: the axis comes to the last count or the one before, its braking keeps the stop set, and then it stands still.
#[test]
fn full_speed_into_an_end_stops_smoothly_and_stays() {
    for (accel, jerk) in [
        (3333, 8333),
        (20_000, 60_000),
        (3333, 1_000_000),
        (60_000, 60_000),
    ] {
        for sign in [1, -1] {
            let mut bench = Bench::ready(
                &[axis("pan", 1667, 0)],
                &[limits(Some((-4722, 4722)), accel, jerk)],
            );
            let mut speeds = vec![];
            for ms in 0..12_000_i32 {
                // A soft start: 1667 counts/s in 2 s.
                let speed = 1667 * COUNT / 2000 * ms.min(2000) * sign;
                if ms % 4 == 0 {
                    bench.drive(&[speed]);
                }
                bench.tick();
                speeds.push(bench.velocity(0) * sign);
            }
            let end = bench.position(0) * sign;
            assert!(
                (4719..=4722).contains(&end),
                "{accel} {jerk}: stopped at {end}"
            );
            assert_eq!(bench.velocity(0), 0);
            let peak = speeds
                .iter()
                .position(|v| *v > 1665 * COUNT)
                .expect("full speed");
            let braking = &speeds[peak + 10..];
            assert!(
                braking.is_sorted_by(|a, b| a >= b),
                "{accel} {jerk}: it brakes once and never starts again"
            );
            let per_tick = (accel as i32 * 1024) / 1000 + 2;
            let steepest = braking.windows(2).map(|w| w[0] - w[1]).max().expect("many");
            // A millisecond's change is sampled within 1/16 ms.
            assert!(
                steepest <= per_tick + per_tick / 8,
                "{accel} {jerk}: {steepest} > {per_tick}"
            );
            let jolt = braking
                .windows(3)
                .map(|w| (w[0] - 2 * w[1] + w[2]).abs())
                .max()
                .expect("many");
            let jerk_per_tick = jerk as i32 / 1000 * 1024 / 1000 + 2;
            assert!(
                jolt <= jerk_per_tick + per_tick / 8 + 2,
                "{accel} {jerk}: {jolt} > {jerk_per_tick}"
            );
        }
    }
}

/// Once stopped for an end it does not creep on in what little room is left, whatever outward speed is asked for; after zero it may.
#[test]
fn a_stop_for_an_end_is_for_good() {
    let mut bench = Bench::ready(
        &[axis("pan", 1667, 0)],
        &[limits(Some((-900, 900)), 3333, 8333)],
    );
    for frame in 0..600 {
        assert!(bench.drive(&[(frame * 10 * COUNT).min(1500 * COUNT)]));
        bench.ticks(4);
    }
    assert_eq!(bench.velocity(0), 0);
    for speed in [5, 1, 300, 20, 2].repeat(50) {
        assert!(bench.drive(&[speed * COUNT]));
        for _ in 0..4 {
            bench.tick();
            assert_eq!(bench.velocity(0), 0);
        }
    }
    assert!(bench.drive(&[0]));
    bench.tick();
    assert!(bench.drive(&[512]));
    bench.tick();
    assert_eq!(
        bench.velocity(0),
        512,
        "half a count per second fits in a quarter of a count"
    );
}

/// Full speed asked for from rest, close to the end: as fast as still fits, and up to the end.
#[test]
fn a_step_too_close_to_the_end_is_cut_not_refused() {
    let mut bench = Bench::ready(
        &[axis("pan", 1667, 0)],
        &[limits(Some((-900, 30)), 3333, 8333)],
    );
    assert!(bench.drive(&[1500 * COUNT]));
    bench.tick();
    assert!(bench.velocity(0) > 100 * COUNT, "{}", bench.velocity(0));
    for _ in 0..250 {
        assert!(bench.drive(&[1500 * COUNT]));
        bench.ticks(4);
    }
    assert_eq!(bench.velocity(0), 0);
    assert!(
        (29..=30).contains(&bench.position(0)),
        "{}",
        bench.position(0)
    );
}

/// At the end, outward is refused, inward passes at once and unchanged.
#[test]
fn inward_always_passes() {
    let mut bench = Bench::ready(
        &[axis("pan", 1667, 100)],
        &[limits(Some((-100, 100)), 3333, 8333)],
    );
    for _ in 0..50 {
        assert!(bench.drive(&[500 * COUNT]));
        bench.ticks(4);
    }
    assert_eq!((bench.position(0), bench.velocity(0)), (100, 0));
    assert_eq!(bench.state().at_end, 1);
    assert!(bench.drive(&[-3 * COUNT]));
    bench.tick();
    assert_eq!(bench.velocity(0), -3 * COUNT);
    assert_eq!(bench.state().at_end, 0);
}

#[test]
fn outside_travel_inward_only() {
    for (start, inward) in [(150, -1), (-150, 1)] {
        let mut bench = Bench::ready(
            &[axis("pan", 1667, start)],
            &[limits(Some((-100, 100)), 3333, 8333)],
        );
        for _ in 0..20 {
            assert!(bench.drive(&[-inward * 200 * COUNT]));
            bench.ticks(4);
            assert_eq!(bench.velocity(0), 0);
        }
        assert_eq!(bench.position(0), start);
        let mut last = start.abs();
        for _ in 0..1000 {
            assert!(bench.drive(&[inward * 20 * COUNT]));
            bench.ticks(4);
            assert!(bench.velocity(0) == inward * 20 * COUNT || bench.position(0).abs() <= 100);
            assert!(bench.position(0).abs() <= last.max(100));
            last = bench.position(0).abs();
        }
    }
}

#[test]
fn unreferenced_and_continuous_axes_have_no_ends() {
    let mut free = axis("pan", 1667, 0);
    free.referenced = false;
    let turntable = axis("turn", 1667, 0);
    let setups = [
        limits(Some((-100, 100)), 3333, 8333),
        limits(None, 3333, 8333),
    ];
    let mut bench = Bench::ready(&[free, turntable], &setups);
    for _ in 0..250 {
        assert!(bench.drive(&[500 * COUNT, 500 * COUNT]));
        bench.ticks(4);
    }
    assert_eq!((bench.position(0), bench.position(1)), (500, 500));
}

/// What a daemon's own stop (speeds held for one frame, ending on the last count) becomes: how far the rig's speed was from it at most, in
/// counts/s, and how many counts short of the end it came to rest. The stop is `percent` of the stop set.
fn braking_daemon(
    percent: i64,
    frame_ms: i64,
    (accel, jerk, speed): (i64, i64, i64),
) -> (i32, i32) {
    let soft = stop_from(accel * percent / 100, jerk * percent / 100, speed);
    let ramp: Vec<i64> = (1..)
        .map(|i| soft(i * frame_ms))
        .take_while(|v| *v > 0)
        .collect();
    // What the held speeds will cover, in 1/1024/1000 count.
    let braking: i64 = ramp.iter().map(|v| v * frame_ms).sum();
    let cruise = 1500 / frame_ms;
    let total = braking + cruise * frame_ms * speed * 1024;
    let high = total.div_euclid(1_024_000) as i32 + 1;
    let setup = limits(Some((-10, high)), accel as u32, jerk as u32);
    let mut bench = Bench::ready(&[axis("pan", MAX_SPEED, 0)], &[setup]);
    let mut furthest = 0;
    let speeds = std::iter::repeat_n(speed * 1024, cruise as usize)
        .chain(ramp)
        .map(|v| v as i32);
    for speed in speeds.chain([0; 10]) {
        assert!(bench.drive(&[speed]));
        for _ in 0..frame_ms {
            bench.tick();
            furthest = furthest.max((speed - bench.velocity(0)).abs());
        }
    }
    assert_eq!(bench.velocity(0), 0);
    ((furthest + COUNT - 1) / COUNT, high - bench.position(0))
}

const MOTIONS: [(i64, i64, i64); 4] = [
    (3333, 8333, 1667),
    (3333, 30_000, 1667),
    (20_000, 60_000, 3900),
    (1000, 3000, 200),
];

/// At 250 Hz up to 0.9 of the stop set, at 125 Hz up to 0.85: obeyed to the bit.
#[test]
fn a_command_that_brakes_in_time_is_not_disturbed() {
    for (percent, frame_ms) in [(50, 4), (80, 4), (90, 4), (80, 8), (85, 8)] {
        for motion in MOTIONS {
            let (furthest, short) = braking_daemon(percent, frame_ms, motion);
            assert_eq!(furthest, 0, "{percent} % at {frame_ms} ms: {motion:?}");
            assert!(
                (0..=1).contains(&short),
                "{percent} % at {frame_ms} ms: {motion:?}: {short} short"
            );
        }
    }
}

/// A daemon that brakes with all of the stop set leaves the rig no time to wait for the next frame. The rig may then be
/// ahead of it by what the deceleration changes in two frames, no more.
#[test]
fn a_command_at_the_stop_set_is_met_within_two_frames() {
    for frame_ms in [4, 8, 20] {
        for motion in MOTIONS {
            let (furthest, short) = braking_daemon(100, frame_ms, motion);
            let two_frames = motion.0 * frame_ms * 2 / 1000;
            assert!(
                i64::from(furthest) <= two_frames,
                "{frame_ms} ms: {motion:?}: {furthest}"
            );
            assert!(
                (0..=10).contains(&short),
                "{frame_ms} ms: {motion:?}: {short} short"
            );
        }
    }
}

/// Speed in 1/1024 count/s at `ms` of a stop, by the closed form, for the daemon's side.
fn stop_from(accel: i64, jerk: i64, speed: i64) -> impl Fn(i64) -> i64 {
    let (a, j, v) = (accel as f64, jerk as f64, speed as f64);
    let peak = if v >= a * a / j { a } else { (v * j).sqrt() };
    let (press, total) = (peak / j, v / peak + peak / j);
    move |ms| {
        let t = ms as f64 / 1000.0;
        let speed = if t < press {
            v - j * t * t / 2.0
        } else if t < total - press {
            v - peak * press / 2.0 - peak * (t - press)
        } else {
            j * (total - t).max(0.0).powi(2) / 2.0
        };
        (speed * 1024.0) as i64
    }
}
