//! Doctored traces against `loss`, and near misses that must pass.

mod common;

use common::*;
use stillhand_laws::*;

#[track_caller]
fn judge(w: &World, lawful: bool) {
    if lawful {
        assert_clean(&w.check())
    } else {
        assert_only(&w.check(), Law::Loss)
    }
}

fn moving(hz: f64, for_s: f64) -> World {
    let mut w = World::ready(2, hz);
    w.stick(0, 1.0);
    w.stick(1, -0.7);
    w.run(for_s);
    w
}

fn causes() -> [Event; 5] {
    [
        Event::Stop,
        Event::PadUnplugged(PAD),
        Event::PowerLost,
        Event::End,
        Event::ButtonDown(PAD, Button::East),
    ]
}

/// From full speed and from the middle of a gain.
#[test]
fn ten_percent_too_long() {
    for hz in [50.0, 100.0, 250.0, 1000.0] {
        for for_s in [0.3, 2.0] {
            for event in causes() {
                for (longer, lawful) in [(1.0, true), (1.01, true), (1.10, false)] {
                    let mut w = moving(hz, for_s);
                    // The tenth must be more than the three steps and the step of old motion that
                    // every stop is granted: at 50 Hz that takes a gentler stop.
                    let base = if hz < 200.0 {
                        Set::new(30.0, 150.0)
                    } else {
                        STOP
                    };
                    for axis in &mut w.facts.axes {
                        (axis.stop_plus, axis.stop_minus) = (base, base);
                    }
                    w.cheat.stop = Set::new(base.accel / longer, base.jerk / (longer * longer));
                    let slow = hz < 200.0 && (for_s < 1.0 || hz < 100.0);
                    w.stop(event.clone());
                    w.run(4.0);
                    if lawful || !slow {
                        judge(&w, lawful);
                    }
                }
            }
        }
    }
}

/// The event is acted on late. The speed is still under the normal descent: only the stop is late.
#[test]
fn begun_too_late() {
    for event in causes() {
        for (lag, lawful) in [(0.0, true), (0.006, true), (0.05, false)] {
            let mut w = moving(250.0, 2.0);
            w.cheat.stop_lag_s = lag;
            w.stop(event.clone());
            w.run(2.0);
            judge(&w, lawful);
        }
    }
}

/// Lateness: the gap between ticks is over the bound.
#[test]
fn late_by_more_than_the_bound() {
    for (gap, lag, lawful) in [(0.079, 9.0, true), (0.081, 0.0, true), (0.081, 0.1, false)] {
        let mut w = moving(250.0, 2.0);
        w.hang(gap);
        w.cheat.stop_lag_s = lag;
        if gap > 0.08 {
            w.stop(Event::Tick);
        } else {
            w.say(Event::Tick);
        }
        w.late_step();
        w.run(2.0);
        judge(&w, lawful);
    }
}

/// The link is gone: frames go nowhere, the rig stops by its own watchdog.
#[test]
fn link_lost_and_the_rig_stops() {
    for (event, starts) in [(Some(Event::LinkLost), 0.12), (None, 0.12)] {
        for (late, lawful) in [(0.0, true), (0.05, false)] {
            let mut w = moving(250.0, 2.0);
            if let Some(event) = &event {
                w.stop(event.clone());
            }
            w.linked = false;
            w.axes.iter_mut().for_each(|a| a.stopping = None);
            rig_stops_alone(&mut w, starts + late);
            judge(&w, lawful);
        }
    }
}

/// A rig is told whole counts of its stop set, and stops by those: not by fewer.
#[test]
fn a_rig_of_coarse_counts_stops_by_whole_ones() {
    let count = STOP.accel / 13.9;
    for (counts, lawful) in [(13.0, true), (11.0, false)] {
        let mut w = moving(250.0, 2.0);
        w.facts.axes.iter_mut().for_each(|a| a.count = count);
        w.lose_link();
        w.axes.iter_mut().for_each(|a| a.stopping = None);
        rig_stops_by(&mut w, 0.12, Set::new(counts * count, STOP.jerk));
        judge(&w, lawful);
    }
}

