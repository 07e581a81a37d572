//! What an operator profile can say beyond axes and gears: groups, sticks, triggers, inching,
//! presses, and the quiet file it names.

use std::path::Path;
use stillhand::cli::files::{read, read_quiet};
use stillhand::profile::{
    OperatorFile, Problems, RigFile, Source, builtin, load_operator, load_quiet, load_rig,
};
use stillhand_engine::Engine;
use stillhand_engine::bindings::{Action, Press};
use stillhand_engine::input::{Button, Control};
use stillhand_engine::operator::{Enable, Operator, Quiet, Shakes, Source as Drive, StickShape};
use stillhand_engine::rig::{Sense, Travel};
use stillhand_engine::time::Span;

const PAN: &str = "[axis.pan]\ncontrol = \"rx\"\ngears = [\"3 deg/s\"]\n";

fn load(text: &str) -> Result<OperatorFile, Problems> {
    load_operator(&Source::new("hands.toml", text))
}

fn good(head: &str, rest: &str) -> OperatorFile {
    let text = format!("[operator]\nname = \"hands\"\n{head}\n{rest}");
    load(&text).unwrap_or_else(|problems| panic!("{problems}"))
}

fn jib() -> (RigFile, OperatorFile, Operator) {
    let rig = load_rig(&read(Path::new("profiles/jib.toml")).unwrap()).unwrap();
    let path = Path::new("profiles/jib-hands.toml");
    let file = load_operator(&read(path).unwrap()).unwrap();
    let quiet = read_quiet(&file, Some(path)).unwrap();
    let rigs = std::slice::from_ref(&rig);
    let operator = file.resolve_with(rigs, quiet.as_ref()).unwrap();
    (rig, file, operator)
}

#[test]
fn the_jib_is_as_odd_as_its_file_says() {
    let (rig, _, _) = jib();
    let axis = |name: &str| {
        let axis = rig.rig.axes.iter().find(|axis| axis.name == name);
        axis.unwrap_or_else(|| panic!("{name} is gone"))
    };
    assert_eq!(rig.rig.axes.len(), stillhand_engine::MAX_AXES);
    // Underslung turns it round, and the wiring back again.
    assert_eq!(
        (axis("pan").sense, axis("tilt").sense),
        (Sense::Same, Sense::Opposite)
    );
    let Travel::Finite(ends) = axis("pan").travel else {
        panic!("a cabled pan has ends");
    };
    assert_eq!((ends.low().0, ends.high().0), (-540.0, 540.0));
    assert_eq!(axis("turntable").travel, Travel::Continuous);
    let lift = axis("lift");
    assert!(lift.needs_enable && !axis("pan").needs_enable);
    assert_ne!(lift.limits.stop(1.0), lift.limits.stop(-1.0));
    assert_eq!(
        (axis("pan").reach_mm, axis("turntable").reach_mm),
        (350.0, 600.0)
    );
    // Counts are the motor's own pulses here, and both ways of saying so agree.
    for (axis, drive) in rig.rig.axes.iter().zip(&rig.drives) {
        let Some(drive) = drive else { continue };
        let off = drive.pulses_hz(1.0) / axis.counts_per_unit - 1.0;
        assert!(off.abs() < 1e-4, "{}: {off}", axis.name);
    }
}

#[test]
fn pads_shake_as_the_profile_says() {
    let talk = builtin::TALK.text;
    let of = |line: &str| {
        let text = talk.replace("first_gear", &format!("{line}first_gear"));
        load_operator(&Source::new("talk.toml", text)).map(|file| file.shakes)
    };
    assert_eq!(of(""), Ok(Shakes::NotInQuiet));
    for (word, shakes) in [
        ("never", Shakes::Never),
        ("not in quiet", Shakes::NotInQuiet),
        ("always", Shakes::Always),
    ] {
        assert_eq!(of(&format!("shakes = \"{word}\"\n")), Ok(shakes));
    }
    let problems = of("shakes = \"alway\"\n").expect_err("no such word");
    assert!(problems.render(false).contains("did you mean \"always\"?"));
}

