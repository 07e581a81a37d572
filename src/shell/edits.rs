//! Changed files on their way to the loop: a mailbox of one of each kind, the newest replaces an older one.
//!
//! Everything is allocated before it gets here, and what is out of use goes back through a ring, so that
//! the loop neither allocates nor frees memory.

use super::pad::Inbox;
use crate::link::session::Session;
use rtrb::{Consumer, Producer, RingBuffer};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use stillhand_engine::Engine;
use stillhand_engine::operator::Operator;
use stillhand_engine::output::Notice;
use stillhand_engine::rig::Rig;
use stillhand_engine::time::Time;

/// Boxes out of use that wait to be freed: two turns' worth of the most there can be ([`ROOM`]).
const RETIRED: usize = 18;
/// Boxes one edit of everything can still retire: of a profile and of a rig file the one in force, the
/// one that waits and the new one, and as many of the session's copies of the rig file.
const ROOM: usize = 9;

/// A changed rig file: one copy for the engine, one for the session.
#[derive(Debug)]
struct RigEdit {
    engine: Box<Rig>,
    session: Box<Rig>,
}

#[derive(Debug, Default)]
struct Slots {
    operator: Option<(u64, Box<Operator>)>,
    rig: Option<(u64, RigEdit)>,
}

#[derive(Debug, Default)]
struct Shared {
    slots: Mutex<Slots>,
    /// Something is in the slots.
    news: AtomicBool,
    operator: AtomicU64,
    rig: AtomicU64,
}

/// A box that is out of use. It is only ever freed.
#[derive(Debug)]
enum Retired {
    Operator { _freed: Box<Operator> },
    Rig { _freed: Box<Rig> },
}

/// The end that offers changed files.
#[derive(Debug)]
pub struct Offers {
    shared: Arc<Shared>,
    retired: Consumer<Retired>,
    count: u64,
}

/// The loop's end.
#[derive(Debug)]
pub struct Edits {
    shared: Arc<Shared>,
    retired: Producer<Retired>,
    /// The number of the profile and the rig file given to the engine last.
    given: (u64, u64),
    /// The session's copy of it, until the engine has taken it over.
    rig: Option<Box<Rig>>,
}

/// Tells which of the changed files are in force.
#[derive(Clone, Debug)]
pub struct InForce(Arc<Shared>);

impl InForce {
    /// The number of the profile in force; 0 is the one of the start.
    pub fn operator(&self) -> u64 {
        self.0.operator.load(Ordering::Acquire)
    }

    /// The number of the rig file in force; 0 is the one of the start.
    pub fn rig(&self) -> u64 {
        self.0.rig.load(Ordering::Acquire)
    }
}

/// The two ends, and what tells how far the loop is.
pub fn edits() -> (Offers, Edits, InForce) {
    let shared = Arc::new(Shared::default());
    let (producer, consumer) = RingBuffer::new(RETIRED);
    let offers = Offers {
        shared: Arc::clone(&shared),
        retired: consumer,
        count: 0,
    };
    let edits = Edits {
        shared: Arc::clone(&shared),
        retired: producer,
        given: (0, 0),
        rig: None,
    };
    (offers, edits, InForce(shared))
}

impl Offers {
    /// Frees what the loop has put away.
    pub fn free(&mut self) {
        while self.retired.pop().is_ok() {}
    }

    /// The number the next offer is known by.
    pub fn next(&self) -> u64 {
        self.count + 1
    }

    /// Offers a profile and a rig file, either or both, to be taken in one turn. The number they are
    /// known by, from 1 on.
    pub fn offer(&mut self, operator: Option<Operator>, rig: Option<&Rig>) -> u64 {
        self.free();
        self.count += 1;
        let operator = operator.map(|operator| (self.count, Box::new(operator)));
        let rig = rig.map(|rig| {
            let edit = RigEdit {
                engine: Box::new(rig.clone()),
                session: Box::new(rig.clone()),
            };
            (self.count, edit)
        });
        // What is replaced is freed behind the lock, so that the loop finds it free.
        let mut replaced = Slots::default();
        let mut slots = self
            .shared
            .slots
            .lock()
            .unwrap_or_else(PoisonError::into_inner);
        if operator.is_some() {
            replaced.operator = std::mem::replace(&mut slots.operator, operator);
        }
        if rig.is_some() {
            replaced.rig = std::mem::replace(&mut slots.rig, rig);
        }
        drop(slots);
        self.shared.news.store(true, Ordering::Release);
        self.count
    }
}