/// A turn that comes late finds the rig in a stop of its own. That one began without the acceleration of
/// the brake that was on, so the true speed is above what the frames go on with.
#[test]
fn frames_that_a_rig_in_its_own_stop_does_not_hear() {
    for (late, lawful) in [(0.0, true), (0.05, false)] {
        let mut w = moving(250.0, 2.0);
        w.ceiling(0, 5.0);
        w.run(0.1);
        let (last, v) = (w.now(), w.axes[0].sent);
        w.hang(0.124);
        w.stop(Event::Tick);
        w.late_step();
        w.run(0.1);
        let own = Slew::plan(v, 0.0, 0.0, STOP);
        for (t, plant) in w.plants(0).filter(|(t, _)| *t > last) {
            plant.speed = own.at((t.since(last) - 0.12 - late).max(0.0)).0;
        }
        let checker = w.check();
        let kept = checker.count(Law::Ceiling) == 0;
        assert_eq!(kept, lawful, "{}", report(&checker));
    }
}

fn rig_stops_alone(w: &mut World, after: f64) {
    rig_stops_by(w, after, STOP);
}

/// The plant goes on at its last speed, then stops by `set`.
fn rig_stops_by(w: &mut World, after: f64, set: Set) {
    let start: Vec<PlantAxis> = w
        .axes
        .iter()
        .map(|a| PlantAxis {
            position: a.position,
            speed: a.sent,
        })
        .collect();
    for n in 1..400 {
        let s = f64::from(n) * 0.004;
        w.t += 0.004;
        let truth = start.iter().map(|p| {
            let stop = Slew::plan(p.speed, 0.0, 0.0, set);
            let (speed, _) = stop.at((s - after).max(0.0));
            PlantAxis {
                position: p.position + p.speed * s.min(after),
                speed,
            }
        });
        w.items.push((w.now(), Item::Plant(truth.collect())));
    }
}

/// The stop is in time but the true position runs on.
#[test]
fn goes_too_far() {
    for (extra, lawful) in [(0.0, true), (0.5 * COUNT, true), (1.5, false)] {
        let mut w = moving(250.0, 2.0);
        let at = w.now();
        w.stop(Event::Stop);
        w.run(2.0);
        for (t, p) in w.plants(0) {
            p.position += extra * (t.since(at) / 0.3).clamp(0.0, 1.0);
        }
        judge(&w, lawful);
    }
}

/// A moving axis needs a live pad: bound by bus and speed, wiggles renew it.
#[test]
fn silence_of_the_pad() {
    // 30 deg/s would cover 30 degrees in 1 s: clamped to 2 s (Bluetooth) and 10 s (USB).
    for (bus, bound) in [
        (Bus::Wired, None),
        (Bus::Usb, Some(10.0)),
        (Bus::Bluetooth, Some(2.0)),
        (Bus::Streaming, Some(0.3)),
    ] {
        for (late, lawful) in [(0.0, true), (0.06, false)] {
            let mut w = World::new(1, 250.0);
            w.axes[0].position = -165.0;
            w.items[0].1 = Item::Event(Event::PadPlugged {
                pad: PAD,
                bus,
                may_drive: true,
            });
            w.stick(0, 0.0);
            w.run(0.25);
            w.stick(0, 1.0);
            // A wired pad has no bound: the motion goes on to the end of travel.
            w.run(bound.unwrap_or(14.0) + late);
            if bound.is_some() {
                w.stop(Event::Tick);
            }
            w.run(2.0);
            judge(&w, lawful || bus == Bus::Wired);
        }
    }
}

#[test]
fn a_slow_creep_may_be_silent_for_longer() {
    for (s, lawful) in [(9.0, true), (12.5, false)] {
        let mut w = World::new(1, 100.0);
        w.items[0].1 = Item::Event(Event::PadPlugged {
            pad: PAD,
            bus: Bus::Bluetooth,
            may_drive: true,
        });
        w.stick(0, 0.0);
        w.run(0.25);
        w.stick(0, 0.2);
        w.run(s);
        w.stick(0, 0.0);
        w.run(2.0);
        let checker = w.check();
        // A pad that fell silent also withholds: the motion on is without consent too.
        assert_eq!(
            checker.count(Law::Loss) == 0,
            lawful,
            "{}",
            report(&checker)
        );
        assert!(!lawful || checker.total() == 0, "{}", report(&checker));
    }
}

/// A word without a change is a sign of life; one of a pad that is not there is none.
#[test]
fn a_pad_that_says_something_is_alive() {
    for (pad, lawful) in [(PAD, true), (PadId(9), false)] {
        let mut w = World::new(1, 100.0);
        w.items[0].1 = Item::Event(Event::PadPlugged {
            pad: PAD,
            bus: Bus::Bluetooth,
            may_drive: true,
        });
        w.stick(0, 0.0);
        w.run(0.25);
        w.stick(0, 0.2);
        w.run(7.0);
        w.say(Event::PadAlive(pad));
        w.run(5.5);
        w.stick(0, 0.0);
        w.run(2.0);
        let checker = w.check();
        let kept = checker.count(Law::Loss) == 0;
        assert_eq!(kept, lawful, "{}", report(&checker));
    }
}

