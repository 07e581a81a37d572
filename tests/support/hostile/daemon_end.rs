//! The daemon's end of a hostile line: what the rig tells comes in.
//!
//! Two sessions are met by the same rig. One hears the hostile line, the other the good frames at the start of
//! a run and nothing else; whatever can be seen of the two must be the same at all times.
//!
//! A telling of a session that never was ours is not among the damage: it is how a session learns that
//! somebody else has taken the rig, and it ends in a stop (`tests/link_losses.rs`). Nor is one of session 0: the
//! rig has started again.

use super::damage::Kind;
use super::{Item, Line, Random, Sender};
use crate::claims::{line, page};
use stillhand::link::session::{Session, Standing};
use stillhand::profile::{builtin, load_rig};
use stillhand_engine::MAX_AXES;
use stillhand_engine::input::LinkEvent;
use stillhand_engine::output::Frame;
use stillhand_engine::reference::{ReferenceStatus, Stands};
use stillhand_engine::time::{Span, Time};
use stillhand_rig::{Inputs, Rig};
use stillhand_wire::messages::{AxisTelemetry, Telemetry, Why, fault, held};
use stillhand_wire::{FromRig, FromRigDeframer, ToRig, encode};

/// An item comes each millisecond, and a new session after so many.
const SESSION_ITEMS: u64 = 5_000;
/// The daemon sends a velocity each so many items.
const SEND_ITEMS: u64 = 4;
/// Both sessions ask for a reference of this number, which the rig never answers.
const ASKED: u32 = 9;
/// Tellings kept to be told again.
const KEPT: usize = 64;

/// The rig as it should be: what it has told, and what it can tell.
struct Teller {
    now: Time,
    session: u32,
    axes: usize,
    /// The velocity frame it has taken last; it takes all.
    applied: u32,
    /// The clock of the last telling that arrived.
    newest_us: u32,
    due: Option<Telemetry>,
    spent: Vec<Vec<u8>>,
    /// Its answers in this session, and those of earlier ones.
    answers: Vec<FromRig>,
    old_answers: Vec<FromRig>,
    /// Earlier sessions.
    ended: Vec<u32>,
}

fn frame(message: &FromRig) -> Vec<u8> {
    encode(message).expect("fits a frame").to_vec()
}

fn clock(now: Time) -> u32 {
    // Near its wrap at the start: a long run passes it.
    ((now.0 / 1_000) as u32).wrapping_sub(60_000_000)
}

impl Teller {
    fn quiet(&self, session: u32, clock_us: u32, random: &mut Random) -> Telemetry {
        let axis = |random: &mut Random| AxisTelemetry {
            at_applied: random.below(8_000) as i32 - 4_000,
            position: random.below(8_000) as i32 - 4_000,
            velocity: random.next() as i32 >> 12,
        };
        Telemetry {
            session,
            clock_us,
            applied: self.applied,
            accepted: self.applied,
            axes: (0..self.axes).map(|_| axis(random)).collect(),
            power: true,
            stop_input: false,
            energised: true,
            brakes: 0,
            faults: 0,
            held: 0,
            at_end: 0,
            referenced: 0xFF,
            supply_mv: Some(24_000),
            drive_c: None,
            frames_refused: 0,
        }
    }

    /// One that would end the session if it were believed, as often as not.
    fn loud(&self, session: u32, clock_us: u32, random: &mut Random) -> Vec<u8> {
        let mut told = self.quiet(session, clock_us, random);
        match random.below(10) {
            0 => told.power = false,
            1 => told.stop_input = true,
            2 => told.faults = fault::FOLLOWING,
            3 => told.held = held::WATCHDOG,
            4 => _ = told.axes.pop(),
            _ => {}
        }
        frame(&FromRig::Telemetry(told))
    }

    fn answer(&self, session: u32, random: &mut Random) -> FromRig {
        match random.below(4) {
            0 => FromRig::Refused {
                session,
                why: *random.pick(&[Why::OldSession, Why::NotAtRest, Why::BadTravel]),
            },
            // Taken, it would end the session.
            1 => FromRig::Referenced {
                session,
                number: ASKED,
                refused: None,
            },
            _ => {
                let mut answer = random.pick(&self.answers).clone();
                match &mut answer {
                    FromRig::Hello(hello) => (hello.session, hello.boot_id) = (session, 9),
                    FromRig::Ack { setup } => setup.session = session,
                    FromRig::Refused { .. }
                    | FromRig::Referenced { .. }
                    | FromRig::Standstill { .. }
                    | FromRig::Telemetry(_) => {}
                }
                answer
            }
        }
    }

