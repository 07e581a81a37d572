//! The thread that reads real pads.

use std::fs::File;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::Duration;

use gilrs::{Axis, Button as Key, Event, EventType, Gamepad, Gilrs, GilrsBuilder, LinuxGamepadExt};
use stillhand_engine::input::{PadEvent, PadId};
use stillhand_engine::time::{Span, Time};

mod life;
mod retrim;

use super::board::{Board, PadNotice, PresentPad};
use super::breath::Breath;
use super::device::{self, Device};
use super::lookout::Lookout;
use super::mailbox::{CAPACITY, Inbox, Outbox, mailbox};
use super::places::{Place, Places};
use super::reports::Reports;
use super::translate::{PadState, Spoken, is_axis};
use super::trim::file::Shelf;
use super::trim::fresh::Fresh;
use super::{PadChoice, PadInput};
use crate::shell::realtime::{feed_at_leisure, feed_punctually};

/// A sign of life is passed on when nothing of the pad was for this long: the shortest bound that
/// hangs on it is ten times as long.
const ALIVE_EVERY: Span = Span::from_millis(30);
/// How long to pause when gilrs returns at once for no reason: one tick of the control loop at its
/// usual rate.
const PAUSE: Duration = Duration::from_millis(4);
/// Rest of a thread that events never let sleep.
const BREATH: Duration = Duration::from_millis(1);
/// How long to wait for an event while something waits for the control loop.
const BEHIND: Span = Span::from_millis(5);
/// Between attempts to begin, when gilrs can't.
const RETRY: Duration = Duration::from_millis(500);
/// Silent returns in a row after which a gilrs that is given up has nothing left to say.
const EMPTY: u32 = 4;
/// Most events read from a gilrs that is given up: what eight pads' buffers in the kernel hold at
/// 64 reports each. A pad that talks without end would keep the old one alive; from here on the new
/// one has heard it all.
const MOST_LEFT: u32 = 4096;
/// How often gilrs is made anew for a device it does not take: udev may not have been ready.
const TRIES: u8 = 3;

/// What the reader needs to know.
#[derive(Clone, Debug, Default)]
pub struct ReaderOptions {
    /// Which pads may drive; none given is any.
    pub choices: Vec<PadChoice>,
    /// IDs of pads whose file declares them wired.
    pub wired: Vec<String>,
    /// How many of the last places are kept for pad scripts.
    pub scripts: u8,
    /// What was measured of pads; `None` passes readings on as they are, to be measured.
    pub trims: Option<Shelf>,
    /// Where they come anew when they have changed.
    pub fresh: Fresh,
    /// Whether raw reports count as signs of life, where a pad has them.
    pub reports: bool,
    /// Whether to obey the mappings a user keeps in `SDL_GAMECONTROLLERCONFIG`. Off in tests.
    pub env_mappings: bool,
}

/// The running reader. Dropping it ends its thread.
#[derive(Debug)]
pub struct PadReader {
    end: Arc<AtomicBool>,
    board: Arc<Board>,
    thread: Option<JoinHandle<()>>,
}

impl PadReader {
    /// Starts reading. `now` stamps the inputs. Pads that are there already arrive as plugged in.
    ///
    /// # Errors
    /// The system's, when it gives no thread.
    pub fn start(
        options: ReaderOptions,
        now: impl Fn() -> Time + Clone + Send + 'static,
    ) -> io::Result<(PadReader, Inbox)> {
        let (outbox, inbox) = mailbox(CAPACITY);
        let end = Arc::new(AtomicBool::new(false));
        let board = Arc::new(Board::default());
        let reports = options
            .reports
            .then(|| Reports::start(Arc::clone(&board), outbox.signs(), now.clone()))
            .transpose()?;
        let worker = Worker {
            places: Places::new(options.scripts),
            lookout: Lookout::new(now()),
            refused: Vec::new(),
            forbidden: Vec::new(),
            breath: Breath::new(now()),
            reports,
            end: Arc::clone(&end),
            board: Arc::clone(&board),
            options,
            outbox,
            now,
        };
        let thread = std::thread::Builder::new()
            .name("pads".to_string())
            .spawn(move || worker.run())?;
        let reader = PadReader {
            end,
            board,
            thread: Some(thread),
        };
        Ok((reader, inbox))
    }

