//! The far end of a real pseudo-terminal: the reference rig behind a master the test owns, so that
//! the test can record, twist, silence, clog and pull the line.

#![allow(dead_code)] // Each test uses its own part of it.

use std::os::fd::{AsFd, OwnedFd};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Condvar, Mutex, MutexGuard};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use rustix::fs::{Mode, OFlags};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{OptionalActions, Termios, tcgetattr, tcsetattr};
use stillhand_rig::{Config, Inputs, Rig};
use stillhand_wire::messages::FromRig;
use stillhand_wire::{FromRigDeframer, RESYNC, ToRig, ToRigDeframer, encode};

use super::tape::Tape;

/// Longest wait for something that must come, on a loaded machine too.
pub const PATIENCE: Duration = Duration::from_secs(20);

/// Changes what the rig says; `None` swallows it.
pub type Twist = Box<dyn FnMut(FromRig) -> Option<FromRig> + Send>;

/// How the far end behaves; all of it can be changed while it runs.
struct State {
    tape: Tape,
    /// Per axis, of the last velocity frame, in 1/1024 count/s. For pacing only: what is asserted
    /// comes from the tape through the Python decoder.
    asked: Vec<i32>,
    /// Per axis, what the rig commands its motors now.
    driven: Vec<i32>,
    positions: Vec<i32>,
    refused: u32,
    reading: bool,
    deaf: bool,
    inputs: Inputs,
    twist: Option<Twist>,
    /// Bytes to say once, as they are.
    babble: Vec<u8>,
    /// The rig starts anew as this one.
    reboot: Option<Config>,
    /// Our end of the cable; `None` while it is pulled.
    master: Option<Arc<OwnedFd>>,
    over: bool,
}

struct Shared {
    state: Mutex<State>,
    changed: Condvar,
}

/// The far end, running.
pub struct Line {
    path: PathBuf,
    /// Held open so that the line stays up while no daemon has it.
    slave: Mutex<Option<OwnedFd>>,
    shared: Arc<Shared>,
    thread: Option<JoinHandle<()>>,
}

impl Line {
    /// A rig of this description, just switched on.
    pub fn start(config: Config) -> Line {
        Line::start_at(config, 0)
    }

    /// The same with its clock at `clock_us`.
    pub fn start_at(config: Config, clock_us: u32) -> Line {
        let (master, slave, path) = raw_pty();
        let axes = config.axes.len();
        let shared = Arc::new(Shared {
            state: Mutex::new(State {
                tape: Tape::default(),
                asked: vec![0; axes],
                driven: vec![0; axes],
                positions: vec![0; axes],
                refused: 0,
                reading: true,
                deaf: false,
                inputs: Inputs::default(),
                twist: None,
                babble: Vec::new(),
                reboot: None,
                master: Some(Arc::new(master)),
                over: false,
            }),
            changed: Condvar::new(),
        });
        let theirs = Arc::clone(&shared);
        let thread = std::thread::spawn(move || serve(&theirs, config, clock_us));
        Line {
            path,
            slave: Mutex::new(Some(slave)),
            shared,
            thread: Some(thread),
        }
    }

    /// The port a daemon opens.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Back to what a terminal is before anyone sets it up: echo, line editing, hang-up on close.
    pub fn cook(&self) {
        let mut termios = self.termios();
        termios.local_modes |= rustix::termios::LocalModes::ICANON
            | rustix::termios::LocalModes::ECHO
            | rustix::termios::LocalModes::ISIG;
        termios.input_modes |= rustix::termios::InputModes::ICRNL;
        termios.output_modes |= rustix::termios::OutputModes::OPOST;
        termios.control_modes |= rustix::termios::ControlModes::HUPCL;
        self.with_slave(|slave| tcsetattr(slave, OptionalActions::Now, &termios).expect("termios"));
    }

    /// How the port is set up.
    pub fn termios(&self) -> Termios {
        self.with_slave(|slave| tcgetattr(slave).expect("termios"))
    }

    fn with_slave<T>(&self, what: impl FnOnce(&OwnedFd) -> T) -> T {
        let slave = self.slave.lock().expect("sound");
        what(slave.as_ref().expect("the cable is in"))
    }

    /// Pulls the cable; the rig stays on.
    pub fn pull(&self) {
        *self.slave.lock().expect("sound") = None;
        self.state().master = None;
    }

