//! A rig with a daemon's end, for the tests.
#![allow(dead_code, reason = "each test file uses a part of this")]

pub mod judge;

use judge::Judge;
use stillhand_laws::{Event, Law};
use stillhand_rig::{AxisConfig, Config, DEFAULT_TELEMETRY_MS, Inputs, Rig};
use stillhand_wire::heapless::String;
use stillhand_wire::messages::{
    AxisSetup, FromRig, PerAxis, Ramp, Setup, Telemetry, ToRig, Unit, VERSION, Why,
};
use stillhand_wire::{FromRigDeframer, encode};

/// SplitMix64 (Steele, Lea & Flood 2014, constants from memory).
pub struct Random(pub u64);

impl Random {
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    pub fn below(&mut self, n: u64) -> u64 {
        self.next() % n
    }

    pub fn between(&mut self, low: i64, high: i64) -> i64 {
        low + self.below((high - low + 1) as u64) as i64
    }

    /// Log-uniform from 1 to about 2^bits.
    pub fn magnitude(&mut self, bits: u64) -> i64 {
        let top = self.below(bits);
        self.between(1 << top, 2 << top)
    }
}

/// One whole count per second in wire units.
pub const COUNT: i32 = 1024;
pub const SESSION: u32 = 77;
/// How long its drives take to have their full current again.
pub const RISE_MS: u16 = 30;

pub fn axis(name: &str, max_speed: u32, position: i32) -> AxisConfig {
    AxisConfig {
        name: String::try_from(name).expect("short"),
        counts: 250,
        per_units: 9,
        unit: Unit::Deg,
        max_speed,
        max_accel: 0,
        max_jerk: 0,
        referenced: true,
        position,
        lowers: false,
    }
}

pub fn config(axes: &[AxisConfig]) -> Config {
    Config {
        rig_id: String::try_from("hall-head").expect("short"),
        boot_id: 5,
        telemetry_ms: DEFAULT_TELEMETRY_MS,
        rise_ms: RISE_MS,
        axes: axes.iter().cloned().collect(),
    }
}

pub fn limits(travel: Option<(i32, i32)>, accel: u32, jerk: u32) -> AxisSetup {
    let ramp = Ramp { accel, jerk };
    AxisSetup {
        travel,
        stop_plus: ramp,
        stop_minus: ramp,
    }
}

/// What every test is judged by; see `judge`.
const ALWAYS: &[Law] = &[Law::Ceiling, Law::Travel];

/// The rig, its line and its clock. Judged from its first setup on; the verdict falls when it is dropped.
pub struct Bench {
    pub rig: Rig,
    config: Config,
    judge: Option<Judge>,
    pub now_us: u32,
    pub seq: u32,
    pub session: u32,
    pub said: Vec<FromRig>,
    deframer: FromRigDeframer,
}

impl Bench {
    pub fn new(config: Config, start_us: u32) -> Self {
        Self {
            rig: Rig::new(config.clone(), Inputs::default(), start_us),
            config,
            judge: None,
            now_us: start_us,
            seq: 0,
            session: SESSION,
            said: Vec::new(),
            deframer: FromRigDeframer::new(),
        }
    }

    /// Hello and setup done.
    pub fn ready(axes: &[AxisConfig], setup: &[AxisSetup]) -> Self {
        let mut bench = Self::new(config(axes), 0);
        bench.handshake(SESSION, setup);
        bench
    }

    pub fn handshake(&mut self, session: u32, setup: &[AxisSetup]) {
        self.session = session;
        self.seq = 0;
        self.send(&ToRig::Hello {
            version: VERSION,
            session,
        });
        self.verdict();
        self.judge = Some(Judge::new(&self.config, setup, ALWAYS));
        let setup = Self::setup(session, setup);
        self.send(&ToRig::Setup(setup.clone()));
        assert_eq!(self.said.pop(), Some(FromRig::Ack { setup }));
        assert!(matches!(self.said.pop(), Some(FromRig::Hello(_))));
    }

    pub fn setup(session: u32, axes: &[AxisSetup]) -> Setup {
        Setup {
            session,
            watchdog_ms: 120,
            axes: axes.iter().copied().collect::<PerAxis<_>>(),
        }
    }

