//! Doctored traces against `quiet`, and near misses that must pass.

mod common;

use common::*;
use stillhand_laws::*;

/// At speed when quiet comes on: down by the old set, then up again by the soft one.
fn quiet_run(hz: f64, takes_ceiling: f64, takes: Set) -> World {
    let mut w = World::ready(1, hz);
    w.stick(0, 1.0);
    w.run(1.5);
    w.say(quiet_at(4.0, &[]));
    w.ceiling(0, takes_ceiling);
    w.normal(0, takes);
    w.run(1.5);
    w.stick(0, 0.0);
    w.run(2.0);
    w.stick(0, -1.0);
    w.run(2.0);
    w
}

#[test]
fn quiet_speed_five_percent_over() {
    for hz in [50.0, 100.0, 250.0, 1000.0] {
        judge(&quiet_run(hz, 4.0, SOFT), Law::Quiet, true);
        judge(&quiet_run(hz, 4.2, SOFT), Law::Quiet, false);
    }
}

#[test]
fn quiet_acceleration_and_jerk_over() {
    for hz in [50.0, 100.0, 250.0, 1000.0] {
        // At 1000 Hz the quantum's share of a jerk is more than the quiet limit itself.
        let over = if hz > 500.0 { 8.0 } else { 1.5 };
        judge(
            &quiet_run(hz, 4.0, Set::new(SOFT.accel, SOFT.jerk * over)),
            Law::Quiet,
            false,
        );
        judge(
            &quiet_run(hz, 4.0, Set::new(SOFT.accel * 1.1, SOFT.jerk)),
            Law::Quiet,
            false,
        );
        judge(
            &quiet_run(hz, 4.0, Set::new(SOFT.accel * 0.99, SOFT.jerk * 0.99)),
            Law::Quiet,
            true,
        );
    }
}

/// A stop goes before quiet: its own set, no quiet breach.
#[test]
fn quiet_gives_way_to_a_stop() {
    let mut w = quiet_run(250.0, 4.0, SOFT);
    w.stop(Event::Stop);
    w.run(1.0);
    judge(&w, Law::Quiet, true);
}

/// A ceiling falls on as the speed arrives under it: what is left comes down by the old set, which the quiet one
/// had no moment to follow. Where the speed was clearly under it before, it had.
#[test]
fn quiet_waits_on_while_its_ceiling_falls() {
    for (stick, lawful) in [(1.0, true), (0.3, false)] {
        let mut w = World::ready(1, 250.0);
        w.stick(0, 1.0);
        w.run(1.5);
        w.say(quiet_at(12.0, &[]));
        w.ceiling(0, 12.0);
        w.stick(0, stick);
        // 18 deg/s by 60 deg/s^2 and 300 deg/s^3 take 0.5 s, all 30 of them 0.7 s.
        w.run(0.62);
        w.ceiling(0, 3.0);
        w.run(1.0);
        judge(&w, Law::Quiet, lawful);
    }
}

#[test]
fn quiet_still_means_no_motion() {
    for (moves, lawful) in [(false, true), (true, false)] {
        let mut w = World::ready(1, 250.0);
        w.say(quiet_at(0.0, &[]));
        w.normal(0, SOFT);
        w.run(0.5);
        if moves {
            w.stick(0, 0.2);
        }
        w.run(1.0);
        judge(&w, Law::Quiet, lawful);
    }
}

/// A late turn of the loop puts off the rest by as much as it was late, and no more.
#[test]
fn quiet_still_held_up_by_a_late_turn() {
    for (lag, lawful) in [(0, true), (8, true), (40, false)] {
        let mut w = World::ready(1, 250.0);
        w.stick(0, 1.0);
        w.run(2.0);
        let mut checker = w.check();
        let start = w.now();
        let nothing_heard = QuietAxis {
            speed: 0.0,
            accel: f64::MAX,
            jerk: f64::MAX,
            bands: vec![],
        };
        checker.event(start, &Event::Quiet(Some(vec![nothing_heard])));
        let slowing = Slew::plan(w.axes[0].v, 0.0, 0.0, NORMAL);
        // A turn comes 78 ms after the last; of those two periods change the speed.
        let (mut at, mut spent) = (0, -lag);
        while at < 1_000 {
            let pause = if at == 300 { 78 } else { 4 };
            (at, spent) = (at + pause, spent + pause.min(8));
            let t = start + Nanos::millis(at);
            let speed = slowing.at(spent.max(0) as f64 / 1e3).0;
            turn(&mut checker, t, speed);
        }
        assert_eq!(checker.count(Law::Quiet) == 0, lawful, "{lag} ms");
    }
}

