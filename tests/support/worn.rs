//! Pads that are worn, and a hand that leads them through the course of `trim`.

#![allow(dead_code)] // Each test uses its own part of it.

use std::f64::consts::{FRAC_PI_4, PI, TAU};

use stillhand::profile::trim::Trim;
use stillhand::shell::pad::trim::measure::Course;
use stillhand::shell::pad::trim::measure::judge::{Doubt, Found, judge};
use stillhand::soak::random::Random;
use stillhand_engine::input::{Button, Control, PadEvent};
use stillhand_engine::time::{Span, Time};

/// Corners from the upper right one on, counter-clockwise, as the program calls them.
pub const CORNERS: [&str; 4] = [
    "up and right",
    "up and left",
    "down and left",
    "down and right",
];

/// How a pad is worn. All shares are of full scale.
pub struct Worn {
    /// Where each direction rests.
    pub offset: [f64; 4],
    /// A stick that was let go stays up to this far from there.
    pub scatter: f64,
    /// Readings tremble by up to this.
    pub noise: f64,
    /// Readings are whole steps of this.
    pub step: f64,
    /// How far each direction gets to its minus and plus side.
    pub reach: [[f64; 2]; 4],
    /// 0 for a round rim, 1 for a square one.
    pub square: f64,
    /// Of which stick which corner gets how far.
    pub dead: Option<(usize, usize, f64)>,
    /// How far each direction creeps in an hour.
    pub drift: [f64; 4],
    random: Random,
    /// Where each direction stayed when it was let go last.
    stays: [f64; 4],
}

impl Worn {
    /// A pad that is as new: nothing but steps of 16 bits.
    pub fn new(seed: u64) -> Worn {
        Worn {
            offset: [0.0; 4],
            scatter: 0.0,
            noise: 0.0,
            step: 1.0 / 32767.5,
            reach: [[0.95, 0.95]; 4],
            square: 0.0,
            dead: None,
            drift: [0.0; 4],
            random: Random::new(seed),
            stays: [0.0; 4],
        }
    }

    /// A worn one.
    pub fn random(seed: u64) -> Worn {
        let mut random = Random::new(seed);
        let mut each = |low, high| std::array::from_fn(|_| random.between(low, high));
        let (offset, drift) = (each(-0.06, 0.06), each(-0.03, 0.03));
        let reach = std::array::from_fn(|_| {
            let mut side = || random.between(0.75, 1.0);
            [side(), side()]
        });
        let dead = random.chance(0.5).then(|| {
            let share = random.between(0.5, 0.75);
            (random.below(2), random.below(4), share)
        });
        Worn {
            offset,
            scatter: random.between(0.0, 0.02),
            noise: random.scale(0.0005, 0.01),
            step: random.pick(&[1.0 / 127.5, 1.0 / 511.5, 1.0 / 32767.5]),
            reach,
            square: random.unit(),
            dead,
            drift,
            random,
            stays: [0.0; 4],
        }
    }

    /// What a direction reads that is pushed to `meant` of its way, this long into the hour.
    pub fn read(&mut self, place: usize, meant: f64, secs: f64) -> f64 {
        let rests = self.offset[place] + self.drift[place] * secs / 3600.0 + self.stays[place];
        let side = self.reach[place][usize::from(meant > 0.0)];
        let tremble = self.random.between(-self.noise, self.noise);
        // A spring's end is a wall: there nothing of where it rests is left.
        let x = rests * (1.0 - meant.abs()) + meant * side + tremble;
        ((x / self.step).round() * self.step).clamp(-1.0, 1.0)
    }

    /// Somebody lets go of a stick.
    pub fn let_go(&mut self, stick: usize) {
        for place in [2 * stick, 2 * stick + 1] {
            self.stays[place] = self.random.between(-self.scatter, self.scatter);
        }
    }

    /// How far a stick gets at an angle, across and up.
    fn rim(&self, stick: usize, angle: f64) -> [f64; 2] {
        let (across, up) = (angle.cos(), angle.sin());
        let square = 1.0 / across.abs().max(up.abs());
        let mut out = 1.0 + self.square * (square - 1.0);
        if let Some((of, corner, share)) = self.dead {
            let middle = FRAC_PI_4 * (2 * corner + 1) as f64;
            let off = (angle - middle + PI).rem_euclid(TAU) - PI;
            if of == stick && off.abs() < 0.3 {
                out *= share;
            }
        }
        [across * out, up * out]
    }
}