    pub fn bytes(&mut self, bytes: &[u8]) {
        let (deframer, said) = (&mut self.deframer, &mut self.said);
        self.rig.on_bytes(bytes, self.now_us, &mut |b| {
            deframer.feed(b, |m| said.push(m))
        });
    }

    pub fn send(&mut self, message: &ToRig) {
        self.bytes(&encode(message).expect("fits"));
    }

    pub fn frame(&self, seq: u32, velocity: &[i32]) -> ToRig {
        ToRig::Velocity {
            session: self.session,
            seq,
            deadline_us: self.now_us.wrapping_add(100_000),
            velocity: velocity.iter().copied().collect(),
        }
    }

    /// Sends the next velocity frame; true if it was taken.
    pub fn drive(&mut self, velocity: &[i32]) -> bool {
        self.seq = self.seq.wrapping_add(1);
        let frame = self.frame(self.seq, velocity);
        self.send(&frame);
        self.state().applied == self.seq
    }

    pub fn tick(&mut self) {
        self.now_us = self.now_us.wrapping_add(1000);
        let (deframer, said) = (&mut self.deframer, &mut self.said);
        self.rig
            .tick(self.now_us, &mut |b| deframer.feed(b, |m| said.push(m)));
        let axes = (0..).map_while(|axis| self.rig.output(axis));
        let motors: Vec<(i32, i32)> = axes.map(|o| (o.velocity, o.position)).collect();
        if let Some(judge) = &mut self.judge {
            judge.look(&motors);
        }
    }

    /// An encoder shows a slip: the judge looks anew.
    pub fn slip(&mut self, axis: usize, counts: i32) {
        self.rig.slipped(axis, counts);
        self.tell(&Event::Moved(axis));
    }

    /// Tells the judge what happens before the next millisecond.
    pub fn tell(&mut self, event: &Event) {
        if let Some(judge) = &mut self.judge {
            judge.tell(event);
        }
    }

    fn verdict(&mut self) {
        if let Some(judge) = &mut self.judge {
            judge.verdict("always");
        }
    }

    pub fn ticks(&mut self, n: u32) {
        (0..n).for_each(|_| self.tick());
    }

    pub fn state(&self) -> Telemetry {
        self.rig.telemetry(self.now_us)
    }

    pub fn velocity(&self, axis: usize) -> i32 {
        self.rig.output(axis).expect("axis").velocity
    }

    pub fn position(&self, axis: usize) -> i32 {
        self.rig.output(axis).expect("axis").position
    }
}

impl Drop for Bench {
    fn drop(&mut self) {
        if !std::thread::panicking() {
            self.verdict();
        }
    }
}

pub fn wide_open() -> [AxisSetup; 2] {
    [
        limits(Some((-1_000_000, 1_000_000)), 3333, 8333),
        limits(None, 3333, 8333),
    ]
}

pub fn ready() -> Bench {
    Bench::ready(&[axis("pan", 1667, 0), axis("turn", 1667, 0)], &wide_open())
}

pub fn moving() -> Bench {
    let mut bench = ready();
    assert!(bench.drive(&[500 * COUNT, -300 * COUNT]));
    bench.tick();
    assert_eq!(
        (bench.velocity(0), bench.velocity(1)),
        (500 * COUNT, -300 * COUNT)
    );
    bench
}

pub fn refused(bench: &mut Bench, message: &ToRig) -> Why {
    let before = bench.state().frames_refused;
    bench.send(message);
    assert_eq!(bench.state().frames_refused, before + 1);
    match bench.said.pop() {
        Some(FromRig::Refused { why, .. }) => why,
        other => panic!("{other:?}"),
    }
}

pub fn hello(session: u32) -> ToRig {
    ToRig::Hello {
        version: VERSION,
        session,
    }
}

/// Milliseconds of the closed form for a stop from `counts` per second.
pub fn stop_ms(counts: f64) -> u32 {
    let (a, j) = (3333.0, 8333.0);
    (1000.0
        * if counts >= a * a / j {
            counts / a + a / j
        } else {
            2.0 * (counts / j).sqrt()
        }) as u32
}
