//! Where a plan lies in a recording: how much earlier the recorder was started, and how its clock runs.
//!
//! What is expected is only that moving is louder than not moving. First each frame of the plan has a
//! rank, nothing for rest and more for more speed, and the ranks are correlated with the levels of the
//! frames. At the best of those places it is asked how loud each step would be there, and whether the
//! recording goes up and down as these steps begin and end. The rhythm at the beginning and at the end
//! makes one place stand out; that all of the ladder takes part makes it safe against a door, and
//! against marks that nobody hears.

use super::envelope::{Envelope, FRAME_S};
use super::plan::{Does, Plan, Step};

/// Frames that are taken together for the first search.
const COARSE: usize = 5;
/// The recorder may have been started so much after the plan began, in s: the end of the room tone is
/// still there then.
const LATEST_START_S: f64 = 8.0;
/// How much longer a recording gets by a header with a wrong rate: 44.1 for 48 kHz, and half or double.
const OTHER_RATES: [f64; 4] = [48.0 / 44.1, 44.1 / 48.0, 2.0, 0.5];
/// A correlation that leaves no doubt.
const SURE_MATCH: f64 = 0.72;
/// A correlation of the whole ladder below this is no ladder.
pub const LEAST_MATCH: f64 = 0.3;
/// One of the pattern by itself, at the beginning and at the end, below this is no pattern. The ladder of
/// another plan, or the place one rung off, may well fit the ladder; the pattern it does not.
const LEAST_PATTERN: f64 = 0.45;
/// A stretch of the ladder by itself, of so many steps, where it is loud: asked for where the whole leaves
/// doubt. A cough in a quiet stretch may bring it down.
const LEAST_STRETCH: f64 = 0.4;
const STRETCH_STEPS: usize = 8;
/// Loud is what differs by more than this from its mean, in dB.
const LOUD_DB: f64 = 1.5;
/// Before and after a pattern or stretch as much is looked at, in s.
const ABOUT_S: f64 = 0.8;
/// Places that are looked at more closely.
const CANDIDATES: usize = 6;
/// The next best place, at least [`APART_S`] away, must be this much worse.
const LEAST_LEAD: f64 = 0.05;
/// Places nearer to each other than this are the same, in s.
const APART_S: f64 = 1.0;
/// A place is looked for so near to a candidate, in s.
const NEAR_S: f64 = 0.3;
/// What changes more slowly than in this time is taken out, in s: two rungs and their pauses.
const SLOW_S: f64 = 12.0;
/// The largest difference of clocks that is looked for, in millionths. Crystals are within 100.
const MOST_DRIFT_PPM: f64 = 120.0;
/// Steps of it.
const DRIFT_STEP_PPM: f64 = 10.0;
/// What a drift of 100 millionths must gain in correlation to be believed; twice that, four times as much.
const DRIFT_DOUBT: f64 = 0.002;
/// Levels are means over so many frames: those of single ones differ too much by chance.
const SMOOTH: usize = 11;
/// Levels that are higher than the loudest step by this, in dB, are something else.
const LOUDER_DB: f32 = 2.0;
/// Levels above the quiet parts are taken up to here, in dB: a door is no louder than a fast move.
const MOST_ABOVE_DB: f32 = 25.0;
/// The rank of a move at the slowest speed; the fastest has 1. One that is heard at all is far from rest.
const SLOWEST_RANK: f64 = 0.15;
/// The middle part of a step tells how loud it is: this share is left out at either end.
const EDGE: f64 = 0.3;

/// Where the plan lies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Seconds of the recording at which the plan begins; below 0 if the recorder was started after it.
    pub offset_s: f64,
    /// Seconds of the recording for each second of the plan, less 1, in millionths.
    pub drift_ppm: f64,
    /// The correlation, up to 1.
    pub matched: f64,
}

impl Place {
    /// Seconds of the recording for a second of the plan.
    pub fn of(&self, plan_s: f64) -> f64 {
        self.offset_s + plan_s * (1.0 + self.drift_ppm * 1e-6)
    }
}

