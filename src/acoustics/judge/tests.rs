//! What follows from levels and spectra that are made up here.

use super::super::hear::{Heard, Sound};
use super::super::levels::{Mean, energy};
use super::super::spectrum::Spectrum;
use super::{Judge, Lines, bands, foreign_tones, whines};

fn of(excesses: &[f64]) -> Vec<(f64, f64)> {
    let judged: Vec<(f64, f64)> = (1..).map(f64::from).zip(excesses.iter().copied()).collect();
    bands(&judged)
}

#[test]
fn a_band_is_where_faster_is_quieter() {
    assert_eq!(of(&[-5.0, -1.0, 2.0, 5.0]), []);
    assert_eq!(of(&[-5.0, 4.0, 3.0, -1.0, 2.0]), [(1.0, 4.0)]);
    // By 6 dB, where nothing passes any more.
    assert_eq!(of(&[-5.0, 10.0, 4.1, 12.0]), []);
    assert_eq!(of(&[-5.0, 10.0, 4.0, 12.0]), [(1.0, 3.0)]);
    // One that would reach down to rest is none.
    assert_eq!(of(&[3.0, 2.0, -1.0, 4.0]), []);
    assert_eq!(of(&[3.0, -2.0, 9.0, -1.0, 5.0]), [(2.0, 4.0)]);
    assert_eq!(of(&[-1.0, 3.0, -1.0, 3.0, -1.0, 3.0]), [(1.0, 5.0)]);
}

const LINE_HZ: f64 = 2.9;

/// Noise of the same level in every line, and a tone in some.
fn spectrum(tones: &[(f64, f64)]) -> Spectrum {
    let mut lines = vec![energy(-80.0); 8_192];
    for (hz, level) in tones {
        let line = (hz / LINE_HZ).round() as usize;
        // As a Hann window spreads a sine on a line.
        for (n, share) in [(line - 1, 0.25), (line, 1.0), (line + 1, 0.25)] {
            lines[n] += energy(*level) * share;
        }
    }
    Spectrum {
        line_hz: LINE_HZ,
        lines,
        windows: 100,
    }
}

/// A whine of -50 dB at standstill, in a rung as `rung` says: how much of its energy is told to be gone, and
/// whether the rung is told to have a tone of its own.
fn whine(rung: &[(f64, f64)]) -> (f64, bool) {
    let lines = Lines {
        room: spectrum(&[]),
        still: spectrum(&[(6_000.0, -50.0)]),
        rungs: vec![spectrum(rung)],
    };
    let sound = Sound {
        mean: Mean {
            energy: 1.0,
            sigma: 0.1,
            seconds: 4.0,
        },
        ..Sound::default()
    };
    let heard = Heard {
        room: sound.clone(),
        still: sound.clone(),
        rungs: vec![(0, 1, sound)],
        thumps: Vec::new(),
        wanders: 0.0,
        halves_db: None,
    };
    let judge = Judge {
        heard: &heard,
        lines: &lines,
        allowed: 1.0,
        whines: whines(&lines),
    };
    assert_eq!(judge.gone_on(0), judge.gone(&lines.rungs[0]));
    let own = foreign_tones(&lines.rungs[0], &lines.still);
    (judge.gone(&lines.rungs[0]) / energy(-50.0), !own.is_empty())
}

#[test]
fn a_whine_is_taken_out_only_where_it_is() {
    let near = |found: (f64, bool), gone: f64, own: bool| {
        assert!((found.0 - gone).abs() < 0.05, "{found:?}, not {gone}");
        assert_eq!(found.1, own, "{found:?}");
    };
    near(whine(&[(6_000.0, -50.0)]), 0.0, false);
    // Less by chance, or by half, or not there at all.
    near(whine(&[(6_000.0, -50.5)]), 0.0, false);
    near(whine(&[(6_000.0, -53.0)]), 0.5, false);
    near(whine(&[]), 1.0, false);
    // A drive that warms up: the same whine by 0.2 %, another tone by 2 %.
    near(whine(&[(6_012.0, -50.0)]), 0.0, false);
    near(whine(&[(6_120.0, -50.0)]), 1.0, true);
}
