//! A scene as text, one thing a line, so that a breach can be kept as a test and read by a person.
//!
//! ```text
//! # what a person should know
//! seed 4711                     where it came from; only told
//! law sense                     what broke when it was written; only told
//! period 4000 us                the engine's period
//! line 1000 us                  how long a byte is under way
//! copies                        the line also brings damaged and repeated copies
//! rig-clock 4294000000          what the rig's clock reads at first, microseconds
//! rig {...}                     the engine's rig, as JSON
//! operator {...}                the profile it begins with, as JSON
//! turns 12                      so many turns of the loop come in time
//! late 63200 us                 one comes after this pause
//! pad 0 plugged usb drives      wired, usb, bluetooth or streaming; `drives`, or `stops` for one that only stops
//! pad 0 move rx -0.53
//! pad 0 press tr
//! pad 0 lift tr
//! pad 0 alive
//! pad 0 bus streaming           from now on its silence is judged as of such a one
//! pad 0 unplugged
//! stop                          asked for at the terminal
//! mode quiet on                 also still, reduced, rolling, and off
//! gear 0 2                      group and gear
//! call-off                      of moves asked for leg by leg
//! reference 1 -12.5             axis 1 stands there; `again` behind it if it is known to stand elsewhere
//! errand {...}                  moves asked for leg by leg are offered, as JSON
//! profile {...}                 another profile is offered, as JSON
//! rig-file {...}                another file of the rig is offered, as JSON
//! mischief POWER OFF            as in a mischief script
//! noise flip 30 7               to 30 frames of 100; the last number chooses which; or `noise off`
//! cable out                     it is pulled; or `in`
//! port clogged                  it takes nothing; or `free`
//! hush 300000 us                nothing is written for so long
//! ```
//!
//! What stands before a turn happens just before it. `period`, `line`, `rig` and `operator` come first;
//! a `#` at the beginning of a line makes it a remark.

use super::act::{Act, Scene};
use crate::link::mischief::Mischief;
use crate::soak::noise::{Noise, Wrong};
use crate::soak::world::WorldOptions;
use serde::de::DeserializeOwned;
use std::fmt::Write;
use stillhand_engine::MAX_PADS;
use stillhand_engine::errand::Errand;
use stillhand_engine::input::{Button, Control, Order, PadBus, PadEvent, PadId};
use stillhand_engine::operate::modes::Mode;
use stillhand_engine::operator::Operator;
use stillhand_engine::reference::Reference;
use stillhand_engine::rig::Rig;
use stillhand_engine::time::Span;

const BUSES: [(&str, PadBus); 4] = [
    ("wired", PadBus::Wired),
    ("usb", PadBus::Usb),
    ("bluetooth", PadBus::Bluetooth),
    ("streaming", PadBus::Streaming),
];
const PLACE: [(&str, bool); 2] = [("in", true), ("out", false)];
const PORT: [(&str, bool); 2] = [("clogged", true), ("free", false)];
const SWITCH: [(&str, bool); 2] = [("on", true), ("off", false)];

impl Scene {
    /// The scene as text, below remarks of one line each.
    pub fn write(&self, remarks: &[String]) -> String {
        let mut text = String::new();
        for remark in remarks {
            line(&mut text, format_args!("# {remark}"));
        }
        line(
            &mut text,
            format_args!("period {}", micros(self.options.period)),
        );
        line(
            &mut text,
            format_args!("line {}", micros(self.options.line_delay)),
        );
        if self.options.rig_clock_us > 0 {
            line(
                &mut text,
                format_args!("rig-clock {}", self.options.rig_clock_us),
            );
        }
        if self.options.hostile_line {
            line(&mut text, format_args!("copies"));
        }
        line(&mut text, format_args!("rig {}", json(&self.rig)));
        line(&mut text, format_args!("operator {}", json(&self.operator)));
        let axes = axes(&self.rig);
        for act in &self.acts {
            line(&mut text, format_args!("{}", words(act, &axes)));
        }
        text
    }

