//! Rigs by chance that were made up, surveyed by their sound alone, against what is true of them.

use std::convert::Infallible;
use stillhand::profile::{builtin, load_rig};
use stillhand_acoustics::envelope::Envelope;
use stillhand_acoustics::judge::{Rung, bands};
use stillhand_acoustics::locate::{Lost, locate};
use stillhand_acoustics::plan::{Asked, Plan, ladder};
use stillhand_acoustics::study::{NoStudy, Reading, Study, study};
use stillhand_acoustics::synth::{AxisTruth, Sounding, Voice};

const RATE_HZ: u32 = 44_100;
const MARGIN_DB: f64 = 10.0;
/// A true figure so near to a limit, in dB, may fall on either side of it in a recording.
const DOUBT_DB: f64 = 1.0;

/// The ladder of one axis of the bench rig.
fn plan(axis: usize, rungs: usize, share: f64) -> Plan {
    let rig = load_rig(&builtin::BENCH_RIG.source()).unwrap().rig;
    let fastest = share * rig.axes[axis].speed.0;
    let made = ladder(&rig, &[Asked { axis, fastest }], rungs);
    assert_eq!(made.left_out, Vec::<String>::new());
    made.plan
}

/// As a recorder with 24 bits writes it.
fn recorded(plan: &Plan, voice: &Voice) -> Vec<i32> {
    let written = |x: f64| (x * 8_388_608.0).round() as i32;
    Sounding::new(voice, plan, RATE_HZ).map(written).collect()
}

fn pieces(samples: &[i32], take: &mut dyn FnMut(&[f64])) {
    for part in samples.chunks(5000) {
        let piece: Vec<f64> = part.iter().map(|x| f64::from(*x) / 8_388_608.0).collect();
        take(&piece);
    }
}

fn survey(plan: &Plan, voice: &Voice) -> Result<Study, NoStudy<Infallible>> {
    let samples = recorded(plan, voice);
    let reading = Reading {
        rate_hz: RATE_HZ,
        margin_db: MARGIN_DB,
        begins_s: None,
    };
    study(plan, &reading, |take| {
        pieces(&samples, take);
        Ok(())
    })
}

/// How many rungs from the slowest on pass.
fn passing(excesses: &[f64]) -> usize {
    excesses.iter().take_while(|excess| **excess <= 0.0).count()
}

fn found(rungs: &[Rung]) -> Vec<f64> {
    let excess = |rung: &Rung| rung.excess_db.unwrap_or(f64::INFINITY);
    rungs.iter().map(excess).collect()
}

/// First and last rung of each band.
fn band_rungs(axis: &AxisTruth, excesses: &[f64]) -> Vec<(usize, usize)> {
    let speeds: Vec<f64> = axis.speeds.iter().map(|(speed, ..)| *speed).collect();
    let judged: Vec<(f64, f64)> = speeds
        .iter()
        .copied()
        .zip(excesses.iter().copied())
        .collect();
    let rung = |speed: f64| speeds.iter().position(|s| *s == speed).unwrap();
    let bands = bands(&judged);
    bands.iter().map(|(a, b)| (rung(*a), rung(*b))).collect()
}

/// Whether a band hangs by so little that it need not be found, or may be: with every figure a little
/// higher or lower in turn it would be another one.
fn doubtful(axis: &AxisTruth, truth: &[f64]) -> bool {
    let plain = band_rungs(axis, truth);
    (0..truth.len()).any(|n| {
        [-DOUBT_DB, DOUBT_DB].into_iter().any(|doubt| {
            let mut other = truth.to_vec();
            other[n] += doubt;
            band_rungs(axis, &other) != plain
        })
    })
}

#[derive(Default, Debug)]
struct Tally {
    rigs: usize,
    /// In which a ceiling or a band is another one.
    rigs_apart: usize,
    ceilings: usize,
    ceilings_a_rung_low: usize,
    bands: usize,
    bands_another: usize,
    bands_doubtful: usize,
    whines: usize,
    quiet_at_rest: usize,
}

impl Tally {
    fn apart(&self) -> usize {
        self.ceilings_a_rung_low + self.bands_another
    }