/// Where an end is too near for the quiet set at the switch, the old one brakes for it; elsewhere, or
/// once the quiet set would do, it does not.
#[test]
fn quiet_gives_way_to_an_end() {
    // Where it comes to rest before the end, as known at the switch and after 0.6 s, in units.
    for (at_first, later, lawful) in [(0.0, 0.0, true), (0.0, 5.0, false), (150.0, 0.0, false)] {
        let mut w = World::ready(1, 250.0);
        w.stick(0, 1.0);
        w.run(2.0);
        let mut checker = w.check();
        let start = w.now();
        let Travel::Ends { high, .. } = w.facts.axes[0].travel else {
            unreachable!("made with ends");
        };
        let fast = w.axes[0].v;
        // Softer than the old set, as a guard brakes, so that it outlasts the time to slow down; harder
        // than the quiet one.
        let brake = Slew::plan(fast, 0.0, 0.0, Set::new(30.0, 150.0));
        let speed = |n: i64| brake.at(0.004 * n as f64).0;
        let way_left = |n: i64| (n..=750).map(|n| 0.004 * speed(n)).sum::<f64>();
        let plant = |checker: &mut Checker, n: i64| {
            let before = if n < 150 { at_first } else { later };
            let (position, speed) = (high - before - way_left(n), speed(n));
            let axes = &[PlantAxis { position, speed }];
            checker.plant(start + Nanos::millis(4 * n), &Plant { axes });
        };
        plant(&mut checker, 0);
        checker.event(start, &quiet_at(fast, &[]));
        for n in 1..=750 {
            let t = start + Nanos::millis(4 * n);
            checker.event(t, &Event::Tick);
            let speeds = &[speed(n)];
            checker.frame(t, &Frame { speeds });
            plant(&mut checker, n);
        }
        let kept = checker.count(Law::Quiet) == 0;
        assert_eq!(kept, lawful, "{at_first}, then {later} before the end");
    }
}

/// A guard reckons with every state lasting one lateness bound, and with the declared delay: as long as a stop
/// by the quiet set would end before the end by less than that, the old set brakes for it. The axis reaches
/// the quiet speed only after the switch, and the way counts from there.
#[test]
fn quiet_gives_way_to_an_end_one_lateness_bound_off() {
    const DELAY: f64 = 0.03;
    for (spare_s, lawful) in [(0.07 + DELAY, true), (0.12 + DELAY, false)] {
        let mut w = World::ready(1, 250.0);
        w.facts.axes[0].delay = Nanos::from_secs(DELAY);
        let Travel::Ends { high, .. } = w.facts.axes[0].travel else {
            unreachable!("made with ends");
        };
        w.stick(0, 1.0);
        w.run(2.0);
        let mut checker = w.check();
        let (start, fast, slow) = (w.now(), w.axes[0].v, 12.0);
        let down = Slew::plan(fast, 0.0, slow, NORMAL);
        let brake = Slew::plan(slow, 0.0, 0.0, NORMAL);
        let quiet_way = Slew::plan(slow, 0.0, 0.0, SOFT).distance();
        // At the quiet speed with so much to spare; at the switch the end was far.
        let spare = slow * spare_s;
        let on_s = (quiet_way + spare - brake.distance()) / slow;
        checker.event(start, &quiet_at(slow, &[]));
        let mut way_left = down.distance() + slow * on_s + brake.distance();
        for n in 1..=1_500 {
            let at = 0.004 * f64::from(n);
            let speed = if at < down.time() {
                down.at(at).0
            } else if at < down.time() + on_s {
                slow
            } else {
                brake.at(at - down.time() - on_s).0
            };
            way_left -= 0.004 * speed;
            let t = start + Nanos::from_secs(at);
            let plant = PlantAxis {
                position: high - way_left,
                speed,
            };
            checker.plant(t, &Plant { axes: &[plant] });
            turn(&mut checker, t, speed);
        }
        assert_eq!(
            checker.count(Law::Quiet) == 0,
            lawful,
            "{spare_s} s to spare"
        );
    }
}

