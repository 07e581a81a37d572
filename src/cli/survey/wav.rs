//! Recordings: WAV files, read a piece at a time, whatever a recorder put around the samples.
//!
//! Our own walk through the chunks: the common library for it does not skip the byte that pads a chunk
//! of odd length, which is what broadcast recorders write, and knows no files a recorder left open.

use std::fmt;
use std::fs::File;
use std::io::{BufReader, ErrorKind, Read, Seek, SeekFrom};
use std::path::Path;

/// Most bytes of a chunk that is kept to look at; the date of a `bext` chunk ends at 338.
const KEPT_BYTES: u64 = 1024;
/// Most channels of a recording; the largest recorders have 32.
const MOST_CHANNELS: u16 = 128;
/// Samples read at a time, of all channels together.
const PIECE: usize = 16 * 1024;

/// How a sample is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// Whole numbers of 16, 24 or 32 bits.
    Whole(u16),
    /// Floating point of 32 or 64 bits.
    Float(u16),
}

impl fmt::Display for Format {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        match self {
            Format::Whole(bits) => write!(f, "{bits} bit"),
            Format::Float(bits) => write!(f, "{bits} bit float"),
        }
    }
}

/// What a recording says of itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Header {
    /// Sample rate in Hz.
    pub rate_hz: u32,
    /// Channels.
    pub channels: u16,
    /// How samples are written.
    pub format: Format,
    /// How many samples each channel has.
    pub frames: u64,
    /// The date a broadcast recorder wrote, as `2026-11-25`.
    pub date: Option<String>,
}

impl Header {
    /// How long it is, in s.
    pub fn seconds(&self) -> f64 {
        self.frames as f64 / f64::from(self.rate_hz)
    }
}

/// Why a file is no recording we can read.
#[derive(Debug)]
pub enum WavError {
    /// It can't be read.
    Io(std::io::Error),
    /// It is something else, or a kind we don't read; what it is and what to do.
    Refused(&'static str, &'static str),
    /// Figures we don't read: what was found, what is allowed.
    Format(String, &'static str),
    /// It has no such channel: asked for, there are.
    Channel(u16, u16),
}

impl fmt::Display for WavError {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        match self {
            WavError::Io(error) => write!(f, "can't be read: {error}"),
            WavError::Refused(what, mend) => write!(f, "{what}; {mend}"),
            WavError::Format(found, allowed) => {
                write!(f, "has {found}; what is read: {allowed}")
            }
            WavError::Channel(asked, there) => write!(
                f,
                "has no channel {asked}; it has {there}, counted from 1 (--channel)"
            ),
        }
    }
}

impl From<std::io::Error> for WavError {
    fn from(error: std::io::Error) -> WavError {
        WavError::Io(error)
    }
}

/// One channel of a recording.
pub struct Recording<R> {
    header: Header,
    channel: u16,
    data_at: u64,
    left: u64,
    reader: R,
    bytes: Vec<u8>,
}

/// Opens one channel of a file; channels count from 1.
///
/// # Errors
///
/// That it can't be read, is no WAV file, or holds something we don't read.
pub fn open(path: &Path, channel: u16) -> Result<Recording<BufReader<File>>, WavError> {
    // Asked before opening: opening a named pipe would wait for its other end.
    if !std::fs::metadata(path)?.is_file() {
        let mend = "name the file of a recording";
        return Err(WavError::Refused("is not an ordinary file", mend));
    }
    let file = File::open(path)?;
    let length = file.metadata()?.len();
    Recording::new(BufReader::new(file), length, channel)
}

impl<R: Read + Seek> Recording<R> {
    /// Reads the header of a file of `length` bytes.
    ///
    /// # Errors
    ///
    /// As for [`open`].
    pub fn new(mut reader: R, length: u64, channel: u16) -> Result<Recording<R>, WavError> {
        let (header, data_at) = walk(&mut reader, length)?;
        if channel == 0 || channel > header.channels {
            return Err(WavError::Channel(channel, header.channels));
        }
        let mut recording = Recording {
            left: header.frames,
            header,
            channel,
            data_at,
            reader,
            bytes: Vec::new(),
        };
        recording.rewind()?;
        Ok(recording)
    }

