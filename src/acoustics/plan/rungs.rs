//! The rungs of a plan as they are driven: where each begins, how far the axes go, and the rest of a plan
//! that was broken off.

use super::{Does, Plan, Step};
use std::ops::Range;

/// A rung: all steps of one speed of an axis, or all moves of one of its accelerations. What brings the axis to
/// where it begins belongs to it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rung {
    /// Which axis of the plan.
    pub axis: usize,
    /// Whether it is one of acceleration.
    pub ramp: bool,
    /// Its number among those of its axis and kind, from 1, the slowest or gentlest.
    pub number: usize,
    /// The places of its steps.
    pub steps: Range<usize>,
}

impl Step {
    /// How far it moves its axis: which, and the way in its unit.
    fn way(&self) -> Option<(usize, f64)> {
        let m = self.does.moving()?;
        let way = m.speed * (self.lasts - m.ramp_s());
        Some((m.axis, if m.plus { way } else { -way }))
    }
}

impl Plan {
    /// The rungs in the order in which they are driven.
    pub fn rungs(&self) -> Vec<Rung> {
        let mut rungs: Vec<Rung> = Vec::new();
        let mut begins = None;
        for (place, step) in self.steps.iter().enumerate() {
            let (axis, ramp, number) = match step.does {
                Does::Go(_) => {
                    begins.get_or_insert(place);
                    continue;
                }
                Does::Speed(number, m) => (m.axis, false, number),
                Does::Ramp(number, m) => (m.axis, true, number),
                Does::Room | Does::Still | Does::Mark(_) => {
                    begins = None;
                    continue;
                }
            };
            let from = begins.take().unwrap_or(place);
            match rungs.last_mut() {
                Some(last) if (last.axis, last.ramp, last.number) == (axis, ramp, number) => {
                    last.steps.end = place + 1;
                }
                _ => rungs.push(Rung {
                    axis,
                    ramp,
                    number,
                    steps: from..place + 1,
                }),
            }
        }
        rungs
    }

    /// The lowest and the highest place each axis comes to, in its unit.
    pub fn reaches(&self) -> Vec<(f64, f64)> {
        let mut at: Vec<f64> = self.axes.iter().map(|axis| axis.start).collect();
        let mut reaches: Vec<(f64, f64)> = at.iter().map(|start| (*start, *start)).collect();
        for (axis, way) in self.steps.iter().filter_map(Step::way) {
            if let (Some(at), Some(reach)) = (at.get_mut(axis), reaches.get_mut(axis)) {
                *at += way;
                *reach = (reach.0.min(*at), reach.1.max(*at));
            }
        }
        reaches
    }

    /// What is left from a rung on (counted from 1 over all rungs), as a plan of its own: it begins with room
    /// tone, standstill and pattern as the whole one does. `None` if there is no such rung.
    pub fn rest(&self, from: usize) -> Option<Plan> {
        let rungs = self.rungs();
        let (first, rung) = (rungs.first()?, rungs.get(from.checked_sub(1)?)?);
        let (head, tail) = (first.steps.start, rung.steps.start);
        let cut = self.steps[tail].at - self.steps[head].at;
        let mut rest = self.clone();
        rest.steps.drain(head..tail);
        for step in &mut rest.steps[head..] {
            step.at = milli(step.at - cut);
            for (begins, ends) in &mut step.listen {
                (*begins, *ends) = (milli(*begins - cut), milli(*ends - cut));
            }
        }
        let reaches = self.reaches();
        for (axis, reach) in reaches.iter().enumerate() {
            let way = |steps: &[Step]| -> f64 {
                let ways = steps.iter().filter_map(Step::way);
                ways.filter(|(own, _)| *own == axis)
                    .map(|(_, way)| way)
                    .sum()
            };
            let there = self.axes[axis].start + way(&self.steps[..tail]);
            let pattern = way(&self.steps[..head]);
            rest.axes[axis].start = milli(there - pattern);
            // From an end the pattern has to go the other way.
            let inside = |plan: &Plan| {
                let (low, high) = plan.reaches()[axis];
                let slack = (reach.1 - reach.0) * 1e-3;
                low >= reach.0 - slack && high <= reach.1 + slack
            };
            if inside(&rest) {
                continue;
            }
            let mut turned = rest.clone();
            turned.axes[axis].start = milli(there + pattern);
            for step in &mut turned.steps[..head] {
                if let Does::Mark(m) = &mut step.does
                    && m.axis == axis
                {
                    m.plus = !m.plus;
                }
            }
            if inside(&turned) {
                rest = turned;
            }
        }
        Some(rest)
    }
}

