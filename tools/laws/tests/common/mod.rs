//! A small world that keeps the laws, written to be doctored. It shares the closed form of a slew
//! with the checker; that one is proven against outside figures of its own.
#![allow(dead_code, missing_docs)]

mod sim;

pub use sim::*;
use stillhand_laws::*;

pub const PAD: PadId = PadId(1);
pub const COUNT: f64 = 0.036;
pub const Q: f64 = COUNT / 1024.0;
pub const NORMAL: Set = Set::new(60.0, 300.0);
pub const STOP: Set = Set::new(120.0, 900.0);
pub const SOFT: Set = Set::new(10.0, 40.0);
pub const TOP: f64 = 30.0;
pub const DEADBAND: f64 = 0.1;

pub fn quiet_at(speed: f64, bands: &[Band]) -> Event {
    let axis = QuietAxis {
        speed,
        accel: SOFT.accel,
        jerk: SOFT.jerk,
        bands: bands.to_vec(),
    };
    Event::Quiet(Some(vec![axis]))
}

/// Splitmix64 (Steele, Lea, Flood 2014; constants from memory).
#[derive(Clone)]
pub struct Dice(pub u64);

impl Dice {
    pub fn roll(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    pub fn within(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.roll()
    }
}

pub fn facts(axes: usize, hz: f64) -> Facts {
    let names = [
        "pan", "tilt", "slide", "roll", "focus", "iris", "zoom", "lift",
    ];
    let axis = |n: usize| AxisFacts {
        name: names[n].into(),
        unit: Unit::Deg,
        count: COUNT,
        travel: Travel::Ends {
            low: -170.0,
            high: 170.0,
        },
        referenced: true,
        normal: NORMAL,
        stop_plus: STOP,
        stop_minus: STOP,
        delay: Nanos::ZERO,
        speed_ceiling: TOP,
        needs_enable: false,
        plant_speed_error: 0.0,
    };
    let control = |n: usize| ControlFacts {
        name: format!("c{n}"),
        deadband: DEADBAND,
        centre: 0.0,
        reach: [1.0; 2],
        partner: None,
        drives: vec![Drive {
            axis: n,
            reversed: false,
        }],
    };
    Facts::new(
        (0..axes).map(axis).collect(),
        (0..axes).map(control).collect(),
        Nanos::from_secs(1.0 / hz),
    )
}

#[derive(Clone, Debug)]
pub enum Item {
    Event(Event),
    Frame(Vec<f64>),
    Plant(Vec<PlantAxis>),
}

#[derive(Clone)]
pub struct World {
    pub facts: Facts,
    pub items: Vec<(Nanos, Item)>,
    pub t: f64,
    pub cheat: Cheat,
    pub axes: Vec<Sim>,
    pub dice: Dice,
    /// Share by which a tick may be early or late.
    pub uneven: f64,
    pub linked: bool,
    pub latched: bool,
    pub input_at: f64,
}

impl World {
    pub fn new(axes: usize, hz: f64) -> World {
        let facts = facts(axes, hz);
        let mut world = World {
            axes: vec![Sim::new(); axes],
            facts,
            items: Vec::new(),
            t: 0.0,
            cheat: Cheat::default(),
            dice: Dice(1),
            uneven: 0.0,
            linked: true,
            latched: false,
            input_at: 0.0,
        };
        world.say(Event::PadPlugged {
            pad: PAD,
            bus: Bus::Wired,
            may_drive: true,
        });
        world.say(Event::LinkReady { session: 7 });
        world
    }

    /// One that has centred its sticks and run for half a second.
    pub fn ready(axes: usize, hz: f64) -> World {
        let mut world = World::new(axes, hz);
        for n in 0..axes {
            world.stick(n, 0.0);
        }
        world.run(0.5);
        world
    }

    pub fn now(&self) -> Nanos {
        Nanos::from_secs(self.t)
    }

    /// Tells the checker, and nobody else.
    pub fn say(&mut self, event: Event) {
        self.items.push((self.now(), Item::Event(event)));
    }

    pub fn stick(&mut self, n: usize, value: f64) {
        self.say(Event::Stick {
            pad: PAD,
            control: ControlId(n as u16),
            value,
        });
        let (t, sim) = (self.t, &mut self.axes[n]);
        sim.stick = Some(value);
        self.input_at = t;
        if value.abs() >= 0.8 * DEADBAND {
            sim.centred_since = None;
        } else if sim.centred_since.is_none() {
            sim.centred_since = Some(t);
        }
    }

    pub fn ceiling(&mut self, n: usize, speed: f64) {
        self.say(Event::Ceiling { axis: n, speed });
        let sim = &mut self.axes[n];
        sim.ceiling = (speed, sim.ceiling.0, self.t);
    }

    pub fn normal(&mut self, n: usize, set: Set) {
        self.say(Event::NormalSet {
            axis: n,
            set: Normal::same(set),
        });
        self.axes[n].candidate = set;
    }

    /// A loss or stop: every axis stops by the stop set, then is withheld.
    pub fn stop(&mut self, event: Event) {
        self.latched = matches!(event, Event::Stop);
        self.say(event);
        for sim in &mut self.axes {
            sim.stopping = Some(self.t);
            (sim.armed, sim.withheld) = (false, self.t);
        }
    }

