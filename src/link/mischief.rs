//! What the bench rig does wrong on request: one event a line, in time with a pad script.
//!
//! ```text
//! # SECONDS EVENT [ARGUMENT]
//!  4.0 TELEMETRY LOSE 30     # percent
//!  9.5 POWER OFF             # the drives' supply fails
//! 12.0 POWER ON
//! 20.0 SLIP pan -40          # counts: somebody pushed it
//! ```
//!
//! Time zero is when the rig accepts its first setup: that is when a pad script begins, too.
//!
//! | event | what happens |
//! |---|---|
//! | `REBOOT` | at once a new boot id; session, references and positions are lost: it counts from its start again |
//! | `REBOOT REFERENCE` | the same, and it finds its reference by itself after 1 s at rest |
//! | `POWER OFF`, `POWER ON` | motor power; the mechanics coast down. Back on it finds its reference by itself after 1 s at rest |
//! | `FAULT BITS`, `FAULT CLEAR` | fault bits as in the protocol, 1 to 65535, also as 0x5 |
//! | `STOPINPUT ON`, `STOPINPUT OFF` | the stop input |
//! | `TELEMETRY PERIOD MS` | telemetry this often, 1 to 10000 ms |
//! | `TELEMETRY LOSE PERCENT` | so many of a hundred tellings are lost, evenly |
//! | `TELEMETRY MUTE`, `TELEMETRY SPEAK` | no telemetry at all; answers are still given |
//! | `RAMPS PERCENT` | the motors manage this share of their acceleration, 1 to 100 |
//! | `SUPPLY VOLTS`, `DRIVE CELSIUS` | what is told of the supply (0 to 65) and the drives (-128 to 127) |
//! | `SLIP AXIS COUNTS` | the position jumps: the axis was pushed, and its encoder shows it |
//! | `WATCHDOG MS` | from its next setup on it stops by itself only after so long, 20 to 1000 ms, whatever it was told |
//! | `ENCODER ON`, `ENCODER OFF` | positions are told as an encoder on each axis sees them, or as its steps were counted |
//! | `DEAF`, `HEAR` | it stops reading its port, and reads again |

use crate::shell::lines::{self, ScriptProblem, ScriptProblems, Times, Word};
use std::path::Path;
use stillhand_engine::time::Span;
use stillhand_wire::messages::{MAX_WATCHDOG_MS, MIN_WATCHDOG_MS};

/// One thing that goes wrong, or right again.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Event {
    /// The rig starts anew.
    Reboot {
        /// It finds its reference by itself afterwards.
        finds_reference: bool,
    },
    /// Motor power.
    Power(bool),
    /// Fault bits; 0 clears them.
    Fault(u16),
    /// The stop input.
    StopInput(bool),
    /// Telemetry period, ms.
    TelemetryPeriod(u16),
    /// Percent of the telemetry that is lost.
    TelemetryLose(u8),
    /// No telemetry at all, or some again.
    TelemetryMute(bool),
    /// The share of their acceleration that the motors manage, 0 to 1.
    Ramps(f64),
    /// Supply, millivolts.
    Supply(u16),
    /// Drive temperature, degrees Celsius.
    Drive(i8),
    /// An axis was pushed by so many counts.
    Slip {
        /// Its place in the rig file, from 0.
        axis: usize,
        /// How far.
        counts: i32,
    },
    /// How long it waits for a frame, from its next setup on, ms.
    Watchdog(u16),
    /// Positions are told as an encoder sees them.
    Encoder(bool),
    /// The port is not read, or is read again.
    Deaf(bool),
}

impl Event {
    /// The event as a script has it, for a rig with these axes.
    pub fn words(self, axes: &[&str]) -> String {
        let switch = |on| if on { "ON" } else { "OFF" };
        match self {
            Event::Reboot {
                finds_reference: true,
            } => "REBOOT REFERENCE".into(),
            Event::Reboot { .. } => "REBOOT".into(),
            Event::Power(on) => format!("POWER {}", switch(on)),
            Event::Fault(0) => "FAULT CLEAR".into(),
            Event::Fault(bits) => format!("FAULT {bits}"),
            Event::StopInput(on) => format!("STOPINPUT {}", switch(on)),
            Event::TelemetryPeriod(ms) => format!("TELEMETRY PERIOD {ms}"),
            Event::TelemetryLose(percent) => format!("TELEMETRY LOSE {percent}"),
            Event::TelemetryMute(true) => "TELEMETRY MUTE".into(),
            Event::TelemetryMute(false) => "TELEMETRY SPEAK".into(),
            Event::Ramps(share) => format!("RAMPS {}", share * 100.0),
            Event::Supply(millivolts) => format!("SUPPLY {}", f64::from(millivolts) / 1e3),
            Event::Drive(celsius) => format!("DRIVE {celsius}"),
            Event::Slip { axis, counts } => {
                let name = axes.get(axis).copied().unwrap_or_default();
                format!("SLIP {name} {counts}")
            }
            Event::Watchdog(ms) => format!("WATCHDOG {ms}"),
            Event::Encoder(on) => format!("ENCODER {}", switch(on)),
            Event::Deaf(true) => "DEAF".into(),
            Event::Deaf(false) => "HEAR".into(),
        }
    }
}

