//! Which limits are in force on an axis, as far as an outsider can know.

use crate::facts::{AxisFacts, Normal, Set, higher, lower};
use crate::motion::Motion;
use crate::slew::LANDING;

/// The limit sets of one axis.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Sets {
    candidate: Normal,
    /// Softest set that may have taken over: a softer candidate is taken to be in force as soon
    /// as a frame shows the acceleration inside it and the speed, with that acceleration taken out
    /// by the softer jerk, under the ceiling. A brake beyond it is brought inside from there on.
    pub in_force: Normal,
    /// Hardest normal set that was valid since the axis last was at rest.
    pub hardest: Set,
    /// Highest jerk of a losing set that may still be in force.
    pub losing_jerk: f64,
    /// Frames since the stop set was allowed; none when it is not.
    stop: Option<u32>,
}

impl Sets {
    pub fn new(rig: Set) -> Sets {
        let normal = Normal::same(rig);
        Sets {
            candidate: normal,
            in_force: normal,
            hardest: rig,
            losing_jerk: rig.jerk,
            stop: None,
        }
    }

    /// A new candidate; whatever is harder in it holds at once.
    pub fn offer(&mut self, set: Normal) {
        self.candidate = set;
        self.hardest = self.hardest.hardest(set.hardest());
        self.losing_jerk = higher(self.losing_jerk, set.losing.jerk);
    }

    /// STOP, loss, or a guard whose plan no longer fits: the stop set until rest.
    pub fn allow_stop(&mut self) {
        self.stop = Some(0);
    }

    /// The losing set that waits, if it is softer in anything than the one in force.
    pub fn softer_losing(&self) -> Option<Set> {
        let (waits, now) = (self.candidate.losing, self.in_force.losing);
        let softer = waits.accel < now.accel || waits.jerk < now.jerk;
        softer.then_some(waits)
    }

    /// The lowest jerk by which a gain may be taken off: that of the set that gains, and a softer one may have taken
    /// over before it is seen to have.
    pub fn easing_jerk(&self) -> f64 {
        lower(self.in_force.gaining.jerk, self.candidate.gaining.jerk)
    }

    pub fn stop_allowed(&self) -> bool {
        self.stop.is_some()
    }

    /// After a frame was judged: what may have taken over by now.
    pub fn settle(&mut self, motion: &Motion, ceiling: f64) {
        let soft = self.candidate.softest();
        // The least the acceleration can be at the end of the interval, given its mean.
        let a = higher(
            motion.a[0].abs() - self.hardest.jerk * motion.dt[0] / 2.0 - motion.accel_tol,
            0.0,
        );
        // Where the speed gets to while the softer jerk takes the acceleration out.
        let ahead = motion.v[0].abs()
            + if motion.a[0] * motion.v[0] > 0.0 {
                a * a / (2.0 * soft.jerk)
            } else {
                0.0
            };
        // Under the ceiling a brake that is too hard for it may be eased to it.
        let brakes = motion.a[0] * motion.v[0] < 0.0;
        let fits = (a <= soft.accel || brakes) && ahead <= ceiling;
        let harder = self.candidate.losing.accel >= self.in_force.losing.accel
            && self.candidate.losing.jerk >= self.in_force.losing.jerk;
        if fits || harder {
            self.in_force = self.candidate;
        }
        // Three frames at rest: neither difference reaches back into the motion any more.
        if motion.rest >= 3 {
            self.hardest = self.candidate.hardest();
            self.losing_jerk = self.candidate.losing.jerk;
            self.in_force = self.candidate;
        }
        self.stop = match self.stop {
            Some(frames) if motion.rest >= 3 && frames >= 3 => None,
            Some(frames) => Some(frames.saturating_add(1)),
            None => None,
        };
    }

    /// Acceleration allowed now.
    pub fn accel_bound(&self, axis: &AxisFacts, motion: &Motion) -> f64 {
        if self.stop_allowed() {
            higher(self.hardest.accel, axis.stop(way_of(motion)).accel)
        } else {
            self.hardest.accel
        }
    }

    /// Jerk allowed now, above a floor of `normal` jerk.
    ///
    /// While acceleration opposes speed, jerk may rise to 1.05 a^2 / (2|v|), the jerk that takes
    /// the acceleration out exactly at rest, up to the stop set's: braking with a hard set and
    /// handing back to a soft one would otherwise throw the axis back.
    pub fn jerk_bound(&self, axis: &AxisFacts, motion: &Motion, normal: f64) -> f64 {
        let stop = axis.stop(way_of(motion)).jerk;
        if self.stop_allowed() {
            return higher(normal, stop);
        }
        let opposing = motion.a[0] * motion.v[1] < 0.0 || motion.a[1] * motion.v[2] < 0.0;
        if !opposing {
            return normal;
        }
        // Half an interval of the jerk that was found separates a mean from the state at an edge.
        let jerk = lower(higher(normal, motion.j.abs()), stop);
        let a = higher(motion.a[0].abs(), motion.a[1].abs())
            + jerk * higher(motion.dt[0], motion.dt[1]) / 2.0;
        let v = lower(motion.v[0].abs(), motion.v[1].abs());
        let landing = LANDING * a * a / (2.0 * higher(v, 1e-12));
        higher(normal, lower(landing, stop))
    }
}

/// The way the axis moved over the three frames; 0 when it turned or both stop sets may apply.
fn way_of(motion: &Motion) -> f64 {
    let [a, b, c] = motion.v;
    if a >= 0.0 && b >= 0.0 && c >= 0.0 && a + b + c > 0.0 {
        1.0
    } else if a <= 0.0 && b <= 0.0 && c <= 0.0 && a + b + c < 0.0 {
        -1.0
    } else {
        0.0
    }
}
