//! An operator profile like another one, with some things changed.

use super::{Out, checked, quoted};
use crate::cli::{Outcome, files};
use crate::profile::defaults::SHAKES_DEFAULT;
use crate::profile::{
    ACTIONS, HandFile, Kind, OperatorFile, builtin, enable_name, load_operator, nearest,
    press_text, short,
};
use crate::profile::{Dimension, Quantity, controls_of, shakes_word};
use std::io::IsTerminal;
use std::path::PathBuf;
use stillhand_engine::bindings::Action;
use stillhand_engine::input::Control;
use stillhand_engine::operator::{self, Gears, StickShape};
use stillhand_engine::time::Span;
use stillhand_engine::units::Speed;

/// What `init operator` can be told.
#[derive(Debug, clap::Args)]
pub struct HandsArgs {
    /// The profile to begin with: a file, or talk, concert, instruments
    #[arg(long, value_name = "FILE", default_value = "talk")]
    like: PathBuf,
    /// What the new one is called; its own name if not given
    #[arg(long, value_name = "NAME")]
    name: Option<String>,
    /// Full-stick speed of pan in the fastest gear, such as "6 deg/s"; the other gears follow
    #[arg(long, value_name = "SPEED")]
    pan_speed: Option<String>,
    /// The same for tilt
    #[arg(long, value_name = "SPEED")]
    tilt_speed: Option<String>,
    /// The same for slide
    #[arg(long, value_name = "SPEED")]
    slide_speed: Option<String>,
    /// The same for any axis, as in "zoom=20 deg/s"; may be given again
    #[arg(long, value_name = "AXIS=SPEED")]
    speed: Vec<String>,
    /// Drives this axis the other way round; may be given again
    #[arg(long, value_name = "AXIS")]
    invert: Vec<String>,
    #[command(flatten)]
    pub(super) out: Out,
}

/// Writes the profile.
pub(super) fn text(args: &HandsArgs) -> Result<String, Outcome> {
    let bad = |problems: crate::profile::Problems| {
        Outcome::bad_file(problems.render(std::io::stderr().is_terminal()).trim_end())
    };
    let named = args.like.to_str().unwrap_or_default();
    let (source, folder) = match builtin::OPERATORS.iter().find(|b| b.name == named) {
        Some(builtin) => (builtin.source(), None),
        None => (files::read(&args.like).map_err(bad)?, args.like.parent()),
    };
    let mut like = load_operator(&source).map_err(bad)?;
    change(args, &mut like).map_err(Outcome::bad_file)?;
    // Its path begins at the folder of the profile, which may be another one now.
    if folder != args.out.folder() {
        like.quiet = None;
    }
    checked(Kind::Operator, file(&like))
}

fn change(args: &HandsArgs, file: &mut OperatorFile) -> Result<(), String> {
    if let Some(name) = &args.name {
        file.name.clone_from(name);
    }
    let mut speeds: Vec<(&str, &str, String)> = Vec::new();
    for (axis, speed) in [
        ("pan", &args.pan_speed),
        ("tilt", &args.tilt_speed),
        ("slide", &args.slide_speed),
    ] {
        if let Some(speed) = speed {
            speeds.push((axis, speed, format!("--{axis}-speed {}", short(speed))));
        }
    }
    for given in &args.speed {
        let flag = format!("--speed {}", short(given));
        let Some((axis, speed)) = given.split_once('=') else {
            return Err(format!(
                "{flag}: say it as AXIS=SPEED, as in \"pan=6 deg/s\""
            ));
        };
        speeds.push((axis.trim(), speed, flag));
    }
    for (axis, speed, flag) in speeds {
        set_speed(axis_of(file, axis, &flag)?, speed, &flag)?;
    }
    for axis in &args.invert {
        let hand = axis_of(file, axis, &format!("--invert {}", short(axis)))?;
        hand.invert = !hand.invert;
    }
    Ok(())
}

fn axis_of<'a>(
    file: &'a mut OperatorFile,
    axis: &str,
    flag: &str,
) -> Result<&'a mut HandFile, String> {
    let names: Vec<String> = file.hands.iter().map(|hand| hand.axis.clone()).collect();
    let found = file.hands.iter_mut().find(|hand| hand.axis == axis);
    found.ok_or_else(|| {
        let mend = match nearest(axis, names.iter().map(String::as_str)) {
            Some(near) => format!("did you mean {near}?"),
            None => "choose one of those".to_owned(),
        };
        format!("{flag}: this profile drives {}; {mend}", names.join(", "))
    })
}

