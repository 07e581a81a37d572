//! A command at work on the rig while the loop runs.

use super::super::Outcome;
use super::super::job::{Desk, Job};
use super::Watch;
use crate::shell::clock::Clock;
use crate::shell::errands::Offering;
use crate::shell::probe::Seen;
use rtrb::Consumer;
use std::io::IsTerminal;
use std::sync::atomic::Ordering;

/// A command at work.
pub(super) struct AtWork {
    pub(super) job: Box<dyn Job>,
    offering: Offering,
    clock: Clock,
    seen: Consumer<Seen>,
    outcome: Option<Outcome>,
}

impl Watch {
    /// Lets a command work on the rig meanwhile.
    pub(in super::super) fn work(
        &mut self,
        job: Box<dyn Job>,
        offering: Offering,
        clock: Clock,
        seen: Consumer<Seen>,
    ) {
        self.job = Some(AtWork {
            job,
            offering,
            clock,
            seen,
            outcome: None,
        });
    }

    /// How the command at work ended, if there was one.
    pub(in super::super) fn outcome(&mut self) -> Option<Outcome> {
        let mut at_work = self.job.take()?;
        let outcome = at_work.outcome.take();
        let outcome = outcome.unwrap_or_else(|| at_work.job.cut_short());
        if let Some(report) = at_work.job.report() {
            println!("{}", report.trim_end());
        }
        Some(outcome)
    }

    /// What was typed at this terminal stands on it.
    pub(super) fn look_at_hand(&mut self) {
        if let Some(at_work) = &mut self.job {
            let typed = at_work.job.typed();
            if std::io::stdin().is_terminal() {
                self.block.pushed(typed);
            }
        }
    }

    /// The command at work looks, and ends the run when it is over.
    pub(super) fn look_at_work(&mut self) {
        let Some(mut at_work) = self.job.take() else {
            return;
        };
        let snapshot = self.shared.snapshot.lock();
        let snapshot = snapshot.map(|snapshot| snapshot.clone()).ok();
        let over = at_work.outcome.is_some();
        if let Some(snapshot) = snapshot.filter(|_| !over) {
            let pads = self.pads.present();
            let mut desk = Desk {
                pads: &pads,
                seen: std::iter::from_fn(|| at_work.seen.pop().ok()).collect(),
                offering: &mut at_work.offering,
                snapshot: &snapshot,
                rig: &self.rig.rig,
                operator: &self.operator,
                now: at_work.clock.now(),
                lines: Vec::new(),
            };
            at_work.outcome = at_work.job.look(&mut desk);
            for (warning, text) in desk.lines {
                self.tell(warning, text);
            }
            if at_work.outcome.is_some() {
                self.shared.end.store(true, Ordering::Relaxed);
            }
        }
        self.job = Some(at_work);
    }
}
