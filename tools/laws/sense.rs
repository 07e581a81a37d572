//! Law `sense`.

use crate::breach::{Law, Log};
use crate::facts::Travel;
use crate::judge::Now;

/// Sign changes of speed allowed while inputs are constant.
const SPEED_CHANGES: u32 = 1;
/// Sign changes of jerk allowed while inputs are constant.
const JERK_CHANGES: u32 = 6;
/// Sign changes of jerk that a band to avoid adds, crossed by a demand that goes on changing, as a trimmed speed
/// that is sustained does: the demand is held before it, two to cross it, and goes on behind it.
const BAND_CHANGES: u32 = 4;
/// A jerk counts above this share of the limit: rounding in the engine's own plan leaves a
/// dither of changing sign around zero that no one can feel and no wire carries.
const JERK_SHARE: f64 = 0.01;
/// Frames after a change that still see the motion before it.
const FRAMES_BLIND: u8 = 3;

/// How one axis behaves while nothing changes.
#[derive(Clone, Debug, Default)]
pub(crate) struct Sense {
    blind: u8,
    speed_sign: i8,
    jerk_sign: i8,
    speed_changes: u32,
    /// At the change the axis was already past stopping short of zero: that crossing is no fault.
    turning: bool,
    jerk_changes: u32,
    /// The bands to avoid that it was in, a bit each: one counts once.
    bands: u32,
    /// Outermost position near an end it came to: (+1 high, -1 low; position).
    end: Option<(f64, f64)>,
    /// Where it was last seen.
    seen: Option<f64>,
    thrown: bool,
    /// No frame was seen since the position was set anew, so nobody knows which way it moves.
    stale: bool,
}

impl Sense {
    /// Demand, ceiling, set or state may have changed: counting starts over.
    pub fn changed(&mut self) {
        *self = Sense {
            blind: FRAMES_BLIND,
            end: self.end,
            seen: self.seen,
            thrown: self.thrown,
            stale: self.stale,
            ..Sense::default()
        };
    }

    /// Demand may have turned inward, or the position was set anew.
    pub fn leave_end(&mut self) {
        (self.end, self.seen) = (None, None);
        self.thrown = false;
        self.stale = true;
    }

    /// It is in this band to avoid.
    pub fn crosses(&mut self, band: usize) {
        self.bands |= 1_u32.checked_shl(band as u32).unwrap_or(0);
    }

    /// Which end it came to: +1 the high one, -1 the low one.
    pub fn end_way(&self) -> Option<f64> {
        self.end.map(|(way, _)| way)
    }

    pub fn frame(&mut self, now: &Now, scripted: bool, log: &mut Log) {
        let (m, q) = (now.motion, now.axis.quantum());
        self.stale = false;
        if scripted {
            self.changed();
            return;
        }
        if self.blind > 0 {
            self.blind -= 1;
            self.turning |= turns_anyway(now);
            return;
        }
        if turned(&mut self.speed_sign, m.v[0], q) {
            self.speed_changes += 1;
            self.judge(
                now,
                "speed",
                self.speed_changes,
                SPEED_CHANGES + u32::from(self.turning),
                log,
            );
        }
        let dead = m.jerk_tol + JERK_SHARE * now.sets.hardest.jerk;
        if m.has_jerk() && turned(&mut self.jerk_sign, m.j, dead) {
            self.jerk_changes += 1;
            let allowed = JERK_CHANGES + BAND_CHANGES * self.bands.count_ones();
            self.judge(now, "jerk", self.jerk_changes, allowed, log);
        }
    }

    fn judge(&self, now: &Now, what: &str, found: u32, allowed: u32, log: &mut Log) {
        if found == allowed + 1 {
            let figures = (f64::from(found), f64::from(allowed));
            log.add(Law::Sense, now.t, Some(now.axis), figures, || {
                format!("{what} changed sign {found} times with inputs constant, allowed {allowed}")
            });
        }
    }

    /// Thrown back: within two counts of an end, come there outward, then more than one count back
    /// while no control asks for inward. Whole counts are what a position is made of, so a step
    /// back of exactly one may be a far smaller motion across its edge.
    pub fn plant(
        &mut self,
        now: &Now,
        position: f64,
        outward_or_none: impl Fn(f64) -> bool,
        log: &mut Log,
    ) {
        let Travel::Ends { low, high } = now.axis.travel else {
            return;
        };
        let (v, count, q) = (now.motion.v[0], now.axis.count, now.axis.quantum());
        // Mechanics follow late: sent outward, they may go inward for a while.
        let gone = position - self.seen.replace(position).unwrap_or(position);
        let Some((way, outermost)) = self.end else {
            if self.stale {
                return;
            }
            if v > q && gone >= 0.0 && position >= high - 2.0 * count && outward_or_none(1.0) {
                self.end = Some((1.0, position));
            } else if v < -q
                && gone <= 0.0
                && position <= low + 2.0 * count
                && outward_or_none(-1.0)
            {
                self.end = Some((-1.0, position));
            }
            return;
        };
        if !outward_or_none(way) {
            self.leave_end();
            return;
        }
        if way * position > way * outermost {
            self.end = Some((way, position));
        }
        let back = way * (outermost - position);
        if back > count * (1.0 + 1e-6) && !self.thrown {
            self.thrown = true;
            now.report(
                log,
                Law::Sense,
                "thrown back from an end by",
                (back, count),
                "",
            );
        }
    }
}

/// Whether the speed crosses zero even if the acceleration is taken out at once.
fn turns_anyway(now: &Now) -> bool {
    let (m, jerk) = (now.motion, now.sets.hardest.jerk);
    let (v, against) = (
        m.v[0].abs(),
        m.accel_ahead(0, -m.v[0].signum(), f64::INFINITY, jerk),
    );
    v > 0.0 && against > 0.0 && against * against / (2.0 * jerk) > v
}

/// Whether the sign changed, leaving out what is within `dead` of zero.
fn turned(sign: &mut i8, x: f64, dead: f64) -> bool {
    let new = if x > dead {
        1
    } else if x < -dead {
        -1
    } else {
        return false;
    };
    let turned = *sign == -new;
    *sign = new;
    turned
}
