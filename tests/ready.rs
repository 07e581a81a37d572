//! `stillhand ready` on the real path: program, port, bench rig and clock are real, the pad is a script, and the
//! answers are typed. What moved is judged by the laws checker (`support/watched.rs` says by which laws).

mod support;

use serde_json::Value;
use support::checked::{
    Hand, READY, RIG, against, figure, founds, items, kept, ready, watched, wide,
};
use support::steady::steadily;
use support::watched::{Said, reduced};

#[test]
fn a_rig_that_is_right_is_ready_and_the_record_says_all_of_it() {
    steadily(|| {
        let hand = Hand::new().stops().stops();
        let hand = hand.holds(4.0).holds(4.0);
        let hand = hand.holds(7.0).holds(7.0).holds(7.0).holds(7.0).holds(4.5);
        let world = watched(
            RIG,
            &hand,
            &[
                "--mischief-now",
                "SUPPLY 24.1",
                "--mischief-now",
                "DRIVE 38",
            ],
        );
        // Where STOP left it there is less room in plus, so that pan is moved in minus.
        let said = ready(&world, &[], "left\nyes\nyes\nyes\n");
        assert_eq!(said.code, Some(0), "{}\n{}", said.err, said.out);
        let (text, record) = kept(&world);
        assert_eq!(record["verdict"], "ready", "{text}");
        assert!(
            said.out.starts_with(&text[..text.len() - 1]),
            "{}",
            said.out
        );
        said.want(&[
            "Keep people clear of the rig",
            "step 3 of 6: stop",
            "READY: rig \"hall\"",
            "24.1 V",
            "38 C",
            "It is no certificate",
        ]);
        assert_eq!(
            founds(&record, "stop"),
            [("pan, plus", "pass"), ("dolly, plus", "pass")]
        );
        assert_eq!(
            founds(&record, "directions"),
            [("pan", "pass"), ("dolly", "pass")]
        );
        let ends = founds(&record, "travel");
        assert!(
            ends.len() == 4 && ends.iter().all(|(_, found)| *found == "pass"),
            "{ends:?}"
        );
        let dog = founds(&record, "watchdog");
        assert_eq!(
            dog,
            [
                ("pan", "pass"),
                ("the rig's word", "pass"),
                ("afterwards", "pass")
            ]
        );
        world.judge(reduced, &hand.presses);
    });
}

/// Motors with a twentieth of their strength: an encoder sees that they take longer to stop than the file says.
#[test]
fn a_stop_that_takes_longer_than_calculated_is_not_ready() {
    steadily(|| {
        let hand = Hand::new().stops();
        for (ramps, verdict) in [("RAMPS 100", "part"), ("RAMPS 5", "not_ready")] {
            let bench = ["--mischief-now", "ENCODER ON", "--mischief-now", ramps];
            let world = watched(&wide(), &hand, &bench);
            let said = ready(&world, &["--only", "stop", "--axis", "pan"], "");
            let (text, record) = kept(&world);
            assert_eq!(record["verdict"], verdict, "{ramps}: {text}\n{}", said.err);
            let (took, told, tolerance) = figure(&record, "stop", "time");
            let (way, told_way, room) = figure(&record, "stop", "way");
            if verdict == "part" {
                assert_eq!(said.code, Some(0));
                assert!(took <= told + tolerance && way <= told_way + room, "{text}");
                said.want(&[
                    "left out: directions, travel, watchdog, dolly. This does not make it ready",
                ]);
                world.judge(reduced, &hand.presses);
                continue;
            }
            assert_eq!(said.code, Some(1));
            // 8 deg/s by 18 deg/s^2 take 0.44 s, of which the last count is not seen.
            assert!(
                took > 0.3 && took > told + tolerance && way > told_way + room,
                "{text}"
            );
            let [(step, what, mend)] = &against(&record)[..] else {
                panic!("{text}")
            };
            assert_eq!((step.as_str(), what.as_str()), ("stop", "pan, plus"));
            assert!(mend.contains("`stop` of axis.pan"), "{mend}");
        }
    });
}

