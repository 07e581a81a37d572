//! Frames: how a message becomes bytes and comes back.
//!
//! A frame ends with 0x00 and does not start with one. A leading 0x00 would save the first good frame after
//! garbage, at one byte in each; but velocities and telemetry repeat within milliseconds and the handshake is
//! retried, so only the frames that follow silence get one: the sender writes [`RESYNC`] before each `Hello`.

use crate::messages::Message;
use crc::{CRC_32_ISO_HDLC, Crc, Table};
use heapless::Vec;

/// CRC-32/ISO-HDLC (check value CBF43926) with one table of 1 KiB: the larger tables do not suit small controllers.
static CRC: Crc<u32, Table<1>> = Crc::<u32, Table<1>>::new(&CRC_32_ISO_HDLC);
const CRC_LEN: usize = 4;

/// Written before a `Hello`, so that what stood on the line before ends there. An empty frame is no error.
pub const RESYNC: [u8; 1] = [0];

/// Largest payload to the rig (a setup of 8 axes), bytes, direction byte included.
pub const MAX_TO_RIG_PAYLOAD: usize = 259;
/// Largest velocity payload (8 axes), bytes, direction byte included.
pub const MAX_VELOCITY_PAYLOAD: usize = 58;
/// Largest payload from the rig (a hello of 8 axes), bytes, direction byte included.
pub const MAX_FROM_RIG_PAYLOAD: usize = 492;
/// Largest telemetry payload (8 axes), bytes, direction byte included.
pub const MAX_TELEMETRY_PAYLOAD: usize = 164;
/// Largest frame to the rig on the line, bytes, 0x00 included.
pub const MAX_TO_RIG_FRAME: usize = frame_len(MAX_TO_RIG_PAYLOAD);
/// Largest velocity frame on the line, bytes, 0x00 included.
pub const MAX_VELOCITY_FRAME: usize = frame_len(MAX_VELOCITY_PAYLOAD);
/// Largest frame from the rig on the line, bytes, 0x00 included.
pub const MAX_FROM_RIG_FRAME: usize = frame_len(MAX_FROM_RIG_PAYLOAD);
/// Largest telemetry frame on the line, bytes, 0x00 included.
pub const MAX_TELEMETRY_FRAME: usize = frame_len(MAX_TELEMETRY_PAYLOAD);

/// Longest frame for a payload of this many bytes: CRC, at most one COBS byte per started 254, the 0x00.
#[must_use]
pub const fn frame_len(payload: usize) -> usize {
    cobs::max_encoding_length(payload + CRC_LEN) + 1
}

/// One whole frame, ready for a single write.
pub type FrameBytes = Vec<u8, MAX_FROM_RIG_FRAME>;

/// The message does not fit in a frame. No message of this crate can cause it (a test shows the largest);
/// it keeps a later, larger message from panicking.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Overflow;

/// CRC-32/ISO-HDLC of `bytes`.
#[must_use]
pub fn crc32(bytes: &[u8]) -> u32 {
    CRC.checksum(bytes)
}

/// Makes one message a frame.
///
/// # Errors
/// [`Overflow`] if it is longer than [`MAX_FROM_RIG_PAYLOAD`].
pub fn encode<M: Message>(message: &M) -> Result<FrameBytes, Overflow> {
    let mut plain = [0; MAX_FROM_RIG_PAYLOAD + CRC_LEN];
    plain[0] = M::DIRECTION;
    let body = postcard::to_slice(message, &mut plain[1..MAX_FROM_RIG_PAYLOAD])
        .map_err(|_| Overflow)?
        .len();
    let payload_len = 1 + body;
    let crc = crc32(&plain[..payload_len]).to_le_bytes();
    plain[payload_len..payload_len + CRC_LEN].copy_from_slice(&crc);

    let mut line = [0; MAX_FROM_RIG_FRAME];
    let used =
        cobs::try_encode(&plain[..payload_len + CRC_LEN], &mut line).map_err(|_| Overflow)?;
    // The byte after the encoded ones is still 0x00: that is the end of the frame.
    FrameBytes::from_slice(&line[..=used]).map_err(|_| Overflow)
}