#[test]
fn the_jibs_hands_reach_the_engine_whole() {
    let (rig, file, operator) = jib();
    assert_eq!(&operator.groups[..], ["head", "lens"]);
    let hand = |name: &str| {
        let place = file
            .hands
            .iter()
            .position(|hand| hand.axis == name)
            .unwrap();
        &operator.hands[place]
    };
    assert_eq!([hand("pan").group, hand("zoom").group], [0, 1]);
    let pair = Drive::Pair {
        plus: Control::Rt,
        minus: Control::Lt,
    };
    assert_eq!(hand("zoom").control, Some(pair));
    assert_eq!(hand("roll").control, None);
    let inch = hand("turntable").inch.unwrap();
    assert_eq!((inch.step, inch.creep.0), (5.0, 6.0));
    assert_eq!(hand("lift").framing.map(|speed| speed.0), Some(12.0));
    assert_eq!(operator.enable, Some(Enable::Button(Button::Tl)));
    assert!(operator.starts_quiet);
    let Quiet::Measured { speed, set, bands } = hand("lift").quiet else {
        panic!("the lift was measured");
    };
    assert_eq!((speed.0, set.accel.0, set.jerk.0), (4.0, 10.0, 40.0));
    assert!(bands.is_empty());
    assert_eq!(hand("roll").quiet, Quiet::NotMeasured);
    let press = |action: Action| {
        let found = operator.bindings.iter().find(|b| b.action == action);
        found.map(|binding| binding.press)
    };
    let with = |with, button| Some(Press::With { with, button });
    assert_eq!(
        press(Action::Control { group: 1 }),
        with(Button::Start, Button::DpadDown)
    );
    let place = file
        .hands
        .iter()
        .position(|hand| hand.axis == "turntable")
        .unwrap();
    let inch = Action::Inch {
        hand: place as u8,
        plus: false,
    };
    assert_eq!(press(inch), with(Button::North, Button::DpadLeft));
    assert_eq!(press(Action::Sustain), Some(Press::Held(Button::South)));
    Engine::new(
        std::slice::from_ref(&rig.rig),
        &operator,
        Span::from_millis(4),
    )
    .unwrap();
}

#[test]
fn every_press_can_be_written() {
    let file = good(
        "",
        &format!(
            "{PAN}[buttons]\ngear_up = \"none\"\nquiet = \"tl + west\"\nstill = \"hold north\"\n\
             [buttons.control]\nall = \"hold select\"\n"
        ),
    );
    let press = |action: Action| {
        file.bindings
            .iter()
            .find(|b| b.action == action)
            .map(|b| b.press)
    };
    assert_eq!(press(Action::GearUp), None);
    assert_eq!(press(Action::GearDown), Some(Press::Tap(Button::Tl)));
    let with = Press::With {
        with: Button::Tl,
        button: Button::West,
    };
    assert_eq!(press(Action::Quiet), Some(with));
    assert_eq!(press(Action::Still), Some(Press::Held(Button::North)));
    assert_eq!(
        press(Action::Control { group: 0 }),
        Some(Press::Held(Button::Select))
    );
    assert_eq!(press(Action::Sustain), None);
}

#[test]
fn sticks_and_triggers_are_as_written() {
    let head = "enable = \"lt\"\nleft_stick = \"radial\"\ncommon_speed = true\nwedge = { right = \"0 deg\" }";
    let rest = format!(
        "{PAN}fine = {{ control = \"lx\", share = \"20 %\" }}\n\
         [speed_trigger]\ncontrol = \"rt\"\nlet_go = \"100 %\"\npulled = \"25 %\"\n"
    );
    let file = good(head, &rest);
    assert_eq!(file.sticks.left, StickShape::Radial { common: true });
    assert_eq!(file.sticks.right, StickShape::Axial { wedge_tan: 0.0 });
    assert_eq!(file.enable, Some(Enable::Trigger(Control::Lt)));
    let fine = file.hands[0].fine.unwrap();
    assert_eq!((fine.source, fine.share), (Drive::Stick(Control::Lx), 0.2));
    let trigger = file.speed_trigger.unwrap();
    assert_eq!((trigger.let_go, trigger.pulled), (1.0, 0.25));
    assert_eq!(trigger.control, Control::Rt);
}

#[test]
fn an_axis_that_wants_an_enable_control_needs_a_profile_that_has_one() {
    let (rig, _, _) = jib();
    let lift = "[axis.lift]\ncontrol = \"ly\"\ngears = [\"3 mm/s\"]\n";
    let rigs = std::slice::from_ref(&rig.rig);
    let problems = good("", lift).resolve(rigs).unwrap_err();
    assert!(
        problems.to_string().contains("add `enable = \"lt\"`"),
        "{problems}"
    );
    assert!(good("enable = \"lt\"", lift).resolve(rigs).is_ok());
    assert!(
        good("", PAN).resolve(rigs).is_ok(),
        "only the lift wants it"
    );
}

