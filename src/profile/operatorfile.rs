//! An operator profile whose values fit each other; its axes are still names.

use super::defaults;
use super::field::Field;
use super::groups::{Grouped, valid_groups};
use super::hands::valid_hand;
use super::once::each_once;
use super::presses::valid_bindings;
use super::problem::{Log, Problem, Problems, short};
use super::quantity::Quantity;
use super::quietfile::QuietFile;
use super::rawhand::{self, RawOperator};
use super::sticks::{alike_on_radial, valid_sticks, valid_trigger};
use super::{Source as Text, document};
use std::ops::Range;
use stillhand_engine::bindings::Bindings;
use stillhand_engine::feel::{Curve, Throw};
use stillhand_engine::operator::{Enable, Fine, Gears, Groups, Inch, Source, SpeedTrigger, Sticks};
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
    /// Where the ceilings of quiet come from.
    pub quiet: QuietFrom,
    pub(super) source: Text,
}

/// Where the ceilings of quiet come from.
#[derive(Clone, Debug, PartialEq)]
pub enum QuietFrom {
    /// Nobody has measured.
    Nothing,
    /// From a file that has not been read yet: the profile can't be resolved before it is.
    Named(QuietPath),
    /// From this file.
    File(Box<QuietFile>),
}

/// The quiet file that a profile names.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct QuietPath {
    /// As written: relative to the folder of the profile, or absolute.
    pub path: String,
    pub(super) span: Range<usize>,
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
    /// Which of the groups it belongs to.
    pub group: u8,
    /// What drives it; `None` if it is only inched.
    pub control: Option<Source>,
    /// A second control whose demand is added.
    pub fine: Option<Fine>,
    /// What a press of inching does.
    pub inch: Option<Inch>,
    /// Taste: the stick's plus drives the axis minus.
    pub invert: bool,
    /// Deadband and saturation.
    pub throw: Throw,
    /// Speed against deflection.
    pub curve: Curve,
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

impl HandFile {
    /// What drives it, as short as can be: `rx`, `rt/lt`, `rx+lx`, `inched`.
    fn driven_by(&self) -> String {
        let short = |source| match source {
            Source::Stick(control) => control.name().to_owned(),
            Source::Pair { plus, minus } => format!("{}/{}", plus.name(), minus.name()),
        };
        match (self.control, self.fine) {
            (None, _) => "inched".to_owned(),
            (Some(coarse), None) => short(coarse),
            (Some(coarse), Some(fine)) => format!("{}+{}", short(coarse), short(fine.source)),
        }
    }
}

impl OperatorFile {
    /// What the file is, in one line: `operator "talk": pan rx, tilt ry; 3 gears`.
    pub fn summary(&self) -> String {
        let hand = |hand: &HandFile| format!("{} {}", hand.axis, hand.driven_by());
        let hands: Vec<String> = self.hands.iter().map(hand).collect();
        let most = self.hands.iter().map(|hand| hand.gears.count()).max();
        let gears = match most.unwrap_or(0) {
            1 => "1 gear".to_owned(),
            more => format!("{more} gears"),
        };
        format!("operator \"{}\": {}; {gears}", self.name, hands.join(", "))
    }

    /// The quiet file that is still to be read, as written in the profile.
    pub fn wants_quiet(&self) -> Option<&str> {
        match &self.quiet {
            QuietFrom::Named(named) => Some(&named.path),
            QuietFrom::Nothing | QuietFrom::File(_) => None,
        }
    }

    /// That the quiet file it names gives no text, as a problem of the profile.
    pub fn without_quiet(&self, why: &Problems) -> Problems {
        let QuietFrom::Named(named) = &self.quiet else {
            return why.clone();
        };
        let told = why.list().first();
        let told =
            |part: fn(&Problem) -> &String| told.map_or("", |problem| part(problem).as_str());
        let message = format!("the quiet file: {}", told(|problem| &problem.message));
        let problem = Problem::at(named.span.clone(), message)
            .found(format!(
                "\"{}\": {}",
                short(&named.path),
                told(|p| &p.found)
            ))
            .allowed("the path of a quiet file, from the folder of this profile")
            .mend(told(|problem| &problem.mend));
        Problems::one(self.source.clone(), problem)
    }

    /// With the quiet file it names.
    pub fn with_quiet(mut self, file: QuietFile) -> OperatorFile {
        self.quiet = QuietFrom::File(Box::new(file));
        self
    }
}

/// Reads an operator profile. The quiet file it may name is for the caller to read: see
/// [`OperatorFile::wants_quiet`].
///
/// # Errors
///
/// Every problem of the file, in its order.
pub fn load_operator(source: &Text) -> Result<OperatorFile, Problems> {
    let mut log = Log::new(source);
    let file = document::parse(source, &mut log)
        .and_then(|root| rawhand::read(root.get_ref(), &mut log))
        .and_then(|raw| valid(&raw, &mut log));
    log.end(file)
}

fn valid(raw: &RawOperator, log: &mut Log) -> Option<OperatorFile> {
    // Each of these reports what it finds; none may keep another from being looked at.
    let grouped = valid_groups(raw, log);
    let bindings = valid_bindings(raw, log);
    let hands: Vec<Option<HandFile>> = raw.hands.iter().map(|hand| valid_hand(hand, log)).collect();
    let sticks = valid_sticks(&raw.sticks, log);
    let speed_trigger = valid_trigger(&raw.speed_trigger, log);
    let first_gear = valid_first_gear(raw, log);
    each_once(raw, log);
    let sticks = sticks?;
    alike_on_radial(raw, &hands, &sticks, log);
    let Grouped { groups, of } = grouped?;
    let mut hands = hands.into_iter().collect::<Option<Vec<HandFile>>>()?;
    for (hand, group) in hands.iter_mut().zip(of) {
        hand.group = group;
    }
    Some(OperatorFile {
        name: raw.name.value()?,
        about: raw.about.or(String::new())?,
        hands,
        sticks,
        groups,
        speed_trigger: speed_trigger?,
        enable: match &raw.enable {
            Field::Absent => None,
            given => Some(given.value()?),
        },
        bindings: bindings?,
        first_gear: first_gear?,
        begins_quiet: raw.begins_quiet.or(false)?,
        quiet: match &raw.quiet {
            Field::Absent => QuietFrom::Nothing,
            given => given.got().map(|at| {
                QuietFrom::Named(QuietPath {
                    path: at.value.clone(),
                    span: at.span.clone(),
                })
            })?,
        },
        source: log.source().clone(),
    })
}

/// The plain number of a quantity, or the default; `None` if it was refused.
pub(super) fn number_or(field: &Field<Quantity>, default: f64) -> Option<f64> {
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
