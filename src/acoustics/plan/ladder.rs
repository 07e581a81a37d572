//! The making of a plan: which speeds and accelerations of which axis, and where there is room.

use super::{Does, Move, Plan, PlanAxis, Step, ramp_s};
use stillhand_engine::rig::{Axis, LimitSet, Rig, Travel};

/// Most rungs of speed: with a half more each time that is a span of over 4000 times.
pub const MOST_RUNGS: usize = 24;
/// From one rung to the next. Twice the speed is mostly 6 to 12 dB: half of it is as fine as a margin
/// of some dB can be told apart.
const RUNG: f64 = std::f64::consts::SQRT_2;
/// Rungs of acceleration.
const RAMPS: usize = 6;
/// Moves for each of them; so one that was spoilt can be told from the others.
const RAMP_MOVES: usize = 6;
/// Room tone and standstill, in s: long enough to know them better than a rung.
const STILL_S: f64 = 12.0;
/// To switch motor power on and let the axes find their references, in s.
const POWER_S: f64 = 20.0;
/// A rung of speed is listened to for so long, in s, where travel allows: room tone of one octave's
/// width is then known to a tenth of a decibel or two.
const LISTEN_S: f64 = 4.0;
/// It is left out below that, in s.
const LEAST_LISTEN_S: f64 = 1.0;
/// Not listened to at either end of a steady speed, in s: what the ramp left behind, the echo of the
/// room, and the uncertainty of where we are.
const GUARD_S: f64 = 0.25;
/// From rest to a rung of speed, in s, where the rig's normal set allows: not to be told from the ramps.
const RAMP_S: f64 = 0.6;
/// Between two steps, in s: the standstill listened to in between tells how the room changes.
const PAUSE_S: f64 = 1.2;
/// The shortest listening to a start or stop, in s; an ear takes about so long to hear a thump (the
/// time weighting F of IEC 61672-1 has 0.125 s, on both sides).
const THUMP_S: f64 = 0.25;
/// Added on both sides of a start or stop, in s.
const SLACK_S: f64 = 0.05;
/// Steady between a start and a stop, in s.
const BETWEEN_S: f64 = 0.4;
/// After each of those moves, in s.
const RAMP_PAUSE_S: f64 = 0.6;
/// Share of the travel that is used: the ends are left alone.
const USED: f64 = 0.9;
/// Moves of the pattern and the pauses after each, in s: long short short, long. Unlike any rhythm of
/// the ladder itself.
const PATTERN: [(f64, f64); 4] = [(2.4, 0.7), (1.6, 0.7), (1.6, 1.5), (2.4, 2.0)];
/// The longest ramp of the pattern, in s, so that it is a rhythm at all.
const PATTERN_RAMP_S: f64 = 0.75;
/// The longest of an axis that would come to less than [`PATTERN_LOUD`] by that: its moves are as much longer. Nobody
/// would hear so slow a speed.
const SLOW_PATTERN_RAMP_S: f64 = 2.0;
/// A share of the fastest rung.
const PATTERN_LOUD: f64 = 0.5;
/// Axes that make the pattern in turn, at most: one of them is loud enough.
const PATTERN_AXES: usize = 3;

/// What to measure on an axis.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// Its number on the rig.
    pub axis: usize,
    /// The fastest rung, unit/s; held under the rig's own limit.
    pub fastest: f64,
}

/// A plan and what had to be left out of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Ladder {
    /// The plan.
    pub plan: Plan,
    /// In words: rungs for which there is no travel.
    pub left_out: Vec<String>,
}

/// Makes the ladder of some axes of a rig, with so many rungs of speed each (2 to [`MOST_RUNGS`]).
pub fn ladder(rig: &Rig, asked: &[Asked], rungs: usize) -> Ladder {
    let rungs = rungs.clamp(2, MOST_RUNGS);
    let mut making = Making::default();
    let mut sides = Vec::new();
    for ask in asked {
        let Some(axis) = rig.axes.get(ask.axis) else {
            continue;
        };
        let side = Side::new(axis, ask.fastest, rungs, making.axes.len());
        making.axes.push(PlanAxis {
            name: axis.name.clone(),
            unit: axis.unit,
            start: side.at,
        });
        sides.push(side);
    }
    making.still(Does::Room);
    making.now += POWER_S;
    making.still(Does::Still);
    making.now += PAUSE_S;
    for side in sides.iter_mut().take(PATTERN_AXES) {
        making.pattern(side);
    }
    for side in &mut sides {
        making.speeds(side);
        making.ramps(side);
    }
    for side in sides.iter_mut().take(PATTERN_AXES) {
        making.pattern(side);
    }
    let plan = Plan {
        rig: rig.id.clone(),
        axes: making.axes,
        steps: making.steps,
    };
    Ladder {
        plan,
        left_out: making.left_out,
    }
}

