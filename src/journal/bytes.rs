//! Bytes into a buffer that never grows, and out of one that may hold anything.

use super::MOST_RECORD;
use crc::{CRC_32_ISO_HDLC, Crc, Table};
use serde::Serialize;
use serde::de::DeserializeOwned;

/// CRC-32/ISO-HDLC, as on the wire; the larger table, because an image is long.
const CRC: Crc<u32, Table<16>> = Crc::<u32, Table<16>>::new(&CRC_32_ISO_HDLC);

/// Bytes before a record's body: its length and its kind.
const BEFORE: usize = 5;

/// Records one after another in a buffer of a fixed length.
#[derive(Debug)]
pub struct Out {
    bytes: Box<[u8]>,
    at: usize,
    /// Where the record that is open begins.
    open: usize,
    full: bool,
}

impl Out {
    /// An empty buffer for a gap and the longest record.
    pub fn new() -> Out {
        Out {
            bytes: vec![0; MOST_RECORD + 64].into_boxed_slice(),
            at: 0,
            open: 0,
            full: false,
        }
    }

    /// Forgets everything.
    pub fn clear(&mut self) {
        (self.at, self.open, self.full) = (0, 0, false);
    }

    /// Begins a record of a kind.
    pub fn begin(&mut self, kind: u8) {
        self.open = self.at;
        self.put(&[0; 4]);
        self.put(&[kind]);
    }

    /// Ends it: its length before, its check after it.
    pub fn seal(&mut self) {
        if self.full {
            return;
        }
        let length = (self.at - self.open - 4) as u32;
        self.bytes[self.open..self.open + 4].copy_from_slice(&length.to_le_bytes());
        let check = CRC.checksum(&self.bytes[self.open..self.at]);
        self.put(&check.to_le_bytes());
    }

    /// All whole records; `None` if one did not fit.
    pub fn whole(&self) -> Option<&[u8]> {
        (!self.full).then_some(&self.bytes[..self.at])
    }

    /// Adds bytes.
    pub fn put(&mut self, bytes: &[u8]) {
        match self.bytes.get_mut(self.at..self.at + bytes.len()) {
            Some(place) if !self.full => {
                place.copy_from_slice(bytes);
                self.at += bytes.len();
            }
            _ => self.full = true,
        }
    }

    /// Adds a number, seven bits a byte, the lowest first.
    pub fn number(&mut self, mut n: u64) {
        while n >= 0x80 {
            self.put(&[n as u8 | 0x80]);
            n >>= 7;
        }
        self.put(&[n as u8]);
    }

    /// Adds a value in postcard's form.
    pub fn value<T: Serialize + ?Sized>(&mut self, value: &T) {
        let room = self.bytes.get_mut(self.at..).unwrap_or_default();
        match postcard::to_slice(value, room) {
            Ok(used) if !self.full => self.at += used.len(),
            _ => self.full = true,
        }
    }
}

/// A record as it stands in a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Raw<'a> {
    /// What it is.
    pub kind: u8,
    /// What it holds.
    pub body: &'a [u8],
    /// How many bytes it has in the file.
    pub length: usize,
}

/// The record at the beginning of `bytes`; `Ok(None)` if they end before it does.
///
/// # Errors
/// Its length is none a record has, or its check does not fit.
pub fn first(bytes: &[u8]) -> Result<Option<Raw<'_>>, ()> {
    let Some((length, _)) = bytes.split_first_chunk::<4>() else {
        return Ok(None);
    };
    let length = u32::from_le_bytes(*length) as usize;
    if !(1..=MOST_RECORD).contains(&length) {
        return Err(());
    }
    let checked = 4 + length;
    let Some(check) = bytes.get(checked..checked + 4) else {
        return Ok(None);
    };
    if check != CRC.checksum(&bytes[..checked]).to_le_bytes() {
        return Err(());
    }
    Ok(Some(Raw {
        kind: bytes[BEFORE - 1],
        body: &bytes[BEFORE..checked],
        length: checked + 4,
    }))
}

/// Takes things off the front of bytes; `None` where they do not say such a thing.
#[derive(Clone, Copy, Debug)]
pub struct In<'a>(pub &'a [u8]);

impl<'a> In<'a> {
    /// So many bytes.
    pub fn take(&mut self, count: usize) -> Option<&'a [u8]> {
        let (taken, left) = self.0.split_at_checked(count)?;
        self.0 = left;
        Some(taken)
    }

    /// One byte.
    pub fn byte(&mut self) -> Option<u8> {
        self.take(1).map(|one| one[0])
    }

    /// A number as [`Out::number`] writes it.
    pub fn number(&mut self) -> Option<u64> {
        let mut n = 0;
        for place in 0..10 {
            let byte = self.byte()?;
            n |= u64::from(byte & 0x7f).checked_shl(7 * place)?;
            if byte & 0x80 == 0 {
                return Some(n);
            }
        }
        None
    }

    /// Eight bytes.
    pub fn long(&mut self) -> Option<u64> {
        Some(u64::from_le_bytes(self.take(8)?.try_into().ok()?))
    }

    /// A value in postcard's form.
    pub fn value<T: DeserializeOwned>(&mut self) -> Option<T> {
        let (value, left) = postcard::take_from_bytes(self.0).ok()?;
        self.0 = left;
        Some(value)
    }
}
