//! `stillhand directions` as a command: the bench rig, a scripted pad that holds the press, and typed answers. What
//! moved is judged by the laws checker (`support/watched.rs` says by which laws).

mod support;

use stillhand::profile::{Source, builtin, load_rig};
use support::steady::steadily;
use support::watched::{Said, Watched, reduced};

/// Holds the press for each of three axes in turn: each takes 0.6 s and under 3 s of motion, and the next press
/// counts only after it was let go.
const HAND: &str = "0.000 ABS_RX 0\n\
                    0.500 BTN_DPAD_UP 1\n5.000 BTN_DPAD_UP 0\n\
                    5.500 BTN_DPAD_UP 1\n10.00 BTN_DPAD_UP 0\n\
                    10.50 BTN_DPAD_UP 1\n15.00 BTN_DPAD_UP 0\n";

/// The presses of [`HAND`].
const PRESSES: [(f64, f64); 3] = [(0.5, 5.0), (5.5, 10.0), (10.5, 15.0)];

fn place() -> Watched {
    let rig = builtin::BENCH_RIG.source().text;
    Watched::start(&[("hall.toml", &rig), ("hand.pad", HAND)], &[])
}

fn directions(place: &Watched, answers: &str, more: &[&str]) -> Said {
    let base = ["directions", "--pad", "script:hand.pad"];
    place.run(&[&base[..], more].concat(), answers)
}

#[test]
fn a_file_that_is_right_stays_as_it_is() {
    steadily(|| {
        let place = place();
        let before = place.read("hall.toml");
        let out = directions(
            &place,
            "right\nup\nyes\n",
            &["--rig", "hall.toml", "--write"],
        );
        let told = &out.err;
        assert_eq!(out.code, Some(0), "{told}");
        assert_eq!(out.out, "pan: right\ntilt: right\nslide: right\n");
        for words in [
            "keep clear",
            "pan will move a little: watch the picture, and keep dpad-up held",
            "tilt: which way did the picture look? up, down, again, skip",
            "slide: was that the way you call plus?",
        ] {
            assert!(told.contains(words), "no \"{words}\":\n{told}");
        }
        assert_eq!(place.read("hall.toml"), before);
        assert!(!place.path("hall.toml.before").exists());
        place.judge(reduced, &PRESSES);
    });
}

/// Let go too early the axis comes to rest, and the move is offered again.
#[test]
fn a_press_that_is_let_go_ends_the_move_and_another_begins_it_anew() {
    steadily(|| {
        let hand = "0.000 ABS_RX 0\n0.500 BTN_DPAD_UP 1\n1.900 BTN_DPAD_UP 0\n\
                    3.000 BTN_DPAD_UP 1\n7.000 BTN_DPAD_UP 0\n";
        let rig = builtin::BENCH_RIG.source().text;
        let place = Watched::start(&[("hall.toml", &rig), ("hand.pad", hand)], &[]);
        let out = directions(&place, "right\n", &["--rig", "hall.toml", "--axis", "pan"]);
        assert_eq!(
            (out.code, out.out.as_str()),
            (Some(0), "pan: right\n"),
            "{}",
            out.err
        );
        out.want(&["the moves ended early: what has to be held was let go"]);
        place.judge(reduced, &[(0.5, 1.9), (3.0, 7.0)]);
    });
}

/// Nothing is written unless asked for; then only what is wrong, and the old file is kept.
#[test]
fn what_is_wrong_is_proposed_and_written_only_if_asked() {
    steadily(|| {
        let place = place();
        let before = place.read("hall.toml");
        let typed = "what?\nleft\nup\nskip\n";
        let out = directions(&place, typed, &["--rig", "hall.toml"]);
        let told = &out.err;
        assert_eq!(out.code, Some(1), "{told}");
        assert!(
            told.contains("\"what?\" is no answer. pan: which way did the picture look?"),
            "{told}"
        );
        assert!(
            told.contains("nothing was written; --write does it"),
            "{told}"
        );
        let line = "[axis.pan]\n  reverse = true     # was not there";
        assert!(out.out.contains(line), "{}", out.out);
        assert_eq!(place.read("hall.toml"), before);
        place.judge(reduced, &PRESSES);

        let place = self::place();
        let out = directions(
            &place,
            "no\n",
            &["--rig", "hall.toml", "--axis", "slide", "--write"],
        );
        let told = &out.err;
        assert_eq!(out.code, Some(0), "{told}");
        let kept = place.read("hall.toml.before");
        assert_eq!(kept, before);
        let read = |text: &str| load_rig(&Source::new("", text)).expect("good").rig;
        let (old, new) = (read(&before), read(&place.read("hall.toml")));
        let turned: Vec<bool> = old
            .axes
            .iter()
            .zip(new.axes.iter())
            .map(|(a, b)| a.sense != b.sense)
            .collect();
        assert_eq!(turned, [false, false, true]);
        place.judge(reduced, &PRESSES);
    });
}

