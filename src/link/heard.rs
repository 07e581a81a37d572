//! What was heard, when nothing else makes sense.

/// The first bytes heard since the port was opened, for the message when nothing else makes sense.
#[derive(Clone, Copy, Debug, Default)]
pub struct Heard {
    bytes: [u8; 16],
    count: usize,
}

impl Heard {
    /// The first bytes, at most 16.
    pub fn bytes(&self) -> &[u8] {
        &self.bytes[..self.count.min(16)]
    }

    /// How many there were in all.
    pub fn count(&self) -> usize {
        self.count
    }

    pub(super) fn take(&mut self, bytes: &[u8]) {
        for &byte in bytes {
            if let Some(slot) = self.bytes.get_mut(self.count) {
                *slot = byte;
            }
            self.count = self.count.saturating_add(1);
        }
    }
}
