//! Everything said on the line to one rig, sans-IO: bytes in, events and frames out.
//!
//! ```text
//!            opened                hello accepted, at rest         echo right
//!   Closed ─────────▶ Greeting ──────────────────────▶ SettingUp ─────────────▶ Ready
//!     ▲                 ▲  ▲  └─ not believed: Refused ─┐  │                      │
//!     │ closed          │  └───── every second ─────────┘  │ no echo             │ lost:
//!     └── any state     └──────────────────────────────────┴─────────────────────┘ greet again
//!                       └──── over ──── Held ◀─────────────── fault, stop input ──┘
//! ```

use super::accept::{Refusal, accept};
use super::clock::RigClock;
use super::convert::{Unwrapped, agreed_stop, setup};
use super::heard::Heard;
use super::traffic::{Ledger, Traffic};
use std::collections::VecDeque;
use stillhand_engine::MAX_AXES;
use stillhand_engine::input::{LinkEvent, LinkLoss, RigReport};
use stillhand_engine::output::Frame;
use stillhand_engine::rig::Rig;
use stillhand_engine::time::{Span, Time};
use stillhand_wire::frame::{FrameBytes, RESYNC};
use stillhand_wire::messages::{self, PerAxis, RigHello, Setup, VERSION};
use stillhand_wire::{FromRig, FromRigDeframer, ToRig, encode};

mod reference;
mod standstill;
mod telling;

use reference::Asking;
use standstill::Easing;

/// A hello or setup without an answer is said again after this long.
const ASK_AGAIN: Span = Span::from_millis(250);
/// A rig that was refused is greeted again this much later: someone may have plugged in another.
const GREET_AGAIN: Span = Span::from_millis(1_000);
/// A rig tells where it is every 20 ms; after this long without it is gone.
const SILENCE: Span = Span::from_millis(500);
/// A velocity frame may be taken up to this long after it left.
pub(crate) const FRAME_LIFE_US: u32 = 100_000;
/// Most events and frames waiting between two ticks: a tick of 20 ms holds one telling and one
/// change; everything beyond is from a rig that floods us and is dropped, oldest first.
const WAITING: usize = 32;

/// How the session stands.
#[derive(Clone, Debug, PartialEq)]
pub enum Standing {
    /// The port is not open.
    Closed,
    /// Greeting; nothing sensible was heard yet.
    Greeting,
    /// The rig answered, but is still moving.
    AwaitingRest,
    /// The rig is being told travel, stop sets and watchdog.
    SettingUp,
    /// It may be moved.
    Ready,
    /// It may not be moved, and why.
    Refused(Refusal),
    /// Motor power is off.
    PowerOff,
    /// It tells of something that has to be over first.
    Held(LinkLoss),
}

/// The session with one rig.
#[derive(Debug)]
pub struct Session {
    rig: Rig,
    standing: Standing,
    session: u32,
    asked: Time,
    heard: Time,
    boot: Option<u32>,
    report: Option<RigReport>,
    sent_setup: Option<Setup>,
    positions: [Unwrapped; MAX_AXES],
    clock: RigClock,
    deframer: FromRigDeframer,
    events: VecDeque<LinkEvent>,
    writes: VecDeque<FrameBytes>,
    heard_bytes: Heard,
    latest: Option<messages::Telemetry>,
    ledger: Ledger,
    news: super::news::News,
    /// A reference the rig has not answered yet.
    asking: Option<Asking>,
    /// The motors' current at standstill.
    easing: Easing,
}

