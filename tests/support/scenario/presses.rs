//! Which presses a story did, and what came of them: the rows of the table of presses and actions.

use super::cover::Row;
use stillhand_engine::bindings::{Action, Binding, Press};
use stillhand_engine::input::{Button, PadEvent, StopSource};
use stillhand_engine::operate::modes::Mode;
use stillhand_engine::operator::{MAX_GROUPS, Operator};
use stillhand_engine::output::{Notice, State, Status, Why};
use stillhand_engine::time::{Span, Time};

/// What came of a press comes so soon after it: the time of a held one, and a turn of the loop.
const SOON: Span = Span::from_millis(700);
/// A creep is expected so long after its press: no step lasts so long.
const CREEPS: Span = Span::from_millis(2_000);

/// What a press can do, as far as it can be told from outside.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Did {
    Once,
    On,
    Off,
}

/// The presses of a story.
#[derive(Default)]
pub struct Presses {
    /// Pad, button, when it went down and, if it did, up.
    all: Vec<(u8, Button, Time, Option<Time>)>,
    gears: [u8; MAX_GROUPS],
    bound: Vec<Binding>,
    /// The axis of each hand.
    axes: Vec<usize>,
}

/// `"held: quiet off"` and the like.
pub fn press_row(press: Press, action: Action, did: Did) -> Row {
    let kind = match press {
        Press::Tap(_) => "tap",
        Press::Held(_) => "held",
        Press::With { .. } => "with another",
    };
    let what = match (action, did) {
        (Action::Stop, _) => "stop".to_owned(),
        (Action::Release, _) => "release".to_owned(),
        (Action::GearUp, _) => "gear up".to_owned(),
        (Action::GearDown, _) => "gear down".to_owned(),
        (Action::NextOperator, _) => "next operator".to_owned(),
        (Action::EndHere { .. }, _) => "an end here".to_owned(),
        (Action::Sustain, Did::Off) => "sustain ended".to_owned(),
        (Action::Sustain, _) => "sustain".to_owned(),
        (Action::Control { .. }, Did::Off) => "a group passed".to_owned(),
        (Action::Control { .. }, _) => "a group asked for".to_owned(),
        (Action::Inch { .. }, Did::On) => "creep".to_owned(),
        (Action::Inch { .. }, _) => "step".to_owned(),
        (Action::Quiet | Action::Still | Action::Reduced | Action::Rolling, did) => {
            let name = Mode::of(action).map_or("", Mode::name);
            format!("{name} {}", if did == Did::On { "on" } else { "off" })
        }
    };
    format!("press {kind}: {what}")
}

/// What each action can do.
pub fn doings(action: Action) -> &'static [Did] {
    match action {
        Action::Stop
        | Action::Release
        | Action::GearUp
        | Action::GearDown
        | Action::NextOperator
        | Action::EndHere { .. } => &[Did::Once],
        Action::Quiet | Action::Still | Action::Reduced | Action::Rolling => &[Did::On, Did::Off],
        Action::Sustain | Action::Control { .. } | Action::Inch { .. } => &[Did::On, Did::Off],
    }
}

impl Presses {
    pub fn of(operator: &Operator) -> Presses {
        let mut presses = Presses::default();
        presses.go_by(operator);
        presses
    }

    /// Another operator's bindings are in force.
    pub fn go_by(&mut self, operator: &Operator) {
        self.bound = operator.bindings.to_vec();
        let hands = operator.hands.iter();
        self.axes = hands.map(|hand| usize::from(hand.axis)).collect();
    }

    pub fn pad(&mut self, at: Time, pad: u8, event: PadEvent) {
        match event {
            PadEvent::Pressed(button, true) => self.all.push((pad, button, at, None)),
            PadEvent::Pressed(button, false) => {
                let own = |p: &&mut (u8, Button, Time, Option<Time>)| (p.0, p.1) == (pad, button);
                let down = self.all.iter_mut().rev().find(own);
                if let Some(press) = down {
                    press.3.get_or_insert(at);
                }
            }
            _ => {}
        }
    }

