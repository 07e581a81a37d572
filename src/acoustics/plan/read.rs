//! A plan out of its text.

use super::{Does, LONGEST_S, MOST_STEPS, Move, Plan, PlanAxis, Step};
use std::fmt;
use std::ops::Range;
use stillhand_engine::units::Unit;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// The version of plans that is read.
const VERSION: i64 = 1;
/// Times of a plan are whole milliseconds; steps may touch each other within this, in s.
const TOUCHES_S: f64 = 0.002;
/// Positions, speeds and the like above this are a slip of the pen.
const LARGEST: f64 = 1e9;

/// Why a text is no plan.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlanError {
    /// The line it is about, from 1.
    pub line: usize,
    /// What is wrong, and what is allowed.
    pub what: String,
}

impl fmt::Display for PlanError {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        write!(f, "line {}: {}", self.line, self.what)
    }
}

type Fault = (Range<usize>, String);

/// Reads a plan.
///
/// # Errors
///
/// The first thing that is wrong with it: a plan is written by the program, so there is mostly one.
pub fn read(text: &str) -> Result<Plan, PlanError> {
    let place = |(span, what): Fault| PlanError {
        line: text.get(..span.start).unwrap_or(text).matches('\n').count() + 1,
        what,
    };
    let root = DeTable::parse(text).map_err(|error| {
        place((
            error.span().unwrap_or(0..0),
            format!("not valid TOML: {}", error.message()),
        ))
    })?;
    plan(&root).map_err(place)
}

/// A table whose keys are all asked for in one go.
struct Table<'a> {
    span: Range<usize>,
    table: &'a DeTable<'a>,
}

impl<'a> Table<'a> {
    fn of(value: &'a Spanned<DeValue<'a>>) -> Result<Table<'a>, Fault> {
        let table = value.get_ref().as_table();
        let table = table.ok_or_else(|| (value.span(), "this must be a table".to_owned()))?;
        let span = value.span();
        Ok(Table { span, table })
    }

    fn only(&self, keys: &[&str]) -> Result<(), Fault> {
        match self
            .table
            .keys()
            .find(|key| !keys.contains(&key.get_ref().as_ref()))
        {
            None => Ok(()),
            Some(key) => {
                let what = format!(
                    "unknown key `{}`; known: {}",
                    key.get_ref(),
                    keys.join(", ")
                );
                Err((key.span(), what))
            }
        }
    }

    fn get(&self, key: &str) -> Result<&'a Spanned<DeValue<'a>>, Fault> {
        let missing = || (self.span.clone(), format!("`{key}` is missing"));
        self.table.get(key).ok_or_else(missing)
    }

    fn text(&self, key: &str) -> Result<(&'a str, Range<usize>), Fault> {
        let value = self.get(key)?;
        let text = value.get_ref().as_str();
        let wrong = || (value.span(), format!("`{key}` must be text in quotes"));
        Ok((text.ok_or_else(wrong)?, value.span()))
    }

    fn quantity(&self, key: &str, unit: &str) -> Result<f64, Fault> {
        let (text, span) = self.text(key)?;
        quantity(text, unit).ok_or_else(|| (span, wanted(key, unit)))
    }

    fn above_0(&self, key: &str, unit: &str) -> Result<f64, Fault> {
        let (_, span) = self.text(key)?;
        match self.quantity(key, unit)? {
            number if number > 0.0 => Ok(number),
            _ => Err((span, format!("`{key}` must be above 0"))),
        }
    }

    fn whole(&self, key: &str) -> Result<i64, Fault> {
        let value = self.get(key)?;
        let number = match value.get_ref() {
            DeValue::Integer(number) => i64::from_str_radix(number.as_str(), number.radix()).ok(),
            _ => None,
        };
        number.ok_or_else(|| (value.span(), format!("`{key}` must be a whole number")))
    }

    fn list(&self, key: &str) -> Result<&'a [Spanned<DeValue<'a>>], Fault> {
        let value = self.get(key)?;
        list(value).ok_or_else(|| (value.span(), format!("`{key}` must be a list")))
    }
}

