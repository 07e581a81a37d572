//! Which trim a pad goes by, when it is plugged in and when trims change.

use stillhand_engine::time::Time;

use super::Worker;
use crate::profile::trim::Trim;
use crate::shell::pad::PadInput;
use crate::shell::pad::board::PadNotice;
use crate::shell::pad::device::Device;
use crate::shell::pad::trim::file::OnShelf;

impl<N: Fn() -> Time> Worker<N> {
    /// The trim for a pad, empty where there is no good one; `None` while pads are measured.
    pub(super) fn trim_of(&self, device: &Device) -> Option<Trim> {
        Some(self.on_shelf(device)?.unwrap_or_default())
    }

    /// What the shelf has for a pad: its trim, an empty one, or `Some(None)` and a notice if it can't be used.
    fn on_shelf(&self, device: &Device) -> Option<Option<Trim>> {
        match self.options.trims.as_ref()?.of(&device.id, &device.name) {
            OnShelf::Nothing => Some(Some(Trim::default())),
            OnShelf::Good(trim) => Some(Some(trim)),
            OnShelf::Bad { path, why } => {
                let id = device.id.clone();
                self.board.notice(PadNotice::BadTrim { id, path, why });
                Some(None)
            }
        }
    }

    /// Takes over trims that have changed, each as soon as its pad is let go. One that has become bad changes
    /// nothing.
    pub(super) fn trim_anew(&mut self, now: Time) {
        if let Some(shelf) = self.options.fresh.take() {
            self.options.trims = Some(shelf);
            self.look_for_trims();
        }
        let mut taken_over = false;
        for (pad, place) in self.places.iter_mut() {
            let (Some(trim), Some(trimmer)) = (place.waits, &place.trimmer) else {
                continue;
            };
            let Some((next, changed)) = trimmer.by(trim, now) else {
                continue;
            };
            (place.trimmer, place.waits) = (Some(next), None);
            for event in changed {
                self.outbox.post(PadInput {
                    at: now,
                    pad,
                    event,
                });
            }
            let id = place.device.id.clone();
            self.board.notice(PadNotice::Trimmed { id });
            taken_over = true;
        }
        if taken_over {
            self.board.publish(&self.places);
        }
    }

    fn look_for_trims(&mut self) {
        let found: Vec<_> = self
            .places
            .iter()
            .map(|(_, place)| self.on_shelf(&place.device).flatten())
            .collect();
        for ((_, place), trim) in self.places.iter_mut().zip(found) {
            let (Some(trim), Some(trimmer)) = (trim, &place.trimmer) else {
                continue;
            };
            place.waits = (!trimmer.goes_by(&trim)).then_some(trim);
            if place.waits.is_some() {
                let id = place.device.id.clone();
                self.board.notice(PadNotice::TrimWaits { id });
            }
        }
    }
}