/// What a turn gives the engine.
pub type Offered = (Option<Box<Operator>>, Option<(u8, Box<Rig>)>);

impl Edits {
    /// Takes what is offered. Waits for nobody: if someone is just offering, or what is out of use was
    /// not freed yet, it is taken in a later turn.
    pub fn take(&mut self) -> Offered {
        if !self.shared.news.load(Ordering::Acquire) || self.retired.slots() < ROOM {
            return (None, None);
        }
        let Ok(mut slots) = self.shared.slots.try_lock() else {
            return (None, None);
        };
        self.shared.news.store(false, Ordering::Release);
        let (operator, rig) = (slots.operator.take(), slots.rig.take());
        drop(slots);
        let operator = operator.map(|(number, operator)| {
            self.given.0 = number;
            operator
        });
        let rig = rig.map(|(number, edit)| {
            self.given.1 = number;
            if let Some(replaced) = self.rig.replace(edit.session) {
                self.retire(Retired::Rig { _freed: replaced });
            }
            (0, edit.engine)
        });
        (operator, rig)
    }

    /// After a turn: has everybody else go by what the engine took over. Whether that was another rig file.
    pub fn follow(
        &mut self,
        now: Time,
        engine: &mut Engine,
        session: &mut Session,
        inbox: &mut Inbox,
    ) -> bool {
        let mut rig_changed = false;
        for notice in engine.outputs().notices.iter() {
            match notice {
                Notice::ProfileApplied => {
                    inbox.set_stop_button(engine.operator().bindings.stop());
                    self.shared.operator.store(self.given.0, Ordering::Release);
                }
                Notice::RigApplied(_) => {
                    rig_changed = true;
                    self.shared.rig.store(self.given.1, Ordering::Release);
                    if let Some(mut rig) = self.rig.take() {
                        session.adopt(now, &mut rig);
                        self.retire(Retired::Rig { _freed: rig });
                    }
                }
                _ => {}
            }
        }
        while let Some(freed) = engine.retired() {
            self.retire(Retired::Operator { _freed: freed });
        }
        while let Some(freed) = engine.retired_rig() {
            self.retire(Retired::Rig { _freed: freed });
        }
        rig_changed
    }

    fn retire(&mut self, retired: Retired) {
        // There is room for all an edit can retire, or it would not have been taken.
        let _ = self.retired.push(retired);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile::{builtin, load_operator, load_rig};

    fn files() -> (Operator, Rig) {
        let rig = load_rig(&builtin::BENCH_RIG.source()).expect("shipped").rig;
        let file = load_operator(&builtin::TALK.source()).expect("shipped");
        let operator = file.resolve(std::slice::from_ref(&rig)).expect("fits");
        (operator, rig)
    }

    #[test]
    fn the_newest_replaces_an_older_one_and_each_is_taken_once() {
        let (talk, rig) = files();
        let (mut offers, mut edits, in_force) = edits();
        assert_eq!(edits.take(), (None, None));
        for name in ["one", "two", "three"] {
            let named = Operator {
                name: name.to_owned(),
                ..talk.clone()
            };
            offers.offer(Some(named), None);
        }
        offers.offer(None, Some(&rig));
        let (operator, taken) = edits.take();
        assert_eq!(operator.expect("offered").name, "three");
        assert_eq!(*taken.expect("offered").1, rig);
        assert_eq!(edits.take(), (None, None));
        assert_eq!(
            (in_force.operator(), in_force.rig()),
            (0, 0),
            "given is not in force"
        );
    }

    #[test]
    fn nothing_is_taken_while_what_is_out_of_use_was_not_freed() {
        let (talk, rig) = files();
        let (mut offers, mut edits, _) = edits();
        for _ in 0..RETIRED - ROOM + 1 {
            edits.retire(Retired::Rig {
                _freed: Box::new(rig.clone()),
            });
        }
        // Offered without the ring being emptied first, as when it fills up in between.
        offers.shared.slots.lock().expect("sound").operator = Some((1, Box::new(talk)));
        offers.shared.news.store(true, Ordering::Release);
        assert_eq!(edits.take(), (None, None));
        offers.free();
        assert!(edits.take().0.is_some());
    }
}
