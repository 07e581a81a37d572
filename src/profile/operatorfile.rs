//! An operator profile whose values fit each other; its axes are still names.

use super::buttons::{self, Bound, Inched};
use super::controls::{Use, each_once, only_enables, source_text};
use super::curves;
use super::defaults::{
    self, DEADBAND_DEFAULT, GAIN_DEFAULT, LOSE_DEFAULT, SATURATION_DEFAULT, SHAKES_DEFAULT,
};
use super::field::{At, Field};
use super::problem::{Log, Problem, Problems};
use super::quantity::Quantity;
use super::rawhand::{self, RawHand, RawOperator};
use super::rigfile::millis;
use super::sticks::{Direction, same_feel};
use super::{Source, document};
use std::ops::Range;
use stillhand_engine::bindings::{Action, Bindings};
use stillhand_engine::feel::steady::Steady;
use stillhand_engine::feel::{Curve, Throw};
use stillhand_engine::operator::{
    self, Enable, Fine, Gears, Groups, Inch, Shakes, SpeedTrigger, Sticks,
};
use stillhand_engine::time::Span;
use stillhand_engine::units::{Speed, Unit};

/// An operator profile: all of it is valid, but whether a rig has its axes is not known yet.
/// [`OperatorFile::resolve`] holds it against the rigs.
#[derive(Clone, Debug, PartialEq)]
pub struct OperatorFile {
    /// The name the files and screens use.
    pub name: String,
    /// Free text for people.
    pub about: String,
    /// One entry for each axis, in the order of the file.
    pub hands: Vec<HandFile>,
    /// How the two directions of each stick go together.
    pub sticks: Sticks,
    /// The groups of axes that pads can hold.
    pub groups: Groups,
    /// A trigger that scales every speed.
    pub speed_trigger: Option<SpeedTrigger>,
    /// What is held down while an axis moves that asks for it.
    pub enable: Option<Enable>,
    /// What the buttons do.
    pub bindings: Bindings,
    /// The gear a start begins in, 0 the slowest.
    pub first_gear: u8,
    /// Whether a start begins in quiet.
    pub begins_quiet: bool,
    /// When pads may shake.
    pub shakes: Shakes,
    /// The path of the quiet file, beginning at the profile's folder; whoever read the profile
    /// reads it too.
    pub quiet: Option<String>,
    pub(super) quiet_span: Range<usize>,
    pub(super) source: Source,
}

/// How one axis is driven, as far as the file alone can say.
#[derive(Clone, Debug, PartialEq)]
pub struct HandFile {
    /// The name of the axis.
    pub axis: String,
    /// The id of the rig that has it, if the file names one.
    pub rig: Option<String>,
    /// Degrees or millimetres, as its speeds are written.
    pub unit: Unit,
    /// The place of its group in the profile's groups.
    pub group: u8,
    /// What drives it; none for an axis that is only inched.
    pub control: Option<operator::Source>,
    /// A second control for fine work.
    pub fine: Option<Fine>,
    /// What a press of inching does.
    pub inch: Option<Inch>,
    /// Taste: the stick's plus drives the axis minus.
    pub invert: bool,
    /// Deadband and saturation.
    pub throw: Throw,
    /// Speed against deflection.
    pub curve: Curve,
    /// Takes the trembling out of its controls; none leaves them as they are.
    pub steady: Option<Steady>,
    /// Full-stick speeds.
    pub gears: Gears,
    /// The fastest this operator ever wants this axis.
    pub ceiling: Option<Speed>,
    /// The fastest the picture bears, if it is to be a ceiling.
    pub framing: Option<Speed>,
    /// Time from rest to the gear's full speed.
    pub gain: Span,
    /// Time from full speed to rest.
    pub lose: Span,
    pub(super) axis_span: Range<usize>,
    pub(super) rig_span: Range<usize>,
    pub(super) unit_span: Range<usize>,
}

impl OperatorFile {
    /// What the file is, in one line: `operator "talk": pan rx, tilt ry; 3 gears`.
    pub fn summary(&self) -> String {
        let hand = |hand: &HandFile| match hand.control {
            Some(source) => format!("{} {}", hand.axis, source_text(source)),
            None => format!("{} inched", hand.axis),
        };
        let hands: Vec<String> = self.hands.iter().map(hand).collect();
        let most = self.hands.iter().map(|hand| hand.gears.count()).max();
        let gears = match most.unwrap_or(0) {
            1 => "1 gear".to_owned(),
            more => format!("{more} gears"),
        };
        format!("operator \"{}\": {}; {gears}", self.name, hands.join(", "))
    }

    /// What kept the quiet file from being read, shown where the profile names it.
    pub fn quiet_unreadable(&self, why: &Problem) -> Problems {
        let named = self.quiet.as_deref().unwrap_or_default();
        let message = format!("the quiet file can't be used: {}", why.message);
        let problem = Problem::at(self.quiet_span.clone(), message)
            .found(format!(
                "\"{}\": {}",
                super::problem::short(named),
                why.found
            ))
            .allowed(why.allowed.clone())
            .mend(format!(
                "{}; the path begins at the folder of this profile",
                why.mend
            ));
        Problems::one(self.source.clone(), problem)
    }
}

