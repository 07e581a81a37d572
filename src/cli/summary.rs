//! What a run did, in the end: as a table, or as the last line of JSON.

use super::words;
use crate::shell::drive::Record;
use crate::shell::stats::AxisRow;
use serde::Serialize;
use std::collections::BTreeMap;
use std::fmt::Write;
use stillhand_engine::rig::Rig;
use stillhand_engine::time::Span;

/// The summary as it is printed with `--json`.
#[derive(Debug, Serialize)]
pub struct Summary<'a> {
    axes: BTreeMap<&'a str, &'a AxisRow>,
    #[serde(rename = "loop")]
    pace: Pace,
    link: LinkRow,
    withheld: Vec<WithheldRow>,
}

#[derive(Debug, Serialize)]
struct Pace {
    rate_hz: f64,
    late_p50_us: u64,
    late_p99_us: u64,
    late_p999_us: u64,
    late_max_us: u64,
    overruns: u64,
    longest_overrun: u64,
}

#[derive(Debug, Serialize)]
struct LinkRow {
    sent: u64,
    lost: u64,
}

#[derive(Debug, Serialize)]
struct WithheldRow {
    at: f64,
    why: &'static str,
}

impl<'a> Summary<'a> {
    /// The summary of a run with `rig`, stepped every `period`.
    pub fn new(record: &'a Record, rig: &'a Rig, period: Span) -> Summary<'a> {
        let names = rig.axes.iter().map(|axis| axis.name.as_str());
        let withheld = record.withheld.iter();
        Summary {
            axes: names.zip(&record.axes).collect(),
            pace: Pace {
                rate_hz: 1.0 / period.secs(),
                late_p50_us: record.lateness.percentile(0.5),
                late_p99_us: record.lateness.percentile(0.99),
                late_p999_us: record.lateness.percentile(0.999),
                late_max_us: record.lateness.percentile(1.0),
                overruns: record.lateness.overruns,
                longest_overrun: record.lateness.most_skipped(),
            },
            link: LinkRow {
                sent: record.traffic.sent,
                lost: record.traffic.lost,
            },
            withheld: withheld
                .map(|(at, state)| WithheldRow {
                    at: *at,
                    why: words::why(*state),
                })
                .collect(),
        }
    }

    /// One line of JSON.
    ///
    /// # Errors
    /// serde's, which a structure of plain numbers and texts does not cause.
    pub fn json(&self) -> Result<String, serde_json::Error> {
        serde_json::to_string(self)
    }

    /// A table for people.
    pub fn table(&self) -> String {
        let mut out = String::new();
        for (name, axis) in &self.axes {
            let bound = axis
                .ceilings
                .iter()
                .map(|(name, s)| format!("{name} {s:.1} s"));
            // Writing to a String can't fail.
            let _ = writeln!(
                out,
                "{name:8} {:9.1} {unit} in all, {:.2} to {:.2} {unit}; at most {:.2} {unit}/s, \
                 {:.1} {unit}/s^2, {:.0} {unit}/s^3{}",
                axis.distance,
                axis.low,
                axis.high,
                axis.peak_speed,
                axis.peak_accel,
                axis.peak_jerk,
                match axis.ceilings.is_empty() {
                    true => String::new(),
                    false => format!("; bound by {}", bound.collect::<Vec<_>>().join(", ")),
                },
                unit = axis.unit
            );
        }
        let _ = writeln!(
            out,
            "loop     {:.0} Hz; half the ticks at most {} us late, 99 of 100 at most {} us; {} overruns",
            self.pace.rate_hz, self.pace.late_p50_us, self.pace.late_p99_us, self.pace.overruns
        );
        let _ = writeln!(
            out,
            "link     {} frames sent, {} lost",
            self.link.sent, self.link.lost
        );
        for row in &self.withheld {
            let _ = writeln!(out, "withheld at {:.2} s: {}", row.at, row.why);
        }
        out
    }
}
