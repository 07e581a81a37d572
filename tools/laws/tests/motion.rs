//! Doctored traces against `ceiling`, `smooth` and `travel`, and near misses that must pass.

mod common;

use common::*;
use stillhand_laws::*;

/// A stick pushed for so long, then centred.
fn push(w: &mut World, x: f64, s: f64) {
    w.stick(0, x);
    w.run(s);
    w.stick(0, 0.0);
    w.run(2.0);
}

fn rates() -> [f64; 4] {
    [50.0, 100.0, 250.0, 1000.0]
}

#[test]
fn ceiling_one_percent_over() {
    for hz in rates() {
        for (factor, lawful) in [(1.0, true), (1.01, false)] {
            let mut w = World::ready(1, hz);
            w.ceiling(0, 10.0);
            w.run(0.1);
            w.cheat.ceiling_factor = factor;
            push(&mut w, 1.0, 2.0);
            if lawful {
                assert_clean(&w.check())
            } else {
                assert_only(&w.check(), Law::Ceiling)
            }
        }
    }
}

#[test]
fn ceiling_by_a_quantum() {
    for (over, lawful) in [(1.0, true), (2.5, false)] {
        let mut w = World::ready(1, 100.0);
        let c = (10.0 / Q).floor() * Q;
        w.ceiling(0, c);
        push(&mut w, 1.0, 2.0);
        // Only the frames at the top: a quantum more is inside every difference's tolerance.
        for (_, v) in w.frames(0) {
            if *v >= c - Q / 2.0 {
                *v += over * Q;
            }
        }
        for (_, p) in w.plants(0) {
            p.speed = p.speed.min(c);
        }
        if lawful {
            assert_clean(&w.check())
        } else {
            assert_only(&w.check(), Law::Ceiling)
        }
    }
}

#[test]
fn ceiling_drop_obeyed_late() {
    for hz in rates() {
        for (lag, lawful) in [(0.0, true), (1.5 / hz, true), (0.2, false)] {
            let mut w = World::ready(1, hz);
            w.stick(0, 1.0);
            w.run(2.0);
            w.cheat.ceiling_lag_s = lag;
            w.ceiling(0, 12.0);
            w.run(2.0);
            w.ceiling(0, 11.0);
            w.run(1.0);
            w.stick(0, 0.0);
            w.run(2.0);
            if lawful {
                assert_clean(&w.check())
            } else {
                assert_only(&w.check(), Law::Ceiling)
            }
        }
    }
}

/// Slower on the way down than the set in force allows.
#[test]
fn ceiling_drop_obeyed_too_gently() {
    for hz in rates() {
        for (share, lawful) in [(1.0, true), (0.85, false)] {
            let mut w = World::ready(1, hz);
            w.stick(0, 1.0);
            w.run(2.0);
            let set = Set::new(NORMAL.accel * share, NORMAL.jerk * share);
            (w.axes[0].set, w.axes[0].candidate) = (set, set);
            w.ceiling(0, 5.0);
            w.run(2.0);
            (w.axes[0].set, w.axes[0].candidate) = (NORMAL, NORMAL);
            w.stick(0, 0.0);
            w.run(2.0);
            if lawful {
                assert_clean(&w.check())
            } else {
                assert_only(&w.check(), Law::Ceiling)
            }
        }
    }
}

/// The true speed may exceed the ceiling though the frames do not.
#[test]
fn ceiling_of_the_plant() {
    for (factor, lawful) in [(1.0, true), (1.01, false)] {
        let mut w = World::ready(1, 250.0);
        push(&mut w, 1.0, 2.0);
        for (_, p) in w.plants(0) {
            p.speed *= factor;
        }
        if lawful {
            assert_clean(&w.check())
        } else {
            assert_only(&w.check(), Law::Ceiling)
        }
    }
}

/// One frame off by d while cruising: second differences d, -2d, d.
#[test]
fn smooth_jerk_of_one_frame() {
    for hz in rates() {
        let dt = 1.0 / hz;
        for (jerk, lawful) in [(0.98, true), (1.03, false)] {
            let mut w = World::ready(1, hz);
            push(&mut w, 0.6, 2.0);
            let allowed = NORMAL.jerk + 4.0 * Q / (dt * dt);
            let d = jerk * allowed * dt * dt / 2.0 - if lawful { 2.0 * Q } else { -2.0 * Q };
            let at = 2.0 / dt;
            if let Some((_, v)) = w.frames(0).nth(at as usize) {
                *v += d;
            }
            if lawful {
                assert_clean(&w.check())
            } else {
                assert_only(&w.check(), Law::Smooth)
            }
        }
    }
}

