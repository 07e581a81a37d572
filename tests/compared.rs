//! Laws `same` and `whole`, judged by comparing whole runs: of the same inputs, and with and without another
//! profile.

use stillhand::soak::facts::{facts, nanos};
use stillhand::soak::random::Random;
use stillhand::soak::rigs;
use stillhand::soak::world::{World, WorldOptions};
use stillhand_engine::feel::{Curve, Throw};
use stillhand_engine::input::{Button, Control, PadEvent, PadId};
use stillhand_engine::operator::{Gears, Operator};
use stillhand_engine::output::Notice;
use stillhand_engine::rig::{Rig, Travel};
use stillhand_engine::time::Span;
use stillhand_engine::units::Speed;
use stillhand_laws::{AxisFacts, Nanos, ProfileChange, Trace};
use stillhand_laws::{compare_same, compare_unchanged, compare_whole};

const PAD: PadId = PadId(0);
/// When the other profile is handed over.
const SAVED: Span = Span::from_millis(6_000);

/// A rig of two axes without ends, so that a held stick is a constant speed.
fn rig(random: &mut Random) -> Rig {
    let axes = ["pan", "tilt"].map(|name| {
        let mut axis = rigs::axis(name, random);
        axis.travel = Travel::Continuous;
        axis
    });
    rigs::rig(axes.to_vec())
}

fn axes(rig: &Rig, operator: &Operator) -> Vec<AxisFacts> {
    facts(rig, operator, WorldOptions::default().period).axes
}

/// Plays `seconds` with the sticks as `push` says of each tick, and hands `offer` over when it is due. Says
/// also how often a profile came into force.
fn played(
    (rig, operator): (&Rig, &Operator),
    seconds: f64,
    push: impl Fn(u64, &mut World),
    offer: Option<&Operator>,
) -> (Trace, usize) {
    let world = World::new(rig, operator, WorldOptions::default()).expect("a valid world");
    // On the heap, so that it can lie elsewhere in another run.
    let mut world = Box::new(world);
    world.plug(PAD);
    let mut trace = Trace::new(rig.axes.len());
    let (mut applied, mut tick) = (0, 0);
    while world.now().0 < Span::from_secs_f64(seconds).0 {
        push(tick, &mut world);
        if world.now().0 == SAVED.0
            && let Some(offer) = offer
        {
            world.offer(offer);
        }
        world.tick();
        trace.push(nanos(Span(world.now().0)), world.speeds());
        let in_force = |n: &Notice| *n == Notice::ProfileApplied;
        applied += world.outputs().notices.iter().filter(in_force).count();
        tick += 1;
    }
    world.verdict().expect("within the laws");
    (trace, applied)
}

/// Sticks centred for half a second, then pushed and left there.
fn held(values: [f64; 2]) -> impl Fn(u64, &mut World) {
    move |tick, world| {
        for (control, value) in [Control::Rx, Control::Ry].into_iter().zip(values) {
            match tick {
                0 => world.pad(PAD, PadEvent::Moved(control, 0.0)),
                125 => world.pad(PAD, PadEvent::Moved(control, value)),
                _ => {}
            }
        }
    }
}

/// Anything, from numbers of its own: the same in each run.
fn anything(seed: u64) -> impl Fn(u64, &mut World) {
    move |tick, world| {
        let mut random = Random::new(seed ^ (tick << 20));
        if tick < 100 {
            for control in Control::ALL {
                world.pad(PAD, PadEvent::Moved(control, 0.0));
            }
        } else if random.chance(0.05) {
            let control = random.pick(&[Control::Rx, Control::Ry]);
            world.pad(PAD, PadEvent::Moved(control, random.between(-1.0, 1.0)));
        } else if random.chance(0.01) {
            let button = random.pick(&[Button::Tl, Button::Tr]);
            world.pad(PAD, PadEvent::Pressed(button, true));
            world.pad(PAD, PadEvent::Pressed(button, false));
        }
    }
}

#[test]
fn the_same_inputs_are_the_same_run() {
    for seed in 0..10 {
        let mut random = Random::new(seed);
        let rig = rig(&mut random);
        let operator = rigs::hands(&rig, &mut random);
        let (one, _) = played((&rig, &operator), 20.0, anything(seed), None);
        // The second run is to find another heap than the first.
        let in_the_way = vec![0_u8; 100_000 + 48 * seed as usize];
        let (two, _) = played((&rig, &operator), 20.0, anything(seed), None);
        drop(in_the_way);
        let moves = (0..one.len()).filter(|n| one.get(*n).is_some_and(|(_, v)| v[0] != 0.0));
        assert!(
            moves.count() > 1_000,
            "seed {seed}: too little moved to show anything"
        );
        if let Err(breach) = compare_same(&one, &two, &axes(&rig, &operator)) {
            panic!("seed {seed}: {breach}");
        }
    }
}

#[test]
fn a_profile_that_does_not_fit_changes_not_a_bit() {
    for seed in 0..10 {
        let mut random = Random::new(seed);
        let rig = rig(&mut random);
        let operator = rigs::hands(&rig, &mut random);
        let mut wrong = another(&operator, &mut random);
        wrong.hands[1].axis = 5;
        let (with, applied) = played((&rig, &operator), 20.0, anything(seed), Some(&wrong));
        assert_eq!(applied, 0, "seed {seed}");
        let (without, _) = played((&rig, &operator), 20.0, anything(seed), None);
        if let Err(breach) = compare_unchanged(&with, &without, &axes(&rig, &operator)) {
            panic!("seed {seed}: {breach}");
        }
    }
}

/// Another feel and other speeds for every axis, none of them faster by a quarter: it applies at once.
fn another(operator: &Operator, random: &mut Random) -> Operator {
    let mut other = operator.clone();
    for hand in &mut other.hands {
        let share = random.between(0.4, 0.9);
        let gears: Vec<Speed> = (0..hand.gears.count())
            .map(|gear| Speed(hand.gears.speed(gear).0 * share))
            .collect();
        hand.gears = Gears::new(&gears).expect("rising still");
        hand.curve = Curve::exponential(random.between(0.05, 0.12)).expect("a half in range");
        hand.throw = Throw::new(random.between(0.05, 0.3), 0.9).expect("apart");
    }
    other
}

#[test]
fn a_profile_takes_effect_on_every_axis_or_on_none() {
    for seed in 0..40 {
        let mut random = Random::new(seed);
        let rig = rig(&mut random);
        let old = rigs::hands(&rig, &mut random);
        let new = another(&old, &mut random);
        let push = [random.between(0.5, 0.8), -random.between(0.5, 0.8)];
        let seconds = 20.0;
        let run = |operator, offer| played((&rig, operator), seconds, held(push), offer);
        let (changed, applied) = run(&old, Some(&new));
        assert_eq!(applied, 1, "seed {seed}");
        let change = ProfileChange {
            changed: &changed,
            old: &run(&old, None).0,
            new: &run(&new, None).0,
            at: nanos(SAVED),
            // The slowest gain or lose time is 3 s, and an axis may take its rig's normal set 4 s.
            settle: Nanos::millis(8_000),
        };
        if let Err(breach) = compare_whole(&change, &axes(&rig, &old)) {
            panic!("seed {seed}: {breach}");
        }
    }
}
