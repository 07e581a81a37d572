//! What is taken out of a pad's sticks and triggers: where they rest, how far they reach.

use stillhand_engine::input::Control;

/// How one direction of a stick is read: where it rests counts as 0, each end of its way as full. All
/// figures are readings of the pad, -1..=1, right and up positive.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StickTrim {
    centre: f64,
    rest: f64,
    minus: f64,
    plus: f64,
}

impl StickTrim {
    /// The least way from the rest zone to either end: with less, a thumb can't find the speeds between.
    pub const LEAST_WAY: f64 = 0.3;

    /// A stick that rests within `rest` of `centre` and reaches from `minus` to `plus`; `None` where no
    /// [`StickTrim::LEAST_WAY`] is left on either side.
    pub fn new(centre: f64, rest: f64, minus: f64, plus: f64) -> Option<StickTrim> {
        // 1e-9 forgives the rounding of decimal fractions.
        let least = StickTrim::LEAST_WAY - 1e-9;
        let ways = plus - (centre + rest) >= least && (centre - rest) - minus >= least;
        (rest >= 0.0 && minus >= -1.0 && plus <= 1.0 && ways).then_some(StickTrim {
            centre,
            rest,
            minus,
            plus,
        })
    }

    /// Where it rests.
    pub const fn centre(self) -> f64 {
        self.centre
    }

    /// How far to either side of the centre it may rest.
    pub const fn rest(self) -> f64 {
        self.rest
    }

    /// The reading at its left or lower end.
    pub const fn minus(self) -> f64 {
        self.minus
    }

    /// The reading at its right or upper end.
    pub const fn plus(self) -> f64 {
        self.plus
    }

    /// The part of a reading that was meant, -1..=1: 0 in the rest zone, from there without a step.
    pub fn apply(self, x: f64) -> f64 {
        self.apply_from(x, (self.centre - self.rest, self.centre + self.rest))
    }

    /// The same with a wider rest zone, from low to high. A side with less than
    /// [`StickTrim::LEAST_WAY`] left reads 0.
    pub fn apply_from(self, x: f64, (low, high): (f64, f64)) -> f64 {
        let least = StickTrim::LEAST_WAY - 1e-9;
        if x > high && self.plus - high >= least {
            ((x - high) / (self.plus - high)).min(1.0)
        } else if x < low && low - self.minus >= least {
            ((x - low) / (low - self.minus)).max(-1.0)
        } else {
            0.0
        }
    }
}

/// How a trigger is read, 0..=1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TriggerTrim {
    rest: f64,
    full: f64,
}

impl TriggerTrim {
    /// A trigger that rests at `rest` or below and is fully pulled from `full` on; `None` where less
    /// than [`StickTrim::LEAST_WAY`] lies between.
    pub fn new(rest: f64, full: f64) -> Option<TriggerTrim> {
        let fits = rest >= 0.0 && full <= 1.0 && full - rest >= StickTrim::LEAST_WAY - 1e-9;
        fits.then_some(TriggerTrim { rest, full })
    }

    /// The highest reading of it let go.
    pub const fn rest(self) -> f64 {
        self.rest
    }

    /// The lowest reading of it fully pulled.
    pub const fn full(self) -> f64 {
        self.full
    }

    /// The part of a reading that was meant, 0..=1.
    pub fn apply(self, x: f64) -> f64 {
        ((x - self.rest) / (self.full - self.rest)).clamp(0.0, 1.0)
    }
}

/// The trim of one pad; what was not measured is read as the pad says it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Trim {
    sticks: [Option<StickTrim>; Trim::STICKS.len()],
    triggers: [Option<TriggerTrim>; Trim::TRIGGERS.len()],
}

impl Trim {
    /// The directions of sticks.
    pub const STICKS: [Control; 4] = [Control::Lx, Control::Ly, Control::Rx, Control::Ry];
    /// The triggers.
    pub const TRIGGERS: [Control; 2] = [Control::Lt, Control::Rt];

    /// Of a direction of a stick, if it was measured.
    pub fn stick(&self, control: Control) -> Option<StickTrim> {
        let place = Trim::STICKS.iter().position(|c| *c == control)?;
        self.sticks[place]
    }

    /// Of a trigger, if it was measured.
    pub fn trigger(&self, control: Control) -> Option<TriggerTrim> {
        let place = Trim::TRIGGERS.iter().position(|c| *c == control)?;
        self.triggers[place]
    }

    /// Sets that of a direction of a stick; nothing happens for a trigger.
    pub fn set_stick(&mut self, control: Control, trim: StickTrim) {
        if let Some(place) = Trim::STICKS.iter().position(|c| *c == control) {
            self.sticks[place] = Some(trim);
        }
    }

    /// Sets that of a trigger; nothing happens for a stick.
    pub fn set_trigger(&mut self, control: Control, trim: TriggerTrim) {
        if let Some(place) = Trim::TRIGGERS.iter().position(|c| *c == control) {
            self.triggers[place] = Some(trim);
        }
    }

    /// Whether nothing was measured.
    pub fn is_empty(&self) -> bool {
        self.sticks.iter().all(Option::is_none) && self.triggers.iter().all(Option::is_none)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stick_goes_from_rest_to_full_without_a_step() {
        let trim = StickTrim::new(0.05, 0.02, -0.85, 0.95).unwrap();
        for x in [0.03, 0.05, 0.07] {
            assert!(trim.apply(x).abs() < 1e-12, "{x}");
        }
        assert!((trim.apply(0.95) - 1.0).abs() < 1e-12 && trim.apply(1.0) == 1.0);
        assert!((trim.apply(-0.85) + 1.0).abs() < 1e-12 && trim.apply(-1.0) == -1.0);
        // Half of what lies between the zone and the end.
        assert!((trim.apply(0.51) - 0.5).abs() < 1e-12);
        assert!((trim.apply(-0.41) + 0.5).abs() < 1e-12);
        let mut last = trim.apply(-1.0);
        for step in -1000..=1000 {
            let here = trim.apply(f64::from(step) / 1000.0);
            assert!((0.0..0.0013).contains(&(here - last)), "{step}: {here}");
            last = here;
        }
    }

    #[test]
    fn what_leaves_no_way_is_no_trim() {
        assert!(StickTrim::new(0.0, 0.1, -0.4, 0.4).is_some());
        assert!(StickTrim::new(0.0, 0.11, -0.4, 0.9).is_none());
        assert!(StickTrim::new(0.7, 0.1, -1.0, 1.0).is_none());
        assert!(StickTrim::new(0.0, -0.1, -1.0, 1.0).is_none());
        assert!(StickTrim::new(f64::NAN, 0.1, -1.0, 1.0).is_none());
        assert!(StickTrim::new(0.0, f64::NAN, -1.0, 1.0).is_none());
        assert!(TriggerTrim::new(0.1, 0.39).is_none());
        assert!(TriggerTrim::new(f64::NAN, 1.0).is_none());
    }

    #[test]
    fn a_zone_that_leaves_no_way_reads_nothing_on_that_side() {
        let trim = StickTrim::new(0.0, 0.05, -1.0, 1.0).unwrap();
        assert_eq!(trim.apply_from(1.0, (-0.05, 0.75)), 0.0);
        assert_eq!(trim.apply_from(-1.0, (-0.05, 0.75)), -1.0);
    }

    #[test]
    fn a_trigger_rests_at_nothing() {
        let trim = TriggerTrim::new(0.1, 0.9).unwrap();
        assert_eq!((trim.apply(0.05), trim.apply(1.0)), (0.0, 1.0));
        assert!((trim.apply(0.5) - 0.5).abs() < 1e-12);
    }
}
