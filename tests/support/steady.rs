//! Tests against the clock on a machine that others use too.
//!
//! Freezes of the whole machine, real-time threads included, of up to a second were seen where many
//! builds share two cores. The daemon then does what it must: it stops and withholds. A test of
//! something else fails by that, through no fault of anyone; it is run again if, and only if, such a
//! freeze was measured while it ran.

#![allow(dead_code)] // Each test uses its own part of it.

use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// Half of the lateness at which the daemon withholds: 80 ms.
const FREEZE: Duration = Duration::from_millis(40);
/// How often a test is run at most.
const RUNS: u32 = 3;

/// Runs `test`, and again if it failed while the machine stood still.
pub fn steadily(test: impl Fn()) {
    super::line::be_punctual();
    for run in 1.. {
        let over = Arc::new(AtomicBool::new(false));
        let worst = Arc::new(AtomicU64::new(0));
        let processors = std::thread::available_parallelism().map_or(1, usize::from);
        let sentinels: Vec<_> = (0..processors)
            .map(|processor| {
                let (over, worst) = (Arc::clone(&over), Arc::clone(&worst));
                std::thread::spawn(move || watch(processor, &over, &worst))
            })
            .collect();
        let result = catch_unwind(AssertUnwindSafe(&test));
        over.store(true, Ordering::Relaxed);
        for sentinel in sentinels {
            sentinel.join().expect("a sentinel only sleeps");
        }
        let froze = Duration::from_micros(worst.load(Ordering::Relaxed));
        match result {
            Ok(()) => return,
            Err(_) if froze >= FREEZE && run < RUNS => {
                eprintln!("run {run}: the machine stood still for {froze:?}; once more");
            }
            Err(failure) => resume_unwind(failure),
        }
    }
}

/// Sleeps again and again on one processor and notes the longest time beyond what it asked for: a
/// host may take a single processor away.
fn watch(processor: usize, over: &AtomicBool, worst: &AtomicU64) {
    super::line::be_punctual();
    // SAFETY: a set of zeros is a valid empty one; the number is below the set's 1024 on any machine
    // this runs on, and the call reads the set only. Refused, it watches where it happens to be.
    unsafe {
        let mut set: libc::cpu_set_t = std::mem::zeroed();
        libc::CPU_SET(processor, &mut set);
        libc::sched_setaffinity(0, size_of::<libc::cpu_set_t>(), &raw const set);
    }
    let nap = Duration::from_millis(5);
    while !over.load(Ordering::Relaxed) {
        let began = Instant::now();
        std::thread::sleep(nap);
        let late = began.elapsed().saturating_sub(nap).as_micros() as u64;
        worst.fetch_max(late, Ordering::Relaxed);
    }
}