    fn ceiling(&mut self, of: &str, truth: &[f64], found: &[f64]) {
        let (wanted, got) = (passing(truth), passing(found));
        let told = format!("{of}: {got} of {wanted} rungs; true {truth:.1?}, found {found:.1?}");
        assert!(got <= wanted, "louder than the margin asks: {told}");
        assert!(got + 1 >= wanted, "more than one rung low: {told}");
        self.ceilings += 1;
        self.ceilings_a_rung_low += usize::from(got < wanted);
    }

    fn bands(&mut self, of: &str, axis: &AxisTruth, truth: &[f64], found: &[f64]) {
        let (wanted, got) = (band_rungs(axis, truth), band_rungs(axis, found));
        self.bands += wanted.len();
        let near = |a: &(usize, usize), b: &(usize, usize)| {
            a.0.abs_diff(b.0) <= 1 && a.1.abs_diff(b.1) <= 1
        };
        let alike = |from: &[(usize, usize)], to: &[(usize, usize)]| {
            from.iter().all(|a| to.iter().any(|b| near(a, b)))
        };
        self.bands_another += usize::from(wanted != got);
        if !(alike(&wanted, &got) && alike(&got, &wanted)) {
            let told = format!("{of}: {wanted:?}, {got:?}; true {truth:.1?}, found {found:.1?}");
            assert!(doubtful(axis, truth), "{told}");
            self.bands_doubtful += 1;
        }
    }
}

fn rigs(seeds: std::ops::RangeInclusive<u64>) {
    let mut tally = Tally::default();
    for seed in seeds {
        let plan = plan(seed as usize % 3, 12, 1.0);
        let voice = Voice::random(&plan, seed);
        let truth = voice.truth(&plan, MARGIN_DB, RATE_HZ);
        let study = survey(&plan, &voice).unwrap_or_else(|why| panic!("seed {seed}: {why:?}"));
        let off = study.place.offset_s - voice.early_s;
        assert!(off.abs() < 0.12, "seed {seed}: {off} s off");
        let whine = truth.whine_db.is_some_and(|db| db > 0.0);
        let findings = &study.findings;
        assert_eq!(
            findings.still.audible(),
            whine,
            "seed {seed}: {:?}",
            truth.whine_db
        );
        tally.whines += usize::from(whine);
        tally.quiet_at_rest += usize::from(!whine);
        let before = tally.apart();
        for (axis, finding) in truth.axes.iter().zip(&findings.axes) {
            let of = format!("seed {seed} {}", finding.name);
            let worse = |(_, level, tone): &(f64, f64, f64)| level.max(*tone);
            let speeds: Vec<f64> = axis.speeds.iter().map(worse).collect();
            tally.ceiling(&format!("{of} speed"), &speeds, &found(&finding.speeds));
            tally.bands(&of, axis, &speeds, &found(&finding.speeds));
            let ramps: Vec<f64> = axis.ramps.iter().map(|(_, excess)| *excess).collect();
            tally.ceiling(
                &format!("{of} acceleration"),
                &ramps,
                &found(&finding.ramps),
            );
        }
        tally.rigs += 1;
        tally.rigs_apart += usize::from(tally.apart() > before);
    }
    println!("{tally:#?}");
    assert!(tally.whines > 5 && tally.quiet_at_rest > 5 && tally.bands > 2);
}

#[test]
fn rigs_are_found_as_they_are() {
    rigs(1..=25);
}

#[test]
fn more_rigs_are_found_as_they_are() {
    rigs(26..=50);
}

