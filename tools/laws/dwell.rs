//! How long an axis stays in a band to avoid: a part of law `quiet`.

use crate::breach::{Law, Log};
use crate::event::Band;
use crate::facts::{ControlId, Set, lower};
use crate::judge::Now;
use crate::slew::Slew;

/// Share of a step by which sums of whole steps miss.
const ROUNDING: f64 = 1e-6;

/// What the shorter time is for.
const CROSS: &str = "to cross it";

/// A hand that has moved by so much wants something else; one that trembles does not.
const ANOTHER_MIND: f64 = 0.2;

/// Where a control stands.
#[derive(Clone, Copy, Debug)]
struct Hand {
    control: ControlId,
    now: f64,
    /// Where it stood when the time in the band began.
    then: f64,
}

/// The time in the band an axis is in.
///
/// Without braking it may last what the softest set takes to cross the band from edge to edge, and one tick; of a tick
/// that comes late two periods count, since the rest changes no speed. The tick that takes an acceleration to the other
/// side belongs to the braking: the frame before it if that is one too many, or the one after it. With braking it may
/// last two such crossings, up and back, and those two ticks. A hand that wants something else meanwhile can turn it around again: with that
/// turn the time begins anew.
#[derive(Clone, Debug, Default)]
pub(crate) struct Dwell {
    /// The place of the band, and the time in it, s.
    inside: Option<(usize, f64)>,
    /// The time from the first frame in it that did not brake, s.
    crossing: Option<f64>,
    /// What was found too long by one frame, and what is allowed, until the next frame shows whether it brakes.
    pending: Option<(f64, f64)>,
    flagged: bool,
    /// Whether it gained speed or lost it when that was last to be told: +1, -1, and 0 before.
    way: i8,
    /// The speed it came to that way.
    extreme: f64,
    hands: Vec<Hand>,
    pressed: bool,
    /// Pushed while in it: who brakes for an end does not know yet that it has gone away.
    pushed: bool,
}

impl Dwell {
    /// A control of the axis says where it stands.
    pub fn stick(&mut self, control: ControlId, value: f64) {
        match self.hands.iter_mut().find(|hand| hand.control == control) {
            Some(hand) => hand.now = value,
            None => self.hands.push(Hand {
                control,
                now: value,
                then: value,
            }),
        }
    }

    /// A button that may change what is asked for.
    pub fn button(&mut self) {
        self.pressed = true;
    }

    /// The axis was pushed.
    pub fn push(&mut self) {
        self.pushed = true;
    }

    /// A frame in no band of `bands`.
    pub fn left(&mut self, now: &Now, bands: &[Band], log: &mut Log) {
        if let (Some((place, _)), Some(found)) = (self.inside, self.pending)
            && let Some(band) = bands
                .get(place)
                .filter(|band| now.motion.v[0].abs() >= band.high)
        {
            self.tell(now, band, found, CROSS, log);
        }
        self.outside();
    }

    /// Nothing is known of the time in a band.
    pub fn outside(&mut self) {
        self.pushed = false;
        (self.inside, self.flagged, self.way) = (None, false, 0);
        (self.crossing, self.pending) = (None, None);
        self.begin();
    }

    /// A frame in one of the bands; `counts` unless it brakes for an end.
    pub fn frame(
        &mut self,
        now: &Now,
        (place, band): (usize, &Band),
        set: Set,
        counts: bool,
        log: &mut Log,
    ) {
        let m = now.motion;
        // One step may lead from one band into another.
        if self.inside.is_some_and(|(before, _)| before != place) {
            self.outside();
        }
        let turned = self.follow(m.v.map(f64::abs), 2.0 * now.axis.quantum());
        if turned && self.has_another_mind() {
            self.inside = None;
            self.begin();
        }
        let time = if counts && !self.pushed { m.dt[0] } else { 0.0 };
        let dwelt = self.inside.map_or(0.0, |(_, before)| before) + time;
        self.inside = Some((place, dwelt));
        self.crossing = match self.crossing {
            _ if self.way < 0 => None,
            None if turned => Some(0.0),
            None => Some(lower(time, now.step)),
            Some(before) => Some(before + lower(time, 2.0 * now.step)),
        };
        let once = Slew::plan(0.0, 0.0, band.high - band.low, set).time();
        let brakes = m.v[0].abs() < m.v[1].abs();
        if let Some(found) = self.pending.take().filter(|_| !brakes) {
            self.tell(now, band, found, CROSS, log);
        }
        let too_long = |(found, allowed): &(f64, f64)| *found > allowed + ROUNDING * now.step;
        let crossing = (self.crossing.unwrap_or(0.0), once + now.step);
        self.pending = Some(crossing).filter(too_long);
        let all = (dwelt, 2.0 * (once + 2.0 * now.step));
        if too_long(&all) {
            self.tell(now, band, all, "to cross it and come back", log);
        }
    }

    fn tell(
        &mut self,
        now: &Now,
        band: &Band,
        (found, allowed): (f64, f64),
        to: &str,
        log: &mut Log,
    ) {
        if self.flagged {
            return;
        }
        self.flagged = true;
        let (Band { low, high }, unit) = (*band, now.axis.unit.name());
        log.add(Law::Quiet, now.t, Some(now.axis), (found, allowed), || {
            format!("{found:.3} s inside the band {low:.3}..{high:.3} {unit}/s, allowed {allowed:.3} s {to}")
        });
    }

    /// Follows the speed, and says whether it turned around. A change of less than `told` is none: in a narrow band
    /// an acceleration is lost in the wire's quantum.
    fn follow(&mut self, [v, last, _]: [f64; 3], told: f64) -> bool {
        if self.inside.is_none() && self.way == 0 {
            self.extreme = last;
        }
        let before = self.way;
        if before >= 0 && v < self.extreme - told || before <= 0 && v > self.extreme + told {
            self.way = if v > self.extreme { 1 } else { -1 };
            self.extreme = v;
        }
        if self.way > 0 && v > self.extreme || self.way < 0 && v < self.extreme {
            self.extreme = v;
        }
        before * self.way < 0
    }

    fn has_another_mind(&self) -> bool {
        let moved = |hand: &Hand| (hand.now - hand.then).abs() >= ANOTHER_MIND;
        self.pressed || self.hands.iter().any(moved)
    }

    fn begin(&mut self) {
        self.pressed = false;
        for hand in &mut self.hands {
            hand.then = hand.now;
        }
    }
}
