//! Errands: begun by a press that is held with everything let go and at rest, ended by a stick at the latest.

use super::{Consents, Model, Turn, sources};
use stillhand_engine::errand::{Errand, ErrandEnd, ErrandNews, Refusal};
use stillhand_engine::output::Notice;
use stillhand_engine::time::{Span, Time};

/// A press has to be held for so long; two ticks are granted, since edges and sticks are seen by the tick.
const HELD_FOR: Span = Span::from_millis(600);

/// The errand that is there, as far as the model follows it.
#[derive(Clone, Debug, Default)]
pub(super) struct Errands {
    errand: Option<Errand>,
    /// Another one was there when the last one was offered.
    busy: bool,
    /// Since when its press is held with everything let go and at rest.
    since: Option<Time>,
}

impl Model {
    /// An errand is offered.
    pub(in crate::soak::session) fn offered(&mut self, errand: &Errand) {
        self.errands.busy = self.errands.errand.is_some();
        if !self.errands.busy {
            self.errands.errand = Some(errand.clone());
            self.errands.since = None;
        }
    }

    /// Looks at its press once everything of a tick went in.
    pub(super) fn look_at_errand(&mut self, now: Time) {
        let held = self.errands.errand.as_ref().is_some_and(|errand| {
            errand.legs().iter().all(|leg| {
                let hands = &self.operator.hands;
                let hand = hands.iter().find(|hand| hand.axis == leg.axis);
                let pad = hand.and_then(|hand| self.known(self.holder(hand)?));
                pad.is_some_and(|pad| pad.enables(errand.press()))
            })
        });
        let begins = held && self.all_centred() && self.at_rest(|_| true);
        self.errands.since = begins.then(|| self.errands.since.unwrap_or(now));
    }

    /// What the engine tells of it, in the tick that followed the last by `gap`.
    ///
    /// # Errors
    /// That it was begun by what does not begin it.
    pub(super) fn hear_of_errand(&mut self, turn: &Turn<'_>, gap: Span) -> Result<(), String> {
        for notice in turn.outputs.notices.iter() {
            let Notice::Errand(_, news) = notice else {
                continue;
            };
            match news {
                ErrandNews::Offered { .. } | ErrandNews::Leg(_) => {}
                ErrandNews::Begun => {
                    let least = Span(HELD_FOR.0.saturating_sub(2 * gap.0));
                    let since = self.errands.since;
                    if since.is_none_or(|since| turn.now.since(since) < least) {
                        return Err(format!("an errand begun by a press held since {since:?}"));
                    }
                }
                ErrandNews::Refused(Refusal::Busy) if self.errands.busy => {}
                ErrandNews::Refused(_) | ErrandNews::Done => self.errands.errand = None,
                ErrandNews::Ended(why) => {
                    self.errands.errand = None;
                    if why == ErrandEnd::Stick {
                        self.withhold_pushed();
                    }
                }
            }
        }
        Ok(())
    }

    /// What is pushed was meant to end it: it must be let go before it counts.
    fn withhold_pushed(&mut self) {
        for (place, hand) in self.operator.hands.iter().enumerate() {
            let out = sources(hand).map(|source| self.out(hand, source));
            let pushed = |out: &Option<f64>| out.is_some_and(|out| out > hand.throw.deadband());
            if out.iter().any(pushed) {
                self.consents[place] = Consents::default();
            }
        }
    }
}
