//! What is asked for without a pad: modes and gears, and nothing that moves.

use super::bench::*;
use crate::bindings::Action;
use crate::input::{Control, Input, Order};
use crate::operate::modes::{Mode, Switch};
use crate::output::{Notice, State, Why};

fn order(bench: &mut Bench, order: Order) {
    bench.pending.push(Input::Order(order));
    bench.tick();
}

#[test]
fn a_mode_is_switched_on_and_off_and_once_is_enough() {
    let mut bench = Bench::driving();
    for _ in 0..3 {
        order(&mut bench, Order::Mode(Mode::Quiet, true));
    }
    assert_eq!(bench.status().modes.quiet, Switch::On);
    assert_eq!(bench.told_times(Notice::Mode(Mode::Quiet, true)), 1);
    for _ in 0..3 {
        order(&mut bench, Order::Mode(Mode::Quiet, false));
    }
    assert_eq!(bench.status().modes.quiet, Switch::Off);
    assert_eq!(bench.told_times(Notice::Mode(Mode::Quiet, false)), 1);
}

#[test]
fn what_makes_faster_waits_for_the_sticks_as_after_a_press() {
    let mut bench = Bench::driving();
    order(&mut bench, Order::Mode(Mode::Reduced, true));
    bench.push(Control::Rx, 1.0);
    bench.run(1_000);
    order(&mut bench, Order::Mode(Mode::Reduced, false));
    assert_eq!(bench.status().modes.reduced, Switch::Leaving);
    order(&mut bench, Order::Mode(Mode::Reduced, true));
    bench.push(Control::Rx, 0.0);
    bench.run(1_000);
    assert_eq!(bench.status().modes.reduced, Switch::On, "asked to stay");
    order(&mut bench, Order::Mode(Mode::Reduced, false));
    assert_eq!(bench.status().modes.reduced, Switch::Off);
}

#[test]
fn rolling_locks_orders_as_it_locks_presses() {
    let mut bench = Bench::moving();
    order(&mut bench, Order::Mode(Mode::Quiet, true));
    order(&mut bench, Order::Mode(Mode::Rolling, true));
    order(&mut bench, Order::Mode(Mode::Quiet, false));
    order(&mut bench, Order::Gear { group: 0, gear: 0 });
    assert_eq!(bench.status().modes.quiet, Switch::On);
    assert_eq!(bench.gear(), 1);
    assert_eq!(bench.told_times(Notice::Locked(Action::Quiet)), 1);
    assert_eq!(bench.told_times(Notice::Locked(Action::GearDown)), 1);
}

#[test]
fn a_gear_there_is_not_is_the_fastest_and_a_group_there_is_not_is_none() {
    let mut bench = Bench::driving();
    order(
        &mut bench,
        Order::Gear {
            group: 0,
            gear: u8::MAX,
        },
    );
    assert_eq!(bench.gear(), 2);
    order(
        &mut bench,
        Order::Gear {
            group: u8::MAX,
            gear: 0,
        },
    );
    assert_eq!(bench.gear(), 2);
    order(&mut bench, Order::Gear { group: 0, gear: 0 });
    assert_eq!(bench.gear(), 0);
}

#[test]
fn still_from_elsewhere_stops_the_sticks_and_its_end_asks_for_them_to_be_centred() {
    let mut bench = Bench::moving();
    order(&mut bench, Order::Mode(Mode::Still, true));
    assert_eq!(bench.state(), State::Still);
    bench.run(2_000);
    assert!(bench.at_rest());
    order(&mut bench, Order::Mode(Mode::Still, false));
    assert_eq!(bench.state(), State::Withheld(Why::StillEnded));
    bench.run(2_000);
    assert!(bench.at_rest(), "the stick is still held over");
}

#[test]
fn no_order_moves_anything() {
    let mut bench = Bench::driving();
    for mode in Mode::ALL {
        for on in [true, false] {
            order(&mut bench, Order::Mode(mode, on));
            bench.run(100);
            assert!(bench.at_rest());
        }
    }
    for gear in 0..4 {
        order(&mut bench, Order::Gear { group: 0, gear });
        bench.run(100);
        assert!(bench.at_rest());
    }
}
