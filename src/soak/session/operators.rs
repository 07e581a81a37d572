//! Rigs and operators with every feature somewhere among them.
//!
//! The `expect`s cannot fail: what they build is in range by how the numbers before them are drawn.
//! One that did would be a mistake in this file and ends the run at once.

use crate::soak::random::Random;
use crate::soak::rigs;
use stillhand_engine::bindings::{Action, Binding, Bindings, Press};
use stillhand_engine::input::{Button, Control};
use stillhand_engine::motion::bands::{Band, Bands};
use stillhand_engine::operator::{
    Enable, Fine, Groups, Hand, Inch, Operator, Quiet, Source, SpeedTrigger, StickShape, Sticks,
};
use stillhand_engine::rig::{Axis, Rig, Travel};
use stillhand_engine::units::{Accel, Jerk, Speed, Unit};

const NAMES: [&str; 8] = [
    "pan",
    "tilt",
    "slide",
    "lift",
    "roll",
    "turntable",
    "focus",
    "zoom",
];

/// A rig of one to eight axes, mostly up to four, which sticks can drive; some endless, some that ask for an enable control.
pub fn rig(random: &mut Random) -> Rig {
    let most = if random.chance(0.2) { NAMES.len() } else { 4 };
    let count = 1 + random.below(most);
    let axes = NAMES[..count].iter().map(|name| {
        let mut axis = rigs::axis(name, random);
        if axis.unit == Unit::Deg && random.chance(0.2) {
            axis.travel = Travel::Continuous;
        }
        axis.needs_enable = random.chance(0.15);
        axis.reach_mm = random.between(200.0, 3_000.0);
        axis
    });
    rigs::rig(axes.collect())
}

/// An operator with everything bound.
pub fn operator(rig: &Rig, name: &str, random: &mut Random) -> Operator {
    let mut operator = rigs::hands(rig, random);
    operator.name = name.to_owned();
    let two = operator.hands.len() > 1 && random.chance(0.5);
    if two {
        let names = vec!["head".to_owned(), "rest".to_owned()];
        operator.groups = Groups::new(names).expect("two groups");
        let first = 1 + random.below(operator.hands.len() - 1);
        for hand in operator.hands.iter_mut().skip(first) {
            hand.group = 1;
        }
    }
    let shape = |random: &mut Random| match random.chance(0.3) {
        true => StickShape::Radial {
            common: random.chance(0.5),
        },
        false => StickShape::Axial { wedge_tan: 0.14 },
    };
    operator.sticks = Sticks {
        left: shape(random),
        right: shape(random),
    };
    // A control drives one axis, so a fine one has to be free.
    let free_stick = operator.hands.len() < 4;
    for (place, hand) in operator.hands.iter_mut().enumerate() {
        let axis = &rig.axes[usize::from(hand.axis)];
        season(hand, axis, (place, free_stick), random);
    }
    alike_on_radial_sticks(&mut operator);
    let pair = operator
        .hands
        .iter()
        .any(|hand| matches!(hand.control, Some(Source::Pair { .. })));
    operator.enable = random.chance(0.8).then_some(match pair {
        true => Enable::Button(Button::West),
        false => Enable::Trigger(Control::Lt),
    });
    operator.speed_trigger = (!pair && random.chance(0.3)).then_some(SpeedTrigger {
        control: Control::Rt,
        let_go: 1.0,
        pulled: random.between(0.0, 0.5),
    });
    operator.starts_quiet = random.chance(0.2);
    operator.bindings = bindings(operator.hands.len(), operator.groups.len());
    operator
}

/// Gives an axis whose quiet was measured bands to avoid, about the speeds it may go then.
pub(super) fn sing(hand: &mut Hand, random: &mut Random) {
    let slowest = hand.gears.speed(0);
    let Quiet::Measured { speed, bands, .. } = &mut hand.quiet else {
        return;
    };
    let most = speed.lower(slowest.higher(Speed(speed.0 / 4.0))).0;
    let mut edge = most * random.scale(0.01, 0.9);
    let mut list = Vec::new();
    for _ in 0..random.below(5) {
        let low = Speed(edge);
        let high = Speed(edge * (1.0 + random.scale(0.02, 1.5)));
        list.push(Band { low, high });
        edge = high.0 * (1.0 + random.scale(0.01, 1.0));
    }
    *bands = Bands::new(&list).expect("rising, and few");
}

