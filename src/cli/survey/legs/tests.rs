//! A whole plan driven in virtual time, watched by the laws checker and held against the plan.

use super::*;
use crate::profile::{builtin, load_operator, load_rig};
use crate::soak::world::{World, WorldOptions};
use stillhand_acoustics::plan::{Asked, ladder};
use stillhand_engine::errand::ErrandNews;
use stillhand_engine::input::{Button, Control, PadEvent, PadId};
use stillhand_engine::output::Notice;

const PAD: PadId = PadId(0);

fn files() -> (Rig, Operator) {
    let rig = load_rig(&builtin::BENCH_RIG.source()).expect("shipped").rig;
    let file = load_operator(&builtin::CONCERT.source()).expect("shipped");
    let operator = file.resolve(std::slice::from_ref(&rig)).expect("fits");
    (rig, operator)
}

/// Pan and slide up to half of what the concert's fastest gear does, three rungs each.
fn plan(rig: &Rig) -> Plan {
    let asked = [(0, 20.0), (2, 60.0)].map(|(axis, fastest)| Asked { axis, fastest });
    ladder(rig, &asked, 3).plan
}

/// Plays an errand begun at once; what each tick said of the news, and the speeds sent.
fn play(world: &mut World, errand: &Errand, mut each: impl FnMut(f64, &[f64])) -> Vec<ErrandNews> {
    let press = match errand.press() {
        Enable::Button(button) => button,
        Enable::Trigger(_) => panic!("the concert has no enable"),
    };
    world.errand(errand.clone());
    world.tick();
    let offered = world.now();
    world.pad(PAD, PadEvent::Pressed(press, true));
    let mut news = Vec::new();
    let ended = |news: &[ErrandNews]| {
        let last = news.last();
        matches!(
            last,
            Some(ErrandNews::Done | ErrandNews::Ended(_) | ErrandNews::Refused(_))
        )
    };
    while !ended(&news) {
        world.tick();
        each(world.now().since(offered).secs(), world.speeds());
        for notice in world.outputs().notices.iter() {
            if let Notice::Errand(_, one) = notice {
                news.push(one);
            }
        }
        assert!(world.now().since(offered).secs() < 1_000.0, "it never ends");
    }
    world.pad(PAD, PadEvent::Pressed(press, false));
    news
}

fn world(rig: &Rig, operator: &Operator) -> World {
    let mut world = World::new(rig, operator, WorldOptions::default()).expect("fits");
    world.plug(PAD);
    while !world.ready() {
        world.tick();
    }
    for control in Control::ALL {
        world.pad(PAD, PadEvent::Moved(control, 0.0));
    }
    for _ in 0..2 {
        world.pad(PAD, PadEvent::Pressed(Button::Tr, true));
        world.run(0.1);
        world.pad(PAD, PadEvent::Pressed(Button::Tr, false));
        world.run(0.3);
    }
    world
}

