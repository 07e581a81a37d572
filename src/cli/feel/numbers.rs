//! What one operator's stick does to one axis in one gear, as the engine says it.
//!
//! Speeds are those of a rig that reports no lower limits of its own, and of a speed trigger that
//! leaves the most it ever leaves.

use crate::cli::figures::{self, FullFigures};
use crate::profile::RigFile;
use serde::{Serialize, Serializer};
use stillhand_engine::feel::demand;
use stillhand_engine::motion::axis::{AxisFacts, AxisMotion, Order};
use stillhand_engine::motion::bands::{Asked, Band};
use stillhand_engine::motion::ceiling::{Switched, link_ceiling};
use stillhand_engine::motion::sets::Sets;
use stillhand_engine::operator::{Hand, Operator};
use stillhand_engine::output::Ceiling;
use stillhand_engine::rig::Axis;
use stillhand_engine::time::Span;

/// Parts of the stick's way in the table of JSON and in plots.
const STICK_STEPS: u32 = 100;
/// The loop's usual period.
const TICK: Span = Span::from_millis(4);
/// After so many ticks, a minute, nobody watches a curve any more.
const MOST_TICKS: usize = 15_000;
/// Every so many ticks of a gain or lose stand in JSON.
const TOLD_TICKS: usize = 5;

/// A hand on its axis, in a gear.
#[derive(Clone, Copy, Debug)]
pub struct Hands<'a> {
    rig: &'a RigFile,
    operator: &'a Operator,
    hand: &'a Hand,
    axis: &'a Axis,
    on: Switched,
}

/// What `--at` tells.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AtFigures {
    /// The axis.
    pub axis: String,
    /// Where the stick is, -1..=1.
    pub stick: f64,
    /// What it asks for, -1..=1, after deadband, curve and `invert`.
    pub demand: f64,
    /// The speed that comes of it, signed as the demand; unit/s.
    pub speed: f64,
    /// `deg/s` or `mm/s`.
    pub unit: String,
    /// The one that makes the speed of a full stick.
    pub ceiling: CeilingFigures,
    /// The band to avoid that has the speed asked for, or this ceiling, inside; low and high edge, unit/s.
    pub band: Option<[f64; 2]>,
}

/// A ceiling.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct CeilingFigures {
    /// Its name.
    pub name: &'static str,
    /// Unit/s.
    pub value: f64,
}

/// All of it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Feel {
    /// The operator.
    pub operator: String,
    /// The axis.
    pub axis: String,
    /// `deg` or `mm`.
    pub unit: &'static str,
    /// The gear, the slowest is 1.
    pub gear: u8,
    /// Whether quiet is on.
    pub quiet: bool,
    /// Bands of speed it keeps out of, low and high edge, unit/s.
    pub avoid: Vec<[f64; 2]>,
    /// Share of the stick's way that does nothing.
    pub deadband: f64,
    /// Share of it from which on the speed is full.
    pub saturation: f64,
    /// The word for the curve.
    pub curve: &'static str,
    /// Share of full speed half way between deadband and saturation.
    pub half: f64,
    /// Whether the stick's plus drives the axis minus.
    pub invert: bool,
    /// The ceilings there are, the lowest first.
    pub ceilings: Vec<CeilingFigures>,
    /// The speed of a full stick in each gear, and the ceiling that makes it so.
    pub gears: Vec<FullFigures>,
    /// Speed against stick, from 0 to 1, as `[stick, demand, speed]`, plus whatever `invert` says.
    pub stick: Vec<[f64; 3]>,
    /// Stick thrown over, from rest to full speed.
    pub gain: Ramp,
    /// Stick let go, from full speed to rest.
    pub lose: Ramp,
}

/// A change of speed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Ramp {
    /// How long it takes; none if it takes over a minute.
    pub seconds: Option<f64>,
    /// The way meanwhile, in units.
    pub distance: f64,
    /// Highest acceleration of the set in force, unit/s^2.
    pub accel: f64,
    /// Highest jerk of the set in force, unit/s^3.
    pub jerk: f64,
    /// `[seconds, speed]`, every tick; every fifth in JSON.
    #[serde(serialize_with = "thinned")]
    pub speeds: Vec<(f64, f64)>,
}

