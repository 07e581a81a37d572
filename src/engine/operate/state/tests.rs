//! The whole transition table, written out and compared.

use super::{Event, Present, Turns, next, note, number, rows};
use crate::input::{LinkLoss, PadId, StopSource};
use crate::output::{State, Why};
use std::format;
use std::string::String;

/// Every state; each reason differs from those the events bring.
const STATES: [State; 7] = [
    State::NoLink(Why::Start),
    State::NoPad(Why::Start),
    State::Withheld(Why::Start),
    State::Driving,
    State::Still,
    State::Stopped(StopSource::Pad(PadId(1))),
    State::Ending,
];

const EVENTS: [Event; 8] = [
    Event::Stop(StopSource::Command),
    Event::Released,
    Event::Lost(Why::Late),
    Event::Found,
    Event::Armed,
    Event::StillOn,
    Event::StillOff,
    Event::End,
];

const PRESENT: [Present; 4] = [
    present(true, true),
    present(true, false),
    present(false, true),
    present(false, false),
];

const fn present(link: bool, pad: bool) -> Present {
    Present {
        link,
        pad,
        still: false,
    }
}

/// A row for each state and event: what follows with link and pad, without pad, without link, without
/// either; then, where it differs, what follows while `still` is on. Equal answers are written once.
fn table() -> String {
    let mut table = String::new();
    for state in STATES {
        for event in EVENTS {
            let moving = answer(state, event, false);
            let still = answer(state, event, true);
            table += &format!("{state:?} + {event:?} -> {moving}\n");
            if still != moving {
                table += &format!("    while still: {still}\n");
            }
        }
        table.push('\n');
    }
    table
}

fn answer(state: State, event: Event, still: bool) -> String {
    let after = PRESENT.map(|p| format!("{:?}", next(state, event, Present { still, ..p })));
    let [both, no_pad, no_link, neither] = &after;
    if after.iter().all(|a| a == both) {
        return both.clone();
    }
    format!("{both} | no pad: {no_pad} | no link: {no_link} | neither: {neither}")
}

/// `UPDATE_EXPECTED=1` writes the table down; then read the diff.
#[test]
fn every_state_answers_every_event_as_written() {
    let table = table();
    if std::env::var_os("UPDATE_EXPECTED").is_some() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/operate/state/table.txt");
        std::fs::write(path, &table).expect("the table is written down");
        return;
    }
    assert_eq!(table, include_str!("table.txt"));
}

/// What the table shows for one reason holds for all: a loss brings its own, coming back keeps it.
#[test]
fn a_loss_names_its_own_reason_and_coming_back_keeps_it() {
    let all = [
        Why::Start,
        Why::PadLost,
        Why::PadSilent,
        Why::LinkLost(LinkLoss::PowerOff),
        Why::StopReleased,
        Why::ProfileChanged,
        Why::StillEnded,
        Why::ControlPassed,
        Why::RigChanged,
        Why::Reference,
        Why::Late,
        Why::Residual { rig: 1, axis: 7 },
    ];
    let (all_there, no_link) = (present(true, true), present(false, true));
    for why in all {
        let lost = next(State::Driving, Event::Lost(why), no_link);
        assert_eq!(lost, State::NoLink(why));
        let back = next(lost, Event::Found, all_there);
        assert_eq!(back, State::Withheld(why));
        for newer in all {
            let again = next(back, Event::Lost(newer), all_there);
            assert_eq!(again, State::Withheld(newer));
        }
    }
}

/// Numbers are places in the lists of names, and a noted row is read back as it was.
#[test]
fn a_row_that_is_noted_is_read_back() {
    let name =
        |text: String| std::borrow::ToOwned::to_owned(text.split('(').next().unwrap_or_default());
    for state in STATES {
        assert_eq!(super::STATES[number(state)], name(format!("{state:?}")));
        for event in EVENTS {
            assert_eq!(super::EVENTS[event.number()], name(format!("{event:?}")));
            let mut turns = Turns::default();
            note(&mut turns, state, event, State::Ending);
            note(&mut turns, state, event, State::NoLink(Why::Late));
            let rows: std::vec::Vec<_> = rows(&turns).collect();
            let (s, e) = (number(state), event.number());
            assert_eq!(rows, [[s, e, 0], [s, e, 6]]);
        }
    }
}
