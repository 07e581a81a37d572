//! An operator profile whose values fit each other; its axes are still names.

use super::defaults::{
    self, DEADBAND_DEFAULT, GAIN_DEFAULT, HALF_OF_LINEAR, LOSE_DEFAULT, SATURATION_DEFAULT,
    WEDGE_DEFAULT,
};
use super::field::Field;
use super::press::{self, RawBinding};
use super::problem::{Log, Problem, Problems};
use super::quantity::Quantity;
use super::rawhand::{self, CurveWord, RawHand, RawOperator};
use super::rigfile::millis;
use super::{Source, document};
use std::ops::Range;
use stillhand_engine::bindings::{Action, Bindings};
use stillhand_engine::feel::{Curve, Throw};
use stillhand_engine::input::Control;
use stillhand_engine::operator::{Enable, Gears, Inch, StickShape, Sticks};
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
    /// What the buttons do; inching names its hand by the place in `hands`.
    pub bindings: Bindings,
    /// What is held down while an axis moves that asks for it.
    pub enable: Option<Enable>,
    /// Whether a start begins in quiet.
    pub begins_quiet: bool,
    /// The gear a start begins in, 0 the slowest.
    pub first_gear: u8,
    pub(super) source: Source,
}

/// How one control drives one axis, as far as the file alone can say.
#[derive(Clone, Debug, PartialEq)]
pub struct HandFile {
    /// The name of the axis.
    pub axis: String,
    /// The id of the rig that has it, if the file names one.
    pub rig: Option<String>,
    /// Degrees or millimetres, as its speeds are written.
    pub unit: Unit,
    /// The stick direction that drives it.
    pub control: Control,
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
    /// Time from rest to the gear's full speed.
    pub gain: Span,
    /// Time from full speed to rest.
    pub lose: Span,
    /// The fastest the picture bears.
    pub framing: Option<Speed>,
    /// What a press of inching does.
    pub inch: Option<Inch>,
    pub(super) axis_span: Range<usize>,
    pub(super) rig_span: Range<usize>,
    pub(super) unit_span: Range<usize>,
}