/// Why there is no place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Lost {
    /// The recording ends before the plan could: its length and the plan's, in s.
    TooShort(f64, f64),
    /// Nothing in it looks like this plan; the best correlation there is.
    Nowhere(f64),
    /// Two places look alike, in s of the recording.
    TwoPlaces(f64, f64),
    /// It fits if time runs otherwise: seconds of the plan for each second of the recording.
    OtherRate(f64),
}

/// Finds a plan.
///
/// # Errors
///
/// Why it was not found.
pub fn locate(plan: &Plan, envelope: &Envelope) -> Result<Place, Lost> {
    let levels = above_quiet(&envelope.levels());
    match search(plan, &levels, 1.0) {
        Ok(place) => Ok(place),
        // A wrong rate in the header makes everything faster or slower by one of these.
        Err(lost) => {
            let fits = |stretch: &f64| {
                search(plan, &levels, *stretch).is_ok_and(|place| place.matched > SURE_MATCH)
            };
            let other = OTHER_RATES.into_iter().find(fits);
            Err(other.map_or(lost, Lost::OtherRate))
        }
    }
}

/// How well a plan fits where it is said to begin, in s of the recording: the correlation, up to 1.
pub fn likeness(plan: &Plan, envelope: &Envelope, begins_s: f64) -> f64 {
    let levels = above_quiet(&envelope.levels());
    let lag = (begins_s / FRAME_S).round() as isize;
    let (expected, changes) = held(plan, FRAME_S, &levels, lag);
    correlation(&expected, &changes, |n| n as isize + lag)
}

/// The ladder as loud as it would be at `lag`, and the levels no louder than that; of both what changes quickly.
fn held(plan: &Plan, frame_s: f64, levels: &[f32], lag: isize) -> (Vec<f32>, Vec<f32>) {
    let louder = louder(plan, frame_s, levels, lag);
    let most = louder.iter().copied().fold(0.0, f32::max) + LOUDER_DB;
    let levels: Vec<f32> = levels.iter().map(|level| level.min(most)).collect();
    (without_slow(&louder), without_slow(&levels))
}

/// Levels above what the quietest tenth has, from 0 to [`MOST_ABOVE_DB`].
fn above_quiet(levels: &[f32]) -> Vec<f32> {
    let mut sorted = levels.to_vec();
    sorted.sort_by(f32::total_cmp);
    let quiet = sorted.get(sorted.len() / 10).copied().unwrap_or(0.0);
    let above = |level: &f32| (level - quiet).clamp(0.0, MOST_ABOVE_DB);
    smooth(&levels.iter().map(above).collect::<Vec<_>>())
}

/// `stretch` is seconds of the recording for each of the plan, roughly.
fn search(plan: &Plan, levels: &[f32], stretch: f64) -> Result<Place, Lost> {
    let frame = FRAME_S / stretch;
    let heard = levels.len() as f64 * FRAME_S;
    let too_short = Err(Lost::TooShort(heard, plan.lasts()));
    if heard < last_moving(plan) * stretch - LATEST_START_S {
        return too_short;
    }
    let held = |lag: isize| held(plan, frame, levels, lag);
    let mut places: Vec<Found> = candidates(&ranks(plan, frame), levels)
        .into_iter()
        .map(|lag| {
            let (expected, changes) = held(lag);
            let (lag, ladder) = best_near(&expected, &changes, lag);
            let (expected, changes) = held(lag);
            let fits = |parts: &[(f64, f64)], loud_db: f64| {
                parts_fit(parts, loud_db, frame, &expected, &changes, lag)
            };
            Found {
                lag,
                ladder,
                pattern: fits(&patterns(plan), 0.0),
                stretch: fits(&stretches(plan), LOUD_DB),
            }
        })
        .collect();
    places.sort_by(|a, b| b.score().total_cmp(&a.score()));
    let Some(best) = places.first() else {
        return too_short;
    };
    let doubtful = best.ladder < SURE_MATCH && best.stretch < LEAST_STRETCH;
    if best.ladder < LEAST_MATCH || best.pattern < LEAST_PATTERN || doubtful {
        return Err(Lost::Nowhere(best.ladder.min(best.pattern)));
    }
    let apart = |other: &&Found| (other.lag - best.lag).unsigned_abs() as f64 * FRAME_S > APART_S;
    if let Some(other) = places.iter().find(apart)
        && other.score() > best.score() - LEAST_LEAD
    {
        let seconds = |found: &Found| found.lag as f64 * FRAME_S;
        return Err(Lost::TwoPlaces(seconds(best), seconds(other)));
    }
    let (expected, changes) = held(best.lag);
    let (offset, drift, matched) = fine(&expected, &changes, best.lag);
    if drift.abs() > MOST_DRIFT_PPM - DRIFT_STEP_PPM / 2.0 {
        return Err(Lost::Nowhere(matched));
    }
    Ok(Place {
        offset_s: offset * FRAME_S,
        drift_ppm: (stretch - 1.0) * 1e6 + drift,
        matched,
    })
}

