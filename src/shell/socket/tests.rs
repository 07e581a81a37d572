//! Requests and what comes of them, without a daemon.

use super::axis::asked;
use super::request::{Answer, Request};
use crate::shell::drive::Shared;
use crate::shell::pages::{Page, PageAxis};
use stillhand_engine::input::{Order, StopSource};
use stillhand_engine::operate::modes::{Mode, Switch};
use stillhand_engine::output::State;
use stillhand_engine::units::Unit;

fn page() -> Page {
    let status = Shared::new()
        .snapshot
        .lock()
        .expect("nobody panicked")
        .status;
    Page {
        status,
        operator: "talk".to_owned(),
        waits: None,
        groups: vec!["head".to_owned(), "lens".to_owned()],
        gears: vec![3, 2],
        axes: [("tilt", Unit::Deg), ("slide", Unit::Mm)]
            .map(|(name, unit)| PageAxis {
                name: name.to_owned(),
                unit,
                stands: format!("{name} stands at 0"),
                here: Ok(0.0),
            })
            .into(),
        reference: (false, String::new()),
        json: serde_json::json!({ "rig": "hall" }),
    }
}

fn read(line: &str) -> Result<Request, String> {
    Request::read(line.as_bytes())
}

fn outcome(line: &str, page: &Page) -> Answer {
    read(line).expect(line).outcome(page)
}

#[test]
fn lines_are_read_as_the_page_says() {
    for (line, request) in [
        (r#"{"do":"status"}"#, Request::Status {}),
        (r#"{ "do": "stop" }"#, Request::Stop {}),
        (r#"{"do":"quiet","on":false}"#, Request::Quiet { on: false }),
        (
            r#"{"do":"gear","to":2}"#,
            Request::Gear { to: 2, group: None },
        ),
        (r#"{"do":"use"}"#, Request::Use { operator: None }),
        (
            r#"{"do":"reference","axis":"tilt","here":"0deg"}"#,
            Request::Reference {
                axis: "tilt".to_owned(),
                here: "0deg".to_owned(),
                again: false,
            },
        ),
        (
            r#"{"do":"travel","axis":"tilt","high":"here"}"#,
            Request::Travel {
                axis: "tilt".to_owned(),
                low: None,
                high: Some("here".to_owned()),
            },
        ),
        (
            r#"{"do":"use","operator":"viola"}"#,
            Request::Use {
                operator: Some("viola".to_owned()),
            },
        ),
    ] {
        assert_eq!(read(line), Ok(request), "{line}");
    }
}

#[test]
fn a_reference_has_an_axis_and_a_position_in_its_unit() {
    let page = page();
    for (name, here, place, at) in [
        ("tilt", "0deg", 0, 0.0),
        ("tilt", " -12.5 deg ", 0, -12.5),
        ("slide", "600 mm", 1, 600.0),
    ] {
        let asked = asked(&page, name, here, true).expect(here);
        assert_eq!((asked.axis, asked.at, asked.again), (place, at, true));
    }
    for (name, here, part) in [
        ("pan", "0deg", "there is no axis pan; there is tilt, slide"),
        ("tilt", "0mm", "say where tilt stands in deg, such as 0deg"),
        ("tilt", "0", "in deg"),
        ("tilt", "nandeg", "in deg"),
        ("tilt", "0 deg/s", "in deg"),
        ("slide", "12 deg", "in mm"),
        ("slide", "", "in mm"),
    ] {
        let words = asked(&page, name, here, false).expect_err(here);
        assert!(words.contains(part), "{here}: {words}");
    }
}

#[test]
fn lines_that_are_no_request_say_why() {
    for (line, part) in [
        ("", "EOF"),
        ("stop", "expected value"),
        (
            r#"{"do":"dance"}"#,
            "unknown variant `dance`, expected one of `status`",
        ),
        (r#"{"do":"quiet"}"#, "missing field `on`"),
        (r#"{"do":"quiet","on":1}"#, "invalid type"),
        (r#"{"do":"stop","now":true}"#, "unknown field `now`"),
        (r#"{"do":"gear","to":-1}"#, "invalid value"),
        (r#"{"do":"gear","to":999}"#, "invalid value"),
        ("\u{0}\u{1}", "expected value"),
    ] {
        let words = read(line).expect_err(line);
        assert!(
            words.contains(part) && words.contains("Ask like"),
            "{line}: {words}"
        );
    }
}

#[test]
fn a_gear_is_asked_of_one_group_or_of_all() {
    let orders = |line: &str| read(line).expect(line).orders(&page());
    let gear = |group, gear| Order::Gear { group, gear };
    assert_eq!(
        orders(r#"{"do":"gear","to":3}"#),
        Ok(vec![gear(0, 2), gear(1, 2)])
    );
    assert_eq!(
        orders(r#"{"do":"gear","to":2,"group":"lens"}"#),
        Ok(vec![gear(1, 1)])
    );
    for (line, part) in [
        (
            r#"{"do":"gear","to":3,"group":"lens"}"#,
            "gears go from 1 to 2",
        ),
        (r#"{"do":"gear","to":0}"#, "gears go from 1 to 3"),
        (
            r#"{"do":"gear","to":1,"group":"arm"}"#,
            "there is head, lens",
        ),
    ] {
        let words = orders(line).expect_err(line);
        assert!(words.contains(part), "{words}");
    }
    assert_eq!(orders(r#"{"do":"stop"}"#), Ok(Vec::new()));
    assert_eq!(
        orders(r#"{"do":"still","on":true}"#),
        Ok(vec![Order::Mode(Mode::Still, true)])
    );
}

#[test]
fn the_answer_is_what_came_of_it() {
    let mut page = page();
    assert!(!outcome(r#"{"do":"stop"}"#, &page).ok, "not stopped yet");
    page.status.state = State::Stopped(StopSource::Command);
    assert!(outcome(r#"{"do":"stop"}"#, &page).ok);
    for (is, on, ok, part) in [
        (Switch::On, true, true, "quiet is on"),
        (Switch::Off, false, true, "quiet is off"),
        (
            Switch::Leaving,
            false,
            true,
            "as soon as the sticks are centred",
        ),
        (Switch::On, false, false, "rolling"),
        (Switch::Off, true, false, "not on"),
    ] {
        page.status.modes.quiet = is;
        let answer = outcome(&format!(r#"{{"do":"quiet","on":{on}}}"#), &page);
        assert!(answer.ok == ok && answer.says.contains(part), "{answer:?}");
    }
    page.status.groups[0].gear = 2;
    page.status.groups[1].gear = 1;
    // The lens has but two gears: its fastest is as near to the third as it comes.
    assert!(outcome(r#"{"do":"gear","to":3}"#, &page).ok);
    let answer = outcome(r#"{"do":"gear","to":1,"group":"head"}"#, &page);
    assert!(!answer.ok && answer.says.contains("gear 3"), "{answer:?}");
}

/// Every line of the page's examples is one that is understood, or one that is sent.
#[test]
fn the_page_shows_what_is_so() {
    let text = include_str!("ASKING.md");
    let (mut asked, mut answered) = (0, 0);
    for line in text.lines() {
        if let Some(line) = line.strip_prefix("    > ") {
            read(line).expect(line);
            asked += 1;
        } else if let Some(line) = line.strip_prefix("    < ") {
            let answer: Answer = serde_json::from_str(line).expect(line);
            assert_eq!(answer.v, super::request::VERSION);
            answered += 1;
        }
    }
    assert!(asked >= 8 && answered >= 5, "{asked} and {answered}");
}