/// A mischief script: events with their times since time zero, in order.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Mischief {
    /// What happens before time zero.
    pub now: Vec<Event>,
    /// What happens when.
    pub events: Vec<(Span, Event)>,
}

/// How a line looks.
const FORM: &str = "SECONDS EVENT [ARGUMENT]";
const EVENTS: [&str; 13] = [
    "REBOOT",
    "POWER",
    "FAULT",
    "STOPINPUT",
    "TELEMETRY",
    "RAMPS",
    "SUPPLY",
    "DRIVE",
    "SLIP",
    "WATCHDOG",
    "ENCODER",
    "DEAF",
    "HEAR",
];

type Read<T> = Result<T, Box<ScriptProblem>>;

impl Mischief {
    /// Reads a script's text for a rig with these axes; `name` is used in problems.
    ///
    /// # Errors
    /// Every problem in it, up to a hundred, in the order of their lines.
    pub fn parse(name: &str, text: &str, axes: &[&str]) -> Result<Mischief, ScriptProblems> {
        let mut times = Times::default();
        let mut events = Vec::new();
        let mut problems = Vec::new();
        lines::each_line(text, &mut problems, |words, problems| {
            let Some((time, rest)) = words.split_first() else {
                return;
            };
            match timed_event(&mut times, time, rest, axes) {
                Ok(event) => events.push(event),
                Err(problem) => problems.push(*problem),
            }
        });
        if problems.is_empty() && events.is_empty() {
            problems.push(ScriptProblem {
                found: "no event".into(),
                allowed: format!("at least one line of {FORM}"),
                mend: "begin with `5.0 POWER OFF`".into(),
                ..ScriptProblem::of_file("the script is empty")
            });
        }
        if problems.is_empty() {
            let now = Vec::new();
            return Ok(Mischief { now, events });
        }
        Err(ScriptProblems::new(name, problems))
    }

    /// Reads a script file.
    ///
    /// # Errors
    /// As [`Mischief::parse`]; a file that can't be read or is no text is a problem of its own.
    pub fn load(path: &Path, axes: &[&str]) -> Result<Mischief, ScriptProblems> {
        let text = lines::load(path, FORM)?;
        Mischief::parse(&path.display().to_string(), &text, axes)
    }

    /// Adds an event that happens before time zero, given without a time.
    ///
    /// # Errors
    /// The problem in it.
    pub fn add_now(&mut self, text: &str, axes: &[&str]) -> Result<(), ScriptProblems> {
        let words = Word::split(1, text);
        let read = match words.split_first() {
            Some((name, rest)) => event(name, rest, axes),
            None => Err(Box::new(ScriptProblem {
                found: "nothing".into(),
                allowed: EVENTS.join(" "),
                mend: "say what happens, such as \"POWER OFF\"".into(),
                ..ScriptProblem::of_file("there is no event")
            })),
        };
        let event = read.map_err(|p| ScriptProblems::new("--mischief-now", vec![*p]))?;
        self.now.push(event);
        Ok(())
    }
}

fn timed_event(
    times: &mut Times,
    time: &Word<'_>,
    rest: &[Word<'_>],
    axes: &[&str],
) -> Read<(Span, Event)> {
    let Some((name, rest)) = rest.split_first() else {
        return Err(Box::new(time.problem(
            "nothing happens at this time",
            FORM,
            "say what happens, or put `#` before a remark",
        )));
    };
    Ok((times.read(time)?, event(name, rest, axes)?))
}

/// The words behind an event's name.
struct Arguments<'a, 'b> {
    before: Word<'a>,
    rest: &'b [Word<'a>],
}

impl<'a> Arguments<'a, '_> {
    fn next(&mut self, allowed: &str) -> Read<Word<'a>> {
        let Some((word, rest)) = self.rest.split_first() else {
            let mend = format!("write it behind `{}`", self.before.text);
            return Err(Box::new(self.before.problem(
                "something is missing behind this",
                allowed,
                &mend,
            )));
        };
        (self.before, self.rest) = (*word, rest);
        Ok(*word)
    }

    /// One of several words.
    fn choice<T: Copy>(&mut self, choices: &[(&str, T)]) -> Read<T> {
        let names = choices.iter().map(|(name, _)| *name);
        let allowed = names.clone().collect::<Vec<_>>().join(" or ");
        let word = self.next(&allowed)?;
        let found = choices.iter().find(|(name, _)| *name == word.text);
        found.map(|(_, value)| *value).ok_or_else(|| {
            let like = lines::nearest(word.text, names)
                .map_or_else(String::new, |name| format!("; did you mean {name}?"));
            Box::new(word.problem(
                "this word is not known here",
                &allowed,
                &format!("take one of them{like}"),
            ))
        })
    }

    /// A number from `low` to `high`.
    fn number(&mut self, low: f64, high: f64, what: &str) -> Read<f64> {
        let allowed = format!("{what} from {low} to {high}");
        let word = self.next(&allowed)?;
        let number = word.text.parse::<f64>().ok();
        number
            .filter(|n| (low..=high).contains(n))
            .ok_or_else(|| out_of_bounds(&word, &allowed))
    }

    /// A whole number from `low` to `high`; hexadecimal behind 0x.
    fn whole(&mut self, low: i64, high: i64, what: &str) -> Read<i64> {
        let allowed = format!("{what}: a whole number from {low} to {high}");
        let word = self.next(&allowed)?;
        let number = match word.text.strip_prefix("0x") {
            // A sign behind 0x would be taken by the parser otherwise.
            Some(digits) if digits.starts_with(['+', '-']) => None,
            Some(digits) => i64::from_str_radix(digits, 16).ok(),
            None => word.text.parse().ok(),
        };
        number
            .filter(|n| (low..=high).contains(n))
            .ok_or_else(|| out_of_bounds(&word, &allowed))
    }
}

