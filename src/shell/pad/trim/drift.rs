//! A stick that creeps away from its centre, or does not come back to it.
//!
//! Consent asks whether a stick left its deadband. A worn stick can leave it by itself: it creeps, far
//! slower than any thumb, until it is outside and its axis moves. So each stick has a zone in which it is
//! at rest, and where the resting stick goes, the zone's edge goes:
//!
//! ```text
//!            base zone, as measured
//!          |-----------|
//!   -------[-----c-----]---------------  a good stick rests about its centre c
//!   -------[--------------x--]---------  this one has crept to x: the edge has gone before it
//! ```
//!
//! An edge grows by at most [`CREEP`], and only while the stick is at rest: in the zone, or so little
//! beyond it that no profile's deadband lets it move anything. What creeps no faster stays there for good.
//! What a thumb does is faster, and leaves. The zone never ends inside the measured one, so that a stick
//! that snaps back is at rest as well; what it has grown it keeps for a while, since a stick that has
//! crept comes back to now one side and now the other of where it is.
//!
//! A pad without a trim has a zone of [`UNTRIMMED`], inside of which readings pass as they are, up to the
//! edge of that zone: shipped deadbands are wider.

use stillhand_engine::time::{Span, Time};

use crate::profile::trim::StickTrim;

/// The fastest creep, in full scales a second: a stick that crosses a tenth of its way in less than 50 s
/// is not creeping, and no thumb takes 15 s to leave a zone of 3 %.
pub const CREEP: f64 = 0.002;
/// How fast a zone that has grown shrinks again: a hundredth of that, so that it lasts from one release
/// that lands far out to the next.
const FORGET: f64 = CREEP / 100.0;
/// How far an edge goes before the stick: a step and a half of an 8-bit one.
const ROOM: f64 = 0.012;
/// The least deadband that a profile may have: what means less moves nothing under any.
const LEAST_MEANT: f64 = 0.01;
/// Where a stick that was not measured may rest: sticks were seen at 5.7 %.
pub const UNTRIMMED: f64 = 0.06;
/// What the thumb may add that still rests on the stick: what lies within this of the zone may be no
/// wish, and is told of where it stands still.
pub const HAND: f64 = 0.10;
/// As long as this nobody's thumb holds a stick still.
const STILL_FOR: Span = Span::from_millis(20_000);
/// What moves by less stands still: two steps of an 8-bit stick, which has 127 to either side.
const STILL: f64 = 0.017;

/// What somebody should be told of a stick.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Worn {
    /// It rests this far from its centre, outside of the zone it was measured to rest in (or any stick
    /// may), and its zone has grown with it: it moves nothing.
    Creeps(f64),
    /// It has stood at this reading, outside of its zone and not far from it, for longer than a thumb
    /// stands still.
    Stands(f64),
}

/// One direction of a stick, from plug to unplug.
#[derive(Clone, Debug)]
pub struct Drift {
    trim: Option<StickTrim>,
    /// The measured zone: lowest and highest reading at rest.
    base: [f64; 2],
    /// The zone as it is now.
    zone: [f64; 2],
    /// The last reading and when it came.
    last: Option<(Time, f64)>,
    /// Since when it has rested well outside of the measured zone.
    away: Option<Time>,
    /// Since when it has stood within [`STILL`] of this reading.
    still: Option<(Time, f64)>,
    told: bool,
}

impl Drift {
    /// A stick that was just plugged in.
    pub fn new(trim: Option<StickTrim>) -> Drift {
        let base = trim.map_or([-UNTRIMMED, UNTRIMMED], |t| {
            [t.centre() - t.rest(), t.centre() + t.rest()]
        });
        Drift {
            trim,
            base,
            zone: base,
            last: None,
            away: None,
            still: None,
            told: false,
        }
    }

    /// What this reading means.
    pub fn take(&mut self, x: f64, now: Time) -> f64 {
        self.follow(now);
        self.last = Some((now, x));
        if self.still.is_none_or(|(_, from)| (x - from).abs() > STILL) {
            self.still = Some((now, x));
        }
        self.means(x)
    }

    /// What somebody should be told of it; once.
    pub fn worn(&mut self, now: Time) -> Option<Worn> {
        self.follow(now);
        if self.told {
            return None;
        }
        let (_, x) = self.last?;
        let for_long = |since: Time| now.since(since) >= STILL_FOR;
        let [low, high] = self.base;
        let beyond = (low - x).max(x - high);
        let worn = if self.away.is_some_and(for_long) {
            Worn::Creeps(x - (low + high) / 2.0)
        } else if (0.0..HAND).contains(&beyond)
            && !self.rests_at(x)
            && self.still.is_some_and(|(since, _)| for_long(since))
        {
            Worn::Stands(x)
        } else {
            return None;
        };
        self.told = true;
        Some(worn)
    }

    fn means(&self, x: f64) -> f64 {
        let [low, high] = self.zone;
        match self.trim {
            Some(trim) => trim.apply_from(x, (low, high)),
            None if (low..=high).contains(&x) => x.clamp(-UNTRIMMED, UNTRIMMED),
            None => x,
        }
    }

