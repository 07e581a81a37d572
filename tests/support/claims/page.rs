//! A frame as `src/wire/PROTOCOL.md` describes it, without the wire crate: what the receivers are held against.

/// CRC-32/ISO-HDLC (check value CBF43926).
pub fn crc32(bytes: &[u8]) -> u32 {
    let step = |crc: u32, byte: &u8| crc >> 8 ^ TABLE[usize::from(crc as u8 ^ byte)];
    !bytes.iter().fold(u32::MAX, step)
}

/// What eight steps, one bit each, make of the low byte.
const TABLE: [u32; 256] = {
    let mut table = [0; 256];
    let mut byte = 0;
    while byte < 256 {
        let mut crc = byte as u32;
        let mut bit = 0;
        while bit < 8 {
            crc = if crc & 1 == 1 {
                crc >> 1 ^ 0xEDB8_8320
            } else {
                crc >> 1
            };
            bit += 1;
        }
        table[byte] = crc;
        byte += 1;
    }
    table
};

/// The bytes that COBS made this run of, or `None` if it never could.
pub fn uncobs(run: &[u8]) -> Option<Vec<u8>> {
    let mut plain = Vec::with_capacity(run.len());
    let mut rest = run;
    while let Some((&length, after)) = rest.split_first() {
        let piece = after.get(..usize::from(length).checked_sub(1)?)?;
        if piece.contains(&0) {
            return None;
        }
        plain.extend_from_slice(piece);
        rest = &after[piece.len()..];
        if length != 0xFF && !rest.is_empty() {
            plain.push(0);
        }
    }
    Some(plain)
}

/// The payload of a run, direction byte first, if the CRC agrees with it.
pub fn payload(run: &[u8]) -> Option<Vec<u8>> {
    let mut plain = uncobs(run)?;
    let crc = u32::from_le_bytes(*plain.last_chunk()?);
    plain.truncate(plain.len() - 4);
    (crc32(&plain) == crc).then_some(plain)
}

/// A payload made a frame, its 0x00 included.
pub fn frame(payload: &[u8]) -> Vec<u8> {
    let mut plain = payload.to_vec();
    plain.extend(crc32(payload).to_le_bytes());
    let mut line = Vec::with_capacity(plain.len() + 3);
    let mut pieces = plain.split(|byte| *byte == 0).peekable();
    while let Some(mut piece) = pieces.next() {
        let last = pieces.peek().is_none();
        while piece.len() >= 254 {
            let (full, more) = piece.split_at(254);
            line.push(0xFF);
            line.extend_from_slice(full);
            piece = more;
            if piece.is_empty() && last {
                line.push(0);
                return line;
            }
        }
        line.push(piece.len() as u8 + 1);
        line.extend_from_slice(piece);
    }
    line.push(0);
    line
}
