//! The course of `stillhand trim`: five things a hand is asked to do, and what the pad says meanwhile.
//!
//! ```text
//! Release ──▶ Rest ──▶ Circle ──▶ Pull ──▶ Hold ──▶ over
//! push and    touch    round the   triggers  half
//! let go      nothing  gate                  over
//! ```
//!
//! A part ends by itself when it has what it needs, or by a press of `start`. It reads no clock: whoever
//! plays it says what time it is, so that a script is measured as fast as it can be read.

pub mod judge;
mod stick;
mod trigger;

use stick::StickRun;
use stillhand_engine::input::{Button, Control, PadEvent};
use stillhand_engine::time::{Span, Time};
use trigger::TriggerRun;

/// How often each stick is let go: as often as a hand does it with patience.
pub const RELEASES: usize = 12;
/// How long nothing is touched.
const REST: Span = Span::from_millis(5_000);
/// How often each stick goes round.
pub const LAPS: f64 = 3.0;
/// How often each trigger is pulled.
pub const PULLS: usize = 3;
/// How long a stick is held half over.
const HOLD: Span = Span::from_millis(10_000);
/// A press of `start` sooner after a part began was meant for the one before, which ended by itself.
const APART: Span = Span::from_millis(1_000);
/// A stick this far out is pushed.
const PUSHED: f64 = 0.5;
/// A stick this near to its middle was let go.
const NEAR: f64 = 0.3;

/// A part of the course.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Phase {
    /// Each stick is pushed and let go.
    Release,
    /// Nothing is touched.
    Rest,
    /// Each stick goes round along its gate.
    Circle,
    /// Each trigger is pulled and let go.
    Pull,
    /// A stick is held half over and still.
    Hold,
}

impl Phase {
    /// All of them, in their order.
    pub const ALL: [Phase; 5] = [
        Phase::Release,
        Phase::Rest,
        Phase::Circle,
        Phase::Pull,
        Phase::Hold,
    ];

    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            Phase::Release => "release",
            Phase::Rest => "rest",
            Phase::Circle => "circle",
            Phase::Pull => "pull",
            Phase::Hold => "hold",
        }
    }

    /// What the hand is asked to do.
    pub const fn asks(self) -> &'static str {
        match self {
            Phase::Release => {
                "push each stick out and let it snap back, 12 times, a different way each time"
            }
            Phase::Rest => "put the pad down and touch nothing for 5 s",
            Phase::Circle => "lead each stick slowly round along its rim, 3 times",
            Phase::Pull => "pull each trigger to its end and let it go, 3 times",
            Phase::Hold => "hold one stick half over, as still as you can, for 10 s",
        }
    }

    fn next(self) -> Option<Phase> {
        let place = Phase::ALL.iter().position(|phase| *phase == self)?;
        Phase::ALL.get(place + 1).copied()
    }
}

/// How often the pad speaks while a stick is held still.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Life {
    /// For how long it was held.
    pub held: Span,
    /// How often the pad spoke in that time.
    pub words: u32,
    /// The longest time without a word.
    pub longest: Span,
    /// When it spoke last; none while no stick is out.
    last: Option<Time>,
}

/// The course under way.
#[derive(Clone, Debug)]
pub struct Course {
    phase: Option<Phase>,
    /// When this part began.
    since: Time,
    now: Time,
    sticks: [StickRun; 2],
    triggers: [TriggerRun; 2],
    life: Life,
    /// Whether the pad was pulled meanwhile.
    gone: bool,
}

/// What a stick's two directions are called.
pub const STICKS: [[Control; 2]; 2] = [[Control::Lx, Control::Ly], [Control::Rx, Control::Ry]];

impl Course {
    /// A course that begins now.
    pub fn new(now: Time) -> Course {
        Course {
            phase: Some(Phase::Release),
            since: now,
            now,
            sticks: Default::default(),
            triggers: Default::default(),
            life: Life::default(),
            gone: false,
        }
    }

    /// The part it is in; `None` when it is over.
    pub fn phase(&self) -> Option<Phase> {
        self.phase
    }

    /// Whether the pad went while it was measured: then nothing that was is worth anything.
    pub fn is_gone(&self) -> bool {
        self.gone
    }

    /// What a control reads now; `None` as long as it has not spoken.
    pub fn reading(&self, control: Control) -> Option<f64> {
        let of_stick = |(stick, names): (&StickRun, [Control; 2])| {
            let place = names.iter().position(|name| *name == control)?;
            stick.reading(place)
        };
        let trigger = match control {
            Control::Lt => self.triggers[0].reading(),
            Control::Rt => self.triggers[1].reading(),
            _ => None,
        };
        let mut sticks = self.sticks.iter().zip(STICKS);
        trigger.or_else(|| sticks.find_map(of_stick))
    }

