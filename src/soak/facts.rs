//! What the laws checker is told beforehand, worked out from the files and not from the engine.

use stillhand_engine::input::{Button, Control, PadBus};
use stillhand_engine::operator::{Hand, Operator};
use stillhand_engine::rig::{Axis, LimitSet, Rig, Travel};
use stillhand_engine::time::Span;
use stillhand_engine::units::Unit;
use stillhand_laws as laws;

/// The facts of a world with one rig and one operator, stepped every `period`. The axes are taken to
/// know where they are.
pub fn facts(rig: &Rig, operator: &Operator, period: Span) -> laws::Facts {
    let axes = rig.axes.iter().map(|axis| axis_facts(axis, rig)).collect();
    let controls = Control::ALL
        .iter()
        .map(|control| control_facts(*control, operator))
        .collect();
    let mut facts = laws::Facts::new(axes, controls, nanos(period));
    facts.frame_period = nanos(rig.frame_period);
    facts.watchdog = nanos(rig.watchdog);
    facts.stop_button = button(operator.buttons.stop);
    facts.release_button = button(operator.buttons.release);
    facts
}

fn axis_facts(axis: &Axis, rig: &Rig) -> laws::AxisFacts {
    laws::AxisFacts {
        name: axis.name.clone(),
        unit: match axis.unit {
            Unit::Deg => laws::Unit::Deg,
            Unit::Mm => laws::Unit::Mm,
        },
        count: 1.0 / axis.counts_per_unit,
        travel: match axis.travel {
            Travel::Continuous => laws::Travel::Continuous,
            Travel::Finite(ends) => laws::Travel::Ends {
                low: ends.low().0,
                high: ends.high().0,
            },
        },
        referenced: true,
        normal: set(axis.limits.normal()),
        stop_plus: set(axis.limits.stop(1.0)),
        stop_minus: set(axis.limits.stop(-1.0)),
        delay: nanos(rig.delay),
        speed_ceiling: axis.speed.0,
        needs_enable: false,
        plant_speed_error: 0.0,
    }
}

fn control_facts(control: Control, operator: &Operator) -> laws::ControlFacts {
    let hands = operator.hands.iter().filter(|hand| hand.control == control);
    laws::ControlFacts {
        name: control.name().to_owned(),
        deadband: hands
            .clone()
            .next()
            .map_or(1.0, |hand| hand.throw.deadband()),
        centre: 0.0,
        reach: [1.0, 1.0],
        partner: None,
        drives: hands
            .map(|hand| laws::Drive {
                axis: usize::from(hand.axis),
                reversed: hand.invert,
            })
            .collect(),
    }
}

/// The set an operator's times make of a speed: a third of the time builds the acceleration up, a
/// third takes it off.
fn timed(speed: f64, time: Span, normal: LimitSet) -> laws::Set {
    let t = time.secs();
    set(normal).softest(laws::Set::new(1.5 * speed / t, 4.5 * speed / (t * t)))
}

/// What the operator's hand makes of the rig's normal set in gear `gear` at speed `now`.
pub fn normal_set(axis: &Axis, hand: &Hand, gear: u8, now: f64) -> laws::Normal {
    let full = hand.gears.speed(gear).0;
    let normal = axis.limits.normal();
    laws::Normal {
        gaining: timed(full, hand.gain, normal),
        losing: timed(full.max(now.abs()), hand.lose, normal),
    }
}

/// The effective ceiling of an axis in gear `gear`.
pub fn ceiling(axis: &Axis, hand: &Hand, gear: u8) -> f64 {
    let own = hand.ceiling.map_or(f64::INFINITY, |speed| speed.0);
    axis.speed.0.min(own).min(hand.gears.speed(gear).0)
}

fn set(set: LimitSet) -> laws::Set {
    laws::Set::new(set.accel.0, set.jerk.0)
}

/// A span in the checker's nanoseconds.
pub fn nanos(span: Span) -> laws::Nanos {
    laws::Nanos(span.0.cast_signed())
}

/// A button by the checker's name.
pub fn button(button: Button) -> laws::Button {
    match button {
        Button::South => laws::Button::South,
        Button::East => laws::Button::East,
        Button::North => laws::Button::North,
        Button::West => laws::Button::West,
        Button::Tl => laws::Button::Tl,
        Button::Tr => laws::Button::Tr,
        Button::Select => laws::Button::Select,
        Button::Start => laws::Button::Start,
        Button::Mode => laws::Button::Mode,
        Button::Thumbl => laws::Button::ThumbL,
        Button::Thumbr => laws::Button::ThumbR,
        Button::DpadUp => laws::Button::DpadUp,
        Button::DpadDown => laws::Button::DpadDown,
        Button::DpadLeft => laws::Button::DpadLeft,
        Button::DpadRight => laws::Button::DpadRight,
    }
}

/// How a pad is connected, by the checker's name.
pub fn bus_of(bus: PadBus) -> laws::Bus {
    match bus {
        PadBus::Wired => laws::Bus::Wired,
        PadBus::Usb => laws::Bus::Usb,
        PadBus::Bluetooth => laws::Bus::Bluetooth,
    }
}
