//! Random rigs under random hands, on pads and lines that misbehave: whatever they do, the laws hold.

#[path = "support/random.rs"]
mod random;
#[path = "support/rigs.rs"]
mod rigs;

use random::Random;
use rigs::{STICKS, axis, hands, rig};
use stillhand::soak::world::{World, WorldOptions};
use stillhand_engine::input::{Button, Control, PadBus, PadEvent, PadId};
use stillhand_engine::output::{Notice, State, Why};
use stillhand_engine::rig::{Rig, Travel};
use stillhand_engine::time::Span;

/// The pad that is plugged in first, and another one.
const PADS: [PadId; 2] = [PadId(0), PadId(1)];

/// How often what was to be shown came about.
#[derive(Debug, Default)]
struct Tally {
    steps: usize,
    moving: usize,
    guard: usize,
    stop: usize,
    loss: usize,
    late: usize,
    silence: usize,
    gear: usize,
}

impl Tally {
    fn add(&mut self, other: &Tally) {
        self.steps += other.steps;
        self.moving += other.moving;
        self.guard += other.guard;
        self.stop += other.stop;
        self.loss += other.loss;
        self.late += other.late;
        self.silence += other.silence;
        self.gear += other.gear;
    }

    fn note(&mut self, notice: Notice) {
        match notice {
            Notice::TravelEnd { .. } => self.guard += 1,
            Notice::Late(_) => self.late += 1,
            Notice::Gear { .. } => self.gear += 1,
            Notice::Entered(State::Stopped(_)) => self.stop += 1,
            Notice::Entered(State::NoPad(Why::PadLost) | State::Withheld(Why::PadLost)) => {
                self.loss += 1;
            }
            Notice::Entered(State::Withheld(Why::PadSilent)) => self.silence += 1,
            _ => {}
        }
    }
}

/// Whose hands.
#[derive(Clone, Copy, Debug)]
enum Hands {
    /// Never still: a little of everything, many times a second.
    Nervous,
    /// A stick pushed over and held, for seconds.
    Lazy,
    /// From one end of the stick to the other, and buttons without sense.
    Hostile,
}

impl Hands {
    fn stick(self, random: &mut Random) -> f64 {
        let way = random.pick(&[-1.0, 1.0]);
        match self {
            Hands::Nervous => random.between(-1.2, 1.2).clamp(-1.0, 1.0),
            Hands::Lazy => way * random.between(0.3, 1.1).min(1.0),
            Hands::Hostile => way * random.pick(&[1.0, 1.0, 1.0, 0.4, 0.0]),
        }
    }

    fn pause(self, random: &mut Random) -> f64 {
        match self {
            Hands::Nervous => random.scale(0.005, 0.3),
            Hands::Lazy => random.scale(0.2, 3.0),
            Hands::Hostile => random.scale(0.005, 1.5),
        }
    }
}

/// One world and whoever holds its pads.
struct Session {
    random: Random,
    world: World,
    hands: Hands,
    bus: PadBus,
    period: Span,
    /// How many axes, and so sticks, there are.
    axes: usize,
    /// Which pads are plugged in.
    plugged: [bool; PADS.len()],
    tally: Tally,
}

