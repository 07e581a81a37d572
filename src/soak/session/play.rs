//! One session: hands that think of something to do, and the world they do it to.

use super::act::{Act, Scene};
use super::errands::Pressing;
use super::operators;
use super::seen::Seen;
use super::stage::{Breach, Stage};
use super::trouble::Weather;
use crate::soak::random::Random;
use crate::soak::temper::Hands;
use crate::soak::world::WorldOptions;
use stillhand_engine::input::{Button, PadEvent, PadId};
use stillhand_engine::operator::Operator;
use stillhand_engine::time::{Span, Time};

/// Pads that may be plugged in.
pub(super) const PADS: u8 = 3;

/// Ten operators; the first begins.
const NAMES: [&str; 10] = [
    "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth",
];

/// A button that comes up again later.
pub(super) struct Up {
    pub at: Time,
    pub pad: PadId,
    pub button: Button,
}

/// Hands, and what they did.
pub struct Session {
    pub(super) stage: Stage,
    pub(super) random: Random,
    pub(super) period: Span,
    pub(super) plugged: [bool; PADS as usize],
    pub(super) ups: Vec<Up>,
    /// What begins the errand offered last.
    pub(super) pressing: Option<Pressing>,
    /// What has gone wrong is put right then.
    pub(super) right: Option<(Time, Act)>,
    /// Whose hands; `None` is an operator at work.
    pub(super) hands: Option<Hands>,
    pub(super) weather: Weather,
    /// Whoever may take over, in the file they have.
    pub(super) operators: Vec<Operator>,
    /// Nobody touches a pad until then.
    pub(super) silent_until: Option<Time>,
    /// Something is being mended until then.
    pub(super) mending_until: Option<Time>,
    /// Pads whose raw reports come all the time.
    pub(super) streams: [bool; PADS as usize],
    /// When they come next.
    pub(super) reports_at: Time,
    /// How long until the coming turn of the loop.
    pub(super) next: Span,
    /// When the sticks were let go to be seen centred.
    pub(super) let_go_at: Option<Time>,
    /// What is done before the coming turn.
    now: Vec<Act>,
    /// The scene as far as it was played.
    pub(super) scene: Scene,
}

/// What came of a session, and the session itself.
pub struct Played {
    /// What it saw, or what broke.
    pub result: Result<Seen, Breach>,
    /// All that was done up to there.
    pub scene: Scene,
}

/// Plays a session of so many virtual seconds.
///
/// # Errors
/// What was broken first.
pub fn play(seed: u64, seconds: f64) -> Result<Seen, Breach> {
    record(seed, seconds).result
}

/// Plays a session of so many virtual seconds, and keeps what was done in it.
pub fn record(seed: u64, seconds: f64) -> Played {
    let mut random = Random::new(seed);
    let rig = operators::rig(&mut random);
    let period = Span::from_micros(random.pick(&[2_000, 4_000, 4_000, 10_000, 20_000]));
    let options = WorldOptions {
        period,
        line_delay: Span::from_millis(1),
        hostile_line: random.chance(0.12),
        // The wrap of a rig's clock comes within the first minutes of some worlds.
        rig_clock_us: match random.chance(0.5) {
            true => u32::MAX - random.below(200_000_000) as u32,
            false => 0,
        },
        excuses_weak_motors: true,
    };
    let operators = NAMES.map(|name| operators::operator(&rig, name, &mut random));
    let all = Hands::ALL.map(Some);
    let hands = random.pick(&[None, None, all[0], all[1], all[2]]);
    let weather = Weather {
        // The checker could not tell a copy the line is known to make from one that noise lets through.
        noise: !options.hostile_line && random.chance(0.4),
        line: random.chance(0.4),
        rig: random.chance(0.6),
    };
    let scene = Scene {
        rig,
        operator: operators[0].clone(),
        options,
        acts: Vec::new(),
    };
    // Rig and operator are drawn for each other: if they did not fit, this file would be wrong.
    let stage = Stage::new(&scene).expect("what is drawn fits together");
    let session = Session {
        stage,
        random,
        period,
        plugged: [false; PADS as usize],
        ups: Vec::new(),
        pressing: None,
        right: None,
        hands,
        weather,
        operators: operators.to_vec(),
        silent_until: None,
        mending_until: None,
        streams: [false; PADS as usize],
        reports_at: Time(0),
        next: period,
        let_go_at: None,
        now: Vec::new(),
        scene,
    };
    session.run(seconds)
}

impl Session {
    fn run(mut self, seconds: f64) -> Played {
        self.plug(PadId(0));
        self.centre(PadId(0));
        while self.stage.now().since(Time(0)).secs() < seconds {
            self.next = self.pause();
            if self.random.chance(self.rate() * self.period.secs()) {
                self.something();
            }
            self.lift();
            self.press_for_errand();
            self.report();
            self.put_right();
            if let Err(breach) = self.turn() {
                return Played {
                    result: Err(breach),
                    scene: self.scene,
                };
            }
        }
        Played {
            result: self.stage.end(),
            scene: self.scene,
        }
    }

    /// Takes the coming turn, and keeps what was done before it.
    fn turn(&mut self) -> Result<(), Breach> {
        let acts = &mut self.scene.acts;
        let result = self.stage.turn(&self.now, self.next);
        let alone = self.now.is_empty();
        acts.append(&mut self.now);
        match acts.last_mut() {
            _ if self.next != self.period => acts.push(Act::Late(self.next)),
            Some(Act::Turns(turns)) if alone => *turns += 1,
            Some(_) | None => acts.push(Act::Turns(1)),
        }
        result
    }

    /// Something is done before the coming turn.
    pub(super) fn act(&mut self, act: Act) {
        self.now.push(act);
    }

    pub(super) fn pad(&mut self, pad: PadId, event: PadEvent) {
        self.act(Act::Pad(pad, event));
    }
}