    /// Whether it is in its zone, or so near to it that it moves nothing.
    fn rests_at(&self, x: f64) -> bool {
        let [low, high] = self.zone;
        let near = (low - LEAST_MEANT..=high + LEAST_MEANT).contains(&x);
        near && (self.trim.is_none() || self.means(x).abs() <= LEAST_MEANT)
    }

    /// Lets the edges follow the last reading up to `now`.
    fn follow(&mut self, now: Time) {
        let Some((then, x)) = self.last else { return };
        self.last = Some((now, x));
        if !self.rests_at(x) {
            self.away = None;
            return;
        }
        let secs = now.since(then).secs();
        let [low, high] = self.base;
        let [to_low, to_high] = [low.min(x - ROOM), high.max(x + ROOM)];
        let [at_low, at_high] = &mut self.zone;
        *at_low += (to_low - *at_low).clamp(-CREEP * secs, FORGET * secs);
        *at_high += (to_high - *at_high).clamp(-FORGET * secs, CREEP * secs);
        let is_away = x < low - ROOM || x > high + ROOM;
        self.away = is_away.then(|| self.away.unwrap_or(now));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(s: f64) -> Time {
        Time::default() + Span::from_secs_f64(s)
    }

    fn measured() -> Drift {
        Drift::new(StickTrim::new(0.01, 0.03, -0.95, 0.95))
    }

    /// Reads `x(t)` ten times a second from `from` to `to`; what was meant at the most.
    fn play(drift: &mut Drift, from: f64, to: f64, x: impl Fn(f64) -> f64) -> f64 {
        let steps = ((to - from) * 10.0) as u32;
        let times = (0..=steps).map(|n| from + f64::from(n) / 10.0);
        times
            .map(|t| drift.take(x(t), at(t)).abs())
            .fold(0.0, f64::max)
    }

    #[test]
    fn a_creeping_stick_moves_nothing_however_far_it_goes_and_is_told_of_once() {
        let mut drift = measured();
        // Half of the way in eight minutes.
        let creep = |t: f64| 0.01 + 0.001 * t;
        assert_eq!(play(&mut drift, 0.0, 500.0, creep), 0.0);
        let Some(Worn::Creeps(off)) = drift.worn(at(500.0)) else {
            panic!("not told")
        };
        assert!((off - 0.5).abs() < 0.01, "{off}");
        assert_eq!(drift.worn(at(900.0)), None);
        // Pushed the other way it still does what a hand means, and full is full.
        assert_eq!(drift.take(-0.95, at(900.1)), -1.0);
    }

    #[test]
    fn a_thumb_is_no_creep() {
        let mut drift = measured();
        play(&mut drift, 0.0, 60.0, |_| 0.01);
        // As slow a push as a thumb can make: 1 % a second. It leaves where the zone ends.
        let push = |t: f64| 0.01 + 0.01 * (t - 60.0);
        let meant = play(&mut drift, 60.0, 70.0, push);
        assert!((meant - 0.07 / 0.91).abs() < 0.01, "{meant}");
        // Held there for a minute it stays what it is: the zone takes nothing from a slow move.
        let before = drift.take(0.11, at(70.0));
        play(&mut drift, 70.1, 130.0, |_| 0.11);
        assert_eq!(drift.take(0.11, at(131.0)), before);
        assert!(matches!(drift.worn(at(131.0)), Some(Worn::Stands(_))));
    }

    #[test]
    fn a_zone_that_grew_shrinks_again() {
        let mut drift = measured();
        play(&mut drift, 0.0, 60.0, |t| 0.01 + 0.001 * t);
        // Snapped back to its centre it is at rest at once, and what it grew lasts for a while.
        assert_eq!(play(&mut drift, 60.1, 120.0, |_| 0.01), 0.0);
        assert_eq!(drift.take(0.07, at(120.1)), 0.0);
        // 4.2 % in half an hour and a little; then all is as measured.
        play(&mut drift, 120.2, 2_400.0, |_| 0.01);
        assert_eq!(
            drift.take(0.07, at(2_400.1)),
            measured().take(0.07, at(0.0))
        );
        assert_eq!(drift.worn(at(2_401.0)), None);
    }

    #[test]
    fn without_a_trim_readings_pass_and_what_creeps_ends_at_the_edge() {
        let mut drift = Drift::new(None);
        for x in [0.0, 0.03, -0.06, 0.061, 0.5, -1.0] {
            assert_eq!(drift.take(x, at(0.0)), x);
        }
        let mut drift = Drift::new(None);
        assert_eq!(play(&mut drift, 0.0, 300.0, |t| 0.001 * t), UNTRIMMED);
        assert!(matches!(drift.worn(at(300.0)), Some(Worn::Creeps(_))));
        assert_eq!(drift.take(1.0, at(300.1)), 1.0);
    }

    #[test]
    fn a_stick_that_is_moved_far_out_or_never_heard_of_is_not_worn() {
        let mut drift = measured();
        assert_eq!(drift.worn(at(100.0)), None);
        play(&mut drift, 0.0, 60.0, |_| 0.5);
        assert_eq!(drift.worn(at(100.0)), None);
    }
}
