//! A stick held at full against each end of the travel, over many rigs and hands.

#[path = "support/random.rs"]
mod random;
#[path = "support/rigs.rs"]
mod rigs;

use random::Random;
use rigs::{hands, one_axis};
use stillhand::soak::world::{World, WorldOptions};
use stillhand_engine::input::{Button, Control, PadEvent, PadId};
use stillhand_engine::time::Span;

const PAD: PadId = PadId(0);

fn push(world: &mut World, value: f64) {
    world.pad(PAD, PadEvent::Moved(Control::Rx, value));
}

fn tap(world: &mut World, button: Button) {
    world.pad(PAD, PadEvent::Pressed(button, true));
    world.pad(PAD, PadEvent::Pressed(button, false));
}

/// 1,000 random normal and stop sets; the stick at full for 20 s against each end, with the normal
/// set in force lowered and raised on the way by random gears. The laws hold, and the axis comes to
/// rest at the end: not beyond, not thrown back, and no more than a few counts before it.
#[test]
fn a_stick_held_against_an_end_lands_on_it() {
    let worlds = std::env::var("STILLHAND_WORLDS")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(1_000);
    let from: u64 = std::env::var("STILLHAND_SEED")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(0);
    for seed in from..from + worlds {
        let mut random = Random::new(seed);
        let rig = one_axis(&mut random);
        let operator = hands(&rig, &mut random);
        let period = Span::from_micros(random.pick(&[1_000, 2_000, 4_000, 4_000, 10_000, 20_000]));
        let options = WorldOptions {
            period,
            line_delay: Span::from_millis(1),
        };
        let mut world = World::new(&rig, &operator, options).expect("a valid world");
        world.plug(PAD);
        push(&mut world, 0.0);
        world.run(0.4);
        assert!(world.ready(), "seed {seed}: no link");
        let count = 1.0 / rig.axes[0].counts_per_unit;
        for direction in [1.0, -1.0] {
            push(&mut world, direction);
            let mut furthest = direction * world.truth(0);
            let end = world.now() + Span::from_millis(20_000);
            let mut back: f64 = 0.0;
            let shifts = random.below(6);
            let chance = shifts as f64 * period.secs() / 20.0;
            while world.now() < end {
                if random.chance(chance) {
                    let button = random.pick(&[Button::Tl, Button::Tr]);
                    tap(&mut world, button);
                }
                world.tick();
                let at = direction * world.truth(0);
                furthest = furthest.max(at);
                back = back.max(furthest - at);
            }
            assert!(
                back < count,
                "seed {seed}: thrown back by {} counts",
                back / count
            );
        }
        if let Err(breaches) = world.verdict() {
            panic!("seed {seed}, period {period:?}: {breaches}");
        }
    }
}
