//! What the end of a tick brings, and whether the engine came to the same.

use super::{CENTRED_FOR, Consent, Consents, Model, Turn, is_centred, sources};
use stillhand_engine::current::Current;
use stillhand_engine::input::{Input, LinkEvent};
use stillhand_engine::operate::modes::Mode;
use stillhand_engine::operator::{Hand, Operator, Source};
use stillhand_engine::output::{AxisStatus, Mover, Notice, Outputs, Place, State};
use stillhand_engine::reference::Stands;
use stillhand_engine::rig::Rig;
use stillhand_engine::time::Time;

impl Model {
    /// Another profile or rig file that came into force, and a mode that let go of speed.
    pub(super) fn files(&mut self, turn: &Turn<'_>) -> Result<(), String> {
        for notice in turn.outputs.notices.iter() {
            match notice {
                Notice::ProfileApplied => {
                    let offered = turn.offered.ok_or("a profile that nobody offered")?;
                    self.profile(offered)?;
                }
                Notice::Mode(Mode::Quiet | Mode::Reduced, false) if !self.let_go => {
                    return Err(format!("{notice:?} with a stick that is not let go"));
                }
                // The rig has to be met again.
                Notice::RigApplied(_) => {
                    if !self.at_rest(|_| true) || !self.let_go {
                        return Err("another rig file while moving or not let go".to_owned());
                    }
                    self.linked = false;
                    self.weak = false;
                    self.withhold_all();
                }
                Notice::Reference {
                    stands: Stands::Asked,
                    ..
                } => {
                    if !self.at_rest(|_| true) || !self.let_go {
                        return Err("a reference while moving or not let go".to_owned());
                    }
                    self.withhold_all();
                }
                _ => {}
            }
        }
        Ok(())
    }

    fn profile(&mut self, new: &Operator) -> Result<(), String> {
        let withholds = withholds(&self.operator, new);
        if withholds && (!self.at_rest(|_| true) || !self.let_go) {
            return Err("another operator or bindings while moving or not let go".to_owned());
        }
        if self.operator.groups != new.groups {
            let first = self.holders.iter().flatten().next().copied();
            self.holders = std::array::from_fn(|group| first.filter(|_| group < new.groups.len()));
        }
        self.operator = new.clone();
        let hands = new.hands.len();
        self.consents.resize(hands, Consents::default());
        if withholds {
            self.withhold_all();
        }
        Ok(())
    }

    /// Looks at every control on the pad that holds it.
    pub(super) fn look_at_controls(&mut self, now: Time) {
        for (place, hand) in self.operator.hands.iter().enumerate() {
            for (which, source) in sources(hand).into_iter().enumerate() {
                let centred = self
                    .out(hand, source)
                    .is_some_and(|out| is_centred(out, hand));
                self.consents[place][which].look(now, centred);
            }
        }
        self.driving |= (0..self.consents.len()).any(|place| self.counts(place));
    }

    /// How far out a hand's control is, if it is known.
    pub(super) fn out(&self, hand: &Hand, source: Option<Source>) -> Option<f64> {
        let pad = self.known(self.holder(hand)?)?;
        pad.out(source?, &self.operator.sticks)
    }

    /// Whether everything is there and something counts or inches.
    pub(super) fn is_driving(&self) -> bool {
        let pad = self.holders.iter().any(Option::is_some);
        let free = !self.ending && !self.stopped && !self.still && !self.weak;
        self.linked && pad && free && self.driving
    }

    /// Only the engine knows whether motors may be weak; when it may let them be, the model does.
    fn weaken(&mut self, current: Current) -> Result<(), String> {
        let peace = self.still && !self.ending && !self.stopped && self.linked;
        match current {
            Current::MayBeLow if !peace || !self.at_rest(|_| true) => {
                Err("motors may be weak while something may move".to_owned())
            }
            Current::MayBeLow => {
                self.weak = true;
                Ok(())
            }
            Current::Awaited if !self.weak => Err("full current awaited that is there".to_owned()),
            Current::Full if self.weak => Err("full current that nobody has told".to_owned()),
            Current::Awaited | Current::Full => Ok(()),
        }
    }