/// A pad that turns out to stream is missed 0.3 s after its last word; one that is not there is none.
#[test]
fn a_pad_that_turns_out_to_stream() {
    for (pad, late, lawful) in [(PAD, 0.0, true), (PAD, 0.06, false), (PadId(9), 0.06, true)] {
        let mut w = World::new(1, 250.0);
        w.axes[0].position = -165.0;
        w.items[0].1 = Item::Event(Event::PadPlugged {
            pad: PAD,
            bus: Bus::Usb,
            may_drive: true,
        });
        w.stick(0, 0.0);
        w.run(0.25);
        w.stick(0, 1.0);
        w.run(1.0);
        w.say(Event::PadAlive(PAD));
        w.say(Event::PadBus(pad, Bus::Streaming));
        w.run(0.3 + late);
        match pad == PAD {
            true => w.stop(Event::Tick),
            false => w.stick(0, 0.0),
        }
        w.run(2.0);
        judge(&w, lawful);
    }
}

/// The run ends in the middle of an overdue stop.
#[test]
fn a_stop_never_seen_to_end() {
    for (wait, lawful) in [(0.1, true), (3.0, false)] {
        let mut w = moving(250.0, 2.0);
        w.stop(Event::Stop);
        w.tick();
        w.t += wait;
        w.say(Event::Referenced(9));
        judge(&w, lawful);
    }
}

/// Power back, link back: nothing of the old motion is held against the new one.
#[test]
fn life_goes_on_after_each_loss() {
    let mut w = moving(250.0, 2.0);
    w.lose_link();
    rig_stops_alone(&mut w, 0.12);
    w.find_link();
    for (n, axis) in w.axes.iter_mut().enumerate() {
        axis.position = 10.0 * n as f64;
    }
    w.say(Event::Moved(0));
    w.say(Event::Moved(1));
    w.stick(0, 0.0);
    w.run(0.5);
    w.stick(0, 0.5);
    w.run(1.0);
    w.stop(Event::PowerLost);
    w.run(1.5);
    w.say(Event::PowerBack);
    w.say(Event::Referenced(0));
    w.stick(0, 0.0);
    w.run(0.5);
    w.stick(0, -0.5);
    w.run(1.0);
    w.stop(Event::PadUnplugged(PAD));
    w.run(1.0);
    w.say(Event::PadPlugged {
        pad: PAD,
        bus: Bus::Usb,
        may_drive: true,
    });
    w.stick(0, 0.0);
    w.run(0.5);
    w.stick(0, 0.5);
    w.run(1.0);
    assert_clean(&w.check());
    assert!(w.check().stats().share_moving() > 0.3);
}

/// A rig that is left alone just before it has gained all takes off the acceleration of a frame ago, and
/// so may pass the ceiling by a little; by more it may not.
#[test]
fn the_rigs_own_stop_runs_out() {
    let gained = 12.0_f64;
    let runs_out = gained * gained / (2.0 * NORMAL.jerk);
    // Told by the link that is lost, or only known to the rig.
    let own = [
        (1.2, true, true),
        (1.6, true, false),
        (1.2, false, true),
        (1.6, false, false),
    ];
    for (share, told, lawful) in own {
        let mut w = World::ready(1, 250.0);
        (w.facts.axes[0].stop_plus, w.facts.axes[0].stop_minus) = (NORMAL, NORMAL);
        w.stick(0, 1.0);
        // Only the last bit of the gain is left: what is on is taken off by the normal jerk.
        w.run(0.7 - gained / NORMAL.jerk);
        match told {
            true => w.lose_link(),
            false => w.say(Event::RigStops),
        }
        let (t, position, v) = (w.now(), w.axes[0].position, w.axes[0].v);
        let mut checker = w.check();
        for n in 1..=20 {
            let at = t + Nanos::millis(n);
            let speed = v + share * runs_out * (n as f64 / 20.0);
            let plant = PlantAxis { position, speed };
            checker.plant(at, &Plant { axes: &[plant] });
        }
        assert_eq!(checker.count(Law::Ceiling) == 0, lawful, "{share}");
    }
}