    pub fn release(&mut self) {
        self.say(Event::StopReleased);
        self.latched = false;
        for sim in &mut self.axes {
            sim.withheld = self.t;
        }
    }

    pub fn lose_link(&mut self) {
        self.stop(Event::LinkLost);
        self.linked = false;
    }

    pub fn find_link(&mut self) {
        self.say(Event::LinkReady { session: 8 });
        self.linked = true;
        for sim in &mut self.axes {
            (sim.v, sim.a, sim.sent, sim.stopping, sim.carried) = (0.0, 0.0, 0.0, None, 0.0);
        }
    }

    /// The process hangs for `s`; nothing is sent.
    pub fn hang(&mut self, s: f64) {
        self.t += s;
        for sim in &mut self.axes {
            sim.position += sim.sent * s;
        }
    }

    /// The step after a hang: of the time that passed two periods change the speed.
    pub fn late_step(&mut self) {
        let dt = 2.0 * self.facts.tick.secs();
        for sim in &mut self.axes {
            sim.position -= sim.sent * dt;
        }
        self.step(dt);
    }

    pub fn run(&mut self, s: f64) {
        let end = self.t + s;
        while self.t < end - 1e-12 {
            self.tick();
        }
    }

    pub fn tick(&mut self) {
        let period = self.facts.tick.secs();
        let dt = period * (1.0 + self.uneven * self.dice.within(-1.0, 1.0));
        let before = self.now();
        self.t += dt;
        let dt = self.now().since(before);
        self.say(Event::Tick);
        self.step(dt);
    }

    /// One step of the model engine and its plant, `dt` after the last.
    pub fn step(&mut self, dt: f64) {
        let (t, cheat, latched, input_at) =
            (self.t, self.cheat.clone(), self.latched, self.input_at);
        for sim in &mut self.axes {
            sim.step(t, dt, &cheat, latched, input_at);
        }
        if self.linked {
            let speeds = self.axes.iter().map(|s| s.sent).collect();
            self.items.push((self.now(), Item::Frame(speeds)));
        }
        let truth = |s: &Sim| PlantAxis {
            position: s.position,
            speed: s.plant_speed,
        };
        self.items.push((
            self.now(),
            Item::Plant(self.axes.iter().map(truth).collect()),
        ));
    }

    pub fn check(&self) -> Checker {
        replay(&self.facts, &self.items)
    }

    /// The frames alone.
    pub fn trace(&self) -> Trace {
        let mut trace = Trace::new(self.facts.axes.len());
        for (t, item) in &self.items {
            if let Item::Frame(speeds) = item {
                trace.push(*t, speeds);
            }
        }
        trace
    }

    /// Frames and plants of one axis, to be doctored: time, speed sent, true state.
    pub fn frames(&mut self, n: usize) -> impl Iterator<Item = (Nanos, &mut f64)> {
        self.items
            .iter_mut()
            .filter_map(move |(t, item)| match item {
                Item::Frame(speeds) => Some((*t, &mut speeds[n])),
                _ => None,
            })
    }

    pub fn plants(&mut self, n: usize) -> impl Iterator<Item = (Nanos, &mut PlantAxis)> {
        self.items
            .iter_mut()
            .filter_map(move |(t, item)| match item {
                Item::Plant(axes) => Some((*t, &mut axes[n])),
                _ => None,
            })
    }
}

pub fn replay(facts: &Facts, items: &[(Nanos, Item)]) -> Checker {
    let mut checker = Checker::new(facts.clone());
    for (t, item) in items {
        match item {
            Item::Event(event) => checker.event(*t, event),
            Item::Frame(speeds) => checker.frame(*t, &Frame { speeds }),
            Item::Plant(axes) => checker.plant(*t, &Plant { axes }),
        }
    }
    checker.end(items.last().map_or(Nanos::ZERO, |(t, _)| *t));
    checker
}

pub fn report(checker: &Checker) -> String {
    let list: Vec<String> = checker
        .breaches()
        .iter()
        .take(8)
        .map(ToString::to_string)
        .collect();
    format!("{} in all:\n{}", checker.total(), list.join("\n"))
}

#[track_caller]
pub fn assert_clean(checker: &Checker) {
    assert!(checker.total() == 0, "{}", report(checker));
    assert!(checker.stats().frames > 0, "nothing was judged");
}

/// A turn whose frame gives the one axis this speed.
pub fn turn(checker: &mut Checker, t: Nanos, speed: f64) {
    checker.event(t, &Event::Tick);
    checker.frame(t, &Frame { speeds: &[speed] });
}

/// Broken, and no other law with it.
#[track_caller]
pub fn assert_only(checker: &Checker, law: Law) {
    assert!(
        checker.count(law) > 0,
        "law {law} not reported; {}",
        report(checker)
    );
    assert!(
        checker.total() == checker.count(law),
        "another law too; {}",
        report(checker)
    );
}

/// Clean, or broken by this law alone.
#[track_caller]
pub fn judge(w: &World, law: Law, lawful: bool) {
    if lawful {
        assert_clean(&w.check())
    } else {
        assert_only(&w.check(), law)
    }
}
