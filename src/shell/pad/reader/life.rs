//! How a pad's silence is to be judged: by how it is connected, and by whether its reports come all the time.

use stillhand_engine::input::{PadBus, PadEvent, PadId};
use stillhand_engine::time::Time;

use super::Worker;
use crate::shell::pad::PadInput;
use crate::shell::pad::board::PadNotice;
use crate::shell::pad::device::Device;

impl<N: Fn() -> Time> Worker<N> {
    /// How a pad is connected.
    pub(super) fn bus_of(&self, device: &Device) -> PadBus {
        match self.options.wired.contains(&device.id) {
            true => PadBus::Wired,
            false => device.bus.pad_bus(),
        }
    }

    /// Has the reports of a pad that was plugged in watched, unless its silence has no bound.
    pub(super) fn watch_reports(&mut self, pad: PadId) {
        let now = (self.now)();
        let place = self.places.iter_mut().find(|(id, _)| *id == pad);
        if let (Some((_, place)), Some(reports)) = (place, &self.reports)
            && place.life != PadBus::Wired
        {
            place.reports = Some(reports.watch(pad, &place.device, now));
        }
    }

    /// Tells which pads turned out to stream, or stream no more.
    pub(super) fn tell_streams(&mut self) {
        let at = (self.now)();
        let mut changed = false;
        for (pad, place) in self.places.iter_mut() {
            let Some(reports) = &place.reports else {
                continue;
            };
            let streams = reports.streams();
            let life = match streams {
                true => PadBus::Streaming,
                false => place.device.bus.pad_bus(),
            };
            if life == std::mem::replace(&mut place.life, life) {
                continue;
            }
            let event = PadEvent::Bus(life);
            self.outbox.post(PadInput { at, pad, event });
            let id = place.device.id.clone();
            self.board.notice(PadNotice::Streams { id, streams });
            changed = true;
        }
        if changed {
            self.board.publish(&self.places);
        }
    }
}
