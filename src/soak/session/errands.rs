//! Errands that a terminal offers, and hands that begin them.

use super::act::Act;
use super::play::Session;
use stillhand_engine::errand::{Errand, Leg, Purpose, press_for};
use stillhand_engine::input::{Order, PadEvent, PadId};
use stillhand_engine::operator::Enable;
use stillhand_engine::rig::{LimitSet, Travel};
use stillhand_engine::time::{Span, Time};
use stillhand_engine::units::{Accel, Jerk, Speed};

/// The press that begins an errand, as hands have it in mind.
#[derive(Clone, Copy)]
pub(super) struct Pressing {
    pad: PadId,
    press: Enable,
    from: Time,
    until: Time,
    down: bool,
}

/// Most legs that hands have the patience for.
const LEGS: usize = 4;
/// When a leg asks for rest again.
fn ends(leg: &Leg) -> Span {
    Span(leg.at.0 + leg.drives.0)
}

/// Who offers one by the clock has so long to begin it.
const TO_BEGIN: Span = Span::from_millis(2_000);

impl Session {
    /// A terminal offers an errand. Mostly hands let go and hold its press until it is over.
    pub(super) fn errand(&mut self) {
        let Some((errand, group)) = self.some_errand() else {
            return;
        };
        let last = errand.legs().last();
        let end = last.map_or(Span::ZERO, ends);
        let press = errand.press();
        self.act(Act::Errand(Box::new(errand)));
        let pad = self.holder(group);
        if self.random.chance(0.9) {
            self.centre(pad);
        }
        let now = self.stage.now();
        let from = now + Span::from_secs_f64(self.random.between(0.05, 0.4));
        let held = match self.random.chance(0.1) {
            true => self.random.between(0.2, 0.7),
            false => self.random.between(0.7, 2.0) + end.secs(),
        };
        let until = from + Span::from_secs_f64(held);
        self.mending_until = Some(until);
        self.pressing = Some(Pressing {
            pad,
            press,
            from,
            until,
            down: false,
        });
    }

    /// Presses and lets go of what begins an errand, when it is time.
    pub(super) fn press_for_errand(&mut self) {
        let now = self.stage.now();
        let Some(mut pressing) = self.pressing.take() else {
            return;
        };
        if now < pressing.until {
            if now >= pressing.from && !pressing.down {
                pressing.down = true;
                self.press_or_lift(pressing, true);
            }
            self.pressing = Some(pressing);
        } else {
            self.press_or_lift(pressing, false);
            if self.random.chance(0.05) {
                self.act(Act::Order(Order::CallOff));
            }
        }
    }

    fn press_or_lift(&mut self, pressing: Pressing, down: bool) {
        let event = match pressing.press {
            Enable::Button(button) => PadEvent::Pressed(button, down),
            Enable::Trigger(control) => PadEvent::Moved(control, f64::from(u8::from(down))),
        };
        self.pad(pressing.pad, event);
    }

    /// An errand, and the group whose pad begins it. Most of them can be done.
    fn some_errand(&mut self) -> Option<(Errand, u8)> {
        let press = press_for(self.stage.operator())?;
        let groups = self.stage.operator().groups.len();
        let group = self.random.below(groups) as u8;
        let foreign = self.random.chance(0.05);
        let hands = self.stage.operator().hands.iter();
        let axes: Vec<u8> = hands
            .filter(|hand| foreign || hand.group == group)
            .map(|hand| hand.axis)
            .collect();
        if axes.is_empty() {
            return None;
        }
        let by_the_clock = self.random.chance(0.2);
        let mut at = match by_the_clock {
            true => TO_BEGIN,
            false => Span::ZERO,
        };
        let mut legs = Vec::new();
        for _ in 0..=self.random.below(LEGS) {
            let axis = self.random.pick(&axes);
            let leg = self.leg(axis, at);
            at = ends(&leg);
            legs.push(leg);
        }
        let purposes = [Purpose::Survey, Purpose::Directions, Purpose::Check];
        let (purpose, keep) = (self.random.pick(&purposes), self.random.chance(0.5));
        let errand = Errand::new(purpose, press, keep, legs).ok()?;
        let errand = match by_the_clock {
            true => errand.by_the_clock_of_the_offer(),
            false => errand,
        };
        Some((errand, group))
    }

    /// A move of an axis that begins at `after` or later, mostly inward and mostly under its ceiling.
    fn leg(&mut self, axis: u8, after: Span) -> Leg {
        let place = usize::from(axis);
        let status = self.stage.outputs().rigs[0].axes[place];
        let own = &self.stage.rig().axes[place];
        let (normal, travel, top) = (own.limits.normal(), own.travel, own.speed);
        let inward = match travel {
            Travel::Finite(ends) => (ends.low().0 + ends.high().0) / 2.0 > status.position,
            Travel::Continuous => true,
        };
        let full = match status.full_stick > 0.0 {
            true => status.full_stick,
            false => top.0,
        };
        let share = match self.random.chance(0.05) {
            true => self.random.between(1.0, 1.5),
            false => self.random.scale(0.02, 1.0),
        };
        let softer = self.random.scale(0.1, 1.5);
        Leg {
            rig: 0,
            axis,
            at: Span::from_secs_f64(after.secs() + self.random.between(0.0, 0.6)),
            drives: Span::from_secs_f64(self.random.between(0.05, 2.0)),
            speed: Speed(full * share),
            plus: inward != self.random.chance(0.25),
            set: LimitSet {
                accel: Accel(normal.accel.0 * softer),
                jerk: Jerk(normal.jerk.0 * softer),
            },
        }
    }

    /// Nothing is written for a while, on purpose.
    pub(super) fn hush(&mut self) {
        let span = Span::from_secs_f64(self.random.scale(0.05, 3.0));
        self.act(Act::Hush(span));
    }
}
