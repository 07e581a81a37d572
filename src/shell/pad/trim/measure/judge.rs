//! What comes of a course: the trim, figures, and whether they can be trusted.

use super::stick::{Spread, StickRun};
use super::trigger::TriggerRun;
use super::{Course, Life, PULLS, Phase, RELEASES, STICKS};
use crate::profile::trim::{StickTrim, TriggerTrim, Trim};
use std::f64::consts::{FRAC_PI_4, FRAC_PI_8, PI, TAU};
use std::fmt;
use stillhand_engine::input::Control;
use stillhand_engine::time::Span;

/// The least rest zone: a step and a half of an 8-bit stick (1/127.5), so that the last bit moves nothing.
/// The kernel's `fuzz` of common drivers is as much (255 of 32767).
pub const LEAST_REST: f64 = 0.012;
/// The least deadband in a profile: what a thumb that rests on the stick does (common practice).
pub const LEAST_DEADBAND: f64 = 0.03;
/// A stick that rests in a wider zone, or farther off its middle, is not to be steered with.
const MOST_REST: f64 = 0.20;
const MOST_OFF: f64 = 0.25;
/// Fewer releases than half of what is asked for tell too little of where it comes to rest.
const LEAST_RELEASES: usize = RELEASES / 2;
/// Rest that is too short for the noise.
const LEAST_RESTED: Span = Span::from_millis(2_000);
const LEAST_LAPS: usize = 2;
const LEAST_PULLS: usize = PULLS - 1;
/// A stick that gets less far from its centre than this was not pushed to its end, or is broken.
const LEAST_REACH: f64 = 0.5;
/// Pulls that differ by more were not all to the end.
const LIKE: f64 = 0.85;
/// A corner that gets less far than this share of the farthest one is missing.
const MISSING: f64 = 0.85;
/// How much of what every lap reached a full stick needs: a twentieth is left for a lazy thumb.
const OUTER: f64 = 0.95;
/// Bounds on that in a profile: with less, too much of the way is lost.
const LEAST_OUTER: f64 = 0.60;
/// A pad that speaks this often is heard of soon when it is gone; of three words two may be lost.
const WORDS_LOST: u64 = 3;
const SPEAKS_WITHIN: Span = Span::from_millis(3_000);
/// The shortest bound of a pad's silence: that of pads that stream.
const LEAST_BOUND: Span = Span::from_millis(300);

/// Why what was measured can't be trusted.
#[derive(Clone, Debug, PartialEq)]
pub enum Doubt {
    /// The pad was pulled meanwhile.
    Gone,
    /// The course was not gone through to its end.
    Unfinished(Phase),
    /// No stick and no trigger was used.
    Nothing,
    /// A stick was let go too seldom.
    Releases(&'static str, usize),
    /// A stick was not left alone.
    NoRest(&'static str),
    /// A stick did not go round.
    Laps(&'static str, f64),
    /// A direction does not come back to one place.
    Loose(Control, f64),
    /// A direction rests too far off.
    Off(Control, f64),
    /// A direction does not reach far enough, to this reading.
    Reach(Control, f64),
    /// A trigger was pulled too seldom, or not to the end each time.
    Pulls(Control),
    /// A trigger has no way between rest and full.
    NoWay(Control),
}

impl fmt::Display for Doubt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let pc = |x: f64| 100.0 * x;
        match self {
            Doubt::Gone => write!(f, "the pad went away: plug it in firmly and begin again"),
            Doubt::Unfinished(phase) => {
                write!(f, "it ended in {}: go through all five parts", phase.name())
            }
            Doubt::Nothing => write!(f, "no stick and no trigger was moved"),
            Doubt::Releases(stick, n) => write!(
                f,
                "the {stick} stick was let go {n} times: {RELEASES} are asked for, and \
                 {LEAST_RELEASES} needed"
            ),
            Doubt::NoRest(stick) => write!(
                f,
                "the {stick} stick was not left alone for {:.0} s in a row",
                LEAST_RESTED.secs()
            ),
            Doubt::Laps(stick, n) => write!(
                f,
                "the {stick} stick went round {n:.1} times: lead it along its rim at least {LEAST_LAPS} \
                 times, one way"
            ),
            Doubt::Loose(control, rest) => write!(
                f,
                "{} comes to rest within {:.0} %, more than {:.0} %: was it let go each time? If so it \
                 is worn out, and no trim makes it safe",
                control.name(),
                pc(*rest),
                pc(MOST_REST)
            ),
            Doubt::Off(control, at) => write!(
                f,
                "{} rests at {:+.0} %, farther off than {:.0} %: was a thumb on it? If not, it is worn \
                 out",
                control.name(),
                pc(*at),
                pc(MOST_OFF)
            ),
            Doubt::Reach(control, end) => write!(
                f,
                "{} got to {:+.0} % and no farther: push it to its end; if that is its end, it is worn out",
                control.name(),
                pc(*end)
            ),
            Doubt::Pulls(control) => write!(
                f,
                "{} was not pulled to its end and let go {LEAST_PULLS} times",
                control.name()
            ),
            Doubt::NoWay(control) => write!(
                f,
                "{} has too little way between rest and full: it is worn out",
                control.name()
            ),
        }
    }
}

/// How a stick's rim is shaped.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Gate {
    /// Corners are as far out as ends.
    Round,
    /// Between the two.
    Rounded,
    /// Corners are farther out, up to both ends at once.
    Square,
}

