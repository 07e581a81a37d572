//! Every stick direction, trigger and button of a profile does one thing.

use super::field::Field;
use super::problem::{Log, Problem};
use super::rawhand::RawOperator;
use std::ops::Range;
use stillhand_engine::input::Control;
use stillhand_engine::operator::{Enable, Source};

/// One use of a stick direction or trigger.
struct Use {
    control: Control,
    span: Range<usize>,
    by: String,
}

/// Two things on one control would happen together whenever one of them is meant. Buttons are held
/// against each other where their presses are.
pub(super) fn each_once(raw: &RawOperator, log: &mut Log) {
    let uses = uses(raw);
    for (index, later) in uses.iter().enumerate() {
        let same = |other: &&Use| other.control == later.control;
        let Some(earlier) = uses[..index].iter().find(same) else {
            continue;
        };
        let (one, two) = (&earlier.by, &later.by);
        log.push(
            Problem::at(
                later.span.clone(),
                format!("\"{}\" does two things", later.control.name()),
            )
            .found(format!("it for {two}"))
            .also(earlier.span.clone(), format!("and for {one}"))
            .allowed("each stick direction and each trigger for one thing")
            .mend(format!("give {one} or {two} another control")),
        );
    }
}

/// All of them, those of the axes first.
fn uses(raw: &RawOperator) -> Vec<Use> {
    let mut uses = Vec::new();
    let mut source = |field: &Field<Source>, by: String| {
        let Some(at) = field.got() else { return };
        let controls = match at.value {
            Source::Stick(control) => [Some(control), None],
            Source::Pair { plus, minus } => [Some(plus), Some(minus)],
        };
        uses.extend(controls.into_iter().flatten().map(|control| Use {
            control,
            span: at.span.clone(),
            by: by.clone(),
        }));
    };
    for hand in &raw.hands {
        let axis = &hand.axis.value;
        source(&hand.control, format!("axis {axis}"));
        if let Some(fine) = hand.fine.got() {
            source(&fine.value.control, format!("`fine` of axis {axis}"));
        }
    }
    if let Some(at) = raw.speed_trigger.got()
        && let Some(at) = at.value.control.got()
    {
        uses.push(Use {
            control: at.value,
            span: at.span.clone(),
            by: "[speed_trigger]".to_owned(),
        });
    }
    if let Some(at) = raw.enable.got()
        && let Enable::Trigger(control) = at.value
    {
        uses.push(Use {
            control,
            span: at.span.clone(),
            by: "`enable`".to_owned(),
        });
    }
    uses
}