/// A place and how well it fits, up to 1 each.
struct Found {
    /// In frames.
    lag: isize,
    /// All of it.
    ladder: f64,
    /// The worst of the patterns.
    pattern: f64,
    /// The worst of the stretches of the ladder that are loud enough to tell.
    stretch: f64,
}

impl Found {
    fn score(&self) -> f64 {
        (self.ladder + self.pattern) / 2.0
    }
}

/// From when to when patterns are, in s of the plan.
fn patterns(plan: &Plan) -> Vec<(f64, f64)> {
    let mut groups: Vec<(f64, f64)> = Vec::new();
    let mut open = false;
    for step in &plan.steps {
        let mark = matches!(step.does, Does::Mark(_));
        match groups.last_mut() {
            Some(group) if mark && open => group.1 = step.ends(),
            _ if mark => groups.push((step.at, step.ends())),
            _ => {}
        }
        open = mark;
    }
    groups
}

/// The ladder in parts of some steps.
fn stretches(plan: &Plan) -> Vec<(f64, f64)> {
    let ladder = |step: &&Step| step.does.moving().is_some() && !matches!(step.does, Does::Mark(_));
    let steps: Vec<&Step> = plan.steps.iter().filter(ladder).collect();
    let part = |part: &[&Step]| Some((part.first()?.at, part.last()?.ends()));
    steps.chunks(STRETCH_STEPS).filter_map(part).collect()
}

/// How well the worst of some parts fits at `lag` by itself. One that differs by less
/// than `loud_db` from its mean is not asked.
fn parts_fit(
    parts: &[(f64, f64)],
    loud_db: f64,
    frame_s: f64,
    expected: &[f32],
    levels: &[f32],
    lag: isize,
) -> f64 {
    let fits = parts.iter().map(|(from, to)| {
        let frame = |t: f64| ((t / frame_s).max(0.0) as usize).min(expected.len());
        let (from, to) = (frame(from - ABOUT_S), frame(to + ABOUT_S));
        let part = &expected[from..to];
        let count = part.len().max(1) as f64;
        let mean = part.iter().map(|x| f64::from(*x)).sum::<f64>() / count;
        let spread = part
            .iter()
            .map(|x| (f64::from(*x) - mean).powi(2))
            .sum::<f64>()
            / count;
        match spread < loud_db * loud_db {
            true => 1.0,
            false => correlation(part, levels, |n| (n + from) as isize + lag),
        }
    });
    fits.fold(1.0, f64::min)
}

fn last_moving(plan: &Plan) -> f64 {
    let moving = plan
        .steps
        .iter()
        .filter(|step| step.does.moving().is_some());
    moving.map(|step| step.ends()).fold(0.0, f64::max)
}

