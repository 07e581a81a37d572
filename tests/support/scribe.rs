//! Journals of invented sessions in the hall.
#![allow(dead_code, reason = "each test uses a part of it")]

use std::io::{self, Write};
use std::path::Path;
use std::sync::Arc;
use stillhand::journal::folder::Folder;
use stillhand::journal::recorder::Recorder;
use stillhand::journal::writer::{self, Files};
use stillhand::journal::{Bounds, Head, RigHead, Standing};
use stillhand::link::mischief;
use stillhand::profile::{builtin, load_operator, load_rig};
use stillhand::soak::world::{World, WorldOptions};
use stillhand_engine::errand::{Errand, Leg, Purpose};
use stillhand_engine::input::{
    AxisReport, Button, Control, Input, Inputs, LinkEvent, LinkLoss, Order, PadBus, PadEvent,
    PadId, RigReport, StopSource, Telemetry, Tick,
};
use stillhand_engine::operate::modes::Mode;
use stillhand_engine::operator::{Enable, Operator};
use stillhand_engine::output::Outputs;
use stillhand_engine::reference::{NotReferenced, Reference, Stands};
use stillhand_engine::rig::{LimitSet, Rig};
use stillhand_engine::time::{Span, Time};
use stillhand_engine::units::{Accel, Jerk, Speed};
use stillhand_engine::{Engine, MAX_AXES};

