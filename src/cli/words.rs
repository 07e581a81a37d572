//! What the screens say of a state: whether it may move, and if not, what to do.

mod errand;
mod notices;
mod reference;

pub use crate::profile::press_text as press;
pub use notices::notice;
pub use reference::reference;

use super::figures::figure;
use stillhand_engine::bindings::Press;
use stillhand_engine::input::{LinkLoss, PadId, RigReport, StopSource};
use stillhand_engine::operate::modes::Mode;
use stillhand_engine::operator::Operator;
use stillhand_engine::output::{AxisStatus, Enabled, Mover, Place, State, Status, Why};
use stillhand_engine::rig::{Axis, Rig};

/// What the words are about: names of axes, groups and buttons come from here.
#[derive(Clone, Copy, Debug)]
pub struct About<'a> {
    /// The rig.
    pub rig: &'a Rig,
    /// The operator.
    pub operator: &'a Operator,
    /// The place of the script that plays a pad, if there is one.
    pub script: Option<PadId>,
}

impl About<'_> {
    /// What the operator calls a pad: they are counted from 1 in the order of their places.
    pub fn pad(&self, pad: PadId) -> String {
        match self.script == Some(pad) {
            true => "the script".to_owned(),
            false => format!("pad {}", pad.0 + 1),
        }
    }

    fn axis(&self, place: u8) -> &str {
        let axis = self.rig.axes.get(usize::from(place));
        axis.map_or("an axis", |axis| axis.name.as_str())
    }

    fn group(&self, place: u8) -> &str {
        let group = self.operator.groups.get(usize::from(place));
        group.map_or("a group", String::as_str)
    }

    /// How a stop is released.
    fn release(&self) -> String {
        let how = match self.operator.bindings.release() {
            Press::Held(button) => format!("hold {} for 0.6 s", button.name()),
            other => format!("press {}", press(other)),
        };
        format!("let go of the sticks and {how} on a pad in control")
    }

    /// How a mode is switched off, as a clause that ends it.
    fn ends(&self, mode: Mode) -> String {
        let mut bindings = self.operator.bindings.iter();
        let bound = bindings.find(|binding| Mode::of(binding.action) == Some(mode));
        match bound.map(|binding| binding.press) {
            // One on a tap goes off by keeping the same button down.
            Some(Press::Tap(button) | Press::Held(button)) => {
                format!("hold {} for 0.6 s to end it", button.name())
            }
            Some(other) => format!("press {} to end it", press(other)),
            None => format!("`stillhand {} off` ends it", mode.name()),
        }
    }
}

/// One word or two for a state.
pub fn state(state: State) -> &'static str {
    match state {
        State::NoLink(Why::LinkLost(LinkLoss::PowerOff)) => "POWER OFF",
        State::NoLink(Why::LinkLost(LinkLoss::Fault)) => "rig fault",
        State::NoLink(Why::LinkLost(LinkLoss::StopInput)) => "rig stopped",
        State::NoLink(_) => "no link",
        State::NoPad(_) => "no pad",
        State::Stopped(_) => "stopped",
        State::Withheld(_) => "withheld",
        State::Driving => "driving",
        State::Still => "still",
        State::Ending => "ending",
    }
}

/// Why motion is withheld, in a few words: the `why` of the summary.
pub fn why(state: State) -> &'static str {
    match state {
        State::Driving | State::Ending => "",
        State::Stopped(_) => "stop",
        State::Still => "still",
        State::NoLink(why) | State::NoPad(why) | State::Withheld(why) => reason(why),
    }
}

fn reason(why: Why) -> &'static str {
    match why {
        Why::Start => "start",
        Why::PadLost => "pad lost",
        Why::PadSilent => "pad silent",
        Why::LinkLost(loss) => lost(loss),
        Why::StopReleased => "stop released",
        Why::ProfileChanged => "profile changed",
        Why::StillEnded => "still ended",
        Why::ControlPassed => "control passed",
        Why::RigChanged => "rig file changed",
        Why::Reference => "reference changed",
        Why::Late => "loop late",
        Why::Residual { .. } => "position off",
        Why::ReferenceAsked => "reference asked",
    }
}

fn lost(loss: LinkLoss) -> &'static str {
    match loss {
        LinkLoss::Unplugged => "link lost: port gone",
        LinkLoss::Stalled => "link lost: port takes nothing",
        LinkLoss::Silent => "link lost: rig silent",
        LinkLoss::Restarted => "link lost: rig restarted",
        LinkLoss::RigStopped => "rig stopped itself",
        LinkLoss::Fault => "rig fault",
        LinkLoss::StopInput => "rig's stop input",
        LinkLoss::PowerOff => "power off",
        LinkLoss::Disagrees => "rig contradicts itself",
        LinkLoss::Hushed => "frames left out on purpose",
        LinkLoss::Reference => "reference set",
    }
}

