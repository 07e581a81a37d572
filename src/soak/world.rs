//! One world in virtual time: every byte goes through the real session, the real writer, the real
//! framing and the real rig end; only the clock is made up.

use super::far::FarEnd;
use super::judge::Judge;
use super::line::Line;
use super::noise::{Noise, Wrong};
use crate::journal::recorder::Recorder;
use crate::link::bench::BenchOptions;
use crate::link::hush::Hush;
use crate::link::mischief;
use crate::link::session::{FRAME_LIFE_US, Session, Standing};
use crate::link::writer::Writer;
use stillhand_engine::errand::Errand;
use stillhand_engine::input::{Input, Order, PadBus, PadEvent, PadId, StopSource};
use stillhand_engine::operator::Operator;
use stillhand_engine::output::Outputs;
use stillhand_engine::rig::Rig;
use stillhand_engine::time::{Span, Time};
use stillhand_engine::{Engine, MAX_PADS};
use stillhand_laws::Checker;

mod turn;

/// How a world is made.
#[derive(Clone, Copy, Debug)]
pub struct WorldOptions {
    /// The engine's period.
    pub period: Span,
    /// How long a byte takes from one end of the line to the other.
    pub line_delay: Span,
    /// The line also brings damaged and repeated copies of what it is given.
    pub hostile_line: bool,
    /// What the rig's clock reads when it is switched on, microseconds; it wraps.
    pub rig_clock_us: u32,
    /// What motors do that are too weak for the stop set is not judged.
    pub excuses_weak_motors: bool,
}

impl Default for WorldOptions {
    fn default() -> WorldOptions {
        WorldOptions {
            period: Span::from_millis(4),
            line_delay: Span::from_millis(1),
            hostile_line: false,
            rig_clock_us: 0,
            excuses_weak_motors: false,
        }
    }
}

/// One rig, one operator, their pads, and the checker.
#[derive(Debug)]
pub struct World {
    rig: Rig,
    /// The profile offered last.
    operator: Operator,
    options: WorldOptions,
    engine: Engine,
    session: Session,
    writer: Writer,
    hush: Hush,
    line: Line,
    far: FarEnd,
    judge: Judge,
    now: Time,
    index: u64,
    /// What the pads did since the last tick.
    pending: Vec<Input>,
    stop: Option<StopSource>,
    /// What went into the engine in the last tick.
    drained: (Option<StopSource>, Vec<Input>),
    offered: Option<Operator>,
    offered_rig: Option<Rig>,
    offered_errand: Option<Errand>,
    /// The file offered last, until it is in force.
    next_rig: Option<Rig>,
    unsent: Option<u32>,
    journal: Option<Recorder>,
}

impl World {
    /// A world with the link about to be opened and no pad plugged in.
    ///
    /// # Errors
    /// In words, if operator and rig do not fit.
    pub fn new(rig: &Rig, operator: &Operator, options: WorldOptions) -> Result<World, String> {
        let bench = BenchOptions {
            clock_start_us: options.rig_clock_us,
            ..BenchOptions::default()
        };
        World::with(rig, operator, options, &bench)
    }

    /// The same with a rig that does not know where it is, and never will.
    ///
    /// # Errors
    /// As [`World::new`].
    pub fn unreferenced(
        rig: &Rig,
        operator: &Operator,
        options: WorldOptions,
    ) -> Result<World, String> {
        let bench = BenchOptions {
            unreferenced: true,
            ..BenchOptions::default()
        };
        World::with(rig, operator, options, &bench)
    }

    fn with(
        rig: &Rig,
        operator: &Operator,
        options: WorldOptions,
        bench: &BenchOptions,
    ) -> Result<World, String> {
        let mut rig = rig.clone();
        if rig.frame_period < options.period {
            rig.frame_period = options.period;
        }
        let engine = Engine::new(std::slice::from_ref(&rig), operator, options.period)
            .map_err(|error| error.to_string())?;
        let far = FarEnd::new(&mut rig, bench, options.line_delay)?;
        let mut judge = Judge::new(&rig, operator, options.period, !bench.unreferenced);
        judge.excuses_weak_motors = options.excuses_weak_motors;
        let mut world = World {
            engine,
            session: Session::new(&rig, 1),
            writer: Writer::default(),
            hush: Hush::default(),
            line: Line::new(options.line_delay),
            far,
            judge,
            now: Time(0),
            index: 0,
            pending: Vec::new(),
            stop: None,
            drained: (None, Vec::new()),
            offered: None,
            offered_rig: None,
            offered_errand: None,
            next_rig: None,
            unsent: None,
            journal: None,
            rig,
            operator: operator.clone(),
            options,
        };
        world.session.opened(world.now);
        Ok(world)
    }

    /// What the last tick produced.
    pub fn outputs(&self) -> &Outputs {
        self.engine.outputs()
    }

    /// What went into the engine in the last tick: the stop in its slot, and the rest in order.
    pub fn went_in(&self) -> (Option<StopSource>, &[Input]) {
        (self.drained.0, &self.drained.1)
    }

    /// The judge.
    pub fn checker(&self) -> &Checker {
        self.judge.checker()
    }

    /// Virtual time.
    pub fn now(&self) -> Time {
        self.now
    }

    /// The rig, its delay as this world's mechanics and line have it.
    pub fn rig(&self) -> &Rig {
        &self.rig
    }

    /// How the session with the rig stands.
    pub fn standing(&self) -> &Standing {
        self.session.standing()
    }

    /// Whether the rig may be moved.
    pub fn ready(&self) -> bool {
        *self.session.standing() == Standing::Ready
    }

