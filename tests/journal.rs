//! The journal: what was recorded replays to the bit, from any of its files on; what is damaged, missing or
//! doctored is found; and a disk that is slow, full or gone costs the journal, never the driving.

#[path = "support/claims/mod.rs"]
mod claims;
#[path = "support/scribe.rs"]
mod scribe;

use claims::journal::{journal, sealed};
use proptest::prelude::*;
use scribe::{Broken, Dice, hall, recorded, session, write_all};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};
use stillhand::journal::folder::{self, Folder};
use stillhand::journal::read::{Damage, Record, Records};
use stillhand::journal::recorder::Recorder;
use stillhand::journal::replay::{Blind, Found, files, replay};
use stillhand::journal::{Bounds, Standing, writer};
use stillhand_engine::Engine;
use stillhand_engine::input::{Inputs, Tick};
use stillhand_engine::time::{Span, Time};

/// Files so small that a session has many, most of them begun in motion, and a ring that holds all of it.
const SMALL: Bounds = Bounds {
    file_bytes: 3_000,
    files: 1_000,
    ring_bytes: 32 * 1024 * 1024,
};

/// The same with files that hold all of a test's.
const ROOMY: Bounds = Bounds {
    file_bytes: 1_000_000,
    ..SMALL
};

fn replayed(path: &Path) -> Found {
    let files = files(path).expect("there is a journal");
    replay(&files, &mut Blind).expect("it can be read")
}

#[test]
fn random_sessions_replay_to_the_bit_from_any_file_on() {
    let (mut begun, mut moving, mut referenced) = (0, 0, 0);
    for seed in 0..6 {
        let folder = tempfile::tempdir().expect("a folder");
        let seen = session(seed, 20.0, &SMALL, folder.path());
        moving += seen.moving;
        referenced += u32::from(seen.referenced);
        let all = files(folder.path()).expect("files");
        assert!(all.len() > 3, "seed {seed}: only {} files", all.len());
        // In one go: where a file begins, the engine that was replayed up to there must be the one that was
        // written down.
        let found = replayed(folder.path());
        assert_eq!(found.difference, None, "seed {seed}");
        assert!(found.ended && found.ticks >= seen.ticks, "seed {seed}");
        assert_eq!((found.gaps, found.damage), (vec![], vec![]));
        // And each by itself: an engine made from bytes goes on as the one they were made of did.
        let alone = all.iter().map(|file| {
            let found = replayed(file);
            assert_eq!(found.difference, None, "seed {seed}, {}", file.display());
            found.ticks
        });
        assert_eq!(alone.sum::<u64>(), found.ticks, "seed {seed}");
        begun += all.len();
    }
    assert!(begun > 300, "only {begun} images were gone on from");
    assert!(moving > 4_000, "only {moving} ticks had motion in them");
    assert!(referenced > 3, "only {referenced} references were taken");
}

/// A journal of a quarter of a second, as bytes, and where its records begin and end.
fn short() -> (Vec<u8>, Vec<usize>) {
    let bytes = recorded(60, |_, _| {});
    let mut records = Records::of(&bytes);
    let mut ends = vec![8];
    while let Some(record) = records.next() {
        record.expect("sound");
        ends.push(records.at());
    }
    assert_eq!(ends.last(), Some(&bytes.len()));
    assert!(ends.len() > 60, "head, image, ticks, end");
    (bytes, ends)
}

#[test]
fn cut_off_anywhere_it_can_be_read_up_to_the_last_whole_record() {
    let (bytes, ends) = short();
    for length in 0..bytes.len() {
        let mut records = Records::of(&bytes[..length]);
        let whole = records.by_ref().filter(Result::is_ok).count();
        let wanted = ends.iter().filter(|end| **end <= length).count();
        assert_eq!(whole, wanted.saturating_sub(1), "cut at {length}");
        let last = Records::of(&bytes[..length]).last();
        let at_an_end = ends.contains(&length);
        match last {
            Some(Err(Damage::Torn(_))) => assert!(!at_an_end, "cut at {length}"),
            other => assert!(at_an_end, "cut at {length}: {other:?}"),
        }
    }
}

