//! An engine on a bench: rigs of a pan and a tilt, one operator, and a tick every 4 ms.

use crate::bindings::{Action, Binding, Bindings, Press};
use crate::errand::Errand;
use crate::feel::{Curve, Throw};
use crate::input::{
    AxisReport, Button, Control, Input, Inputs, LinkEvent, LinkLoss, PadBus, PadEvent, PadId,
    RigReport, StopSource, Telemetry, Tick,
};
use crate::operator::{Gears, Groups, Hand, Operator, Quiet, Source, StickShape, Sticks};
use crate::output::{AxisStatus, Frame, Notice, Outputs, State, Status};
use crate::rig::{Axes, Axis, Ends, LimitSet, Limits, Rig, Sense, Travel};
use crate::time::{Span, Time};
use crate::units::{Accel, Jerk, Pos, Speed, Unit};
use crate::{Engine, MAX_AXES};
use std::boxed::Box;
use std::string::{String, ToString};
use std::vec;
use std::vec::Vec;

/// The pad that drives.
pub const DRIVER: PadId = PadId(0);
/// Another one.
pub const OTHER: PadId = PadId(1);

pub const PAN: usize = 0;
pub const TILT: usize = 1;

/// Full stick in the gear a start begins in, deg/s.
pub const FULL: f64 = 10.0;

const COUNTS_PER_DEG: f64 = 100.0;

/// The stop set, deg/s^2 and deg/s^3.
pub const STOP: LimitSet = LimitSet {
    accel: Accel(240.0),
    jerk: Jerk(2400.0),
};

pub fn rig(id: &str) -> Rig {
    let normal = LimitSet {
        accel: Accel(120.0),
        jerk: Jerk(600.0),
    };
    let axis = |name: &str| Axis {
        name: name.to_string(),
        unit: Unit::Deg,
        counts_per_unit: COUNTS_PER_DEG,
        sense: Sense::Same,
        travel: Travel::Finite(Ends::new(Pos(-170.0), Pos(170.0)).expect("low below high")),
        speed: Speed(60.0),
        limits: Limits::new(normal, STOP, STOP).expect("stop at least normal"),
        reach_mm: 0.0,
        needs_enable: false,
        may_lower_current: false,
    };
    Rig {
        id: id.to_string(),
        axes: Axes::new(vec![axis("pan"), axis("tilt")]).expect("two"),
        delay: Span::from_millis(10),
        frame_period: Span::from_millis(4),
        watchdog: Span::from_millis(120),
    }
}

/// Pan by rx and tilt by ry on the first rig, lx and ly on the second; no wedge, a linear curve.
pub fn operator(rigs: u8) -> Operator {
    let speeds = [2.0, FULL, 30.0].map(Speed);
    let sticks = [[Control::Rx, Control::Ry], [Control::Lx, Control::Ly]];
    let plain = StickShape::Axial { wedge_tan: 0.0 };
    let mut hands = Vec::new();
    for (rig, controls) in (0..rigs).zip(sticks) {
        for (axis, control) in controls.into_iter().enumerate() {
            hands.push(Hand {
                rig,
                axis: axis as u8,
                group: 0,
                control: Some(Source::Stick(control)),
                fine: None,
                invert: false,
                throw: Throw::new(0.1, 0.95).expect("apart"),
                curve: Curve::linear(),
                steady: None,
                gears: Gears::new(&speeds).expect("rising"),
                ceiling: None,
                framing: None,
                quiet: Quiet::NotMeasured,
                inch: None,
                gain: Span::from_millis(300),
                lose: Span::from_millis(300),
            });
        }
    }
    Operator {
        name: "bench".to_string(),
        hands,
        sticks: Sticks {
            left: plain,
            right: plain,
        },
        groups: Groups::single(),
        speed_trigger: None,
        enable: None,
        bindings: bound(&[]),
        first_gear: 1,
        starts_quiet: false,
        shakes: crate::operator::Shakes::Never,
    }
}

