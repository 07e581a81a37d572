//! What a scenario can expect: one kind a line, read from words and held against the world.

use super::cover::{Cover, Given};
use super::presses::Presses;
use super::words::{Read, Rest, rest};
use stillhand::cli::words;
use stillhand::shell::lines::{ScriptProblem, nearest};
use stillhand::soak::world::World;
use stillhand_engine::output::{AxisStatus, Ceiling, Mover};
use stillhand_engine::rig::Rig;

/// The states, as the screens call them.
const STATES: [&str; 10] = [
    "no link",
    "POWER OFF",
    "rig fault",
    "rig stopped",
    "no pad",
    "stopped",
    "withheld",
    "driving",
    "still",
    "ending",
];

/// All kinds, for messages.
pub const KINDS: [&str; 18] = [
    "state",
    "says",
    "told",
    "speed",
    "motor",
    "position",
    "full-stick",
    "binding",
    "gear",
    "rest",
    "moving",
    "notice",
    "no",
    "pad",
    "mover",
    "armed",
    "referenced",
    "ended",
];

/// Something that must hold at one moment.
pub enum Expect {
    /// The state's word, and a part of its sentence.
    State(String, Option<String>),
    /// The very words of the status.
    Says(String),
    /// The very words of a notice that has come since the last one expected.
    Told(String),
    /// A figure of an axis.
    Figure(Figure, usize, Range),
    /// The ceiling that binds an axis.
    Binding(usize, Ceiling),
    /// The gear, 1 the slowest.
    Gear(u8),
    /// Neither frames nor mechanics move.
    Rest,
    /// The frames move this axis.
    Moving(usize),
    /// A notice with this text has come since the last one expected.
    Notice(String),
    /// No notice so far has this text.
    NoNotice(String),
    /// The pad in control, 1 the first.
    Pad(Option<u8>),
    /// What moves an axis.
    Mover(usize, Mover),
    /// Whether an axis's control has been centred since motion was withheld.
    Armed(usize, bool),
    /// Whether an axis knows where it is.
    Referenced(usize, bool),
    /// The daemon is done.
    Ended,
}

/// A figure of an axis, in the picture's sense and the axis's unit.
#[derive(Clone, Copy)]
pub enum Figure {
    /// Of the last frame.
    Speed,
    /// Of the motor, whatever the mount makes of it in the picture.
    Motor,
    /// Of the mechanics.
    Position,
    /// Of a full stick.
    FullStick,
}

/// What a figure may be.
pub enum Range {
    Near(f64, f64),
    Above(f64),
    Below(f64),
}

/// What there is to look at.
pub struct View<'a> {
    /// What the words are about.
    pub about: words::About<'a>,
    pub world: &'a World,
    /// Every notice so far.
    pub notices: &'a [Given],
    /// How many of them were expected or passed over before.
    pub seen: &'a mut usize,
    /// The presses so far.
    pub presses: &'a Presses,
    /// What is expected and so.
    pub cover: &'a mut Cover,
}

impl Expect {
    /// Reads what stands behind `expect`.
    pub fn read(words: &mut Rest<'_, '_>, rig: &Rig) -> Read<Expect> {
        let kind = words.next(&KINDS.join(" "))?;
        let read = match kind.text {
            "state" => {
                let text = words.quoted()?;
                Expect::State(state(words)?, text)
            }
            "says" => Expect::Says(words.wanted_quoted()?),
            "told" => Expect::Told(words.wanted_quoted()?),
            "speed" => figure(Figure::Speed, words, rig)?,
            "motor" => figure(Figure::Motor, words, rig)?,
            "position" => figure(Figure::Position, words, rig)?,
            "full-stick" => figure(Figure::FullStick, words, rig)?,
            "binding" => Expect::Binding(
                axis(words, rig)?,
                words.choice(&Ceiling::ALL.map(|c| (c.name(), c)))?,
            ),
            "gear" => Expect::Gear(words.whole(1, 8)? as u8),
            "rest" => Expect::Rest,
            "moving" => Expect::Moving(axis(words, rig)?),
            "notice" => Expect::Notice(words.wanted_quoted()?),
            "no" => {
                words.choice(&[("notice", ())])?;
                Expect::NoNotice(words.wanted_quoted()?)
            }
            "pad" => Expect::Pad(match words.peek() {
                Some("none") => words.choice(&[("none", None)])?,
                _ => Some(words.whole(1, 8)? as u8),
            }),
            "mover" => Expect::Mover(axis(words, rig)?, words.choice(&MOVERS)?),
            "armed" => Expect::Armed(axis(words, rig)?, words.choice(&YES)?),
            "referenced" => Expect::Referenced(axis(words, rig)?, words.choice(&YES)?),
            "ended" => Expect::Ended,
            other => {
                let like = nearest(other, KINDS)
                    .map_or_else(String::new, |name| format!("; did you mean {name}?"));
                return Err(Box::new(kind.problem(
                    "nothing of this name can be expected",
                    &KINDS.join(" "),
                    &format!("take one of the list{like}"),
                )));
            }
        };
        rest(words)?;
        Ok(read)
    }