#[test]
fn smooth_acceleration_two_percent_over() {
    for (factor, lawful) in [(1.0, true), (1.02, false)] {
        let mut w = World::ready(1, 250.0);
        let set = Set::new(NORMAL.accel * factor, NORMAL.jerk);
        (w.axes[0].set, w.axes[0].candidate) = (set, set);
        push(&mut w, 1.0, 2.0);
        if lawful {
            assert_clean(&w.check())
        } else {
            assert_only(&w.check(), Law::Smooth)
        }
    }
}

/// The stop set needs a stop. Every kind of stop allows it, up to the stop set.
#[test]
fn smooth_stop_set_without_a_stop() {
    for (event, factor, lawful) in [
        (Some(Event::Stop), 1.0, true),
        (Some(Event::PadUnplugged(PAD)), 1.0, true),
        (Some(Event::PowerLost), 1.0, true),
        (Some(Event::Residual(0)), 1.0, true),
        (Some(Event::Moved(0)), 1.0, true),
        (Some(Event::Moved(0)), 1.03, false),
        (Some(Event::NearerEnd(0)), 1.0, true),
        (Some(Event::NearerEnd(0)), 1.03, false),
        (Some(Event::End), 1.0, true),
        (Some(Event::Stop), 1.03, false),
        (None, 1.0, false),
    ] {
        let mut w = World::ready(1, 250.0);
        w.stick(0, 1.0);
        w.run(2.0);
        w.cheat.stop = Set::new(STOP.accel * factor, STOP.jerk * factor);
        w.stop(event.unwrap_or(Event::Tick));
        w.run(2.0);
        let checker = w.check();
        if lawful {
            assert_clean(&checker)
        } else {
            assert_only(&checker, Law::Smooth)
        }
    }
}

/// A softer set offered in motion takes over later: the harder one stays lawful until rest, not after.
#[test]
fn smooth_soft_set_binds_after_rest() {
    for (again, lawful) in [(false, true), (true, false)] {
        let mut w = World::ready(1, 250.0);
        w.stick(0, 1.0);
        w.run(1.0);
        w.say(Event::NormalSet {
            axis: 0,
            set: Normal::same(Set::new(30.0, 100.0)),
        });
        w.stick(0, 0.5);
        w.run(1.0);
        w.say(Event::NormalSet {
            axis: 0,
            set: Normal::same(NORMAL),
        });
        w.stick(0, 0.0);
        w.run(2.0);
        w.say(Event::NormalSet {
            axis: 0,
            set: Normal::same(Set::new(30.0, 100.0)),
        });
        w.run(0.5);
        if again {
            w.stick(0, 1.0);
            w.run(1.0);
        }
        if lawful {
            assert_clean(&w.check())
        } else {
            assert_only(&w.check(), Law::Smooth)
        }
    }
}

/// After a gap longer than the watchdog the rig has braked by itself: frames may start anywhere
/// not faster than before. After a shorter one the difference counts.
#[test]
fn smooth_after_a_gap() {
    for (gap, then, lawful) in [
        (0.15, 0.0, true),
        (0.15, 20.0, true),
        // Each end of the gap is off by up to a quantum; the one before is on two thirds of one.
        (0.15, 30.0 + 2.2 * Q, true),
        (0.15, 30.0 + 3.0 * Q, false),
        (0.15, 31.0, false),
        (0.15, -1.0, false),
        (0.07, 0.0, false),
    ] {
        let mut w = World::ready(1, 250.0);
        w.facts.axes[0].speed_ceiling = 40.0;
        w.stick(0, 1.0);
        w.run(2.0);
        w.hang(gap);
        w.say(Event::Tick);
        w.items.push((w.now(), Item::Frame(vec![then])));
        if lawful {
            assert_clean(&w.check())
        } else {
            assert_only(&w.check(), Law::Smooth)
        }
    }
}

/// What passes while the loop is late changes no speed, and is not made up for in one jump.
#[test]
fn smooth_after_a_late_tick() {
    for hz in [100.0, 250.0, 1000.0] {
        for (made_up_for, lawful) in [(false, true), (true, false)] {
            let mut w = World::ready(1, hz);
            w.stick(0, 1.0);
            w.run(0.3);
            w.hang(0.07);
            w.say(Event::Tick);
            if made_up_for {
                w.step(0.07);
            } else {
                w.late_step();
            }
            w.run(1.0);
            if lawful {
                assert_clean(&w.check())
            } else {
                assert_only(&w.check(), Law::Smooth)
            }
        }
    }
}