#[test]
fn a_plan_is_driven_at_its_own_times_and_speeds_under_all_laws() {
    let (rig, operator) = files();
    let plan = plan(&rig);
    let errand = of_plan(&plan, &rig, &operator).expect("it fits");
    let mut world = world(&rig, &operator);
    let mut worst: f64 = 0.0;
    let mut moved = 0;
    let news = play(&mut world, &errand, |at, speeds| {
        for (axis, speed) in [(0, speeds[0]), (1, speeds[2])] {
            // A turn and a frame late at most; where it changes fast that is a part of the speed.
            let planned = |t: f64| {
                let steps = plan.steps.iter();
                let mut own = steps.filter(|step| step.at <= t && t < step.ends());
                let moving = own.find_map(|step| Some((step, step.does.moving()?)));
                moving.map_or(0.0, |(step, m)| {
                    let share = m.share(t - step.at, step.lasts);
                    let speed = if m.plus { m.speed } else { -m.speed };
                    if m.axis == axis { speed * share } else { 0.0 }
                })
            };
            let near = [0.0, 4.0, 8.0, 12.0].map(|ms| planned(at - ms * 1e-3));
            let (low, high) = near.iter().fold((f64::MAX, f64::MIN), |(low, high), x| {
                (low.min(*x), high.max(*x))
            });
            // What the normal set changes in a turn, 4 ms.
            let turn = if axis == 0 { 120.0 } else { 300.0 } * 0.004;
            let off = (low - speed).max(speed - high).max(0.0) / turn;
            worst = worst.max(off);
            moved += usize::from(speed != 0.0);
        }
    });
    let legs = errand.legs().len();
    let begun = news
        .iter()
        .filter(|one| matches!(one, ErrandNews::Leg(_)))
        .count();
    assert_eq!((news.last(), begun), (Some(&ErrandNews::Done), legs));
    assert!(moved > 10_000, "only {moved} ticks of motion");
    assert!(worst < 1.0, "off the plan by what {worst} turns change");
    world.run(1.0);
    world.verdict().unwrap_or_else(|broken| panic!("{broken}"));
}

/// Wherever the axes stand, they come to where the plan begins.
#[test]
fn the_axes_come_to_the_start() {
    let (rig, operator) = files();
    let mut plan = plan(&rig);
    plan.axes[0].start = -77.0;
    plan.axes[1].start = 111.0;
    let mut world = world(&rig, &operator);
    let places = [world.truth(0), world.truth(1), world.truth(2)];
    let errand = to_start(&plan, &rig, &operator, &places, 0.5).expect("it fits");
    let errand = errand.expect("they stand elsewhere");
    let news = play(&mut world, &errand, |_, _| {});
    assert_eq!(news.last(), Some(&ErrandNews::Done));
    world.run(0.5);
    for (axis, start) in [(0, -77.0), (2, 111.0)] {
        assert!(
            (world.truth(axis) - start).abs() < 0.5,
            "axis {axis}: {}",
            world.truth(axis)
        );
    }
    let places = [world.truth(0), world.truth(1), world.truth(2)];
    let again = to_start(&plan, &rig, &operator, &places, 0.5).expect("it fits");
    assert_eq!(again, None, "they stand there");
    world.verdict().unwrap_or_else(|broken| panic!("{broken}"));
}

#[test]
fn what_does_not_fit_is_refused_with_what_to_do() {
    let (rig, operator) = files();
    let good = plan(&rig);
    let told = |change: &dyn Fn(&mut Plan)| {
        let mut plan = good.clone();
        change(&mut plan);
        of_plan(&plan, &rig, &operator).expect_err("it does not fit")
    };
    let first = |plan: &mut Plan, change: &dyn Fn(&mut Move)| {
        use stillhand_acoustics::plan::Does;
        for step in &mut plan.steps {
            if let Does::Mark(m) = &mut step.does {
                return change(m);
            }
        }
    };
    for (change, words) in [
        (
            &(|plan: &mut Plan| plan.rig = "other".to_owned()) as &dyn Fn(&mut Plan),
            "the plan is for rig \"other\"",
        ),
        (
            &|plan| plan.axes[0].name = "roll".to_owned(),
            "the plan moves roll; rig \"bench\" has pan, tilt, slide",
        ),
        (
            &|plan| plan.axes[0].start = 160.0,
            "its travel is -170 to 170 deg",
        ),
        (
            &|plan| first(plan, &|m| m.speed = 46.0),
            "no faster than 45 deg/s",
        ),
        (
            &|plan| first(plan, &|m| m.accel = 121.0),
            "normal set allows 120 and 600",
        ),
    ] {
        let found = told(change);
        assert!(found.contains(words), "{words}: {found}");
    }
    let mut hands = operator.clone();
    hands.hands.retain(|hand| hand.axis != 2);
    let found = of_plan(&good, &rig, &hands).expect_err("nobody drives the slide");
    assert!(found.contains("does not drive slide"), "{found}");
}
