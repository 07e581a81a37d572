//! `stillhand status`, `stop`, `quiet`, `gear` and their like: asking a running daemon.

use super::{Outcome, screen};
use crate::shell::socket::place;
use crate::shell::socket::request::{Answer, Request};
use serde_json::Value;
use std::io::{self, BufRead, BufReader, IsTerminal, Write};
use std::os::unix::net::UnixStream;
use std::path::PathBuf;
use std::time::Duration;

/// The daemon answers within 2 s or says that it can't; a second more for a slow machine.
const PATIENCE: Duration = Duration::from_secs(3);
/// Rows of a terminal that `status --watch` fits.
const ROWS: usize = 24;

/// Which daemon is asked.
#[derive(Clone, Debug, clap::Args)]
pub struct Whom {
    /// The daemon's socket, if several daemons run or it has one of its own
    #[arg(long, value_name = "PATH")]
    socket: Option<PathBuf>,
    /// Answer in JSON
    #[arg(long)]
    json: bool,
}

/// What `status` can be told.
#[derive(Clone, Debug, clap::Args)]
pub struct StatusArgs {
    /// Again and again, until Ctrl-C
    #[arg(long)]
    watch: bool,
    #[command(flatten)]
    whom: Whom,
}

/// What `stop` can be told.
#[derive(Clone, Debug, clap::Args)]
pub struct StopArgs {
    #[command(flatten)]
    whom: Whom,
}

/// What `quiet`, `still`, `reduced` and `rolling` can be told.
#[derive(Clone, Debug, clap::Args)]
pub struct SwitchArgs {
    /// on or off
    to: OnOff,
    #[command(flatten)]
    whom: Whom,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
enum OnOff {
    On,
    Off,
}

/// What `gear` can be told.
#[derive(Clone, Debug, clap::Args)]
pub struct GearArgs {
    /// The gear, 1 the slowest
    to: u8,
    /// Of this group of axes only
    #[arg(long, value_name = "NAME")]
    group: Option<String>,
    #[command(flatten)]
    whom: Whom,
}

/// What `use` can be told.
#[derive(Clone, Debug, clap::Args)]
pub struct UseArgs {
    /// The operator's name; without one, who is at hand
    operator: Option<String>,
    #[command(flatten)]
    whom: Whom,
}

/// Which mode a command switches.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Switched {
    /// Every motion under the quiet ceilings.
    Quiet,
    /// No motion.
    Still,
    /// Slow enough for someone to be near.
    Reduced,
    /// The camera is rolling.
    Rolling,
}

/// `status`.
pub fn status(args: &StatusArgs) -> Outcome {
    let request = match args.watch {
        true => Request::Watch {},
        false => Request::Status {},
    };
    let json = args.whom.json;
    let ended = Daemon::reach(&args.whom).and_then(|mut daemon| {
        daemon.ask(&request)?;
        if !args.watch {
            let answer = daemon.answer()?;
            return show(&answer, json);
        }
        watch(&mut daemon, json)
    });
    ended.unwrap_or_else(Outcome::fault)
}

/// `stop`.
pub fn stop(args: &StopArgs) -> Outcome {
    order(&args.whom, &Request::Stop {})
}

/// `quiet`, `still`, `reduced`, `rolling`.
pub fn switch(mode: Switched, args: &SwitchArgs) -> Outcome {
    let on = args.to == OnOff::On;
    let request = match mode {
        Switched::Quiet => Request::Quiet { on },
        Switched::Still => Request::Still { on },
        Switched::Reduced => Request::Reduced { on },
        Switched::Rolling => Request::Rolling { on },
    };
    order(&args.whom, &request)
}

/// `gear`.
pub fn gear(args: &GearArgs) -> Outcome {
    let request = Request::Gear {
        to: args.to,
        group: args.group.clone(),
    };
    order(&args.whom, &request)
}

/// `use`.
pub fn hand_over(args: &UseArgs) -> Outcome {
    let operator = args.operator.clone();
    order(&args.whom, &Request::Use { operator })
}