#[test]
fn a_quiet_file_holds_for_its_own_rig_only() {
    let bench = load_rig(&builtin::BENCH_RIG.source()).unwrap();
    let mut other = bench.clone();
    other.rig.id = "balcony".to_owned();
    let text = "[quiet]\nrig = \"balcony\"\n[axis.pan]\nspeed = \"1 deg/s\"\naccel = \"2 deg/s^2\"\njerk = \"3 deg/s^3\"\n";
    let quiet = load_quiet(&Source::new("quiet.toml", text)).unwrap();
    let pan = good("", &PAN.replace("control", "rig = \"bench\"\ncontrol"));
    let rigs = [bench.clone(), other];
    let operator = pan.resolve_with(&rigs, Some(&quiet)).unwrap();
    assert_eq!(
        operator.hands[0].quiet,
        Quiet::NotMeasured,
        "it is the other rig's"
    );
    let pan = good("", &PAN.replace("control", "rig = \"balcony\"\ncontrol"));
    let operator = pan.resolve_with(&rigs, Some(&quiet)).unwrap();
    assert!(matches!(operator.hands[0].quiet, Quiet::Measured { .. }));
    assert!(pan.resolve_with(&[bench], Some(&quiet)).is_err());
}

/// The jib's pan makes 200 steps 8 times for 360 deg, its slide 200 for 40 mm.
#[test]
fn bands_in_steps_become_speeds_on_the_rig_that_tells_its_motors() {
    let (rig, _, _) = jib();
    let quiet = |pan: &str, slide: &str| {
        let text = format!(
            "[quiet]\nrig = \"hall-jib\"\n\
             [axis.pan]\nspeed = \"9 deg/s\"\naccel = \"6 deg/s^2\"\njerk = \"30 deg/s^3\"\navoid = [{pan}]\n\
             [axis.slide]\nspeed = \"90 mm/s\"\naccel = \"6 mm/s^2\"\njerk = \"30 mm/s^3\"\navoid = [{slide}]\n"
        );
        load_quiet(&Source::new("quiet.toml", text)).unwrap()
    };
    let slide = "[axis.slide]\ncontrol = \"lx\"\ngears = [\"30 mm/s\"]\n";
    let hands = good("", &format!("{PAN}{slide}"));
    let rigs = std::slice::from_ref(&rig);
    let steps = quiet(
        "[\"40 full steps/s\", \"60 full steps/s\"], [\"2 deg/s\", \"3 deg/s\"]",
        "[\"75 full steps/s\", \"100 full steps/s\"]",
    );
    let operator = hands.resolve_with(rigs, Some(&steps)).unwrap();
    let bands = |n: usize| {
        let bands = operator.hands[n].quiet.bands(true);
        let bands = bands.iter().map(|band| (band.low.0, band.high.0));
        bands.collect::<Vec<_>>()
    };
    assert_eq!(
        bands(0),
        [(2.0, 3.0), (9.0, 13.5)],
        "in order, whatever they are written in"
    );
    assert_eq!(bands(1), [(15.0, 20.0)]);

    for (pan, says) in [
        (
            "[\"40 full steps/s\", \"60 full steps/s\"], [\"13 deg/s\", \"14 deg/s\"]",
            "two bands of `avoid` of axis pan touch",
        ),
        (
            "[\"60000 full steps/s\", \"90000 full steps/s\"]",
            "which is 13500 to 20250 deg/s",
        ),
    ] {
        let problems = quiet(pan, "").fits(rigs).unwrap_err();
        assert_eq!(problems.count(), 1);
        assert!(problems.render(false).contains(says), "{problems}");
    }
    // Another gear in the rig file is another speed, without a word in the quiet file.
    let geared = read(Path::new("profiles/jib.toml")).unwrap();
    let geared = geared.text.replacen("gear = \"8:1\"", "gear = \"16:1\"", 1);
    let geared = load_rig(&Source::new("jib.toml", geared)).unwrap();
    let operator = hands.resolve_with(&[geared], Some(&steps)).unwrap();
    assert_eq!(operator.hands[0].quiet.bands(true)[1].low.0, 4.5);
}
