//! What others may know of the pads: who is there, and what somebody should be told.

use std::path::PathBuf;
use std::sync::{Mutex, MutexGuard, PoisonError};

use stillhand_engine::input::{Control, PadBus, PadId};
use stillhand_engine::operate::life::STREAMING_BOUND;

use super::device::Bus;
use super::places::Places;
use super::trim::drift::Worn;

/// Most notices kept for whoever asks; more than this many different ones are not expected.
const MAX_NOTICES: usize = 64;

/// A pad that is plugged in, for screens.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PresentPad {
    /// Its place.
    pub pad: PadId,
    /// The unit, as `--pad` takes it.
    pub id: String,
    /// What the driver calls it.
    pub name: String,
    /// How it is connected.
    pub bus: Bus,
    /// Its node, such as `/dev/input/event7`.
    pub node: PathBuf,
    /// Whether it may drive.
    pub drives: bool,
    /// Whether it is read by a trim of its own.
    pub trimmed: bool,
    /// How its silence is judged.
    pub life: PadBus,
}

/// Something about pads that somebody should know.
#[derive(Clone, Debug, PartialEq)]
pub enum PadNotice {
    /// All places are taken; this one is not heard, not even its stop.
    NoRoom {
        /// Its ID.
        id: String,
    },
    /// A pad is plugged in but may not be opened.
    NoPermission {
        /// Its node.
        node: PathBuf,
        /// What the driver calls it.
        name: String,
    },
    /// A pad's raw reports may not be read.
    NoReports {
        /// Its ID.
        id: String,
        /// Their node.
        node: PathBuf,
    },
    /// A pad's raw reports come all the time, or no longer.
    Streams {
        /// Its ID.
        id: String,
        /// Whether they do.
        streams: bool,
    },
    /// Pads can't be listened for at all; it is tried again.
    NotListening {
        /// What the system says.
        why: String,
    },
    /// There is a trim for a pad, and it can't be used.
    BadTrim {
        /// Its ID.
        id: String,
        /// The trim.
        path: PathBuf,
        /// Why not.
        why: String,
    },
    /// Another trim of a pad is in force.
    Trimmed {
        /// Its ID.
        id: String,
    },
    /// Another trim of a pad waits until all of its controls are let go.
    TrimWaits {
        /// Its ID.
        id: String,
    },
    /// A stick creeps, or does not come back.
    Drifts {
        /// The ID of its pad.
        id: String,
        /// Which direction.
        control: Control,
        /// How.
        worn: Worn,
        /// Whether the pad has a trim.
        trimmed: bool,
    },
}

impl PadNotice {
    /// Whether somebody has to do something; others are good to know.
    pub const fn is_warning(&self) -> bool {
        !matches!(
            self,
            PadNotice::NoReports { .. } | PadNotice::Streams { .. }
        )
    }
}

impl std::fmt::Display for PadNotice {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            PadNotice::NoRoom { id } => write!(
                f,
                "pad {id} is one too many: it is not heard, not even its stop; unplug another"
            ),
            PadNotice::NoPermission { node, name } => write!(
                f,
                "pad {name} is plugged in, but {} may not be opened; `stillhand pads` says how to \
                 mend that",
                node.display()
            ),
            PadNotice::NoReports { id, node } => write!(
                f,
                "the raw reports of pad {id} may not be read ({}): its silence is noticed after seconds \
                 instead of {} s. The udev rule that comes with stillhand mends that: install it and plug \
                 the pad in again",
                node.display(),
                STREAMING_BOUND.secs()
            ),
            PadNotice::Streams { id, streams: true } => write!(
                f,
                "pad {id} reports all the time: silent for {} s while an axis moves, it stops the rig",
                STREAMING_BOUND.secs()
            ),
            PadNotice::Streams { id, streams: false } => write!(
                f,
                "pad {id} no longer reports all the time: its silence is judged by how it is connected"
            ),
            PadNotice::NotListening { why } => write!(f, "can't listen for pads: {why}"),
            PadNotice::BadTrim { id, path, why } => write!(
                f,
                "the trim of pad {id} is not used, it is read as untrimmed: {}: {why}\nmend it, or \
                 measure anew: `stillhand trim --pad {id}`",
                path.display()
            ),
            PadNotice::Trimmed { id } => write!(f, "pad {id} is read by its changed trim"),
            PadNotice::TrimWaits { id } => write!(
                f,
                "the trim of pad {id} has changed: it is taken over when all sticks and triggers are let \
                 go, or it is plugged in anew"
            ),
            PadNotice::Drifts {
                id,
                control,
                worn,
                trimmed,
            } => {
                let (name, again) = (control.name(), if *trimmed { " again" } else { "" });
                match worn {
                    Worn::Creeps(by) => write!(
                        f,
                        "{name} of pad {id} creeps: it now rests {:+.0} % from where it should. It moves \
                         nothing by that; measure it{again}: `stillhand trim`",
                        100.0 * by
                    ),
                    Worn::Stands(at) => write!(
                        f,
                        "{name} of pad {id} has stood at {:+.0} % for 20 s: if no thumb holds it there, it \
                         is worn and does not come back; measure it{again}: `stillhand trim`",
                        100.0 * at
                    ),
                }
            }
        }
    }
}

#[derive(Debug, Default)]
struct Pinned {
    present: Vec<PresentPad>,
    notices: Vec<PadNotice>,
}

/// Shared by the reader's thread and whoever shows its state; never by the control loop.
#[derive(Debug, Default)]
pub(super) struct Board(Mutex<Pinned>);

impl Board {
    pub(super) fn publish(&self, places: &Places) {
        self.pinned().present = places
            .iter()
            .map(|(pad, place)| PresentPad {
                pad,
                id: place.device.id.clone(),
                name: place.device.name.clone(),
                bus: place.device.bus,
                node: place.device.node.clone(),
                drives: place.drives,
                trimmed: place.is_trimmed(),
                life: place.life,
            })
            .collect();
    }

    pub(super) fn notice(&self, notice: PadNotice) {
        let mut pinned = self.pinned();
        if pinned.notices.len() < MAX_NOTICES && !pinned.notices.contains(&notice) {
            pinned.notices.push(notice);
        }
    }

    pub(super) fn present(&self) -> Vec<PresentPad> {
        self.pinned().present.clone()
    }

    pub(super) fn take_notices(&self) -> Vec<PadNotice> {
        std::mem::take(&mut self.pinned().notices)
    }

    fn pinned(&self) -> MutexGuard<'_, Pinned> {
        // A panic ends the process, so nobody can have left it half written.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