impl Session {
    fn new(seed: u64) -> Session {
        let mut random = Random::new(seed);
        let rig = some_rig(&mut random);
        let mut operator = hands(&rig, &mut random);
        for hand in &mut operator.hands {
            hand.invert = random.chance(0.5);
        }
        let periods_us = [1_000, 2_000, 4_000, 4_000, 8_000, 10_000, 20_000];
        let period = Span::from_micros(random.pick(&periods_us));
        let options = WorldOptions {
            period,
            line_delay: Span::from_millis(1),
            hostile_line: random.chance(0.2),
        };
        if let Ok(ax) = std::env::var("TRACE") {
            let i: usize = ax.parse().unwrap();
            let h = &operator.hands[i];
            println!(
                "{:?} gain {:.3} lose {:.3} gears {:.3} {:.3} {:.3} {:?} {:?} {:?} invert {}",
                period,
                h.gain.secs(),
                h.lose.secs(),
                h.gears.speed(0).0,
                h.gears.speed(1).0,
                h.gears.speed(2).0,
                h.ceiling,
                rig.axes[i].limits,
                rig.axes[i].travel,
                h.invert
            );
        }
        let world = World::new(&rig, &operator, options).expect("a valid world");
        let mut session = Session {
            hands: random.pick(&[Hands::Nervous, Hands::Lazy, Hands::Hostile]),
            bus: random.pick(&[PadBus::Wired, PadBus::Usb, PadBus::Bluetooth]),
            axes: rig.axes.len(),
            random,
            world,
            period,
            plugged: [false; PADS.len()],
            tally: Tally::default(),
        };
        session.plug(0);
        session.centre();
        session
    }

    /// Plays for about so long.
    fn play(&mut self, seconds: f64) {
        let end = self.world.now() + Span::from_secs_f64(seconds);
        while self.world.now() < end {
            match self.world.outputs().status.state {
                State::Stopped(_) if self.random.chance(0.5) => self.release(),
                State::NoPad(_) if self.random.chance(0.7) => self.plug(0),
                State::Withheld(_) if self.random.chance(0.6) => self.centre(),
                _ => self.act(),
            }
        }
    }

    fn act(&mut self) {
        match self.random.below(100) {
            0..=67 => self.move_sticks(),
            68..=79 => self.mash(&[Button::Tl, Button::Tr]),
            80..=84 => self.mash(&[Button::Tl, Button::Tr, Button::Start, Button::South]),
            85..=86 => self.stop(),
            87..=88 => self.unplug(),
            89..=90 => self.plug(1),
            91..=93 => self.hang(),
            94..=97 => self.hold_still(),
            _ => self.centre(),
        }
        let pause = self.hands.pause(&mut self.random);
        self.pass(pause);
    }

    fn move_sticks(&mut self) {
        for control in &STICKS[..self.axes] {
            for place in 0..PADS.len() {
                if self.plugged[place] && self.random.chance(0.6) {
                    let value = self.hands.stick(&mut self.random);
                    self.push(place, *control, value);
                }
            }
        }
    }

    /// Every stick over, and not a word for as long as the operator likes.
    fn hold_still(&mut self) {
        for control in &STICKS[..self.axes] {
            let value = self.random.pick(&[-1.0, 1.0, 0.8]);
            self.push(0, *control, value);
        }
        let seconds = self.random.between(0.5, 5.0);
        self.pass(seconds);
    }

    /// Sticks let go for long enough, most of the time.
    fn centre(&mut self) {
        for control in STICKS {
            for place in 0..PADS.len() {
                let value = self.random.between(-0.03, 0.03);
                self.push(place, control, value);
            }
        }
        let seconds = self.random.between(0.15, 0.35);
        self.pass(seconds);
    }

    fn mash(&mut self, buttons: &[Button]) {
        for _ in 0..1 + self.random.below(4) {
            let (place, button) = (self.random.below(2), self.random.pick(buttons));
            self.press(place, button, true);
            if self.random.chance(0.5) {
                let seconds = self.random.scale(0.002, 0.1);
                self.pass(seconds);
            }
            self.press(place, button, false);
        }
    }

    fn stop(&mut self) {
        let place = self.random.below(3);
        if place == PADS.len() {
            self.world.command_stop();
        } else {
            self.press(place, Button::East, true);
            self.press(place, Button::East, false);
        }
    }

    fn release(&mut self) {
        self.centre();
        self.press(0, Button::Start, true);
        self.press(1, Button::Start, true);
        let seconds = self.random.between(0.4, 1.0);
        self.pass(seconds);
        self.press(0, Button::Start, false);
        self.press(1, Button::Start, false);
    }