    /// The pads that are plugged in now.
    pub fn present(&self) -> Vec<PresentPad> {
        self.board.present()
    }

    /// The notices since the last call.
    pub fn take_notices(&self) -> Vec<PadNotice> {
        self.board.take_notices()
    }
}

impl Drop for PadReader {
    fn drop(&mut self) {
        self.end.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            // It can only fail by a panic, which has ended the process.
            let _ = thread.join();
        }
    }
}

/// gilrs as this project uses it: raw values, no filters, no deadzones, no force feedback.
///
/// # Errors
/// gilrs' own, as text.
pub fn open_gilrs(env_mappings: bool) -> Result<Gilrs, String> {
    GilrsBuilder::new()
        .with_default_filters(false)
        .with_force_feedback(false)
        .add_included_mappings(true)
        .add_env_mappings(env_mappings)
        .build()
        .map_err(|error| error.to_string())
}

struct Worker<N> {
    options: ReaderOptions,
    now: N,
    outbox: Outbox,
    places: Places,
    lookout: Lookout,
    /// Plugs (by sysfs path) that gilrs did not take for a pad even when made anew, and how often.
    refused: Vec<(PathBuf, u8)>,
    /// Plugs that may not be opened, which was said.
    forbidden: Vec<PathBuf>,
    breath: Breath,
    reports: Option<Reports>,
    end: Arc<AtomicBool>,
    board: Arc<Board>,
}

impl<N: Fn() -> Time> Worker<N> {
    fn run(mut self) {
        let Some(mut gilrs) = self.begin() else {
            return;
        };
        self.adopt(&gilrs);
        // From here on a press, a stop's above all, waits for nobody.
        feed_punctually();
        while !self.is_ended() {
            self.turn(&mut gilrs);
            self.outbox.flush();
            self.tell_streams();
            let now = (self.now)();
            if self.lookout.is_due(now) {
                for worn in self.places.worn(now) {
                    self.board.notice(worn);
                }
                self.trim_anew(now);
                if !self.fits(&gilrs) {
                    self.begin_anew(&mut gilrs);
                }
            }
        }
    }

    fn is_ended(&self) -> bool {
        self.end.load(Ordering::Relaxed) || self.outbox.is_abandoned()
    }

    fn begin(&mut self) -> Option<Gilrs> {
        let mut said = String::new();
        while !self.is_ended() {
            match open_gilrs(self.options.env_mappings) {
                Ok(gilrs) => return Some(gilrs),
                Err(why) if why == said => {}
                Err(why) => {
                    said.clone_from(&why);
                    self.board.notice(PadNotice::NotListening { why });
                }
            }
            std::thread::sleep(RETRY);
        }
        None
    }

    /// Waits for one event and handles it.
    fn turn(&mut self, gilrs: &mut Gilrs) {
        let asked = (self.now)();
        let mut wait = self.lookout.wait(asked);
        if self.outbox.is_behind() {
            wait = wait.shorter(BEHIND);
        }
        // gilrs counts whole milliseconds; less would be none.
        let wait = Duration::from_millis((wait.0 / 1_000_000).max(1));
        let event = gilrs.next_event_blocking(Some(wait));
        if self.breath.is_due(asked, (self.now)()) {
            std::thread::sleep(BREATH);
        }
        match event {
            Some(event) => {
                self.lookout.heard();
                self.handle(gilrs, &event);
            }
            None => {
                let now = (self.now)();
                if u128::from(now.since(asked).0) * 2 >= wait.as_nanos() {
                    self.lookout.rested();
                } else if self.lookout.returned_at_once(now) {
                    std::thread::sleep(PAUSE);
                }
            }
        }
    }

