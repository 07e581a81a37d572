//! Raw reports of a fake pad: a FIFO in the place of `/dev/hidrawN`, and the folder in sysfs that says whose it
//! is. The FIFO keeps reports apart as `hidraw` does, one a read; no HID device stands behind it.

use std::fs::{self, File};
use std::io::Write;
use std::os::fd::AsRawFd;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicU8, Ordering};
use std::thread::JoinHandle;
use std::time::Duration;

use super::Bus;
use super::host::fifo_at;

/// Between two reports: 250 a second, as many pads have.
const PERIOD: Duration = Duration::from_millis(4);

/// What is reported.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum Flow {
    /// Nothing.
    Nothing,
    /// Reports that count, as those of a pad that senses its own tremble.
    Counting,
    /// The same report again and again, as a receiver may send.
    Repeating,
    /// The thread's end.
    End,
}

/// A pad's reports, nothing at first.
pub struct RawReports {
    node: PathBuf,
    flow: Arc<AtomicU8>,
    thread: Option<JoinHandle<()>>,
}

impl RawReports {
    pub(super) fn new(root: &Path, n: u32, bus: Bus) -> RawReports {
        let hid = root.join(format!("sys{}", bus.parent(n)));
        fs::create_dir_all(hid.join(format!("hidraw/hidraw{n}"))).expect("writable");
        let node = root.join(format!("dev/hidraw{n}"));
        let file = packets_at(&node);
        let flow = Arc::new(AtomicU8::new(Flow::Nothing as u8));
        let asked = Arc::clone(&flow);
        let thread = std::thread::spawn(move || report(file, &asked));
        RawReports {
            node,
            flow,
            thread: Some(thread),
        }
    }

    /// From now on this is reported.
    pub fn flow(&self, flow: Flow) {
        self.flow.store(flow as u8, Ordering::Relaxed);
    }

    /// The node vanishes, as it does with its pad.
    pub fn vanish(&mut self) {
        self.flow(Flow::End);
        if let Some(thread) = self.thread.take() {
            thread.join().expect("no panic");
        }
        let _ = fs::remove_file(&self.node);
    }
}

impl Drop for RawReports {
    fn drop(&mut self) {
        self.vanish();
    }
}

fn report(mut file: File, asked: &AtomicU8) {
    let mut report = [0x55_u8; 64];
    loop {
        let asked = asked.load(Ordering::Relaxed);
        if asked == Flow::End as u8 {
            return;
        }
        if asked == Flow::Counting as u8 {
            report[0] = report[0].wrapping_add(1);
        }
        if asked != Flow::Nothing as u8 {
            // One that finds no room is lost, as in the kernel's buffer.
            let _ = file.write(&report);
        }
        std::thread::sleep(PERIOD);
    }
}

/// A FIFO that keeps what was written at once apart (pipe(2), `O_DIRECT`).
fn packets_at(node: &Path) -> File {
    let file = fifo_at(node);
    // SAFETY: a valid descriptor; the call only sets its flags.
    let set = unsafe {
        libc::fcntl(
            file.as_raw_fd(),
            libc::F_SETFL,
            libc::O_NONBLOCK | libc::O_DIRECT,
        )
    };
    assert_eq!(set, 0, "packets");
    file
}
