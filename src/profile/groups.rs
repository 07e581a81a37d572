//! `[groups]`: which axes a pad holds together.

use super::buttons::ALL_AXES;
use super::field::{At, Field};
use super::near::{either, either_or, nearest};
use super::problem::{Log, Problem, short};
use super::rawrig::{NAMES, name_fits};
use super::table::{Table, Value, found, wrong_type};
use stillhand_engine::operator::{Groups, MAX_GROUPS};
use toml::de::DeValue;

/// What the file says of groups.
pub(super) enum RawGroups {
    /// It names none: one group of all axes.
    Single,
    /// It was refused.
    Bad,
    /// Names and axes, in the order of the file.
    Named(Vec<RawGroup>),
}

pub(super) struct RawGroup {
    name: At<String>,
    axes: Vec<At<String>>,
}

/// Valid groups, and the place of each axis's group in the order of the axes.
pub(super) struct Grouped {
    pub(super) groups: Groups,
    pub(super) of_axis: Vec<u8>,
}

const LISTS: &str = "a list of axes, each in one group";
const EXAMPLE: &str = "head = [\"pan\", \"tilt\"]";

pub(super) fn read(top: &mut Table, log: &mut Log) -> RawGroups {
    let at = match top.table("groups", "a line [groups], and the groups below it", log) {
        Field::Absent => return RawGroups::Single,
        Field::Bad => return RawGroups::Bad,
        Field::Got(at) => at,
    };
    let entries = at.value.entries();
    let wrong = match entries.get(MAX_GROUPS) {
        _ if entries.is_empty() => Some((at.span, "there is no group here", 0)),
        Some((extra, _)) => Some((extra.span.clone(), "too many groups", entries.len())),
        None => None,
    };
    if let Some((span, message, count)) = wrong {
        log.push(
            Problem::at(span, message)
                .found(format!("{count} of them"))
                .allowed(format!("1 to {MAX_GROUPS} groups"))
                .mend(format!("write groups such as {EXAMPLE}, or none at all")),
        );
        return RawGroups::Bad;
    }
    // Each of these reports what it finds; none may keep another from being looked at.
    let groups: Vec<Option<RawGroup>> = entries
        .into_iter()
        .map(|(name, value)| group(name, value, log))
        .collect();
    let groups: Option<Vec<RawGroup>> = groups.into_iter().collect();
    groups.map_or(RawGroups::Bad, RawGroups::Named)
}

fn group(name: At<String>, value: &Value, log: &mut Log) -> Option<RawGroup> {
    let label = format!("group {}", short(&name.value));
    if !name_fits(&name.value) {
        log.push(
            Problem::at(name.span.clone(), "a group can't have this name")
                .found(found(&name.value))
                .allowed(NAMES)
                .mend("choose a short name such as head or lens"),
        );
        return None;
    }
    let DeValue::Array(list) = value.get_ref() else {
        let wrong = wrong_type(&label, value, "a list of axes", log);
        log.push(wrong.allowed(LISTS).mend(format!("write {EXAMPLE}")));
        return None;
    };
    if list.is_empty() {
        log.push(
            Problem::at(value.span(), format!("{label} has no axis"))
                .found("none")
                .allowed(LISTS)
                .mend("name its axes, or take the group out"),
        );
        return None;
    }
    let mut axes = Vec::new();
    for value in list.iter() {
        match value.get_ref().as_str() {
            Some(axis) => axes.push(At {
                value: axis.to_owned(),
                span: value.span(),
            }),
            None => {
                let label = format!("an axis of {label}");
                log.push(wrong_type(&label, value, "a name in quotes", log).allowed(LISTS));
                return None;
            }
        }
    }
    Some(RawGroup { name, axes })
}

impl RawGroups {
    /// The names a press may ask for.
    pub(super) fn names(&self) -> Vec<String> {
        match self {
            RawGroups::Single => vec![ALL_AXES.to_owned()],
            RawGroups::Bad => Vec::new(),
            RawGroups::Named(groups) => groups.iter().map(|g| g.name.value.clone()).collect(),
        }
    }

    /// Whether presses can be held against them.
    pub(super) fn known(&self) -> bool {
        !matches!(self, RawGroups::Bad)
    }

    /// Puts each axis into its group.
    pub(super) fn valid(&self, axes: &[&At<String>], log: &mut Log) -> Option<Grouped> {
        let groups = match self {
            RawGroups::Bad => return None,
            RawGroups::Single => {
                return Some(Grouped {
                    groups: Groups::single(),
                    of_axis: vec![0; axes.len()],
                });
            }
            RawGroups::Named(groups) => groups,
        };
        let mut placed: Vec<Option<(u8, &At<String>)>> = vec![None; axes.len()];
        for (place, group) in (0u8..).zip(groups) {
            for named in &group.axes {
                let Some(at) = axes.iter().position(|axis| axis.value == named.value) else {
                    log.push(unknown(named, &group.name.value, axes));
                    continue;
                };
                match placed.get(at) {
                    Some(Some((_, earlier))) => log.push(twice(named, earlier)),
                    _ => placed[at] = Some((place, named)),
                }
            }
        }
        for (axis, place) in axes.iter().zip(&placed) {
            if place.is_none() {
                log.push(in_none(axis, groups));
            }
        }
        let names = groups.iter().map(|g| g.name.value.clone()).collect();
        Some(Grouped {
            groups: Groups::new(names)?,
            of_axis: placed
                .into_iter()
                .map(|p| p.map(|(place, _)| place))
                .collect::<Option<_>>()?,
        })
    }
}

fn unknown(named: &At<String>, group: &str, axes: &[&At<String>]) -> Problem {
    let names = || axes.iter().map(|axis| axis.value.as_str());
    let mend = match nearest(&named.value, names()) {
        Some(near) => format!("did you mean \"{near}\"?"),
        None => "take it out, or add its table [axis.NAME]".to_owned(),
    };
    Problem::at(
        named.span.clone(),
        format!("group {group} has an axis this profile has not"),
    )
    .found(found(&named.value))
    .allowed(either_or(
        names(),
        "an axis with a table, and there is none",
    ))
    .mend(mend)
}

fn twice(named: &At<String>, earlier: &At<String>) -> Problem {
    let axis = &named.value;
    Problem::at(named.span.clone(), format!("axis {axis} is in two places"))
        .found("it again")
        .also(earlier.span.clone(), "here already")
        .allowed("each axis once: one pad holds it")
        .mend("take one of the two out")
}

fn in_none(axis: &At<String>, groups: &[RawGroup]) -> Problem {
    let name = &axis.value;
    let names = || groups.iter().map(|g| g.name.value.as_str());
    Problem::at(axis.span.clone(), format!("axis {name} is in no group"))
        .found(format!("axis {name}"))
        .allowed("each axis in one group, or no pad could hold it")
        .mend(format!("add \"{name}\" to {}", either(names())))
}
