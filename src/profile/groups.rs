//! The groups of an operator profile: every axis belongs to exactly one.

use super::field::{At, Field};
use super::near::nearest;
use super::problem::{Log, Problem};
use super::rawhand::{RawGroup, RawOperator};
use super::table::found;
use stillhand_engine::operator::Groups;

/// The groups, and for each hand the place of its own.
pub(super) struct Grouped {
    pub(super) groups: Groups,
    pub(super) of: Vec<u8>,
}

pub(super) fn valid_groups(raw: &RawOperator, log: &mut Log) -> Option<Grouped> {
    let list = match &raw.groups {
        Field::Absent => {
            return Some(Grouped {
                groups: Groups::single(),
                of: vec![0; raw.hands.len()],
            });
        }
        given => &given.got()?.value,
    };
    let good = known_and_once(raw, list, log) & none_left_out(raw, list, log);
    let holds = |group: &RawGroup, axis: &str| group.axes.iter().any(|at| at.value == axis);
    let of = raw.hands.iter().map(|hand| {
        let place = list.iter().position(|g| holds(g, &hand.axis.value))?;
        u8::try_from(place).ok()
    });
    let of = of.collect::<Option<Vec<u8>>>()?;
    let names = list.iter().map(|group| group.name.value.clone()).collect();
    let groups = Groups::new(names)?;
    good.then_some(Grouped { groups, of })
}

/// Whether each name in the groups is an axis that was not named before.
fn known_and_once(raw: &RawOperator, list: &[RawGroup], log: &mut Log) -> bool {
    let axes = || raw.hands.iter().map(|hand| hand.axis.value.as_str());
    let mut seen: Vec<&At<String>> = Vec::new();
    let mut good = true;
    for group in list {
        let name = &group.name.value;
        if group.axes.is_empty() {
            good = false;
            log.push(
                Problem::at(group.name.span.clone(), format!("group {name} is empty"))
                    .found("no axis in it")
                    .allowed("one or more names of axes")
                    .mend("name its axes, or take the group out"),
            );
        }
        for at in &group.axes {
            let earlier = seen.iter().find(|other| other.value == at.value);
            if !axes().any(|axis| axis == at.value) {
                good = false;
                log.push(unknown_axis(at, format!("group {name} names"), axes()));
            } else if let Some(earlier) = earlier {
                good = false;
                let message = format!("axis {} is in the groups twice", at.value);
                log.push(
                    Problem::at(at.span.clone(), message)
                        .found(format!("it in group {name}"))
                        .also(earlier.span.clone(), "and here")
                        .allowed("each axis in one group: two pads can't hold it both")
                        .mend("take one of them out"),
                );
            }
            seen.push(at);
        }
    }
    good
}

/// A name that is no axis of the profile.
pub(super) fn unknown_axis<'a>(
    at: &At<String>,
    who: String,
    axes: impl Iterator<Item = &'a str> + Clone,
) -> Problem {
    let mend = match nearest(&at.value, axes.clone()) {
        Some(near) => format!("did you mean {near}?"),
        None => "add [axis.NAME] for it, or take it out".to_owned(),
    };
    let axes: Vec<&str> = axes.collect();
    Problem::at(at.span.clone(), format!("{who} an axis there is not"))
        .found(found(&at.value))
        .allowed(format!("the axes of this profile: {}", axes.join(", ")))
        .mend(mend)
}

fn none_left_out(raw: &RawOperator, list: &[RawGroup], log: &mut Log) -> bool {
    let mut good = true;
    let named = || list.iter().flat_map(|group| &group.axes);
    for hand in &raw.hands {
        let axis = &hand.axis.value;
        if named().any(|at| at.value == *axis) {
            continue;
        }
        good = false;
        log.push(
            Problem::at(
                hand.axis.span.clone(),
                format!("axis {axis} is in no group"),
            )
            .found("an axis that no pad could hold")
            .allowed("every axis in one group, where groups are named")
            .mend("add it to one of [groups]"),
        );
    }
    good
}