    /// Puts the cable back in; where the port is now.
    pub fn put_back(&self) -> PathBuf {
        let (master, slave, path) = raw_pty();
        *self.slave.lock().expect("sound") = Some(slave);
        self.state().master = Some(Arc::new(master));
        path
    }

    /// Puts these bytes on the line as if the daemon had sent them.
    pub fn forge(&self, bytes: &[u8]) {
        self.with_slave(|slave| rustix::io::write(slave, bytes).expect("the rig reads"));
    }

    /// Changes what the rig says from now on.
    pub fn twist(&self, twist: impl FnMut(FromRig) -> Option<FromRig> + Send + 'static) {
        self.state().twist = Some(Box::new(twist));
    }

    /// It says what is true again.
    pub fn honest(&self) {
        self.state().twist = None;
    }

    /// Stops reading the line, so that it fills up, or goes on.
    pub fn read(&self, reading: bool) {
        self.state().reading = reading;
    }

    /// Hears nothing: what comes is recorded and thrown away.
    pub fn deaf(&self) {
        self.state().deaf = true;
    }

    /// Says these bytes as they are.
    pub fn babble(&self, bytes: &[u8]) {
        self.state().babble.extend_from_slice(bytes);
    }

    /// What the rig senses from now on.
    pub fn sense(&self, inputs: Inputs) {
        self.state().inputs = inputs;
    }

    /// Switched off and on again as this one.
    pub fn reboot(&self, config: Config) {
        self.state().reboot = Some(config);
    }

    /// What was recorded so far.
    pub fn tape(&self) -> Tape {
        self.state().tape.clone()
    }

    /// How many frames the rig did not act upon.
    pub fn refused(&self) -> u32 {
        self.state().refused
    }

    /// Where the axes are, in counts.
    pub fn positions(&self) -> Vec<i32> {
        self.state().positions.clone()
    }

    /// Waits until a daemon has said anything on this line.
    pub fn want_greeted(&self) -> Instant {
        self.want("a greeting", |state| !state.tape.is_empty())
    }

    /// Waits until the last velocity frame satisfies `right`; counts/s per axis.
    pub fn want_asked(&self, what: &str, right: impl Fn(&[f64]) -> bool) -> Instant {
        self.want(what, |state| right(&counts(&state.asked)))
    }

    /// Waits until what the motors are told satisfies `right`; counts/s per axis.
    pub fn want_driven(&self, what: &str, right: impl Fn(&[f64]) -> bool) -> Instant {
        self.want(what, |state| right(&counts(&state.driven)))
    }

    /// Asserts that the motors are told to stand still for all of `time`.
    pub fn assert_rest_for(&self, time: Duration, when: &str) {
        let end = Instant::now() + time;
        let mut state = self.state();
        while let Some(left) = end.checked_duration_since(Instant::now()) {
            let driven = &state.driven;
            assert!(driven.iter().all(|v| *v == 0), "{when}: {driven:?}");
            state = self
                .shared
                .changed
                .wait_timeout(state, left)
                .expect("sound")
                .0;
        }
    }

    fn want(&self, what: &str, right: impl Fn(&State) -> bool) -> Instant {
        let end = Instant::now() + PATIENCE;
        let mut state = self.state();
        while !right(&state) {
            let left = end
                .checked_duration_since(Instant::now())
                .unwrap_or_else(|| {
                    panic!(
                        "{what}: did not come; asked {:?}, driven {:?}",
                        counts(&state.asked),
                        counts(&state.driven)
                    )
                });
            state = self
                .shared
                .changed
                .wait_timeout(state, left)
                .expect("sound")
                .0;
        }
        Instant::now()
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.shared.state.lock().expect("the far end did not panic")
    }
}

