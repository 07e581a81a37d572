//! Pads and their controls: who drives what, and what was seen centred.

use crate::event::{Bus, PadId};
use crate::facts::{AxisFacts, ControlFacts, ControlId, Facts, Unit};
use crate::units::{Axes, Nanos};

/// Centred means under this share of the deadband ...
const CENTRED_SHARE: f64 = 0.8;
/// ... without a break for this long, less two ticks: an engine sees edges by the tick.
const CENTRED_FOR: Nanos = Nanos::millis(200);

#[derive(Clone, Debug)]
struct Control {
    raw: f64,
    value: Option<f64>,
    outside: bool,
    /// When it was last outside its deadband, if it no longer is.
    left: Nanos,
    centred_since: Option<Nanos>,
    /// Axes for which it was seen centred since their last withholding event.
    armed: Axes,
}

impl Control {
    const UNKNOWN: Control = Control {
        raw: 0.0,
        value: None,
        outside: false,
        left: Nanos::NEVER,
        centred_since: None,
        armed: Axes::NONE,
    };

    /// Arms it for every axis it has been centred long enough for.
    fn arm(&mut self, t: Nanos, drives: &ControlFacts, withheld: &[Nanos], ticks: f64) {
        let Some(since) = self.centred_since else {
            return;
        };
        for drive in &drives.drives {
            let Some(&withheld) = withheld.get(drive.axis) else {
                continue;
            };
            let start = if withheld > since { withheld } else { since };
            if t.since(start) >= CENTRED_FOR.secs() - ticks - 1e-9 {
                self.armed = self.armed.with(Axes::one(drive.axis));
            }
        }
    }
}

/// One pad.
#[derive(Clone, Debug)]
pub(crate) struct Pad {
    pub id: PadId,
    pub bus: Bus,
    pub last_event: Nanos,
    /// Its silence was reported; any event renews it.
    pub silent: bool,
    release_since: Option<Nanos>,
    controls: Vec<Control>,
}

impl Pad {
    pub fn new(id: PadId, bus: Bus, t: Nanos, controls: usize) -> Pad {
        let controls = vec![Control::UNKNOWN; controls];
        Pad {
            id,
            bus,
            last_event: t,
            silent: false,
            release_since: None,
            controls,
        }
    }

    /// Takes a value; says whether it is another one, and whether what it asks for by itself can
    /// have changed.
    pub fn stick(
        &mut self,
        t: Nanos,
        id: ControlId,
        value: f64,
        facts: &Facts,
        withheld: &[Nanos],
    ) -> (bool, bool) {
        let index = usize::from(id.0);
        let (Some(about), Some(control)) =
            (facts.controls.get(index), self.controls.get_mut(index))
        else {
            return (false, false);
        };
        control.arm(t, about, withheld, 2.0 * facts.tick.secs());
        let x = trimmed(about, value);
        let changed = control.value != Some(x);
        let was_outside = control.outside;
        control.value = Some(x);
        control.raw = value;
        if x.abs() >= CENTRED_SHARE * about.deadband {
            control.centred_since = None;
        } else if control.centred_since.is_none() {
            control.centred_since = Some(t);
        }
        self.set_outside(t, index, facts);
        if let Some(partner) = about.partner {
            self.set_outside(t, usize::from(partner.0), facts);
        }
        let outside = self.controls.get(index).is_some_and(|c| c.outside);
        (changed, changed && (was_outside || outside))
    }

    fn set_outside(&mut self, t: Nanos, index: usize, facts: &Facts) {
        let Some(about) = facts.controls.get(index) else {
            return;
        };
        let other = about
            .partner
            .and_then(|p| self.controls.get(usize::from(p.0)))
            .and_then(|c| c.value);
        let Some(control) = self.controls.get_mut(index) else {
            return;
        };
        let Some(x) = control.value else { return };
        let y = other.unwrap_or(0.0);
        let outside = (x * x + y * y).sqrt() > about.deadband;
        if control.outside && !outside {
            control.left = t;
        }
        control.outside = outside;
    }