    fn handle(&mut self, gilrs: &Gilrs, event: &Event) {
        let now = (self.now)();
        let id = usize::from(event.id);
        match event.event {
            EventType::Connected => {
                self.lookout.hotplug(now);
                self.unplug_gilrs(id);
                if let Some(pad) = gilrs.connected_gamepad(event.id) {
                    let device = self.device_of(&pad);
                    self.plug(id, device, &pad);
                }
            }
            EventType::Disconnected => {
                self.lookout.hotplug(now);
                self.unplug_gilrs(id);
            }
            ref spoken => {
                let Some((pad, place)) = self.places.of_gilrs(id) else {
                    return;
                };
                if !place.is_news(event.time, now) {
                    return;
                }
                if let Some(reports) = &place.reports {
                    reports.changed(now);
                }
                let Some(spoken) = Spoken::from_event(spoken) else {
                    return;
                };
                let outbox = &mut self.outbox;
                let (told, trimmer) = (&mut place.told, &mut place.trimmer);
                place.state.hear(spoken, |event| {
                    let event = trimmer.as_mut().map_or(event, |t| t.take(event, now));
                    if event != PadEvent::Alive || now.since(*told) >= ALIVE_EVERY {
                        *told = now;
                        outbox.post(PadInput {
                            at: now,
                            pad,
                            event,
                        });
                    }
                });
            }
        }
    }

    /// Compares gilrs' list with the kernel's. A pad that is gone is told at once; `false` if
    /// gilrs has been wrong for so long that it must be made anew.
    fn fits(&mut self, gilrs: &Gilrs) -> bool {
        let now = (self.now)();
        let there = device::list(Path::new(device::INPUT_CLASS));
        let gone: Vec<PadId> = self
            .places
            .iter()
            .filter(|(_, place)| !there.iter().any(|device| is_same(device, &place.device)))
            .filter(|(_, place)| !place.device.sysfs.as_os_str().is_empty())
            .map(|(pad, _)| pad)
            .collect();
        for pad in gone {
            self.unplug(pad);
        }
        let is_there = |plug: &PathBuf| there.iter().any(|device| device.sysfs == *plug);
        self.refused.retain(|(plug, _)| is_there(plug));
        self.forbidden.retain(is_there);
        let unknown = there.iter().any(|device| self.is_missed(device));
        let stale = !self.places.is_full()
            && gilrs
                .gamepads()
                .any(|(id, _)| self.places.of_gilrs(usize::from(id)).is_none());
        !self.lookout.judge(now, !unknown && !stale)
    }

    /// Whether this is a pad that could be read, has room, and is not known.
    fn is_missed(&mut self, device: &Device) -> bool {
        let known = self
            .places
            .iter()
            .any(|(_, place)| is_same(device, &place.device));
        let refused = self
            .refused
            .iter()
            .any(|(plug, tries)| *plug == device.sysfs && *tries >= TRIES);
        if known || refused || self.places.is_full() {
            return false;
        }
        match File::options().read(true).write(true).open(&device.node) {
            Ok(_) => true,
            Err(error) => {
                if error.kind() == io::ErrorKind::PermissionDenied
                    && !self.forbidden.contains(&device.sysfs)
                {
                    self.forbidden.push(device.sysfs.clone());
                    self.board.notice(PadNotice::NoPermission {
                        node: device.node.clone(),
                        name: device.name.clone(),
                    });
                }
                false
            }
        }
    }

