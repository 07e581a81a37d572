//! How many frames a line can carry: 8N1, ten bits on the line for each byte.

use serde::Serialize;
use stillhand_engine::rig::Rig;
use stillhand_engine::time::{NANOS_PER_SEC, Span};
use stillhand_wire::frame::frame_len;

/// Start bit, eight data bits, stop bit.
const BITS_PER_BYTE: u64 = 10;

/// Share of the line that velocity frames may fill, in percent: the rest is slack for the handshake
/// and for clocks at both ends that differ.
const SHARE_PERCENT: u64 = 85;

/// The rig's telemetry comes this often.
const TELEMETRY: Span = Span::from_millis(20);

/// A velocity payload of `n` axes: direction, kind, session, sequence, deadline (varints of up to
/// five bytes), count, and up to five bytes for each velocity.
const fn velocity_payload(axes: usize) -> usize {
    2 + 3 * 5 + 1 + 5 * axes
}

/// A telemetry payload of `n` axes: direction, kind, session, clock, applied and accepted, the axes
/// with three numbers of up to five bytes each, and what is told of the whole rig.
const fn telemetry_payload(axes: usize) -> usize {
    2 + 4 * 5 + 1 + 15 * axes + 21
}

/// What the line to a rig carries.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Budget {
    /// Nanoseconds between two velocity frames.
    pub frame_period_ns: u64,
    /// Bytes of the longest velocity frame.
    pub frame_bytes: usize,
    /// Bytes a second the line carries.
    pub line_bytes_per_s: u64,
}

/// Why a rig does not fit its line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DoesNotFit {
    /// Velocity frames would come too seldom for the rig's watchdog.
    Velocity {
        /// Bytes of one frame.
        frame_bytes: usize,
        /// Bytes a second the line carries.
        line_bytes_per_s: u64,
        /// The time between two frames on it.
        period: Span,
        /// The longest time allowed: a third of the watchdog.
        longest: Span,
    },
    /// Telemetry would fill the line back.
    Telemetry {
        /// Bytes a second the telemetry needs.
        needs_bytes_per_s: u64,
        /// Bytes a second the line carries.
        line_bytes_per_s: u64,
    },
}

impl std::fmt::Display for DoesNotFit {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            DoesNotFit::Velocity {
                frame_bytes,
                line_bytes_per_s,
                period,
                longest,
            } => write!(
                f,
                "the line is too slow: a velocity frame has {frame_bytes} bytes, the line carries \
                 {line_bytes_per_s} bytes/s, so a frame could leave every {:.0} ms; the rig's \
                 watchdog needs one every {:.0} ms. Raise `baud` in the rig file and in the rig.",
                period.secs() * 1e3,
                longest.secs() * 1e3
            ),
            DoesNotFit::Telemetry {
                needs_bytes_per_s,
                line_bytes_per_s,
            } => write!(
                f,
                "the line is too slow: the rig's telemetry needs {needs_bytes_per_s} bytes/s, the \
                 line carries {line_bytes_per_s}. Raise `baud` in the rig file and in the rig."
            ),
        }
    }
}

/// Works out how often `rig` can be sent a frame on a line of `baud`, never more often than every
/// `period`, always at a whole number of periods.
///
/// # Errors
/// [`DoesNotFit`] with the numbers.
pub fn budget(rig: &Rig, baud: u32, period: Span) -> Result<Budget, DoesNotFit> {
    let axes = rig.axes.len();
    let line_bytes_per_s = u64::from(baud) / BITS_PER_BYTE;
    let frame_bytes = frame_len(velocity_payload(axes));
    let frame_ns = |bytes: usize| {
        (bytes as u64 * 100 * NANOS_PER_SEC).div_ceil((line_bytes_per_s * SHARE_PERCENT).max(1))
    };
    let needs_bytes_per_s = frame_len(telemetry_payload(axes)) as u64 * NANOS_PER_SEC / TELEMETRY.0;
    let periods = frame_ns(frame_bytes).div_ceil(period.0).max(1);
    let frame_period_ns = periods * period.0;
    let longest = Span(rig.watchdog.0 / 3);
    if frame_period_ns > longest.0.max(period.0) {
        let period = Span(frame_period_ns);
        return Err(DoesNotFit::Velocity {
            frame_bytes,
            line_bytes_per_s,
            period,
            longest,
        });
    }
    if needs_bytes_per_s * 100 > line_bytes_per_s * SHARE_PERCENT {
        return Err(DoesNotFit::Telemetry {
            needs_bytes_per_s,
            line_bytes_per_s,
        });
    }
    Ok(Budget {
        frame_period_ns,
        frame_bytes,
        line_bytes_per_s,
    })
}