/// A hand, and what the pad said so far.
pub struct Hand<'a> {
    pub pad: &'a mut Worn,
    pub said: Vec<(u64, PadEvent)>,
    pub ms: u64,
}

impl Hand<'_> {
    /// Everything that `trim` asks for.
    pub fn course(pad: &mut Worn) -> Vec<(u64, PadEvent)> {
        let mut hand = Hand {
            pad,
            said: Vec::new(),
            ms: 0,
        };
        hand.hold([0.0; 4], 500);
        hand.release(12);
        hand.hold([0.0; 4], 1_500);
        hand.start();
        hand.hold([0.0; 4], 6_000);
        hand.round(3.2);
        hand.start();
        hand.pull();
        hand.start();
        hand.hold([0.5, 0.0, 0.0, 0.0], 2_000);
        hand.start();
        hand.said
    }

    /// Keeps all four directions there, a report each 10 ms.
    pub fn hold(&mut self, meant: [f64; 4], ms: u64) {
        for _ in 0..ms / 10 {
            self.ms += 10;
            let secs = self.ms as f64 / 1e3;
            for (place, control) in Trim::STICKS.into_iter().enumerate() {
                let x = self.pad.read(place, meant[place], secs);
                self.say(PadEvent::Moved(control, x));
            }
        }
    }

    /// A pad tells of what changes.
    fn say(&mut self, event: PadEvent) {
        if let PadEvent::Moved(control, _) = event {
            let of = |(_, said): &&(u64, PadEvent)| matches!(said, PadEvent::Moved(c, _) if *c == control);
            if self.said.iter().rev().take(64).find(of).map(|(_, e)| *e) == Some(event) {
                return;
            }
        }
        self.said.push((self.ms, event));
    }

    pub fn start(&mut self) {
        self.hold([0.0; 4], 1_200);
        self.say(PadEvent::Pressed(Button::Start, true));
        self.hold([0.0; 4], 50);
        self.say(PadEvent::Pressed(Button::Start, false));
    }

    pub fn release(&mut self, times: usize) {
        for n in 0..times {
            let angle = n as f64 * 1.1;
            let [left, right] = [0, 1].map(|stick| self.pad.rim(stick, angle));
            self.hold([left[0], left[1], right[0], right[1]], 150);
            self.pad.let_go(0);
            self.pad.let_go(1);
            self.hold([0.0; 4], 600);
        }
    }

    pub fn round(&mut self, laps: f64) {
        let steps = (laps * 160.0) as u32;
        for step in 0..=steps {
            let angle = f64::from(step) / 160.0 * TAU;
            let [left, right] = [0, 1].map(|stick| self.pad.rim(stick, angle));
            self.hold([left[0], left[1], right[0], right[1]], 20);
        }
        self.pad.let_go(0);
        self.pad.let_go(1);
    }

    pub fn pull(&mut self) {
        for _ in 0..3 {
            for x in [0.97, 0.01] {
                self.say(PadEvent::Moved(Control::Lt, x));
                self.say(PadEvent::Moved(Control::Rt, x));
                self.hold([0.0; 4], 300);
            }
        }
    }
}

/// What comes of it.
pub fn measure(said: &[(u64, PadEvent)]) -> Result<Found, Vec<Doubt>> {
    let at = |ms: u64| Time::default() + Span::from_millis(ms);
    let mut course = Course::new(Time::default());
    let mut now = 0;
    for &(ms, event) in said {
        while now + 10 < ms {
            now += 10;
            course.look(at(now));
        }
        course.hear(at(ms), event);
    }
    judge(&course)
}

/// The same as the lines of a pad script.
pub fn script(said: &[(u64, PadEvent)]) -> String {
    let line = |&(ms, event): &(u64, PadEvent)| {
        let what = match event {
            PadEvent::Moved(control, x) => {
                let name = match control {
                    Control::Lx => "ABS_X",
                    Control::Ly => "ABS_Y",
                    Control::Rx => "ABS_RX",
                    Control::Ry => "ABS_RY",
                    Control::Lt => "ABS_Z",
                    Control::Rt => "ABS_RZ",
                };
                format!("{name} {x:.6}")
            }
            PadEvent::Pressed(_, down) => format!("BTN_START {}", u8::from(down)),
            other => panic!("{other:?} is not what the hand does"),
        };
        format!("{}.{:03} {what}\n", ms / 1_000, ms % 1_000)
    };
    said.iter().map(line).collect()
}
