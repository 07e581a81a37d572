//! One world in virtual time: every byte goes through the real session, the real framing and the
//! real rig end; only the clock is made up.

use super::arrivals::{OnTheWay, arrival, copies, micros};
use super::facts::{Losing, bus_of, button, ceiling, facts, nanos, normal_set};
use crate::link::bench::{BenchOptions, build};
use crate::link::plant::{EVENED_MS, Plant};
use crate::link::session::{Session, Standing};
use std::collections::VecDeque;
use stillhand_engine::input::{
    Input, Inputs, LinkEvent, PadBus, PadEvent, PadId, StopSource, Tick,
};
use stillhand_engine::operator::Operator;
use stillhand_engine::output::{Frame, Notice, Outputs, Wait};
use stillhand_engine::rig::Rig;
use stillhand_engine::time::{Span, Time};
use stillhand_engine::{Engine, MAX_AXES, MAX_PADS, wait_for};
use stillhand_laws::{self as laws, Checker, Event, Handling};
use stillhand_rig::Inputs as RigInputs;
use stillhand_wire::messages::VELOCITY_SCALE;

/// The mechanics and the rig end live in steps of a millisecond.
const STEP: Span = Span::from_millis(1);

/// Any number does: a world has one rig.
const BOOT_ID: u32 = 77;

/// How a world is made.
#[derive(Clone, Copy, Debug)]
pub struct WorldOptions {
    /// The engine's period.
    pub period: Span,
    /// How long a byte takes from one end of the line to the other.
    pub line_delay: Span,
    /// The line also brings damaged and repeated copies of what it is given.
    pub hostile_line: bool,
}

impl Default for WorldOptions {
    fn default() -> WorldOptions {
        WorldOptions {
            period: Span::from_millis(4),
            line_delay: Span::from_millis(1),
            hostile_line: false,
        }
    }
}

/// One rig, one operator, their pads, and the checker.
#[derive(Debug)]
pub struct World {
    rig: Rig,
    operator: Operator,
    options: WorldOptions,
    engine: Engine,
    session: Session,
    rig_end: stillhand_rig::Rig,
    plants: Vec<Plant>,
    checker: Checker,
    now: Time,
    /// Up to where the mechanics have lived.
    lived: Time,
    index: u64,
    to_rig: VecDeque<OnTheWay>,
    from_rig: VecDeque<OnTheWay>,
    pending: Vec<Input>,
    stop: Option<StopSource>,
    offered: Option<Operator>,
    /// The last profile offered, until the engine tells that it is in force.
    expected: Option<Operator>,
    gear: u8,
    /// The last frame's speeds, picture's sense, units/s.
    speeds: Vec<f64>,
    /// From which speed each axis loses speed, and the sets the checker was told for it.
    losing: [Losing; MAX_AXES],
    in_control: Option<PadId>,
    /// Which pads are plugged in and may drive.
    drives: [bool; MAX_PADS],
}

impl World {
    /// A world with the link about to be opened and no pad plugged in.
    ///
    /// # Errors
    /// In words, if operator and rig do not fit.
    pub fn new(rig: &Rig, operator: &Operator, options: WorldOptions) -> Result<World, String> {
        let mut rig = rig.clone();
        if rig.frame_period < options.period {
            rig.frame_period = options.period;
        }
        let engine = Engine::new(std::slice::from_ref(&rig), operator, options.period)
            .map_err(|error| error.to_string())?;
        let bench = BenchOptions::default();
        let config = build::config(&rig, BOOT_ID, &bench)?;
        // Mechanics that suit the line: a frame's step is evened out over a frame. One that arrives
        // within a millisecond waits for its end.
        let evened_ms = (rig.frame_period.0 / STEP.0) as usize;
        let evened_ms = evened_ms.max(EVENED_MS);
        let delay_ms =
            Plant::delay_ms(evened_ms) as u64 + options.line_delay.0.div_ceil(STEP.0) + 1;
        rig.delay = Span::from_millis(delay_ms);
        let start: Vec<i32> = rig
            .axes
            .iter()
            .map(|axis| build::start(axis, &bench))
            .collect();
        let mut world = World {
            engine,
            session: Session::new(&rig, 1),
            rig_end: stillhand_rig::Rig::new(config, RigInputs::default(), 0),
            plants: rig
                .axes
                .iter()
                .zip(&start)
                .map(|(axis, at)| Plant::new(axis, *at, evened_ms))
                .collect(),
            checker: Checker::new(facts(&rig, operator, options.period)),
            now: Time(0),
            lived: Time(0),
            index: 0,
            to_rig: VecDeque::new(),
            from_rig: VecDeque::new(),
            pending: Vec::new(),
            stop: None,
            offered: None,
            expected: None,
            gear: operator.first_gear,
            speeds: vec![0.0; rig.axes.len()],
            losing: [Losing::REST; MAX_AXES],
            in_control: None,
            drives: [false; MAX_PADS],
            rig,
            operator: operator.clone(),
            options,
        };
        world.session.opened(world.now);
        world.tell_sets();
        Ok(world)
    }

