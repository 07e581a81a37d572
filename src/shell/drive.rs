//! The control loop: one thread owns the engine, the session and the open port.
//!
//! Each turn: drain the mailboxes of the port and of the pads, step the engine, write one frame.
//! Nothing in it waits: the port is only written to, and non-blocking; the mailboxes are lock-free;
//! the status is offered to whoever looks and skipped if someone is just looking.

mod shared;
mod withheld;

pub use shared::{Health, Shared, Snapshot};

use super::answers::Answers;
use super::clock::Clock;
use super::edits::Edits;
use super::errands::Errands;
use super::line::Line;
use super::opener::Ports;
use super::pad::player::Player;
use super::pad::{Inbox, PadInput};
use super::probe::Probe;
use super::realtime::{Punctuality, become_punctual};
use super::stats::{AxisRecord, AxisRow, Lateness};
use crate::journal::recorder::{Recorder, step};
use crate::link::hush::Hush;
use crate::link::port::Moved;
use crate::link::session::{Session, Standing};
use crate::link::traffic::Traffic;
use crate::link::writer::{Sent, Writer};
use rtrb::{Consumer, Producer};
use std::sync::Arc;
use std::sync::atomic::Ordering;
use stillhand_engine::input::{
    Input, Inputs, LinkEvent, LinkLoss, Order, PadEvent, PadId, StopSource, Tick,
};
use stillhand_engine::output::{AxisStatus, Mover, Notice, State};
use stillhand_engine::time::{Span, Time};
use stillhand_engine::{Engine, MAX_AXES, MAX_PADS};
use withheld::Withheld;

/// Inputs one turn can take: the pads' ring (2048), a sign of life of each pad, and what the link says in one turn.
const MOST_INPUTS: usize = 2_112;
/// Bytes taken in one turn: ten times what 921600 baud bring in 20 ms.
const MOST_BYTES: usize = 4_096;
/// A link that is not ready this long after the start makes a run with a time limit give up.
const PATIENCE: Span = Span::from_millis(15_000);

/// Everything the loop owns.
#[derive(Debug)]
pub struct Drive {
    /// The core.
    pub engine: Engine,
    /// What is said on the line.
    pub session: Session,
    /// Where open ports come from.
    pub ports: Ports,
    /// Where pad inputs come from.
    pub inbox: Inbox,
    /// A pad script and its place, which drives until a real pad appears.
    pub script: Option<(PadId, Player)>,
    /// The clock the inputs are stamped with.
    pub clock: Clock,
    /// The time between two turns.
    pub period: Span,
    /// End by itself this long after the first turn with the link ready.
    pub until: Option<Span>,
    /// What everybody else may ask and see.
    pub shared: Arc<Shared>,
    /// What was asked for without a pad.
    pub orders: Consumer<Order>,
    /// Where changed files come from.
    pub edits: Edits,
    /// Where errands come from.
    pub errands: Errands,
    /// Shown every turn, for a command at work.
    pub probe: Option<Probe>,
    /// Where notices go; a full ring loses the newest.
    pub notices: Producer<(Time, Notice)>,
    /// What goes through the engine is recorded here.
    pub journal: Option<Recorder>,
}

/// What the loop did, when it has ended.
#[derive(Debug)]
pub struct Record {
    /// How punctual it could be.
    pub punctuality: Punctuality,
    /// How punctual it was.
    pub lateness: Lateness,
    /// The axes, in the order of the rig file.
    pub axes: Vec<AxisRow>,
    /// What went over the line.
    pub traffic: Traffic,
    /// Each time motion began to be withheld: seconds since time zero, and why.
    pub withheld: Vec<(f64, State)>,
    /// Whether it gave up because the rig was never ready.
    pub gave_up: bool,
}

/// The loop's own state.
struct Turn {
    drive: Drive,
    line: Option<Line>,
    writer: Writer,
    hush: Hush,
    answers: Answers,
    inputs: Vec<Input>,
    began: Time,
    zero: Option<Time>,
    last: Time,
    axes: Vec<AxisRecord>,
    withheld: Withheld,
    unsent: Option<u32>,
    ending: bool,
    gave_up: bool,
    last_frame_still: bool,
}

