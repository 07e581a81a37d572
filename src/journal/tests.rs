use super::recorder::Recorder;
use super::*;
use std::sync::Arc;

#[test]
fn a_stopped_journal_says_why_once_and_for_all() {
    let standing = Standing::default();
    assert_eq!(standing.stopped(), None);
    standing.stop("the disk is full".to_owned());
    standing.stop("and then something else".to_owned());
    assert_eq!(standing.stopped().as_deref(), Some("the disk is full"));
}

#[test]
fn the_ring_is_empty_when_a_recorder_is_new() {
    let bounds = Bounds::default();
    let (_recorder, far) = Recorder::new(&bounds, Arc::new(Standing::default()));
    assert_eq!(far.slots(), 0);
}

/// The bytes of the page's example, as this program writes them.
#[test]
fn the_worked_tick_of_the_page_is_what_is_written() {
    use super::bytes::Out;
    use stillhand_engine::input::{Control, Input, PadEvent, PadId};
    let page = include_str!("FORMAT.md");
    let (_, example) = page.split_once("## A worked tick").expect("it is there");
    let lines = example.lines().filter(|line| line.starts_with("    "));
    let hex = lines.filter_map(|line| line.trim().split("  ").next());
    let wanted: Vec<u8> = hex
        .flat_map(str::split_whitespace)
        .filter_map(|byte| u8::from_str_radix(byte, 16).ok())
        .collect();
    let mut out = Out::new();
    out.begin(recorder::kind::TICK);
    out.put(&[0]);
    out.number(1);
    out.number(4_000_000);
    out.number(1);
    let moved = PadEvent::Moved(Control::Rx, 0.5);
    out.value(&Input::Pad(PadId(0), moved));
    out.number(0);
    out.number(0);
    out.seal();
    let bytes = out.whole().expect("it fits");
    assert_eq!(wanted, bytes[..bytes.len() - 4]);
}

/// The page's table of words is the order of the row.
#[test]
fn the_words_of_the_page_are_those_of_the_row() {
    let page = include_str!("FORMAT.md");
    let head = Head {
        program: String::new(),
        run: 0,
        number: 0,
        begun_s: 0,
        operator: String::new(),
        rigs: Vec::new(),
    };
    let name = |place: usize| row::name(place, &head);
    let own = |place: usize| {
        name(place)
            .rsplit(": ")
            .next()
            .unwrap_or_default()
            .to_owned()
    };
    let listed = |places: std::ops::Range<usize>| places.map(own).collect::<Vec<_>>().join(", ");
    assert_eq!((own(0), own(1)), ("state".to_owned(), "ended".to_owned()));
    for list in [
        format!("| 2 to 5 | {} |", listed(2..6)),
        format!("| 6 to 29 | four groups of six: {} |", listed(6..12)),
        format!("| 30 | the first rig: {}, ", listed(30..32)),
        format!(
            "| 40 | then its eight axes, seventeen words each: {} |",
            listed(40..57)
        ),
    ] {
        assert!(page.contains(&list), "{list}");
    }
    assert_eq!(name(29), "group 4: trigger_unheard");
    assert_eq!(name(39), "axis 8: frame velocity");
    assert_eq!(name(175), "axis 8: band_high");
    assert_eq!(name(176), "frame");
}

/// The page's numbers of choices are those that are written.
#[test]
fn the_choices_of_the_page_are_those_that_are_written() {
    use stillhand_engine::input::{
        Button, Control, Input, LinkEvent, LinkLoss, PadBus, PadEvent, PadId, StopSource,
    };
    fn first<T: serde::Serialize>(value: &T) -> u8 {
        let mut bytes = [0; 400];
        postcard::to_slice(value, &mut bytes).expect("short")[0]
    }
    let (bus, drives) = (PadBus::Usb, true);
    let events = [
        PadEvent::Plugged { bus, drives },
        PadEvent::Unplugged,
        PadEvent::Moved(Control::Lx, 0.0),
        PadEvent::Pressed(Button::East, true),
        PadEvent::Alive,
        PadEvent::Bus(bus),
    ];
    assert_eq!(events.map(|event| first(&event)), [0, 1, 2, 3, 4, 5]);
    let buses = [
        PadBus::Wired,
        PadBus::Usb,
        PadBus::Bluetooth,
        PadBus::Streaming,
    ];
    assert_eq!(buses.map(|bus| first(&bus)), [0, 1, 2, 3]);
    assert_eq!(
        Control::ALL.map(|control| first(&control)),
        [0, 1, 2, 3, 4, 5]
    );
    let stops = [StopSource::Pad(PadId(3)), StopSource::Command];
    assert_eq!(stops.map(|stop| first(&stop)), [0, 1]);
    let links = [
        LinkEvent::Lost(LinkLoss::Fault),
        LinkEvent::Unsent(1),
        LinkEvent::SentLate(1, stillhand_engine::time::Time(1)),
    ];
    assert_eq!(links.map(|event| first(&event)), [1, 3, 4]);
    let inputs = [
        Input::Pad(PadId(0), PadEvent::Alive),
        Input::Link(0, links[0]),
        Input::End,
    ];
    assert_eq!(inputs.map(|input| first(&input)), [0, 1, 3]);
}