/// Reads an operator profile.
///
/// # Errors
///
/// Every problem of the file, in its order.
pub fn load_operator(source: &Source) -> Result<OperatorFile, Problems> {
    let mut log = Log::new(source);
    let file = document::parse(source, &mut log)
        .and_then(|root| rawhand::read(root.get_ref(), &mut log))
        .and_then(|raw| valid(&raw, &mut log));
    log.end(file)
}

fn valid(raw: &RawOperator, log: &mut Log) -> Option<OperatorFile> {
    let axes: Vec<&At<String>> = raw.hands.iter().map(|hand| &hand.axis).collect();
    let grouped = raw.groups.valid(&axes, log);
    let sticks = raw.sticks.valid(log);
    each_once(&uses(raw), log);
    let bindings = valid_bindings(raw, log);
    let speed_trigger = match &raw.speed_trigger {
        Field::Absent => Some(None),
        given => given.got().and_then(|at| at.value.valid(log)).map(Some),
    };
    let hands: Vec<Option<HandFile>> = raw.hands.iter().map(|hand| valid_hand(hand, log)).collect();
    if let Some(sticks) = &sticks {
        same_feel(sticks, &directions(&raw.hands, &hands), log);
    }
    let first_gear = valid_first_gear(raw, log);
    let begins_quiet = valid_begins_quiet(raw, log);
    let grouped = grouped?;
    let mut hands: Vec<HandFile> = hands.into_iter().collect::<Option<_>>()?;
    for (hand, group) in hands.iter_mut().zip(grouped.of_axis) {
        hand.group = group;
    }
    Some(OperatorFile {
        name: raw.name.value()?,
        about: raw.about.or(String::new())?,
        hands,
        sticks: sticks?,
        groups: grouped.groups,
        speed_trigger: speed_trigger?,
        enable: optional(&raw.enable)?,
        bindings: bindings?,
        first_gear: first_gear?,
        begins_quiet: begins_quiet?,
        shakes: raw.shakes.or(SHAKES_DEFAULT)?,
        quiet: optional(&raw.quiet)?,
        quiet_span: raw.quiet.span().unwrap_or(0..0),
        source: log.source().clone(),
    })
}

/// The value if one was given; `None` if it was refused.
fn optional<T: Clone>(field: &Field<T>) -> Option<Option<T>> {
    match field {
        Field::Absent => Some(None),
        given => given.value().map(Some),
    }
}

/// Every use of a stick direction or trigger.
fn uses(raw: &RawOperator) -> Vec<Use> {
    let mut uses = Vec::new();
    for hand in &raw.hands {
        let axis = &hand.axis.value;
        if let Some(source) = hand.control.got() {
            uses.extend(Use::all(source, &format!("axis {axis}")));
        }
        if let Some(source) = hand.fine.got().and_then(|at| at.value.source.got()) {
            uses.extend(Use::all(
                source,
                &format!("the fine control of axis {axis}"),
            ));
        }
    }
    if let Some(at) = raw
        .speed_trigger
        .got()
        .and_then(|at| at.value.control.got())
    {
        uses.push(Use {
            control: at.value,
            span: at.span.clone(),
            what: "[speed_trigger]".to_owned(),
        });
    }
    if let Some(at) = raw.enable.got()
        && let Enable::Trigger(control) = at.value
    {
        uses.push(Use {
            control,
            span: at.span.clone(),
            what: "`enable`".to_owned(),
        });
    }
    uses
}

/// The stick directions of axes whose feel is known.
fn directions<'a>(raw: &'a [RawHand], hands: &[Option<HandFile>]) -> Vec<Direction<'a>> {
    let mut list = Vec::new();
    for (raw, hand) in raw.iter().zip(hands) {
        let Some(hand) = hand else { continue };
        let sources = [hand.control, hand.fine.map(|fine| fine.source)];
        for source in sources.into_iter().flatten() {
            if let operator::Source::Stick(control) = source {
                list.push(Direction {
                    control,
                    axis: &raw.axis,
                    feel: (hand.throw, hand.curve),
                });
            }
        }
    }
    list
}

fn valid_bindings(raw: &RawOperator, log: &mut Log) -> Option<Bindings> {
    let inched: Vec<Inched> = raw
        .hands
        .iter()
        .map(|hand| Inched {
            axis: &hand.axis,
            inch: match &hand.inch {
                Field::Absent => None,
                Field::Bad => Some(hand.axis.span.clone()),
                Field::Got(at) => Some(at.span.clone()),
            },
        })
        .collect();
    let names = raw.groups.known().then(|| raw.groups.names());
    let bound: Vec<Bound> = raw.buttons.bound(names.as_deref(), &inched, log);
    only_enables(&raw.enable, &bound, log);
    buttons::valid(bound, raw.hands.len(), log)
}