/// One axis on its way up the ladder.
struct Side {
    name: String,
    symbol: &'static str,
    index: usize,
    /// Rungs, the slowest first.
    speeds: Vec<f64>,
    set: LimitSet,
    low: f64,
    high: f64,
    at: f64,
}

impl Side {
    fn new(axis: &Axis, fastest: f64, rungs: usize, index: usize) -> Side {
        let top = fastest.min(axis.speed.0);
        let speeds = (0..rungs).rev().map(|n| rounded(top / RUNG.powi(n as i32)));
        let (low, high) = match axis.travel {
            Travel::Continuous => (f64::NEG_INFINITY, f64::INFINITY),
            Travel::Finite(ends) => {
                let (low, high) = (ends.low().0, ends.high().0);
                let unused = (high - low) * (1.0 - USED) / 2.0;
                (low + unused, high - unused)
            }
        };
        let middle = match low.is_finite() {
            true => ((low + high) / 2.0).round(),
            false => 0.0,
        };
        Side {
            name: axis.name.clone(),
            symbol: axis.unit.symbol(),
            index,
            speeds: speeds.collect(),
            set: axis.limits.normal(),
            low,
            high,
            at: middle.clamp(low, high),
        }
    }

    /// Towards the farther end, and how far that is.
    fn room(&self) -> (bool, f64) {
        let (up, down) = (self.high - self.at, self.at - self.low);
        (up >= down, up.max(down))
    }

    /// A move at `speed` with ramps of [`RAMP_S`], or what the normal set makes of them.
    fn rung(&self, speed: f64, plus: bool) -> Move {
        // A third of the time builds the acceleration up, a third takes it off again.
        let accel = (1.5 * speed / RAMP_S).min(self.set.accel.0);
        let jerk = (4.5 * speed / (RAMP_S * RAMP_S)).min(self.set.jerk.0);
        Move {
            axis: self.index,
            speed,
            accel: rounded(accel),
            jerk: rounded(jerk),
            plus,
        }
    }
}

#[derive(Default)]
struct Making {
    now: f64,
    axes: Vec<PlanAxis>,
    steps: Vec<Step>,
    left_out: Vec<String>,
}

impl Making {
    fn still(&mut self, does: Does) {
        self.steps.push(Step {
            at: self.now,
            lasts: STILL_S,
            does,
            listen: vec![(self.now + GUARD_S, self.now + STILL_S - GUARD_S)],
        });
        self.now += STILL_S;
    }

    /// Adds a move that cruises for `cruise` seconds; when it is listened to is told from its ramp and
    /// its whole time.
    fn moves(
        &mut self,
        side: &mut Side,
        cruise: f64,
        does: Does,
        listen: impl Fn(f64, f64) -> Vec<(f64, f64)>,
    ) {
        let Some(m) = does.moving().copied() else {
            return;
        };
        let ramp = m.ramp_s();
        let lasts = milli(2.0 * ramp + cruise);
        let way = m.speed * (lasts - ramp);
        side.at += if m.plus { way } else { -way };
        let at = self.now;
        let listen = listen(ramp, lasts).into_iter();
        self.steps.push(Step {
            at,
            lasts,
            does,
            listen: listen
                .map(|(a, b)| (milli(at + a), milli(at + b)))
                .collect(),
        });
        self.now = milli(at + lasts);
    }