/// Stop by east, its release by start held, gears by the shoulders, and whatever else is given.
pub fn bound(more: &[(Press, Action)]) -> Bindings {
    let own = [
        (Press::Tap(Button::East), Action::Stop),
        (Press::Held(Button::Start), Action::Release),
        (Press::Tap(Button::Tr), Action::GearUp),
        (Press::Tap(Button::Tl), Action::GearDown),
    ];
    let all = own.iter().chain(more);
    let list = all.map(|&(press, action)| Binding { press, action });
    Bindings::new(list.collect(), 4).expect("they go together")
}

/// The engine and what will happen in its next tick.
pub struct Bench {
    pub engine: Engine,
    pub now: Time,
    index: u64,
    pub pending: Vec<Input>,
    pub stop: Option<StopSource>,
    pub offered: Option<Operator>,
    /// Of the rig at this place.
    pub offered_rig: Option<(u8, Rig)>,
    /// An errand to offer in the next tick.
    pub errand: Option<Errand>,
    /// Every notice so far.
    pub heard: Vec<Notice>,
}

impl Bench {
    /// Nothing plugged in, no rig met.
    pub fn new() -> Bench {
        Bench::with(&[rig("one")], &operator(1))
    }

    pub fn with(rigs: &[Rig], operator: &Operator) -> Bench {
        let period = Span::from_millis(4);
        Bench {
            engine: Engine::new(rigs, operator, period).expect("they fit"),
            now: Time(1_000_000_000),
            index: 0,
            pending: Vec::new(),
            stop: None,
            offered: None,
            offered_rig: None,
            errand: None,
            heard: Vec::new(),
        }
    }

    /// Every rig met, the driver's pad there, its sticks let go long enough.
    pub fn ready(rigs: &[Rig], operator: &Operator) -> Bench {
        let mut bench = Bench::with(rigs, operator);
        for rig in 0..rigs.len() {
            bench.meet(rig as u8);
        }
        bench.plug(DRIVER);
        bench.let_go();
        bench
    }

    /// The same with one rig and more bindings.
    pub fn with_presses(more: &[(Press, Action)]) -> Bench {
        let bindings = bound(more);
        let operator = Operator {
            bindings,
            ..operator(1)
        };
        Bench::ready(&[rig("one")], &operator)
    }

    /// The same with nothing more.
    pub fn driving() -> Bench {
        let bench = Bench::with_presses(&[]);
        assert_eq!(bench.state(), State::Driving);
        bench
    }

    /// The same, with the pan at full speed.
    pub fn moving() -> Bench {
        let mut bench = Bench::driving();
        bench.push(Control::Rx, 1.0);
        bench.run(1_000);
        assert_eq!(bench.speed(PAN), FULL);
        bench
    }

    pub fn link(&mut self, rig: u8, event: LinkEvent) {
        self.pending.push(Input::Link(rig, event));
    }

    /// This rig is met, at 0 and referenced.
    pub fn meet(&mut self, rig: u8) {
        self.meet_at(rig, 0.0, true);
    }

    /// This rig is met, all its axes there.
    pub fn meet_at(&mut self, rig: u8, position: f64, referenced: bool) {
        let axis = AxisReport {
            position,
            referenced,
            ..AxisReport::default()
        };
        self.link(
            rig,
            LinkEvent::Ready(RigReport {
                axes: [axis; MAX_AXES],
            }),
        );
    }

    pub fn lose(&mut self, rig: u8, loss: LinkLoss) {
        self.link(rig, LinkEvent::Lost(loss));
    }

    /// The first rig tells where it was when it applied this frame.
    pub fn told(&mut self, applied: u32, at: f64) {
        let all = [at; MAX_AXES];
        self.link(
            0,
            LinkEvent::Told(Telemetry {
                applied,
                at_applied: all,
                position: all,
                referenced: [true; MAX_AXES],
            }),
        );
    }

    pub fn pad(&mut self, pad: PadId, event: PadEvent) {
        self.pending.push(Input::Pad(pad, event));
    }

    pub fn plug(&mut self, pad: PadId) {
        self.plug_as(pad, PadBus::Wired, true);
    }

