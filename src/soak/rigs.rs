//! Random rigs and hands, each of them possible.
//!
//! The `expect`s cannot fail: what they build is in range by how the numbers before them are drawn.
//! One that did would be a mistake in this file and ends the run at once.

use super::random::Random;
use crate::profile::defaults::STOP_COUNTS_LEAST;
use stillhand_engine::MAX_AXES;
use stillhand_engine::bindings::{Action, Binding, Bindings, Press};
use stillhand_engine::feel::{Curve, Throw};
use stillhand_engine::input::{Button, Control};
use stillhand_engine::operator::{
    Gears, Groups, Hand, Operator, Quiet, Source, StickShape, Sticks,
};
use stillhand_engine::rig::{Axes, Axis, Ends, LimitSet, Limits, Rig, Sense, Travel};
use stillhand_engine::time::Span;
use stillhand_engine::units::{Accel, Jerk, Pos, Speed, Unit};

/// The controls that can drive an axis, in the order in which they are given out.
pub const STICKS: [Control; 4] = [Control::Rx, Control::Ry, Control::Lx, Control::Ly];

/// A rig of one axis with finite travel.
pub fn one_axis(random: &mut Random) -> Rig {
    rig(vec![axis("pan", random)])
}

/// A rig with these axes.
pub fn rig(axes: Vec<Axis>) -> Rig {
    Rig {
        id: "random".to_owned(),
        axes: Axes::new(axes).expect("one to eight axes"),
        delay: Span::from_millis(10),
        frame_period: Span::from_millis(1),
        watchdog: Span::from_millis(120),
    }
}

/// An axis with finite travel about 0.
pub fn axis(name: &str, random: &mut Random) -> Axis {
    let unit = random.pick(&[Unit::Deg, Unit::Deg, Unit::Mm]);
    let speed = random.scale(1.0, 180.0);
    // From rest to full speed in a tenth of a second up to four seconds.
    let seconds = random.scale(0.1, 4.0);
    let normal = LimitSet {
        accel: Accel(1.5 * speed / seconds),
        jerk: Jerk(4.5 * speed / (seconds * seconds)),
    };
    let harder = |random: &mut Random| LimitSet {
        accel: Accel(normal.accel.0 * random.scale(1.0, 6.0)),
        jerk: Jerk(normal.jerk.0 * random.scale(1.0, 20.0)),
    };
    let plus = harder(random);
    let minus = if random.chance(0.5) {
        plus
    } else {
        harder(random)
    };
    // One to eight seconds at full speed from the middle to an end.
    let half = speed * random.scale(1.0, 8.0);
    let ends = Ends::new(Pos(-half), Pos(half * random.between(0.5, 1.0))).expect("low below high");
    // As fine as a rig file must count, for a stop that the line can tell.
    let softest = plus.softer(minus);
    let finest_needed = STOP_COUNTS_LEAST / softest.accel.0.min(softest.jerk.0);
    Axis {
        name: name.to_owned(),
        unit,
        counts_per_unit: random.scale(5.0, 2_000.0).max(finest_needed),
        sense: random.pick(&[Sense::Same, Sense::Opposite]),
        travel: Travel::Finite(ends),
        speed: Speed(speed),
        limits: Limits::new(normal, plus, minus).expect("stop sets at least normal"),
        reach_mm: 1000.0,
        needs_enable: false,
        // As a rig file may say it: a weight at work would make the two differ.
        may_lower_current: plus == minus,
    }
}

/// An operator with random feel for the first axes of `rig`.
pub fn hands(rig: &Rig, random: &mut Random) -> Operator {
    let hands = rig.axes.iter().zip(STICKS).enumerate();
    Operator {
        name: "random".to_owned(),
        hands: hands
            .map(|(place, (axis, control))| hand(place, axis, control, random))
            .collect(),
        sticks: Sticks {
            left: StickShape::Axial { wedge_tan: 0.14 },
            right: StickShape::Axial { wedge_tan: 0.14 },
        },
        groups: Groups::single(),
        speed_trigger: None,
        enable: None,
        starts_quiet: false,
        shakes: stillhand_engine::operator::Shakes::Never,
        bindings: bindings(),
        first_gear: 1,
    }
}

fn hand(place: usize, axis: &Axis, control: Control, random: &mut Random) -> Hand {
    let top = axis.speed.0 * random.between(0.3, 1.0);
    let gears = [
        top * random.between(0.02, 0.1),
        top * random.between(0.2, 0.5),
        top,
    ];
    let half = random.between(0.13, 0.5);
    let curve = match random.below(3) {
        0 => Curve::linear(),
        1 => Curve::exponential(half).expect("a half in range"),
        _ => Curve::cubic(half).expect("a half in range"),
    };
    Hand {
        rig: 0,
        axis: place as u8,
        group: 0,
        control: Some(Source::Stick(control)),
        fine: None,
        framing: None,
        quiet: Quiet::NotMeasured,
        inch: None,
        invert: false,
        throw: Throw::new(random.between(0.05, 0.3), 0.95).expect("apart"),
        curve,
        steady: None,
        gears: Gears::new(&gears.map(Speed)).expect("rising"),
        ceiling: random.chance(0.3).then_some(Speed(axis.speed.0 * 0.8)),
        gain: Span::from_secs_f64(random.scale(0.1, 3.0)),
        lose: Span::from_secs_f64(random.scale(0.1, 3.0)),
    }
}

/// Stop, release and gears where the shipped profiles have them.
pub fn bindings() -> Bindings {
    let bind = |press, action| Binding { press, action };
    let list = vec![
        bind(Press::Tap(Button::East), Action::Stop),
        bind(Press::Held(Button::Start), Action::Release),
        bind(Press::Tap(Button::Tr), Action::GearUp),
        bind(Press::Tap(Button::Tl), Action::GearDown),
    ];
    Bindings::new(list, MAX_AXES).expect("they go together")
}
