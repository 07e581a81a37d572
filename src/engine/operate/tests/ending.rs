//! The end: from every state, after rest, for good.

use super::bench::*;
use crate::input::{Button, Control, Input, LinkLoss, PadEvent, StopSource};
use crate::output::State;

#[test]
fn an_end_is_over_at_once_where_nothing_moves() {
    let mut no_pad = Bench::new();
    no_pad.meet(0);
    let mut stopped = Bench::driving();
    stopped.stop = Some(StopSource::Command);
    stopped.run(400);
    for mut bench in [Bench::new(), no_pad, Bench::driving(), stopped] {
        bench.pending.push(Input::End);
        bench.tick();
        assert_eq!(bench.state(), State::Ending);
        assert!(bench.ended());
    }
}

#[test]
fn an_end_in_mid_move_waits_for_rest() {
    let mut bench = Bench::moving();
    bench.pending.push(Input::End);
    let mut ticks = 0;
    while !bench.ended() {
        bench.tick();
        ticks += 1;
        assert!(bench.ended() == bench.at_rest(), "after {ticks} ticks");
        assert!(bench.frame(0).is_some(), "frames until rest");
        assert!(ticks < 100);
    }
    assert!(ticks > 25, "10 deg/s can't stop in {ticks} ticks");
}

/// A rig that is gone is not waited for.
#[test]
fn an_end_does_not_wait_for_a_lost_rig() {
    let mut bench = Bench::moving();
    bench.pending.push(Input::End);
    bench.lose(0, LinkLoss::Unplugged);
    bench.tick();
    assert!(bench.ended());
}

#[test]
fn nothing_undoes_an_end() {
    let mut bench = Bench::moving();
    bench.pending.push(Input::End);
    bench.run(400);
    bench.lose(0, LinkLoss::Silent);
    bench.tick();
    bench.meet(0);
    bench.pad(DRIVER, PadEvent::Unplugged);
    bench.tick();
    bench.plug(DRIVER);
    bench.let_go();
    bench.stop = Some(StopSource::Command);
    bench.tick();
    bench.press(DRIVER, Button::Start);
    bench.run(800);
    bench.let_go();
    bench.push(Control::Rx, 1.0);
    bench.run(800);
    assert_eq!(bench.state(), State::Ending);
    assert!(bench.at_rest() && bench.ended());
}