    /// What it says of itself.
    pub fn header(&self) -> &Header {
        &self.header
    }

    /// Goes back to the first sample.
    ///
    /// # Errors
    ///
    /// What the file says.
    pub fn rewind(&mut self) -> Result<(), WavError> {
        self.reader.seek(SeekFrom::Start(self.data_at))?;
        self.left = self.header.frames;
        Ok(())
    }

    /// The next samples, -1..=1 but for floating point, which may exceed it; none at the end. What is
    /// not a number counts as 0.
    ///
    /// # Errors
    ///
    /// That the file can't be read, or became shorter.
    pub fn next(&mut self, samples: &mut Vec<f64>) -> Result<(), WavError> {
        let channels = usize::from(self.header.channels);
        let width = match self.header.format {
            Format::Whole(bits) | Format::Float(bits) => usize::from(bits) / 8,
        };
        let frames = (PIECE / channels)
            .max(1)
            .min(usize::try_from(self.left).unwrap_or(PIECE));
        self.bytes.resize(frames * channels * width, 0);
        self.reader.read_exact(&mut self.bytes)?;
        self.left -= frames as u64;
        let at = usize::from(self.channel - 1) * width;
        let format = self.header.format;
        samples.clear();
        samples.extend(
            self.bytes
                .chunks_exact(channels * width)
                .map(|frame| sample(&frame[at..at + width], format)),
        );
        Ok(())
    }
}

fn sample(bytes: &[u8], format: Format) -> f64 {
    let value = match (format, bytes) {
        (Format::Whole(_), [a, b]) => f64::from(i16::from_le_bytes([*a, *b])) / 32_768.0,
        (Format::Whole(_), [a, b, c]) => {
            f64::from(i32::from_le_bytes([0, *a, *b, *c])) / 2_147_483_648.0
        }
        (Format::Whole(_), [a, b, c, d]) => {
            f64::from(i32::from_le_bytes([*a, *b, *c, *d])) / 2_147_483_648.0
        }
        (Format::Float(_), [a, b, c, d]) => f64::from(f32::from_le_bytes([*a, *b, *c, *d])),
        (Format::Float(_), [a, b, c, d, e, f, g, h]) => {
            f64::from_le_bytes([*a, *b, *c, *d, *e, *f, *g, *h])
        }
        _ => 0.0,
    };
    if value.is_finite() { value } else { 0.0 }
}

/// Header and place of the samples.
fn walk<R: Read + Seek>(reader: &mut R, length: u64) -> Result<(Header, u64), WavError> {
    let mut head = [0; 12];
    reader
        .read_exact(&mut head)
        .map_err(|error| match error.kind() {
            ErrorKind::UnexpectedEof => {
                WavError::Refused("is too short to be a recording", NAME_IT)
            }
            _ => WavError::Io(error),
        })?;
    known(&head)?;
    let (mut at, mut form, mut date) = (12u64, None, None);
    loop {
        let mut chunk = [0; 8];
        if at + 8 > length {
            let what = match form {
                None => "has no description of its samples (no fmt chunk)",
                Some(_) => "has no samples (no data chunk)",
            };
            return Err(WavError::Refused(
                what,
                "the recorder may have lost power; try its repair",
            ));
        }
        reader.seek(SeekFrom::Start(at))?;
        reader.read_exact(&mut chunk)?;
        let size = u64::from(u32::from_le_bytes([chunk[4], chunk[5], chunk[6], chunk[7]]));
        at += 8;
        let rest = length - at;
        match &chunk[..4] {
            b"fmt " => form = Some(format(&kept(reader, size.min(rest))?)?),
            b"bext" => date = bext_date(&kept(reader, size.min(rest))?),
            b"data" => {
                let Some((rate_hz, channels, format, align)) = form else {
                    let what = "has its samples before their description";
                    return Err(WavError::Refused(
                        what,
                        "save it anew with an audio program",
                    ));
                };
                // A recorder that lost power, or streamed, left 0 or all ones: all that is there.
                let size = if size == 0 { rest } else { size.min(rest) };
                let header = Header {
                    rate_hz,
                    channels,
                    format,
                    frames: size / align,
                    date,
                };
                return Ok((header, at));
            }
            _ => {}
        }
        // A chunk of odd length is padded.
        at += size + size % 2;
    }
}

