//! Every default of the files and every bound on what they may say, each with its reason.
//!
//! Bounds without a source are our own: wide enough for any rig or hand we can think of, narrow
//! enough to catch a slipped digit or a wrong unit.

use super::quantity::{Dimension, with_unit};
use stillhand_engine::bindings::Press;
use stillhand_engine::input::Button;
use stillhand_engine::operator::Shakes;
use stillhand_engine::rig::Mount;
use stillhand_engine::units::Unit;

/// The range of one quantity. Times are in ms, everything else in the unit as written.
#[derive(Debug, PartialEq)]
pub struct Bound {
    /// What is measured.
    pub kind: Dimension,
    /// What a reader calls it, with its article.
    pub noun: &'static str,
    /// Lowest value, itself allowed.
    pub low: f64,
    /// Highest value, itself allowed.
    pub high: f64,
    /// Why not lower or higher.
    pub why: &'static str,
    /// A usual value, shown where none could be read: for an axis in deg, and for one in mm.
    pub example: [&'static str; 2],
}

impl Bound {
    /// `a speed from 0.001 to 2000 deg/s: ...`, for an axis in `axis` if that is known.
    pub(super) fn text(&self, axis: Option<Unit>) -> String {
        // Bounds of times are kept in ms; the long ones read better in s.
        let (scale, units) = match self.kind {
            Dimension::Time if self.high > 1000.0 => (1000.0, "s".to_owned()),
            Dimension::Time => (1.0, "ms".to_owned()),
            kind => (1.0, kind.units(axis)),
        };
        let (low, high) = (self.low / scale, self.high / scale);
        let high = with_unit(high, &units);
        format!("{} from {low} to {high}: {}", self.noun, self.why)
    }

    /// A usual value for an axis in `axis`.
    pub(super) fn example(&self, axis: Option<Unit>) -> &'static str {
        match axis {
            None | Some(Unit::Deg) => self.example[0],
            Some(Unit::Mm) => self.example[1],
        }
    }
}

/// Counts per unit.
pub const SCALE: Bound = Bound {
    kind: Dimension::Scale,
    noun: "a scale",
    low: 0.01,
    high: 1e7,
    why: "with fewer no framing can be met, with more a 32-bit count ends within a turn",
    example: ["27.8 counts/deg", "80 counts/mm"],
};

/// Ends of travel. A kilometre of slide or 2,700 turns is a slipped digit.
pub const POSITION: Bound = Bound {
    kind: Dimension::Position,
    noun: "a position",
    low: -1e6,
    high: 1e6,
    why: "no rig is longer",
    example: ["170 deg", "1200 mm"],
};

/// Speeds: of an axis, of a gear, of an operator's ceiling.
pub const SPEED: Bound = Bound {
    kind: Dimension::Speed,
    noun: "a speed",
    low: 0.001,
    high: 2000.0,
    why: "slower takes a quarter of an hour for a single unit, faster is a slipped digit",
    example: ["60 deg/s", "150 mm/s"],
};

/// Accelerations: 2000 deg/s in a fiftieth of a second at the most.
pub const ACCEL: Bound = Bound {
    kind: Dimension::Accel,
    noun: "an acceleration",
    low: 0.01,
    high: 1e5,
    why: "softer takes minutes to stop, harder is a blow",
    example: ["120 deg/s^2", "300 mm/s^2"],
};

/// Jerks: the hardest acceleration within a hundredth of a second at the most.
pub const JERK: Bound = Bound {
    kind: Dimension::Jerk,
    noun: "a jerk",
    low: 0.01,
    high: 1e7,
    why: "softer takes minutes to stop, harder is a step",
    example: ["600 deg/s^3", "1500 mm/s^3"],
};

/// From a frame's departure to the motor following it.
pub const DELAY: Bound = Bound {
    kind: Dimension::Time,
    noun: "a time",
    low: 0.0,
    high: 200.0,
    why: "a thumb can't steer what answers later",
    example: ["10 ms", "10 ms"],
};

/// How long the rig goes on without a frame.
pub const WATCHDOG: Bound = Bound {
    kind: Dimension::Time,
    noun: "a time",
    low: 20.0,
    high: 1000.0,
    why: "shorter trips on a few late frames, longer runs on for a second after the cable is out",
    example: ["120 ms", "120 ms"],
};

/// Share of the stick's way that does nothing.
pub const DEADBAND: Bound = Bound {
    kind: Dimension::Share,
    noun: "a share",
    low: 1.0,
    high: 60.0,
    why: "with less a stick at rest drives, with more no way is left to steer in",
    example: ["10 %", "10 %"],
};

