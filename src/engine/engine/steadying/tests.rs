//! What a steadied control may and may not delay.

use super::{follow_one, steadied};
use crate::feel::steady::{OneEuro, Steady};
use crate::feel::{Curve, Throw, demand};
use crate::operate::pads::Reading;
use alloc::vec::Vec;

const DT: f64 = 0.004;

fn axial(x: f64) -> Reading {
    Reading {
        raw: x,
        depth: x.abs(),
        part: if x < 0.0 { -1.0 } else { 1.0 },
    }
}

struct Stick {
    filter: OneEuro,
    throw: Throw,
    by: Steady,
}

impl Stick {
    fn new() -> Stick {
        Stick {
            filter: OneEuro::NONE,
            throw: Throw::new(0.1, 0.95).unwrap(),
            by: Steady::new(1.0, 0.0).unwrap(),
        }
    }

    /// The demand after a tick at `x`.
    fn at(&mut self, reading: Reading) -> f64 {
        follow_one(&mut self.filter, reading, self.throw, self.by, DT);
        let steady = steadied(reading, &self.filter);
        demand(steady.depth, self.throw, Curve::linear()) * steady.part
    }
}

#[test]
fn letting_go_is_never_delayed() {
    for x in [0.1, 0.0, -0.1, 0.05] {
        let mut stick = Stick::new();
        (0..500).for_each(|_| {
            stick.at(axial(0.9));
        });
        assert!(stick.at(axial(0.9)) > 0.9);
        assert_eq!(stick.at(axial(x)).abs(), 0.0, "at once, at {x}");
    }
}

#[test]
fn pushing_the_other_way_is_never_delayed() {
    let mut stick = Stick::new();
    (0..500).for_each(|_| {
        stick.at(axial(0.9));
    });
    assert_eq!(
        stick.at(axial(-0.5)),
        -demand(0.5, stick.throw, Curve::linear())
    );
}

#[test]
fn a_trembling_stick_asks_for_less_trembling() {
    let mut stick = Stick::new();
    let spread = |values: &[f64]| {
        let most = values.iter().copied().fold(f64::MIN, f64::max);
        most - values.iter().copied().fold(f64::MAX, f64::min)
    };
    let raw: Vec<f64> = (0..1000)
        .map(|n| 0.5 + 0.02 * libm::sin(f64::from(n) * 1.7))
        .collect();
    let steady: Vec<f64> = raw.iter().map(|x| stick.at(axial(*x))).collect();
    assert!(spread(&steady[500..]) < 0.1 * spread(&raw[500..]));
}

/// A radial stick: its length and direction come from both ways, each steadied by its own hand.
#[test]
fn the_other_way_of_a_radial_stick_is_left_alone() {
    let mut filter = OneEuro::NONE;
    filter.begin(0.3);
    let reading = Reading {
        raw: 1.0,
        depth: 1.0,
        part: 0.6,
    };
    let steady = steadied(reading, &filter);
    assert!((steady.depth * steady.part - 0.3).abs() < 1e-12);
    assert!((steady.depth * steady.depth - (0.09 + 0.64)).abs() < 1e-12);
    assert_eq!(steadied(reading, &OneEuro::NONE), reading);
}