    /// Makes gilrs anew. The old one is read to its end after the new one has opened the pads, so
    /// that nothing is lost in between; what both heard is told apart by the kernel's times.
    fn begin_anew(&mut self, gilrs: &mut Gilrs) {
        // Listed beforehand: what is plugged in while gilrs starts is missed, not refused.
        let there = device::list(Path::new(device::INPUT_CLASS));
        // Long work, and a thread of gilrs' own that would have our scheduling.
        feed_at_leisure();
        let fresh = open_gilrs(self.options.env_mappings);
        feed_punctually();
        self.lookout.renewed((self.now)());
        match fresh {
            Ok(fresh) => {
                let mut old = std::mem::replace(gilrs, fresh);
                let (mut silent, mut left) = (0, MOST_LEFT);
                while silent < EMPTY && left > 0 {
                    match old.next_event() {
                        Some(event) => {
                            silent = 0;
                            left -= 1;
                            self.handle(&old, &event);
                        }
                        None => silent += 1,
                    }
                }
                drop(old);
                self.adopt(gilrs);
                for device in there {
                    if self.is_missed(&device) {
                        self.refuse(device.sysfs);
                    }
                }
            }
            Err(why) => self.board.notice(PadNotice::NotListening { why }),
        }
    }

    /// Takes over the list of a gilrs that was just made: known pads keep their places, those it
    /// does not have are gone, the others are new.
    fn adopt(&mut self, gilrs: &Gilrs) {
        let now = (self.now)();
        for (_, place) in self.places.iter_mut() {
            place.gilrs = None;
        }
        let mut fresh = Vec::new();
        for (id, pad) in gilrs.gamepads() {
            let id = usize::from(id);
            let device = self.device_of(&pad);
            let known = self
                .places
                .iter_mut()
                .find(|(_, place)| is_same(&device, &place.device));
            match known {
                Some((_, place)) => place.rebind(id, now),
                None => fresh.push((id, device, pad)),
            }
        }
        let gone = self
            .places
            .iter()
            .filter(|(_, place)| place.gilrs.is_none());
        for pad in gone.map(|(pad, _)| pad).collect::<Vec<_>>() {
            self.unplug(pad);
        }
        for (id, device, pad) in fresh {
            self.plug(id, device, &pad);
        }
    }

    fn refuse(&mut self, plug: PathBuf) {
        match self.refused.iter_mut().find(|(known, _)| *known == plug) {
            Some((_, tries)) => *tries = tries.saturating_add(1),
            None => self.refused.push((plug, 1)),
        }
    }

    fn device_of(&self, pad: &Gamepad<'_>) -> Device {
        let node = pad.devpath();
        Device::at_node(Path::new(device::INPUT_CLASS), node).unwrap_or_else(|| Device {
            node: node.to_path_buf(),
            id: node.display().to_string(),
            name: pad.os_name().to_string(),
            ..Device::default()
        })
    }

    fn plug(&mut self, gilrs: usize, device: Device, pad: &Gamepad<'_>) {
        let drives = PadChoice::lets_drive(&self.options.choices, &device.id);
        let bus = self.bus_of(&device);
        let [left, right] = [
            (Axis::LeftZ, Key::LeftTrigger2),
            (Axis::RightZ, Key::RightTrigger2),
        ]
        .map(|(axis, key)| {
            pad.axis_code(axis).is_some() || pad.button_code(key).is_some_and(is_axis)
        });
        let state = PadState::new(left, right);
        let trim = self.trim_of(&device);
        let place = Place::new(gilrs, device, (bus, drives), state, trim);
        match self.places.put(place) {
            Ok(pad) => {
                self.tell(pad, PadEvent::Plugged { bus, drives });
                self.watch_reports(pad);
            }
            Err(place) => self.board.notice(PadNotice::NoRoom {
                id: place.device.id,
            }),
        }
        self.board.publish(&self.places);
    }

    fn unplug_gilrs(&mut self, gilrs: usize) {
        let pad = self.places.of_gilrs(gilrs).map(|(pad, _)| pad);
        if let Some(pad) = pad {
            self.unplug(pad);
        }
    }

    fn unplug(&mut self, pad: PadId) {
        self.tell(pad, PadEvent::Unplugged);
        self.places.remove(pad);
        self.board.publish(&self.places);
    }

    fn tell(&mut self, pad: PadId, event: PadEvent) {
        let at = (self.now)();
        self.outbox.post(PadInput { at, pad, event });
    }
}

/// The same plug of the same pad.
fn is_same(a: &Device, b: &Device) -> bool {
    a.node == b.node && a.sysfs == b.sysfs
}