const NAME_IT: &str = "name a WAV file";

/// Tells what it is by its first bytes.
fn known(head: &[u8; 12]) -> Result<(), WavError> {
    let save = "save it as WAV (not RF64) with an audio program, in several parts if it must be";
    let convert = "save it as WAV with an audio program";
    match (&head[..4], &head[8..]) {
        (b"RIFF", b"WAVE") => Ok(()),
        (b"RF64" | b"BW64", _) => Err(WavError::Refused(
            "is an RF64 file (over 4 GiB), which is not read",
            save,
        )),
        (b"RIFX", _) => Err(WavError::Refused(
            "is a big-endian WAV file (RIFX)",
            convert,
        )),
        (b"FORM", _) => Err(WavError::Refused("is an AIFF file", convert)),
        (b"fLaC", _) => Err(WavError::Refused("is a FLAC file", convert)),
        (b"OggS", _) => Err(WavError::Refused("is an Ogg file", convert)),
        ([b'I', b'D', b'3', _] | [0xff, _, _, _], _) => Err(WavError::Refused(
            "looks like an MP3, whose coding removes just what is to be measured",
            "record WAV",
        )),
        _ => Err(WavError::Refused("is not a WAV file", NAME_IT)),
    }
}

fn kept<R: Read>(reader: &mut R, size: u64) -> Result<Vec<u8>, WavError> {
    let mut bytes = Vec::new();
    reader.take(size.min(KEPT_BYTES)).read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// Rate, channels, format and bytes of a frame.
fn format(chunk: &[u8]) -> Result<(u32, u16, Format, u64), WavError> {
    let two = |at: usize| Some(u16::from_le_bytes([*chunk.get(at)?, *chunk.get(at + 1)?]));
    let four = |at: usize| Some(u32::from(two(at)?) | u32::from(two(at + 2)?) << 16);
    let short = || WavError::Format("a description that is cut off".to_owned(), FORMATS);
    let mut tag = two(0).ok_or_else(short)?;
    let channels = two(2).ok_or_else(short)?;
    let rate_hz = four(4).ok_or_else(short)?;
    let align = two(12).ok_or_else(short)?;
    let bits = two(14).ok_or_else(short)?;
    if tag == 0xfffe {
        // WAVE_FORMAT_EXTENSIBLE: the tag proper begins its sub-format.
        tag = two(24).ok_or_else(short)?;
    }
    // Samples are written in whole bytes; 20 bits stand in 24.
    let held = match channels {
        0 => 0,
        channels => align / channels * 8,
    };
    let format = match (tag, held) {
        (1, 16 | 24 | 32) if bits <= held && bits > 8 => Format::Whole(held),
        (3, 32 | 64) => Format::Float(held),
        (1, _) => return Err(WavError::Format(format!("samples of {bits} bits"), FORMATS)),
        (tag, _) => {
            return Err(WavError::Format(
                format!("samples coded in way {tag:#06x}"),
                FORMATS,
            ));
        }
    };
    if channels > MOST_CHANNELS {
        return Err(WavError::Format(
            format!("{channels} channels"),
            "1 to 128 channels",
        ));
    }
    if rate_hz == 0 {
        return Err(WavError::Format(
            "a sample rate of 0".to_owned(),
            "44100 to 192000 Hz",
        ));
    }
    Ok((rate_hz, channels, format, u64::from(align)))
}

const FORMATS: &str = "16, 24 or 32 bit, or 32 or 64 bit float, uncompressed";

/// OriginationDate of EBU Tech 3285: ten characters after description, originator and reference.
fn bext_date(chunk: &[u8]) -> Option<String> {
    let date = std::str::from_utf8(chunk.get(320..330)?).ok()?;
    let digits = |part: &str| part.bytes().all(|b| b.is_ascii_digit());
    let (year, month, day) = (date.get(..4)?, date.get(5..7)?, date.get(8..10)?);
    // The separators are the recorder's own choice.
    (digits(year) && digits(month) && digits(day)).then(|| format!("{year}-{month}-{day}"))
}
