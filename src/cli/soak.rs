//! `stillhand soak`: random sessions in virtual time under the laws checker.

use super::Outcome;
use crate::shell::clock::Clock;
use crate::soak::session::{play::play, seen::Seen};
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use stillhand_engine::time::Time;

/// What to play.
#[derive(Debug, clap::Args)]
pub struct SoakArgs {
    /// How many random worlds
    #[arg(long, default_value_t = 50)]
    seeds: u64,
    /// Virtual hours of each world
    #[arg(long, default_value_t = 0.1, value_parser = hours)]
    hours: f64,
    /// The first seed
    #[arg(long, default_value_t = 0)]
    from: u64,
    /// Worlds played at the same time
    #[arg(long, default_value_t = 1, value_parser = clap::value_parser!(u8).range(1..=64))]
    jobs: u8,
    /// Answer in JSON
    #[arg(long)]
    json: bool,
}

fn hours(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(hours) if hours > 0.0 && hours <= 1000.0 => Ok(hours),
        Ok(_) | Err(_) => Err("hours above 0, at most 1000".to_owned()),
    }
}

#[derive(Default)]
struct Found {
    seen: Seen,
    breaches: Vec<(u64, String)>,
}

/// Plays the worlds; code 1 if a law was broken.
pub fn run(args: &SoakArgs) -> Outcome {
    let clock = Clock::new();
    let next = AtomicU64::new(0);
    let found = Mutex::new(Found::default());
    std::thread::scope(|scope| {
        for _ in 0..args.jobs {
            scope.spawn(|| work(args, &next, &found));
        }
    });
    // A panic ends the process at once, so the lock cannot be poisoned.
    let mut found = found.into_inner().unwrap_or_default();
    found.breaches.sort();
    tell(args, &found, clock.now().since(Time(0)).secs())
}

fn work(args: &SoakArgs, next: &AtomicU64, found: &Mutex<Found>) {
    loop {
        let place = next.fetch_add(1, Ordering::Relaxed);
        if place >= args.seeds {
            return;
        }
        let seed = args.from.wrapping_add(place);
        let played = play(seed, args.hours * 3600.0, true);
        // As above: nobody holds the lock when something panics and lives on.
        let Ok(mut found) = found.lock() else { return };
        match played {
            Ok(seen) => found.seen.add(&seen),
            Err(words) => found.breaches.push((seed, words)),
        }
    }
}

fn tell(args: &SoakArgs, found: &Found, real_s: f64) -> Outcome {
    let seen = &found.seen;
    // A world that broke a law ended there and is not counted.
    let whole = args.seeds - found.breaches.len() as u64;
    let hours = whole as f64 * args.hours;
    let share = seen.moving as f64 / seen.ticks.max(1) as f64;
    let speedup = hours * 3600.0 / real_s.max(1e-9);
    if args.json {
        let answer = serde_json::json!({
            "worlds": args.seeds, "from": args.from, "hours": hours, "steps": seen.ticks,
            "moving_share": share, "speedup": speedup, "breaches": found.breaches.len(),
            "breach_seeds": found.breaches.iter().map(|(seed, _)| seed).collect::<Vec<_>>(),
            "entered": { "loss": seen.losses, "stop": seen.stops, "still": seen.still,
                "profile_change": seen.changed },
            "steps_in": { "guard": seen.guard, "quiet": seen.quiet, "reduced": seen.reduced },
        });
        println!("{answer}");
    } else {
        println!(
            "{} worlds from seed {}, {hours:.2} h whole, {} steps, moving {share:.2}, {speedup:.0} x real time",
            args.seeds, args.from, seen.ticks
        );
    }
    if found.breaches.is_empty() {
        return Outcome::good();
    }
    let list = found.breaches.iter();
    let words: Vec<String> = list.map(|(seed, w)| format!("seed {seed}: {w}")).collect();
    Outcome::fault(format!("laws broken\n{}", words.join("\n")))
}