#[test]
fn a_wrong_direction_and_what_was_skipped_are_not_ready() {
    steadily(|| {
        let hand = Hand::new().holds(3.5);
        let world = watched(&wide(), &hand, &[]);
        let only = ["--only", "directions,travel", "--axis", "pan", "--json"];
        let said = ready(&world, &only, "left\nperhaps\nskip\n");
        assert_eq!(said.code, Some(1), "{}", said.err);
        let record: Value = serde_json::from_str(&said.out).expect("JSON");
        assert_eq!(record, kept(&world).1);
        let against = against(&record);
        let what: Vec<(&str, &str)> = against
            .iter()
            .map(|(s, w, _)| (s.as_str(), w.as_str()))
            .collect();
        assert_eq!(
            what,
            [("directions", "pan"), ("travel", "pan")],
            "{}",
            said.err
        );
        assert!(
            against[0]
                .2
                .contains("stillhand directions --axis pan --write"),
            "{against:?}"
        );
        assert_eq!(items(&record, "travel")[0].1, "not_shown");
        said.want(&["\"perhaps\" is no answer: yes, skip"]);
        world.judge(reduced, &hand.presses);

        // Nothing is wrong, and not everything was shown.
        let world = watched(&wide(), &Hand::new(), &[]);
        let said = ready(&world, &["--only", "travel", "--axis", "pan"], "skip\n");
        assert_eq!(said.code, Some(1), "{}", said.err);
        assert_eq!(kept(&world).1["verdict"], "not_ready");
        said.want(&["travel: pan: not shown: it was skipped"]);
    });
}

/// One that comes late, and one that does not come at all while frames are left out.
#[test]
fn a_watchdog_that_is_late_or_missing_is_not_ready() {
    steadily(|| {
        let hand = Hand::new().holds(4.5);
        for (late, told_by_rig) in [("WATCHDOG 300", "pass"), ("WATCHDOG 1000", "fail")] {
            let world = watched(&wide(), &hand, &["--mischief-now", late]);
            let only = [
                "--only",
                "watchdog",
                "--axis",
                "pan",
                "--journal",
                "journal",
            ];
            let said = ready(&world, &only, "");
            assert_eq!(said.code, Some(1), "{}", said.err);
            let (text, record) = kept(&world);
            assert_eq!(record["verdict"], "not_ready", "{text}");
            let founds = founds(&record, "watchdog");
            let wanted = [
                ("pan", "fail"),
                ("the rig's word", told_by_rig),
                ("afterwards", "pass"),
            ];
            assert_eq!(founds, wanted, "{late}: {text}");
            let (took, told, tolerance) = figure(&record, "watchdog", "time");
            assert!(took > told + tolerance && took > 0.3, "{text}");
            said.want(&["must stop by itself 120 ms after the last frame: mend its firmware"]);
            // What was left out on purpose is an input like any other.
            assert!(world.replays("journal"), "{text}");
        }
    });
}

#[test]
fn a_press_that_is_let_go_ends_the_move_and_another_goes_on() {
    steadily(|| {
        // At reduced speed for half a second, of the seven that the way takes.
        let hand = Hand::new().holds(1.6).holds(9.0);
        let rig = wide().replace("-60 deg", "-20 deg");
        let world = watched(&rig, &hand, &["--position", "0"]);
        let only = ["--only", "travel", "--axis", "pan", "--for", "15s"];
        let said = ready(&world, &only, "yes\n");
        let (text, record) = kept(&world);
        said.want(&["the moves ended early: what has to be held was let go"]);
        let ends = founds(&record, "travel");
        assert_eq!(ends, [("pan, end in minus", "pass")], "{text}");
        assert_eq!(record["broken_off"], "it was asked to end", "{text}");
        world.judge(reduced, &hand.presses);
    });
}

/// STOP before the press was held stops nothing that counts: it is asked for once more, and can be.
#[test]
fn a_stop_that_comes_too_early_is_asked_for_once_more() {
    steadily(|| {
        let hand = Hand::new().stops_early().stops();
        let world = watched(RIG, &hand, &["--position", "0"]);
        let said = ready(&world, &["--only", "stop", "--axis", "pan"], "");
        let (text, record) = kept(&world);
        said.want(&["STOP was pressed before it went steadily: once more"]);
        assert_eq!(founds(&record, "stop"), [("pan, plus", "pass")], "{text}");
        world.judge(reduced, &hand.presses);
    });
}

