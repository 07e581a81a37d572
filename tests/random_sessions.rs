//! Random sessions: everything an operator can press, push, plug and edit, in any order. The laws hold,
//! nothing that must be meant is done by a bare tap, and a stop from any pad in any state is obeyed in
//! the tick that hears it. A session that breaks a law is kept as a scene in `tests/breaches`: its seed plays
//! another one as soon as the hands think of something else.
//!
//! `SESSIONS=10000 cargo test --release --test random_sessions` plays as many as it says, `FROM=123`
//! from that seed on. `FROM=123 SESSIONS=1 TELL=1` with `--nocapture` tells the story of one, `TELL=2` with
//! every axis in every tick.

use stillhand::soak::session::play::play;
use stillhand::soak::session::seen::Seen;

/// Virtual seconds of a session. With six things a second, as most hands do, it is an hour of a busy operator,
/// who does one every ten seconds.
const SECONDS: f64 = 60.0;
/// Sessions of an ordinary run.
const SESSIONS: u64 = 50;

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
    let share = all.moving_share();
    println!(
        "{sessions} sessions, {} ticks, moving {share:.2}, {:?}, faults {:?}",
        all.ticks, all.entered, all.faults
    );
    if sessions < SESSIONS {
        return;
    }
    assert!(share > 0.6, "hands drove too little to show much: {share}");
    let judged = [
        ("turns quiet", all.quiet),
        ("turns reduced", all.reduced),
        ("turns in bands", all.bands),
        ("turns inching", all.inching),
        ("turns sustained", all.sustain),
        ("turns streaming", all.streaming),
        ("meant", all.meant),
        ("tips", all.tips),
    ];
    let names = [
        "stop",
        "loss",
        "silence",
        "still",
        "guard",
        "passed",
        "profile",
        "gear",
        "reference",
    ];
    let entered = names.map(|name| (name, all.entered(name)));
    for (what, count) in judged.into_iter().chain(entered) {
        assert!(
            count >= 10,
            "{what}: only {count} times, so little was shown"
        );
    }
}
