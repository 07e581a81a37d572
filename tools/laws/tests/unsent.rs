//! Doctored traces behind frames that could not leave, and near misses that must pass.

mod common;

use common::*;
use stillhand_laws::*;

/// What the engine makes of time in which no frame leaves.
#[derive(Clone, Copy, PartialEq)]
enum Plan {
    StandsStill,
    GoesOn,
}

/// The port takes nothing for so many ticks; the checker is told of it, or not.
fn clog(w: &mut World, ticks: u32, plan: Plan, told: bool) {
    for _ in 0..ticks {
        let before = w.axes.clone();
        w.tick();
        let now = w.now();
        w.items
            .retain(|(t, item)| *t < now || matches!(item, Item::Event(_)));
        if plan == Plan::StandsStill {
            w.axes = before;
        }
        if told {
            w.say(Event::Unsent);
        }
    }
}

fn after(stick: f64, seconds: f64) -> World {
    let mut w = World::ready(1, 250.0);
    w.stick(0, stick);
    w.run(seconds);
    w
}

/// Speed gained in frames that nobody saw is a jump for the rig.
#[test]
fn a_jump_behind_a_gap() {
    for (plan, lawful) in [(Plan::StandsStill, true), (Plan::GoesOn, false)] {
        let mut w = after(1.0, 0.3);
        clog(&mut w, 6, plan, true);
        w.run(1.0);
        judge(&w, Law::Smooth, lawful);
    }
}

/// A stop takes longer by the time in which none left, and by no other.
#[test]
fn a_stop_held_up() {
    for (told, lawful) in [(true, true), (false, false)] {
        let mut w = after(1.0, 2.0);
        w.stop(Event::Stop);
        clog(&mut w, 15, Plan::StandsStill, told);
        w.run(1.0);
        judge(&w, Law::Loss, lawful);
    }
}

/// A set that came in a tick whose frame nobody saw may have taken over in it.
#[test]
fn a_set_comes_in_a_gap() {
    let soft = Set::new(10.0, 40.0);
    for (ticks, lawful) in [(1, true), (0, false)] {
        let mut w = after(1.0, 2.0);
        w.normal(0, soft);
        clog(&mut w, ticks, Plan::StandsStill, true);
        w.ceiling(0, 20.0);
        w.say(Event::Quiet(Some(vec![QuietAxis {
            speed: 20.0,
            accel: soft.accel,
            jerk: soft.jerk,
            bands: vec![],
        }])));
        w.axes[0].set = soft;
        w.run(3.0);
        judge(&w, Law::Quiet, lawful);
    }
}

/// Frames that were lost let the rig go on for its watchdog's time, and for as long as an older one may arrive
/// late; no longer.
#[test]
fn a_rig_goes_on_by_a_late_frame() {
    let watchdog = 0.12;
    for (late_ms, on, lawful) in [(100, 0.09, true), (0, 0.09, false), (100, 0.2, false)] {
        let mut w = after(1.0, 2.0);
        w.stop(Event::Stop);
        w.say(Event::FramesLost {
            late: Nanos::millis(late_ms),
        });
        let (start, speed) = (w.now(), w.axes[0].v);
        w.run(1.0);
        // The mechanics follow the rig, not the frames.
        let stop = Slew::plan(speed, 0.0, 0.0, STOP);
        for (t, plant) in w.plants(0) {
            let at = t.since(start);
            plant.speed = match at < watchdog + on {
                _ if at < 0.0 => plant.speed,
                true => speed,
                false => stop.at((at - watchdog - on).min(stop.time())).0,
            };
        }
        let kept = w.check().count(Law::Loss) == 0;
        assert_eq!(kept, lawful, "{late_ms} ms, {on} s: {}", report(&w.check()));
    }
}

/// The guard's plan may no longer fit behind a gap, and then the stop set brakes; without one it does.
#[test]
fn a_hard_brake_behind_a_gap() {
    for (ticks, lawful) in [(6, true), (0, false)] {
        let mut w = after(1.0, 2.0);
        clog(&mut w, ticks, Plan::StandsStill, true);
        (w.axes[0].set, w.axes[0].candidate) = (STOP, STOP);
        w.stick(0, 0.0);
        w.run(1.0);
        judge(&w, Law::Smooth, lawful);
    }
}