impl Gate {
    /// The word screens use.
    pub const fn name(self) -> &'static str {
        match self {
            Gate::Round => "round",
            Gate::Rounded => "between round and square",
            Gate::Square => "square",
        }
    }
}

/// What was found of one direction of a stick.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Direction {
    /// Which.
    pub control: Control,
    /// The trim.
    pub trim: StickTrim,
    /// Half of what its readings covered while nobody touched it.
    pub noise: f64,
    /// Half of what lies between the places it came back to.
    pub scatter: f64,
    /// The standard deviation of those.
    pub deviation: f64,
}

/// What was found of a stick.
#[derive(Clone, Debug, PartialEq)]
pub struct Stick {
    /// `left` or `right`.
    pub name: &'static str,
    /// Its directions, across and up.
    pub directions: [Direction; 2],
    /// How often it was let go.
    pub releases: usize,
    /// Where it came back to each time.
    pub returns: Vec<(f64, f64)>,
    /// How often it went round.
    pub laps: f64,
    /// The shape of its rim.
    pub gate: Gate,
    /// Corners it does not get to, and how far it gets of what it does in the farthest.
    pub missing: Vec<(&'static str, f64)>,
    /// Some points of its way round.
    pub way_round: Vec<(f64, f64)>,
}

/// What was found of a trigger.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trigger {
    /// Which.
    pub control: Control,
    /// The trim.
    pub trim: TriggerTrim,
    /// How often it was pulled.
    pub pulls: usize,
}

/// Everything that was found of a pad.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// The trim.
    pub trim: Trim,
    /// The sticks that were used.
    pub sticks: Vec<Stick>,
    /// The triggers that were used.
    pub triggers: Vec<Trigger>,
    /// How often it speaks while a stick is held, if one was.
    pub life: Option<Life>,
    /// The deadband that is enough in a profile, with this trim.
    pub deadband: f64,
    /// The outer zone, as a profile's saturation, at which every lap was full.
    pub saturation: f64,
}

impl Life {
    /// The silence after which this pad is gone: of three words two may be lost. `None` if it says too
    /// little while a stick is held for its silence to mean anything.
    pub fn bound(&self) -> Option<Span> {
        let bound = Span(self.longest.0 * WORDS_LOST);
        let speaks = self.words > 0 && self.longest <= SPEAKS_WITHIN;
        speaks.then(|| Span(bound.0.max(LEAST_BOUND.0)))
    }
}

