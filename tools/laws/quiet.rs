//! Law `quiet`.

use crate::breach::{Law, Log};
use crate::dwell::Dwell;
use crate::event::{Band, QuietAxis};
use crate::facts::{Set, Travel, higher, lower};
use crate::judge::Now;
use crate::slew::Slew;
use crate::units::Nanos;

/// How much longer than its hold a guard takes over the last of the way to an end, with room; a seed showed
/// four times.
const COMING: f64 = 6.0;

/// The quiet ceilings of one axis, judged once there was time to slow down: the fastest legal
/// change to the quiet speed by the losing set, from the state at the switch, plus three steps; for
/// acceleration and jerk the fastest one to rest, since the stick may be let go on the way.
///
/// Where the end of the travel is too near for a stop by the quiet set when that set may first take over,
/// the old one brakes for it for as long as that is so; a guard's stop reckons with every state lasting one
/// lateness bound, and with the declared delay. While a stop is in force acceleration and jerk are the stop's. For
/// how long it may be in a band to avoid: [`Dwell`]. While it brakes for an end by the softest set no time counts:
/// a guard's brake follows the way left, not the speed, and comes the slower to the end the nearer it is.
#[derive(Clone, Debug, Default)]
pub(crate) struct Quiet {
    limits: Option<QuietAxis>,
    judged_from: Nanos,
    sets_judged_from: Nanos,
    /// An end is too near for a stop by the quiet set; not known yet until there was time to slow down.
    ends: Option<bool>,
    /// How much longer than planned a guard has to reckon with any state to last, s.
    hold: f64,
    pub dwell: Dwell,
}

impl Quiet {
    /// The band to avoid that it is in.
    pub fn band(&self, now: &Now) -> Option<usize> {
        let (v, q) = (now.motion.v[0].abs(), now.axis.quantum());
        let inside = |b: &Band| v > b.low + q && v < b.high - q;
        self.limits.as_ref()?.bands.iter().position(inside)
    }

    /// Quiet on, with its ceilings, or off. `ceiling` is the one on the speed, `lateness` the bound of the
    /// loop's, s.
    pub fn set(&mut self, now: &Now, limits: Option<QuietAxis>, (ceiling, lateness): (f64, f64)) {
        let m = now.motion;
        self.ends = None;
        self.hold = lateness + 2.0 * now.step + now.axis.delay.secs();
        if let Some(quiet) = &limits {
            let set = now.sets.in_force.losing;
            let way = m.v[0].signum();
            let a = higher(m.accel_ahead(0, way, set.accel, set.jerk), 0.0);
            let rate = higher(a, m.a[0].abs());
            // A gain too hard for the quiet set is first eased off, by the set that gains.
            let eases = higher(a, 0.0) / now.sets.easing_jerk();
            let turn = higher(rate / set.jerk, eases);
            let v = m.v[0].abs();
            let slow = slowing_down(now, (v, a), quiet.speed, ceiling);
            self.judged_from = now.t + Nanos::from_secs(higher(slow, turn) + now.grace());
            // A stick let go on the way down is followed to rest by the set that slows down.
            let rest = Slew::plan(v, a, 0.0, set).time();
            self.sets_judged_from = now.t + Nanos::from_secs(higher(rest, turn) + now.grace());
        }
        self.limits = limits;
        self.dwell.outside();
    }

    /// Other normal sets were offered. A softer one may take over on the way down, and then that is the fastest
    /// legal way.
    pub fn sets_offered(&mut self, now: &Now, ceiling: f64) {
        let Some(quiet) = self.limits.as_ref().filter(|_| now.t < self.judged_from) else {
            return;
        };
        let m = now.motion;
        let set = now.sets.in_force.losing;
        let ahead = m.accel_ahead(0, m.v[0].signum(), set.accel, set.jerk);
        let slow = slowing_down(
            now,
            (m.v[0].abs(), higher(ahead, 0.0)),
            quiet.speed,
            ceiling,
        );
        let then = now.t + Nanos::from_secs(slow + now.grace());
        if then > self.judged_from {
            self.judged_from = then;
        }
    }

    /// A ceiling falls while the speed is not clearly under the one `before`: the set that waits for that goes on
    /// waiting, and the axis comes down by the old one.
    pub fn ceiling_falls(&mut self, now: &Now, before: f64) {
        let (v, a) = (now.motion.v[0].abs(), now.motion.a[0].abs());
        if self.limits.is_none()
            || now.t >= self.sets_judged_from
            || v < before - now.axis.quantum()
        {
            return;
        }
        let rest = Slew::plan(v, a, 0.0, now.sets.in_force.losing).time();
        let then = now.t + Nanos::from_secs(rest + now.grace());
        if then > self.sets_judged_from {
            self.sets_judged_from = then;
        }
    }

