//! Law `intact`.

use crate::breach::{Law, Log};
use crate::event::{Arrival, Handling};
use crate::units::Nanos;

/// Frames at the rig's end: one that is not valid may neither change a setpoint nor renew the
/// watchdog. What the carrier says it did counts, and so does what the frame itself carries.
#[derive(Clone, Debug, Default)]
pub(crate) struct Intact {
    session: Option<u32>,
    last_seq: Option<u32>,
}

impl Intact {
    /// A new session; sequence numbers start over.
    pub fn session(&mut self, session: u32) {
        if self.session != Some(session) {
            *self = Intact {
                session: Some(session),
                last_seq: None,
            };
        }
    }

    pub fn arrival(&mut self, t: Nanos, arrival: &Arrival, log: &mut Log) {
        let handling = self.verdict(arrival);
        if handling == Handling::Valid {
            self.last_seq = Some(arrival.seq);
            return;
        }
        let did = match (arrival.setpoint_changed, arrival.watchdog_renewed) {
            (false, false) => return,
            (true, false) => "a setpoint changed",
            (false, true) => "the watchdog was renewed",
            (true, true) => "a setpoint changed and the watchdog was renewed",
        };
        let seq = arrival.seq;
        log.add(Law::Intact, t, None, (1.0, 0.0), || {
            format!(
                "{did} after frame {seq}, which was {}, allowed nothing",
                word(handling)
            )
        });
    }

    fn verdict(&self, arrival: &Arrival) -> Handling {
        if arrival.handling != Handling::Valid {
            return arrival.handling;
        }
        if self.session != Some(arrival.session) {
            return Handling::Foreign;
        }
        if arrival.rig_clock > arrival.deadline {
            return Handling::Outdated;
        }
        match self
            .last_seq
            .map(|last| arrival.seq.wrapping_sub(last).cast_signed())
        {
            Some(0) => Handling::Duplicate,
            Some(..0) => Handling::Reordered,
            Some(1..) | None => Handling::Valid,
        }
    }
}

fn word(handling: Handling) -> &'static str {
    match handling {
        Handling::Valid => "valid",
        Handling::Damaged => "damaged",
        Handling::Truncated => "truncated",
        Handling::Duplicate => "a duplicate",
        Handling::Reordered => "out of order",
        Handling::Outdated => "past its deadline",
        Handling::Foreign => "foreign",
    }
}
