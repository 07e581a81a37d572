//! The rig as a whole.

use crate::axis::Axis;
use crate::config::{Config, Inputs};
use crate::session::{Asked, News, Session};
use crate::standstill::Standstill;
use stillhand_wire::messages::{
    self, FromRig, MAX_AXES, NotReferenced, PerAxis, Reference, RigHello, Setup, Telemetry, ToRig,
    VERSION, held,
};
use stillhand_wire::rules::{deadline_holds, is_newer};
use stillhand_wire::{RESYNC, ToRigDeframer, encode};

/// One tick, microseconds.
const TICK_US: u32 = 1000;
/// A firmware that was away for longer than this many ticks lost that time: it is not caught up, so that no longer burst of steps follows.
const MAX_CATCH_UP_TICKS: u32 = 250;

/// What the firmware has to do with one axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Output {
    /// Step rate, 1/1024 count/s.
    pub velocity: i32,
    /// Position in whole counts, wrapping; never drifts from the sum of the step rates.
    pub position: i32,
    /// The motor is to hold with its lowered current; at rest only.
    pub lowered: bool,
}

/// Refused because an axis moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Moving;

/// A rig's end of the line. See the crate for how to drive it.
#[derive(Debug, Clone)]
pub struct Rig {
    config: Config,
    axes: PerAxis<Axis>,
    inputs: Inputs,
    deframer: ToRigDeframer,
    session: Session,
    held: u8,
    refused: u32,
    /// Time of the last tick that was done.
    clock_us: u32,
    /// When the last velocity was taken.
    fed_us: u32,
    /// When telemetry was last sent; none before the first hello.
    reported_us: Option<u32>,
    /// An axis whose position was told by the daemon, until the firmware has taken it over.
    told: Option<(usize, i32)>,
    standstill: Standstill,
}

impl Rig {
    /// A rig at rest that nobody has spoken to yet. `now_us` is the clock of all later calls, wrapping.
    #[must_use]
    pub fn new(config: Config, inputs: Inputs, now_us: u32) -> Self {
        let mut rig = Self {
            axes: config.axes.iter().cloned().map(Axis::new).collect(),
            standstill: Standstill::new(
                bits(config.axes.iter().map(|axis| axis.lowers)),
                config.rise_ms,
            ),
            config,
            inputs: Inputs {
                power: true,
                ..inputs
            },
            deframer: ToRigDeframer::new(),
            session: Session::new(),
            held: 0,
            refused: 0,
            clock_us: now_us,
            fed_us: now_us,
            reported_us: None,
            told: None,
        };
        rig.set_inputs(inputs);
        rig
    }

    /// Takes what the line brought, in any chunking, and writes answers with one call of `out` per frame.
    pub fn on_bytes(&mut self, bytes: &[u8], now_us: u32, out: &mut impl FnMut(&[u8])) {
        for &byte in bytes {
            if let Some(Ok(message)) = self.deframer.push::<ToRig>(byte) {
                self.on_message(&message, now_us, out);
            }
        }
    }

    /// To be called every millisecond; a late call catches up. Sends telemetry when it is due.
    pub fn tick(&mut self, now_us: u32, out: &mut impl FnMut(&[u8])) {
        let mut ticks = now_us.wrapping_sub(self.clock_us) / TICK_US;
        if ticks > MAX_CATCH_UP_TICKS {
            // Also a clock that went backwards.
            self.clock_us = now_us.wrapping_sub(TICK_US);
            ticks = 1;
        }
        for _ in 0..ticks {
            self.clock_us = self.clock_us.wrapping_add(TICK_US);
            self.watch();
            for axis in &mut self.axes {
                axis.step();
            }
            let at_rest = self.at_rest();
            self.standstill.step(at_rest);
        }
        if self.standstill.news() && self.session.standstill() != 0 {
            self.tell_standstill(out);
        }
        let period_us = u32::from(self.config.telemetry_ms.max(1)) * 1000;
        if let Some(last) = self.reported_us
            && now_us.wrapping_sub(last) >= period_us
        {
            // From the due time, so that the rate is true; from now if more than one was missed.
            let due = last.wrapping_add(period_us);
            let behind = now_us.wrapping_sub(due) >= period_us;
            self.reported_us = Some(if behind { now_us } else { due });
            send(&FromRig::Telemetry(self.telemetry(now_us)), out);
        }
    }

