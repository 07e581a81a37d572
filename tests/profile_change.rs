//! Another profile while the rig is driven: what applies at once does so without a jolt, and what
//! must wait waits.

#[path = "support/random.rs"]
mod random;
#[path = "support/rigs.rs"]
mod rigs;

use random::Random;
use rigs::{hands, one_axis};
use stillhand::soak::world::{World, WorldOptions};
use stillhand_engine::feel::{Curve, Throw};
use stillhand_engine::input::{Button, Control, PadEvent, PadId};
use stillhand_engine::operator::{Gears, MAX_GROUPS, Operator};
use stillhand_engine::output::{Notice, State, Wait};
use stillhand_engine::rig::Rig;
use stillhand_engine::units::Speed;
use stillhand_engine::{Now, wait_for};

const PAD: PadId = PadId(0);

fn driven(rig: &Rig, operator: &Operator) -> World {
    let mut world = World::new(rig, operator, WorldOptions::default()).expect("a valid world");
    world.plug(PAD);
    world.pad(PAD, PadEvent::Moved(Control::Rx, 0.0));
    world.run(0.5);
    world
}

fn push(world: &mut World, value: f64) {
    world.pad(PAD, PadEvent::Moved(Control::Rx, value));
}

/// What the profile notices of the next tick are.
fn offer(world: &mut World, operator: &Operator) -> Vec<Notice> {
    world.offer(operator);
    world.tick();
    world.outputs().notices.iter().collect()
}

fn with(operator: &Operator, edit: impl Fn(&mut Operator)) -> Operator {
    let mut edited = operator.clone();
    edit(&mut edited);
    edited
}

fn faster(operator: &Operator, factor: f64) -> Operator {
    with(operator, |o| {
        for hand in &mut o.hands {
            let gears: Vec<Speed> = (0..hand.gears.count())
                .map(|g| Speed(hand.gears.speed(g).0 * factor))
                .collect();
            hand.gears = Gears::new(&gears).expect("rising still");
        }
    })
}

/// 200 random worlds with a stick held over; deadband and curve change again and again. No acceleration, jerk or speed outside the limits.
#[test]
fn edits_under_a_held_stick_are_no_jolt() {
    let mut applied = 0;
    for seed in 0..200 {
        let mut random = Random::new(seed);
        let rig = one_axis(&mut random);
        let mut operator = hands(&rig, &mut random);
        let mut world = driven(&rig, &operator);
        for _ in 0..20 {
            // Outside every deadband an edit can bring.
            let way = random.pick(&[-1.0, 1.0]);
            push(&mut world, way * random.between(0.35, 1.0));
            if random.chance(0.2) {
                let button = random.pick(&[Button::Tl, Button::Tr]);
                world.pad(PAD, PadEvent::Pressed(button, true));
                world.pad(PAD, PadEvent::Pressed(button, false));
            }
            world.run(random.between(0.02, 1.5));
            for hand in &mut operator.hands {
                hand.throw = Throw::new(random.between(0.05, 0.3), 0.95).expect("apart");
                hand.curve = Curve::cubic(random.between(0.13, 0.5)).expect("in range");
            }
            let notices = offer(&mut world, &operator);
            applied += usize::from(notices.contains(&Notice::ProfileApplied));
        }
        world.run(1.0);
        if let Err(breaches) = world.verdict() {
            panic!("seed {seed}:\n{breaches}");
        }
    }
    assert!(
        applied > 3_500,
        "only {applied} of 4,000 edits applied at once"
    );
}

#[test]
fn a_faster_full_stick_waits_until_the_stick_is_let_go() {
    let mut random = Random::new(7);
    let rig = one_axis(&mut random);
    let slow = faster(&hands(&rig, &mut random), 0.3);
    let mut world = driven(&rig, &slow);
    push(&mut world, 0.5);
    world.run(1.0);
    let fast = faster(&slow, 2.0);
    let second_gear = Now {
        gears: [1; MAX_GROUPS],
        ..Now::default()
    };
    assert_eq!(wait_for(&slow, &fast, &second_gear), Wait::Centred);
    let notices = offer(&mut world, &fast);
    assert!(
        notices.contains(&Notice::ProfileWaits(Wait::Centred)),
        "{notices:?}"
    );
    let full = world.outputs().rigs[0].axes[0].full_stick;
    world.run(5.0);
    assert_eq!(
        world.outputs().rigs[0].axes[0].full_stick,
        full,
        "it did not wait"
    );
    push(&mut world, 0.0);
    world.tick();
    assert!(
        world
            .outputs()
            .notices
            .iter()
            .any(|n| n == Notice::ProfileApplied)
    );
    assert!(world.outputs().rigs[0].axes[0].full_stick > 1.9 * full);
    world.run(0.5);
    world.verdict().expect("within the laws");
}

/// A profile whose invert changes never reverses a moving axis: it waits for rest and centring, and
/// then motion is withheld until the stick was centred anew.
#[test]
fn another_way_round_waits_for_rest() {
    let mut random = Random::new(11);
    let rig = one_axis(&mut random);
    let operator = hands(&rig, &mut random);
    let mut world = driven(&rig, &operator);
    push(&mut world, 0.9);
    world.run(1.0);
    let before = world.speeds()[0];
    assert!(before != 0.0, "it moves");
    let turned = with(&operator, |o| o.hands[0].invert = !o.hands[0].invert);
    let notices = offer(&mut world, &turned);
    assert!(
        notices.contains(&Notice::ProfileWaits(Wait::RestAndCentred)),
        "{notices:?}"
    );
    for _ in 0..1_000 {
        world.tick();
        assert!(
            world.speeds()[0] * before >= 0.0,
            "it was turned round while moving"
        );
    }
    push(&mut world, 0.0);
    let mut applied = false;
    for _ in 0..5_000 {
        world.tick();
        if world
            .outputs()
            .notices
            .iter()
            .any(|n| n == Notice::ProfileApplied)
        {
            assert_eq!(world.speeds()[0], 0.0, "it was taken over in motion");
            assert!(matches!(world.outputs().status.state, State::Withheld(_)));
            applied = true;
            break;
        }
    }
    assert!(applied, "it never came into force");
    world.run(0.5);
    push(&mut world, 0.9);
    world.run(0.5);
    assert!(world.speeds()[0] * before < 0.0, "the other way round now");
    world.verdict().expect("within the laws");
}

#[test]
fn a_profile_for_an_axis_there_is_not_changes_nothing() {
    let mut random = Random::new(13);
    let rig = one_axis(&mut random);
    let operator = hands(&rig, &mut random);
    let mut world = driven(&rig, &operator);
    let wrong = with(&operator, |o| o.hands[0].axis = 5);
    let notices = offer(&mut world, &wrong);
    assert!(notices.contains(&Notice::ProfileRefused), "{notices:?}");
    push(&mut world, 0.9);
    world.run(0.5);
    assert!(world.speeds()[0] != 0.0, "the old profile still drives");
}