/// Share of the stick's way at which speed is full: the least deadband and the least way together.
pub const SATURATION: Bound = Bound {
    kind: Dimension::Share,
    noun: "a share",
    low: 31.0,
    high: 100.0,
    why: "it lies at least 30 points above the deadband",
    example: ["95 %", "95 %"],
};

/// Where a stick rests, as the pad reads it.
pub const CENTRE: Bound = Bound {
    kind: Dimension::Share,
    noun: "a share",
    low: -30.0,
    high: 30.0,
    why: "a stick that rests farther out is broken",
    example: ["1.5 %", "1.5 %"],
};

/// How far from its centre a stick may rest, or how far a trigger that was let go may stay pulled.
pub const REST: Bound = Bound {
    kind: Dimension::Share,
    noun: "a share",
    low: 0.0,
    high: 30.0,
    why: "a stick that comes to rest in a wider zone is broken",
    example: ["2.5 %", "2.5 %"],
};

/// What a pad reads where a stick or trigger ends.
pub const END: Bound = Bound {
    kind: Dimension::Share,
    noun: "a share",
    low: 31.0,
    high: 100.0,
    why: "one that reaches less of its way is broken",
    example: ["95 %", "95 %"],
};

/// Share of full speed at half stick.
pub const HALF: Bound = Bound {
    kind: Dimension::Share,
    noun: "a share",
    low: 2.0,
    high: 50.0,
    why: "below, the last tenth of the stick holds nearly all of the speed; above, fine work suffers",
    example: ["20 %", "20 %"],
};

/// A point of a curve: where the stick is between deadband and saturation, or the speed there.
pub const POINT: Bound = Bound {
    kind: Dimension::Share,
    noun: "a share",
    low: 0.0,
    high: 100.0,
    why: "a curve goes from 0 % to 100 % both ways",
    example: ["20 %", "20 %"],
};

/// Per cent of the stick between two points: nearer ones can't be told apart by a thumb.
pub const POINTS_APART: f64 = 2.0;
/// How many times as fast as the stick the speed may rise between two points: more is a switch. The
/// steepest exponential ends at 8.
pub const POINTS_STEEPEST: f64 = 10.0;

/// Cutoff that steadies a stick that stands.
pub const STEADY_REST: Bound = Bound {
    kind: Dimension::Frequency,
    noun: "a frequency",
    low: 0.2,
    high: 50.0,
    why: "below it answers after a second, above it steadies nothing",
    example: ["1.5 Hz", "1.5 Hz"],
};

/// What is added to it for each full way a second.
pub const STEADY_MOVING: Bound = Bound {
    kind: Dimension::Frequency,
    noun: "a frequency",
    low: 0.0,
    high: 100.0,
    why: "0 delays a quick thumb as much as a slow one, above 100 the stick is as raw as it moves",
    example: ["8 Hz", "8 Hz"],
};

/// Gain and lose times.
pub const HANDS: Bound = Bound {
    kind: Dimension::Time,
    noun: "a time",
    low: 50.0,
    high: 10_000.0,
    why: "shorter than a twentieth of a second is a jolt, longer than 10 s is not steering",
    example: ["0.5 s", "0.5 s"],
};

/// Half angle of the wedge.
pub const WEDGE: Bound = Bound {
    kind: Dimension::Position,
    noun: "an angle",
    low: 0.0,
    high: 30.0,
    why: "0 is none; wider than 30 leaves no diagonals",
    example: ["8 deg", "8 deg"],
};

/// Full deflection of a fine control, of the full stick's speed.
pub const FINE: Bound = Bound {
    kind: Dimension::Share,
    noun: "a share",
    low: 1.0,
    high: 100.0,
    why: "with less it does nothing that can be seen, with more it is not the fine one",
    example: ["20 %", "20 %"],
};

/// What a speed trigger leaves of every speed.
pub const SPEED_SHARE: Bound = Bound {
    kind: Dimension::Share,
    noun: "a share",
    low: 0.0,
    high: 100.0,
    why: "0 holds the axes still, 100 leaves the speed as it is",
    example: ["100 %", "100 %"],
};

/// One step of inching.
pub const STEP: Bound = Bound {
    kind: Dimension::Position,
    noun: "a step",
    low: 0.001,
    high: 100.0,
    why: "smaller is not to be seen, larger is a move",
    example: ["0.1 deg", "0.5 mm"],
};

/// How far the farthest part that an axis turns is from it.
pub const REACH: Bound = Bound {
    kind: Dimension::Position,
    noun: "a length",
    low: 10.0,
    high: 20_000.0,
    why: "shorter is no camera, longer is a building crane",
    example: ["1200 mm", "1200 mm"],
};

