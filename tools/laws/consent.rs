//! Law `consent`.

use crate::breach::{Law, Log};
use crate::facts::{AxisFacts, higher, lower};
use crate::judge::Now;
use crate::slew::{Descent, Slew};
use crate::units::Nanos;

/// Seconds granted to a plant to follow its last frame to rest, beyond its delay.
const PLANT_SETTLES: f64 = 0.05;

/// Motion of one axis against the consents that stand.
///
/// With none for three steps, the speed may not exceed the fastest legal descent to rest from
/// the state then: from rest, nothing; in motion, a speed that comes down by the losing set. While the
/// stop set is allowed, law `loss` times the motion instead.
#[derive(Clone, Debug)]
pub(crate) struct Consent {
    stood: Nanos,
    descent: Option<Descent>,
    /// Where the descent was a frame ago.
    a_frame_ago: f64,
    fell: bool,
    coasting: Coasting,
    /// Until then the rig may go by a frame before the last.
    astray: Nanos,
}

/// What moved when motor power came back: nobody held it until then.
#[derive(Clone, Copy, Debug)]
enum Coasting {
    No,
    /// Power is back, and nobody has looked yet.
    Unseen,
    /// It has until then to come to rest, at no more than this speed.
    Until(Nanos, f64),
}

impl Consent {
    pub fn new() -> Consent {
        Consent {
            stood: Nanos::NEVER,
            descent: None,
            a_frame_ago: 0.0,
            fell: false,
            coasting: Coasting::No,
            astray: Nanos::NEVER,
        }
    }

    /// Motor power is back: what still coasts is braked by the stop set.
    pub fn power_back(&mut self) {
        self.coasting = Coasting::Unseen;
    }

    /// Frames do not arrive: the rig goes by the last one that did, then stops by itself.
    pub fn frames_lost(&mut self, t: Nanos, axis: &AxisFacts, watchdog: f64) {
        let ways = [1.0, -1.0].map(|way| {
            let stop = axis.stop(way);
            Slew::plan(axis.speed_ceiling, 0.0, 0.0, stop).time()
        });
        let stop = higher(ways[0], ways[1]);
        self.astray = t + Nanos::from_secs(watchdog + stop + axis.delay.secs() + PLANT_SETTLES);
    }

    /// A consent stands at this moment.
    pub fn stands(&mut self, t: Nanos) {
        self.stood = t;
        self.descent = None;
    }

    pub fn frame(&mut self, now: &Now, log: &mut Log) {
        let (m, set) = (now.motion, now.sets.in_force.losing);
        if now.t.since(self.stood) <= now.grace() {
            self.descent = None;
            return;
        }
        // A stop is timed by law `loss`; once it has ended nothing may start.
        if now.sets.stop_allowed() && !m.was_at_rest() {
            self.descent = None;
            return;
        }
        // Frames that could not leave hide where in between the descent began: it is judged from here.
        let hidden = now.t <= self.astray && m.dt[0] > 1.5 * now.step;
        if hidden && !m.was_at_rest() {
            self.descent = None;
            return;
        }
        let stop_jerk = now.axis.stop(m.v[1]).jerk;
        if m.was_at_rest() {
            (self.descent, self.a_frame_ago) = (Some(Descent::REST), 0.0);
        } else if self.descent.is_none() {
            let v = m.v[1].abs() + now.axis.quantum();
            let descent = m.descent(v, set, now.sets.hardest.jerk, stop_jerk);
            (self.descent, self.a_frame_ago) = (Some(descent), descent.bound());
        }
        let mut allowed = 0.0;
        if let Some(descent) = &mut self.descent {
            allowed = descent.advance(m.dt[0], 0.0, set, stop_jerk);
        }
        // An engine of whole ticks lands up to a tick later than the closed form.
        let bound = higher(0.0, higher(allowed, self.a_frame_ago));
        self.a_frame_ago = allowed;
        let q = now.axis.quantum();
        let tolerance = if m.was_at_rest() { q / 2.0 } else { q };
        let v = m.v[0].abs();
        if v <= bound + tolerance + bound * 1e-9 {
            return;
        }
        let what = if m.was_at_rest() {
            "started with no consent standing (no control seen centred and then moved, nothing asked for): speed"
        } else {
            "moves on with no consent standing: speed"
        };
        now.report(log, Law::Consent, what, (v, bound), "/s");
    }

    /// A plant whose frames have long been at rest must be at rest too.
    pub fn plant(&mut self, now: &Now, speed: f64, log: &mut Log) {
        let quiet_for = now.t.since(now.motion.last_moving);
        let follows = now.axis.delay.secs() + now.grace() + PLANT_SETTLES;
        let moves = speed.abs() > now.axis.plant_speed_error + now.axis.quantum();
        let coasts = self.coasts(now, speed, follows);
        let fell = moves && now.motion.v[0] == 0.0 && quiet_for > follows && !coasts;
        let fell = fell && now.t > self.astray;
        if fell && !self.fell {
            now.report(
                log,
                Law::Consent,
                "moves with frames at rest: true speed",
                (speed.abs(), 0.0),
                "/s",
            );
        }
        self.fell = fell;
    }

    /// Whether it comes to rest from what it did when power came back.
    fn coasts(&mut self, now: &Now, speed: f64, follows: f64) -> bool {
        let v = speed.abs();
        let slack = now.axis.plant_speed_error + now.axis.quantum();
        let (until, most) = match self.coasting {
            Coasting::No => return false,
            Coasting::Unseen => {
                let stop = Slew::plan(v, 0.0, 0.0, now.axis.stop(speed));
                (now.t + Nanos::from_secs(stop.time() + follows), v)
            }
            Coasting::Until(until, most) => (until, most),
        };
        let coasts = now.t <= until && v <= most + slack;
        self.coasting = match coasts {
            true => Coasting::Until(until, lower(v, most)),
            false => Coasting::No,
        };
        coasts
    }
}
