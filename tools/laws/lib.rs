//! The laws checker: watches a world from outside and says which of the ten laws it broke.
//!
//! It sees what went in (pad events, files, commands, losses), the frames that went out and the
//! true state of the rig; never the engine's state. It shares no code with the engine or the wire,
//! so that it cannot share a mistake with them: its closed forms and its reading of the laws are
//! its own, proven against figures from outside and against doctored traces.
//!
//! ```
//! use stillhand_laws::{AxisFacts, Checker, Event, Facts, Frame, Nanos, Set, Travel, Unit};
//! let pan = AxisFacts {
//!     name: "pan".into(),
//!     unit: Unit::Deg,
//!     count: 0.036,
//!     travel: Travel::Ends { low: -170.0, high: 170.0 },
//!     referenced: true,
//!     normal: Set::new(60.0, 300.0),
//!     stop_plus: Set::new(120.0, 900.0),
//!     stop_minus: Set::new(120.0, 900.0),
//!     delay: Nanos::millis(10),
//!     speed_ceiling: 30.0,
//!     needs_enable: false,
//!     plant_speed_error: 0.0,
//! };
//! let mut checker = Checker::new(Facts::new(vec![pan], vec![], Nanos::millis(4)));
//! checker.event(Nanos::ZERO, &Event::LinkReady { session: 1 });
//! checker.frame(Nanos::millis(4), &Frame { speeds: &[0.001] });
//! assert!(checker.breaches()[0].to_string().starts_with("law consent broken at 0.004 s, axis pan"));
//! ```
//!
//! # Feeding it
//!
//! - Calls come in the order of their times; at equal times `Tick` and the inputs that tick saw
//!   first, then its frame, then the plant. Late calls are not an error, only judged less sharply.
//! - A frame's time is the time of its tick, from which the engine integrates, not the moment its
//!   bytes were seen: 50 us of scheduling at 250 Hz look like a jerk of hundreds. Where only that
//!   moment is known, say how far it may be off (`Facts::frame_time_error`).
//! - `Ceiling` carries one effective figure per axis, whatever binds. `NormalSet` carries the rig's
//!   set as profile and quiet lowered it, gaining and losing. Send both with `Quiet`.
//! - Recalls, inching and the like are `Ask`ed for and must be said to have ended.
//! - `Residual` is a stop of that axis by itself.
//! - `Unsent` says in each tick that its frame could not leave: that time counts as that of a late turn, and the
//!   stop set may brake behind it.
//! - `RigStops` and `LinkLost` grant the plant the rig's own stop, which hears no frame.
//! - `FramesLost` grants the plant a watchdog's time by an older frame, and what that may arrive late by; the frames
//!   themselves are judged as ever.
//!
//! # The laws
//!
//! q is the wire's quantum, 1/1024 count/s; a step is the longer of tick and frame period. With
//! the remainder carried, a speed is off by up to q: so a difference of two by 2 q, and a second
//! difference by 4 q. a = dv/dt and j = da/(mean of the two dt) are means over real intervals, so
//! a motion inside its limits stays inside them at any spacing of frames. Of a tick that comes late
//! two periods count: what passes beyond changes no speed and may not be made up for; a stop under
//! way, and a slowing down for quiet, end as much later.
//!
//! | law | what is measured | tolerance, and why | proven by (`tests/`) |
//! |---|---|---|---|
//! | ceiling | \|v\| of frames and plant against the effective ceiling; after a drop against the fastest legal descent by the softest losing set that may be in force | q; the descent starts two frames after the change, from the speed then and the highest acceleration its mean allows (input, tick), anew at a fall that comes under or while landing, and lands a tick late (whole ticks); plant: the bound of the last delay + 3 steps, and the stop of a rig that stops by itself, which takes off the acceleration of a frame ago first (behind lost frames half as much again as the highest among them) and hears no frame | motion: 1 % over at four rates, 2.5 q over, a drop obeyed 0.2 s late or by 85 % of the set, plant 1 % over; descent: 90 % of the set, with the set made harder or softer in the same moment, a brake off early, a second fall, a fall without end; loss: a rig's own stop 60 % beyond its run-out, or 50 ms late behind frames it does not hear; near: 1 q, 1.5 frames late, the old set kept, 20 % beyond |
//! | smooth | \|a\|, \|j\| of frames against the hardest normal set since rest; stop set while a stop or a late plan is in force; landing jerk 1.05 a^2/(2\|v\|) while braking | 2 q/dt, 4 q/(dt dt'); 1e-6 for rounding; after an interruption 2 q on the speed | motion: one frame 3 % over in jerk, 2 % in acceleration, the stop set with no stop, 3 % over the stop set, a harder set after rest, faster (3 q) or turned after a gap, a late tick made up for; unsent: a jump behind a gap, a hard brake without one; near: 2 q faster after a gap, jerk at 98 % of the tolerance, each cause of a stop |
//! | travel | true position of a referenced axis, powered; outside: the excess only shrinks, once a link is ready | one count, what a position is made of | motion: 1.1 counts over either end, outward from outside, out again once inside; near: 0.9 counts |
//! | consent | from rest (two frames): some consent stands, or did within 3 steps; in motion without: the fastest legal descent to rest; plant at rest with its frames, or braked by the stop set from what it did when power came back | q/2 from rest; in motion q, a tick and, while landing, a step and a half; centred 200 ms less two ticks, since an engine sees edges by the tick | consent: first value outside, centred too briefly, each withholding event, stop not released, deaf to a centred stick, sustain ended, no reference, no enable, the other stick, a plant by itself, one that coasts longer than the stop set brakes or faster again; descent: 90 % of the set, a brake eased further than a softer set asks, started again before the slowest descent would be over, a quantum after two frames of none; near: a brake eased to the softer set, 1, 0, 1, 0 quanta |
//! | loss | after STOP, end, pad lost or silent, link or power lost, lateness, residual, missing frames: time and distance to rest by the stop set, from the state at the event | one step of the old motion, 3 steps, declared delay, no way back of a brake that goes across rest, the watchdog's wait when the link is gone or frames were lost, 2 ms of a rig's clock, and its own stop by whole counts of the stop set; distance also one count | loss: each cause 10 % too long and begun 50 ms late, lateness, rig 50 ms late, 1.5 deg too far, a rig's own stop by two counts of thirteen less, each kind of pad silent 60 ms too long, never seen to end, 60 ms more than a late tick held it up; unsent: 60 ms nobody told of |
//! | quiet | after the time to slow down \|v\|, after that to rest \|a\| and \|j\|, against the quiet ceilings (a, j neither during a stop nor while an end is too near for a quiet one and a lateness bound, from when the quiet set may first take over, again if the ceiling falls on before, a gain too hard for it eased off); a softer set that waits may slow down under its ceiling; time inside an avoided band | as ceiling and smooth; a band: without braking the softest crossing and one tick, the tick in which braking begins or ends left out; in all two such crossings, up and back, and the ticks left out, anew when it is turned around again by a hand that moved by a fifth meanwhile, or a button; none of it while that set brakes for an end, or pushed away from it | quiet: speed 5 % over, acceleration 10 %, jerk 50 %, motion in `still`, a rest 40 ms later than a late turn excuses, the old set's brake with room for the quiet one and more than a lateness bound, a rest by 80 % of a softer set that waited, 1.5 deg/s in a band 1..2, a slow brake through a band far from any end, a slow gain through one band, turned around in a band by a hand that moves by a tenth, a hard brake a second after quiet came while it gained; near: 99 % of the set, the old set's brake for an end and with less than a lateness bound to spare, a rest by the softer set that waited or came then, crossing, 0.9 deg/s, that brake at an end, that gain through two bands, turned around in a band by a hand that moves by 0.3 |
//! | whole | [`compare_unchanged`] for a broken file, [`compare_whole`] for a good one | to the bit before the change; 2 q after it, a rounding in each run | compare: one axis by the new and one by the old, between both, back to the old, 3 q, one bit; near: 2 q, all waiting |
//! | same | [`compare_same`]: times and bits of every frame | none | compare: one bit, signed zeros, a nanosecond, a frame less |
//! | intact | setpoint or watchdog moved by a frame that was not valid, by what the carrier did or by its session, sequence and deadline | none; a deadline is met at its own nanosecond | intact: each kind, by either evidence; near: ignored ones, wrapping, a deadline just met |
//! | sense | sign changes while nothing changes: speed 1, jerk 6; run-back from an end | jerk over its tolerance and 1 % of the limit (a plan's rounding dithers around zero); while ceilings are shared out among axes that move, each step is a change; 4 more for each band to avoid that it was in; speed over q; one more crossing when, at the change, no limit could prevent it; run-back one count, once a frame since the position was set anew tells the way and the mechanics follow it | sense: 7 changes of jerk, beside a band too, 2 of speed, 2 counts back from either end; near: 6, 7 through a band, 1, 0.9 counts |
//!
//! # Which set is in force
//!
//! Harder limits count at once, number by number. A softer set takes over only when speed and
//! acceleration fit it; until then the old one stays in force. When that moment has come an engine
//! knows better than its frames show, so both sets are legal from the first frame that fits until
//! the axis has come to rest, and each law grants what either could do:
//!
//! - `smooth` grants the hardest set offered since rest.
//! - A descent grants the softest: it goes by the losing set whose take-over is possible first. Only
//!   a brake may come off later than by that set, at up to the highest losing jerk since rest: the
//!   slowest course takes it off at the jerk that just ends at the ceiling (at rest: the landing
//!   jerk, up to the stop set's), because a softer jerk would dive below.
//!
//! Under the ceiling a brake that is too hard for a softer set that waits is eased to it at the jerk it
//! came with: hands that go on asking for less would keep that set waiting, and quiet with it. So from
//! the first frame under the ceiling that brakes the softer set counts, and what is beyond it may come
//! inside at the highest losing jerk since rest.
//!
//! So an engine may be harder than it says until its next rest, never softer than allowed. A losing
//! of speed counts from the speed at which it began; whoever feeds `NormalSet` reads that off the
//! frames and, where they leave it open, tells the harder set first and then the softer.

mod axis;
mod breach;
mod ceiling;
mod checker;
mod compare;
mod consent;
mod dwell;
mod event;
mod facts;
mod input;
mod intact;
mod judge;
mod loss;
mod motion;
mod pads;
mod quiet;
mod sense;
mod sets;
mod slew;
mod smooth;
mod stats;
mod travel;
mod units;

pub use breach::{BREACHES_KEPT, Breach, Law};
pub use checker::Checker;
pub use compare::{Change as ProfileChange, Trace, compare_same, compare_unchanged, compare_whole};
pub use event::{
    Arrival, Asked, Band, Bus, Change, Event, Frame, Handling, PadId, Plant, PlantAxis, QuietAxis,
};
pub use facts::{
    AxisFacts, Button, ControlFacts, ControlId, Drive, Facts, Normal, Set, Travel, Unit,
};
pub use slew::Slew;
pub use stats::{Peaks, Stats};
pub use units::{Axes, Nanos};