/// The fastest gear gets `text`, the others keep their share of it.
fn set_speed(hand: &mut HandFile, text: &str, flag: &str) -> Result<(), String> {
    let unit = hand.unit;
    let given = Quantity::read(text)
        .filter(|q| q.kind() == Dimension::Speed && q.axis_unit() == Some(unit))
        .ok_or_else(|| {
            format!(
                "{flag}: this is no speed in {0}/s; say \"6 {0}/s\"",
                unit.symbol()
            )
        })?;
    let count = hand.gears.count();
    let top = hand.gears.speed(count - 1).0;
    let speeds: Vec<Speed> = (0..count)
        .map(|gear| match gear + 1 == count {
            true => Speed(given.number),
            false => Speed(three_digits(hand.gears.speed(gear).0 / top * given.number)),
        })
        .collect();
    hand.gears = Gears::new(&speeds)
        .ok_or_else(|| format!("{flag}: with this the gears are no rising speeds above 0"))?;
    // Whoever asks for a speed means to reach it.
    hand.ceiling = hand.ceiling.filter(|ceiling| ceiling.0 >= given.number);
    hand.framing = hand.framing.filter(|framing| framing.0 >= given.number);
    Ok(())
}

fn three_digits(x: f64) -> f64 {
    let power = 10f64.powf(2.0 - x.abs().log10().floor());
    (x * power).round() / power
}

/// The text of a profile: reading it again gives the same.
pub fn file(of: &OperatorFile) -> String {
    let mut out = format!("[operator]\nname = {}\n", quoted(&of.name));
    if !of.about.is_empty() {
        out.push_str(&format!("about = {}\n", quoted(&of.about)));
    }
    let first = of.first_gear + 1;
    out.push_str(&format!(
        "first_gear = {first}          # a start begins in it, 1 is the slowest\n"
    ));
    if of.begins_quiet {
        out.push_str("begins_quiet = true\n");
    }
    if of.shakes != SHAKES_DEFAULT {
        let word = shakes_word(of.shakes);
        out.push_str(&format!(
            "shakes = \"{word}\"       # when the pad shakes\n"
        ));
    }
    if let Some(quiet) = &of.quiet {
        out.push_str(&format!("quiet = {}\n", quoted(quiet)));
    }
    if let Some(enable) = of.enable {
        let name = enable_name(enable);
        out.push_str(&format!(
            "enable = \"{name}\"         # held while an axis moves that asks for it\n"
        ));
    }
    out.push_str(&sticks(of));
    if of.groups.len() > 1 || of.groups.first().is_some_and(|name| !single(name)) {
        out.push_str("\n[groups]                # what a pad holds together\n");
        for (place, group) in of.groups.iter().enumerate() {
            let own = of
                .hands
                .iter()
                .filter(|hand| usize::from(hand.group) == place);
            let axes: Vec<String> = own.map(|hand| quoted(&hand.axis)).collect();
            out.push_str(&format!("{group} = [{}]\n", axes.join(", ")));
        }
    }
    if let Some(trigger) = of.speed_trigger {
        out.push_str(&format!(
            "\n[speed_trigger]         # scales every speed\ncontrol = \"{}\"\nlet_go = \"{} %\"\npulled = \"{} %\"\n",
            trigger.control.name(),
            percent(trigger.let_go),
            percent(trigger.pulled)
        ));
    }
    for (place, hand) in of.hands.iter().enumerate() {
        out.push_str(&axis(hand, place == 0));
    }
    out.push_str(&buttons(of));
    out
}

/// The engine's name for the one group of whoever names none is no name a file can have.
fn single(name: &str) -> bool {
    operator::Groups::single().iter().any(|own| own == name)
}

fn sticks(of: &OperatorFile) -> String {
    let mut out = String::new();
    let mut wedges = Vec::new();
    let mut common = false;
    for (side, shape) in [("left", of.sticks.left), ("right", of.sticks.right)] {
        match shape {
            StickShape::Axial { wedge_tan } => {
                let deg = (wedge_tan.atan().to_degrees() * 1e6).round() / 1e6;
                wedges.push(format!("{side} = \"{deg} deg\""));
            }
            StickShape::Radial { common: own } => {
                out.push_str(&format!("{side}_stick = \"radial\"\n"));
                common |= own;
            }
        }
    }
    if common {
        out.push_str("common_speed = true\n");
    }
    if !wedges.is_empty() {
        out.push_str(&format!(
            "wedge = {{ {} }}     # a level pan stays level\n",
            wedges.join(", ")
        ));
    }
    out
}

/// A key, its value, and what it means.
type Line = (&'static str, String, &'static str);

fn axis(hand: &HandFile, first: bool) -> String {
    let mut out = format!("\n[axis.{}]\n", hand.axis);
    for (key, value, why) in steering(hand).into_iter().chain(feel(hand)) {
        let left = format!("{key} = {value}");
        match why.is_empty() || !first {
            true => out.push_str(&format!("{left}\n")),
            false => out.push_str(&format!("{left:32}# {why}\n")),
        }
    }
    out
}

/// What drives the axis.
fn steering(hand: &HandFile) -> Vec<Line> {
    let unit = hand.unit.symbol();
    let mut lines: Vec<Line> = Vec::new();
    if let Some(rig) = &hand.rig {
        lines.push(("rig", quoted(rig), ""));
    }
    if let Some(control) = hand.control {
        lines.push(("control", source(control), ""));
    }
    if let Some(fine) = hand.fine {
        let (control, share) = (source(fine.source), percent(fine.share));
        let value = format!("{{ control = {control}, share = \"{share} %\" }}");
        lines.push(("fine", value, ""));
    }
    if let Some(inch) = hand.inch {
        let (step, creep) = (inch.step, inch.creep.0);
        let value = format!("{{ step = \"{step} {unit}\", creep = \"{creep} {unit}/s\" }}");
        lines.push(("inch", value, ""));
    }
    if hand.invert {
        lines.push(("invert", "true".to_owned(), ""));
    }
    lines
}

