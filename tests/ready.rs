//! `stillhand ready` on the real path: program, port, bench rig and clock are real, the pad is a script, and the
//! answers are typed. What moved is judged by the laws checker (`support/watched.rs` says by which laws).

mod support;

use serde_json::Value;
use support::steady::steadily;
use support::watched::{Said, Watched, reduced};

/// A head and a dolly with little room, so that the ends are not far.
const RIG: &str = r#"
[rig]
id = "hall"
port = "sim"
mount = "upright"
delay = "10 ms"

[axis.pan]
turns = "pan"
scale = "27.777778 counts/deg"
travel = ["-8 deg", "8 deg"]
speed = "60 deg/s"
normal = { accel = "120 deg/s^2", jerk = "600 deg/s^3" }
stop = { accel = "240 deg/s^2", jerk = "2400 deg/s^3" }

[axis.dolly]
scale = "80 counts/mm"
travel = ["0 mm", "100 mm"]
speed = "200 mm/s"
normal = { accel = "300 mm/s^2", jerk = "1500 mm/s^3" }
stop = { accel = "700 mm/s^2", jerk = "7000 mm/s^3" }
"#;

const HANDS: &str = r#"
[operator]
name = "viola"

[axis.pan]
control = "rx"
gears = ["2 deg/s", "10 deg/s"]

[axis.dolly]
control = "lx"
gears = ["5 mm/s", "50 mm/s"]
"#;

/// A hand that holds the press again and again, and what else it does meanwhile.
struct Hand {
    text: String,
    at: f64,
    presses: Vec<(f64, f64)>,
}

impl Hand {
    fn new() -> Hand {
        Hand {
            text: "0.000 ABS_RX 0\n".to_owned(),
            at: 0.5,
            presses: Vec::new(),
        }
    }

    fn does(&mut self, after: f64, what: &str) {
        let at = self.at + after;
        self.text += &format!("{at:.3} {what}\n");
    }

    /// Holds the press for so long, and rests for a second.
    fn holds(mut self, seconds: f64) -> Hand {
        self.does(0.0, "BTN_SOUTH 1");
        self.does(seconds, "BTN_SOUTH 0");
        self.presses.push((self.at, self.at + seconds));
        self.at += seconds + 1.0;
        self
    }

    /// Presses STOP once the axis goes steadily, and releases it.
    fn stops(mut self) -> Hand {
        self.does(0.0, "BTN_SOUTH 1");
        self.does(2.2, "BTN_EAST 1");
        self.does(2.3, "BTN_EAST 0");
        self.does(2.5, "BTN_SOUTH 0");
        self.presses.push((self.at, self.at + 2.5));
        self.does(3.6, "BTN_START 1");
        self.does(4.4, "BTN_START 0");
        self.at += 5.2;
        self
    }
}

fn watched(rig: &str, hand: &Hand, bench: &[&str]) -> Watched {
    let files = [
        ("hall.toml", rig),
        ("viola.toml", HANDS),
        ("hand.pad", &hand.text),
    ];
    Watched::start(&files, bench)
}

const READY: [&str; 9] = [
    "ready",
    "--rig",
    "hall.toml",
    "--operator",
    "viola.toml",
    "--pad",
    "script:hand.pad",
    "--record",
    "kept",
];

fn ready(world: &Watched, more: &[&str], typed: &str) -> Said {
    world.run(&[&READY[..], more].concat(), typed)
}

/// The one record that was kept, as text and as JSON.
fn kept(world: &Watched) -> (String, Value) {
    let entries = std::fs::read_dir(world.path("kept"))
        .expect("there")
        .flatten();
    let mut names: Vec<String> = entries
        .map(|e| e.file_name().into_string().expect("text"))
        .collect();
    names.sort();
    assert_eq!(names.len(), 2, "{names:?}");
    let read = |name: &str| world.read(&format!("kept/{name}"));
    let json = serde_json::from_str(&read(&names[0])).expect("JSON");
    (read(&names[1]), json)
}

/// The items of a step: what, found, and what it says.
fn items<'v>(record: &'v Value, step: &str) -> Vec<(&'v str, &'v str, &'v str)> {
    let steps = record["steps"].as_array().expect("a list");
    let own = steps.iter().find(|own| own["step"] == step);
    let own = own.unwrap_or_else(|| panic!("no step {step}: {record}"));
    let text = |value: &'v Value| value.as_str().expect("text");
    let items = own["items"].as_array().expect("a list").iter();
    items
        .map(|item| {
            (
                text(&item["what"]),
                text(&item["found"]),
                text(&item["says"]),
            )
        })
        .collect()
}

fn founds<'v>(record: &'v Value, step: &str) -> Vec<(&'v str, &'v str)> {
    let items = items(record, step).into_iter();
    items.map(|(what, found, _)| (what, found)).collect()
}

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

/// Room enough for the speed of the whole check.
fn wide() -> String {
    RIG.replace("-8 deg", "-60 deg")
        .replace("8 deg\"]", "60 deg\"]")
}

/// What stands against READY: step, what, and how to mend it.
fn against(record: &Value) -> Vec<(String, String, String)> {
    let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    let steps = record["steps"].as_array().expect("a list").iter();
    let all = steps.flat_map(|step| {
        let items = step["items"].as_array().expect("a list").iter();
        items.map(move |item| (step, item))
    });
    all.filter(|(_, item)| item["found"] == "fail" || item["found"] == "not_shown")
        .map(|(step, item)| {
            (
                text(&step["step"]),
                text(&item["what"]),
                text(&item["mend"]),
            )
        })
        .collect()
}

fn figure(record: &Value, step: &str, name: &str) -> (f64, f64, f64) {
    let steps = record["steps"].as_array().expect("a list");
    let own = steps
        .iter()
        .find(|own| own["step"] == step)
        .expect("a step");
    let figures = own["items"][0]["figures"].as_array().expect("a list");
    let figure = figures
        .iter()
        .find(|figure| figure["name"] == name)
        .expect(name);
    let number = |key: &str| figure[key].as_f64().expect(key);
    (
        number("measured"),
        number("calculated"),
        number("tolerance"),
    )
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
    });
}

/// One that comes late, and one that does not come at all while frames are left out.
#[test]
fn a_watchdog_that_is_late_or_missing_is_not_ready() {
    steadily(|| {
        let hand = Hand::new().holds(4.5);
        for (late, told_by_rig) in [("WATCHDOG 300", "pass"), ("WATCHDOG 1000", "fail")] {
            let world = watched(&wide(), &hand, &["--mischief-now", late]);
            let said = ready(&world, &["--only", "watchdog", "--axis", "pan"], "");
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
        }
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