/// To a millisecond or a thousandth of a unit, so that the text of the plan is the plan.
fn milli(x: f64) -> f64 {
    (x * 1000.0).round() / 1000.0
}

#[cfg(test)]
mod tests {
    use super::super::{Move, PlanAxis};
    use super::*;
    use stillhand_engine::units::Unit;

    fn step(at: f64, does: Does) -> Step {
        Step {
            at,
            lasts: 2.0,
            does,
            listen: vec![(at + 0.5, at + 1.5)],
        }
    }

    fn go(plus: bool) -> Move {
        Move {
            axis: 0,
            speed: 1.0,
            accel: 4.0,
            jerk: 16.0,
            plus,
        }
    }

    /// Marks out and back, two speeds with a way to an end before the second, two gentle starts.
    fn plan() -> Plan {
        let does = [
            Does::Room,
            Does::Still,
            Does::Mark(go(true)),
            Does::Speed(1, go(true)),
            Does::Go(go(false)),
            Does::Speed(2, go(true)),
            Does::Ramp(1, go(false)),
            Does::Ramp(1, go(true)),
            Does::Mark(go(false)),
        ];
        let steps = does.into_iter().enumerate();
        Plan {
            rig: "hall".to_owned(),
            axes: vec![PlanAxis {
                name: "pan".to_owned(),
                unit: Unit::Deg,
                start: 0.0,
            }],
            steps: steps.map(|(n, does)| step(3.0 * n as f64, does)).collect(),
        }
    }

    #[test]
    fn rungs_have_all_their_steps_and_the_way_to_them() {
        let rungs = plan().rungs();
        let found: Vec<_> = rungs
            .iter()
            .map(|rung| (rung.ramp, rung.number, rung.steps.clone()))
            .collect();
        assert_eq!(found, [(false, 1, 3..4), (false, 2, 4..6), (true, 1, 6..8)]);
    }

    #[test]
    fn the_rest_begins_where_the_rung_did_and_has_a_head_of_its_own() {
        let whole = plan();
        let rest = whole.rest(2).expect("there is one");
        let does: Vec<Does> = rest.steps.iter().map(|step| step.does).collect();
        let all: Vec<Does> = whole.steps.iter().map(|step| step.does).collect();
        assert_eq!(does, [&all[..3], &all[4..]].concat());
        assert_eq!(
            rest.steps[3].at, whole.steps[3].at,
            "at the time of the first"
        );
        assert_eq!(rest.steps[3].listen, [(9.5, 10.5)]);
        // The way from the start to the rung is as it was: 1.5 deg a move, of which the head makes one.
        assert_eq!(rest.axes[0].start, 1.5);
        assert_eq!(whole.rest(1).as_ref(), Some(&whole));
        assert_eq!((whole.rest(0), whole.rest(4)), (None, None));
    }

    #[test]
    fn a_pattern_that_would_leave_what_the_plan_uses_is_turned_round() {
        let mut whole = plan();
        // The whole stays between 0 and 1.5; the last rung begins at 1.5, and a pattern from 3 down to it does not.
        for step in &mut whole.steps {
            if let Does::Mark(m) = &mut step.does {
                m.plus = false;
            }
        }
        whole.axes[0].start = 1.5;
        let (low, high) = whole.reaches()[0];
        let rest = whole.rest(3).expect("there is one");
        let reach = rest.reaches()[0];
        assert!(
            reach.0 >= low && reach.1 <= high,
            "{reach:?} in {low} to {high}"
        );
        assert_eq!(rest.axes[0].start, 0.0);
    }
}
