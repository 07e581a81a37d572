//! What the tests of the daily check share: a small rig, a hand that holds the press, and the record that is kept.

#![allow(dead_code)] // Each test uses its own part of it.

use serde_json::Value;

use super::watched::{Said, Watched};

/// A head and a dolly with little room, so that the ends are not far.
pub const RIG: &str = r#"
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

pub const HANDS: &str = r#"
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
pub struct Hand {
    pub text: String,
    at: f64,
    pub presses: Vec<(f64, f64)>,
}

impl Hand {
    pub fn new() -> Hand {
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
    pub fn holds(mut self, seconds: f64) -> Hand {
        self.does(0.0, "BTN_SOUTH 1");
        self.does(seconds, "BTN_SOUTH 0");
        self.presses.push((self.at, self.at + seconds));
        self.at += seconds + 1.0;
        self
    }

    /// Presses STOP before anything moves, and releases it.
    pub fn stops_early(mut self) -> Hand {
        self.does(0.0, "BTN_EAST 1");
        self.does(0.1, "BTN_EAST 0");
        self.does(1.0, "BTN_START 1");
        self.does(1.8, "BTN_START 0");
        self.at += 2.6;
        self
    }

    /// Presses STOP once the axis goes steadily, and releases it.
    pub fn stops(mut self) -> Hand {
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

pub fn watched(rig: &str, hand: &Hand, bench: &[&str]) -> Watched {
    let files = [
        ("hall.toml", rig),
        ("viola.toml", HANDS),
        ("hand.pad", &hand.text),
    ];
    Watched::start(&files, bench)
}

pub const READY: [&str; 9] = [
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

pub fn ready(world: &Watched, more: &[&str], typed: &str) -> Said {
    world.run(&[&READY[..], more].concat(), typed)
}

/// The one record that was kept, as text and as JSON.
pub fn kept(world: &Watched) -> (String, Value) {
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
pub fn items<'v>(record: &'v Value, step: &str) -> Vec<(&'v str, &'v str, &'v str)> {
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

pub fn founds<'v>(record: &'v Value, step: &str) -> Vec<(&'v str, &'v str)> {
    let items = items(record, step).into_iter();
    items.map(|(what, found, _)| (what, found)).collect()
}

/// Room enough for the speed of the whole check.
pub fn wide() -> String {
    RIG.replace("-8 deg", "-60 deg")
        .replace("8 deg\"]", "60 deg\"]")
}

/// What stands against READY: step, what, and how to mend it.
pub fn against(record: &Value) -> Vec<(String, String, String)> {
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

pub fn figure(record: &Value, step: &str, name: &str) -> (f64, f64, f64) {
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
