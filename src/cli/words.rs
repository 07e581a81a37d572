//! What the screens say of a state: whether it may move, and if not, what to do.

use stillhand_engine::input::{LinkLoss, RigReport, StopSource};
use stillhand_engine::output::{Notice, State, Wait, Why};
use stillhand_engine::rig::Rig;

/// One word for a state.
pub fn state(state: State) -> &'static str {
    match state {
        State::NoLink(_) => "no link",
        State::NoPad(_) => "no pad",
        State::Stopped(_) => "stopped",
        State::Withheld(_) => "withheld",
        State::Driving => "driving",
        State::Ending => "ending",
    }
}

/// Why motion is withheld, in a few words: the `why` of the summary.
pub fn why(state: State) -> &'static str {
    match state {
        State::Driving | State::Ending => "",
        State::Stopped(_) => "stop",
        State::NoLink(why) | State::NoPad(why) | State::Withheld(why) => match why {
            Why::Start => "start",
            Why::PadLost => "pad lost",
            Why::PadSilent => "pad silent",
            Why::LinkLost(loss) => lost(loss),
            Why::StopReleased => "stop released",
            Why::ProfileChanged => "profile changed",
            Why::Late => "loop late",
            Why::Residual { .. } => "position off",
        },
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
    }
}

/// The whole sentence: what holds, and what to do.
pub fn sentence(state: State, rig: &Rig) -> String {
    match state {
        State::Driving => "driving: the sticks move the rig".to_owned(),
        State::Ending => "ending: coming to rest".to_owned(),
        State::Stopped(StopSource::Pad(pad)) => format!(
            "STOPPED by pad {}: let go of the sticks and hold start for 0.6 s on the pad in control",
            pad.0 + 1
        ),
        State::Stopped(StopSource::Command) => {
            "STOPPED by command: let go of the sticks and hold start for 0.6 s on the pad in control"
                .to_owned()
        }
        State::NoLink(why) => match why {
            Why::LinkLost(loss) => format!("no link ({}): {}", lost(loss), mend(loss)),
            Why::Start
            | Why::PadLost
            | Why::PadSilent
            | Why::StopReleased
            | Why::ProfileChanged
            | Why::Late
            | Why::Residual { .. } => "no link yet: waiting for the rig to answer".to_owned(),
        },
        State::NoPad(_) => "no pad: plug one in, or wake it up".to_owned(),
        State::Withheld(why) => withheld(why, rig),
    }
}

fn withheld(why: Why, rig: &Rig) -> String {
    let reason = match why {
        Why::Start => "just started".to_owned(),
        Why::PadLost => "the pad was lost".to_owned(),
        Why::PadSilent => "the pad was silent while the rig moved: is it out of range?".to_owned(),
        Why::LinkLost(loss) => format!("the link is back after it was lost ({})", lost(loss)),
        Why::StopReleased => "the stop was released".to_owned(),
        Why::ProfileChanged => "another profile came into force".to_owned(),
        Why::Late => "the loop came more than 80 ms late: the machine is too busy".to_owned(),
        Why::Residual { axis, .. } => {
            let name = rig
                .axes
                .get(usize::from(axis))
                .map_or("an axis", |a| a.name.as_str());
            format!("{name} is not where it was sent: did it slip, or was it pushed?")
        }
    };
    format!("withheld ({reason}): let go of the sticks")
}

fn waits(wait: Wait) -> &'static str {
    match wait {
        Wait::Nothing => "the changed profile comes into force",
        Wait::Centred => {
            "the changed profile makes a full stick faster: it waits until the stick is let go"
        }
        Wait::RestAndCentred => {
            "the changed profile changes who drives or which way: it waits for rest and all sticks \
             let go"
        }
    }
}

fn mend(loss: LinkLoss) -> &'static str {
    match loss {
        LinkLoss::Unplugged => "plug the cable in again",
        LinkLoss::Stalled => "is the rig still reading? check cable and rig",
        LinkLoss::Silent => "check the rig's supply and the cable",
        LinkLoss::Restarted => "waiting for it to be at rest; check its supply",
        LinkLoss::RigStopped => "frames did not reach it in time; waiting for it to be at rest",
        LinkLoss::Fault => "look at the rig, clear the fault there",
        LinkLoss::StopInput => "release the stop input at the rig",
        LinkLoss::PowerOff => "switch motor power on when everyone is clear",
        LinkLoss::Disagrees => "check the rig's firmware against the rig file",
    }
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

/// The log line of a notice; warnings are those the operator must act upon.
pub fn notice(notice: Notice, rig: &Rig) -> (bool, String) {
    let axis = |place: u8| {
        rig.axes
            .get(usize::from(place))
            .map_or("?", |a| a.name.as_str())
    };
    match notice {
        Notice::Entered(state) => (
            !matches!(state, State::Driving | State::Ending),
            sentence(state, rig),
        ),
        Notice::PadInControl(Some(pad)) => (false, format!("pad {} is in control", pad.0 + 1)),
        Notice::PadInControl(None) => (true, "no pad is in control".to_owned()),
        Notice::SilenceNear(left) => (
            true,
            format!(
                "the pad has gone silent: in {:.1} s the rig stops; wiggle a stick",
                left.secs()
            ),
        ),
        Notice::ProfileApplied => (false, "the changed profile is in force".to_owned()),
        Notice::ProfileWaits(wait) => (true, waits(wait).to_owned()),
        Notice::ProfileRefused => (
            true,
            "the changed profile names an axis the rig lacks: the old one stays in force"
                .to_owned(),
        ),
        Notice::Gear(gear) => (false, format!("gear {}", gear + 1)),
        Notice::TravelEnd { axis: place, .. } => (
            false,
            format!("{} brakes for the end of its travel", axis(place)),
        ),
        Notice::GuardLate { axis: place, .. } => (
            true,
            format!("{} stops hard before the end of its travel", axis(place)),
        ),
        Notice::Late(late) => (
            true,
            format!("the loop came {:.0} ms late", late.secs() * 1e3),
        ),
        Notice::TooManyPads => (true, "one pad too many: it is not heard".to_owned()),
    }
}
