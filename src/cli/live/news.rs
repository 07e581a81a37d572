//! What the operator is told of files that changed: in the log, and while something waits or is wrong in
//! the status.

use super::{Hardware, Which, short};
use crate::profile::RigFile;
use crate::shell::drive::Snapshot;
use crate::shell::edits::InForce;
use std::collections::VecDeque;
use std::sync::mpsc::Receiver;
use stillhand_engine::operator::Operator;
use stillhand_engine::output::{Notice, Status, Wait};
use stillhand_engine::rig::Rig;
use stillhand_engine::{Edit, Now, RigEdit, edits, rig_edits};

/// Offers that are remembered until they are in force or replaced: as many as can be made between two
/// looks at the log, and some.
const REMEMBERED: usize = 16;
/// Changes that are named one by one; of more only so many.
const NAMED: usize = 5;

/// Something to tell of a file.
pub(in super::super) enum Tale {
    /// It is on its way to the loop.
    Offered {
        number: u64,
        /// The name of the profile's file.
        from: String,
        operator: Option<Box<Operator>>,
        rig: Option<Box<RigFile>>,
    },
    /// It is not taken.
    Wrong {
        which: Which,
        line: String,
        text: String,
    },
    /// It is good again; if it says something else than what is in force, that is offered.
    Mended {
        which: Which,
        name: String,
        offered: bool,
    },
    /// Another file is gone by: what was wrong with this one matters to nobody any more.
    Left(Which),
    /// What a press asked for can't be had.
    Refused(String),
    /// What a press asked for was done to a file.
    Done(String),
    /// There are no events.
    Blind(String),
}

/// An offer until it is in force.
struct Offer {
    number: u64,
    from: String,
    operator: Option<Box<Operator>>,
    rig: Option<Box<RigFile>>,
}

/// Words what happens to files.
pub(in super::super) struct News {
    tales: Receiver<Tale>,
    in_force: InForce,
    offers: VecDeque<Offer>,
    rig_name: String,
    /// What is wrong with the rig file and with the profile, in a line.
    wrong: [Option<String>; 2],
    /// Whether the profile, or the rig file, offered last has had to wait.
    waited: [bool; 2],
    /// Something was not taken since that was asked last.
    refused: bool,
}

impl News {
    pub(in super::super) fn new(
        hardware: &Hardware,
        tales: Receiver<Tale>,
        in_force: InForce,
    ) -> News {
        News {
            tales,
            in_force,
            offers: VecDeque::new(),
            rig_name: hardware.path.as_deref().map_or(String::new(), short),
            wrong: [None, None],
            waited: [false, false],
            refused: false,
        }
    }

    /// What came from the files since: whether it is a warning, and the words.
    pub(in super::super) fn tales(&mut self) -> Vec<(bool, String)> {
        let tales: Vec<Tale> = self.tales.try_iter().collect();
        tales
            .into_iter()
            .filter_map(|tale| self.tale(tale))
            .collect()
    }

    fn tale(&mut self, tale: Tale) -> Option<(bool, String)> {
        match tale {
            Tale::Offered {
                number,
                from,
                operator,
                rig,
            } => {
                if self.offers.len() == REMEMBERED {
                    self.offers.pop_front();
                }
                self.offers.push_back(Offer {
                    number,
                    from,
                    operator,
                    rig,
                });
                None
            }
            Tale::Wrong { which, line, text } => {
                self.wrong[which as usize] = Some(line);
                self.refused = true;
                Some((true, text))
            }
            Tale::Mended {
                which,
                name,
                offered,
            } => {
                self.wrong[which as usize] = None;
                (!offered).then(|| (false, format!("{name} is good again and changes nothing")))
            }
            Tale::Left(which) => {
                self.wrong[which as usize] = None;
                None
            }
            Tale::Refused(words) => {
                self.refused = true;
                Some((true, words))
            }
            Tale::Done(words) => Some((false, words)),
            Tale::Blind(why) => Some((
                true,
                format!("{why}: files are looked at four times a second instead"),
            )),
        }
    }

    /// What is wrong with a file, in a line for the status.
    pub(in super::super) fn wrong(&self) -> Option<&str> {
        self.wrong.iter().flatten().next().map(String::as_str)
    }

    /// Whether a file, or what a press asked for, was not taken since this was asked last.
    pub(in super::super) fn take_refused(&mut self) -> bool {
        std::mem::take(&mut self.refused)
    }

    /// The name of the operator that was offered last and is not in force yet.
    pub(in super::super) fn offered(&self) -> Option<&str> {
        let mut offers = self.offers.iter().rev();
        let operator = offers.find_map(|offer| offer.operator.as_ref())?;
        Some(&operator.name)
    }

