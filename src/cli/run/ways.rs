//! Where a run gets its script, its port and its socket.

use super::super::{Outcome, bench_rig};
use super::RunArgs;
use crate::profile::{PortSpec, RigFile};
use crate::shell::drive::Shared;
use crate::shell::pad::PadChoice;
use crate::shell::pad::script::Script;
use crate::shell::socket::place::Place;
use crate::shell::socket::{self, Desk};
use crate::shell::wishes::Wishes;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use stillhand_engine::input::Order;

/// The script that plays a pad, if there is one.
pub(super) fn pick_script(choices: &[PadChoice]) -> Result<Option<Script>, Outcome> {
    let mut paths = choices.iter().filter_map(|choice| match choice {
        PadChoice::Script(path) => Some(path),
        PadChoice::Any | PadChoice::Id(_) => None,
    });
    let Some(path) = paths.next() else {
        return Ok(None);
    };
    if paths.next().is_some() {
        return Err(Outcome::bad_file(
            "--pad script: one script at a time can drive",
        ));
    }
    Script::load(path).map(Some).map_err(Outcome::bad_file)
}

/// The port, and the bench rig behind it if that is one.
pub(super) fn pick_port(
    args: &RunArgs,
    file: &RigFile,
    rig: Option<&Path>,
) -> Result<(PathBuf, Option<std::process::Child>), Outcome> {
    let spec = match args.port.as_deref() {
        Some("sim") => PortSpec::Sim,
        Some(path) => PortSpec::Path(PathBuf::from(path)),
        None => file.port.clone(),
    };
    match spec {
        PortSpec::Path(path) if args.mischief.is_some() => Err(Outcome::bad_file(format!(
            "--mischief: only the bench rig does wrong on request; the port is {}",
            path.display()
        ))),
        PortSpec::Path(path) => Ok((path, None)),
        PortSpec::Sim => {
            let mischief = args.mischief.as_deref();
            // Read here so that its problems are told before anything starts.
            if let Some(mischief) = mischief {
                bench_rig::read_mischief(mischief, file)?;
            }
            let (child, path) = bench_rig::start(rig, mischief).map_err(Outcome::fault)?;
            Ok((path, Some(child)))
        }
    }
}

/// The control socket, unless none is wanted.
pub(super) fn open_socket(
    asked: &str,
    rig: &str,
    orders: rtrb::Producer<Order>,
    shared: &Arc<Shared>,
    wishes: &Wishes,
) -> Result<Option<Desk>, String> {
    let place = match asked {
        "off" => return Ok(None),
        "auto" => Place::of_rig(rig),
        path => Place::at(PathBuf::from(path)),
    };
    let place = place.map_err(|problem| problem.to_string())?;
    let path = place.path().display().to_string();
    let desk = socket::open(place, orders, Arc::clone(shared), wishes.clone());
    desk.map(Some)
        .map_err(|error| format!("no control socket at {path}: {error}"))
}
