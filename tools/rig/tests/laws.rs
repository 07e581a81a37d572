//! The rig's own stops before the laws checker: lawfully brought to speed, then stopped by each cause
//! there is, and what the motors do judged by `smooth` (the stop set), `loss` (time and distance by the
//! closed form from the state at the cause), `travel` and `ceiling`.

mod common;

use common::judge::Judge;
use common::{Bench, Random, SESSION, axis, hello};
use stillhand_laws::{Asked, Event, Law};
use stillhand_rig::Inputs;
use stillhand_wire::messages::{AxisSetup, Ramp};

/// Judged from one millisecond to the next ...
const LAWS: &[Law] = &[Law::Ceiling, Law::Travel, Law::Loss];
/// ... and over 16 of them.
const SMOOTH: &[Law] = &[Law::Smooth];
const MAX_SPEED: u32 = 4000;

/// What makes a rig stop by itself.
#[derive(Clone, Copy, Debug)]
enum Cause {
    Watchdog,
    StopInput,
    Fault,
    NewSession,
}

/// A daemon's own way to a speed, as 1/1024 count/s each millisecond: half of the set's acceleration,
/// and a fifth of its jerk, so that rounding to whole units is far inside.
fn ramp_up(ramp: Ramp, speed: f64) -> Vec<i32> {
    let (accel, jerk) = (f64::from(ramp.accel) / 2.0, f64::from(ramp.jerk) / 5.0);
    let (mut v, mut a, dt) = (0.0_f64, 0.0_f64, 1e-3);
    let mut speeds = Vec::new();
    loop {
        // Where it would end if the acceleration were taken out now, a step's worth early.
        let ends = v + a * dt + a * a / (2.0 * jerk);
        a = if ends >= speed {
            (a - jerk * dt).max(0.0)
        } else {
            (a + jerk * dt).min(accel)
        };
        if a == 0.0 {
            return speeds;
        }
        v += a * dt;
        speeds.push((v * 1024.0).round() as i32);
    }
}

/// Both judges of one rig.
struct Judges([Judge; 2]);

impl Judges {
    fn tell(&mut self, event: &Event) {
        self.0.iter_mut().for_each(|judge| judge.tell(event));
    }

    fn tick(&mut self, bench: &mut Bench) {
        bench.tick();
        let motors = [(bench.velocity(0), bench.position(0))];
        self.0.iter_mut().for_each(|judge| judge.look(&motors));
    }
}

/// Drives up, on for a while, and lets the cause happen in the middle of it or at full speed.
fn stopped_by(cause: Cause, random: &mut Random) {
    let accel = 500 + random.below(30_000) as u32;
    let plus = Ramp {
        accel,
        jerk: accel * (2 + random.below(28) as u32),
    };
    let minus = Ramp {
        accel: plus.accel / 2 + 1,
        jerk: plus.jerk / 2 + 1,
    };
    let sign = if random.below(2) == 0 { 1 } else { -1 };
    let setup = AxisSetup {
        travel: Some((-1_000_000, 1_000_000)),
        stop_plus: plus,
        stop_minus: minus,
    };
    let pan = axis("pan", MAX_SPEED, 0);
    let mut bench = Bench::ready(std::slice::from_ref(&pan), &[setup]);
    let config = common::config(&[pan]);
    let mut judge = Judges([
        Judge::new(&config, &[setup], LAWS),
        Judge::every(16, &config, &[setup], SMOOTH),
    ]);
    judge.tell(&Event::Ask(0, Asked::Repeat));
    let speed = random.between(50, 3_900) as f64;
    let up = ramp_up(minus, speed);
    let full = *up.last().expect("some");
    // A speed held because frames have ended is a step of its own while speed is gained.
    let earliest = if matches!(cause, Cause::Watchdog) {
        up.len() + 20
    } else {
        0
    };
    let cut = earliest + random.below(up.len() as u64 + 200) as usize;
    for speed in up
        .iter()
        .copied()
        .chain(std::iter::repeat(full))
        .take(cut + 1)
    {
        assert!(bench.drive(&[speed * sign]));
        judge.tick(&mut bench);
    }
    let mut wait = 0;
    match cause {
        Cause::Watchdog => wait = 119,
        Cause::StopInput => bench.rig.set_inputs(Inputs {
            stop_input: true,
            ..Inputs::default()
        }),
        Cause::Fault => bench.rig.set_inputs(Inputs {
            faults: 1,
            ..Inputs::default()
        }),
        Cause::NewSession => bench.send(&hello(SESSION + 1)),
    }
    for _ in 0..wait {
        judge.tick(&mut bench);
    }
    judge.tell(&Event::Stop);
    let mut ms = 0;
    while !bench.rig.at_rest() {
        judge.tick(&mut bench);
        ms += 1;
        assert!(ms < 60_000, "{cause:?}: it never stops");
    }
    let case = format!(
        "{cause:?} {plus:?} {minus:?} {sign} after {cut} ms of {}",
        up.len()
    );
    judge.0.iter_mut().for_each(|judge| judge.verdict(&case));
}

#[test]
fn each_of_the_rigs_own_stops_keeps_the_laws() {
    let mut random = Random(31);
    for _ in 0..100 {
        for cause in [
            Cause::Watchdog,
            Cause::StopInput,
            Cause::Fault,
            Cause::NewSession,
        ] {
            stopped_by(cause, &mut random);
        }
    }
}

/// Whatever is asked for, the motors are never told more than the rig's own speed.
#[test]
fn a_speed_beyond_the_rigs_own_is_cut() {
    let setup = common::limits(None, 3333, 8333);
    for speed in [i32::MAX, i32::MIN, 5_000 * 1024, -4_001 * 1024] {
        let mut bench = Bench::ready(&[axis("turn", MAX_SPEED, 0)], &[setup]);
        assert!(bench.drive(&[speed]));
        bench.ticks(100);
        assert_eq!(bench.velocity(0), speed.signum() * MAX_SPEED as i32 * 1024);
    }
}
