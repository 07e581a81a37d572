//! Doctored traces against `consent`, and near misses that must pass.

mod common;

use common::*;
use stillhand_laws::*;

#[track_caller]
fn judge(w: &World, lawful: bool) {
    if lawful {
        assert_clean(&w.check())
    } else {
        assert_only(&w.check(), Law::Consent)
    }
}

/// A first value outside the deadband is not a demand; nor is a stick that was never centred.
#[test]
fn first_value_outside() {
    for (first, lawful) in [(0.0, true), (0.079, true), (0.081, false), (0.5, false)] {
        let mut w = World::new(1, 250.0);
        w.cheat.no_consent = true;
        w.stick(0, first);
        w.run(0.5);
        w.stick(0, 0.5);
        w.run(1.0);
        judge(&w, lawful);
    }
}

/// Centred for 200 ms without a break, two ticks of tolerance.
#[test]
fn centred_for_long_enough() {
    for (s, lawful) in [
        (0.25, true),
        (0.2, true),
        (0.193, true),
        (0.18, false),
        (0.05, false),
    ] {
        let mut w = World::new(1, 250.0);
        w.cheat.no_consent = true;
        w.stick(0, 0.5);
        w.cheat.deaf_to_sticks = true;
        w.run(0.5);
        w.stick(0, 0.0);
        w.t += s;
        w.say(Event::Tick);
        w.facts.lateness = Nanos::millis(900);
        w.cheat.deaf_to_sticks = false;
        w.stick(0, 0.5);
        w.run(0.5);
        judge(&w, lawful);
    }
}

/// Every withholding event asks for centring anew; a change of profile does not.
#[test]
fn withholding_events() {
    use Change::{Bindings, Operator, Profile, Rig};
    for (event, lawful) in [
        (Event::Changed(Profile, None), true),
        (Event::Changed(Rig, None), true),
        (Event::Changed(Bindings, None), false),
        (Event::Changed(Operator, None), false),
        (
            Event::TakesControl {
                pad: PAD,
                axes: Axes::ALL,
            },
            false,
        ),
        (
            Event::TakesControl {
                pad: PAD,
                axes: Axes(2),
            },
            true,
        ),
        (Event::Residual(0), false),
        (Event::StopReleased, false),
    ] {
        let mut w = World::ready(1, 250.0);
        w.say(event);
        w.run(0.1);
        w.stick(0, 0.5);
        w.run(1.0);
        judge(&w, lawful);
        // Centred once more, each of them lets it move.
        let mut w2 = World::ready(1, 250.0);
        w2.items.extend(
            w.items
                .iter()
                .filter(|(_, i)| matches!(i, Item::Event(Event::Changed(..))))
                .cloned(),
        );
        w2.run(0.3);
        w2.stick(0, 0.5);
        w2.run(1.0);
        assert_clean(&w2.check());
    }
}

/// A control that was consent once is none after a withholding event.
#[test]
fn consent_once_given_is_forgotten() {
    for (event, lawful) in [
        (Event::Changed(Change::Profile, None), true),
        (Event::Changed(Change::Operator, None), false),
    ] {
        let mut w = World::ready(1, 250.0);
        w.stick(0, 0.5);
        w.run(0.5);
        w.stick(0, 0.0);
        w.run(1.0);
        w.stick(0, 0.09);
        w.say(event);
        w.run(0.5);
        w.stick(0, 0.5);
        w.run(0.5);
        judge(&w, lawful);
    }
}

#[test]
fn stop_is_latched_until_released() {
    for (held, centred, lawful) in [(0.7, true, true), (0.7, false, false), (0.4, true, false)] {
        let mut w = World::ready(1, 250.0);
        w.say(Event::ButtonDown(PAD, Button::East));
        w.say(Event::ButtonUp(PAD, Button::East));
        if !centred {
            w.cheat.deaf_to_sticks = true;
            w.stick(0, 0.3);
        }
        w.run(0.5);
        w.say(Event::ButtonDown(PAD, Button::Start));
        w.run(held);
        w.say(Event::ButtonUp(PAD, Button::Start));
        w.stick(0, 0.0);
        w.run(0.5);
        w.cheat.deaf_to_sticks = false;
        w.stick(0, 0.5);
        w.run(0.5);
        judge(&w, lawful);
    }
}

/// The stick is back at its centre: the speed must come down by the losing set.
#[test]
fn moves_on_without_consent() {
    for (deaf_for, lawful) in [(0.0, true), (0.008, true), (0.1, false)] {
        let mut w = World::ready(1, 250.0);
        w.stick(0, 0.5);
        w.run(1.0);
        w.cheat.deaf_to_sticks = true;
        w.stick(0, 0.05);
        w.run(deaf_for);
        w.cheat.deaf_to_sticks = false;
        w.run(2.0);
        judge(&w, lawful);
    }
}

/// A consent of another kind carries the motion, as long as it stands.
#[test]
fn sustain_carries_until_it_ends() {
    for (ended, lawful) in [(false, true), (true, false)] {
        let mut w = World::ready(1, 250.0);
        w.stick(0, 0.5);
        w.run(1.0);
        w.say(Event::Ask(0, Asked::Sustain));
        w.cheat.deaf_to_sticks = true;
        w.stick(0, 0.0);
        w.run(1.0);
        if ended {
            w.say(Event::AskEnded(0, Asked::Sustain));
        }
        w.run(1.0);
        judge(&w, lawful);
    }
}

