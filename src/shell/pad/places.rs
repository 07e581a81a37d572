//! Which pad has which place.

use std::sync::Arc;
use std::time::{SystemTime, UNIX_EPOCH};

use stillhand_engine::MAX_PADS;
use stillhand_engine::input::{PadBus, PadId};
use stillhand_engine::time::{Span, Time};

use super::board::PadNotice;
use super::device::Device;
use super::reports::Watched;
use super::translate::PadState;
use super::trim::Trimmer;
use crate::profile::trim::Trim;

/// How long after a new beginning an event may be one that was already heard. The two gilrs live
/// side by side for some milliseconds.
const ECHO: Span = Span::from_millis(100);

/// A pad in its place.
#[derive(Debug)]
pub(super) struct Place {
    /// gilrs' number for it; `None` while gilrs is made anew.
    pub gilrs: Option<usize>,
    pub device: Device,
    pub drives: bool,
    pub state: PadState,
    /// What its readings go through; `None` while it is measured.
    pub trimmer: Option<Trimmer>,
    /// Another trim, which waits until its controls are let go.
    pub waits: Option<Trim>,
    /// Its raw reports, where they are watched.
    pub reports: Option<Arc<Watched>>,
    /// How its silence is judged, as the loop was told.
    pub life: PadBus,
    /// When anything of it was last passed on.
    pub told: Time,
    /// The kernel's time of the last event heard.
    heard: Option<SystemTime>,
    /// Events of the kernel up to this time were heard from the gilrs before, which matters until
    /// the moment beside it.
    echo: Option<(SystemTime, Time)>,
}

impl Place {
    pub(super) fn new(
        gilrs: usize,
        device: Device,
        (life, drives): (PadBus, bool),
        state: PadState,
        trim: Option<Trim>,
    ) -> Place {
        Place {
            gilrs: Some(gilrs),
            device,
            drives,
            state,
            trimmer: trim.map(Trimmer::new),
            waits: None,
            reports: None,
            life,
            told: Time::default(),
            heard: None,
            echo: None,
        }
    }

    /// Whether it has a trim of its own.
    pub(super) fn is_trimmed(&self) -> bool {
        self.trimmer.as_ref().is_some_and(Trimmer::is_measured)
    }

    /// gilrs was made anew and calls it `gilrs` now.
    pub(super) fn rebind(&mut self, gilrs: usize, now: Time) {
        self.gilrs = Some(gilrs);
        self.echo = self.heard.map(|heard| (heard, now + ECHO));
    }

    /// Whether an event of this kernel time is new. Events made up in a resync carry the epoch.
    pub(super) fn is_news(&mut self, kernel: SystemTime, now: Time) -> bool {
        if kernel == UNIX_EPOCH {
            return true;
        }
        if let Some((heard, until)) = self.echo
            && kernel <= heard
            && now < until
        {
            return false;
        }
        self.echo = None;
        self.heard = Some(kernel);
        true
    }
}

/// All places for real pads.
#[derive(Debug)]
pub(super) struct Places {
    places: [Option<Place>; MAX_PADS],
    room: usize,
}

impl Places {
    /// Places for real pads, with the last `reserved` kept free for scripts.
    pub(super) fn new(reserved: u8) -> Places {
        Places {
            places: Default::default(),
            room: MAX_PADS.saturating_sub(usize::from(reserved)),
        }
    }

    pub(super) fn is_full(&self) -> bool {
        self.iter().count() >= self.room
    }

    pub(super) fn iter(&self) -> impl Iterator<Item = (PadId, &Place)> {
        (0..)
            .zip(&self.places)
            .filter_map(|(n, place)| Some((PadId(n), place.as_ref()?)))
    }

    pub(super) fn iter_mut(&mut self) -> impl Iterator<Item = (PadId, &mut Place)> {
        (0..)
            .zip(&mut self.places)
            .filter_map(|(n, place)| Some((PadId(n), place.as_mut()?)))
    }

    /// The pad gilrs calls by this number.
    pub(super) fn of_gilrs(&mut self, gilrs: usize) -> Option<(PadId, &mut Place)> {
        self.iter_mut()
            .find(|(_, place)| place.gilrs == Some(gilrs))
    }

    /// What is to be told of how the pads wear.
    pub(super) fn worn(&mut self, now: Time) -> Vec<PadNotice> {
        let worn = self.iter_mut().filter_map(|(_, place)| {
            let (control, worn) = place.trimmer.as_mut()?.worn(now)?;
            let (id, trimmed) = (place.device.id.clone(), place.is_trimmed());
            Some(PadNotice::Drifts {
                id,
                control,
                worn,
                trimmed,
            })
        });
        worn.collect()
    }

    /// The lowest free place; gives `place` back when there is none.
    pub(super) fn put(&mut self, place: Place) -> Result<PadId, Box<Place>> {
        let free = (0..)
            .zip(&mut self.places[..self.room])
            .find(|(_, p)| p.is_none());
        match free {
            Some((number, slot)) => {
                *slot = Some(place);
                Ok(PadId(number))
            }
            None => Err(Box::new(place)),
        }
    }

    pub(super) fn remove(&mut self, pad: PadId) {
        if let Some(slot) = self.places.get_mut(usize::from(pad.0)) {
            *slot = None;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    fn place(gilrs: usize) -> Place {
        let may = (PadBus::Usb, true);
        Place::new(gilrs, Device::default(), may, PadState::default(), None)
    }

    #[test]
    fn the_lowest_free_place_is_taken_and_scripts_keep_theirs() {
        let mut places = Places::new(6);
        assert_eq!(places.put(place(10)).ok(), Some(PadId(0)));
        assert_eq!(places.put(place(11)).ok(), Some(PadId(1)));
        assert!(places.is_full() && places.put(place(12)).is_err());
        places.remove(PadId(0));
        places.remove(PadId(200));
        assert_eq!(places.put(place(13)).ok(), Some(PadId(0)));
        assert_eq!(places.of_gilrs(11).map(|(pad, _)| pad), Some(PadId(1)));
        assert!(places.of_gilrs(10).is_none());
    }

    #[test]
    fn echoes_are_told_from_news() {
        let kernel = |s| UNIX_EPOCH + Duration::from_secs(s);
        let at = |ms| Time::default() + Span::from_millis(ms);
        let mut place = place(0);
        assert!(place.is_news(kernel(10), at(0)) && place.is_news(kernel(9), at(1)));
        place.rebind(3, at(2));
        assert!(!place.is_news(kernel(9), at(3)));
        assert!(place.is_news(UNIX_EPOCH, at(3)));
        assert!(place.is_news(kernel(11), at(4)));
        // The wall clock may be set back: that must not silence a pad.
        assert!(place.is_news(kernel(5), at(5)));
        place.rebind(4, at(6));
        assert!(place.is_news(kernel(1), at(106)));
    }
}
