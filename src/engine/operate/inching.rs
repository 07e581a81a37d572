//! Inching: a press is one exact step, kept down it becomes a creep.
//!
//! Steps add up from where the first one began, not from where the last one ended, so that no
//! rounding adds up with them.

use crate::input::{Button, PadId};
use crate::motion::bump::Bump;
use crate::motion::sets::Sets;
use crate::motion::slew::Motion;
use crate::operate::presses::HELD_FOR;
use crate::time::Time;
use crate::units::Speed;

/// Presses that may wait for the step before them: faster taps than that are no longer counted by
/// the thumb either.
pub const MOST_WAITING: u8 = 8;

/// The inching of one axis.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Inching {
    doing: Doing,
    /// Where the axis would be if every step were exact; `None` before the first and after any
    /// other motion.
    grid: Option<f64>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
enum Doing {
    Nothing,
    Step {
        /// `None` as long as the axis is not at rest yet.
        bump: Option<Bump>,
        press: Press,
        waiting: u8,
    },
    Creep(Press),
}

/// The press that asked.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Press {
    /// On which pad.
    pub pad: PadId,
    /// Its button.
    pub button: Button,
    /// When.
    pub at: Time,
    /// Which way.
    pub plus: bool,
}

/// What the axis is to do.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Way {
    /// Nothing of inching.
    None,
    /// Exactly this at the end of the tick.
    Exactly(Motion),
    /// This speed, through the ordinary slew.
    Towards(f64),
}

/// What inching needs to know of one tick.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moment {
    /// The time of the tick.
    pub now: Time,
    /// Seconds.
    pub dt: f64,
    /// Where the axis is.
    pub position: f64,
    /// Whether it is at rest.
    pub at_rest: bool,
    /// The way of one step.
    pub step: f64,
    /// The speed of a creep.
    pub creep: Speed,
    /// The highest speed there is now.
    pub full: f64,
    /// The sets of live motion.
    pub sets: Sets,
    /// Whether the button of the press is still down.
    pub down: bool,
}

impl Inching {
    /// Nothing asked for.
    pub const NONE: Inching = Inching {
        doing: Doing::Nothing,
        grid: None,
    };

    /// Whether anything is under way.
    pub fn active(&self) -> bool {
        self.doing != Doing::Nothing
    }

    /// The press that asked for what is under way.
    pub fn press(&self) -> Option<Press> {
        match self.doing {
            Doing::Nothing => None,
            Doing::Step { press, .. } | Doing::Creep(press) => Some(press),
        }
    }

    /// A press. One in the same direction waits its turn; one in the other direction drops those
    /// that wait and comes next.
    pub fn pressed(&mut self, press: Press) {
        self.doing = match self.doing {
            Doing::Nothing | Doing::Creep(_) => Doing::Step {
                bump: None,
                press,
                waiting: 0,
            },
            Doing::Step { bump: None, .. } => Doing::Step {
                bump: None,
                press,
                waiting: 0,
            },
            Doing::Step {
                bump,
                press: old,
                waiting,
            } if old.plus == press.plus => Doing::Step {
                bump,
                press,
                waiting: waiting.saturating_add(1).min(MOST_WAITING),
            },
            // The other way: what waited is forgotten, the step under way is finished first.
            Doing::Step { bump, .. } => Doing::Step {
                bump,
                press,
                waiting: 1,
            },
        };
    }

    /// The last frame left, or could not.
    pub fn passed(&mut self, left: bool) {
        if let Doing::Step {
            bump: Some(bump), ..
        } = &mut self.doing
        {
            bump.passed(left);
        }
    }

    /// Ends it: something else moves the axis, or nothing may.
    pub fn end(&mut self) {
        *self = Inching::NONE;
    }

    /// The axis moved otherwise; what is under way goes on, but steps count from anew.
    pub fn moved_otherwise(&mut self) {
        self.grid = None;
    }

    /// The speed that a step would like to reach which is to start in this tick.
    pub fn starts(&self, at: &Moment) -> Option<f64> {
        match self.doing {
            Doing::Step {
                bump: None, press, ..
            } if at.at_rest => {
                Some(Bump::over(self.goal(at, press) - at.position, &at.sets, at.full).top())
            }
            Doing::Nothing | Doing::Step { .. } | Doing::Creep(_) => None,
        }
    }

    /// The highest speed the step under way still comes to; 0 if there is none.
    pub fn top(&self) -> f64 {
        match self.doing {
            Doing::Step {
                bump: Some(bump), ..
            } => bump.top(),
            Doing::Nothing | Doing::Step { bump: None, .. } | Doing::Creep(_) => 0.0,
        }
    }

    /// Where a step of this press ends.
    fn goal(&self, at: &Moment, press: Press) -> f64 {
        self.grid.unwrap_or(at.position) + signed(at.step, press.plus)
    }

    /// What the axis is to do in this tick.
    pub fn way(&mut self, at: &Moment) -> Way {
        match self.doing {
            Doing::Nothing => Way::None,
            Doing::Creep(_) if !at.down => {
                self.doing = Doing::Nothing;
                Way::None
            }
            Doing::Creep(press) => Way::Towards(signed(at.creep.0, press.plus)),
            Doing::Step {
                bump: None,
                press,
                waiting,
            } => {
                if !at.at_rest {
                    return Way::Towards(0.0);
                }
                let goal = self.goal(at, press);
                self.grid = Some(goal);
                let bump = Bump::over(goal - at.position, &at.sets, at.full);
                self.doing = Doing::Step {
                    bump: Some(bump),
                    press,
                    waiting,
                };
                self.way(at)
            }
            Doing::Step {
                bump: Some(bump), ..
            } if !bump.fits(&at.sets, at.full) => {
                // Softer sets or a lower ceiling than it was planned for: it is cut short.
                self.end();
                Way::None
            }
            Doing::Step {
                bump: Some(mut bump),
                press,
                waiting,
            } => match bump.advance(at.dt) {
                Some(motion) => {
                    self.doing = Doing::Step {
                        bump: Some(bump),
                        press,
                        waiting,
                    };
                    Way::Exactly(motion)
                }
                None => {
                    self.doing = self.after_step(at, press, waiting);
                    Way::Exactly(Motion::default())
                }
            },
        }
    }

    fn after_step(&mut self, at: &Moment, press: Press, waiting: u8) -> Doing {
        let kept_down = at.down && at.now.since(press.at) >= HELD_FOR;
        if kept_down {
            self.grid = None;
            Doing::Creep(press)
        } else if waiting > 0 {
            Doing::Step {
                bump: None,
                press,
                waiting: waiting - 1,
            }
        } else if at.down {
            // Not long enough yet to be a creep: the next ticks tell.
            Doing::Step {
                bump: Some(Bump::none()),
                press,
                waiting: 0,
            }
        } else {
            Doing::Nothing
        }
    }
}

fn signed(x: f64, plus: bool) -> f64 {
    if plus { x } else { -x }
}

#[cfg(test)]
mod tests;