#[test]
fn every_changed_byte_is_found() {
    let (bytes, ends) = short();
    for place in 0..bytes.len() {
        let mut changed = bytes.clone();
        changed[place] ^= 1 << (place % 8);
        let mut records = Records::of(&changed);
        let sound = records.by_ref().filter(Result::is_ok).count();
        let before = ends.iter().filter(|end| **end <= place).count();
        assert_eq!(sound, before.saturating_sub(1), "byte {place}");
        let last = Records::of(&changed).last();
        assert!(matches!(last, Some(Err(_))), "byte {place}: {last:?}");
    }
}

#[test]
fn a_doctored_output_is_the_first_difference() {
    let place = 37;
    let bytes = recorded(60, |index, outputs| {
        if index >= place {
            let speed = &mut outputs.rigs[0].axes[1].speed;
            *speed = f64::from_bits(speed.to_bits() ^ 1);
        }
    });
    let found = one_file(&bytes);
    let difference = found.difference.expect("it is found");
    assert_eq!(difference.field, "tilt: speed");
    assert_eq!(difference.tick, place);
    assert_eq!(difference.replayed, "0.0");
    assert_eq!(difference.recorded, "5e-324");
    assert_eq!(found.ticks, place + 1, "it ends there");
}

#[test]
fn a_doctored_notice_is_found() {
    let bytes = recorded(60, |index, outputs| {
        if index == 40 {
            outputs
                .notices
                .push(stillhand_engine::output::Notice::TooManyPads);
        }
    });
    let difference = one_file(&bytes).difference.expect("it is found");
    assert_eq!((difference.tick, &*difference.field), (40, "notices"));
    assert_eq!(difference.recorded, "TooManyPads");
}

fn one_file(bytes: &[u8]) -> Found {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join(folder::name(1));
    std::fs::write(&path, bytes).expect("writable");
    replayed(&path)
}

/// Steps an engine of the hall so many times with a recorder beside it.
fn stepped(recorder: &mut Recorder, engine: &mut Engine, from: u64, ticks: u64) {
    for index in from..from + ticks {
        let tick = Tick {
            index,
            now: Time(0) + Span(index * 4_000_000),
        };
        let inputs = Inputs::default();
        recorder.before(engine, tick, &inputs);
        engine.step(tick, inputs);
        recorder.after(tick, engine.outputs());
    }
}

#[test]
fn a_ring_without_room_leaves_a_gap_and_replay_goes_on_behind_it() {
    let bounds = Bounds {
        ring_bytes: 64 * 1024,
        ..ROOMY
    };
    let standing = Arc::new(Standing::default());
    let (mut recorder, ring) = Recorder::new(&bounds, Arc::clone(&standing));
    let (head, mut engine) = hall();
    // Nobody writes yet, so that the ring fills up.
    let mut index = 0;
    while standing.lost() < 100 {
        stepped(&mut recorder, &mut engine, index, 1);
        index += 1;
    }
    let place = tempfile::tempdir().expect("a folder");
    let folder = Folder::open(place.path(), 10).expect("ours");
    let thread = writer::start(folder, head, ring, Arc::clone(&standing), || 0).expect("a thread");
    // Now there is room again, as soon as the writer has looked.
    let end = Instant::now() + Duration::from_secs(10);
    let mut ticks = 0;
    while ticks < 50 {
        let before = standing.lost();
        stepped(&mut recorder, &mut engine, index, 1);
        index += 1;
        ticks += u64::from(standing.lost() == before);
        assert!(Instant::now() < end, "there is no room again");
        std::thread::sleep(Duration::from_millis(1));
    }
    recorder.end();
    thread.join().expect("it ends");
    let found = replayed(place.path());
    assert_eq!(found.difference, None);
    let lost = standing.lost();
    let first = found.gaps.first().map(|(_, first, _)| *first);
    assert_eq!(found.gaps.len(), 1, "{:?}", found.gaps);
    assert_eq!(found.gaps[0].2, lost);
    assert_eq!(found.ticks + lost, index, "each tick is there or missing");
    assert!(first.is_some_and(|first| first > 100), "{first:?}");
    assert_eq!((found.files, found.ended), (2, true));
    assert_eq!(standing.stopped(), None);
}

