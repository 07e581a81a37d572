//! Law `smooth`.

use crate::breach::{Law, Log};
use crate::facts::higher;
use crate::judge::Now;

/// Share of a limit granted to rounding: differences of speeds near 1000 units/s over 1 ms
/// squared keep about nine digits.
const ROUNDING: f64 = 1e-6;

/// Judges acceleration and jerk of one axis at one frame.
///
/// Bound: the hardest normal set valid since rest; the stop set of the direction while a stop is
/// in force; the landing jerk while acceleration opposes speed. After an interruption (the rig's
/// own stop) a row of frames may start anywhere not faster than the last one ended.
pub(crate) fn frame(now: &Now, log: &mut Log) {
    let (m, q) = (now.motion, now.axis.quantum());
    if m.row == 1 {
        let (v, last) = (m.v[0].abs(), m.v[1].abs());
        // Each with its own remainder: a difference of two is off by up to 2 q.
        if v > last + 2.0 * q || m.v[0] * m.v[1] < 0.0 {
            now.report(
                log,
                Law::Smooth,
                "first speed after an interruption",
                (v, last),
                "/s",
            );
        }
    }
    if m.has_accel() {
        let bound = now.sets.accel_bound(now.axis, m);
        let a = m.a[0].abs();
        if a > bound + m.accel_tol + bound * ROUNDING {
            now.report(log, Law::Smooth, "acceleration", (a, bound), "/s^2");
        }
    }
    if m.has_jerk() {
        let (j, normal) = (m.j.abs(), now.sets.hardest.jerk);
        // The landing allowance costs a division or two: only asked for when it matters.
        if j > normal + m.jerk_tol + normal * ROUNDING {
            let bound = higher(normal, now.sets.jerk_bound(now.axis, m, normal));
            if j > bound + m.jerk_tol + bound * ROUNDING {
                now.report(log, Law::Smooth, "jerk", (j, bound), "/s^3");
            }
        }
    }
}