    /// What the last tick produced.
    pub fn outputs(&self) -> &Outputs {
        self.engine.outputs()
    }

    /// The judge.
    pub fn checker(&self) -> &Checker {
        &self.checker
    }

    /// Virtual time.
    pub fn now(&self) -> Time {
        self.now
    }

    /// The true position of an axis, in the picture's sense and the axis's unit.
    pub fn truth(&self, axis: usize) -> f64 {
        let facts = &self.rig.axes[axis];
        self.plants[axis].position() / (facts.counts_per_unit * facts.sense.sign())
    }

    /// The speeds of the last frame, picture's sense, units/s.
    pub fn speeds(&self) -> &[f64] {
        &self.speeds
    }

    /// Lets something happen on a pad before the next tick.
    pub fn pad(&mut self, pad: PadId, event: PadEvent) {
        self.pending.push(Input::Pad(pad, event));
    }

    /// Plugs in a wired pad that may drive.
    pub fn plug(&mut self, pad: PadId) {
        self.pad(
            pad,
            PadEvent::Plugged {
                bus: PadBus::Wired,
                drives: true,
            },
        );
    }

    /// Hands the engine another profile with the next tick.
    pub fn offer(&mut self, operator: &Operator) {
        self.offered = Some(operator.clone());
        self.expected = Some(operator.clone());
    }

    /// Asks the daemon to stop before the next tick.
    pub fn command_stop(&mut self) {
        self.stop = Some(StopSource::Command);
    }

    /// Lets `seconds` pass in ticks of the engine's period.
    pub fn run(&mut self, seconds: f64) {
        let end = self.now + Span::from_secs_f64(seconds);
        while self.now < end {
            self.tick();
        }
    }

    /// One tick after one period.
    pub fn tick(&mut self) {
        self.tick_after(self.options.period);
    }

    /// One tick after `pause`: a longer one is a late loop. Whole periods that passed are skipped.
    pub fn tick_after(&mut self, pause: Span) {
        let now = self.now + pause;
        self.live_until(now);
        self.now = now;
        self.index += (pause.0 / self.options.period.0).max(1);
        let at = nanos(Span(now.0));
        self.checker.event(at, &Event::Tick);
        self.hear(now);
        self.session.tick(now);
        while let Some(bytes) = self.session.next_write() {
            self.write(now, bytes.to_vec());
        }
        while let Some(event) = self.session.next_event() {
            self.tell_link(at, &event);
            self.pending.insert(0, Input::Link(0, event));
        }
        if self.stop.is_some() {
            self.checker.event(at, &Event::Stop);
        }
        let inputs = std::mem::take(&mut self.pending);
        for input in &inputs {
            self.tell_pad(at, input);
        }
        let stop = self.stop.take();
        let tick = Tick {
            index: self.index,
            now,
        };
        let outputs = self.engine.step(
            tick,
            Inputs {
                stop,
                edges: &inputs,
                operator: self.offered.take().map(Box::new),
            },
        );
        let frame = outputs.rigs.first().and_then(|rig| rig.frame);
        let applied = outputs.notices.iter().any(|n| n == Notice::ProfileApplied);
        if applied {
            self.take_over(at);
        }
        if let Some(frame) = frame {
            self.send(now, &frame);
        }
    }

