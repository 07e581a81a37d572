//! The two ends of the line: whatever bytes come, none of them panics, and no end does what it may not.

use super::page;
use stillhand::link::session::{Session, Standing};
use stillhand::profile::{builtin, load_rig};
use stillhand_engine::MAX_AXES;
use stillhand_engine::output::Frame;
use stillhand_engine::time::{Span, Time};
use stillhand_rig::{AxisConfig, Config, DEFAULT_TELEMETRY_MS, Inputs, Rig};
use stillhand_wire::heapless::String;
use stillhand_wire::messages::{MAX_COUNTS_PER_S, Unit, VELOCITY_SCALE};

/// What comes next on a line between a session and a rig.
#[derive(Clone, Debug)]
pub enum Step {
    /// Bytes to both ends.
    Raw(Vec<u8>),
    /// A message to the rig, its CRC right; the direction byte goes before it.
    ToRig(Vec<u8>),
    /// A message to the daemon, its CRC right.
    FromRig(Vec<u8>),
    /// So many times 4 ms pass, and what both ends say reaches the other.
    Pass(u8),
}

impl Step {
    /// Steps out of any bytes: one that says what it is, one that says how long, and so many.
    pub fn all(mut bytes: &[u8]) -> Vec<Step> {
        let mut steps = Vec::new();
        while let [what, length, rest @ ..] = bytes {
            let (own, more) = rest.split_at(usize::from(*length).min(rest.len()));
            match what % 4 {
                0 => steps.push(Step::Raw(own.to_vec())),
                1 => steps.push(Step::ToRig(own.to_vec())),
                2 => steps.push(Step::FromRig(own.to_vec())),
                _ => steps.push(Step::Pass(*length)),
            }
            bytes = if what % 4 == 3 { rest } else { more };
        }
        steps
    }
}

/// The highest speed of an axis of the rig here, counts/s.
const MOST: u32 = 5_000;

/// What the rig of this file says of itself, but that it is slower.
pub fn config(facts: &stillhand_engine::rig::Rig) -> Config {
    let axis = |axis: &stillhand_engine::rig::Axis| AxisConfig {
        name: String::try_from(axis.name.as_str()).expect("a short name"),
        counts: (axis.counts_per_unit * 1e6).round() as u32,
        per_units: 1_000_000,
        unit: match axis.unit {
            stillhand_engine::units::Unit::Deg => Unit::Deg,
            stillhand_engine::units::Unit::Mm => Unit::Mm,
        },
        max_speed: MOST,
        max_accel: 0,
        max_jerk: 0,
        referenced: true,
        position: 0,
        lowers: false,
    };
    Config {
        rig_id: String::try_from(facts.id.as_str()).expect("a short id"),
        boot_id: 1,
        telemetry_ms: DEFAULT_TELEMETRY_MS,
        rise_ms: 30,
        axes: facts.axes.iter().map(axis).collect(),
    }
}

/// Plays the steps to a session and a rig that have met, and holds both to what they may do. Returns whether
/// they meet again in the ten seconds after.
pub fn hold(steps: &[Step]) -> bool {
    let facts = load_rig(&builtin::BENCH_RIG.source())
        .expect("built in")
        .rig;
    let mut now = Time(1_000_000_000);
    let mut session = Session::new(&facts, 7);
    let mut rig = Rig::new(config(&facts), Inputs::default(), clock(now));
    session.opened(now);
    let mut seq = 0;
    pass(&mut session, &mut rig, &mut now, &mut seq, (20, 4));
    assert_eq!(*session.standing(), Standing::Ready, "an undamaged start");
    for step in steps {
        let mut back = Vec::new();
        match step {
            Step::Raw(bytes) => {
                session.on_bytes(now, bytes);
                rig.on_bytes(bytes, clock(now), &mut |said| back.extend_from_slice(said));
            }
            Step::ToRig(message) => {
                let bytes = page::frame(&[&[0][..], message].concat());
                rig.on_bytes(&bytes, clock(now), &mut |said| back.extend_from_slice(said));
            }
            Step::FromRig(message) => {
                session.on_bytes(now, &page::frame(&[&[1][..], message].concat()));
            }
            Step::Pass(times) => pass(&mut session, &mut rig, &mut now, &mut seq, (*times, 4)),
        }
        session.on_bytes(now, &back);
        may(&session, &rig);
    }
    // Left alone they meet again, as soon as the rig has come to rest: under a stop set that somebody else
    // agreed with it, that may take it hours.
    for _ in 0..2 {
        pass(&mut session, &mut rig, &mut now, &mut seq, (250, 20));
    }
    let met = *session.standing() == Standing::Ready;
    let standing = session.standing();
    assert!(met || !rig.at_rest(), "{standing:?} {steps:?}");
    met
}

fn clock(now: Time) -> u32 {
    (now.0 / 1_000) as u32
}

fn pass(session: &mut Session, rig: &mut Rig, now: &mut Time, seq: &mut u32, how: (u8, u64)) {
    let (times, ms) = how;
    for _ in 0..times {
        *now = *now + Span::from_millis(ms);
        session.tick(*now);
        let mut line = Vec::new();
        while let Some(frame) = session.next_write() {
            line.extend_from_slice(&frame);
        }
        let frame = Frame {
            seq: seq.wrapping_add(1).max(1),
            velocity: [0; MAX_AXES],
        };
        if let Some(bytes) = session.velocity(*now, &frame) {
            line.extend_from_slice(&bytes);
            *seq = frame.seq;
            session.left(frame.seq);
        }
        let mut back = Vec::new();
        rig.on_bytes(&line, clock(*now), &mut |said| back.extend_from_slice(said));
        rig.tick(clock(*now), &mut |said| back.extend_from_slice(said));
        session.on_bytes(*now, &back);
        while let Some(event) = session.next_event() {
            if matches!(event, stillhand_engine::input::LinkEvent::Ready(_)) {
                *seq = 0;
            }
        }
        may(session, rig);
    }
}

/// What holds of both after anything.
fn may(session: &Session, rig: &Rig) {
    if *session.standing() == Standing::Ready {
        assert!(session.report().is_some() && session.number() != 0);
    }
    for output in (0..).map_while(|axis| rig.output(axis)) {
        let most = u64::from(MOST.min(MAX_COUNTS_PER_S)) * VELOCITY_SCALE as u64;
        assert!(u64::from(output.velocity.unsigned_abs()) <= most);
        assert!(output.velocity == 0 || rig.is_set_up() || !rig.at_rest());
    }
}
