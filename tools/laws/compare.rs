//! Laws `same` and `whole`, judged by comparing recorded runs.

use crate::breach::{Breach, Law};
use crate::facts::AxisFacts;
use crate::units::Nanos;

/// The frames of one run.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Trace {
    axes: usize,
    times: Vec<Nanos>,
    speeds: Vec<f64>,
}

impl Trace {
    /// An empty trace of so many axes.
    pub fn new(axes: usize) -> Trace {
        Trace {
            axes,
            ..Trace::default()
        }
    }

    /// Adds a frame; missing axes count as 0, extra ones are left out.
    pub fn push(&mut self, t: Nanos, speeds: &[f64]) {
        self.times.push(t);
        let speeds = speeds.iter().copied().chain(std::iter::repeat(0.0));
        self.speeds.extend(speeds.take(self.axes));
    }

    /// Frames recorded.
    pub fn len(&self) -> usize {
        self.times.len()
    }

    /// Whether nothing was recorded.
    pub fn is_empty(&self) -> bool {
        self.times.is_empty()
    }

    /// Time and speeds of frame `n`.
    pub fn get(&self, n: usize) -> Option<(Nanos, &[f64])> {
        let t = *self.times.get(n)?;
        Some((t, self.speeds.get(n * self.axes..(n + 1) * self.axes)?))
    }
}

/// Law `same`: two runs of the same inputs have the same frames, at the same times, to the bit.
///
/// # Errors
/// The first difference.
pub fn compare_same(a: &Trace, b: &Trace, axes: &[AxisFacts]) -> Result<(), Box<Breach>> {
    equal(Law::Same, a, b, axes, None)
}

/// Law `whole`, a broken file: the run in which it was saved has the same frames, to the bit, as
/// the run in which it was not.
///
/// # Errors
/// The first difference.
pub fn compare_unchanged(
    with_file: &Trace,
    without: &Trace,
    axes: &[AxisFacts],
) -> Result<(), Box<Breach>> {
    equal(Law::Whole, with_file, without, axes, None)
}

/// A change of profile to be judged by [`compare_whole`].
#[derive(Clone, Copy, Debug)]
pub struct Change<'a> {
    /// The run in which the profile changed.
    pub changed: &'a Trace,
    /// The same inputs, the old profile throughout.
    pub old: &'a Trace,
    /// The same inputs, the new profile throughout.
    pub new: &'a Trace,
    /// When the file was saved.
    pub at: Nanos,
    /// How long speeds may take to come over, once the profile has taken effect.
    pub settle: Nanos,
}

/// Law `whole`, a good file: up to the change the run is the old one to the bit; once settled, at
/// any frame every axis goes by the new profile, or (while the change waits) every axis by the
/// old one; and never again by the old once by the new.
///
/// An axis agrees with a run when its speed is within two quanta: each rounding carries up to one.
/// Frames at which old and new agree say nothing. The three runs have the same frame times.
///
/// # Errors
/// The first frame that is neither.
pub fn compare_whole(change: &Change, axes: &[AxisFacts]) -> Result<(), Box<Breach>> {
    equal(
        Law::Whole,
        change.changed,
        change.old,
        axes,
        Some(change.at),
    )?;
    let settled = change.at + change.settle;
    let (mut is_new, mut came_over) = (false, change.at);
    for n in 0..change.changed.len() {
        let (Some((t, found)), Some((_, old)), Some((_, new))) =
            (change.changed.get(n), change.old.get(n), change.new.get(n))
        else {
            return length(Law::Whole, change.changed, change.new);
        };
        if t < settled {
            continue;
        }
        let leaves_old = (0..found.len()).find(|&i| !near(axes, i, found, old));
        let Some(leaver) = leaves_old else {
            let stays = (0..found.len()).find(|&i| !near(axes, i, found, new));
            match stays {
                Some(i) if is_new => {
                    return Err(mixed(
                        t,
                        axes,
                        i,
                        found,
                        new,
                        "the new profile, in force before,",
                    ));
                }
                _ => continue,
            }
        };
        if !is_new {
            (is_new, came_over) = (true, if t == settled { change.at } else { t });
        }
        if t.since(came_over) < change.settle.secs() {
            continue;
        }
        if let Some(i) = (0..found.len()).find(|&i| !near(axes, i, found, new)) {
            let left = axes.get(leaver).map_or("another axis", |a| a.name.as_str());
            let what = if i == leaver {
                "either profile; the new one".to_owned()
            } else {
                format!("the new profile, by which {left} goes,")
            };
            return Err(mixed(t, axes, i, found, new, &what));
        }
    }
    Ok(())
}

fn near(axes: &[AxisFacts], i: usize, found: &[f64], other: &[f64]) -> bool {
    let tolerance = axes
        .get(i)
        .map_or(0.0, |a| 2.0 * a.quantum() * (1.0 + 1e-9));
    match (found.get(i), other.get(i)) {
        (Some(x), Some(y)) => (x - y).abs() <= tolerance,
        _ => false,
    }
}

fn mixed(
    t: Nanos,
    axes: &[AxisFacts],
    i: usize,
    found: &[f64],
    allowed: &[f64],
    by: &str,
) -> Box<Breach> {
    let (found, allowed) = (at(found, i), at(allowed, i));
    let unit = axes.get(i).map_or("", |a| a.unit.name());
    let text = format!("speed {found:.4} {unit}/s, by {by} it is {allowed:.4} {unit}/s");
    Box::new(Breach {
        law: Law::Whole,
        at: t,
        axis: axes.get(i).map(|a| a.name.clone()),
        found,
        allowed,
        text,
    })
}

fn at(speeds: &[f64], i: usize) -> f64 {
    speeds.get(i).copied().unwrap_or(f64::NAN)
}

/// Frame by frame to the bit; only before `until`, if given.
fn equal(
    law: Law,
    a: &Trace,
    b: &Trace,
    axes: &[AxisFacts],
    until: Option<Nanos>,
) -> Result<(), Box<Breach>> {
    let mut n = 0;
    while let (Some((ta, va)), Some((tb, vb))) = (a.get(n), b.get(n)) {
        if until.is_some_and(|until| ta >= until && tb >= until) {
            return Ok(());
        }
        if ta != tb {
            let text = format!("frame {n} at {} ns, in the other run at {} ns", ta.0, tb.0);
            return Err(Box::new(Breach {
                law,
                at: ta,
                axis: None,
                found: ta.secs(),
                allowed: tb.secs(),
                text,
            }));
        }
        if let Some(i) =
            (0..va.len().max(vb.len())).find(|&i| at(va, i).to_bits() != at(vb, i).to_bits())
        {
            let (found, allowed) = (at(va, i), at(vb, i));
            let text = format!(
                "frame {n} speed {found:e} (bits {:016x}), in the other run {allowed:e} (bits {:016x})",
                found.to_bits(),
                allowed.to_bits()
            );
            let axis = axes.get(i).map(|a| a.name.clone());
            return Err(Box::new(Breach {
                law,
                at: ta,
                axis,
                found,
                allowed,
                text,
            }));
        }
        n += 1;
    }
    length(law, a, b)
}

fn length(law: Law, a: &Trace, b: &Trace) -> Result<(), Box<Breach>> {
    if a.len() == b.len() {
        return Ok(());
    }
    let (found, allowed) = (a.len() as f64, b.len() as f64);
    let at = a.times.last().copied().unwrap_or_default();
    let text = format!("{found} frames, in the other run {allowed}");
    Err(Box::new(Breach {
        law,
        at,
        axis: None,
        found,
        allowed,
        text,
    }))
}
