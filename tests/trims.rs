//! Worn pads, made up at random: a trim makes them safe, and takes no more of the way than it must.

mod support;

use stillhand::profile::trim::Trim;
use stillhand::shell::pad::trim::Trimmer;
use stillhand::shell::pad::trim::drift::Worn as Wear;
use stillhand::shell::pad::trim::measure::judge::{Found, LEAST_DEADBAND};
use stillhand_engine::feel::Throw;
use stillhand_engine::input::{Control, PadEvent};
use stillhand_engine::time::{Span, Time};
use support::worn::{CORNERS, Hand, Worn, measure};

/// How often a second a resting pad is read.
const READS: u64 = 5;
/// How often each stick is pushed and let go in the hour.
const RELEASES: u64 = 60;

/// What an hour of rest came to.
#[derive(Debug, Default)]
struct Hour {
    /// Readings that would have moved an axis.
    moved: u64,
    /// Readings that did not count as let go, so that consent would have waited.
    not_centred: u64,
    /// The farthest from the trimmed centre, as a share of the way: the smallest deadband that is safe.
    farthest: f64,
    /// What was told of its wear.
    worn: Vec<(Control, Wear)>,
}

/// An hour in which the sticks are let go again and again and then rest, under `deadband`.
fn rest(pad: &mut Worn, found: &Found, deadband: f64, from_s: f64) -> Hour {
    let throw = Throw::new(deadband, 0.95).expect("a deadband");
    let mut trimmer = Trimmer::new(found.trim);
    let mut hour = Hour::default();
    for read in 0..3600 * READS {
        let secs = read as f64 / READS as f64;
        let now = Time::default() + Span::from_secs_f64(secs);
        let pushed = read % (3600 * READS / RELEASES) == 0;
        for (place, control) in Trim::STICKS.into_iter().enumerate() {
            let meant = if pushed { 0.8 } else { 0.0 };
            let x = pad.read(place, meant, from_s + secs);
            trimmer.take(PadEvent::Moved(control, x), now);
            if pushed {
                continue;
            }
            let means = trimmer.last(control).expect("it spoke");
            hour.moved += u64::from(throw.depth(means) > 0.0);
            hour.not_centred += u64::from(!throw.centred(means));
            let trim = found.trim.stick(control).expect("measured");
            let off = x - trim.centre();
            let end = if off > 0.0 { trim.plus() } else { trim.minus() };
            hour.farthest = hour.farthest.max(off / (end - trim.centre()));
        }
        if pushed {
            pad.let_go(0);
            pad.let_go(1);
        }
        hour.worn.extend(trimmer.worn(now));
    }
    hour
}

/// The share of the way around the centre that gives nothing, at its widest: the rest zone, and what the
/// profile's deadband takes of the rest.
fn dead_way(found: &Found) -> f64 {
    let directions = found.sticks.iter().flat_map(|stick| &stick.directions);
    let zones = directions.map(|d| {
        let trim = d.trim;
        let way = (trim.plus() - trim.centre()).min(trim.centre() - trim.minus());
        let zone = trim.rest() / way;
        zone + found.deadband * (1.0 - zone)
    });
    zones.fold(0.0, f64::max)
}

#[test]
fn a_hundred_worn_pads_rest_for_an_hour_each() {
    let mut worst: f64 = 0.0;
    for seed in 0..100 {
        let mut pad = Worn::random(seed);
        let said = Hand::course(&mut pad);
        let found = measure(&said).unwrap_or_else(|doubts| panic!("seed {seed}: {doubts:?}"));
        assert_eq!(found.sticks.len(), 2, "seed {seed}");
        let from = said.last().expect("it spoke").0 as f64 / 1e3;
        let hour = rest(&mut pad, &found, found.deadband, from);
        assert_eq!(
            (hour.moved, hour.not_centred),
            (0, 0),
            "seed {seed}: {hour:?}"
        );

        let safe = hour.farthest.max(LEAST_DEADBAND);
        let ratio = dead_way(&found) / safe;
        worst = worst.max(ratio);
        assert!(ratio <= 2.0, "seed {seed}: {} for {safe}", dead_way(&found));

        rims(seed, &pad, &found);
        full_is_full(seed, &mut pad, &found, from);
    }
    println!("dead way over the smallest safe one, at worst: {worst:.2}");
}

