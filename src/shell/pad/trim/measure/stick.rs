//! What one stick does in the course.

use std::f64::consts::TAU;

use super::{NEAR, PUSHED, Phase};
use stillhand_engine::time::Span;

/// How long a stick that was let go must have been still before it counts as back, and for how long it is
/// looked at then. A spring has settled after some hundredths of a second.
const SETTLES: Span = Span::from_millis(150);
const LOOKED_AT: Span = Span::from_millis(200);
/// A reading that jumps by more is still on its way back.
const ON_ITS_WAY: f64 = 0.04;
/// From here out a stick has a direction.
const DIRECTED: f64 = 0.35;
/// Sectors of a turn in which the farthest point is kept: eight to a corner.
pub(super) const SECTORS: usize = 64;
/// Points of the way that are kept for the drawing.
const MOST_POINTS: usize = 4_096;

/// The lowest and highest of some readings, and their mean over time.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Spread {
    bounds: Option<(f64, f64)>,
    sum: f64,
    squares: f64,
    secs: f64,
}

impl Spread {
    pub(super) fn add(&mut self, x: f64, for_s: f64) {
        let (low, high) = self.bounds.unwrap_or((x, x));
        self.bounds = Some((low.min(x), high.max(x)));
        self.sum += x * for_s;
        self.squares += x * x * for_s;
        self.secs += for_s;
    }

    /// The lowest and the highest; none if nothing was read.
    pub fn bounds(&self) -> Option<(f64, f64)> {
        self.bounds
    }

    /// Half of what lies between lowest and highest.
    pub fn half(&self) -> f64 {
        self.bounds.map_or(0.0, |(low, high)| (high - low) / 2.0)
    }

    /// The mean over time, and the standard deviation from it.
    pub fn mean(&self) -> (f64, f64) {
        if self.secs <= 0.0 {
            return (
                self.bounds.map_or(0.0, |(low, high)| (low + high) / 2.0),
                0.0,
            );
        }
        let mean = self.sum / self.secs;
        let variance = self.squares / self.secs - mean * mean;
        (mean, variance.max(0.0).sqrt())
    }
}

/// Where a stick is in a release.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
enum Way {
    /// It was not pushed since the last time.
    #[default]
    Idle,
    /// It is out.
    Out,
    /// It comes back, or has come back: since when it is still, and what it read then.
    Back {
        still: Span,
        from: [f64; 2],
        read: [Spread; 2],
    },
}

/// Across and up.
type Point = (f64, f64);

/// One stick in the course.
#[derive(Clone, Debug)]
pub(super) struct StickRun {
    at: [Option<f64>; 2],
    way: Way,
    returns: Vec<[Spread; 2]>,
    rest: [Spread; 2],
    rested: Span,
    /// The direction it last had, and how far it has turned since the first.
    angle: Option<f64>,
    turned: f64,
    /// The farthest reading to the minus and the plus side of either direction, lap by lap.
    laps: Vec<[[f64; 2]; 2]>,
    rim: [Point; SECTORS],
    way_round: Vec<(f64, f64)>,
}

impl Default for StickRun {
    fn default() -> StickRun {
        StickRun {
            at: [None; 2],
            way: Way::Idle,
            returns: Vec::new(),
            rest: Default::default(),
            rested: Span::ZERO,
            angle: None,
            turned: 0.0,
            laps: Vec::new(),
            rim: [(0.0, 0.0); SECTORS],
            way_round: Vec::new(),
        }
    }
}

impl StickRun {
    pub(super) fn reading(&self, place: usize) -> Option<f64> {
        self.at[place]
    }

    pub(super) fn returns(&self) -> &[[Spread; 2]] {
        &self.returns
    }

    pub(super) fn rest(&self) -> &[Spread; 2] {
        &self.rest
    }

    /// For how long it was not touched. One that never spoke rests.
    pub(super) fn rested(&self) -> Span {
        self.rested
    }

    /// How often it went round.
    pub(super) fn laps(&self) -> f64 {
        self.turned.abs() / TAU
    }

    /// The farthest readings of each whole lap: of both directions, minus and plus.
    pub(super) fn whole_laps(&self) -> &[[[f64; 2]; 2]] {
        let whole = (self.laps() + 0.02) as usize;
        &self.laps[..whole.min(self.laps.len())]
    }

    /// The farthest it got from its middle in each sector, across and up.
    pub(super) fn rim(&self) -> &[Point; SECTORS] {
        &self.rim
    }

    /// Some points of its way round.
    pub(super) fn way_round(&self) -> &[(f64, f64)] {
        &self.way_round
    }

