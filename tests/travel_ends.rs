//! A stick held at full against each end of the travel, over many rigs and hands.

use stillhand::soak::random;
use stillhand::soak::rigs;

use random::Random;
use rigs::{hands, one_axis};
use stillhand::soak::world::{World, WorldOptions};
use stillhand_engine::input::{Button, Control, PadEvent, PadId};
use stillhand_engine::output::Notice;
use stillhand_engine::rig::{Rig, Travel};
use stillhand_engine::time::Span;

const PAD: PadId = PadId(0);

/// An axis at rest under a stick that still pushes is at most this far from its end: one count is
/// kept because a position is known to a count, one for rounding the wire's travel inward, and the
/// last bits of a landing are below what the wire can tell.
const MOST_SHORT_COUNTS: f64 = 5.0;

/// Where and how far one push went.
struct Push {
    /// Counts the axis ran back from its furthest.
    back: f64,
    /// Counts from the end at which it rests; `None` if it still moves.
    short: Option<f64>,
}

fn push(world: &mut World, rig: &Rig, direction: f64, period: Span, random: &mut Random) -> Push {
    world.pad(PAD, PadEvent::Moved(Control::Rx, direction));
    let count = 1.0 / rig.axes[0].counts_per_unit;
    let end = world.now() + Span::from_millis(20_000);
    let chance = random.below(6) as f64 * period.secs() / 20.0;
    let mut furthest = direction * world.truth(0);
    let mut back: f64 = 0.0;
    let mut turned = false;
    while world.now() < end {
        if random.chance(chance) {
            let button = random.pick(&[Button::Tl, Button::Tr]);
            world.pad(PAD, PadEvent::Pressed(button, true));
            world.pad(PAD, PadEvent::Pressed(button, false));
        }
        world.tick();
        let at = direction * world.truth(0);
        // What is left of the motion the other way is not a throw-back.
        turned |= at > furthest;
        if !turned {
            furthest = at;
        }
        furthest = furthest.max(at);
        back = back.max((furthest - at) / count);
    }
    let Travel::Finite(ends) = rig.axes[0].travel else {
        unreachable!("made with ends")
    };
    let end = if direction > 0.0 {
        ends.high().0
    } else {
        -ends.low().0
    };
    let resting = world.speeds()[0] == 0.0;
    Push {
        back,
        short: resting.then(|| (end - direction * world.truth(0)) / count),
    }
}

/// 1,000 random normal and stop sets; the stick at full for 20 s against each end, with the normal
/// set in force lowered and raised on the way by random gears; one line in eight adds damaged,
/// cut and repeated copies of each frame. The laws hold, and the axis comes to
/// rest on the end: not beyond, not thrown back, not before it.
#[test]
fn a_stick_held_against_an_end_lands_on_it() {
    let mut landed = 0;
    for seed in 0..1_000 {
        let mut random = Random::new(seed);
        let rig = one_axis(&mut random);
        let operator = hands(&rig, &mut random);
        let periods_us = [1_000, 2_000, 4_000, 4_000, 10_000, 20_000];
        let period = Span::from_micros(random.pick(&periods_us));
        let options = WorldOptions {
            period,
            line_delay: Span::from_millis(1),
            hostile_line: seed % 8 == 1,
            rig_clock_us: 0,
            excuses_weak_motors: false,
        };
        let mut world = World::new(&rig, &operator, options).expect("a valid world");
        world.plug(PAD);
        world.pad(PAD, PadEvent::Moved(Control::Rx, 0.0));
        world.run(0.4);
        assert!(world.ready(), "seed {seed}: no link");
        for direction in [1.0, -1.0] {
            let push = push(&mut world, &rig, direction, period, &mut random);
            assert!(
                push.back < 1.0,
                "seed {seed}: thrown back by {} counts",
                push.back
            );
            if let Some(short) = push.short {
                assert!(
                    short <= MOST_SHORT_COUNTS,
                    "seed {seed}: rests {short} counts short"
                );
                landed += 1;
            }
        }
        if let Err(breaches) = world.verdict() {
            panic!("seed {seed}, period {period:?}:\n{breaches}");
        }
    }
    // Slow gears do not get there in 20 s; most do.
    assert!(
        landed > 1_000,
        "only {landed} of 2,000 pushes reached an end"
    );
}

/// The loop is late by up to its bound while the axis brakes for an end, once in each braking: for that the guard's
/// plan has room. Where it does not fit in the set in force, the guard is late and the stop set brakes; the
/// axis stays inside, and every brake comes off in time.
#[test]
fn a_late_turn_while_braking_for_an_end() {
    let mut late = 0;
    for seed in 0..400 {
        let mut random = Random::new(seed);
        let rig = one_axis(&mut random);
        let operator = hands(&rig, &mut random);
        let period = Span::from_micros(random.pick(&[2_000, 4_000, 10_000]));
        let options = WorldOptions {
            period,
            line_delay: Span::from_millis(1),
            hostile_line: false,
            rig_clock_us: 0,
            excuses_weak_motors: false,
        };
        let mut world = World::new(&rig, &operator, options).expect("a valid world");
        world.plug(PAD);
        world.pad(PAD, PadEvent::Moved(Control::Rx, 0.0));
        world.run(0.4);
        world.pad(PAD, PadEvent::Pressed(Button::Tr, true));
        world.pad(PAD, PadEvent::Moved(Control::Rx, 1.0));
        let (end, mut braking) = (world.now() + Span::from_millis(20_000), false);
        while world.now() < end {
            let pause = match braking && random.chance(0.3) {
                true => Span::from_micros(random.between(40e3, 79e3) as u64),
                false => period,
            };
            braking &= pause == period;
            world.tick_after(pause);
            let told = |notice| world.outputs().notices.iter().any(|n| n == notice);
            braking |= told(Notice::TravelEnd { rig: 0, axis: 0 });
            late += u32::from(told(Notice::GuardLate { rig: 0, axis: 0 }));
        }
        if let Err(breaches) = world.verdict() {
            panic!("seed {seed}, period {period:?}:\n{breaches}");
        }
    }
    assert!(late >= 50, "the guard was late only {late} times");
}
