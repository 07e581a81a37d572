//! The thread that shakes pads: none of what feeds the loop waits for a motor.
//!
//! Pads are shaken through their event nodes (`EV_FF`, Documentation/input/ff.rst of the kernel) and not by
//! gilrs, whose own thread writes to every pad twenty times a second and outlives the gilrs it was made for.
//! A node is open for one shake only, so a pad that comes and goes leaves nothing behind.

use super::shake::{Pulse, Shake};
use std::fs::{File, OpenOptions};
use std::io::{self, Write};
use std::os::fd::AsRawFd;
use std::os::unix::fs::{MetadataExt, OpenOptionsExt};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, sync_channel};
use std::time::Duration;
use stillhand_engine::time::{Span, Time};

/// Shakes that may wait: what happens in the second a long one takes. More is no message any more.
const WAITING: usize = 16;
/// Pads that can't shake, until somebody tells of them: as many as there can be, twice.
const MUTE: usize = 16;
/// Between two looks at nothing: the thread ends so soon after it is dropped.
const REST: Span = Span::from_millis(60_000);

/// A pad to be shaken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Target {
    /// The unit.
    pub id: String,
    /// Its node.
    pub node: PathBuf,
}

/// A shake of some pads.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ask {
    /// Which.
    pub shake: Shake,
    /// Of these.
    pub targets: Vec<Target>,
}

/// The motors of some pads, from the first pulse of a shake to its end.
pub trait Motors {
    /// A new shake of these pads; those of the last one are let go.
    fn begin(&mut self, targets: &[Target]);
    /// Turns them for one pulse.
    fn turn(&mut self, pulse: &Pulse);
}

/// The end that asks.
#[derive(Debug)]
pub struct Shaker {
    asks: SyncSender<Ask>,
    mute: Receiver<String>,
}

impl Shaker {
    /// Starts the thread, which ends when this is dropped.
    ///
    /// # Errors
    /// The system's, when it gives no thread.
    pub fn start(now: impl Fn() -> Time + Send + 'static) -> io::Result<Shaker> {
        let (asks, asked) = sync_channel(WAITING);
        let (told, mute) = sync_channel(MUTE);
        let mut nodes = Nodes {
            open: Vec::new(),
            known: Vec::new(),
            told,
        };
        std::thread::Builder::new()
            .name("pad-shakes".to_owned())
            .spawn(move || shake(&asked, now, &mut nodes))?;
        Ok(Shaker { asks, mute })
    }

    /// Asks for a shake, unless too many wait already.
    pub fn ask(&self, ask: Ask) {
        let _ = self.asks.try_send(ask);
    }

    /// The IDs of pads that were to shake and can't, each once.
    pub fn mute(&self) -> impl Iterator<Item = String> {
        self.mute.try_iter()
    }
}

fn shake(asked: &Receiver<Ask>, now: impl Fn() -> Time, motors: &mut impl Motors) {
    let mut player = Player::default();
    loop {
        let wait = player.play(now(), motors).unwrap_or(REST);
        match asked.recv_timeout(Duration::from_nanos(wait.0)) {
            Ok(ask) => player.ask(ask),
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => return,
        }
    }
}

/// What is shaken now, and what next.
#[derive(Debug, Default)]
pub struct Player {
    /// The shake, the place of its next pulse, and when that is due.
    playing: Option<(Ask, usize, Option<Time>)>,
    next: Option<Ask>,
}

impl Player {
    /// Takes a shake in. One more urgent than that being played takes its place; of those that wait, the
    /// most urgent is kept: a hand can't read a list.
    pub fn ask(&mut self, ask: Ask) {
        match &mut self.playing {
            None => self.playing = Some((ask, 0, None)),
            Some((playing, place, due)) if ask.shake < playing.shake => {
                let before = std::mem::replace(playing, ask);
                *due = None;
                // One that was cut short was felt; one that nobody felt yet still waits.
                if std::mem::take(place) == 0 {
                    self.wait(before);
                }
            }
            Some((playing, ..)) if *playing == ask => {}
            Some(_) => self.wait(ask),
        }
    }

    fn wait(&mut self, ask: Ask) {
        if self.next.as_ref().is_none_or(|next| ask.shake < next.shake) {
            self.next = Some(ask);
        }
    }