    /// The true position of an axis, in the picture's sense and the axis's unit.
    pub fn truth(&self, axis: usize) -> f64 {
        self.far.position(axis)
    }

    /// The true speed of an axis, in the picture's sense, units/s.
    pub fn true_speed(&self, axis: usize) -> f64 {
        self.far.speed(axis)
    }

    /// The true speed of an axis as its motor goes, whatever the file says of the picture, units/s.
    pub fn motor_speed(&self, axis: usize) -> f64 {
        self.far.motor_speed(axis)
    }

    /// Whether the motor of an axis really holds with less than its full current.
    pub fn is_lowered(&self, axis: usize) -> bool {
        self.far.is_lowered(axis)
    }

    /// The speeds of the last frame, picture's sense, units/s.
    pub fn speeds(&self) -> &[f64] {
        self.judge.speeds()
    }

    /// Lets something happen on a pad before the next tick. As in the shell's mailbox, a press of the
    /// stop button also goes into the stop's own slot.
    pub fn pad(&mut self, pad: PadId, event: PadEvent) {
        let stops = event == PadEvent::Pressed(self.operator.bindings.stop(), true);
        if stops && usize::from(pad.0) < MAX_PADS {
            self.stop.get_or_insert(StopSource::Pad(pad));
        }
        self.pending.push(Input::Pad(pad, event));
    }

    /// Plugs in a wired pad that may drive.
    pub fn plug(&mut self, pad: PadId) {
        self.plug_on(pad, PadBus::Wired);
    }

    /// Plugs in a pad that may drive, connected like this.
    pub fn plug_on(&mut self, pad: PadId, bus: PadBus) {
        self.pad(pad, PadEvent::Plugged { bus, drives: true });
    }

    /// Plugs in a pad that may not drive: it can only stop.
    pub fn plug_to_stop(&mut self, pad: PadId, bus: PadBus) {
        let drives = false;
        self.pad(pad, PadEvent::Plugged { bus, drives });
    }

    /// Pulls a pad.
    pub fn unplug(&mut self, pad: PadId) {
        self.pad(pad, PadEvent::Unplugged);
    }

    /// Hands the engine another profile with the next tick.
    pub fn offer(&mut self, operator: &Operator) {
        self.offered = Some(operator.clone());
        self.operator = operator.clone();
        self.judge.expect(operator);
    }

    /// Hands the engine another file of the rig with the next tick. It should be of this very rig: an
    /// edit of travel, sets or mount.
    pub fn offer_rig(&mut self, rig: &Rig) {
        let mut rig = rig.clone();
        // What mechanics and line really have is no matter of the file.
        (rig.delay, rig.frame_period) = (self.rig.delay, self.rig.frame_period);
        self.offered_rig = Some(rig.clone());
        self.next_rig = Some(rig);
    }

    /// Offers an errand with the next tick, to be begun by its press.
    pub fn errand(&mut self, errand: Errand) {
        self.offered_errand = Some(errand);
    }

    /// Asks for something without a pad, as a terminal does.
    pub fn order(&mut self, order: Order) {
        self.pending.push(Input::Order(order));
    }

    /// Asks the daemon to stop before the next tick.
    pub fn command_stop(&mut self) {
        self.stop = Some(StopSource::Command);
    }

    /// Asks the daemon to end.
    pub fn end(&mut self) {
        self.pending.push(Input::End);
    }

    /// Lets something go wrong at the rig now, or right again.
    pub fn mischief(&mut self, event: mischief::Event) {
        self.far.happen(event, &mut self.judge);
    }

    /// Pulls the cable between port and rig: the port vanishes, and what is on its way is lost.
    pub fn pull_cable(&mut self) {
        if self.line.plug(false) {
            self.judge.frames_lost(self.now, Span::ZERO);
        }
        self.writer.reset();
        self.session.closed();
    }

    /// Plugs the cable in again and opens the port.
    pub fn plug_cable(&mut self) {
        if !self.line.is_whole() {
            self.line.plug(true);
            self.session.opened(self.now);
        }
    }

    /// From now on the port takes nothing (`true`), or takes all again.
    pub fn clog_port(&mut self, clogged: bool) {
        self.line.stick(clogged);
    }

    /// Leaves frames out for so long, on purpose, to see the rig stop by itself.
    pub fn hush(&mut self, span: Span) {
        self.hush.begin(self.now, span, &mut self.session);
    }

    /// From now on the line does this to frames in both directions, or nothing any more.
    pub fn noise(&mut self, noise: Option<Noise>) {
        self.line.noise(noise);
    }

    /// How many frames the line has wronged since this was asked last, and how.
    pub fn wronged(&mut self) -> Option<(&'static str, usize)> {
        let (fault, [to_rig, from_rig]) = self.line.wronged()?;
        match to_rig {
            0 => self.judge.put_off(self.now),
            1.. => {
                // A later one is outdated.
                let late = match fault == Wrong::Delay.fault() {
                    true => Span::from_micros(u64::from(FRAME_LIFE_US)),
                    false => Span::ZERO,
                };
                self.judge.frames_lost(self.now, late);
            }
        }
        Some((fault, to_rig + from_rig))
    }

    /// Records what goes through the engine from now on, as a daemon does; `None` ends it as a daemon ends.
    pub fn record(&mut self, recorder: Option<Recorder>) {
        if let Some(before) = std::mem::replace(&mut self.journal, recorder) {
            before.end();
        }
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

    /// Asks the checker to close the books.
    ///
    /// # Errors
    /// The breaches, one a line.
    pub fn verdict(&mut self) -> Result<(), String> {
        self.judge.verdict(self.now)
    }
}
