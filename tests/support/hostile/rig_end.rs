//! The rig's end of a hostile line: velocities come in.

use super::damage::Kind;
use super::{Item, Line, Random, Sender};
use crate::claims::page;
use stillhand_rig::{AxisConfig, Config, DEFAULT_TELEMETRY_MS, Inputs, Rig};
use stillhand_wire::heapless::String;
use stillhand_wire::messages::{
    AxisSetup, FromRig, PerAxis, Ramp, Reference, Setup, Unit, VERSION, fault,
};
use stillhand_wire::rules::MAX_DEADLINE_AHEAD_US;
use stillhand_wire::{FromRigDeframer, ToRig, encode};

const AXES: usize = 3;
/// Counts/s; every speed drawn is within it, so that what a frame says is what is moved.
const MAX_SPEED: u32 = 5_000;
/// A frame comes each millisecond, and a new session after so many.
const SESSION_ITEMS: u64 = 5_000;
/// Frames that were taken or skipped, kept to be said again.
const KEPT: usize = 64;

/// What the rig must be doing.
#[derive(Clone, Debug, PartialEq)]
struct Doing {
    session: u32,
    applied: u32,
    accepted: u32,
    held: u8,
    ready: bool,
    velocity: [i32; AXES],
}

/// The daemon as it should be: what it has said, and where the rig must stand.
struct Daemon {
    now_us: u32,
    doing: Doing,
    /// The highest number that was used.
    sent: u32,
    /// The frame that is due.
    due: (u32, [i32; AXES]),
    spent: Vec<Vec<u8>>,
    skipped: Vec<u32>,
    ended: Vec<u32>,
}

fn speeds(random: &mut Random) -> [i32; AXES] {
    let most = MAX_SPEED as usize * 1024;
    [0; AXES].map(|_| random.below(2 * most + 1) as i32 - most as i32)
}

fn setup(session: u32, watchdog_ms: u16) -> Setup {
    let ramp = Ramp {
        accel: 100_000,
        jerk: 10_000_000,
    };
    let axis = AxisSetup {
        travel: None,
        stop_plus: ramp,
        stop_minus: ramp,
    };
    Setup {
        session,
        watchdog_ms,
        axes: [axis; AXES].into_iter().collect(),
    }
}

fn frame(message: &ToRig) -> Vec<u8> {
    encode(message).expect("fits a frame").to_vec()
}

fn hello(version: u8, session: u32) -> Vec<u8> {
    frame(&ToRig::Hello { version, session })
}

/// One that would be answered, if only because the rig moves.
fn reference(session: u32, deadline_us: u32) -> Vec<u8> {
    frame(&ToRig::Reference(Reference {
        session,
        number: 1,
        deadline_us,
        axis: 0,
        position: 100,
        again: true,
    }))
}

impl Daemon {
    fn velocity(&self, session: u32, seq: u32, ahead_us: u32, velocity: &[i32]) -> Vec<u8> {
        frame(&ToRig::Velocity {
            session,
            seq,
            deadline_us: self.now_us.wrapping_add(ahead_us),
            velocity: velocity.iter().copied().collect(),
        })
    }

    /// A frame that is all right but for what is given here.
    fn but_for(&self, session: u32, ahead_us: u32, random: &mut Random) -> Vec<u8> {
        let speeds = speeds(random);
        self.velocity(session, self.sent + 1, ahead_us, &speeds)
    }

    /// A session that is not in force.
    fn foreign(&self, random: &mut Random) -> u32 {
        let session = match random.below(4) {
            0 => 0,
            1 => self.doing.session.wrapping_add(1),
            _ => random.next() as u32,
        };
        if session == self.doing.session {
            0
        } else {
            session
        }
    }

    fn misfit(&self, random: &mut Random) -> Vec<u8> {
        let good = self.but_for(self.doing.session, 100_000, random);
        let mut payload = page::payload(&good[..good.len() - 1]).expect("intact");
        match random.below(6) {
            0 => payload.push(random.next() as u8),
            1 => payload[0] = 1 + random.below(255) as u8,
            2 => payload[1] = 5 + random.below(251) as u8,
            3 => payload.truncate(1 + random.below(payload.len() - 1)),
            4 => {
                let speeds = [1024; 8];
                let axes = [0, 1, 2, 4, 8][random.below(5)];
                let session = self.doing.session;
                return self.velocity(session, self.sent + 1, 100_000, &speeds[..axes]);
            }
            _ => return frame(&ToRig::Setup(setup(self.doing.session, 121))),
        }
        page::frame(&payload)
    }
}