    /// Withholds: forgets what was seen centred, for these axes.
    pub fn disarm(&mut self, axes: Axes) {
        for control in &mut self.controls {
            control.armed = control.armed.without(axes);
        }
    }

    /// Reads every known value again by new facts.
    pub fn reread(&mut self, t: Nanos, facts: &Facts, withheld: &[Nanos]) {
        self.controls.resize(facts.controls.len(), Control::UNKNOWN);
        for index in 0..self.controls.len() {
            let known = self
                .controls
                .get(index)
                .filter(|c| c.value.is_some())
                .map(|c| c.raw);
            if let (Some(raw), Ok(id)) = (known, u16::try_from(index)) {
                self.stick(t, ControlId(id), raw, facts, withheld);
            }
        }
    }

    /// Whether a stick asks for motion of the axis, or did within `grace` seconds.
    pub fn asks(
        &mut self,
        t: Nanos,
        axis: usize,
        of: &[ControlId],
        facts: &Facts,
        withheld: &[Nanos],
        grace: f64,
    ) -> bool {
        for id in of {
            let index = usize::from(id.0);
            let (Some(control), Some(about)) =
                (self.controls.get_mut(index), facts.controls.get(index))
            else {
                continue;
            };
            if !control.outside && t.since(control.left) > grace {
                continue;
            }
            control.arm(t, about, withheld, 2.0 * facts.tick.secs());
            if control.armed.has(axis) {
                return true;
            }
        }
        false
    }

    /// Whether a control outside its deadband asks for speed in the direction `way` or none at all:
    /// false as soon as one asks for the other way.
    pub fn never_against(&self, axis: usize, of: &[ControlId], facts: &Facts, way: f64) -> bool {
        of.iter().all(|id| {
            let index = usize::from(id.0);
            let (Some(control), Some(about)) =
                (self.controls.get(index), facts.controls.get(index))
            else {
                return true;
            };
            let reversed = about.drives.iter().any(|d| d.axis == axis && d.reversed);
            let ask = if reversed { -way } else { way };
            !control.outside || control.value.is_none_or(|x| x * ask > 0.0)
        })
    }

    /// Release button down or up.
    pub fn release_button(&mut self, t: Nanos, down: bool) {
        self.release_since = match (self.release_since, down) {
            (Some(since), true) => Some(since),
            (None, true) => Some(t),
            (_, false) => None,
        };
    }

    /// Whether a stop may have been released: button held long enough, known sticks that drive
    /// something centred.
    pub fn releases(&self, t: Nanos, facts: &Facts) -> bool {
        let held = self
            .release_since
            .is_some_and(|s| t.since(s) >= facts.release_hold.secs() - facts.step_s() - 1e-9);
        held && self.controls.iter().zip(&facts.controls).all(|(c, about)| {
            c.value.is_none() || c.centred_since.is_some() || about.drives.is_empty()
        })
    }

    /// How long the pad may be silent while the axis moves at `speed`, s; none when it may for ever.
    ///
    /// The time in which the motion covers 30 degrees or 300 mm, clamped by the kind of pad.
    pub fn silence_bound(&self, axis: &AxisFacts, speed: f64) -> Option<f64> {
        let reach = match axis.unit {
            Unit::Deg => 30.0,
            Unit::Mm => 300.0,
        };
        let bound = if speed == 0.0 {
            f64::INFINITY
        } else {
            reach / speed.abs()
        };
        match self.bus {
            Bus::Wired => None,
            Bus::Usb => Some(bound.clamp(10.0, 60.0)),
            Bus::Bluetooth => Some(bound.clamp(2.0, 60.0)),
            Bus::Streaming => Some(0.3),
        }
    }
}

/// Takes centre and reach out of a raw value.
fn trimmed(about: &ControlFacts, raw: f64) -> f64 {
    let off = raw - about.centre;
    let reach = if off < 0.0 {
        about.reach[0]
    } else {
        about.reach[1]
    };
    if reach > 0.0 { off / reach } else { off }
}