    /// Does what is due at `now`; when to come again, if anything is left to do.
    pub fn play(&mut self, now: Time, motors: &mut impl Motors) -> Option<Span> {
        loop {
            let (ask, place, due) = self.playing.as_mut()?;
            if let Some(due) = due.filter(|due| *due > now) {
                return Some(due.since(now));
            }
            if *place == 0 {
                motors.begin(&ask.targets);
            }
            let Some(pulse) = ask.shake.pattern().get(*place) else {
                motors.begin(&[]);
                self.playing = self.next.take().map(|next| (next, 0, None));
                continue;
            };
            motors.turn(pulse);
            *place += 1;
            *due = Some(now + Span::from_millis(u64::from(pulse.ms + pulse.pause_ms)));
        }
    }
}

/// The real motors, behind the kernel's event nodes.
struct Nodes {
    open: Vec<Motor>,
    /// Pads that can't shake, which was told, and the inode of the node that was tried last.
    known: Vec<(String, u64)>,
    told: SyncSender<String>,
}

impl Motors for Nodes {
    fn begin(&mut self, targets: &[Target]) {
        // Closed first: the kernel takes the effects of a closed node away.
        self.open.clear();
        for target in targets {
            // A node is made anew for whatever is plugged in there next, which may have motors.
            let inode = std::fs::metadata(&target.node).map_or(0, |node| node.ino());
            let place = self.known.iter().position(|(id, _)| *id == target.id);
            if place.is_some_and(|place| self.known[place].1 == inode) {
                continue;
            }
            match (Motor::open(&target.node), place) {
                (Ok(motor), _) => self.open.push(motor),
                (Err(_), Some(place)) => self.known[place].1 = inode,
                (Err(_), None) => {
                    self.known.push((target.id.clone(), inode));
                    let _ = self.told.try_send(target.id.clone());
                }
            }
        }
    }

    fn turn(&mut self, pulse: &Pulse) {
        // One that was pulled out in the middle feels nothing.
        self.open.retain_mut(|motor| motor.turn(pulse).is_ok());
    }
}

/// A pad's motors, with an effect uploaded that is changed from pulse to pulse.
struct Motor {
    node: File,
    effect: libc::ff_effect,
}

/// `EV_FF` and `FF_RUMBLE` of linux/input-event-codes.h and linux/input.h.
const EV_FF: u16 = 0x15;
const FF_RUMBLE: u16 = 0x50;
/// `EVIOCSFF` of linux/input.h: `_IOW('E', 0x80, struct ff_effect)`.
const EVIOCSFF: libc::c_ulong = 1 << 30
    | (size_of::<libc::ff_effect>() as libc::c_ulong) << 16
    | (b'E' as libc::c_ulong) << 8
    | 0x80;

impl Motor {
    fn open(node: &Path) -> io::Result<Motor> {
        let node = OpenOptions::new()
            .write(true)
            .custom_flags(libc::O_NONBLOCK | libc::O_CLOEXEC)
            .open(node)?;
        // SAFETY: all zeros is a valid `ff_effect`: it holds numbers only.
        let mut effect: libc::ff_effect = unsafe { std::mem::zeroed() };
        effect.type_ = FF_RUMBLE;
        // A new one, whose number the kernel writes down.
        effect.id = -1;
        let mut motor = Motor { node, effect };
        motor.upload()?;
        Ok(motor)
    }

    fn upload(&mut self) -> io::Result<()> {
        // SAFETY: the request has this size, and the kernel writes the effect's number at most.
        let done =
            unsafe { libc::ioctl(self.node.as_raw_fd(), EVIOCSFF as _, &raw mut self.effect) };
        if done < 0 {
            return Err(io::Error::last_os_error());
        }
        Ok(())
    }

    fn turn(&mut self, pulse: &Pulse) -> io::Result<()> {
        let share = |percent: u8| (u32::from(percent) * u32::from(u16::MAX) / 100) as u16;
        self.effect.replay.length = pulse.ms;
        let rumble = libc::ff_rumble_effect {
            strong_magnitude: share(pulse.strong),
            weak_magnitude: share(pulse.weak),
        };
        // SAFETY: the union `u` is larger than each of its members and aligned for all of them.
        unsafe {
            (&raw mut self.effect.u)
                .cast::<libc::ff_rumble_effect>()
                .write(rumble)
        };
        self.upload()?;
        let start = libc::input_event {
            time: libc::timeval {
                tv_sec: 0,
                tv_usec: 0,
            },
            type_: EV_FF,
            code: self.effect.id as u16,
            value: 1,
        };
        // SAFETY: an `input_event` has no padding: two words, two half words, an integer.
        let bytes = unsafe {
            std::slice::from_raw_parts(
                (&raw const start).cast::<u8>(),
                size_of::<libc::input_event>(),
            )
        };
        self.node.write_all(bytes)
    }
}

#[cfg(test)]
mod tests;