fn out_of_bounds(word: &Word<'_>, allowed: &str) -> Box<ScriptProblem> {
    Box::new(word.problem(
        "the value is no number, or out of bounds",
        allowed,
        "take a value within them",
    ))
}

fn event(name: &Word<'_>, rest: &[Word<'_>], axes: &[&str]) -> Read<Event> {
    let mut arguments = Arguments {
        before: *name,
        rest,
    };
    let event = known_event(name, &mut arguments, axes)?;
    match arguments.rest.first() {
        None => Ok(event),
        Some(extra) => Err(Box::new(extra.problem(
            "there is something behind the event",
            "nothing more in this line",
            "remove it, or put `#` before a remark",
        ))),
    }
}

// Every conversion below keeps the value: the bounds given to `whole` are those of the type.
fn known_event(name: &Word<'_>, arguments: &mut Arguments<'_, '_>, axes: &[&str]) -> Read<Event> {
    const SWITCH: [(&str, bool); 2] = [("ON", true), ("OFF", false)];
    Ok(match name.text {
        "REBOOT" => Event::Reboot {
            finds_reference: !arguments.rest.is_empty()
                && arguments.choice(&[("REFERENCE", true)])?,
        },
        "POWER" => Event::Power(arguments.choice(&SWITCH)?),
        "FAULT" => match arguments.rest.first() {
            Some(word) if word.text == "CLEAR" => Event::Fault(arguments.choice(&[("CLEAR", 0)])?),
            _ => Event::Fault(arguments.whole(1, 65_535, "CLEAR, or fault bits")? as u16),
        },
        "STOPINPUT" => Event::StopInput(arguments.choice(&SWITCH)?),
        "TELEMETRY" => telemetry(arguments)?,
        "RAMPS" => Event::Ramps(arguments.number(1.0, 100.0, "percent")? / 100.0),
        "SUPPLY" => Event::Supply((arguments.number(0.0, 65.0, "volts")? * 1e3).round() as u16),
        "DRIVE" => Event::Drive(arguments.whole(-128, 127, "degrees Celsius")? as i8),
        "SLIP" => {
            let places: Vec<(&str, usize)> =
                axes.iter().enumerate().map(|(i, n)| (*n, i)).collect();
            Event::Slip {
                axis: arguments.choice(&places)?,
                counts: arguments.whole(-1_000_000, 1_000_000, "counts")? as i32,
            }
        }
        "WATCHDOG" => Event::Watchdog(arguments.whole(
            i64::from(MIN_WATCHDOG_MS),
            i64::from(MAX_WATCHDOG_MS),
            "ms",
        )? as u16),
        "ENCODER" => Event::Encoder(arguments.choice(&SWITCH)?),
        "DEAF" => Event::Deaf(true),
        "HEAR" => Event::Deaf(false),
        other => {
            let like = lines::nearest(other, EVENTS)
                .map_or_else(String::new, |name| format!("; did you mean {name}?"));
            return Err(Box::new(name.problem(
                "there is no such event",
                &EVENTS.join(" "),
                &format!("use a name from the list{like}"),
            )));
        }
    })
}

fn telemetry(arguments: &mut Arguments<'_, '_>) -> Read<Event> {
    #[derive(Clone, Copy)]
    enum What {
        Period,
        Lose,
        Mute(bool),
    }
    let what = arguments.choice(&[
        ("PERIOD", What::Period),
        ("LOSE", What::Lose),
        ("MUTE", What::Mute(true)),
        ("SPEAK", What::Mute(false)),
    ])?;
    Ok(match what {
        What::Period => Event::TelemetryPeriod(arguments.whole(1, 10_000, "ms")? as u16),
        What::Lose => Event::TelemetryLose(arguments.whole(0, 100, "percent")? as u8),
        What::Mute(mute) => Event::TelemetryMute(mute),
    })
}

#[cfg(test)]
mod tests;