/// The whole sentence: what holds, and what to do.
pub fn sentence(state: State, about: &About) -> String {
    match state {
        State::Driving => "driving: the sticks move the rig".to_owned(),
        State::Still => format!("still: nothing moves; {}", about.ends(Mode::Still)),
        State::Ending => "ending: coming to rest".to_owned(),
        State::Stopped(StopSource::Pad(by)) => {
            format!("STOPPED by {}: {}", about.pad(by), about.release())
        }
        State::Stopped(StopSource::Command) => {
            format!("STOPPED by command: {}", about.release())
        }
        State::NoLink(why) => no_link(why),
        State::NoPad(_) => "no pad: plug one in, or wake it up".to_owned(),
        State::Withheld(why) => {
            format!("withheld ({}): let go of the sticks", cause(why, about))
        }
    }
}

fn no_link(why: Why) -> String {
    match why {
        Why::LinkLost(LinkLoss::PowerOff) => {
            format!("POWER OFF: {}", mend(LinkLoss::PowerOff))
        }
        Why::LinkLost(loss @ (LinkLoss::Fault | LinkLoss::StopInput)) => {
            format!("{}: {}", lost(loss), mend(loss))
        }
        Why::LinkLost(loss) => format!("no link ({}): {}", lost(loss), mend(loss)),
        Why::RigChanged => "no link (rig file changed): telling the rig".to_owned(),
        Why::Start => "no link yet: waiting for the rig to answer; is it switched on?".to_owned(),
        Why::PadLost
        | Why::PadSilent
        | Why::StopReleased
        | Why::ProfileChanged
        | Why::StillEnded
        | Why::ControlPassed
        | Why::Reference
        | Why::ReferenceAsked
        | Why::Late
        | Why::Residual { .. } => {
            "no link: waiting for the rig to answer; check its supply and the cable".to_owned()
        }
    }
}

/// What withheld motion, as a clause.
fn cause(why: Why, about: &About) -> String {
    match why {
        Why::Start => "just started".to_owned(),
        Why::PadLost => "the pad was lost".to_owned(),
        Why::PadSilent => "the pad was silent while the rig moved: is it out of range?".to_owned(),
        Why::LinkLost(LinkLoss::PowerOff) => "motor power is back".to_owned(),
        Why::LinkLost(LinkLoss::Fault) => "the rig's fault is cleared".to_owned(),
        Why::LinkLost(LinkLoss::StopInput) => "the rig's stop input is released".to_owned(),
        Why::LinkLost(LinkLoss::RigStopped) => "the rig had stopped itself".to_owned(),
        Why::LinkLost(LinkLoss::Disagrees) => "the rig had contradicted itself".to_owned(),
        Why::LinkLost(LinkLoss::Hushed) => "frames were left out on purpose".to_owned(),
        Why::LinkLost(LinkLoss::Unplugged) => "the port is back".to_owned(),
        Why::LinkLost(LinkLoss::Stalled) => "the port takes frames again".to_owned(),
        Why::LinkLost(LinkLoss::Silent) => "the rig speaks again".to_owned(),
        Why::LinkLost(LinkLoss::Restarted) => {
            "the rig has restarted or found its reference".to_owned()
        }
        Why::LinkLost(LinkLoss::Reference) => "an axis has a new reference".to_owned(),
        Why::StopReleased => "the stop was released".to_owned(),
        Why::ProfileChanged => "another profile came into force".to_owned(),
        Why::StillEnded => "still was switched off".to_owned(),
        Why::ControlPassed => "control passed to another pad".to_owned(),
        Why::RigChanged => "another rig file came into force".to_owned(),
        Why::Reference => "an axis found or lost its reference".to_owned(),
        Why::ReferenceAsked => "a reference was asked for".to_owned(),
        Why::Late => "the loop came more than 80 ms late: the machine is too busy".to_owned(),
        Why::Residual { axis, .. } => format!(
            "{} is not where it was sent: did it slip, or was it pushed?",
            about.axis(axis)
        ),
    }
}