/// What one hand has beyond its stick; `place` is its own, and whether a stick is free for fine work.
fn season(hand: &mut Hand, axis: &Axis, place: (usize, bool), random: &mut Random) {
    hand.invert = random.chance(0.3);
    let step = axis.speed.0 * random.scale(1e-4, 0.05);
    hand.inch = Some(Inch {
        step,
        creep: Speed(axis.speed.0 * random.scale(0.001, 0.1)),
    });
    if random.chance(0.3) {
        hand.framing = Some(Speed(axis.speed.0 * random.between(0.2, 1.0)));
    }
    if random.chance(0.5) {
        let normal = axis.limits.normal();
        hand.quiet = Quiet::Measured {
            speed: Speed(axis.speed.0 * random.scale(0.02, 0.5)),
            set: stillhand_engine::rig::LimitSet {
                accel: Accel(normal.accel.0 * random.between(0.2, 1.0)),
                jerk: Jerk(normal.jerk.0 * random.between(0.2, 1.0)),
            },
            bands: Bands::NONE,
        };
        sing(hand, random);
    }
    let (place, free_stick) = place;
    match place {
        // Two triggers instead of a stick, or one for fine work.
        1 if random.chance(0.3) => {
            hand.control = Some(Source::Pair {
                plus: Control::Rt,
                minus: Control::Lt,
            });
        }
        0 if free_stick && random.chance(0.3) => {
            hand.fine = Some(Fine {
                source: Source::Stick(Control::Ly),
                share: random.between(0.05, 0.5),
            });
        }
        _ => {}
    }
}

/// A radial stick has one deadband and one curve.
fn alike_on_radial_sticks(operator: &mut Operator) {
    for place in 1..operator.hands.len() {
        let (before, after) = operator.hands.split_at_mut(place);
        let (Some(Source::Stick(one)), Some(Source::Stick(two))) =
            (before[place - 1].control, after[0].control)
        else {
            continue;
        };
        let radial = matches!(operator.sticks.shape(one), Some(StickShape::Radial { .. }));
        if radial && one.other_direction() == Some(two) {
            after[0].throw = before[place - 1].throw;
            after[0].curve = before[place - 1].curve;
        }
    }
}

fn bindings(hands: usize, groups: usize) -> Bindings {
    let with = |with, button| Press::With { with, button };
    let mut list = vec![
        (Press::Tap(Button::East), Action::Stop),
        (Press::Held(Button::Start), Action::Release),
        (Press::Tap(Button::Tr), Action::GearUp),
        (with(Button::Select, Button::Tr), Action::GearDown),
        (Press::Tap(Button::South), Action::Quiet),
        (Press::Tap(Button::North), Action::Still),
        (Press::Held(Button::Thumbl), Action::Reduced),
        (with(Button::Select, Button::South), Action::Rolling),
        (Press::Held(Button::Tr), Action::Sustain),
        (with(Button::Select, Button::Thumbr), Action::NextOperator),
        (
            Press::Tap(Button::DpadRight),
            Action::Inch {
                hand: 0,
                plus: true,
            },
        ),
        (
            Press::Tap(Button::DpadLeft),
            Action::Inch {
                hand: 0,
                plus: false,
            },
        ),
        (Press::Held(Button::Select), Action::Control { group: 0 }),
    ];
    if hands > 1 {
        let hand = 1;
        list.push((
            with(Button::Select, Button::DpadUp),
            Action::Inch { hand, plus: true },
        ));
    }
    if groups > 1 {
        let group = 1;
        list.push((Press::Held(Button::Mode), Action::Control { group }));
    }
    let list = list
        .into_iter()
        .map(|(press, action)| Binding { press, action })
        .collect();
    Bindings::new(list, hands).expect("they go together")
}
