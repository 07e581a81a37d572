//! Every row a story could expect, from the program's own lists. What is new there does not compile here
//! before it is among them.

use super::cover::{Row, ceiling_row, sentence_row, state_row, template, turn_row, why_row};
use super::presses::{doings, press_row};
use super::whys::all_whys;
use std::collections::BTreeSet;
use stillhand::cli::words::{self, About};
use stillhand::profile::{Source, builtin, load_operator, load_rig};
use stillhand_engine::bindings::{Action, Binding, Bindings, Press};
use stillhand_engine::errand::{ErrandEnd, ErrandNews, Purpose, Refusal};
use stillhand_engine::input::{Button, PadId, StopSource};
use stillhand_engine::motion::bands::Band;
use stillhand_engine::operate::modes::Mode;
use stillhand_engine::operate::state::{Event, Present, next, number};
use stillhand_engine::operator::{Enable, Operator};
use stillhand_engine::output::{
    AxisStatus, Ceiling, Enabled, Mover, Notice, Place, State, Status, Wait, Why,
};
use stillhand_engine::reference::{NotReferenced, Reference, Stands};
use stillhand_engine::rig::Rig;
use stillhand_engine::time::Span;

/// All rows.
pub fn all_rows() -> BTreeSet<Row> {
    let mut rows = BTreeSet::new();
    for state in states() {
        rows.insert(state_row(state));
        rows.insert(why_row(state));
    }
    rows.extend(Ceiling::ALL.map(ceiling_row));
    rows.extend(turns());
    rows.extend(presses());
    let rig = a_rig();
    for operator in operators(&rig) {
        let about = About {
            rig: &rig,
            operator: &operator,
            script: None,
        };
        let mut say = |text: &str| {
            rows.insert(sentence_row(&template(text, &about)));
        };
        statuses(&rig).for_each(|(status, axes)| say(&words::says(&status, &axes, &about)));
        for notice in notices() {
            say(&words::notice(notice, &about).1);
        }
    }
    rows
}

pub fn a_rig() -> Rig {
    let rig = load_rig(&builtin::BENCH_RIG.source());
    rig.expect("it is shipped").rig
}

/// Operators about whom the words differ: of one group and of two, with still on a button, on two
/// and on none, and a release by two buttons.
pub fn operators(rig: &Rig) -> [Operator; 4] {
    let groups = "[groups]\nhead = [\"pan\", \"tilt\"]\ndolly = [\"slide\"]\n";
    let of = |groups: &str, buttons: &str| {
        let hand = |axis: &str, control: &str, unit: &str| {
            format!("[axis.{axis}]\ncontrol = \"{control}\"\ngears = [\"3 {unit}/s\"]\n")
        };
        let text = format!(
            "[operator]\nname = \"hall\"\n{groups}{}{}{}[buttons]\n{buttons}",
            hand("pan", "rx", "deg"),
            hand("tilt", "ry", "deg"),
            hand("slide", "lx", "mm"),
        );
        let file = load_operator(&Source::new("rows", text)).expect("it is good");
        file.resolve(std::slice::from_ref(rig)).expect("it fits")
    };
    [
        of("", ""),
        of("", "still = \"north\"\n"),
        of(
            "",
            "still = \"select + north\"\nrelease = \"select + start\"\n",
        ),
        of(groups, ""),
    ]
}

/// Every state with every reason.
fn states() -> Vec<State> {
    let mut states = vec![
        State::Driving,
        State::Still,
        State::Stopped(StopSource::Pad(PadId(0))),
        State::Stopped(StopSource::Command),
        State::Ending,
    ];
    for why in all_whys() {
        states.extend([State::NoLink(why), State::NoPad(why), State::Withheld(why)]);
    }
    states
}

