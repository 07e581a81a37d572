//! `stillhand survey` as commands: from a plan to a quiet file, the recordings that recorders write, and
//! what is said of those that can't be read.

#[path = "support/recordings.rs"]
mod recordings;
#[path = "support/survey_place.rs"]
mod survey_place;

use recordings::{Form, Written, chunk, write};
use std::fs;
use std::path::Path;
use stillhand::profile::{Source, builtin, load_operator, load_quiet, load_rig};
use stillhand::soak::world::{World, WorldOptions};
use stillhand_acoustics::plan;
use stillhand_engine::input::{Control, PadEvent, PadId};
use stillhand_engine::operator::{Gears, Quiet};
use stillhand_engine::units::Speed;
use survey_place::{Place, bench, text};

/// A seed whose rig has quiet speeds and starts, found by trying.
const SEED: &str = "3";

#[test]
fn a_plan_is_read_as_it_was_written() {
    let place = Place::new();
    let plan = place.plan();
    assert_eq!(plan::read(&plan::write(&plan)).unwrap(), plan);
    assert_eq!(plan.rig, "bench");
    // Where each move ends is where the next begins, and the travel is never left.
    let mut at = plan.axes[0].start;
    for step in &plan.steps {
        if let Some(m) = step.does.moving() {
            let way = m.speed * (step.lasts - m.ramp_s());
            at += if m.plus { way } else { -way };
            assert!((-170.0..=170.0).contains(&at), "at {at} after {step:?}");
            assert!(
                m.speed <= 60.0 && m.accel <= 120.0 && m.jerk <= 600.0,
                "{m:?}"
            );
        }
    }
}

#[test]
fn bad_plans_say_where_and_why() {
    let place = Place::new();
    let good = fs::read_to_string(place.path("plan.toml")).unwrap();
    let cases: [(&str, &str, &str); 7] = [
        ("version = 1", "version = 2", "version 2"),
        ("does = \"still\"", "does = \"sleep\"", "can't do \"sleep\""),
        ("way = \"plus\"", "way = \"up\"", "\"plus\" or \"minus\""),
        ("rung = 1", "rung = 0", "counts from 1"),
        (
            "speed = \"60 deg/s\"",
            "speed = \"60 mm/s\"",
            "must be a number in deg/s",
        ),
        (
            "at = \"32 s\"",
            "at = \"3 s\"",
            "before the one before it has ended",
        ),
        ("axis = \"pan\"", "axis = \"nod\"", "no [axis.nod]"),
    ];
    for (from, to, said) in cases {
        assert!(good.contains(from), "{from}");
        fs::write(place.path("bad.toml"), good.replacen(from, to, 1)).unwrap();
        let out = place.run(&["read", "none.wav", "--plan", "bad.toml"]);
        let told = text(&out.stderr);
        assert_eq!(out.status.code(), Some(2), "{told}");
        assert!(told.contains(said) && told.contains("line "), "{told}");
    }
}

#[test]
fn a_quiet_file_follows_whole_or_not_at_all() {
    let place = Place::new();
    place.demo(SEED);
    fs::write(place.path("quiet.toml"), "old").unwrap();
    let args = [
        "read",
        "demo.wav",
        "--plan",
        "plan.toml",
        "--out",
        "quiet.toml",
        "--svg",
        "plot.svg",
    ];
    let out = place.run(&args);
    assert!(out.status.success(), "{}", text(&out.stderr));
    let written = fs::read_to_string(place.path("quiet.toml")).unwrap();
    let quiet = load_quiet(&Source::new("quiet.toml", written.as_str()));
    let quiet = quiet.unwrap_or_else(|problems| panic!("{}", problems.render(false)));
    let json = place.json("demo.wav", &[]);
    let found = &json["axes"][0];
    assert_eq!(quiet.axes[0].speed.0, found["speed"].as_f64().unwrap());
    assert_eq!(quiet.axes[0].set.accel.0, found["accel"].as_f64().unwrap());
    assert_eq!(json["no_quiet_file"], serde_json::Value::Null);
    for figure in [
        "demo.wav",
        "44100 Hz, 24 bit",
        "Room tone",
        "standstill",
        "; quiet",
        "heard, by",
    ] {
        assert!(written.contains(figure), "{figure} in {written}");
    }
    let plot = fs::read_to_string(place.path("plot.svg")).unwrap();
    assert!(plot.starts_with("<svg") && plot.contains("room tone") && plot.contains("pan: speed"));
    // A margin nothing passes: what was there stays, byte for byte, and nothing is left beside it.
    let out = place.run(&[&args[..], &["--margin", "90dB"]].concat());
    assert_eq!(out.status.code(), Some(1));
    assert!(
        text(&out.stderr).contains("not written: pan has no quiet speed"),
        "{}",
        text(&out.stderr)
    );
    assert_eq!(
        fs::read_to_string(place.path("quiet.toml")).unwrap(),
        written
    );
    let names = fs::read_dir(place.path("")).unwrap();
    let left = names.filter(|name| {
        name.as_ref()
            .unwrap()
            .file_name()
            .to_string_lossy()
            .starts_with('.')
    });
    assert_eq!(left.count(), 0);
}