    /// How much of this part is done, 0..=1, and in words.
    pub fn progress(&self) -> (f64, String) {
        let [left, right] = &self.sticks;
        let share = |n: f64, of: f64| (n / of).min(1.0);
        match self.phase {
            None => (1.0, "done".to_owned()),
            Some(Phase::Release) => {
                let (l, r) = (left.returns().len(), right.returns().len());
                let done = |n: usize| share(n as f64, RELEASES as f64);
                let words = format!("left {l}, right {r} of {RELEASES}");
                ((done(l) + done(r)) / 2.0, words)
            }
            Some(Phase::Rest) => {
                let rested = left.rested().shorter(right.rested()).secs();
                let words = format!("{rested:.1} of {:.0} s", REST.secs());
                (share(rested, REST.secs()), words)
            }
            Some(Phase::Circle) => {
                let (l, r) = (left.laps(), right.laps());
                let words = format!("left {l:.1}, right {r:.1} of {LAPS:.0} times round");
                ((share(l, LAPS) + share(r, LAPS)) / 2.0, words)
            }
            Some(Phase::Pull) => {
                let [l, r] = self.triggers.each_ref().map(|t| t.pulls().len());
                let done = |n: usize| share(n as f64, PULLS as f64);
                let words = format!("left {l}, right {r} of {PULLS}");
                ((done(l) + done(r)) / 2.0, words)
            }
            Some(Phase::Hold) => {
                let held = self.life.held.secs();
                let words = format!("{held:.1} of {:.0} s", HOLD.secs());
                (share(held, HOLD.secs()), words)
            }
        }
    }

    /// Takes what the pad did.
    pub fn hear(&mut self, at: Time, event: PadEvent) {
        self.look(at);
        if self.phase == Some(Phase::Hold) {
            self.life.speaks(at);
        }
        match event {
            PadEvent::Unplugged => self.gone = true,
            PadEvent::Moved(Control::Lt, x) => self.triggers[0].moved(x, self.phase),
            PadEvent::Moved(Control::Rt, x) => self.triggers[1].moved(x, self.phase),
            PadEvent::Moved(control, x) => {
                for (stick, names) in self.sticks.iter_mut().zip(STICKS) {
                    if let Some(place) = names.iter().position(|name| *name == control) {
                        stick.moved(place, x, self.phase);
                    }
                }
            }
            PadEvent::Pressed(Button::Start, true) => {
                if at.since(self.since) >= APART {
                    self.step();
                }
            }
            PadEvent::Pressed(..)
            | PadEvent::Plugged { .. }
            | PadEvent::Alive
            | PadEvent::Bus(_) => {}
        }
    }

    /// Lets time pass: what stands still says nothing.
    pub fn look(&mut self, now: Time) {
        // What comes late is no older for the course than what it has seen.
        let past = now.since(self.now);
        self.now = self.now.max(now);
        let Some(phase) = self.phase else { return };
        for stick in &mut self.sticks {
            stick.stays(past, phase);
        }
        for trigger in &mut self.triggers {
            trigger.stays(past, phase);
        }
        if phase == Phase::Hold {
            let out = self.sticks.iter().any(|stick| stick.is_out(NEAR));
            self.life.stays(now, past, out);
        }
        if self.is_enough(phase) {
            self.step();
        }
    }

    fn is_enough(&self, phase: Phase) -> bool {
        match phase {
            Phase::Release => {
                let enough = |stick: &StickRun| stick.returns().len() >= RELEASES;
                self.sticks.iter().all(enough)
            }
            Phase::Rest => self.sticks.iter().all(|stick| stick.rested() >= REST),
            Phase::Circle => {
                let mut measured = self.sticks.iter().filter(|s| !s.returns().is_empty());
                let any = !self.sticks.iter().all(|s| s.returns().is_empty());
                any && measured.all(|stick| stick.laps() >= LAPS)
            }
            Phase::Pull => self.triggers.iter().all(|t| t.pulls().len() >= PULLS),
            Phase::Hold => self.life.held >= HOLD,
        }
    }

    fn step(&mut self) {
        self.phase = self.phase.and_then(Phase::next);
        self.since = self.now;
        for stick in &mut self.sticks {
            stick.begin();
        }
    }
}

impl Life {
    fn speaks(&mut self, at: Time) {
        if let Some(last) = self.last {
            self.words += 1;
            self.longest = Span(self.longest.0.max(at.since(last).0));
            self.last = Some(at);
        }
    }

    fn stays(&mut self, now: Time, past: Span, out: bool) {
        if !out {
            self.last = None;
            return;
        }
        let last = *self.last.get_or_insert(now);
        self.held = Span(self.held.0 + past.0);
        self.longest = Span(self.longest.0.max(now.since(last).0));
    }
}

#[cfg(test)]
mod tests;
