//! The trim of a pad at work: its readings on their way to the mailbox, and the look at how it wears.
//!
//! | module | what lives there |
//! |---|---|
//! | [`drift`] | where a stick rests now, and the zone that follows it |
//! | [`measure`] | the course of `stillhand trim`: what is asked of a hand, and what comes of it |
//! | [`mod@file`] | where trims are kept |
//! | [`fresh`] | trims read anew while pads are heard |

pub mod drift;
pub mod file;
pub mod fresh;
pub mod measure;

use drift::{Drift, Worn};
use stillhand_engine::input::{Control, PadEvent};
use stillhand_engine::time::Time;

use crate::profile::defaults::{DEADBAND, DEADBAND_DEFAULT};
use crate::profile::trim::Trim;

/// Turns what one pad reads into what its hand means, from its plug to its unplug.
#[derive(Clone, Debug)]
pub struct Trimmer {
    trim: Trim,
    sticks: [Drift; Trim::STICKS.len()],
    /// What was read last.
    raw: [Option<f64>; Control::ALL.len()],
    /// What was passed on last.
    told: [Option<f64>; Control::ALL.len()],
}

/// Another trim takes over where what a control meant was inside the deadband that an untrimmed pad has by
/// itself, and what it means from then on is the same, or inside the smallest there may be: nothing begins to move by
/// it, and no thumb that drives is let go of. Four fifths, as for a control that counts as centred.
const LET_GO_BEFORE: f64 = 0.8 * DEADBAND_DEFAULT / 100.0;
const LET_GO_AFTER: f64 = 0.8 * DEADBAND.low / 100.0;

impl Trimmer {
    /// For a pad that was just plugged in; with an empty trim readings pass as they are, but for what
    /// creeps ([`drift`]).
    pub fn new(trim: Trim) -> Trimmer {
        Trimmer {
            trim,
            sticks: Trim::STICKS.map(|control| Drift::new(trim.stick(control))),
            raw: [None; Control::ALL.len()],
            told: [None; Control::ALL.len()],
        }
    }

    /// Whether it goes by this trim.
    pub fn goes_by(&self, trim: &Trim) -> bool {
        self.trim == *trim
    }

    /// The same pad by another trim from now on, and what its controls mean by it; `None` while one is not let go.
    pub fn by(&self, trim: Trim, now: Time) -> Option<(Trimmer, Vec<PadEvent>)> {
        let mut next = Trimmer::new(trim);
        let mut changed = Vec::new();
        for control in Control::ALL {
            let place = control as usize;
            let (Some(raw), Some(meant)) = (self.raw[place], self.told[place]) else {
                continue;
            };
            next.take(PadEvent::Moved(control, raw), now);
            let means = next.told[place]?;
            if meant.abs() >= LET_GO_BEFORE {
                return None;
            }
            if means != meant {
                if means.abs() >= LET_GO_AFTER {
                    return None;
                }
                changed.push(PadEvent::Moved(control, means));
            }
        }
        Some((next, changed))
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
        self.raw[control as usize] = Some(x);
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

    /// Rests 5 % off, as an untrimmed stick may; the trim knows it. Nothing that is pushed, before or by the other
    /// trim, is taken over.
    #[test]
    fn another_trim_takes_over_where_all_is_let_go() {
        let mut known = Trim::default();
        let off = StickTrim::new(0.05, 0.02, -0.9, 0.9).expect("a trim");
        known.set_stick(Control::Rx, off);
        let mut trimmer = Trimmer::new(Trim::default());
        let moved = PadEvent::Moved;
        trimmer.take(moved(Control::Rx, 0.5), Time(1));
        assert!(trimmer.by(known, Time(2)).is_none(), "a thumb drives");
        trimmer.take(moved(Control::Rx, 0.05), Time(3));
        trimmer.take(moved(Control::Ry, 0.02), Time(3));
        let (next, changed) = trimmer.by(known, Time(4)).expect("let go");
        assert!(next.goes_by(&known) && !trimmer.goes_by(&known));
        assert_eq!(changed, [moved(Control::Rx, 0.0)]);
        assert_eq!(next.last(Control::Ry), Some(0.02));
        // Back again it would mean 5 %, more than the smallest deadband.
        assert!(next.by(Trim::default(), Time(5)).is_none());
    }
}
