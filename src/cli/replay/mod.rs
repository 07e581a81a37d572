//! `stillhand replay`: runs the engine again on what a journal recorded, and shows what happened.

mod plot;
mod table;

use super::Outcome;
use crate::journal::Head;
use crate::journal::read::{Damage, Recorded};
use crate::journal::replay::{Found, Look, files, replay};
use plot::Plot;
use serde_json::{Value, json};
use std::fmt::Write as _;
use std::io;
use std::path::{Path, PathBuf};
pub use table::HEADER;
use table::Table;

/// What `replay` can be told.
#[derive(Debug, clap::Args)]
pub struct ReplayArgs {
    /// A file of a journal, or the folder that `run --journal` was given
    #[arg(value_name = "JOURNAL")]
    journal: PathBuf,
    /// Write what was recorded as a table: a line for each axis in each tick
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Draw speed, what was asked for, ceilings and position of each axis over time
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
    /// Answer in JSON
    #[arg(long)]
    json: bool,
}

/// What is made of the ticks besides comparing them.
struct Views {
    table: Option<Table>,
    plot: Option<Plot>,
}

impl Look for Views {
    fn tick(&mut self, head: &Head, recorded: &Recorded) -> io::Result<()> {
        if let Some(plot) = &mut self.plot {
            plot.tick(head, recorded);
        }
        match &mut self.table {
            Some(table) => table.tick(head, recorded),
            None => Ok(()),
        }
    }

    fn breaks(&mut self) {
        if let Some(plot) = &mut self.plot {
            plot.breaks();
        }
        if let Some(table) = &mut self.table {
            table.breaks();
        }
    }
}

/// Does what was asked.
pub fn run(args: &ReplayArgs) -> Outcome {
    let files = match files(&args.journal) {
        Ok(files) => files,
        Err(words) => return Outcome::bad_file(words),
    };
    let table = args.csv.as_deref().map(Table::create).transpose();
    let table = match table {
        Ok(table) => table,
        Err(words) => return Outcome::fault(words),
    };
    let plot = args.svg.as_ref().map(|_| Plot::default());
    let mut views = Views { table, plot };
    let found = match replay(&files, &mut views) {
        Ok(found) => found,
        Err(words) => return Outcome::bad_file(words),
    };
    if let Err(words) = finish(args, views, &found) {
        return Outcome::fault(words);
    }
    let text = match args.json {
        true => page(&found).to_string(),
        false => words(&found),
    };
    println!("{}", text.trim_end());
    Outcome {
        code: code(&found),
        words: None,
    }
}

/// Closes the table and draws the plot.
fn finish(args: &ReplayArgs, views: Views, found: &Found) -> Result<(), String> {
    if let Some(table) = views.table {
        table.finish()?;
    }
    if let (Some(plot), Some(path)) = (views.plot, &args.svg) {
        let name = args.journal.display().to_string();
        std::fs::write(path, plot.svg(&name, found.difference.as_ref()))
            .map_err(|error| format!("{}: {error}", path.display()))?;
    }
    Ok(())
}

/// 0 if everything that was recorded came out the same, 1 if not or if a file is damaged, 2 if there was
/// nothing to replay.
fn code(found: &Found) -> u8 {
    let torn = |(_, damage): &(PathBuf, Damage)| matches!(damage, Damage::Torn(_));
    match (found.ticks, &found.difference) {
        (_, Some(_)) => 1,
        (0, None) => 2,
        (_, None) => u8::from(!found.damage.iter().all(torn)),
    }
}

fn name(path: &Path) -> String {
    let name = path.file_name().unwrap_or(path.as_os_str());
    name.to_string_lossy().into_owned()
}

/// For people.
fn words(found: &Found) -> String {
    let mut text = String::new();
    for other in &found.others {
        // Writing to a text can't fail.
        let _ = writeln!(
            text,
            "recorded by version {other}; this is version {}: its engine may not be the same",
            env!("CARGO_PKG_VERSION")
        );
    }
    for (path, first, count) in &found.gaps {
        let _ = writeln!(
            text,
            "{}: {count} ticks from {first} on are missing, the disk was too slow; replayed on from the \
             next file",
            name(path)
        );
    }
    for (path, damage) in &found.damage {
        let _ = writeln!(text, "{}: {damage}", name(path));
    }
    let (files, ticks) = (found.files, found.ticks);
    let seconds = found.seconds;
    match &found.difference {
        Some(difference) => {
            let _ = writeln!(text, "{}: {difference}", name(&difference.file));
            let _ = writeln!(text, "the first difference after {ticks} ticks");
        }
        None if ticks == 0 => text.push_str("nothing to replay\n"),
        None => {
            let files = match files {
                1 => "1 file".to_owned(),
                more => format!("{more} files"),
            };
            let _ = writeln!(
                text,
                "{files}, {ticks} ticks, {seconds:.1} s: every output came out the same to the bit"
            );
        }
    }
    text
}

fn page(found: &Found) -> Value {
    let gaps = found
        .gaps
        .iter()
        .map(|(path, first, count)| json!({ "file": name(path), "first": first, "ticks": count }));
    let damage = found
        .damage
        .iter()
        .map(|(path, damage)| json!({ "file": name(path), "says": damage.to_string() }));
    let difference = found.difference.as_ref().map(|difference| {
        json!({
            "file": name(&difference.file),
            "tick": difference.tick,
            "at_s": difference.at_s,
            "field": difference.field,
            "recorded": difference.recorded,
            "replayed": difference.replayed,
        })
    });
    json!({
        "same": found.difference.is_none() && found.ticks > 0,
        "files": found.files,
        "ticks": found.ticks,
        "seconds": found.seconds,
        "ended": found.ended,
        "gaps": gaps.collect::<Vec<_>>(),
        "damage": damage.collect::<Vec<_>>(),
        "recorded_by_others": found.others,
        "difference": difference,
    })
}
