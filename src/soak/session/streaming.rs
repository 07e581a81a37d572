//! Pads that turn out to report all the time, and fail to now and then.

use super::play::{PADS, Session};
use stillhand_engine::input::{PadBus, PadEvent, PadId};
use stillhand_engine::time::Span;

/// Between two signs of life of a pad that streams.
const EVERY: Span = Span::from_millis(100);
/// How often one of them is followed by a gap.
const GAPS: f64 = 0.03;

impl Session {
    /// A pad turns out to stream, or streams no more.
    pub(super) fn turn_out(&mut self) {
        let place = self.random.below(usize::from(PADS));
        if self.plugged[place] {
            self.turns_out(place);
        }
    }

    /// This pad does.
    pub(super) fn turns_out(&mut self, place: usize) {
        let streams = !self.streams[place];
        let bus = match streams {
            true => PadBus::Streaming,
            false => self.random.pick(&[PadBus::Usb, PadBus::Bluetooth]),
        };
        self.streams[place] = streams;
        let pad = PadId(place as u8);
        if streams {
            self.pad(pad, PadEvent::Alive);
        }
        self.pad(pad, PadEvent::Bus(bus));
    }

    /// Reports come, or do not for a moment that may be too long.
    pub(super) fn report(&mut self) {
        let now = self.stage.now();
        let silent = self.silent_until.is_some_and(|until| now < until);
        if silent || now < self.reports_at || !self.streams.contains(&true) {
            return;
        }
        self.reports_at = now + EVERY;
        if self.random.chance(GAPS) {
            let seconds = self.random.between(0.15, 0.6);
            self.reports_at = now + Span::from_secs_f64(seconds);
        }
        for (pad, place) in (0..PADS).map(PadId).zip(0..) {
            if self.streams[place] && self.plugged[place] {
                self.pad(pad, PadEvent::Alive);
            }
        }
    }
}