    /// A tick is over: the gears are these now.
    pub fn tick(&mut self, status: &Status) {
        self.gears = std::array::from_fn(|group| status.groups[group].gear);
    }

    /// The rows of the presses that led to a notice.
    pub fn behind(&self, now: Time, notice: Notice) -> Vec<Row> {
        let is = |action: Action| match notice {
            Notice::Entered(State::Stopped(StopSource::Pad(_))) => once(action == Action::Stop),
            Notice::Entered(
                State::Withheld(Why::StopReleased)
                | State::NoPad(Why::StopReleased)
                | State::NoLink(Why::StopReleased),
            ) => once(action == Action::Release),
            Notice::Gear { group, gear } => {
                let up = gear > self.gears[usize::from(group)];
                once(action == if up { Action::GearUp } else { Action::GearDown })
            }
            Notice::Mode(mode, on) => {
                let did = if on { Did::On } else { Did::Off };
                (Mode::of(action) == Some(mode)).then_some(did)
            }
            Notice::NextOperator(_) => once(action == Action::NextOperator),
            Notice::EndHere { axis, .. } => {
                let own = |hand: u8| self.axes.get(usize::from(hand)) == Some(&usize::from(axis));
                once(matches!(action, Action::EndHere { hand } if own(hand)))
            }
            Notice::Sustain { on, .. } => {
                let did = if on { Did::On } else { Did::Off };
                (action == Action::Sustain).then_some(did)
            }
            Notice::Asks { group, .. } => (action == Action::Control { group }).then_some(Did::On),
            Notice::Agreed { group, .. } => {
                (action == Action::Control { group }).then_some(Did::Off)
            }
            _ => None,
        };
        let rows = self.bound.iter().filter_map(|binding| {
            let did = is(binding.action)?;
            // What is kept ends by its button alone, in no company and however short.
            let ends = (binding.action, did) == (Action::Sustain, Did::Off);
            let press = match ends {
                true => Press::Tap(binding.press.button()),
                false => binding.press,
            };
            self.pressed(now, press)
                .then(|| press_row(binding.press, binding.action, did))
        });
        rows.collect()
    }

    /// The rows of the presses that made an axis inch: a step soon after the press, a creep late in it.
    pub fn inching(&self, now: Time, axis: usize, moves: bool) -> Vec<Row> {
        let rows = self.bound.iter().filter_map(|binding| {
            let Action::Inch { hand, .. } = binding.action else {
                return None;
            };
            let since = self.down_since(binding.press);
            if self.axes.get(usize::from(hand)) != Some(&axis) || !moves {
                return None;
            }
            let did = match since {
                Some(since) if now.since(since) >= CREEPS => Did::On,
                _ if self.pressed(now, binding.press) => Did::Off,
                _ => return None,
            };
            Some(press_row(binding.press, binding.action, did))
        });
        rows.collect()
    }

    /// Whether this press was done shortly before.
    fn pressed(&self, now: Time, press: Press) -> bool {
        let soon = |(_, button, at, up): &&(u8, Button, Time, Option<Time>)| {
            let age = now.since(*at);
            let held = up.is_none_or(|up| up.since(*at).0 >= 600_000_000);
            let kept = !matches!(press, Press::Held(_)) || held;
            *button == press.button() && age <= SOON && kept
        };
        self.all.iter().rev().any(|one| {
            soon(&one)
                && match press {
                    Press::With { with, .. } => self.was_down(one.0, with, one.2),
                    Press::Tap(_) | Press::Held(_) => true,
                }
        })
    }

    fn was_down(&self, pad: u8, button: Button, at: Time) -> bool {
        self.all.iter().any(|(of, other, down, up)| {
            (*of, *other) == (pad, button) && *down <= at && up.is_none_or(|up| up >= at)
        })
    }

    fn down_since(&self, press: Press) -> Option<Time> {
        let down = |(_, button, at, up): &(u8, Button, Time, Option<Time>)| {
            (*button == press.button() && up.is_none()).then_some(*at)
        };
        self.all.iter().rev().find_map(down)
    }
}

fn once(is: bool) -> Option<Did> {
    is.then_some(Did::Once)
}
