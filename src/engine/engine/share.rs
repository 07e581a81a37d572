//! What reduced speed leaves of what is asked for: it holds for the tips of all axes together.
//!
//! All share one factor. A step of inching is exact, so it can't be scaled once it is under way: it
//! begins when the others have made room for it, with its share planned in, and they get what it leaves.

use super::Engine;
use crate::motion::ceiling::REDUCED_TIP_MM_S;
use crate::units::higher;

/// What is left for each axis under reduced speed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Share {
    /// Of every speed asked for that is not exact.
    pub share: f64,
    /// Whether there is room to go faster.
    pub may_gain: bool,
    /// Whether there is room for exact motions, as long as nothing else gains.
    pub may_step: bool,
}

/// Landing on a share is off by rounding in whole ticks; far less than anyone could feel.
const MOST_MM_S: f64 = REDUCED_TIP_MM_S * 1.001;

/// The tip of one axis under reduced speed.
#[derive(Clone, Copy, Debug)]
struct Tip {
    /// mm/s for each unit/s of the axis.
    mm_s: f64,
    /// The speed the axis still comes to if it is asked for nothing more, units/s.
    committed: f64,
    /// The speed it asks for, units/s.
    asks: f64,
    /// Whether it can't do with less.
    exact: bool,
}

impl Tip {
    /// What it takes of the whole at a share.
    fn at(&self, share: f64) -> f64 {
        let share = if self.exact { 1.0 } else { share };
        self.mm_s * higher(self.committed, self.asks * share)
    }
}

impl Engine {
    /// The share that is left, and whether anything may go faster yet.
    ///
    /// An axis that still goes faster than it is asked to counts with its speed. As long as one has to
    /// make room, none gains: a quick axis would take its share before a slow one has given it up.
    pub(super) fn shared_while_reduced(&self) -> Share {
        let tips = || self.tips().map(|(_, tip)| tip);
        let share = share(tips());
        let held: f64 = tips().map(|tip| tip.at(0.0)).sum();
        Share {
            share,
            may_gain: tips().map(|tip| tip.at(share)).sum::<f64>() <= MOST_MM_S,
            may_step: held <= MOST_MM_S,
        }
    }

    /// The speed up to which a step of an axis at rest may go that would like to reach `top`; `None` as
    /// long as the others have to make room for it.
    pub(super) fn room_for_step(&self, rig: usize, axis: usize, top: f64) -> Option<f64> {
        let own = Tip {
            mm_s: self.rigs[rig].axes()[axis].tip,
            committed: 0.0,
            asks: top,
            exact: false,
        };
        let others = || {
            let tips = self.tips().filter(|(place, _)| *place != (rig, axis));
            tips.map(|(_, tip)| tip)
        };
        let share = share(others().chain([own]));
        let sum: f64 = others().chain([own]).map(|tip| tip.at(share)).sum();
        (sum <= MOST_MM_S).then_some(top * share)
    }

    /// The tips of all axes for which reduced speed holds, each with its place. An axis that was not
    /// looked at yet in this tick asks for what it asked for in the last one.
    fn tips(&self) -> impl Iterator<Item = ((usize, usize), Tip)> + Clone {
        let rigs = self.rigs.iter().zip(&self.plans).enumerate();
        let axes = rigs.flat_map(|(rig, (motion, plans))| {
            let axes = motion.axes().iter().zip(plans).enumerate();
            axes.map(move |(axis, both)| ((rig, axis), both))
        });
        let reduced = axes.filter(|((rig, axis), _)| self.is_reduced(*rig, *axis));
        reduced.map(|(place, (driven, plan))| {
            let tip = Tip {
                mm_s: driven.tip,
                committed: driven.motion.committed(),
                asks: plan.asks,
                exact: plan.exactly.is_some(),
            };
            (place, tip)
        })
    }
}

/// The factor of all that are not exact, so that all together keep to the limit once they are there.
fn share(tips: impl Iterator<Item = Tip> + Clone) -> f64 {
    let (mut exact, mut asked) = (0.0, 0.0);
    for tip in tips {
        *if tip.exact { &mut exact } else { &mut asked } += tip.at(1.0);
    }
    let left = higher(0.0, REDUCED_TIP_MM_S - exact);
    if asked > left { left / asked } else { 1.0 }
}
