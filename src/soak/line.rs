//! The cable between port and rig: what is on its way, what a bad one adds, and a plug that is pulled.

use super::arrivals::copies;
use crate::link::port::Moved;
use std::collections::VecDeque;
use stillhand_engine::time::{Span, Time};
use stillhand_laws::Handling;

/// Bytes on their way.
#[derive(Debug)]
pub(super) struct OnTheWay {
    due: Time,
    /// As they were written.
    pub bytes: Vec<u8>,
    /// What the line has done to them.
    pub handling: Handling,
}

/// Both ways of one cable.
#[derive(Debug)]
pub(super) struct Line {
    delay: Span,
    to_rig: VecDeque<OnTheWay>,
    from_rig: VecDeque<OnTheWay>,
    /// The plug is in.
    whole: bool,
    /// The port takes nothing.
    stuck: bool,
}

impl Line {
    /// A cable with its plug in, on which a byte is under way for `delay`.
    pub fn new(delay: Span) -> Line {
        Line {
            delay,
            to_rig: VecDeque::new(),
            from_rig: VecDeque::new(),
            whole: true,
            stuck: false,
        }
    }

    /// Whether the plug is in.
    pub fn is_whole(&self) -> bool {
        self.whole
    }

    /// Pulls the plug, or puts it in. What was on its way is lost with it.
    pub fn plug(&mut self, whole: bool) {
        self.whole = whole;
        self.to_rig.clear();
        self.from_rig.clear();
    }

    /// From now on the port takes nothing, or takes all again.
    pub fn stick(&mut self, stuck: bool) {
        self.stuck = stuck;
    }

    /// A write to the port; a hostile line adds damaged and repeated copies.
    pub fn write(&mut self, now: Time, bytes: &[u8], hostile: bool) -> Moved {
        if !self.whole {
            return Moved::Gone;
        }
        if self.stuck {
            return Moved::None;
        }
        let due = now + self.delay;
        let mut sent = vec![(bytes.to_vec(), Handling::Valid)];
        if hostile {
            sent.extend(copies(bytes));
        }
        let on_the_way = sent.into_iter().map(|(bytes, handling)| OnTheWay {
            due,
            bytes,
            handling,
        });
        self.to_rig.extend(on_the_way);
        Moved::Bytes(bytes.len())
    }

    /// The rig says something.
    pub fn say(&mut self, now: Time, bytes: &[u8]) {
        if self.whole {
            self.from_rig.push_back(OnTheWay {
                due: now + self.delay,
                bytes: bytes.to_vec(),
                handling: Handling::Valid,
            });
        }
    }

    /// The next bytes that have reached the rig.
    pub fn at_rig(&mut self, now: Time) -> Option<OnTheWay> {
        due(&mut self.to_rig, now)
    }

    /// The next bytes that have reached the port.
    pub fn at_port(&mut self, now: Time) -> Option<Vec<u8>> {
        due(&mut self.from_rig, now).map(|arrived| arrived.bytes)
    }
}

fn due(way: &mut VecDeque<OnTheWay>, now: Time) -> Option<OnTheWay> {
    let arrived = way.front().is_some_and(|first| first.due <= now);
    arrived.then(|| way.pop_front()).flatten()
}
