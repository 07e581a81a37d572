//! What is on its way into the port: one frame at most, so that nothing old is ever queued.

use super::port::Moved;
use stillhand_engine::time::{Span, Time};
use stillhand_wire::frame::FrameBytes;

/// What became of a frame offered to the writer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sent {
    /// It is in the port.
    Whole,
    /// It is not, or not wholly. A newer one replaces it unless its first byte has left.
    Waits,
    /// The port is gone.
    Gone,
}

/// The frame on its way.
#[derive(Debug, Default)]
pub struct Writer {
    frame: FrameBytes,
    done: usize,
    /// The velocity frame's number, if it is one.
    seq: Option<u32>,
    waits_since: Option<Time>,
}

impl Writer {
    /// Forgets everything: the port was closed.
    pub fn reset(&mut self) {
        *self = Writer::default();
    }

    /// For how long bytes have been waiting.
    pub fn waiting(&self, now: Time) -> Span {
        self.waits_since
            .map_or(Span::ZERO, |since| now.since(since))
    }

    /// Whether a frame has left in part: it must be completed before another begins.
    fn in_part(&self) -> bool {
        self.done > 0 && self.done < self.frame.len()
    }

    /// Tries to get the waiting frame out. Returns the number of a velocity frame that left late.
    pub fn flush(
        &mut self,
        now: Time,
        write: &mut impl FnMut(&[u8]) -> Moved,
    ) -> (Sent, Option<u32>) {
        if self.done == self.frame.len() {
            return (Sent::Whole, None);
        }
        let sent = self.push(now, write);
        let late = if sent == Sent::Whole {
            self.seq.take()
        } else {
            None
        };
        (sent, late)
    }

    /// Offers a frame, with its number if it carries velocities. One write call.
    pub fn offer(
        &mut self,
        now: Time,
        frame: FrameBytes,
        seq: Option<u32>,
        write: &mut impl FnMut(&[u8]) -> Moved,
    ) -> Sent {
        if self.in_part() {
            return Sent::Waits;
        }
        self.frame = frame;
        self.done = 0;
        self.seq = seq;
        self.push(now, write)
    }

    fn push(&mut self, now: Time, write: &mut impl FnMut(&[u8]) -> Moved) -> Sent {
        match write(&self.frame[self.done..]) {
            Moved::Bytes(count) => self.done = (self.done + count).min(self.frame.len()),
            Moved::None => {}
            Moved::Gone => return Sent::Gone,
        }
        if self.done == self.frame.len() {
            self.waits_since = None;
            return Sent::Whole;
        }
        self.waits_since.get_or_insert(now);
        Sent::Waits
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn frame(byte: u8) -> FrameBytes {
        FrameBytes::from_slice(&[byte; 10]).expect("short enough")
    }

    /// A port that takes so many bytes a call.
    fn port(takes: usize, line: &mut Vec<u8>) -> impl FnMut(&[u8]) -> Moved {
        move |bytes| {
            let count = takes.min(bytes.len());
            line.extend(&bytes[..count]);
            if count == 0 {
                Moved::None
            } else {
                Moved::Bytes(count)
            }
        }
    }

    #[test]
    fn a_newer_frame_replaces_one_that_has_not_begun() {
        let (mut writer, mut line) = (Writer::default(), Vec::new());
        assert_eq!(
            writer.offer(Time(0), frame(1), Some(1), &mut port(0, &mut line)),
            Sent::Waits
        );
        assert_eq!(
            writer.offer(Time(5), frame(2), Some(2), &mut port(0, &mut line)),
            Sent::Waits
        );
        assert_eq!(writer.waiting(Time(9)), Span(9));
        assert_eq!(
            writer.flush(Time(9), &mut port(10, &mut line)),
            (Sent::Whole, Some(2))
        );
        assert_eq!(line, [2; 10]);
        assert_eq!(writer.waiting(Time(10)), Span::ZERO);
    }

    #[test]
    fn a_frame_begun_is_completed_first() {
        let (mut writer, mut line) = (Writer::default(), Vec::new());
        assert_eq!(
            writer.offer(Time(0), frame(1), Some(1), &mut port(4, &mut line)),
            Sent::Waits
        );
        assert_eq!(
            writer.offer(Time(1), frame(2), Some(2), &mut port(4, &mut line)),
            Sent::Waits
        );
        assert_eq!(
            writer.flush(Time(2), &mut port(4, &mut line)),
            (Sent::Waits, None)
        );
        assert_eq!(
            writer.flush(Time(3), &mut port(4, &mut line)),
            (Sent::Whole, Some(1))
        );
        assert_eq!(line, [1; 10]);
        assert_eq!(
            writer.offer(Time(4), frame(3), None, &mut port(10, &mut line)),
            Sent::Whole
        );
    }
}
