//! Speed, acceleration and jerk of one axis, from the frames alone.

use crate::facts::{AxisFacts, Facts, Set, higher, lower};
use crate::slew::Descent;
use crate::units::Nanos;

/// The last three frames of one axis; the newest figure first.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Motion {
    /// Frame times.
    pub t: [Nanos; 3],
    /// Speeds, axis units/s.
    pub v: [f64; 3],
    /// Mean accelerations of the last two intervals.
    pub a: [f64; 2],
    /// Jerk between the middles of the last two intervals.
    pub j: f64,
    /// Lengths of the last two intervals as far as they may change a speed, s.
    pub dt: [f64; 2],
    /// Length of the last interval, s.
    pub passed: f64,
    /// Tolerances of acceleration and jerk.
    pub accel_tol: f64,
    pub jerk_tol: f64,
    /// Frames in an unbroken row, up to 3: two give an acceleration, three a jerk.
    pub row: u8,
    /// Frames at rest in a row.
    pub rest: u32,
    /// When a speed other than 0 was last in force.
    pub last_moving: Nanos,
    seen: bool,
}

impl Motion {
    pub fn new() -> Motion {
        Motion {
            t: [Nanos::NEVER; 3],
            v: [0.0; 3],
            a: [0.0; 2],
            j: 0.0,
            dt: [0.0; 2],
            passed: 0.0,
            accel_tol: 0.0,
            jerk_tol: 0.0,
            row: 0,
            rest: 3,
            last_moving: Nanos::NEVER,
            seen: false,
        }
    }

    /// The rig has stopped, or will stop, by itself: the next frame starts a new row.
    pub fn interrupt(&mut self) {
        self.row = 0;
    }

    /// The rig is known to be at rest at `t`, as good as by a frame that says so, though its
    /// mechanics may follow.
    pub fn restart(&mut self, t: Nanos) {
        *self = Motion {
            t: [t; 3],
            row: 1,
            seen: true,
            last_moving: t,
            ..Motion::new()
        };
    }

    /// A frame; `late` of the seconds since the last one passed while the loop was late. Nothing
    /// may make up for those: they change no speed.
    pub fn push(&mut self, t: Nanos, v: f64, late: f64, facts: &Facts, axis: &AxisFacts) {
        let dt = if self.seen { t.since(self.t[0]) } else { 0.0 };
        self.passed = dt;
        // The rig's watchdog has struck in between. At rest there was nothing to strike.
        if dt > facts.watchdog.secs() && self.v[0] != 0.0 {
            self.interrupt();
        }
        let dt = higher(dt - late, 0.0);
        self.seen = true;
        self.t = [t, self.t[0], self.t[1]];
        self.v = [v, self.v[0], self.v[1]];
        self.dt = [dt, self.dt[0]];
        self.row = if self.row < 3 { self.row + 1 } else { 3 };
        let a = if self.row >= 2 && dt > 0.0 {
            (v - self.v[1]) / dt
        } else {
            0.0
        };
        self.a = [a, self.a[0]];
        let between = higher((self.dt[0] + self.dt[1]) / 2.0, 1e-9);
        self.j = if self.has_jerk() {
            (self.a[0] - self.a[1]) / between
        } else {
            0.0
        };
        // A frame time that is off by e looks like a speed that is off by accel * e.
        let off = axis.quantum() + axis.stop(0.0).accel * facts.frame_time_error.secs();
        self.accel_tol = 2.0 * off / higher(dt, 1e-9);
        self.jerk_tol = 4.0 * off / higher(self.dt[0] * self.dt[1], 1e-18);
        self.rest = if v == 0.0 {
            self.rest.saturating_add(1)
        } else {
            0
        };
        // A frame holds until the next one.
        if v != 0.0 || self.v[1] != 0.0 {
            self.last_moving = t;
        }
    }

    pub fn has_accel(&self) -> bool {
        self.row >= 2 && self.dt[0] > 0.0
    }

    pub fn has_jerk(&self) -> bool {
        self.row >= 3 && self.dt[0] > 0.0 && self.dt[1] > 0.0
    }

    /// Whether the frames before this one were at rest. One alone may be the end of a landing, its
    /// remainder carried: 1, 0, 1, 0 quanta.
    pub fn was_at_rest(&self) -> bool {
        self.v[1] == 0.0 && self.v[2] == 0.0
    }

    /// Highest acceleration along the motion at the end of interval `n` (0 the last, 1 the one
    /// before): half an interval of jerk may separate it from the mean. `accel` where unknown, and
    /// no more than that unless the mean, as well as it is known, already is.
    pub fn accel_ahead(&self, n: usize, way: f64, accel: f64, jerk: f64) -> f64 {
        let known = if n == 0 {
            self.has_accel()
        } else {
            self.row >= 3
        };
        if !known {
            return accel;
        }
        let ahead = way * self.a[n] + jerk * self.dt[n] / 2.0 + self.accel_tol;
        // A mean at the limit, or beyond it by a harder set that gained the speed, may hide more.
        if way * self.a[n] + self.accel_tol > accel {
            return ahead;
        }
        lower(ahead, accel)
    }

    /// The slowest lawful course from the frame before, at most at speed `v` then. Where the
    /// acceleration may be too high to end at zero even at the landing jerk, which goes up to
    /// `stop_jerk`, the motion may go on across it. `jerk` is the highest that may have been in force
    /// until then.
    pub fn descent(&self, v: f64, set: Set, jerk: f64, stop_jerk: f64) -> Descent {
        let way = self.v[1].signum();
        let jerk = higher(set.jerk, jerk);
        let lighter = self.accel_ahead(1, way, set.accel, jerk);
        let descent = Descent::new(v, self.accel_ahead(1, way, set.accel, set.jerk));
        let descent = descent.or_lighter(lighter);
        let against = self.accel_ahead(1, -way, set.accel, jerk);
        let over = against * against / (2.0 * higher(set.jerk, stop_jerk)) - v;
        if self.row >= 3 && against > 0.0 && over > 0.0 {
            return descent.or_across(against, higher(v, over));
        }
        descent
    }
}