/// How it answers.
fn feel(hand: &HandFile) -> Vec<Line> {
    let unit = hand.unit.symbol();
    let share = |share: f64| format!("\"{} %\"", percent(share));
    let (deadband, full) = (hand.throw.deadband(), hand.throw.saturation());
    let mut lines: Vec<Line> = vec![
        (
            "deadband",
            share(deadband),
            "this much of the stick does nothing",
        ),
        ("saturation", share(full), "from here on the speed is full"),
    ];
    let curve = hand.curve.name();
    lines.push(("curve", quoted(curve), ""));
    if let Some(through) = hand.curve.through() {
        let pairs = through
            .points()
            .map(|(stick, speed)| format!("[{}, {}]", share(stick), share(speed)));
        let pairs: Vec<String> = pairs.collect();
        lines.push((
            "points",
            format!("[{}]", pairs.join(", ")),
            "of stick and speed",
        ));
    } else if curve != "linear" {
        let half = share(hand.curve.at(0.5));
        lines.push(("half", half, "of full speed at half stick"));
    }
    if let Some(steady) = hand.steady {
        let (rest, moving) = (steady.rest_hz(), steady.moving_hz());
        let value = format!("{{ rest = \"{rest} Hz\", moving = \"{moving} Hz\" }}");
        lines.push(("steady", value, "takes the trembling out"));
    }
    let gears: Vec<String> = (0..hand.gears.count())
        .map(|gear| format!("\"{} {unit}/s\"", hand.gears.speed(gear).0))
        .collect();
    lines.push(("gears", format!("[{}]", gears.join(", ")), ""));
    for (key, speed) in [("ceiling", hand.ceiling), ("framing", hand.framing)] {
        if let Some(speed) = speed {
            lines.push((key, format!("\"{} {unit}/s\"", speed.0), ""));
        }
    }
    let seconds = |span: Span| format!("\"{} s\"", span.secs());
    lines.push(("gain", seconds(hand.gain), "from rest to full speed"));
    lines.push(("lose", seconds(hand.lose), "from full speed to rest"));
    lines
}

/// In per cent; a millionth of one forgives the rounding of decimal fractions.
fn percent(share: f64) -> f64 {
    (share * 1e8).round() / 1e6
}

fn source(of: operator::Source) -> String {
    match of {
        operator::Source::Stick(control) => format!("\"{}\"", control.name()),
        operator::Source::Pair { .. } => {
            let names: Vec<&str> = controls_of(of).map(Control::name).collect();
            let ways = ["plus", "minus"].iter().zip(names);
            let ways: Vec<String> = ways
                .map(|(way, name)| format!("{way} = \"{name}\""))
                .collect();
            format!("{{ {} }}", ways.join(", "))
        }
    }
}

fn buttons(of: &OperatorFile) -> String {
    let mut out = String::from("\n[buttons]\n");
    let press = |wanted: Action| of.bindings.iter().find(|b| b.action == wanted);
    for (key, action, default, _) in ACTIONS {
        match (press(action), default) {
            (Some(binding), _) => {
                out.push_str(&format!("{key} = \"{}\"\n", press_text(binding.press)));
            }
            (None, Some(_)) => out.push_str(&format!("{key} = \"none\"\n")),
            (None, None) => {}
        }
    }
    let mut control = String::new();
    for (place, group) in of.groups.iter().enumerate() {
        let wanted = u8::try_from(place).map(|group| Action::Control { group });
        if let Some(binding) = wanted.ok().and_then(press) {
            let group = if single(group) { "all" } else { group };
            control.push_str(&format!("{group} = \"{}\"\n", press_text(binding.press)));
        }
    }
    if !control.is_empty() {
        out.push_str(&format!("\n[buttons.control]\n{control}"));
    }
    let mut inch = String::new();
    // In the order they are bound, which is that of the file.
    let mut told = Vec::new();
    for binding in of.bindings.iter() {
        let Action::Inch { hand: place, .. } = binding.action else {
            continue;
        };
        let way = |plus| {
            let bound = press(Action::Inch { hand: place, plus });
            bound.map_or("none".to_owned(), |binding| press_text(binding.press))
        };
        let hand = of.hands.get(usize::from(place));
        if let Some(hand) = hand.filter(|_| !told.contains(&place)) {
            told.push(place);
            inch.push_str(&format!(
                "{} = {{ plus = \"{}\", minus = \"{}\" }}\n",
                hand.axis,
                way(true),
                way(false)
            ));
        }
    }
    if !inch.is_empty() {
        out.push_str(&format!("\n[buttons.inch]\n{inch}"));
    }
    out
}
