//! What waits while the ring is full: bounded by what it keeps, not by what it throws away.
//!
//! - A waiting stick value is replaced by a newer one of the same control: the last one survives.
//! - Presses and releases survive; of one button at most [`EDGES`] wait, a further one removes a
//!   release and press in the middle, so that the first press and the last state survive.
//! - An unplug survives. A pad that comes and goes again while its first unplug still waits leaves
//!   that first unplug only.
//! - Of the buses a pad's silence is judged by, the last one survives.
//! - A sign of life is dropped when anything of the same pad waits: that says as much.

use std::collections::VecDeque;

use stillhand_engine::MAX_PADS;
use stillhand_engine::input::{Button, Control, PadEvent, PadId};

use super::PadInput;

/// Waiting presses and releases of one button of one pad between two unplugs.
pub(super) const EDGES: usize = 4;

/// The most that can wait: per pad two lives (before and after an unplug) of every button's edges,
/// every control, a bus, a sign of life, and the plug and unplug themselves.
pub(super) const MOST: usize =
    MAX_PADS * 2 * (Button::ALL.len() * EDGES + Control::ALL.len() + 1 + 1 + 1);

/// The waiting inputs, oldest first.
#[derive(Debug)]
pub(super) struct Backlog {
    waiting: VecDeque<PadInput>,
    dropped: u64,
}

impl Backlog {
    pub(super) fn new() -> Backlog {
        Backlog {
            waiting: VecDeque::with_capacity(MOST),
            dropped: 0,
        }
    }

    pub(super) fn is_empty(&self) -> bool {
        self.waiting.is_empty()
    }

    /// How many inputs were replaced or dropped so far.
    pub(super) fn dropped(&self) -> u64 {
        self.dropped
    }

    pub(super) fn oldest(&self) -> Option<PadInput> {
        self.waiting.front().copied()
    }

    pub(super) fn drop_oldest(&mut self) {
        self.waiting.pop_front();
    }

    /// Puts one input behind the others, by the rules above.
    pub(super) fn add(&mut self, input: PadInput) {
        let pad = input.pad;
        match input.event {
            PadEvent::Moved(control, _) => {
                self.remove(|w| {
                    w.pad == pad && matches!(w.event, PadEvent::Moved(c, _) if c == control)
                });
                self.waiting.push_back(input);
            }
            PadEvent::Pressed(button, _) => {
                self.waiting.push_back(input);
                self.thin_edges(pad, button);
            }
            PadEvent::Plugged { .. } => self.waiting.push_back(input),
            PadEvent::Unplugged => self.add_unplug(input),
            PadEvent::Bus(_) => {
                self.remove(|w| w.pad == pad && matches!(w.event, PadEvent::Bus(_)));
                self.waiting.push_back(input);
            }
            PadEvent::Alive => {
                if self.waiting.iter().any(|w| w.pad == pad) {
                    self.dropped += 1;
                } else {
                    self.waiting.push_back(input);
                }
            }
        }
    }

    fn add_unplug(&mut self, input: PadInput) {
        let pad = input.pad;
        let first = self
            .waiting
            .iter()
            .position(|w| w.pad == pad && w.event == PadEvent::Unplugged);
        match first {
            Some(first) => {
                let mut index = 0;
                self.remove(|w| {
                    index += 1;
                    w.pad == pad && index - 1 > first
                });
                self.dropped += 1;
            }
            None => {
                // Where its sticks were matters no more; what was pressed may.
                self.remove(|w| {
                    let last = matches!(
                        w.event,
                        PadEvent::Moved(..) | PadEvent::Alive | PadEvent::Bus(_)
                    );
                    w.pad == pad && last
                });
                self.waiting.push_back(input);
            }
        }
    }

    /// Removes the middle of a row of more than [`EDGES`] edges of one button.
    fn thin_edges(&mut self, pad: PadId, button: Button) {
        let mut row = [0usize; EDGES + 1];
        let mut count = 0;
        for (index, w) in self.waiting.iter().enumerate() {
            if w.pad != pad {
                continue;
            }
            match w.event {
                PadEvent::Unplugged | PadEvent::Plugged { .. } => count = 0,
                PadEvent::Pressed(b, _) if b == button && count <= EDGES => {
                    row[count] = index;
                    count += 1;
                }
                _ => {}
            }
        }
        if count > EDGES {
            self.waiting.remove(row[2]);
            self.waiting.remove(row[1]);
            self.dropped += 2;
        }
    }

    fn remove(&mut self, mut which: impl FnMut(&PadInput) -> bool) {
        let before = self.waiting.len();
        self.waiting.retain(|w| !which(w));
        self.dropped += (before - self.waiting.len()) as u64;
    }
}
