//! Making the control loop punctual, as far as this machine and user permit.
//!
//! Measured on a two-core machine with both cores busy, waking up at 250 Hz: with real-time
//! scheduling half of the ticks are less than 15 us late and one in a hundred 50 us or more;
//! without it stalls of a quarter second were seen. The loop works either way; the start message
//! says which it is and how to get the better one.

use std::fmt;

/// Priority within SCHED_FIFO: above ordinary programs, below the kernel's own threads (50).
const PRIORITY: i32 = 40;

/// That of the threads that feed the loop. Below it: a line that babbles then never puts a turn off, and
/// what the turn costs the feeder is the length of a turn, tens of microseconds in each period.
const FEEDER_PRIORITY: i32 = PRIORITY - 1;

/// The loop may compute for this long without sleeping before the kernel ends the process: at 50 Hz
/// a tick is 20 ms, and a loop that never sleeps again must not lock up the machine.
const RUNAWAY_US: u64 = 200_000;

/// What was got.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Punctuality {
    /// Real-time scheduling, or why not.
    pub scheduling: Result<i32, String>,
    /// Memory that is never paged out, or why not.
    pub memory: Result<(), String>,
}

impl fmt::Display for Punctuality {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.scheduling {
            Ok(priority) => write!(f, "loop runs in real time (SCHED_FIFO {priority})")?,
            Err(why) => write!(
                f,
                "loop runs at ordinary priority ({why}): a busy machine can make it late, and a loop \
                 more than 80 ms late stops the rig. For real time add `{} - rtprio 50` to \
                 /etc/security/limits.d/stillhand.conf and log in again",
                user()
            )?,
        }
        match &self.memory {
            Ok(()) => write!(f, "; memory is locked"),
            Err(why) => write!(f, "; memory is not locked ({why})"),
        }
    }
}

/// Asks for real-time scheduling of the calling thread and locked memory for the process.
pub fn become_punctual() -> Punctuality {
    let scheduling = fifo(PRIORITY);
    if scheduling.is_ok() {
        bound_runaway();
    }
    touch_stack();
    Punctuality {
        scheduling,
        memory: lock_memory(),
    }
}

/// Asks for real-time scheduling of the calling thread, which feeds the loop. Refused, it stays as it is:
/// the loop's own start message has said what is missing.
pub fn feed_punctually() {
    let _ = fifo(FEEDER_PRIORITY);
}

/// Gives real-time scheduling up, for work that takes long: the kernel ends a process that is long at it,
/// and threads begun meanwhile would inherit it.
pub fn feed_at_leisure() {
    // Always permitted.
    let _ = schedule(libc::SCHED_OTHER, 0);
}

fn fifo(priority: i32) -> Result<i32, String> {
    schedule(libc::SCHED_FIFO, priority)
}

fn schedule(policy: i32, priority: i32) -> Result<i32, String> {
    let parameters = libc::sched_param {
        sched_priority: priority,
    };
    // SAFETY: 0 is the calling thread, and `parameters` lives through the call.
    let failed = unsafe { libc::sched_setscheduler(0, policy, &raw const parameters) } != 0;
    if failed {
        Err(last_error())
    } else {
        Ok(priority)
    }
}

/// A thread that never sleeps is ended by the kernel, and the rig's watchdog stops the rig.
fn bound_runaway() {
    let limit = libc::rlimit {
        rlim_cur: RUNAWAY_US,
        rlim_max: RUNAWAY_US,
    };
    // SAFETY: `limit` lives through the call. A refusal leaves the loop unbounded, as it was.
    unsafe { libc::setrlimit(libc::RLIMIT_RTTIME, &raw const limit) };
}

fn lock_memory() -> Result<(), String> {
    // On fault: only what is used is locked, not the whole stack of every thread.
    let flags = libc::MCL_CURRENT | libc::MCL_FUTURE | libc::MCL_ONFAULT;
    // SAFETY: changes paging only.
    let failed = unsafe { libc::mlockall(flags) } != 0;
    if failed { Err(last_error()) } else { Ok(()) }
}

/// Uses as much stack as the loop ever will, so that no page of it is missing later.
#[inline(never)]
fn touch_stack() {
    let mut pages = [0_u8; 64 * 1024];
    for place in (0..pages.len()).step_by(4096) {
        pages[place] = 1;
    }
    std::hint::black_box(&pages);
}

fn last_error() -> String {
    let error = std::io::Error::last_os_error();
    match error.kind() {
        std::io::ErrorKind::PermissionDenied => "not permitted".to_owned(),
        _ => error.to_string(),
    }
}

fn user() -> String {
    std::env::var("USER").unwrap_or_else(|_| "YOUR-USER-NAME".to_owned())
}
