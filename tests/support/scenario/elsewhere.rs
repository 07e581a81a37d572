//! Rows no story can expect: why not, and which test knows better.

use super::cover::{Row, ceiling_row, sentence_row, template, turn_row, why_row};
use super::rows::{a_rig, operators};
use super::whys::all_whys;
use stillhand::cli::words::{self, About};
use stillhand_engine::input::LinkLoss;
use stillhand_engine::operate::state::{EVENTS, STATES};
use stillhand_engine::output::{Ceiling, Notice, State, Why};

/// A row no story can expect.
pub struct Elsewhere {
    pub row: Row,
    /// Why not.
    pub reason: &'static str,
    /// The file and the test that know better.
    pub test: (&'static str, &'static str),
}

const TABLE: (&str, &str) = (
    "src/engine/operate/state/tests.rs",
    "every_state_answers_every_event_as_written",
);

/// Turns that can't come about, each with the reason.
const TURNS: [(&str, &str); 23] = [
    ("NoLink + Released -> NoLink", STOPPED),
    ("NoPad + Released -> NoPad", STOPPED),
    ("Withheld + Released -> Withheld", STOPPED),
    ("Driving + Released -> Driving", STOPPED),
    ("Still + Released -> Still", STOPPED),
    ("Ending + Released -> Ending", STOPPED),
    ("NoLink + Lost -> NoPad", MET),
    ("NoLink + Lost -> Withheld", MET),
    ("NoLink + Lost -> Still", MET),
    ("NoPad + Found -> NoLink", LINKED),
    ("NoPad + Found -> NoPad", LINKED),
    ("Withheld + Found -> NoLink", LINKED),
    ("Withheld + Found -> NoPad", LINKED),
    ("NoPad + Lost -> Withheld", NOBODY),
    ("NoPad + Lost -> Still", NOBODY),
    ("NoPad + Armed -> NoPad", NOBODY),
    ("Stopped + Released -> NoPad", NOBODY),
    ("Withheld + Found -> Still", IN_STILL),
    ("Withheld + Lost -> Still", IN_STILL),
    ("Withheld + StillOff -> Withheld", IN_STILL),
    ("Driving + Lost -> Still", IN_STILL),
    ("Driving + StillOff -> Driving", IN_STILL),
    ("Still + Lost -> Withheld", IN_STILL),
];
const STOPPED: &str = "only a stop that is in force is released";
const MET: &str = "the last rig that is met is found in the same moment";
const LINKED: &str = "with the link gone the state is no link before anything is found";
const NOBODY: &str = "while no pad holds anything there is nothing to arm, lose or release by";
const IN_STILL: &str =
    "with link and pad there, the state is still exactly while still is on or a motor is weak";
/// Still goes off at once, and link and pad are there while the state is still.
const STILL_OFF: &str = "a state of still that goes off has link and pad";