    /// Takes what the rig senses. Power off: speeds are 0 at once and the session ends. Stop input or fault: a stop with the stop set.
    pub fn set_inputs(&mut self, inputs: Inputs) {
        let had_power = core::mem::replace(&mut self.inputs, inputs).power;
        if had_power && !inputs.power {
            for axis in &mut self.axes {
                axis.power_off();
            }
            self.session.end();
            self.standstill.restore();
            self.held = 0;
        }
        if inputs.stop_input {
            self.stop(held::STOP_INPUT);
        }
        if inputs.faults != 0 {
            self.stop(held::FAULT);
        }
    }

    /// The firmware found the reference of an axis: it stands at `position` counts. Ends the session, because positions mean something else now.
    ///
    /// # Errors
    /// [`Moving`] unless the whole rig is at rest. An axis the rig does not have is ignored.
    pub fn set_reference(&mut self, axis: usize, position: i32) -> Result<(), Moving> {
        if !self.at_rest() {
            return Err(Moving);
        }
        if let Some(axis) = self.axes.get_mut(axis) {
            axis.reference(position);
            self.session.end();
            self.standstill.restore();
            for axis in &mut self.axes {
                axis.begin_stop();
            }
        }
        Ok(())
    }

    /// The axis, from 0, whose reference the daemon has set, and where it stands by that, in counts; once. A firmware with an
    /// encoder or a memory of its own goes by it from then on. To be asked after each [`Rig::on_bytes`].
    pub fn take_reference(&mut self) -> Option<(usize, i32)> {
        self.told.take()
    }

    /// An encoder shows that axis `axis` stands `counts` further than it was commanded: it slipped or was pushed. Positions and
    /// travel go by the encoder from now on; the session goes on, and the daemon sees the jump. An axis the rig does not have is ignored.
    pub fn slipped(&mut self, axis: usize, counts: i32) {
        if let Some(axis) = self.axes.get_mut(axis) {
            axis.slipped(counts);
        }
    }

    /// Telemetry comes this often from now on, ms; 0 counts as 1.
    pub fn set_telemetry_ms(&mut self, ms: u16) {
        self.config.telemetry_ms = ms;
    }

    /// A setup is in force: a daemon may command velocities.
    #[must_use]
    pub fn is_set_up(&self) -> bool {
        self.session.setup().is_some()
    }

    /// What axis `axis` has to do now; `None` if the rig has no such axis.
    #[must_use]
    pub fn output(&self, axis: usize) -> Option<Output> {
        let lowered = self.standstill.low() & 1u8.checked_shl(axis as u32).unwrap_or(0) != 0;
        self.axes.get(axis).map(|axis| Output {
            velocity: axis.velocity(),
            position: axis.position(),
            lowered,
        })
    }

    /// No axis moves and no stop runs.
    #[must_use]
    pub fn at_rest(&self) -> bool {
        self.axes.iter().all(Axis::at_rest)
    }

    /// What the firmware has set.
    #[must_use]
    pub fn inputs(&self) -> Inputs {
        self.inputs
    }

    /// How many velocity frames of this session were taken; wraps.
    #[must_use]
    pub fn accepted(&self) -> u32 {
        self.session.accepted()
    }

    /// What telemetry made at `now_us` would say.
    #[must_use]
    pub fn telemetry(&self, now_us: u32) -> Telemetry {
        let counts = self.deframer.counts();
        Telemetry {
            session: self.session.number(),
            clock_us: now_us,
            applied: self.session.applied(),
            accepted: self.session.accepted(),
            axes: self.axes.iter().map(Axis::telemetry).collect(),
            power: self.inputs.power,
            stop_input: self.inputs.stop_input,
            energised: self.inputs.energised,
            brakes: self.inputs.brakes,
            faults: self.inputs.faults,
            held: self.held,
            at_end: self.bits(Axis::at_end),
            referenced: self.bits(Axis::referenced),
            supply_mv: self.inputs.supply_mv,
            drive_c: self.inputs.drive_c,
            frames_refused: self
                .refused
                .wrapping_add(counts.damaged)
                .wrapping_add(counts.foreign),
        }
    }

