//! Motion asked for leg by leg, at random: offered, begun by its press, disturbed or not.

use super::play::Session;
use crate::soak::random::Random;
use stillhand_engine::errand::{Errand, Leg, Purpose, press_for};
use stillhand_engine::input::{Order, PadEvent, PadId};
use stillhand_engine::operator::{Enable, Operator};
use stillhand_engine::rig::{LimitSet, Rig};
use stillhand_engine::time::{Span, Time};
use stillhand_engine::units::{Accel, Jerk, Speed};

/// How often one is offered, a second.
const OFTEN: f64 = 0.15;

/// What a session knows of errands. Their chances are drawn apart, so that a session without them is what it
/// was before there were any.
pub(super) struct Errands {
    random: Random,
    /// Mostly nobody touches anything until then.
    hands_off: Time,
    /// What the thumb on the press is about to do.
    due: Vec<(Time, PadId, PadEvent)>,
}

impl Errands {
    pub fn new(seed: u64) -> Errands {
        Errands {
            random: Random::new(seed ^ 0x6572_7261_6E64),
            hands_off: Time(0),
            due: Vec::new(),
        }
    }
}

impl Session {
    /// Whether hands are off for an errand; now and then they are not.
    pub(super) fn hands_off(&mut self) -> bool {
        let now = self.world.now();
        let errands = self.errands.as_mut();
        errands.is_some_and(|own| now < own.hands_off && !own.random.chance(0.05))
    }

    /// Perhaps offers one, and presses for it.
    pub(super) fn errand(&mut self) {
        let (now, period) = (self.world.now(), self.period);
        let Some(errands) = &mut self.errands else {
            return;
        };
        if let Some(place) = errands.due.iter().position(|(at, ..)| *at <= now) {
            let (_, pad, event) = errands.due.remove(place);
            return self.pad(pad, event);
        }
        if now < errands.hands_off {
            if errands.random.chance(0.02 * period.secs()) {
                self.tell.done(self.soon(), "called off");
                self.world.order(Order::CallOff);
            }
            return;
        }
        if !errands.random.chance(OFTEN * period.secs()) {
            return;
        }
        let Some(press) = press_for(&self.operator) else {
            return;
        };
        let Some(errand) = some(&self.rig, &self.operator, press, &mut errands.random) else {
            return;
        };
        let after = |seconds: f64| now + Span::from_secs_f64(seconds);
        let random = &mut errands.random;
        errands.hands_off = after(random.between(0.3, 8.0));
        let up = after(random.between(0.5, 6.0));
        let pad = self.world.outputs().status.pad().unwrap_or(PadId(0));
        let thumb = |down: bool| match press {
            Enable::Button(button) => PadEvent::Pressed(button, down),
            Enable::Trigger(control) => PadEvent::Moved(control, f64::from(u8::from(down))),
        };
        // Let go first: a press that was down before does not count.
        let down = now + Span(2 * period.0);
        errands.due = vec![(down, pad, thumb(true)), (up, pad, thumb(false))];
        self.seen.errands += 1;
        self.tell.done(self.soon(), &errand);
        self.world.errand(errand);
        self.centre(pad);
        self.pad(pad, thumb(false));
    }
}

/// One of up to four legs, on axes of one pad mostly.
fn some(rig: &Rig, operator: &Operator, press: Enable, random: &mut Random) -> Option<Errand> {
    let mut at = 0.0;
    let count = 1 + random.below(4);
    let group = operator
        .hands
        .get(random.below(operator.hands.len()))?
        .group;
    let strays = random.chance(0.05);
    let hands: Vec<_> = operator
        .hands
        .iter()
        .filter(|hand| strays || hand.group == group)
        .collect();
    let legs = (0..count).map(|_| {
        let hand = random.pick(&hands);
        let axis = &rig.axes[usize::from(hand.axis)];
        let normal = axis.limits.normal();
        let drives = random.between(0.05, 3.0);
        let leg = Leg {
            rig: 0,
            axis: hand.axis,
            at: Span::from_secs_f64(at),
            drives: Span::from_secs_f64(drives),
            speed: Speed(hand.gears.speed(0).0.max(axis.speed.0 * 0.02) * random.scale(0.01, 1.5)),
            plus: random.chance(0.5),
            set: LimitSet {
                accel: Accel(normal.accel.0 * random.scale(0.02, 1.5)),
                jerk: Jerk(normal.jerk.0 * random.scale(0.02, 1.5)),
            },
        };
        at += drives + random.between(0.0, 1.5);
        leg
    });
    let legs: Vec<Leg> = legs.collect();
    let purpose = random.pick(&[Purpose::Survey, Purpose::Directions, Purpose::Check]);
    Errand::new(purpose, press, random.chance(0.5), legs).ok()
}