/// Runs the loop on the calling thread until it is asked to end.
pub fn run(drive: Drive, told: impl FnOnce(&Punctuality)) -> Record {
    let punctuality = become_punctual();
    told(&punctuality);
    let (clock, period) = (drive.clock, drive.period);
    let mut turn = Turn::new(drive);
    let mut lateness = Lateness::default();
    let mut due = clock.now();
    let mut index = 0;
    loop {
        clock.sleep_until(due);
        let now = clock.now();
        // Signals may wake it early; the turn is taken at its time.
        if now < due {
            continue;
        }
        let late = now.since(due);
        lateness.add(late);
        if turn.take(Tick { index, now }) {
            break;
        }
        // Missed periods are skipped, never made up for in a burst.
        let periods = clock.now().since(due).0 / period.0 + 1;
        lateness.skip(periods - 1);
        index += periods;
        due = due + Span(periods * period.0);
    }
    turn.finish(punctuality, lateness)
}

impl Turn {
    fn new(drive: Drive) -> Turn {
        let axes = vec![AxisRecord::default(); drive.session.rig().axes.len()];
        let now = drive.clock.now();
        Turn {
            drive,
            line: None,
            writer: Writer::default(),
            hush: Hush::default(),
            answers: Answers::default(),
            inputs: Vec::with_capacity(MOST_INPUTS),
            began: now,
            zero: None,
            last: now,
            axes,
            withheld: Withheld::default(),
            unsent: None,
            ending: false,
            gave_up: false,
            last_frame_still: true,
        }
    }

    /// One turn; `true` when the loop is over.
    fn take(&mut self, tick: Tick) -> bool {
        let now = tick.now;
        self.inputs.clear();
        if let Some(seq) = self.unsent.take() {
            self.inputs.push(Input::Link(0, LinkEvent::Unsent(seq)));
        }
        self.take_port(now);
        self.read_port();
        self.drive.session.tick(now);
        self.take_hush(now);
        if !self.hush.holds(now) {
            self.flush(now);
        }
        self.take_session_events(now);
        let pad_stop = self.take_pads(now);
        self.play_script(now);
        let stop = pad_stop.or(self.take_orders(now));
        let (operator, rig) = self.drive.edits.take();
        let inputs = Inputs {
            stop,
            edges: &self.inputs,
            operator,
            rig,
            errand: self.drive.errands.take(),
        };
        let (engine, journal) = (&mut self.drive.engine, &mut self.drive.journal);
        let outputs = step(engine, journal, tick, inputs);
        let ended = outputs.ended;
        self.drive.session.refer(now, &outputs.status.reference);
        if let Some(rig) = outputs.rigs.first() {
            self.drive.session.ease(now, rig.current);
        }
        self.send(now);
        self.follow_edits(now);
        self.drive.errands.follow(&mut self.drive.engine);
        self.record(now);
        self.publish(now);
        self.last = now;
        let line_still = self.last_frame_still || *self.drive.session.standing() != Standing::Ready;
        ended && line_still || self.gave_up
    }

    fn take_port(&mut self, now: Time) {
        if let Some(line) = self.drive.ports.take() {
            self.line = Some(line);
            self.writer.reset();
            self.drive.session.opened(now);
        }
    }

    fn read_port(&mut self) {
        let Some(line) = &mut self.line else { return };
        let (session, probe) = (&mut self.drive.session, &mut self.drive.probe);
        let hear = |at, bytes: &[u8]| {
            session.on_bytes(at, bytes);
            if let Some(probe) = probe {
                probe.hear(at, bytes);
            }
        };
        // Heard when it came, which may be a turn ago or more.
        match line.take(MOST_BYTES, hear) {
            Moved::Bytes(_) | Moved::None => {}
            Moved::Gone => self.lose_port(),
        }
    }

    fn lose_port(&mut self) {
        self.line = None;
        self.writer.reset();
        self.drive.session.closed();
        self.drive.ports.want();
    }

