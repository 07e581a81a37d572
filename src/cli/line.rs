//! The status line on a terminal: one line of at most 79 columns, rewritten in place.

use super::words;
use crate::shell::drive::Snapshot;
use std::fmt::Write;
use stillhand_engine::output::State;
use stillhand_engine::rig::Rig;

/// Columns a line may have: one less than a terminal's usual 80, so that it never wraps.
pub const COLUMNS: usize = 79;

/// The line for `snapshot`.
pub fn line(snapshot: &Snapshot, rig: &Rig) -> String {
    let mut text = String::with_capacity(COLUMNS);
    // Writing to a String can't fail.
    let _ = write!(
        text,
        "{} g{}",
        words::state(snapshot.status.state),
        snapshot.status.groups[0].gear + 1
    );
    for (axis, status) in rig.axes.iter().zip(&snapshot.axes) {
        let ceiling = status
            .binding
            .filter(|_| status.demand != 0.0)
            .map_or("", |c| c.name());
        let _ = write!(
            text,
            " | {} {:.1} {:+.1}/{:.1} {ceiling}",
            axis.name, status.position, status.speed, status.full_stick
        );
    }
    if let State::Driving = snapshot.status.state
        && let Some(bound) = snapshot.status.groups[0].silence_bound
        && snapshot.status.groups[0].silent_for.0 * 2 > bound.0
    {
        text.push_str(" | PAD SILENT");
    }
    text.chars().take(COLUMNS).collect()
}
