//! A line that is not to be trusted: what it does to frames on their way, in both directions.

use super::line::OnTheWay;
use super::random::Random;
use stillhand_engine::time::{Span, Time};
use stillhand_laws::Handling;

/// What can go wrong with a frame on its way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wrong {
    /// It never arrives.
    Drop,
    /// One of its bits is another one.
    Flip,
    /// Its end is missing, the byte that ends a frame included.
    Cut,
    /// It arrives twice.
    Double,
    /// The next one overtakes it.
    Swap,
    /// It and all behind it are held up for a while.
    Delay,
}

impl Wrong {
    /// All of them.
    pub const ALL: [Wrong; 6] = [
        Wrong::Drop,
        Wrong::Flip,
        Wrong::Cut,
        Wrong::Double,
        Wrong::Swap,
        Wrong::Delay,
    ];

    /// Its name in scenes.
    pub const fn name(self) -> &'static str {
        match self {
            Wrong::Drop => "drop",
            Wrong::Flip => "flip",
            Wrong::Cut => "cut",
            Wrong::Double => "double",
            Wrong::Swap => "swap",
            Wrong::Delay => "delay",
        }
    }

    /// What it counts as among the faults of a soak.
    pub const fn fault(self) -> &'static str {
        match self {
            Wrong::Drop => "frame_dropped",
            Wrong::Flip => "frame_flipped",
            Wrong::Cut => "frame_cut",
            Wrong::Double => "frame_doubled",
            Wrong::Swap => "frame_swapped",
            Wrong::Delay => "frame_delayed",
        }
    }
}

/// How bad a line is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Noise {
    /// What it does.
    pub wrong: Wrong,
    /// To so many frames of a hundred.
    pub percent: u8,
    /// Which ones: the same seed, the same frames.
    pub seed: u64,
}

/// One direction of a line under noise.
#[derive(Debug)]
pub(super) struct Noisy {
    noise: Noise,
    random: Random,
    /// A frame that waits for the next one to overtake it.
    held: Option<OnTheWay>,
    /// Nothing arrives before that.
    blocked: Time,
    /// How many frames it has wronged.
    pub wronged: usize,
}

impl Noisy {
    pub fn new(noise: Noise) -> Noisy {
        Noisy {
            random: Random::new(noise.seed),
            noise,
            held: None,
            blocked: Time(0),
            wronged: 0,
        }
    }

    /// What it counts as.
    pub fn fault(&self) -> &'static str {
        self.noise.wrong.fault()
    }

    /// What becomes of a frame.
    pub fn frame(&mut self, now: Time, mut frame: OnTheWay, out: &mut impl FnMut(OnTheWay)) {
        let overtaken = self.held.take();
        let wrong = self.random.chance(f64::from(self.noise.percent) / 100.0);
        self.wronged += usize::from(wrong);
        if wrong && self.noise.wrong == Wrong::Delay {
            let most = self.random.pick(&[0.01, 0.05, 0.15]);
            self.blocked = now + Span::from_secs_f64(self.random.between(0.001, most));
        }
        if frame.due < self.blocked {
            frame.due = self.blocked;
        }
        match self.noise.wrong {
            _ if !wrong => out(frame),
            Wrong::Drop => {}
            Wrong::Flip => {
                let place = self.random.below(frame.bytes.len() * 8);
                if let Some(byte) = frame.bytes.get_mut(place / 8) {
                    *byte ^= 1 << (place % 8);
                }
                frame.handling = Handling::Damaged;
                out(frame);
            }
            Wrong::Cut => {
                // A byte of the frame itself is missing: with its end alone missing it would still be whole.
                let kept = self.random.below(frame.bytes.len().saturating_sub(1));
                frame.bytes.truncate(kept);
                frame.handling = Handling::Truncated;
                out(frame);
            }
            // The checker tells from its number that the rig has had it.
            Wrong::Double => {
                out(frame.clone());
                out(frame);
            }
            Wrong::Swap => self.held = Some(frame),
            Wrong::Delay => out(frame),
        }
        if let Some(mut late) = overtaken {
            late.due = late.due.max(now);
            out(late);
        }
    }
}
