//! Taking over another profile: what applies at once, and what waits for what.

use super::Engine;
use super::error::check_hands;
use crate::bindings::Binding;
use crate::motion::rig::RigMotion;
use crate::operate::hand::HandState;
use crate::operate::holders::Holders;
use crate::operate::modes::Mode;
use crate::operate::state::Event;
use crate::operator::{Hand, MAX_GROUPS, Operator, QUIET_SHARE, Quiet};
use crate::output::{Notice, Wait, Why};
use crate::units::{Speed, higher, lower};
use alloc::boxed::Box;

/// A change that raises a full stick's speed by more than this waits until the stick is centred.
const RAISED: f64 = 1.25;

/// What an edit of a profile is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Edit {
    /// Another operator.
    Operator,
    /// Which control drives which axis, and which axes are grouped together.
    Controls,
    /// Which way a stick drives its axis.
    Invert,
    /// What the buttons do, and what enables.
    Bindings,
    /// Deadband, saturation, curve, steadying, wedge, radial or axial, shares of a fine control or a trigger.
    Feel,
    /// Gain and lose times.
    Times,
    /// A full stick becomes slower, or faster by a quarter at most.
    Speeds,
    /// A full stick becomes faster by more than a quarter.
    Faster,
    /// Step and creep of inching.
    Inching,
    /// When pads shake.
    Shakes,
}

/// What an edit is held against: how the engine stands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Now {
    /// The gear of each group, 0 the slowest.
    pub gears: [u8; MAX_GROUPS],
    /// Whether quiet is on.
    pub quiet: bool,
    /// Whether the camera is rolling.
    pub rolling: bool,
}

impl Edit {
    /// What it waits for.
    pub const fn wait(self, now: &Now) -> Wait {
        match self {
            Edit::Operator if now.rolling => Wait::NotRolling,
            Edit::Operator | Edit::Controls | Edit::Invert | Edit::Bindings => Wait::RestAndCentred,
            Edit::Faster => Wait::Centred,
            Edit::Feel | Edit::Times | Edit::Speeds | Edit::Inching | Edit::Shakes => Wait::Nothing,
        }
    }
}

impl Engine {
    /// A profile that is out of use, once; a turn may bring two. Whoever may free memory takes it;
    /// nobody has to.
    pub fn retired(&mut self) -> Option<Box<Operator>> {
        self.retired.pop()
    }

    /// The profile in force.
    pub fn operator(&self) -> &Operator {
        &self.operator
    }

    /// What a changed profile that is not in force yet waits for; `None` if there is none.
    pub fn profile_waits(&self) -> Option<Wait> {
        let waiting = self.waiting.as_ref()?;
        Some(wait_for(&self.operator, waiting, &self.now_for_edits()))
    }

    fn now_for_edits(&self) -> Now {
        Now {
            gears: self.gears,
            quiet: self.modes.quiet.on(),
            rolling: self.modes.rolling.on(),
        }
    }

    /// Takes a new profile in; a newer one replaces one that still waits.
    pub(super) fn offer(&mut self, operator: Box<Operator>) {
        let axes = |rig: usize| self.rigs.get(rig).map(|r| r.axes().len());
        if check_hands(&operator, axes).is_err() {
            self.outputs.notices.push(Notice::ProfileRefused);
            self.retired.push(operator);
            return;
        }
        let wait = wait_for(&self.operator, &operator, &self.now_for_edits());
        if let Some(replaced) = self.waiting.replace(operator) {
            self.retired.push(replaced);
        }
        if !self.moment_for(wait) {
            self.outputs.notices.push(Notice::ProfileWaits(wait));
        }
    }

