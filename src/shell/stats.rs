//! How punctual the loop was and what the axes did: numbers for the summary, without allocation.

use serde::Serialize;
use stillhand_engine::output::{AxisStatus, Ceiling};
use stillhand_engine::time::Span;

/// Lateness up to this many microseconds is counted to the microsecond.
const FINE_US: usize = 4_096;
/// Lateness beyond is counted to the millisecond, up to this many.
const COARSE_MS: usize = 1_024;

/// Counts how late the ticks were.
#[derive(Clone, Debug)]
pub struct Lateness {
    fine: Vec<u32>,
    coarse: Vec<u32>,
    count: u64,
    /// Periods that were skipped because a tick came more than one period late.
    pub overruns: u64,
    most_skipped: u64,
}

impl Default for Lateness {
    fn default() -> Lateness {
        Lateness {
            fine: vec![0; FINE_US],
            coarse: vec![0; COARSE_MS],
            count: 0,
            overruns: 0,
            most_skipped: 0,
        }
    }
}

impl Lateness {
    /// Counts a tick that was this late.
    pub fn add(&mut self, late: Span) {
        let us = (late.0 / 1_000) as usize;
        self.count += 1;
        match self.fine.get_mut(us) {
            Some(slot) => *slot += 1,
            None => self.coarse[(us / 1_000).min(COARSE_MS - 1)] += 1,
        }
    }

    /// Counts the periods skipped after a tick, because it came late or took long itself. What a
    /// tick loses while it works is in no tick's lateness: it shows here alone.
    pub fn skip(&mut self, periods: u64) {
        self.overruns += periods;
        self.most_skipped = self.most_skipped.max(periods);
    }

    /// The most periods skipped at one time.
    pub const fn most_skipped(&self) -> u64 {
        self.most_skipped
    }

    /// The lateness that a share of all ticks did not exceed, in microseconds.
    pub fn percentile(&self, share: f64) -> u64 {
        let wanted = (self.count as f64 * share).ceil() as u64;
        let fine = self.fine.iter().enumerate().map(|(us, n)| (us as u64, *n));
        let coarse = self
            .coarse
            .iter()
            .enumerate()
            .map(|(ms, n)| (ms as u64 * 1_000, *n));
        let mut seen = 0;
        for (us, n) in fine.chain(coarse) {
            seen += u64::from(n);
            if n > 0 && seen >= wanted {
                return us;
            }
        }
        0
    }
}

/// What one axis did.
#[derive(Clone, Copy, Debug, Default)]
pub struct AxisRecord {
    /// Length of the way, from the positions the rig told.
    distance: f64,
    told: Option<f64>,
    low: f64,
    high: f64,
    peak_speed: f64,
    peak_accel: f64,
    peak_jerk: f64,
    last_accel: f64,
    bound_s: [f64; Ceiling::ALL.len()],
}

impl AxisRecord {
    /// Takes a position the rig told.
    pub fn told(&mut self, position: f64) {
        match self.told {
            None => (self.low, self.high) = (position, position),
            Some(last) => self.distance += (position - last).abs(),
        }
        self.told = Some(position);
        self.low = self.low.min(position);
        self.high = self.high.max(position);
    }

    /// The next position counts from another place: the way there is none, and low and high begin anew.
    pub fn forget_place(&mut self) {
        self.told = None;
    }

    /// Takes what a tick of `dt` seconds commanded.
    pub fn tick(&mut self, status: &AxisStatus, dt: f64) {
        self.peak_speed = self.peak_speed.max(status.speed.abs());
        self.peak_accel = self.peak_accel.max(status.accel.abs());
        if dt > 0.0 {
            self.peak_jerk = self
                .peak_jerk
                .max((status.accel - self.last_accel).abs() / dt);
        }
        self.last_accel = status.accel;
        if let Some(ceiling) = status.binding.filter(|_| status.demand != 0.0) {
            self.bound_s[ceiling as usize] += dt;
        }
    }

    /// The row of the summary.
    pub fn row(&self, unit: &'static str) -> AxisRow {
        let bound = Ceiling::ALL
            .iter()
            .map(|c| (c.name(), self.bound_s[*c as usize]));
        AxisRow {
            unit,
            distance: self.distance,
            peak_speed: self.peak_speed,
            peak_accel: self.peak_accel,
            peak_jerk: self.peak_jerk,
            low: self.low,
            high: self.high,
            ceilings: bound.filter(|(_, seconds)| *seconds > 0.0).collect(),
        }
    }
}

/// One axis in the summary.
#[derive(Clone, Debug, Serialize)]
pub struct AxisRow {
    /// `deg` or `mm`.
    pub unit: &'static str,
    /// Length of the way, in units.
    pub distance: f64,
    /// Highest commanded speed, units/s.
    pub peak_speed: f64,
    /// Highest commanded acceleration, units/s^2.
    pub peak_accel: f64,
    /// Highest commanded jerk, units/s^3.
    pub peak_jerk: f64,
    /// Lowest position the rig told.
    pub low: f64,
    /// Highest position the rig told.
    pub high: f64,
    /// Seconds for which each ceiling bound while the axis was asked to move.
    pub ceilings: std::collections::BTreeMap<&'static str, f64>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn percentiles_are_exact_below_four_milliseconds() {
        let mut late = Lateness::default();
        for us in 1..=100_u64 {
            late.add(Span::from_micros(us));
        }
        assert_eq!((late.percentile(0.5), late.percentile(0.99)), (50, 99));
        late.add(Span::from_millis(250));
        assert_eq!(late.percentile(1.0), 250_000);
    }

    #[test]
    fn the_longest_skip_is_not_their_sum() {
        let mut late = Lateness::default();
        for periods in [0, 101, 3, 0] {
            late.skip(periods);
        }
        assert_eq!((late.overruns, late.most_skipped()), (104, 101));
    }

    #[test]
    fn the_way_there_and_back_counts_twice() {
        let mut axis = AxisRecord::default();
        for position in [2.0, 5.0, 1.0] {
            axis.told(position);
        }
        let row = axis.row("deg");
        assert_eq!((row.distance, row.low, row.high), (7.0, 1.0, 5.0));
    }
}
