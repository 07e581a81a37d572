//! `stillhand feel FILE [FILE2]`: what a stick does, before anything moves.
//!
//! [`numbers`] asks the engine, [`table`] and [`plot`] show what it said.

pub mod numbers;
pub mod plot;
pub mod table;

use super::Outcome;
use super::pick::{PickedRig, pick_operator, pick_rig};
use crate::profile::{RigFile, nearest};
use numbers::{AtFigures, Feel, Hands};
use serde::Serialize;
use std::path::{Path, PathBuf};
use stillhand_engine::operator::Operator;

/// What `feel` can be told.
#[derive(Debug, clap::Args)]
pub struct FeelArgs {
    /// An operator profile: a file, or talk, concert, instruments; a second one to compare it with
    #[arg(required = true, num_args = 1..=2, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// The rig it is for; the built-in bench rig if not given
    #[arg(long, value_name = "FILE")]
    rig: Option<PathBuf>,
    /// Which axis; pan if there is one, else the first with a stick
    #[arg(long, value_name = "NAME")]
    axis: Option<String>,
    /// In which gear, the slowest is 1; the one the profile begins in if not given
    #[arg(long, value_name = "N")]
    gear: Option<u8>,
    /// With quiet on
    #[arg(long)]
    quiet: bool,
    /// Only the speed with the stick here, -1 to 1
    #[arg(long, value_name = "STICK", allow_hyphen_values = true, value_parser = stick)]
    at: Option<f64>,
    /// Draw it into this file, as SVG
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
    /// Answer in JSON
    #[arg(long)]
    json: bool,
}

fn stick(text: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(x) if (-1.0..=1.0).contains(&x) => Ok(x),
        _ => Err(format!("`{text}` is no place of a stick: say -1 to 1")),
    }
}

/// Says what a stick does.
pub fn feel(args: &FeelArgs) -> Outcome {
    match told(args) {
        Ok(text) => {
            print!("{text}");
            Outcome::good()
        }
        Err(outcome) => outcome,
    }
}

fn told(args: &FeelArgs) -> Result<String, Outcome> {
    let PickedRig { file: rig, .. } = pick_rig(args.rig.as_deref())?;
    let operators: Vec<Operator> = args
        .files
        .iter()
        .map(|path| pick_operator(Some(path), &rig).map(|hands| hands.operator))
        .collect::<Result<_, _>>()?;
    let axis = axis_name(args, &rig, &operators)?;
    let hands: Vec<Hands> = operators
        .iter()
        .map(|operator| hands(args, &rig, operator, &axis))
        .collect::<Result<_, _>>()?;
    let feels: Vec<Feel> = hands.iter().map(Hands::feel).collect();
    if let Some(path) = &args.svg {
        let gears: Vec<Feel> = match &hands[..] {
            [only] => only.every_gear().iter().map(Hands::feel).collect(),
            _ => Vec::new(),
        };
        write(path, &plot::svg(&rig, &feels, &gears))?;
    }
    Ok(match (args.at, args.json) {
        (Some(stick), true) => lines(hands.iter().map(|hands| hands.at(stick))),
        (Some(stick), false) => hands
            .iter()
            .map(|hands| table::at(&hands.feel(), &hands.at(stick)))
            .collect(),
        (None, true) => json(&feels),
        (None, false) => table::text(&rig, &feels),
    })
}

/// The axis asked for, or the one an operator looks at first.
fn axis_name(args: &FeelArgs, rig: &RigFile, operators: &[Operator]) -> Result<String, Outcome> {
    if let Some(name) = &args.axis {
        return Ok(name.clone());
    }
    let first = operators.first().map(|operator| steered(rig, operator));
    let names = first.unwrap_or_default();
    let pan = names.iter().find(|name| **name == "pan");
    match pan.or(names.first()) {
        Some(name) => Ok((*name).to_owned()),
        None => Err(Outcome::bad_file("no axis of this profile has a stick")),
    }
}

/// The axes an operator steers with a stick or triggers.
fn steered<'a>(rig: &'a RigFile, operator: &Operator) -> Vec<&'a str> {
    let hands = operator.hands.iter().filter(|hand| hand.control.is_some());
    hands
        .filter_map(|hand| Some(rig.rig.axes.get(usize::from(hand.axis))?.name.as_str()))
        .collect()
}

/// The hand of an operator on an axis, in the gear asked for.
fn hands<'a>(
    args: &FeelArgs,
    rig: &'a RigFile,
    operator: &'a Operator,
    axis: &str,
) -> Result<Hands<'a>, Outcome> {
    let (name, names) = (&operator.name, steered(rig, operator));
    if !names.contains(&axis) {
        let mend = match nearest(axis, names.iter().copied()) {
            Some(near) => format!("did you mean {near}?"),
            None => "choose one of those".to_owned(),
        };
        return Err(Outcome::bad_file(format!(
            "--axis {}: \"{name}\" has no stick for it; it has for {}; {mend}",
            crate::profile::short(axis),
            names.join(", "),
        )));
    }
    let hands = Hands::find(
        rig,
        operator,
        axis,
        args.gear.unwrap_or(operator.first_gear + 1),
        args.quiet,
    );
    hands.ok_or_else(|| {
        let most = Hands::most_gears(rig, operator, axis);
        let given = args.gear.unwrap_or_default();
        Outcome::bad_file(format!(
            "--gear {given}: \"{name}\" has gears 1 to {most} here; choose one of those"
        ))
    })
}

fn write(path: &Path, text: &str) -> Result<(), Outcome> {
    std::fs::write(path, text).map_err(|error| {
        Outcome::bad_file(format!(
            "--svg {}: can't be written: {error}",
            path.display()
        ))
    })
}

fn lines(rows: impl Iterator<Item = AtFigures>) -> String {
    rows.map(|row| json(&row)).collect()
}

/// One line of JSON.
fn json(what: &impl Serialize) -> String {
    // Strings and finite numbers only: there is nothing in it that JSON can't say.
    let mut text = serde_json::to_string(what).unwrap_or_default();
    text.push('\n');
    text
}
