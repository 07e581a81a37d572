//! What a rig tells of itself while it may be moved, or while something holds it.

use super::{Session, Standing};
use crate::link::accept::{lasting, trouble};
use crate::link::convert::Scale;
use stillhand_engine::MAX_AXES;
use stillhand_engine::input::{LinkEvent, LinkLoss, Telemetry};
use stillhand_engine::time::Time;
use stillhand_wire::messages;

impl Session {
    pub(super) fn on_telemetry(&mut self, now: Time, told: messages::Telemetry) {
        let axes = self.rig.axes.len();
        if let Standing::Held(_) = self.standing {
            self.heard = now;
            if lasting(&told, self.session, axes).is_none() {
                self.greet(now);
            }
            return;
        }
        if self.standing != Standing::Ready || !self.news.is(&told, self.session) {
            return;
        }
        let loss = trouble(&told, self.session, axes);
        self.heard = now;
        if told.session == self.session {
            self.clock.told(now, told.clock_us);
            self.ledger.told(told.applied, told.accepted);
        }
        if let Some(loss) = loss {
            self.latest = Some(told);
            self.lose(loss);
            let standing = match loss {
                LinkLoss::PowerOff => Standing::PowerOff,
                LinkLoss::Restarted
                | LinkLoss::Fault
                | LinkLoss::StopInput
                | LinkLoss::Disagrees => Standing::Held(loss),
                LinkLoss::Unplugged
                | LinkLoss::Stalled
                | LinkLoss::Silent
                | LinkLoss::Hushed
                | LinkLoss::Reference
                | LinkLoss::RigStopped => Standing::Greeting,
            };
            self.greet_as(now, Some(standing));
            return;
        }
        let mut event = Telemetry {
            applied: told.applied,
            at_applied: [0.0; MAX_AXES],
            position: [0.0; MAX_AXES],
            referenced: [false; MAX_AXES],
        };
        for (place, (axis, file)) in told.axes.iter().zip(self.rig.axes.iter()).enumerate() {
            let scale = Scale::of(file);
            let position = self.positions[place].follow(axis.position);
            event.position[place] = scale.units(position);
            event.referenced[place] = told.referenced & (1 << place) != 0;
            event.at_applied[place] = scale.units(self.positions[place].near(axis.at_applied));
        }
        self.latest = Some(told);
        self.push_event(LinkEvent::Told(event));
    }
}