/// A recall needs no stick, but a reference.
#[test]
fn recall_needs_a_reference() {
    for (referenced, asked, lawful) in [
        (true, Asked::Recall, true),
        (false, Asked::Recall, false),
        (false, Asked::Inching, true),
    ] {
        let mut w = World::new(1, 250.0);
        w.facts.axes[0].referenced = referenced;
        w.say(Event::Enable {
            axis: 0,
            held: true,
        });
        w.say(Event::Ask(0, asked));
        w.cheat.no_consent = true;
        (w.axes[0].stick, w.axes[0].heard) = (Some(0.5), 0.5);
        w.run(1.0);
        judge(&w, lawful);
    }
}

/// A reference that is lost takes a stick's consent, one that is found gives it back.
#[test]
fn an_axis_that_lost_its_reference_may_not_start() {
    for (events, lawful) in [
        (&[][..], true),
        (&[Event::Unreferenced(0)][..], false),
        (&[Event::Unreferenced(0), Event::Referenced(0)][..], true),
    ] {
        let mut w = World::ready(1, 250.0);
        for event in events {
            w.say(event.clone());
        }
        w.stick(0, 0.5);
        w.run(1.0);
        judge(&w, lawful);
    }
}

#[test]
fn an_enable_control_must_be_held() {
    for (held, lawful) in [(true, true), (false, false)] {
        let mut w = World::ready(1, 250.0);
        w.facts.axes[0].needs_enable = true;
        w.say(Event::Enable { axis: 0, held });
        w.stick(0, 0.5);
        w.run(1.0);
        judge(&w, lawful);
        if held {
            w.say(Event::Enable {
                axis: 0,
                held: false,
            });
            w.run(1.0);
            judge(&w, false);
        }
    }
}

/// Consent belongs to the pair of control and axis: another stick frees nothing.
#[test]
fn another_stick_frees_nothing() {
    let mut w = World::new(2, 250.0);
    w.stick(0, 0.0);
    w.stick(1, 0.4);
    w.run(0.5);
    w.stick(0, 0.5);
    w.run(1.0);
    judge(&w, true);
    w.cheat.no_consent = true;
    w.run(1.0);
    judge(&w, false);
    assert_eq!(w.check().breaches()[0].axis.as_deref(), Some("tilt"));
}

/// A radial deadband moves the minor half too.
#[test]
fn radial_deadband_counts_both_halves() {
    for (radial, lawful) in [(true, true), (false, false)] {
        let mut w = World::ready(2, 250.0);
        if radial {
            w.facts.controls[0].partner = Some(ControlId(1));
            w.facts.controls[1].partner = Some(ControlId(0));
        }
        w.stick(0, 0.05);
        w.stick(1, 0.5);
        w.axes[0].stick = Some(0.15);
        w.run(1.0);
        judge(&w, lawful);
    }
}

/// Trim takes the resting place of the stick out before the deadband is looked at.
#[test]
fn trim_moves_the_centre() {
    for (centre, lawful) in [(0.057, true), (0.2, false)] {
        let mut w = World::new(1, 250.0);
        w.facts.controls[0].centre = centre;
        w.stick(0, 0.079);
        w.run(0.5);
        w.stick(0, 0.5);
        w.run(0.5);
        judge(&w, lawful);
    }
}

#[test]
fn the_plant_moves_by_itself() {
    for (speed, lawful) in [(0.5 * Q, true), (0.05, false)] {
        let mut w = World::ready(1, 250.0);
        w.run(1.0);
        for (t, p) in w.plants(0) {
            if t > Nanos::millis(800) {
                p.speed = speed;
            }
        }
        judge(&w, lawful);
    }
}

/// A rig that does not hear a frame goes by the one before until its watchdog stops it, and no longer.
#[test]
fn the_plant_moves_on_when_frames_are_lost() {
    for (lost, long, lawful) in [
        (true, false, true),
        (false, false, false),
        (true, true, false),
    ] {
        let mut w = World::ready(1, 250.0);
        w.run(0.5);
        let from = w.now();
        if lost {
            w.say(Event::FramesLost { late: Nanos::ZERO });
        }
        w.run(12.0);
        let until = Nanos::millis(if long { 12_000 } else { 120 });
        for (t, p) in w.plants(0) {
            if t > from && t < from + until {
                p.speed = 0.05;
            }
        }
        judge(&w, lawful);
    }
}

/// Power comes back while a load that nobody held still coasts: it is braked by the stop set. It does not
/// take longer than that, and does not speed up.
#[test]
fn what_coasts_when_power_comes_back() {
    for (share, faster, lawful) in [(1.0, false, true), (0.3, false, false), (1.0, true, false)] {
        let mut w = World::ready(1, 250.0);
        w.stick(0, 1.0);
        w.run(2.0);
        w.stop(Event::PowerLost);
        w.linked = false;
        let mut checker = w.check();
        let start = w.now();
        let coasting = |at: i64| (30.0 - share * 60.0 * at as f64 / 1e3).max(0.0);
        for at in 1..2_000 {
            let t = start + Nanos::millis(at);
            if at == 300 {
                checker.event(t, &Event::PowerBack);
            }
            let speed = match faster && (400..410).contains(&at) {
                true => 25.0,
                false => coasting(at),
            };
            let plant = PlantAxis {
                position: 0.0,
                speed,
            };
            checker.plant(t, &Plant { axes: &[plant] });
        }
        assert_eq!(
            checker.count(Law::Consent) == 0,
            lawful,
            "{share}, {faster}"
        );
    }
}
