//! `stillhand soak`: random sessions in virtual time under the laws checker.

use super::Outcome;
use crate::shell::clock::Clock;
use crate::soak::session::{play::record, seen::Seen};
use breach::Broken;
use std::path::PathBuf;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use stillhand_engine::time::Time;

mod breach;

/// Each takes up to a minute of a core to make small, and one mistake tends to break many worlds.
const MOST_SHRUNK: usize = 3;

/// At least this share of all steps has to move something: a world at rest shows little.
const LEAST_MOVING: f64 = 0.6;
/// From so many hours on, each of these has to be entered so often.
const LONG_HOURS: f64 = 10.0;
const LEAST_ENTERED: usize = 1_000;
const WANTED: [&str; 5] = ["guard", "loss", "quiet", "profile", "stop"];

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
    /// Where a scene that breaks a law is written, made small; without it tests/breaches, where the
    /// working folder has that
    #[arg(long, value_name = "DIR")]
    write: Option<PathBuf>,
    /// Play a scene that was written, and nothing else
    #[arg(long, value_name = "FILE", conflicts_with_all = ["seeds", "hours", "from", "jobs", "json", "write"])]
    play: Option<PathBuf>,
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
    /// How many breaches are or were made small.
    shrinking: usize,
    broken: Vec<Broken>,
}

/// Plays the worlds; code 1 if a law was broken, or if too little was shown.
pub fn run(args: &SoakArgs) -> Outcome {
    if let Some(path) = &args.play {
        return breach::play(path);
    }
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
    found.broken.sort_by_key(|broken| broken.seed);
    tell(
        args,
        &found,
        clock.now().since(Time(0)).secs(),
        Clock::spent().secs(),
    )
}

fn work(args: &SoakArgs, next: &AtomicU64, found: &Mutex<Found>) {
    loop {
        let place = next.fetch_add(1, Ordering::Relaxed);
        if place >= args.seeds {
            return;
        }
        let seed = args.from.wrapping_add(place);
        let played = record(seed, args.hours * 3600.0);
        // As above: nobody holds the lock when something panics and lives on.
        let Ok(mut all) = found.lock() else { return };
        let breach = match played.result {
            Ok(seen) => {
                all.seen.add(&seen);
                continue;
            }
            Err(breach) => breach,
        };
        let enough = all.shrinking >= MOST_SHRUNK;
        all.shrinking += usize::from(!enough);
        drop(all);
        let broken = match enough {
            true => Broken::plain(seed, breach),
            false => Broken::shrunk(seed, &played.scene, &breach),
        };
        let Ok(mut all) = found.lock() else { return };
        all.broken.push(broken);
    }
}

fn tell(args: &SoakArgs, found: &Found, real_s: f64, spent_s: f64) -> Outcome {
    let seen = &found.seen;
    // A world that broke a law ended there and is not counted.
    let whole = args.seeds - found.broken.len() as u64;
    let hours = whole as f64 * args.hours;
    let share = seen.moving_share();
    let times = |seconds: f64| hours * 3600.0 / seconds.max(1e-9);
    // Others may be using the cores: the second is what one core of its own would show.
    let (speedup, per_core) = (times(real_s), times(spent_s));
    if args.json {
        let steps_in = serde_json::json!({
            "guard": seen.guard, "quiet": seen.quiet, "reduced": seen.reduced,
            "inching": seen.inching, "sustain": seen.sustain, "eased": seen.eased,
        });
        let answer = serde_json::json!({
            "worlds": args.seeds, "from": args.from, "hours": hours, "steps": seen.ticks,
            "moving_share": share, "entered": seen.entered, "steps_in": steps_in,
            "breaches": found.broken.len(),
            "breach_seeds": found.broken.iter().map(|broken| broken.seed).collect::<Vec<_>>(),
            "speedup": speedup, "speedup_per_core": per_core, "jobs": args.jobs, "faults": seen.faults,
        });
        println!("{answer}");
    } else {
        println!(
            "{} worlds from seed {}, {hours:.2} h whole, {} steps, moving {share:.2}, \
             {speedup:.0} x real time, {per_core:.0} x on a core of its own",
            args.seeds, args.from, seen.ticks
        );
    }
    let folder = breach::folder(args.write.as_deref());
    let list = found.broken.iter();
    let mut words: Vec<String> = list.map(|broken| broken.words(folder.as_deref())).collect();
    if !words.is_empty() {
        words.insert(0, "laws broken".to_owned());
    }
    words.extend(too_little(seen, hours));
    match words.is_empty() {
        true => Outcome::good(),
        false => Outcome::fault(words.join("\n")),
    }
}

/// What a run has not shown enough of to be believed.
fn too_little(seen: &Seen, hours: f64) -> Vec<String> {
    let mut words = Vec::new();
    let share = seen.moving_share();
    if share < LEAST_MOVING {
        words.push(format!(
            "too little shown: something moved in {:.1} % of the steps, at least {:.0} % are wanted",
            share * 100.0,
            LEAST_MOVING * 100.0
        ));
    }
    if hours < LONG_HOURS {
        return words;
    }
    for name in WANTED {
        let count = seen.entered(name);
        if count < LEAST_ENTERED {
            words.push(format!(
                "too little shown: {name} was entered {count} times, at least {LEAST_ENTERED} are wanted"
            ));
        }
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seen(moving: usize, entered: usize) -> Seen {
        let mut seen = Seen {
            ticks: 1_000,
            moving,
            ..Seen::default()
        };
        for name in WANTED {
            seen.entered.insert(name, entered);
        }
        seen
    }

    #[test]
    fn a_run_that_shows_too_little_says_so() {
        assert_eq!(too_little(&seen(600, 1_000), 10.0), Vec::<String>::new());
        assert_eq!(too_little(&seen(600, 999), 9.99), Vec::<String>::new());
        let words = too_little(&seen(600, 999), 10.0);
        assert_eq!(words.len(), WANTED.len(), "{words:?}");
        assert!(
            words[0].contains("guard was entered 999 times"),
            "{words:?}"
        );
        let words = too_little(&seen(599, 1_000), 0.1);
        assert_eq!(words.len(), 1, "{words:?}");
        assert!(words[0].contains("59.9 %"), "{words:?}");
    }
}
