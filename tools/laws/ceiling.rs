//! Law `ceiling`.

use crate::breach::{Law, Log};
use crate::facts::{AxisFacts, higher, lower};
use crate::judge::Now;
use crate::slew::{Descent, Slew};
use crate::units::Nanos;

/// Speed against the effective ceiling of one axis.
///
/// |v| <= the highest ceiling of the last three frames. Where that bound falls below the speed,
/// or below what a running acceleration must still reach, the fastest legal descent takes its
/// place, from the state two frames after the change.
#[derive(Clone, Debug)]
pub(crate) struct Ceiling {
    now: f64,
    recent: [f64; 3],
    before: f64,
    /// Bound on the last frame.
    bound: f64,
    descent: Option<Descent>,
    /// Where the descent was a frame ago; 0 when there was none.
    a_frame_ago: f64,
    plant: Held,
    /// How hard speed was changed.
    accels: Held,
    /// The rig's own stop: from when, and how it goes at the latest.
    own: Option<(Nanos, Slew)>,
    /// Until then the plant may go by a frame before the last, and by one so old.
    lost: (Nanos, f64),
}

/// Share of the ceiling granted to rounding in binary floating point.
const ROUNDING: f64 = 1e-9;

impl Ceiling {
    pub fn new(axis: &AxisFacts) -> Ceiling {
        let c = axis.speed_ceiling;
        Ceiling {
            now: c,
            recent: [c; 3],
            before: c,
            bound: c,
            descent: None,
            a_frame_ago: 0.0,
            plant: Held::new(),
            accels: Held::new(),
            own: None,
            lost: (Nanos::NEVER, 0.0),
        }
    }

    /// Frames do not arrive: the plant may go by an older one for as long as the watchdog lets it.
    pub fn frames_lost(&mut self, t: Nanos, watchdog: f64) {
        self.lost = (t + Nanos::from_secs(2.0 * watchdog), watchdog);
    }

    /// A change; says whether it was one.
    pub fn set(&mut self, speed: f64) -> bool {
        let changed = self.now != speed;
        self.now = speed;
        changed
    }

    /// The ceiling told last.
    pub fn current(&self) -> f64 {
        self.now
    }

    /// The ceiling in force when an engine that is two frames late has heard of it.
    pub fn delayed(&self) -> f64 {
        self.before
    }

    pub fn frame(&mut self, now: &Now, log: &mut Log) {
        let (m, set) = (now.motion, now.sets.in_force.losing);
        let current = lower(self.now, now.axis.speed_ceiling);
        self.recent = [current, self.recent[0], self.recent[1]];
        let c = higher(self.recent[0], higher(self.recent[1], self.recent[2]));
        let q = now.axis.quantum();
        let stop_jerk = now.axis.stop(m.v[1]).jerk;
        // One that was under the ceiling was free until now, whatever had come down before; and one that was about
        // to land on it has let go of most of its brake, and begins anew with what is left.
        let brake = higher(-m.a[0] * m.v[0].signum(), 0.0);
        let lands = m.v[1].abs() - self.before <= brake * brake / (2.0 * set.jerk);
        let free = self.descent.is_none() || lands;
        if free && c < self.before {
            let v = lower(m.v[1].abs(), self.bound) + q;
            let descent = m.descent(v, set, now.sets.hardest.jerk, stop_jerk);
            if !descent.under(c, set.jerk) {
                self.a_frame_ago = higher(self.a_frame_ago, descent.bound());
                self.descent = Some(self.descent.map_or(descent, |old| old.or(descent)));
            }
        }
        let mut allowed = 0.0;
        if let Some(descent) = &mut self.descent {
            let most_jerk = if c == 0.0 || now.sets.stop_allowed() {
                stop_jerk
            } else {
                now.sets.losing_jerk
            };
            allowed = descent.advance(m.dt[0], c, set, most_jerk);
            // Down, or overtaken by a ceiling that has risen again.
            if descent.under(c, set.jerk) {
                self.descent = None;
            }
        }
        // An engine of whole ticks lands up to a tick later than the closed form.
        self.bound = higher(c, higher(allowed, self.a_frame_ago));
        self.a_frame_ago = allowed;
        self.before = c;
        self.plant.raise(now.t, self.bound);
        self.accels.raise(now.t, m.a[0].abs());
        let (v, allowed) = (m.v[0].abs(), self.bound);
        if v > allowed + q + allowed * ROUNDING || v.is_nan() {
            let what = if allowed > c {
                "speed on the way down"
            } else {
                "speed"
            };
            now.report(log, Law::Ceiling, what, (v, allowed), "/s");
        }
    }

