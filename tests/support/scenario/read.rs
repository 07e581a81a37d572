//! A scenario's text: a head, then timed lines. Pad lines and rig lines are read by the languages the
//! program itself has; each gets a copy of the text in which only its own lines are left, each in its
//! place, so that its problems name the true line and column.

use super::expect::Expect;
use super::words::{Read, Rest, rest};
use super::{Pad, Scenario, Step, What};
use std::fmt::Write as _;
use stillhand::link::mischief::Mischief;
use stillhand::profile::{OperatorFile, Source, builtin, load_operator, load_rig};
use stillhand::shell::lines::{ScriptProblem, ScriptProblems, Times, Word, each_line, nearest};
use stillhand::shell::pad::script::Script;
use stillhand::soak::world::WorldOptions;
use stillhand_engine::input::PadBus;
use stillhand_engine::rig::Rig;
use stillhand_engine::time::Span;

/// Lines of a scenario's own.
const OWN: [&str; 6] = ["expect", "late", "cable", "port", "stop", "end"];
const HEAD: [&str; 7] = [
    "rig",
    "operator",
    "unreferenced",
    "pad1",
    "tick",
    "line",
    "hostile",
];
const MOST_PADS: usize = 8;

/// Reads a scenario.
///
/// # Errors
/// Every problem in it, each with file, line and caret.
pub fn read(name: &str, text: &str) -> Result<Scenario, String> {
    let told = |problems: Vec<ScriptProblem>| ScriptProblems::new(name, problems).to_string();
    let (head, body) = split(text);
    let mut head = Head::read(name, &head).map_err(told)?;
    let rig = head.rig(name)?;
    let operator = head.operator(name)?;
    let operator = operator
        .resolve(std::slice::from_ref(&rig))
        .map_err(|problems| problems.render(false))?;
    let mut reading = Reading::new(&rig);
    let mut problems = Vec::new();
    each_line(&body, &mut problems, |words, problems| {
        if let Err(problem) = reading.line(words) {
            problems.push(*problem);
        }
    });
    if problems.is_empty() && reading.steps.is_empty() {
        problems.push(ScriptProblem {
            found: "no expectation".into(),
            allowed: "at least one line of `SECONDS expect ...`".into(),
            mend: "say what must come of it: see README.md beside the scenarios".into(),
            ..ScriptProblem::of_file("the scenario expects nothing")
        });
    }
    if !problems.is_empty() {
        return Err(told(problems));
    }
    let names: Vec<&str> = rig.axes.iter().map(|axis| axis.name.as_str()).collect();
    let mut failed = String::new();
    for (pad, text) in head.pads.iter_mut().zip(&reading.pads) {
        if text.trim().is_empty() {
            continue;
        }
        match Script::parse(text) {
            Ok(script) => pad.script = Some(script),
            Err(problems) => told_into(&mut failed, name, &problems),
        }
    }
    let mut mischief = Vec::new();
    if !reading.rig_lines.trim().is_empty() {
        match Mischief::parse(name, &reading.rig_lines, &names) {
            Ok(read) => mischief = read.events,
            Err(problems) => told_into(&mut failed, name, &problems),
        }
    }
    if !failed.is_empty() {
        return Err(failed);
    }
    Ok(Scenario {
        name: name.to_owned(),
        text: text.lines().map(str::to_owned).collect(),
        operator,
        unreferenced: head.unreferenced,
        options: head.options,
        pads: head.pads,
        mischief,
        length: reading.latest,
        steps: reading.steps,
        rig,
    })
}

fn told_into(failed: &mut String, name: &str, problems: &ScriptProblems) {
    let problems = ScriptProblems::new(name, problems.list().to_vec());
    let _ = writeln!(failed, "{problems}");
}