/// Judges a course that is over, or was broken off.
///
/// # Errors
/// Every reason why what was measured can't be trusted; then nothing of it should be kept.
pub fn judge(course: &Course) -> Result<Found, Vec<Doubt>> {
    if course.gone {
        return Err(vec![Doubt::Gone]);
    }
    if let Some(phase) = course.phase {
        return Err(vec![Doubt::Unfinished(phase)]);
    }
    let mut doubts = Vec::new();
    let named = course.sticks.iter().zip(["left", "right"]).zip(STICKS);
    let used = named.filter(|((run, _), _)| run.is_used());
    let sticks: Vec<Stick> = used
        .filter_map(|((run, name), controls)| stick(run, name, controls, &mut doubts))
        .collect();
    let named = course.triggers.iter().zip(Trim::TRIGGERS);
    let triggers: Vec<Trigger> = named
        .filter_map(|(run, control)| trigger(run, control, &mut doubts))
        .collect();
    if doubts.is_empty() && sticks.is_empty() && triggers.is_empty() {
        doubts.push(Doubt::Nothing);
    }
    if !doubts.is_empty() {
        return Err(doubts);
    }
    let mut trim = Trim::default();
    for direction in sticks.iter().flat_map(|stick| &stick.directions) {
        trim.set_stick(direction.control, direction.trim);
    }
    for trigger in &triggers {
        trim.set_trigger(trigger.control, trigger.trim);
    }
    Ok(Found {
        deadband: deadband(&sticks),
        saturation: saturation(&course.sticks),
        life: (course.life.held > Span::ZERO).then_some(course.life),
        trim,
        sticks,
        triggers,
    })
}

fn stick(
    run: &StickRun,
    name: &'static str,
    controls: [Control; 2],
    doubts: &mut Vec<Doubt>,
) -> Option<Stick> {
    let before = doubts.len();
    let releases = run.returns().len();
    if releases < LEAST_RELEASES {
        doubts.push(Doubt::Releases(name, releases));
    }
    if run.rested() < LEAST_RESTED {
        doubts.push(Doubt::NoRest(name));
    }
    if run.whole_laps().len() < LEAST_LAPS {
        doubts.push(Doubt::Laps(name, run.laps()));
    }
    if doubts.len() > before {
        return None;
    }
    let [across, up] = [0, 1].map(|place| direction(run, place, controls[place], doubts));
    let directions = [across?, up?];
    let (gate, missing) = rim(run, directions.map(|d| d.trim));
    let mean = |returned: &[Spread; 2]| (returned[0].mean().0, returned[1].mean().0);
    Some(Stick {
        name,
        directions,
        releases,
        returns: run.returns().iter().map(mean).collect(),
        laps: run.laps(),
        gate,
        missing,
        way_round: run.way_round().to_vec(),
    })
}

fn direction(
    run: &StickRun,
    place: usize,
    control: Control,
    doubts: &mut Vec<Doubt>,
) -> Option<Direction> {
    let (low, high) = run.extremes(place)?;
    let centre = (low + high) / 2.0;
    let rest = (wider(run.returns().len()) * (high - low) / 2.0).max(LEAST_REST);
    // What some lap reached: a thumb that cut one corner has not made the stick shorter.
    let laps = run.whole_laps().iter().map(|lap| lap[place]);
    let [minus, plus] = laps.reduce(|a, b| [a[0].min(b[0]), a[1].max(b[1])])?;
    let before = doubts.len();
    if rest > MOST_REST {
        doubts.push(Doubt::Loose(control, rest));
    } else if centre.abs() > MOST_OFF {
        doubts.push(Doubt::Off(control, centre));
    }
    for end in [minus, plus] {
        if (end - centre).abs() < LEAST_REACH {
            doubts.push(Doubt::Reach(control, end));
        }
    }
    let trim = StickTrim::new(centre, rest, minus, plus);
    if trim.is_none() && doubts.len() == before {
        // Only a zone that leaves no way is left as a reason.
        doubts.push(Doubt::Loose(control, rest));
    }
    if doubts.len() > before {
        return None;
    }
    let mut places = Spread::default();
    for returned in run.returns() {
        places.add(returned[place].mean().0, 1.0);
    }
    Some(Direction {
        control,
        trim: trim?,
        noise: run.rest()[place].half(),
        scatter: places.half(),
        deviation: places.mean().1,
    })
}

/// How much wider than what `n` releases covered the rest zone is: all that will come go farther. From an
/// even distribution they cover (n - 1) / (n + 1) of it in the mean (order statistics; from memory).
fn wider(n: usize) -> f64 {
    let n = n as f64;
    (n + 1.0) / (n - 1.0)
}