    /// The rig stops by itself: it takes off the acceleration it has, by its own stop set, and knows
    /// of no ceiling. What it has is a frame older than the last one said, or what it had before frames were lost.
    pub fn rig_stops(&mut self, now: &Now) {
        let (m, normal) = (now.motion, now.sets.hardest);
        let way = m.v[0].signum();
        let ahead = higher(m.accel_ahead(0, way, normal.accel, normal.jerk), 0.0);
        let a = lower(ahead + normal.jerk * now.step, higher(normal.accel, ahead));
        let stop = now.axis.own_stop(way);
        // Frames that were lost did not slow it down. Over the gap it takes a mean for the acceleration, and goes on
        // with what that changed by, half a frame far.
        let window = self.window(now);
        let (before, a) = match now.t <= self.lost.0 {
            true => {
                let mean = self.accels.highest(now.t, window).unwrap_or(0.0);
                let before = self.plant.highest(now.t, window).unwrap_or(0.0);
                (before, higher(a, 1.5 * mean))
            }
            false => (0.0, a),
        };
        let runs_out = higher(before, m.v[0].abs() + a * a / (2.0 * stop.jerk));
        self.plant.raise(now.t, higher(self.bound, runs_out));
        // Frames that come after that, and slow down sooner, it does not hear.
        let since = now.t + Nanos::from_secs(a / stop.jerk);
        if runs_out > self.own_stop(now.t, 0.0) {
            self.own = Some((since, Slew::plan(runs_out, 0.0, 0.0, stop)));
        }
    }

    /// How old a bound the plant may go by, s.
    fn window(&self, now: &Now) -> f64 {
        let lost = if now.t <= self.lost.0 {
            self.lost.1
        } else {
            0.0
        };
        now.axis.delay.secs() + now.grace() + lost
    }

    /// The highest speed the rig's own stop may have left, `late` seconds late.
    fn own_stop(&self, t: Nanos, late: f64) -> f64 {
        self.own.as_ref().map_or(0.0, |(since, stop)| {
            let spent = higher(t.since(*since) - late, 0.0);
            stop.at(spent).0
        })
    }

    /// The true speed may not exceed what the frames of the last while were allowed.
    pub fn plant(&mut self, now: &Now, speed: f64, log: &mut Log) {
        let window = self.window(now);
        let Some(allowed) = self.plant.highest(now.t, window) else {
            return;
        };
        let allowed = higher(allowed, self.own_stop(now.t, window));
        let tolerance = now.axis.quantum() + now.axis.plant_speed_error + allowed * ROUNDING;
        if speed.abs() > allowed + tolerance || speed.is_nan() {
            now.report(
                log,
                Law::Ceiling,
                "true speed",
                (speed.abs(), allowed),
                "/s",
            );
        }
    }
}

/// The highest bound of the last one to two windows, in constant space.
#[derive(Clone, Debug)]
struct Held {
    began: Nanos,
    current: Option<f64>,
    previous: Option<f64>,
}

impl Held {
    fn new() -> Held {
        Held {
            began: Nanos::NEVER,
            current: None,
            previous: None,
        }
    }

    fn raise(&mut self, t: Nanos, bound: f64) {
        if self.current.is_none() {
            self.began = t;
        }
        self.current = Some(self.current.map_or(bound, |c| higher(c, bound)));
    }

    fn highest(&mut self, t: Nanos, window: f64) -> Option<f64> {
        let both = match (self.current, self.previous) {
            (Some(c), Some(p)) => Some(higher(c, p)),
            (c, p) => c.or(p),
        };
        if t.since(self.began) > window && self.current.is_some() {
            (self.previous, self.current) = (self.current, None);
        }
        both
    }
}