/// Head and body as two texts of as many lines, each with the other's lines left empty.
fn split(text: &str) -> (String, String) {
    let (mut head, mut body) = (String::new(), String::new());
    let (mut in_body, mut in_block) = (false, false);
    for line in text.lines() {
        let first = line.split_whitespace().next().unwrap_or("#");
        in_body |= !in_block && first.starts_with(|c: char| c.is_ascii_digit() || c == '-');
        in_block = (in_block || first.ends_with(':')) && first != "end";
        let (here, there) = if in_body {
            (&mut body, &mut head)
        } else {
            (&mut head, &mut body)
        };
        here.push_str(line);
        here.push('\n');
        there.push('\n');
    }
    (head, body)
}

/// What stands above the first timed line.
struct Head {
    rig: Option<Source>,
    operator: Option<Source>,
    unreferenced: bool,
    options: WorldOptions,
    pads: Vec<Pad>,
}

impl Head {
    fn read(name: &str, text: &str) -> Result<Head, Vec<ScriptProblem>> {
        let pad = |_| Pad {
            bus: PadBus::Wired,
            drives: true,
            script: None,
        };
        let mut head = Head {
            rig: None,
            operator: None,
            unreferenced: false,
            options: WorldOptions::default(),
            pads: (0..MOST_PADS).map(pad).collect(),
        };
        let mut problems = Vec::new();
        // A block of TOML keeps its lines' numbers.
        let mut block: Option<(bool, String)> = None;
        for (index, line) in text.lines().enumerate() {
            let words = Word::split(index + 1, line);
            let first = words.first().map_or("", |word| word.text);
            if let Some((is_rig, toml)) = &mut block {
                if first == "end" {
                    let source = Source::new(name, std::mem::take(toml));
                    *(if *is_rig {
                        &mut head.rig
                    } else {
                        &mut head.operator
                    }) = Some(source);
                    block = None;
                } else {
                    toml.push_str(line);
                    toml.push('\n');
                }
            } else if first == "rig:" || first == "operator:" {
                block = Some((first == "rig:", "\n".repeat(index + 1)));
            } else if let Err(problem) = head.line(&words) {
                problems.push(*problem);
            }
        }
        if block.is_some() {
            problems.push(ScriptProblem {
                found: "the end of the head".into(),
                allowed: "a line `end`".into(),
                mend: "write `end` behind the block's last line".into(),
                ..ScriptProblem::of_file("a block of TOML has no end")
            });
        }
        if problems.is_empty() {
            Ok(head)
        } else {
            Err(problems)
        }
    }

    fn line(&mut self, words: &[Word<'_>]) -> Read<()> {
        let Some((first, others)) = words.split_first() else {
            return Ok(());
        };
        let mut others = Rest::new(*first, others, "");
        match first.text {
            "rig" => self.rig = Some(shipped(&mut others, &[builtin::BENCH_RIG])?),
            "operator" => self.operator = Some(shipped(&mut others, &builtin::OPERATORS)?),
            "unreferenced" => self.unreferenced = true,
            "hostile" => self.options.hostile_line = others.choice(&[("line", true)])?,
            "tick" => self.options.period = others.duration()?,
            "line" => self.options.line_delay = others.duration()?,
            other => match pad_place(other) {
                Some(place) => {
                    let pad = &mut self.pads[place];
                    pad.bus = others.choice(&[
                        ("wired", PadBus::Wired),
                        ("usb", PadBus::Usb),
                        ("bluetooth", PadBus::Bluetooth),
                    ])?;
                    pad.drives = others.peek().is_none() || others.choice(&[("stops", false)])?;
                }
                None => {
                    let like = nearest(other, HEAD)
                        .map_or_else(String::new, |name| format!("; did you mean {name}?"));
                    return Err(Box::new(first.problem(
                        "this word has no place above the first timed line",
                        &HEAD.join(" "),
                        &format!("take one of the list{like}"),
                    )));
                }
            },
        }
        rest(&mut others)
    }

    fn rig(&self, name: &str) -> Result<Rig, String> {
        let missing = || format!("{name}: no rig: write `rig bench` at the top");
        let source = self.rig.as_ref().ok_or_else(missing)?;
        let file = load_rig(source).map_err(|problems| problems.render(false))?;
        Ok(file.rig)
    }

    fn operator(&self, name: &str) -> Result<OperatorFile, String> {
        let missing = || format!("{name}: no operator: write `operator talk` at the top");
        let source = self.operator.as_ref().ok_or_else(missing)?;
        load_operator(source).map_err(|problems| problems.render(false))
    }
}

fn shipped(words: &mut Rest<'_, '_>, all: &[builtin::Builtin]) -> Read<Source> {
    let names: Vec<(&str, Source)> = all.iter().map(|b| (b.name, b.source())).collect();
    words.choice(&names)
}

/// The place of `pad3`, from 0.
fn pad_place(word: &str) -> Option<usize> {
    let number: usize = word.strip_prefix("pad")?.parse().ok()?;
    (1..=MOST_PADS).contains(&number).then(|| number - 1)
}

/// The timed lines.
struct Reading<'r> {
    rig: &'r Rig,
    times: Times,
    latest: Span,
    steps: Vec<Step>,
    /// Each pad's own lines, at their places.
    pads: Vec<String>,
    rig_lines: String,
}