fn list<'a>(value: &'a Spanned<DeValue<'a>>) -> Option<&'a [Spanned<DeValue<'a>>]> {
    value.get_ref().as_array().map(|list| &list[..])
}

fn wanted(key: &str, unit: &str) -> String {
    format!("`{key}` must be a number in {unit}, as in \"1.5 {unit}\"")
}

fn quantity(text: &str, unit: &str) -> Option<f64> {
    let number: f64 = text.strip_suffix(unit)?.trim_end().parse().ok()?;
    (number.abs() <= LARGEST).then_some(number)
}

fn plan(root: &Spanned<DeTable>) -> Result<Plan, Fault> {
    let top = Table {
        span: root.span(),
        table: root.get_ref(),
    };
    if !top.table.contains_key("plan") {
        return Err((0..0, "this is no plan: it has no [plan]".to_owned()));
    }
    top.only(&["plan", "axis"])?;
    let head = Table::of(top.get("plan")?)?;
    head.only(&["version", "rig", "lasts", "steps"])?;
    let version = head.whole("version")?;
    if version != VERSION {
        let what = format!("this plan has version {version}; {VERSION} is read: make it anew");
        return Err((head.get("version")?.span(), what));
    }
    let rig = head.text("rig")?.0.to_owned();
    // Told for people; it follows from the steps.
    head.quantity("lasts", "s")?;
    let axes = axes(&top)?;
    let mut plan = Plan {
        rig,
        axes,
        steps: Vec::new(),
    };
    let all = head.list("steps")?;
    if all.len() > MOST_STEPS {
        let what = format!("{} steps; at most {MOST_STEPS} are read", all.len());
        return Err((head.get("steps")?.span(), what));
    }
    for value in all {
        let step = step(value, &plan.axes)?;
        let after = plan.steps.last().map_or(0.0, Step::ends);
        if step.at < after - TOUCHES_S {
            let what = "this step begins before the one before it has ended";
            return Err((value.span(), what.to_owned()));
        }
        plan.steps.push(step);
    }
    whole(&plan, &head)?;
    Ok(plan)
}

/// What must be there so that a recording can be held against it.
fn whole(plan: &Plan, head: &Table) -> Result<(), Fault> {
    let missing = |what: &str| Err((head.span.clone(), what.to_owned()));
    let has = |f: fn(&Does) -> bool| plan.steps.iter().any(|step| f(&step.does));
    if plan.lasts() > LONGEST_S {
        return missing("this plan takes more than four hours");
    }
    if !has(|does| matches!(does, Does::Room)) || !has(|does| matches!(does, Does::Still)) {
        return missing("a plan needs a step of room tone and one of standstill");
    }
    if !has(|does| matches!(does, Does::Speed(..))) {
        return missing("this plan has no rung of speed");
    }
    Ok(())
}

fn axes(top: &Table) -> Result<Vec<PlanAxis>, Fault> {
    let table = Table::of(top.get("axis")?)?;
    let mut axes = Vec::new();
    let mut entries: Vec<_> = table.table.iter().collect();
    entries.sort_by_key(|(name, _)| name.span().start);
    for (name, value) in entries {
        let axis = Table::of(value)?;
        axis.only(&["start"])?;
        let (start, span) = axis.text("start")?;
        let unit = match start.trim_end() {
            text if text.ends_with(Unit::Deg.symbol()) => Unit::Deg,
            _ => Unit::Mm,
        };
        let wrong = || {
            (
                span,
                "`start` must be a position, as in \"0 deg\"".to_owned(),
            )
        };
        axes.push(PlanAxis {
            name: name.get_ref().to_string(),
            unit,
            start: quantity(start, unit.symbol()).ok_or_else(wrong)?,
        });
    }
    Ok(axes)
}