    fn plug(&mut self, place: usize) {
        if !self.plugged[place] {
            self.plugged[place] = true;
            let event = PadEvent::Plugged {
                bus: self.bus,
                drives: place == 0 || self.random.chance(0.5),
            };
            self.world.pad(PADS[place], event);
        }
        // Some come back with the stick held over.
        for control in &STICKS[..self.axes] {
            if self.random.chance(0.7) {
                let value = self.hands.stick(&mut self.random);
                self.push(place, *control, value);
            }
        }
    }

    fn unplug(&mut self) {
        let place = self.random.below(PADS.len());
        if self.plugged[place] {
            self.plugged[place] = false;
            self.world.pad(PADS[place], PadEvent::Unplugged);
        }
    }

    /// The loop comes late, by anything up to 200 ms.
    fn hang(&mut self) {
        let pause = Span::from_secs_f64(self.random.scale(self.period.secs(), 0.2));
        self.world.tick_after(pause);
        self.look();
    }

    fn push(&mut self, place: usize, control: Control, value: f64) {
        if self.plugged[place] {
            self.world.pad(PADS[place], PadEvent::Moved(control, value));
        }
    }

    fn press(&mut self, place: usize, button: Button, down: bool) {
        if self.plugged[place] {
            self.world.pad(PADS[place], PadEvent::Pressed(button, down));
        }
    }

    fn pass(&mut self, seconds: f64) {
        let end = self.world.now() + Span::from_secs_f64(seconds);
        while self.world.now() < end {
            self.world.tick();
            self.look();
        }
    }

    /// What the last tick was.
    fn look(&mut self) {
        if let Ok(ax) = std::env::var("TRACE") {
            let n = self.world.outputs().rigs[0]
                .axes
                .iter()
                .take(self.axes)
                .count();
            let i: usize = ax.parse().unwrap();
            let a = &self.world.outputs().rigs[0].axes[i.min(n - 1)];
            let st = self.world.outputs().status;
            println!(
                "{:.3} s {:.6} v {:.6} a {:.4} demand {:.3} full {:.3} gear {} {:?} {:?} pos {:.3} {:?}",
                self.world.now().0 as f64 / 1e9,
                self.world.speeds()[i],
                a.speed,
                a.accel,
                a.demand,
                a.full_stick,
                st.groups[0].gear,
                a.binding,
                st.state,
                a.position,
                self.world.outputs().notices.iter().collect::<Vec<_>>()
            );
        }
        self.tally.steps += 1;
        self.tally.moving += usize::from(self.world.speeds().iter().any(|v| *v != 0.0));
        for notice in self.world.outputs().notices.iter() {
            self.tally.note(notice);
        }
    }
}

/// One to four axes, some of them without ends.
fn some_rig(random: &mut Random) -> Rig {
    let names = ["pan", "tilt", "slide", "roll"];
    let count = 1 + random.below(names.len());
    let axes = names[..count].iter().map(|name| {
        let mut axis = axis(name, random);
        if random.chance(0.3) {
            axis.travel = Travel::Continuous;
        }
        axis
    });
    let axes = axes.collect();
    rig(axes)
}

#[test]
fn whatever_hands_do_the_laws_hold() {
    let from: u64 = std::env::var("FROM").map_or(0, |s| s.parse().unwrap());
    let to: u64 = std::env::var("TO").map_or(200, |s| s.parse().unwrap());
    let mut tally = Tally::default();
    let mut failed = 0;
    for seed in from..to {
        let mut session = Session::new(seed);
        session.play(12.0);
        session.world.command_stop();
        session.pass(3.0);
        if let Err(breaches) = session.world.verdict() {
            println!(
                "seed {seed} {:?} {:?} {:?}:\n{}",
                session.hands,
                session.bus,
                session.period,
                breaches.lines().next().unwrap()
            );
            failed += 1;
        }
        tally.add(&session.tally);
    }
    println!(
        "{failed} failed; {tally:?} {}",
        tally.moving as f64 / tally.steps as f64
    );
}
