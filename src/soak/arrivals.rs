//! What reaches the rig over a line that is not to be trusted, as the checker judges it.

use stillhand_laws::{Arrival, Handling, Nanos};
use stillhand_wire::{ToRig, ToRigDeframer};

/// Copies a hostile line adds behind a frame, each with what was done to it: one with a flipped bit,
/// one cut short, one repeated. Which bit and where depends on the frame alone, so that a world is
/// the same each time it runs.
pub fn copies(bytes: &[u8]) -> Vec<(Vec<u8>, Handling)> {
    let mix = bytes.iter().fold(7_usize, |mix, byte| {
        mix.wrapping_mul(31) + usize::from(*byte)
    });
    let mut flipped = bytes.to_vec();
    if let Some(byte) = flipped.get_mut(mix % bytes.len().max(1)) {
        *byte ^= 1 << (mix % 8);
    }
    let mut cut = bytes[..mix % bytes.len().max(1)].to_vec();
    cut.push(0);
    vec![
        (flipped, Handling::Damaged),
        (cut, Handling::Truncated),
        (bytes.to_vec(), Handling::Duplicate),
    ]
}

/// The checker's view of a velocity frame at the rig's end. What is no longer one is told with
/// numbers of its own, which the checker does not look at where the line is known to have done wrong.
pub fn arrival(bytes: &[u8], handling: Handling, now_us: u32, taken: bool) -> Option<Arrival> {
    let mut found = None;
    ToRigDeframer::new().feed(bytes, |message: ToRig| found = Some(message));
    let (session, seq, deadline_us) = match (found, handling) {
        (
            Some(ToRig::Velocity {
                session,
                seq,
                deadline_us,
                ..
            }),
            _,
        ) => (session, seq, deadline_us),
        (
            Some(
                ToRig::Hello { .. } | ToRig::Setup(_) | ToRig::Reference(_) | ToRig::Standstill(_),
            )
            | None,
            handling,
        ) => match handling {
            Handling::Valid => return None,
            _ => (0, 0, now_us),
        },
    };
    Some(Arrival {
        handling,
        session,
        seq,
        // The rig's clock wraps; what is left of the time does not.
        deadline: micros(
            i64::from(now_us) + i64::from(deadline_us.wrapping_sub(now_us).cast_signed()),
        ),
        rig_clock: micros(i64::from(now_us)),
        setpoint_changed: taken,
        watchdog_renewed: taken,
    })
}

fn micros(micros: i64) -> Nanos {
    Nanos(micros * 1_000)
}
