//! Doctored traces against `sense`, and near misses that must pass.

mod common;

use common::*;
use stillhand_laws::*;

/// Three small turns of mind upward change the sign of jerk seven times, a last one down six.
#[test]
fn sense_seven_changes_of_jerk() {
    for hz in [100.0, 250.0] {
        for (last, lawful) in [(-1.5, true), (1.5, false)] {
            let mut w = World::ready(1, hz);
            w.cheat.wiggles = vec![(1.0, 1.5), (1.5, 1.5), (2.0, last)];
            w.stick(0, 0.5);
            w.run(3.0);
            judge(&w, Law::Sense, lawful);
        }
    }
}

/// The same seven, while ceilings are shared out: lawful with another axis that moves, and by itself not.
#[test]
fn sense_under_shared_ceilings() {
    for (other, shared, lawful) in [(0.5, true, true), (0.0, true, false), (0.5, false, false)] {
        let mut w = World::ready(2, 250.0);
        w.cheat.wiggles = vec![(1.0, 1.5), (1.5, 1.5), (2.0, 1.5)];
        w.say(Event::Shared(shared));
        w.stick(1, other);
        w.stick(0, 0.5);
        w.run(3.0);
        judge(&w, Law::Sense, lawful);
    }
}

/// A position that was put right in between is a change like a stick's; one before all of it is none.
#[test]
fn sense_with_a_telling_put_off() {
    for (early, lawful) in [(1.7, true), (0.1, false)] {
        let mut w = World::ready(1, 250.0);
        w.cheat.wiggles = vec![(1.0, 1.5), (1.5, 1.5), (2.0, 1.5)];
        w.stick(0, 0.5);
        w.run(early);
        w.say(Event::PutOff);
        w.run(3.0 - early);
        judge(&w, Law::Sense, lawful);
    }
}

#[test]
fn sense_speed_turns_twice() {
    for (wiggles, lawful) in [
        (vec![(1.0, -30.0)], true),
        (vec![(1.0, -30.0), (2.0, 30.0)], false),
    ] {
        let mut w = World::ready(1, 250.0);
        w.cheat.wiggles = wiggles;
        w.stick(0, 0.5);
        w.run(3.5);
        judge(&w, Law::Sense, lawful);
    }
}

/// What plays by a script of its own may turn as it likes.
#[test]
fn sense_leaves_a_repeat_alone() {
    let mut w = World::ready(1, 250.0);
    w.cheat.wiggles = vec![(1.0, -30.0), (2.0, 30.0), (3.0, -30.0)];
    w.say(Event::Ask(0, Asked::Repeat));
    w.stick(0, 0.5);
    w.run(4.0);
    judge(&w, Law::Sense, true);
}

/// Came to an end under an outward stick, then back by itself.
#[test]
fn sense_thrown_back_from_an_end() {
    for sign in [1.0, -1.0] {
        for released in [false, true] {
            for (counts, lawful) in [(0.9, true), (2.0, false)] {
                let mut w = World::ready(1, 250.0);
                w.stick(0, sign);
                w.run(8.0);
                let end = w.axes[0].position.abs();
                w.facts.axes[0].travel = Travel::Ends {
                    low: -end,
                    high: end,
                };
                if released {
                    w.stick(0, 0.0);
                }
                let at = w.now();
                w.run(1.0);
                for (t, p) in w.plants(0) {
                    p.position -= sign * counts * COUNT * (t.since(at) / 0.5).clamp(0.0, 1.0);
                }
                judge(&w, Law::Sense, lawful);
            }
        }
    }
}

/// Turned inward by the stick is not thrown back.
#[test]
fn sense_turned_inward_by_the_stick() {
    let mut w = World::ready(1, 250.0);
    w.stick(0, 1.0);
    w.run(8.0);
    let end = w.axes[0].position;
    w.facts.axes[0].travel = Travel::Ends {
        low: -end,
        high: end,
    };
    w.stick(0, -0.5);
    w.run(0.1);
    w.stick(0, 0.0);
    w.run(1.0);
    judge(&w, Law::Sense, true);
}

/// The same seven changes as above are lawful where they lead through a band to avoid, and not where it lies
/// elsewhere.
#[test]
fn sense_through_a_band_to_avoid() {
    for (low, lawful) in [(14.0, true), (20.0, false)] {
        let mut w = World::ready(1, 250.0);
        w.cheat.wiggles = vec![(1.0, 1.5), (1.5, 1.5), (2.0, 1.5)];
        let high = low + 0.5;
        w.say(Event::Quiet(Some(vec![QuietAxis {
            speed: TOP,
            accel: NORMAL.accel,
            jerk: NORMAL.jerk,
            bands: vec![Band { low, high }],
        }])));
        w.stick(0, 0.5);
        w.run(3.0);
        judge(&w, Law::Sense, lawful);
    }
}

/// A world whose axis goes outward, its upper end, and its speed.
fn on_its_way() -> (World, f64, f64) {
    let mut w = World::ready(1, 250.0);
    w.stick(0, 1.0);
    w.run(1.0);
    let Travel::Ends { high, .. } = w.facts.axes[0].travel else {
        unreachable!("made with ends");
    };
    let speed = w.axes[0].v;
    (w, high, speed)
}

/// A position set anew says nothing of an end before a frame tells which way the axis goes.
#[test]
fn sense_of_a_position_set_anew() {
    for (frame, lawful) in [(false, true), (true, false)] {
        let (w, high, speed) = on_its_way();
        let mut checker = w.check();
        let at = |n: i64| w.now() + Nanos::millis(4 * n);
        checker.event(at(0), &Event::Moved(0));
        if frame {
            checker.event(at(1), &Event::Tick);
            checker.frame(at(1), &Frame { speeds: &[speed] });
        }
        for (n, counts) in [(2, 1.0), (3, 3.0)] {
            let position = high - counts * COUNT;
            let plant = PlantAxis { position, speed };
            checker.plant(at(n), &Plant { axes: &[plant] });
        }
        let kept = checker.count(Law::Sense) == 0;
        assert_eq!(kept, lawful, "{}", report(&checker));
    }
}

/// Mechanics that follow late go on inward for a while when they are sent outward: nothing throws them. Ones that
/// went outward first are thrown.
#[test]
fn sense_of_mechanics_that_follow_late() {
    for (counts, lawful) in [([0.2, 1.0, 2.2], true), ([1.2, 0.2, 2.2], false)] {
        let (w, high, speed) = on_its_way();
        let mut checker = w.check();
        let at = |n: i64| w.now() + Nanos::millis(4 * n);
        checker.event(at(0), &Event::Moved(0));
        for (n, counts) in (1..).zip(counts) {
            checker.event(at(n), &Event::Tick);
            // Sent outward from the second one on.
            let sent = if n == 1 { 0.0 } else { speed };
            checker.frame(at(n), &Frame { speeds: &[sent] });
            let position = high - counts * COUNT;
            let plant = PlantAxis { position, speed };
            checker.plant(at(n), &Plant { axes: &[plant] });
        }
        let kept = checker.count(Law::Sense) == 0;
        assert_eq!(kept, lawful, "{counts:?}: {}", report(&checker));
    }
}