    /// Begins the silence that was asked for, while an errand moves an axis.
    fn take_hush(&mut self, now: Time) {
        let Some(span) = self.drive.errands.hush() else {
            return;
        };
        let moves = |axis: &AxisStatus| axis.mover == Mover::Errand && axis.speed != 0.0;
        let rigs = &self.drive.engine.outputs().rigs;
        if rigs.iter().any(|rig| rig.axes.iter().any(moves)) {
            self.hush.begin(now, span, &mut self.drive.session);
        }
    }

    /// Gets the waiting frame and the handshake out.
    fn flush(&mut self, now: Time) {
        let Some(line) = &mut self.line else { return };
        let mut write = |bytes: &[u8]| line.write(bytes);
        let (mut sent, late) = self.writer.flush(now, &mut write);
        if let Some(seq) = late {
            self.drive.session.left(seq);
            self.inputs
                .push(Input::Link(0, LinkEvent::SentLate(seq, now)));
        }
        while sent == Sent::Whole {
            let Some(frame) = self.drive.session.next_write() else {
                break;
            };
            sent = self.writer.offer(now, frame, None, &mut write);
        }
        if sent == Sent::Gone {
            self.lose_port();
        } else if self.writer.waiting(now) >= self.drive.session.patience() {
            self.drive.session.stalled(now);
        }
    }

    fn take_session_events(&mut self, now: Time) {
        while let Some(event) = self.drive.session.next_event() {
            let event = self.hush.named(event);
            match &event {
                LinkEvent::Ready(report) => {
                    self.zero.get_or_insert(now);
                    for (axis, told) in self.axes.iter_mut().zip(&report.axes) {
                        axis.told(told.position);
                    }
                }
                LinkEvent::Told(told) => {
                    for (axis, position) in self.axes.iter_mut().zip(told.position) {
                        axis.told(position);
                    }
                }
                // The next telling is no way that was gone.
                LinkEvent::Lost(LinkLoss::Reference) => {
                    self.axes.iter_mut().for_each(AxisRecord::forget_place);
                }
                LinkEvent::Lost(_)
                | LinkEvent::Unsent(_)
                | LinkEvent::SentLate(..)
                | LinkEvent::NotReferenced(_)
                | LinkEvent::FullCurrent => {}
            }
            self.inputs.push(Input::Link(0, event));
        }
    }

    fn take_pads(&mut self, now: Time) -> Option<StopSource> {
        let stop = self.drive.inbox.take_stop().map(StopSource::Pad);
        while self.inputs.len() < MOST_INPUTS - MAX_AXES - MAX_PADS {
            let Some(PadInput { pad, event, .. }) = self.drive.inbox.pop() else {
                break;
            };
            self.hear_pad(now, pad, event);
            if let PadEvent::Plugged { drives: true, .. } = event {
                self.end_script();
            }
        }
        for pad in self.drive.inbox.take_alive() {
            self.inputs.push(Input::Pad(pad, PadEvent::Alive));
        }
        stop
    }

    /// What happens on a pad is the engine's to know, but for answers to whoever asks.
    fn hear_pad(&mut self, now: Time, pad: PadId, event: PadEvent) {
        let (asks, stop) = (self.drive.errands.asks(), self.drive.inbox.stop_button());
        let (event, tapped) = self.answers.take(now, (pad, event), asks, stop);
        self.inputs.push(Input::Pad(pad, event));
        if let (Some(button), Some(probe)) = (tapped, &mut self.drive.probe) {
            probe.tapped(pad, button);
        }
    }

    /// A real pad that may drive has appeared: the rehearsal is over. Its unplug stops the rig, and
    /// the real pad takes over once its sticks were centred.
    fn end_script(&mut self) {
        if let Some((place, _)) = self.drive.script.take() {
            self.inputs.push(Input::Pad(place, PadEvent::Unplugged));
        }
    }

    fn play_script(&mut self, now: Time) {
        let Some(zero) = self.zero else { return };
        while self.inputs.len() < MOST_INPUTS
            && let Some((place, player)) = &mut self.drive.script
            && let Some((_, event)) = player.due(now.since(zero))
        {
            let place = *place;
            self.hear_pad(now, place, event);
        }
    }