#[test]
fn so_many_files_of_such_a_length_are_kept_and_no_more() {
    let place = tempfile::tempdir().expect("a folder");
    std::fs::write(place.path().join("notes.txt"), "the quartet").expect("writable");
    let bounds = Bounds {
        file_bytes: 20_000,
        files: 3,
        ..SMALL
    };
    let mut numbers = Vec::new();
    for run in 0..2 {
        session(run, 10.0, &bounds, place.path());
        let kept = folder::files(place.path()).expect("readable");
        assert_eq!(kept.len(), 3);
        for (_, path) in &kept {
            let bytes = std::fs::read(path).expect("readable").len();
            // Twice its length, and the record over it, which may be the next one's image.
            assert!(bytes < 2 * 20_000 + 40_000, "{bytes} bytes");
        }
        numbers.push(kept.iter().map(|(n, _)| *n).collect::<Vec<_>>());
        assert_eq!(replayed(place.path()).difference, None);
    }
    let follow = |n: &[u64]| n.windows(2).all(|pair| pair[1] == pair[0] + 1);
    assert!(numbers.iter().all(|n| follow(n)), "{numbers:?}");
    assert!(numbers[1][0] > numbers[0][0] + 3, "{numbers:?}");
    assert!(place.path().join("notes.txt").exists(), "not ours");
}

#[test]
fn a_disk_that_is_full_stops_the_journal_and_nothing_else() {
    let standing = Arc::new(Standing::default());
    let (mut recorder, ring) = Recorder::new(&ROOMY, Arc::clone(&standing));
    let (head, mut engine) = hall();
    let disk = Broken::after(30_000);
    let thread = writer::start(disk, head, ring, Arc::clone(&standing), || 0).expect("a thread");
    let (end, mut index) = (Instant::now() + Duration::from_secs(10), 0);
    while standing.stopped().is_none() {
        stepped(&mut recorder, &mut engine, index, 100);
        index += 100;
        assert!(Instant::now() < end, "it never stopped");
        std::thread::sleep(Duration::from_millis(1));
    }
    thread.join().expect("it ends by itself");
    let why = standing.stopped().expect("it stopped");
    assert_eq!(why, "the journal in the hall's disk stopped: no room left");
    assert!(standing.written() <= 30_000);
    // The loop goes on, and so far that the ring would be full.
    let lost = standing.lost();
    stepped(&mut recorder, &mut engine, index, 1_000);
    assert_eq!(engine.outputs().status.at, Time((index + 999) * 4_000_000));
    assert_eq!(standing.lost(), lost, "a stopped journal loses nothing");
}

#[test]
fn one_folder_is_one_daemons() {
    let place = tempfile::tempdir().expect("a folder");
    let first = Folder::open(place.path(), 4).expect("it is free");
    let told = Folder::open(place.path(), 4).expect_err("it is taken");
    assert!(told.contains("another stillhand writes its journal here"));
    drop(first);
    assert!(Folder::open(place.path(), 4).is_ok(), "free again");
    let file = place.path().join("a file");
    std::fs::write(&file, "").expect("writable");
    assert!(Folder::open(&file, 4).is_err(), "no folder");
}

#[test]
fn what_is_no_journal_says_so() {
    assert!(files(Path::new("/nowhere/at/all")).is_err());
    let place = tempfile::tempdir().expect("a folder");
    let told = files(place.path()).expect_err("empty");
    assert!(told.contains("0000000001.journal"), "{told}");
    let cases: [(&[u8], Damage); 4] = [
        (b"SHJRNL\x01", Damage::Torn(0)),
        (b"SHJRNL\x02\x00", Damage::Version(2)),
        (b"[rig]\nid = \"bench\"\n", Damage::NoJournal),
        (b"[", Damage::NoJournal),
    ];
    for (bytes, damage) in cases {
        let found = Records::of(bytes).collect::<Vec<_>>();
        assert!(matches!(&found[..], [Err(d)] if *d == damage), "{found:?}");
    }
}