    fn misfit(&self, random: &mut Random) -> Vec<u8> {
        let good = frame(&FromRig::Telemetry(self.quiet(
            self.session,
            clock(self.now),
            random,
        )));
        let mut payload = page::payload(&good[..good.len() - 1]).expect("intact");
        match random.below(5) {
            0 => payload.push(random.next() as u8),
            1 => payload[0] = [0, 2, 255][random.below(3)],
            2 => payload[1] = 6 + random.below(122) as u8,
            3 => payload.truncate(1 + random.below(payload.len() - 1)),
            _ => {
                let echo = ToRig::Hello {
                    version: 1,
                    session: self.session,
                };
                return encode(&echo).expect("fits").to_vec();
            }
        }
        page::frame(&payload)
    }
}

impl Sender for Teller {
    fn tempting(&mut self, random: &mut Random) -> Vec<u8> {
        if random.one_in(8) {
            return frame(&self.answer(self.session, random));
        }
        self.loud(self.session, clock(self.now), random)
    }

    fn unwanted(&mut self, kind: Kind, random: &mut Random) -> Option<Vec<u8>> {
        let old = self.ended.get(random.below(self.ended.len().max(1)));
        Some(match kind {
            Kind::Duplicate => match random.below(8) {
                0 => frame(random.pick(&self.answers)),
                _ if self.spent.is_empty() => return None,
                _ => random.pick(&self.spent).clone(),
            },
            Kind::Reordered | Kind::Outdated if self.spent.is_empty() => return None,
            Kind::Reordered => {
                let back_us = 1 + random.below(100_000) as u32;
                self.loud(self.session, self.newest_us.wrapping_sub(back_us), random)
            }
            Kind::Outdated => {
                // Up to half of the clock's range: what is older looks newer, after 36 minutes on the way.
                let back_us = 100_000 + (random.below(1 << 31) >> random.below(12)) as u32;
                let back_us = back_us.min(1 << 31);
                self.loud(self.session, self.newest_us.wrapping_sub(back_us), random)
            }
            Kind::OldSession => match random.below(3) {
                0 => frame(
                    self.old_answers
                        .get(random.below(self.old_answers.len().max(1)))?,
                ),
                1 => frame(&self.answer(*old?, random)),
                _ => self.loud(*old?, clock(self.now), random),
            },
            Kind::ForeignSession => {
                let foreign = random.next() as u32;
                if foreign == self.session {
                    return None;
                }
                frame(&self.answer(foreign, random))
            }
            Kind::Misfit => self.misfit(random),
            Kind::Flipped | Kind::Truncated | Kind::Spliced | Kind::Shifted | Kind::Garbage => {
                return None;
            }
        })
    }

    fn due(&mut self, random: &mut Random) -> Vec<u8> {
        let told = self.quiet(self.session, clock(self.now), random);
        self.due = Some(told.clone());
        frame(&FromRig::Telemetry(told))
    }
}

/// What can be seen of a session.
#[derive(Debug, PartialEq)]
struct Seen {
    events: Vec<LinkEvent>,
    standing: Standing,
    number: u32,
    latest: Option<Telemetry>,
    sent_and_lost: (u64, u64),
    writes: Vec<Vec<u8>>,
    velocity: Option<Vec<u8>>,
}

fn asked() -> ReferenceStatus {
    ReferenceStatus {
        number: ASKED,
        stands: Stands::Asked,
        ..ReferenceStatus::NONE
    }
}

fn see(session: &mut Session, now: Time, seq: Option<u32>) -> Seen {
    let frame = seq.map(|seq| Frame {
        seq,
        velocity: [seq as i32; MAX_AXES],
    });
    let velocity = frame.and_then(|frame| session.velocity(now, &frame));
    if let (Some(seq), true) = (seq, velocity.is_some()) {
        session.left(seq);
    }
    let traffic = session.traffic();
    Seen {
        events: std::iter::from_fn(|| session.next_event()).collect(),
        standing: session.standing().clone(),
        number: session.number(),
        latest: session.latest().cloned(),
        sent_and_lost: (traffic.sent, traffic.lost),
        writes: std::iter::from_fn(|| session.next_write().map(|bytes| bytes.to_vec())).collect(),
        velocity: velocity.map(|bytes| bytes.to_vec()),
    }
}

/// The two sessions and the rig that met them.
pub struct DaemonEnd {
    hostile: Session,
    spared: Session,
    rig: Rig,
    teller: Teller,
    line: Line,
    items: u64,
}

