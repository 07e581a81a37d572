//! What was recorded as a table for a spreadsheet.

use crate::cli::words;
use crate::journal::Head;
use crate::journal::read::Recorded;
use crate::journal::row::AxisRow;
use std::fs::File;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use stillhand_engine::output::{Mover, Place};
use stillhand_engine::time::Time;

/// The first line: the names of the columns. README says what each one holds.
pub const HEADER: &str = "stretch,tick,time,axis,unit,state,demand,speed,accel,full_stick,ceiling,\
position,referenced,place,mover,armed,gear,quiet,still,reduced,rolling";

/// A table that is being written.
pub(super) struct Table {
    path: PathBuf,
    out: BufWriter<File>,
    /// Counts the parts between which something is missing, from 1.
    stretch: u32,
    /// Whether the present one has a line.
    begun: bool,
}

impl Table {
    /// Begins a table.
    pub(super) fn create(path: &Path) -> Result<Table, String> {
        let told = |error: io::Error| format!("{}: {error}", path.display());
        let mut out = BufWriter::new(File::create(path).map_err(told)?);
        writeln!(out, "{HEADER}").map_err(told)?;
        Ok(Table {
            path: path.to_owned(),
            out,
            stretch: 1,
            begun: false,
        })
    }

    pub(super) fn breaks(&mut self) {
        self.stretch += u32::from(self.begun);
        self.begun = false;
    }

    /// A line for each axis.
    pub(super) fn tick(&mut self, head: &Head, recorded: &Recorded) -> io::Result<()> {
        self.begun = true;
        let row = &recorded.row;
        let state = row.state().map_or("", words::state);
        let at = recorded.tick.now.since(Time(0)).secs();
        // Of the first group: what most rigs have.
        let gear = row.gear(0) + 1;
        let [quiet, still, reduced, rolling] = row.modes().map(u8::from);
        for (rig, names) in head.rigs.iter().enumerate() {
            for (axis, (name, unit)) in names.axes.iter().enumerate() {
                let Some(axis) = row.axis(rig, axis) else {
                    continue;
                };
                write!(
                    self.out,
                    "{},{},{at:.6},{},{},{state},",
                    self.stretch,
                    recorded.tick.index,
                    cell(name),
                    unit.symbol()
                )?;
                numbers(&mut self.out, &axis)?;
                writeln!(self.out, ",{gear},{quiet},{still},{reduced},{rolling}")?;
            }
        }
        Ok(())
    }

    pub(super) fn finish(mut self) -> Result<(), String> {
        let told = |error: io::Error| format!("{}: {error}", self.path.display());
        self.out.flush().map_err(told)
    }
}

fn numbers(out: &mut impl Write, axis: &AxisRow) -> io::Result<()> {
    let AxisRow {
        position,
        referenced,
        speed,
        accel,
        demand,
        full_stick,
        binding,
        place,
        mover,
        armed,
    } = axis;
    let ceiling = binding.map_or("", |ceiling| ceiling.name());
    let place = match place {
        Place::Inside => "inside",
        Place::Outside => "outside",
        Place::Unreferenced => "unreferenced",
    };
    let mover = match mover {
        Mover::Sticks => "sticks",
        Mover::Sustain => "sustain",
        Mover::Inching => "inching",
        Mover::Errand => "errand",
    };
    let (referenced, armed) = (u8::from(*referenced), u8::from(*armed));
    write!(
        out,
        "{demand},{speed},{accel},{full_stick},{ceiling},{position},{referenced},{place},{mover},{armed}"
    )
}

/// A text as a cell (RFC 4180, 2).
fn cell(text: &str) -> String {
    match text.contains([',', '"', '\n', '\r']) {
        true => format!("\"{}\"", text.replace('"', "\"\"")),
        false => text.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::cell;

    #[test]
    fn a_name_stays_one_cell() {
        assert_eq!(cell("pan"), "pan");
        assert_eq!(cell("pan, \"left\""), "\"pan, \"\"left\"\"\"");
    }
}
