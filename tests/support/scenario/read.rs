//! A scenario's text: a head, then timed lines. Pad lines and rig lines are read by the languages the
//! program itself has; each gets a copy of the text in which only its own lines are left, each in its
//! place, so that its problems name the true line and column.

use super::errand::errand;
use super::expect::Expect;
use super::head::{Head, begins_block, pad_place};
use super::words::{Read, Rest, rest};
use super::{Scenario, Step, What};
use std::fmt::Write as _;
use stillhand::link::mischief::Mischief;
use stillhand::shell::lines::{ScriptProblem, ScriptProblems, Times, Word, each_line, nearest};
use stillhand::shell::pad::script::Script;
use stillhand_engine::input::Order;
use stillhand_engine::operate::modes::Mode;
use stillhand_engine::operator::Operator;
use stillhand_engine::reference::Reference;
use stillhand_engine::rig::Rig;
use stillhand_engine::time::Span;

/// Lines of a scenario's own.
pub const OWN: [&str; 10] = [
    "expect", "late", "cable", "port", "hush", "use", "order", "errand", "stop", "end",
];

/// Reads a scenario.
///
/// # Errors
/// Every problem in it, each with file, line and caret.
pub fn read(name: &str, text: &str) -> Result<Scenario, String> {
    let told = |problems: Vec<ScriptProblem>| ScriptProblems::new(name, problems).to_string();
    let (head, body) = split(text);
    let mut head = Head::read(name, &head).map_err(told)?;
    let file = head.rig(name)?;
    let operator = head.operator(name, &file)?;
    let (rigs, operators) = (head.rigs()?, head.operators(&file)?);
    let rig = file.rig;
    let mut reading = Reading::new(&rig, &rigs, &operators, head.pads.len());
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
        unplugged: head.unplugged,
        options: head.options,
        pads: head.pads,
        mischief,
        length: reading.latest,
        steps: reading.steps,
        rigs: rigs.into_iter().map(|(_, rig)| rig).collect(),
        operators: operators.into_iter().map(|(_, o)| o).collect(),
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
        in_block = (in_block || !in_body && begins_block(line)) && first != "end";
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

/// The timed lines.
struct Reading<'r> {
    rig: &'r Rig,
    rigs: &'r [(String, Rig)],
    operators: &'r [(String, Operator)],
    times: Times,
    latest: Span,
    steps: Vec<Step>,
    /// Each pad's own lines, at their places.
    pads: Vec<String>,
    rig_lines: String,
}

impl<'r> Reading<'r> {
    fn new(
        rig: &'r Rig,
        rigs: &'r [(String, Rig)],
        operators: &'r [(String, Operator)],
        pads: usize,
    ) -> Reading<'r> {
        Reading {
            rig,
            rigs,
            operators,
            times: Times::default(),
            latest: Span::ZERO,
            steps: Vec::new(),
            pads: vec![String::new(); pads],
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
            "hush" => What::Hush(behind.duration()?),
            "use" if behind.peek() == Some("rig") => {
                behind.next("rig")?;
                What::UseRig(behind.choice(&places(self.rigs))?)
            }
            "use" => What::Use(behind.choice(&places(self.operators))?),
            "order" => What::Order(order(behind, self.rig)?),
            "errand" => What::Errand(errand(behind, self.rig)?),
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

/// Names with their places.
fn places<T>(named: &[(String, T)]) -> Vec<(&str, usize)> {
    let places = named.iter().enumerate();
    places
        .map(|(place, (name, _))| (name.as_str(), place))
        .collect()
}

/// What is asked for without a pad.
fn order(words: &mut Rest<'_, '_>, rig: &Rig) -> Read<Order> {
    let modes = Mode::ALL.map(|mode| (mode.name(), Some(mode)));
    if words.peek() == Some("off") {
        words.next("off")?;
        return Ok(Order::CallOff);
    }
    if words.peek() == Some("reference") {
        words.next("reference")?;
        return reference(words, rig);
    }
    let what = [&modes[..], &[("gear", None)]].concat();
    match words.choice(&what)? {
        Some(mode) => {
            let on = words.choice(&[("on", true), ("off", false)])?;
            Ok(Order::Mode(mode, on))
        }
        None => {
            let gear = words.whole(1, 8)? as u8 - 1;
            Ok(Order::Gear { group: 0, gear })
        }
    }
}

/// Where an axis stands: `pan 12.5`, and `again` if it is known already.
fn reference(words: &mut Rest<'_, '_>, rig: &Rig) -> Read<Order> {
    let names = rig.axes.iter().enumerate();
    let names: Vec<(&str, u8)> = names
        .map(|(at, axis)| (axis.name.as_str(), at as u8))
        .collect();
    let axis = words.choice(&names)?;
    let at = words.number()?;
    let again = words.peek() == Some("again");
    if again {
        words.next("again")?;
    }
    Ok(Order::Reference(Reference {
        rig: 0,
        axis,
        at,
        again,
    }))
}

/// Adds a line at its own number.
fn put(text: &mut String, number: usize, line: &str) {
    let there = text.matches('\n').count();
    text.push_str(&"\n".repeat(number - 1 - there));
    text.push_str(line);
    text.push('\n');
}
