//! What is asked of the thread that reads files: another operator, by name or the next one, and other ends of
//! a travel.
//!
//! Whoever asks never waits for it: a named wish is answered through a slot of its own, and a full mailbox
//! refuses.

use super::watch::Caller;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use tokio::sync::oneshot;

/// Wishes that may wait: each is read within a few milliseconds, and more at once is no person.
const MOST: usize = 8;

/// The name of the operator that is on its way to the loop, or what was done to a file; or why not, in words.
pub type Reply = Result<String, String>;

/// What can be asked for.
#[derive(Debug)]
pub enum Wish {
    /// The operator of this name.
    Named(String, oneshot::Sender<Reply>),
    /// Who is at hand, as a list in words.
    List(oneshot::Sender<Reply>),
    /// The next one, by a press of a pad.
    Next,
    /// The operator of this name, whose pad took control.
    ByPad(String),
    /// Other ends of an axis's travel, in the rig file.
    Travel(NewEnds, oneshot::Sender<Reply>),
    /// The same, by a press of a pad.
    TravelByPad(NewEnds),
}

/// Other ends of a travel, as they were asked for.
#[derive(Clone, Debug, PartialEq)]
pub struct NewEnds {
    /// The axis's name.
    pub axis: String,
    /// `low=here`, `high=30deg` and the like.
    pub ends: Vec<String>,
    /// Where it is, at rest; or why nobody can say.
    pub here: Result<f64, String>,
}

/// The end that asks.
#[derive(Clone, Debug)]
pub struct Wishes {
    queue: SyncSender<Wish>,
    caller: Caller,
}

/// A mailbox for wishes; the first part becomes [`Wishes`] once there is somebody to call.
pub fn mailbox() -> (SyncSender<Wish>, Receiver<Wish>) {
    sync_channel(MOST)
}

impl Wishes {
    /// Wishes go into `queue`, and `caller` is called for each.
    pub fn new(queue: SyncSender<Wish>, caller: Caller) -> Wishes {
        Wishes { queue, caller }
    }

    /// Asks; whether there was room.
    pub fn ask(&self, wish: Wish) -> bool {
        let taken = self.queue.try_send(wish).is_ok();
        if taken {
            self.caller.call();
        }
        taken
    }
}
