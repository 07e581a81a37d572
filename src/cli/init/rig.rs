//! A rig file from what a rig says of itself.

use super::greet::greet;
use super::{Out, checked, quoted};
use crate::cli::{Outcome, bench_rig};
use crate::profile::Kind;
use crate::profile::defaults::{ACCEL, BAUD, BAUD_DEFAULT, Bound, JERK, SPEED};
use std::path::PathBuf;
use stillhand_wire::messages::{AxisHello, RigHello, Unit};

/// What `init rig` can be told.
#[derive(Debug, clap::Args)]
pub struct RigArgs {
    /// Where the rig is: a path, or sim for the bench rig
    #[arg(long, value_name = "sim|PATH")]
    port: String,
    /// Bits a second of the line
    #[arg(long, value_name = "BAUD", default_value_t = BAUD_DEFAULT,
        value_parser = clap::value_parser!(u32).range(BAUD.0..=BAUD.1))]
    baud: u32,
    #[command(flatten)]
    pub(super) out: Out,
}

/// How far from where it stands an axis may go until somebody has measured: near enough to be
/// watched, far enough to see which way it goes.
const NEAR_DEG: f64 = 10.0;
/// The same on a slide.
const NEAR_MM: f64 = 50.0;
/// A rig that tells no acceleration of its own is given one that takes this long to full speed, in
/// s: nothing hard, on a rig nobody knows.
const NORMAL_S: f64 = 2.0;
/// The same for the stop set.
const STOP_S: f64 = 0.5;

/// Asks the rig and writes its file.
pub(super) fn text(args: &RigArgs) -> Result<String, Outcome> {
    // It leaves by itself when nobody speaks to it any more.
    let mut bench = None;
    let path = match args.port.as_str() {
        "sim" => {
            let (child, path) = bench_rig::start(None, None).map_err(Outcome::fault)?;
            bench = Some(child);
            path
        }
        path => PathBuf::from(path),
    };
    let hello = greet(&path, args.baud).map_err(Outcome::fault)?;
    if let Some(mut bench) = bench {
        let _ = bench.try_wait();
    }
    let text = checked(Kind::Rig, file(&hello, &args.port, args.baud))?;
    eprintln!(
        "{} questions are left: look for ASK in the file, answer them, then `stillhand check` it.",
        text.matches("# ASK").count()
    );
    Ok(text)
}

/// The file of a rig that said `hello` at `port`.
pub fn file(hello: &RigHello, port: &str, baud: u32) -> String {
    let mut out = format!(
        "# What the rig said of itself, and safe answers to what it can't know.\n\
         # Every line with ASK is a question: answer it, then take the ASK out.\n\n\
         [rig]\n\
         id = {}\n\
         port = {}{}\n\
         baud = {baud}\n\
         mount = \"upright\"       # ASK: hangs it underslung, or on its side? Then say so: it turns signs\n\
         delay = \"10 ms\"         # ASK: from a frame's departure to the motor following it?\n\
         watchdog = \"120 ms\"\n\n\
         # The order here is the order on the wire.\n",
        quoted(&hello.rig_id),
        quoted(port),
        match port.starts_with("/dev/tty") {
            true => "    # ASK: /dev/serial/by-id/ has a name that stays the same?",
            false => "",
        },
    );
    for axis in &hello.axes {
        out.push('\n');
        out.push_str(&axis_table(axis));
    }
    out
}

/// An axis in its own unit.
struct Told {
    counts_per_unit: f64,
    unit: &'static str,
    /// Highest speed.
    speed: f64,
}

impl Told {
    fn of(axis: &AxisHello) -> Told {
        let counts_per_unit = f64::from(axis.counts) / f64::from(axis.per_units.max(1));
        let unit = match axis.unit {
            Unit::Deg => "deg",
            Unit::Mm => "mm",
        };
        let speed = f64::from(axis.max_speed) / counts_per_unit;
        Told {
            counts_per_unit,
            unit,
            speed: inside(speed, &SPEED),
        }
    }

    fn units(&self, counts: impl Into<f64>) -> f64 {
        counts.into() / self.counts_per_unit
    }
}