/// What was read is driven as it stands in the file: this made-up rig sings between two rungs.
#[test]
fn the_quiet_file_is_what_the_engine_keeps_to() {
    const SINGS: &str = "8";
    let place = Place::new();
    place.demo(SINGS);
    let out = place.run(&[
        "read",
        "demo.wav",
        "--plan",
        "plan.toml",
        "--out",
        "quiet.toml",
    ]);
    assert!(out.status.success(), "{}", text(&out.stderr));
    let json = place.json("demo.wav", &[]);
    let edges = |n: usize| json["axes"][0]["avoid"][0][n].as_f64().unwrap();
    let (low, high, slow) = (
        edges(0),
        edges(1),
        json["axes"][0]["speed"].as_f64().unwrap(),
    );
    assert!(slow <= low && low < high);

    let rig_file = load_rig(&builtin::BENCH_RIG.source()).unwrap();
    let rig = &rig_file.rig;
    let file = load_operator(&builtin::TALK.source()).unwrap();
    let written = fs::read_to_string(place.path("quiet.toml")).unwrap();
    // The survey's own ceiling lies below the band; whoever wants more writes it.
    let faster = written.replace(
        &format!("speed = \"{slow} deg/s\""),
        &format!("speed = \"{} deg/s\"", high * 1.1),
    );
    assert_ne!(written, faster);
    for (text, asked, goes) in [
        (&written, 0.9 * slow, 0.9 * slow),
        (&faster, (low + high) / 2.0, low),
        (&faster, high * 1.05, high * 1.05),
    ] {
        let quiet = load_quiet(&Source::new("quiet.toml", text.as_str())).unwrap();
        let rigs = std::slice::from_ref(&rig_file);
        let mut operator = file.resolve_with(rigs, Some(&quiet)).unwrap();
        operator.starts_quiet = true;
        let hand = &mut operator.hands[0];
        let Quiet::Measured { set, bands, .. } = &mut hand.quiet else {
            panic!("the pan was measured");
        };
        assert_eq!((bands[0].low.0, bands[0].high.0), (low, high));
        // Its own soft starts would need more travel than there is.
        *set = rig.axes[0].limits.normal();
        hand.ceiling = None;
        hand.gears = Gears::new(&[Speed(asked)]).unwrap();
        let mut world = World::new(rig, &operator, WorldOptions::default()).unwrap();
        world.plug(PadId(0));
        for control in Control::ALL {
            world.pad(PadId(0), PadEvent::Moved(control, 0.0));
        }
        world.run(1.0);
        world.pad(PadId(0), PadEvent::Moved(Control::Rx, 1.0));
        world.run(1.5);
        let is = world.outputs().rigs[0].axes[0].speed;
        assert!((is - goes).abs() < 1e-9, "{asked}: {is}, not {goes}");
        world.verdict().unwrap();
    }
}

#[test]
fn a_calibration_moves_levels_and_nothing_else() {
    let place = Place::new();
    place.demo(SEED);
    let (plain, calibrated) = (
        place.json("demo.wav", &[]),
        place.json("demo.wav", &["--calibration", "94dB"]),
    );
    let level = |json: &serde_json::Value| json["room_db"].as_f64().unwrap();
    assert!((level(&calibrated) - level(&plain) - 94.0).abs() < 1e-9);
    assert!(calibrated["levels"].as_str().unwrap().contains("re 20 uPa"));
    assert_eq!(plain["axes"][0]["speed"], calibrated["axes"][0]["speed"]);
    assert_eq!(plain["axes"][0]["accel"], calibrated["axes"][0]["accel"]);
}