/// The rank of each frame of the plan.
fn ranks(plan: &Plan, frame_s: f64) -> Vec<f32> {
    let mut ranks = vec![0.0; (plan.lasts() / frame_s).ceil() as usize + 1];
    let range = |axis: usize| {
        let moves = plan.steps.iter().filter_map(|step| step.does.moving());
        let speeds = moves.filter(move |m| m.axis == axis).map(|m| m.speed);
        speeds.fold((f64::INFINITY, 0.0f64), |(low, high), s| {
            (low.min(s), high.max(s))
        })
    };
    let ranges: Vec<(f64, f64)> = (0..plan.axes.len()).map(range).collect();
    for step in &plan.steps {
        let Some(m) = step.does.moving() else {
            continue;
        };
        let (low, high) = ranges[m.axis];
        let from = (step.at / frame_s) as usize;
        let to = ((step.ends() / frame_s).ceil() as usize).min(ranks.len());
        for (n, rank) in ranks.iter_mut().enumerate().take(to).skip(from) {
            let t = (n as f64 + 0.5) * frame_s - step.at;
            let speed = m.share(t, step.lasts) * m.speed;
            if speed <= 0.0 {
                continue;
            }
            // Levels go with the logarithm of speed.
            let share = match high > low {
                true => (speed / low).ln() / (high / low).ln(),
                false => 1.0,
            };
            let share = match step.does {
                Does::Mark(_) => share.max(0.5),
                _ => share,
            };
            *rank = (SLOWEST_RANK + (1.0 - SLOWEST_RANK) * share).max(0.0) as f32;
        }
    }
    ranks
}

/// How much louder than the quiet parts each frame of the plan is if it lies at `lag`, in dB.
fn louder(plan: &Plan, frame_s: f64, levels: &[f32], lag: isize) -> Vec<f32> {
    let mut louder = vec![0.0; (plan.lasts() / frame_s).ceil() as usize + 1];
    for (step, level) in plan
        .steps
        .iter()
        .zip(step_levels(plan, frame_s, levels, lag))
    {
        let Some(m) = step.does.moving() else {
            continue;
        };
        let own = 10f64.powf(f64::from(level) / 10.0) - 1.0;
        let (from, to) = (step.at / frame_s, step.ends() / frame_s);
        for n in from as usize..=to as usize {
            let share = m.share((n as f64 + 0.5) * frame_s - step.at, step.lasts);
            let energy = 1.0 + own.max(0.0) * share * share;
            if let Some(frame) = louder.get_mut(n) {
                *frame = (10.0 * energy.log10()) as f32;
            }
        }
    }
    smooth(&louder)
}

/// How loud each step is, told from its middle: of it and of its neighbours of the same kind the one in
/// between, so that no cough is taken for a step.
fn step_levels(plan: &Plan, frame_s: f64, levels: &[f32], lag: isize) -> Vec<f32> {
    let single: Vec<f32> = plan
        .steps
        .iter()
        .map(|step| {
            let frame = |t: f64| ((t / frame_s).round() as isize + lag).max(0) as usize;
            let edge = EDGE * step.lasts;
            let middle = frame(step.at + edge)..frame(step.ends() - edge);
            let middle = levels.get(middle).unwrap_or_default();
            middle.iter().sum::<f32>() / middle.len().max(1) as f32
        })
        .collect();
    let kind = |does: &Does| (std::mem::discriminant(does), does.moving().map(|m| m.axis));
    let mut kinds: Vec<(_, Vec<usize>)> = Vec::new();
    for (n, step) in plan.steps.iter().enumerate() {
        let own = kind(&step.does);
        match kinds.iter_mut().find(|(other, _)| *other == own) {
            Some((_, members)) => members.push(n),
            None => kinds.push((own, vec![n])),
        }
    }
    let mut all = single.clone();
    for (_, members) in &kinds {
        for (i, n) in members.iter().enumerate() {
            let near = &members[i.saturating_sub(1)..(i + 2).min(members.len())];
            let mut near: Vec<f32> = near.iter().map(|n| single[*n]).collect();
            near.sort_by(f32::total_cmp);
            // Of two, the lower.
            all[*n] = near[(near.len() - 1) / 2];
        }
    }
    all
}

/// Means over [`SMOOTH`] frames.
fn smooth(frames: &[f32]) -> Vec<f32> {
    let mean = moving_mean(frames, SMOOTH / 2);
    (0..frames.len()).map(|n| mean(n) as f32).collect()
}

/// The mean of the frames about one, so many on either side.
fn moving_mean(frames: &[f32], half: usize) -> impl Fn(usize) -> f64 {
    let mut sums = vec![0.0f64];
    for frame in frames {
        sums.push(sums.last().copied().unwrap_or(0.0) + f64::from(*frame));
    }
    let count = frames.len();
    move |n| {
        let (from, to) = (n.saturating_sub(half), (n + half + 1).min(count));
        (sums[to] - sums[from]) / (to - from) as f64
    }
}