fn axis_table(axis: &AxisHello) -> String {
    let told = Told::of(axis);
    let unit = told.unit;
    let mut out = format!("[axis.{}]\n", axis.name);
    match (axis.name.as_str(), axis.unit) {
        ("pan" | "tilt", Unit::Mm) => {
            out.push_str("turns = \"other\"         # it is measured in mm\n");
        }
        (_, Unit::Mm) | ("pan" | "tilt", Unit::Deg) => {}
        (_, Unit::Deg) => out.push_str(
            "turns = \"other\"         # ASK: pan or tilt, if that is what it does to the picture?\n",
        ),
    }
    let scale = told.counts_per_unit;
    out.push_str(&format!("scale = \"{scale} counts/{unit}\"\n"));
    out.push_str(
        "reverse = false         # ASK: does plus look right, up, or whatever you call plus?\n",
    );
    out.push_str(&travel(axis, &told));
    out.push_str(&format!(
        "speed = \"{} {unit}/s\"    # the most the rig says it can; ASK: is less enough?\n",
        floor(told.speed)
    ));
    out.push_str(&sets(axis, &told));
    if axis.unit == Unit::Deg {
        out.push_str(
            "# reach = \"1000 mm\"     # ASK: how far is the farthest part it turns from it?\n",
        );
    }
    out.push_str("# enable = true         # ASK: could it hurt somebody? Then it moves only while a control is held\n");
    out.push_str("# lower_current = true  # ASK: does nothing pull at it? Then its motor may hold with less in `still`\n");
    out
}

fn travel(axis: &AxisHello, told: &Told) -> String {
    let (near, unit) = match axis.unit {
        Unit::Deg => (NEAR_DEG, told.unit),
        Unit::Mm => (NEAR_MM, told.unit),
    };
    let here = told.units(axis.position);
    // A position beyond any bound is as good as none.
    let known = axis.referenced && here.abs() < 1e5;
    let middle = if known { here.round() } else { 0.0 };
    let (low, high) = (middle - near, middle + near);
    let stands = match axis.referenced {
        true => format!("it stands at {}", floor(here)),
        false => "it has no reference yet, so that travel is not guarded".to_owned(),
    };
    format!(
        "# ASK: where are its ends? {stands}; until you know, it stays near.\n\
         # What goes round and round has travel = \"continuous\".\n\
         travel = [\"{low} {unit}\", \"{high} {unit}\"]\n"
    )
}

/// Both sets: what the rig tells as its own is for the stop, ordinary motion gets half of it.
fn sets(axis: &AxisHello, told: &Told) -> String {
    let unit = told.unit;
    let timed = |seconds: f64| {
        let (v, t) = (told.speed, seconds);
        (1.5 * v / t, 4.5 * v / (t * t))
    };
    let (normal, stop, why) = match (axis.max_accel, axis.max_jerk) {
        (0, _) => (
            timed(NORMAL_S),
            timed(STOP_S),
            "the rig tells no limits, so these take 2 s to full speed and 0.5 s to stop",
        ),
        (accel, jerk) => {
            let accel = told.units(accel);
            // Without a jerk of its own the acceleration is built up in a fifth of a second.
            let jerk = match jerk {
                0 => accel / 0.2,
                jerk => told.units(jerk),
            };
            (
                (accel / 2.0, jerk / 4.0),
                (accel, jerk),
                "the stop is as hard as the rig says it can, and the rest softer",
            )
        }
    };
    let set = |(accel, jerk): (f64, f64)| {
        let (accel, jerk) = (floor(inside(accel, &ACCEL)), floor(inside(jerk, &JERK)));
        format!("{{ accel = \"{accel} {unit}/s^2\", jerk = \"{jerk} {unit}/s^3\" }}")
    };
    let ramps = match axis.own_ramps {
        true => "# The rig smooths by ramps of its own; switch them off where you can.\n",
        false => "",
    };
    format!(
        "# ASK: how hard may it be driven, and how hard stopped?\n# Until you know: {why}.\n{ramps}\
         normal = {}\nstop = {}\n",
        set(normal),
        set(stop)
    )
}

fn inside(x: f64, bound: &Bound) -> f64 {
    x.clamp(bound.low, bound.high)
}

/// Four digits that count, rounded down, so that nothing is promised beyond what was told.
fn floor(x: f64) -> f64 {
    if x == 0.0 || !x.is_finite() {
        return 0.0;
    }
    let power = 10f64.powf(3.0 - x.abs().log10().floor());
    // A hair below a whole number is that number: counts are whole, units are not.
    (x * power + 1e-6).floor() / power
}
