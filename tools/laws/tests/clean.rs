//! Worlds that keep the laws are not reported.

mod common;

use common::*;
use stillhand_laws::*;

/// A minute of sticks, ceilings, sets, stops, losses and stalls.
fn random_world(seed: u64, hz: f64, uneven: f64) -> World {
    let mut w = World::new(2, hz);
    w.dice = Dice(seed);
    w.uneven = uneven;
    for n in 0..2 {
        w.stick(n, 0.0);
    }
    w.run(0.5);
    while w.t < 60.0 {
        let n = usize::from(w.dice.roll() < 0.5);
        match (w.dice.roll() * 16.0) as u32 {
            0..8 => {
                let x = w.dice.within(-1.0, 1.0);
                w.stick(n, x);
            }
            8 => w.stick(n, 0.0),
            9 | 10 => {
                let c = w.dice.within(1.0, TOP);
                w.ceiling(n, c);
            }
            11 => {
                let k = w.dice.within(0.1, 1.0);
                w.normal(n, Set::new(60.0 * k, 300.0 * k));
            }
            12 => {
                w.stop(Event::Stop);
                let wait = w.dice.within(0.0, 1.5);
                w.run(wait);
                w.release();
                centre(&mut w);
            }
            13 => {
                w.run(1.0);
                stall(&mut w);
                if w.dice.roll() < 0.7 {
                    centre(&mut w);
                }
            }
            14 => centre(&mut w),
            _ => flicker(&mut w, n),
        }
        let wait = w.dice.within(0.0, 0.9);
        w.run(wait);
    }
    w
}

fn centre(w: &mut World) {
    w.stick(0, 0.0);
    w.stick(1, 0.0);
    w.run(0.5);
}

/// Many small drops of a ceiling, as a lens zooming in makes them.
fn flicker(w: &mut World, n: usize) {
    let mut c = w.axes[n].ceiling.0;
    for _ in 0..20 {
        c *= 0.97;
        w.ceiling(n, c);
        w.tick();
    }
}

/// The engine is late by more than its bound: it stops, and is withheld. Of the time that passed it
/// makes up for two periods.
fn stall(w: &mut World) {
    w.hang(w.facts.lateness.secs() + 0.01);
    w.stop(Event::Tick);
    w.late_step();
}

#[test]
fn random_worlds_are_clean_at_every_rate() {
    for (n, hz) in [50.0, 100.0, 250.0, 1000.0].into_iter().enumerate() {
        for uneven in [0.0, 0.3] {
            for seed in 0..24 {
                let w = random_world(seed + 1000 * n as u64, hz, uneven);
                let checker = w.check();
                assert!(
                    checker.total() == 0,
                    "seed {seed}, {hz} Hz, uneven {uneven}: {}",
                    report(&checker)
                );
                assert!(
                    checker.stats().share_moving() > 0.2,
                    "seed {seed}, {hz} Hz: hardly moves"
                );
            }
        }
    }
}

/// A slow line sends one frame in three; the plant follows a frame and 10 ms later.
#[test]
fn fewer_frames_and_a_late_plant_are_clean() {
    for hz in [250.0, 1000.0] {
        for seed in 100..112 {
            let mut w = random_world(seed, hz, 0.2);
            w.facts.frame_period = Nanos(3 * w.facts.tick.0);
            // The model's plant knows of every tick; a real one only of the frames, a period later.
            let late = Nanos::millis(10) + w.facts.frame_period;
            for axis in &mut w.facts.axes {
                axis.delay = late;
            }
            let mut frames = 0;
            w.items.retain(|(_, item)| {
                frames += u32::from(matches!(item, Item::Frame(_)));
                !matches!(item, Item::Frame(_)) || frames % 3 == 0
            });
            for (t, item) in &mut w.items {
                if matches!(item, Item::Plant(_)) {
                    *t = *t + late;
                }
            }
            w.items.sort_by_key(|(t, _)| *t);
            let checker = w.check();
            assert!(
                checker.total() == 0,
                "seed {seed}, {hz} Hz: {}",
                report(&checker)
            );
            assert!(
                checker.stats().share_moving() > 0.2,
                "seed {seed}: hardly moves"
            );
        }
    }
}
