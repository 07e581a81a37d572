//! Closed forms of the fastest change of speed under limits on acceleration and jerk.

use crate::facts::{Set, higher, lower};

/// The fastest legal way from (speed, acceleration) to a speed at zero acceleration:
/// acceleration goes to a peak, is held, and comes back to zero.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slew {
    /// Start state: speed and acceleration.
    v0: f64,
    a0: f64,
    /// Duration (s) and jerk of the three parts.
    parts: [(f64, f64); 3],
}

impl Slew {
    /// Plans from speed `v0` and acceleration `a0` to speed `v1`.
    ///
    /// An acceleration outside the set comes inside first, at the set's jerk.
    pub fn plan(v0: f64, a0: f64, v1: f64, set: Set) -> Slew {
        let Set { accel, jerk } = set;
        if accel <= 0.0 || jerk <= 0.0 || (v0 == v1 && a0 == 0.0) {
            return Slew {
                v0,
                a0,
                parts: [(0.0, 0.0); 3],
            };
        }
        // Where the speed ends up if acceleration is simply taken out: decides which way to push.
        let idle = v0 + a0 * a0.abs() / (2.0 * jerk);
        let way = if v1 == idle {
            a0.signum()
        } else {
            (v1 - idle).signum()
        };
        let (a, dv) = (way * a0, way * (v1 - v0));
        let free_peak = (jerk * dv + a * a / 2.0).max(0.0).sqrt();
        let peak = if free_peak < accel { free_peak } else { accel };
        let first = (peak - a).abs() / jerk;
        let first_jerk = if peak < a { -jerk } else { jerk };
        let gained = (a + peak) / 2.0 * first + peak * peak / (2.0 * jerk);
        let held = if peak > 0.0 {
            ((dv - gained) / peak).max(0.0)
        } else {
            0.0
        };
        let parts = [
            (first, way * first_jerk),
            (held, 0.0),
            (peak / jerk, -way * jerk),
        ];
        Slew { v0, a0, parts }
    }

    /// Seconds until the speed is reached.
    pub fn time(&self) -> f64 {
        self.parts.iter().map(|p| p.0).sum()
    }

    /// Distance covered on the way, signed.
    pub fn distance(&self) -> f64 {
        let (mut v, mut a, mut x) = (self.v0, self.a0, 0.0);
        for (t, j) in self.parts {
            x += v * t + a * t * t / 2.0 + j * t * t * t / 6.0;
            v += a * t + j * t * t / 2.0;
            a += j * t;
        }
        x
    }

    /// Speed and acceleration after `t` seconds; the end state afterwards.
    pub fn at(&self, t: f64) -> (f64, f64) {
        let (mut v, mut a, mut left) = (self.v0, self.a0, t);
        for (span, j) in self.parts {
            let dt = if left < span { left } else { span };
            v += a * dt + j * dt * dt / 2.0;
            a += j * dt;
            left -= dt;
            if left <= 0.0 {
                return (v, a);
            }
        }
        (v, 0.0)
    }
}

/// While acceleration opposes speed, jerk may reach this times a^2 / (2|v|), the jerk that takes
/// the acceleration out exactly at rest.
pub(crate) const LANDING: f64 = 1.05;

/// A motion that must come down: the slowest course the law still allows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Descent {
    /// The slowest course on this side of rest.
    down: Course,
    /// The same where the brake may be lighter: that one may come down later, and sooner.
    lighter: Course,
    /// A course that may have to turn first, and the bound until it has.
    across: Option<(Course, f64)>,
}

/// A speed and an acceleration on their way.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Course {
    /// Speed along the motion.
    v: f64,
    /// Acceleration along the motion.
    a: f64,
}

impl Descent {
    /// Of an axis at rest.
    pub const REST: Descent = Descent::new(0.0, 0.0);

    /// From speed `v`, not signed, and acceleration `a` along the motion.
    pub const fn new(v: f64, a: f64) -> Descent {
        Descent {
            down: Course { v, a },
            lighter: Course { v, a },
            across: None,
        }
    }

    /// The same, where the acceleration along the motion may be as much as `a` too.
    pub const fn or_lighter(self, a: f64) -> Descent {
        let lighter = Course { v: self.down.v, a };
        Descent { lighter, ..self }
    }

    /// The same, where the acceleration may be as much as `against` the motion, too much to end at
    /// rest: the motion may then go on across it, faster than `hold` at no time.
    pub const fn or_across(self, against: f64, hold: f64) -> Descent {
        let other = Course {
            v: -self.down.v,
            a: against,
        };
        Descent {
            across: Some((other, hold)),
            ..self
        }
    }

    /// Whether it has come under `ceiling` for good.
    pub fn under(&self, ceiling: f64, jerk: f64) -> bool {
        let low = |course: &Course| course.v <= ceiling && course.peak(jerk) <= ceiling;
        low(&self.down)
            && low(&self.lighter)
            && self
                .across
                .is_none_or(|(course, hold)| low(&course) && (course.a <= 0.0 || hold <= ceiling))
    }

    /// The bound on the speed now.
    pub fn bound(&self) -> f64 {
        let bound = higher(self.down.v, self.lighter.v);
        self.across
            .map_or(bound, |(course, hold)| higher(bound, course.bound(hold)))
    }

    /// The slower of two, number by number.
    pub fn or(self, other: Descent) -> Descent {
        let slower = |a: Course, b: Course| Course {
            v: higher(a.v, b.v),
            a: higher(a.a, b.a),
        };
        let across = match (self.across, other.across) {
            (Some((a, hold)), Some((b, other))) => Some((slower(a, b), higher(hold, other))),
            (one, None) | (None, one) => one,
        };
        Descent {
            down: slower(self.down, other.down),
            lighter: slower(self.lighter, other.lighter),
            across,
        }
    }

