//! Reduced speed holds for all axes together: the tips of all that move, under 250 mm/s.

use crate::soak::facts::{Switched, normal_set, normal_under};
use stillhand_engine::errand::Leg;
use stillhand_engine::operator::Operator;
use stillhand_engine::output::{Notice, Outputs, State};
use stillhand_engine::rig::Rig;
use stillhand_engine::time::{Span, Time};
use stillhand_laws::{self as laws, Slew};

/// All tips together, mm/s (ISO 10218-1, 5.5.3, as quoted by secondary sources).
const ALL_TIPS_MM_S: f64 = 250.0;
/// A wire's quantum of each axis and the rounding of shares.
const SLACK_MM_S: f64 = 0.5;

/// The sum of the tips while reduced speed is on.
#[derive(Default)]
pub struct Tips {
    /// From when on it is judged: there was time to slow down.
    from: Option<Time>,
    /// How many ticks were judged with more than half of it used.
    pub judged: usize,
}

impl Tips {
    /// Judges a tick. Once judged it is judged for good: also while one axis makes room for another.
    ///
    /// # Errors
    /// The sum, if it is too high.
    pub fn judge(
        &mut self,
        now: Time,
        rig: &Rig,
        asked: (&Operator, &[Leg]),
        outputs: &Outputs,
    ) -> Result<(), String> {
        let axes = rig.axes.iter().zip(&outputs.rigs[0].axes);
        let sum: f64 = axes.map(|(a, s)| s.speed.abs() * a.tip_per_unit()).sum();
        let on = outputs.status.modes.reduced.on();
        let stops = |n| matches!(n, Notice::Entered(State::Stopped(_)) | Notice::Late(_));
        if !on {
            self.from = None;
            return Ok(());
        }
        let anew = outputs
            .notices
            .iter()
            .any(|n| n == Notice::ProfileApplied || stops(n));
        if self.from.is_none() || anew {
            self.from = Some(now + slowing_down(rig, asked, outputs));
        }
        if self.from.is_none_or(|from| now < from) {
            return Ok(());
        }
        self.judged += usize::from(sum > ALL_TIPS_MM_S / 2.0);
        if sum > ALL_TIPS_MM_S + SLACK_MM_S {
            return Err(format!("{sum:.2} mm/s of all tips while reduced"));
        }
        Ok(())
    }
}

/// The longest any axis may take to come to rest by the softest set that may hold for it.
fn slowing_down(rig: &Rig, (operator, legs): (&Operator, &[Leg]), outputs: &Outputs) -> Span {
    let times = operator.hands.iter().map(|hand| {
        let place = usize::from(hand.axis);
        let (axis, status) = (&rig.axes[place], &outputs.rigs[0].axes[place]);
        let gears = (0..hand.gears.count()).flat_map(|gear| {
            [false, true].map(|quiet| Switched {
                gear,
                quiet,
                reduced: true,
            })
        });
        let times = gears.map(|on| {
            let set = normal_set(axis, hand, on, 0.0);
            let own = legs.iter().filter(|leg| leg.axis == hand.axis);
            let set = own.fold(set.losing.softest(set.gaining), |set, leg| {
                let asked = laws::Set::new(leg.set.accel.0, leg.set.jerk.0);
                set.softest(normal_under(asked, axis, hand, on).losing)
            });
            Slew::plan(status.speed.abs(), status.accel.abs(), 0.0, set).time()
        });
        times.fold(0.0, f64::max)
    });
    // Two ticks at the slowest rate, for whole ticks and the frame that says so.
    Span::from_secs_f64(times.fold(0.0, f64::max) + 0.04)
}
