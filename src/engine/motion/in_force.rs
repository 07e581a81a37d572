//! Which sets are in force: when harder limits and softer ones take over.

use super::guard::{self, Approach};
use super::sets::Sets;
use super::slew::Motion;
use super::stopping::BrakeCurve;
use crate::rig::LimitSet;
use crate::units::{higher, lower};

/// The sets of one axis.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct InForce {
    /// Of live motion.
    pub live: Sets,
    /// By which the guard plans: those of live motion, or harder ones as long as the way to the end
    /// does not suffice for those.
    pub plan: Sets,
}

/// How the axis stands when sets are offered.
#[derive(Clone, Copy, Debug)]
pub struct Moment {
    /// Speed and acceleration along the motion.
    pub now: Motion,
    /// The speed asked for, along the motion.
    pub target: f64,
    /// The lowest ceiling.
    pub ceiling: f64,
    /// The motion is a planned one, inside the sets offered.
    pub planned: bool,
    /// The stop set is in force until rest.
    pub stopping: bool,
    /// The way to the end, if there is one.
    pub way: Option<Approach>,
    /// Seconds of the tick.
    pub dt: f64,
    /// How long any state may last longer than planned, in seconds.
    pub hold_s: f64,
}

impl InForce {
    /// The first sets of an axis.
    pub const fn of(sets: Sets) -> InForce {
        InForce {
            live: sets,
            plan: sets,
        }
    }

    /// Harder limits are taken at once, number by number. Softer ones wait until what acceleration
    /// there is fits them and goes before the target is reached; one to gain speed also takes over
    /// when hardly any is gained. One to lose speed waits until the acceleration fits and the speed
    /// is under the ceiling; the guard goes on planning by the harder one until the way to the end
    /// suffices for the softer. A brake that is on may become softer by it, but is never thrown back.
    pub fn offer(&mut self, offered: Sets, at: &Moment) {
        if offered != self.live {
            self.take(offered, at);
        }
        if self.plan != self.live {
            self.replan(at);
        }
    }

    fn take(&mut self, offered: Sets, at: &Moment) {
        let Sets { gain, lose } = offered;
        if at.now.at_rest() {
            self.live = offered;
            return;
        }
        let sets = &mut self.live;
        sets.gain = sets.gain.harder(gain);
        sets.lose = sets.lose.harder(lose);
        let easy = lower(gain.jerk.0, lose.jerk.0) * at.dt;
        let calm = at.now.a >= -easy
            && at.now.a <= gain.accel.0
            && at.ahead(gain) <= at.target * (1.0 + ROUNDING);
        let planned = at.planned && at.now.a.abs() <= gain.accel.0;
        if calm || planned || at.now.a <= gain.jerk.0 * at.dt {
            sets.gain = gain;
        }
        // What acceleration there is fits, and what speed is still to be gained fits under the ceiling.
        let soft = gain.softer(lose);
        let fits = at.now.a <= soft.accel.0
            && at.now.a >= -lose.accel.0
            && at.ahead(soft) <= at.ceiling * (1.0 + ROUNDING);
        if fits && !at.stopping {
            sets.lose = lose;
        }
    }

    fn replan(&mut self, at: &Moment) {
        self.plan.gain = self.plan.gain.harder(self.live.gain);
        self.plan.lose = self.plan.lose.harder(self.live.lose);
        let curve = BrakeCurve::new(&self.live, at.hold_s);
        if at.way.is_none_or(|way| guard::fits(at.now, &curve, &way)) {
            self.plan = self.live;
        }
    }

    /// The hardest brake with which the sets offered may take over, while they wait.
    pub fn waits_for(&self, offered: Sets) -> Option<f64> {
        let waits = self.live.lose != offered.lose;
        waits.then_some(offered.lose.accel.0)
    }
}

impl Moment {
    /// The speed that is reached while `set` takes the acceleration off.
    fn ahead(&self, set: LimitSet) -> f64 {
        let rising = higher(self.now.a, 0.0);
        self.now.v + rising * self.dt + rising * rising / (2.0 * set.jerk.0)
    }
}

/// Share of a speed by which sums of whole ticks miss it.
const ROUNDING: f64 = 1e-9;
