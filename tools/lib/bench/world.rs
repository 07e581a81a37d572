//! An engine with eight axes, a pad that drives all of them, and a rig that follows at once.

use rtrb::Consumer;
use std::sync::Arc;
use stillhand::journal::recorder::{self, Recorder};
use stillhand::journal::{Bounds, Standing};
use stillhand_engine::bindings::{Action, Binding, Bindings, Press};
use stillhand_engine::feel::{Curve, Throw};
use stillhand_engine::input::{
    AxisReport, Button, Control, LinkEvent, LinkLoss, PadBus, PadEvent, PadId, RigReport, Telemetry,
};
use stillhand_engine::operator::{
    Gears, Groups, Hand, Operator, Quiet, Source, StickShape, Sticks,
};
use stillhand_engine::output::{AxisStatus, Notice, Status};
use stillhand_engine::rig::{self, Axes, Axis, LimitSet, Limits, Rig, Sense, Travel};
use stillhand_engine::time::{Span, Time};
use stillhand_engine::units::{Accel, Jerk, Pos, Speed, Unit};
use stillhand_engine::{Engine, Input, Inputs, MAX_AXES, Tick};

/// As many axes as a rig can have.
pub const AXES: usize = MAX_AXES;
/// 250 turns a second, the daemon's default.
const PERIOD: Span = Span::from_millis(4);
/// A rig tells where it is 50 times a second: every fifth turn.
const TELL_EVERY: u64 = 5;
/// 10,000 counts a turn.
const COUNTS_PER_DEG: f64 = 10_000.0 / 360.0;
/// What the sticks of a pad give.
pub const STICKS: [Control; 4] = [Control::Lx, Control::Ly, Control::Rx, Control::Ry];
/// The pad that drives.
pub const PAD: PadId = PadId(0);

/// What ends the axes have.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Ends {
    /// None: they turn round and round.
    None,
    /// 20 degrees to each side, which a second of full stick reaches.
    Near,
}

/// The engine and what is around it.
pub struct World {
    engine: Engine,
    turn: u64,
    edges: Vec<Input>,
    next: Vec<Input>,
    position: [f64; AXES],
    velocity: [f64; AXES],
    applied: u32,
    at_applied: [f64; AXES],
    offered: Option<Box<Operator>>,
    /// Counts per unit of the picture.
    counts: [f64; AXES],
    journal: Option<Recorder>,
    /// Where the journal's writer would be.
    written: Option<Consumer<u8>>,
}

impl World {
    /// A rig that is ready and a pad that is plugged in, at rest.
    pub fn new(ends: Ends) -> World {
        World::of(&rig(ends), &operator())
    }

    /// The same, with another rig and other hands.
    pub fn of(rig: &Rig, operator: &Operator) -> World {
        let engine = Engine::new(std::slice::from_ref(rig), operator, PERIOD).expect("they fit");
        let (mut counts, mut position) = ([1.0; AXES], [0.0; AXES]);
        for (place, axis) in rig.axes.iter().enumerate() {
            counts[place] = axis.counts_per_unit * axis.sense.sign();
            if let Travel::Finite(ends) = axis.travel {
                position[place] = 0.5 * (ends.low().0 + ends.high().0);
            }
        }
        let mut world = World {
            engine,
            counts,
            turn: 0,
            edges: Vec::with_capacity(64),
            next: Vec::with_capacity(64),
            position,
            velocity: [0.0; AXES],
            applied: 0,
            at_applied: [0.0; AXES],
            offered: None,
            journal: None,
            written: None,
        };
        world.find_link();
        world.plug();
        world
    }

    /// Records every turn from now on, with an image of the engine every second or so.
    pub fn record(mut self) -> World {
        let bounds = Bounds {
            file_bytes: 100_000,
            ..Bounds::default()
        };
        let (recorder, written) = Recorder::new(&bounds, Arc::new(Standing::default()));
        (self.journal, self.written) = (Some(recorder), Some(written));
        self
    }

    /// Shows the sticks at their centres until they count.
    pub fn arm(&mut self) {
        self.push_all(0.0);
        for _ in 0..100 {
            self.before();
            self.step();
            self.after();
        }
    }

    /// What happens on the pad before the next turn.
    pub fn pad(&mut self, event: PadEvent) {
        self.pad_of(PAD, event);
    }

    /// What happens on one of several pads before the next turn.
    pub fn pad_of(&mut self, pad: PadId, event: PadEvent) {
        self.next.push(Input::Pad(pad, event));
    }

    /// Plugs the pad in.
    pub fn plug(&mut self) {
        self.plug_in(PAD);
    }

    /// Plugs one of several pads in.
    pub fn plug_in(&mut self, pad: PadId) {
        let bus = PadBus::Wired;
        self.pad_of(pad, PadEvent::Plugged { bus, drives: true });
    }

    /// Moves all sticks to `to`, -1..=1.
    pub fn push_all(&mut self, to: f64) {
        for stick in STICKS {
            self.pad(PadEvent::Moved(stick, to));
        }
    }

    /// A press and a release between two turns.
    pub fn tap(&mut self, button: Button) {
        self.pad(PadEvent::Pressed(button, true));
        self.pad(PadEvent::Pressed(button, false));
    }

    /// Takes the link away; the rig stops.
    pub fn lose_link(&mut self) {
        self.velocity = [0.0; AXES];
        let lost = LinkEvent::Lost(LinkLoss::Unplugged);
        self.next.push(Input::Link(0, lost));
    }