impl OperatorFile {
    /// What the file is, in one line: `operator "talk": pan rx, tilt ry; 3 gears`.
    pub fn summary(&self) -> String {
        let hand = |hand: &HandFile| format!("{} {}", hand.axis, hand.control.name());
        let hands: Vec<String> = self.hands.iter().map(hand).collect();
        let most = self.hands.iter().map(|hand| hand.gears.count()).max();
        let gears = match most.unwrap_or(0) {
            1 => "1 gear".to_owned(),
            more => format!("{more} gears"),
        };
        format!("operator \"{}\": {}; {gears}", self.name, hands.join(", "))
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
    one_axis_each(&raw.hands, log);
    let bindings = press::valid(&raw.buttons, &inching(&raw.hands), log);
    let hands: Vec<Option<HandFile>> = raw.hands.iter().map(|hand| valid_hand(hand, log)).collect();
    let first_gear = valid_first_gear(raw, log);
    Some(OperatorFile {
        name: raw.name.value()?,
        about: raw.about.or(String::new())?,
        hands: hands.into_iter().collect::<Option<_>>()?,
        sticks: Sticks {
            left: StickShape::Axial {
                wedge_tan: tan(number_or(&raw.wedge_left, WEDGE_DEFAULT)?),
            },
            right: StickShape::Axial {
                wedge_tan: tan(number_or(&raw.wedge_right, WEDGE_DEFAULT)?),
            },
        },
        bindings: bindings?,
        enable: match &raw.enable {
            Field::Absent => None,
            given => Some(given.value()?),
        },
        begins_quiet: raw.begins_quiet.or(false)?,
        first_gear: first_gear?,
        source: log.source().clone(),
    })
}

/// The presses of inching, each with the place of its hand.
fn inching(hands: &[RawHand]) -> Vec<RawBinding> {
    let mut list = Vec::new();
    for (hand, raw) in hands.iter().enumerate() {
        let (Some(inch), Ok(hand)) = (raw.inch.got(), u8::try_from(hand)) else {
            continue;
        };
        let sides = [
            (true, "plus", &inch.value.plus),
            (false, "minus", &inch.value.minus),
        ];
        for (plus, side, press) in sides {
            list.push(RawBinding {
                key: format!("inching {} {side}", raw.axis.value),
                action: Action::Inch { hand, plus },
                press: press.clone(),
            });
        }
    }
    list
}

/// The engine's results must not depend on the C library, so neither may what goes into it.
fn tan(deg: f64) -> f64 {
    libm::tan(deg.to_radians())
}

/// The plain number of a quantity, or the default; `None` if it was refused.
fn number_or(field: &Field<Quantity>, default: f64) -> Option<f64> {
    match field {
        Field::Absent => Some(default),
        given => given.got().map(|at| at.value.plain()),
    }
}

/// Two axes on one control would move together whenever one of them is meant.
fn one_axis_each(hands: &[RawHand], log: &mut Log) {
    for (index, hand) in hands.iter().enumerate() {
        let Some(control) = hand.control.got() else {
            continue;
        };
        let earlier = hands[..index].iter().find_map(|other| {
            let at = other.control.got()?;
            (at.value == control.value).then(|| (other, at.span.clone()))
        });
        if let Some((other, span)) = earlier {
            let name = control.value.name();
            let (one, two) = (&other.axis.value, &hand.axis.value);
            log.push(
                Problem::at(control.span.clone(), format!("\"{name}\" drives two axes"))
                    .found(format!("it on axis {two}"))
                    .also(span, format!("and on axis {one}"))
                    .allowed("each of lx, ly, rx, ry on one axis")
                    .mend(format!("give {one} or {two} another control")),
            );
        }
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
    let curve = valid_curve(raw, log);
    let gears = valid_gears(raw, log);
    let ceiling = match &raw.ceiling {
        Field::Absent => None,
        given => Some(Speed(given.got()?.value.number)),
    };
    let rig = match &raw.rig {
        Field::Absent => None,
        given => Some(given.value()?),
    };
    let unit_at = raw.gears.got()?.value.first()?;
    Some(HandFile {
        axis: raw.axis.value.clone(),
        rig,
        unit: unit_at.value.axis_unit()?,
        control: raw.control.value()?,
        invert: raw.invert.or(false)?,
        throw: throw?,
        curve: curve?,
        gears: gears?,
        ceiling,
        gain: millis(number_or(&raw.gain, GAIN_DEFAULT)?),
        lose: millis(number_or(&raw.lose, LOSE_DEFAULT)?),
        framing: match &raw.framing {
            Field::Absent => None,
            given => Some(Speed(given.got()?.value.number)),
        },
        inch: match &raw.inch {
            Field::Absent => None,
            given => {
                let inch = &given.got()?.value;
                Some(Inch {
                    step: inch.step.got()?.value.number,
                    creep: Speed(inch.creep.got()?.value.number),
                })
            }
        },
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

fn valid_curve(raw: &RawHand, log: &mut Log) -> Option<Curve> {
    let word = raw.curve.or(CurveWord::Linear)?;
    let axis = &raw.axis.value;
    let half = match (&raw.half, word) {
        (Field::Absent, CurveWord::Linear) => HALF_OF_LINEAR,
        (Field::Absent, CurveWord::Exponential | CurveWord::Cubic) => {
            let span = raw.curve.span()?;
            log.push(
                Problem::at(span, format!("axis {axis} lacks `half`"))
                    .found("a curve without it")
                    .allowed("the speed at half stick in %: 2 to 50 exponential, 12.5 to 50 cubic")
                    .mend("add `half = \"20 %\"`, the usual one for fine work"),
            );
            return None;
        }
        (given, _) => given.got()?.value.number,
    };
    let (curve, allowed, mend) = match word {
        CurveWord::Linear => (
            (half == HALF_OF_LINEAR).then(Curve::linear),
            "50 % with a linear curve, which is what linear means",
            "take `half` out, or choose `curve = \"exponential\"`",
        ),
        CurveWord::Exponential => (
            Curve::exponential(half / 100.0),
            "2 % to 50 % with an exponential curve",
            "choose a value inside",
        ),
        CurveWord::Cubic => (
            Curve::cubic(half / 100.0),
            "12.5 % to 50 % with a cubic curve: it can't be bent further",
            "choose a value inside, or `curve = \"exponential\"`",
        ),
    };
    if curve.is_none() {
        let label = format!("`half` of axis {axis} does not fit its curve");
        let mut problem = Problem::at(raw.half.span()?, label)
            .found(format!("{half} %"))
            .allowed(allowed)
            .mend(mend);
        if let Some(span) = raw.curve.span() {
            problem = problem.also(span, "the curve");
        }
        log.push(problem);
    }
    curve
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