    /// Bit i: it is true of axis i.
    fn bits(&self, is: impl Fn(&Axis) -> bool) -> u8 {
        bits(self.axes.iter().map(is))
    }

    fn on_message(&mut self, message: &ToRig, now_us: u32, out: &mut impl FnMut(&[u8])) {
        match message {
            ToRig::Hello { version, session } => self.on_hello(*version, *session, now_us, out),
            ToRig::Setup(setup) => self.on_setup(setup, out),
            ToRig::Velocity {
                session,
                seq,
                deadline_us,
                velocity,
            } => {
                let fits =
                    self.may_take(*session, *seq, velocity) && deadline_holds(*deadline_us, now_us);
                let weak = self.standstill.lowered() != 0 && velocity.iter().any(|v| *v != 0);
                if fits && !weak {
                    self.take(*seq, velocity, now_us);
                } else {
                    self.refused = self.refused.wrapping_add(1);
                }
                if fits && weak {
                    self.standstill.restore();
                }
            }
            ToRig::Reference(reference) => self.on_reference(reference, now_us, out),
            ToRig::Standstill(asked) => self.on_standstill(asked, now_us, out),
        }
    }

    fn on_standstill(
        &mut self,
        asked: &messages::Standstill,
        now_us: u32,
        out: &mut impl FnMut(&[u8]),
    ) {
        let news = match deadline_holds(asked.deadline_us, now_us) {
            true => self.session.stands(asked.session, asked.number),
            false => None,
        };
        match news {
            None => {
                self.refused = self.refused.wrapping_add(1);
                return;
            }
            // Whatever has given a motor its current back since, it keeps it.
            Some(News::Repeated) => {}
            Some(News::New) => {
                let idle = !self.axes.iter().any(Axis::wants_to_move);
                let may = self.at_rest() && idle && self.held == 0;
                self.standstill.lower(if may { asked.lower } else { 0 });
            }
        }
        self.tell_standstill(out);
    }

    fn tell_standstill(&mut self, out: &mut impl FnMut(&[u8])) {
        let told = FromRig::Standstill {
            session: self.session.number(),
            number: self.session.standstill(),
            can: self.standstill.can(),
            lowered: self.standstill.tell(),
        };
        send(&told, out);
    }

    fn on_reference(&mut self, asked: &Reference, now_us: u32, out: &mut impl FnMut(&[u8])) {
        let Reference {
            session, number, ..
        } = *asked;
        let refused = match self.session.asked(session, number) {
            Some(answer) if deadline_holds(asked.deadline_us, now_us) => match answer {
                Asked::Before(refused) => Some(refused),
                Asked::Now => self.unfit(asked),
            },
            Some(_) | None => {
                self.refused = self.refused.wrapping_add(1);
                return;
            }
        };
        match refused {
            Some(why) => self.session.answered(number, why),
            None => {
                let axis = usize::from(asked.axis);
                // At rest it can't be refused.
                if self.set_reference(axis, asked.position).is_ok() {
                    self.told = Some((axis, asked.position));
                }
            }
        }
        let answer = FromRig::Referenced {
            session,
            number,
            refused,
        };
        send(&answer, out);
    }

    /// The first rule a reference breaks.
    fn unfit(&self, asked: &Reference) -> Option<NotReferenced> {
        let place = usize::from(asked.axis);
        let setup = self.session.setup().and_then(|setup| setup.axes.get(place));
        let (Some(axis), Some(setup)) = (self.axes.get(place), setup) else {
            return Some(NotReferenced::NoAxis);
        };
        let outside = |(low, high): (i32, i32)| !(low..=high).contains(&asked.position);
        if !self.at_rest() || self.axes.iter().any(Axis::wants_to_move) {
            Some(NotReferenced::NotAtRest)
        } else if axis.referenced() && !asked.again {
            Some(NotReferenced::Already)
        } else if setup.travel.is_some_and(outside) {
            Some(NotReferenced::OutsideTravel)
        } else {
            None
        }
    }