#[test]
fn recordings_of_every_form_say_the_same() {
    let place = Place::new();
    let samples = place.demo(SEED);
    let wanted = place.json("demo.wav", &[]);
    let forms = [
        ("16.wav", Form::Whole(16), 1, 1),
        ("24x4.wav", Form::Whole(24), 4, 3),
        ("32.wav", Form::Whole(32), 2, 2),
        ("float.wav", Form::Float(32), 1, 1),
        ("double.wav", Form::Float(64), 2, 1),
        ("extensible.wav", Form::Extensible(24), 2, 2),
    ];
    for (name, form, channels, channel) in forms {
        let written = Written {
            form,
            channels,
            channel,
            // Of odd lengths, as broadcast recorders write them.
            before: [
                chunk(b"bext", &recordings::bext("2026-11-25")),
                chunk(b"junk", b"odd"),
            ]
            .concat(),
            after: chunk(b"iXML", b"<odd/>."),
            ..Written::new(44_100)
        };
        fs::write(place.path(name), write(&samples, &written)).unwrap();
        let found = place.json(name, &["--channel", &channel.to_string()]);
        assert_eq!(found["date"], "2026-11-25", "{name}");
        for key in ["speed", "accel", "jerk", "avoid"] {
            assert_eq!(
                found["axes"][0][key], wanted["axes"][0][key],
                "{name}: {key}"
            );
        }
        let off = found["room_db"].as_f64().unwrap() - wanted["room_db"].as_f64().unwrap();
        assert!(off.abs() < 0.05, "{name}: {off} dB off");
    }
    // A recorder that lost power left the length open.
    let open = Written {
        open: true,
        ..Written::new(44_100)
    };
    fs::write(place.path("open.wav"), write(&samples, &open)).unwrap();
    assert_eq!(
        place.json("open.wav", &[])["axes"][0]["speed"],
        wanted["axes"][0]["speed"]
    );
}

#[test]
fn what_can_not_be_read_says_why() {
    let place = Place::new();
    let samples = place.demo(SEED);
    let plain = Written::new(44_100);
    let put = |name: &str, bytes: Vec<u8>| fs::write(place.path(name), bytes).unwrap();
    let good = write(&samples, &plain);
    let headed = |tag: &[u8; 4]| [&tag[..], &good[4..]].concat();
    put("rf64.wav", headed(b"RF64"));
    put("flac.wav", headed(b"fLaC"));
    put("mp3.wav", headed(b"ID3\x04"));
    put("text.wav", b"not a recording at all".to_vec());
    put("empty.wav", Vec::new());
    put("header.wav", good[..40].to_vec());
    put(
        "8.wav",
        write(
            &samples,
            &Written {
                form: Form::Whole(8),
                ..plain.clone()
            },
        ),
    );
    put(
        "slow.wav",
        write(
            &samples,
            &Written {
                rate_hz: 22_050,
                ..plain.clone()
            },
        ),
    );
    put(
        "48.wav",
        write(
            &samples,
            &Written {
                rate_hz: 48_000,
                ..plain.clone()
            },
        ),
    );
    put("half.wav", write(&samples[..samples.len() / 2], &plain));
    put("silent.wav", write(&vec![0; samples.len()], &plain));
    let loud: Vec<i32> = samples
        .iter()
        .map(|x| x.saturating_mul(4000).clamp(-8_388_608, 8_388_607))
        .collect();
    put("clipped.wav", write(&loud, &plain));
    // A gate lets nothing through while it is quiet.
    let gated: Vec<i32> = (samples.iter().enumerate())
        .map(|(n, x)| if n < 44_100 * 16 { 0 } else { *x })
        .collect();
    put("gated.wav", write(&gated, &plain));
    let noise: Vec<i32> = (0..samples.len() as i32)
        .map(|n| n.wrapping_mul(1_103_515_245) >> 14)
        .collect();
    put("noise.wav", write(&noise, &plain));
    let cases: [(&str, &[&str], &str); 16] = [
        ("none.wav", &[], "can't be read"),
        (".", &[], "not an ordinary file"),
        ("rf64.wav", &[], "RF64"),
        ("flac.wav", &[], "FLAC"),
        ("mp3.wav", &[], "MP3"),
        ("text.wav", &[], "not a WAV file"),
        ("empty.wav", &[], "too short to be a recording"),
        ("header.wav", &[], "no samples"),
        ("8.wav", &[], "samples of 8 bits"),
        ("slow.wav", &[], "sample rate of 22050 Hz"),
        ("48.wav", &[], "recorder ran at 44100 Hz"),
        ("half.wav", &[], "ends too soon"),
        ("silent.wav", &[], "silent"),
        ("gated.wav", &[], "digital silence"),
        ("noise.wav", &[], "the ladder of this plan is not in it"),
        ("demo.wav", &["--channel", "2"], "has no channel 2"),
    ];
    for (name, more, said) in cases {
        let told = place.refused(name, more);
        assert!(told.contains(said), "{name}: {told}");
    }
    let told = place.refused("clipped.wav", &["--begins", "1"]);
    assert!(
        told.contains("clipped at") && told.contains("turn the gain down"),
        "{told}"
    );
}

