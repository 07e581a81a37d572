//! The way from the pad reader to the control loop: a ring, a backlog behind it, a stop slot.

use std::sync::Arc;
use std::sync::atomic::{AtomicU8, AtomicU64, Ordering};

use rtrb::{Consumer, Producer, RingBuffer};
use stillhand_engine::MAX_PADS;
use stillhand_engine::input::{Button, PadEvent, PadId};

use super::PadInput;
use super::backlog::Backlog;

/// Inputs the ring holds (32 bytes each). Two pads that report 1000 times a second with four stick
/// values a report fill it in 0.25 s, the longest stall of the control loop that was measured
/// without real-time scheduling; what comes after that waits in the backlog.
pub const CAPACITY: usize = 2048;

// One bit of the stop slot and of the signs of life for each pad.
const _: () = assert!(MAX_PADS <= u8::BITS as usize);

#[derive(Debug)]
struct Shared {
    /// Pads whose raw reports came since the loop last asked, one bit each.
    alive: AtomicU8,
    /// Pads whose stop button went down since the loop last asked, one bit each.
    stops: AtomicU8,
    /// The button that stops, by its place in [`Button::ALL`].
    stop_button: AtomicU8,
    dropped: AtomicU64,
}

/// The reader's end.
#[derive(Debug)]
pub struct Outbox {
    ring: Producer<PadInput>,
    backlog: Backlog,
    shared: Arc<Shared>,
}

/// What says that pads live, beside the ring: whoever reads their raw reports.
#[derive(Clone, Debug)]
pub struct Signs(Arc<Shared>);

impl Signs {
    /// This pad lives.
    pub fn alive(&self, pad: PadId) {
        if usize::from(pad.0) < MAX_PADS {
            self.0.alive.fetch_or(1 << pad.0, Ordering::Relaxed);
        }
    }
}

/// The control loop's end. Nothing here waits or allocates.
#[derive(Debug)]
pub struct Inbox {
    ring: Consumer<PadInput>,
    shared: Arc<Shared>,
}

/// The two ends of a mailbox for `capacity` inputs; [`CAPACITY`] outside of tests. The stop button
/// is `east` until [`Inbox::set_stop_button`] says otherwise.
pub fn mailbox(capacity: usize) -> (Outbox, Inbox) {
    let (producer, consumer) = RingBuffer::new(capacity);
    let shared = Arc::new(Shared {
        alive: AtomicU8::new(0),
        stops: AtomicU8::new(0),
        stop_button: AtomicU8::new(Button::East as u8),
        dropped: AtomicU64::new(0),
    });
    let outbox = Outbox {
        ring: producer,
        backlog: Backlog::new(),
        shared: Arc::clone(&shared),
    };
    let inbox = Inbox {
        ring: consumer,
        shared,
    };
    (outbox, inbox)
}

impl Outbox {
    /// Sends one input. Never waits: what the ring can't take is kept by the rules of the backlog
    /// (last stick values, edges and unplugs survive) until [`Outbox::flush`].
    pub fn post(&mut self, input: PadInput) {
        if let PadEvent::Pressed(button, true) = input.event
            && button as u8 == self.shared.stop_button.load(Ordering::Relaxed)
            && usize::from(input.pad.0) < MAX_PADS
        {
            self.shared
                .stops
                .fetch_or(1 << input.pad.0, Ordering::Release);
        }
        self.flush();
        if !self.backlog.is_empty() || self.ring.push(input).is_err() {
            self.backlog.add(input);
            self.shared
                .dropped
                .store(self.backlog.dropped(), Ordering::Relaxed);
        }
    }

    /// Moves as much of the backlog into the ring as fits.
    pub fn flush(&mut self) {
        while let Some(input) = self.backlog.oldest() {
            if self.ring.push(input).is_err() {
                return;
            }
            self.backlog.drop_oldest();
        }
    }

    /// Whether something waits that did not fit.
    pub fn is_behind(&self) -> bool {
        !self.backlog.is_empty()
    }

    /// What says that pads live.
    pub fn signs(&self) -> Signs {
        Signs(Arc::clone(&self.shared))
    }

    /// Whether the other end is gone.
    pub fn is_abandoned(&self) -> bool {
        self.ring.is_abandoned()
    }
}

impl Inbox {
    /// Which pad asked for a stop since the last call; the lowest if several did. Ask this before
    /// [`Inbox::pop`]: it overtakes everything that waits. The press itself also comes through
    /// `pop`, in its place among the others.
    pub fn take_stop(&mut self) -> Option<PadId> {
        let stops = self.shared.stops.swap(0, Ordering::Acquire);
        (stops != 0).then(|| PadId(stops.trailing_zeros() as u8))
    }

    /// The pads whose raw reports came since the last call.
    pub fn take_alive(&mut self) -> impl Iterator<Item = PadId> {
        let alive = self.shared.alive.swap(0, Ordering::Relaxed);
        (0..MAX_PADS as u8)
            .filter(move |pad| alive >> pad & 1 == 1)
            .map(PadId)
    }

    /// The next input, oldest first.
    pub fn pop(&mut self) -> Option<PadInput> {
        self.ring.pop().ok()
    }

    /// How many inputs were replaced by newer ones or dropped because the loop was late.
    pub fn dropped(&self) -> u64 {
        self.shared.dropped.load(Ordering::Relaxed)
    }

    /// The button that stops.
    pub fn stop_button(&self) -> Button {
        let place = self.shared.stop_button.load(Ordering::Relaxed);
        let button = Button::ALL.get(usize::from(place)).copied();
        button.unwrap_or(Button::East)
    }

    /// Says which button stops, when an operator's file names another one.
    pub fn set_stop_button(&mut self, button: Button) {
        self.shared
            .stop_button
            .store(button as u8, Ordering::Relaxed);
    }
}

#[cfg(test)]
mod tests;
