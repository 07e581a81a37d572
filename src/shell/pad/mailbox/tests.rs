use super::super::backlog::{EDGES, MOST};
use super::*;
use stillhand_engine::input::{Control, PadBus};
use stillhand_engine::time::Time;

const PLUGGED: PadEvent = PadEvent::Plugged {
    bus: PadBus::Usb,
    drives: true,
};

fn post(outbox: &mut Outbox, pad: u8, event: PadEvent) {
    outbox.post(PadInput {
        at: Time(1),
        pad: PadId(pad),
        event,
    });
}

fn drain(outbox: &mut Outbox, inbox: &mut Inbox) -> Vec<(u8, PadEvent)> {
    let mut all = Vec::new();
    loop {
        outbox.flush();
        match inbox.pop() {
            Some(input) => all.push((input.pad.0, input.event)),
            None => return all,
        }
    }
}

fn moved(value: f64) -> PadEvent {
    PadEvent::Moved(Control::Rx, value)
}

#[test]
fn order_is_kept_while_there_is_room() {
    let (mut outbox, mut inbox) = mailbox(8);
    let events = [
        PLUGGED,
        moved(0.1),
        PadEvent::Pressed(Button::South, true),
        moved(0.2),
        PadEvent::Pressed(Button::South, false),
        PadEvent::Alive,
        PadEvent::Unplugged,
    ];
    for event in events {
        post(&mut outbox, 0, event);
    }
    assert!(!outbox.is_behind());
    let seen = drain(&mut outbox, &mut inbox);
    assert_eq!(seen, events.map(|event| (0, event)));
    assert_eq!(inbox.dropped(), 0);
}

#[test]
fn a_full_ring_keeps_last_values_edges_and_unplugs() {
    let (mut outbox, mut inbox) = mailbox(2);
    post(&mut outbox, 0, PLUGGED);
    post(&mut outbox, 1, PLUGGED);
    for step in 0..1000 {
        post(&mut outbox, 0, moved(f64::from(step) / 1000.0));
        post(
            &mut outbox,
            0,
            PadEvent::Moved(Control::Lx, -f64::from(step)),
        );
        post(&mut outbox, 1, PadEvent::Alive);
    }
    post(&mut outbox, 0, PadEvent::Pressed(Button::Tr, true));
    post(&mut outbox, 0, PadEvent::Pressed(Button::Tr, false));
    post(&mut outbox, 0, moved(0.0));
    post(&mut outbox, 1, PadEvent::Unplugged);
    assert!(outbox.is_behind());
    let seen = drain(&mut outbox, &mut inbox);
    assert_eq!(
        seen,
        [
            (0, PLUGGED),
            (1, PLUGGED),
            (0, PadEvent::Moved(Control::Lx, -999.0)),
            (0, PadEvent::Pressed(Button::Tr, true)),
            (0, PadEvent::Pressed(Button::Tr, false)),
            (0, moved(0.0)),
            (1, PadEvent::Unplugged),
        ]
    );
    // 3004 posted behind the two plugs, 5 of them arrived.
    assert_eq!(inbox.dropped(), 2999);
}

#[test]
fn a_stop_overtakes_a_full_ring_and_survives_a_later_unplug() {
    let (mut outbox, mut inbox) = mailbox(2);
    for _ in 0..3 {
        post(&mut outbox, 1, moved(0.5));
    }
    assert_eq!(inbox.take_stop(), None);
    post(&mut outbox, 1, PadEvent::Pressed(Button::East, true));
    post(&mut outbox, 1, PadEvent::Pressed(Button::East, false));
    post(&mut outbox, 1, PadEvent::Unplugged);
    post(&mut outbox, 1, PLUGGED);
    post(&mut outbox, 1, PadEvent::Unplugged);
    assert_eq!(inbox.take_stop(), Some(PadId(1)));
    assert_eq!(inbox.take_stop(), None, "one press is one stop");
    let seen = drain(&mut outbox, &mut inbox);
    let tail = [
        PadEvent::Pressed(Button::East, true),
        PadEvent::Pressed(Button::East, false),
        PadEvent::Unplugged,
    ];
    assert_eq!(seen[2..], tail.map(|event| (1, event)));
}