    fn on_hello(&mut self, version: u8, session: u32, now_us: u32, out: &mut impl FnMut(&[u8])) {
        let had_setup = self.session.setup().is_some();
        match self.session.hello(version, session) {
            Ok(news) => {
                if news == News::New && had_setup {
                    self.stop(held::SESSION);
                }
                if news == News::New {
                    self.standstill.restore();
                }
                self.reported_us.get_or_insert(now_us);
                out(&RESYNC);
                send(&FromRig::Hello(self.hello(session, now_us)), out);
            }
            Err(why) => {
                self.refused = self.refused.wrapping_add(1);
                out(&RESYNC);
                send(&FromRig::Refused { session, why }, out);
            }
        }
    }

    fn on_setup(&mut self, setup: &Setup, out: &mut impl FnMut(&[u8])) {
        // A session begins with motors that may move.
        let at_rest = self.at_rest() && self.standstill.lowered() == 0;
        match self
            .session
            .set_up(setup, self.axes.len(), at_rest, self.inputs.power)
        {
            Ok(news) => {
                if news == News::New {
                    for (axis, setup) in self.axes.iter_mut().zip(&setup.axes) {
                        axis.set_up(*setup);
                    }
                    self.held &= held::STOP_INPUT | held::FAULT;
                }
                send(
                    &FromRig::Ack {
                        setup: setup.clone(),
                    },
                    out,
                );
            }
            Err(why) => {
                self.refused = self.refused.wrapping_add(1);
                send(
                    &FromRig::Refused {
                        session: setup.session,
                        why,
                    },
                    out,
                );
            }
        }
    }

    /// All rules for a velocity frame but its deadline.
    fn may_take(&self, session: u32, seq: u32, velocity: &[i32]) -> bool {
        let inputs = &self.inputs;
        let all_zero = velocity.iter().all(|v| *v == 0);
        self.session
            .setup()
            .is_some_and(|setup| setup.session == session)
            && is_newer(seq, self.session.applied())
            && velocity.len() == self.axes.len()
            && inputs.power
            && !inputs.stop_input
            && inputs.faults == 0
            // A stop that runs has set a bit, and is not rest.
            && (self.held == 0 || all_zero && self.at_rest())
    }

    fn take(&mut self, seq: u32, velocity: &[i32], now_us: u32) {
        self.session.took(seq);
        self.fed_us = now_us;
        self.held = 0;
        for (axis, velocity) in self.axes.iter_mut().zip(velocity) {
            axis.command(*velocity);
        }
    }

    /// The watchdog.
    fn watch(&mut self) {
        let Some(setup) = self.session.setup() else {
            return;
        };
        let bound_us = u32::from(setup.watchdog_ms) * 1000;
        let unfed_us = self.clock_us.wrapping_sub(self.fed_us).cast_signed();
        if unfed_us >= bound_us.cast_signed() {
            // Nobody is there to ask for it back.
            self.standstill.restore();
        }
        let stopping = self.axes.iter().any(Axis::is_stopping);
        if !stopping
            && self.axes.iter().any(Axis::wants_to_move)
            && unfed_us >= bound_us.cast_signed()
        {
            self.stop(held::WATCHDOG);
        }
    }

    /// Stops everything with the stop set and holds it. A stop that runs already goes on as it is.
    fn stop(&mut self, why: u8) {
        self.held |= why;
        self.standstill.restore();
        if !self.axes.iter().any(Axis::is_stopping) {
            self.axes.iter_mut().for_each(Axis::begin_stop);
        }
    }

    fn hello(&self, session: u32, now_us: u32) -> RigHello {
        RigHello {
            version: VERSION,
            session,
            rig_id: self.config.rig_id.clone(),
            boot_id: self.config.boot_id,
            clock_us: now_us,
            axes: self.axes.iter().map(Axis::hello).collect(),
        }
    }
}

/// Bit i: it is true of axis i.
fn bits(axes: impl DoubleEndedIterator<Item = bool> + ExactSizeIterator) -> u8 {
    axes.take(MAX_AXES)
        .rev()
        .fold(0, |bits, is| bits << 1 | u8::from(is))
}

fn send(message: &FromRig, out: &mut impl FnMut(&[u8])) {
    // No message is longer than a frame (the wire's tests show the largest); were one, saying nothing is what the other end copes with.
    if let Ok(frame) = encode(message) {
        out(&frame);
    }
}