/// Everything the status can be about.
fn statuses(rig: &Rig) -> impl Iterator<Item = (Status, Vec<AxisStatus>)> {
    let axes = vec![AxisStatus::default(); rig.axes.len()];
    let mut all: Vec<(Status, Vec<AxisStatus>)> = states()
        .into_iter()
        .map(|state| (Status::at_start(state), axes.clone()))
        .collect();
    let driving = Status::at_start(State::Driving);
    let moving = AxisStatus {
        mover: Mover::Errand,
        ..AxisStatus::default()
    };
    all.push((driving, vec![moving; rig.axes.len()]));
    let mut unheard = driving;
    unheard.groups[0].trigger_unheard = true;
    all.push((unheard, axes.clone()));
    let with = |axis: AxisStatus| {
        let mut axes = axes.clone();
        axes[0] = axis;
        (driving, axes)
    };
    all.push(with(AxisStatus {
        speed: 1.0,
        ..AxisStatus::default()
    }));
    all.push(with(AxisStatus {
        speed: 1.0,
        band: Some(Band::default()),
        ..AxisStatus::default()
    }));
    let enabled = [
        Enabled::NotNeeded,
        Enabled::Held,
        Enabled::Wanted,
        Enabled::Unbound,
    ];
    for place in [Place::Inside, Place::Outside, Place::Unreferenced] {
        all.extend(enabled.map(|enabled| {
            with(AxisStatus {
                place,
                enabled,
                ..AxisStatus::default()
            })
        }));
    }
    all.into_iter()
}

/// Every notice, of each kind with whatever makes its words differ.
fn notices() -> Vec<Notice> {
    let mut all = Vec::new();
    let mut kind = Some(Notice::ProfileApplied);
    while let Some(one) = kind {
        let (same_kind, after) = kind_of(one);
        all.extend(same_kind);
        kind = after;
    }
    all
}

/// The notices of one kind, and one of the next kind.
fn kind_of(one: Notice) -> (Vec<Notice>, Option<Notice>) {
    let (group, pad, rig, axis) = (0, PadId(0), 0, 0);
    let span = Span::from_millis(1_500);
    let each = |make: &dyn Fn(Option<PadId>) -> Notice| vec![make(Some(pad)), make(None)];
    let waits = |make: &dyn Fn(Wait) -> Notice| waits().into_iter().map(make).collect();
    let (same, after) = match one {
        Notice::ProfileApplied => (vec![one], Notice::ProfileRefused),
        Notice::ProfileRefused => (vec![one], Notice::ProfileWaits(Wait::Nothing)),
        Notice::ProfileWaits(_) => (waits(&Notice::ProfileWaits), Notice::RigApplied(rig)),
        Notice::RigApplied(_) => (vec![one], Notice::RigRefused(rig)),
        Notice::RigRefused(_) => (vec![one], Notice::RigWaits(Wait::Nothing)),
        Notice::RigWaits(_) => (waits(&Notice::RigWaits), Notice::Entered(State::Driving)),
        Notice::Entered(_) => (
            states().into_iter().map(Notice::Entered).collect(),
            Notice::Holds { group, pad: None },
        ),
        Notice::Holds { .. } => (
            each(&|pad| Notice::Holds { group, pad }),
            Notice::Asks { group, pad },
        ),
        Notice::Asks { .. } => (vec![one], Notice::Agreed { group, pad }),
        Notice::Agreed { .. } => (vec![one], Notice::AskForgotten(group)),
        Notice::AskForgotten(_) => {
            let why = Why::PadLost;
            (vec![one], Notice::GroupWithheld { group, why })
        }
        Notice::GroupWithheld { .. } => (
            all_whys()
                .into_iter()
                .map(|why| Notice::GroupWithheld { group, why })
                .collect(),
            Notice::SilenceNear { pad, left: span },
        ),
        Notice::SilenceNear { .. } => (vec![one], Notice::Gear { group, gear: 0 }),
        Notice::Gear { .. } => (vec![one], Notice::Mode(Mode::Quiet, true)),
        Notice::Mode(..) => (
            [true, false]
                .into_iter()
                .flat_map(|on| Mode::ALL.map(|mode| Notice::Mode(mode, on)))
                .collect(),
            Notice::ModeWaits(Mode::Quiet),
        ),
        Notice::ModeWaits(_) => (
            Mode::ALL.map(Notice::ModeWaits).to_vec(),
            Notice::Locked(Action::Quiet),
        ),
        Notice::Locked(_) => (
            actions().into_iter().map(Notice::Locked).collect(),
            Notice::NextOperator(pad),
        ),
        Notice::NextOperator(_) => (vec![one], Notice::Sustain { group, on: true }),
        Notice::Sustain { .. } => (
            [true, false]
                .map(|on| Notice::Sustain { group, on })
                .to_vec(),
            Notice::Place {
                rig,
                axis,
                place: Place::Inside,
            },
        ),
        Notice::Place { .. } => (
            [Place::Inside, Place::Outside, Place::Unreferenced]
                .map(|place| Notice::Place { rig, axis, place })
                .to_vec(),
            Notice::TravelEnd { rig, axis },
        ),
        Notice::TravelEnd { .. } => (vec![one], Notice::EndHere { rig, axis }),
        Notice::EndHere { .. } => (vec![one], Notice::GuardLate { rig, axis }),
        Notice::GuardLate { .. } => (vec![one], Notice::Apart { rig, axis }),
        Notice::Apart { .. } => (vec![one], Notice::Late(span)),
        Notice::Late(_) => (vec![one], Notice::TooManyPads),
        Notice::TooManyPads => (
            vec![one],
            Notice::Errand(Purpose::Survey, ErrandNews::Begun),
        ),
        Notice::Errand(purpose, _) => {
            let all = errand_news().into_iter();
            let (asked, stands) = (Reference::default(), Stands::Asked);
            (
                all.map(|news| Notice::Errand(purpose, news)).collect(),
                Notice::Reference { asked, stands },
            )
        }
        Notice::Reference { .. } => return (references(), None),
    };
    (same, Some(after))
}

