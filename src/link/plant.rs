//! The mechanics of the bench rig: what the motors make of the commanded step rate.
//!
//! Commanded rate -> a fixed delay -> evened out over a few milliseconds, as inertia does -> a speed
//! that can't change faster than 1.5 times the stop set -> whole counts. A motor follows a step of speed at once
//! up to a certain size (stepper handbooks: the pull-in range), here the largest that a late turn may lawfully
//! make. A greater one, or one without its full strength, costs it counts. All in counts and seconds.

use stillhand_engine::rig::Axis;

/// The delay before anything happens, in milliseconds.
const DEAD_MS: usize = 2;

/// The time over which the bench rig's mechanics even a command out, in milliseconds: two frames at
/// 250 Hz.
pub const EVENED_MS: usize = 8;

/// The longest such time, in milliseconds: a frame at 50 Hz.
const MOST_EVENED_MS: usize = 20;

/// How much harder than the stop set the motors can accelerate.
pub const STRENGTH: f64 = 1.5;

/// A millisecond: the step of the mechanics, in seconds.
const STEP_S: f64 = 1e-3;

/// The longest time whose change of speed it follows in one step: two frames at 50 Hz, in seconds.
const PULLED_IN_S: f64 = 0.04;

/// One axis, stepped every millisecond.
#[derive(Clone, Debug)]
pub struct Plant {
    /// The last commands, newest first.
    commanded: [f64; DEAD_MS + MOST_EVENED_MS],
    evened_ms: usize,
    /// The share of its strength it has.
    strength: f64,
    speed: f64,
    position: f64,
    strongest_plus: f64,
    strongest_minus: f64,
}

impl Plant {
    /// The mechanics of `axis`, at rest at `counts`, which even commands out over `evened_ms`
    /// (1 to 20).
    pub fn new(axis: &Axis, counts: i32, evened_ms: usize) -> Plant {
        let strongest = |sign: f64| {
            STRENGTH * axis.limits.stop(sign * axis.sense.sign()).accel.0 * axis.counts_per_unit
        };
        Plant {
            commanded: [0.0; DEAD_MS + MOST_EVENED_MS],
            evened_ms: evened_ms.clamp(1, MOST_EVENED_MS),
            strength: 1.0,
            speed: 0.0,
            position: f64::from(counts),
            strongest_plus: strongest(1.0),
            strongest_minus: strongest(-1.0),
        }
    }

    /// The time after which mechanics that even out over `evened_ms` follow a command wholly, in
    /// milliseconds.
    pub const fn delay_ms(evened_ms: usize) -> usize {
        DEAD_MS + evened_ms
    }

    /// Lets a millisecond pass under `rate` counts/s.
    pub fn step(&mut self, rate: f64) {
        let change_s = match self.strength < 1.0 {
            true => self.strength * STEP_S,
            false => PULLED_IN_S / STRENGTH,
        };
        self.pass(rate, change_s);
    }

    /// The same with a change of speed as in `change_s` seconds at its strongest.
    fn pass(&mut self, rate: f64, change_s: f64) {
        let last = DEAD_MS + self.evened_ms - 1;
        self.commanded.copy_within(..last, 1);
        self.commanded[0] = rate;
        let recent = &self.commanded[DEAD_MS..][..self.evened_ms];
        let due = recent.iter().sum::<f64>() / self.evened_ms as f64;
        let strongest = if self.speed < 0.0 {
            self.strongest_minus
        } else {
            self.strongest_plus
        };
        let most = strongest * change_s;
        self.speed += (due - self.speed).clamp(-most, most);
        self.position += self.speed * STEP_S;
    }

    /// The power is gone: it coasts down as hard as it can.
    pub fn cut(&mut self) {
        self.commanded = [0.0; DEAD_MS + MOST_EVENED_MS];
        self.pass(0.0, self.strength * STEP_S);
    }

    /// It manages only this share of its acceleration from now on, 0 to 1.
    pub fn weaken(&mut self, share: f64) {
        self.strength = share;
    }

    /// It is pushed by so many counts.
    pub fn push(&mut self, counts: i32) {
        self.position += f64::from(counts);
    }

    /// Where it stands is this count from now on; it does not move.
    pub fn renumber(&mut self, counts: i32) {
        self.position = f64::from(counts);
    }

    /// Counts per second.
    pub fn speed(&self) -> f64 {
        self.speed
    }

    /// Where the mechanics really are, in counts.
    pub fn position(&self) -> f64 {
        self.position
    }

    /// Whole counts.
    pub fn counts(&self) -> i64 {
        self.position.round() as i64
    }
}