/// What changes within [`SLOW_S`]: each frame less the mean about it.
fn without_slow(frames: &[f32]) -> Vec<f32> {
    let mean = moving_mean(frames, (SLOW_S / FRAME_S / 2.0) as usize);
    let frames = frames.iter().enumerate();
    frames.map(|(n, frame)| frame - mean(n) as f32).collect()
}

/// Places worth a closer look, in frames, the likeliest first.
fn candidates(ranks: &[f32], levels: &[f32]) -> Vec<isize> {
    let mean = |part: &[f32]| part.iter().sum::<f32>() / part.len() as f32;
    let coarse =
        |frames: &[f32]| -> Vec<f32> { without_slow(frames).chunks(COARSE).map(mean).collect() };
    let moves = |rank: &f32| *rank > 0.0;
    let first = ranks.iter().position(moves).unwrap_or(0) as isize / COARSE as isize;
    let last = ranks.iter().rposition(moves).unwrap_or(0) as isize / COARSE as isize;
    let (ranks, levels) = (coarse(ranks), coarse(levels));
    // What moves first must be there.
    let earliest = ((LATEST_START_S / FRAME_S) as isize / COARSE as isize).min(first);
    let latest = (levels.len() as isize - last).max(-earliest);
    let mut all: Vec<(isize, f64)> = (-earliest..=latest)
        .map(|lag| (lag, correlation(&ranks, &levels, |n| n as isize + lag)))
        .collect();
    all.sort_by(|a, b| b.1.total_cmp(&a.1));
    let apart = (NEAR_S / FRAME_S) as isize / COARSE as isize;
    let mut chosen: Vec<isize> = Vec::new();
    for (lag, _) in all {
        if chosen.iter().all(|other| (other - lag).abs() > apart) {
            chosen.push(lag);
        }
        if chosen.len() == CANDIDATES {
            break;
        }
    }
    chosen.iter().map(|lag| lag * COARSE as isize).collect()
}

/// The best place about `lag`, with clocks alike.
fn best_near(expected: &[f32], levels: &[f32], lag: isize) -> (isize, f64) {
    let near = (NEAR_S / FRAME_S) as isize;
    (lag - near..=lag + near)
        .map(|lag| (lag, correlation(expected, levels, |n| n as isize + lag)))
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .unwrap_or((lag, 0.0))
}

/// Offset in frames, drift in millionths and correlation, near a place.
fn fine(expected: &[f32], levels: &[f32], lag: isize) -> (f64, f64, f64) {
    let mut best = (lag as f64, 0.0, 0.0, f64::MIN);
    let steps = (MOST_DRIFT_PPM / DRIFT_STEP_PPM) as i32;
    let near = (NEAR_S / FRAME_S) as isize / 2;
    for step in -steps..=steps {
        let drift = f64::from(step) * DRIFT_STEP_PPM;
        for lag in lag - near..=lag + near {
            let at = |n: usize| n as isize + lag + (n as f64 * drift * 1e-6).round() as isize;
            let matched = correlation(expected, levels, at);
            let believed = matched - DRIFT_DOUBT * (drift / 100.0).powi(2);
            if believed > best.3 {
                best = (lag as f64, drift, matched, believed);
            }
        }
    }
    (best.0, best.1, best.2)
}

/// The correlation of what is expected with the levels at `at` of each frame, over those there are.
fn correlation(expected: &[f32], levels: &[f32], at: impl Fn(usize) -> isize) -> f64 {
    let (mut n, mut x, mut y, mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0);
    for (index, e) in expected.iter().enumerate() {
        let Some(level) = usize::try_from(at(index))
            .ok()
            .and_then(|at| levels.get(at))
        else {
            continue;
        };
        let (e, level) = (f64::from(*e), f64::from(*level));
        n += 1.0;
        x += e;
        y += level;
        xx += e * e;
        yy += level * level;
        xy += e * level;
    }
    let spread = (n * xx - x * x) * (n * yy - y * y);
    if spread <= 0.0 {
        return 0.0;
    }
    (n * xy - x * y) / spread.sqrt()
}
