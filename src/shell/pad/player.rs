//! Plays a pad script, in real or virtual time.

use stillhand_engine::input::{Button, Control, PadBus, PadEvent};
use stillhand_engine::time::Span;

use super::script::{Action, Script};

/// A script's pad. It reads no clock: whoever plays it says how far time zero is away.
#[derive(Clone, Debug)]
pub struct Player {
    script: Script,
    drives: bool,
    next: usize,
    /// Whether the pad that is there at time zero has been plugged in.
    begun: bool,
    down: [bool; Button::ALL.len()],
    values: [Option<f64>; Control::ALL.len()],
}

impl Player {
    /// A player at the start of `script`, whose pad may drive or may not.
    pub fn new(script: Script, drives: bool) -> Player {
        Player {
            begun: !script.starts_plugged(),
            script,
            drives,
            next: 0,
            down: [false; Button::ALL.len()],
            values: [None; Control::ALL.len()],
        }
    }

    /// The next event due `since_zero`, with its own time; call until `None`. Allocates nothing.
    pub fn due(&mut self, since_zero: Span) -> Option<(Span, PadEvent)> {
        if !self.begun {
            self.begun = true;
            return Some((Span::ZERO, self.plugged()));
        }
        let (at, action) = *self.script.events().get(self.next)?;
        if at > since_zero {
            return None;
        }
        self.next += 1;
        Some((at, self.play(action)))
    }

    /// Whether everything was played. The pad stays as it is: plugged in, its sticks where the
    /// script left them.
    pub fn is_over(&self) -> bool {
        self.begun && self.next >= self.script.events().len()
    }

    /// The script it plays.
    pub fn script(&self) -> &Script {
        &self.script
    }

    fn play(&mut self, action: Action) -> PadEvent {
        match action {
            Action::Move(control, value) => {
                let known = &mut self.values[control as usize];
                if known.replace(value) == Some(value) {
                    PadEvent::Alive
                } else {
                    PadEvent::Moved(control, value)
                }
            }
            Action::Press(button, down) => {
                let before = std::mem::replace(&mut self.down[button as usize], down);
                if before == down {
                    PadEvent::Alive
                } else {
                    PadEvent::Pressed(button, down)
                }
            }
            Action::Plug => self.plugged(),
            Action::Unplug => {
                self.down = [false; Button::ALL.len()];
                self.values = [None; Control::ALL.len()];
                PadEvent::Unplugged
            }
        }
    }

    fn plugged(&self) -> PadEvent {
        PadEvent::Plugged {
            bus: PadBus::Wired,
            drives: self.drives,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use PadEvent::{Alive, Moved, Pressed, Unplugged};

    const PLUGGED: PadEvent = PadEvent::Plugged {
        bus: PadBus::Wired,
        drives: true,
    };

    fn player(text: &str) -> Player {
        let script = Script::parse(text).unwrap_or_else(|problems| panic!("{problems}"));
        Player::new(script, true)
    }

    fn all(player: &mut Player, ms: u64) -> Vec<(u64, PadEvent)> {
        std::iter::from_fn(|| player.due(Span::from_millis(ms)))
            .map(|(at, event)| (at.0 / 1_000_000, event))
            .collect()
    }

    #[test]
    fn events_come_when_due_and_once() {
        let mut player = player("0.1 ABS_RX 0\n0.2 ABS_RX 0.5\n0.2 BTN_EAST 1\n0.3 BTN_EAST 0");
        assert_eq!(all(&mut player, 0), [(0, PLUGGED)]);
        assert_eq!(all(&mut player, 99), []);
        assert_eq!(all(&mut player, 100), [(100, Moved(Control::Rx, 0.0))]);
        assert!(!player.is_over());
        assert_eq!(
            all(&mut player, 5000),
            [
                (200, Moved(Control::Rx, 0.5)),
                (200, Pressed(Button::East, true)),
                (300, Pressed(Button::East, false)),
            ]
        );
        assert!(player.is_over());
        assert_eq!(all(&mut player, 9000), []);
    }

    #[test]
    fn a_pad_that_starts_with_plug_is_not_there_before() {
        let mut player = player("1 PLUG\n2 ABS_X 1\n3 UNPLUG\n4 PLUG\n5 ABS_X 1\n6 ABS_X 1");
        assert_eq!(all(&mut player, 999), []);
        assert_eq!(
            all(&mut player, 6000),
            [
                (1000, PLUGGED),
                (2000, Moved(Control::Lx, 1.0)),
                (3000, Unplugged),
                (4000, PLUGGED),
                (5000, Moved(Control::Lx, 1.0)),
                (6000, Alive),
            ]
        );
    }

    #[test]
    fn hats_become_edges() {
        use Button::{DpadDown, DpadLeft, DpadUp};
        let mut player =
            player("0 ABS_HAT0Y 1\n1 ABS_HAT0Y 1\n2 ABS_HAT0Y -1\n3 ABS_HAT0Y 0\n4 ABS_HAT0X -1");
        let events: Vec<PadEvent> = all(&mut player, 9000).into_iter().map(|(_, e)| e).collect();
        assert_eq!(
            events,
            [
                PLUGGED,
                Pressed(DpadUp, true),
                Alive,
                Pressed(DpadUp, false),
                Pressed(DpadDown, true),
                Pressed(DpadDown, false),
                Pressed(DpadLeft, true),
            ]
        );
    }
}
