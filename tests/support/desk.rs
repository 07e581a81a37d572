//! A session and a reference rig on a desk: no port, no clock, every byte in the test's hands.

#![allow(dead_code)] // Each test uses its own part of it.

use stillhand::link::session::{Session, Standing};
use stillhand::profile::{Source, load_rig};
use stillhand_engine::MAX_AXES;
use stillhand_engine::input::{LinkEvent, LinkLoss, Telemetry};
use stillhand_engine::output::Frame;
use stillhand_engine::rig::Rig as RigFacts;
use stillhand_engine::time::{Span, Time};
use stillhand_rig::{Config, Inputs, Rig};
use stillhand_wire::messages::{AxisHello, FromRig, RigHello};
use stillhand_wire::{FromRigDeframer, ToRig, ToRigDeframer, encode};

use super::hall;

/// Changes what the rig says; `None` swallows it.
pub type Twist = Box<dyn FnMut(FromRig) -> Option<FromRig>>;

/// The session, the rig, and what passed between them.
pub struct Desk {
    pub session: Session,
    pub rig: Rig,
    pub now: Time,
    /// The rig's clock is this far ahead of ours.
    pub ahead_us: u32,
    pub events: Vec<LinkEvent>,
    pub said: Vec<ToRig>,
    /// What the engine would ask for, in 1/1024 count/s.
    pub velocity: [i32; MAX_AXES],
    twist: Option<Twist>,
    seq: u32,
    heard: FromRigDeframer,
    read: ToRigDeframer,
}

/// The rig file's facts.
pub fn facts(text: &str) -> RigFacts {
    load_rig(&Source::new("rig.toml", text))
        .expect("a good file")
        .rig
}

impl Desk {
    /// The rig of the hall, just switched on, and the port just opened.
    pub fn new() -> Desk {
        Desk::with(hall::RIG, hall::config(), 0)
    }

    /// Another file, another rig, its clock already this far.
    pub fn with(file: &str, config: Config, ahead_us: u32) -> Desk {
        let mut session = Session::new(&facts(file), 100);
        let now = Time(1_000_000_000);
        session.opened(now);
        let clock = ahead_us.wrapping_add((now.0 / 1_000) as u32);
        Desk {
            session,
            rig: Rig::new(config, Inputs::default(), clock),
            now,
            ahead_us,
            events: Vec::new(),
            said: Vec::new(),
            velocity: [0; MAX_AXES],
            twist: None,
            seq: 0,
            heard: FromRigDeframer::new(),
            read: ToRigDeframer::new(),
        }
    }

    pub fn twist(&mut self, twist: impl FnMut(FromRig) -> Option<FromRig> + 'static) {
        self.twist = Some(Box::new(twist));
    }

    /// Changes only what a hello says.
    pub fn twist_hello(&mut self, mut change: impl FnMut(&mut RigHello) + 'static) {
        self.twist(move |mut message| {
            if let FromRig::Hello(hello) = &mut message {
                change(hello);
            }
            Some(message)
        });
    }

    /// Changes only what telemetry says.
    pub fn twist_told(
        &mut self,
        mut change: impl FnMut(&mut stillhand_wire::messages::Telemetry) + 'static,
    ) {
        self.twist(move |mut message| {
            if let FromRig::Telemetry(told) = &mut message {
                change(told);
            }
            Some(message)
        });
    }

    pub fn honest(&mut self) {
        self.twist = None;
    }

    pub fn clock_us(&self) -> u32 {
        self.ahead_us.wrapping_add((self.now.0 / 1_000) as u32)
    }

    /// Lets `ms` milliseconds pass; a frame leaves every 4 ms, as from a loop at 250 Hz.
    pub fn pass(&mut self, ms: u64) {
        for _ in 0..ms {
            self.now = self.now + Span::from_millis(1);
            self.session.tick(self.now);
            let mut line = Vec::new();
            while let Some(frame) = self.session.next_write() {
                line.extend_from_slice(&frame);
            }
            if (self.now.0 / 1_000_000).is_multiple_of(4) {
                line.extend(self.frame());
            }
            let said = &mut self.said;
            self.read.feed::<ToRig>(&line, |message| said.push(message));
            let clock = self.clock_us();
            let mut back = Vec::new();
            self.rig
                .on_bytes(&line, clock, &mut |frame| back.extend_from_slice(frame));
            self.rig
                .tick(clock, &mut |frame| back.extend_from_slice(frame));
            self.hear(&back);
        }
    }

