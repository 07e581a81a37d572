//! A press that asks for an end of the travel where an axis stands: only told, and only if it was meant.

use super::bench::*;
use crate::bindings::{Action, Press};
use crate::input::Button;
use crate::operate::modes::Mode;
use crate::output::Notice;

const ASKED: Notice = Notice::EndHere { rig: 0, axis: 1 };
const END: Action = Action::EndHere { hand: TILT as u8 };

fn bench() -> Bench {
    Bench::with_presses(&[
        (Press::Held(Button::Thumbl), END),
        (Press::Held(Button::North), Action::Rolling),
    ])
}

#[test]
fn a_held_press_asks_once_and_a_tap_does_not() {
    let mut bench = bench();
    bench.tap(DRIVER, Button::Thumbl);
    bench.run(1_000);
    assert_eq!(bench.told_times(ASKED), 0);
    bench.hold(DRIVER, Button::Thumbl);
    bench.run(1_000);
    assert_eq!(bench.told_times(ASKED), 1);
}

#[test]
fn rolling_locks_it() {
    let mut bench = bench();
    bench.hold(DRIVER, Button::North);
    assert_eq!(bench.told_times(Notice::Mode(Mode::Rolling, true)), 1);
    bench.hold(DRIVER, Button::Thumbl);
    assert_eq!(bench.told_times(ASKED), 0);
    assert_eq!(bench.told_times(Notice::Locked(END)), 1);
}
