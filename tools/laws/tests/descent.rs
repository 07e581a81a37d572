//! Doctored traces against the descents of `ceiling` and `consent`: a motion that must come down,
//! with the losing set changed on the way or in the very moment. Near misses must pass.

mod common;

use common::*;
use stillhand_laws::*;

const SOFT: Set = Set::new(30.0, 100.0);

/// Any rate of the engine's.
const RATES: [f64; 4] = [50.0, 100.0, 250.0, 1000.0];

/// Cruising at the top.
fn cruising(hz: f64) -> World {
    let mut w = World::ready(1, hz);
    w.stick(0, 1.0);
    w.run(2.0);
    w
}

/// Tells the checker of a set; the model goes on with its own.
fn tell(w: &mut World, set: Set) {
    w.say(Event::NormalSet {
        axis: 0,
        set: Normal::same(set),
    });
}

/// The model moves by this set from now on, whatever it was told.
fn moves_by(w: &mut World, set: Set) {
    (w.axes[0].set, w.axes[0].candidate) = (set, set);
}

fn share(set: Set, share: f64) -> Set {
    Set::new(set.accel * share, set.jerk * share)
}

/// The stick is let go: the way to rest is bounded by consent.
#[test]
fn to_rest_ten_percent_too_gently() {
    for hz in RATES {
        for (part, lawful) in [(1.0, true), (0.9, false)] {
            let mut w = cruising(hz);
            moves_by(&mut w, share(NORMAL, part));
            w.stick(0, 0.0);
            w.run(2.0);
            judge(&w, Law::Consent, lawful);
        }
    }
}

/// A ceiling drops, and the set to lose speed becomes harder in the same moment: it counts at once.
#[test]
fn a_harder_set_with_the_drop_counts_at_once() {
    for hz in RATES {
        for (by, lawful) in [(NORMAL, true), (share(NORMAL, 0.9), false), (SOFT, false)] {
            let mut w = World::ready(1, hz);
            w.normal(0, SOFT);
            w.stick(0, 1.0);
            w.run(3.0);
            tell(&mut w, NORMAL);
            moves_by(&mut w, by);
            w.ceiling(0, 5.0);
            w.run(3.0);
            judge(&w, Law::Ceiling, lawful);
        }
    }
}

/// A ceiling drops, and the set becomes softer in the same moment, while nothing accelerates: both
/// sets are legal, and nothing softer than the softer one.
#[test]
fn a_softer_set_with_the_drop_may_count() {
    for hz in RATES {
        for (by, lawful) in [(NORMAL, true), (SOFT, true), (share(SOFT, 0.9), false)] {
            let mut w = cruising(hz);
            tell(&mut w, SOFT);
            moves_by(&mut w, by);
            w.ceiling(0, 5.0);
            w.run(3.0);
            judge(&w, Law::Ceiling, lawful);
        }
    }
}

/// In the middle of a braking a ceiling drops, and with it comes a softer set that could not take
/// the brake off before the ceiling. The old set, which stays in force, lands later than the softer
/// one, which would dive below. A brake that comes off early is neither.
#[test]
fn a_softer_set_while_braking_may_be_kept_out() {
    for hz in RATES {
        for (by, lawful) in [(NORMAL, true), (Set::new(26.0, 300.0), false)] {
            let mut w = cruising(hz);
            w.stick(0, 0.2);
            w.run(0.24);
            tell(&mut w, Set::new(60.0, 60.0));
            moves_by(&mut w, by);
            w.stick(0, 1.0);
            w.ceiling(0, 12.0);
            w.run(2.0);
            judge(&w, Law::Ceiling, lawful);
        }
    }
}