/// A room whose level comes and goes by half a decibel either way, as much as the margin lets a rung change it:
/// each is held against the pauses beside it. Nothing passes that is louder than the margin asks by more than the
/// room tone itself was off when it was listened to, and most of what would pass with so much more margin does.
#[test]
fn a_room_that_comes_and_goes_lets_nothing_loud_pass() {
    let (swells, off_db) = (0.06, 1.0);
    let (mut wanted, mut got, mut least) = (0, 0, 0);
    for seed in 101..=110 {
        let plan = plan(seed as usize % 3, 12, 1.0);
        let voice = Voice {
            swells,
            ..Voice::random(&plan, seed)
        };
        let truth = |margin| voice.truth(&plan, margin, RATE_HZ).axes;
        let study = survey(&plan, &voice).unwrap_or_else(|why| panic!("seed {seed}: {why:?}"));
        let axes = [MARGIN_DB - off_db, MARGIN_DB, MARGIN_DB + off_db].map(truth);
        let [lenient, own, strict] = &axes;
        for (axis, finding) in study.findings.axes.iter().enumerate() {
            let worse = |(_, level, tone): &(f64, f64, f64)| level.max(*tone);
            let of = |axes: &[AxisTruth]| {
                let speeds: Vec<f64> = axes[axis].speeds.iter().map(worse).collect();
                passing(&speeds)
            };
            let found = passing(&found(&finding.speeds));
            assert!(
                found <= of(lenient),
                "seed {seed} {}: {found} of {}",
                finding.name,
                of(lenient)
            );
            (wanted, got, least) = (wanted + of(own), got + found, least + of(strict));
        }
    }
    println!("{got} of {wanted} rungs pass, of {least} with a margin of {off_db} dB more");
    assert!(3 * got >= 2 * least, "{got} of {least} rungs pass");
}

#[test]
fn what_is_not_there_is_not_found() {
    let (own, seed) = (plan(0, 12, 1.0), 7);
    let voice = Voice::random(&own, seed);
    let samples = recorded(&own, &voice);
    let mut envelope = Envelope::new(RATE_HZ).unwrap();
    pieces(&samples, &mut |piece| envelope.add(piece));
    assert!(locate(&own, &envelope).is_ok());
    for other in [plan(1, 12, 1.0), plan(0, 11, 1.0), plan(2, 9, 0.5)] {
        let found = locate(&other, &envelope);
        assert!(found.is_err(), "another plan: {found:?}");
    }
    // A recorder whose header says 48 kHz and which ran at 44.1.
    let mut faster = envelope.clone();
    let frames = envelope.frames.len() as f64;
    let every = (0..(frames * 44.1 / 48.0) as usize).map(|n| (n as f64 * 48.0 / 44.1) as usize);
    faster.frames = every.map(|n| envelope.frames[n]).collect();
    let found = locate(&own, &faster);
    assert!(
        matches!(found, Err(Lost::OtherRate(s)) if (s - 44.1 / 48.0).abs() < 1e-6),
        "{found:?}"
    );
    // One that was switched off half way.
    let mut half = envelope.clone();
    half.frames.truncate(envelope.frames.len() / 2);
    assert!(matches!(locate(&own, &half), Err(Lost::TooShort(..))));
    // A rig that nobody hears at all.
    let mut silent = voice.clone();
    for axis in &mut silent.axes {
        axis.noise.db -= 60.0;
        axis.tone_db -= 60.0;
        axis.thump_db -= 60.0;
    }
    let found = survey(&own, &silent).map(|study| study.place);
    assert!(
        matches!(found, Err(NoStudy::Lost(Lost::Nowhere(_)))),
        "{found:?}"
    );
}

/// What the ear can't find either: where the plan begins is then said, and the rest follows.
#[test]
fn a_rig_nobody_hears_is_quiet_everywhere() {
    let own = plan(2, 12, 1.0);
    let mut voice = Voice::random(&own, 11);
    voice.whine = None;
    voice.coughs.clear();
    for axis in &mut voice.axes {
        axis.noise.db -= 60.0;
        axis.tone_db -= 60.0;
        axis.thump_db -= 60.0;
    }
    let samples = recorded(&own, &voice);
    let reading = Reading {
        rate_hz: RATE_HZ,
        margin_db: MARGIN_DB,
        begins_s: Some(voice.early_s),
    };
    let study = study(&own, &reading, |take| -> Result<(), Infallible> {
        pieces(&samples, take);
        Ok(())
    })
    .unwrap();
    let axis = &study.findings.axes[0];
    assert_eq!(axis.speed, axis.speeds.last().map(|rung| rung.value));
    assert_eq!(
        axis.ramp.map(|r| r.0),
        axis.ramps.last().map(|rung| rung.value)
    );
    assert!(axis.bands.is_empty() && !study.findings.still.audible());
}
