//! The writer's thread: from the ring to files, as slowly as the disk is.

use super::bytes::{Out, first};
use super::folder::Folder;
use super::recorder::kind;
use super::{Head, MAGIC, Standing, VERSION};
use rtrb::Consumer;
use std::fs::File;
use std::io::{self, Write};
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::thread::JoinHandle;
use std::time::Duration;

/// How often the ring is emptied: what a crash of the program costs at most.
const LOOK: Duration = Duration::from_millis(20);
/// So many looks apart, what was written is brought to the disk: what a loss of power costs, 5 s.
const SYNC_LOOKS: u32 = 250;

/// Where the bytes of a journal go.
pub trait Files: Send {
    /// One of its files, open.
    type File: Write + Send;
    /// Begins the next file: its number and itself.
    ///
    /// # Errors
    /// The system's.
    fn begin(&mut self) -> io::Result<(u64, Self::File)>;
    /// Brings to the disk what was written.
    ///
    /// # Errors
    /// The system's.
    fn sync(&mut self, file: &mut Self::File) -> io::Result<()>;
    /// What to call it in words.
    fn name(&self) -> String;
}

impl Files for Folder {
    type File = File;
    fn begin(&mut self) -> io::Result<(u64, File)> {
        Folder::begin(self)
    }
    fn sync(&mut self, file: &mut File) -> io::Result<()> {
        file.sync_data()
    }
    fn name(&self) -> String {
        self.path().display().to_string()
    }
}

/// The thread that writes; it ends when the recorder has gone and everything is written, or when nothing
/// can be written any more.
///
/// `date` tells the seconds since 1970, for the head of each file.
///
/// # Errors
/// No thread was to be had.
pub fn start<F: Files + 'static>(
    files: F,
    head: Head,
    ring: Consumer<u8>,
    standing: Arc<Standing>,
    date: impl Fn() -> u64 + Send + 'static,
) -> io::Result<JoinHandle<()>> {
    let mut writer = Writer {
        files,
        head,
        ring,
        standing: Arc::clone(&standing),
        date,
        file: None,
        pending: Vec::new(),
    };
    std::thread::Builder::new()
        .name("journal".to_owned())
        .spawn(move || {
            if let Err(error) = writer.work() {
                let name = writer.files.name();
                standing.stop(format!("the journal in {name} stopped: {error}"));
            }
        })
}

struct Writer<F: Files, D> {
    files: F,
    head: Head,
    ring: Consumer<u8>,
    standing: Arc<Standing>,
    date: D,
    file: Option<F::File>,
    /// What was taken from the ring and not written yet.
    pending: Vec<u8>,
}

impl<F: Files, D: Fn() -> u64> Writer<F, D> {
    fn work(&mut self) -> io::Result<()> {
        let mut looks = 0;
        loop {
            // Looked at before the ring is emptied, or the last records could be left in it.
            let last = self.ring.is_abandoned();
            self.empty()?;
            looks += 1;
            if last || looks % SYNC_LOOKS == 0 {
                self.sync()?;
            }
            if last {
                return Ok(());
            }
            std::thread::sleep(LOOK);
        }
    }

    fn empty(&mut self) -> io::Result<()> {
        if let Ok(chunk) = self.ring.read_chunk(self.ring.slots()) {
            let (one, two) = chunk.as_slices();
            self.pending.extend_from_slice(one);
            self.pending.extend_from_slice(two);
            chunk.commit_all();
        }
        let pending = std::mem::take(&mut self.pending);
        let mut from = 0;
        let mut at = 0;
        // Everything up to an image goes into the open file in one piece.
        while let Ok(Some(record)) = first(&pending[at..]) {
            if record.kind == kind::IMAGE {
                self.write(&pending[from..at])?;
                self.begin()?;
                from = at;
            }
            at += record.length;
        }
        self.write(&pending[from..at])?;
        self.pending = pending;
        self.pending.drain(..at);
        Ok(())
    }

    fn begin(&mut self) -> io::Result<()> {
        self.sync()?;
        let (number, file) = self.files.begin()?;
        self.file = Some(file);
        self.head.number = number;
        self.head.begun_s = (self.date)();
        let mut out = Out::new();
        out.begin(kind::HEAD);
        out.value(&self.head);
        out.seal();
        let mut bytes = MAGIC.to_vec();
        bytes.extend_from_slice(&VERSION.to_le_bytes());
        bytes.extend_from_slice(out.whole().unwrap_or_default());
        self.write(&bytes)
    }

    fn write(&mut self, bytes: &[u8]) -> io::Result<()> {
        // What comes before the first image is the end of a run that recorded nothing.
        let Some(file) = &mut self.file else {
            return Ok(());
        };
        file.write_all(bytes)?;
        let written = &self.standing.written;
        written.fetch_add(bytes.len() as u64, Ordering::Relaxed);
        Ok(())
    }

    fn sync(&mut self) -> io::Result<()> {
        match &mut self.file {
            Some(file) => self.files.sync(file),
            None => Ok(()),
        }
    }
}