/// Turns of a motor for each turn of what it drives.
pub const GEARING: Bound = Bound {
    kind: Dimension::Ratio,
    noun: "a ratio",
    low: 0.01,
    high: 10_000.0,
    why: "more steps up or down than any gearbox does",
    example: ["40:1", "40:1"],
};

/// The way of a carriage for each turn of what drives it: a screw's lead, a pulley's way round.
pub const LEAD: Bound = Bound {
    kind: Dimension::Position,
    noun: "a length",
    low: 0.1,
    high: 1000.0,
    why: "finer is no screw, coarser no pulley",
    example: ["8 mm", "8 mm"],
};

/// Counts/s^2 and counts/s^3 of a stop set: the line says whole ones, and less than one in fifty is lost.
pub const STOP_COUNTS_LEAST: f64 = 50.0;

/// Rates of a stepper motor: 6,000 turns a minute of one with 1000 steps at the most.
pub const STEP_RATE: Bound = Bound {
    kind: Dimension::StepRate,
    noun: "a rate of the motor, microsteps not counted,",
    low: 0.1,
    high: 100_000.0,
    why: "slower is a step in ten seconds, faster turns no stepper",
    example: ["400 full steps/s", "400 full steps/s"],
};

/// Full steps of a motor's turn: 1.8 deg and 0.9 deg motors have 200 and 400 (common practice).
pub const STEPS: (i64, i64) = (20, 1000);
/// Parts a drive makes of a full step: common drives end at 256 (common practice).
pub const MICROSTEPS: (i64, i64) = (1, 256);

/// Line speeds: the slowest that carries a useful frame rate, the fastest of common adapters.
pub const BAUD: (i64, i64) = (9_600, 4_000_000);
/// Characters of a rig's identity: it travels in the greeting, whose field ends there.
pub const MOST_ID: usize = 32;
/// Characters of an axis's or operator's name: they stand in columns of screens.
pub const MOST_NAME: usize = 16;
/// Characters of free text: a paragraph, not a manual.
pub const MOST_ABOUT: usize = 1000;
/// Bytes of a device path: the kernel's own limit, PATH_MAX in linux/limits.h.
pub const MOST_PATH: usize = 4096;

/// Common practice of boards with a USB serial adapter.
pub const BAUD_DEFAULT: u32 = 115_200;
/// As built.
pub const MOUNT_DEFAULT: Mount = Mount::Upright;
/// In ms. Thirty frames at 250 a second: a few may be late, and an axis at 60 deg/s runs on for
/// 7 degrees before it brakes.
pub const WATCHDOG_DEFAULT: f64 = 120.0;
/// In ms: the loop's own period at its usual 250 a second. A slow line lengthens it later, when
/// the size of a frame is known.
pub const FRAME_PERIOD_DEFAULT: u64 = 4;

/// In mm. A camera with a long lens on its head ends within a metre of the head's axes; the arm of
/// a jib does not, and its rig file has to say so.
pub const REACH_DEFAULT: f64 = 1000.0;

/// In per cent. Pads at rest read up to 5.7 % off centre, so an untrimmed stick needs more than 6.
pub const DEADBAND_DEFAULT: f64 = 10.0;
/// In per cent. Worn sticks don't reach their end in the corners.
pub const SATURATION_DEFAULT: f64 = 95.0;
/// In per cent: the speed at half stick of a straight line.
pub const HALF_OF_LINEAR: f64 = 50.0;
/// In ms: the unhurried hand of the shipped talk profile.
pub const GAIN_DEFAULT: f64 = 800.0;
/// In ms: as above; ending a move takes a little less than beginning it.
pub const LOSE_DEFAULT: f64 = 700.0;
/// In degrees of half angle: a thumb that means to pan strays about that far.
pub const WEDGE_DEFAULT: f64 = 8.0;
/// Motors in a hand are heard by the microphones that quiet and still are for.
pub const SHAKES_DEFAULT: Shakes = Shakes::NotInQuiet;

/// The outer face button: under the thumb, and a bare tap.
pub const STOP_DEFAULT: Press = Press::Tap(Button::East);
/// Away from every other binding and kept down, so that only a wish releases a stop.
pub const RELEASE_DEFAULT: Press = Press::Held(Button::Start);
/// Shoulders: the thumbs stay on the sticks while the gear changes. Right is up, as right is plus.
pub const GEAR_UP_DEFAULT: Press = Press::Tap(Button::Tr);
/// The other shoulder.
pub const GEAR_DOWN_DEFAULT: Press = Press::Tap(Button::Tl);

/// The gear, from 1, a start begins in when the file names none: the middle one, of two the slower.
pub const fn first_gear(gears: u8) -> u8 {
    gears.div_ceil(2)
}