fn mend(loss: LinkLoss) -> &'static str {
    match loss {
        LinkLoss::Unplugged => "plug the cable in again",
        LinkLoss::Stalled => "is the rig still reading? check cable and rig",
        LinkLoss::Silent => "check the rig's supply and the cable",
        LinkLoss::Restarted => {
            "waiting for it to be at rest; unless it has just found its reference, check its supply"
        }
        LinkLoss::RigStopped => "frames did not reach it in time; waiting for it to be at rest",
        LinkLoss::Fault => "look at the rig, clear the fault there",
        LinkLoss::StopInput => "release the stop input at the rig",
        LinkLoss::PowerOff => "switch motor power on when everyone is clear",
        LinkLoss::Disagrees => "check the rig's firmware against the rig file",
        LinkLoss::Hushed => "the daily check waits for the rig to stop by its own watchdog",
        LinkLoss::Reference => "the rig took it and is met anew",
    }
}

/// What the status says: the sentence of the state and, while the sticks drive, what keeps an axis
/// from moving as they ask.
pub fn says(status: &Status, axes: &[AxisStatus], about: &About) -> String {
    if status.state != State::Driving {
        return sentence(status.state, about);
    }
    let groups = &status.groups[..about.operator.groups.len().min(status.groups.len())];
    if groups.iter().any(|group| group.trigger_unheard) {
        return "the speed trigger has not spoken yet and counts as slow: pull it once".to_owned();
    }
    if axes.iter().any(|axis| axis.mover == Mover::Errand) {
        return "the rig moves by itself, as was asked: any stick or the stop ends it".to_owned();
    }
    let axes = || about.rig.axes.iter().zip(axes);
    let mut held = axes().filter_map(|(axis, status)| held_back(&axis.name, status));
    if let Some(first) = held.next() {
        return first;
    }
    let mut out_of_bands = axes().filter_map(|(axis, status)| avoids(axis, status));
    if let Some(first) = out_of_bands.next() {
        return first;
    }
    if axes().any(|(_, axis)| axis.speed != 0.0) {
        return sentence(status.state, about);
    }
    "standing still: the sticks move the rig".to_owned()
}

/// What keeps an axis from moving although the state would let it, and what to do; `None` if
/// nothing does.
pub fn held_back(name: &str, axis: &AxisStatus) -> Option<String> {
    let enable = match axis.enabled {
        Enabled::NotNeeded | Enabled::Held => None,
        Enabled::Wanted => Some("hold the enable control to move it"),
        Enabled::Unbound => Some("bind an enable control in the operator's file to move it"),
    };
    match (axis.place, enable) {
        (Place::Inside, None) => None,
        (Place::Inside, Some(mend)) => Some(format!("{name} waits: {mend}")),
        (Place::Outside, _) => Some(format!(
            "{name} is outside its travel: it moves inward only, at reduced speed"
        )),
        (Place::Unreferenced, None) => Some(format!(
            "{name} has no reference: its travel is not guarded, reduced speed"
        )),
        (Place::Unreferenced, Some(mend)) => Some(format!(
            "{name} has no reference: its travel is not guarded; {mend}"
        )),
    }
}

/// Which band makes an axis go another speed than asked for; `None` if none does.
fn avoids(axis: &Axis, status: &AxisStatus) -> Option<String> {
    let band = status.band.filter(|_| status.speed != 0.0)?;
    let (low, high) = (figure(band.low.0), figure(band.high.0));
    let unit = axis.unit.symbol();
    Some(format!(
        "{} keeps out of {low} to {high} {unit}/s, where it sings",
        axis.name
    ))
}

/// Where the rig is more careful than its file: one sentence for each limit, with both numbers.
pub fn stricter(rig: &Rig, report: &RigReport) -> Vec<String> {
    let mut sentences = Vec::new();
    for (file, told) in rig.axes.iter().zip(&report.axes) {
        let (plus, minus) = (file.limits.stop(1.0), file.limits.stop(-1.0));
        let limits = [
            (told.speed, file.speed.0, "/s"),
            (told.accel, plus.accel.0.max(minus.accel.0), "/s^2"),
            (told.jerk, plus.jerk.0.max(minus.jerk.0), "/s^3"),
        ];
        for (told, allowed, per) in limits {
            // A ten-thousandth is the rounding of counts.
            if let Some(told) = told.filter(|told| *told < allowed * 0.9999) {
                sentences.push(format!(
                    "{}: the rig itself allows {told:.2} {unit}{per}, the rig file {allowed:.2} \
                     {unit}{per}: the lower one holds",
                    file.name,
                    unit = file.unit.symbol()
                ));
            }
        }
    }
    sentences
}
