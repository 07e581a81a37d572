//! Doctored traces against the bands that law `quiet` wants crossed, and near misses that must pass.

mod common;

use common::*;
use stillhand_laws::*;

/// A band is crossed, not dwelt in.
#[test]
fn quiet_band_dwelt_in() {
    let bands = [Band {
        low: 1.0,
        high: 2.0,
    }];
    for (speed, lawful) in [(3.0, true), (0.9, true), (1.5, false)] {
        let mut w = World::ready(1, 250.0);
        w.say(quiet_at(4.0, &bands));
        w.ceiling(0, 4.0);
        w.normal(0, SOFT);
        w.run(0.2);
        w.stick(0, DEADBAND + (1.0 - DEADBAND) * speed / 4.0);
        w.run(3.0);
        w.stick(0, 0.0);
        w.run(2.0);
        judge(&w, Law::Quiet, lawful);
    }
}

/// Turned around in a band again and again: lawful if a hand asks for it each time. One that trembles does not,
/// and one that moves while the speed stays where it is asks for nothing.
#[test]
fn quiet_band_turned_around_in() {
    let turns: [f64; 6] = [0.0, 1.9, 1.1, 1.9, 1.1, 3.0];
    let stays: [f64; 6] = [0.0, 1.5, 1.5, 1.5, 1.5, 3.0];
    for (speeds, swing, lawful) in [
        (turns, 0.3, true),
        (turns, 0.1, false),
        (turns, 0.0, false),
        (stays, 0.3, false),
    ] {
        let w = World::ready(1, 250.0);
        let mut checker = w.check();
        let mut t = w.now();
        let bands = [Band {
            low: 1.0,
            high: 2.0,
        }];
        checker.event(t, &quiet_at(4.0, &bands));
        let mut hand = 0.5_f64;
        for pair in speeds.windows(2) {
            let (from, to) = (pair[0], pair[1]);
            let leg = Slew::plan(from.min(to), 0.0, from.max(to), SOFT);
            let ticks = (leg.time() / 0.004).ceil().max(60.0) as i64;
            for n in 1..=ticks {
                let at = (0.004 * n as f64).min(leg.time());
                let speed = match from < to {
                    true => leg.at(at).0,
                    false => from + to - leg.at(at).0,
                };
                t = t + Nanos::millis(4);
                checker.event(t, &Event::Tick);
                if n == ticks / 2 {
                    hand = 1.0 + swing - hand;
                    checker.event(
                        t,
                        &Event::Stick {
                            pad: PAD,
                            control: ControlId(0),
                            value: hand,
                        },
                    );
                }
                checker.frame(t, &Frame { speeds: &[speed] });
            }
        }
        let held = checker.count(Law::Quiet) == 0;
        assert_eq!(held, lawful, "{speeds:?} {swing}");
    }
}

/// A slow gain from rest through 1 to 3 units/s: 0.313 s in each of two bands, of which one step leads into the
/// other, is as long as a crossing may take (0.316 s and a tick); 0.328 s in each is not, nor is twice 0.313 s in
/// one band (0.447 s).
#[test]
fn quiet_bands_side_by_side() {
    let band = |low, high| Band { low, high };
    let two = [band(1.0, 1.999), band(2.001, 3.0)];
    let one = [band(1.0, 3.0)];
    for (bands, accel, lawful) in [
        (&two[..], 3.2, true),
        (&two, 3.05, false),
        (&one, 3.2, false),
    ] {
        let w = World::ready(1, 250.0);
        let mut checker = w.check();
        let start = w.now();
        checker.event(start, &quiet_at(4.0, bands));
        let gain = Slew::plan(0.0, 0.0, 3.5, Set::new(accel, SOFT.jerk));
        for n in 1..=600 {
            let at = 0.004 * f64::from(n);
            let t = start + Nanos::from_secs(at);
            let speed = gain.at(at.min(gain.time())).0;
            turn(&mut checker, t, speed);
        }
        assert_eq!(checker.count(Law::Quiet) == 0, lawful, "{bands:?} {accel}");
    }
}

/// A guard's brake for an end falls as the way left does: 2.9 to 0.1 units/s in a quarter more than it may take
/// to cross them. Where the end is far it dwells.
#[test]
fn quiet_band_while_braking_for_an_end() {
    for (far, lawful) in [(0.0, true), (20.0, false)] {
        let mut w = World::ready(1, 250.0);
        w.facts.axes[0].delay = Nanos::from_secs(0.4);
        let Travel::Ends { high, .. } = w.facts.axes[0].travel else {
            unreachable!("made with ends");
        };
        let mut checker = w.check();
        let start = w.now();
        let bands = [Band {
            low: 0.1,
            high: 2.9,
        }];
        checker.event(start, &quiet_at(4.0, &bands));
        let gain = Slew::plan(0.0, 0.0, 3.0, SOFT);
        let brake = Slew::plan(3.0, 0.0, 0.0, Set::new(2.2, SOFT.jerk));
        let mut way_left = gain.distance() + brake.distance();
        for n in 1..=1_000 {
            let at = 0.004 * f64::from(n);
            let speed = match at < gain.time() {
                true => gain.at(at).0,
                false => brake.at((at - gain.time()).min(brake.time())).0,
            };
            way_left -= 0.004 * speed;
            let plant = PlantAxis {
                position: high - far - way_left,
                speed,
            };
            let t = start + Nanos::from_secs(at);
            checker.plant(t, &Plant { axes: &[plant] });
            turn(&mut checker, t, speed);
        }
        assert_eq!(checker.count(Law::Quiet) == 0, lawful, "{far} units off");
    }
}