    /// Moves on by `dt` seconds towards `target` and gives the bound there, where any set from
    /// `set` up to `most_jerk` may be the one in force.
    ///
    /// A brake comes off slowest at the jerk that just ends at the target. On the way to rest the
    /// law grants that jerk, the landing jerk, to every set, as soon as it is over the set's: a
    /// twentieth early, and worked out anew each tick from a state of the engine's own, so the
    /// bound is a step and a half behind then.
    pub fn advance(&mut self, dt: f64, target: f64, set: Set, most_jerk: f64) -> f64 {
        let bound = self.down.advance(dt, target, set, most_jerk);
        let lighter = self.lighter.advance(dt, target, set, most_jerk);
        let bound = higher(bound, lighter);
        let Some((course, hold)) = &mut self.across else {
            return bound;
        };
        course.advance(dt, target, set, most_jerk);
        higher(bound, course.bound(*hold))
    }
}

impl Course {
    /// The highest speed it must still reach.
    fn peak(&self, jerk: f64) -> f64 {
        let a = higher(self.a, 0.0);
        self.v + a * a / (2.0 * jerk)
    }

    /// The bound of a course that must turn first.
    fn bound(&self, hold: f64) -> f64 {
        if self.a > 0.0 {
            higher(hold, self.v)
        } else {
            self.v
        }
    }

    /// A brake too hard for the set comes inside it at the jerk it came with; the rest of the time the set
    /// is in force.
    fn ease(&mut self, dt: f64, target: f64, set: Set, most_jerk: f64) -> f64 {
        let jerk = higher(set.jerk, most_jerk);
        let needed = (-set.accel - self.a) / jerk;
        let spent = lower(needed, dt);
        let a = if needed < dt {
            -set.accel
        } else {
            self.a + jerk * dt
        };
        self.v += (self.a + a) / 2.0 * spent;
        self.a = a;
        if target == 0.0 && self.v <= 0.0 {
            *self = Course { v: 0.0, a: 0.0 };
            return 0.0;
        }
        if spent < dt {
            return self.advance(dt - spent, target, set, most_jerk);
        }
        self.v
    }

    fn advance(&mut self, dt: f64, target: f64, set: Set, most_jerk: f64) -> f64 {
        if self.a < -set.accel {
            return self.ease(dt, target, set, most_jerk);
        }
        let early = if target == 0.0 { LANDING } else { 1.0 };
        let above = self.v - target;
        let needed = early * self.a * self.a / (2.0 * above);
        if self.a >= 0.0 || above <= 0.0 || needed < set.jerk {
            (self.v, self.a) = Slew::plan(self.v, self.a, target, set).at(dt);
            return self.v;
        }
        let was = *self;
        let jerk = higher(set.jerk, lower(needed, most_jerk));
        self.a = lower(was.a + jerk * dt, 0.0);
        self.v = was.v + (was.a + self.a) / 2.0 * dt;
        if target != 0.0 {
            return self.v;
        }
        if self.v <= 0.0 {
            *self = Course { v: 0.0, a: 0.0 };
        }
        was.v - was.a * dt / 2.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    const SET: Set = Set::new(60.0, 300.0);

    /// Source of the figures: ruckig 0.19.4 (PyPI), velocity interface, a = 60, j = 300.
    #[test]
    fn agrees_with_ruckig() {
        for (v0, a0, v1, time, distance) in [
            (0.0, 0.0, 30.0, 0.7, 10.5),
            (30.0, 0.0, 0.0, 0.7, 10.5),
            (0.0, 0.0, 3.0, 0.2, 0.3),
            (30.0, 0.0, -30.0, 1.2, 0.0),
            (20.0, 60.0, 0.0, 0.833_333_333, 13.033_333_333),
            (20.0, -40.0, 0.0, 0.444_444_444, 3.644_444_444),
        ] {
            let slew = Slew::plan(v0, a0, v1, SET);
            assert_abs_diff_eq!(slew.time(), time, epsilon = 1e-8);
            assert_abs_diff_eq!(slew.distance(), distance, epsilon = 1e-8);
        }
    }

    #[test]
    fn samples_join_and_end_at_the_target() {
        for (v0, a0, v1) in [
            (20.0, 60.0, 0.0),
            (20.0, -90.0, 4.0),
            (-3.0, 10.0, -3.0),
            (1.0, -60.0, 0.0),
        ] {
            let slew = Slew::plan(v0, a0, v1, SET);
            let (mut v, mut a, dt) = (v0, a0, slew.time() / 1000.0);
            for n in 1..=1000 {
                let (v2, a2) = slew.at(dt * f64::from(n));
                assert!((a2 - a).abs() <= SET.jerk * dt * 1.0001, "jerk");
                assert!(
                    (v2 - v).abs() <= a.abs().max(a2.abs()) * dt * 1.0001 + 1e-12,
                    "speed"
                );
                (v, a) = (v2, a2);
            }
            assert_abs_diff_eq!(v, v1, epsilon = 1e-9);
            assert_abs_diff_eq!(a, 0.0, epsilon = 1e-6);
        }
    }

    #[test]
    fn a_state_at_its_target_takes_no_time() {
        assert_eq!(Slew::plan(5.0, 0.0, 5.0, SET).time(), 0.0);
        assert_eq!(Slew::plan(5.0, 1.0, 5.0, Set::new(0.0, 0.0)).time(), 0.0);
    }
}
