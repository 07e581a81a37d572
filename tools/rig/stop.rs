//! The jerk-limited stop, in integers.
//!
//! Speeds in 1/1024 count/s, time in 1/16 ms, distance in their product. A [`Stop`] is planned once and then sampled, so its
//! time and distance are known before it begins and errors do not add up.

use stillhand_wire::messages::{MAX_ACCEL, MAX_JERK, Ramp, VELOCITY_SCALE};

/// Time units per second.
pub const TIME_UNITS_PER_S: i64 = 16_000;
/// Time units per millisecond: one tick.
pub(crate) const TICK: i64 = TIME_UNITS_PER_S / 1000;

/// A stop from a speed and an acceleration to rest, never reversing: the acceleration falls at full jerk to the
/// deceleration `peak`, holds it for `hold`, and is let go at full jerk.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Stop {
    speed: i64,
    accel: i64,
    peak: i64,
    jerk: i64,
    press: i64,
    hold: i64,
    release: i64,
    release_speed: i64,
}

impl Stop {
    /// Plans a stop from `speed` (1/1024 count/s, negative counts as 0) and `accel` (1/1024 count/s^2, positive speeds up).
    ///
    /// `accel` is taken as near as possible to what allows a stop without reversing and without passing `max_speed`. If it speeds up by more than
    /// a quarter over the ramp's own limit, it is no acceleration but a commanded step, and counts as 0: a stop must not begin
    /// by speeding up because of it. A `ramp` out of range is brought into it.
    #[must_use]
    pub fn new(speed: i64, accel: i64, ramp: Ramp, max_speed: i64) -> Self {
        let scale = i64::from(VELOCITY_SCALE);
        let jerk = i64::from(ramp.jerk.clamp(1, MAX_JERK)) * scale;
        let most = i64::from(ramp.accel.clamp(1, MAX_ACCEL)) * scale;
        let max_speed = max_speed.clamp(0, i64::from(i32::MAX));
        let speed = speed.clamp(0, i64::from(i32::MAX));
        let least = -root(2 * wide(jerk) * wide(speed)).min(most);
        let greatest = root(2 * wide(jerk) * wide((max_speed - speed).max(0))).min(most);
        let accel = if accel > most + most / 4 {
            0
        } else {
            accel.clamp(least, greatest)
        };

        let peak = root(wide(jerk) * wide(speed) + wide(accel) * wide(accel) / 2)
            .min(most)
            .max(-accel);
        if peak <= 0 {
            return Self::default();
        }
        // In one piece: rounding the speeds between the phases would be felt at a few units per second.
        let held_drop_2j =
            2 * wide(jerk) * wide(speed) + wide(accel) * wide(accel) - 2 * wide(peak) * wide(peak);
        let mut stop = Self {
            speed,
            accel,
            peak,
            jerk,
            press: nearest(wide(accel + peak) * wide(TIME_UNITS_PER_S), wide(jerk)),
            hold: nearest(
                held_drop_2j.max(0) * wide(TIME_UNITS_PER_S),
                2 * wide(jerk) * wide(peak),
            ),
            release: nearest(wide(peak) * wide(TIME_UNITS_PER_S), wide(jerk)),
            release_speed: 0,
        };
        // From the rounded time, so that speed and distance agree with each other.
        stop.release_speed = stop.jerk_drop(stop.release);
        stop
    }

    /// Time to rest, 1/16 ms.
    #[must_use]
    pub fn duration(&self) -> i64 {
        self.press + self.hold + self.release
    }