    /// Words a notice about a file, and has `operator` and `rig` become those in force. `None` for other
    /// notices.
    pub(in super::super) fn notice(
        &mut self,
        notice: Notice,
        operator: &mut Operator,
        rig: &mut RigFile,
        status: &Status,
    ) -> Option<(bool, String)> {
        match notice {
            Notice::ProfileWaits(wait) => {
                let of = |offer: &&Offer| offer.operator.is_some();
                let offer = self.offers.iter().rev().find(of)?;
                let (name, offered) = (&offer.from, offer.operator.as_ref()?);
                let what = changes(operator, offered, &rig.rig, status);
                let newer = if self.waited[1] { "the newer " } else { "" };
                self.waited[1] = true;
                let until = waits(wait);
                Some((true, format!("{newer}{name} waits {until}: {what}")))
            }
            Notice::ProfileApplied => {
                let number = self.in_force.operator();
                let of = |offer: &&Offer| offer.operator.is_some() && offer.number <= number;
                let offer = self.offers.iter().rev().find(of)?;
                let (name, offered) = (offer.from.clone(), offer.operator.clone()?);
                let what = changes(operator, &offered, &rig.rig, status);
                let waited = std::mem::take(&mut self.waited[1]);
                *operator = *offered;
                self.forget(number, self.in_force.rig());
                Some((
                    false,
                    match (what.as_str(), waited) {
                        ("", _) => {
                            format!("{name} says what is in force again: nothing waits any more")
                        }
                        (_, true) => format!("{name} is in force now: {what}"),
                        (_, false) => format!("{name} is in force at once: {what}"),
                    },
                ))
            }
            Notice::RigWaits(_) => {
                let of = |offer: &&Offer| offer.rig.is_some();
                let offered = self.offers.iter().rev().find(of)?.rig.as_ref()?;
                let what = rig_changes(&rig.rig, &offered.rig);
                let newer = if self.waited[0] { "the newer " } else { "" };
                self.waited[0] = true;
                Some((
                    true,
                    format!(
                        "{newer}{} waits {}: {what}",
                        self.rig_name,
                        waits(Wait::RestAndCentred)
                    ),
                ))
            }
            Notice::RigApplied(_) => {
                let number = self.in_force.rig();
                let of = |offer: &&Offer| offer.rig.is_some() && offer.number <= number;
                let offered = self.offers.iter().rev().find(of)?.rig.clone()?;
                let what = rig_changes(&rig.rig, &offered.rig);
                self.waited[0] = false;
                *rig = *offered;
                self.forget(self.in_force.operator(), number);
                Some((
                    false,
                    format!(
                        "{} is in force now: {what}; the rig is met anew",
                        self.rig_name
                    ),
                ))
            }
            _ => None,
        }
    }

    /// Offers that are in force, or were replaced before, are of no use any more.
    fn forget(&mut self, operator: u64, rig: u64) {
        for offer in &mut self.offers {
            if offer.number <= operator {
                offer.operator = None;
            }
            if offer.number <= rig {
                offer.rig = None;
            }
        }
        self.offers
            .retain(|offer| offer.operator.is_some() || offer.rig.is_some());
    }
}

/// What a change waits for, as the end of "waits".
fn waits(wait: Wait) -> &'static str {
    match wait {
        Wait::Nothing => "for the next turn",
        Wait::Centred => "until the stick is let go",
        Wait::RestAndCentred => "for rest and all sticks let go",
        Wait::NotRolling => "until rolling is over",
    }
}

/// The line of the status for what waits.
pub(in super::super) fn waiting(snapshot: &Snapshot) -> Option<String> {
    if snapshot.rig_waits {
        let until = waits(Wait::RestAndCentred);
        return Some(format!("the rig file waits {until}"));
    }
    let until = waits(snapshot.profile_waits?);
    Some(match &snapshot.next_operator {
        Some(name) => format!("operator {name} waits {until}"),
        None => format!("the changed profile waits {until}"),
    })
}

