//! Which speed is aimed at, by what was aimed at before and how fast the axis goes.

use super::*;
use std::vec::Vec;

/// 1 to 2 and 4 to 5 units/s.
fn bands() -> Bands {
    of(&[(1.0, 2.0), (4.0, 5.0)]).expect("apart")
}

fn of(edges: &[(f64, f64)]) -> Option<Bands> {
    let band = |(low, high): &(f64, f64)| Band {
        low: Speed(*low),
        high: Speed(*high),
    };
    Bands::new(&edges.iter().map(band).collect::<Vec<_>>())
}

/// Aims at `speed` after `before`, at rest at what it aimed at.
fn aim(speed: f64, before: f64) -> f64 {
    crossing(speed, before, before)
}

/// The same while it goes at `now`.
fn crossing(speed: f64, before: f64, now: f64) -> f64 {
    let most = 100.0;
    let asked = Asked {
        speed,
        before,
        now,
        most,
    };
    bands().aim(&asked).0
}

#[test]
fn bands_rise_and_touch_neither_rest_nor_each_other() {
    let good: &[&[(f64, f64)]] = &[&[], &[(0.001, 0.002)], &[(1.0, 2.0), (2.1, 3.0)]];
    for edges in good {
        let bands = of(edges).expect("good");
        assert_eq!(bands.len(), edges.len());
        assert!(bands.is_sound());
    }
    let bad: &[&[(f64, f64)]] = &[
        &[(0.0, 1.0)],
        &[(-2.0, -1.0)],
        &[(1.0, 1.0)],
        &[(2.0, 1.0)],
        &[(1.0, 2.0), (2.0, 3.0)],
        &[(3.0, 4.0), (1.0, 2.0)],
        &[(1.0, f64::INFINITY)],
        &[(f64::NAN, 1.0)],
    ];
    for edges in bad {
        assert_eq!(of(edges), None, "{edges:?}");
    }
    let many: Vec<_> = (1..=17_u8)
        .map(|n| (f64::from(n), f64::from(n) + 0.5))
        .collect();
    assert!(of(&many[..16]).is_some());
    assert_eq!(of(&many), None);
}

#[test]
fn bytes_that_claim_more_bands_than_there_are_are_not_sound() {
    let mut bands = bands();
    for count in [3, 17, 255] {
        bands.count = count;
        assert!(!bands.is_sound(), "{count}");
    }
}

#[test]
fn inside_a_band_the_lower_edge_is_aimed_at_either_way() {
    for (speed, aimed) in [
        (0.0, 0.0),
        (0.99, 0.99),
        (1.0, 1.0),
        (1.01, 1.0),
        (1.99, 1.0),
        (2.0, 2.0),
        (2.01, 2.01),
        (3.0, 3.0),
        (4.5, 4.0),
        (6.0, 6.0),
    ] {
        assert_eq!(aim(speed, 0.0), aimed, "from rest, {speed}");
        assert_eq!(aim(-speed, 0.0), -aimed, "from rest, -{speed}");
    }
}

#[test]
fn once_above_it_stays_at_the_upper_edge_down_to_the_middle() {
    for sign in [1.0, -1.0] {
        let mut before = 0.0;
        // Up through the lower band and back.
        for (speed, aimed) in [
            (1.9, 1.0),
            (2.0, 2.0),
            (1.9, 2.0),
            (1.5, 2.0),
            (1.49, 1.0),
            (1.9, 1.0),
            (2.5, 2.5),
            (4.9, 4.0),
            (5.1, 5.1),
            (4.6, 5.0),
            (1.6, 2.0),
            (0.5, 0.5),
        ] {
            let now = aim(sign * speed, before);
            assert_eq!(now, sign * aimed, "{speed} after {before}");
            before = now;
        }
    }
}

#[test]
fn what_trembles_about_an_edge_crosses_at_most_once() {
    for edge in [1.0, 2.0] {
        let mut before = 0.5;
        let mut changes = 0;
        for tick in 0..1_000 {
            let now = aim(edge + if tick % 2 == 0 { 0.2 } else { -0.2 }, before);
            changes += usize::from((now > 1.5) != (before > 1.5));
            before = now;
        }
        assert!(changes <= 1, "about {edge}: {changes}");
    }
}

#[test]
fn the_other_way_it_begins_below() {
    // It was aimed above the band, but in the other direction.
    assert_eq!(aim(1.8, -3.0), 1.0);
    assert_eq!(aim(-1.8, 3.0), -1.0);
}

#[test]
fn the_upper_edge_is_never_above_what_may_be() {
    let asked = Asked {
        speed: 1.8,
        before: 3.0,
        now: 2.5,
        most: 1.9,
    };
    assert_eq!(bands().aim(&asked).0, 1.0);
    assert_eq!(bands().aim(&Asked { most: 2.0, ..asked }).0, 2.0);
}

#[test]
fn a_crossing_up_goes_on_while_enough_is_asked_for() {
    assert_eq!(crossing(1.7, 3.0, 1.2), 2.0);
    assert_eq!(crossing(3.0, 3.0, 1.2), 3.0);
}

#[test]
fn a_crossing_given_up_ends_at_the_lower_edge_before_the_next() {
    for sign in [1.0, -1.0] {
        // Let go, or asked for less, half way up; then all of it again.
        for less in [0.0, 0.3, 1.0, -3.0] {
            assert_eq!(crossing(sign * 3.0, sign * less, sign * 1.5), sign);
            assert_eq!(crossing(sign * 3.0, sign * less, sign * 1.001), sign);
        }
        assert_eq!(crossing(sign * 3.0, sign, sign), sign * 3.0, "arrived");
    }
}

#[test]
fn braking_goes_through() {
    assert_eq!(crossing(0.0, 3.0, 1.5), 0.0);
    assert_eq!(crossing(0.5, 3.0, 1.5), 0.5);
    assert_eq!(crossing(-3.0, 3.0, 1.5), -3.0);
}

#[test]
fn the_band_is_named_while_it_makes_the_difference() {
    let named = |speed, before, now| {
        let most = 100.0;
        let asked = Asked {
            speed,
            before,
            now,
            most,
        };
        bands().aim(&asked).1.map(|band| band.low.0)
    };
    assert_eq!(named(1.5, 0.0, 0.0), Some(1.0));
    assert_eq!(named(4.9, 6.0, 6.0), Some(4.0));
    assert_eq!(named(3.0, 0.0, 1.5), Some(1.0), "a crossing given up");
    assert_eq!(named(3.0, 3.0, 1.5), None, "it only passes through");
    assert_eq!(named(0.5, 0.0, 0.5), None);
}

#[test]
fn a_ceiling_inside_counts_as_the_lower_edge() {
    for (ceiling, comes_to) in [(0.5, 0.5), (1.0, 1.0), (1.5, 1.0), (2.0, 2.0), (4.2, 4.0)] {
        assert_eq!(bands().under(Speed(ceiling)), Speed(comes_to));
    }
    assert_eq!(Bands::NONE.under(Speed(1.5)), Speed(1.5));
}
