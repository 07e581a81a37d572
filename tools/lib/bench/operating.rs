//! Eight axes under two pads, with everything an operator can have switched on: groups, a radial stick
//! with a common speed, a second stick that adds, a speed trigger, an enable control, creeps, measured
//! quiet, reduced speed with its tips added up, rolling.

use super::timed;
use super::world::{AXES, PAD, STICKS, World};
use std::path::Path;
use stillhand::profile::{RigFile, Source, load_operator, load_quiet, load_rig};
use stillhand_engine::input::Button::{self, *};
use stillhand_engine::input::{Control, PadEvent, PadId};

/// The pad that holds the lens.
const OTHER: PadId = PadId(1);

const HANDS: &str = r#"
[operator]
name = "bench"
enable = "thumbl"
quiet = "jib-quiet.toml"
left_stick = "radial"
common_speed = true

[groups]
head = ["pan", "tilt", "roll", "slide", "lift", "turntable"]
lens = ["focus", "zoom"]

[speed_trigger]
control = "rt"
let_go = "100 %"
pulled = "25 %"

[axis.pan]
control = "rx"
fine = { control = "ry", share = "20 %" }
curve = "exponential"
half = "20 %"
gears = ["0.3 deg/s", "2 deg/s", "10 deg/s"]
ceiling = "9 deg/s"
framing = "8 deg/s"

[axis.slide]
control = "lx"
curve = "cubic"
half = "20 %"
gears = ["1 mm/s", "6 mm/s", "30 mm/s"]

[axis.lift]
control = "ly"
curve = "cubic"
half = "20 %"
gears = ["1 mm/s", "5 mm/s", "15 mm/s"]

[axis.tilt]
inch = { step = "0.5 deg", creep = "1 deg/s" }
gears = ["1 deg/s"]

[axis.roll]
inch = { step = "0.5 deg", creep = "1 deg/s" }
gears = ["1 deg/s"]

[axis.turntable]
inch = { step = "1 deg", creep = "1 deg/s" }
gears = ["1 deg/s"]

[axis.focus]
inch = { step = "0.5 deg", creep = "1 deg/s" }
gears = ["1 deg/s"]

[axis.zoom]
inch = { step = "0.5 deg", creep = "1 deg/s" }
gears = ["1 deg/s"]

[buttons]
gear_up = "none"
gear_down = "none"
quiet = "start + north"
reduced = "start + south"
rolling = "start + west"

[buttons.control]
head = "start + dpad-up"
lens = "start + dpad-down"

[buttons.inch]
tilt = { plus = "dpad-up", minus = "dpad-down" }
roll = { plus = "dpad-right", minus = "dpad-left" }
turntable = { plus = "north", minus = "south" }
focus = { plus = "tl", minus = "tr" }
zoom = { plus = "west", minus = "select" }
"#;

/// What creeps, plus and minus, and under which pad.
const CREEPS: [(PadId, Button, Button); 5] = [
    (PAD, DpadUp, DpadDown),
    (PAD, DpadRight, DpadLeft),
    (PAD, North, South),
    (OTHER, Tl, Tr),
    (OTHER, West, Select),
];

/// A creep is kept up this long before it turns round: sixteen seconds, most of which are not
/// the first exact step and the way to rest.
const LEG: usize = 4_000;

/// Nanoseconds of this many turns in which all eight axes move.
pub fn turns(ticks: usize) -> Result<Vec<u64>, String> {
    let mut world = world()?;
    begin(&mut world);
    let mut all = Vec::with_capacity(ticks);
    let mut way = 0;
    for turn in 0.. {
        if all.len() == ticks {
            break;
        }
        if turn > 3 * ticks + 10 * LEG {
            return Err(format!(
                "all axes moved in only {} turns of {turn}",
                all.len()
            ));
        }
        if turn % LEG == 0 {
            way += 1;
            for (pad, plus, minus) in CREEPS {
                let (on, off) = if way % 2 == 0 {
                    (plus, minus)
                } else {
                    (minus, plus)
                };
                world.pad_of(pad, PadEvent::Pressed(off, false));
                world.pad_of(pad, PadEvent::Pressed(on, true));
            }
        }
        let sway = (turn as f64 * 0.01).sin();
        for (place, stick) in STICKS.into_iter().enumerate() {
            let sign = if way % 2 == 0 { 1.0 } else { -1.0 };
            let to = sign * (0.6 + 0.05 * place as f64 + 0.3 * sway);
            world.pad(PadEvent::Moved(stick, to.clamp(-1.0, 1.0)));
        }
        let nanos = timed(&mut world);
        if world.axes().iter().all(|axis| axis.speed != 0.0) {
            all.push(nanos);
        }
    }
    Ok(all)
}

fn world() -> Result<World, String> {
    let profiles = Path::new(env!("CARGO_MANIFEST_DIR")).join("profiles");
    let file = |name: &str| {
        let text =
            std::fs::read_to_string(profiles.join(name)).map_err(|e| format!("{name}: {e}"))?;
        Ok::<_, String>(Source::new(name, text))
    };
    let rig = load_rig(&file("jib.toml")?).map_err(|problems| problems.to_string())?;
    let quiet = load_quiet(&file("jib-quiet.toml")?).map_err(|problems| problems.to_string())?;
    let hands = load_operator(&Source::new("bench.toml", HANDS));
    let hands = hands.map_err(|problems| problems.to_string())?;
    let rigs = [rig];
    let hands = hands
        .resolve_with(&rigs, Some(&quiet))
        .map_err(|problems| problems.to_string())?;
    let [RigFile { rig, .. }] = rigs;
    assert_eq!(rig.axes.len(), AXES);
    Ok(World::of(&rig, &hands))
}

/// Both pads at rest, the lens passed to the second, all modes on, the enable control down.
fn begin(world: &mut World) {
    world.plug_in(OTHER);
    world.arm();
    for stick in STICKS {
        world.pad_of(OTHER, PadEvent::Moved(stick, 0.0));
    }
    // Held still: a step of inching is cut short when its ceiling falls.
    for pad in [PAD, OTHER] {
        world.pad_of(pad, PadEvent::Moved(Control::Rt, 0.2));
    }
    for (pad, button) in [
        (OTHER, DpadDown),
        (PAD, DpadDown),
        (PAD, North),
        (PAD, South),
        (PAD, West),
    ] {
        for (button, down) in [
            (Start, true),
            (button, true),
            (button, false),
            (Start, false),
        ] {
            world.pad_of(pad, PadEvent::Pressed(button, down));
            for _ in 0..10 {
                timed(world);
            }
        }
    }
    world.pad(PadEvent::Pressed(Thumbl, true));
    for _ in 0..100 {
        timed(world);
    }
}
