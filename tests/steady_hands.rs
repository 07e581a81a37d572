//! Steadied sticks and curves through points on a driven rig: the laws hold, a release is a release,
//! and the axis trembles less.

use stillhand::profile::{Source, builtin, load_operator, load_rig};
use stillhand::soak::random::Random;
use stillhand::soak::world::{World, WorldOptions};
use stillhand_engine::input::{Control, PadEvent, PadId};

const PAD: PadId = PadId(0);
const STEADY: &str = "steady = { rest = \"1 Hz\", moving = \"6 Hz\" }\n";

/// Two axes on one stick of the given shape, with a curve through points.
fn world(shape: &str, steady: &str) -> World {
    let rig = load_rig(&builtin::BENCH_RIG.source()).unwrap();
    let points =
        "[[\"0 %\", \"0 %\"], [\"40 %\", \"8 %\"], [\"80 %\", \"45 %\"], [\"100 %\", \"100 %\"]]";
    let axis = |name: &str, control: &str| {
        format!(
            "[axis.{name}]\ncontrol = \"{control}\"\ngears = [\"30 deg/s\"]\ngain = \"0.2 s\"\n\
             lose = \"0.2 s\"\ncurve = \"points\"\npoints = {points}\n{steady}"
        )
    };
    let text = format!(
        "[operator]\nname = \"x\"\nright_stick = \"{shape}\"\n{}{}",
        axis("pan", "rx"),
        axis("tilt", "ry")
    );
    let file = load_operator(&Source::new("hands", text)).unwrap();
    let operator = file.resolve(std::slice::from_ref(&rig.rig)).unwrap();
    let mut world = World::new(&rig.rig, &operator, WorldOptions::default()).unwrap();
    world.plug(PAD);
    let centred = Control::ALL.map(|control| PadEvent::Moved(control, 0.0));
    centred.into_iter().for_each(|event| world.pad(PAD, event));
    world.run(1.0);
    world
}

#[test]
fn the_laws_hold_under_trembling_thumbs() {
    for shape in ["axial", "radial"] {
        for seed in 0..6 {
            let mut random = Random::new(seed);
            let mut world = world(shape, STEADY);
            for _ in 0..40 {
                let held = [Control::Rx, Control::Ry].map(|control| {
                    let let_go = random.chance(0.4);
                    let place = if let_go {
                        0.0
                    } else {
                        random.between(-1.0, 1.0)
                    };
                    (control, place)
                });
                for _ in 0..random.below(60) {
                    for (control, place) in held {
                        let trembles = if place == 0.0 { 0.02 } else { 0.06 };
                        let value = place + random.between(-trembles, trembles);
                        world.pad(PAD, PadEvent::Moved(control, value.clamp(-1.0, 1.0)));
                    }
                    world.tick();
                }
            }
            let verdict = world.verdict();
            assert!(verdict.is_ok(), "{shape} seed {seed}: {verdict:?}");
        }
    }
}

#[test]
fn a_release_is_a_release_in_the_same_tick() {
    for shape in ["axial", "radial"] {
        let mut world = world(shape, STEADY);
        world.pad(PAD, PadEvent::Moved(Control::Rx, 0.9));
        world.run(1.0);
        let demand = |world: &World| world.outputs().rigs[0].axes[0].demand;
        assert!(demand(&world) > 0.5, "{}", demand(&world));
        world.pad(PAD, PadEvent::Moved(Control::Rx, 0.05));
        world.tick();
        assert_eq!(demand(&world), 0.0, "{shape}");
        world.run(1.0);
        assert_eq!(world.outputs().rigs[0].axes[0].speed, 0.0);
        world.verdict().unwrap();
    }
}

#[test]
fn a_steadied_axis_trembles_less() {
    let spread = |steady: &str| {
        let mut world = world("axial", steady);
        let mut random = Random::new(7);
        let (mut low, mut high) = (f64::MAX, f64::MIN);
        for tick in 0..1_000 {
            let value = 0.6 + random.between(-0.05, 0.05);
            world.pad(PAD, PadEvent::Moved(Control::Rx, value));
            world.tick();
            let demand = world.outputs().rigs[0].axes[0].demand;
            if tick > 500 {
                (low, high) = (low.min(demand), high.max(demand));
            }
        }
        high - low
    };
    let (raw, steady) = (spread(""), spread(STEADY));
    assert!(steady < 0.5 * raw, "{steady} of {raw}");
}