    /// The loop was late by so many seconds after `before`: slowing down that was under way takes as
    /// much longer.
    pub fn held_up(&mut self, late: f64, before: Nanos) {
        for from in [&mut self.judged_from, &mut self.sets_judged_from] {
            if *from > before {
                *from = *from + Nanos::from_secs(late);
            }
        }
    }

    /// A frame, with the true position if it is known.
    pub fn frame(&mut self, now: &Now, position: Option<f64>, log: &mut Log) {
        let (m, q) = (now.motion, now.axis.quantum());
        let Some(quiet) = &self.limits else { return };
        if now.t < self.judged_from {
            return;
        }
        let v = m.v[0].abs();
        if v > quiet.speed + q {
            now.report(log, Law::Quiet, "speed", (v, quiet.speed), "/s");
        }
        // Travel comes before quiet, until the quiet set would do.
        let soft = Set::new(quiet.accel, quiet.jerk);
        let near = |set| position.is_some_and(|at| meets_end(now, set, at, self.hold));
        let ends = near(soft) && self.ends.unwrap_or(true);
        self.ends = Some(ends);
        if m.t[2] >= self.sets_judged_from && !ends && !now.sets.stop_allowed() {
            let a = m.a[0].abs();
            if m.has_accel() && a > quiet.accel * (1.0 + 1e-6) + m.accel_tol {
                now.report(log, Law::Quiet, "acceleration", (a, quiet.accel), "/s^2");
            }
            let j = m.j.abs();
            if j > quiet.jerk * (1.0 + 1e-6) + m.jerk_tol {
                let bound = now.sets.jerk_bound(now.axis, m, quiet.jerk);
                if j > bound * (1.0 + 1e-6) + m.jerk_tol {
                    now.report(log, Law::Quiet, "jerk", (j, bound), "/s^3");
                }
            }
        }
        let set = soft.softest(now.sets.in_force.softest());
        let Some(place) = self.band(now) else {
            return self.dwell.left(now, &quiet.bands, log);
        };
        let comes = |at| meets_end(now, set, at, COMING * self.hold);
        // The last of a brake loses less in a step than the wire can tell.
        let gains = m.a[0] * m.v[0].signum() > m.accel_tol;
        let braking = !gains && position.is_some_and(comes);
        self.dwell
            .frame(now, (place, &quiet.bands[place]), set, !braking, log);
    }
}

/// The longest it may take to slow down from a speed and an acceleration that gains. A softer set that
/// waits may take over as soon as the speed is under the ceiling, and then it is the one in force.
fn slowing_down(now: &Now, (v, a): (f64, f64), to: f64, ceiling: f64) -> f64 {
    let set = now.sets.in_force.losing;
    let top = v + a * a / (2.0 * set.jerk);
    if top <= to {
        return 0.0;
    }
    let by_this = Slew::plan(v, a, to, set).time();
    let Some(soft) = now.sets.softer_losing().filter(|_| to < ceiling) else {
        return by_this;
    };
    let (before, from) = if top > ceiling {
        (Slew::plan(v, a, ceiling, set).time(), ceiling)
    } else {
        // The set that gains may be the softer one, and takes its gain off. From where what is left fits the set that
        // waits, that one may do it.
        let hard = lower(set.jerk, now.sets.in_force.gaining.jerk);
        let easy = lower(hard, higher(soft.jerk, now.sets.easing_jerk()));
        let fits = lower(a, soft.accel);
        let gained = (a * a - fits * fits) / (2.0 * hard) + fits * fits / (2.0 * easy);
        ((a - fits) / hard + fits / easy, v + gained)
    };
    higher(by_this, before + Slew::plan(from, 0.0, to, soft).time())
}

/// Whether a stop by this set from here would pass the end of the travel, with every state lasting
/// `hold` seconds longer than planned.
fn meets_end(now: &Now, set: Set, position: f64, hold: f64) -> bool {
    let m = now.motion;
    let Travel::Ends { low, high } = now.axis.travel else {
        return false;
    };
    let room = if m.v[0] < 0.0 {
        position - low
    } else {
        high - position
    };
    // A position is known to a count, and the end is approached to one.
    let room = room - 2.0 * now.axis.count;
    let v = m.v[0].abs();
    // What it still gains is taken off first.
    let a = higher(m.a[0] * m.v[0].signum(), 0.0);
    v != 0.0 && v * hold + Slew::plan(v, a, 0.0, set).distance() > room
}