    /// Takes the waiting profile over when its moment has come, whole.
    pub(super) fn watch_profile(&mut self) {
        let Some(waiting) = &self.waiting else { return };
        let wait = wait_for(&self.operator, waiting, &self.now_for_edits());
        if !self.moment_for(wait) {
            return;
        }
        let Some(operator) = self.waiting.take() else {
            return;
        };
        let another = operator.name != self.operator.name;
        let regrouped = operator.groups != self.operator.groups;
        self.retired
            .push(core::mem::replace(&mut self.operator, operator));
        self.hands
            .resize(self.operator.hands.len(), HandState::NONE);
        if regrouped {
            self.regroup();
            self.begin_gears();
        }
        if another {
            self.begin_with_operator();
        }
        for group in 0..MAX_GROUPS {
            let most = self.operator.gears_of(group as u8) - 1;
            self.gears[group] = self.gears[group].min(most);
        }
        self.lower_kept_speeds();
        self.outputs.notices.push(Notice::ProfileApplied);
        self.modes_without_a_way_off();
        if wait >= Wait::RestAndCentred {
            self.happen(Event::Lost(Why::ProfileChanged));
        }
    }

    /// What is on and has no press any more goes off: at rest and centred nothing moves by it.
    fn modes_without_a_way_off(&mut self) {
        for mode in Mode::ALL {
            let bound = |b: &Binding| Mode::of(b.action) == Some(mode);
            if self.modes.get(mode).on() && !self.operator.bindings.iter().any(bound) {
                self.off(mode);
            }
        }
    }

    /// Other groups than before: the pad that held the first one has them all.
    fn regroup(&mut self) {
        let first = self.holders.first();
        self.holders = Holders::of(self.operator.groups.len());
        if let Some(pad) = first {
            self.holders.fill(pad);
            for group in 0..self.holders.count() as u8 {
                self.outputs
                    .notices
                    .push(Notice::Holds { group, pad: first });
            }
        }
    }

    /// Whether what a change waits for is so.
    fn moment_for(&self, wait: Wait) -> bool {
        match wait {
            Wait::Nothing => true,
            Wait::NotRolling => false,
            Wait::Centred => {
                let Some(waiting) = &self.waiting else {
                    return true;
                };
                let now = self.now_for_edits();
                let raised = |hand: &&Hand| raises(&self.operator, hand, waiting, &now);
                self.operator
                    .hands
                    .iter()
                    .filter(raised)
                    .all(|hand| self.is_centred(hand))
            }
            Wait::RestAndCentred => self.at_rest_and_centred(),
        }
    }

    /// Whether nothing moves, every known stick is centred, and no rig is about to take a reference.
    pub(super) fn at_rest_and_centred(&self) -> bool {
        self.rigs.iter().all(RigMotion::at_rest)
            && self.all_centred()
            && !self.reference.is_pending()
    }
}

/// What the change from `old` to `new` has to wait for: the most that any of its edits waits for.
///
/// At once: lower ceilings, deadband, saturation, curve, times, wedge, gears that are at most 1.25
/// times as fast. With the stick centred: a full stick that becomes faster than that. At rest and
/// with every stick centred: another operator, other bindings, another sense of plus.
pub fn wait_for(old: &Operator, new: &Operator, now: &Now) -> Wait {
    let mut most = Wait::Nothing;
    edits(old, new, now, &mut |edit, _| {
        most = most.max(edit.wait(now))
    });
    most
}