/// A softer set waited when `still` came, or comes with it: it may take over on the way to rest, under the
/// ceiling, and is followed to the end of that. A softer one than that may not.
#[test]
fn quiet_still_by_a_softer_set() {
    let soft = Set::new(30.0, 60.0);
    let all = [
        (true, 1.0, true),
        (true, 0.8, false),
        (false, 1.0, true),
        (false, 0.8, false),
    ];
    for (waited, part, lawful) in all {
        let mut w = World::ready(1, 250.0);
        w.stick(0, 1.0);
        // In the middle of the gain: the acceleration does not fit the softer set.
        w.run(0.2);
        if waited {
            w.normal(0, soft);
        }
        let mut checker = w.check();
        let (start, v, a) = (w.now(), w.axes[0].v, w.axes[0].a);
        let nothing_heard = QuietAxis {
            speed: 0.0,
            accel: f64::MAX,
            jerk: f64::MAX,
            bands: vec![],
        };
        checker.event(start, &Event::Quiet(Some(vec![nothing_heard])));
        if !waited {
            let set = Normal::same(soft);
            checker.event(start, &Event::NormalSet { axis: 0, set });
        }
        // Until the gain fits the softer set it is eased by the old one.
        let off = (a - soft.accel) / NORMAL.jerk;
        let easing = Slew::plan(v, a, v + a * a / (2.0 * NORMAL.jerk), NORMAL);
        let (then, left) = easing.at(off);
        let by = Set::new(soft.accel * part, soft.jerk * part);
        let rest = Slew::plan(then, left, 0.0, by);
        for n in 1..=1_000 {
            let at = 0.004 * f64::from(n);
            let speed = match at < off {
                true => easing.at(at).0,
                false => rest.at(at - off).0,
            };
            let t = start + Nanos::from_secs(at);
            turn(&mut checker, t, speed);
        }
        assert_eq!(checker.count(Law::Quiet) == 0, lawful, "{waited} {part}");
    }
}

/// While a gain too hard for the quiet set is eased off, a second here, the old set may still brake; after it
/// no more.
#[test]
fn quiet_comes_while_it_gains() {
    for (brakes_at, lawful) in [(0.5, true), (1.3, false)] {
        let mut w = World::ready(1, 250.0);
        let gaining = Set::new(60.0, 20.0);
        let set = Normal {
            gaining,
            losing: NORMAL,
        };
        w.say(Event::NormalSet { axis: 0, set });
        w.say(Event::Ask(0, Asked::Recall));
        let mut checker = w.check();
        let start = w.now();
        let (step, mut v, mut a) = (0.004, 0.0, 0.0);
        for n in 1..=800 {
            let at = step * f64::from(n) - 1.0;
            if n == 250 {
                let t = start + Nanos::from_secs(at + 1.0);
                checker.event(t, &quiet_at(25.0, &[]));
            }
            // One second of gaining acceleration, one of taking it off, but for the brake.
            let jerk = match at {
                at if at > brakes_at && at <= brakes_at + 0.02 => -NORMAL.jerk,
                at if at > brakes_at => 0.0,
                at if at > 0.0 && a > 0.0 => -gaining.jerk,
                at if at > 0.0 => 0.0,
                _ => gaining.jerk,
            };
            if at > brakes_at + 0.1 {
                break;
            }
            v += (a + jerk * step / 2.0) * step;
            a += jerk * step;
            let t = start + Nanos::from_secs(at + 1.0);
            checker.event(t, &Event::Tick);
            checker.frame(t, &Frame { speeds: &[v] });
        }
        let kept = checker.count(Law::Quiet) == 0;
        assert_eq!(kept, lawful, "{}", report(&checker));
    }
}

/// The way to an end includes what is still gained while the gain is eased off: 2 units/s when quiet comes, 7 when
/// it has been. There the old set may brake for the end, and not for one that is further away.
#[test]
fn quiet_comes_while_it_gains_towards_an_end() {
    for (way, lawful) in [(6.0, true), (20.0, false)] {
        let mut w = World::ready(1, 250.0);
        w.say(Event::Ask(0, Asked::Recall));
        let Travel::Ends { high, .. } = w.facts.axes[0].travel else {
            unreachable!("made with ends");
        };
        let mut checker = w.check();
        let start = w.now();
        let (step, mut v, mut a, mut position) = (0.004, 0.0, 0.0, high - way);
        for n in -49..=180 {
            let at = step * f64::from(n);
            let t = start + Nanos::from_secs(at + 0.2);
            if n == 0 {
                checker.event(t, &quiet_at(25.0, &[]));
            }
            let jerk = match at {
                at if at <= 0.0 => 20.0 / 0.2,
                at if at > 0.7 => -NORMAL.jerk,
                _ if a > 0.0 => -SOFT.jerk,
                _ => 0.0,
            };
            v += (a + jerk * step / 2.0) * step;
            a += jerk * step;
            position += if at > 0.0 { v * step } else { 0.0 };
            let plant = PlantAxis { position, speed: v };
            checker.plant(t, &Plant { axes: &[plant] });
            checker.event(t, &Event::Tick);
            checker.frame(t, &Frame { speeds: &[v] });
        }
        let kept = checker.count(Law::Quiet) == 0;
        assert_eq!(kept, lawful, "{}", report(&checker));
    }
}