    fn pattern(&mut self, side: &mut Side) {
        let LimitSet { accel, jerk } = side.set;
        let ramp = |speed: f64| ramp_s(speed, accel.0, jerk.0);
        let within = |longest: f64| {
            let quick = |speed: &&f64| ramp(**speed) <= longest;
            let fastest = side.speeds.iter().rev().find(quick);
            fastest.or(side.speeds.first()).copied().unwrap_or(1.0)
        };
        let top = side.speeds.last().copied().unwrap_or(1.0);
        let mut fastest = within(PATTERN_RAMP_S);
        if fastest < PATTERN_LOUD * top {
            fastest = within(SLOW_PATTERN_RAMP_S);
        }
        // Out and back: the way of the longest must fit into half of what there is.
        let longest = PATTERN[0].0 + (ramp(fastest) - PATTERN_RAMP_S).max(0.0);
        let speed = rounded(fastest.min((side.high - side.low) / 2.0 / longest));
        for (lasts, pause) in PATTERN {
            let m = Move {
                axis: side.index,
                speed,
                accel: rounded(accel.0),
                jerk: rounded(jerk.0),
                plus: side.room().0,
            };
            let cruise = (lasts - 2.0 * m.ramp_s().min(PATTERN_RAMP_S)).max(0.0);
            self.moves(side, cruise, Does::Mark(m), |_, _| Vec::new());
            self.now += pause;
        }
    }

    fn speeds(&mut self, side: &mut Side) {
        for (index, speed) in side.speeds.clone().into_iter().enumerate() {
            let ramp = side.rung(speed, true).ramp_s();
            let cruise = |room: f64| (room / speed - ramp).min(LISTEN_S + 2.0 * GUARD_S);
            let least = LEAST_LISTEN_S + 2.0 * GUARD_S;
            let span = side.high - side.low;
            if cruise(span) < least {
                let (name, unit) = (&side.name, side.symbol);
                self.left_out.push(format!(
                    "{name} at {speed} {unit}/s: its travel ends before anything could be listened to"
                ));
                continue;
            }
            if cruise(side.room().1) < cruise(span).min(LISTEN_S) {
                self.go_to_an_end(side);
            }
            let (plus, room) = side.room();
            let does = Does::Speed(index + 1, side.rung(speed, plus));
            let cruise = cruise(room);
            self.moves(side, cruise, does, |ramp, lasts| {
                vec![(ramp + GUARD_S, lasts - ramp - GUARD_S)]
            });
            self.now += PAUSE_S;
        }
    }

    /// Brings the axis to its nearer end, so that the whole travel lies before it.
    fn go_to_an_end(&mut self, side: &mut Side) {
        let plus = !side.room().0;
        let way = match plus {
            true => side.high - side.at,
            false => side.at - side.low,
        };
        // In about two seconds, but no faster than the ladder goes.
        let fastest = side.speeds.last().copied().unwrap_or(1.0);
        let m = side.rung(rounded((way / 2.0).clamp(fastest / 50.0, fastest)), plus);
        let cruise = (way / m.speed - m.ramp_s()).max(0.0);
        if way > m.speed * m.ramp_s() {
            self.moves(side, cruise, Does::Go(m), |_, _| Vec::new());
            self.now += PAUSE_S;
        }
    }

    fn ramps(&mut self, side: &mut Side) {
        let Some(speed) = side.speeds.first().copied() else {
            return;
        };
        let LimitSet { accel, jerk } = side.set;
        // What the normal set reaches at all on the way to so slow a speed.
        let top = accel.0.min((speed * jerk.0).sqrt());
        for index in 0..RAMPS {
            let accel = top / RUNG.powi((RAMPS - 1 - index) as i32);
            for _ in 0..RAMP_MOVES {
                let m = Move {
                    axis: side.index,
                    speed,
                    accel: rounded(accel),
                    // Half of the ramp builds it up, the other half takes it off.
                    jerk: rounded((accel * accel / speed).min(jerk.0)),
                    plus: side.room().0,
                };
                let does = Does::Ramp(index + 1, m);
                self.moves(side, BETWEEN_S, does, |ramp, lasts| {
                    let long = ramp.max(THUMP_S) + SLACK_S;
                    let stops = lasts - ramp;
                    vec![(-SLACK_S, long), (stops - SLACK_S, stops + long)]
                });
                self.now += RAMP_PAUSE_S;
            }
        }
    }
}

/// To four digits, so that the text of the plan is the plan.
fn rounded(x: f64) -> f64 {
    if x <= 0.0 || !x.is_finite() {
        return x;
    }
    let digits = 10f64.powi(3 - x.log10().floor() as i32);
    (x * digits).round() / digits
}

/// To a millisecond, for the same reason.
fn milli(seconds: f64) -> f64 {
    (seconds * 1000.0).round() / 1000.0
}