/// A stick, STOP where it is not asked for, and Ctrl-C: everything stops, and the record has what was done so far.
#[test]
fn a_hand_ends_it_at_any_point_and_the_record_says_how_far_it_was() {
    steadily(|| {
        let mut stick = Hand::new().holds(5.0);
        stick.text = stick
            .text
            .replace("5.500", "2.500 ABS_RX 0.5\n2.700 ABS_RX 0\n5.500");
        let mut stop = Hand::new().holds(5.0);
        stop.text = stop
            .text
            .replace("5.500", "1.900 BTN_EAST 1\n2.000 BTN_EAST 0\n5.500");
        for (hand, only, typed, why) in [
            (stick, "travel", "yes\n", "a stick was pushed"),
            (stop, "directions,watchdog", "", "STOP was pressed"),
        ] {
            let world = watched(&wide(), &hand, &[]);
            let said = ready(&world, &["--only", only, "--axis", "pan"], typed);
            assert_eq!(said.code, Some(1), "{}", said.err);
            let (text, record) = kept(&world);
            assert_eq!(
                (&record["broken_off"], &record["verdict"]),
                (&why.into(), &"not_ready".into())
            );
            assert!(
                text.contains(&format!("the check was broken off: {why}")),
                "{text}"
            );
            if only.contains("watchdog") {
                assert_eq!(founds(&record, "watchdog"), [("all of it", "not_shown")]);
            }
            assert_eq!(
                founds(&record, "rig")[0],
                ("met", "pass"),
                "what was done before it"
            );
            world.judge(reduced, &hand.presses);
        }
        let hand = Hand::new().holds(20.0);
        let world = watched(&wide(), &hand, &[]);
        let child = world.begin(
            &[&READY[..], &["--only", "travel", "--axis", "pan"]].concat(),
            "yes\n",
        );
        world.want_moving();
        // SAFETY: our own child, not yet waited for, so the number is still its.
        assert_eq!(unsafe { libc::kill(child.id() as i32, libc::SIGINT) }, 0);
        let said = Said::of(child);
        assert_eq!(said.code, Some(1), "{}", said.err);
        let (_, record) = kept(&world);
        assert_eq!(record["broken_off"], "it was asked to end");
        let frames = world.judge(reduced, &hand.presses);
        assert!(
            frames.last().is_some_and(|last| last.still()),
            "it came to rest first"
        );
    });
}

#[test]
fn an_axis_without_a_reference_is_told_and_not_driven() {
    steadily(|| {
        let hand = Hand::new().stops().holds(3.0).holds(3.0);
        let world = watched(RIG, &hand, &["--unreferenced"]);
        let said = ready(&world, &[], "right\nyes\nyes\nyes\n");
        assert_eq!(said.code, Some(1), "{}", said.err);
        let (text, record) = kept(&world);
        assert_eq!(record["verdict"], "not_ready", "{text}");
        let not_known = (
            "reference of pan",
            "fail",
            "not known: nothing guards its ends",
        );
        assert!(items(&record, "rig").contains(&not_known), "{text}");
        for step in ["stop", "directions", "travel"] {
            let wanted = [("pan", "not_shown"), ("dolly", "not_shown")];
            assert_eq!(founds(&record, step), wanted, "{text}");
        }
        assert_eq!(founds(&record, "watchdog"), [("watchdog", "not_shown")]);
        let frames = world.judge(reduced, &[]);
        assert!(
            frames.len() > 10 && frames.iter().all(|one| one.still()),
            "it moved"
        );
    });
}

#[test]
fn a_rig_that_is_not_met_is_not_ready() {
    let hand = Hand::new();
    let world = watched(RIG, &hand, &["--id", "other"]);
    let said = ready(&world, &[], "");
    assert_eq!(said.code, Some(1), "{}", said.err);
    let (text, record) = kept(&world);
    assert_eq!(
        record["broken_off"], "the rig or the pad was not ready",
        "{text}"
    );
    said.want(&["rig: rig: this is rig \"other\", the rig file is for \"hall\""]);
}

#[test]
fn what_can_not_be_is_refused_before_anything_moves() {
    let hand = Hand::new();
    let world = watched(RIG, &hand, &[]);
    for (more, words) in [
        (
            &["--axis", "roll"][..],
            "has no such axis; it has pan, dolly",
        ),
        (
            &["--record", "hall.toml/kept"],
            "there can be no folder for the record",
        ),
        (
            &["--only", "speed"],
            "possible values: stop, directions, travel, watchdog",
        ),
    ] {
        let base: &[&str] = if more[0] == "--record" {
            &READY[..7]
        } else {
            &READY
        };
        let said = world.run(&[base, more].concat(), "");
        assert_eq!(said.code, Some(2), "{more:?}: {}", said.err);
        said.want(&[words]);
    }
    assert!(
        !world.path("kept").exists()
            || std::fs::read_dir(world.path("kept"))
                .expect("ours")
                .next()
                .is_none()
    );
    // Nobody there to answer.
    let said = ready(&world, &["--only", "travel"], "");
    assert_eq!(said.code, Some(1), "{}", said.err);
    assert_eq!(
        kept(&world).1["broken_off"],
        "nobody answers: type the answers, one a line"
    );
}