/// Whatever becomes of an errand.
fn errand_news() -> Vec<ErrandNews> {
    let press = Enable::Button(Button::DpadUp);
    let offered = |keep| ErrandNews::Offered { press, keep };
    let mut all = vec![offered(false), offered(true)];
    all.extend([ErrandNews::Begun, ErrandNews::Leg(0), ErrandNews::Done]);
    let end = |end: &ErrandEnd| match end {
        ErrandEnd::Stick => Some(ErrandEnd::Withheld),
        ErrandEnd::Withheld => Some(ErrandEnd::LetGo),
        ErrandEnd::LetGo => Some(ErrandEnd::Rolling),
        ErrandEnd::Rolling => Some(ErrandEnd::Ceiling),
        ErrandEnd::Ceiling => Some(ErrandEnd::Band),
        ErrandEnd::Band => Some(ErrandEnd::Travel),
        ErrandEnd::Travel => Some(ErrandEnd::CalledOff),
        ErrandEnd::CalledOff => None,
    };
    let refusal = |refusal: &Refusal| match refusal {
        Refusal::Busy => Some(Refusal::TooLate),
        Refusal::TooLate => Some(Refusal::NoHand),
        Refusal::NoHand => Some(Refusal::Bound),
        Refusal::Bound => Some(Refusal::Groups),
        Refusal::Groups => Some(Refusal::Unreferenced),
        Refusal::Unreferenced => Some(Refusal::Outside),
        Refusal::Outside => Some(Refusal::Rolling),
        Refusal::Rolling => None,
    };
    let ends = std::iter::successors(Some(ErrandEnd::Stick), end);
    let refusals = std::iter::successors(Some(Refusal::Busy), refusal);
    all.extend(ends.map(ErrandNews::Ended));
    all.extend(refusals.map(ErrandNews::Refused));
    all
}

