//! What one turn of the engine costs: time and allocations, for eight axes. Prints one line of JSON.
//!
//! `bench-tick TICKS`: the times are taken over this many turns in which all eight axes move.

#[path = "operating.rs"]
mod operating;
#[path = "world.rs"]
mod world;

use serde_json::{Value, json};
use std::alloc::{GlobalAlloc, Layout, System};
use std::collections::BTreeSet;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Instant;
use stillhand_engine::input::{Button, PadEvent};
use stillhand_engine::output::{Ceiling, Notice, State};
use world::{Ends, World};

/// Counts allocations; freeing is counted by what was allocated before.
struct Counting;
static ALLOCATIONS: AtomicU64 = AtomicU64::new(0);

// SAFETY: everything is passed on to the system's allocator as it came.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        ALLOCATIONS.fetch_add(1, Ordering::Relaxed);
        // SAFETY: the caller's promise about `layout`.
        unsafe { System.alloc(layout) }
    }
    unsafe fn dealloc(&self, place: *mut u8, layout: Layout) {
        // SAFETY: the caller's promise about `place` and `layout`.
        unsafe { System.dealloc(place, layout) }
    }
}

#[global_allocator]
static GLOBAL: Counting = Counting;

fn main() {
    let ticks = std::env::args().nth(1).and_then(|n| n.parse().ok());
    let Some(ticks) = ticks.filter(|n| *n > 0) else {
        eprintln!("bench-tick: say how many turns, such as 100000");
        std::process::exit(2);
    };
    match measured(ticks) {
        Ok(line) => println!("{line}"),
        Err(words) => {
            eprintln!("bench-tick: {words}");
            std::process::exit(1);
        }
    }
}

fn measured(ticks: usize) -> Result<Value, String> {
    let (recorded, _) = guarded(World::new(Ends::Near).record(), ticks)?;
    let (guarded, braking) = guarded(World::new(Ends::Near), ticks)?;
    Ok(json!({
        "guarded": row(guarded),
        "braking": row(braking),
        "recorded": row(recorded),
        "free": row(free(ticks)?),
        "operating": row(operating::turns(ticks)?),
        "allocations": allocations()?,
    }))
}

/// Eight axes run into one end of their travel together, rest there, and turn back. Times of the
/// turns in which all move, and of those among them in which all brake for the end.
fn guarded(mut world: World, ticks: usize) -> Result<(Vec<u64>, Vec<u64>), String> {
    world.arm();
    let (mut all, mut braking) = (Vec::with_capacity(ticks), Vec::with_capacity(ticks));
    let (mut way, mut resting) = (1.0, 0);
    while all.len() < ticks {
        world.push_all(way);
        let nanos = timed(&mut world);
        let axes = world.axes();
        if axes.iter().all(|axis| axis.speed != 0.0) {
            all.push(nanos);
            if axes
                .iter()
                .all(|axis| axis.binding == Some(Ceiling::Travel))
            {
                braking.push(nanos);
            }
            resting = 0;
            continue;
        }
        resting += 1;
        if resting % REST == 0 {
            way = -way;
        }
        if resting > 100 * REST {
            return Err(format!("the axes do not move: {:?}", world.status()));
        }
    }
    Ok((all, braking))
}

/// Turns without motion after which the sticks are turned round: a tenth of a second.
const REST: usize = 25;

/// Eight axes without ends follow sticks that never rest.
fn free(ticks: usize) -> Result<Vec<u64>, String> {
    let mut world = World::new(Ends::None);
    world.arm();
    let mut all = Vec::with_capacity(ticks);
    let mut turn = 0.0_f64;
    for turns in 0.. {
        if all.len() == ticks {
            break;
        }
        if turns > 2 * ticks + 1_000 {
            return Err(format!("the axes do not move: {:?}", world.status()));
        }
        turn += 0.01;
        world.push_all(0.6 + 0.3 * turn.sin());
        let nanos = timed(&mut world);
        if world.axes().iter().all(|axis| axis.speed != 0.0) {
            all.push(nanos);
        }
    }
    Ok(all)
}

/// How many nanoseconds one turn takes the engine.
pub fn timed(world: &mut World) -> u64 {
    world.before();
    let begin = Instant::now();
    world.step();
    let nanos = begin.elapsed().as_nanos() as u64;
    world.after();
    nanos
}