impl Sender for Daemon {
    fn tempting(&mut self, random: &mut Random) -> Vec<u8> {
        if random.one_in(8) {
            // A new session would stop everything.
            return hello(VERSION, random.next() as u32 | 1);
        }
        if random.one_in(8) {
            let soon = self.now_us.wrapping_add(100_000);
            return reference(self.doing.session, soon);
        }
        self.but_for(self.doing.session, 100_000, random)
    }

    fn unwanted(&mut self, kind: Kind, random: &mut Random) -> Option<Vec<u8>> {
        let session = self.doing.session;
        Some(match kind {
            Kind::Duplicate => match random.below(10) {
                0 => hello(VERSION, session),
                1 => frame(&ToRig::Setup(setup(session, 120))),
                _ if self.spent.is_empty() => return None,
                _ => random.pick(&self.spent).clone(),
            },
            Kind::Reordered => {
                let late = |seq: &&u32| **seq < self.doing.applied;
                let late: Vec<&u32> = self.skipped.iter().filter(late).collect();
                let seq = **late.get(random.below(late.len().max(1)))?;
                self.velocity(session, seq, 100_000, &speeds(random))
            }
            Kind::Outdated => {
                // Half of the clock's range is over, the other half is too far ahead to be meant.
                let from = MAX_DEADLINE_AHEAD_US + 1;
                let most = u32::MAX - from;
                let ahead = from + ((random.next() as u32 % most) >> random.below(20));
                let late = 0u32.wrapping_sub(1 + random.below(200_000) as u32);
                let ahead = if random.one_in(2) { ahead } else { late };
                match random.one_in(8) {
                    true => reference(session, self.now_us.wrapping_add(ahead)),
                    false => self.but_for(session, ahead, random),
                }
            }
            Kind::OldSession => {
                let last = self.ended.len().saturating_sub(8);
                let old = *self.ended.get(random.below(self.ended.len().max(1)))?;
                match random.below(4) {
                    0 => hello(VERSION, *random.pick(&self.ended[last..])),
                    1 => frame(&ToRig::Setup(setup(old, 120))),
                    2 => reference(old, self.now_us.wrapping_add(100_000)),
                    _ => self.but_for(old, 100_000, random),
                }
            }
            Kind::ForeignSession => match random.below(8) {
                0 => hello(VERSION, 0),
                1 => hello(2 + random.below(254) as u8, random.next() as u32),
                2 => frame(&ToRig::Setup(setup(self.foreign(random), 120))),
                3 => {
                    let soon = self.now_us.wrapping_add(100_000);
                    reference(self.foreign(random), soon)
                }
                _ => {
                    let foreign = self.foreign(random);
                    self.but_for(foreign, 100_000, random)
                }
            },
            Kind::Misfit => self.misfit(random),
            Kind::Flipped | Kind::Truncated | Kind::Spliced | Kind::Shifted | Kind::Garbage => {
                return None;
            }
        })
    }

    fn due(&mut self, random: &mut Random) -> Vec<u8> {
        // Numbers are left out where a newer frame replaced one that waited.
        let skips = random.below(3) as u32;
        self.skipped.extend(self.sent + 1..=self.sent + skips);
        self.sent += skips + 1;
        // One that is lost comes late as well.
        self.skipped.push(self.sent);
        let old = self.skipped.len().saturating_sub(KEPT);
        self.skipped.drain(..old);
        self.due = (self.sent, speeds(random));
        let (seq, velocity) = self.due;
        let frame = self.velocity(self.doing.session, seq, 100_000, &velocity);
        self.spent.push(frame.clone());
        frame
    }
}

fn config() -> Config {
    let axis = |name| AxisConfig {
        name: String::try_from(name).expect("short"),
        counts: 250,
        per_units: 9,
        unit: Unit::Deg,
        max_speed: MAX_SPEED,
        max_accel: 0,
        max_jerk: 0,
        referenced: true,
        position: 0,
        lowers: true,
    };
    Config {
        rig_id: String::try_from("hall").expect("short"),
        boot_id: 5,
        telemetry_ms: DEFAULT_TELEMETRY_MS,
        rise_ms: 30,
        axes: ["pan", "tilt", "roll"]
            .map(axis)
            .into_iter()
            .collect::<PerAxis<_>>(),
    }
}

/// The rig, and what it should be doing.
pub struct RigEnd {
    rig: Rig,
    daemon: Daemon,
    line: Line,
    items: u64,
}

