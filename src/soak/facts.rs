//! What the laws checker is told beforehand, worked out from the files and not from the engine.

use stillhand_engine::input::{Button, Control, PadBus};
use stillhand_engine::motion::bands::Band;
use stillhand_engine::operator::{Hand, Operator, Quiet, Source, StickShape};
use stillhand_engine::rig::{Axis, LimitSet, Rig, Travel};
use stillhand_engine::time::Span;
use stillhand_engine::units::{Accel, Jerk, Unit};
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
    facts.stop_button = button(operator.bindings.stop());
    facts.release_button = button(operator.bindings.release().button());
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
        needs_enable: axis.needs_enable,
        plant_speed_error: 0.0,
    }
}

fn control_facts(control: Control, operator: &Operator) -> laws::ControlFacts {
    let drives = |hand: &Hand| {
        let sources = [hand.control, hand.fine.map(|fine| fine.source)];
        let reversed = sources
            .into_iter()
            .flatten()
            .find_map(|source| match source {
                Source::Stick(own) => (own == control).then_some(hand.invert),
                Source::Pair { plus, .. } if plus == control => Some(hand.invert),
                Source::Pair { minus, .. } => (minus == control).then_some(!hand.invert),
            })?;
        let axis = usize::from(hand.axis);
        Some((laws::Drive { axis, reversed }, hand.throw.deadband()))
    };
    let drives: Vec<_> = operator.hands.iter().filter_map(drives).collect();
    let radial = matches!(
        operator.sticks.shape(control),
        Some(StickShape::Radial { .. })
    );
    let other = control.other_direction().filter(|_| radial);
    laws::ControlFacts {
        name: control.name().to_owned(),
        deadband: drives.first().map_or(1.0, |(_, deadband)| *deadband),
        centre: 0.0,
        reach: [1.0, 1.0],
        partner: other.map(|other| laws::ControlId(other as u16)),
        drives: drives.into_iter().map(|(drive, _)| drive).collect(),
    }
}

/// The set an operator's times make of a speed: a third of the time builds the acceleration up, a
/// third takes it off.
fn timed(speed: f64, time: Span, normal: LimitSet) -> laws::Set {
    let t = time.secs();
    set(normal).softest(laws::Set::new(1.5 * speed / t, 4.5 * speed / (t * t)))
}

/// What is switched on, as far as it makes ceilings.
#[derive(Clone, Copy, Debug, Default)]
pub struct Switched {
    /// The gear of the axis's group.
    pub gear: u8,
    /// Quiet is on.
    pub quiet: bool,
    /// Reduced speed holds for the axis.
    pub reduced: bool,
}

/// What the operator's hand makes of the rig's normal set, with speed being lost from `from` units/s
/// or from the gear's full speed, whichever is higher.
pub fn normal_set(axis: &Axis, hand: &Hand, on: Switched, from: f64) -> laws::Normal {
    let full = hand.gears.speed(on.gear).0;
    let normal = axis.limits.normal();
    let own = laws::Normal {
        gaining: timed(full, hand.gain, normal),
        losing: timed(full.max(from), hand.lose, normal),
    };
    if !on.quiet {
        return own;
    }
    let quiet = set(quiet_set(axis, hand));
    laws::Normal {
        gaining: own.gaining.softest(quiet),
        losing: own.losing.softest(quiet),
    }
}

/// A set that was asked for, under the rig's normal set and that of quiet.
pub fn normal_under(asked: laws::Set, axis: &Axis, hand: &Hand, on: Switched) -> laws::Normal {
    let own = asked.softest(set(axis.limits.normal()));
    match on.quiet {
        true => laws::Normal::same(own.softest(set(quiet_set(axis, hand)))),
        false => laws::Normal::same(own),
    }
}

fn quiet_set(axis: &Axis, hand: &Hand) -> LimitSet {
    match hand.quiet {
        Quiet::Measured { set, .. } => set,
        Quiet::NotMeasured => {
            let normal = axis.limits.normal();
            LimitSet {
                accel: Accel(normal.accel.0 / 4.0),
                jerk: Jerk(normal.jerk.0 / 4.0),
            }
        }
    }
}

/// The quiet ceilings of an axis.
pub fn quiet(axis: &Axis, hand: &Hand, on: Switched) -> laws::QuietAxis {
    let set = quiet_set(axis, hand);
    let speed = match hand.quiet {
        Quiet::Measured { speed, .. } => speed.0,
        Quiet::NotMeasured => loud_ceiling(axis, hand, on.gear) / 4.0,
    };
    let bands: Vec<_> = match hand.quiet {
        Quiet::Measured { bands, .. } => bands.iter().map(band).collect(),
        Quiet::NotMeasured => Vec::new(),
    };
    laws::QuietAxis {
        speed: under(&bands, speed),
        accel: set.accel.0,
        jerk: set.jerk.0,
        bands,
    }
}

/// A ceiling inside of a band counts as its lower edge.
fn under(bands: &[laws::Band], speed: f64) -> f64 {
    let around = |band: &&laws::Band| band.low < speed && speed < band.high;
    bands.iter().find(around).map_or(speed, |band| band.low)
}

/// The ceiling of an axis whatever is switched on: rig, operator, gear.
fn loud_ceiling(axis: &Axis, hand: &Hand, gear: u8) -> f64 {
    let own = hand.ceiling.map_or(f64::INFINITY, |speed| speed.0);
    axis.speed.0.min(own).min(hand.gears.speed(gear).0)
}

/// The effective ceiling of an axis.
pub fn ceiling(axis: &Axis, hand: &Hand, on: Switched) -> f64 {
    let framing = hand.framing.map_or(f64::INFINITY, |speed| speed.0);
    let mut lowest = loud_ceiling(axis, hand, on.gear).min(framing);
    if on.quiet {
        lowest = lowest.min(quiet(axis, hand, on).speed);
    }
    if on.reduced {
        let own = match axis.unit {
            Unit::Deg => (10.0_f64).min(250.0 / (axis.reach_mm * std::f64::consts::PI / 180.0)),
            Unit::Mm => 50.0,
        };
        lowest = lowest.min(own);
    }
    match on.quiet {
        true => under(&quiet(axis, hand, on).bands, lowest),
        false => lowest,
    }
}

fn band(band: &Band) -> laws::Band {
    laws::Band {
        low: band.low.0,
        high: band.high.0,
    }
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
        PadBus::Streaming => laws::Bus::Streaming,
    }
}