    /// Reads a scene back.
    ///
    /// # Errors
    /// The first problem in it: its line, what was found, what is allowed.
    pub fn read(text: &str) -> Result<Scene, String> {
        let mut head = Head::default();
        let mut acts = Vec::new();
        for (number, source) in text.lines().enumerate() {
            let source = source.trim();
            if source.is_empty() || source.starts_with('#') {
                continue;
            }
            let (word, rest) = source.split_once(' ').unwrap_or((source, ""));
            let problem = |found: String| format!("line {}: {found}", number + 1);
            if head.take(word, rest).map_err(problem)? {
                continue;
            }
            let axes = head.rig.as_ref().map(axes).unwrap_or_default();
            acts.push(act(word, rest, &axes).map_err(problem)?);
        }
        head.scene(acts)
    }
}

fn line(text: &mut String, words: std::fmt::Arguments<'_>) {
    // Writing to a string does not fail.
    let _ = writeln!(text, "{words}");
}

fn axes(rig: &Rig) -> Vec<&str> {
    rig.axes.iter().map(|axis| axis.name.as_str()).collect()
}

fn micros(span: Span) -> String {
    format!("{} us", span.0 / 1_000)
}

/// Rigs and profiles are made of numbers, names and lists: that they can be written is tested.
fn json(value: &impl serde::Serialize) -> String {
    serde_json::to_string(value).unwrap_or_default()
}

fn words(act: &Act, axes: &[&str]) -> String {
    match act {
        Act::Turns(turns) => format!("turns {turns}"),
        Act::Late(pause) => format!("late {}", micros(*pause)),
        Act::Pad(pad, event) => format!("pad {} {}", pad.0, pad_words(*event)),
        Act::Stop => "stop".to_owned(),
        Act::Order(Order::Mode(mode, on)) => {
            format!("mode {} {}", mode.name(), name_of(&SWITCH, *on))
        }
        Act::Order(Order::Gear { group, gear }) => format!("gear {group} {gear}"),
        Act::Order(Order::CallOff) => "call-off".to_owned(),
        Act::Order(Order::Reference(asked)) => {
            let again = if asked.again { " again" } else { "" };
            format!("reference {} {}{again}", asked.axis, asked.at)
        }
        Act::Errand(errand) => format!("errand {}", json(errand)),
        Act::Profile(operator) => format!("profile {}", json(operator)),
        Act::RigFile(rig) => format!("rig-file {}", json(rig)),
        Act::Rig(event) => format!("mischief {}", event.words(axes)),
        Act::Noise(None) => "noise off".to_owned(),
        Act::Noise(Some(noise)) => {
            let Noise {
                wrong,
                percent,
                seed,
            } = noise;
            format!("noise {} {percent} {seed}", wrong.name())
        }
        Act::Cable(place) => format!("cable {}", name_of(&PLACE, *place)),
        Act::Clog(clogged) => format!("port {}", name_of(&PORT, *clogged)),
        Act::Hush(span) => format!("hush {}", micros(*span)),
    }
}

fn pad_words(event: PadEvent) -> String {
    match event {
        PadEvent::Plugged { bus, drives } => {
            let may = if drives { "drives" } else { "stops" };
            format!("plugged {} {may}", name_of(&BUSES, bus))
        }
        PadEvent::Unplugged => "unplugged".to_owned(),
        PadEvent::Moved(control, value) => format!("move {} {value}", control.name()),
        PadEvent::Pressed(button, true) => format!("press {}", button.name()),
        PadEvent::Pressed(button, false) => format!("lift {}", button.name()),
        PadEvent::Alive => "alive".to_owned(),
        PadEvent::Bus(bus) => format!("bus {}", name_of(&BUSES, bus)),
    }
}