impl Session {
    /// A session with `rig`, closed. `first` is the number of the first session, never 0; it should
    /// differ from run to run, so that a rig can tell old frames from new.
    pub fn new(rig: &Rig, first: u32) -> Session {
        Session {
            rig: rig.clone(),
            standing: Standing::Closed,
            session: first.max(1),
            asked: Time(0),
            heard: Time(0),
            boot: None,
            report: None,
            sent_setup: None,
            positions: [Unwrapped::default(); MAX_AXES],
            clock: RigClock::default(),
            deframer: FromRigDeframer::new(),
            events: VecDeque::with_capacity(WAITING),
            writes: VecDeque::with_capacity(WAITING),
            heard_bytes: Heard::default(),
            latest: None,
            ledger: Ledger::default(),
            news: super::news::News::new(first.max(1)),
            asking: None,
            easing: Easing::default(),
        }
    }

    /// The number of the present session.
    pub fn number(&self) -> u32 {
        self.session
    }

    /// How it stands.
    pub fn standing(&self) -> &Standing {
        &self.standing
    }

    /// The rig this is a session with.
    pub fn rig(&self) -> &Rig {
        &self.rig
    }

    /// What the rig told last.
    pub fn latest(&self) -> Option<&messages::Telemetry> {
        self.latest.as_ref()
    }

    /// What was heard since the port was opened.
    pub fn heard(&self) -> &Heard {
        &self.heard_bytes
    }

    /// What went over the line since the start.
    pub fn traffic(&self) -> Traffic {
        self.ledger.traffic()
    }

    /// What the rig said of itself when it was last met.
    pub fn report(&self) -> Option<&RigReport> {
        self.report.as_ref()
    }

    /// Goes by another file of the rig from now on, and hands the one before back in its place: the
    /// rig is greeted and set up anew. What it told under the old one is forgotten.
    pub fn adopt(&mut self, now: Time, rig: &mut Rig) {
        std::mem::swap(&mut self.rig, rig);
        self.events.clear();
        match self.standing {
            Standing::Closed => {}
            // Whatever holds it has to be over first, as before.
            Standing::Held(_) | Standing::PowerOff => self.greet_as(now, None),
            Standing::Greeting
            | Standing::AwaitingRest
            | Standing::SettingUp
            | Standing::Ready
            | Standing::Refused(_) => self.greet(now),
        }
    }

    /// The port was opened.
    pub fn opened(&mut self, now: Time) {
        self.deframer.forget();
        self.heard_bytes = Heard::default();
        self.heard = now;
        self.clock = RigClock::default();
        self.boot = None;
        self.greet(now);
    }

    /// The port is gone.
    pub fn closed(&mut self) {
        self.lose(LinkLoss::Unplugged);
        self.standing = Standing::Closed;
        self.writes.clear();
    }

    /// For how long a frame may wait before the rig's watchdog has run out: that counts from the frame
    /// before it.
    pub fn patience(&self) -> Span {
        let rig = self.rig();
        Span(rig.watchdog.0.saturating_sub(rig.frame_period.0))
    }

    /// Nothing could be written until the rig's watchdog ran out.
    pub fn stalled(&mut self, now: Time) {
        if self.standing == Standing::Ready {
            self.lose(LinkLoss::Stalled);
            self.greet(now);
        }
    }

    /// Takes what the port delivered.
    pub fn on_bytes(&mut self, now: Time, bytes: &[u8]) {
        self.heard_bytes.take(bytes);
        for &byte in bytes {
            match self.deframer.push::<FromRig>(byte) {
                Some(Ok(message)) => self.on_message(now, message),
                Some(Err(_)) => self.ledger.damaged(),
                None => {}
            }
        }
    }

    /// Lets time pass: asks again, notices silence.
    pub fn tick(&mut self, now: Time) {
        let waited = now.since(self.asked);
        match self.standing {
            Standing::Greeting
            | Standing::AwaitingRest
            | Standing::SettingUp
            | Standing::PowerOff => {
                if waited >= ASK_AGAIN {
                    self.greet_as(now, None);
                }
            }
            Standing::Refused(_) if waited >= GREET_AGAIN => {
                self.asked = now;
                self.say_hello();
            }
            // Anew: a rig that ended the session meanwhile, by finding its reference for one, refuses the old.
            Standing::Held(_) if waited >= GREET_AGAIN => self.greet_as(now, None),
            Standing::Closed | Standing::Refused(_) => {}
            Standing::Ready | Standing::Held(_) => {
                if now.since(self.heard) >= SILENCE {
                    self.lose(LinkLoss::Silent);
                    self.greet(now);
                }
                self.press_reference(now);
                self.press_current(now);
            }
        }
    }