/// How the daemon stands, as it tells programs.
///
/// # Errors
/// In words, why it can't be asked.
pub(super) fn status_of(whom: &Whom) -> Result<Value, String> {
    let mut daemon = Daemon::reach(whom)?;
    daemon.ask(&Request::Status {})?;
    let answer = daemon.answer()?;
    answer.status.ok_or(answer.says)
}

/// Asks for one thing, and says what came of it.
pub(super) fn order(whom: &Whom, request: &Request) -> Outcome {
    let ended = Daemon::reach(whom).and_then(|mut daemon| {
        daemon.ask(request)?;
        let answer = daemon.answer()?;
        show(&answer, whom.json)
    });
    ended.unwrap_or_else(Outcome::fault)
}

/// Prints an answer; exit code 1 if it is no.
fn show(answer: &Answer, json: bool) -> Result<Outcome, String> {
    let text = match (&answer.status, json) {
        (_, true) => serde_json::to_string(answer).map_err(|error| error.to_string())?,
        (Some(status), false) => lines(status, "screen").join("\n"),
        (None, false) => answer.says.clone(),
    };
    match (answer.ok, json) {
        (true, _) => println!("{text}"),
        (false, true) => {
            println!("{text}");
            return Ok(Outcome {
                code: 1,
                words: None,
            });
        }
        (false, false) => return Ok(Outcome::fault(text)),
    }
    Ok(Outcome::good())
}

/// Shows page after page: on a terminal in place, elsewhere what is told as it comes.
fn watch(daemon: &mut Daemon, json: bool) -> Result<Outcome, String> {
    let mut out = io::stdout();
    let live = out.is_terminal() && !json;
    let mut seen = 0;
    loop {
        let answer = daemon.answer()?;
        let Some(status) = &answer.status else {
            return show(&answer, json);
        };
        let text = if json {
            serde_json::to_string(&answer).map_err(|error| error.to_string())? + "\n"
        } else if live {
            in_place(status)
        } else {
            let news = told(status).filter(|(number, _)| *number > seen);
            let text = news.map(|(_, says)| format!("{says}\n")).collect();
            seen = told(status).map(|(number, _)| number).max().unwrap_or(seen);
            text
        };
        // Whoever read it has gone.
        if out
            .write_all(text.as_bytes())
            .and_then(|()| out.flush())
            .is_err()
        {
            return Ok(Outcome::good());
        }
    }
}

/// A page of 80 columns and 24 rows: the status, and under it the last of the log.
fn in_place(status: &Value) -> String {
    let rows: String = rows(status)
        .iter()
        .map(|row| format!("{row}\x1b[K\r\n"))
        .collect();
    format!("\x1b[H{rows}\x1b[J")
}

/// The rows of that page. The last one of the terminal is left to the cursor, or it would scroll.
fn rows(status: &Value) -> Vec<String> {
    let mut page = lines(status, "screen");
    page.push(String::new());
    page.truncate(ROWS - 1);
    let told: Vec<String> = told(status).flat_map(|(_, says)| fitted(says)).collect();
    let room = (ROWS - 1 - page.len()).min(told.len());
    page.extend_from_slice(&told[told.len() - room..]);
    let cut = |row: &mut String| *row = row.chars().take(screen::COLUMNS).collect();
    page.iter_mut().for_each(cut);
    page
}

/// What was told, in rows: carets stay below what they point at, and what is too long goes on below.
fn fitted(says: &str) -> Vec<String> {
    let fit = |line: &str| match line.chars().count() <= screen::COLUMNS {
        true => vec![line.to_owned()],
        false => screen::wrapped(line),
    };
    says.lines().flat_map(fit).collect()
}

/// A list of texts in the status.
fn lines(status: &Value, key: &str) -> Vec<String> {
    let list = status[key].as_array();
    let texts = list.into_iter().flatten().filter_map(Value::as_str);
    texts.map(str::to_owned).collect()
}

/// The last lines of the log, each with its number.
fn told(status: &Value) -> impl Iterator<Item = (u64, &str)> {
    let list = status["told"].as_array();
    let rows = list.into_iter().flatten();
    rows.filter_map(|row| Some((row["n"].as_u64()?, row["says"].as_str()?)))
}