/// A brake is on, under the ceiling, when a softer set comes: it is eased to what that set allows, at the
/// jerk it came with, and then that set brakes. Eased further than that it comes down too slowly.
#[test]
fn a_brake_too_hard_for_a_softer_set_is_eased_to_it() {
    let soft = Set::new(20.0, 60.0);
    for hz in RATES {
        for (to, lawful) in [(20.0, true), (18.0, false)] {
            let mut w = cruising(hz);
            w.stick(0, 0.0);
            w.run(0.16);
            tell(&mut w, soft);
            let mut checker = w.check();
            let (start, v, a) = (w.now(), w.axes[0].v, w.axes[0].a);
            let easing = Slew::plan(v, a, v, Set::new(1e9, NORMAL.jerk));
            let eased_in = (-to - a) / NORMAL.jerk;
            let (v, a) = easing.at(eased_in);
            let rest = Slew::plan(v, a, 0.0, Set::new(to, soft.jerk));
            for n in 1..=(4.0 * hz) as i64 {
                let after = n as f64 / hz;
                let speed = match after < eased_in {
                    true => easing.at(after).0,
                    false => rest.at(after - eased_in).0,
                };
                let t = start + Nanos::from_secs(after);
                turn(&mut checker, t, speed);
            }
            assert_eq!(
                checker.count(Law::Consent) == 0,
                lawful,
                "to {to} at {hz} Hz"
            );
            assert_eq!(checker.total(), checker.count(Law::Consent));
        }
    }
}

/// A ceiling that falls twice: what came down slowly for the first fall was overtaken since, and
/// comes down anew from where it is, but no more gently than by the set in force.
#[test]
fn a_second_fall_counts_from_where_the_motion_is() {
    for hz in [250.0, 1000.0] {
        for (part, lawful) in [(1.0, true), (0.9, false)] {
            let mut w = World::ready(1, hz);
            w.say(Event::NormalSet {
                axis: 0,
                set: Normal {
                    gaining: NORMAL,
                    losing: Set::new(30.0, 0.05),
                },
            });
            w.run(0.1);
            w.stick(0, 1.0);
            w.run(0.02);
            w.ceiling(0, 0.01);
            w.run(0.02);
            w.ceiling(0, TOP);
            w.run(1.0);
            moves_by(&mut w, share(NORMAL, part));
            w.ceiling(0, 5.0);
            w.run(3.0 / hz);
            tell(&mut w, NORMAL);
            w.run(2.0);
            judge(&w, Law::Ceiling, lawful);
        }
    }
}

/// Falling on and on does not grant anew what was not obeyed.
#[test]
fn a_ceiling_that_falls_on_is_obeyed() {
    for (by, lawful) in [(NORMAL, true), (Set::new(26.0, 300.0), false)] {
        let mut w = cruising(250.0);
        moves_by(&mut w, by);
        for n in 0..40 {
            w.ceiling(0, 29.0 - 0.5 * f64::from(n));
            w.run(0.02);
        }
        judge(&w, Law::Ceiling, lawful);
    }
}

/// An axis that has come to rest before the slowest descent would have stays there.
#[test]
fn at_rest_the_descent_is_over() {
    for (again, lawful) in [(false, true), (true, false)] {
        let mut w = cruising(250.0);
        tell(&mut w, SOFT);
        w.stick(0, 0.0);
        // At rest by the old set after 0.7 s, by the softer one after 1.3 s.
        w.run(0.75);
        if again {
            moves_by(&mut w, SOFT);
            w.cheat.no_consent = true;
            w.axes[0].stick = Some(0.11);
        }
        w.run(1.0);
        judge(&w, Law::Consent, lawful);
    }
}

/// A landing whose remainder is carried reads 1, 0, 1, 0 quanta: it has not come to rest and
/// started anew. Two frames at rest have.
#[test]
fn a_landing_ends_in_quanta() {
    for (quanta, lawful) in [([1.0, 0.0, 1.0, 0.0], true), ([0.0, 0.0, 1.0, 0.0], false)] {
        let mut w = cruising(250.0);
        w.stick(0, 0.0);
        w.run(2.0);
        let last = w.frames(0).filter(|(_, v)| **v != 0.0).count();
        let at = w.frames(0).position(|(_, v)| *v > 20.0).unwrap_or(0);
        let moving = w.frames(0).skip(at).take_while(|(_, v)| **v > Q).count();
        assert!(last > moving, "it moved before it cruised");
        for (n, quantum) in quanta.into_iter().enumerate() {
            if let Some((_, v)) = w.frames(0).nth(at + moving + n) {
                *v = quantum * Q;
            }
        }
        judge(&w, Law::Consent, lawful);
    }
}
