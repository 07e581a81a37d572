//! Law `loss`.

use crate::breach::{Law, Log};
use crate::facts::{AxisFacts, higher, lower};
use crate::judge::Now;
use crate::motion::Motion;
use crate::slew::Slew;
use crate::units::Nanos;

/// Why an axis must stop.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Cause {
    Stop,
    PadLost,
    PadSilent,
    LinkLost,
    PowerLost,
    Late,
    Residual,
    Watchdog,
}

impl Cause {
    fn name(self) -> &'static str {
        match self {
            Cause::Stop => "STOP",
            Cause::PadLost => "loss of the pad",
            Cause::PadSilent => "silence of the pad",
            Cause::LinkLost => "loss of the link",
            Cause::PowerLost => "loss of power",
            Cause::Late => "lateness",
            Cause::Residual => "a residual over tolerance",
            Cause::Watchdog => "the end of frames",
        }
    }

    /// Causes after which the rig stops by itself, whatever the loop does.
    pub fn is_the_rigs(self) -> bool {
        matches!(self, Cause::LinkLost | Cause::PowerLost | Cause::Watchdog)
    }

    /// Causes that take the stop out of the engine's hands, and so may begin a running one anew.
    fn starts_over(self) -> bool {
        matches!(self, Cause::LinkLost | Cause::Late | Cause::Watchdog)
    }
}

/// A rig counts its watchdog, and its mechanics are looked at, in whole milliseconds: each may cost one, s.
const RIG_CLOCK_S: f64 = 0.002;

/// One stop on its way. Times and distances come from the closed form of the stop set, from the
/// state at the event after one more step of the old motion, plus three steps and the delay.
#[derive(Clone, Copy, Debug)]
struct Watch {
    cause: Cause,
    since: Nanos,
    /// The last frame before it.
    after: Nanos,
    way: f64,
    by_frames: f64,
    by_plant: f64,
    far_frames: f64,
    far_plant: f64,
    gone: f64,
    from: Option<f64>,
    flagged: bool,
    frames_rest: bool,
    /// The highest speed that may be under way to the plant.
    under_way: f64,
}

/// Until when the rig may go by a frame before the last.
#[derive(Clone, Copy, Debug)]
struct Lost {
    until: Nanos,
    watchdog: f64,
    /// The highest speed it may still have from then.
    speed: f64,
}

/// The stops of one axis.
#[derive(Clone, Debug, Default)]
pub(crate) struct Loss {
    watch: Option<Watch>,
    position: Option<f64>,
    plant_rest: bool,
    /// Frames that do not arrive.
    lost: Option<Lost>,
}

impl Loss {
    /// A stop is due from now; `extra` seconds later at the rig (its watchdog's wait).
    pub fn start(&mut self, cause: Cause, now: &Now, ceiling: f64, extra: f64) {
        let m = now.motion;
        let still = m.v[0] == 0.0 || cause == Cause::Watchdog;
        if still && (self.plant_rest || (self.position.is_none() && m.v[0] == 0.0)) {
            return;
        }
        if self.watch.is_some() && !cause.starts_over() {
            return;
        }
        let way = if m.v[0] == 0.0 {
            m.v[1].signum()
        } else {
            m.v[0].signum()
        };
        let normal = now.sets.hardest;
        let accel = if now.sets.stop_allowed() {
            normal.hardest(now.axis.stop(way)).accel
        } else {
            normal.accel
        };
        let (v, a) = (m.v[0].abs(), m.accel_ahead(0, way, accel, normal.jerk));
        let dt = now.step;
        let grown = v + higher(a, 0.0) * dt + normal.jerk * dt * dt / 2.0;
        let (v, a) = (
            lower(grown, higher(v, ceiling)),
            lower(a + normal.jerk * dt, higher(accel, a)),
        );
        // The rig goes on at the last speed it heard of, then stops from there.
        let a = if cause.is_the_rigs() {
            higher(a, 0.0)
        } else {
            a
        };
        let (set, own) = match cause.is_the_rigs() {
            true => (now.axis.own_stop(way), RIG_CLOCK_S),
            false => (now.axis.stop(way), 0.0),
        };
        let stop = Slew::plan(v, a, 0.0, set);
        // A brake too hard to come off before rest goes across it, and back: no way on.
        let distance = higher(stop.distance(), 0.0) + now.axis.count;
        let time = stop.time() + now.grace();
        let to_rig = now.axis.delay.secs() + extra;
        // Positions and frames on record end before the event: the old motion went on until then.
        let unseen = if m.row == 0 {
            0.0
        } else {
            v * higher(now.t.since(m.t[0]), 0.0)
        };
        // A plant follows late: it may have the speeds of the last frames before it.
        let under_way = higher(v, higher(m.v[1].abs(), m.v[2].abs()));
        self.watch = Some(Watch {
            cause,
            since: now.t,
            after: m.t[0],
            way,
            by_frames: time,
            by_plant: time + to_rig + own,
            far_frames: distance + unseen + v * now.grace(),
            far_plant: distance + unseen + under_way * (now.grace() + to_rig),
            gone: 0.0,
            from: self.position,
            flagged: false,
            frames_rest: m.v[0] == 0.0,
            under_way,
        });
        self.grant_lost(now.t, now.axis);
    }