#[test]
fn the_stop_button_can_be_another_one() {
    let (mut outbox, mut inbox) = mailbox(8);
    inbox.set_stop_button(Button::West);
    post(&mut outbox, 0, PadEvent::Pressed(Button::East, true));
    assert_eq!(inbox.take_stop(), None);
    post(&mut outbox, 3, PadEvent::Pressed(Button::West, true));
    assert_eq!(inbox.take_stop(), Some(PadId(3)));
}

#[test]
fn a_chattering_button_keeps_its_first_press_and_its_last_state() {
    let (mut outbox, mut inbox) = mailbox(1);
    post(&mut outbox, 0, PLUGGED);
    for press in 0..1001 {
        post(
            &mut outbox,
            0,
            PadEvent::Pressed(Button::South, press % 2 == 0),
        );
    }
    let seen = drain(&mut outbox, &mut inbox);
    let edges: Vec<bool> = seen
        .iter()
        .filter_map(|(_, event)| match event {
            PadEvent::Pressed(Button::South, down) => Some(*down),
            _ => None,
        })
        .collect();
    assert_eq!(edges, [true, false, true]);
}

/// Whatever a pad does while nobody listens, the backlog stays within its bound, the last values
/// and states come out, and a vanished pad's last word is that it vanished.
#[test]
fn random_floods_stay_bounded_and_end_in_the_true_state() {
    // Knuth's MMIX linear congruential generator, from memory; any would do.
    let mut seed = 1u64;
    let mut next = |below: u64| {
        seed = seed
            .wrapping_mul(6364136223846793005)
            .wrapping_add(1442695040888963407);
        (seed >> 33) % below
    };
    for _ in 0..200 {
        let (mut outbox, mut inbox) = mailbox(4);
        let mut plugged = [false; MAX_PADS];
        let mut stick = [None; MAX_PADS];
        let mut button = [false; MAX_PADS];
        let mut vanished = [false; MAX_PADS];
        for step in 0..2000u32 {
            let pad = next(MAX_PADS as u64) as usize;
            let event = match (plugged[pad], next(12)) {
                (false, _) => PLUGGED,
                (true, 0) => PadEvent::Unplugged,
                (true, 1) => PadEvent::Alive,
                (true, 2) => PadEvent::Bus(PadBus::Streaming),
                (true, 3..6) => PadEvent::Pressed(Button::Start, !button[pad]),
                (true, _) => moved(f64::from(step)),
            };
            match event {
                PadEvent::Moved(_, value) => stick[pad] = Some(value),
                PadEvent::Pressed(_, down) => button[pad] = down,
                PadEvent::Plugged { .. } => plugged[pad] = true,
                PadEvent::Unplugged => {
                    (plugged[pad], button[pad], stick[pad]) = (false, false, None);
                    vanished[pad] = true;
                }
                PadEvent::Alive | PadEvent::Bus(_) => {}
            }
            post(&mut outbox, pad as u8, event);
        }
        let seen = drain(&mut outbox, &mut inbox);
        assert!(seen.len() <= MOST + 4, "{} waited", seen.len());
        for pad in 0..MAX_PADS {
            let mine = || {
                seen.iter()
                    .filter(|(p, _)| usize::from(*p) == pad)
                    .map(|(_, e)| *e)
            };
            let lost = mine().filter(|e| *e == PadEvent::Unplugged).count();
            assert_eq!(lost > 0, vanished[pad]);
            let ends_plugged = mine().fold(false, |on, e| match e {
                PadEvent::Plugged { .. } => true,
                PadEvent::Unplugged => false,
                _ => on,
            });
            assert_eq!(ends_plugged, plugged[pad]);
            let last_value = mine().fold(None, |last, e| match e {
                PadEvent::Moved(_, value) => Some(value),
                PadEvent::Unplugged => None,
                _ => last,
            });
            assert_eq!(last_value, stick[pad]);
            let last_state = mine().fold(false, |last, e| match e {
                PadEvent::Pressed(_, down) => down,
                PadEvent::Unplugged => false,
                _ => last,
            });
            assert_eq!(last_state, button[pad]);
            assert!(
                mine()
                    .filter(|e| matches!(e, PadEvent::Pressed(..)))
                    .count()
                    <= 2 * EDGES + 4
            );
        }
    }
}
