//! A rig that keeps another watchdog than it was told, and says that it keeps that one.

use stillhand_rig::Rig;
use stillhand_wire::messages::FromRig;
use stillhand_wire::{FromRigDeframer, RESYNC, ToRig, ToRigDeframer, encode};

/// Stands between the line and the rig's end.
#[derive(Debug)]
pub(super) struct Lie {
    watchdog_ms: u16,
    /// What it was told in the last setup.
    told_ms: u16,
    to_rig: ToRigDeframer,
}

impl Lie {
    pub(super) fn new(watchdog_ms: u16) -> Lie {
        Lie {
            watchdog_ms,
            told_ms: watchdog_ms,
            to_rig: ToRigDeframer::new(),
        }
    }

    /// Hands the rig what the line brought, with its own watchdog in it, and the line the rig's answers, without.
    pub(super) fn between(
        &mut self,
        rig: &mut Rig,
        bytes: &[u8],
        micros: u32,
        out: &mut impl FnMut(&[u8]),
    ) {
        let Lie {
            watchdog_ms,
            told_ms,
            to_rig,
        } = self;
        to_rig.feed::<ToRig>(bytes, |mut message| {
            if let ToRig::Setup(setup) = &mut message {
                *told_ms = std::mem::replace(&mut setup.watchdog_ms, *watchdog_ms);
            }
            // It came in a frame, so it fits one.
            let Ok(frame) = encode(&message) else { return };
            rig.on_bytes(&frame, micros, &mut |answer: &[u8]| {
                out(&honest(answer, *told_ms).unwrap_or_else(|| answer.to_vec()));
            });
        });
    }
}

/// An echo of a setup, with the watchdog as it was told; `None` for any other answer.
fn honest(answer: &[u8], told_ms: u16) -> Option<Vec<u8>> {
    let mut echo = None;
    FromRigDeframer::new().feed::<FromRig>(answer, |message| {
        if let FromRig::Ack { mut setup } = message {
            setup.watchdog_ms = told_ms;
            echo = encode(&FromRig::Ack { setup }).ok();
        }
    });
    let mut line = RESYNC.to_vec();
    line.extend_from_slice(&echo?);
    Some(line)
}