    /// Holds it against the world.
    ///
    /// # Errors
    /// What was found instead.
    pub fn check(&self, view: &mut View<'_>) -> Result<(), String> {
        self.holds(view)?;
        self.count(view);
        Ok(())
    }

    /// Counts the rows that this expects.
    fn count(&self, view: &mut View<'_>) {
        let outputs = view.world.outputs();
        let state = outputs.status.state;
        match self {
            Expect::State(..) => view.cover.state(state),
            Expect::Says(text) => view.cover.says(text, state, &view.about),
            Expect::Told(_) => view.cover.told(&view.notices[*view.seen - 1]),
            Expect::Binding(_, ceiling) => view.cover.binding(*ceiling),
            Expect::Mover(axis, Mover::Inching) => {
                let moves = view.world.speeds()[*axis] != 0.0;
                let now = view.world.now();
                view.cover.inching(now, *axis, moves, view.presses);
            }
            _ => {}
        }
    }

    fn holds(&self, view: &mut View<'_>) -> Result<(), String> {
        let outputs = view.world.outputs();
        let axis = |place: usize| -> &AxisStatus { &outputs.rigs[0].axes[place] };
        let status = &outputs.status;
        let holds = |holds: bool, found: String| if holds { Ok(()) } else { Err(found) };
        match self {
            Expect::State(word, text) => {
                let found = words::state(status.state);
                let sentence = words::sentence(status.state, &view.about);
                let said = text.as_ref().is_none_or(|text| sentence.contains(text));
                holds(
                    found == word && said,
                    format!("state {found} \"{sentence}\""),
                )
            }
            Expect::Says(text) => {
                let found = words::says(status, &outputs.rigs[0].axes, &view.about);
                holds(found == *text, format!("{found:?}"))
            }
            Expect::Figure(figure, place, range) => {
                let found = match figure {
                    Figure::Speed => view.world.speeds()[*place],
                    Figure::Motor => view.world.motor_speed(*place),
                    Figure::Position => view.world.truth(*place),
                    Figure::FullStick => axis(*place).full_stick,
                };
                holds(range.has(found), format!("{found:.4}"))
            }
            Expect::Binding(place, ceiling) => {
                let found = axis(*place).binding;
                let name = found.map_or("none", |c| c.name());
                holds(found == Some(*ceiling), format!("binding {name}"))
            }
            Expect::Gear(gear) => holds(
                status.groups[0].gear + 1 == *gear,
                format!("gear {}", status.groups[0].gear + 1),
            ),
            Expect::Rest => {
                let moving = moving(view.world);
                holds(moving.is_empty(), format!("moving: {}", moving.join(", ")))
            }
            Expect::Moving(place) => {
                holds(view.world.speeds()[*place] != 0.0, "at rest".to_owned())
            }
            Expect::Told(text) => find(view, |notice| notice == text),
            Expect::Notice(text) => find(view, |notice| notice.contains(text)),
            Expect::NoNotice(text) => {
                let texts = view.notices.iter().map(|given| &given.text);
                let said = texts.into_iter().find(|said| said.contains(text));
                said.map_or(Ok(()), |said| Err(format!("it was said: {said:?}")))
            }
            Expect::Pad(pad) => {
                let found = status.pad().map(|pad| pad.0 + 1);
                let name = found.map_or("none".to_owned(), |n| n.to_string());
                holds(found == *pad, format!("pad {name}"))
            }
            Expect::Mover(place, mover) => {
                let found = axis(*place).mover;
                holds(found == *mover, format!("mover {found:?}"))
            }
            Expect::Armed(place, armed) => {
                let found = axis(*place).armed;
                holds(found == *armed, format!("armed {}", yes(found)))
            }
            Expect::Referenced(place, known) => {
                let found = axis(*place).referenced;
                holds(found == *known, format!("referenced {}", yes(found)))
            }
            Expect::Ended => holds(outputs.ended, "not ended".to_owned()),
        }
    }
}

