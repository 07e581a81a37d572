//! The log line of each notice.

use super::{About, cause, errand, reference, sentence};
use stillhand_engine::bindings::Action;
use stillhand_engine::operate::modes::Mode;
use stillhand_engine::output::{Notice, Place, State, Wait, Why};

/// The log line of a notice; warnings are those the operator must act upon.
pub fn notice(notice: Notice, about: &About) -> (bool, String) {
    match notice {
        Notice::Entered(state) => (
            !matches!(state, State::Driving | State::Still | State::Ending),
            sentence(state, about),
        ),
        Notice::Holds { .. }
        | Notice::Asks { .. }
        | Notice::Agreed { .. }
        | Notice::AskForgotten(_)
        | Notice::GroupWithheld { .. } => control(notice, about),
        Notice::SilenceNear { pad: by, left } => (
            true,
            format!(
                "{} has gone silent: in {:.1} s what it moves stops; wiggle a stick",
                about.pad(by),
                left.secs()
            ),
        ),
        Notice::Gear { group, gear } => {
            let whose = whose(group, about);
            (false, format!("gear {}{whose}", gear + 1))
        }
        Notice::Mode(mode, on) => (false, switched(mode, on).to_owned()),
        Notice::ModeWaits(mode) => (
            false,
            format!("{} goes off when the sticks are let go", mode.name()),
        ),
        Notice::Locked(action) => (true, format!("rolling: {}", locked(action))),
        Notice::NextOperator(by) => (
            false,
            format!("{} asks for the next operator", about.pad(by)),
        ),
        Notice::Sustain { group, on } => (false, kept(on, &whose(group, about))),
        Notice::ProfileApplied
        | Notice::ProfileWaits(_)
        | Notice::ProfileRefused
        | Notice::RigApplied(_)
        | Notice::RigWaits(_)
        | Notice::RigRefused(_) => file(notice),
        Notice::Place { axis, place, .. } => stands(about.axis(axis), place),
        Notice::TravelEnd { .. } | Notice::EndHere { .. } | Notice::GuardLate { .. } => {
            ends(notice, about)
        }
        Notice::Apart { rig, axis } => (true, cause(Why::Residual { rig, axis }, about)),
        Notice::Late(late) => (
            true,
            format!(
                "the loop came {:.0} ms late: run fewer programs beside it",
                late.secs() * 1e3
            ),
        ),
        Notice::Errand(_, news) => errand::news(news),
        Notice::Reference { asked, stands } => reference(asked, stands, about),
        Notice::TooManyPads => (
            true,
            "one pad too many: it is not heard, not even its stop; unplug another".to_owned(),
        ),
    }
}

/// About the ends of a travel.
fn ends(notice: Notice, about: &About) -> (bool, String) {
    match notice {
        Notice::TravelEnd { axis, .. } => (
            false,
            format!("{} brakes for the end of its travel", about.axis(axis)),
        ),
        Notice::EndHere { axis, .. } => (
            false,
            format!(
                "the nearest end of the travel of {} is to be where it stands",
                about.axis(axis)
            ),
        ),
        Notice::GuardLate { axis, .. } => (
            true,
            format!(
                "{} stops hard before the end of its travel: it goes on inward",
                about.axis(axis)
            ),
        ),
        _ => (false, String::new()),
    }
}

/// `" for head"`, where there is more than one group.
fn whose(group: u8, about: &About) -> String {
    match about.operator.groups.len() {
        1 => String::new(),
        _ => format!(" for {}", about.group(group)),
    }
}

fn kept(on: bool, whose: &str) -> String {
    match on {
        true => format!(
            "speed kept{whose}: the stick trims it, the opposite stick or the same button ends it"
        ),
        false => format!("speed no longer kept{whose}"),
    }
}