/// What differs between two profiles, in words; empty if nothing does.
fn changes(old: &Operator, new: &Operator, rig: &Rig, status: &Status) -> String {
    let now = Now {
        gears: status.groups.map(|group| group.gear),
        quiet: status.modes.quiet.on(),
        rolling: status.modes.rolling.on(),
    };
    let mut words: Vec<String> = Vec::new();
    edits(old, new, &now, &mut |edit, hand| {
        let axis = hand
            .and_then(|place| new.hands.get(place))
            .and_then(|hand| rig.axes.get(usize::from(hand.axis)));
        let whose = axis.map_or("the sticks'", |axis| axis.name.as_str());
        words.push(match edit {
            Edit::Operator => format!("another operator, {}", new.name),
            Edit::Controls => "which control drives what".to_owned(),
            Edit::Invert => format!("{whose} the other way round"),
            Edit::Bindings => "what the buttons do".to_owned(),
            Edit::Feel => format!("{whose} feel"),
            Edit::Times => format!("{whose} gain and lose times"),
            Edit::Speeds => format!("{whose} speeds"),
            Edit::Faster => format!("{whose} full stick faster"),
            Edit::Shakes => "when the pad shakes".to_owned(),
            Edit::Inching => format!("{whose} inching"),
        });
    });
    if words.is_empty() && old != new {
        words.push("what a start begins with".to_owned());
    }
    listed(words)
}

fn rig_changes(old: &Rig, new: &Rig) -> String {
    let mut words: Vec<String> = Vec::new();
    rig_edits(old, new, &mut |edit, place| {
        let axis = place.and_then(|place| new.axes.get(place));
        let whose = axis.map_or("the rig's", |axis| axis.name.as_str());
        let what = match edit {
            RigEdit::Identity => "identity",
            RigEdit::Sense => "which way is plus",
            RigEdit::Scale => "scale",
            RigEdit::Travel => "travel",
            RigEdit::Reach => "reach",
            RigEdit::Speed => "highest speed",
            RigEdit::Sets => "accelerations and jerks",
            RigEdit::Enable => "whether it needs an enable control",
            RigEdit::Current => "whether its motor may hold with less current",
            RigEdit::Link => "delay or watchdog",
        };
        words.push(format!("{whose} {what}"));
    });
    listed(words)
}

fn listed(mut words: Vec<String>) -> String {
    let more = words.len().saturating_sub(NAMED);
    words.truncate(NAMED);
    match more {
        0 => words.join(", "),
        more => format!("{} and {more} more", words.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile::{Source, builtin, load_operator, load_rig};
    use stillhand_engine::output::{State, Why};

    fn talk(edit: impl Fn(String) -> String) -> (Operator, RigFile) {
        let rig = load_rig(&builtin::BENCH_RIG.source()).expect("shipped");
        let mut source = builtin::TALK.source();
        source.text = edit(source.text);
        let file = load_operator(&source).expect("good");
        let operator = file.resolve(std::slice::from_ref(&rig.rig)).expect("fits");
        (operator, rig)
    }

    fn said(edit: impl Fn(String) -> String) -> String {
        let (old, rig) = talk(|text| text);
        let (new, _) = talk(edit);
        let status = Status::at_start(State::NoLink(Why::Start));
        changes(&old, &new, &rig.rig, &status)
    }

    #[test]
    fn changes_are_named_by_what_they_are_about() {
        assert_eq!(said(|text| text), "");
        assert_eq!(said(|text| format!("{text}\n# a remark\n")), "");
        let feel = said(|text| text.replace("deadband = \"12 %\"", "deadband = \"14 %\""));
        assert_eq!(feel, "tilt feel");
        let faster = said(|text| text.replace("[\"2 mm/s\"", "[\"4 mm/s\""));
        assert_eq!(faster, "slide full stick faster");
        let first = said(|text| text.replace("first_gear = 2", "first_gear = 1"));
        assert_eq!(first, "what a start begins with");
        let shakes = said(|text| text.replace("first_gear", "shakes = \"never\"\nfirst_gear"));
        assert_eq!(shakes, "when the pad shakes");
        let many = said(|text| {
            text.replace("\"0.8 s\"", "\"0.9 s\"")
                .replace("\"20 %\"", "\"25 %\"")
        });
        assert_eq!(
            many,
            "pan feel, pan gain and lose times, tilt feel, tilt gain and lose times, slide gain and \
             lose times"
        );
    }

    #[test]
    fn a_rig_edit_names_axis_and_figure() {
        let rig = |text: String| {
            let source = Source::new("bench.toml", text);
            load_rig(&source).expect("good").rig
        };
        let text = builtin::BENCH_RIG.text.to_owned();
        let slower = text.replace("speed = \"40 deg/s\"", "speed = \"39 deg/s\"");
        assert_eq!(
            rig_changes(&rig(text.clone()), &rig(slower)),
            "tilt highest speed"
        );
        assert_eq!(rig_changes(&rig(text.clone()), &rig(text)), "");
    }
}
