//! Random rigs that were made up, surveyed by their sound alone, against what is true of them.

use std::convert::Infallible;
use stillhand::profile::{builtin, load_rig};
use stillhand_acoustics::judge::{Rung, bands};
use stillhand_acoustics::plan::{Asked, Plan, ladder};
use stillhand_acoustics::study::{Reading, Study, study};
use stillhand_acoustics::synth::{Sounding, Voice};

const RATE_HZ: u32 = 48_000;
const MARGIN_DB: f64 = 10.0;

fn plan() -> Plan {
    let rig = load_rig(&builtin::BENCH_RIG.source()).unwrap().rig;
    let asked = [0, 2].map(|axis| Asked {
        axis,
        fastest: rig.axes[axis].speed.0,
    });
    let made = ladder(&rig, &asked, 12);
    assert_eq!(made.left_out, Vec::<String>::new());
    made.plan
}

fn survey(
    plan: &Plan,
    voice: &Voice,
) -> Result<Study, stillhand_acoustics::study::NoStudy<Infallible>> {
    // As a recorder with 24 bits writes it.
    let written = |x: f64| (x * 8_388_608.0).round() as i32;
    let samples: Vec<i32> = Sounding::new(voice, plan, RATE_HZ).map(written).collect();
    let read = |take: &mut dyn FnMut(&[f64])| -> Result<(), Infallible> {
        let mut piece = Vec::with_capacity(4096);
        for part in samples.chunks(4096) {
            piece.clear();
            piece.extend(part.iter().map(|x| f64::from(*x) / 8_388_608.0));
            take(&piece);
        }
        Ok(())
    };
    study(
        plan,
        &Reading {
            rate_hz: RATE_HZ,
            margin_db: MARGIN_DB,
            begins_s: None,
        },
        read,
    )
}

/// How many rungs from the slowest on pass.
fn passing(excesses: &[f64]) -> usize {
    excesses.iter().take_while(|excess| **excess <= 0.0).count()
}

fn excesses(rungs: &[Rung]) -> Vec<f64> {
    rungs
        .iter()
        .map(|rung| rung.excess_db.unwrap_or(f64::INFINITY))
        .collect()
}

#[derive(Default, Debug)]
struct Tally {
    ceilings: usize,
    equal: usize,
    one_below: usize,
    further_below: usize,
    above: Vec<String>,
    far: Vec<String>,
    bands: usize,
    bands_found: usize,
    band_edges_off: usize,
    band_diff: Vec<String>,
}

impl Tally {
    fn ceiling(&mut self, of: &str, truth: &[f64], found: &[f64]) {
        self.ceilings += 1;
        let (wanted, got) = (passing(truth), passing(found));
        let told = || format!("{of}: {got} of {wanted} rungs; true {truth:.1?}, found {found:.1?}");
        match wanted as isize - got as isize {
            0 => self.equal += 1,
            1 => self.one_below += 1,
            2.. => {
                self.further_below += 1;
                self.far.push(told())
            }
            _ => self.above.push(told()),
        }
    }

    fn bands(&mut self, of: &str, speeds: &[f64], truth: &[f64], found: &[f64]) {
        let band = |excesses: &[f64]| -> Vec<(usize, usize)> {
            let judged: Vec<(f64, f64)> = speeds
                .iter()
                .copied()
                .zip(excesses.iter().copied())
                .collect();
            let rung = |speed: f64| speeds.iter().position(|s| *s == speed).unwrap();
            bands(&judged)
                .iter()
                .map(|(a, b)| (rung(*a), rung(*b)))
                .collect()
        };
        let (truly, got) = (band(truth), band(found));
        self.bands += truly.len();
        let near = |a: &(usize, usize), b: &(usize, usize)| {
            a.0.abs_diff(b.0) <= 1 && a.1.abs_diff(b.1) <= 1
        };
        for t in &truly {
            match got.iter().find(|g| near(t, g)) {
                Some(g) => {
                    self.bands_found += 1;
                    if g != t {
                        self.band_edges_off += 1
                    }
                }
                None => self.band_diff.push(format!(
                    "{of} missed {t:?} got {got:?} true {truth:.1?}, found {found:.1?}"
                )),
            }
        }
        for g in &got {
            if !truly.iter().any(|t| near(t, g)) {
                self.band_diff.push(format!(
                    "{of} extra {g:?} of {truly:?} true {truth:.1?}, found {found:.1?}"
                ))
            }
        }
    }
}

#[test]
fn fifty_rigs_are_found_as_they_are() {
    let plan = plan();
    let mut tally = Tally::default();
    let mut whines = (0, 0);
    for seed in std::env::var("SEEDS")
        .map(|s| {
            s.split(',')
                .map(|n| n.parse().unwrap())
                .collect::<Vec<u64>>()
        })
        .unwrap_or((1..=50).collect())
    {
        let voice = Voice::random(&plan, seed);
        let truth = voice.truth(&plan, MARGIN_DB, RATE_HZ);
        let found = match survey(&plan, &voice) {
            Ok(found) => found,
            Err(error) => {
                println!("seed {seed}: {error:?}");
                continue;
            }
        };
        if (found.place.offset_s - voice.early_s).abs() > 0.05 {
            println!(
                "seed {seed} offset {} of {}",
                found.place.offset_s, voice.early_s
            );
        }
        let whine = truth.whine_db.is_some_and(|db| db > 0.0);
        if whine {
            whines.0 += 1
        } else {
            whines.1 += 1
        }
        if found.findings.still.audible() != whine {
            println!(
                "seed {seed}: whine {:?}, {:?}",
                truth.whine_db, found.findings.still
            )
        }
        for (axis, finding) in truth.axes.iter().zip(&found.findings.axes) {
            let of = format!("seed {seed} {}", finding.name);
            let speeds: Vec<f64> = axis
                .speeds
                .iter()
                .map(|(_, level, tone)| level.max(*tone))
                .collect();
            let at: Vec<f64> = axis.speeds.iter().map(|(speed, ..)| *speed).collect();
            tally.ceiling(&format!("{of} speed"), &speeds, &excesses(&finding.speeds));
            tally.bands(&of, &at, &speeds, &excesses(&finding.speeds));
            let ramps: Vec<f64> = axis.ramps.iter().map(|(_, excess)| *excess).collect();
            tally.ceiling(&format!("{of} accel"), &ramps, &excesses(&finding.ramps));
        }
    }
    println!("{tally:#?} whines {whines:?}");
}