impl RigEnd {
    pub fn new(seed: u64) -> RigEnd {
        let now_us = seed as u32;
        let doing = Doing {
            session: 0,
            applied: 0,
            accepted: 0,
            held: 0,
            ready: false,
            velocity: [0; AXES],
        };
        let daemon = Daemon {
            now_us,
            doing,
            sent: 0,
            due: (0, [0; AXES]),
            spent: Vec::new(),
            skipped: Vec::new(),
            ended: Vec::new(),
        };
        let mut end = RigEnd {
            rig: Rig::new(config(), Inputs::default(), now_us),
            daemon,
            line: Line::new(seed),
            items: 0,
        };
        end.begin();
        end
    }

    /// Plays until so many damaged frames have come.
    pub fn play(&mut self, damaged: u64) -> &super::tally::Tally {
        while self.line.tally.all_damaged() < damaged {
            let item = self.line.next(&mut self.daemon);
            self.items += 1;
            let good = item.kind.is_none();
            let due = good && !item.behind;
            if due {
                (self.daemon.doing.applied, self.daemon.doing.velocity) = self.daemon.due;
                self.daemon.doing.accepted += 1;
            } else if good {
                // It never arrived, so it would not be a duplicate.
                self.daemon.spent.pop();
            }
            let old = self.daemon.spent.len().saturating_sub(KEPT);
            self.daemon.spent.drain(..old);
            let cut = self.line.random.below(item.bytes.len() + 1);
            let (first, rest) = item.bytes.split_at(cut);
            let mut said = self.hear(first);
            said.extend(self.hear(rest));
            self.tick();
            self.compare(&item);
            let answered = |said: &FromRig| matches!(said, FromRig::Referenced { .. });
            let Item { kind, bytes, .. } = &item;
            assert!(
                !said.iter().any(answered),
                "a reference was looked at, {kind:?}, {bytes:02x?}: {said:?}"
            );
            self.line.tally.taken += u64::from(due);
            if self.items.is_multiple_of(SESSION_ITEMS) {
                self.begin();
            }
        }
        &self.line.tally
    }

    fn hear(&mut self, bytes: &[u8]) -> Vec<FromRig> {
        let (mut back, mut said) = (FromRigDeframer::new(), Vec::new());
        let mut out = |bytes: &[u8]| back.feed(bytes, |message| said.push(message));
        self.rig.on_bytes(bytes, self.daemon.now_us, &mut out);
        said
    }

    fn tick(&mut self) {
        self.daemon.now_us = self.daemon.now_us.wrapping_add(1_000);
        self.rig.tick(self.daemon.now_us, &mut |_| {});
    }

    /// A new session, from rest and on a quiet line.
    fn begin(&mut self) {
        // A zero alone may be all that a cut frame lacks: with a byte that promises four more it is none.
        self.hear(&[5, 0]);
        self.line.clear();
        let daemon = &mut self.daemon;
        let old = daemon.doing.session;
        if old != 0 {
            daemon.ended.push(old);
            let rest = daemon.velocity(old, daemon.sent + 1, 100_000, &[0; AXES]);
            self.hear(&rest);
            self.tick();
        }
        let told = || self.rig.telemetry(self.daemon.now_us);
        assert!(self.rig.at_rest(), "item {}: {:?}", self.items, told());
        // Never used before, as the page asks.
        let session =
            (self.line.random.next() as u32 | 1) & !0xFFFF | self.line.tally.sessions as u32;
        let setup = setup(session, 120);
        self.hear(&hello(VERSION, session));
        let said = self.hear(&frame(&ToRig::Setup(setup.clone())));
        assert_eq!(said, [FromRig::Ack { setup }]);
        self.line.tally.sessions += 1;
        let daemon = &mut self.daemon;
        daemon.doing = Doing {
            session,
            applied: 0,
            accepted: 0,
            held: 0,
            ready: true,
            velocity: [0; AXES],
        };
        daemon.sent = 0;
        daemon.spent.clear();
        daemon.skipped.clear();
    }

    fn compare(&self, item: &Item) {
        let told = self.rig.telemetry(self.daemon.now_us);
        let speed = |axis| self.rig.output(axis).expect("as many").velocity;
        let doing = Doing {
            session: told.session,
            applied: told.applied,
            accepted: told.accepted,
            held: told.held,
            ready: self.rig.is_set_up(),
            velocity: [0, 1, 2].map(speed),
        };
        let due = &self.daemon.doing;
        if doing == *due && told.faults & fault::DRIVE == 0 {
            return;
        }
        let Item { kind, bytes, .. } = item;
        let what = kind.map_or("the frame that was due".to_owned(), |kind| {
            format!("{kind:?}")
        });
        let items = self.items;
        panic!("item {items}, {what}, {bytes:02x?}:\n  does {doing:?}\nnot {due:?}");
    }
}