/// The rhythm by which a ladder is found must be heard where the ladder is, however slowly an axis gains speed.
#[test]
fn an_axis_that_gains_speed_slowly_is_marked_by_speeds_that_are_heard() {
    let place = Place::new();
    let jib = Path::new(env!("CARGO_MANIFEST_DIR")).join("profiles/jib.toml");
    for axis in ["turntable", "pan", "slide"] {
        let rig = jib.display().to_string();
        let args = [
            "plan",
            "--rig",
            &rig,
            "--axis",
            axis,
            "--out",
            "slow.plan.toml",
        ];
        let out = place.run(&args);
        assert!(out.status.success(), "{}", text(&out.stderr));
        let plan = plan::read(&fs::read_to_string(place.path("slow.plan.toml")).unwrap()).unwrap();
        let speeds = |mark: bool| {
            let own = plan
                .steps
                .iter()
                .filter(move |step| matches!(step.does, plan::Does::Mark(_)) == mark);
            own.filter_map(|step| step.does.moving()).map(|m| m.speed)
        };
        let fastest = speeds(false).fold(0.0, f64::max);
        assert!(speeds(true).count() == 8, "two of four");
        let slowest = speeds(true).fold(f64::INFINITY, f64::min);
        assert!(
            slowest > 0.3 * fastest,
            "{axis}: marked by {slowest} of {fastest}"
        );
    }
}

/// Where it begins may be said; where it is heard to begin is said beside it, if that is elsewhere.
#[test]
fn a_beginning_that_is_wrong_is_noticed() {
    let place = Place::new();
    place.demo(SEED);
    let begins = place.json("demo.wav", &[])["begins_s"].as_f64().unwrap();
    let said = |off: f64| place.json("demo.wav", &["--begins", &format!("{:.2}", begins + off)]);
    let likeness = |json: &serde_json::Value| json["likeness"].as_f64().unwrap();
    let doubted = |json: &serde_json::Value| json["doubts"].to_string().contains("heard to begin");
    let (right, wrong) = (said(0.0), said(0.7));
    assert!(likeness(&right) > likeness(&wrong) + 0.1, "{right} {wrong}");
    assert!(!doubted(&right) && doubted(&wrong), "{right} {wrong}");
}

#[test]
fn another_plan_is_noticed() {
    let place = Place::new();
    place.demo(SEED);
    let out = place.run(&[
        "plan",
        "--rig",
        &bench(),
        "--axis",
        "tilt",
        "--rungs",
        "9",
        "--out",
        "plan.toml",
    ]);
    assert!(out.status.success());
    let told = place.refused("demo.wav", &[]);
    assert!(
        told.contains("is not in it") || told.contains("ends too soon"),
        "{told}"
    );
}

#[test]
fn plans_for_hands_and_for_an_old_quiet_file_stay_slower() {
    let place = Place::new();
    let fastest = |more: &[&str]| {
        let rig = bench();
        let args = [
            &["plan", "--rig", &rig, "--axis", "pan", "--out", "plan.toml"],
            more,
        ]
        .concat();
        let out = place.run(&args);
        assert!(out.status.success(), "{}", text(&out.stderr));
        let plan = place.plan();
        let speeds = plan.steps.iter().filter_map(|step| match step.does {
            plan::Does::Speed(_, m) => Some(m.speed),
            _ => None,
        });
        speeds.fold(0.0, f64::max)
    };
    assert_eq!(fastest(&[]), 60.0);
    let talk = Path::new(env!("CARGO_MANIFEST_DIR")).join("profiles/talk.toml");
    // The talk's fastest gear.
    assert_eq!(fastest(&["--operator", &talk.display().to_string()]), 8.0);
    let quiet = "[quiet]\nrig = \"bench\"\n[axis.pan]\nspeed = \"1.5 deg/s\"\naccel = \"6 deg/s^2\"\njerk = \"30 deg/s^3\"\n";
    fs::write(place.path("old.toml"), quiet).unwrap();
    assert_eq!(fastest(&["--quiet", "old.toml"]), 6.0);
    let out = place.run(&["plan", "--rig", &bench(), "--axis", "pam"]);
    assert_eq!(out.status.code(), Some(2));
    assert!(text(&out.stderr).contains("it has pan, tilt, slide"));
}
