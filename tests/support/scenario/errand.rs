//! Motion asked for leg by leg: `survey pan 2 for 1s then pan -2 for 1s by dpad-up kept`.

use super::words::{Read, Rest};
use stillhand_engine::errand::{Errand, Leg, Purpose};
use stillhand_engine::input::{Button, Control};
use stillhand_engine::operator::Enable;
use stillhand_engine::rig::Rig;
use stillhand_engine::time::Span;
use stillhand_engine::units::Speed;

/// A pause between two legs.
const PAUSE: Span = Span::from_millis(1_500);

/// Reads what for, the legs, the press that begins it, and whether it has to be kept held.
pub fn errand(words: &mut Rest<'_, '_>, rig: &Rig) -> Read<Errand> {
    let purpose = words.choice(&[
        ("survey", Purpose::Survey),
        ("directions", Purpose::Directions),
        ("check", Purpose::Check),
    ])?;
    let axes: Vec<(&str, usize)> = rig
        .axes
        .iter()
        .enumerate()
        .map(|(place, axis)| (axis.name.as_str(), place))
        .collect();
    let mut legs = Vec::new();
    let mut at = match words.peek() {
        Some("after") => {
            words.next("after")?;
            words.duration()?
        }
        _ => Span::ZERO,
    };
    loop {
        let axis = words.choice(&axes)?;
        let speed = words.number()?;
        words.choice(&[("for", ())])?;
        let drives = words.duration()?;
        legs.push(Leg {
            rig: 0,
            axis: axis as u8,
            at,
            drives,
            speed: Speed(speed.abs()),
            plus: speed > 0.0,
            set: rig.axes[axis].limits.normal(),
        });
        at = Span(at.0 + drives.0 + PAUSE.0);
        if words.choice(&[("then", false), ("by", true)])? {
            break;
        }
    }
    let buttons = Button::ALL.map(|button| (button.name(), Enable::Button(button)));
    let controls = Control::ALL.map(|control| (control.name(), Enable::Trigger(control)));
    let press = words.choice(&[&buttons[..], &controls[..]].concat())?;
    let keep = words.peek() == Some("kept");
    if keep {
        words.next("kept")?;
    }
    let timed = words.peek() == Some("timed");
    if timed {
        words.next("timed")?;
    }
    let before = words.before();
    let errand = Errand::new(purpose, press, keep, legs).map_err(|error| {
        Box::new(before.problem(
            &format!("these moves can't be: {error:?}"),
            "speeds and times above 0",
            "write others",
        ))
    })?;
    Ok(match timed {
        true => errand.by_the_clock_of_the_offer(),
        false => errand,
    })
}