/// Repeatable random numbers: xorshift64* (Vigna 2016, doi 10.1145/2845077).
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Dice {
        Dice(seed.wrapping_add(1).wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    pub fn unit(&mut self) -> f64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        (self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub fn below(&mut self, most: usize) -> usize {
        (self.unit() * most as f64) as usize
    }

    pub fn chance(&mut self, share: f64) -> bool {
        self.unit() < share
    }
}

pub fn bench() -> Rig {
    load_rig(&builtin::BENCH_RIG.source()).expect("shipped").rig
}

pub fn hands(place: usize, rig: &Rig) -> Operator {
    let file = load_operator(&builtin::OPERATORS[place].source()).expect("shipped");
    file.resolve(std::slice::from_ref(rig)).expect("they fit")
}

fn head_of(rig: &Rig) -> Head {
    let axes = rig.axes.iter().map(|axis| (axis.name.clone(), axis.unit));
    Head {
        program: env!("CARGO_PKG_VERSION").to_owned(),
        run: 7,
        number: 0,
        begun_s: 0,
        operator: "talk".to_owned(),
        rigs: vec![RigHead {
            id: rig.id.clone(),
            axes: axes.collect(),
        }],
    }
}

/// A head and an engine for the bench rig and the talk.
pub fn hall() -> (Head, Engine) {
    let rig = bench();
    let operator = hands(0, &rig);
    let engine = Engine::new(std::slice::from_ref(&rig), &operator, Span::from_millis(4));
    (head_of(&rig), engine.expect("they fit"))
}

/// What a session had in it.
#[derive(Debug, Default)]
pub struct Seen {
    pub ticks: u64,
    pub moving: u64,
    /// At its end a reference was taken.
    pub referenced: bool,
}

/// A session of hands that do anything, in a whole world, recorded to a folder.
pub fn session(seed: u64, seconds: f64, bounds: &Bounds, folder: &Path) -> Seen {
    let mut dice = Dice::new(seed);
    let rig = bench();
    let first = hands(dice.below(3), &rig);
    let options = WorldOptions {
        period: Span::from_millis([4, 4, 10][dice.below(3)]),
        line_delay: Span::from_millis(1),
        hostile_line: false,
        rig_clock_us: 0,
        excuses_weak_motors: false,
    };
    let mut world = World::new(&rig, &first, options).expect("they fit");
    let standing = Arc::new(Standing::default());
    let (recorder, ring) = Recorder::new(bounds, Arc::clone(&standing));
    let files = Folder::open(folder, bounds.files).expect("ours");
    let mut head = head_of(&rig);
    head.run = seed;
    let thread = writer::start(files, head, ring, Arc::clone(&standing), || 0).expect("a thread");
    world.record(Some(recorder));
    world.plug(PadId(0));
    for control in Control::ALL {
        world.pad(PadId(0), PadEvent::Moved(control, 0.0));
    }
    let mut seen = Seen::default();
    let end = Time(0) + Span::from_secs_f64(seconds);
    while world.now() < end {
        if dice.chance(0.03) {
            something(&mut world, &mut dice, &rig);
        }
        let mut pause = options.period;
        if dice.chance(0.001) {
            pause = Span::from_millis(50 + 100 * dice.below(2) as u64);
        }
        world.tick_after(pause);
        seen.ticks += 1;
        let axes = &world.outputs().rigs[0].axes;
        seen.moving += u64::from(axes.iter().any(|axis| axis.speed != 0.0));
    }
    seen.referenced = refer(&mut world);
    world.record(None);
    thread.join().expect("it ends");
    assert_eq!((standing.stopped(), standing.lost()), (None, 0));
    seen
}

fn something(world: &mut World, dice: &mut Dice, rig: &Rig) {
    let pad = PadId(dice.below(2) as u8);
    match dice.below(20) {
        0..=8 => {
            let control = Control::ALL[dice.below(Control::ALL.len())];
            let value = [0.0, 2.0 * dice.unit() - 1.0, 1.0, -1.0][dice.below(4)];
            world.pad(pad, PadEvent::Moved(control, value));
        }
        9..=11 => {
            for control in Control::ALL {
                world.pad(pad, PadEvent::Moved(control, 0.0));
            }
        }
        12..=15 => {
            // A stop is for seldom, or little else would happen.
            let all = Button::ALL.map(|b| if b == Button::East { Button::Tr } else { b });
            let from = if dice.chance(0.1) { Button::ALL } else { all };
            let button = from[dice.below(from.len())];
            world.pad(pad, PadEvent::Pressed(button, dice.chance(0.5)));
        }
        16 => world.plug_on(pad, [PadBus::Wired, PadBus::Usb][dice.below(2)]),
        17 if dice.chance(0.3) => world.unplug(pad),
        17 => world.offer(&hands(dice.below(3), rig)),
        18 if dice.chance(0.3) => world.command_stop(),
        18 => {
            world.pad(pad, PadEvent::Pressed(Button::Start, true));
            world.run(0.7);
            world.pad(pad, PadEvent::Pressed(Button::Start, false));
        }
        _ if dice.chance(0.2) => {
            world.pull_cable();
            world.run(0.1);
            world.plug_cable();
        }
        _ => world.mischief(mischief::Event::TelemetryMute(dice.chance(0.3))),
    }
}

/// Lets everything come to rest and sets a reference; whether it was taken.
fn refer(world: &mut World) -> bool {
    world.mischief(mischief::Event::TelemetryMute(false));
    for pad in [PadId(0), PadId(1)] {
        for control in Control::ALL {
            world.pad(pad, PadEvent::Moved(control, 0.0));
        }
    }
    world.run(2.0);
    world.order(Order::Mode(Mode::Rolling, false));
    world.order(Order::Reference(reference(12.5)));
    world.run(0.5);
    world.outputs().status.reference.stands == Stands::Taken
}

/// Tilt is said to stand there, whatever it knows.
fn reference(at: f64) -> Reference {
    Reference {
        rig: 0,
        axis: 1,
        at,
        again: true,
    }
}

/// When the tick of [`recorded`] of this index is.
pub fn moment(index: u64) -> Time {
    Time(1_000_000_000 + index * 4_000_000 + (index * index * 7_919) % 300_000)
}

/// The stop slot of that tick.
pub fn stop(index: u64) -> Option<StopSource> {
    match index {
        45 => Some(StopSource::Command),
        52 => Some(StopSource::Pad(PadId(0))),
        _ => None,
    }
}

/// Everything that can happen, a kind of it in each tick.
pub fn edges(index: u64) -> Vec<Input> {
    let pad = |event| Input::Pad(PadId(0), event);
    let mut report = RigReport {
        axes: [AxisReport::default(); MAX_AXES],
    };
    report.axes[0].speed = Some(120.0);
    report.axes[2].accel = Some(500.0);
    report.axes[2].jerk = Some(2_500.0);
    report
        .axes
        .iter_mut()
        .for_each(|axis| axis.referenced = true);
    let told = Telemetry {
        applied: 3,
        at_applied: [0.25; MAX_AXES],
        position: [0.5; MAX_AXES],
        referenced: [true; MAX_AXES],
    };
    match index {
        1 => vec![Input::Link(0, LinkEvent::Ready(report))],
        2 => vec![pad(PadEvent::Plugged {
            bus: PadBus::Bluetooth,
            drives: true,
        })],
        3 => Control::ALL.map(|c| pad(PadEvent::Moved(c, 0.0))).to_vec(),
        4 => vec![
            pad(PadEvent::Alive),
            pad(PadEvent::Bus(PadBus::Streaming)),
            pad(PadEvent::Moved(Control::Rx, -0.0)),
        ],
        6 => Button::ALL
            .map(|b| pad(PadEvent::Pressed(b, true)))
            .to_vec(),
        7 => Button::ALL
            .map(|b| pad(PadEvent::Pressed(b, false)))
            .to_vec(),
        9 => Mode::ALL
            .map(|m| Input::Order(Order::Mode(m, true)))
            .to_vec(),
        10 => Mode::ALL
            .map(|m| Input::Order(Order::Mode(m, false)))
            .to_vec(),
        11 => vec![Input::Order(Order::Gear { group: 0, gear: 2 })],
        12 => vec![Input::Link(0, LinkEvent::Told(told))],
        15 => vec![Input::Order(Order::Reference(reference(-3.25)))],
        16 => vec![Input::Link(
            0,
            LinkEvent::NotReferenced(NotReferenced::NoAnswer),
        )],
        13 => vec![Input::Link(0, LinkEvent::Unsent(9))],
        14 => vec![Input::Link(0, LinkEvent::SentLate(10, moment(13)))],
        20 => vec![Input::Link(0, LinkEvent::Lost(LinkLoss::Disagrees))],
        55 => vec![pad(PadEvent::Unplugged)],
        57 => vec![Input::End],
        _ => Vec::new(),
    }
}

/// The files that come in that tick.
pub fn files(index: u64) -> (Option<Operator>, Option<(u8, Rig)>) {
    let rig = bench();
    match index {
        25 => (Some(hands(1, &rig)), None),
        30 => {
            let mut slower = bench();
            slower.watchdog = Span::from_millis(100);
            (None, Some((0, slower)))
        }
        _ => (None, None),
    }
}

/// The errand that comes in that tick.
pub fn errand(index: u64) -> Option<Box<Errand>> {
    let leg = Leg {
        rig: 0,
        axis: 1,
        at: Span::from_millis(4),
        drives: Span::from_millis(40),
        speed: Speed(1.5),
        plus: false,
        set: LimitSet {
            accel: Accel(20.0),
            jerk: Jerk(100.0),
        },
    };
    let press = Enable::Button(Button::DpadUp);
    let errand = Errand::new(Purpose::Directions, press, true, vec![leg]).expect("one leg");
    (index == 27).then(|| Box::new(errand))
}

/// A journal of so many ticks with everything in them, as the bytes of its one file; `doctor` may change what
/// comes out before it is recorded.
pub fn recorded(ticks: u64, doctor: impl Fn(u64, &mut Outputs)) -> Vec<u8> {
    let bounds = Bounds {
        file_bytes: 1_000_000,
        files: 2,
        ring_bytes: 1_000_000,
    };
    let standing = Arc::new(Standing::default());
    let (mut recorder, ring) = Recorder::new(&bounds, Arc::clone(&standing));
    let (head, mut engine) = hall();
    for index in 0..ticks {
        let tick = Tick {
            index,
            now: moment(index),
        };
        let edges = edges(index);
        let (operator, rig) = files(index);
        let inputs = Inputs {
            stop: stop(index),
            edges: &edges,
            operator: operator.map(Box::new),
            rig: rig.map(|(place, rig)| (place, Box::new(rig))),
            errand: errand(index),
        };
        recorder.before(&engine, tick, &inputs);
        let mut outputs = engine.step(tick, inputs).clone();
        doctor(index, &mut outputs);
        recorder.after(tick, &outputs);
    }
    recorder.end();
    let place = tempfile::tempdir().expect("a folder");
    let folder = Folder::open(place.path(), 2).expect("ours");
    let thread = writer::start(folder, head, ring, Arc::clone(&standing), || 1_700_000_000);
    thread.expect("a thread").join().expect("it ends");
    assert_eq!((standing.stopped(), standing.lost()), (None, 0));
    std::fs::read(place.path().join("0000000001.journal")).expect("one file")
}

/// Steps with nothing going in, as fast as it goes.
pub fn write_all(recorder: &mut Recorder, engine: &mut Engine, ticks: u64) {
    for index in 0..ticks {
        let tick = Tick {
            index,
            now: moment(index),
        };
        let inputs = Inputs::default();
        recorder.before(engine, tick, &inputs);
        engine.step(tick, inputs);
        recorder.after(tick, engine.outputs());
    }
}

/// A disk with room for so many bytes.
pub struct Broken {
    left: usize,
}

impl Broken {
    pub fn after(bytes: usize) -> Broken {
        Broken { left: bytes }
    }
}

impl Files for Broken {
    type File = Scarce;
    fn begin(&mut self) -> io::Result<(u64, Scarce)> {
        Ok((1, Scarce { left: self.left }))
    }
    fn sync(&mut self, _: &mut Scarce) -> io::Result<()> {
        Ok(())
    }
    fn name(&self) -> String {
        "the hall's disk".to_owned()
    }
}

/// A file on it.
pub struct Scarce {
    left: usize,
}

impl Write for Scarce {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        match self.left.min(bytes.len()) {
            0 if !bytes.is_empty() => Err(io::Error::other("no room left")),
            some => {
                self.left -= some;
                Ok(some)
            }
        }
    }
    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}