    /// The next event for the engine.
    pub fn next_event(&mut self) -> Option<LinkEvent> {
        self.events.pop_front()
    }

    /// The next frame of the handshake to write, before any velocity.
    pub fn next_write(&mut self) -> Option<FrameBytes> {
        self.writes.pop_front()
    }

    /// A velocity frame as bytes; `None` unless the rig may be moved. Tell with [`Session::left`] when it has left.
    pub fn velocity(&mut self, now: Time, frame: &Frame) -> Option<FrameBytes> {
        if self.standing != Standing::Ready {
            return None;
        }
        let deadline_us = self.clock.at(now)?.wrapping_add(FRAME_LIFE_US);
        let velocity = PerAxis::from_slice(&frame.velocity[..self.rig.axes.len()]).ok()?;
        let message = ToRig::Velocity {
            session: self.session,
            seq: frame.seq,
            deadline_us,
            velocity,
        };
        encode(&message).ok()
    }

    /// Velocity frame `seq` is wholly in the port, at once or late.
    pub fn left(&mut self, seq: u32) {
        // One of an ended session leaves before the new one's hello, so before that is ready.
        self.ledger.left(seq, self.standing == Standing::Ready);
    }

    fn greet(&mut self, now: Time) {
        self.greet_as(now, Some(Standing::Greeting));
    }

    /// Begins a new session; keeps the standing unless another is given.
    fn greet_as(&mut self, now: Time, standing: Option<Standing>) {
        self.session = self.session.wrapping_add(1).max(1);
        self.asked = now;
        self.report = None;
        self.sent_setup = None;
        self.asking = None;
        self.easing = Easing::default();
        self.writes.clear();
        match (standing, &self.standing) {
            (Some(standing), _) => self.standing = standing,
            (None, Standing::SettingUp) => self.standing = Standing::Greeting,
            (None, _) => {}
        }
        self.say_hello();
    }

    fn say_hello(&mut self) {
        let mut bytes = FrameBytes::new();
        let hello = ToRig::Hello {
            version: VERSION,
            session: self.session,
        };
        // A hello is a few bytes long; neither can fail, and unsaid it is said again.
        if let Ok(frame) = encode(&hello)
            && bytes.extend_from_slice(&RESYNC).is_ok()
            && bytes.extend_from_slice(&frame).is_ok()
        {
            self.push_write(bytes);
        }
    }

    fn on_message(&mut self, now: Time, message: FromRig) {
        match message {
            FromRig::Hello(hello) if hello.session == self.session => self.on_hello(now, &hello),
            FromRig::Ack { setup } if setup.session == self.session => self.on_ack(now, &setup),
            FromRig::Refused { session, why } if session == self.session => {
                self.on_refused(now, why);
            }
            FromRig::Telemetry(telemetry) => self.on_telemetry(now, telemetry),
            FromRig::Referenced {
                session,
                number,
                refused,
            } if session == self.session => self.on_referenced(now, number, refused),
            FromRig::Standstill {
                session,
                number,
                lowered,
                can: _,
            } if session == self.session => self.on_standstill(number, lowered),
            // An answer to an earlier session: late, and of no use any more.
            FromRig::Hello(_)
            | FromRig::Ack { .. }
            | FromRig::Refused { .. }
            | FromRig::Referenced { .. }
            | FromRig::Standstill { .. } => {}
        }
    }