impl<'r> Reading<'r> {
    fn new(rig: &'r Rig) -> Reading<'r> {
        Reading {
            rig,
            times: Times::default(),
            latest: Span::ZERO,
            steps: Vec::new(),
            pads: vec![String::new(); MOST_PADS],
            rig_lines: String::new(),
        }
    }

    fn line(&mut self, words: &[Word<'_>]) -> Read<()> {
        let Some((time, others)) = words.split_first() else {
            return Ok(());
        };
        let at = self.times.read(time)?;
        self.latest = at;
        let Some((what, behind)) = others.split_first() else {
            return Err(Box::new(time.problem(
                "nothing happens at this time",
                "SECONDS [PAD] CONTROL VALUE, SECONDS EVENT, or SECONDS expect ...",
                "say what happens, or put `#` before a remark",
            )));
        };
        let line = what.source_line();
        if let Some(place) = pad_place(what.text) {
            let blank = " ".repeat(what.text.len());
            let said = line.replacen(what.text, &blank, 1);
            put(&mut self.pads[place], what.line, &said);
            return Ok(());
        }
        let of_pad = ["ABS_", "BTN_"].iter().any(|p| what.text.starts_with(p));
        if of_pad || ["PLUG", "UNPLUG"].contains(&what.text) {
            put(&mut self.pads[0], what.line, line);
            return Ok(());
        }
        if what.text.starts_with(|c: char| c.is_ascii_uppercase()) {
            put(&mut self.rig_lines, what.line, line);
            return Ok(());
        }
        let mut behind = Rest::new(*what, behind, line);
        let step = self.own(what, &mut behind)?;
        self.steps.push(Step {
            line: what.line,
            at,
            what: step,
        });
        Ok(())
    }

    fn own(&self, what: &Word<'_>, behind: &mut Rest<'_, '_>) -> Read<What> {
        let step = match what.text {
            "expect" => return Ok(What::Expect(Expect::read(behind, self.rig)?)),
            "late" => What::Late(behind.duration()?),
            "cable" => What::Cable(behind.choice(&[("in", true), ("out", false)])?),
            "port" => What::Stuck(behind.choice(&[("stuck", true), ("free", false)])?),
            "stop" => What::Stop,
            "end" => What::End,
            other => {
                let like = nearest(other, OWN)
                    .map_or_else(String::new, |name| format!("; did you mean {name}?"));
                return Err(Box::new(what.problem(
                    "this is no event",
                    &format!(
                        "{}, a control such as ABS_RX, or an event of the rig such as POWER",
                        OWN.join(" ")
                    ),
                    &format!("take one of them{like}"),
                )));
            }
        };
        rest(behind)?;
        Ok(step)
    }
}

/// Adds a line at its own number.
fn put(text: &mut String, number: usize, line: &str) {
    let there = text.matches('\n').count();
    text.push_str(&"\n".repeat(number - 1 - there));
    text.push_str(line);
    text.push('\n');
}
