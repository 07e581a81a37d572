//! Which files drive: those named on the command line, or the built-in ones.

use super::live::{AtHand, Hands, hands_of};
use super::padhands::PadHand;
use super::{Outcome, files};
use crate::profile::{self, RigFile, builtin};
use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use stillhand_engine::rig::Rig;

/// A rig file and where it came from.
pub struct PickedRig {
    /// What it says.
    pub file: RigFile,
    /// Its path, unless it is the built-in one.
    pub path: Option<PathBuf>,
}

/// Loads the rig file, or the built-in one.
///
/// # Errors
/// The outcome to end with.
pub fn pick_rig(path: Option<&Path>) -> Result<PickedRig, Outcome> {
    let source = match path {
        None => builtin::BENCH_RIG.source(),
        Some(path) => files::read(path).map_err(bad)?,
    };
    let file = profile::load_rig(&source).map_err(bad)?;
    Ok(PickedRig {
        file,
        path: path.map(Path::to_path_buf),
    })
}

/// Loads an operator profile with its quiet file, or a built-in one by its name, and holds it
/// against the rig.
///
/// # Errors
/// The outcome to end with.
pub(super) fn pick_operator(path: Option<&Path>, rig: &RigFile) -> Result<Hands, Outcome> {
    let named = path.map_or("talk", |p| p.to_str().unwrap_or_default());
    let (source, path) = match builtin::OPERATORS.iter().find(|b| b.name == named) {
        Some(builtin) => (builtin.source(), None),
        None => {
            let path = path.unwrap_or(Path::new(""));
            (files::read(path).map_err(bad)?, Some(path.to_path_buf()))
        }
    };
    hands_of(&source, path, rig).map_err(bad)
}

/// The place of an axis in the rig's.
///
/// # Errors
/// In words, with the axes there are.
pub(super) fn pick_axis(name: &str, rig: &Rig) -> Result<usize, String> {
    let place = rig.axes.iter().position(|axis| axis.name == name);
    place.ok_or_else(|| {
        let names: Vec<&str> = rig.axes.iter().map(|axis| axis.name.as_str()).collect();
        let (id, names) = (&rig.id, names.join(", "));
        format!("{name}: rig \"{id}\" has no such axis; it has {names}")
    })
}

/// The places of the axes that were named, each once; of all of them if none was.
///
/// # Errors
/// The outcome to end with.
pub(super) fn pick_axes(named: &[String], rig: &Rig) -> Result<Vec<usize>, Outcome> {
    if named.is_empty() {
        return Ok((0..rig.axes.len()).collect());
    }
    let mut places = Vec::new();
    for name in named {
        let place =
            pick_axis(name, rig).map_err(|words| Outcome::bad_file(format!("--axis {words}")))?;
        if !places.contains(&place) {
            places.push(place);
        }
    }
    Ok(places)
}

/// Who drives first, and who else may.
///
/// # Errors
/// The outcome to end with.
pub(super) fn pick_operators(
    named: Option<&Path>,
    folder: Option<&Path>,
    rig: &RigFile,
) -> Result<(Hands, AtHand), Outcome> {
    let Some(folder) = folder else {
        let hands = pick_operator(named, rig)?;
        let at_hand = AtHand::beside(hands.path.as_deref());
        return Ok((hands, at_hand));
    };
    let at_hand = AtHand::Folder(folder.to_path_buf());
    let refused = |words| Outcome::bad_file(format!("--operators: {words}"));
    let hands = match named {
        None => at_hand.first(rig).map_err(refused)?,
        // A path is a path, in the folder or elsewhere.
        Some(path) if path.is_file() => pick_operator(named, rig)?,
        Some(path) => {
            let name = path.display().to_string();
            at_hand.named(&name, rig, None).map_err(refused)?
        }
    };
    Ok((hands, at_hand))
}

/// Whether the operators of these pads are there and good, before anybody relies on it.
///
/// # Errors
/// The outcome to end with.
pub(super) fn check_pads(
    table: &[PadHand],
    at_hand: &AtHand,
    hands: &Hands,
    rig: &RigFile,
) -> Result<(), Outcome> {
    for PadHand { pad, operator } in table {
        let own = at_hand.named(operator, rig, Some(hands));
        own.map_err(|words| {
            Outcome::bad_file(format!("--operator-for {pad}={operator}: {words}"))
        })?;
    }
    Ok(())
}

fn bad(problems: profile::Problems) -> Outcome {
    Outcome::bad_file(problems.render(std::io::stderr().is_terminal()).trim_end())
}