    fn on_hello(&mut self, now: Time, hello: &RigHello) {
        match self.standing {
            Standing::Closed | Standing::Held(_) => return,
            // The answer that was believed, repeated; or it has started again behind our back.
            Standing::Ready => {
                if self.boot != Some(hello.boot_id) {
                    self.lose(LinkLoss::Restarted);
                    self.greet(now);
                }
                return;
            }
            Standing::Greeting
            | Standing::AwaitingRest
            | Standing::SettingUp
            | Standing::Refused(_)
            | Standing::PowerOff => {}
        }
        self.clock.told(now, hello.clock_us);
        let accepted = match accept(&self.rig, hello) {
            Ok(accepted) => accepted,
            Err(refusal) => {
                self.standing = Standing::Refused(refusal);
                return;
            }
        };
        if self.boot.is_some_and(|boot| boot != hello.boot_id) {
            self.clock = RigClock::default();
            self.clock.told(now, hello.clock_us);
        }
        self.boot = Some(hello.boot_id);
        if !accepted.at_rest {
            self.standing = Standing::AwaitingRest;
            return;
        }
        for (position, told) in self.positions.iter_mut().zip(&hello.axes) {
            *position = Unwrapped::at(told.position);
        }
        let report = accepted.report;
        let stop = |place: usize, sign: f64| agreed_stop(&self.rig, &report, place, sign);
        let setup = match setup(&self.rig, self.session, stop) {
            Ok(setup) => setup,
            Err(refusal) => {
                self.standing = Standing::Refused(refusal);
                return;
            }
        };
        self.report = Some(report);
        self.standing = Standing::SettingUp;
        if let Ok(bytes) = encode(&ToRig::Setup(setup.clone())) {
            self.push_write(bytes);
        }
        self.sent_setup = Some(setup);
        self.asked = now;
    }

    fn on_ack(&mut self, now: Time, echo: &Setup) {
        let (Standing::SettingUp, Some(sent), Some(report)) =
            (&self.standing, &self.sent_setup, self.report)
        else {
            return;
        };
        if sent != echo {
            self.standing = Standing::Refused(Refusal::Echo);
            return;
        }
        self.standing = Standing::Ready;
        self.heard = now;
        self.latest = None;
        self.ledger.begin();
        self.news.begin();
        self.push_event(LinkEvent::Ready(report));
    }

    fn on_refused(&mut self, now: Time, why: messages::Why) {
        if matches!(self.standing, Standing::Closed | Standing::Held(_)) {
            return;
        }
        if self.standing == Standing::Ready {
            // It no longer does what it has agreed to.
            self.lose(LinkLoss::Restarted);
            self.greet(now);
            return;
        }
        match why {
            // These pass by themselves; asking again is the answer.
            messages::Why::NotAtRest => self.standing = Standing::AwaitingRest,
            messages::Why::PowerOff => self.standing = Standing::PowerOff,
            messages::Why::OldSession | messages::Why::WrongSession | messages::Why::AlreadySet => {
                self.standing = Standing::Greeting;
            }
            messages::Why::Version
            | messages::Why::AxisCount
            | messages::Why::BadTravel
            | messages::Why::BadRamp
            | messages::Why::BadWatchdog => {
                self.standing = Standing::Refused(Refusal::ByRig(why));
            }
        }
    }

    fn lose(&mut self, loss: LinkLoss) {
        if self.standing == Standing::Ready {
            self.push_event(LinkEvent::Lost(loss));
        }
    }

    fn push_event(&mut self, event: LinkEvent) {
        if self.events.len() == WAITING {
            // Only tellings come this thick; a newer one makes the oldest worthless.
            let oldest = self
                .events
                .iter()
                .position(|e| matches!(e, LinkEvent::Told(_)));
            self.events.remove(oldest.unwrap_or(0));
        }
        self.events.push_back(event);
    }

    fn push_write(&mut self, bytes: FrameBytes) {
        if self.writes.len() == WAITING {
            self.writes.pop_front();
        }
        self.writes.push_back(bytes);
    }
}