    pub fn plug_as(&mut self, pad: PadId, bus: PadBus, drives: bool) {
        self.pad(pad, PadEvent::Plugged { bus, drives });
    }

    pub fn press(&mut self, pad: PadId, button: Button) {
        self.pad(pad, PadEvent::Pressed(button, true));
    }

    pub fn lift(&mut self, pad: PadId, button: Button) {
        self.pad(pad, PadEvent::Pressed(button, false));
    }

    /// A press and its end within a tick, which then comes.
    pub fn tap(&mut self, pad: PadId, button: Button) {
        self.press(pad, button);
        self.lift(pad, button);
        self.tick();
    }

    /// A press of 600 ms.
    pub fn hold(&mut self, pad: PadId, button: Button) {
        self.press(pad, button);
        self.run(604);
        self.lift(pad, button);
        self.tick();
    }

    /// The driver's stick.
    pub fn push(&mut self, control: Control, value: f64) {
        self.pad(DRIVER, PadEvent::Moved(control, value));
    }

    /// Both sticks of the driver's pad are let go for long enough.
    pub fn let_go(&mut self) {
        for control in [Control::Lx, Control::Ly, Control::Rx, Control::Ry] {
            self.push(control, 0.0);
        }
        self.run(220);
    }

    /// One tick after 4 ms.
    pub fn tick(&mut self) -> Outputs {
        self.tick_after(Span::from_millis(4))
    }

    pub fn tick_after(&mut self, pause: Span) -> Outputs {
        self.now = self.now + pause;
        self.tick_now()
    }

    /// One tick at the present time.
    pub fn tick_now(&mut self) -> Outputs {
        self.index += 1;
        let edges = core::mem::take(&mut self.pending);
        let tick = Tick {
            index: self.index,
            now: self.now,
        };
        let inputs = Inputs {
            stop: self.stop.take(),
            edges: &edges,
            operator: self.offered.take().map(Box::new),
            rig: self
                .offered_rig
                .take()
                .map(|(place, rig)| (place, Box::new(rig))),
            errand: self.errand.take().map(Box::new),
        };
        let outputs = self.engine.step(tick, inputs).clone();
        self.heard.extend(outputs.notices.iter());
        outputs
    }

    /// Ticks of 4 ms for so long.
    pub fn run(&mut self, ms: u64) {
        for _ in 0..ms / 4 {
            self.tick();
        }
    }

    pub fn state(&self) -> State {
        self.engine.outputs().status.state
    }

    pub fn axis_of(&self, rig: usize, axis: usize) -> AxisStatus {
        self.engine.outputs().rigs[rig].axes[axis]
    }

    pub fn axis(&self, axis: usize) -> AxisStatus {
        self.axis_of(0, axis)
    }

    pub fn speed(&self, axis: usize) -> f64 {
        self.axis(axis).speed
    }

    /// The last frame of a rig, if the last tick had one.
    pub fn frame(&self, rig: usize) -> Option<Frame> {
        self.engine.outputs().rigs[rig].frame
    }

    pub fn status(&self) -> Status {
        self.engine.outputs().status
    }

    /// How often this was told.
    pub fn told_times(&self, notice: Notice) -> usize {
        self.heard.iter().filter(|heard| **heard == notice).count()
    }

    /// The gear, 0 the slowest.
    pub fn gear(&self) -> u8 {
        self.engine.outputs().status.groups[0].gear
    }

    pub fn in_control(&self) -> Option<PadId> {
        self.engine.outputs().status.pad()
    }

    pub fn ended(&self) -> bool {
        self.engine.outputs().ended
    }

    /// Whether nothing moves on any rig.
    pub fn at_rest(&self) -> bool {
        let rigs = self.engine.outputs().rigs.iter();
        rigs.flat_map(|rig| rig.axes).all(|axis| axis.speed == 0.0)
    }

    /// The states entered so far, in words.
    pub fn entered(&self) -> Vec<String> {
        let entered = self.heard.iter().filter_map(|notice| match notice {
            Notice::Entered(state) => Some(std::format!("{state:?}")),
            _ => None,
        });
        entered.collect()
    }
}
