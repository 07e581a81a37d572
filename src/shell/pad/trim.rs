//! The trim of a pad at work: its readings on their way to the mailbox, and the look at how it wears.
//!
//! | module | what lives there |
//! |---|---|
//! | [`drift`] | where a stick rests now, and the zone that follows it |
//! | [`measure`] | the course of `stillhand trim`: what is asked of a hand, and what comes of it |
//! | [`mod@file`] | where trims are kept |

pub mod drift;
pub mod file;
pub mod measure;

use drift::{Drift, Worn};
use stillhand_engine::input::{Control, PadEvent};
use stillhand_engine::time::Time;

use crate::profile::trim::Trim;

/// Turns what one pad reads into what its hand means, from its plug to its unplug.
#[derive(Clone, Debug)]
pub struct Trimmer {
    trim: Trim,
    sticks: [Drift; Trim::STICKS.len()],
    /// What was passed on last.
    told: [Option<f64>; Control::ALL.len()],
}

impl Trimmer {
    /// For a pad that was just plugged in; with an empty trim readings pass as they are, but for what
    /// creeps ([`drift`]).
    pub fn new(trim: Trim) -> Trimmer {
        Trimmer {
            trim,
            sticks: Trim::STICKS.map(|control| Drift::new(trim.stick(control))),
            told: [None; Control::ALL.len()],
        }
    }

    /// Whether anything was measured of the pad.
    pub fn is_measured(&self) -> bool {
        !self.trim.is_empty()
    }

    /// What an event becomes. A reading that means what the one before it did is a sign of life.
    pub fn take(&mut self, event: PadEvent, now: Time) -> PadEvent {
        let PadEvent::Moved(control, x) = event else {
            return event;
        };
        let stick = Trim::STICKS.iter().position(|c| *c == control);
        let means = match (stick, self.trim.trigger(control)) {
            (Some(place), _) => self.sticks[place].take(x, now),
            (None, Some(trigger)) => trigger.apply(x),
            (None, None) => x,
        };
        // Adding 0 turns -0 into 0: no sign without a value.
        let means = means + 0.0;
        let told = &mut self.told[control as usize];
        if *told == Some(means) {
            return PadEvent::Alive;
        }
        *told = Some(means);
        PadEvent::Moved(control, means)
    }

    /// What a control means now; `None` as long as it has not spoken.
    pub fn last(&self, control: Control) -> Option<f64> {
        self.told[control as usize]
    }

    /// What somebody should be told of its sticks now; of each once.
    pub fn worn(&mut self, now: Time) -> Option<(Control, Worn)> {
        Trim::STICKS
            .into_iter()
            .zip(&mut self.sticks)
            .find_map(|(control, stick)| Some((control, stick.worn(now)?)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile::trim::{StickTrim, TriggerTrim};

    #[test]
    fn readings_become_meanings_and_repeats_become_life() {
        let mut trim = Trim::default();
        trim.set_stick(
            Control::Rx,
            StickTrim::new(0.05, 0.05, -0.9, 0.9).expect("a trim"),
        );
        trim.set_trigger(Control::Lt, TriggerTrim::new(0.1, 0.6).expect("a trim"));
        let mut trimmer = Trimmer::new(trim);
        let mut take = |control, x| trimmer.take(PadEvent::Moved(control, x), Time(1));
        let moved = PadEvent::Moved;
        assert_eq!(take(Control::Rx, 0.08), moved(Control::Rx, 0.0));
        assert_eq!(take(Control::Rx, 0.02), PadEvent::Alive);
        assert_eq!(take(Control::Rx, 0.95), moved(Control::Rx, 1.0));
        assert_eq!(take(Control::Lt, 0.6), moved(Control::Lt, 1.0));
        assert_eq!(take(Control::Ry, 0.3), moved(Control::Ry, 0.3));
        assert_eq!(take(Control::Rt, 0.004), moved(Control::Rt, 0.004));
        let pressed = PadEvent::Pressed(stillhand_engine::input::Button::East, true);
        assert_eq!(trimmer.take(pressed, Time(2)), pressed);
    }
}
