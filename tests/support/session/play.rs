//! Hands that do anything: sticks, presses, pads that come and go, profiles, the rig, the loop.

use super::meant::Meant;
use super::operators;
use crate::random::Random;
use stillhand::link::mischief;
use stillhand::soak::world::{World, WorldOptions};
use stillhand_engine::input::{Button, Control, PadBus, PadEvent, PadId};
use stillhand_engine::operator::Operator;
use stillhand_engine::output::{Ceiling, Mover, Notice, State};
use stillhand_engine::rig::Rig;
use stillhand_engine::time::{Span, Time};

/// Pads that may be plugged in.
const PADS: u8 = 3;
const BUSES: [PadBus; 3] = [PadBus::Wired, PadBus::Usb, PadBus::Bluetooth];

/// What a session saw, to be sure that it saw something.
#[derive(Default)]
pub struct Seen {
    pub ticks: usize,
    pub moving: usize,
    pub stops: usize,
    pub losses: usize,
    pub quiet: usize,
    pub still: usize,
    pub reduced: usize,
    pub guard: usize,
    pub inching: usize,
    pub sustain: usize,
    pub asked: usize,
    pub changed: usize,
    pub meant: usize,
}

impl Seen {
    pub fn add(&mut self, other: &Seen) {
        let pairs = [
            (&mut self.ticks, other.ticks),
            (&mut self.moving, other.moving),
            (&mut self.stops, other.stops),
            (&mut self.losses, other.losses),
            (&mut self.quiet, other.quiet),
            (&mut self.still, other.still),
            (&mut self.reduced, other.reduced),
            (&mut self.guard, other.guard),
            (&mut self.inching, other.inching),
            (&mut self.sustain, other.sustain),
            (&mut self.asked, other.asked),
            (&mut self.changed, other.changed),
            (&mut self.meant, other.meant),
        ];
        for (sum, more) in pairs {
            *sum += more;
        }
    }
}

/// A button that comes up again later.
struct Up {
    at: Time,
    pad: PadId,
    button: Button,
}

/// One session.
pub struct Session {
    world: World,
    rig: Rig,
    operator: Operator,
    /// The profile that was offered, until it is in force.
    offered: Option<Operator>,
    random: Random,
    meant: Meant,
    period: Span,
    plugged: [bool; PADS as usize],
    ups: Vec<Up>,
    /// The rig gone wrong is put right then.
    right: Option<(Time, mischief::Event)>,
    seen: Seen,
}

/// Plays a session of so many virtual seconds.
///
/// # Errors
/// The breaches of the laws, or what was done that nobody meant.
pub fn play(seed: u64, seconds: f64) -> Result<Seen, String> {
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
    };
    session.run(seconds)?;
    session.world.verdict()?;
    session.seen.meant = session.meant.done;
    Ok(session.seen)
}

impl Session {
    fn run(&mut self, seconds: f64) -> Result<(), String> {
        self.plug(PadId(0));
        for control in Control::ALL {
            self.pad(PadId(0), PadEvent::Moved(control, 0.0));
        }
        while self.world.now().since(Time(0)).secs() < seconds {
            // Something happens about six times a second.
            if self.random.chance(6.0 * self.period.secs()) {
                self.something();
            }
            self.lift();
            self.tick(self.period)?;
        }
        Ok(())
    }

    fn tick(&mut self, pause: Span) -> Result<(), String> {
        let before = self.world.outputs().status.state;
        self.world.tick_after(pause);
        let now = self.world.now();
        let outputs = self.world.outputs();
        let applied = outputs.notices.iter().any(|n| n == Notice::ProfileApplied);
        self.meant
            .judge(now, before, outputs, &self.operator)
            .map_err(|found| format!("{:.3} s: {found}", now.since(Time(0)).secs()))?;
        self.look();
        if applied && let Some(operator) = self.offered.take() {
            self.operator = operator;
        }
        Ok(())
    }