    /// The rig is met where it is.
    pub fn find_link(&mut self) {
        self.applied = 0;
        let axes = self.position.map(|position| AxisReport {
            position,
            referenced: true,
            ..AxisReport::default()
        });
        let ready = LinkEvent::Ready(RigReport { axes });
        self.next.push(Input::Link(0, ready));
    }

    /// Asks the engine to end.
    pub fn end(&mut self) {
        self.next.push(Input::End);
    }

    /// The rig moves, and tells now and then.
    pub fn before(&mut self) {
        self.turn += 1;
        if let Some(ring) = &mut self.written
            && let Ok(records) = ring.read_chunk(ring.slots())
        {
            records.commit_all();
        }
        for (position, velocity) in self.position.iter_mut().zip(self.velocity) {
            *position += velocity * PERIOD.secs();
        }
        if self.applied > 0 && self.turn.is_multiple_of(TELL_EVERY) {
            let told = LinkEvent::Told(Telemetry {
                applied: self.applied,
                at_applied: self.at_applied,
                position: self.position,
                referenced: [true; AXES],
            });
            self.next.push(Input::Link(0, told));
        }
        std::mem::swap(&mut self.edges, &mut self.next);
        self.next.clear();
    }

    /// Edits the operator's profile: other deadbands, which apply at once.
    pub fn edit(&mut self) {
        let mut edited = operator();
        for hand in &mut edited.hands {
            hand.throw = Throw::new(0.15, 0.95).expect("apart");
        }
        self.offered = Some(Box::new(edited));
    }

    /// One turn of the engine, recorded if it is to be, and nothing else.
    pub fn step(&mut self) {
        let tick = Tick {
            index: self.turn,
            now: Time(self.turn * PERIOD.0),
        };
        let inputs = Inputs {
            stop: None,
            edges: &self.edges,
            operator: self.offered.take(),
            rig: None,
            errand: None,
        };
        let outputs = recorder::step(&mut self.engine, &mut self.journal, tick, inputs);
        std::hint::black_box(outputs);
    }

    /// The rig takes the frame.
    pub fn after(&mut self) {
        if let Some(frame) = self.engine.outputs().rigs[0].frame {
            self.applied = frame.seq;
            self.at_applied = self.position;
            for (axis, steps) in frame.velocity.into_iter().enumerate() {
                self.velocity[axis] = f64::from(steps) / 1024.0 / self.counts[axis];
            }
        }
    }

    /// How the axes stand.
    pub fn axes(&self) -> &[AxisStatus; AXES] {
        &self.engine.outputs().rigs[0].axes
    }

    /// How the engine stands.
    pub fn status(&self) -> &Status {
        &self.engine.outputs().status
    }

    /// What the last turn told.
    pub fn notices(&self) -> impl Iterator<Item = Notice> {
        self.engine.outputs().notices.iter()
    }
}

fn set(accel: f64, jerk: f64) -> LimitSet {
    LimitSet {
        accel: Accel(accel),
        jerk: Jerk(jerk),
    }
}

fn rig(ends: Ends) -> Rig {
    let near = rig::Ends::new(Pos(-20.0), Pos(20.0)).expect("low below high");
    let axis = |place: usize| Axis {
        name: format!("axis {place}"),
        unit: Unit::Deg,
        counts_per_unit: COUNTS_PER_DEG,
        sense: Sense::Same,
        travel: match ends {
            Ends::None => Travel::Continuous,
            Ends::Near => Travel::Finite(near),
        },
        speed: Speed(60.0),
        limits: Limits::new(set(120.0, 600.0), set(240.0, 2_400.0), set(240.0, 2_400.0))
            .expect("stop above normal"),
        reach_mm: 1000.0,
        needs_enable: false,
        may_lower_current: false,
    };
    Rig {
        id: "bench".to_owned(),
        axes: Axes::new((0..AXES).map(axis).collect()).expect("as many as there can be"),
        delay: Span::from_millis(10),
        frame_period: PERIOD,
        watchdog: Span::from_millis(120),
    }
}

/// The hands of the concert's profile on every axis.
fn operator() -> Operator {
    let hand = |place: usize| Hand {
        rig: 0,
        axis: place as u8,
        group: 0,
        control: Some(Source::Stick(STICKS[place % STICKS.len()])),
        fine: None,
        framing: None,
        quiet: Quiet::NotMeasured,
        inch: None,
        invert: false,
        throw: Throw::new(0.1, 0.95).expect("far enough apart"),
        curve: Curve::exponential(0.2).expect("in range"),
        steady: None,
        gears: Gears::new(&[Speed(2.0), Speed(12.0), Speed(45.0)]).expect("rising"),
        ceiling: None,
        gain: Span::from_millis(250),
        lose: Span::from_millis(250),
    };
    let wedge = (8.0_f64).to_radians().tan();
    Operator {
        name: "bench".to_owned(),
        hands: (0..AXES).map(hand).collect(),
        sticks: Sticks {
            left: StickShape::Axial { wedge_tan: wedge },
            right: StickShape::Axial { wedge_tan: wedge },
        },
        groups: Groups::single(),
        speed_trigger: None,
        enable: None,
        starts_quiet: false,
        shakes: stillhand_engine::operator::Shakes::Never,
        bindings: bindings(),
        first_gear: 1,
    }
}

fn bindings() -> Bindings {
    let bind = |press, action| Binding { press, action };
    let list = vec![
        bind(Press::Tap(Button::East), Action::Stop),
        bind(Press::Held(Button::Start), Action::Release),
        bind(Press::Tap(Button::Tr), Action::GearUp),
        bind(Press::Tap(Button::Tl), Action::GearDown),
    ];
    Bindings::new(list, MAX_AXES).expect("they go together")
}
