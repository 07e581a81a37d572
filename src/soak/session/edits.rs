//! Files that are edited: the profile, the quiet file it names, the rig's.

use super::act::Act;
use super::operators;
use super::play::Session;
use stillhand_engine::motion::bands::Bands;
use stillhand_engine::operator::{Operator, Quiet};
use stillhand_engine::rig::{Axes, Ends, LimitSet, Limits, Rig, Sense, Travel};
use stillhand_engine::time::Span;
use stillhand_engine::units::{Accel, Jerk, Pos, Speed};

impl Session {
    /// Another profile is offered, unless one waits.
    pub(super) fn edit(&mut self) {
        if self.stage.waits() {
            return;
        }
        let edited = match self.random.below(10) {
            // Somebody else's hands.
            0..3 => {
                let place = self.random.below(self.operators.len());
                self.operators[place].clone()
            }
            // Everything in the file at once.
            3..5 => {
                let name = self.stage.operator().name.clone();
                operators::operator(&self.scene.rig, &name, &mut self.random)
            }
            5..8 => self.feel_edited(),
            _ => self.quiet_edited(),
        };
        self.act(Act::Profile(Box::new(edited)));
    }

    fn feel_edited(&mut self) -> Operator {
        let mut edited = self.stage.operator().clone();
        let share = self.random.between(0.5, 1.2);
        for hand in &mut edited.hands {
            hand.gain = Span::from_secs_f64(hand.gain.secs() * share);
            hand.lose = Span::from_secs_f64(hand.lose.secs() * self.random.between(0.5, 1.2));
            hand.invert ^= self.random.chance(0.1);
            if self.random.chance(0.3) {
                let most = self.scene.rig.axes[usize::from(hand.axis)].speed.0;
                hand.ceiling = Some(Speed(most * self.random.between(0.1, 1.0)));
            }
        }
        edited
    }

    /// The quiet file has other figures, or is there no longer.
    fn quiet_edited(&mut self) -> Operator {
        let mut edited = self.stage.operator().clone();
        for hand in &mut edited.hands {
            let axis = &self.scene.rig.axes[usize::from(hand.axis)];
            let normal = axis.limits.normal();
            hand.quiet = match self.random.chance(0.2) {
                true => Quiet::NotMeasured,
                false => Quiet::Measured {
                    speed: Speed(axis.speed.0 * self.random.scale(0.02, 0.5)),
                    set: LimitSet {
                        accel: Accel(normal.accel.0 * self.random.between(0.2, 1.0)),
                        jerk: Jerk(normal.jerk.0 * self.random.between(0.2, 1.0)),
                    },
                    bands: Bands::NONE,
                },
            };
            operators::sing(hand, &mut self.random);
        }
        edited
    }

    /// Another file of this very rig is offered, unless one waits. It waits for rest and sticks let go.
    pub(super) fn edit_rig(&mut self) {
        if self.stage.rig_waits() {
            return;
        }
        let mut axes: Vec<_> = self.stage.rig().axes.iter().cloned().collect();
        let place = self.random.below(axes.len());
        let axis = &mut axes[place];
        match self.random.below(5) {
            0 => {
                if let Travel::Finite(ends) = axis.travel {
                    let (low, high) = (ends.low().0, ends.high().0);
                    let part = (high - low) * 0.2;
                    let low = low + self.random.between(-part, part);
                    let high = high + self.random.between(-part, part);
                    axis.travel =
                        Ends::new(Pos(low), Pos(high)).map_or(axis.travel, Travel::Finite);
                }
            }
            1 => {
                axis.sense = match axis.sense {
                    Sense::Same => Sense::Opposite,
                    Sense::Opposite => Sense::Same,
                };
                // The mechanics stay: what was their stronger side has another name now.
                let limits = &axis.limits;
                let turned = Limits::new(limits.normal(), limits.stop(-1.0), limits.stop(1.0));
                axis.limits = turned.unwrap_or(axis.limits);
            }
            2 => {
                let limits = &axis.limits;
                let share = self.random.between(0.5, 1.0);
                let softer = limits.normal().times(share);
                // Softer than what was softer than the stop sets.
                if let Some(limits) = Limits::new(softer, limits.stop(1.0), limits.stop(-1.0)) {
                    axis.limits = limits;
                }
            }
            3 => axis.needs_enable ^= true,
            _ => axis.reach_mm = self.random.between(200.0, 3_000.0),
        }
        let Some(axes) = Axes::new(axes) else { return };
        let rig = Rig {
            axes,
            ..self.stage.rig().clone()
        };
        self.act(Act::RigFile(Box::new(rig)));
        self.wait_centred();
    }
}