/// Everything that can be told of a tick is written and read: what comes out of the reader is what went in.
#[test]
fn what_went_in_is_read_as_it_was() {
    let bytes = recorded(60, |_, _| {});
    let mut seen = (0, 0, 0);
    for record in Records::of(&bytes) {
        if let Record::Tick(tick) = record.expect("sound") {
            assert_eq!(tick.edges, scribe::edges(tick.tick.index));
            assert_eq!(tick.stop, scribe::stop(tick.tick.index));
            assert_eq!(tick.tick.now, scribe::moment(tick.tick.index));
            let (operator, rig) = scribe::files(tick.tick.index);
            assert_eq!(tick.operator.map(|o| *o), operator);
            assert_eq!(tick.rig.map(|(place, rig)| (place, *rig)), rig);
            seen.0 += tick.edges.len();
            seen.1 += usize::from(tick.stop.is_some());
            seen.2 += tick.notices.len();
        }
    }
    assert!(seen.0 > 30 && seen.1 > 0 && seen.2 > 3, "{seen:?}");
}

/// Each byte of an image in turn says nothing, or as much as a byte can: places that are not there, lists that
/// are too long. With a check that fits it is refused, or the engine can be stepped.
#[test]
fn no_forged_byte_of_an_image_makes_a_replay_panic() {
    let (bytes, ends) = short();
    let (begin, end) = (ends[1], ends[2]);
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join(folder::name(1));
    let (mut refused, mut stepped) = (0, 0);
    for place in begin + 5..end - 4 {
        for value in [0, 0x7f] {
            let mut forged = bytes.clone();
            forged[place] = value;
            match journal(&sealed(&forged), &path).ticks {
                0 => refused += 1,
                _ => stepped += 1,
            }
        }
    }
    assert!(refused > 100 && stepped > 100, "{refused} {stepped}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn no_bytes_make_the_reader_panic(bytes in prop::collection::vec(any::<u8>(), 0..2_000)) {
        let _ = Records::of(&bytes).count();
        let mut named = b"SHJRNL\x01\x00".to_vec();
        named.extend_from_slice(&bytes);
        let _ = Records::of(&named).count();
    }

    /// Someone who makes the checks fit gets no further: what is read holds together, or it is refused.
    #[test]
    fn no_forged_record_makes_a_replay_panic(seed in any::<u64>()) {
        let mut dice = Dice::new(seed);
        let (bytes, ends) = short();
        let mut forged = bytes[..8].to_vec();
        for pair in ends.windows(2) {
            let mut record = bytes[pair[0]..pair[1]].to_vec();
            // Half of the changes are made to the image, which is the second record.
            let chance = if pair[0] == ends[1] { 0.5 } else { 0.01 };
            if dice.chance(chance) {
                for _ in 0..1 + dice.below(4) {
                    let place = 4 + dice.below(record.len() - 8);
                    record[place] = dice.below(256) as u8;
                }
            }
            forged.extend_from_slice(&record);
        }
        one_file(&sealed(&forged));
    }
}

#[test]
fn a_folder_that_goes_away_stops_the_journal() {
    let place = tempfile::tempdir().expect("a folder");
    let path: PathBuf = place.path().join("journal");
    let standing = Arc::new(Standing::default());
    let bounds = Bounds {
        file_bytes: 10_000,
        ..SMALL
    };
    let (mut recorder, ring) = Recorder::new(&bounds, Arc::clone(&standing));
    let (head, mut engine) = hall();
    let folder = Folder::open(&path, 10).expect("ours");
    let thread = writer::start(folder, head, ring, Arc::clone(&standing), || 0).expect("a thread");
    std::fs::remove_dir_all(&path).expect("it goes");
    write_all(&mut recorder, &mut engine, 2_000);
    recorder.end();
    thread.join().expect("it ends");
    let why = standing.stopped().expect("it stopped");
    assert!(why.contains("No such file or directory"), "{why}");
}
