//! Room tone on a driven rig: in `still` the motors that may hold with less current, and have it back, all of it,
//! before anything moves. Engine, session, wire, rig end and mechanics together; the laws are judged throughout.

use stillhand::link::mischief;
use stillhand::profile::{builtin, load_operator, load_rig};
use stillhand::soak::random::Random;
use stillhand::soak::world::{World, WorldOptions};
use stillhand_engine::current::Current;
use stillhand_engine::input::{Control, Order, PadEvent, PadId};
use stillhand_engine::operate::modes::Mode;
use stillhand_engine::output::{State, Why};
use stillhand_engine::time::Span;

const PAD: PadId = PadId(0);

fn bench(options: WorldOptions) -> World {
    let rig = load_rig(&builtin::BENCH_RIG.source()).unwrap().rig;
    let may: Vec<bool> = rig.axes.iter().map(|axis| axis.may_lower_current).collect();
    assert_eq!(may, [true, false, true], "a long lens hangs on the tilt");
    let operator = load_operator(&builtin::TALK.source()).unwrap();
    let operator = operator.resolve(std::slice::from_ref(&rig)).unwrap();
    let mut world = World::new(&rig, &operator, options).unwrap();
    world.plug(PAD);
    for control in Control::ALL {
        world.pad(PAD, PadEvent::Moved(control, 0.0));
    }
    world.run(1.0);
    assert_eq!(world.outputs().status.state, State::Driving);
    world
}

fn weak(world: &World) -> Vec<bool> {
    (0..3).map(|axis| world.is_lowered(axis)).collect()
}

/// A tick, after which nothing may move that is weak, nor be told to.
fn tick(world: &mut World) {
    world.tick();
    if weak(world).contains(&true) {
        assert!(world.speeds().iter().all(|speed| *speed == 0.0));
        assert!((0..3).all(|axis| world.true_speed(axis) == 0.0));
    }
}

fn run(world: &mut World, seconds: f64) {
    let end = world.now() + Span::from_secs_f64(seconds);
    while world.now() < end {
        tick(world);
    }
}

fn still(world: &mut World, on: bool) {
    world.order(Order::Mode(Mode::Still, on));
}

#[test]
fn motors_are_weak_in_still_and_strong_before_the_next_move() {
    let mut world = bench(WorldOptions::default());
    world.pad(PAD, PadEvent::Moved(Control::Rx, 1.0));
    run(&mut world, 2.0);
    assert!(world.true_speed(0) > 1.0);
    still(&mut world, true);
    world.pad(PAD, PadEvent::Moved(Control::Rx, 0.0));
    run(&mut world, 3.0);
    assert_eq!(weak(&world), [true, false, true]);
    let stood = world.truth(0);
    run(&mut world, 10.0);
    assert_eq!(weak(&world), [true, false, true]);

    still(&mut world, false);
    let asked = world.now();
    tick(&mut world);
    assert_eq!(world.outputs().status.state, State::Still);
    while world.outputs().status.state == State::Still {
        assert_eq!(world.outputs().rigs[0].current, Current::Awaited);
        tick(&mut world);
    }
    // The drives take 30 ms, the line a millisecond each way, the loop a few turns.
    let took = world.now().since(asked).secs();
    assert!((0.030..0.060).contains(&took), "{took} s");
    assert_eq!(
        world.outputs().status.state,
        State::Withheld(Why::StillEnded)
    );
    assert_eq!(weak(&world), [false; 3]);
    assert_eq!(world.truth(0), stood);
    run(&mut world, 0.5);
    world.pad(PAD, PadEvent::Moved(Control::Rx, 1.0));
    run(&mut world, 2.0);
    assert!(world.true_speed(0) > 1.0);
    world.verdict().unwrap();
}

/// An axis with less current gives way to a hand: seen by an encoder, it is told as ever, and all have their full
/// current again.
#[test]
fn an_axis_that_is_pushed_meanwhile_is_noticed_as_ever() {
    let mut world = bench(WorldOptions::default());
    still(&mut world, true);
    run(&mut world, 1.0);
    let counts = 200;
    world.mischief(mischief::Event::Slip { axis: 0, counts });
    run(&mut world, 1.0);
    let told = world.outputs().rigs[0].axes[0].position;
    assert!((told - world.truth(0)).abs() < 0.1, "{told}");
    still(&mut world, false);
    run(&mut world, 0.5);
    assert_eq!(weak(&world), [false; 3]);
    world.verdict().unwrap();
}

/// `still` on and off, sticks, stops, lost power, lost frames, a cable out: in any order, over a line that damages
/// and repeats.
#[test]
fn nothing_moves_while_anything_is_weak_whatever_happens() {
    let (mut weak_turns, mut moved_turns) = (0_u32, 0_u32);
    for seed in 0..30 {
        let mut random = Random::new(seed);
        let mut world = bench(WorldOptions {
            hostile_line: seed % 2 == 0,
            line_delay: Span::from_millis(1 + seed % 3 * 4),
            ..WorldOptions::default()
        });
        for _ in 0..60 {
            match random.below(10) {
                0..=2 => still(&mut world, true),
                3 | 4 => still(&mut world, false),
                5 => world.pad(PAD, PadEvent::Moved(Control::Rx, 0.0)),
                6 => world.pad(PAD, PadEvent::Moved(Control::Rx, random.between(-1.0, 1.0))),
                7 => world.hush(Span::from_millis(150)),
                8 if random.chance(0.3) => {
                    world.pull_cable();
                    run(&mut world, 0.2);
                    world.plug_cable();
                }
                _ => {}
            }
            let pause = random.between(0.004, 1.5);
            let end = world.now() + Span::from_secs_f64(pause);
            while world.now() < end {
                tick(&mut world);
                weak_turns += u32::from(weak(&world).contains(&true));
                moved_turns += u32::from(world.speeds().iter().any(|speed| *speed != 0.0));
            }
        }
        if let Err(words) = world.verdict() {
            panic!("seed {seed}: {words}");
        }
    }
    assert!(weak_turns > 5_000, "{weak_turns} weak");
    assert!(moved_turns > 2_000, "{moved_turns} moved");
}