    fn take_orders(&mut self, now: Time) -> Option<StopSource> {
        let since_zero = self.zero.map(|zero| now.since(zero));
        let time_up = self
            .drive
            .until
            .is_some_and(|until| since_zero.is_some_and(|t| t >= until));
        let asked = self.drive.shared.end.load(Ordering::Relaxed);
        let impatient =
            self.drive.until.is_some() && self.zero.is_none() && now.since(self.began) > PATIENCE;
        self.gave_up |= impatient;
        if (time_up || asked) && !self.ending {
            self.ending = true;
            self.inputs.push(Input::End);
        }
        while self.inputs.len() < MOST_INPUTS
            && let Ok(order) = self.drive.orders.pop()
        {
            self.inputs.push(Input::Order(order));
        }
        while self.inputs.len() < MOST_INPUTS
            && let Some(order) = self.drive.errands.order()
        {
            self.inputs.push(Input::Order(order));
        }
        let stop = self.drive.shared.stop.swap(false, Ordering::Relaxed);
        stop.then_some(StopSource::Command)
    }

    fn send(&mut self, now: Time) {
        let outputs = self.drive.engine.outputs();
        let Some(frame) = outputs.rigs.first().and_then(|rig| rig.frame) else {
            return;
        };
        let (Some(line), Some(bytes)) = (&mut self.line, self.drive.session.velocity(now, &frame))
        else {
            self.unsent = Some(frame.seq);
            return;
        };
        match self
            .writer
            .offer(now, bytes, Some(frame.seq), &mut |bytes| line.write(bytes))
        {
            Sent::Whole => {
                self.drive.session.left(frame.seq);
                self.last_frame_still = frame.velocity.iter().all(|v| *v == 0);
            }
            Sent::Waits => self.unsent = Some(frame.seq),
            Sent::Gone => {
                self.unsent = Some(frame.seq);
                self.lose_port();
            }
        }
    }

    fn follow_edits(&mut self, now: Time) {
        let Drive {
            edits,
            engine,
            session,
            inbox,
            ..
        } = &mut self.drive;
        if edits.follow(now, engine, session, inbox) {
            // What a position means may be another.
            self.axes.iter_mut().for_each(AxisRecord::forget_place);
        }
    }

    fn record(&mut self, now: Time) {
        let dt = now.since(self.last).secs();
        let outputs = self.drive.engine.outputs();
        if let Some(rig) = outputs.rigs.first() {
            for (axis, status) in self.axes.iter_mut().zip(&rig.axes) {
                axis.tick(status, dt);
            }
            let hushed = self.hush.holds(now);
            if let Some(probe) = &mut self.drive.probe {
                probe.turn(now, outputs.status.state, hushed, &rig.axes);
            }
        }
        let at = self.zero.map_or(0.0, |zero| now.since(zero).secs());
        let notices = outputs.notices;
        for notice in notices.iter() {
            if let Notice::Entered(state) = notice {
                self.withheld.note(at, state);
            }
            // A full ring means nobody has read for a thousand notices; nobody misses one more.
            let _ = self.drive.notices.push((now, notice));
        }
    }

    fn publish(&mut self, now: Time) {
        let Ok(mut snapshot) = self.drive.shared.snapshot.try_lock() else {
            return;
        };
        let since_zero = self.zero.map(|zero| now.since(zero));
        snapshot.take(self.drive.engine.outputs(), &self.drive.session, since_zero);
        snapshot.profile_waits = self.drive.engine.profile_waits();
        snapshot.rig_waits = self.drive.engine.rig_waits();
    }

    fn finish(mut self, punctuality: Punctuality, lateness: Lateness) -> Record {
        if let Some(journal) = self.drive.journal.take() {
            journal.end();
        }
        let rig = self.drive.session.rig();
        let units = rig.axes.iter().map(|axis| axis.unit.symbol());
        Record {
            punctuality,
            lateness,
            axes: self
                .axes
                .iter()
                .zip(units)
                .map(|(axis, unit)| axis.row(unit))
                .collect(),
            traffic: self.drive.session.traffic(),
            withheld: self.withheld.rows(),
            gave_up: self.gave_up,
        }
    }
}