    /// The profile offered last is in force: the checker is told before it sees a frame of it.
    fn take_over(&mut self, at: laws::Nanos) {
        let Some(operator) = self.expected.take() else {
            return;
        };
        let change = match wait_for(&self.operator, &operator, self.gear) {
            Wait::Nothing | Wait::Centred => laws::Change::Profile,
            Wait::RestAndCentred if operator.name != self.operator.name => laws::Change::Operator,
            Wait::RestAndCentred => laws::Change::Bindings,
        };
        if change == laws::Change::Operator {
            self.gear = operator.first_gear;
        }
        self.operator = operator;
        let facts = facts(&self.rig, &self.operator, self.options.period);
        self.checker
            .event(at, &Event::Changed(change, Some(Box::new(facts))));
        self.tell_sets();
    }

    fn send(&mut self, now: Time, frame: &Frame) {
        let Some(bytes) = self.session.velocity(now, frame) else {
            self.pending
                .push(Input::Link(0, LinkEvent::Unsent(frame.seq)));
            return;
        };
        for (place, axis) in self.rig.axes.iter().enumerate() {
            let steps = f64::from(frame.velocity[place]) * axis.sense.sign();
            self.speeds[place] = steps / (f64::from(VELOCITY_SCALE) * axis.counts_per_unit);
            let quantum = 1.0 / (f64::from(VELOCITY_SCALE) * axis.counts_per_unit);
            self.losing[place].frame(now, self.speeds[place], quantum);
        }
        self.checker.frame(
            nanos(Span(now.0)),
            &laws::Frame {
                speeds: &self.speeds,
            },
        );
        self.tell_losing();
        self.write(now, bytes.to_vec());
    }

    fn write(&mut self, now: Time, bytes: Vec<u8>) {
        let due = now + self.options.line_delay;
        let mut sent = vec![(bytes, Handling::Valid)];
        if self.options.hostile_line && self.ready() {
            sent.extend(copies(&sent[0].0));
        }
        let on_the_way = sent.into_iter().map(|(bytes, handling)| OnTheWay {
            due,
            bytes,
            handling,
        });
        self.to_rig.extend(on_the_way);
    }

    /// The session hears what has arrived.
    fn hear(&mut self, now: Time) {
        while self.from_rig.front().is_some_and(|b| b.due <= now) {
            if let Some(OnTheWay { bytes, .. }) = self.from_rig.pop_front() {
                self.session.on_bytes(now, &bytes);
            }
        }
    }

    /// Mechanics and rig end live in milliseconds, and take what arrives in between.
    fn live_until(&mut self, end: Time) {
        while self.lived + STEP <= end {
            self.lived = self.lived + STEP;
            let at = self.lived;
            while self.to_rig.front().is_some_and(|b| b.due <= at) {
                if let Some(frame) = self.to_rig.pop_front() {
                    self.arrive(at, &frame);
                }
            }
            let (way, delay) = (&mut self.from_rig, self.options.line_delay);
            let micros = micros(at);
            self.rig_end.tick(micros, &mut |frame: &[u8]| {
                way.push_back(OnTheWay::intact(at + delay, frame));
            });
            let mut truth = [laws::PlantAxis::default(); MAX_AXES];
            for (place, plant) in self.plants.iter_mut().enumerate() {
                let rate = self.rig_end.output(place).map_or(0, |o| o.velocity);
                plant.step(f64::from(rate) / f64::from(VELOCITY_SCALE));
                let axis = &self.rig.axes[place];
                let scale = axis.counts_per_unit * axis.sense.sign();
                truth[place] = laws::PlantAxis {
                    position: plant.position() / scale,
                    speed: plant.speed() / scale,
                };
            }
            let axes = &truth[..self.plants.len()];
            self.checker.plant(nanos(Span(at.0)), &laws::Plant { axes });
        }
    }

    fn arrive(&mut self, at: Time, frame: &OnTheWay) {
        let before = self.rig_end.telemetry(micros(at)).accepted;
        let (way, delay) = (&mut self.from_rig, self.options.line_delay);
        self.rig_end
            .on_bytes(&frame.bytes, micros(at), &mut |frame: &[u8]| {
                way.push_back(OnTheWay::intact(at + delay, frame));
            });
        let taken = self.rig_end.telemetry(micros(at)).accepted != before;
        if let Some(arrival) = arrival(&frame.bytes, frame.handling, micros(at), taken) {
            self.checker.arrival(nanos(Span(at.0)), &arrival);
        }
    }