fn thinned<S: Serializer>(speeds: &[(f64, f64)], to: S) -> Result<S::Ok, S::Error> {
    to.collect_seq(speeds.iter().step_by(TOLD_TICKS))
}

impl Ramp {
    /// The speed after so many seconds; at the end it stays.
    pub fn speed_at(&self, seconds: f64) -> f64 {
        let place = (seconds / TICK.secs()).round() as usize;
        let at = self.speeds.get(place).or(self.speeds.last());
        at.map_or(0.0, |(_, speed)| *speed)
    }
}

impl<'a> Hands<'a> {
    /// The hand of `operator` on the axis called `axis`, in `gear` from 1, in quiet or not; none if there is no such
    /// axis, no stick for it, or no such gear.
    pub fn find(
        rig: &'a RigFile,
        operator: &'a Operator,
        axis: &str,
        gear: u8,
        quiet: bool,
    ) -> Option<Hands<'a>> {
        let (hand, axis) = on_axis(rig, operator, axis)?;
        (1..=figures::most_gears(operator, hand))
            .contains(&gear)
            .then(|| Hands {
                rig,
                operator,
                hand,
                axis,
                on: in_gear(gear - 1, quiet),
            })
    }

    /// How many gears there are for an axis; 0 if there is no such axis.
    pub fn most_gears(rig: &RigFile, operator: &Operator, axis: &str) -> u8 {
        let found = on_axis(rig, operator, axis);
        found.map_or(0, |(hand, _)| figures::most_gears(operator, hand))
    }

    /// What the stick does at one place, -1..=1.
    pub fn at(&self, stick: f64) -> AtFigures {
        let (plain, speed, band) = self.plain(stick);
        let sign = if self.hand.invert { -1.0 } else { 1.0 };
        let full = figures::full(self.rig, self.operator, self.hand, self.on);
        AtFigures {
            axis: self.axis.name.clone(),
            stick,
            // Adding 0 makes a plain zero of a negative one.
            demand: sign * plain + 0.0,
            speed: sign * speed + 0.0,
            unit: format!("{}/s", self.axis.unit.symbol()),
            ceiling: CeilingFigures {
                name: full.by,
                value: full.speed,
            },
            band: band.map(|band| [band.low.0, band.high.0]),
        }
    }

    /// Demand and speed before `invert`, and the band that makes it another speed; of a stick that comes
    /// from rest.
    fn plain(&self, stick: f64) -> (f64, f64, Option<Band>) {
        let demand = demand(stick, self.hand.throw, self.hand.curve);
        let full = figures::asked(self.rig, self.operator, self.hand, self.on);
        let link = link_ceiling(self.axis.counts_per_unit).0;
        let (speed, band) = self.hand.quiet.bands(self.on.quiet).aim(&Asked {
            speed: (demand * full.speed.0).clamp(-link, link),
            before: 0.0,
            now: 0.0,
            most: link,
        });
        (demand, speed, band.or(full.band))
    }

    /// All of it.
    pub fn feel(&self) -> Feel {
        let quiet = self.on.quiet;
        let full = |gear| figures::full(self.rig, self.operator, self.hand, in_gear(gear, quiet));
        let own = full(self.on.gear);
        let sticks = (0..=STICK_STEPS).map(|n| f64::from(n) / f64::from(STICK_STEPS));
        Feel {
            operator: self.operator.name.clone(),
            axis: self.axis.name.clone(),
            unit: self.axis.unit.symbol(),
            gear: self.on.gear + 1,
            quiet,
            avoid: match quiet {
                true => figures::avoid(self.hand),
                false => Vec::new(),
            },
            deadband: self.hand.throw.deadband(),
            saturation: self.hand.throw.saturation(),
            curve: self.hand.curve.name(),
            half: self.hand.curve.at(0.5),
            invert: self.hand.invert,
            ceilings: self.ceilings(),
            gears: (0..figures::most_gears(self.operator, self.hand))
                .map(full)
                .collect(),
            stick: sticks
                .map(|stick| {
                    let (demand, speed, _) = self.plain(stick);
                    [stick, demand, speed]
                })
                .collect(),
            gain: self.gain(own.speed),
            lose: self.lose(own.speed),
        }
    }

    /// The same stick in every gear.
    pub fn every_gear(&self) -> Vec<Hands<'a>> {
        let most = figures::most_gears(self.operator, self.hand);
        (0..most)
            .map(|gear| Hands {
                on: in_gear(gear, self.on.quiet),
                ..*self
            })
            .collect()
    }

    fn ceilings(&self) -> Vec<CeilingFigures> {
        let scaling = figures::scaling(self.axis, self.hand, self.on);
        let own = [
            (Ceiling::Rig, Some(scaling.rig)),
            (Ceiling::Operator, scaling.operator),
            (Ceiling::Gear, scaling.gear),
            (Ceiling::Quiet, scaling.quiet),
            (Ceiling::Framing, scaling.framing),
            (Ceiling::Link, Some(link_ceiling(self.axis.counts_per_unit))),
        ];
        let mut list: Vec<CeilingFigures> = own
            .into_iter()
            .filter_map(|(ceiling, speed)| {
                Some(CeilingFigures {
                    name: ceiling.name(),
                    value: speed?.0,
                })
            })
            .collect();
        list.sort_by(|one, two| one.value.total_cmp(&two.value));
        list
    }

    /// From rest to full speed.
    fn gain(&self, full: f64) -> Ramp {
        let mut motion = AxisMotion::at_rest();
        let set = self.sets(&motion).gain;
        let run = self.run(&mut motion, full, full);
        run.under(set.accel.0, set.jerk.0)
    }

    /// From full speed, which it first comes to, to rest.
    fn lose(&self, full: f64) -> Ramp {
        let mut motion = AxisMotion::at_rest();
        self.run(&mut motion, full, full);
        let set = self.sets(&motion).lose;
        let run = self.run(&mut motion, 0.0, full);
        run.under(set.accel.0, set.jerk.0)
    }

    fn sets(&self, motion: &AxisMotion) -> Sets {
        let normal = self.axis.limits.normal();
        let Switched { gear, quiet, .. } = self.on;
        Sets::of(self.hand, gear, motion.peak(), quiet, normal)
    }

    /// The engine's axis, far from any end, until it is at `target`.
    fn run(&self, motion: &mut AxisMotion, target: f64, ceiling: f64) -> Ramp {
        let facts = AxisFacts {
            limits: self.axis.limits,
            ends: None,
            count: 1.0 / self.axis.counts_per_unit,
            hold_s: 0.0,
        };
        let mut ramp = Ramp {
            seconds: None,
            distance: 0.0,
            accel: 0.0,
            jerk: 0.0,
            speeds: vec![(0.0, motion.motion().v)],
        };
        for tick in 1..=MOST_TICKS {
            let before = motion.motion().v;
            let order = Order {
                target,
                ceiling,
                most: ceiling,
                exactly: None,
                sets: self.sets(motion),
                dt: TICK.secs(),
                position: 0.0,
            };
            motion.step(&facts, &order);
            let now = motion.motion();
            ramp.distance += (before + now.v) / 2.0 * TICK.secs();
            ramp.speeds.push((tick as f64 * TICK.secs(), now.v));
            if now.v == target && now.a == 0.0 {
                ramp.seconds = Some(tick as f64 * TICK.secs());
                break;
            }
        }
        ramp
    }
}

impl Ramp {
    fn under(self, accel: f64, jerk: f64) -> Ramp {
        Ramp {
            accel,
            jerk,
            ..self
        }
    }
}

fn on_axis<'a>(
    rig: &'a RigFile,
    operator: &'a Operator,
    name: &str,
) -> Option<(&'a Hand, &'a Axis)> {
    let mut hands = operator.hands.iter().filter(|hand| hand.control.is_some());
    hands.find_map(|hand| {
        let axis = rig.rig.axes.get(usize::from(hand.axis))?;
        (axis.name == name).then_some((hand, axis))
    })
}

fn in_gear(gear: u8, quiet: bool) -> Switched {
    Switched {
        gear,
        quiet,
        reduced: false,
    }
}