fn control(notice: Notice, about: &About) -> (bool, String) {
    let single = about.operator.groups.len() == 1;
    match notice {
        Notice::Holds { pad: Some(by), .. } if single => {
            (false, format!("{} is in control", about.pad(by)))
        }
        Notice::Holds { pad: None, .. } if single => (
            true,
            "no pad is in control: plug one in, or wake it up".to_owned(),
        ),
        Notice::Holds {
            group,
            pad: Some(by),
        } => (
            false,
            format!("{} has {}", about.pad(by), about.group(group)),
        ),
        Notice::Holds { group, pad: None } => (
            true,
            format!(
                "no pad has {}: plug one in, or ask for it on another one",
                about.group(group)
            ),
        ),
        Notice::Asks { group, pad: by } => (
            true,
            format!(
                "{} asks for {}: the pad that has it passes it by the same press",
                about.pad(by),
                about.group(group)
            ),
        ),
        Notice::Agreed { group, pad: by } => (
            false,
            format!(
                "{} passes to {} at rest, with its sticks let go",
                about.group(group),
                about.pad(by)
            ),
        ),
        Notice::AskForgotten(group) => (
            false,
            format!(
                "nobody passed {}: the request is forgotten, ask again",
                about.group(group)
            ),
        ),
        Notice::GroupWithheld { group, why } => {
            let cause = super::cause(why, about);
            (
                true,
                format!("{} withheld ({cause}): {}", about.group(group), remedy(why)),
            )
        }
        _ => (false, String::new()),
    }
}

fn remedy(why: Why) -> &'static str {
    match why {
        Why::PadLost => "plug the pad in again, or ask for the group on another one",
        _ => "let go of its sticks",
    }
}

fn switched(mode: Mode, on: bool) -> &'static str {
    match (mode, on) {
        (Mode::Quiet, true) => "quiet on",
        (Mode::Quiet, false) => "quiet off",
        (Mode::Still, true) => "still on: nothing moves",
        (Mode::Still, false) => "still off",
        (Mode::Reduced, true) => "reduced speed on",
        (Mode::Reduced, false) => "reduced speed off",
        (Mode::Rolling, true) => "rolling: gears, quiet off and another operator are locked",
        (Mode::Rolling, false) => "no longer rolling",
    }
}

fn locked(action: Action) -> &'static str {
    match action {
        Action::Quiet => "quiet stays on until rolling is over",
        Action::NextOperator => "the operator stays until rolling is over",
        Action::EndHere { .. } => "the travel stays until rolling is over",
        Action::GearUp | Action::GearDown => "the gear stays until the sticks are let go",
        _ => "this is locked until rolling is over",
    }
}

fn stands(name: &str, place: Place) -> (bool, String) {
    match place {
        Place::Inside => (false, format!("{name} is inside its travel")),
        Place::Outside => (
            true,
            format!("{name} is outside its travel: it moves inward only, at reduced speed"),
        ),
        Place::Unreferenced => (
            true,
            format!(
                "{name} has no reference: its travel is not guarded; hold the enable control to \
                 move it, at reduced speed"
            ),
        ),
    }
}

fn file(notice: Notice) -> (bool, String) {
    let (warning, text) = match notice {
        Notice::ProfileApplied => (false, "the changed profile is in force"),
        Notice::ProfileWaits(wait) => (true, waits(wait)),
        Notice::ProfileRefused => (
            true,
            "the changed profile names an axis the rig lacks: the old one stays in force",
        ),
        Notice::RigApplied(_) => (
            false,
            "the changed rig file is in force: meeting the rig anew",
        ),
        Notice::RigWaits(_) => (
            true,
            "the changed rig file waits for rest and all sticks let go",
        ),
        Notice::RigRefused(_) => (
            true,
            "the changed rig file describes another rig: the old one stays in force; start anew \
             with it",
        ),
        _ => (false, ""),
    };
    (warning, text.to_owned())
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
        Wait::NotRolling => "the other operator waits until rolling is over",
    }
}