fn trigger(run: &TriggerRun, control: Control, doubts: &mut Vec<Doubt>) -> Option<Trigger> {
    let pulls = run.pulls();
    if pulls.is_empty() {
        return None;
    }
    let farthest = pulls.iter().copied().fold(0.0, f64::max);
    // A last one that was half a pull is a finger taken off.
    let full: Vec<f64> = pulls
        .iter()
        .copied()
        .filter(|pull| *pull >= LIKE * farthest)
        .collect();
    if full.len() < LEAST_PULLS {
        doubts.push(Doubt::Pulls(control));
        return None;
    }
    let least = full.iter().copied().fold(1.0, f64::min);
    let rest = run.backs().iter().copied().fold(0.0, f64::max);
    let trim = TriggerTrim::new(rest, least);
    if trim.is_none() {
        doubts.push(Doubt::NoWay(control));
    }
    Some(Trigger {
        control,
        trim: trim?,
        pulls: pulls.len(),
    })
}

/// The corners of a rim, from the upper right one on counter-clockwise.
const CORNERS: [&str; 4] = [
    "up and right",
    "up and left",
    "down and left",
    "down and right",
];

/// The shape of a rim, and what of it is missing, where each end of its way counts as 1: how far it gets
/// there, the table of reaches says.
fn rim(run: &StickRun, [x, y]: [StickTrim; 2]) -> (Gate, Vec<(&'static str, f64)>) {
    let share = |trim: StickTrim, off: f64| {
        let end = if off > 0.0 { trim.plus() } else { trim.minus() };
        off / (end - trim.centre()).abs()
    };
    let rim = run.rim().map(|(dx, dy)| (share(x, dx), share(y, dy)));
    let reach = |corner: usize| {
        let middle = FRAC_PI_4 * (2 * corner + 1) as f64;
        let off = |(x, y): &(f64, f64)| (y.atan2(*x) - middle + PI).rem_euclid(TAU) - PI;
        let near = rim
            .iter()
            .filter(|point| off(point).abs() < FRAC_PI_8 / 2.0);
        near.map(|(x, y)| x.hypot(*y)).fold(0.0, f64::max)
    };
    let reaches = [0, 1, 2, 3].map(reach);
    let farthest = reaches.into_iter().fold(0.0, f64::max);
    // Round: 1; square: the square root of 2. Pads lie anywhere between.
    let gate = match farthest {
        shape if shape < 1.10 => Gate::Round,
        shape if shape < 1.25 => Gate::Rounded,
        _ => Gate::Square,
    };
    let corners = CORNERS.into_iter().zip(reaches.map(|r| r / farthest));
    (
        gate,
        corners.filter(|(_, share)| *share < MISSING).collect(),
    )
}

/// The least deadband of a profile with this trim. The rest zone is taken out before: what is left for a
/// deadband is the thumb, and half a zone more for a stick that wears until it is measured again.
fn deadband(sticks: &[Stick]) -> f64 {
    let wear = sticks.iter().flat_map(|stick| &stick.directions);
    let wear = wear.map(|d| d.trim.rest() / 2.0).fold(0.0, f64::max);
    half_percent_up(wear.max(LEAST_DEADBAND))
}

/// The highest saturation of a profile that every lap reached on both sides of both directions.
fn saturation(runs: &[StickRun; 2]) -> f64 {
    let mut least: f64 = 1.0;
    for (run, place) in runs.iter().flat_map(|run| [(run, 0), (run, 1)]) {
        let centre = run.middle(place);
        let laps = || run.whole_laps().iter().map(move |lap| lap[place]);
        for side in 0..2 {
            let reach = || laps().map(|lap| (lap[side] - centre).abs());
            let (low, high) = (reach().fold(1.0, f64::min), reach().fold(0.0, f64::max));
            if high > 0.0 {
                least = least.min(low / high);
            }
        }
    }
    let outer = (OUTER * least).max(LEAST_OUTER);
    (100.0 * outer + 1e-9).floor() / 100.0
}

fn half_percent_up(x: f64) -> f64 {
    (200.0 * x - 1e-9).ceil() / 200.0
}
