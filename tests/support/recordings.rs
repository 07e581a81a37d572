//! WAV files as recorders write them.

/// How samples are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// Whole numbers of so many bits.
    Whole(u16),
    /// Floating point of so many bits.
    Float(u16),
    /// Whole numbers of so many bits, told by WAVE_FORMAT_EXTENSIBLE.
    Extensible(u16),
}

/// How a recording is written.
#[derive(Clone, Debug)]
pub struct Written {
    pub form: Form,
    pub rate_hz: u32,
    pub channels: u16,
    /// Which of them has the sound, from 1; the others have something else.
    pub channel: u16,
    /// Chunks before the description of the samples.
    pub before: Vec<u8>,
    /// Chunks after the samples.
    pub after: Vec<u8>,
    /// The length of the samples was never filled in.
    pub open: bool,
}

impl Written {
    /// One channel of 24 bits and nothing around it.
    pub fn new(rate_hz: u32) -> Written {
        Written {
            form: Form::Whole(24),
            rate_hz,
            channels: 1,
            channel: 1,
            before: Vec::new(),
            after: Vec::new(),
            open: false,
        }
    }
}

/// A chunk with its padding.
pub fn chunk(id: &[u8; 4], data: &[u8]) -> Vec<u8> {
    let mut all = id.to_vec();
    all.extend((data.len() as u32).to_le_bytes());
    all.extend(data);
    all.extend(vec![0; data.len() % 2]);
    all
}

/// A broadcast extension of odd length with a date (EBU Tech 3285).
pub fn bext(date: &str) -> Vec<u8> {
    let mut bext = vec![0; 603];
    bext[..8].copy_from_slice(b"Hall, am");
    bext[320..330].copy_from_slice(date.as_bytes());
    bext
}

/// A file with these samples of 24 bits.
pub fn write(samples: &[i32], written: &Written) -> Vec<u8> {
    let (tag, bits) = match written.form {
        Form::Whole(bits) => (1u16, bits),
        Form::Float(bits) => (3, bits),
        Form::Extensible(bits) => (0xfffe, bits),
    };
    let align = written.channels * bits / 8;
    let mut form = Vec::new();
    form.extend(tag.to_le_bytes());
    form.extend(written.channels.to_le_bytes());
    form.extend(written.rate_hz.to_le_bytes());
    form.extend((written.rate_hz * u32::from(align)).to_le_bytes());
    form.extend(align.to_le_bytes());
    form.extend(bits.to_le_bytes());
    if let Form::Extensible(_) = written.form {
        form.extend([22, 0]);
        form.extend(bits.to_le_bytes());
        form.extend([3, 0, 0, 0, 1, 0]);
        form.extend(*b"\x00\x00\x00\x00\x10\x00\x80\x00\x00\xaa\x00\x38\x9b\x71");
    }
    let mut data = Vec::with_capacity(samples.len() * usize::from(align));
    for sample in samples {
        for channel in 1..=written.channels {
            // Another channel is somebody tapping on another microphone.
            let value = if channel == written.channel {
                *sample
            } else {
                sample % 7 * 100_000
            };
            put(&mut data, value, written.form);
        }
    }
    let mut body = b"WAVE".to_vec();
    body.extend(&written.before);
    body.extend(chunk(b"fmt ", &form));
    let at = body.len();
    body.extend(chunk(b"data", &data));
    if written.open {
        body[at + 4..at + 8].copy_from_slice(&u32::MAX.to_le_bytes());
    }
    body.extend(&written.after);
    let mut file = b"RIFF".to_vec();
    file.extend((body.len() as u32).to_le_bytes());
    file.extend(body);
    file
}

fn put(data: &mut Vec<u8>, value: i32, form: Form) {
    let share = f64::from(value) / 8_388_608.0;
    match form {
        Form::Whole(8) => data.push(((value >> 16) + 128) as u8),
        Form::Whole(16) => data.extend(((share * 32_767.0).round() as i16).to_le_bytes()),
        Form::Whole(32) => data.extend((value << 8).to_le_bytes()),
        Form::Float(64) => data.extend(share.to_le_bytes()),
        Form::Float(_) => data.extend((share as f32).to_le_bytes()),
        Form::Whole(_) | Form::Extensible(_) => data.extend(&value.to_le_bytes()[..3]),
    }
}

/// The samples of a file of one channel of 24 bits whose samples are its last chunk.
pub fn samples_of_24_bits(file: &[u8]) -> Vec<i32> {
    let at = file.windows(4).position(|four| four == b"data").unwrap() + 4;
    let size = u32::from_le_bytes(file[at..at + 4].try_into().unwrap()) as usize;
    file[at + 4..at + 4 + size]
        .chunks_exact(3)
        .map(|b| i32::from_le_bytes([0, b[0], b[1], b[2]]) >> 8)
        .collect()
}
