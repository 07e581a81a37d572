//! What is known about a world before it runs: the rig, the pad's controls and the bounds.

use crate::units::Nanos;

/// The unit of an axis.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// Degrees.
    Deg,
    /// Millimetres.
    Mm,
}

impl Unit {
    /// How the unit is written.
    pub fn name(self) -> &'static str {
        match self {
            Unit::Deg => "deg",
            Unit::Mm => "mm",
        }
    }
}

/// Where an axis may be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Travel {
    /// No ends (slip ring, turntable).
    Continuous,
    /// From low to high, axis units.
    Ends {
        /// Lowest position, axis units.
        low: f64,
        /// Highest position, axis units.
        high: f64,
    },
}

/// Limits on acceleration (axis units/s^2) and jerk (axis units/s^3), both above 0.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Set {
    /// Acceleration, axis units/s^2.
    pub accel: f64,
    /// Jerk, axis units/s^3.
    pub jerk: f64,
}

impl Set {
    /// A set from acceleration and jerk.
    pub const fn new(accel: f64, jerk: f64) -> Set {
        Set { accel, jerk }
    }

    /// The higher of both, each figure by itself.
    pub fn hardest(self, other: Set) -> Set {
        Set {
            accel: higher(self.accel, other.accel),
            jerk: higher(self.jerk, other.jerk),
        }
    }

    /// The lower of both, each figure by itself.
    pub fn softest(self, other: Set) -> Set {
        Set {
            accel: lower(self.accel, other.accel),
            jerk: lower(self.jerk, other.jerk),
        }
    }
}

/// The normal set as the profile leaves it: gain and lose times may differ.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Normal {
    /// While gaining speed.
    pub gaining: Set,
    /// While losing speed.
    pub losing: Set,
}

impl Normal {
    /// The same set both ways.
    pub const fn same(set: Set) -> Normal {
        Normal {
            gaining: set,
            losing: set,
        }
    }

    /// The higher of gaining and losing.
    pub fn hardest(self) -> Set {
        self.gaining.hardest(self.losing)
    }

    /// The lower of gaining and losing.
    pub fn softest(self) -> Set {
        self.gaining.softest(self.losing)
    }
}

/// One axis.
#[derive(Clone, Debug, PartialEq)]
pub struct AxisFacts {
    /// Name, for the messages.
    pub name: String,
    /// Unit of every figure of this axis.
    pub unit: Unit,
    /// Size of one count, axis units.
    pub count: f64,
    /// Where it may be.
    pub travel: Travel,
    /// Whether the position is known at the start.
    pub referenced: bool,
    /// The rig's normal set.
    pub normal: Set,
    /// Stop set while moving towards plus.
    pub stop_plus: Set,
    /// Stop set while moving towards minus.
    pub stop_minus: Set,
    /// Declared delay from frame to motion.
    pub delay: Nanos,
    /// The rig's speed ceiling, axis units/s.
    pub speed_ceiling: f64,
    /// Whether the axis moves only while its enable control is held, even when referenced.
    pub needs_enable: bool,
    /// Largest error of the plant's reported speed, axis units/s (0 for a simulated plant).
    pub plant_speed_error: f64,
}

impl AxisFacts {
    /// The wire's quantum of speed: 1/1024 count/s, in axis units/s.
    pub fn quantum(&self) -> f64 {
        self.count / 1024.0
    }

    /// The longest in which a stop builds its acceleration up, s.
    pub(crate) fn ramp(&self) -> f64 {
        let ways = [self.stop_plus, self.stop_minus].map(|set| set.accel / set.jerk);
        higher(ways[0], ways[1])
    }

    /// The stop set for a motion in the direction of `speed`; the harder of both at rest.
    pub fn stop(&self, speed: f64) -> Set {
        if speed > 0.0 {
            self.stop_plus
        } else if speed < 0.0 {
            self.stop_minus
        } else {
            self.stop_plus.hardest(self.stop_minus)
        }
    }

    /// The stop set as the rig has it, which is told of whole counts.
    pub(crate) fn own_stop(&self, speed: f64) -> Set {
        let whole = |x: f64| higher((x / self.count * (1.0 - 1e-9)).floor(), 1.0) * self.count;
        let Set { accel, jerk } = self.stop(speed);
        Set::new(whole(accel), whole(jerk))
    }
}

/// Names a control of a pad: an index into [`Facts::controls`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ControlId(pub u16);

/// An axis a control drives.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Drive {
    /// Index of the axis.
    pub axis: usize,
    /// Whether a positive stick asks for negative speed (mount and taste together).
    pub reversed: bool,
}

/// One stick axis or trigger, the same on every pad.
#[derive(Clone, Debug, PartialEq)]
pub struct ControlFacts {
    /// Name, for the messages.
    pub name: String,
    /// Deadband, share of full scale, after trim.
    pub deadband: f64,
    /// Trimmed centre, raw.
    pub centre: f64,
    /// Trimmed reach on either side of the centre, raw, above 0: minus side, plus side.
    pub reach: [f64; 2],
    /// Other half of the stick when the deadband is radial.
    pub partner: Option<ControlId>,
    /// The axes it drives.
    pub drives: Vec<Drive>,
}

/// Buttons, by the names of the Linux Gamepad Specification.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(missing_docs, reason = "the names are the specification's own")]
pub enum Button {
    South,
    East,
    North,
    West,
    Tl,
    Tr,
    Tl2,
    Tr2,
    Select,
    Start,
    Mode,
    ThumbL,
    ThumbR,
    DpadUp,
    DpadDown,
    DpadLeft,
    DpadRight,
}

/// Everything known about a world.
#[derive(Clone, Debug, PartialEq)]
pub struct Facts {
    /// The axes, at most 32.
    pub axes: Vec<AxisFacts>,
    /// The controls of a pad.
    pub controls: Vec<ControlFacts>,
    /// Nominal period of the engine's tick.
    pub tick: Nanos,
    /// Nominal period of frames, not under the tick's.
    pub frame_period: Nanos,
    /// A longer gap between ticks is a loss event.
    pub lateness: Nanos,
    /// The rig stops by itself after this long without a frame.
    pub watchdog: Nanos,
    /// Largest error of a frame's time. Zero when frames carry the time of their tick.
    pub frame_time_error: Nanos,
    /// A tap of it on any connected pad is a stop.
    pub stop_button: Button,
    /// Held, it releases a stop.
    pub release_button: Button,
    /// How long it must be held.
    pub release_hold: Nanos,
}

impl Facts {
    /// Facts with the usual bounds: lateness 80 ms, watchdog 120 ms, `east` stops,
    /// `start` held 0.6 s releases, a frame on every tick.
    pub fn new(axes: Vec<AxisFacts>, controls: Vec<ControlFacts>, tick: Nanos) -> Facts {
        Facts {
            axes,
            controls,
            tick,
            frame_period: tick,
            lateness: Nanos::millis(80),
            watchdog: Nanos::millis(120),
            frame_time_error: Nanos::ZERO,
            stop_button: Button::East,
            release_button: Button::Start,
            release_hold: Nanos::millis(600),
        }
    }

    /// The longer of tick and frame period, in seconds: the unit in which delays are granted.
    pub fn step_s(&self) -> f64 {
        higher(self.tick.secs(), self.frame_period.secs())
    }
}

/// The higher of two numbers.
pub(crate) fn higher(a: f64, b: f64) -> f64 {
    if a > b { a } else { b }
}

/// The lower of two numbers.
pub(crate) fn lower(a: f64, b: f64) -> f64 {
    if a < b { a } else { b }
}