/// Answered by the pad alone, whose d-pad inches in this profile: while a question stands, it moves nothing. One
/// answer asks for the move again; a press as long as that which begins a move is none.
#[test]
fn the_d_pad_answers_and_moves_nothing() {
    steadily(|| {
        // The move of pan, again, of tilt, of slide; it takes 0.6 s and under 3 s each.
        let hand = "0.000 ABS_RX 0\n\
                    0.500 BTN_SOUTH 1\n5.000 BTN_SOUTH 0\n\
                    5.500 BTN_DPAD_LEFT 1\n6.500 BTN_DPAD_LEFT 0\n\
                    7.000 BTN_DPAD_UP 1\n7.200 BTN_DPAD_UP 0\n\
                    8.000 BTN_SOUTH 1\n12.50 BTN_SOUTH 0\n\
                    13.00 BTN_DPAD_RIGHT 1\n13.20 BTN_DPAD_RIGHT 0\n\
                    14.00 BTN_SOUTH 1\n18.50 BTN_SOUTH 0\n\
                    19.00 BTN_DPAD_DOWN 1\n19.20 BTN_DPAD_DOWN 0\n\
                    20.00 BTN_SOUTH 1\n24.50 BTN_SOUTH 0\n\
                    25.00 BTN_DPAD_UP 1\n25.20 BTN_DPAD_UP 0\n";
        let presses = [(0.5, 5.0), (8.0, 12.5), (14.0, 18.5), (20.0, 24.5)];
        let rig = builtin::BENCH_RIG.source().text;
        let text = builtin::INSTRUMENTS.source().text;
        // Its `south` goes with inching; here it begins the moves, which would take long in its gears.
        let quick = |line: &str| match (line.starts_with("gears"), line.contains("mm/s")) {
            (true, true) => "gears = [\"20 mm/s\"]".to_owned(),
            (true, false) => "gears = [\"4 deg/s\"]".to_owned(),
            (false, _) => line.replace("south + dpad", "thumbl + dpad"),
        };
        let viola = text.lines().map(quick).collect::<Vec<_>>().join("\n");
        assert!(viola.contains("pan = { plus = \"dpad-right\""), "{viola}");
        let files = [
            ("hall.toml", &*rig),
            ("hand.pad", hand),
            ("viola.toml", &viola),
        ];
        let place = Watched::start(&files, &[]);
        let out = place.run_untyped(&[
            "directions",
            "--pad",
            "script:hand.pad",
            "--rig",
            "hall.toml",
            "--operator",
            "viola.toml",
        ]);
        let told = &out.err;
        assert_eq!(out.code, Some(1), "{told}");
        assert_eq!(out.out.lines().next(), Some("pan: right"), "{}", out.out);
        out.want(&[
            "pan: which way did the picture look? right, left, again, skip; or tap dpad-right for right, \
             dpad-left for left, up or down for again",
            "pan: again, by the d-pad",
            "pan: right, by the d-pad",
            "tilt: down, by the d-pad",
            "or tap dpad-up for yes, dpad-down for no",
            "slide: yes, by the d-pad",
        ]);
        assert!(!told.contains("pan: left, by the d-pad"), "{told}");
        place.judge(reduced, &presses);
    });
}

#[test]
fn what_can_not_be_is_refused_before_anything_moves() {
    steadily(|| {
        let place = place();
        for (more, words) in [
            (&["--write"][..], "the built-in rig file can't be written"),
            (
                &["--axis", "roll"],
                "has no such axis; it has pan, tilt, slide",
            ),
        ] {
            let out = directions(&place, "", more);
            assert_eq!(out.code, Some(2), "{more:?}");
            assert!(out.err.contains(words), "{}", out.err);
        }
        // Nobody there to answer.
        let out = directions(&place, "", &["--axis", "pan"]);
        assert_eq!(out.code, Some(1));
        assert!(out.err.contains("nobody answers"), "{}", out.err);
        place.judge(reduced, &PRESSES);
    });
}