/// Looks for a notice among those that were not expected yet.
fn find(view: &mut View<'_>, is: impl Fn(&str) -> bool) -> Result<(), String> {
    let new = &view.notices[*view.seen..];
    let Some(place) = new.iter().position(|given| is(&given.text)) else {
        let texts: Vec<&str> = new.iter().map(|given| given.text.as_str()).collect();
        return Err(format!("not among the new ones: {texts:?}"));
    };
    *view.seen += place + 1;
    Ok(())
}

const MOVERS: [(&str, Mover); 4] = [
    ("sticks", Mover::Sticks),
    ("sustain", Mover::Sustain),
    ("inching", Mover::Inching),
    ("errand", Mover::Errand),
];

const YES: [(&str, bool); 2] = [("yes", true), ("no", false)];

fn yes(is: bool) -> &'static str {
    if is { "yes" } else { "no" }
}

/// What moves, frames or mechanics, with its speeds.
fn moving(world: &World) -> Vec<String> {
    let axes = world.rig().axes.iter().enumerate();
    let speeds = axes.map(|(n, axis)| (axis, world.speeds()[n], world.true_speed(n)));
    // Mechanics even a command out: the last bits of a sum are left, below any count.
    let moving = speeds
        .filter(|(axis, sent, real)| *sent != 0.0 || (real * axis.counts_per_unit).abs() > 1e-6);
    moving
        .map(|(axis, sent, real)| format!("{} sent {sent:.4}, real {real:.4}", axis.name))
        .collect()
}

impl Range {
    fn has(&self, found: f64) -> bool {
        match self {
            Range::Near(value, by) => (found - value).abs() <= *by,
            Range::Above(value) => found > *value,
            Range::Below(value) => found < *value,
        }
    }
}

fn state(words: &mut Rest<'_, '_>) -> Read<String> {
    let allowed = STATES.join(", ");
    let first = words.next(&allowed)?;
    let mut word = first.text.to_owned();
    let second = match first.text {
        "no" => Some("link or pad"),
        "POWER" => Some("OFF"),
        "rig" => Some("fault or stopped"),
        _ => None,
    };
    if let Some(second) = second {
        word = format!("{word} {}", words.next(second)?.text);
    }
    if STATES.contains(&word.as_str()) {
        return Ok(word);
    }
    let like =
        nearest(&word, STATES).map_or_else(String::new, |name| format!("; did you mean {name}?"));
    Err(Box::new(first.problem(
        "there is no such state",
        &allowed,
        &format!("take one of the list{like}"),
    )))
}

fn axis(words: &mut Rest<'_, '_>, rig: &Rig) -> Read<usize> {
    let names: Vec<(&str, usize)> = rig
        .axes
        .iter()
        .enumerate()
        .map(|(place, axis)| (axis.name.as_str(), place))
        .collect();
    words.choice(&names)
}

fn figure(figure: Figure, words: &mut Rest<'_, '_>, rig: &Rig) -> Read<Expect> {
    let axis = axis(words, rig)?;
    let range = match words.peek() {
        Some(">") => {
            words.next(">")?;
            Range::Above(words.number()?)
        }
        Some("<") => {
            words.next("<")?;
            Range::Below(words.number()?)
        }
        _ => {
            let value = words.number()?;
            let near = words.next("how near, such as +-0.01")?;
            Range::Near(value, tolerance(&near)?)
        }
    };
    Ok(Expect::Figure(figure, axis, range))
}

fn tolerance(word: &stillhand::shell::lines::Word<'_>) -> Result<f64, Box<ScriptProblem>> {
    let by = word.text.strip_prefix("+-").and_then(|by| by.parse().ok());
    by.filter(|by: &f64| *by >= 0.0).ok_or_else(|| {
        Box::new(word.problem(
            "this does not say how near",
            "+- and a number, in one word",
            "write it behind the value, such as `+-0.01`",
        ))
    })
}
