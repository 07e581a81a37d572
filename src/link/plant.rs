//! The mechanics of the bench rig: what the motors make of the commanded step rate.
//!
//! Commanded rate -> a fixed delay -> a speed that can't change faster than 1.5 times the stop set
//! -> whole counts. All in counts and seconds.

use stillhand_engine::rig::Axis;

/// The delay from a commanded rate to the motor following it, in milliseconds.
pub const DELAY_MS: usize = 10;

/// How much harder than the stop set the motors can accelerate.
const STRENGTH: f64 = 1.5;

/// One axis, stepped every millisecond.
#[derive(Clone, Debug)]
pub struct Plant {
    commanded: [f64; DELAY_MS],
    next: usize,
    /// The share of its strength it has.
    strength: f64,
    speed: f64,
    position: f64,
    strongest_plus: f64,
    strongest_minus: f64,
}

impl Plant {
    /// The mechanics of `axis`, at rest at `counts`.
    pub fn new(axis: &Axis, counts: i32) -> Plant {
        let strongest = |sign: f64| {
            STRENGTH * axis.limits.stop(sign * axis.sense.sign()).accel.0 * axis.counts_per_unit
        };
        Plant {
            commanded: [0.0; DELAY_MS],
            next: 0,
            strength: 1.0,
            speed: 0.0,
            position: f64::from(counts),
            strongest_plus: strongest(1.0),
            strongest_minus: strongest(-1.0),
        }
    }

    /// Lets a millisecond pass under `rate` counts/s.
    pub fn step(&mut self, rate: f64) {
        let due = std::mem::replace(&mut self.commanded[self.next], rate);
        self.next = (self.next + 1) % DELAY_MS;
        let strongest = if self.speed < 0.0 {
            self.strongest_minus
        } else {
            self.strongest_plus
        };
        let most = strongest * self.strength * 1e-3;
        let before = self.speed;
        self.speed += (due - self.speed).clamp(-most, most);
        self.position += (before + self.speed) / 2.0 * 1e-3;
    }

    /// The power is gone: it coasts down as hard as it can.
    pub fn cut(&mut self) {
        self.commanded = [0.0; DELAY_MS];
        self.step(0.0);
    }

    /// It manages only this share of its acceleration from now on, 0 to 1.
    pub fn weaken(&mut self, share: f64) {
        self.strength = share;
    }

    /// It is pushed by so many counts.
    pub fn push(&mut self, counts: i32) {
        self.position += f64::from(counts);
    }

    /// Counts per second.
    pub fn speed(&self) -> f64 {
        self.speed
    }

    /// Whole counts.
    pub fn counts(&self) -> i64 {
        self.position.round() as i64
    }
}