/// Why a run of bytes up to a 0x00 was not a message.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Damage {
    /// Longer than any frame in this direction.
    Overlong,
    /// Not COBS: truncated or with a wrong length byte.
    Cobs,
    /// Too short, or the CRC does not match.
    Crc,
    /// Intact, but not a message in this direction, or with bytes left over.
    Foreign,
}

/// What a [`Deframer`] has seen; all wrap.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counts {
    /// Messages delivered.
    pub good: u32,
    /// Runs of each [`Damage`] but `Foreign`.
    pub damaged: u32,
    /// Runs of [`Damage::Foreign`].
    pub foreign: u32,
}

/// [`Deframer`] for the rig's end.
pub type ToRigDeframer = Deframer<MAX_TO_RIG_FRAME>;
/// [`Deframer`] for the daemon's end.
pub type FromRigDeframer = Deframer<MAX_FROM_RIG_FRAME>;

/// Turns bytes in any chunking into messages. `N` is the longest frame it can hold, in bytes.
/// Whatever is no frame is counted and skipped up to the next 0x00.
#[derive(Debug, Clone)]
pub struct Deframer<const N: usize> {
    run: Vec<u8, N>,
    overlong: bool,
    counts: Counts,
}

impl<const N: usize> Default for Deframer<N> {
    fn default() -> Self {
        Self::new()
    }
}

impl<const N: usize> Deframer<N> {
    /// An empty one, ready for the first byte of a frame.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            run: Vec::new(),
            overlong: false,
            counts: Counts {
                good: 0,
                damaged: 0,
                foreign: 0,
            },
        }
    }

    /// What it has seen since it was made.
    #[must_use]
    pub fn counts(&self) -> Counts {
        self.counts
    }

    /// Forgets a half-received frame, for a port that was closed and opened again. Counts stay.
    pub fn forget(&mut self) {
        self.run.clear();
        self.overlong = false;
    }

    /// Takes one byte; at the end of a run says what the run was. An empty run is nothing.
    pub fn push<M: Message>(&mut self, byte: u8) -> Option<Result<M, Damage>> {
        if byte != 0 {
            self.overlong |= self.run.push(byte).is_err();
            return None;
        }
        let outcome = if self.overlong {
            Err(Damage::Overlong)
        } else if self.run.is_empty() {
            return None;
        } else {
            open(&mut self.run)
        };
        self.forget();
        let count = match &outcome {
            Ok(_) => &mut self.counts.good,
            Err(Damage::Foreign) => &mut self.counts.foreign,
            Err(Damage::Overlong | Damage::Cobs | Damage::Crc) => &mut self.counts.damaged,
        };
        *count = count.wrapping_add(1);
        Some(outcome)
    }

    /// Takes many bytes and hands each message to `on_message`, in order.
    pub fn feed<M: Message>(&mut self, bytes: &[u8], mut on_message: impl FnMut(M)) {
        for &byte in bytes {
            if let Some(Ok(message)) = self.push(byte) {
                on_message(message);
            }
        }
    }
}

/// Decodes one run in place (without its 0x00).
fn open<M: Message>(run: &mut [u8]) -> Result<M, Damage> {
    let plain_len = cobs::decode_in_place(run).map_err(|_| Damage::Cobs)?;
    let plain = run.get(..plain_len).ok_or(Damage::Cobs)?;
    let (payload, crc) = plain.split_last_chunk::<CRC_LEN>().ok_or(Damage::Crc)?;
    if crc32(payload).to_le_bytes() != *crc {
        return Err(Damage::Crc);
    }
    let (&direction, body) = payload.split_first().ok_or(Damage::Foreign)?;
    if direction != M::DIRECTION {
        return Err(Damage::Foreign);
    }
    match postcard::take_from_bytes(body) {
        Ok((message, [])) => Ok(message),
        Ok((_, [_, ..])) | Err(_) => Err(Damage::Foreign),
    }
}
