//! A turn of the loop, as the shell takes it but for the clock.

use super::World;
use crate::journal::recorder::step;
use crate::link::session::Session;
use crate::link::writer::Sent;
use stillhand_engine::input::{Input, Inputs, LinkEvent, Tick};
use stillhand_engine::output::Notice;
use stillhand_engine::rig::Rig;
use stillhand_engine::time::{Span, Time};
use stillhand_laws::Event;

impl World {
    /// One tick after `pause`: a longer one is a late loop. Whole periods that passed are skipped.
    pub fn tick_after(&mut self, pause: Span) {
        let now = self.now + pause;
        self.far.live_until(now, &mut self.line, &mut self.judge);
        self.now = now;
        self.index += (pause.0 / self.options.period.0).max(1);
        self.judge.tell(now, &Event::Tick);
        let mut inputs = Vec::new();
        if let Some(seq) = self.unsent.take() {
            inputs.push(Input::Link(0, LinkEvent::Unsent(seq)));
        }
        while let Some(bytes) = self.line.at_port(now) {
            self.session.on_bytes(now, &bytes);
        }
        self.session.tick(now);
        if !self.hush.holds(now) {
            self.flush(now, &mut inputs);
        }
        while let Some(event) = self.session.next_event() {
            inputs.push(Input::Link(0, self.hush.named(event)));
        }
        inputs.append(&mut self.pending);
        let stop = self.stop.take();
        if stop.is_some() {
            self.judge.tell(now, &Event::Stop);
        }
        let session = self.session.number();
        for input in &inputs {
            self.judge.input(now, input, session);
        }
        let errand = self.offered_errand.take();
        if let Some(errand) = &errand {
            self.judge.offered(errand);
        }
        self.judge.watch_errand(now);
        let tick = Tick {
            index: self.index,
            now,
        };
        let outputs = step(
            &mut self.engine,
            &mut self.journal,
            tick,
            Inputs {
                stop,
                edges: &inputs,
                operator: self.offered.take().map(Box::new),
                rig: self.offered_rig.take().map(|rig| (0, Box::new(rig))),
                errand: errand.map(Box::new),
            },
        );
        self.judge.outputs(now, outputs);
        self.session.refer(now, &outputs.status.reference);
        self.session.ease(now, outputs.rigs[0].current);
        self.drained = (stop, inputs);
        let applied = |notice| matches!(notice, Notice::RigApplied(_));
        if outputs.notices.iter().any(applied)
            && let Some(rig) = self.next_rig.take()
        {
            self.go_by(now, rig);
        }
        self.send(now);
    }

    /// Another file of the rig is in force: the rig is met anew.
    fn go_by(&mut self, now: Time, rig: Rig) {
        self.far.read_by(&rig);
        self.judge.rig_file(now, &rig);
        self.writer.reset();
        self.session = Session::new(&rig, self.session.number() + 1);
        self.session.opened(now);
        self.rig = rig;
    }

    /// Gets the waiting frame and the handshake out.
    fn flush(&mut self, now: Time, inputs: &mut Vec<Input>) {
        let hostile = self.options.hostile_line && self.ready();
        let line = &mut self.line;
        let mut write = |bytes: &[u8]| line.write(now, bytes, hostile);
        let (mut sent, late) = self.writer.flush(now, &mut write);
        if let Some(seq) = late {
            self.session.left(seq);
            inputs.push(Input::Link(0, LinkEvent::SentLate(seq, now)));
        }
        while sent == Sent::Whole {
            let Some(frame) = self.session.next_write() else {
                break;
            };
            sent = self.writer.offer(now, frame, None, &mut write);
        }
        if self.writer.waiting(now) >= self.session.patience() {
            self.session.stalled(now);
        }
    }

    fn send(&mut self, now: Time) {
        let hostile = self.options.hostile_line && self.ready();
        let Some(frame) = self.engine.outputs().rigs.first().and_then(|rig| rig.frame) else {
            return;
        };
        let Some(bytes) = self.session.velocity(now, &frame) else {
            self.unsent = Some(frame.seq);
            return;
        };
        let line = &mut self.line;
        let mut write = |bytes: &[u8]| line.write(now, bytes, hostile);
        let seq = frame.seq;
        if self.writer.offer(now, bytes, Some(seq), &mut write) == Sent::Whole {
            self.session.left(seq);
            // One that leaves late is followed by a newer one in the same tick: that one counts.
            self.judge.frame(now, &frame);
        } else {
            self.judge.frames_lost(now, Span::ZERO);
            self.judge.tell(now, &Event::Unsent);
            self.unsent = Some(seq);
        }
    }
}