    fn frame(&mut self) -> Vec<u8> {
        self.seq += 1;
        let frame = Frame {
            seq: self.seq,
            velocity: self.velocity,
        };
        let bytes = self.session.velocity(self.now, &frame);
        bytes.map_or_else(Vec::new, |bytes| bytes.to_vec())
    }

    /// What the rig said reaches the session, twisted if asked.
    fn hear(&mut self, bytes: &[u8]) {
        match &mut self.twist {
            None => self.session.on_bytes(self.now, bytes),
            Some(twist) => {
                let (session, now) = (&mut self.session, self.now);
                self.heard.feed::<FromRig>(bytes, |message| {
                    if let Some(message) = twist(message) {
                        session.on_bytes(now, &encode(&message).expect("fits a frame"));
                    }
                });
            }
        }
        while let Some(event) = self.session.next_event() {
            if matches!(event, LinkEvent::Ready(_)) {
                // The engine numbers its frames anew for each rig it meets.
                self.seq = 0;
            }
            self.events.push(event);
        }
    }

    /// Says something to the session that the rig did not.
    pub fn inject(&mut self, message: &FromRig) {
        let bytes = encode(message).expect("fits a frame");
        self.session.on_bytes(self.now, &bytes);
        self.hear(&[]);
    }

    /// The hello the rig would answer now.
    pub fn hello(&self) -> RigHello {
        let config = hall::config();
        let axes = config.axes.iter().enumerate();
        RigHello {
            version: stillhand_wire::messages::VERSION,
            session: self.number(),
            rig_id: config.rig_id.clone(),
            boot_id: config.boot_id,
            clock_us: self.clock_us(),
            axes: axes
                .map(|(place, axis)| {
                    let output = self.rig.output(place).expect("as many");
                    AxisHello {
                        name: axis.name.clone(),
                        counts: axis.counts,
                        per_units: axis.per_units,
                        unit: axis.unit,
                        max_speed: axis.max_speed,
                        max_accel: axis.max_accel,
                        max_jerk: axis.max_jerk,
                        own_ramps: false,
                        referenced: true,
                        position: output.position,
                        velocity: output.velocity,
                    }
                })
                .collect(),
        }
    }

    /// The session's number: that of the last thing said.
    pub fn number(&self) -> u32 {
        match self.said.last() {
            Some(ToRig::Hello { session, .. } | ToRig::Velocity { session, .. }) => *session,
            Some(ToRig::Setup(setup)) => setup.session,
            Some(ToRig::Reference(reference)) => reference.session,
            Some(ToRig::Standstill(word)) => word.session,
            None => 0,
        }
    }

    /// Until the rig may be moved, and the events of that are forgotten.
    pub fn meet(&mut self) {
        self.pass(600);
        assert_eq!(*self.session.standing(), Standing::Ready);
        self.events.clear();
    }

    /// Pan at `counts` counts/s, under way.
    pub fn run(&mut self, counts: i32) {
        self.meet();
        self.velocity[0] = counts * 1024;
        self.pass(200);
        assert_eq!(self.rig.output(0).expect("pan").velocity, counts * 1024);
        self.events.clear();
    }

    /// Why the link was lost, each time.
    pub fn losses(&self) -> Vec<LinkLoss> {
        let lost = self.events.iter().filter_map(|event| match event {
            LinkEvent::Lost(loss) => Some(*loss),
            _ => None,
        });
        lost.collect()
    }

    /// How often the rig was met.
    pub fn met(&self) -> usize {
        let ready = |event: &&LinkEvent| matches!(event, LinkEvent::Ready(_));
        self.events.iter().filter(ready).count()
    }

    /// What the rig told.
    pub fn told(&self) -> Vec<Telemetry> {
        let told = self.events.iter().filter_map(|event| match event {
            LinkEvent::Told(told) => Some(*told),
            _ => None,
        });
        told.collect()
    }
}
