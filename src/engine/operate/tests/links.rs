//! Links: met, lost, met again, and several of them.

use super::bench::*;
use crate::input::{Control, LinkLoss};
use crate::output::{State, Why};

fn two() -> Bench {
    let mut bench = Bench::with(&[rig("one"), rig("two")], &operator(2));
    bench.plug(DRIVER);
    bench
}

#[test]
fn nothing_moves_before_every_rig_was_met() {
    let mut bench = two();
    bench.meet(0);
    bench.let_go();
    bench.push(Control::Rx, 1.0);
    bench.run(1_000);
    assert_eq!(bench.state(), State::NoLink(Why::Start));
    assert!(bench.at_rest());
    assert!(
        bench.frame(1).is_none(),
        "no frame for a rig nobody has met"
    );
    bench.meet(1);
    bench.run(1_000);
    assert_eq!(
        bench.state(),
        State::Driving,
        "the others were centred since"
    );
    assert!(
        !bench.axis(PAN).armed && bench.at_rest(),
        "pushed before the rig was met"
    );
}

/// Frames go on to the rig that is still there until it rests, under the stop set.
#[test]
fn one_rig_lost_stops_the_other_too() {
    let mut bench = two();
    bench.meet(0);
    bench.meet(1);
    bench.let_go();
    bench.push(Control::Rx, 1.0);
    bench.push(Control::Lx, -1.0);
    bench.run(1_000);
    let both = |bench: &Bench| (bench.axis_of(0, PAN).speed, bench.axis_of(1, PAN).speed);
    assert_eq!(both(&bench), (FULL, -FULL));
    bench.lose(0, LinkLoss::Fault);
    bench.tick();
    assert_eq!(bench.state(), State::NoLink(Why::LinkLost(LinkLoss::Fault)));
    assert!(bench.frame(0).is_none());
    let mut ms = 4;
    while !bench.at_rest() {
        assert!(bench.frame(1).is_some());
        bench.tick();
        ms += 4;
    }
    assert!(
        (100..=140).contains(&ms),
        "the stop set takes 129 ms, this {ms}"
    );
    bench.meet(0);
    bench.run(1_000);
    assert!(bench.at_rest(), "sticks are still held over");
    bench.push(Control::Lx, 0.0);
    bench.run(220);
    bench.push(Control::Lx, 1.0);
    bench.run(1_000);
    assert_eq!(both(&bench), (0.0, FULL));
}

#[test]
fn a_rig_met_anew_without_a_loss_has_restarted() {
    let mut bench = Bench::moving();
    bench.meet(0);
    bench.tick();
    assert_eq!(
        bench.state(),
        State::Withheld(Why::LinkLost(LinkLoss::Restarted))
    );
    assert!(bench.at_rest(), "a rig that is met is at rest");
    assert_eq!(
        bench.frame(0).expect("one each tick").seq,
        1,
        "counted anew"
    );
}

#[test]
fn events_of_a_rig_there_is_not_mean_nothing() {
    let mut bench = Bench::moving();
    for rig in [1, 4, 255] {
        bench.meet(rig);
        bench.lose(rig, LinkLoss::Unplugged);
    }
    bench.run(100);
    assert_eq!((bench.state(), bench.speed(PAN)), (State::Driving, FULL));
}

#[test]
fn a_loss_is_named_and_the_latest_one_stays() {
    for loss in [
        LinkLoss::Unplugged,
        LinkLoss::Stalled,
        LinkLoss::Silent,
        LinkLoss::Restarted,
        LinkLoss::RigStopped,
        LinkLoss::Fault,
        LinkLoss::StopInput,
        LinkLoss::PowerOff,
        LinkLoss::Disagrees,
        LinkLoss::Hushed,
    ] {
        let mut bench = Bench::moving();
        bench.lose(0, loss);
        bench.tick();
        assert_eq!(bench.state(), State::NoLink(Why::LinkLost(loss)));
        assert!(bench.frame(0).is_none(), "no frame to a lost rig");
        bench.meet(0);
        bench.tick();
        assert_eq!(bench.state(), State::Withheld(Why::LinkLost(loss)));
    }
}