fn step(value: &Spanned<DeValue>, axes: &[PlanAxis]) -> Result<Step, Fault> {
    let table = Table::of(value)?;
    let (at, lasts) = (table.quantity("at", "s")?, table.above_0("lasts", "s")?);
    let (does, span) = table.text("does")?;
    let rung = || -> Result<usize, Fault> {
        match usize::try_from(table.whole("rung")?) {
            Ok(rung @ 1..=MOST_STEPS) => Ok(rung),
            _ => Err((span.clone(), "`rung` counts from 1".to_owned())),
        }
    };
    const MOVE: [&str; 9] = [
        "at", "lasts", "does", "listen", "axis", "speed", "accel", "jerk", "way",
    ];
    let (keys, rung_key): (&[&str], bool) = match does {
        "room" | "still" => (&MOVE[..4], false),
        "mark" | "go" => (&MOVE, false),
        _ => (&MOVE, true),
    };
    let mut keys = keys.to_vec();
    if rung_key {
        keys.push("rung");
    }
    table.only(&keys)?;
    let does = match does {
        "room" => Does::Room,
        "still" => Does::Still,
        "mark" => Does::Mark(movement(&table, axes, lasts)?),
        "speed" => Does::Speed(rung()?, movement(&table, axes, lasts)?),
        "ramp" => Does::Ramp(rung()?, movement(&table, axes, lasts)?),
        "go" => Does::Go(movement(&table, axes, lasts)?),
        other => {
            let what = format!("a step can't do {other:?}; room, still, mark, speed, ramp or go");
            return Err((span, what));
        }
    };
    let listen = match table.table.contains_key("listen") {
        true => listen(&table)?,
        false => Vec::new(),
    };
    let judged = !matches!(does, Does::Mark(_) | Does::Go(_));
    if judged && listen.is_empty() {
        return Err((table.span, "`listen` is missing".to_owned()));
    }
    if at < 0.0 || at + lasts > LONGEST_S {
        return Err((
            table.span,
            "this step is not inside of four hours".to_owned(),
        ));
    }
    Ok(Step {
        at,
        lasts,
        does,
        listen,
    })
}

fn movement(table: &Table, axes: &[PlanAxis], lasts: f64) -> Result<Move, Fault> {
    let (name, span) = table.text("axis")?;
    let axis = axes.iter().position(|axis| axis.name == name);
    let axis = axis.ok_or_else(|| (span, format!("no [axis.{name}] in this plan")))?;
    let unit = axes[axis].unit.symbol();
    let (way, span) = table.text("way")?;
    let plus = match way {
        "plus" => true,
        "minus" => false,
        _ => return Err((span, "`way` is \"plus\" or \"minus\"".to_owned())),
    };
    let moving = Move {
        axis,
        speed: table.above_0("speed", &format!("{unit}/s"))?,
        accel: table.above_0("accel", &format!("{unit}/s^2"))?,
        jerk: table.above_0("jerk", &format!("{unit}/s^3"))?,
        plus,
    };
    if 2.0 * moving.ramp_s() > lasts + TOUCHES_S {
        let what = format!("a move with these ramps takes longer than {lasts} s");
        return Err((table.span.clone(), what));
    }
    Ok(moving)
}

fn listen(table: &Table) -> Result<Vec<(f64, f64)>, Fault> {
    let mut pairs = Vec::new();
    for value in table.list("listen")? {
        let wrong = || {
            let what = "`listen` is a list of times from and to, as in [[\"1 s\", \"5 s\"]]";
            (value.span(), what.to_owned())
        };
        let pair = list(value).ok_or_else(wrong)?;
        let times: Vec<f64> = pair
            .iter()
            .filter_map(|time| quantity(time.get_ref().as_str()?, "s"))
            .collect();
        match (pair.len(), times.as_slice()) {
            (2, [from, to]) if from < to && (0.0..=LONGEST_S).contains(from) => {
                pairs.push((*from, *to));
            }
            _ => return Err(wrong()),
        }
    }
    Ok(pairs)
}
