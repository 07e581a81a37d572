//! The sticks as a whole, and the trigger that scales every speed.

use super::defaults::WEDGE_DEFAULT;
use super::field::Field;
use super::operatorfile::{HandFile, number_or};
use super::problem::{Log, Problem};
use super::quantity::Quantity;
use super::rawhand::{RawOperator, RawSticks, RawTrigger, StickWord};
use std::ops::Range;
use stillhand_engine::input::Control;
use stillhand_engine::operator::{Source, SpeedTrigger, StickShape, Sticks};

pub(super) fn valid_sticks(raw: &RawSticks, log: &mut Log) -> Option<Sticks> {
    let common = raw.common_speed.or(false);
    let radial = |word: &Field<StickWord>| word.value() == Some(StickWord::Radial);
    if let Some(span) = raw.common_speed.span()
        && common == Some(true)
        && !radial(&raw.left)
        && !radial(&raw.right)
    {
        log.push(
            Problem::at(span, "`common_speed` of [operator] has no stick to work on")
                .found("it without a radial stick")
                .allowed("it where a stick is radial: one speed for both its directions")
                .mend("add `right_stick = \"radial\"`, or take it out"),
        );
    }
    let left = stick(("left", &raw.left), &raw.wedge_left, common, log);
    let right = stick(("right", &raw.right), &raw.wedge_right, common, log);
    Some(Sticks {
        left: left?,
        right: right?,
    })
}

fn stick(
    (side, word): (&str, &Field<StickWord>),
    wedge: &Field<Quantity>,
    common: Option<bool>,
    log: &mut Log,
) -> Option<StickShape> {
    match word.or(StickWord::Axial)? {
        StickWord::Axial => {
            let wedge_tan = tan(number_or(wedge, WEDGE_DEFAULT)?);
            Some(StickShape::Axial { wedge_tan })
        }
        StickWord::Radial => {
            if let (Some(span), Some(radial)) = (wedge.span(), word.span()) {
                log.push(
                    Problem::at(span, format!("the {side} stick is radial and has no wedge"))
                        .found("a wedge for it")
                        .also(radial, "radial here")
                        .allowed("a wedge for an axial stick: radial keeps the thumb's direction")
                        .mend(format!(
                            "take `{side}` out of `wedge`, or make the stick axial"
                        )),
                );
            }
            Some(StickShape::Radial { common: common? })
        }
    }
}

/// The engine's results must not depend on the C library, so neither may what goes into it.
fn tan(deg: f64) -> f64 {
    libm::tan(deg.to_radians())
}

pub(super) fn valid_trigger(
    raw: &Field<RawTrigger>,
    log: &mut Log,
) -> Option<Option<SpeedTrigger>> {
    let raw = match raw {
        Field::Absent => return Some(None),
        given => &given.got()?.value,
    };
    let (let_go, pulled) = (raw.let_go.got()?, raw.pulled.got()?);
    let (one, two) = (let_go.value.number, pulled.value.number);
    if one == two {
        log.push(
            Problem::at(pulled.span.clone(), "the speed trigger changes nothing")
                .found(format!("{two} %"))
                .also(let_go.span.clone(), "the same let go")
                .allowed("a share let go and another one pulled")
                .mend("make one of them lower, or take [speed_trigger] out"),
        );
    }
    Some(Some(SpeedTrigger {
        control: raw.control.value()?,
        let_go: one / 100.0,
        pulled: two / 100.0,
    }))
}

/// A radial stick has one deadband and one curve, since they apply to how far it is pushed whichever
/// way: the axes on its two directions must agree about them.
pub(super) fn alike_on_radial(
    raw: &RawOperator,
    hands: &[Option<HandFile>],
    sticks: &Sticks,
    log: &mut Log,
) {
    for (name, x, y) in [
        ("left", Control::Lx, Control::Ly),
        ("right", Control::Rx, Control::Ry),
    ] {
        if !matches!(sticks.shape(x), Some(StickShape::Radial { .. })) {
            continue;
        }
        let (Some(one), Some(two)) = (on(raw, hands, x), on(raw, hands, y)) else {
            continue;
        };
        let (a, b) = (one.0, two.0);
        let what = match (a.throw == b.throw, a.curve == b.curve) {
            (true, true) => continue,
            (false, _) => "deadbands or saturations",
            (true, false) => "curves",
        };
        log.push(
            Problem::at(
                two.1,
                format!("the {name} stick is radial, with two {what}"),
            )
            .found(format!("axis {} on it", b.axis))
            .also(one.1, format!("and axis {}", a.axis))
            .allowed("the same deadband, saturation, curve and half on both directions")
            .mend("make them equal, or the stick axial"),
        );
    }
}

/// The hand that a stick direction drives, and where that is written.
fn on<'a>(
    raw: &RawOperator,
    hands: &'a [Option<HandFile>],
    control: Control,
) -> Option<(&'a HandFile, Range<usize>)> {
    let wanted = Source::Stick(control);
    hands.iter().zip(&raw.hands).find_map(|(hand, raw)| {
        let hand = hand.as_ref()?;
        if hand.control == Some(wanted) {
            return Some((hand, raw.control.span()?));
        }
        let fine = hand.fine.filter(|fine| fine.source == wanted);
        fine.and(raw.fine.got()?.value.control.span())
            .map(|span| (hand, span))
    })
}