/// A corner that is worn in is told of.
fn rims(seed: u64, pad: &Worn, found: &Found) {
    for (n, stick) in found.sticks.iter().enumerate() {
        let missing: Vec<&str> = stick.missing.iter().map(|(place, _)| *place).collect();
        let corners: Vec<&str> = missing
            .into_iter()
            .filter(|p| p.contains(" and "))
            .collect();
        let dead = pad.dead.filter(|(of, _, _)| *of == n);
        let wanted: Vec<&str> = dead.iter().map(|(_, corner, _)| CORNERS[*corner]).collect();
        assert!(
            wanted.iter().all(|corner| corners.contains(corner)),
            "seed {seed}: {corners:?}, {:?}",
            pad.dead
        );
    }
}

/// Pushed to any end it means as much as the profile asks for.
fn full_is_full(seed: u64, pad: &mut Worn, found: &Found, secs: f64) {
    let mut trimmer = Trimmer::new(found.trim);
    for (place, control) in Trim::STICKS.into_iter().enumerate() {
        for meant in [-1.0, 1.0] {
            let x = pad.read(place, meant, secs);
            trimmer.take(PadEvent::Moved(control, x), Time::default());
            let means = trimmer.last(control).expect("it spoke");
            assert!(
                means * meant >= found.saturation,
                "seed {seed}: {} at {x} means {means}, full is {}",
                control.name(),
                found.saturation
            );
        }
    }
}

/// Without the zone that follows, each of these would move something.
#[test]
fn sticks_that_creep_without_end_move_nothing_and_are_told_of() {
    for seed in 200..220 {
        let mut pad = Worn::random(seed);
        (pad.drift, pad.scatter) = ([0.0; 4], 0.01);
        let said = Hand::course(&mut pad);
        let found = measure(&said).expect("trusted");
        pad.drift = [0.3, -0.25, 0.0, 0.2];
        let hour = rest(&mut pad, &found, found.deadband, 0.0);
        assert_eq!(hour.moved, 0, "seed {seed}: {hour:?}");
        assert!(hour.farthest > 0.2, "it crept: {hour:?}");
        let told = |control| hour.worn.iter().filter(|(c, _)| *c == control).count();
        assert_eq!(
            [Control::Lx, Control::Ly, Control::Ry].map(told),
            [1, 1, 1],
            "seed {seed}: {:?}",
            hour.worn
        );
    }
}

/// A good pad is told nothing of.
#[test]
fn a_pad_as_new_gets_the_least_zone_and_no_warnings() {
    let mut pad = Worn::new(1);
    let said = Hand::course(&mut pad);
    let found = measure(&said).expect("trusted");
    assert_eq!(found.deadband, LEAST_DEADBAND);
    assert!(found.sticks.iter().all(|stick| stick.missing.is_empty()));
    let hour = rest(&mut pad, &found, found.deadband, 0.0);
    assert_eq!((hour.moved, hour.worn.len()), (0, 0), "{hour:?}");
}

/// Rest offsets and fuzz of two pads as evtest printed them (an elite pad under xpadneo; a generic
/// Bluetooth pad under hid-generic), and the fuzz that Linux' hid-nintendo declares: shares of full scale
/// from `EVIOCGABS`' value, minimum, maximum and fuzz.
const SEEN: [([f64; 4], f64); 3] = [
    ([-0.003891, -0.056779, -0.013352, -0.053819], 0.000977),
    ([-0.033402, 0.004501, -0.020921, -0.016129], 0.007782),
    ([0.0; 4], 0.007630),
];

#[test]
fn offsets_that_were_seen_are_found_and_taken_out() {
    for (n, (offset, fuzz)) in SEEN.into_iter().enumerate() {
        let mut pad = Worn::new(n as u64);
        (pad.offset, pad.noise) = (offset, fuzz);
        let said = Hand::course(&mut pad);
        let found = measure(&said).expect("trusted");
        for (control, offset) in Trim::STICKS.into_iter().zip(offset) {
            let trim = found.trim.stick(control).expect("measured");
            let off = (trim.centre() - offset).abs();
            assert!(off <= fuzz, "pad {n}: {} at {off}", control.name());
        }
        assert_eq!(found.deadband, LEAST_DEADBAND, "pad {n}");
        let hour = rest(&mut pad, &found, found.deadband, 0.0);
        assert_eq!(hour.moved, 0, "pad {n}: {hour:?}");
        // The same deadband without a trim is no match for them.
        let offset_most = offset.iter().fold(0.0, |most: f64, x| most.max(x.abs()));
        assert_eq!(offset_most > found.deadband, n < 2, "pad {n}");
    }
}