impl DaemonEnd {
    pub fn new(seed: u64) -> DaemonEnd {
        let facts = load_rig(&builtin::BENCH_RIG.source())
            .expect("built in")
            .rig;
        let now = Time(1_000_000_000);
        // Its numbers pass 0 in a long run.
        let first = u32::MAX - 300;
        let teller = Teller {
            now,
            session: 0,
            axes: facts.axes.len(),
            applied: 0,
            newest_us: 0,
            due: None,
            spent: Vec::new(),
            answers: Vec::new(),
            old_answers: Vec::new(),
            ended: Vec::new(),
        };
        let mut end = DaemonEnd {
            hostile: Session::new(&facts, first),
            spared: Session::new(&facts, first),
            rig: Rig::new(line::config(&facts), Inputs::default(), clock(now)),
            teller,
            line: Line::new(seed),
            items: 0,
        };
        end.hostile.opened(now);
        end.spared.opened(now);
        end.meet();
        end
    }

    /// Plays until so many damaged frames have come.
    pub fn play(&mut self, damaged: u64) -> &super::tally::Tally {
        while self.line.tally.all_damaged() < damaged {
            self.teller.now = self.teller.now + Span::from_millis(1);
            let now = self.teller.now;
            let item = self.line.next(&mut self.teller);
            self.items += 1;
            let cut = self.line.random.below(item.bytes.len() + 1);
            let (first, rest) = item.bytes.split_at(cut);
            self.hostile.on_bytes(now, first);
            self.hostile.on_bytes(now, rest);
            let told = self.teller.due.take().filter(|_| !item.behind);
            if let Some(told) = &told {
                let bytes = frame(&FromRig::Telemetry(told.clone()));
                self.spared.on_bytes(now, &bytes);
                self.teller.newest_us = told.clock_us;
                self.teller.spent.push(bytes);
                let old = self.teller.spent.len().saturating_sub(KEPT);
                self.teller.spent.drain(..old);
            }
            self.compare(&item, told);
            if self.items.is_multiple_of(SESSION_ITEMS) {
                self.hostile.stalled(now);
                self.spared.stalled(now);
                self.meet();
            }
        }
        &self.line.tally
    }

    fn compare(&mut self, item: &Item, told: Option<Telemetry>) {
        let now = self.teller.now;
        for session in [&mut self.hostile, &mut self.spared] {
            session.tick(now);
            session.refer(now, &asked());
        }
        let sends = self.items.is_multiple_of(SEND_ITEMS);
        let seq = sends.then_some(self.teller.applied + 1);
        let (seen, spared) = (
            see(&mut self.hostile, now, seq),
            see(&mut self.spared, now, seq),
        );
        let acted = usize::from(told.is_some());
        let as_told = told.is_none() || spared.latest == told;
        let tells = |event: &&LinkEvent| matches!(event, LinkEvent::Told(_));
        let heard = spared.events.iter().filter(tells).count();
        let Item { kind, bytes, .. } = item;
        let what = kind.map_or("the telling that was due".to_owned(), |kind| {
            format!("{kind:?}")
        });
        let items = self.items;
        assert!(
            seen == spared,
            "item {items}, {what}, {bytes:02x?}:\n  is {seen:?}\nnot {spared:?}"
        );
        assert!(as_told && heard == acted, "item {items}: {spared:?}");
        assert_eq!(spared.standing, Standing::Ready, "item {items}");
        self.line.tally.taken += acted as u64;
        if let Some(seq) = seq {
            assert!(spared.velocity.is_some(), "item {items}");
            self.teller.applied = seq;
        }
    }

    /// Both meet the rig anew, on a quiet line.
    fn meet(&mut self) {
        self.hostile.on_bytes(self.teller.now, &[0]);
        self.line.clear();
        self.teller.old_answers.append(&mut self.teller.answers);
        let old = self.teller.old_answers.len().saturating_sub(KEPT);
        self.teller.old_answers.drain(..old);
        let now = self.teller.now;
        for _ in 0..2 {
            let (seen, spared) = (
                see(&mut self.hostile, now, None),
                see(&mut self.spared, now, None),
            );
            assert_eq!(seen, spared);
            let mut back = Vec::new();
            for bytes in &seen.writes {
                let mut out = |said: &[u8]| back.extend_from_slice(said);
                self.rig.on_bytes(bytes, clock(now), &mut out);
            }
            FromRigDeframer::new().feed(&back, |said| self.teller.answers.push(said));
            self.hostile.on_bytes(now, &back);
            self.spared.on_bytes(now, &back);
        }
        let (seen, spared) = (
            see(&mut self.hostile, now, None),
            see(&mut self.spared, now, None),
        );
        assert_eq!((&seen, &seen.standing), (&spared, &Standing::Ready));
        if self.teller.session != 0 {
            self.teller.ended.push(self.teller.session);
        }
        self.teller.session = seen.number;
        self.teller.applied = 0;
        self.teller.spent.clear();
        self.line.tally.sessions += 1;
    }
}
