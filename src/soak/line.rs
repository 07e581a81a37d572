//! The cable between port and rig: what is on its way, what a bad one adds, and a plug that is pulled.

use super::arrivals::copies;
use super::noise::{Noise, Noisy};
use crate::link::port::Moved;
use std::collections::VecDeque;
use stillhand_engine::time::{Span, Time};
use stillhand_laws::Handling;

/// Bytes on their way.
#[derive(Clone, Debug)]
pub(super) struct OnTheWay {
    /// When it arrives.
    pub due: Time,
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
    /// What is done to frames to the rig and from it.
    noise: Option<[Noisy; 2]>,
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
            noise: None,
        }
    }

    /// Whether the plug is in.
    pub fn is_whole(&self) -> bool {
        self.whole
    }

    /// Pulls the plug, or puts it in. What was on its way is lost with it.
    /// Says whether frames to the rig were among it.
    pub fn plug(&mut self, whole: bool) -> bool {
        self.whole = whole;
        let lost = !self.to_rig.is_empty();
        self.to_rig.clear();
        self.from_rig.clear();
        lost
    }

    /// From now on the port takes nothing, or takes all again.
    pub fn stick(&mut self, stuck: bool) {
        self.stuck = stuck;
    }

    /// From now on it does this to frames, or nothing any more.
    pub fn noise(&mut self, noise: Option<Noise>) {
        self.noise = noise.map(|noise| {
            let back = Noise {
                seed: noise.seed.wrapping_add(1),
                ..noise
            };
            [Noisy::new(noise), Noisy::new(back)]
        });
    }

    /// How, and how many frames to the rig and from it, it has wronged since this was asked last.
    pub fn wronged(&mut self) -> Option<(&'static str, [usize; 2])> {
        let ways = self.noise.as_mut()?;
        let fault = ways[0].fault();
        let counts = ways.each_mut().map(|way| std::mem::take(&mut way.wronged));
        (counts != [0, 0]).then_some((fault, counts))
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
        let copies = hostile.then(|| copies(bytes)).into_iter().flatten();
        let sent = std::iter::once((bytes.to_vec(), Handling::Valid)).chain(copies);
        for (bytes, handling) in sent {
            let frame = OnTheWay {
                due,
                bytes,
                handling,
            };
            match &mut self.noise {
                Some([noisy, _]) => noisy.frame(now, frame, &mut |it| self.to_rig.push_back(it)),
                None => self.to_rig.push_back(frame),
            }
        }
        Moved::Bytes(bytes.len())
    }

    /// The rig says something.
    pub fn say(&mut self, now: Time, bytes: &[u8]) {
        if !self.whole {
            return;
        }
        let frame = OnTheWay {
            due: now + self.delay,
            bytes: bytes.to_vec(),
            handling: Handling::Valid,
        };
        match &mut self.noise {
            Some([_, noisy]) => noisy.frame(now, frame, &mut |it| self.from_rig.push_back(it)),
            None => self.from_rig.push_back(frame),
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
