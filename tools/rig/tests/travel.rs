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
            // Braking may begin as if it had begun with the frame in force, 4 ms and a tick before.
            let first = braking
                .windows(2)
                .position(|w| w[0] > w[1])
                .expect("brakes");
            let entry = braking[first] - braking[first + 1];
            let in_a_frame = (accel * 5 / 1000).min(jerk / 1000 * 25 / 2000) as i32 * 1024;
            assert!(entry <= in_a_frame + 1024, "{accel} {jerk}: {entry}");
            let braking = &braking[first + 1..];
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

/// Pushed, the axis goes by its encoder: the session goes on, the position jumps, and travel is kept from the new place.
#[test]
fn a_slip_shows_and_travel_goes_by_it() {
    for (slip, end) in [(50, 100), (-50, 100), (500, 500)] {
        let mut bench = Bench::ready(
            &[axis("pan", 1667, 0)],
            &[limits(Some((-100, 100)), 3333, 8333)],
        );
        bench.slip(0, slip);
        assert_eq!(bench.state().axes[0].position, slip);
        assert_eq!(bench.state().axes[0].at_applied, 0, "it was there then");
        for _ in 0..500 {
            assert!(bench.drive(&[300 * COUNT]));
            bench.ticks(4);
        }
        assert!((end - 1..=end).contains(&bench.position(0)), "{slip}");
        assert!(bench.drive(&[-5 * COUNT]), "inward passes");
        bench.tick();
        assert_eq!(bench.velocity(0), -5 * COUNT);
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

/// A daemon's own stop with `percent` of the stop set, as speeds held for one frame each, after 0.4 s from rest and 1.1 s at full speed; and the count on which it ends.
fn braking_daemon(
    percent: i64,
    frame_ms: i64,
    (accel, jerk, speed): (i64, i64, i64),
) -> (Vec<i32>, i32) {
    let soft = stop_from(accel * percent / 100, jerk * percent / 100, speed);
    let ramp: Vec<i64> = (1..)
        .map(|i| soft(i * frame_ms))
        .take_while(|v| *v > 0)
        .collect();
    // What the held speeds will cover, in 1/1024/1000 count.
    let braking: i64 = ramp.iter().map(|v| v * frame_ms).sum();
    let ahead: Vec<i64> = (1..=1500 / frame_ms)
        .map(|i| speed * 1024 * (i * frame_ms).min(400) / 400)
        .collect();
    let total = braking + ahead.iter().map(|v| v * frame_ms).sum::<i64>();
    let speeds = ahead.into_iter().chain(ramp).map(|v| v as i32);
    (speeds.collect(), total.div_euclid(1_024_000) as i32 + 1)
}

/// How far the rig's speed was from such a stop at most, 1/1024 count/s, and how many counts short of the end it came to rest.
fn disturbance(percent: i64, frame_ms: i64, motion: (i64, i64, i64)) -> (i32, i32) {
    let (speeds, high) = braking_daemon(percent, frame_ms, motion);
    let setup = limits(Some((-10, high)), motion.0 as u32, motion.1 as u32);
    let mut bench = Bench::ready(&[axis("pan", MAX_SPEED, 0)], &[setup]);
    let mut furthest = 0;
    for speed in speeds.into_iter().chain([0; 10]) {
        assert!(bench.drive(&[speed]));
        for _ in 0..frame_ms {
            bench.tick();
            furthest = furthest.max((speed - bench.velocity(0)).abs());
        }
    }
    assert_eq!(bench.velocity(0), 0);
    (furthest, high - bench.position(0))
}

const MOTIONS: [(i64, i64, i64); 4] = [
    (3333, 8333, 1667),
    (3333, 30_000, 1667),
    (20_000, 60_000, 3900),
    (1000, 3000, 200),
];

/// Up to all of the stop set, at 250 Hz down to 50 Hz: obeyed to the bit, and to the end.
#[test]
fn a_command_that_brakes_in_time_is_not_disturbed() {
    for frame_ms in [1, 2, 4, 5, 8, 10, 16, 20] {
        for percent in [50, 80, 90, 95, 100] {
            for motion in MOTIONS {
                let (furthest, short) = disturbance(percent, frame_ms, motion);
                let case = format!("{percent} % at {frame_ms} ms: {motion:?}");
                assert_eq!(furthest, 0, "{case}");
                assert!((0..=1).contains(&short), "{case}: {short} short");
            }
        }
    }
}

fn any_motion(random: &mut Random) -> (i64, i64, i64) {
    let accel = random.between(500, 30_000);
    // From ramps that are all jerk to ramps that hardly have any.
    let jerk = accel * random.between(2, 30);
    (accel, jerk, random.between(50, 3900))
}

/// The same for any stop set and speed at the usual frame times.
#[test]
fn any_braking_in_time_is_not_disturbed() {
    let mut random = Random(21);
    for _ in 0..600 {
        let motion = any_motion(&mut random);
        let (percent, frame_ms) = (random.between(40, 100), random.between(4, 20));
        let (furthest, short) = disturbance(percent, frame_ms, motion);
        let case = format!("{percent} % at {frame_ms} ms: {motion:?}");
        assert_eq!(furthest, 0, "{case}");
        assert!((0..=1).contains(&short), "{case}: {short} short");
    }
}

/// The frames end, or full speed is asked for again, anywhere in such a stop: the rig finishes it inside, and no tick takes off more than
/// the stop set does in a frame and a tick.
#[test]
fn credit_is_paid_back_inside() {
    let mut random = Random(22);
    for round in 0..300 {
        let motion = any_motion(&mut random);
        let frame_ms = random.between(4, 20);
        let (speeds, high) = braking_daemon(100, frame_ms, motion);
        let setup = limits(Some((-10, high)), motion.0 as u32, motion.1 as u32);
        let mut bench = Bench::ready(&[axis("pan", MAX_SPEED, 0)], &[setup]);
        let cruise = 1500 / frame_ms;
        let cut = random.between(cruise - 5, speeds.len() as i64) as usize;
        let again = random.below(2) == 0;
        // A millisecond's change is sampled within 1/16 ms.
        let most = motion.0 * (frame_ms * 16 + 17) * 1024 / 16_000 + 1024;
        let mut last = 0;
        for frame in 0..speeds.len() + 400 {
            match speeds.get(frame) {
                Some(speed) if frame < cut => assert!(bench.drive(&[*speed])),
                _ if again => _ = bench.drive(&[motion.2 as i32 * COUNT]),
                _ => {}
            }
            for tick in 0..frame_ms {
                bench.tick();
                let drop = i64::from(last - bench.velocity(0));
                let case = format!("round {round}: {motion:?}, {frame_ms} ms, cut {cut}: {drop}");
                assert!(drop <= most, "{case} > {most}");
                assert!(bench.position(0) <= high, "{case} at {frame}.{tick}");
                last = bench.velocity(0);
            }
        }
        assert_eq!(last, 0, "round {round}");
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