/// Pulls the cable: master and slave are closed.
impl Drop for Line {
    fn drop(&mut self) {
        if let Ok(mut state) = self.shared.state.lock() {
            state.over = true;
        }
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

fn counts(wire: &[i32]) -> Vec<f64> {
    wire.iter().map(|v| f64::from(*v) / 1024.0).collect()
}

/// One that changes nothing of what goes through it.
fn raw_pty() -> (OwnedFd, OwnedFd, PathBuf) {
    let (master, slave, path) = pty();
    let mut termios = tcgetattr(&slave).expect("termios");
    termios.make_raw();
    tcsetattr(&slave, OptionalActions::Now, &termios).expect("termios");
    (master, slave, path)
}

/// A pseudo-terminal that no child of the test inherits: a copy would keep the line up.
pub fn pty() -> (OwnedFd, OwnedFd, PathBuf) {
    let flags = OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC;
    let master = openpt(flags).expect("a pseudo-terminal");
    grantpt(&master).expect("grant");
    unlockpt(&master).expect("unlock");
    let name = ptsname(&master, Vec::new()).expect("its name");
    let open = OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC;
    let slave = rustix::fs::open(&name, open, Mode::empty()).expect("its port");
    let flags = rustix::fs::fcntl_getfl(&master).expect("flags");
    rustix::fs::fcntl_setfl(&master, flags | OFlags::NONBLOCK).expect("flags");
    (
        master,
        slave,
        PathBuf::from(name.to_string_lossy().into_owned()),
    )
}

/// A rig's processor has nothing else to do; on a loaded machine ours needs the right to say so. The
/// test's own thread needs it as well, because the two share a lock. Children do not inherit it.
pub fn be_punctual() {
    let parameters = libc::sched_param { sched_priority: 30 };
    let policy = libc::SCHED_FIFO | libc::SCHED_RESET_ON_FORK;
    // SAFETY: 0 is the calling thread and `parameters` lives through the call. Refused to anyone
    // but root, and then the bounds have to do.
    unsafe { libc::sched_setscheduler(0, policy, &raw const parameters) };
}

fn serve(shared: &Shared, config: Config, clock_us: u32) {
    be_punctual();
    let began = Instant::now();
    let micros = || clock_us.wrapping_add(began.elapsed().as_micros() as u32);
    let mut rig = Rig::new(config, Inputs::default(), micros());
    let (mut heard, mut said) = (ToRigDeframer::new(), FromRigDeframer::new());
    let mut due = began;
    loop {
        due += Duration::from_millis(1);
        if let Some(wait) = due.checked_duration_since(Instant::now()) {
            std::thread::sleep(wait);
        }
        let Ok(mut state) = shared.state.lock() else {
            return;
        };
        if state.over {
            return;
        }
        if let Some(config) = state.reboot.take() {
            rig = Rig::new(config, state.inputs, micros());
        }
        rig.set_inputs(state.inputs);
        let mut out = Vec::new();
        let mut buffer = [0; 4096];
        let master = state.master.clone();
        while state.reading
            && let Some(master) = &master
            && let Ok(count @ 1..) = rustix::io::read(master, &mut buffer)
        {
            let bytes = &buffer[..count];
            state.tape.take(Instant::now(), bytes);
            heard.feed::<ToRig>(bytes, |message| {
                if let ToRig::Velocity { velocity, .. } = message {
                    state.asked = velocity.to_vec();
                }
            });
            if !state.deaf {
                rig.on_bytes(bytes, micros(), &mut |frame| out.extend_from_slice(frame));
            }
        }
        rig.tick(micros(), &mut |frame| out.extend_from_slice(frame));
        if let Some(master) = &master {
            say(master, &mut state, &mut said, &out);
        }
        let axes = 0..state.driven.len();
        let outputs: Vec<_> = axes.filter_map(|axis| rig.output(axis)).collect();
        state.driven = outputs.iter().map(|output| output.velocity).collect();
        state.positions = outputs.iter().map(|output| output.position).collect();
        state.refused = rig.telemetry(micros()).frames_refused;
        shared.changed.notify_all();
    }
}

/// Writes what fits: a rig does not wait for a daemon that does not read.
fn say(master: &OwnedFd, state: &mut State, said: &mut FromRigDeframer, out: &[u8]) {
    let mut line = std::mem::take(&mut state.babble);
    match &mut state.twist {
        None => line.extend_from_slice(out),
        Some(twist) => said.feed::<FromRig>(out, |message| {
            if let Some(message) = twist(message) {
                line.extend_from_slice(&RESYNC);
                line.extend_from_slice(&encode(&message).expect("fits a frame"));
            }
        }),
    }
    if !line.is_empty() {
        let _ = rustix::io::write(master.as_fd(), &line);
    }
}