    fn tell_link(&mut self, at: laws::Nanos, event: &LinkEvent) {
        match event {
            LinkEvent::Ready(_) => {
                let session = self.session.number();
                self.checker.event(at, &Event::LinkReady { session });
            }
            LinkEvent::Lost(_) => self.checker.event(at, &Event::LinkLost),
            LinkEvent::Told(_) | LinkEvent::Unsent(_) | LinkEvent::SentLate(..) => {}
        }
    }

    fn tell_pad(&mut self, at: laws::Nanos, input: &Input) {
        let Input::Pad(pad, event) = input else {
            return;
        };
        let id = laws::PadId(u16::from(pad.0));
        let told = match *event {
            PadEvent::Plugged { bus, drives } => {
                self.drives[usize::from(pad.0)] = drives;
                if drives && self.in_control.is_none() {
                    self.in_control = Some(*pad);
                }
                Event::PadPlugged {
                    pad: id,
                    bus: bus_of(bus),
                    may_drive: drives,
                }
            }
            PadEvent::Unplugged => {
                self.drives[usize::from(pad.0)] = false;
                self.checker.event(at, &Event::PadUnplugged(id));
                if self.in_control != Some(*pad) {
                    return;
                }
                let next = self.drives.iter().position(|drives| *drives);
                self.in_control = next.map(|place| PadId(place as u8));
                let Some(PadId(place)) = self.in_control else {
                    return;
                };
                Event::TakesControl {
                    pad: laws::PadId(u16::from(place)),
                    axes: laws::Axes::ALL,
                }
            }
            PadEvent::Moved(control, value) => Event::Stick {
                pad: id,
                control: laws::ControlId(control as u16),
                value,
            },
            PadEvent::Pressed(pressed, true) => {
                self.shift(*pad, pressed);
                Event::ButtonDown(id, button(pressed))
            }
            PadEvent::Pressed(released, false) => Event::ButtonUp(id, button(released)),
            PadEvent::Alive => return,
        };
        self.checker.event(at, &told);
    }

    /// Follows the gears by the files alone.
    fn shift(&mut self, pad: PadId, pressed: stillhand_engine::input::Button) {
        if self.in_control != Some(pad) {
            return;
        }
        let most = self
            .operator
            .hands
            .iter()
            .map(|h| h.gears.count())
            .max()
            .unwrap_or(1)
            - 1;
        let gear = if self.operator.buttons.gear_up == Some(pressed) {
            (self.gear + 1).min(most)
        } else if self.operator.buttons.gear_down == Some(pressed) {
            self.gear.saturating_sub(1)
        } else {
            return;
        };
        self.gear = gear;
        self.tell_sets();
    }

    /// Tells the checker what operator and gear make of the normal sets and ceilings.
    fn tell_sets(&mut self) {
        let at = nanos(Span(self.now.0));
        for hand in &self.operator.hands {
            let place = usize::from(hand.axis);
            let speed = ceiling(&self.rig.axes[place], hand, self.gear);
            self.checker
                .event(at, &Event::Ceiling { axis: place, speed });
        }
        self.tell_losing();
    }

    /// Speed is lost in the operator's time from the speed at which the losing began, so another
    /// such speed is another normal set. The harder of those that may count is told first.
    fn tell_losing(&mut self) {
        let at = nanos(Span(self.now.0));
        for hand in &self.operator.hands {
            let place = usize::from(hand.axis);
            let losing = &mut self.losing[place];
            let axis = &self.rig.axes[place];
            let news = losing.news(|from| normal_set(axis, hand, self.gear, from));
            for set in news.into_iter().flatten() {
                self.checker
                    .event(at, &Event::NormalSet { axis: place, set });
            }
        }
    }

    /// Whether the rig may be moved.
    pub fn ready(&self) -> bool {
        *self.session.standing() == Standing::Ready
    }

    /// Asks the checker to close the books.
    ///
    /// # Errors
    /// The breaches, one a line.
    pub fn verdict(&mut self) -> Result<(), String> {
        self.checker.end(nanos(Span(self.now.0)));
        if self.checker.total() == 0 {
            return Ok(());
        }
        Err(self
            .checker
            .breaches()
            .iter()
            .map(|b| format!("{b}\n"))
            .collect())
    }
}