    fn look(&mut self) {
        let outputs = self.world.outputs();
        if std::env::var_os("TELL").is_some() {
            let at = self.world.now().since(Time(0)).secs();
            if std::env::var("TELL").is_ok_and(|t| t == "2") {
                for a in outputs.rigs[0].axes.iter().take(self.rig.axes.len()) {
                    eprintln!(
                        "{at:.3} v {:.5} a {:.4} dem {:.3} full {:.3} {:?} {:?} {:?} {:?} pos {:.3}",
                        a.speed,
                        a.accel,
                        a.demand,
                        a.full_stick,
                        a.binding,
                        a.mover,
                        a.place,
                        a.enabled,
                        a.position
                    );
                }
            }
            for notice in outputs.notices.iter() {
                eprintln!("{at:.3} {notice:?}");
            }
        }
        let seen = &mut self.seen;
        seen.ticks += 1;
        let axes = &outputs.rigs[0].axes;
        seen.moving += usize::from(axes.iter().any(|a| a.speed != 0.0));
        seen.guard += usize::from(axes.iter().any(|a| a.binding == Some(Ceiling::Travel)));
        seen.inching += usize::from(axes.iter().any(|a| a.mover == Mover::Inching));
        seen.sustain += usize::from(axes.iter().any(|a| a.mover == Mover::Sustain));
        seen.quiet += usize::from(outputs.status.modes.quiet.on());
        seen.reduced += usize::from(outputs.status.modes.reduced.on());
        for notice in outputs.notices.iter() {
            match notice {
                Notice::Entered(State::Stopped(_)) => seen.stops += 1,
                Notice::Entered(State::NoLink(_) | State::NoPad(_)) => seen.losses += 1,
                Notice::Entered(State::Still) => seen.still += 1,
                Notice::Asks { .. } => seen.asked += 1,
                Notice::ProfileApplied => seen.changed += 1,
                _ => {}
            }
        }
    }

    fn something(&mut self) {
        let mends = self.random.chance(0.6);
        match self.world.outputs().status.state {
            State::Stopped(_) if mends => return self.hold(Button::Start),
            State::Still if mends => return self.hold(Button::North),
            State::Withheld(_) | State::NoLink(_) if mends => return self.let_go(),
            State::NoPad(_) if mends => return self.come_or_go(),
            _ => {}
        }
        match self.random.below(100) {
            0..45 => self.stick(),
            45..55 => self.let_go(),
            55..88 => self.press(),
            88..91 => self.come_or_go(),
            91..94 => self.edit(),
            94..97 => self.rig_event(),
            97 => self.world.command_stop(),
            _ => {
                let late = Span::from_micros(self.random.between(5e3, 200e3) as u64);
                // A late turn is judged like any other.
                self.world.tick_after(late);
                self.after_late();
            }
        }
    }

    /// What a late turn told must still be held against what was meant; its own errors come out at
    /// the next tick's laws.
    fn after_late(&mut self) {
        let outputs = self.world.outputs();
        let applied = outputs.notices.iter().any(|n| n == Notice::ProfileApplied);
        let now = self.world.now();
        let state = outputs.status.state;
        let judged = self.meant.judge(now, state, outputs, &self.operator);
        assert!(judged.is_ok(), "in a late turn: {judged:?}");
        if applied && let Some(operator) = self.offered.take() {
            self.operator = operator;
        }
    }

    fn pad(&mut self, pad: PadId, event: PadEvent) {
        let now = self.world.now() + self.period;
        if std::env::var_os("TELL").is_some() {
            eprintln!("{:.3} {pad:?} {event:?}", now.since(Time(0)).secs());
        }
        self.meant.event(now, pad, event, &self.operator);
        self.world.pad(pad, event);
    }

    fn some_pad(&mut self) -> PadId {
        // Mostly the first.
        match self.random.chance(0.7) {
            true => PadId(0),
            false => PadId(self.random.below(usize::from(PADS)) as u8),
        }
    }