/// A stop under way ends later by what the loop was late meanwhile.
#[test]
fn loss_held_up_by_a_late_tick() {
    for (more, lawful) in [(0.0, true), (0.06, false)] {
        let mut w = World::ready(1, 250.0);
        w.stick(0, 1.0);
        w.run(2.0);
        w.cheat.stop_lag_s = more;
        w.stop(Event::Stop);
        w.run(0.1);
        w.hang(0.07);
        w.say(Event::Tick);
        w.late_step();
        w.run(1.0);
        if lawful {
            assert_clean(&w.check())
        } else {
            assert_only(&w.check(), Law::Loss)
        }
    }
}

#[test]
fn travel_one_count_over_either_end() {
    for sign in [1.0, -1.0] {
        for (counts, lawful) in [(0.9, true), (1.1, false)] {
            let mut w = World::ready(1, 250.0);
            push(&mut w, sign, 1.0);
            let far = w.axes[0].position.abs() - counts * COUNT;
            w.facts.axes[0].travel = Travel::Ends {
                low: -far,
                high: far,
            };
            if lawful {
                assert_clean(&w.check())
            } else {
                assert_only(&w.check(), Law::Travel)
            }
        }
    }
}

#[test]
fn travel_outside_only_inward() {
    for (x, lawful) in [(-0.5, true), (0.5, false)] {
        let mut w = World::ready(1, 250.0);
        w.facts.axes[0].travel = Travel::Ends {
            low: -50.0,
            high: -2.0,
        };
        push(&mut w, x, 1.0);
        if lawful {
            assert_clean(&w.check())
        } else {
            assert_only(&w.check(), Law::Travel)
        }
    }
}

/// Once inside, the ends bind; without a reference nothing is known of them; continuous has none.
#[test]
fn travel_needs_ends_and_a_reference() {
    let world = || {
        let mut w = World::ready(1, 250.0);
        w.facts.axes[0].travel = Travel::Ends {
            low: -50.0,
            high: 2.0,
        };
        w
    };
    let mut w = world();
    push(&mut w, 0.5, 1.0);
    assert_only(&w.check(), Law::Travel);
    w.facts.axes[0].travel = Travel::Continuous;
    assert_clean(&w.check());
    let mut w = world();
    w.facts.axes[0].referenced = false;
    w.say(Event::Enable {
        axis: 0,
        held: true,
    });
    push(&mut w, 0.5, 1.0);
    assert_clean(&w.check());
}

/// A rig that stops by itself, its link gone, may do so beyond ends that were set meanwhile; met again, it may not
/// go on from there.
#[test]
fn travel_set_while_the_rig_stops_by_itself() {
    for (met, lawful) in [(false, true), (true, false)] {
        let w = World::ready(1, 250.0);
        let mut checker = w.check();
        let at = |n: i64| w.now() + Nanos::millis(n);
        checker.event(at(0), &Event::LinkLost);
        let mut facts = w.facts.clone();
        facts.axes[0].travel = Travel::Ends {
            low: -50.0,
            high: -2.0,
        };
        checker.event(at(0), &Event::Changed(Change::Rig, Some(Box::new(facts))));
        if met {
            checker.event(at(1), &Event::LinkReady { session: 8 });
        }
        for n in 1..10 {
            let plant = PlantAxis {
                position: 0.1 * n as f64,
                speed: 0.0,
            };
            checker.plant(at(n), &Plant { axes: &[plant] });
        }
        let kept = checker.count(Law::Travel) == 0;
        assert_eq!(kept, lawful, "{}", report(&checker));
    }
}

#[test]
fn travel_message_is_precise() {
    let mut w = World::ready(1, 250.0);
    for (_, p) in w.plants(0) {
        p.position = 0.0;
    }
    if let Some((_, p)) = w.plants(0).last() {
        p.position = 170.08;
    }
    let checker = w.check();
    let text = checker.breaches()[0].to_string();
    assert_eq!(
        text,
        "law travel broken at 0.500 s, axis pan: position 170.08 deg, allowed -170.00..170.00 deg (one count 0.036 deg)"
    );
}
