//! One axis: what it was told, what it may do, what it does.

use crate::config::AxisConfig;
use crate::counter::Counter;
use crate::feed::Feed;
use crate::guard::{Guard, Motion};
use crate::stop::{Stop, TICK, TIME_UNITS_PER_S};
use stillhand_wire::messages::{AxisHello, AxisSetup, AxisTelemetry, VELOCITY_SCALE};

/// The acceleration of a motion that comes as held speeds is taken over this many ticks: four frames at 250 Hz, one at 62 Hz.
const SLOPE_TICKS: usize = 16;
/// Outputs that are kept: both ends of that time.
const HISTORY: usize = SLOPE_TICKS + 1;

/// A stop under way.
#[derive(Debug, Clone, Copy)]
struct Stopping {
    plan: Stop,
    t: i64,
    sign: i64,
}

#[derive(Debug, Clone)]
pub(crate) struct Axis {
    config: AxisConfig,
    max_speed: i64,
    referenced: bool,
    setup: Option<AxisSetup>,
    setpoint: i64,
    feed: Feed,
    stopping: Option<Stopping>,
    output: i64,
    /// The last outputs, oldest at `oldest`.
    history: [i64; HISTORY],
    oldest: usize,
    counter: Counter,
    at_applied: i32,
    high: Guard,
    low: Guard,
    at_end: bool,
}

impl Axis {
    pub(crate) fn new(config: AxisConfig) -> Self {
        let max_speed =
            (i64::from(config.max_speed) * i64::from(VELOCITY_SCALE)).min(i64::from(i32::MAX));
        Self {
            max_speed,
            referenced: config.referenced,
            setup: None,
            setpoint: 0,
            feed: Feed::default(),
            stopping: None,
            output: 0,
            history: [0; HISTORY],
            oldest: 0,
            counter: Counter::at(config.position),
            at_applied: config.position,
            high: Guard::default(),
            low: Guard::default(),
            at_end: false,
            config,
        }
    }

    /// Takes travel and stop set; the axis is at rest.
    pub(crate) fn set_up(&mut self, setup: AxisSetup) {
        self.setup = Some(setup);
        self.halt();
        self.at_applied = self.counter.count();
    }

    /// Takes a speed, 1/1024 count/s.
    pub(crate) fn command(&mut self, velocity: i32) {
        let before = self.setpoint;
        self.setpoint = i64::from(velocity).clamp(-self.max_speed, self.max_speed);
        self.feed.step(self.setpoint - before);
        self.at_applied = self.counter.count();
    }

    /// Begins a stop with the stop set from whatever the axis does now.
    pub(crate) fn begin_stop(&mut self) {
        self.setpoint = 0;
        let feed = core::mem::take(&mut self.feed);
        let Some(setup) = self.setup.filter(|_| self.output != 0) else {
            self.stopping = None;
            return;
        };
        let (sign, ramp) = if self.output > 0 {
            (1, setup.stop_plus)
        } else {
            (-1, setup.stop_minus)
        };
        let accel = feed.latest(self.slope() * sign, sign);
        self.stopping = Some(Stopping {
            plan: Stop::new(self.output * sign, accel, ramp, self.max_speed),
            t: 0,
            sign,
        });
    }

    /// No motor power: nothing moves it, and where it stands is not known any more.
    pub(crate) fn power_off(&mut self) {
        self.halt();
        self.setup = None;
        self.referenced = false;
    }

    /// The position is known from now on; the axis is at rest.
    pub(crate) fn reference(&mut self, position: i32) {
        self.halt();
        self.setup = None;
        self.referenced = true;
        self.counter = Counter::at(position);
        self.at_applied = position;
    }

    /// It stands elsewhere than it was commanded.
    pub(crate) fn slipped(&mut self, counts: i32) {
        self.counter.shift(counts);
    }

    /// One millisecond.
    pub(crate) fn step(&mut self) {
        self.feed.tick();
        let wanted = match &mut self.stopping {
            Some(stop) => {
                stop.t += TICK;
                stop.sign * stop.plan.speed_at(stop.t)
            }
            None => self.setpoint,
        };
        if let Some(Stopping { plan, t, .. }) = self.stopping
            && t >= plan.duration()
        {
            self.stopping = None;
        }
        let allowed = match self.setup {
            Some(AxisSetup {
                travel: Some((low, high)),
                stop_plus,
                stop_minus,
            }) if self.referenced => {
                let accel = self.slope_to(wanted);
                let max_speed = self.max_speed;
                let plus = Motion {
                    speed: wanted,
                    accel,
                    max_speed,
                    frame: self.feed.frame(1, stop_plus),
                };
                let below_high = self.high.limit(plus, self.counter.up_to(high), stop_plus);
                let minus = Motion {
                    speed: -below_high,
                    accel: -accel,
                    max_speed,
                    frame: self.feed.frame(-1, stop_minus),
                };
                -self.low.limit(minus, -self.counter.up_to(low), stop_minus)
            }
            Some(_) => wanted,
            None => 0,
        };
        self.at_end = allowed != wanted;
        self.output = allowed;
        self.history[self.oldest] = allowed;
        self.oldest = (self.oldest + 1) % HISTORY;
        self.counter.advance(allowed);
    }

    /// Acceleration of the axis as it moves now, 1/1024 count/s^2.
    fn slope(&self) -> i64 {
        slope(self.history[self.oldest], self.output)
    }

    /// The same if the next output were `velocity`.
    fn slope_to(&self, velocity: i64) -> i64 {
        slope(self.history[(self.oldest + 1) % HISTORY], velocity)
    }

    fn halt(&mut self) {
        self.setpoint = 0;
        self.feed = Feed::default();
        self.stopping = None;
        self.output = 0;
        self.history = [0; HISTORY];
        self.high = Guard::default();
        self.low = Guard::default();
        self.at_end = false;
    }

    /// Nothing moves and no stop runs.
    pub(crate) fn at_rest(&self) -> bool {
        self.output == 0 && self.stopping.is_none()
    }

    /// It moves, or would but for its travel.
    pub(crate) fn wants_to_move(&self) -> bool {
        self.output != 0 || self.setpoint != 0
    }

    pub(crate) fn is_stopping(&self) -> bool {
        self.stopping.is_some()
    }

    pub(crate) fn at_end(&self) -> bool {
        self.at_end
    }

    /// Its position is known.
    pub(crate) fn referenced(&self) -> bool {
        self.referenced
    }

    pub(crate) fn position(&self) -> i32 {
        self.counter.count()
    }

    /// 1/1024 count/s.
    pub(crate) fn velocity(&self) -> i32 {
        // Setpoints are i32, and stops and travel only lower them.
        self.output as i32
    }

    pub(crate) fn telemetry(&self) -> AxisTelemetry {
        AxisTelemetry {
            at_applied: self.at_applied,
            position: self.position(),
            velocity: self.velocity(),
        }
    }

    pub(crate) fn hello(&self) -> AxisHello {
        let config = &self.config;
        AxisHello {
            name: config.name.clone(),
            counts: config.counts,
            per_units: config.per_units,
            unit: config.unit,
            max_speed: (self.max_speed / i64::from(VELOCITY_SCALE)) as u32,
            max_accel: config.max_accel,
            max_jerk: config.max_jerk,
            own_ramps: false,
            referenced: self.referenced,
            position: self.position(),
            velocity: self.velocity(),
        }
    }
}

/// Mean acceleration over [`SLOPE_TICKS`].
fn slope(from: i64, to: i64) -> i64 {
    (to - from) * TIME_UNITS_PER_S / (TICK * SLOPE_TICKS as i64)
}