    /// Frames do not arrive: the rig may go by an older one for as long as its watchdog lets it, and so
    /// follow a stop that much later.
    pub fn frames_lost(&mut self, t: Nanos, watchdog: f64, motion: &Motion, axis: &AxisFacts) {
        let before = self.lost.filter(|lost| t <= lost.until);
        let [new, old, older] = motion.v.map(f64::abs);
        let speed = match before {
            Some(lost) => higher(lost.speed, new),
            None => higher(new, higher(old, older)),
        };
        self.lost = Some(Lost {
            until: t + Nanos::from_secs(2.0 * watchdog),
            watchdog,
            speed,
        });
        if before.is_none() {
            self.grant_lost(t, axis);
        }
    }

    fn grant_lost(&mut self, t: Nanos, axis: &AxisFacts) {
        let lost = self.lost.filter(|lost| t <= lost.until);
        let (Some(watch), Some(lost)) = (&mut self.watch, lost) else {
            return;
        };
        let faster = higher(lost.speed, watch.under_way);
        let stop = |v| Slew::plan(v, 0.0, 0.0, axis.stop(watch.way));
        let (from_then, from_now) = (stop(faster), stop(watch.under_way));
        watch.by_plant += lost.watchdog + RIG_CLOCK_S + from_then.time() - from_now.time();
        watch.far_plant += faster * lost.watchdog + from_then.distance() - from_now.distance();
    }

    pub fn frame(&mut self, now: &Now, log: &mut Log) {
        let m = now.motion;
        let Some(watch) = &mut self.watch else { return };
        if m.row >= 2 && m.t[0] > watch.after {
            watch.gone += watch.way * (m.v[0] + m.v[1]) / 2.0 * m.passed;
        }
        let rest = m.v[0].abs() <= now.axis.quantum() * (1.0 + 1e-9);
        // The stop is over, and whatever moves now is a new motion, before a plant that follows late
        // was seen at rest.
        if watch.frames_rest && !rest && m.row >= 2 {
            self.watch = None;
            return;
        }
        // Of a late turn two periods count: it may come to rest in the first and begin anew in the second.
        let slows = higher(-m.a[1] * m.v[1].signum(), 0.0);
        let rested = m.dt[0] > 1.5 * now.step && m.v[1].abs() <= slows * now.step;
        if rested && m.row >= 2 && m.v[0].abs() > m.v[1].abs() {
            self.watch = None;
            return;
        }
        watch.frames_rest = rest;
        let (gone, far) = (watch.gone, watch.far_frames);
        watch.judge(now, watch.frames_rest, watch.by_frames, (gone, far), log);
        if watch.frames_rest && (self.plant_rest || self.position.is_none()) {
            self.watch = None;
        }
    }

    /// The loop was late by so many seconds while `speed` held on: a stop under way ends as much
    /// later.
    pub fn held_up(&mut self, late: f64, speed: f64) {
        if let Some(watch) = self.watch.as_mut().filter(|w| !w.cause.is_the_rigs()) {
            watch.by_frames += late;
            watch.by_plant += late;
            watch.far_frames += speed.abs() * late;
            watch.far_plant += speed.abs() * late;
        }
    }

    /// No frames are due any more: only the plant is judged.
    pub fn frames_over(&mut self) {
        if let Some(watch) = &mut self.watch {
            watch.frames_rest = true;
        }
    }

    /// The true position, if it is known.
    pub fn position(&self) -> Option<f64> {
        self.position
    }

    /// The plant cannot be judged (no power, or moved by hand).
    pub fn forget_plant(&mut self) {
        self.position = None;
        self.plant_rest = false;
        if let Some(watch) = &mut self.watch {
            watch.from = None;
        }
    }

    /// Motor power is back: whatever moved has come to rest without us.
    pub fn clear(&mut self) {
        self.watch = None;
    }

    /// The run is over: a stop whose time is up without a last look at it was not made.
    pub fn end(&mut self, now: &Now, log: &mut Log) {
        let Some(watch) = &mut self.watch else { return };
        let by = higher(watch.by_frames, watch.by_plant);
        watch.judge(now, false, by, (0.0, 0.0), log);
    }

    pub fn watching(&self) -> bool {
        self.watch.is_some()
    }

    /// The true state; `late` seconds of lateness have passed that no tick has told of yet.
    pub fn plant(&mut self, now: &Now, (position, speed): (f64, f64), late: f64, log: &mut Log) {
        self.position = Some(position);
        self.plant_rest = speed.abs() <= now.axis.plant_speed_error + now.axis.quantum();
        let Some(watch) = &mut self.watch else { return };
        let from = *watch.from.get_or_insert(position);
        let gone = watch.way * (position - from);
        let late = if watch.cause.is_the_rigs() { 0.0 } else { late };
        let (by, far) = (
            watch.by_plant + late,
            watch.far_plant + now.motion.v[0].abs() * late,
        );
        watch.judge(now, self.plant_rest, by, (gone, far), log);
        if watch.frames_rest && self.plant_rest {
            self.watch = None;
        }
    }
}

impl Watch {
    /// One report for a stop: that it took too long or went too far.
    fn judge(&mut self, now: &Now, rest: bool, by: f64, (gone, far): (f64, f64), log: &mut Log) {
        let took = now.t.since(self.since);
        let (late, over) = (!rest && took > by + 1e-6, gone > far);
        if self.flagged || !(late || over) {
            return;
        }
        self.flagged = true;
        let (cause, unit, v) = (self.cause.name(), now.axis.unit.name(), now.motion.v[0]);
        let figures = if late { (took, by) } else { (gone, far) };
        log.add(Law::Loss, now.t, Some(now.axis), figures, || {
            if late {
                format!("still moving {took:.3} s after {cause} (last frame {v:.4} {unit}/s), allowed {by:.3} s")
            } else {
                format!("{gone:.4} {unit} on since {cause}, allowed {far:.4} {unit}")
            }
        });
    }
}
