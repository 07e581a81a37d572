//! Profiles that are edited while somebody drives.

#![allow(dead_code)] // Each test uses its own part of it.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Instant;

use super::hall::{self, PER_DEG};
use super::stage::Stage;

/// The profile with a ceiling on pan, in deg/s: within a quarter of each other they apply at once.
pub fn ceiling(deg_s: f64) -> String {
    format!(
        "{}ceiling = \"{deg_s} deg/s\"\n",
        hall::pan_only().trim_end_matches('\n').to_owned() + "\n"
    )
}

pub fn operator(stage: &Stage) -> PathBuf {
    stage.folder.path().join("operator.toml")
}

/// Another file beside it, renamed over `to`.
pub fn replace(to: &Path, text: &str) {
    let new = to.with_extension("new");
    fs::write(&new, text).expect("written");
    fs::rename(&new, to).expect("renamed");
}

/// Waits until pan is asked to go at this speed, and that alone, in deg/s.
pub fn goes(stage: &mut Stage, deg_s: f64) -> Instant {
    let counts = deg_s * PER_DEG;
    stage
        .line
        .want_asked(&format!("pan at {deg_s} deg/s"), |v| {
            (v[0] - counts).abs() < 0.05
        })
}

/// What is said of an edit of [`ceiling`] that applies at once.
pub const AT_ONCE: &str = "operator.toml is in force at once: pan speeds";
