//! What the laws checker is told beforehand, worked out from the files and not from the engine.

use stillhand_engine::input::{Button, Control, PadBus};
use stillhand_engine::operator::{Hand, Operator};
use stillhand_engine::rig::{Axis, LimitSet, Rig, Travel};
use stillhand_engine::time::{Span, Time};
use stillhand_engine::units::Unit;
use stillhand_laws as laws;

/// The facts of a world with one rig and one operator, stepped every `period`.
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

/// From which speed an axis loses speed, read off its frames.
///
/// Frames tell a slow change from none only after a while: `most` holds on to what may still count,
/// `least` lets go of it as soon as it may no longer.
#[derive(Clone, Copy, Debug)]
pub struct Losing {
    /// The highest |speed| since it surely was steady or rose, units/s.
    pub most: f64,
    /// The highest |speed| since it may have been steady or risen, units/s.
    pub least: f64,
    /// The sets the checker was told last, by `most` and by `least`.
    told: Option<[laws::Normal; 2]>,
    /// The highest jerks since rest, gaining and losing, units/s^3.
    jerks: (f64, f64),
    /// When the last frame was sent, and its |speed|.
    at: Time,
    last: f64,
    /// The lowest |speed| since `most`.
    lowest: f64,
    /// A |speed| that has not been left by more than a quantum, and for how many frames.
    steady: (f64, u32),
}

/// After so many frames on the same quantum a speed is steady.
const STEADY_FRAMES: u32 = 100;

impl Losing {
    /// Of an axis at rest.
    pub const REST: Losing = Losing {
        most: 0.0,
        least: 0.0,
        told: None,
        jerks: (0.0, 0.0),
        at: Time(0),
        last: 0.0,
        lowest: 0.0,
        steady: (0.0, 0),
    };

    /// The sets to tell the checker, the harder first, if they are other than the last.
    pub fn news(&mut self, normal: impl Fn(f64) -> laws::Normal) -> Option<[laws::Normal; 2]> {
        let sets = [normal(self.most), normal(self.least)];
        for set in sets {
            self.jerks.0 = self.jerks.0.max(set.gaining.jerk);
            self.jerks.1 = self.jerks.1.max(set.losing.jerk);
        }
        (self.told.replace(sets) != Some(sets)).then_some(sets)
    }

    /// Takes in the speed of the frame sent at `now`, known to `quantum`.
    pub fn frame(&mut self, now: Time, speed: f64, quantum: f64) {
        let dt = now.since(self.at).secs();
        self.at = now;
        let speed = speed.abs();
        let (at, frames) = self.steady;
        // Half a quantum is more than any rounding.
        self.steady = if (speed - at).abs() < 1.5 * quantum {
            (at, frames + 1)
        } else {
            (speed, 0)
        };
        // What the acceleration may be across in a step or two says nothing of its sign.
        let easy = 2.0 * self.jerks.0.min(self.jerks.1) * dt * dt + 2.0 * quantum;
        if speed >= self.last - easy {
            self.least = speed;
        }
        let steady = self.steady.1 >= STEADY_FRAMES;
        if steady || speed > self.most || speed > self.lowest + 2.5 * quantum {
            (self.most, self.lowest) = (speed, speed);
        }
        if speed == 0.0 {
            self.jerks = (0.0, 0.0);
        }
        self.lowest = self.lowest.min(speed);
        self.last = speed;
    }
}

/// What the operator's hand makes of the rig's normal set in gear `gear`, with speed being lost
/// from `from` units/s or from the gear's full speed, whichever is higher.
pub fn normal_set(axis: &Axis, hand: &Hand, gear: u8, from: f64) -> laws::Normal {
    let full = hand.gears.speed(gear).0;
    let normal = axis.limits.normal();
    laws::Normal {
        gaining: timed(full, hand.gain, normal),
        losing: timed(full.max(from), hand.lose, normal),
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