    /// Speed `t` (1/16 ms, at least 0) after the start, 1/1024 count/s.
    ///
    /// No product leaves i64: jerk x press^2 is (accel + peak)^2 / jerk, and both accel^2 / 2 jerk and peak^2 / jerk are speeds up to
    /// 2^31, so it is less than 2^34 speed units, which are 2^62 here (a second is 2^14 time units).
    #[must_use]
    pub fn speed_at(&self, t: i64) -> i64 {
        let t = t.max(0);
        let left = self.duration() - t;
        if left <= 0 {
            0
        } else if t < self.press {
            (self.speed + self.accel * t / TIME_UNITS_PER_S - self.jerk_drop(t)).max(0)
        } else if left > self.release {
            self.release_speed + self.peak * (left - self.release) / TIME_UNITS_PER_S
        } else {
            self.jerk_drop(left)
        }
    }

    /// Distance to rest, in 1/1024 count/s x 1/16 ms; `i64::MAX` for more than that (the softest ramps from the highest speeds).
    #[must_use]
    pub fn distance(&self) -> i64 {
        let gained = wide(self.accel * self.press / TIME_UNITS_PER_S);
        let (press, hold, release) = (wide(self.press), wide(self.hold), wide(self.release));
        let pressing = wide(self.speed) * press + gained * press / 2
            - wide(self.jerk_drop(self.press)) * press / 3;
        let held_drop = wide(self.peak * self.hold / TIME_UNITS_PER_S);
        let holding = wide(self.release_speed) * hold + held_drop * hold / 2;
        narrow(pressing + holding + wide(self.release_speed) * release / 3)
    }

    /// Distance from `t` (1/16 ms, at least 0) after the start to rest, same unit.
    fn distance_from(&self, t: i64) -> i64 {
        let left = self.duration() - t.max(0);
        if left <= 0 {
            0
        } else if left <= self.release {
            narrow(wide(self.jerk_drop(left)) * wide(left) / 3)
        } else if t >= self.press {
            let released = wide(self.release_speed) * wide(self.release) / 3;
            let held = left - self.release;
            let gained = wide(self.peak * held / TIME_UNITS_PER_S);
            narrow(released + wide(self.release_speed) * wide(held) + gained * wide(held) / 2)
        } else {
            let t = t.max(0);
            let gained = wide(self.accel * t / TIME_UNITS_PER_S);
            let covered = wide(self.speed) * wide(t) + gained * wide(t) / 2
                - wide(self.jerk_drop(t)) * wide(t) / 3;
            let covered = narrow(covered.max(0));
            self.distance().saturating_sub(covered)
        }
    }

    /// The most that sampling this stop once a tick can cover, same unit: the distance, one tick of what it still gains (a rising speed is sampled
    /// at the end of each tick), and the rounding of the parts.
    pub(crate) fn reach(&self) -> i64 {
        self.reach_from(0)
    }

    /// The same for the rest of this stop from `t` (1/16 ms, at least 0) after its start.
    pub(crate) fn reach_from(&self, t: i64) -> i64 {
        let rise = if self.accel > 0 {
            narrow(wide(self.accel) * wide(self.accel) / (2 * wide(self.jerk)))
        } else {
            0
        };
        // Speeds are rounded to whole units: one unit over the whole time. Times are rounded to 1/16 ms: one tick at the
        // speed the peak changes in it.
        let rounding = (rise + self.peak / TIME_UNITS_PER_S + 1) * TICK + self.duration();
        self.distance_from(t).saturating_add(rounding)
    }

    /// Change of speed by the jerk alone in a time.
    fn jerk_drop(&self, t: i64) -> i64 {
        self.jerk * t * t / (2 * TIME_UNITS_PER_S * TIME_UNITS_PER_S)
    }
}

/// Products of two scaled quantities need more than 64 bits for the highest jerk at the highest speed.
fn wide(x: i64) -> i128 {
    i128::from(x)
}

/// The callers' values fit by construction; if one did not, the largest value is the safe one.
fn narrow(x: i128) -> i64 {
    i64::try_from(x).unwrap_or(i64::MAX)
}

fn root(x: i128) -> i64 {
    narrow(x.max(0).isqrt())
}

fn nearest(x: i128, by: i128) -> i64 {
    narrow((x + by / 2) / by)
}
