//! `stillhand init`: a first rig file from what a rig says of itself, a first profile from a few
//! flags. What can't be known is marked and asked.

mod greet;
pub mod hands;
pub mod rig;

use super::Outcome;
use crate::profile::{Kind, Problems, Source, load_operator, load_rig};
use std::fs::OpenOptions;
use std::io::{ErrorKind, IsTerminal, Write};
use std::path::{Path, PathBuf};

/// What `init` can begin.
#[derive(Debug, clap::Subcommand)]
pub enum InitArgs {
    /// A rig file from what the rig at a port says of itself; nothing is moved
    Rig(rig::RigArgs),
    /// An operator profile like another one, with some things changed
    Operator(hands::HandsArgs),
}

/// Where to write.
#[derive(Debug, clap::Args)]
pub struct Out {
    /// Write into this file instead of stdout; one that is there is left alone
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Write over the file if it is there
    #[arg(long, requires = "out")]
    force: bool,
}

/// Writes a first file.
pub fn init(args: &InitArgs) -> Outcome {
    let (written, out) = match args {
        InitArgs::Rig(args) => (rig::text(args), &args.out),
        InitArgs::Operator(args) => (hands::text(args), &args.out),
    };
    written
        .and_then(|text| out.put(&text))
        .map_or_else(|outcome| outcome, |()| Outcome::good())
}

/// Holds a text just written against the reader: what `init` gives has to pass `check`.
fn checked(kind: Kind, text: String) -> Result<String, Outcome> {
    let source = Source::new("the file init would write", text);
    let problems: Option<Problems> = match kind {
        Kind::Rig => load_rig(&source).err(),
        Kind::Operator => load_operator(&source).err(),
        Kind::Quiet | Kind::Trim => None,
    };
    match problems {
        None => Ok(source.text),
        Some(problems) => Err(Outcome::bad_file(
            problems.render(std::io::stderr().is_terminal()).trim_end(),
        )),
    }
}

impl Out {
    /// The folder the file will stand in; none for stdout.
    fn folder(&self) -> Option<&Path> {
        self.out.as_deref().and_then(Path::parent)
    }

    fn put(&self, text: &str) -> Result<(), Outcome> {
        let Some(path) = &self.out else {
            print!("{text}");
            return Ok(());
        };
        let mut options = OpenOptions::new();
        options.write(true);
        // One call that can't meet a file made in between.
        match self.force {
            true => options.create(true).truncate(true),
            false => options.create_new(true),
        };
        let shown = path.display();
        let written = options
            .open(path)
            .and_then(|mut file| file.write_all(text.as_bytes()));
        written.map_err(|error| {
            Outcome::bad_file(match error.kind() {
                ErrorKind::AlreadyExists => format!(
                    "--out {shown}: it is there already and was left alone; \
                     choose another name, or add --force to write over it"
                ),
                _ => format!("--out {shown}: can't be written: {error}"),
            })
        })
    }
}

/// A text in quotes as TOML writes it.
fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' | '\\' => out.extend(['\\', c]),
            '\n' => out.push_str("\\n"),
            '\t' => out.push_str("\\t"),
            c if c.is_control() => out.push_str(&format!("\\u{:04x}", u32::from(c))),
            c => out.push(c),
        }
    }
    out.push('"');
    out
}