fn name_of<T: Copy + PartialEq>(names: &[(&'static str, T)], value: T) -> &'static str {
    let found = names.iter().find(|(_, own)| *own == value);
    found.map_or("", |(name, _)| name)
}

/// What stands above the acts.
#[derive(Default)]
struct Head {
    period: Option<Span>,
    line: Option<Span>,
    copies: bool,
    rig_clock_us: u32,
    rig: Option<Rig>,
    operator: Option<Operator>,
}

impl Head {
    /// Takes a line if it belongs here.
    fn take(&mut self, word: &str, rest: &str) -> Result<bool, String> {
        match word {
            "seed" | "law" => {}
            "period" => self.period = Some(span(rest)?),
            "line" => self.line = Some(span(rest)?),
            "copies" => self.copies = true,
            "rig-clock" => self.rig_clock_us = number(rest)?,
            "rig" => self.rig = Some(rig(rest)?),
            "operator" => self.operator = Some(operator(rest)?),
            _ => return Ok(false),
        }
        Ok(true)
    }

    fn scene(self, acts: Vec<Act>) -> Result<Scene, String> {
        let missing =
            |word: &str| format!("there is no line `{word} ...`: add it above the first act");
        Ok(Scene {
            rig: self.rig.ok_or_else(|| missing("rig"))?,
            operator: self.operator.ok_or_else(|| missing("operator"))?,
            options: WorldOptions {
                period: self.period.ok_or_else(|| missing("period"))?,
                line_delay: self.line.ok_or_else(|| missing("line"))?,
                hostile_line: self.copies,
                rig_clock_us: self.rig_clock_us,
                excuses_weak_motors: true,
            },
            acts,
        })
    }
}

fn act(word: &str, rest: &str, axes: &[&str]) -> Result<Act, String> {
    Ok(match word {
        "turns" => Act::Turns(number(rest)?),
        "late" => Act::Late(span(rest)?),
        "pad" => {
            let (pad, event) = rest.split_once(' ').unwrap_or((rest, ""));
            let place: u8 = number(pad)?;
            if usize::from(place) >= MAX_PADS {
                return Err(format!(
                    "there is no pad {place}: they are 0 to {}",
                    MAX_PADS - 1
                ));
            }
            Act::Pad(PadId(place), pad_event(event)?)
        }
        "stop" => Act::Stop,
        "mode" => {
            let (mode, on) = rest.split_once(' ').unwrap_or((rest, ""));
            Act::Order(Order::Mode(named(&modes(), mode)?, named(&SWITCH, on)?))
        }
        "gear" => {
            let (group, gear) = rest.split_once(' ').unwrap_or((rest, ""));
            Act::Order(Order::Gear {
                group: number(group)?,
                gear: number(gear)?,
            })
        }
        "call-off" => Act::Order(Order::CallOff),
        "reference" => Act::Order(Order::Reference(reference(rest)?)),
        "errand" => Act::Errand(Box::new(errand(rest)?)),
        "profile" => Act::Profile(Box::new(operator(rest)?)),
        "rig-file" => Act::RigFile(Box::new(rig(rest)?)),
        "mischief" => Act::Rig(mischief(rest, axes)?),
        "noise" => Act::Noise(noise(rest)?),
        "cable" => Act::Cable(named(&PLACE, rest)?),
        "port" => Act::Clog(named(&PORT, rest)?),
        "hush" => Act::Hush(span(rest)?),
        _ => {
            return Err(format!(
                "`{word}` is nothing that can be done; allowed are turns, late, pad, stop, mode, gear, \
                 call-off, reference, errand, profile, rig-file, mischief, noise, cable, port, \
                 hush"
            ));
        }
    })
}

fn reference(rest: &str) -> Result<Reference, String> {
    let (asked, again) = match rest.strip_suffix(" again") {
        Some(asked) => (asked, true),
        None => (rest, false),
    };
    let (axis, at) = asked.split_once(' ').unwrap_or((asked, ""));
    Ok(Reference {
        rig: 0,
        axis: number(axis)?,
        at: number(at)?,
        again,
    })
}

fn modes() -> [(&'static str, Mode); 4] {
    Mode::ALL.map(|mode| (mode.name(), mode))
}

fn noise(rest: &str) -> Result<Option<Noise>, String> {
    let words: Vec<&str> = rest.split_whitespace().collect();
    let [wrong, percent, seed] = words[..] else {
        return match rest {
            "off" => Ok(None),
            _ => Err(format!(
                "`{rest}` is no noise; allowed are `off`, or as in `flip 30 7`"
            )),
        };
    };
    let percent: u8 = number(percent)?;
    if percent > 100 {
        return Err(format!("{percent} is out of bounds: 0 to 100"));
    }
    Ok(Some(Noise {
        wrong: named(&Wrong::ALL.map(|wrong| (wrong.name(), wrong)), wrong)?,
        percent,
        seed: number(seed)?,
    }))
}

fn mischief(rest: &str, axes: &[&str]) -> Result<crate::link::mischief::Event, String> {
    let mut read = Mischief::default();
    read.add_now(rest, axes)
        .map_err(|problems| problems.to_string())?;
    read.now.pop().ok_or_else(|| "no event".to_owned())
}

fn pad_event(text: &str) -> Result<PadEvent, String> {
    let mut words = text.split_whitespace();
    let mut next = || words.next().unwrap_or("");
    let button = |name: &str| {
        Button::from_name(name)
            .ok_or_else(|| format!("`{name}` is no button: take one as east, tr"))
    };
    Ok(match next() {
        "plugged" => PadEvent::Plugged {
            bus: named(&BUSES, next())?,
            drives: named(&[("drives", true), ("stops", false)], next())?,
        },
        "unplugged" => PadEvent::Unplugged,
        "move" => {
            let name = next();
            let control = Control::from_name(name)
                .ok_or_else(|| format!("`{name}` is no stick or trigger: take one as rx, lt"))?;
            let value: f64 = number(next())?;
            if !(-1.0..=1.0).contains(&value) {
                return Err(format!("{value} is out of bounds: -1 to 1"));
            }
            PadEvent::Moved(control, value)
        }
        "press" => PadEvent::Pressed(button(next())?, true),
        "lift" => PadEvent::Pressed(button(next())?, false),
        "alive" => PadEvent::Alive,
        "bus" => PadEvent::Bus(named(&BUSES, next())?),
        other => {
            return Err(format!(
                "a pad does not `{other}`; allowed are plugged, unplugged, move, press, lift, alive, bus"
            ));
        }
    })
}

fn named<T: Copy>(names: &[(&str, T)], word: &str) -> Result<T, String> {
    let found = names.iter().find(|(name, _)| *name == word);
    found.map(|(_, value)| *value).ok_or_else(|| {
        let allowed: Vec<&str> = names.iter().map(|(name, _)| *name).collect();
        format!(
            "`{word}` is not known here; allowed are {}",
            allowed.join(", ")
        )
    })
}

fn number<T: std::str::FromStr>(word: &str) -> Result<T, String> {
    word.parse()
        .map_err(|_| format!("`{word}` is no number that is allowed here"))
}

fn span(rest: &str) -> Result<Span, String> {
    let number = rest.strip_suffix(" us").and_then(|n| n.parse::<u64>().ok());
    // An hour: more would only take time.
    let micros = number.filter(|n| (1..=3_600_000_000).contains(n));
    micros.map(Span::from_micros).ok_or_else(|| {
        format!("`{rest}` is no time; allowed are whole microseconds such as 4000 us")
    })
}

fn rig(text: &str) -> Result<Rig, String> {
    let rig: Rig = from_json(text, "a rig")?;
    match rig.is_sound() {
        true => Ok(rig),
        false => {
            Err("this rig cannot be: a limit is out of bounds; see the bounds of a rig file".into())
        }
    }
}

fn errand(text: &str) -> Result<Errand, String> {
    let errand: Errand = from_json(text, "an errand")?;
    match errand.is_sound() {
        true => Ok(errand),
        false => Err("this errand cannot be: a leg's number or time is out of bounds".into()),
    }
}

fn operator(text: &str) -> Result<Operator, String> {
    let operator: Operator = from_json(text, "a profile")?;
    match operator.is_sound() {
        true => Ok(operator),
        false => Err("this profile cannot be: see the bounds of an operator's file".into()),
    }
}

fn from_json<T: DeserializeOwned>(text: &str, what: &str) -> Result<T, String> {
    serde_json::from_str(text).map_err(|error| {
        format!("this is not {what} of this version: {error}; mend the text between its braces")
    })
}

#[cfg(test)]
mod tests;