/// How many allocations the turns made in which everything happens that can, and what did happen.
fn allocations() -> Result<Value, String> {
    let before = ALLOCATIONS.load(Ordering::Relaxed);
    std::hint::black_box(Box::new(before));
    if ALLOCATIONS.load(Ordering::Relaxed) != before + 1 {
        return Err("one allocation was not counted as one".to_owned());
    }
    let mut world = World::new(Ends::Near).record();
    let mut happened = BTreeSet::new();
    let (mut most, mut sum, mut ticks) = (0, 0, 0_u64);
    let mut go = |world: &mut World, count: usize| {
        for _ in 0..count {
            world.before();
            let before = ALLOCATIONS.load(Ordering::Relaxed);
            world.step();
            let made = ALLOCATIONS.load(Ordering::Relaxed) - before;
            world.after();
            (most, sum, ticks) = (made.max(most), sum + made, ticks + 1);
            happened.extend(world.notices().filter_map(told));
        }
    };
    world.push_all(0.0);
    go(&mut world, 100);
    world.push_all(1.0);
    go(&mut world, 100);
    world.edit();
    go(&mut world, 50);
    world.tap(Button::Tr);
    go(&mut world, 1_500);
    world.push_all(-1.0);
    go(&mut world, 100);
    world.tap(Button::Tl);
    go(&mut world, 50);
    world.tap(Button::East);
    go(&mut world, 200);
    world.push_all(0.0);
    world.pad(PadEvent::Pressed(Button::Start, true));
    go(&mut world, 200);
    world.pad(PadEvent::Pressed(Button::Start, false));
    go(&mut world, 200);
    world.push_all(1.0);
    go(&mut world, 100);
    world.pad(PadEvent::Unplugged);
    go(&mut world, 200);
    world.plug();
    world.push_all(0.0);
    go(&mut world, 200);
    world.push_all(1.0);
    go(&mut world, 100);
    world.lose_link();
    go(&mut world, 100);
    world.find_link();
    go(&mut world, 100);
    world.end();
    go(&mut world, 200);
    Ok(json!({ "most": most, "sum": sum, "ticks": ticks, "happened": happened }))
}

/// The name under which a notice is listed.
fn told(notice: Notice) -> Option<&'static str> {
    match notice {
        Notice::TravelEnd { .. } => Some("guard"),
        Notice::Gear { .. } => Some("gear"),
        Notice::ProfileApplied => Some("profile change"),
        Notice::Entered(State::Stopped(_)) => Some("stop"),
        Notice::Entered(State::NoPad(_)) => Some("pad lost"),
        Notice::Entered(State::NoLink(_)) => Some("link lost"),
        Notice::Entered(State::Driving) => Some("driving"),
        Notice::Entered(State::Ending) => Some("end"),
        Notice::Entered(State::Withheld(_)) => Some("withheld"),
        Notice::Entered(State::Still) => Some("still"),
        Notice::Mode(..) => Some("mode"),
        Notice::Sustain { .. } => Some("sustain"),
        Notice::Place { .. } => Some("place"),
        Notice::Holds { .. }
        | Notice::Asks { .. }
        | Notice::Agreed { .. }
        | Notice::AskForgotten(_)
        | Notice::GroupWithheld { .. }
        | Notice::ModeWaits(_)
        | Notice::Locked(_)
        | Notice::NextOperator(_)
        | Notice::RigApplied(_)
        | Notice::RigWaits(_)
        | Notice::RigRefused(_)
        | Notice::ProfileWaits(_)
        | Notice::ProfileRefused
        | Notice::SilenceNear { .. }
        | Notice::GuardLate { .. }
        | Notice::Apart { .. }
        | Notice::Late(_)
        | Notice::TooManyPads
        | Notice::Reference { .. }
        | Notice::EndHere { .. }
        | Notice::Errand(..) => None,
    }
}

/// Times in nanoseconds as percentiles in microseconds.
fn row(mut nanos: Vec<u64>) -> Value {
    nanos.sort_unstable();
    let at = |share: f64| {
        let place = (nanos.len() as f64 * share).ceil() as usize;
        nanos.get(place.max(1) - 1).map(|ns| *ns as f64 / 1e3)
    };
    json!({
        "ticks": nanos.len(),
        "p50": at(0.5),
        "p99": at(0.99),
        "p999": at(0.999),
        "max": at(1.0),
    })
}
