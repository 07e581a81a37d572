//! Answers by the d-pad: while somebody is asked which way the picture went, its presses answer and do nothing else.
//!
//! They are taken out before the engine, which hears a sign of life instead, so that whatever a profile has bound to
//! them, inching above all, moves nothing. The button that stops is never taken, nor the coming up of one that the
//! engine knows as down.

use stillhand_engine::MAX_PADS;
use stillhand_engine::input::{Button, PadEvent, PadId};
use stillhand_engine::operate::presses::HELD_FOR;
use stillhand_engine::time::{Span, Time};

/// The buttons that answer.
const DPAD: [Button; 4] = [
    Button::DpadUp,
    Button::DpadDown,
    Button::DpadLeft,
    Button::DpadRight,
];
/// A shorter press may be a contact that bounces as it is let go; a thumb takes twice as long at least. (From
/// memory: switches bounce for 5 ms, worn ones for 20.)
const BOUNCE: Span = Span::from_millis(30);

/// The presses that were taken out.
#[derive(Debug, Default)]
pub(super) struct Answers {
    /// Since when the buttons are down whose presses were.
    down: [[Option<Time>; DPAD.len()]; MAX_PADS],
}

impl Answers {
    /// Takes what happened on a pad, `asked` or not: what the engine hears of it, and the button whose tap
    /// answers. One held as long as a press that is meant was not: that is how a move is begun.
    pub(super) fn take(
        &mut self,
        now: Time,
        (pad, event): (PadId, PadEvent),
        asked: bool,
        stop: Button,
    ) -> (PadEvent, Option<Button>) {
        let Some(down) = self.down.get_mut(usize::from(pad.0)) else {
            return (event, None);
        };
        let of = |button: Button| DPAD.iter().position(|own| *own == button);
        match event {
            PadEvent::Plugged { .. } | PadEvent::Unplugged => {
                *down = Default::default();
                (event, None)
            }
            PadEvent::Pressed(button, true) => match of(button) {
                Some(place) if asked && button != stop => {
                    down[place] = Some(now);
                    (PadEvent::Alive, None)
                }
                Some(_) | None => (event, None),
            },
            PadEvent::Pressed(button, false) => {
                let Some(since) = of(button).and_then(|place| down[place].take()) else {
                    return (event, None);
                };
                let held = now.since(since);
                let tapped = asked && held >= BOUNCE && held < HELD_FOR;
                (PadEvent::Alive, tapped.then_some(button))
            }
            PadEvent::Moved(..) | PadEvent::Alive | PadEvent::Bus(_) => (event, None),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use Button::{DpadLeft, DpadUp, East, South};
    use PadEvent::{Alive, Pressed, Unplugged};

    const PAD: PadId = PadId(2);

    /// Takes an event at this millisecond.
    fn at(
        answers: &mut Answers,
        ms: u64,
        event: PadEvent,
        asked: bool,
    ) -> (PadEvent, Option<Button>) {
        let now = Time::default() + Span::from_millis(ms);
        answers.take(now, (PAD, event), asked, East)
    }

    #[test]
    fn a_tap_answers_and_reaches_the_engine_as_a_sign_of_life() {
        let mut answers = Answers::default();
        let down = Pressed(DpadLeft, true);
        let up = Pressed(DpadLeft, false);
        assert_eq!(at(&mut answers, 0, down, true), (Alive, None));
        assert_eq!(at(&mut answers, 100, up, true), (Alive, Some(DpadLeft)));
        for (from, to) in [(200, 229), (300, 900), (1_000, 5_000)] {
            assert_eq!(at(&mut answers, from, down, true), (Alive, None));
            assert_eq!(at(&mut answers, to, up, true), (Alive, None), "{to}");
        }
        // Not asked, they are the engine's; so are all other buttons at any time.
        for event in [down, up] {
            assert_eq!(at(&mut answers, 6_000, event, false), (event, None));
        }
        for event in [Pressed(South, true), Pressed(South, false)] {
            assert_eq!(at(&mut answers, 6_000, event, true), (event, None));
        }
    }

    /// Which presses the engine hears of is settled as they go down: it never misses the end of one it knows.
    #[test]
    fn a_press_belongs_to_whom_it_went_down_for() {
        let mut answers = Answers::default();
        let (down, up) = (Pressed(DpadUp, true), Pressed(DpadUp, false));
        assert_eq!(at(&mut answers, 0, down, false), (down, None));
        assert_eq!(at(&mut answers, 100, up, true), (up, None));
        assert_eq!(at(&mut answers, 200, down, true), (Alive, None));
        assert_eq!(at(&mut answers, 300, up, false), (Alive, None), "too late");
        // What was down on a pad that is gone is forgotten with it.
        assert_eq!(at(&mut answers, 400, down, true), (Alive, None));
        assert_eq!(at(&mut answers, 500, Unplugged, true), (Unplugged, None));
        assert_eq!(at(&mut answers, 600, up, true), (up, None));
    }

    #[test]
    fn the_button_that_stops_is_never_taken() {
        let mut answers = Answers::default();
        for down in [true, false] {
            let event = Pressed(DpadUp, down);
            let took = answers.take(Time::default(), (PAD, event), true, DpadUp);
            assert_eq!(took, (event, None));
        }
    }
}
