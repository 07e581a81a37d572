//! Errands on their way to the loop, and back when they are over: the loop neither allocates nor frees.

use rtrb::{Consumer, Producer, RingBuffer};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use stillhand_engine::Engine;
use stillhand_engine::errand::Errand;
use stillhand_engine::input::Order;
use stillhand_engine::time::Span;

/// Errands on their way; the engine refuses a second one anyway.
const OFFERED: usize = 4;
/// Errands that are over and wait to be freed: one turn brings two at most.
const RETIRED: usize = 8;

/// Orders on their way: one for each group and one to call off.
const ORDERS: usize = 8;
/// A hush on its way: one at a time.
const HUSHES: usize = 1;

/// The end that offers errands.
#[derive(Debug)]
pub struct Offering {
    offered: Producer<Box<Errand>>,
    retired: Consumer<Box<Errand>>,
    orders: Producer<Order>,
    hushes: Producer<Span>,
    asks: Arc<AtomicBool>,
}

/// The loop's end.
#[derive(Debug)]
pub struct Errands {
    offered: Consumer<Box<Errand>>,
    retired: Producer<Box<Errand>>,
    orders: Consumer<Order>,
    hushes: Consumer<Span>,
    asks: Arc<AtomicBool>,
}

/// The two ends.
pub fn errands() -> (Offering, Errands) {
    let (offers, offered) = RingBuffer::new(OFFERED);
    let (retired, freed) = RingBuffer::new(RETIRED);
    let (asks, orders) = RingBuffer::new(ORDERS);
    let (hushing, hushes) = RingBuffer::new(HUSHES);
    let question = Arc::new(AtomicBool::new(false));
    let offering = Offering {
        offered: offers,
        retired: freed,
        orders: asks,
        hushes: hushing,
        asks: Arc::clone(&question),
    };
    let errands = Errands {
        offered,
        retired,
        orders,
        hushes,
        asks: question,
    };
    (offering, errands)
}

impl Offering {
    /// Offers an errand, to be begun by its press. `false` if the loop has not taken the last ones yet.
    pub fn offer(&mut self, errand: Errand) -> bool {
        while self.retired.pop().is_ok() {}
        self.offered.push(Box::new(errand)).is_ok()
    }

    /// Asks for something that moves nothing. `false` if the loop has not taken the last ones yet.
    pub fn order(&mut self, order: Order) -> bool {
        self.orders.push(order).is_ok()
    }

    /// Asks the loop to leave frames out for so long ([`crate::link::hush`]), so that the rig has to stop what an
    /// errand moves by its own watchdog. Without one it is forgotten. `false` if one is asked for already.
    pub fn hush(&mut self, span: Span) -> bool {
        self.hushes.push(span).is_ok()
    }

    /// A question stands (`true`), or no longer: meanwhile d-pads answer and do nothing else.
    pub fn ask(&mut self, asks: bool) {
        self.asks.store(asks, Ordering::Relaxed);
    }
}

impl Errands {
    /// Takes one, if there is room for those that are over.
    pub(super) fn take(&mut self) -> Option<Box<Errand>> {
        // One turn retires two: one that is over and one that is refused.
        let room = self.retired.slots() >= 2;
        room.then(|| self.offered.pop().ok()).flatten()
    }

    /// The hush that was asked for.
    pub(super) fn hush(&mut self) -> Option<Span> {
        self.hushes.pop().ok()
    }

    /// Whether a question stands that a d-pad may answer.
    pub(super) fn asks(&self) -> bool {
        self.asks.load(Ordering::Relaxed)
    }

    /// The next order.
    pub(super) fn order(&mut self) -> Option<Order> {
        self.orders.pop().ok()
    }

    /// After a turn: puts away what is over.
    pub(super) fn follow(&mut self, engine: &mut Engine) {
        while self.retired.slots() > 0
            && let Some(freed) = engine.retired_errand()
        {
            let _ = self.retired.push(freed);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use stillhand_engine::errand::{Leg, Purpose};
    use stillhand_engine::input::Control;
    use stillhand_engine::operator::Enable;
    use stillhand_engine::rig::LimitSet;
    use stillhand_engine::time::Span;
    use stillhand_engine::units::{Accel, Jerk, Speed};

    fn errand() -> Errand {
        let leg = Leg {
            rig: 0,
            axis: 0,
            at: Span::ZERO,
            drives: Span::from_millis(100),
            speed: Speed(1.0),
            plus: true,
            set: LimitSet {
                accel: Accel(1.0),
                jerk: Jerk(1.0),
            },
        };
        let press = Enable::Trigger(Control::Lt);
        Errand::new(Purpose::Check, press, false, vec![leg]).expect("one leg")
    }

    #[test]
    fn each_is_taken_once_in_order_and_no_more_are_kept_than_there_is_room_for() {
        let (mut offering, mut errands) = errands();
        let taken = (0..OFFERED + 2)
            .filter(|_| offering.offer(errand()))
            .count();
        assert_eq!(taken, OFFERED);
        for _ in 0..OFFERED {
            assert!(errands.take().is_some());
        }
        assert!(errands.take().is_none());
    }

    #[test]
    fn none_is_taken_while_those_that_are_over_were_not_freed() {
        let (mut offering, mut errands) = errands();
        assert!(offering.offer(errand()));
        for _ in 0..RETIRED - 1 {
            errands.retired.push(Box::new(errand())).expect("room");
        }
        assert!(errands.take().is_none());
        // The next offer frees them.
        assert!(offering.offer(errand()));
        assert!(errands.take().is_some());
    }
}