/// A connection to a running daemon.
struct Daemon {
    stream: BufReader<UnixStream>,
}

impl Daemon {
    fn reach(whom: &Whom) -> Result<Daemon, String> {
        let path = match &whom.socket {
            Some(path) => path.clone(),
            None => only()?,
        };
        let stream = UnixStream::connect(&path).map_err(|error| {
            let path = path.display();
            match error.kind() {
                io::ErrorKind::ConnectionRefused => {
                    format!(
                        "{path}: no daemon listens there any more; start one with `stillhand run`"
                    )
                }
                io::ErrorKind::PermissionDenied => {
                    format!(
                        "{path}: it belongs to another user; ask as the one who started the daemon"
                    )
                }
                _ => format!("{path}: {error}"),
            }
        })?;
        stream
            .set_read_timeout(Some(PATIENCE))
            .map_err(|error| error.to_string())?;
        Ok(Daemon {
            stream: BufReader::new(stream),
        })
    }

    fn ask(&mut self, request: &Request) -> Result<(), String> {
        let mut text = serde_json::to_string(request).map_err(|error| error.to_string())?;
        text.push('\n');
        let written = self.stream.get_mut().write_all(text.as_bytes());
        written.map_err(|error| format!("the daemon does not listen: {error}"))
    }

    fn answer(&mut self) -> Result<Answer, String> {
        let mut line = String::new();
        match self.stream.read_line(&mut line) {
            Ok(0) => Err("the daemon has ended, or refuses this user: see its log".to_owned()),
            Ok(_) => serde_json::from_str(&line)
                .map_err(|error| format!("the daemon's answer is not understood: {error}")),
            Err(error) => Err(format!("the daemon does not answer: {error}")),
        }
    }
}

/// The socket of the only daemon.
fn only() -> Result<PathBuf, String> {
    let mut live = place::present();
    live.retain(|path| UnixStream::connect(path).is_ok());
    match &live[..] {
        [] => Err(format!(
            "no daemon of this user runs (looked in {}); start one with `stillhand run`",
            place::folder().display()
        )),
        [path] => Ok(path.clone()),
        several => {
            let list: Vec<String> = several
                .iter()
                .map(|path| path.display().to_string())
                .collect();
            Err(format!(
                "several daemons run: say which with --socket {}",
                list.join(", or ")
            ))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn told(says: &[&str]) -> Value {
        let row = |(n, says): (usize, &&str)| json!({ "n": n + 1, "says": says });
        says.iter().enumerate().map(row).collect()
    }

    #[test]
    fn the_page_fits_a_terminal_whatever_was_told() {
        let words = "another operator, viola, ".repeat(9);
        let caret = "viola.toml has 1 problem: it is not taken\nerror: too wide\n8 | deadband = 1\n  |            ^ found 1";
        let screen: Vec<String> = (0..12).map(|n| format!("axis {n}")).collect();
        let status = json!({
            "screen": screen,
            "told": told(&["old"; 30].iter().chain(&[words.as_str(), caret]).copied().collect::<Vec<_>>()),
        });
        let page = rows(&status);
        assert_eq!(page.len(), ROWS - 1);
        assert!(
            page.iter()
                .all(|row| row.chars().count() <= screen::COLUMNS && !row.contains('\n'))
        );
        assert_eq!(page[..2], ["axis 0", "axis 1"]);
        assert_eq!(page[ROWS - 2], "  |            ^ found 1");
        let shown = page[13..].join(" ");
        assert!(shown.contains(words.trim_end()), "{shown}");
        let long = format!("   = allowed: {}", "a share, ".repeat(12));
        assert!(fitted(&long)[0].starts_with("   = allowed: a share"));
        // A status that fills it leaves room for nothing else, and still does not scroll.
        let tall: Vec<&str> = vec!["axis"; 40];
        let status = json!({ "screen": tall, "told": told(&["old"]) });
        assert_eq!(rows(&status).len(), ROWS - 1);
    }
}