    /// Whether it was used at all.
    pub(super) fn is_used(&self) -> bool {
        !self.returns.is_empty() || self.turned != 0.0
    }

    pub(super) fn is_out(&self, beyond: f64) -> bool {
        let [x, y] = self.xy();
        x.hypot(y) > beyond
    }

    fn xy(&self) -> [f64; 2] {
        self.at.map(|x| x.unwrap_or(0.0))
    }

    /// Another part of the course begins.
    pub(super) fn begin(&mut self) {
        self.way = Way::Idle;
    }

    /// One of its directions reads `x` from now on.
    pub(super) fn moved(&mut self, place: usize, x: f64, phase: Option<Phase>) {
        self.at[place] = Some(x);
        match phase {
            Some(Phase::Release) => self.on_the_way(),
            Some(Phase::Rest) => self.touched(),
            Some(Phase::Circle) => self.round(),
            Some(Phase::Pull | Phase::Hold) | None => {}
        }
    }

    /// It has read the same for this long.
    pub(super) fn stays(&mut self, past: Span, phase: Phase) {
        let [x, y] = self.xy();
        match phase {
            Phase::Release => self.settles(past),
            Phase::Rest if !self.is_out(NEAR) => {
                self.rested = Span(self.rested.0 + past.0);
                self.rest[0].add(x, past.secs());
                self.rest[1].add(y, past.secs());
            }
            Phase::Rest | Phase::Circle | Phase::Pull | Phase::Hold => {}
        }
    }

    fn on_the_way(&mut self) {
        let now = self.xy();
        self.way = match self.way {
            _ if self.is_out(PUSHED) => Way::Out,
            Way::Out if !self.is_out(NEAR) => Way::Back {
                still: Span::ZERO,
                from: now,
                read: Default::default(),
            },
            Way::Back { from, .. }
                if (0..2).any(|place| (now[place] - from[place]).abs() > ON_ITS_WAY) =>
            {
                Way::Back {
                    still: Span::ZERO,
                    from: now,
                    read: Default::default(),
                }
            }
            same => same,
        };
    }

    fn settles(&mut self, past: Span) {
        let now = self.xy();
        let Way::Back { still, read, .. } = &mut self.way else {
            return;
        };
        *still = Span(still.0 + past.0);
        if *still >= SETTLES {
            // Not longer than it was still for.
            let counted = past.shorter(*still).secs();
            read[0].add(now[0], counted);
            read[1].add(now[1], counted);
        }
        if still.0 >= SETTLES.0 + LOOKED_AT.0 {
            self.returns.push(*read);
            self.way = Way::Idle;
        }
    }

    /// A stick that is pushed in the part that asks for rest begins it anew.
    fn touched(&mut self) {
        if self.is_out(NEAR) {
            self.rest = Default::default();
            self.rested = Span::ZERO;
        }
    }

    fn round(&mut self) {
        let centre: [f64; 2] = std::array::from_fn(|place| self.middle(place));
        let [x, y] = self.xy();
        let (dx, dy) = (x - centre[0], y - centre[1]);
        let out = dx.hypot(dy);
        if self.way_round.len() < MOST_POINTS {
            self.way_round.push((x, y));
        }
        if out < DIRECTED {
            return;
        }
        let angle = dy.atan2(dx);
        let before = self.angle.replace(angle).unwrap_or(angle);
        // The shorter way from one direction to the next.
        let turn = (angle - before + 1.5 * TAU).rem_euclid(TAU) - TAU / 2.0;
        self.turned += turn;
        let lap = (self.laps() as usize).min(super::LAPS as usize);
        while self.laps.len() <= lap {
            self.laps.push([[f64::INFINITY, f64::NEG_INFINITY]; 2]);
        }
        for (ends, x) in self.laps[lap].iter_mut().zip([x, y]) {
            *ends = [ends[0].min(x), ends[1].max(x)];
        }
        let share = angle.rem_euclid(TAU) / TAU;
        let farthest = &mut self.rim[(share * SECTORS as f64) as usize % SECTORS];
        if out > farthest.0.hypot(farthest.1) {
            *farthest = (dx, dy);
        }
    }

    /// Half way between the farthest readings at rest so far.
    pub(super) fn middle(&self, place: usize) -> f64 {
        self.extremes(place)
            .map_or(0.0, |(low, high)| (low + high) / 2.0)
    }

    /// The lowest and highest reading at rest, let go or untouched.
    pub(super) fn extremes(&self, place: usize) -> Option<(f64, f64)> {
        let returns = self.returns.iter().filter_map(|r| r[place].bounds());
        let rest = self.rest[place].bounds();
        returns
            .chain(rest)
            .reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
    }
}
