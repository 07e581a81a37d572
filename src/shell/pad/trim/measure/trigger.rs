//! What one trigger does in the course.

use super::{NEAR, PUSHED, Phase};
use stillhand_engine::time::Span;

/// How long a trigger must have been let go before it counts as back.
const SETTLES: Span = Span::from_millis(150);

/// One trigger in the course.
#[derive(Clone, Debug, Default)]
pub(super) struct TriggerRun {
    at: Option<f64>,
    /// How far the present pull got; `None` while it is let go.
    pull: Option<f64>,
    back: Span,
    pulls: Vec<f64>,
    backs: Vec<f64>,
}

impl TriggerRun {
    pub(super) fn reading(&self) -> Option<f64> {
        self.at
    }

    /// How far each pull got.
    pub(super) fn pulls(&self) -> &[f64] {
        &self.pulls
    }

    /// What it read when it was back from each pull. A finger that waits before a pull is none of it.
    pub(super) fn backs(&self) -> &[f64] {
        &self.backs
    }

    pub(super) fn moved(&mut self, x: f64, phase: Option<Phase>) {
        self.at = Some(x);
        if phase != Some(Phase::Pull) {
            return;
        }
        if x > PUSHED {
            self.pull = Some(self.pull.unwrap_or(x).max(x));
            self.back = Span::ZERO;
        } else if x > NEAR {
            self.back = Span::ZERO;
        }
    }

    pub(super) fn stays(&mut self, past: Span, phase: Phase) {
        let Some(x) = self.at.filter(|x| phase == Phase::Pull && *x <= NEAR) else {
            return;
        };
        self.back = Span(self.back.0 + past.0);
        if self.back < SETTLES {
            return;
        }
        if let Some(pull) = self.pull.take() {
            self.pulls.push(pull);
            self.backs.push(x);
        }
    }
}
