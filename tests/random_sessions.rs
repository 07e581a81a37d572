//! Random sessions: everything an operator can press, push, plug and edit, in any order. The laws hold,
//! nothing that must be meant is done by a bare tap, and a stop from any pad in any state is obeyed in
//! the tick that hears it.
//!
//! `SESSIONS=10000 cargo test --release --test random_sessions` plays as many as it says, `FROM=123`
//! from that seed on.

#[path = "support/random.rs"]
mod random;
#[path = "support/rigs.rs"]
mod rigs;
#[path = "support/session/mod.rs"]
mod session;

use session::play::{Seen, play};

/// Virtual seconds of a session. With six things a second it is an hour of a busy operator, who does one
/// every ten seconds.
const SECONDS: f64 = 60.0;
/// Sessions of an ordinary run.
const SESSIONS: u64 = 150;

fn number(name: &str, default: u64) -> u64 {
    match std::env::var(name) {
        Ok(text) => text.parse().expect("a whole number"),
        Err(_) => default,
    }
}

#[test]
fn whatever_hands_do_the_laws_hold() {
    let (from, sessions) = (number("FROM", 0), number("SESSIONS", SESSIONS));
    let mut all = Seen::default();
    let mut broken = Vec::new();
    for seed in from..from + sessions {
        match play(seed, SECONDS) {
            Ok(seen) => all.add(&seen),
            Err(found) => broken.push(format!("seed {seed}:\n{found}")),
        }
    }
    assert!(
        broken.is_empty(),
        "{} sessions of {sessions}:\n{}",
        broken.len(),
        broken.join("")
    );
    let share = all.moving as f64 / all.ticks as f64;
    println!(
        "{sessions} sessions, {} ticks, moving {share:.2}, stops {}, losses {}, quiet {}, still {}, \
         reduced {}, guard {}, inching {}, sustain {}, asked {}, changed {}, meant {}",
        all.ticks,
        all.stops,
        all.losses,
        all.quiet,
        all.still,
        all.reduced,
        all.guard,
        all.inching,
        all.sustain,
        all.asked,
        all.changed,
        all.meant
    );
    if sessions < SESSIONS {
        return;
    }
    for (what, count) in [
        ("stops", all.stops),
        ("losses", all.losses),
        ("quiet", all.quiet),
        ("still", all.still),
        ("reduced", all.reduced),
        ("guard", all.guard),
        ("inching", all.inching),
        ("sustain", all.sustain),
        ("asked", all.asked),
        ("changed", all.changed),
        ("meant", all.meant),
    ] {
        assert!(
            count > 10,
            "{what}: only {count} times, so little was shown"
        );
    }
}