/// Whoever begins in quiet must be able to leave it.
fn valid_begins_quiet(raw: &RawOperator, log: &mut Log) -> Option<bool> {
    let begins = raw.begins_quiet.or(false)?;
    if begins
        && let Some(span) = raw.begins_quiet.span()
        && !raw.buttons.binds(Action::Quiet)
    {
        log.push(
            Problem::at(span, "`begins_quiet` of [operator] has no way out")
                .found("no press for quiet")
                .allowed("true where a press in [buttons] switches quiet off")
                .mend("add `quiet = \"west\"` below [buttons], or another press"),
        );
        return None;
    }
    Some(begins)
}

/// The plain number of a quantity, or the default; `None` if it was refused.
fn number_or(field: &Field<Quantity>, default: f64) -> Option<f64> {
    match field {
        Field::Absent => Some(default),
        given => given.got().map(|at| at.value.plain()),
    }
}

fn valid_first_gear(raw: &RawOperator, log: &mut Log) -> Option<u8> {
    let most = raw
        .hands
        .iter()
        .filter_map(|hand| Some(hand.gears.got()?.value.len()))
        .max()?;
    let most = u8::try_from(most).ok()?;
    let at = match &raw.first_gear {
        Field::Absent => return Some(defaults::first_gear(most) - 1),
        given => given.got()?,
    };
    if at.value > i64::from(most) {
        let problem = Problem::at(
            at.span.clone(),
            "`first_gear` of [operator] is a gear no axis has",
        );
        log.push(
            problem
                .found(at.value.to_string())
                .allowed(format!("1 to {most}, the most gears an axis has here"))
                .mend("choose one of those, or leave the line out for the middle gear"),
        );
        return None;
    }
    u8::try_from(at.value - 1).ok()
}

fn valid_hand(raw: &RawHand, log: &mut Log) -> Option<HandFile> {
    // Each of these reports what it finds; none may keep another from being looked at.
    let throw = valid_throw(raw, log);
    let curve = curves::valid_curve(raw, log);
    let steady = curves::valid_steady(&raw.steady);
    let gears = valid_gears(raw, log);
    let speed = |field: &Field<Quantity>| {
        optional(field).map(|given| given.map(|quantity| Speed(quantity.number)))
    };
    let control = match (&raw.control, &raw.inch) {
        // Without either the table has said that `control` is missing.
        (Field::Absent, Field::Absent) => return None,
        (Field::Absent, _) => None,
        (given, _) => Some(given.value()?),
    };
    let fine = match &raw.fine {
        Field::Absent => None,
        given => Some(given.got()?.value.valid()?),
    };
    let inch = match &raw.inch {
        Field::Absent => None,
        given => {
            let inch = &given.got()?.value;
            Some(Inch {
                step: inch.step.got()?.value.number,
                creep: Speed(inch.creep.got()?.value.number),
            })
        }
    };
    let unit_at = raw.gears.got()?.value.first()?;
    Some(HandFile {
        axis: raw.axis.value.clone(),
        rig: optional(&raw.rig)?,
        unit: unit_at.value.axis_unit()?,
        group: 0,
        control,
        fine,
        inch,
        invert: raw.invert.or(false)?,
        throw: throw?,
        curve: curve?,
        steady: steady?,
        gears: gears?,
        ceiling: speed(&raw.ceiling)?,
        framing: speed(&raw.framing)?,
        gain: millis(number_or(&raw.gain, GAIN_DEFAULT)?),
        lose: millis(number_or(&raw.lose, LOSE_DEFAULT)?),
        axis_span: raw.axis.span.clone(),
        rig_span: raw.rig.span().unwrap_or(raw.axis.span.clone()),
        unit_span: unit_at.span.clone(),
    })
}

fn valid_throw(raw: &RawHand, log: &mut Log) -> Option<Throw> {
    let deadband = number_or(&raw.deadband, DEADBAND_DEFAULT)?;
    let saturation = number_or(&raw.saturation, SATURATION_DEFAULT)?;
    let throw = Throw::new(deadband / 100.0, saturation / 100.0);
    if throw.is_none() {
        let axis = &raw.axis.value;
        // At least one of them was given: the defaults fit each other.
        let at = raw.saturation.got().or(raw.deadband.got())?;
        log.push(
            Problem::at(
                at.span.clone(),
                format!("`deadband` and `saturation` of axis {axis} are too close"),
            )
            .found(format!("{deadband} % and {saturation} %"))
            .allowed("saturation at least 30 points above deadband, or no way is left to steer in")
            .mend("lower the deadband or raise the saturation"),
        );
    }
    throw
}

fn valid_gears(raw: &RawHand, log: &mut Log) -> Option<Gears> {
    let list = &raw.gears.got()?.value;
    for pair in list.windows(2) {
        let (slow, fast) = (&pair[0], &pair[1]);
        if fast.value.number <= slow.value.number {
            log.push(
                Problem::at(
                    fast.span.clone(),
                    format!("`gears` of axis {} do not rise", raw.axis.value),
                )
                .found(format!("\"{}\"", fast.value.text()))
                .also(slow.span.clone(), "not below this one")
                .allowed("speeds in rising order, slowest first: a gear up is always faster")
                .mend("put them in order, or take one of two equal ones out"),
            );
        }
    }
    let speeds: Vec<Speed> = list.iter().map(|at| Speed(at.value.number)).collect();
    Gears::new(&speeds)
}