    fn stick(&mut self) {
        let (pad, control) = (self.some_pad(), self.random.pick(&Control::ALL));
        let value = match self.random.below(4) {
            0 => 1.0,
            1 => -1.0,
            2 => self.random.between(-0.3, 0.3),
            _ => self.random.between(-1.0, 1.0),
        };
        let value = match control {
            Control::Lt | Control::Rt => value.abs(),
            _ => value,
        };
        self.pad(pad, PadEvent::Moved(control, value));
    }

    fn let_go(&mut self) {
        let pad = self.some_pad();
        for control in Control::ALL {
            self.pad(pad, PadEvent::Moved(control, 0.0));
        }
    }

    fn press(&mut self) {
        let pad = self.some_pad();
        let button = match self.random.below(10) {
            0 | 1 => Button::Tr,
            _ => self.random.pick(&Button::ALL),
        };
        if matches!(button, Button::East | Button::North) && self.random.chance(0.6) {
            return;
        }
        self.pad(pad, PadEvent::Pressed(button, true));
        let down = match self.random.chance(0.5) {
            true => self.random.between(0.01, 0.3),
            false => self.random.between(0.4, 1.5),
        };
        let at = self.world.now() + Span::from_secs_f64(down);
        self.ups.push(Up { at, pad, button });
    }

    /// Lets go of everything on every pad and holds a button long enough.
    fn hold(&mut self, button: Button) {
        let pad = self.some_pad();
        for control in Control::ALL {
            self.pad(pad, PadEvent::Moved(control, 0.0));
        }
        self.pad(pad, PadEvent::Pressed(button, true));
        let at = self.world.now() + Span::from_millis(750);
        self.ups.push(Up { at, pad, button });
    }

    fn lift(&mut self) {
        let now = self.world.now();
        let ups = std::mem::take(&mut self.ups);
        for up in ups {
            match up.at <= now {
                true => self.pad(up.pad, PadEvent::Pressed(up.button, false)),
                false => self.ups.push(up),
            }
        }
        if let Some((_, event)) = self.right.filter(|(at, _)| *at <= now) {
            self.world.mischief(event);
            self.right = None;
        }
    }

    fn plug(&mut self, pad: PadId) {
        let bus = self.random.pick(&BUSES);
        let drives = pad == PadId(0) || self.random.chance(0.8);
        self.pad(pad, PadEvent::Plugged { bus, drives });
        self.plugged[usize::from(pad.0)] = true;
    }

    fn come_or_go(&mut self) {
        let pad = self.some_pad();
        if self.plugged[usize::from(pad.0)] {
            self.pad(pad, PadEvent::Unplugged);
            self.plugged[usize::from(pad.0)] = false;
        } else {
            self.plug(pad);
        }
    }

    fn edit(&mut self) {
        if self.offered.is_some() {
            return;
        }
        let name = self.random.pick(&["first", "second"]);
        let edited = match self.random.chance(0.5) {
            true => operators::operator(&self.rig, name, &mut self.random),
            false => {
                let mut edited = self.operator.clone();
                let share = self.random.between(0.5, 1.2);
                for hand in &mut edited.hands {
                    hand.gain = Span::from_secs_f64(hand.gain.secs() * share);
                    hand.invert ^= self.random.chance(0.1);
                }
                edited
            }
        };
        self.world.offer(&edited);
        self.offered = Some(edited);
    }

    fn rig_event(&mut self) {
        if self.right.is_some() {
            return;
        }
        let at = self.world.now() + Span::from_secs_f64(self.random.between(0.2, 2.0));
        let (wrong, right) = match self.random.below(3) {
            0 => (mischief::Event::Power(false), mischief::Event::Power(true)),
            1 => (
                mischief::Event::StopInput(true),
                mischief::Event::StopInput(false),
            ),
            _ => (mischief::Event::Fault(1), mischief::Event::Fault(0)),
        };
        self.world.mischief(wrong);
        self.right = Some((at, right));
    }
}
