//! One session: a world, its hands, and what they are held against.

use super::errands::Errands;
use super::kept::Kept;
use super::meant::Meant;
use super::operators;
use super::seen::Seen;
use super::tell::Tell;
use super::tips::Tips;
use crate::link::mischief;
use crate::soak::random::Random;
use crate::soak::world::{World, WorldOptions};
use stillhand_engine::input::{Button, PadEvent, PadId};
use stillhand_engine::operator::Operator;
use stillhand_engine::output::Notice;
use stillhand_engine::rig::Rig;
use stillhand_engine::time::{Span, Time};

/// Pads that may be plugged in.
pub(super) const PADS: u8 = 3;

/// A button that comes up again later.
pub(super) struct Up {
    pub at: Time,
    pub pad: PadId,
    pub button: Button,
}

/// One session.
pub struct Session {
    pub(super) world: World,
    pub(super) rig: Rig,
    pub(super) operator: Operator,
    /// The profile that was offered, until it is in force.
    pub(super) offered: Option<Operator>,
    pub(super) random: Random,
    pub(super) meant: Meant,
    pub(super) period: Span,
    pub(super) plugged: [bool; PADS as usize],
    pub(super) ups: Vec<Up>,
    /// The rig gone wrong is put right then.
    pub(super) right: Option<(Time, mischief::Event)>,
    pub(super) seen: Seen,
    /// How long until the coming turn of the loop.
    pub(super) next: Span,
    /// When the sticks were let go to be seen centred.
    pub(super) let_go_at: Option<Time>,
    pub(super) tips: Tips,
    pub(super) kept: Kept,
    /// Motion asked for leg by leg, where there is any.
    pub(super) errands: Option<Errands>,
    pub(super) tell: Tell,
}

/// Plays a session of so many virtual seconds.
///
/// # Errors
/// The breaches of the laws, or what was done that nobody meant.
pub fn play(seed: u64, seconds: f64) -> Result<Seen, String> {
    play_with(seed, seconds, Some(Errands::new(seed)))
}

/// The same with nothing but hands moving the rig.
///
/// # Errors
/// As [`play`].
pub fn play_by_hand(seed: u64, seconds: f64) -> Result<Seen, String> {
    play_with(seed, seconds, None)
}

fn play_with(seed: u64, seconds: f64, errands: Option<Errands>) -> Result<Seen, String> {
    let mut random = Random::new(seed);
    let rig = operators::rig(&mut random);
    let operator = operators::operator(&rig, "first", &mut random);
    let period = Span::from_micros(random.pick(&[2_000, 4_000, 4_000, 10_000, 20_000]));
    let options = WorldOptions {
        period,
        line_delay: Span::from_millis(1),
        hostile_line: seed % 8 == 1,
    };
    let mut session = Session {
        world: World::new(&rig, &operator, options)?,
        rig,
        operator,
        offered: None,
        random,
        meant: Meant::new(period),
        period,
        plugged: [false; PADS as usize],
        ups: Vec::new(),
        right: None,
        seen: Seen::default(),
        next: period,
        let_go_at: None,
        tips: Tips::default(),
        kept: Kept::default(),
        errands,
        tell: Tell::from_env(),
    };
    session.run(seconds)?;
    session.world.verdict()?;
    session.seen.meant = session.meant.done;
    session.seen.tips = session.tips.judged;
    Ok(session.seen)
}

impl Session {
    fn run(&mut self, seconds: f64) -> Result<(), String> {
        self.plug(PadId(0));
        self.centre(PadId(0));
        while self.world.now().since(Time(0)).secs() < seconds {
            self.next = self.pause();
            // Something happens about six times a second.
            if self.random.chance(6.0 * self.period.secs()) && !self.hands_off() {
                self.something();
            }
            self.errand();
            self.lift();
            self.tick(self.next)?;
        }
        Ok(())
    }

    fn tick(&mut self, pause: Span) -> Result<(), String> {
        let before = self.world.outputs().status.state;
        self.world.tick_after(pause);
        let now = self.world.now();
        let outputs = self.world.outputs();
        let applied = outputs.notices.iter().any(|n| n == Notice::ProfileApplied);
        self.tell.tick(now, outputs, self.rig.axes.len());
        self.seen.look(outputs);
        self.kept.judge(outputs).map_err(|found| at(now, &found))?;
        if applied && let Some(operator) = self.offered.take() {
            self.tips
                .judge(now, &self.rig, &operator, outputs)
                .and(self.meant.judge(now, before, outputs, &self.operator))
                .map_err(|found| at(now, &found))?;
            self.operator = operator;
            return Ok(());
        }
        self.tips
            .judge(now, &self.rig, &self.operator, outputs)
            .and(self.meant.judge(now, before, outputs, &self.operator))
            .map_err(|found| at(now, &found))
    }

    /// The time of the coming turn of the loop.
    pub(super) fn soon(&self) -> Time {
        self.world.now() + self.next
    }

    pub(super) fn pad(&mut self, pad: PadId, event: PadEvent) {
        let now = self.soon();
        self.tell.done(now, (pad, event));
        self.meant.event(now, pad, event, &self.operator);
        self.kept.event(pad, event);
        self.world.pad(pad, event);
    }
}

fn at(now: Time, found: &str) -> String {
    format!("{:.3} s: {found}\n", now.since(Time(0)).secs())
}