    fn state(&self) -> &'static str {
        match () {
            () if self.ending => "ending",
            () if self.stopped => "stopped",
            () if !self.linked => "no link",
            () if self.holders.iter().all(Option::is_none) => "no pad",
            () if self.still || self.weak => "still",
            () if self.driving => "driving",
            () => "withheld",
        }
    }

    /// Holds what the engine says against what the model says.
    pub(super) fn agree(&mut self, turn: &Turn<'_>) -> Result<(), String> {
        let Turn { outputs, rig, .. } = *turn;
        let theirs = name(outputs.status.state);
        // A step of inching may begin, or go on, with nothing else that counts.
        let inches = |axis: &AxisStatus| axis.mover == Mover::Inching;
        let inched = self.inched.contains(&true) || self.before.iter().any(inches);
        if self.state() == "withheld" && theirs == "driving" && inched {
            self.driving = true;
        }
        if self.state() == "driving" && theirs == "withheld" && !self.anything_counts() {
            self.driving = false;
        }
        self.weaken(outputs.rigs[0].current)?;
        if self.state() != theirs {
            return Err(format!("{theirs} where {} is right", self.state()));
        }
        for (place, holder) in self.holders.iter().enumerate() {
            let found = outputs.status.groups[place].pad;
            if found != *holder {
                return Err(format!("group {place} held by {found:?}, not {holder:?}"));
            }
        }
        let operator = self.operator.clone();
        // A frame that did not leave was no rest: the axis goes on from the last one that did.
        let unsent = |input: &Input| matches!(input, Input::Link(0, LinkEvent::Unsent(_)));
        let unsent = turn.inputs.iter().any(unsent);
        for (place, hand) in operator.hands.iter().enumerate() {
            self.axis(place, hand, rig, (outputs, unsent))
                .map_err(|found| format!("axis {}: {found}", hand.axis))?;
        }
        Ok(())
    }

    fn anything_counts(&self) -> bool {
        (0..self.consents.len()).any(|place| self.counts(place))
    }

    fn axis(
        &mut self,
        place: usize,
        hand: &Hand,
        rig: &Rig,
        (outputs, unsent): (&Outputs, bool),
    ) -> Result<(), String> {
        let axis = usize::from(hand.axis);
        let (was, is) = (self.before[axis], outputs.rigs[0].axes[axis]);
        let out = sources(hand).map(|source| {
            self.out(hand, source)
                .is_some_and(|out| out > hand.throw.deadband())
        });
        let asked = self.consents[place]
            .iter()
            .zip(out)
            .any(|(consent, out)| consent.counts && out);
        let enabled = self.enabled(hand, rig, is.place);
        if !enabled && out.contains(&true) {
            // It must be let go before it counts, with what enables it held or not.
            self.consents[place] = Consents::default();
        }
        let sustain = |n| matches!(n, Notice::Sustain { group, .. } if group == hand.group);
        let sustained = was.mover == Mover::Sustain || outputs.notices.iter().any(sustain);
        if sustained && is.mover != Mover::Sustain && !is.armed && self.counts(place) {
            self.consents[place] = Consents::default();
        }
        // In other states whatever was seen centred has to be seen so again.
        let may_matter = matches!(outputs.status.state, State::Withheld(_) | State::Driving);
        if may_matter && is.armed != self.counts(place) {
            return Err(match is.armed {
                true => "a control counts that was not seen centred".to_owned(),
                false => "no control counts, though one was seen centred".to_owned(),
            });
        }
        if is.demand != 0.0 && !(self.is_driving() && asked && enabled) {
            return Err(format!("demand {} by what counts as zero", is.demand));
        }
        let starts = !unsent && was.speed == 0.0 && was.accel == 0.0 && is.speed != 0.0;
        if starts && is.demand == 0.0 && is.mover == Mover::Sticks {
            return Err(format!("starts at {} with nothing asked for", is.speed));
        }
        Ok(())
    }

    fn enabled(&self, hand: &Hand, rig: &Rig, place: Place) -> bool {
        let axis = &rig.axes[usize::from(hand.axis)];
        if !axis.needs_enable && place != Place::Unreferenced {
            return true;
        }
        let pad = self.holder(hand).and_then(|id| self.known(id));
        pad.zip(self.operator.enable)
            .is_some_and(|(pad, enable)| pad.enables(enable))
    }
}

impl Consent {
    fn look(&mut self, now: Time, centred: bool) {
        if !centred {
            self.centred_since = None;
            return;
        }
        let since = *self.centred_since.get_or_insert(now);
        self.counts |= now.since(since) >= CENTRED_FOR;
    }
}

/// Whether a change of profile is a withholding event: another operator, or what a control or a press
/// means.
fn withholds(old: &Operator, new: &Operator) -> bool {
    let means = |operator: &Operator| {
        let hands = operator.hands.iter().map(|hand| {
            let drives = (hand.rig, hand.axis, hand.group);
            (drives, sources(hand), hand.invert)
        });
        let trigger = operator.speed_trigger.map(|trigger| trigger.control);
        (hands.collect::<Vec<_>>(), trigger)
    };
    old.name != new.name
        || old.groups != new.groups
        || old.bindings != new.bindings
        || old.enable != new.enable
        || means(old) != means(new)
}

fn name(state: State) -> &'static str {
    match state {
        State::Ending => "ending",
        State::Stopped(_) => "stopped",
        State::NoLink(_) => "no link",
        State::NoPad(_) => "no pad",
        State::Still => "still",
        State::Driving => "driving",
        State::Withheld(_) => "withheld",
    }
}