/// All of them.
pub fn elsewhere() -> Vec<Elsewhere> {
    let turn = |text: &str, reason| Elsewhere {
        row: turn_row(&numbers(text)),
        reason,
        test: TABLE,
    };
    let mut all: Vec<Elsewhere> = TURNS.map(|(text, reason)| turn(text, reason)).into();
    all.push(turn("Still + StillOff -> NoLink", STILL_OFF));
    all.push(turn("Still + StillOff -> NoPad", STILL_OFF));
    all.push(Elsewhere {
        row: ceiling_row(Ceiling::Link),
        reason: "the simulated rig tells no more speed than a frame carries, so the rig binds first",
        test: (
            "src/engine/operate/tests/inching.rs",
            "a_step_is_no_faster_than_the_link_carries",
        ),
    });
    all.extend(contradictions());
    all.extend(whole_losses());
    let say = |text: &str, reason, file, name| Elsewhere {
        row: sentence_row(text),
        reason,
        test: (file, name),
    };
    let modes = "src/engine/operate/tests/modes.rs";
    let no_mode = "only what makes faster waits: quiet and reduced";
    all.extend([
        say(
            "still goes off when the sticks are let go",
            no_mode,
            modes,
            "still_comes_to_rest_refuses_every_stick_and_asks_for_consent_anew",
        ),
        say(
            "rolling goes off when the sticks are let go",
            no_mode,
            modes,
            "rolling_keeps_quiet_and_ends_only_by_being_kept_down",
        ),
        say(
            "rolling: this is locked until rolling is over",
            "nothing but gears and quiet is locked by a press",
            modes,
            "rolling_locks_gears_unless_the_sticks_are_let_go",
        ),
        say(
            "AXIS is given no reference: the rig does not stand there after all; ask anew, or check its firmware",
            "the simulated rig stands where it says it does",
            "src/engine/operate/tests/reference.rs",
            "a_rig_that_is_met_elsewhere_did_not_take_it",
        ),
        say(
            "the changed profile comes into force",
            "what waits for nothing is in force in the same moment",
            "tests/profile_change.rs",
            "edits_while_driving_are_no_jolt",
        ),
        say(
            "the changed profile names an axis the rig lacks: the old one stays in force",
            "a file is held against the rig, with a caret, before it is handed over",
            "tests/profile_change.rs",
            "a_profile_for_an_axis_there_is_not_changes_nothing",
        ),
    ]);
    all
}

/// What only a rig tells that does not keep to the protocol; the simulated one is never so wrong.
fn contradictions() -> Vec<Elsewhere> {
    let rig = a_rig();
    let [operator, ..] = operators(&rig);
    let about = About {
        rig: &rig,
        operator: &operator,
        script: None,
    };
    let say = |state| sentence_row(&template(&words::sentence(state, &about), &about));
    let disagrees = Why::LinkLost(LinkLoss::Disagrees);
    let rows = [
        say(State::NoLink(disagrees)),
        say(State::Withheld(disagrees)),
        why_row(State::Withheld(disagrees)),
    ];
    let contradicts = rows.map(|row| Elsewhere {
        row,
        reason: "the simulated rig does not contradict itself",
        test: (
            "tests/link_losses.rs",
            "telemetry_of_other_axes_is_not_believed",
        ),
    });
    let rows = [
        say(State::Withheld(Why::Reference)),
        why_row(State::Withheld(Why::Reference)),
    ];
    let reference = rows.map(|row| Elsewhere {
        row,
        reason: "a reference that is found ends the session, as the protocol says: the rig is met anew",
        test: (
            "src/engine/operate/tests/places.rs",
            "a_reference_that_is_found_withholds_and_guards_from_then_on",
        ),
    });
    contradicts.into_iter().chain(reference).collect()
}

/// Whatever stops the whole rig is told as a state, not of a group.
fn whole_losses() -> Vec<Elsewhere> {
    let rig = a_rig();
    let [.., operator] = operators(&rig);
    let about = About {
        rig: &rig,
        operator: &operator,
        script: None,
    };
    let of_groups = [Why::PadLost, Why::PadSilent, Why::ControlPassed];
    let whole = all_whys()
        .into_iter()
        .filter(|why| !of_groups.contains(why));
    whole
        .map(|why| {
            let (_, text) = words::notice(Notice::GroupWithheld { group: 0, why }, &about);
            Elsewhere {
                row: sentence_row(&template(&text, &about)),
                reason: "it stops every group",
                test: (
                    "src/engine/operate/tests/consent.rs",
                    "each_withholding_event_takes_every_consent_and_each_control_earns_its_own_again",
                ),
            }
        })
        .collect()
}

/// The numbers of a turn written as in the table.
fn numbers(text: &str) -> [usize; 3] {
    let mut words = text.split([' ', '+', '-', '>']).filter(|w| !w.is_empty());
    let mut next = |names: &[&str]| {
        let word = words.next().expect("three names");
        names.iter().position(|name| *name == word).expect(word)
    };
    [next(&STATES), next(&EVENTS), next(&STATES)]
}