/// Every edit between two profiles, with the place of the new hand it is about; `None` for what is
/// about the whole profile.
pub fn edits(
    old: &Operator,
    new: &Operator,
    now: &Now,
    tell: &mut impl FnMut(Edit, Option<usize>),
) {
    if old.name != new.name {
        tell(Edit::Operator, None);
    }
    let bound = |hand: &Hand| {
        let fine = hand.fine.map(|fine| fine.source);
        (hand.rig, hand.axis, hand.group, hand.control, fine)
    };
    let trigger = |operator: &Operator| operator.speed_trigger.map(|t| t.control);
    let same_hands = old.hands.len() == new.hands.len()
        && old
            .hands
            .iter()
            .zip(&new.hands)
            .all(|(a, b)| bound(a) == bound(b));
    if !same_hands || old.groups != new.groups || trigger(old) != trigger(new) {
        tell(Edit::Controls, None);
    }
    if old.bindings != new.bindings || old.enable != new.enable {
        tell(Edit::Bindings, None);
    }
    if old.sticks != new.sticks || old.speed_trigger != new.speed_trigger {
        tell(Edit::Feel, None);
    }
    if old.shakes != new.shakes {
        tell(Edit::Shakes, None);
    }
    for (place, hand) in new.hands.iter().enumerate() {
        let same = |other: &&Hand| (other.rig, other.axis) == (hand.rig, hand.axis);
        let Some(before) = old.hands.iter().find(same) else {
            continue;
        };
        edits_of_hand(old, before, new, hand, now, &mut |edit| {
            tell(edit, Some(place))
        });
    }
}

fn edits_of_hand(
    old: &Operator,
    before: &Hand,
    new: &Operator,
    hand: &Hand,
    now: &Now,
    tell: &mut impl FnMut(Edit),
) {
    if before.invert != hand.invert {
        tell(Edit::Invert);
    }
    let share = |hand: &Hand| hand.fine.map(|fine| fine.share);
    let feel = |hand: &Hand| (hand.throw, hand.curve, hand.steady);
    if feel(before) != feel(hand) || share(before) != share(hand) {
        tell(Edit::Feel);
    }
    if before.gain != hand.gain || before.lose != hand.lose {
        tell(Edit::Times);
    }
    if before.inch != hand.inch {
        tell(Edit::Inching);
    }
    let speeds = |hand: &Hand| (hand.gears, hand.ceiling, hand.framing, hand.quiet);
    if raises(old, before, new, now) {
        tell(Edit::Faster);
    } else if speeds(before) != speeds(hand) {
        tell(Edit::Speeds);
    }
}

/// Whether the full stick of `hand`, one of `old`, becomes more than [`RAISED`] times as fast
/// under `new`.
fn raises(old: &Operator, hand: &Hand, new: &Operator, now: &Now) -> bool {
    let same = |other: &&Hand| (other.rig, other.axis) == (hand.rig, hand.axis);
    new.hands.iter().find(same).is_some_and(|other| {
        let (before, after) = (full(old, hand, now), full(new, other, now));
        after > RAISED * before || frees(&hand.quiet, &other.quiet, after, now)
    })
}

/// Whether an axis that a band of `old` holds at its lower edge would go more than [`RAISED`] times as fast
/// under `new`, where a full stick goes at `full`, without its stick being moved.
fn frees(old: &Quiet, new: &Quiet, full: f64, now: &Now) -> bool {
    let new = new.bands(now.quiet);
    old.bands(now.quiet).iter().any(|band| {
        // The most that is asked for inside of it.
        let most = lower(full, band.high.0) * (1.0 - ROUNDING);
        new.under(Speed(most)).0 > RAISED * band.low.0
    })
}

/// Share of a speed that is nothing.
const ROUNDING: f64 = 1e-9;

/// The operator's own full-stick speed, whatever the rig allows, in units/s.
fn full(operator: &Operator, hand: &Hand, now: &Now) -> f64 {
    let gear = hand.gears.speed(now.gears[usize::from(hand.group)]);
    let lowest = [hand.ceiling, hand.framing]
        .into_iter()
        .flatten()
        .fold(gear, |a, b| a.lower(b));
    let quiet = match hand.quiet {
        _ if !now.quiet => lowest.0,
        Quiet::Measured { speed, .. } => lower(speed.0, lowest.0),
        Quiet::NotMeasured => QUIET_SHARE * lowest.0,
    };
    let trigger = operator.speed_trigger;
    let bands = hand.quiet.bands(now.quiet);
    bands.under(Speed(quiet)).0 * trigger.map_or(1.0, |t| higher(t.let_go, t.pulled))
}
