//! The model engine of one axis, lawful unless told to cheat.

use super::{DEADBAND, NORMAL, Q, STOP, TOP};
use stillhand_laws::{Set, Slew};

/// How a world cheats; the default does not.
#[derive(Clone)]
pub struct Cheat {
    pub ceiling_factor: f64,
    pub ceiling_lag_s: f64,
    pub stop_lag_s: f64,
    pub stop: Set,
    pub no_consent: bool,
    pub deaf_to_sticks: bool,
    /// Added to the speed asked for, by the seconds since the last input.
    pub wiggles: Vec<(f64, f64)>,
}

impl Default for Cheat {
    fn default() -> Cheat {
        Cheat {
            ceiling_factor: 1.0,
            ceiling_lag_s: 0.0,
            stop_lag_s: 0.0,
            stop: STOP,
            no_consent: false,
            deaf_to_sticks: false,
            wiggles: Vec::new(),
        }
    }
}

#[derive(Clone)]
pub struct Sim {
    pub v: f64,
    pub a: f64,
    pub sent: f64,
    pub position: f64,
    pub plant_speed: f64,
    pub set: Set,
    pub candidate: Set,
    pub ceiling: (f64, f64, f64),
    pub stick: Option<f64>,
    pub heard: f64,
    pub centred_since: Option<f64>,
    pub armed: bool,
    pub withheld: f64,
    pub stopping: Option<f64>,
    pub braking: f64,
    pub rest: u32,
    pub carried: f64,
}

impl Sim {
    pub fn new() -> Sim {
        Sim {
            v: 0.0,
            a: 0.0,
            sent: 0.0,
            position: 0.0,
            plant_speed: 0.0,
            set: NORMAL,
            candidate: NORMAL,
            ceiling: (TOP, TOP, 0.0),
            stick: None,
            heard: 0.0,
            centred_since: None,
            armed: false,
            withheld: 0.0,
            stopping: None,
            braking: 0.0,
            rest: 0,
            carried: 0.0,
        }
    }

    pub fn step(&mut self, t: f64, dt: f64, cheat: &Cheat, latched: bool, input_at: f64) {
        let mut target = self.target(t, cheat, latched, input_at);
        let set = match self.stopping {
            Some(since) if t - since >= cheat.stop_lag_s => {
                target = 0.0;
                cheat.stop
            }
            Some(_) => {
                target = self.v;
                self.set
            }
            None => self.set,
        };
        let mut set = set;
        // A brake that the set in force cannot take off in time goes to rest first, by the
        // landing jerk: only then may the axis turn.
        if self.a * self.v < 0.0 {
            let landing = 1.05 * self.a * self.a / (2.0 * self.v.abs());
            let idle = self.v + self.a * self.a.abs() / (2.0 * set.jerk);
            if idle * self.v < 0.0
                && (target * idle <= 0.0 || 1.02 * target.abs() + 0.02 < idle.abs())
            {
                target = 0.0;
                set.jerk = landing.clamp(set.jerk, cheat.stop.jerk.max(set.jerk));
            }
        }
        let old = (self.v, self.a);
        (self.v, self.a) = Slew::plan(old.0, old.1, target, set).at(dt);
        // Braking for an end, once begun, goes on until the stick turns.
        if self.stopping.is_none() && target != 0.0 {
            let ends =
                self.position + self.v * 2.0 * dt + Slew::plan(self.v, self.a, 0.0, set).distance();
            if ends.abs() > 169.0 && ends * target > 0.0 {
                self.braking = target.signum();
                (self.v, self.a) = Slew::plan(old.0, old.1, 0.0, set).at(dt);
            }
        }
        self.send(dt);
    }

    /// The speed asked for, and the set it is reached by.
    fn target(&mut self, t: f64, cheat: &Cheat, latched: bool, input_at: f64) -> f64 {
        if self
            .centred_since
            .is_some_and(|c| t - c.max(self.withheld) >= 0.2)
            && !latched
        {
            self.armed = true;
        }
        // A softer set takes over when speed and acceleration fit it.
        let c = if t - self.ceiling.2 > cheat.ceiling_lag_s {
            self.ceiling.0
        } else {
            self.ceiling.1
        };
        let harder = self.candidate.accel >= self.set.accel && self.candidate.jerk >= self.set.jerk;
        let ahead = self.v.abs()
            + if self.a * self.v > 0.0 {
                self.a * self.a / (2.0 * self.candidate.jerk)
            } else {
                0.0
            };
        if harder || (self.a.abs() <= self.candidate.accel && ahead <= c) {
            self.set = self.candidate;
        }
        if !cheat.deaf_to_sticks {
            self.heard = self.stick.unwrap_or(0.0);
        }
        let (x, may) = (self.heard, self.armed || cheat.no_consent);
        let asked = if x.abs() > DEADBAND && may {
            (x - x.signum() * DEADBAND) / (1.0 - DEADBAND)
        } else {
            0.0
        };
        let wiggle: f64 = cheat
            .wiggles
            .iter()
            .filter(|w| t - input_at > w.0)
            .map(|w| w.1)
            .sum();
        let target = asked * c * cheat.ceiling_factor + if asked == 0.0 { 0.0 } else { wiggle };
        if self.braking != 0.0 && target * self.braking > 0.0 {
            return 0.0;
        }
        self.braking = 0.0;
        target
    }

    /// Rounds for the wire, carrying the remainder; the plant follows at once.
    fn send(&mut self, dt: f64) {
        self.rest = if self.v == 0.0 && self.a == 0.0 {
            self.rest + 1
        } else {
            0
        };
        if self.rest > 3 {
            self.stopping = None;
        }
        let was = self.sent;
        let whole = ((self.v + self.carried) / Q).round() * Q;
        self.carried = if self.v == 0.0 {
            0.0
        } else {
            self.carried + self.v - whole
        };
        self.sent = if self.v == 0.0 { 0.0 } else { whole };
        self.plant_speed = self.sent;
        self.position += (was + self.sent) / 2.0 * dt;
    }
}
