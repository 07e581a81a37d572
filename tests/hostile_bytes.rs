//! Both ends of a hostile line, one frame in ten good (`support/hostile/mod.rs` says what counts as what): no
//! damaged frame changes anything, every good one at the start of a run is acted upon.
//!
//! `HOSTILE=10000000 cargo test --release --test hostile_bytes -- --nocapture` for so many damaged frames at
//! each end; `HOSTILE_SEED` for others.

#[path = "support/claims/mod.rs"]
mod claims;
#[path = "support/hostile/mod.rs"]
mod hostile;

use hostile::daemon_end::DaemonEnd;
use hostile::rig_end::RigEnd;

/// Damaged frames for each end in an ordinary run.
const FEW: u64 = 200_000;

fn number(name: &str, otherwise: u64) -> u64 {
    std::env::var(name).map_or(otherwise, |said| said.parse().expect("a number"))
}

#[test]
fn a_rig_moves_by_good_frames_alone() {
    let seed = number("HOSTILE_SEED", 1);
    let mut end = RigEnd::new(seed);
    let tally = end.play(number("HOSTILE", FEW));
    println!("rig's end, seed {seed}: {tally}");
    tally.judge();
}

#[test]
fn a_daemon_goes_by_good_tellings_alone() {
    let seed = number("HOSTILE_SEED", 1);
    let mut end = DaemonEnd::new(seed);
    let tally = end.play(number("HOSTILE", FEW));
    println!("daemon's end, seed {seed}: {tally}");
    tally.judge();
}
