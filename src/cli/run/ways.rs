//! Where a run gets its script, its port and its socket.

use super::super::{Outcome, bench_rig};
use super::RunArgs;
use crate::board::{self, Listening};
use crate::profile::{PortSpec, RigFile};
use crate::shell::drive::Shared;
use crate::shell::pad::PadChoice;
use crate::shell::pad::script::Script;
use crate::shell::pages::Pages;
use crate::shell::socket;
use crate::shell::socket::place::Place;
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

/// Opens what shows how things stand: the board, and the control socket, which is there as long as its place lives, or
/// why there is none.
pub(super) fn open(
    args: &RunArgs,
    rig: &str,
    board: Option<Listening>,
    (orders, shared, wishes): (rtrb::Producer<Order>, &Arc<Shared>, &Wishes),
) -> Result<(Pages, Result<Option<Place>, String>), Outcome> {
    let pages = Pages::default();
    if let Some(board) = board {
        board.open(pages.shelf()).map_err(Outcome::fault)?;
    }
    let place = match args.socket.as_str() {
        "off" => return Ok((pages, Ok(None))),
        "auto" => Place::of_rig(rig),
        path => Place::at(PathBuf::from(path)),
    };
    let socket = place.map_err(|problem| problem.to_string());
    let socket = socket.and_then(|place| {
        let (shared, wishes) = (Arc::clone(shared), wishes.clone());
        match socket::open(&place, pages.shelf(), orders, shared, wishes) {
            Ok(()) => Ok(Some(place)),
            Err(error) => Err(format!(
                "no control socket at {}: {error}",
                place.path().display()
            )),
        }
    });
    Ok((pages, socket))
}

/// The board's listener, unless none is wanted.
pub(super) fn listen(asked: &str) -> Result<Option<Listening>, Outcome> {
    if asked == "off" {
        return Ok(None);
    }
    let address = board::address(asked).map_err(Outcome::bad_file)?;
    let listening = Listening::at(address).map_err(|error| {
        Outcome::fault(format!(
            "--board {asked}: {error}; another port may be free, and port 0 takes one that is"
        ))
    })?;
    Ok(Some(listening))
}