/// Whatever becomes of a reference.
fn references() -> Vec<Notice> {
    let after = |refusal: &NotReferenced| match refusal {
        NotReferenced::Busy => Some(NotReferenced::NoLink),
        NotReferenced::NoLink => Some(NotReferenced::Rolling),
        NotReferenced::Rolling => Some(NotReferenced::Moving),
        NotReferenced::Moving => Some(NotReferenced::Stick),
        NotReferenced::Stick => Some(NotReferenced::Already),
        NotReferenced::Already => Some(NotReferenced::Outside),
        NotReferenced::Outside => Some(NotReferenced::NoAnswer),
        NotReferenced::NoAnswer => Some(NotReferenced::LinkLost),
        NotReferenced::LinkLost => Some(NotReferenced::NotTaken),
        NotReferenced::NotTaken => None,
    };
    let refusals = std::iter::successors(Some(NotReferenced::Busy), after);
    let settled = [Stands::Asked, Stands::Taken].into_iter();
    let all = settled.chain(refusals.map(Stands::Refused));
    let asked = Reference::default();
    all.map(|stands| Notice::Reference { asked, stands })
        .collect()
}

fn waits() -> Vec<Wait> {
    let after = |wait: &Wait| match wait {
        Wait::Nothing => Some(Wait::Centred),
        Wait::Centred => Some(Wait::RestAndCentred),
        Wait::RestAndCentred => Some(Wait::NotRolling),
        Wait::NotRolling => None,
    };
    std::iter::successors(Some(Wait::Nothing), after).collect()
}

/// Every action.
fn actions() -> Vec<Action> {
    let after = |action: &Action| match action {
        Action::Stop => Some(Action::Release),
        Action::Release => Some(Action::GearUp),
        Action::GearUp => Some(Action::GearDown),
        Action::GearDown => Some(Action::Quiet),
        Action::Quiet => Some(Action::Still),
        Action::Still => Some(Action::Reduced),
        Action::Reduced => Some(Action::Rolling),
        Action::Rolling => Some(Action::NextOperator),
        Action::NextOperator => Some(Action::Sustain),
        Action::Sustain => Some(Action::Control { group: 0 }),
        Action::Control { .. } => Some(Action::Inch {
            hand: 0,
            plus: true,
        }),
        Action::Inch { .. } => Some(Action::EndHere { hand: 0 }),
        Action::EndHere { .. } => None,
    };
    std::iter::successors(Some(Action::Stop), after).collect()
}

/// Every kind of press of every action that bindings allow.
fn presses() -> Vec<Row> {
    let (with, button) = (Button::Tl, Button::North);
    let kinds = [
        Press::Tap(button),
        Press::Held(button),
        Press::With { with, button },
    ];
    let mut rows = Vec::new();
    for action in actions() {
        for press in kinds {
            let bound = |press, action| Binding { press, action };
            let mut list = vec![bound(press, action)];
            if action != Action::Stop {
                list.push(bound(Press::Tap(Button::East), Action::Stop));
            }
            if action != Action::Release {
                list.push(bound(Press::Held(Button::Start), Action::Release));
            }
            if Bindings::new(list, 1).is_ok() {
                rows.extend(
                    doings(action)
                        .iter()
                        .map(|did| press_row(press, action, *did)),
                );
            }
        }
    }
    rows
}

/// Every turn the state machine could take.
fn turns() -> BTreeSet<Row> {
    let events = [
        Event::Stop(StopSource::Command),
        Event::Released,
        Event::Lost(Why::Late),
        Event::Found,
        Event::Armed,
        Event::StillOn,
        Event::StillOff,
        Event::End,
    ];
    let mut rows = BTreeSet::new();
    for before in states() {
        for event in events {
            for n in 0..8 {
                let present = Present {
                    link: n & 1 != 0,
                    pad: n & 2 != 0,
                    still: n & 4 != 0,
                };
                let after = next(before, event, present);
                let row = [number(before), event.number(), number(after)];
                rows.insert(turn_row(&row));
            }
        }
    }
    rows
}
